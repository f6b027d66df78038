# Writes expected.json: generalised gamma curves beside the other parametric
# ones, for sets beside this folder. Run in this folder: Rscript make.R
# R 4.2.2, survival 3.5-3, numDeriv 2016.8-1.1
suppressPackageStartupMessages({library(survival); library(numDeriv); library(jsonlite)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
sc <- survreg.control(rel.tolerance = 1e-13, maxiter = 500)
E <- list()

# Laws of W in log T = x'b + s W. The generalised gamma law of Prentice 1974,
# shape q: k exp(q W) has the gamma distribution with shape k = 1/q^2; pgamma
# and dgamma are the library's own.
gg <- function(q) { k <- 1 / q^2; u <- function(z) k * exp(q * z); list(
  f = function(z) dgamma(u(z), k, log = TRUE) + log(u(z)) + log(abs(q)),
  s = function(z) pgamma(u(z), k, lower.tail = q < 0, log.p = TRUE), b = function(z) pgamma(u(z), k, lower.tail = q > 0, log.p = TRUE),
  q = function(p) log((if (q > 0) qgamma(p, k) else qgamma(1 - p, k)) / k) / q) }
laws <- list(weibull = list(f = function(z) z - exp(z), s = function(z) -exp(z), b = function(z) log(-expm1(-exp(z))), q = function(p) log(-log1p(-p))),
  lognormal = list(f = function(z) dnorm(z, log = TRUE), s = function(z) pnorm(z, lower.tail = FALSE, log.p = TRUE), b = function(z) pnorm(z, log.p = TRUE), q = qnorm),
  loglogistic = list(f = function(z) dlogis(z, log = TRUE), s = function(z) plogis(z, lower.tail = FALSE, log.p = TRUE), b = function(z) plogis(z, log.p = TRUE), q = qlogis))
laws$exponential <- laws$weibull

# Each row's log likelihood of times: exact where left = right, right-censored
# where right is missing, else in an interval; given that it outlived entry.
rows <- function(th, kind, X, left, right, entry) {
  p <- ncol(X); s <- if (kind == "exponential") 1 else exp(th[p + 1]); L <- if (kind == "gengamma") gg(th[p + 2]) else laws[[kind]]
  e <- as.vector(X %*% th[1:p]); z <- function(t) (log(t) - e) / s
  exact <- !is.na(right) & left == right; open <- is.na(right); low <- !open & left == 0
  a <- z(pmax(left, 1e-300)); b <- z(ifelse(open, 1, right))
  # the difference of the tail that is small
  mid <- ifelse(a > 0, exp(L$s(a)) - exp(L$s(b)), exp(L$b(b)) - exp(L$b(a)))
  out <- ifelse(exact, L$f(a) - log(s) - log(pmax(left, 1e-300)), ifelse(open, L$s(a), ifelse(low, L$b(b), log(pmax(mid, 1e-300)))))
  out - ifelse(entry > 0, L$s(z(pmax(entry, 1e-300))), 0)
}
# Richardson's derivatives, in steps of a tenth of the standard errors.
ma <- list(d = 0.1)
d1 <- function(f, th, se) grad(function(u) f(th + se * (u - 1)), rep(1, length(th)), method.args = ma) / se
dd <- function(f, th, se) hessian(function(u) f(th + se * (u - 1)), rep(1, length(th)), method.args = ma) / outer(se, se)
best <- function(kind, X, left, right, entry, start) {
  nll <- function(th) { v <- -sum(rows(th, kind, X, left, right, entry)); if (is.finite(v)) v else 1e10 }
  th <- if (length(start) > 1) optim(start, nll, control = list(maxit = 20000, reltol = 1e-14))$par else start
  th <- optim(th, nll, method = "BFGS", control = list(maxit = 2000, reltol = 1e-15))$par
  se <- 0.1 * abs(th) + 0.01
  for (i in 1:8) { H <- dd(nll, th, se); g <- d1(nll, th, se); step <- solve(H, g); if (max(abs(step)) < 0.3) th <- th - step; se <- sqrt(abs(diag(solve(H)))) }
  stopifnot(max(abs(step) / se) < 1e-7)
  list(par = th, loglik = -nll(th), var = solve(dd(nll, th, se)))
}
start <- function(kind, X, left, right) { # survreg without late entry; the shape from a grid
  l <- ifelse(left == 0, NA, left); f <- survreg(Surv(l, right, type = "interval2") ~ X - 1, dist = if (kind == "gengamma") "lognormal" else kind, control = sc)
  c(coef(f), if (kind != "exponential") log(f$scale)) }
gengamma <- function(X, left, right, entry) {
  from <- function(kind, qs) lapply(qs, function(q) try(best("gengamma", X, left, right, entry, c(best(kind, X, left, right, entry, start(kind, X, left, right))$par, q)), silent = TRUE))
  try_ <- c(from("lognormal", c(-1.5, -.5, .3)), from("weibull", c(.7, 1.3, 2)))
  try_ <- Filter(function(x) !inherits(x, "try-error"), try_); try_[[which.max(sapply(try_, `[[`, "loglik"))]]
}
# Everything of one set. x: the columns' names; at: a profile; times to predict the share at.
entry <- function(d, x, at, times, kinds = c("gengamma"), cluster = NULL) {
  X <- as.matrix(cbind(1, d[, x, drop = FALSE])); colnames(X) <- NULL; one <- X[, 1, drop = FALSE]; p <- ncol(X)
  ev <- sum(!is.na(d$right)); out <- list(events = ev)
  for (kind in kinds) {
    f <- if (kind == "gengamma") gengamma(X, d$left, d$right, d$entry) else best(kind, X, d$left, d$right, d$entry, start(kind, X, d$left, d$right))
    n <- if (p == 1) f else if (kind == "gengamma") gengamma(one, d$left, d$right, d$entry) else best(kind, one, d$left, d$right, d$entry, start(kind, one, d$left, d$right))
    w <- c(1, at); m <- length(f$par); law <- function(th) if (kind == "gengamma") gg(th[p + 2]) else laws[[kind]]; sg <- function(th) if (kind == "exponential") 1 else exp(th[p + 1])
    V <- f$var; r <- list(par = A(f$par), se = A(sqrt(diag(V))), loglik = f$loglik, loglik_null = n$loglik, aic = 2 * m - 2 * f$loglik, bic = m * log(ev) - 2 * f$loglik)
    if (!is.null(cluster)) { U <- rowsum(t(t(jacobian(function(u) rows(f$par + r$se * (u - 1), kind, X, d$left, d$right, d$entry), rep(1, m), method.args = ma)) / r$se), cluster); V <- V %*% crossprod(U) %*% V; r$robust_se <- A(sqrt(diag(V))) }
    lq <- function(th, q) sum(w * th[1:p]) + sg(th) * law(th)$q(q)
    r$quantiles <- lapply(c(.25, .5, .75), function(q) { g <- d1(function(th) lq(th, q), f$par, r$se); v <- lq(f$par, q); s <- sqrt(sum(g * (V %*% g))); A(c(exp(v), exp(v) * s, exp(v - qnorm(.975) * s), exp(v + qnorm(.975) * s))) })
    hat <- law(f$par)
    r$shares <- lapply(times, function(t) { S <- function(th) exp(law(th)$s((log(t) - sum(w * th[1:p])) / sg(th))) # interval: z at the estimated shape
      zed <- function(th) hat$q(1 - S(th)); g <- d1(zed, f$par, r$se); v <- zed(f$par); s <- sqrt(sum(g * (V %*% g))); gs <- d1(S, f$par, r$se)
      A(c(t, S(f$par), sqrt(sum(gs * (V %*% gs))), exp(hat$s(v + qnorm(.975) * s)), exp(hat$s(v - qnorm(.975) * s)))) })
    # the mean over the rows of what is predicted for each
    mean_at <- function(t) mean(exp(hat$s((log(t) - as.vector(X %*% f$par[1:p])) / sg(f$par))))
    r$mean <- list(shares = A(sapply(times, mean_at)), half = exp(uniroot(function(y) mean_at(exp(y)) - 0.5, log(median(d$left + 1)) + c(-3, 3), tol = 1e-13)$root))
    out[[kind]] <- r
  }
  out
}
# The fit with the shape held, as a distribution of the user's own in survreg:
# the library's own iterations lead to the same place.
held <- function(d, x, q) {
  own <- list(name = "gengamma", parms = c(q = q), init = function(x, weights, ...) c(mean(x), var(x)), deviance = function(y, scale, parms) stop("not used"),
    density = function(z, parms) { g <- gg(parms[[1]]); S <- exp(g$s(z)); f <- exp(g$f(z)); e <- -expm1(parms[[1]] * z) / parms[[1]]; cbind(1 - S, S, f, e, e^2 - exp(parms[[1]] * z)) },
    quantile = function(p, parms) gg(parms[[1]])$q(p))
  X <- as.matrix(d[, x, drop = FALSE]); l <- ifelse(d$left == 0, NA, d$left)
  f <- survreg(if (length(x)) Surv(log(l), log(d$right), type = "interval2") ~ X else Surv(log(l), log(d$right), type = "interval2") ~ 1, dist = own, control = sc); c(coef(f), log(f$scale))
}
agrees <- function(d, x, e) stopifnot(max(abs(held(d, x, tail(e$gengamma$par, 1)) - head(e$gengamma$par, -1))) < 1e-6)

b <- rd("ball_bearings"); b <- data.frame(left = b$revolutions, right = b$revolutions, entry = 0)
E$ball_bearings <- c(call = "entry(), without columns, millions of revolutions", entry(b, character(), NULL, c(50, 100)))
b10 <- data.frame(left = round(10 * b$left), entry = 0); b10$right <- b10$left
E$ball_bearings_days <- c(call = "the same, tens of thousands of revolutions rounded to whole ones", entry(b10, character(), NULL, c(500, 1000))); agrees(b10, character(), E$ball_bearings_days)

y <- rd("larynx"); y <- transform(y, left = round(10 * time), entry = 0, s2 = 1 * (stage == 2), s3 = 1 * (stage == 3), s4 = 1 * (stage == 4)); y$right <- ifelse(y$delta == 1, y$left, NA)
E$larynx <- c(call = "entry(), stage and age, tenths of years; profile: stage 3, age 60", log_time = sum(log(y$left[y$delta == 1])),
  entry(y, c("s2", "s3", "s4", "age"), c(0, 1, 0, 60), c(20, 60), c("gengamma", "weibull", "exponential", "lognormal", "loglogistic"))); agrees(y, c("s2", "s3", "s4", "age"), E$larynx)

f <- rd("freireich"); f <- transform(f, left = time, right = ifelse(cens == 1, time, NA), entry = 0, control = 1 * (treat == "control"))
E$freireich <- c(call = "entry(), control; profile: 6-MP", entry(f, "control", 0, c(6, 23))); agrees(f, "control", E$freireich)

l <- rd("lung"); l <- transform(l, left = time, right = ifelse(status == 2, time, NA), entry = 0, female = sex - 1)
E$lung <- c(call = "entry(), age and female; profile: age 60, female", entry(l, c("age", "female"), c(60, 1), c(180, 365))); agrees(l, c("age", "female"), E$lung)

k <- rd("kidney"); k <- transform(k, left = time, right = ifelse(status == 1, time, NA), entry = 0)
E$kidney <- c(call = "entry(), without columns; grouped sandwich from numDeriv's jacobian of the rows' log likelihoods, by id", entry(k, character(), NULL, c(90), cluster = k$id)); agrees(k, character(), E$kidney)

o <- rd("cosmesis"); o$entry <- 0
E$cosmesis <- c(call = "entry(), chemo, intervals; profile: no chemotherapy", entry(o, "chemo", 0, 24)); agrees(o, "chemo", E$cosmesis)

h <- subset(rd("channing"), age > ageentry); h <- transform(h, left = age, right = ifelse(death == 1, age, NA), entry = ageentry, male = 1 * (gender == 1))
E$channing <- c(call = "entry(), male, late entry, months; profile: women", rows = nrow(h), entry(h, "male", 0, c(900, 1080), c("gengamma", "weibull", "exponential", "lognormal", "loglogistic")))

# Tobin: durable goods bought, nothing where the wish was below 0. The
# logarithm of a time that is log-normal, left-censored: the printed tobit fit.
t <- rd("tobin"); f <- survreg(Surv(durable, durable > 0, type = "left") ~ age + quant, data = t, dist = "gaussian", control = sc)
E$tobin <- list(call = "survreg(Surv(durable, durable > 0, type = 'left') ~ age + quant, dist = 'gaussian')", coef = A(coef(f)), scale = f$scale, se = A(sqrt(diag(vcov(f)))), loglik = f$loglik[2])
# Told in days: 20 exp(durable/4) to the whole day, seen on that day and not the day before; 0: seen by the first look on day 20.
t$right <- round(20 * exp(t$durable / 4)); t$left <- ifelse(t$durable == 0, NA, t$right - 1)
for (dist in c("weibull", "exponential", "lognormal", "loglogistic")) { f <- survreg(Surv(left, right, type = "interval2") ~ age + quant, data = t, dist = dist, control = sc)
  E$tobin_days[[dist]] <- list(call = sprintf("survreg(Surv(left, right, type = 'interval2') ~ age + quant, dist = '%s')", dist), coef = A(coef(f)), scale = f$scale, se = A(sqrt(diag(vcov(f)))), loglik = f$loglik[2], aic = AIC(f)) }
writeLines(toJSON(E, auto_unbox = TRUE, digits = I(15), pretty = TRUE), "expected.json")
