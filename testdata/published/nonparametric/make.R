# Writes expected.json: the log-rank family, trend, cumulative hazards, time lost, follow-up, rates and weights, for the
# data in the folders beside this one. Run in this folder: Rscript make.R
# R 4.2.2, survival 3.5-3
suppressPackageStartupMessages({library(survival); library(jsonlite)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
z <- qnorm(0.975)
E <- list()
test <- function(s, p = NULL) list(stat = s, p = pchisq(s, 1, lower.tail = FALSE))

# A weighted log-rank test of two groups by its formula; w takes S just before each time and the number at risk.
family <- function(time, status, group, w, strata = rep(1, length(time))) {
  u <- v <- 0
  for (s in unique(strata)) {
    k <- strata == s; t <- time[k]; d <- status[k]; g <- group[k]; S <- 1
    for (at in sort(unique(t[d == 1]))) {
      y <- sum(t >= at); y1 <- sum(t >= at & g == 1); e <- sum(t == at & d == 1); e1 <- sum(t == at & d == 1 & g == 1)
      x <- w(S, y); u <- u + x * (e1 - e * y1 / y)
      if (y > 1) v <- v + x^2 * e * (y1 / y) * (1 - y1 / y) * (y - e) / (y - 1)
      S <- S * (1 - e / y)
    }
  }
  test(u^2 / v)
}
l <- rd("lung"); l$d <- l$status - 1
late <- function(S, y) 1 - S; middle <- function(S, y) S * (1 - S)
E$lung_sex <- list(
  check_logrank = abs(family(l$time, l$d, as.numeric(l$sex == 2), function(S, y) 1)$stat - survdiff(Surv(time, d) ~ sex, l)$chisq) < 1e-9,
  peto = test(survdiff(Surv(time, d) ~ sex, l, rho = 1)$chisq),
  gehan = family(l$time, l$d, as.numeric(l$sex == 2), function(S, y) y), tarone = family(l$time, l$d, as.numeric(l$sex == 2), function(S, y) sqrt(y)),
  late = family(l$time, l$d, as.numeric(l$sex == 2), late), middle = family(l$time, l$d, as.numeric(l$sex == 2), middle))
k <- !is.na(l$ph.ecog); m <- l[k, ]
E$lung_stratified <- list(logrank = test(survdiff(Surv(time, d) ~ sex + strata(ph.ecog), m)$chisq),
  peto = test(survdiff(Surv(time, d) ~ sex + strata(ph.ecog), m, rho = 1)$chisq), late = family(m$time, m$d, as.numeric(m$sex == 2), late, m$ph.ecog))
trend <- function(s, x) { u <- sum(x * (s$obs - s$exp)); test(as.numeric(u^2 / (x %*% s$var %*% x))) }
s <- survdiff(Surv(time, d) ~ ph.ecog, m)
E$lung_trend <- trend(s, 0:3)
E$lung_trend_uneven <- trend(s, c(0, 1, 2, 10))
v <- rd("veteran")
E$veteran_trend <- trend(survdiff(Surv(time, status) ~ celltype, v), c(2, 3, 4, 1)) # squamous, adeno, large, smallcell

# Cumulative hazards. With repeated persons: the grouped jackknife.
chaz <- function(f) list(time = A(f$time), hazard = A(f$cumhaz), se = A(f$std.chaz))
E$lung_hazard <- list(female = chaz(survfit(Surv(time, d) ~ 1, subset(l, sex == 2))), male = chaz(survfit(Surv(time, d) ~ 1, subset(l, sex == 1))))
kd <- rd("kidney")
E$kidney_hazard <- chaz(survfit(Surv(time, status) ~ 1, kd, cluster = id, robust = TRUE))

# Smoothed hazard: Epanechnikov, boundary kernels of Gasser and Müller as in Klein and Moeschberger section 6.2.
kern <- function(q, x) ifelse(x < -1 | x > q, 0, 0.75 * (1 - x^2) * (64 * (2 - 4 * q + 6 * q^2 - 3 * q^3) + 240 * (1 - q)^2 * x) / ((1 + q)^4 * (19 - 18 * q + 3 * q^2)))
smooth <- function(f, at, b) t(sapply(at, function(t) {
  x <- (t - f$time) / b; q <- 1; last <- max(f$time)
  if (t < b) q <- t / b else if (last - t < b) { q <- (last - t) / b; x <- -x }
  k <- kern(q, x) / b; h <- sum(k * f$n.event / f$n.risk); s <- sqrt(sum(k^2 * f$n.event / f$n.risk^2)); c(h, s, h * exp(-z * s / h), h * exp(z * s / h)) }))
at <- c(0, 30, 150, 400, 700, 900)
E$lung_smooth <- list(at = A(at), rows = unname(smooth(survfit(Surv(time, d) ~ 1, subset(l, sex == 2)), at, 100)))
# Its error grouped by person, by leaving a little of each person out.
ks <- function(w) { t <- sort(unique(kd$time)); y <- sapply(t, function(a) sum(w[kd$time >= a])); e <- sapply(t, function(a) sum(w[kd$time == a & kd$status == 1]))
  sum(kern(1, (100 - t) / 60) / 60 * e / y) }
h <- 1e-5; D <- sapply(unique(kd$id), function(i) (ks(ifelse(kd$id == i, 1 + h, 1)) - ks(ifelse(kd$id == i, 1 - h, 1))) / (2 * h))
E$kidney_smooth <- list(at = 100, bandwidth = 60, estimate = ks(rep(1, nrow(kd))), se = sqrt(sum(D^2)))

# Time lost: limits and ratio on the logarithm.
lost <- function(f, tau) { s <- summary(f, rmean = tau)$table; e <- tau - unname(s["rmean"]); se <- unname(s["se(rmean)"]); c(e, se, e * exp(-z * se / e), min(tau, e * exp(z * se / e))) }
ratio <- function(b, a) { r <- b[1] / a[1]; s <- sqrt((a[2] / a[1])^2 + (b[2] / b[1])^2); c(r, s, r * exp(-z * s), r * exp(z * s), 2 * pnorm(-abs(log(r) / s))) }
g <- rd("freireich"); a <- lost(survfit(Surv(time, cens) ~ 1, subset(g, treat == "6-MP")), 20); b <- lost(survfit(Surv(time, cens) ~ 1, subset(g, treat == "control")), 20)
E$freireich_lost <- list("6-MP" = A(a), control = A(b), ratio = A(ratio(b, a)))

# Follow-up: the curve with events and censorings exchanged.
rev <- function(d) { q <- quantile(survfit(Surv(time, d == 0) ~ 1, d, conf.type = "log-log"), 0.5); c(q$quantile, q$lower, q$upper) }
E$lung_followup <- list(female = A(rev(subset(l, sex == 2))), male = A(rev(subset(l, sex == 1))))

# Rates per 100 years, exact.
rate <- function(d) { p <- poisson.test(sum(d$d), sum(d$time) / 365.25); 100 * c(p$estimate, p$conf.int) }
E$lung_rates <- list(female = A(rate(subset(l, sex == 2))), male = A(rate(subset(l, sex == 1))))

# Time lost by cause: the areas under the curves and their jackknife.
mg <- rd("mgus2"); mg$state <- factor(mg$event, 0:2, c("censor", "pcm", "death"))
f <- survfit(Surv(etime, state) ~ 1, mg, id = id); r <- resid(f, times = 240, type = "auc"); person <- (seq_len(nrow(mg)) - 1) %/% 3
E$mgus2_lost <- list(state = A(c("in use", "pcm", "death")), mean = A(summary(f, rmean = 240)$table[, "rmean"]), se = A(sqrt(colSums(r^2))),
  se_grouped = A(sqrt(colSums(rowsum(r, person)^2))))

# Weights: numbers of equal rows, and shares.
g$w <- 1 + seq_len(nrow(g)) %% 3; g$f <- 0.5 + (seq_len(nrow(g)) %% 4) / 4
wt <- function(f) list(time = A(f$time), surv = A(f$surv), se = A(summary(f, times = f$time)$std.err), at_risk = A(f$n.risk))
E$freireich_weights <- wt(survfit(Surv(time, cens) ~ 1, subset(g, treat == "6-MP"), weights = w, robust = FALSE))
E$freireich_weights_test <- test(survdiff(Surv(time, cens) ~ treat, g[rep(seq_len(nrow(g)), g$w), ])$chisq)
E$freireich_shares <- wt(survfit(Surv(time, cens) ~ 1, subset(g, treat == "6-MP"), weights = f, robust = TRUE))
write(toJSON(list(entries = E), digits = NA, auto_unbox = TRUE, null = "null", na = "null"), "expected.json")
