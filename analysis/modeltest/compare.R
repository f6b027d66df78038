# Reads small data sets of visits from standard input, a line a visit or a fit
# of the methods under test, and writes what R makes of each: lines of the set,
# a name and numbers. Where a call fails, "!" and why stand in their place.
# Written for R 4.2.2, lme4 1.1-31, nlme 3.1-162, MASS 7.3-58.2, ordinal
# 2022.11-16, geepack 1.3.9.
#
# The optimisers of these packages stop where the likelihood hardly rises any
# more, some five digits before the estimates stand still. Models with random
# effects are therefore led on from where a package stopped, by Newton's method
# on the likelihood as its definition has it (marginal() and integral() below);
# what the package itself had is put out too ("own"), as is the likelihood at
# the estimates of the methods under test ("ours").
suppressPackageStartupMessages({library(lme4); library(nlme); library(MASS); library(ordinal); library(geepack)})
options(warn = -1)
invisible(compiler::enableJIT(0)) # it costs more than it saves here
all <- read.csv(file("stdin"), colClasses = c(mixed = "character", residual = "character", leveled = "character", fit = "character", values = "character"))
set <- 0
put <- function(name, x) {
  text <- tryCatch({
    x <- suppressWarnings(x)
    x <- as.vector(if (is.matrix(x)) t(x) else x)
    paste(ifelse(is.na(x), "NA", sprintf("%.17g", x)), collapse = " ")
  }, error = function(e) paste("!", gsub("[\r\n]+", " ", conditionMessage(e))))
  writeLines(paste(set, name, text))
}

# ---- climbing

# gradient and curvature of fn by differences, right to about 1e-10 of its size.
gradient <- function(fn, at, h) sapply(seq_along(at), function(j) { e <- h * (seq_along(at) == j); (8 * (fn(at + e) - fn(at - e)) - fn(at + 2 * e) + fn(at - 2 * e)) / (12 * h[j]) })
curvature <- function(fn, at, h, f0) {
  k <- length(at); m <- matrix(0, k, k)
  for (i in 1:k) for (j in 1:i) {
    a <- h * (1:k == i); b <- h * (1:k == j)
    m[i, j] <- m[j, i] <- if (i == j) (fn(at + a) - 2 * f0 + fn(at - a)) / h[i]^2 else (fn(at + a + b) - fn(at + a - b) - fn(at - a + b) + fn(at - a - b)) / (4 * h[i] * h[j])
  }
  m
}
# lead walks down fn from at by Newton's steps, made to point downhill.
lead <- function(fn, at, slope = NULL) {
  if (length(at) == 0) return(list(at = at, value = fn(at)))
  f <- fn(at)
  for (step in 1:60) {
    h <- 1e-3 * pmax(abs(at), 0.1)
    g <- if (is.null(slope)) gradient(fn, at, h) else slope(at)
    m <- if (is.null(slope)) curvature(fn, at, h, f) else {
      m <- sapply(seq_along(at), function(j) { e <- h * (seq_along(at) == j) / 10; (slope(at + e) - slope(at - e)) / (2 * e[j]) }); (m + t(m)) / 2 }
    if (!all(is.finite(g), is.finite(m))) break
    e <- eigen(m, symmetric = TRUE)
    way <- -as.vector(e$vectors %*% (crossprod(e$vectors, g) / pmax(abs(e$values), 1e-8)))
    way <- way * min(1, 3 / max(abs(way)))
    size <- 1; to <- at + way
    while (!(is.finite(v <- fn(to)) && v <= f + 1e-11 * abs(f)) && size > 1e-6) { size <- size / 4; to <- at + size * way }
    if (!is.finite(v) || v > f + 1e-11 * abs(f)) break
    moved <- max(abs(to - at)); at <- to; f <- min(v, f)
    if (moved < 1e-8) break
  }
  list(at = at, value = fn(at))
}

# ---- linear models with random effects

# The models under test: what differs from limb to limb (level, slope, both
# apart), from person to person, and by who measures; and the residuals.
kinds <- list(
  level = list(limb = 1), slope = list(limb = 2), apart = list(limb = 2, apart = TRUE), nested = list(limb = 1, person = 1),
  nestedslope = list(limb = 2, person = 1), personslope = list(limb = 1, person = 2), crossed = list(limb = 1, by = 1), all = list(limb = 2, person = 1, by = 1),
  serial = list(limb = 0, serial = TRUE), levelserial = list(limb = 1, serial = TRUE), levelspread = list(limb = 1, spread = TRUE),
  slopespread = list(limb = 2, spread = TRUE), nestedserial = list(limb = 1, person = 1, serial = TRUE), serialspread = list(limb = 1, serial = TRUE, spread = TRUE))
