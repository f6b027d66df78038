# Rscript make.R > expected.json: average run lengths by a Markov chain on a fine grid (Brook and Evans 1972), with
# the extrapolation of two grids; the steps by the formulas of Steiner and others.
N <- function(x) paste0("[", paste(sprintf("%.17g", as.numeric(x)), collapse = ", "), "]")
step <- function(y, p, R) y * log(R) - log(1 - p + R * p)
chain <- function(p, w, R, h, truth, m) { # p: chances, w: their shares in the case mix
  d <- h / (m - .5); Q <- matrix(0, m, m); s <- (0:(m - 1)) * d
  for (k in seq_along(p)) { q <- truth * p[k] / (1 - p[k] + truth * p[k])
    for (y in 0:1) { pr <- w[k] * (if (y == 1) q else 1 - q); t <- s + step(y, p[k], R)
      i <- pmax(0, t / d); f <- floor(i); g <- i - f # shared between neighbours, so that the mean step is kept
      for (a in seq_len(m)) if (t[a] < h) { lo <- f[a] + 1; hi <- lo + 1
        if (lo <= m) Q[a, lo] <- Q[a, lo] + pr * (1 - g[a])
        if (hi <= m) Q[a, hi] <- Q[a, hi] + pr * g[a] } } }
  solve(diag(m) - Q, rep(1, m))[1] }
arl <- function(...) { a <- chain(..., m = 700); b <- chain(..., m = 1400); 2 * b - a }
cases <- list(list(p = .1, w = 1, R = 2, h = 2.5), list(p = .08, w = 1, R = 2, h = 3), list(p = c(.03, .1, .3), w = c(.5, .3, .2), R = 2, h = 3),
  list(p = c(.03, .1, .3), w = c(.5, .3, .2), R = .5, h = 2.2), list(p = .3, w = 1, R = 1.5, h = 2))
out <- sapply(cases, function(c) paste0('{"chance": ', N(c$p), ', "share": ', N(c$w), ', "odds": ', c$R, ', "limit": ', c$h,
  ', "steady": ', N(arl(c$p, c$w, c$R, c$h, 1))[1], ', "changed": ', N(arl(c$p, c$w, c$R, c$h, c$R))[1], '}'))
set.seed(3); y <- rbinom(60, 1, .2); p <- round(plogis(rnorm(60, -1.6, .7)), 3)
g <- rep(c("a", "b", "b"), 20); q <- ave(y, g)
of <- function(p, R) { s <- 0; sapply(1:60, function(i) s <<- max(0, s + step(y[i], p[i], R))) }
sums <- function(R) { s <- 0; sapply(1:60, function(i) s <<- max(0, s + step(y[i], p[i], R))) }
# How often sums come to given limits within a series in which nothing changes. Chances given and alike: exactly, from
# the chances of every value that a sum can take after each case. Chances learnt from the first cases: by 100,000 draws.
reach <- function(p, n, R, h) { at <- c("0" = 0); pr <- 1; gone <- 0
  for (i in 1:n) { v <- c(pmax(0, at + step(1, p, R)), pmax(0, at + step(0, p, R))); q <- c(pr * p, pr * (1 - p))
    gone <- gone + sum(q[v >= h]); k <- v < h; key <- sprintf("%.9f", v[k]); pr <- tapply(q[k], key, sum); at <- tapply(v[k], key, `[`, 1) }
  gone }
top <- function(y, p, R) { s <- 0; m <- 0; w <- step(y, p, R); for (x in w) { s <- max(0, s + x); if (s > m) m <- s }; m }
drawn <- function(p, n, first, R, more, fewer, draws = 100000) { a <- matrix(0, draws, 2)
  for (k in 1:draws) { repeat { y <- as.numeric(runif(n) < p); q <- mean(y[1:first]); if (q > 0 && q < 1) break }
    a[k, ] <- c(top(y, q, R) >= more, top(y, q, 1 / R) >= fewer) }
  c(colMeans(a), mean(a[, 1] | a[, 2])) }
given <- list(list(p = 65 / 215, n = 215, R = 2, h = c(2.9334, 2.7996)), list(p = .05, n = 160, R = 2, h = c(2.5, 1.5)), list(p = .1, n = 90, R = 3, h = c(2, 1.5)))
series <- sapply(given, function(c) paste0('{"chance": ', N(c$p), ', "cases": ', c$n, ', "learnt": 0, "odds": ', c$R, ', "limits": ', N(c$h),
  ', "reached": ', N(c(reach(c$p, c$n, c$R, c$h[1]), reach(c$p, c$n, 1 / c$R, c$h[2]))), '}'))
set.seed(4); learnt <- list(list(p = .05, n = 160, l = 60, R = 2, h = c(2.5, 1.5)), list(p = .3, n = 215, l = 80, R = 2, h = c(4, 4)))
series <- c(series, sapply(learnt, function(c) paste0('{"chance": ', N(c$p), ', "cases": ', c$n, ', "learnt": ', c$l, ', "odds": ', c$R, ', "limits": ', N(c$h),
  ', "reached": ', N(drawn(c$p, c$n, c$l, c$R, c$h[1], c$h[2])), '}')))
cat('{"runs": [', paste(out, collapse = ",\n"), '],\n"events": ', N(y), ', "chances": ', N(p), ',\n"worse": ', N(sums(2)), ',\n"better": ', N(sums(.5)), ',\n"worse_constant": ', N(of(rep(.1, 60), 2)), ', "better_constant": ', N(of(rep(.1, 60), .5)),
  ',\n"worse_strata": ', N(of(q, 3)), ', "better_strata": ', N(of(q, 1 / 3)), ',\n"series": [', paste(series, collapse = ",\n"), ']}\n', sep = "")
