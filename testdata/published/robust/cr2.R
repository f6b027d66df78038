# Cluster-robust covariance CR2 with Satterthwaite degrees of freedom, and the
# test of several coefficients (AHT), from the published formulas with dense
# n x n matrices and the identity as working model:
#   Bell & McCaffrey 2002, Survey Methodology 28:169-181
#   Pustejovsky & Tipton 2018, J Bus Econ Stat 36:672-683
# Run in this folder: Rscript cr2.R > cr2.json
# At the end the figures are compared with those of the clubSandwich package.

power <- function(M, p) { # generalised power of a symmetric matrix
  e <- eigen((M + t(M)) / 2, symmetric = TRUE)
  d <- ifelse(e$values > 1e-9, pmax(e$values, 0)^p, 0)
  e$vectors %*% (d * t(e$vectors))
}

cr2 <- function(X, y, cluster, terms = list()) {
  n <- nrow(X); M <- solve(crossprod(X)); b <- M %*% crossprod(X, y)
  H <- X %*% M %*% t(X); IH <- diag(n) - H; e <- as.vector(y - X %*% b)
  ids <- unique(cluster); V <- matrix(0, ncol(X), ncol(X)); half <- list()
  for (g in ids) {
    i <- which(cluster == g)
    A <- power(diag(length(i)) - H[i, i, drop = FALSE], -1/2)
    V <- V + tcrossprod(M %*% t(X[i, , drop = FALSE]) %*% A %*% e[i])
    # columns: what row of the sandwich root each coefficient sees
    half[[length(half) + 1]] <- t(IH[i, , drop = FALSE]) %*% A %*% X[i, , drop = FALSE] %*% M
  }
  df <- sapply(seq_len(ncol(X)), function(j) {
    P <- sapply(half, function(h) h[, j]); G <- crossprod(P)
    sum(diag(G))^2 / sum(G^2)
  })
  tests <- lapply(terms, function(cols) {
    C <- diag(ncol(X))[cols, , drop = FALSE]; q <- nrow(C)
    Om <- Reduce(`+`, lapply(half, function(h) C %*% crossprod(h) %*% t(C)))
    R <- power(Om, -1/2)
    Z <- lapply(half, function(h) h %*% t(C) %*% R) # n x q each
    tot <- 0
    for (s in 1:q) for (t in 1:q) for (g in seq_along(Z)) for (h in seq_along(Z))
      tot <- tot + sum(Z[[g]][, s] * Z[[h]][, s]) * sum(Z[[g]][, t] * Z[[h]][, t]) +
        sum(Z[[g]][, s] * Z[[h]][, t]) * sum(Z[[g]][, t] * Z[[h]][, s])
    eta <- q * (q + 1) / tot
    Cb <- C %*% b; Q <- as.numeric(t(Cb) %*% solve(C %*% V %*% t(C), Cb))
    c(stat = Q * (eta - q + 1) / (eta * q), df1 = q, df2 = eta - q + 1,
      p = pf(Q * (eta - q + 1) / (eta * q), q, eta - q + 1, lower.tail = FALSE))
  })
  list(coef = as.vector(b), se = sqrt(diag(V)), df = df, tests = tests, vcov = V)
}

num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
case <- function(name, r) {
  sprintf("  \"%s\": {\"coef\": %s, \"se\": %s, \"df\": %s, \"tests\": [%s]}", name, num(r$coef), num(r$se), num(r$df),
          paste(sapply(r$tests, num), collapse = ", "))
}

s <- read.csv("../sleepstudy/data.csv")
o <- read.csv("../orthodont/data.csv"); o$male <- as.numeric(o$Sex == "Male")
# An unbalanced set: every seventh row left out, and M01 cut to one row.
u <- o[seq_len(nrow(o)) %% 7 != 0 & !(o$Subject == "M01" & o$age > 8), ]
Xs <- cbind(1, s$Days)
Xo <- cbind(1, o$age, o$male, o$age * o$male)
Xu <- cbind(1, u$age == 10, u$age == 12, u$age == 14, u$male)
# Subjects as columns: each is fixed by its own cluster, the ages are not.
f <- factor(u$Subject); Xf <- cbind(1, u$age == 10, u$age == 12, u$age == 14, model.matrix(~f)[, -1])
w <- 1 + (seq_len(nrow(u)) %% 3) # rows of weight 1 to 3, written out as so many rows
k <- rep(seq_len(nrow(u)), w)
cases <- list(
  sleepstudy = cr2(Xs, s$Reaction, s$Subject),
  orthodont = cr2(Xo, o$distance, o$Subject),
  unbalanced = cr2(Xu, u$distance, u$Subject, list(2:4)),
  subjects = cr2(Xf, u$distance, u$Subject, list(2:4)),
  weighted = cr2(Xu[k, ], u$distance[k], u$Subject[k], list(2:4)))
cat("{\n", paste(mapply(case, names(cases), cases), collapse = ",\n"), "\n}\n", sep = "")

if (requireNamespace("clubSandwich", quietly = TRUE)) {
  near <- function(a, b) stopifnot(max(abs(a / b - 1)) < 1e-8)
  fit <- lm(distance ~ factor(age) + male, u)
  V <- clubSandwich::vcovCR(fit, u$Subject, "CR2")
  near(sqrt(diag(V)), cases$unbalanced$se)
  near(clubSandwich::coef_test(fit, V)$df, cases$unbalanced$df)
  wt <- clubSandwich::Wald_test(fit, clubSandwich::constrain_zero(2:4), V, test = "HTZ")
  near(c(wt$Fstat, wt$df_denom), cases$unbalanced$tests[[1]][c(1, 3)])
  fit <- lm(distance ~ factor(age) + f, u)
  V <- clubSandwich::vcovCR(fit, u$Subject, "CR2")
  near(sqrt(diag(V))[2:4], cases$subjects$se[2:4])
  near(clubSandwich::coef_test(fit, V)$df[2:4], cases$subjects$df[2:4])
  wt <- clubSandwich::Wald_test(fit, clubSandwich::constrain_zero(2:4), V, test = "HTZ")
  near(c(wt$Fstat, wt$df_denom), cases$subjects$tests[[1]][c(1, 3)])
  message("agrees with clubSandwich ", packageVersion("clubSandwich"))
}