calls <- list(
  level = y ~ t + g + x + (1 | limb), slope = y ~ t + g + x + (t | limb), apart = y ~ t + g + x + (1 | limb) + (0 + t | limb), nested = y ~ t + g + x + (1 | person) + (1 | limb),
  nestedslope = y ~ t + g + x + (1 | person) + (t | limb), personslope = y ~ t + g + x + (t | person) + (1 | limb), crossed = y ~ t + g + x + (1 | limb) + (1 | by),
  all = y ~ t + g + x + (1 | person) + (t | limb) + (1 | by))

# A point is the lower triangles of the relative covariance factors of limbs
# and persons (of level and ten times slope), the relative deviation of those
# who measure, the log range, and the log deviation of all but the first of them.
unit <- 10
factor_of <- function(p, q, apart) { l <- matrix(0, q, q); if (apart) diag(l) <- p else l[lower.tri(l, TRUE)] <- p; l }
sizes <- function(k, d) {
  of <- function(q, apart = FALSE) if (is.null(q)) 0 else if (apart) q else q * (q + 1) / 2
  c(limb = of(k$limb, isTRUE(k$apart)), person = of(k$person), by = of(k$by), serial = as.numeric(isTRUE(k$serial)), spread = if (isTRUE(k$spread)) length(unique(d$by)) - 1 else 0)
}
parts <- function(k, d, at) { n <- sizes(k, d); to <- cumsum(n); sapply(names(n), function(i) if (n[i] > 0) at[(to[i] - n[i] + 1):to[i]] else numeric(), simplify = FALSE) }

# marginal is -2 log likelihood of a point: y is normal with variance Z G Z' + R.
marginal <- function(k, d, reml) {
  X <- cbind(1, d$t, d$g, d$x); Q <- qr(X); n <- nrow(X); p <- ncol(X)
  z <- cbind(1, d$t / unit); same <- lapply(d[c("limb", "person", "by")], function(v) outer(v, v, "=="))
  apart <- abs(outer(d$t, d$t, "-")); by <- match(d$by, sort(unique(d$by)))
  function(at, full = FALSE) {
    a <- parts(k, d, at)
    V <- if (isTRUE(k$serial)) exp(-apart / exp(a$serial)) * same$limb else diag(n)
    if (isTRUE(k$spread)) { s <- exp(c(0, a$spread))[by]; V <- V * outer(s, s) }
    for (g in c("limb", "person")) if (length(a[[g]]) > 0) V <- V + tcrossprod(z[, 1:k[[g]], drop = FALSE] %*% factor_of(a[[g]], k[[g]], g == "limb" && isTRUE(k$apart))) * same[[g]]
    if (length(a$by) > 0) V <- V + a$by^2 * same$by
    U <- tryCatch(chol(V), error = function(e) NULL)
    if (is.null(U)) return(Inf)
    W <- backsolve(U, cbind(X, d$y), transpose = TRUE)
    q <- qr(W[, 1:p]); r <- qr.resid(q, W[, p + 1]); free <- if (reml) n - p else n
    s2 <- sum(r^2) / free
    dev <- free * (log(2 * pi * s2) + 1) + 2 * sum(log(diag(U))) + if (reml) 2 * sum(log(abs(diag(qr.R(q))))) else 0
    if (!full) return(dev)
    G <- function(g) if (length(a[[g]]) == 0) numeric() else { v <- s2 * tcrossprod(diag(c(1, 1 / unit)[1:k[[g]]], k[[g]]) %*% factor_of(a[[g]], k[[g]], g == "limb" && isTRUE(k$apart))); if (g == "limb" && isTRUE(k$apart)) diag(v) else v[lower.tri(v, TRUE)] }
    list(loglik = -dev / 2, coef = qr.coef(q, W[, p + 1]), se = sqrt(s2 * diag(chol2inv(qr.R(q)))),
         vars = c(G("limb"), G("person"), if (length(a$by) > 0) s2 * a$by^2, if (isTRUE(k$spread)) s2 * exp(2 * c(0, a$spread)) else s2), range = exp(a$serial))
  }
}

