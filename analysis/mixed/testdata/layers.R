# Expected values for several groupings, residuals of several sizes and
# residuals correlated in time beside them.
# Run in this folder: Rscript layers.R > layers.json   (R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, nlme 3.1-162)
# It also writes layers.csv, the drawn data, which the tests read.
suppressMessages({library(lme4); library(lmerTest); library(nlme)})
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, check.conv.singular = "ignore",
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
tight <- lmeControl(opt = "nlminb", msMaxIter = 1000, maxIter = 200, niterEM = 0, tolerance = 1e-12, msTol = 1e-14)
set.seed(20)
d <- NULL
for (p in 1:24) {
  up <- rnorm(1, 0, 5)
  for (l in seq_len(1 + p %% 2)) {
    b0 <- rnorm(1, 0, 3); b1 <- rnorm(1, 0, 0.4); e <- 0; last <- NA
    for (t in sort(sample(0:12, 4 + (p + l) %% 4))) {
      by <- sample(1:4, 1)
      rho <- if (is.na(last)) 0 else exp(-(t - last) / 2)
      e <- rho * e + sqrt(1 - rho^2) * rnorm(1, 0, 1.5); last <- t
      d <- rbind(d, data.frame(person = p, limb = 10 * p + l, by = by, t = t, g = p %% 3 == 0,
                               y = round(100 + up + b0 + (b1 - 0.8) * t + c(-2, 0, 0.5, 1.5)[by] + c(0.6, 1, 1, 1.8)[by] * e + 1.2 * (p %% 3 == 0), 3)))
    }
  }
}
d$g <- as.numeric(d$g)
write.csv(d, "layers.csv", row.names = FALSE)
all_se <- function(f) {
  X <- as.matrix(getME(f, "X")); Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda"))
  U <- Z %*% L; q <- ncol(Z)
  sigma(f) * sqrt(diag(L %*% solve(rbind(cbind(crossprod(U) + diag(q), crossprod(U, X)), cbind(crossprod(X, U), crossprod(X))))[1:q, 1:q] %*% t(L)))
}
given_se <- function(f) {
  Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda")); U <- Z %*% L
  sigma(f) * sqrt(diag(L %*% solve(crossprod(U) + diag(ncol(Z))) %*% t(L)))
}
# Random effects group by group: for each factor its name, levels, modes and errors.
effects <- function(f) {
  fl <- getME(f, "flist"); gp <- getME(f, "Gp"); cn <- getME(f, "cnms"); b <- as.vector(getME(f, "b")); s1 <- given_se(f); s2 <- all_se(f)
  paste(sapply(seq_along(cn), function(k) {
    at <- (gp[k] + 1):gp[k + 1]
    sprintf('"%s": {"levels": [%s], "modes": %s, "se": %s, "se_all": %s}', names(cn)[k],
            paste0('"', levels(fl[[names(cn)[k]]]), '"', collapse = ", "), num(b[at]), num(s1[at]), num(s2[at]))
  }), collapse = ",\n      ")
}
one <- function(name, f) {
  f <- suppressMessages(as_lmerModLmerTest(f)); sm <- summary(f)$coefficients; V <- as.data.frame(VarCorr(f))
  X <- getME(f, "X"); fx <- as.vector(X %*% fixef(f)); Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda"))
  vr <- mean(rowSums((Z %*% L)^2)) * sigma(f)^2; s2 <- sigma(f)^2
  sprintf('  "%s": {"coef": %s, "se": %s, "df": %s, "loglik": %.15g, "groups": [%s], "vcov": %s, "r2": %s,\n    "effects": {%s}}', name,
          num(sm[, 1]), num(sm[, 2]), num(sm[, 3]), as.numeric(logLik(f)), paste0('"', V$grp, ":", V$var1, ":", V$var2, '"', collapse = ", "), num(V$vcov),
          num(c(var(fx), var(fx) + vr) / (var(fx) + vr + s2)), effects(f))
}
cases <- NULL
for (reml in c(TRUE, FALSE)) {
  n <- if (reml) "reml" else "ml"
  cases <- c(cases,
    one(paste0("nested_", n), lmer(y ~ t + g + (1 | person) + (t | limb), d, REML = reml, control = ctl)),
    one(paste0("slopes_", n), lmer(y ~ t + g + (t | person) + (1 | limb), d, REML = reml, control = ctl)),
    one(paste0("crossed_", n), lmer(y ~ t + g + (1 | limb) + (1 | by), d, REML = reml, control = ctl)),
    one(paste0("all_", n), lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), d, REML = reml, control = ctl)),
    one(paste0("penicillin_", n), lmer(diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin, REML = reml, control = ctl)),
    one(paste0("pastes_", n), lmer(strength ~ 1 + (1 | batch) + (1 | sample), Pastes, REML = reml, control = ctl)))
}
write.csv(data.frame(diameter = Penicillin$diameter, plate = Penicillin$plate, sample = Penicillin$sample), "../../../testdata/published/penicillin/data.csv", row.names = FALSE)
write.csv(data.frame(strength = Pastes$strength, batch = Pastes$batch, sample = Pastes$sample), "../../../testdata/published/pastes/data.csv", row.names = FALSE)
lme_one <- function(name, f) {
  cs <- f$modelStruct$corStruct; vs <- f$modelStruct$varStruct
  kinds <- if (is.null(vs)) numeric(0) else { w <- coef(vs, unconstrained = FALSE, allCoef = TRUE); w <- w[order(names(w))]; f$sigma * w }
  V <- lapply(rev(f$modelStruct$reStruct), function(m) f$sigma^2 * as.matrix(m))
  sprintf('  "%s": {"coef": %s, "se": %s, "loglik": %.15g, "vcov": %s, "range": %s, "kinds": %s}', name, num(fixef(f)), num(sqrt(diag(f$varFix))),
          as.numeric(logLik(f)), num(unlist(lapply(V, function(v) v[lower.tri(v, diag = TRUE)]))), if (is.null(cs)) 0 else sprintf("%.15g", -1 / log(coef(cs, unconstrained = FALSE))), num(kinds))
}
d$byf <- factor(d$by)
Orthodont$male <- as.numeric(Orthodont$Sex == "Male")
for (m in c("REML", "ML")) {
  cases <- c(cases,
    lme_one(paste0("spread_", tolower(m)), lme(y ~ t + g, random = ~ t | limb, weights = varIdent(form = ~ 1 | byf), data = d, method = m, control = tight)),
    lme_one(paste0("spread_nested_", tolower(m)), lme(y ~ t + g, random = list(person = ~ 1, limb = ~ 1), weights = varIdent(form = ~ 1 | byf), data = d, method = m, control = tight)),
    lme_one(paste0("serial_nested_", tolower(m)), lme(y ~ t + g, random = list(person = ~ 1, limb = ~ 1), correlation = corCAR1(0.5, form = ~ t | person / limb), data = d, method = m, control = tight)),
    lme_one(paste0("serial_spread_", tolower(m)), lme(y ~ t + g, random = ~ 1 | limb, correlation = corCAR1(0.5, form = ~ t | limb), weights = varIdent(form = ~ 1 | byf), data = d, method = m, control = tight)),
    lme_one(paste0("orthodont_spread_", tolower(m)), lme(distance ~ age * male, random = ~ 1 | Subject, weights = varIdent(form = ~ 1 | male), data = Orthodont, method = m, control = tight)))
}
lr <- function(big, small, low, high) {
  x <- 2 * (as.numeric(logLik(big)) - as.numeric(logLik(small)))
  c(x, 0.5 * pchisq(x, high, lower.tail = FALSE) + (if (low > 0) 0.5 * pchisq(x, low, lower.tail = FALSE) else 0))
}
full <- lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), d, control = ctl)
tests <- list(lr(full, lmer(y ~ t + g + (1 | person) + (1 | limb) + (1 | by), d, control = ctl), 1, 2),
              lr(full, lmer(y ~ t + g + (t | limb) + (1 | by), d, control = ctl), 0, 1),
              lr(full, lmer(y ~ t + g + (1 | person) + (t | limb), d, control = ctl), 0, 1))
spread <- lme(y ~ t + g, random = ~ t | limb, weights = varIdent(form = ~ 1 | byf), data = d, control = tight)
wide <- list(lr(spread, lme(y ~ t + g, random = ~ 1 | limb, weights = varIdent(form = ~ 1 | byf), data = d, control = tight), 1, 2),
             lr(spread, lmer(y ~ t + g + (t | limb), d, control = ctl), 3, 3))
cases <- c(cases, sprintf('  "tests": {"all_reml": [%s], "spread_reml": [%s]}', paste(sapply(tests, num), collapse = ", "), paste(sapply(wide, num), collapse = ", ")))
cat("{\n", paste(cases, collapse = ",\n"), "\n}\n", sep = "")
