# Data and expected values of patterns over the day and the year.
# Run in this folder: Rscript make.R > expected.json
# R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, pbkrtest 0.5.2.
suppressMessages({library(lme4); library(lmerTest)})
num <- function(v) paste0("[", paste(ifelse(is.nan(v), "null", sprintf("%.15g", v)), collapse = ", "), "]")
mat <- function(m) paste0("[", paste(apply(m, 1, num), collapse = ", "), "]")
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE,
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
out <- list()
put <- function(name, ...) { l <- list(...); out[[name]] <<- paste0('"', names(l), '": ', unlist(l), collapse = ", ") }

# Drawn data: 36 limbs seen 5 to 12 times between 7:00 and 17:45; those seen
# early have a higher level, each limb has a pace, and a load moves the value.
set.seed(20)
rows <- do.call(rbind, lapply(1:36, function(i) {
  n <- sample(5:12, 1); middle <- runif(1, 9, 16)
  minute <- pmin(pmax(15 * round((60 * middle + rnorm(n, 0, 150)) / 15), 420), 1065)
  day <- sort(sample(5:500, n)); load <- round(runif(n, 0, 10), 1)
  y <- 60 - 1.2 * middle + rnorm(1, 0, 3) + (0.02 + rnorm(1, 0, 0.01)) * day + 0.4 * load + 3 * cos(2 * pi * (minute / 60 - 10) / 24) + rnorm(n, 0, 1.5)
  data.frame(limb = sprintf("N%02d", i), day, minute, load, value = round(y, 3))
}))
write.csv(rows, "data.csv", row.names = FALSE, quote = FALSE)

# One weighted sum of coefficients: estimate, error, ends of the interval.
one <- function(f, L, ddf = "Satterthwaite", level = 0.95) {
  k <- contest1D(f, L, ddf = ddf, confint = TRUE, level = level)
  c(k$Estimate, k$`Std. Error`, k$lower, k$upper)
}
basis <- function(x, P, H, d = 0) unlist(lapply(1:H, function(k) { w <- 2 * pi * k / P
  switch(d + 1, c(cos(w * x), sin(w * x)), w * c(-sin(w * x), cos(w * x)), -w^2 * c(cos(w * x), sin(w * x))) }))
# Fieller's interval: the nearest times at which the slope is told from 0. A
# slope turned round (of a trough) has the ends of its interval turned round too.
ends <- function(slope, at, reach) {
  low <- function(x) { e <- slope(x); min(e[3], e[4]) }; high <- function(x) { e <- slope(x); max(e[3], e[4]) }
  x <- seq(0, reach, length.out = 61)[-1]; l <- which(sapply(at - x, low) > 0)[1]; h <- which(sapply(at + x, high) < 0)[1]
  if (is.na(l) || is.na(h)) return(c(NaN, NaN))
  s <- x[1]
  c(uniroot(low, c(at - x[l], at - x[l] + s), tol = 1e-12)$root, uniroot(high, c(at + x[h] - s, at + x[h]), tol = 1e-12)$root)
}
curve_of <- function(f, first, P, H, x, lo, hi, ddf = "Satterthwaite") {
  p <- length(fixef(f)); at <- first:(first + 2 * H - 1); b <- fixef(f)[at]
  B <- t(sapply(x, basis, P, H)); mid <- colMeans(B)
  L <- function(v) { l <- numeric(p); l[at] <- v; l }
  g <- function(v) sum(basis(v, P, H) * b)
  J <- contestMD(f, t(sapply(at, function(k) replace(numeric(p), k, 1))), ddf = ddf)
  grid <- seq(lo, hi, length.out = 2001); s <- grid[2] - grid[1]
  turn <- function(sign) { m <- grid[which.max(sign * sapply(grid, g))]
    if (m - s < lo || m + s > hi) return(c(m, NaN, NaN, NaN))
    r <- uniroot(function(v) sum(basis(v, P, H, 1) * b), c(m - s, m + s), tol = 1e-13)$root
    e <- one(f, L(basis(r, P, H, 1) / abs(sum(basis(r, P, H, 2) * b))), ddf)
    c(r, e[2], ends(function(x) sign * one(f, L(basis(x, P, H, 1)), ddf), r, P / 4)) }
  high <- turn(1); low <- turn(-1)
  change <- one(f, L(basis(high[1], P, H) - basis(low[1], P, H)), ddf)
  waves <- t(sapply(1:H, function(k) { i <- 2 * k - 1; a <- b[i]; c <- b[i + 1]; A <- sqrt(a^2 + c^2); v <- numeric(2 * H)
    e <- one(f, L(replace(v, i:(i + 1), c(a, c) / A)), ddf); s <- one(f, L(replace(v, i:(i + 1), c(-c, a) / A)), ddf)
    turn <- P / (2 * pi * k); pk <- (turn * atan2(c, a)) %% (P / k)
    h <- ends(function(x) { w <- x / turn; one(f, L(replace(v, i:(i + 1), c(-sin(w), cos(w)))), ddf) }, pk, P / k / 4)
    j <- contestMD(f, rbind(L(replace(v, i, 1)), L(replace(v, i + 1, 1))), ddf = ddf)
    c(e[1:2], max(0, e[3]), e[4], pk, turn * s[2] / A, h, j$`F value`, j$DenDF, j$`Pr(>F)`) }))
  fit <- c(B %*% b) - sum(mid * b); v <- mean(fit^2)
  list(test = num(c(J$`F value`, J$NumDF, J$DenDF, J$`Pr(>F)`)), change = num(c(change[1:2], max(0, change[3]), change[4])), high = num(high), low = num(low), waves = mat(waves),
    explained = num(v / (v + sigma(f)^2)))
}
parts_of <- function(f, first, part) { # against the average row
  n <- tabulate(part) / length(part); p <- length(fixef(f)); k <- length(n)
  mat(t(sapply(1:k, function(j) { l <- numeric(p); l[first:(first + k - 2)] <- -n[-1]; if (j > 1) l[first + j - 2] <- l[first + j - 2] + 1; one(f, l) })))
}
fixed <- function(f, ddf = "Satterthwaite") { s <- summary(f, ddf = ddf)$coefficients; list(coef = num(s[, 1]), se = num(s[, 2]), df = num(s[, 3]), sigma = num(sigma(f)), loglik = num(as.numeric(logLik(f)))) }

