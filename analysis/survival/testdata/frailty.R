# Writes frailty.json: Cox regression with a shared gamma or log-normal
# frailty, and with a ridge penalty. At a given variance the penalised fit is
# that of survival (coxph with frailty or frailty.gaussian, sparse = FALSE so
# that its information is whole, and ridge); the marginal likelihood is
# written out here: for the gamma frailty from Therneau, Grambsch and Pankratz
# 2003 (J Comput Graph Stat 12:156), for the log-normal one and the ridge by
# Laplace's approximation (Ripatti and Palmgren 2000, Biometrics 56:1016). The
# variance is the root of its derivative, limits are where it has fallen by
# half the quantile of chi-square. The gamma variance is compared with what
# coxph's own search finds.
# Run in this folder: Rscript frailty.R   (R 4.2.2, survival 3.5-3, numDeriv)
suppressPackageStartupMessages({library(survival); library(jsonlite); library(numDeriv)})
A <- function(x) I(as.vector(unname(x)))
rd <- function(s) read.csv(file.path("../../../testdata/published", s, "data.csv"), stringsAsFactors = FALSE)
cc <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 500, outer.max = 200, timefix = FALSE)
quiet <- suppressWarnings
E <- list()
# y: Surv; X: matrix; g: group; everything at variance th.
at <- function(th, y, X, g, st, dist, ties, check = FALSE) { g <- factor(g); p <- if (is.null(X)) 0 else ncol(X); G <- nlevels(g)
  fit <- function(sparse) { fr <- if (dist == "gamma") quote(frailty.gamma(g, theta = th, sparse = sparse)) else quote(frailty.gaussian(g, theta = th, sparse = sparse)); quiet(coxph(as.formula(paste("y ~ X +", deparse(fr), "+ strata(st)")), control = cc, ties = ties)) }
  # Newton's method here, since coxph's own stopping rule leaves 1e-7.
  Z <- cbind(X, model.matrix(~ g - 1)); pen <- function(u) if (dist == "gamma") list(v = sum(expm1(u) - u) / th, s = expm1(u) / th, h = exp(u) / th) else list(v = sum(u^2) / 2 / th, s = u / th, h = rep(1 / th, G))
  val <- function(b) all(Z %*% b, y, st, ties, FALSE)$l - pen(b[p + 1:G])$v; b <- rep(0, p + G)
  for (i in 1:60) { q <- all(Z %*% b, y, st, ties); P <- pen(b[p + 1:G]); s <- crossprod(Z, q$s) - c(rep(0, p), P$s); H <- crossprod(Z, q$I %*% Z) + diag(c(rep(0, p), P$h)); d <- drop(solve(H, s)); k <- 1; while (!(val(b + k * d) >= q$l - P$v - 1e-11) && k > 1e-8) k <- k / 2; b <- b + k * d; if (sum(d * s) < 1e-20) break }
  q <- all(Z %*% b, y, st, ties); P <- pen(b[p + 1:G]); I <- crossprod(Z, q$I %*% Z); H <- I + diag(c(rep(0, p), P$h)); V <- solve(H); u <- b[p + 1:G]
  if (check) { f <- fit(TRUE); stopifnot(max(abs(b - c(coef(f), f$frail))) < 1e-5); if (p > 1) stopifnot(max(abs(V - fit(FALSE)$var)) < 1e-4 * max(abs(V))) } # (with one column coxph stops on an error of its own)
  d <- tapply(y[, ncol(y)], g, sum); nu <- 1 / th
  L <- q$l - P$v + if (dist == "gamma") sum(d - (nu + d) * log1p(d * th) + sapply(d, function(k) sum(log1p(th * seq_len(k) - th)))) else -as.numeric(determinant(diag(G) + th * I[p + 1:G, p + 1:G])$modulus) / 2
  list(L = L, b = b, u = u, V = V, P = P$h, pl = q$l, p = p, df = G - sum(diag(V)[p + 1:G] * P$h)) }
