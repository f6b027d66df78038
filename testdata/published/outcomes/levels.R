# Writes levels.json: ordered levels of the sets beside this folder.
# Run in this folder: Rscript levels.R
# R 4.2.2, ordinal 2022.11-16, MASS 7.3-58.2, sandwich 3.0-2
suppressPackageStartupMessages({library(ordinal); library(MASS); library(sandwich); library(jsonlite)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
ct <- clm.control(gradTol = 1e-13, maxIter = 500)
E <- list()
full <- function(f) list(coef = A(coef(f)), se = A(sqrt(diag(vcov(f)))), vcov = unname(vcov(f)), loglik = as.numeric(logLik(f)), aic = AIC(f))
# Shares of the levels averaged over the rows, one column set to each value:
# estimates, and errors by the delta method with numerical derivatives.
shares <- function(f, sets, w, values, V = vcov(f)) { K <- length(f$alpha) + 1; one <- function(b, X) { eta <- c(X %*% b[-(1:(K - 1))]); up <- sapply(1:(K - 1), function(k) sum(w * plogis(eta - b[k])) / sum(w)); p <- -diff(c(1, up, 0)); c(up, p, sum(values * p)) }
  grad <- function(g) { b <- coef(f); sapply(seq_along(b), function(j) { h <- 1e-5; e <- replace(0 * b, j, h); (8 * (g(b + e) - g(b - e)) - (g(b + 2 * e) - g(b - 2 * e))) / (12 * h) }) }
  out <- lapply(sets, function(X) { G <- grad(function(b) one(b, X)); list(value = A(one(coef(f), X)), se = A(sqrt(diag(G %*% V %*% t(G))))) })
  D <- grad(function(b) one(b, sets[[2]]) - one(b, sets[[1]])); list(each = out, difference = A(out[[2]]$value - out[[1]]$value), difference_se = A(sqrt(diag(D %*% V %*% t(D))))) }

h <- rd("housing"); h$Sat <- factor(h$Sat, c("Low", "Medium", "High"), ordered = TRUE); h$Inf_M <- +(h$Infl == "Medium"); h$Inf_H <- +(h$Infl == "High"); for (l in c("Apartment", "Atrium", "Terrace")) h[[l]] <- +(h$Type == l); h$Cont_H <- +(h$Cont == "High")
form <- Sat ~ Inf_M + Inf_H + Apartment + Atrium + Terrace + Cont_H
f <- clm(form, weights = Freq, data = h, control = ct); f0 <- clm(Sat ~ 1, weights = Freq, data = h, control = ct)
lr <- function(nom) { g <- clm(form, nominal = nom, weights = Freq, data = h, control = ct); 2 * as.numeric(logLik(g) - logLik(f)) }
X <- as.matrix(h[, names(f$beta)]); set <- function(v) { X[, "Cont_H"] <- v; X }
g <- clm(Sat ~ Inf_M + Inf_H + Apartment + Atrium + Terrace, nominal = ~Cont_H, weights = Freq, data = h, control = ct)
E$housing <- c(list(call = "clm(Sat ~ Inf_M + Inf_H + Apartment + Atrium + Terrace + Cont_H, weights = Freq)"), full(f), list(loglik_null = as.numeric(logLik(f0)), tests = list(Infl = lr(~Inf_M + Inf_H), Type = lr(~Apartment + Atrium + Terrace), Cont = lr(~Cont_H), all = lr(~Inf_M + Inf_H + Apartment + Atrium + Terrace + Cont_H)),
  contact = shares(f, list(set(0), set(1)), h$Freq, c(0, 1, 2)), unequal = c(list(call = "nominal = ~Cont_H; alpha by cut: constants, Cont_H; beta"), list(alpha = A(g$alpha), beta = A(g$beta), se = A(sqrt(diag(vcov(g)))), loglik = as.numeric(logLik(g))))))

w <- rd("wine"); w$rating <- factor(w$rating, 1:5, ordered = TRUE); w$warm <- +(w$temp == "warm"); w$cont <- +(w$contact == "yes")
f <- clm(rating ~ warm + cont, data = w, control = ct); p <- polr(rating ~ warm + cont, data = w, Hess = TRUE)
S <- { eta <- w$warm * f$beta[1] + w$cont * f$beta[2]; a <- c(-Inf, f$alpha, Inf); y <- as.integer(w$rating); u <- a[y + 1] - eta; l <- a[y] - eta; pr <- plogis(u) - plogis(l); du <- dlogis(u) / pr; dl <- dlogis(l) / pr
  t(sapply(seq_along(y), function(i) { s <- rep(0, 6); if (y[i] < 5) s[y[i]] <- s[y[i]] + du[i]; if (y[i] > 1) s[y[i] - 1] <- s[y[i] - 1] - dl[i]; s[5] <- -w$warm[i] * (du[i] - dl[i]); s[6] <- -w$cont[i] * (du[i] - dl[i]); s })) }
R <- rowsum(S, w$judge); V <- vcov(f) %*% crossprod(R) %*% vcov(f) * 9 / 8
X <- cbind(w$warm, w$cont); set <- function(v) cbind(v, w$cont)
lr <- function(nom) 2 * as.numeric(logLik(clm(rating ~ warm + cont, nominal = nom, data = w, control = ct)) - logLik(f))
# Wald test, on CR1 errors, that contact is the same at every cut: F, by the
# scores of the model in which it differs.
u <- clm(rating ~ warm, nominal = ~cont, data = w, control = ct); b <- coef(u); wald <- local({ y <- as.integer(w$rating); gap <- function(k) ifelse(k < 1, -Inf, ifelse(k > 4, Inf, b[pmin(pmax(k, 1), 4)] + b[4 + pmin(pmax(k, 1), 4)] * w$cont - b[9] * w$warm))
  pr <- plogis(gap(y)) - plogis(gap(y - 1)); du <- dlogis(gap(y)) / pr; dl <- dlogis(gap(y - 1)) / pr
  S <- t(sapply(seq_along(y), function(i) { s <- rep(0, 9); for (q in list(c(y[i], du[i]), c(y[i] - 1, -dl[i]))) if (q[1] %in% 1:4) { s[q[1]] <- s[q[1]] + q[2]; s[4 + q[1]] <- s[4 + q[1]] + q[2] * w$cont[i] }; s[9] <- -w$warm[i] * (du[i] - dl[i]); s }))
  R <- rowsum(S, w$judge); V <- vcov(u) %*% crossprod(R) %*% vcov(u) * 9 / 8; C <- cbind(matrix(0, 3, 4), -1, diag(3), 0); d <- C %*% b; as.numeric(t(d) %*% solve(C %*% V %*% t(C), d)) / 3 })
E$wine <- c(list(call = "clm(rating ~ warm + cont); CR1 by formula, judges as clusters; sandwich::vcovCL of MASS::polr agrees"), full(f), list(loglik_null = as.numeric(logLik(clm(rating ~ 1, data = w, control = ct))), cr1 = A(sqrt(diag(V))),
  vcovCL = A(sqrt(diag(vcovCL(p, cluster = w$judge, type = "HC0")))), cont_test = lr(~cont), cont_wald = wald, warmth = shares(f, list(set(0), set(1)), rep(1, 72), 1:5, V)))
write(toJSON(E, auto_unbox = TRUE, digits = 15, pretty = TRUE), "levels.json")
