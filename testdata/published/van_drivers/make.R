# Writes data.csv and expected.json. R 4.2.2, data set Seatbelts of its own package `datasets`.
y <- as.numeric(Seatbelts[, "VanKilled"])
write.csv(data.frame(year = 1969 + (seq_along(y) - 1) %/% 12, month = 1 + (seq_along(y) - 1) %% 12, killed = y), "data.csv", row.names = FALSE)
like <- function(par, y, X) {
  w <- par[1]; d <- par[-1]
  e <- if (length(d)) exp(as.vector(X %*% d)) else rep(1, length(y))
  a <- 0; b <- 0; ll <- 0
  for (t in seq_along(y)) {
    a <- w * a; b <- w * b
    if (a > 0) ll <- ll + dnbinom(y[t], size = a, prob = b / (b + e[t]), log = TRUE)
    a <- a + y[t]; b <- b + e[t]
  }
  structure(ll, level = a / b)
}
fit <- function(y, X) {
  p <- if (is.null(X)) 0 else ncol(X)
  less <- function(q) if (q[1] <= 0 || q[1] > 1) 1e10 else -like(q, y, X)
  o <- if (p) optim(c(0.9, rep(0, p)), less, control = list(maxit = 20000, reltol = 1e-15)) else optim(0.9, less, method = "Brent", lower = 0.5, upper = 1)
  for (i in 1:5) if (p) o <- optim(o$par, less, control = list(maxit = 20000, reltol = 1e-15))
  se <- if (p) sqrt(diag(solve(optimHess(o$par[-1], function(d) -like(c(o$par[1], d), y, X), control = list(ndeps = rep(1e-4, p)))))) else NULL
  list(omega = o$par[1], coef = o$par[-1], std_error = se, log_likelihood = -o$value, level = attr(like(o$par, y, X), "level"))
}
y <- y[-1] # the first month of a log without a stated beginning is left out
k <- seq_along(y) # months since January 1969
S <- cbind(cos(2 * pi * k / 12), sin(2 * pi * k / 12))
out <- list(level = fit(y, NULL), season = fit(y, S), trend = fit(y, cbind(S, (k - length(y)) / 12)))
txt <- function(v) if (is.null(v) || !length(v)) "[]" else sprintf("[%s]", paste(sprintf("%.12g", v), collapse = ", "))
writeLines(c("{", paste(sapply(names(out), function(n) with(out[[n]], sprintf('  "%s": {"omega": %.12g, "coef": %s, "std_error": %s, "log_likelihood": %.12g, "level": %.12g}', n, omega, txt(coef), txt(std_error), log_likelihood, level))), collapse = ",\n"), "}"), "expected.json")

# Least squares on the months since January 1969, errors of Newey and West (sandwich 3.0).
library(sandwich)
y <- as.numeric(Seatbelts[, "VanKilled"]); k <- seq_along(y) - 1; law <- as.numeric(Seatbelts[, "law"])
m <- lm(y ~ k + law)
se <- sqrt(diag(NeweyWest(m, lag = floor(4 * (length(y) / 100)^(2 / 9)), prewhite = FALSE, adjust = TRUE)))
more <- sprintf('  "linear": {"coef": %s, "newey_west": %s}', txt(coef(m)), txt(se))
got <- readLines("expected.json")
got[length(got) - 1] <- paste0(got[length(got) - 1], ",")
writeLines(c(got[-length(got)], more, "}"), "expected.json")
d <- read.csv("data.csv"); d$law <- law
write.csv(d, "data.csv", row.names = FALSE)
