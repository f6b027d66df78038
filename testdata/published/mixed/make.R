# Expected values of mixed models beyond random intercepts and slopes.
# Run in this folder: Rscript make.R > expected.json
# R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, nlme 3.1-162.
suppressMessages({library(lme4); library(lmerTest); library(nlme)})
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
mat <- function(m) paste0("[", paste(apply(m, 1, num), collapse = ", "), "]")
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE,
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
lme_tight <- lmeControl(opt = "nlminb", msMaxIter = 500, niterEM = 0, tolerance = 1e-12, msTol = 1e-14)
out <- list()
put <- function(name, ...) { l <- list(...); out[[name]] <<- paste0('"', names(l), '": ', unlist(l), collapse = ", ") }
# likelihood ratio with the half-and-half mixture of chi-squares
lr <- function(big, small, low) {
  x <- 2 * (as.numeric(logLik(big)) - as.numeric(logLik(small)))
  c(x, 0.5 * pchisq(x, low + 1, lower.tail = FALSE) + if (low > 0) 0.5 * pchisq(x, low, lower.tail = FALSE) else 0)
}
all_se <- function(f) { # errors of predicted random effects, fixed effects uncertain: mixed model equations
  X <- as.matrix(getME(f, "X")); Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda"))
  U <- Z %*% L; q <- ncol(Z)
  C <- solve(rbind(cbind(crossprod(U) + diag(q), crossprod(U, X)), cbind(crossprod(X, U), crossprod(X))))[1:q, 1:q]
  sigma(f) * sqrt(diag(L %*% C %*% t(L)))
}
s <- read.csv("../sleepstudy/data.csv")
slope <- lmer(Reaction ~ Days + (Days | Subject), s, control = ctl)
int <- lmer(Reaction ~ Days + (1 | Subject), s, control = ctl)
unc <- lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), s, control = ctl)
days <- lmer(Reaction ~ Days + (0 + Days | Subject), s, control = ctl)
put("sleep_slope", se_all = mat(matrix(all_se(slope), ncol = 2, byrow = TRUE)), tests = mat(rbind(lr(slope, int, 1))))
sm <- summary(as_lmerModLmerTest(unc))$coefficients
put("sleep_uncorrelated", coef = num(sm[, 1]), se = num(sm[, 2]), df = num(sm[, 3]), sd = num(c(attr(VarCorr(unc)[[1]], "stddev"), attr(VarCorr(unc)[[2]], "stddev"), sigma(unc))),
    loglik = num(as.numeric(logLik(unc))), tests = mat(rbind(lr(unc, days, 0), lr(unc, int, 0))))
ar <- lme(Reaction ~ Days, random = ~ 1 | Subject, correlation = corCAR1(0.6, form = ~ Days | Subject), data = s, control = lme_tight)
phi <- as.numeric(coef(ar$modelStruct$corStruct, unconstrained = FALSE))
put("sleep_ar1", coef = num(fixef(ar)), se = num(sqrt(diag(ar$varFix))), sd = num(c(sqrt(as.numeric(getVarCov(ar))), ar$sigma)), range = num(-1 / log(phi)), loglik = num(as.numeric(logLik(ar))))
cat("{\n", paste0('  "', names(out), '": {', unlist(out), "}", collapse = ",\n"), "\n}\n", sep = "")
