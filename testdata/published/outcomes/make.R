# Writes expected.json: yes-or-no outcomes and counts of the sets beside this
# folder. Run in this folder: Rscript make.R
# R 4.2.2, MASS 7.3-58.2, clubSandwich 0.5.8, brglm2 0.9, pROC 1.18.0
suppressPackageStartupMessages({library(MASS); library(jsonlite); library(clubSandwich); library(brglm2); library(pROC)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
ct <- glm.control(epsilon = 1e-15, maxit = 200)
z95 <- qnorm(.975)
E <- list()
full <- function(f) list(n = nobs(f), coef = A(coef(f)), se = A(sqrt(diag(vcov(f)))), vcov = unname(vcov(f)), loglik = as.numeric(logLik(f)), deviance = f$deviance,
  null_deviance = f$null.deviance, df = f$df.residual, pearson = sum(residuals(f, "pearson")^2), aic = AIC(f), loglik_null = if (inherits(f, "negbin")) 0 else 1 - glm.fit(rep(1, nobs(f)), f$y, f$prior.weights, offset = f$offset, family = f$family, control = ct)$aic / 2)
# R's errors are of the weights before the last step: fitted once more.
again <- function(f) update(f, start = coef(f))

# Limits of the profile likelihood by root finding on refits with one
# coefficient held as an offset.
profiled <- function(f, data) { X <- model.matrix(f); y <- f$y; o <- if (is.null(f$offset)) rep(0, nrow(X)) else f$offset; w <- f$prior.weights; top <- as.numeric(logLik(f)); se <- sqrt(diag(vcov(f)))
  ll <- function(j, b) as.numeric(logLik(glm(y ~ X[, -j] - 1, offset = o + b * X[, j], family = f$family, weights = w, control = ct)))
  t(sapply(seq_along(coef(f)), function(j) { g <- function(b) 2 * (top - ll(j, b)) - qchisq(.95, 1); b <- coef(f)[j]
    c(uniroot(g, c(b - 6 * se[j], b), tol = 1e-12)$root, uniroot(g, c(b, b + 6 * se[j]), tol = 1e-12)$root, 2 * (top - ll(j, 0))) })) }

# CR2 with the symmetric root of I - H in rows scaled by the root of their
# working weights, and Satterthwaite degrees of freedom, by whole matrices.
cr2 <- function(f, cl, C = diag(length(coef(f)))) { X <- model.matrix(f); w <- weights(f, "working"); e <- residuals(f, "pearson"); Z <- X * sqrt(w); M <- solve(crossprod(Z)); H <- Z %*% M %*% t(Z)
  G <- lapply(unique(cl), function(g) which(cl == g)); Ad <- lapply(G, function(i) { s <- eigen(diag(length(i)) - H[i, i, drop = FALSE], symmetric = TRUE); s$vectors %*% diag(1 / sqrt(s$values), length(i)) %*% t(s$vectors) })
  S <- mapply(function(i, a) t(Z[i, , drop = FALSE]) %*% a %*% e[i], G, Ad); V <- M %*% S %*% t(S) %*% M
  IH <- diag(nrow(Z)) - H
  df <- apply(C, 1, function(cc) { P <- mapply(function(i, a) IH[, i, drop = FALSE] %*% (a %*% Z[i, , drop = FALSE] %*% M %*% cc), G, Ad); B <- crossprod(P); sum(diag(B))^2 / sum(B^2) })
  list(vcov = unname(V), se = A(sqrt(rowSums((C %*% V) * C))), df = A(df), estimate = A(C %*% coef(f))) }

# Mean over the rows with one column set to each value: estimate, error by the
# delta method, differences and ratios from the first.
standard <- function(f, sets, V = vcov(f), rate = FALSE) { inv <- f$family$linkinv; slope <- f$family$mu.eta; t <- if (rate) exp(f$offset) else rep(1, nobs(f))
  one <- lapply(sets, function(X) { eta <- X %*% coef(f) + if (rate) f$offset else 0; list(m = sum(inv(eta)) / sum(t), g = colSums(c(slope(eta)) * X) / sum(t)) })
  q <- function(g) sqrt(c(t(g) %*% V %*% g)); m <- sapply(one, `[[`, "m"); G <- lapply(one, `[[`, "g")
  list(estimate = A(m), se = A(sapply(G, q)), difference = A(m[-1] - m[1]), difference_se = A(sapply(G[-1], function(g) q(g - G[[1]]))),
    ratio = A(m[-1] / m[1]), log_ratio_se = A(sapply(seq_along(G)[-1], function(k) q(G[[k]] / m[k] - G[[1]] / m[1])))) }

# Low birth weight (Hosmer and Lemeshow).
b <- rd("birthwt"); b$black <- +(b$race == 2); b$other <- +(b$race == 3); b$ptd <- +(b$ptl > 0)
f <- again(glm(low ~ smoke + age + lwt + black + other + ptd + ht + ui, binomial, b, control = ct)); X <- model.matrix(f); set <- function(X, v) { for (n in names(v)) X[, n] <- v[n]; X }
E$birthwt <- c(list(call = "glm(low ~ smoke + age + lwt + black + other + ptd + ht + ui, binomial)"), full(f), list(profile = profiled(f),
  pairs = local({ L <- rbind(c(0, 0, 0, 0, 1, 0, 0, 0, 0), c(0, 0, 0, 0, 0, 1, 0, 0, 0), c(0, 0, 0, 0, -1, 1, 0, 0, 0)); list(estimate = A(L %*% coef(f)), se = A(sqrt(diag(L %*% vcov(f) %*% t(L)))), wald = as.numeric(t(coef(f)[5:6]) %*% solve(vcov(f)[5:6, 5:6]) %*% coef(f)[5:6])) }),
  smoke = standard(f, list(set(X, c(smoke = 0)), set(X, c(smoke = 1)))), auc = local({ r <- roc(b$low, f$linear.predictors, quiet = TRUE, direction = "<"); c(as.numeric(auc(r)), sqrt(var(r))) }), brier = mean((b$low - fitted(f))^2),
  cook = local({ i <- order(-cooks.distance(f))[1:10]; cbind(i, unname(fitted(f)[i]), unname(rstandard(f, type = "pearson")[i]), unname(hatvalues(f)[i]), unname(cooks.distance(f)[i])) })))
places <- c(.05, .35, .65, .95); t4 <- unname(quantile(b$lwt, places, type = 7)); p3 <- function(v) pmax(v, 0)^3
rcs <- function(x, t) { k <- length(t); cbind(x, matrix(sapply(1:(k - 2), function(j) (p3(x - t[j]) - p3(x - t[k - 1]) * (t[k] - t[j]) / (t[k] - t[k - 1]) + p3(x - t[k]) * (t[k - 1] - t[j]) / (t[k] - t[k - 1])) / (t[k] - t[1])^2), length(x))) }
R <- rcs(b$lwt, t4); s <- again(glm(low ~ R + smoke, binomial, b, control = ct)); W <- function(i) as.numeric(t(coef(s)[i]) %*% solve(vcov(s)[i, i]) %*% coef(s)[i]); d <- c(0, rcs(100, t4) - rcs(150, t4), 0)
E$birthwt_curve <- list(call = "glm(low ~ rcs(lwt, 4 knots) + smoke, binomial); 100 against 150 lb", any = W(2:4), bent = W(3:4), estimate = sum(d * coef(s)), se = sqrt(c(t(d) %*% vcov(s) %*% d)))
k <- again(glm(low ~ smoke + offset(own), binomial, transform(b, own = -age / 20), control = ct))
E$birthwt_offset <- c(list(call = "glm(low ~ smoke + offset(-age / 20), binomial)"), full(k))

# Endometrial cancer (Heinze and Schemper 2002): NV separates.
d <- rd("endometrial"); f <- glm(HG ~ NV + PI + EH, binomial, d, method = "brglmFit", type = "AS_mean", control = list(epsilon = 1e-13, maxit = 1e5))
pl <- function(X, y, o = 0) function(bb) { eta <- c(X %*% bb) + o; m <- plogis(eta); sum(y * eta - log1p(exp(eta))) + as.numeric(determinant(crossprod(X * sqrt(m * (1 - m))))$modulus) / 2 }
climb <- function(X, y, hold = integer(0), at = numeric(0), bb = rep(0, ncol(X))) { bb[hold] <- at; fr <- setdiff(seq_len(ncol(X)), hold); v <- pl(X, y); for (i in 1:5000) { m <- plogis(c(X %*% bb)); W <- m * (1 - m); I <- crossprod(X * sqrt(W)); h <- W * rowSums((X %*% solve(I)) * X)
  s <- solve(I[fr, fr], (t(X) %*% (y - m + h * (.5 - m)))[fr]); s <- s * min(1, 1 / max(abs(s))); k <- 1; while (k > 1e-10 && !isTRUE(v(replace(bb, fr, bb[fr] + k * s)) >= v(bb) - 1e-13)) k <- k / 2; bb[fr] <- bb[fr] + k * s; if (max(abs(s)) < 1e-13) break }; list(b = bb, v = v(bb)) }
firth <- function(X, y) { top <- climb(X, y); m <- plogis(c(X %*% top$b)); V <- solve(crossprod(X * sqrt(m * (1 - m)))); q <- qchisq(.95, 1); se <- sqrt(diag(V))
  lim <- t(sapply(seq_along(top$b), function(j) { g <- function(v) 2 * (top$v - climb(X, y, j, v, top$b)$v) - q; c(uniroot(g, top$b[j] + c(-8, 0) * se[j], extendInt = "downX", tol = 1e-11)$root, uniroot(g, top$b[j] + c(0, 8) * se[j], extendInt = "upX", tol = 1e-11)$root, 2 * (top$v - climb(X, y, j, 0, top$b)$v)) }))
  list(coef = A(top$b), se = A(se), loglik = top$v, loglik_null = climb(X, y, 2:ncol(X), rep(0, ncol(X) - 1))$v, profile = unname(lim)) }
E$endometrial <- c(list(call = "brglm2: glm(HG ~ NV + PI + EH, binomial, method = 'brglmFit', type = 'AS_mean'); limits by the formulas of Heinze and Schemper 2002", brglm2 = A(coef(f)), brglm2_se = A(sqrt(diag(vcov(f))))), firth(model.matrix(f), d$HG))
a <- rd("quine"); a$Eth <- +(a$Eth == "N"); f <- glm(Days ~ Eth + Sex, poisson, subset(a, Age == "F3" | Days == 0), method = "brglmFit", type = "AS_mean", control = list(epsilon = 1e-13, maxit = 1e5))
E$quine_firth <- list(call = "brglm2: glm(Days ~ (Eth == 'N') + Sex, poisson, Age == 'F3' or Days == 0, method = 'brglmFit', type = 'AS_mean')", n = nobs(f), coef = A(coef(f)), se = A(sqrt(diag(vcov(f)))))

# Wheeze of children in Ohio, four years of each child.
o <- rd("ohio"); o <- o[order(o$id, o$age), ]; o$agesmoke <- o$age * o$smoke
f <- again(glm(resp ~ age + smoke + agesmoke, binomial, o, control = ct)); E$ohio <- c(list(call = "glm(resp ~ age + smoke + age:smoke, binomial); CR2 by whole matrices"), full(f), list(cr2 = cr2(f, o$id), cr1 = A(sqrt(diag(as.matrix(vcovCR(f, o$id, "CR1")))))))
h <- again(glm(resp ~ smoke, binomial, o, control = ct)); V <- vcovCR(h, o$id, "CR2"); tt <- coef_test(h, V, test = "Satterthwaite")
E$ohio_smoke <- list(call = "clubSandwich: glm(resp ~ smoke, binomial); vcovCR(type = 'CR2'), coef_test(test = 'Satterthwaite')", coef = A(coef(h)), se = A(tt$SE), df = A(tt$df_Satt), p = A(tt$p_Satt))
X <- model.matrix(f); sm <- function(v) { X[, "smoke"] <- v; X[, "agesmoke"] <- X[, "age"] * v; X }
E$ohio_standard <- c(list(call = "mean of the fitted shares, smoke 0 and 1; delta method with CR2"), standard(f, list(sm(0), sm(1)), cr2(f, o$id)$vcov))

# Absence from school (Aitkin), counts.
a <- rd("quine"); a$Eth_N <- +(a$Eth == "N"); a$Sex_M <- +(a$Sex == "M"); for (l in c("F1", "F2", "F3")) a[[l]] <- +(a$Age == l); a$Lrn_SL <- +(a$Lrn == "SL"); form <- Days ~ Eth_N + Sex_M + F1 + F2 + F3 + Lrn_SL
f <- again(glm(form, poisson, a, control = ct))
# Rows of 0 against those expected (He, Zhang, Ye and Tang 2019, Stat Methods
# Med Res 28:1157), the coefficients, and theta by its expected information,
# being estimated.
zeros <- function(y, X, mu, th = Inf) { p0 <- if (is.finite(th)) (th / (th + mu))^th else exp(-mu); w <- if (is.finite(th)) mu / (1 + mu / th) else mu; B <- colSums(p0 * w * X); v <- sum(p0 * (1 - p0)) - c(t(B) %*% solve(crossprod(X * sqrt(w))) %*% B)
  k <- 0:4000; if (is.finite(th)) v <- v - sum(p0 * (log(th / (th + mu)) + 1 - th / (th + mu)))^2 / sum(sapply(mu, function(m) sum(dnbinom(k, th, mu = m) * (digamma(k + th) - digamma(th) + log(th / (th + m)) + 1 - (k + th) / (th + m))^2)))
  s <- sum(y == 0) - sum(p0); c(observed = sum(y == 0), expected = sum(p0), z = s / sqrt(v)) }
# glm.nb, its coefficients and theta taken to the top by Newton's steps.
nb <- function(form, d) { g <- glm.nb(form, d, control = glm.control(epsilon = 1e-14, maxit = 500)); th <- g$theta; bb <- coef(g); info <- NA
  for (i in 1:60) { f <- do.call(glm, list(form, negative.binomial(th), d, start = bb, control = ct)); bb <- coef(f); mu <- fitted(f); y <- f$y
    u <- sum(digamma(th + y) - digamma(th) + log(th) + 1 - log(th + mu) - (y + th) / (mu + th)); info <- sum(trigamma(th) - trigamma(th + y) - 1 / th + 2 / (mu + th) - (y + th) / (mu + th)^2); th <- th + u / info; if (abs(u / info) < 1e-13) break }
  f$theta <- th; f$SE.theta <- 1 / sqrt(info); class(f) <- c("negbin", class(f)); f }
vcov.negbin <- function(object, ...) summary.glm(object, dispersion = 1)$cov.scaled
logLik.negbin <- function(object, ...) structure(sum(dnbinom(object$y, object$theta, mu = fitted(object), log = TRUE)), df = length(coef(object)) + 1, nobs = nobs(object), class = "logLik")
AIC.negbin <- function(object, ...) 2 * (length(coef(object)) + 1) - 2 * as.numeric(logLik(object))
X <- model.matrix(f)
g <- nb(form, a); g1 <- nb(Days ~ 1, a)
E$quine <- c(list(call = "glm(form, poisson), MASS::glm.nb(form)"), full(f), list(profile = profiled(f), zeros = A(zeros(a$Days, X, fitted(f))), negbin = c(full(g), list(theta = g$theta, theta_se = g$SE.theta, own_null = as.numeric(logLik(g1)),
  lr_poisson = 2 * as.numeric(logLik(g) - logLik(f)), zeros = A(zeros(a$Days, X, fitted(g), g$theta)))), counts = A(sapply(0:20, function(k) sum(dnbinom(k, g$theta, mu = fitted(g))))), counts_poisson = A(sapply(0:20, function(k) sum(dpois(k, fitted(f)))))))

# British doctors (Breslow 1985; Doll and Hill): deaths by smoking, with the
# person-years as time at risk.
b <- rd("doctors"); b$age <- factor(b$age); f <- again(glm(deaths ~ smoke + age + offset(log(n)), poisson, b, control = ct)); X <- model.matrix(f)
E$doctors <- c(list(call = "glm(deaths ~ smoke + factor(age) + offset(log(n)), poisson)"), full(f), list(profile = profiled(f), smoke = standard(f, list(set(X, c(smoke = 0)), set(X, c(smoke = 1))), rate = TRUE)))

# Seizures (Thall and Vail): four periods of two weeks, persons as clusters.
e <- rd("epil"); e$lbase <- log(e$base / 4); e$prog <- +(e$trt == "progabide"); e$weeks <- 2
f <- again(glm(y ~ prog + lbase + age + offset(log(weeks)), poisson, e, control = ct)); g <- nb(y ~ prog + lbase + age + offset(log(weeks)), e)
E$epil <- c(list(call = "glm(y ~ prog + log(base / 4) + age + offset(log(2)), poisson); CR2 by whole matrices; glm.nb the same"), full(f), list(cr2 = cr2(f, e$subject), negbin = list(coef = A(coef(g)), theta = g$theta, cr2 = cr2(g, e$subject))))

# Articles by doctoral students (Long 1997): more of them without any than a
# Poisson model expects.
t <- rd("articles"); f <- again(glm(art ~ fem + mar + kid5 + phd + ment, poisson, t, control = ct)); g <- nb(art ~ fem + mar + kid5 + phd + ment, t)
X <- model.matrix(f)
E$articles <- c(list(call = "glm(art ~ fem + mar + kid5 + phd + ment, poisson); glm.nb; zeros by the formula above"), full(f), list(zeros = A(zeros(t$art, X, fitted(f))), theta = g$theta, negbin = A(coef(g)), negbin_loglik = as.numeric(logLik(g)), negbin_zeros = A(zeros(t$art, X, fitted(g), g$theta))))

write(toJSON(E, auto_unbox = TRUE, digits = 15, pretty = TRUE), "expected.json")