tight <- lmerControl(optimizer = "bobyqa", calc.derivs = FALSE, check.conv.singular = "ignore", check.nobs.vs.nRE = "ignore", check.nobs.vs.nlev = "ignore", check.nlev.gtr.1 = "ignore", check.conv.grad = "ignore", optCtrl = list(rhoend = 1e-7, maxfun = 2e4))
of_lmer <- function(name, d, reml) {
  f <- lmer(calls[[name]], d, REML = reml, control = tight)
  k <- kinds[[name]]; v <- VarCorr(f); s <- sigma(f)
  L <- function(m) { m <- as.matrix(m); l <- lower_factor(m / s^2 * tcrossprod(c(1, unit)[1:nrow(m)])); l[lower.tri(l, TRUE)] }
  limb <- if (isTRUE(k$apart)) c(attr(v[["limb"]], "stddev"), unit * attr(v[["limb.1"]], "stddev")) / s else L(v[["limb"]])
  list(loglik = as.numeric(logLik(f)), at = c(limb, if (!is.null(k$person)) L(v[["person"]]), if (!is.null(k$by)) sqrt(v[["by"]][1]) / s))
}
# lower_factor is the Cholesky factor of a matrix that may be singular.
lower_factor <- function(m) {
  l <- matrix(0, nrow(m), nrow(m))
  for (j in seq_len(nrow(m))) {
    left <- m[j, j] - sum(l[j, ]^2); l[j, j] <- sqrt(max(left, 0))
    for (i in seq_len(nrow(m))) if (i > j && l[j, j] > 1e-9 * sqrt(m[j, j])) l[i, j] <- (m[i, j] - sum(l[i, ] * l[j, ])) / l[j, j]
  }
  l
}
of_lme <- function(name, d, reml) {
  k <- kinds[[name]]; m <- if (reml) "REML" else "ML"
  d$byf <- factor(d$by)
  cs <- if (isTRUE(k$serial)) (if (is.null(k$person)) corCAR1(0.4, form = ~ t | limb) else corCAR1(0.4, form = ~ t | person / limb))
  vs <- if (isTRUE(k$spread)) varIdent(form = ~ 1 | byf)
  d$day <- d$t / unit
  f <- if (k$limb == 0) gls(y ~ t + g + x, d, correlation = cs, weights = vs, method = m, control = glsControl(opt = "nlminb", msMaxIter = 500, maxIter = 200, tolerance = 1e-9, returnObject = TRUE))
    else lme(y ~ t + g + x, d, random = if (!is.null(k$person)) list(person = ~ 1, limb = ~ 1) else if (k$limb == 2) ~ day | limb else ~ 1 | limb, correlation = cs, weights = vs, method = m,
             control = lmeControl(opt = "nlminb", msMaxIter = 500, maxIter = 200, tolerance = 1e-9, msTol = 1e-12, returnObject = TRUE))
  w <- if (is.null(vs)) numeric() else { w <- coef(f$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE); log(w[order(as.numeric(names(w)))]) }
  base <- if (length(w) > 0) exp(w[1]) else 1 # the first one in their order need not be the one that counts as 1
  G <- if (k$limb == 0) NULL else f$modelStruct$reStruct
  L <- function(m) { l <- lower_factor(as.matrix(m) / base^2); l[lower.tri(l, TRUE)] }
  list(loglik = as.numeric(logLik(f)), at = c(if (!is.null(G)) L(G$limb), if (!is.null(k$person)) L(G$person), if (!is.null(cs)) log(-1 / log(coef(f$modelStruct$corStruct, unconstrained = FALSE))), (w - w[1])[-1]))
}
mixed <- function(name, what, d, reml, ours) {
  fn <- marginal(kinds[[name]], d, reml)
  own <- tryCatch(if (is.null(calls[[name]])) of_lme(name, d, reml) else of_lmer(name, d, reml), error = function(e) e)
  from <- if (inherits(own, "error")) NULL else own$at
  if (is.null(from) || !is.finite(fn(from))) { # the package has no estimate
    put(paste0(what, "_own"), stop(if (is.null(from)) conditionMessage(own) else "no likelihood where it stopped"))
    n <- sizes(kinds[[name]], d); from <- c(rep(0.5, n["limb"] + n["person"] + n["by"]), rep(0, n["serial"] + n["spread"]))
  } else put(paste0(what, "_own"), c(own$loglik, -fn(from) / 2))
  best <- lead(fn, from)
  none <- abs(from) < 0.01
  if (any(none)) { # what came out as none may have stopped in another valley
    other <- lead(fn, replace(from, none, 1)); if (other$value < best$value - 1e-7) best <- other
  }
  if (length(ours) > 0) put(paste0(what, "_ours"), -fn(ours) / 2)
  again <- length(ours) > 0 && -fn(ours) / 2 > -best$value / 2 + 1e-7 # the package stopped elsewhere
  if (again) best <- lead(fn, ours)
  r <- fn(best$at, TRUE)
  put(paste0(what, "_loglik"), r$loglik); put(paste0(what, "_coef"), r$coef); put(paste0(what, "_se"), r$se); put(paste0(what, "_vars"), r$vars); put(paste0(what, "_again"), as.numeric(again))
  if (length(r$range) > 0) put(paste0(what, "_range"), r$range)
}