d <- transform(rows, h = minute / 60)
d <- transform(d, c1 = cos(2 * pi * h / 24), s1 = sin(2 * pi * h / 24))
for (v in c("c1", "s1", "day")) d[[paste0("m_", v)]] <- ave(d[[v]], d$limb)
drawn <- lmer(value ~ day + load + c1 + s1 + m_c1 + m_s1 + m_day + (1 + day | limb), d, control = ctl)
d$part <- as.integer(factor(floor(d$h / 2)))
parts <- lmer(value ~ day + load + factor(part) + m_c1 + m_s1 + m_day + (1 + day | limb), d, control = ctl)
between <- contestMD(drawn, rbind(c(0, 0, 0, 0, 0, 1, 0, 0), c(0, 0, 0, 0, 0, 0, 1, 0)))
do.call(put, c("drawn", fixed(drawn), curve_of(drawn, 4, 24, 1, d$h, min(d$h), max(d$h)), list(parts = parts_of(parts, 4, d$part), between = num(c(between$`F value`, between$DenDF, between$`Pr(>F)`)))))

# Monthly mean temperatures at Nottingham, each on the 15th of its month, 80
# years later (leap years stay leap years); each year stands for a limb.
place <- function(date) { y <- as.integer(format(date, "%Y")); len <- as.integer(as.Date(paste0(y + 1, "-01-01")) - as.Date(paste0(y, "-01-01"))); 12 * (as.POSIXlt(date)$yday) / len }
series <- function(x, later) { y <- floor(time(x) + 1e-6) + later; data.frame(date = as.Date(sprintf("%d-%02d-15", y, cycle(x))), value = as.numeric(x)) }
t <- series(nottem, 80)
write.csv(t, "../nottem/data.csv", row.names = FALSE, quote = FALSE)
t <- transform(t, x = place(date), year = format(date, "%Y"))
t <- transform(t, c1 = cos(2 * pi * x / 12), s1 = sin(2 * pi * x / 12))
warm <- lmer(value ~ c1 + s1 + (1 | year), t, control = ctl)
do.call(put, c("nottem", fixed(warm), curve_of(warm, 2, 12, 1, t$x, 0, 12), list(parts = parts_of(lmer(value ~ factor(format(date, "%m")) + (1 | year), t, control = ctl), 2, as.integer(format(t$date, "%m"))))))
do.call(put, c("nottem_adjusted", fixed(warm, "Kenward-Roger"), curve_of(warm, 2, 12, 1, t$x, 0, 12, "Kenward-Roger")))
plain <- lm(value ~ c1 + s1, t) # cosinor regression as published: one series, no limbs
b <- coef(plain)
put("nottem_plain", coef = num(b), amplitude = num(sqrt(b[2]^2 + b[3]^2)), peak = num((12 / (2 * pi) * atan2(b[3], b[2])) %% 12))

# Monthly deaths from lung disease, 1974 to 1979, 20 years later: two waves.
m <- series(ldeaths, 20)
write.csv(m, "../ldeaths/data.csv", row.names = FALSE, quote = FALSE)
m <- transform(m, x = place(date), year = format(date, "%Y"))
W <- t(sapply(m$x, basis, 12, 2)); colnames(W) <- c("c1", "s1", "c2", "s2")
two <- lmer(value ~ c1 + s1 + c2 + s2 + (1 | year), cbind(m, W), control = ctl)
do.call(put, c("ldeaths", fixed(two), curve_of(two, 2, 12, 2, m$x, 0, 12)))
cat("{\n", paste0('  "', names(out), '": {', unlist(out), "}", collapse = ",\n"), "\n}\n", sep = "")
