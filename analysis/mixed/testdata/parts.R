# Expected values for errors of predicted random effects that let the fixed
# effects be uncertain, and for likelihood ratios of what is random.
# Run in this folder: Rscript parts.R > parts.json   (R 4.2.2, lme4 1.1-31, nlme 3.1-162)
suppressMessages({library(lme4); library(nlme)})
s <- read.csv("../../../testdata/published/sleepstudy/data.csv")
s <- s[(seq_len(nrow(s)) * 7) %% 11 > 2, ]
o <- read.csv("../../../testdata/published/orthodont/data.csv"); o$male <- as.numeric(o$Sex == "Male")
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE,
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
# Var(b^ - b) of all random effects, from the inverse of the mixed model equations.
all_se <- function(f) {
  X <- as.matrix(getME(f, "X")); Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda"))
  U <- Z %*% L; q <- ncol(Z)
  C <- solve(rbind(cbind(crossprod(U) + diag(q), crossprod(U, X)), cbind(crossprod(X, U), crossprod(X))))[1:q, 1:q]
  sigma(f) * sqrt(diag(L %*% C %*% t(L)))
}
lr <- function(big, small, low) {
  x <- 2 * (as.numeric(logLik(big)) - as.numeric(small))
  c(x, low, 0.5 * pchisq(x, low + 1, lower.tail = FALSE) + if (low > 0) 0.5 * pchisq(x, low, lower.tail = FALSE) else 0)
}
one <- function(name, se, tests) sprintf('  "%s": {"se_all": %s, "tests": [%s]}', name, num(se), paste(sapply(tests, num), collapse = ", "))
cases <- NULL
for (reml in c(TRUE, FALSE)) {
  n <- if (reml) "reml" else "ml"
  full <- lmer(Reaction ~ Days + (Days | Subject), s, REML = reml, control = ctl)
  unc <- lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), s, REML = reml, control = ctl)
  int <- lmer(Reaction ~ Days + (1 | Subject), s, REML = reml, control = ctl)
  slo <- lmer(Reaction ~ Days + (0 + Days | Subject), s, REML = reml, control = ctl)
  lin <- logLik(lm(Reaction ~ Days, s), REML = reml)
  # Here the random effects of a subject stand together, intercept first; with
  # two terms lme4 puts all intercepts first.
  u <- all_se(unc); u <- as.vector(rbind(u[1:18], u[19:36]))
  cases <- c(cases, one(paste0("sleep_", n, "_slope"), all_se(full), list(lr(full, logLik(int), 1))),
             one(paste0("sleep_", n, "_uncorrelated"), u, list(lr(unc, logLik(slo), 0), lr(unc, logLik(int), 0))),
             one(paste0("sleep_", n, "_int"), all_se(int), list(lr(int, lin, 0))))
  ar <- lme(Reaction ~ Days, random = ~ 1 | Subject, correlation = corCAR1(0.65, form = ~ Days | Subject), data = s, method = toupper(n),
            control = lmeControl(opt = "nlminb", msMaxIter = 500, niterEM = 0, tolerance = 1e-12, msTol = 1e-14))
  only <- gls(Reaction ~ Days, correlation = corCAR1(0.65, form = ~ Days | Subject), data = s, method = toupper(n), control = glsControl(tolerance = 1e-12, msTol = 1e-14))
  cases <- c(cases, one(paste0("sleep_", n, "_serial"), numeric(0), list(lr(ar, logLik(only), 0), lr(ar, logLik(int), 0))))
}
cat("{\n", paste(cases, collapse = ",\n"), "\n}\n", sep = "")