# ---- outcomes with random effects

# integral is -2 log likelihood and its slope for groups whose levels are normal
# with mean 0: the integral over the levels by the trapezoidal rule on a fine
# grid, which has all the digits there are for what dies out at both ends.
integral <- function(family, X, y, offset, group, cuts) {
  step <- if (family == "ordinal") 0.1 else 0.05
  u <- seq(-8.5, 8.5, by = step); w <- dnorm(u, log = TRUE) + log(step)
  group <- match(group, unique(group)); p <- ncol(X)
  function(at, slope = FALSE) {
    sd <- at[length(at)]; b <- at[seq_len(p) + cuts]
    eta <- outer(as.vector(X %*% b) + offset, sd * u, "+")
    if (family == "ordinal") {
      th <- c(-Inf, cumsum(c(at[1], exp(at[seq_len(cuts)[-1]]))), Inf)
      hi <- plogis(th[y + 2] - eta); lo <- plogis(th[y + 1] - eta)
      l <- log(pmax(hi - lo, 1e-300))
      dev <- hi + lo - 1 # slope in eta
    } else if (family == "logistic") { l <- plogis((2 * y - 1) * eta, log.p = TRUE); dev <- y - plogis(eta) }
    else { m <- exp(eta); l <- y * eta - m - lgamma(y + 1); dev <- y - m }
    s <- sweep(rowsum(l, group), 2, w, "+"); top <- apply(s, 1, max); e <- exp(s - top); total <- rowSums(e)
    if (!slope) return(-2 * sum(top + log(total)))
    post <- (e / total)[group, , drop = FALSE]; d1 <- rowSums(dev * post)
    out <- c(crossprod(X, d1), sum(dev * post * rep(u, each = nrow(post))))
    if (family == "ordinal") { # the cuts: th_1, then the logarithms of the steps
      up <- rowSums(post * hi * (1 - hi) / pmax(hi - lo, 1e-300)); down <- rowSums(post * lo * (1 - lo) / pmax(hi - lo, 1e-300))
      each <- sapply(seq_len(cuts), function(k) sum(up[y + 1 == k]) - sum(down[y == k]))
      out <- c(rev(cumsum(rev(each))) * c(1, exp(at[seq_len(cuts)[-1]])), out)
    }
    -2 * out
  }
}
# The number of quadrature points of the packages. Where limbs differ by five or more,
# 25 are right to four digits of the log likelihood only.
fine <- c(logistic = 99, poisson = 25, ordinal = 25)
leveled <- function(family, d, ours) {
  X <- cbind(t = d$t / unit, g = d$g, x = d$x); cuts <- 0; offset <- 0; y <- d[[c(logistic = "yes", poisson = "count", ordinal = "level")[family]]]
  if (family == "poisson") offset <- d$logyears
  if (family == "ordinal") cuts <- max(y) else X <- cbind(1, X)
  fn <- integral(family, X, y, offset, d$limb, cuts)
  d$day <- d$t / unit
  own <- tryCatch(switch(family,
    ordinal = { f <- clmm(factor(level) ~ day + g + x + (1 | limb), data = transform(d, limb = factor(limb)), nAGQ = fine[[family]], control = clmm.control(gradTol = 1e-6)); th <- f$alpha; list(loglik = as.numeric(logLik(f)), at = c(th[1], log(diff(th)), f$beta, f$ST[[1]][1])) },
    { f <- glmer(if (family == "logistic") yes ~ day + g + x + (1 | limb) else count ~ day + g + x + (1 | limb) + offset(logyears), d, family = if (family == "logistic") binomial() else poisson(), nAGQ = fine[[family]],
        control = glmerControl(optimizer = "bobyqa", calc.derivs = FALSE, tolPwrss = 1e-11, check.conv.singular = "ignore", check.conv.grad = "ignore", check.nobs.vs.nlev = "ignore", check.nobs.vs.nRE = "ignore"))
      # with several points the package leaves out what the counts alone give
      list(loglik = as.numeric(logLik(f)) + if (family == "poisson") sum(dpois(y, y, log = TRUE)) else 0, at = c(fixef(f), getME(f, "theta"))) }), error = function(e) e)
  if (inherits(own, "error") || !is.finite(fn(own$at))) put("leveled_own", stop("no estimate"))
  else put("leveled_own", c(own$loglik, -fn(own$at) / 2))
  from <- if (inherits(own, "error") || !is.finite(fn(own$at))) c(if (cuts > 0) c(qlogis(mean(y < 1)), rep(0, cuts - 1)), rep(0, ncol(X)), 0.5) else own$at
  if (abs(from[length(from)]) < 0.05) from[length(from)] <- 0.05 # none is a place to leave only by a push
  best <- lead(fn, from, function(a) fn(a, TRUE))
  as_point <- function(o) { o[cuts + ncol(X) - 2] <- o[cuts + ncol(X) - 2] * unit; if (cuts > 1) o[2:cuts] <- log(diff(o[1:cuts])); o }
  again <- FALSE
  if (length(ours) > 0) {
    o <- as_point(ours); put("leveled_ours", -fn(o) / 2)
    if (again <- -fn(o) / 2 > -best$value / 2 + 1e-7) best <- lead(fn, o, function(a) fn(a, TRUE))
  }
  at <- best$at; put("leveled_again", as.numeric(again))
  h <- sapply(seq_along(at), function(j) { e <- 1e-4 * (seq_along(at) == j); (fn(at + e, TRUE) - fn(at - e, TRUE)) / 2e-4 })
  free <- if (abs(at[length(at)]) < 1e-4) seq_len(length(at) - 1) else seq_along(at) # none between groups
  V <- tryCatch(solve((h + t(h))[free, free] / 4), error = function(e) NULL)
  if (is.null(V)) { put("leveled_loglik", stop("no end")); return() }
  J <- diag(length(at)); if (cuts > 1) for (k in 2:cuts) J[k:cuts, k] <- exp(at[k]); if (cuts > 0) J[1:cuts, 1] <- 1
  V <- J[free, free] %*% V %*% t(J[free, free]); se <- sqrt(diag(V)); if (cuts > 0) at[1:cuts] <- cumsum(c(at[1], exp(at[seq_len(cuts)[-1]])))
  day <- cuts + ncol(X) - 2; at[day] <- at[day] / unit; se[day] <- se[day] / unit
  put("leveled_loglik", -best$value / 2); put("leveled_coef", at[-length(at)]); put("leveled_se", se[seq_len(length(at) - 1)]); put("leveled_sd", abs(at[length(at)]))
}

