# What kenward.R and kenwardlive.R share: a fit of lme4 driven to its limit, so
# that values hold to about 1e-7, and what pbkrtest makes of it.
suppressMessages({library(lme4); library(pbkrtest)})
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, check.conv.singular = "ignore", check.nobs.vs.nRE = "ignore",
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
# The adjusted covariance, degrees of freedom of each coefficient, and F tests
# of the coefficients at the places in each of terms.
one <- function(name, f, terms = list()) {
  A <- vcovAdj(f); p <- length(fixef(f))
  tests <- sapply(terms, function(k) {
    L <- diag(p)[k, , drop = FALSE]
    s <- KRmodcomp(f, L)$stats
    sprintf('{"at": %s, "F": %.15g, "scale": %.15g, "ndf": %.15g, "ddf": %.15g, "p": %.15g}', num(k - 1), s$Fstat, s$F.scaling, s$ndf, s$ddf, s$p.value)
  })
  sprintf('  "%s": {"coef": %s, "se": %s, "df": %s, "cov": %s, "tests": [%s]}', name, num(fixef(f)), num(sqrt(diag(as.matrix(A)))),
          num(sapply(seq_len(p), function(j) Lb_ddf(diag(p)[j, , drop = FALSE], vcov(f), A))), num(as.matrix(A)), paste(tests, collapse = ", "))
}