# log partial likelihood, its score and information in the predictors of the rows
all <- function(eta, y, st, ties, two = TRUE) { n <- nrow(y); start <- if (ncol(y) == 3) y[, 1] else rep(-Inf, n); stop <- y[, ncol(y) - 1]; ev <- y[, ncol(y)] == 1; r <- exp(drop(eta)); l <- sum(eta[ev]); s <- as.numeric(ev); I <- matrix(0, n, n)
  for (k in unique(st)) for (t in unique(stop[ev & st == k])) { at <- which(st == k & start < t & stop >= t); dead <- which(st == k & ev & stop == t); m <- length(dead)
    for (j in seq_len(m) - 1) { w <- r[at] * (1 - if (ties == "efron") (at %in% dead) * j / m else 0); l <- l - log(sum(w)); w <- w / sum(w); s[at] <- s[at] - w; if (two) I[at, at] <- I[at, at] + diag(w, length(w)) - tcrossprod(w) } }
  list(l = l, s = s, I = I) }
root <- function(f, x) { for (i in 1:30) { g <- grad(f, x, method.args = list(eps = 1e-2, d = .01, r = 5)); h <- (f(x + .01) - 2 * f(x) + f(x - .01)) / 1e-4; s <- -g / h; x <- x + max(-.5, min(.5, s)); if (abs(s) < 1e-9) break }; x }
whole <- function(y, X, g, st = rep(1, nrow(y)), dist, ties = "efron", full = TRUE, start = 0.3) {
  f <- function(x) at(exp(x), y, X, g, st, dist, ties)$L
  x <- root(f, optimize(f, log(start) + c(-3, 3), maximum = TRUE, tol = 1e-3)$maximum); r <- at(exp(x), y, X, g, st, dist, ties, TRUE); p <- r$p
  zero <- quiet(coxph(y ~ X + strata(st), control = cc, ties = ties)); L0 <- zero$loglik[2]; half <- qchisq(.95, 1) / 2
  if (dist == "gamma") { own <- quiet(coxph(y ~ X + frailty.gamma(g, eps = 1e-10) + strata(st), control = cc, ties = ties)); cat("own search", own$history[[1]]$theta, own$history[[1]]$c.loglik, "here", exp(x), r$L, "\n") }
  hi <- uniroot(function(v) f(v) - r$L + half, c(x, x + 3), tol = 1e-10)$root
  lo <- if (L0 > r$L - half) 0 else exp(uniroot(function(v) f(v) - r$L + half, c(x - 6, x), tol = 1e-10)$root)
  n0 <- function(x) at(exp(x), y, NULL, g, st, dist, ties)$L; o <- optimize(n0, x + c(-3, 3), maximum = TRUE, tol = 1e-6)
  held <- quiet(coxph(y ~ X + offset(r$u[match(g, levels(factor(g)))]) + strata(st), control = cc, ties = ties)); z <- cox.zph(held, terms = FALSE)$table
  list(variance = exp(x), low = lo, high = exp(hi), loglik = r$L, without = L0, null = max(o$objective, zero$loglik[1]), coef = A(r$b[1:p]), se = A(sqrt(diag(r$V))[1:p]), cov = r$V[1:p, 1:p, drop = FALSE],
    effect = A(r$u), effect_se = A(sqrt(diag(r$V))[-(1:p)]), df = r$df, zph = A(z[nrow(z), ]), concordance = { cr <- quiet(concordance(y ~ drop(X %*% r$b[1:p]) + strata(st), reverse = TRUE)); unname(cr$concordance) }) }
