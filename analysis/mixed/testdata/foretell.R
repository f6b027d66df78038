# Readings to come of one group: lme4's and nlme's own predict for the value,
# and the error worked out from dense matrices.
# Run in this folder: Rscript foretell.R > foretell.json   (R 4.2.2, lme4 1.1-31, nlme 3.1-162)
suppressMessages({library(lme4); library(nlme)})
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, check.conv.singular = "ignore",
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
tight <- lmeControl(opt = "nlminb", msMaxIter = 1000, maxIter = 200, niterEM = 0, tolerance = 1e-12, msTol = 1e-14)
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
sleep <- read.csv("../../../testdata/published/sleepstudy/data.csv")
limbs <- read.csv("layers.csv")
# Error of a line (cov of the new reading's line with the rows in cl, its
# variance vl) and of a reading (cr, vr) with V of all rows.
error <- function(X, V, x, cl, vl, cr, vr) {
  Vi <- solve(V); B <- solve(t(X) %*% Vi %*% X)
  one <- function(k, v) { d <- x - as.vector(t(X) %*% Vi %*% k); v - sum(k * (Vi %*% k)) + sum(d * (B %*% d)) }
  sqrt(c(one(cl, vl), one(cr, vr)))
}
# f fitted by lmer, new rows, data.
by_lmer <- function(name, f, new, of) {
  X <- getME(f, "X"); Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda")); s2 <- sigma(f)^2
  G <- s2 * L %*% t(L); V <- Z %*% G %*% t(Z) + s2 * diag(nrow(X))
  est <- predict(f, newdata = new, re.form = NULL)
  Xn <- model.matrix(delete.response(terms(f)), new)
  Zn <- t(as.matrix(mkReTrms(findbars(formula(f)), droplevels_to(model_frame(f, new), f))$Zt))
  se <- sapply(seq_len(nrow(new)), function(k) {
    z <- Zn[k, ]; cc <- as.vector(Z %*% G %*% z); v <- sum(z * (G %*% z))
    error(X, V, Xn[k, ], cc, v, cc, v + s2)
  })
  sprintf('"%s": {"of": "%s", "time": %s, "estimate": %s, "line_se": %s, "se": %s}', name, of, num(new$time), num(est), num(se[1, ]), num(se[2, ]))
}
# The frame of new rows with the levels of the fit.
model_frame <- function(f, new) {
  fr <- new
  for (g in names(getME(f, "flist"))) fr[[g]] <- factor(new[[g]], levels = levels(getME(f, "flist")[[g]]))
  fr
}
# All levels have to stand in the frame for their columns to be made: a row of
# each is put behind, and taken away below by the number of new rows.
droplevels_to <- function(fr, f) {
  for (g in names(getME(f, "flist"))) for (l in levels(getME(f, "flist")[[g]])) {
    r <- fr[1, ]; r[[g]] <- factor(l, levels = levels(fr[[g]])); fr <- rbind(fr, r)
  }
  fr
}
out <- NULL
s <- data.frame(Subject = 308, Days = c(10, 12, 20), time = c(10, 12, 20))
out <- c(out,
  by_lmer("slope", lmer(Reaction ~ Days + (Days | Subject), sleep, control = ctl), s, "308"),
  by_lmer("uncorrelated", lmer(Reaction ~ Days + (Days || Subject), sleep, control = ctl), s, "308"),
  by_lmer("ml", lmer(Reaction ~ Days + (Days | Subject), sleep, REML = FALSE, control = ctl), s, "308"))
n <- data.frame(person = 2, limb = 21, g = 0, t = c(14, 24), time = c(14, 24))
out <- c(out,
  by_lmer("nested", lmer(y ~ t + g + (1 | person) + (t | limb), limbs, control = ctl), n, "21"),
  by_lmer("nested_slopes", lmer(y ~ t + g + (t | person) + (1 | limb), limbs, control = ctl), n, "21"))
# Correlated residuals: lme predicts the line; the residual's part is added.
f <- lme(Reaction ~ Days, random = ~ 1 | Subject, correlation = corCAR1(form = ~ Days | Subject), data = sleep, control = tight)
s2 <- f$sigma^2; tau <- as.numeric(getVarCov(f)); phi <- coef(f$modelStruct$corStruct, unconstrained = FALSE)
X <- model.matrix(~ Days, sleep); same <- outer(sleep$Subject, sleep$Subject, "=="); gap <- abs(outer(sleep$Days, sleep$Days, "-"))
V <- same * (tau + s2 * phi^gap); r <- solve(V, sleep$Reaction - X %*% fixef(f)); mine <- sleep$Subject == 308
est <- line <- NULL; se <- NULL
for (t in c(10, 12, 20)) {
  cl <- mine * tau; cr <- mine * (tau + s2 * phi^abs(t - sleep$Days)); x <- c(1, t)
  line <- c(line, sum(x * fixef(f)) + sum(cl * r)); est <- c(est, sum(x * fixef(f)) + sum(cr * r))
  se <- cbind(se, error(X, V, x, cl, tau, cr, tau + s2))
}
stopifnot(max(abs(line - predict(f, newdata = s, level = 1))) < 1e-8)
out <- c(out, sprintf('"ar1": {"of": "308", "time": [10, 12, 20], "estimate": %s, "line_se": %s, "se": %s}', num(est), num(se[1, ]), num(se[2, ])))
cat("{\n  ", paste(out, collapse = ",\n  "), "\n}\n", sep = "")
