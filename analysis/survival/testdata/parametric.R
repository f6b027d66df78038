# Writes parametric.json: random sets with what a reference library finds in
# them. Run in this folder: Rscript parametric.R
# R 4.2.2, survival 3.5-3
suppressPackageStartupMessages({library(survival); library(jsonlite)})
set.seed(20260214)
A <- function(x) I(as.vector(unname(x)))
sc <- survreg.control(rel.tolerance = 1e-13, maxiter = 200)
dists <- c("weibull", "exponential", "lognormal", "loglogistic")
# The grouped sandwich from scores by formula: residuals of type dfbeta leave
# out the weights unless asked for them, and those of rows in an interval do
# not sum to 0, so the library's own robust variance is not used.
law <- list(weibull = list(d = function(z) exp(z - exp(z)), f1 = function(z) 1 - exp(z), s = function(z) exp(-exp(z))),
            lognormal = list(d = dnorm, f1 = function(z) -z, s = function(z) pnorm(z, lower.tail = FALSE)),
            loglogistic = list(d = dlogis, f1 = function(z) 1 - 2 * plogis(z), s = function(z) plogis(z, lower.tail = FALSE)))
law$exponential <- law$weibull
robust <- function(f, k, X, left, right, w, id) {
  l <- law[[k]]; s <- f$scale; e <- as.vector(X %*% coef(f)); a <- (log(left) - e) / s; b <- (log(right) - e) / s; v <- function(z, y) ifelse(is.finite(z), z * y, 0)
  fa <- ifelse(left == 0, 0, l$d(a)); fb <- ifelse(is.na(right), 0, l$d(b)); D <- ifelse(left == 0, 1, l$s(a)) - ifelse(is.na(right), 0, l$s(b)); exact <- !is.na(right) & left == right
  ue <- ifelse(exact, -l$f1(a) / s, (fa - fb) / D / s); ut <- ifelse(exact, -a * l$f1(a) - 1, (v(a, fa) - ifelse(is.na(b), 0, v(b, fb))) / D)
  U <- w * cbind(ue * X, if (k != "exponential") ut); stopifnot(max(abs(colSums(U))) < 1e-8)
  V <- if (is.null(f$naive.var)) f$var else f$naive.var; unname(V %*% crossprod(rowsum(U, id)) %*% V)
}
fit <- function(f, profile, robust = NULL) {
  if (!is.null(robust)) { f$naive.var <- f$var; f$var <- robust }
  q <- predict(f, profile, type = "quantile", p = c(.1, .5, .9), se.fit = TRUE)
  list(coef = A(coef(f)), scale = f$scale, var = unname(if (is.null(f$naive.var)) f$var else f$naive.var), robust = if (is.null(f$naive.var)) NULL else unname(f$var),
       loglik = A(f$loglik), aic = AIC(f), quantile = A(q$fit), quantile_se = A(q$se.fit))
}
draw <- function(n, rate) {
  x <- round(rnorm(n), 3); g <- rbinom(n, 1, .4); id <- sample(1:(n %/% 3), n, TRUE); w <- sample(c(1, 2, 3, .5), n, TRUE)
  t <- ceiling(300 * exp(.4 * x - .5 * g + rnorm(n %/% 3, 0, .3)[id]) * rweibull(n, 1.3))
  data.frame(t, c = ceiling(rexp(n, rate)) + 1, x, g, id, w)
}
E <- list()
# Right-censored, with weights and clusters.
d <- draw(150, 1 / 500); d$time <- pmin(d$t, d$c); d$dead <- as.numeric(d$t <= d$c)
E$right$data <- list(time = A(d$time), dead = A(d$dead), x = A(d$x), g = A(d$g), id = A(d$id), w = A(d$w))
p <- data.frame(x = .5, g = 1)
for (k in dists) {
  E$right[[k]] <- fit(survreg(Surv(time, dead) ~ x + g, d, dist = k, control = sc), p)
  E$right[[paste0(k, "_weighted")]] <- fit(survreg(Surv(time, dead) ~ x + g, d, weights = w, dist = k, control = sc), p)
  f <- survreg(Surv(time, dead) ~ x + g, d, weights = w, dist = k, control = sc)
  E$right[[paste0(k, "_clustered")]] <- fit(f, p, robust(f, k, cbind(1, d$x, d$g), d$time, ifelse(d$dead == 1, d$time, NA), d$w, d$id))
  # Without weights and intervals the library's own robust variance agrees.
  f <- survreg(Surv(time, dead) ~ x + g, d, cluster = id, dist = k, control = sc)
  stopifnot(all.equal(unname(f$var), robust(f, k, cbind(1, d$x, d$g), d$time, ifelse(d$dead == 1, d$time, NA), 1, d$id), tolerance = 1e-9))
  E$right[[paste0(k, "_grouped")]] <- fit(f, p)
}
# Exact, right-, left- and interval-censored times together: visits about every 60 days.
d <- draw(200, 1 / 700); v <- function(t) ceiling(t / 60) * 60
d$left <- ifelse(d$t > d$c, d$c, pmax(v(d$t) - 60, 0)); d$right <- ifelse(d$t > d$c, NA, v(d$t))
k <- d$t <= d$c & rbinom(nrow(d), 1, .3) == 1; d$left[k] <- d$right[k] <- d$t[k]
E$mixed$data <- list(left = A(d$left), right = A(d$right), x = A(d$x), g = A(d$g), id = A(d$id))
d$l <- ifelse(d$left == 0, NA, d$left)
for (k in dists) { f <- survreg(Surv(l, right, type = "interval2") ~ x + g, d, dist = k, control = sc); E$mixed[[k]] <- fit(f, p, robust(f, k, cbind(1, d$x, d$g), d$left, d$right, 1, d$id)) }
# Late entry, which survreg does not know: the likelihood by formula,
# maximised by optim. Its own derivatives are numerical, hence good to about 1e-5.
d <- draw(250, 1 / 700); d$time <- pmin(d$t, d$c); d$dead <- as.numeric(d$t <= d$c)
d$entry <- ifelse(rbinom(nrow(d), 1, .5) == 1, floor(runif(nrow(d), 1, 200)), 0); d <- d[d$time > d$entry, ]
E$late$data <- list(entry = A(d$entry), time = A(d$time), dead = A(d$dead), x = A(d$x), g = A(d$g))
law <- list(weibull = list(f = function(z) z - exp(z), s = function(z) -exp(z)), lognormal = list(f = function(z) dnorm(z, log = TRUE), s = function(z) pnorm(z, lower.tail = FALSE, log.p = TRUE)),
            loglogistic = list(f = function(z) dlogis(z, log = TRUE), s = function(z) plogis(z, lower.tail = FALSE, log.p = TRUE)))
law$exponential <- law$weibull
for (k in dists) {
  X <- cbind(1, d$x, d$g); l <- law[[k]]
  nll <- function(th) { s <- if (k == "exponential") 1 else exp(th[4]); e <- as.vector(X %*% th[1:3]); z <- (log(d$time) - e) / s
    -sum(ifelse(d$dead == 1, l$f(z) - log(s) - log(d$time), l$s(z)) - ifelse(d$entry > 0, l$s((log(pmax(d$entry, 1)) - e) / s), 0)) }
  th <- c(6, 0, 0, if (k != "exponential") 0)
  for (i in 1:5) { o <- optim(th, nll, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000, ndeps = rep(1e-5, length(th)))); th <- o$par }
  E$late[[k]] <- list(par = A(o$par), loglik = -o$value, var = unname(solve(optimHess(th, nll, control = list(ndeps = rep(1e-4, length(th)))))))
}
writeLines(toJSON(E, auto_unbox = TRUE, digits = I(15), na = "null", null = "null"), "parametric.json")