k <- rd("kidney"); k$female <- k$sex - 1; X <- cbind(k$age, k$female); y <- Surv(k$time, k$status)
for (d in c("gamma", "lognormal")) for (ti in c("efron", "breslow")) E[[paste("kidney", d, ti, sep = "_")]] <- whole(y, X, k$id, dist = d, ties = ti)
r <- rd("rats"); f <- r[r$sex == "f", ]; y <- Surv(f$time, f$status); X <- cbind(f$rx)
for (d in c("gamma", "lognormal")) E[[paste0("rats_", d)]] <- whole(y, X, f$litter, dist = d)
for (d in c("gamma", "lognormal")) E[[paste0("rats_sexes_", d)]] <- whole(Surv(r$time, r$status), cbind(r$rx), r$litter, st = r$sex, dist = d)
# Late entry: recurrences of a man on one clock; rooms of three persons.
b <- rd("bladder"); for (d in c("gamma", "lognormal")) E[[paste0("bladder_", d)]] <- whole(Surv(b$start, b$stop, b$event), cbind(b$rx, b$number, b$size), b$id, dist = d)
h <- rd("heart"); h$room <- h$id %/% 3; for (d in c("gamma", "lognormal")) E[[paste0("heart_", d)]] <- whole(Surv(h$start, h$stop, h$event), cbind(h$age, h$surgery), h$room, dist = d)
# Ridge: the penalised fit of coxph with ridge; the size by Laplace's approximation.
ridged <- function(th, y, X, scale, check = FALSE) { w <- if (scale) apply(X, 2, var) else rep(1, ncol(X)); st <- rep(1, nrow(y)); b <- rep(0, ncol(X))
  val <- function(b) all(X %*% b, y, st, "efron", FALSE)$l - th / 2 * sum(w * b^2)
  for (i in 1:60) { q <- all(X %*% b, y, st, "efron"); s <- crossprod(X, q$s) - th * w * b; I <- crossprod(X, q$I %*% X); d <- drop(solve(I + th * diag(w, length(w)), s)); k <- 1; while (!(val(b + k * d) >= val(b) - 1e-11) && k > 1e-8) k <- k / 2; b <- b + k * d; if (sum(d * s) < 1e-20) break }
  q <- all(X %*% b, y, st, "efron"); I <- crossprod(X, q$I %*% X); V <- solve(I + th * diag(w, length(w)))
  if (check) { xs <- paste0("X[, ", seq_len(ncol(X)), "]", collapse = ", "); f <- quiet(coxph(as.formula(paste0("y ~ ridge(", xs, ", theta = th, scale = scale)")), control = cc)); stopifnot(max(abs(b - coef(f))) < 1e-6 * max(abs(b)), max(abs(V - f$var)) < 1e-5 * max(abs(V)), abs(sum(diag(V %*% I)) - sum(f$df)) < 1e-4) }
  L <- q$l - th / 2 * sum(w * b^2) - as.numeric(determinant(diag(ncol(X)) + I / th / sqrt(tcrossprod(w)))$modulus) / 2
  list(size = th, coef = A(b), se = A(sqrt(diag(V))), loglik = q$l, marginal = L, df = sum(diag(V %*% I))) }
chosen <- function(y, X, scale) { f <- function(x) ridged(exp(-x), y, X, scale)$marginal; ridged(exp(-root(f, optimize(f, c(-8, 2), maximum = TRUE, tol = 1e-3)$maximum)), y, X, scale, TRUE) }
o <- rd("ovarian"); y <- Surv(o$futime, o$fustat); X <- cbind(o$age, o$rx, o$ecog.ps)
E$ridge_ovarian_1 <- ridged(1, y, X, FALSE, TRUE); E$ridge_ovarian_scaled <- ridged(5, y, X, TRUE, TRUE); E$ridge_ovarian_chosen <- chosen(y, X, TRUE)
v <- rd("veteran"); y <- Surv(v$time, v$status); X <- cbind(v$trt, v$karno, v$diagtime, v$age, v$prior); E$ridge_veteran_scaled <- ridged(20, y, X, TRUE, TRUE); E$ridge_veteran_chosen <- chosen(y, X, TRUE)
y <- Surv(h$start, h$stop, h$event); X <- cbind(h$age, h$year, h$surgery); E$ridge_heart_chosen <- chosen(y, X, TRUE)
writeLines(toJSON(E, auto_unbox = TRUE, digits = NA, na = "null"), "frailty.json")
