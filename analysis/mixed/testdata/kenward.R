# Expected values of degrees of freedom by the method of Kenward and Roger.
# Run in this folder: Rscript kenward.R > kenward.json   (R 4.2.2, lme4 1.1-31, pbkrtest 0.5.2)
# It also writes kenward.csv, the drawn designs, which the tests read. The
# optimiser is driven to its limit, so that the values hold to about 1e-7.
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
          num(sapply(seq_len(p), function(j) get_Lb_ddf(f, diag(p)[j, ]))), num(as.matrix(A)), paste(tests, collapse = ", "))
}
set.seed(61)
d <- NULL
draw <- function(set, sizes, arms, between, pace, from = 0) {
  for (g in seq_along(sizes)) {
    b <- rnorm(2, 0, c(between, pace))
    for (t in sort(sample(from:9, sizes[g])))
      d <<- rbind(d, data.frame(set = set, group = g, t = t, arm = arms[g], y = round(50 + c(0, 2, 3)[arms[g]] + b[1] + (b[2] + 0.5) * t + rnorm(1), 3)))
  }
}
draw("few", c(2, 5, 3, 1, 4, 6, 2, 4), c(1, 2, 3, 1, 2, 3, 1, 2), 3, 0.6)
draw("bent", c(3, 7, 4, 2, 6, 5, 3, 5, 8, 1), c(1, 1, 2, 3, 2, 1, 3, 1, 2, 3), 2, 1.5)
draw("none", c(3, 4, 2, 5, 4, 3), c(1, 2, 3, 1, 2, 3), 0, 0)
draw("even", rep(3, 4), c(1, 1, 2, 2), 3, 0)
draw("least", c(2, 3, 2, 4), c(1, 2, 3, 1), 4, 0)
write.csv(d, "kenward.csv", row.names = FALSE)
d$a2 <- as.numeric(d$arm == 2); d$a3 <- as.numeric(d$arm == 3)
set <- function(s) d[d$set == s, ]
s <- read.csv("../../../testdata/published/sleepstudy/data.csv"); r <- s[(seq_len(nrow(s)) * 7) %% 11 > 2, ]
o <- read.csv("../../../testdata/published/orthodont/data.csv"); o$male <- as.numeric(o$Sex == "Male")
h <- o[seq_len(nrow(o)) %% 7 != 0 & !(o$Subject == "M01" & o$age > 8), ]
l <- read.csv("layers.csv")
b <- beets; b$limb <- paste0(b$block, b$harvest)
write.csv(b, "../../../testdata/published/beets/data.csv", row.names = FALSE)
both <- list(2:4, c(2, 4))
cat("{\n", paste(c(
  one("sleep_intercept", lmer(Reaction ~ Days + (1 | Subject), s, control = ctl)),
  one("sleep_slope", lmer(Reaction ~ Days + (Days | Subject), s, control = ctl), list(1:2)),
  one("sleep_apart", lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), s, control = ctl)),
  one("thinned_slope", lmer(Reaction ~ Days + (Days | Subject), r, control = ctl), list(1:2)),
  one("thinned_apart", lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), r, control = ctl)),
  one("orthodont_intercept", lmer(distance ~ age * male + (1 | Subject), o, control = ctl), both),
  one("orthodont_slope", lmer(distance ~ age * male + (age | Subject), h, control = ctl), both),
  one("orthodont_apart", lmer(distance ~ age * male + (1 | Subject) + (0 + age | Subject), h, control = ctl), both),
  one("beets", lmer(sugpct ~ block + sow + harvest + (1 | limb), b, control = ctl), list(2:3, 4:7, 2:8)),
  one("few_intercept", lmer(y ~ t + a2 + a3 + (1 | group), set("few"), control = ctl), list(3:4, 2:4)),
  one("bent_slope", lmer(y ~ t + a2 + a3 + (t | group), set("bent"), control = ctl), list(3:4, 2:4)),
  one("bent_apart", lmer(y ~ t + a2 + a3 + (1 | group) + (0 + t | group), set("bent"), control = ctl), list(3:4, 2:4)),
  one("none_intercept", lmer(y ~ t + a2 + a3 + (1 | group), set("none"), control = ctl), list(3:4)),
  one("even_intercept", lmer(y ~ t + a2 + (1 | group), set("even"), control = ctl), list(2:3)),
  one("least_intercept", lmer(y ~ t + a2 + a3 + (1 | group), set("least"), control = ctl), list(3:4)),
  one("nested", lmer(y ~ t + g + (1 | person) + (t | limb), l, control = ctl), list(2:3)),
  one("slopes", lmer(y ~ t + g + (t | person) + (1 | limb), l, control = ctl), list(2:3)),
  one("slopes_apart", lmer(y ~ t + g + (1 | person) + (0 + t | person) + (1 | limb) + (0 + t | limb), l, control = ctl), list(2:3)),
  one("crossed", lmer(y ~ t + g + (1 | limb) + (1 | by), l, control = ctl), list(2:3)),
  one("all", lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), l, control = ctl), list(2:3)),
  one("penicillin", lmer(diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin, control = ctl)),
  one("pastes", lmer(strength ~ 1 + (1 | batch) + (1 | sample), Pastes, control = ctl))), collapse = ",\n"), "\n}\n", sep = "")
