# Rscript make.R: writes data.csv (the series) and expected.json.
library(sandwich); library(nlme)
set.seed(20260)
n <- 48; start <- 25; k <- 0:(n - 1)
e <- as.numeric(arima.sim(list(ar = .45), n, sd = .06))
rows <- 12 + (k * 7) %% 11
y <- round(.55 + .001 * k + ifelse(k >= start, .12 + .004 * (k - start), 0) + .03 * cos(2 * pi * k / 12) + e, 4)
d <- data.frame(period = k, value = y, rows = rows)
gap <- d[!(d$period %in% c(9, 31)), ]
write.csv(d, "data.csv", row.names = FALSE, quote = FALSE)
N <- function(x) paste0("[", paste(sprintf("%.17g", as.numeric(x)), collapse = ", "), "]")
one <- function(d, weighted, season, nw = TRUE) {
  d$t <- d$period - start; d$a <- as.numeric(d$t >= 0); d$at <- d$a * d$t
  d$cs <- cos(2 * pi * (d$period %% 12) / 12); d$sn <- sin(2 * pi * (d$period %% 12) / 12)
  d$w <- if (weighted) d$rows else 1
  f <- if (season) value ~ t + a + at + cs + sn else value ~ t + a + at
  m <- lm(f, d, weights = w)
  L <- floor(4 * (nrow(d) / 100)^(2 / 9))
  g <- gls(f, d, correlation = corAR1(.3, form = ~ period), weights = varFixed(~ 1 / w), method = "REML",
           control = glsControl(tolerance = 1e-12, msTol = 1e-12, maxIter = 500, msMaxIter = 500))
  paste0('{"coef": ', N(coef(m)), ', "std_error": ', N(sqrt(diag(vcov(m)))),
    if (nw) paste0(', "newey_west": ', N(sqrt(diag(NeweyWest(m, lag = L, prewhite = FALSE, adjust = TRUE)))),
      ', "slope_after_newey_west": ', N({V <- NeweyWest(m, lag = L, prewhite = FALSE, adjust = TRUE); sqrt(V[2, 2] + V[4, 4] + 2 * V[2, 4])})) else "",
    ', "lag": ', N(L), ', "sigma": ', N(summary(m)$sigma), ', "r_squared": ', N(summary(m)$r.squared),
    ', "gls": ', N(coef(g)), ', "gls_std_error": ', N(sqrt(diag(vcov(g)))), ', "gls_rho": ', N(coef(g$modelStruct$corStruct, unconstrained = FALSE)), '}')
}
cat('{"rel_tol": 1e-9, "plain": ', one(d, FALSE, FALSE), ',\n"weighted": ', one(d, TRUE, FALSE), ',\n"season": ', one(d, TRUE, TRUE),
  ',\n"gaps": ', one(gap, TRUE, TRUE, FALSE), '}\n', sep = "", file = "expected.json")
