# What a model with covariance V(par) says of one reading: x its columns, k(par)
# its covariance with the rows, v(par) its own variance.
told <- function(y, X, V, k, v, x, par) {
  W <- solve(V(par)); B <- solve(t(X) %*% W %*% X); b <- B %*% t(X) %*% W %*% y
  l <- W %*% k(par); d <- x - t(X) %*% l
  list(at = sum(x * b) + sum(l * (y - X %*% b)), known = v(par) - sum(k(par) * l), fixed = sum(d * (B %*% d)), l = l, d = d, B = B, W = W)
}
# Covariance linear in its parameters, the last that of the residual. G: list of
# matrices of the rows; kr, vr: what each adds to k and v. Allowance by Kenward
# and Roger's covariances and by Prasad and Rao.
closely <- function(y, X, G, par, kr, vr, x, reading, reml) {
  n <- length(y); p <- length(par)
  V <- function(g) Reduce(`+`, Map(`*`, g, G))
  k <- function(g) as.vector(kr %*% g); v <- function(g) sum(vr * g) + reading * g[p]
  a <- told(y, X, V, k, v, x, par)
  P <- a$W - a$W %*% X %*% a$B %*% t(X) %*% a$W
  PG <- lapply(G, function(g) P %*% g)
  cov <- 2 * solve(outer(1:p, 1:p, Vectorize(function(r, s) sum(PG[[r]] * t(PG[[s]])))))
  PX <- lapply(G, function(g) t(X) %*% a$W %*% g %*% a$W %*% X)
  L <- 0
  for (r in 1:p) for (s in 1:p) L <- L + cov[r, s] * (t(X) %*% a$W %*% G[[r]] %*% a$W %*% G[[s]] %*% a$W %*% X - PX[[r]] %*% a$B %*% PX[[s]])
  adj <- a$B + 2 * a$B %*% ((L + t(L)) / 2) %*% a$B
  if (!is.null(reml)) stopifnot(max(abs(adj / reml - 1)) < 1e-5)
  dl <- sapply(1:p, function(r) a$W %*% (kr[, r] - G[[r]] %*% a$l))
  more <- 2 * sum(cov * (t(dl) %*% V(par) %*% dl))
  total <- a$known + sum(a$d * (adj %*% a$d)) + more
  g <- grad(function(q) { b <- told(y, X, V, k, v, x, q); b$known + b$fixed }, par)
  c(a$at, sqrt(a$known + a$fixed), sqrt(total), min(2 * total^2 / sum(g * (cov %*% g)), n - ncol(X)), 2 * par^2 / diag(cov))
}
