# Further expected values for mixed models, on data that are not balanced.
# Run in this folder: Rscript lmer.R > lmer.json
# The optimiser is driven to its limit, so that the values hold to about 1e-7.
suppressMessages({library(lme4); library(lmerTest)})
o <- read.csv("../../../testdata/published/orthodont/data.csv"); o$male <- as.numeric(o$Sex == "Male")
o <- o[seq_len(nrow(o)) %% 7 != 0 & !(o$Subject == "M01" & o$age > 8), ]
o$f10 <- as.numeric(o$age == 10); o$f12 <- as.numeric(o$age == 12); o$f14 <- as.numeric(o$age == 14)
s <- read.csv("../../../testdata/published/sleepstudy/data.csv")
s <- s[(seq_len(nrow(s)) * 7) %% 11 > 2, ]
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE,
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")

one <- function(name, f, terms = list()) {
  f <- suppressMessages(as_lmerModLmerTest(f))
  sm <- summary(f)$coefficients
  tests <- lapply(terms, function(k) {
    L <- diag(length(fixef(f)))[k, , drop = FALSE]
    L <- L / sqrt(diag(L %*% as.matrix(vcov(f)) %*% t(L))) # rows over their errors: units do not matter
    a <- contest(f, L)
    c(a[["F value"]], a[["NumDF"]], a[["DenDF"]], a[["Pr(>F)"]])
  })
  V <- VarCorr(f)
  S <- if (length(V) == 1) as.matrix(V[[1]]) else diag(sapply(V, function(v) v[1, 1]))
  attr(S, "stddev") <- attr(S, "correlation") <- NULL
  re <- ranef(f, condVar = TRUE)[[1]]
  pv <- attr(re, "postVar")
  if (is.list(pv)) cse <- sqrt(sapply(pv, function(v) v[1, 1, ])) else cse <- t(apply(pv, 3, function(v) sqrt(diag(v))))
  if (nrow(S) == 1) cse <- matrix(cse, ncol = 1)
  X <- getME(f, "X"); fx <- as.vector(X %*% fixef(f)); s2 <- sigma(f)^2
  Z <- if (nrow(S) == 1) matrix(1, nrow(X), 1) else cbind(1, model.frame(f)[[if ("Days" %in% names(model.frame(f))) "Days" else "age"]])
  vr <- mean(rowSums((Z %*% S) * Z)); vf <- var(fx)
  sprintf('  "%s": {"coef": %s, "se": %s, "df": %s, "p": %s, "tests": [%s], "cov": %s, "sigma": %.15g, "loglik": %.15g, "aic": %.15g,\n    "modes": %s, "mode_se": %s, "groups": [%s],\n    "icc": %.15g, "r2_marginal": %.15g, "r2_conditional": %.15g}',
          name, num(sm[, 1]), num(sm[, 2]), num(sm[, 3]), num(sm[, 5]), paste(sapply(tests, num), collapse = ", "), num(S), sigma(f),
          as.numeric(logLik(f)), AIC(f), num(t(as.matrix(re))), num(t(cse)), paste0('"', rownames(re), '"', collapse = ", "),
          vr / (vr + s2), vf / (vf + vr + s2), (vf + vr) / (vf + vr + s2))
}
cases <- c(
  one("sleep_reml_slope", lmer(Reaction ~ Days + (Days | Subject), s, control = ctl)),
  one("sleep_ml_slope", lmer(Reaction ~ Days + (Days | Subject), s, REML = FALSE, control = ctl)),
  one("sleep_reml_uncorrelated", lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), s, control = ctl)),
  one("sleep_reml_int", lmer(Reaction ~ Days + (1 | Subject), s, control = ctl)),
  one("ortho_reml_int", lmer(distance ~ f10 + f12 + f14 + male + (1 | Subject), o, control = ctl), list(2:4)),
  one("ortho_reml_slope", lmer(distance ~ age * male + (age | Subject), o, control = ctl), list(2:4)),
  one("ortho_ml_slope", lmer(distance ~ age * male + (age | Subject), o, REML = FALSE, control = ctl), list(2:4)))
cat("{\n", paste(cases, collapse = ",\n"), "\n}\n", sep = "")