# ---- models without random effects

linear <- function(d) {
  f <- lm(y ~ t + g + x, d); X <- model.matrix(f); r <- resid(f); B <- solve(crossprod(X)); h <- hatvalues(f)
  put("lm_coef", coef(f)); put("lm_se", sqrt(diag(vcov(f)))); put("lm_loglik", as.numeric(logLik(f)))
  if (max(h) < 1 - 1e-8) put("lm_hc3", sqrt(diag(B %*% crossprod(X * r / (1 - h)) %*% B)))
  put("lm_cr0", sqrt(diag(B %*% crossprod(rowsum(X * r, d$limb)) %*% B)))
}
exact <- glm.control(epsilon = 1e-15, maxit = 100)
outcomes <- function(d) {
  for (family in c("logistic", "poisson")) {
    form <- if (family == "logistic") yes ~ t + g + x + offset(lean) else count ~ t + g + x + offset(logyears)
    fam <- if (family == "logistic") binomial() else poisson()
    f <- tryCatch({ f <- glm(form, fam, d, control = exact); glm(form, fam, d, start = coef(f), control = exact) }, error = function(e) NULL) # one step more, for errors of the end
    if (is.null(f)) { put(paste0(family, "_coef"), stop("glm failed")); next }
    mu <- fitted(f)
    put(paste0(family, "_coef"), coef(f)); put(paste0(family, "_se"), sqrt(diag(vcov(f))))
    put(paste0(family, "_loglik"), if (family == "logistic") sum(dbinom(d$yes, 1, mu, log = TRUE)) else sum(dpois(d$count, mu, log = TRUE)))
    r <- rowsum(model.matrix(f) * ((if (family == "logistic") d$yes else d$count) - mu), d$limb); V <- vcov(f)
    put(paste0(family, "_cr0"), sqrt(diag(V %*% crossprod(r) %*% V)))
  }
  negbin(d)
}
# glm.nb alternates and stops early; its theta is led on by the score.
negbin <- function(d) put("negbin", {
  g <- glm.nb(count ~ t + g + x + offset(logyears), d, control = glm.control(epsilon = 1e-12, maxit = 100)); th <- g$theta; y <- d$count
  for (i in 1:100) {
    if (th > 1e4) break # no more scatter than that of Poisson: it has no end
    g <- glm(count ~ t + g + x + offset(logyears), negative.binomial(th), d, start = coef(g), control = exact); mu <- fitted(g)
    u <- sum(digamma(th + y) - digamma(th) + log(th) + 1 - log(th + mu) - (y + th) / (mu + th)); h <- sum(trigamma(th) - trigamma(th + y) - 1 / th + 2 / (mu + th) - (y + th) / (mu + th)^2)
    to <- if (h > 0) th + u / h else th * exp(sign(u)); to <- min(max(to, th / 3), th * 3); done <- abs(to - th) < 1e-12 * th; th <- to; if (done) break
  }
  if (th > 1e4) stop("theta without end")
  c(sum(dnbinom(y, th, mu = fitted(g), log = TRUE)), th, coef(g), sqrt(diag(summary(g, dispersion = 1)$cov.scaled)))
})
levels_of <- function(d) {
  d$l <- factor(d$level)
  put("clm", { f <- clm(l ~ t + g + x, data = d, control = list(gradTol = 1e-10, maxIter = 300)); c(as.numeric(logLik(f)), coef(f), sqrt(diag(vcov(f)))) })
  put("polr", { f <- polr(l ~ t + g + x, d, Hess = FALSE, control = list(reltol = 1e-15, maxit = 2000)); c(as.numeric(logLik(f)), f$zeta, coef(f)) })
}
# Only where the methods under test have an answer: on equations that have none
# geepack may never end.
gee <- function(d, asked) for (what in asked) put(what, {
  part <- strsplit(what, "_")[[1]]; family <- part[2]; cor <- part[3]
  form <- if (family == "logistic") yes ~ t + g + x + offset(lean) else count ~ t + g + x + offset(logyears)
  f <- geeglm(form, if (family == "logistic") binomial() else poisson(), d, id = d$limb, corstr = cor, control = geese.control(epsilon = 1e-13, maxit = 100))
  if (f$geese$error != 0 || any(!is.finite(coef(f)))) stop("no end")
  s <- summary(f)
  c(coef(f), sqrt(diag(f$geese$vbeta)), f$geese$gamma, if (cor == "independence") NA else f$geese$alpha)
})


spent <- numeric()
timed <- function(name, x) { from <- proc.time()[["elapsed"]]; force(x); spent[name] <<- sum(spent[name], na.rm = TRUE) + proc.time()[["elapsed"]] - from }
for (k in unique(all$set)) {
  set <- k
  d <- all[all$set == k & all$fit == "", ]
  fits <- all[all$set == k & all$fit != "", ]
  ours <- function(name) { v <- fits$values[fits$fit == name]; if (length(v) == 0) numeric() else as.numeric(strsplit(v, " ")[[1]]) }
  reml <- d$ml[1] == 0
  tryCatch({
    timed("mixed", mixed(d$mixed[1], "mixed", d, reml, ours("mixed")))
    if (d$residual[1] != "") timed("residual", mixed(d$residual[1], "residual", d, reml, ours("residual")))
    if (d$leveled[1] != "") timed("leveled", leveled(d$leveled[1], d, ours("leveled")))
    timed("plain", { linear(d); outcomes(d); levels_of(d) })
    timed("gee", gee(d, grep("^gee_", fits$fit, value = TRUE)))
  }, error = function(e) put("failed", stop(conditionMessage(e))))
}
message(paste(names(spent), round(spent, 1), collapse = ", "))
