# Writes gee.json: estimating equations with a working correlation for the sets
# beside this folder. Run in this folder: Rscript gee.R
# R 4.2.2, geepack 1.3.9
suppressPackageStartupMessages({library(geepack); library(jsonlite)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
ct <- geese.control(epsilon = 1e-13, maxit = 500)
# CR2 with the working covariance in place of independence, and its degrees of
# freedom, by whole matrices; the adjustment is the symmetric root in the rows
# whitened by the symmetric root of the correlation (exchangeable) or by
# differences (serial), which the residuals share.
cr2 <- function(f, cl, kind) { X <- model.matrix(f); w <- f$family$mu.eta(c(f$linear.predictors))^2 / f$family$variance(c(fitted(f))); e <- c(residuals(f, "pearson")); a <- f$geese$alpha; G <- lapply(unique(cl), function(g) which(cl == g))
  W <- function(n) if (kind == "exchangeable") { s <- eigen((1 - a) * diag(n) + a, symmetric = TRUE); s$vectors %*% diag(1 / sqrt(s$values), n) %*% t(s$vectors) } else { D <- diag(n); if (n > 1) { D[-1, ] <- D[-1, ] / sqrt(1 - a^2); for (i in 2:n) D[i, i - 1] <- -a / sqrt(1 - a^2) }; D }
  Z <- X * sqrt(w); for (i in G) { Z[i, ] <- W(length(i)) %*% Z[i, , drop = FALSE]; e[i] <- W(length(i)) %*% e[i] }
  M <- solve(crossprod(Z)); H <- Z %*% M %*% t(Z); Ad <- lapply(G, function(i) { s <- eigen(diag(length(i)) - H[i, i, drop = FALSE], symmetric = TRUE); s$vectors %*% diag(1 / sqrt(s$values), length(i)) %*% t(s$vectors) })
  S <- mapply(function(i, b) t(Z[i, , drop = FALSE]) %*% b %*% e[i], G, Ad); V <- M %*% S %*% t(S) %*% M; IH <- diag(nrow(Z)) - H; p <- ncol(X)
  df <- sapply(1:p, function(j) { P <- mapply(function(i, b) IH[, i, drop = FALSE] %*% (b %*% Z[i, , drop = FALSE] %*% M[, j]), G, Ad); B <- crossprod(P); sum(diag(B))^2 / sum(B^2) }); list(se = A(sqrt(diag(V))), df = A(df)) }
fit <- function(f, cl, kind) c(list(coef = A(coef(f)), naive = A(sqrt(diag(f$geese$vbeta.naiv))), robust = A(sqrt(diag(f$geese$vbeta))), scale = A(f$geese$gamma), alpha = A(f$geese$alpha)), if (kind != "independence") list(cr2 = cr2(f, cl, kind)))
E <- list()
o <- rd("ohio"); o <- o[order(o$id, o$age), ]; e <- rd("epil"); e$prog <- +(e$trt == "progabide"); e$lbase <- log(e$base / 4); e <- e[order(e$subject, e$period), ]
for (k in c("independence", "exchangeable", "ar1")) {
  E[[paste0("ohio_", k)]] <- fit(geeglm(resp ~ age + smoke + age:smoke, id = id, data = o, family = binomial, corstr = k, control = ct), o$id, k)
  E[[paste0("epil_", k)]] <- fit(geeglm(y ~ prog + lbase + age + offset(rep(log(2), 236)), id = subject, data = e, family = poisson, corstr = k, control = ct), e$subject, k) }
write(toJSON(E, auto_unbox = TRUE, digits = 15, pretty = TRUE), "gee.json")
