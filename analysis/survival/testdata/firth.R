# Writes firth.json: Cox regression by Firth's penalised likelihood, written
# out from the formulas of Heinze and Schemper 2001 (Biometrics 57:114): the
# exact score, set to 0 by Newton's method with a numerical Jacobian; limits
# where the penalised profile likelihood has fallen by the quantile.
# Run in this folder: Rscript firth.R   (R 4.2.2; its likelihood is compared with survival 3.5-3, coxph)
suppressPackageStartupMessages({library(survival); library(jsonlite)})
A <- function(x) I(as.vector(unname(x)))
rd <- function(s) read.csv(file.path("../../../testdata/published", s, "data.csv"), stringsAsFactors = FALSE)
E <- list()
# Everything at b: penalised log likelihood, its score, the information.
all <- function(b, entry, time, event, X, efron) {
  p <- ncol(X); l <- 0; u <- rep(0, p); I <- matrix(0, p, p); D <- array(0, c(p, p, p)); r <- exp(drop(X %*% b))
  for (t in sort(unique(time[event]))) {
    at <- which(time >= t & entry < t); dead <- which(time == t & event); d <- length(dead)
    l <- l + sum(X[dead, , drop = FALSE] %*% b); u <- u + colSums(X[dead, , drop = FALSE])
    for (k in seq_len(d) - 1) {
      w <- r[at] * (1 - ifelse(efron & at %in% dead, k / d, 0)); s <- sum(w); w <- w / s; Z <- X[at, , drop = FALSE]; m <- colSums(w * Z); C <- sweep(Z, 2, m)
      l <- l - log(s); u <- u - m; I <- I + crossprod(C, w * C)
      for (j in 1:p) D[, , j] <- D[, , j] + crossprod(C, (w * C[, j]) * C)
    }
  }
  if (rcond(I) < 1e-15) return(list(l = -Inf)) # too far out
  list(l = l + as.numeric(determinant(I)$modulus) / 2, u = u + sapply(1:p, function(j) sum(solve(I) * D[, , j])) / 2, I = I, plain = l)
}
solve0 <- function(f, b, free) { for (i in 1:100) { u <- f(b)$u[free]; if (max(abs(u)) < 1e-12) break
    J <- sapply(free, function(j) { h <- 1e-6; e <- replace(0 * b, j, h); (f(b + e)$u[free] - f(b - e)$u[free]) / (2 * h) }); b[free] <- b[free] - solve(matrix(J, length(free)), u) }; b }
firth <- function(entry, time, event, X, efron) {
  X <- as.matrix(X); p <- ncol(X); f <- function(b) all(b, entry, time, event, X, efron)
  # climb until near, then Newton
  b <- rep(0, p); for (i in 1:15) { q <- f(b); s <- solve(q$I, q$u); h <- 1; while (f(b + h * s)$l < q$l - 1e-12) h <- h / 2; b <- b + h * s }
  b <- solve0(f, b, 1:p); q <- f(b); null <- f(rep(0, p)); fall <- qchisq(0.95, 1) / 2
  c0 <- coxph(Surv(entry, time, event) ~ X, init = b, iter.max = 0, ties = if (efron) "efron" else "breslow"); stopifnot(abs(c0$loglik[2] - q$plain) < 1e-8, max(abs(solve(c0$var) - q$I)) < 1e-6 * max(q$I))
  se <- sqrt(diag(solve(q$I)))
  prof <- function(j, v) { free <- setdiff(1:p, j); g <- b; g[j] <- v; if (length(free)) { for (i in 1:6) { z <- f(g); s <- solve(z$I[free, free, drop = FALSE], z$u[free]); h <- 1; repeat { e <- g; e[free] <- g[free] + h * s; if (f(e)$l >= z$l - 1e-12) break; h <- h / 2 }; g <- e }; g <- solve0(f, g, free) }; f(g)$l }
  lim <- sapply(1:p, function(j) { side <- function(s) { far <- s * se[j]; while (q$l - prof(j, b[j] + far) < fall) far <- far * 1.5; uniroot(function(x) q$l - prof(j, b[j] + x * far) - fall, c(0, 1), tol = 1e-12)$root * far + b[j] }; c(side(-1), side(1), 2 * (q$l - prof(j, 0))) })
  list(coef = A(b), se = A(se), loglik = A(c(null$l, q$l)), low = A(lim[1, ]), high = A(lim[2, ]), test = A(lim[3, ]))
}
o <- rd("ovarian"); for (ti in c("efron", "breslow")) E[[paste0("ovarian_", ti)]] <- firth(rep(-1, nrow(o)), o$futime, o$fustat == 1, cbind(o$age, o$rx - 1, o$ecog.ps), ti == "efron")
# Freireich's trial with a column that nobody with the event has: separation.
g <- rd("freireich"); i <- seq_len(nrow(g)); g$control <- as.numeric(g$treat == "control"); g$marked <- as.numeric(g$cens == 0 & i %% 2 == 0)
for (ti in c("efron", "breslow")) E[[paste0("separated_", ti)]] <- firth(rep(-1, nrow(g)), g$time, g$cens == 1, cbind(g$control, g$marked), ti == "efron")
E$separated_alone <- firth(rep(-1, nrow(g)), g$time, g$cens == 1, cbind(g$marked), TRUE)
# Late entry.
h <- rd("heart"); h$start[h$start == 0] <- -1; E$late <- firth(h$start, h$stop, h$event == 1, cbind(h$age, as.numeric(h$transplant)), TRUE)
writeLines(toJSON(E, auto_unbox = TRUE, digits = NA, na = "null"), "firth.json")
