# Writes expected.json: curves, comparisons and standardised values of models
# fitted to the sets beside this folder. Run in this folder: Rscript make.R
# R 4.2.2, survival 3.5-3, lme4 1.1-31, lmerTest 3.1-3, clubSandwich 0.5.8
suppressPackageStartupMessages({library(survival); library(jsonlite); library(lme4); library(lmerTest); library(clubSandwich)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
cc <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 100)
E <- list()

# Restricted cubic basis, pieces after the first divided by the squared
# distance of the outer knots (Harrell 2001, section 2.4.5).
places <- list("3" = c(.1, .5, .9), "4" = c(.05, .35, .65, .95), "5" = c(.05, .275, .5, .725, .95))
knots <- function(x, k) unname(quantile(x, places[[as.character(k)]], type = 7))
rcs <- function(x, t) { k <- length(t); p <- function(v) pmax(v, 0)^3
  cbind(x, matrix(sapply(1:(k - 2), function(j) (p(x - t[j]) - p(x - t[k - 1]) * (t[k] - t[j]) / (t[k] - t[k - 1]) + p(x - t[k]) * (t[k - 1] - t[j]) / (t[k] - t[k - 1])) / (t[k] - t[1])^2), length(x))) }
grid <- function(x) sort(unique(c(quantile(x, .01) + (quantile(x, .99) - quantile(x, .01)) * (0:60) / 60, median(x))))
sums <- function(L, b, V) list(estimate = A(L %*% b), se = A(sqrt(rowSums((L %*% V) * L))))
wald <- function(b, V) as.numeric(t(b) %*% solve(V, b))

# Lung: Cox and Weibull regression with a curve of age.
l <- subset(rd("lung"), !is.na(ph.ecog)); l$dead <- l$status - 1; l$female <- l$sex - 1
t4 <- knots(l$age, 4); R <- rcs(l$age, t4); g <- grid(l$age)
f <- coxph(Surv(time, dead) ~ R + female, data = l, control = cc)
L <- cbind(rcs(g, t4) - rcs(rep(median(l$age), length(g)), t4), 0)
pair <- rbind(c(rcs(75, t4) - rcs(55, t4), 0), c(0, 0, 0, 1))
E$lung_curve <- c(list(call = "coxph(Surv(time, dead) ~ rcs(age, 4 knots) + female), Efron", knots = A(t4), median = median(l$age), value = A(g)),
  sums(L, coef(f), vcov(f)), list(any = wald(coef(f)[1:3], vcov(f)[1:3, 1:3]), bent = wald(coef(f)[2:3], vcov(f)[2:3, 2:3]), pairs = sums(pair, coef(f), vcov(f))))
w <- survreg(Surv(time, dead) ~ R + female, data = l, control = survreg.control(rel.tolerance = 1e-13, maxiter = 100))
E$lung_weibull <- list(call = "survreg(Surv(time, dead) ~ rcs(age, 4 knots) + female, dist = 'weibull')", pairs = sums(pair, coef(w)[-1], vcov(w)[2:5, 2:5]),
  bent = wald(coef(w)[3:4], vcov(w)[3:4, 3:4]))

# MGUS: Fine-Gray regression, every pair of the thirds of age.
m <- rd("mgus2"); m$third <- factor(ifelse(m$age <= 65, "a", ifelse(m$age <= 77, "b", "c")), levels = c("b", "a", "c"))
m$state <- factor(m$event, 0:2)
fg <- finegray(Surv(etime, state) ~ ., data = m[, c("id", "etime", "state", "third")], etype = 1)
f <- coxph(Surv(fgstart, fgstop, fgstatus) ~ third, weights = fgwt, data = fg, cluster = id, control = cc)
s <- sums(rbind(c(1, 0), c(0, 1), c(-1, 1)), coef(f), vcov(f)); s$p <- A(2 * pnorm(-abs(s$estimate / s$se))); s$holm <- A(p.adjust(s$p, "holm"))
E$mgus2_pairs <- c(list(call = "finegray, coxph(... ~ third, weights = fgwt, cluster = id), p.adjust(p, 'holm'); a-b, c-b, c-a", levels = c("b", "a", "c")), s)

# Sleep: a curve of days, by least squares and with a random intercept.
z <- rd("sleepstudy"); t4 <- knots(z$Days, 4); Z <- rcs(z$Days, t4); colnames(Z) <- c("d1", "d2", "d3"); z <- cbind(z, Z)
pair <- c(0, rcs(7, t4) - rcs(2, t4))
f <- lm(Reaction ~ d1 + d2 + d3, data = z); V <- vcovCR(f, cluster = z$Subject, type = "CR2")
lc <- linear_contrast(f, vcov = V, contrasts = matrix(pair, 1), test = "Satterthwaite")
wt <- function(i) { x <- Wald_test(f, constraints = constrain_zero(i), vcov = V, test = "HTZ"); A(c(x$Fstat, x$df_num, x$df_denom, x$p_val)) }
E$sleep_linear <- list(call = "lm(Reaction ~ rcs(Days, 4 knots)); clubSandwich CR2, linear_contrast(Satterthwaite), Wald_test(HTZ)", knots = A(t4),
  pair = A(c(lc$Est, lc$SE, lc$df, lc$CI_L, lc$CI_U)), any = wt(2:4), bent = wt(3:4))
f <- lmer(Reaction ~ d1 + d2 + d3 + (1 | Subject), data = z, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10)))
x <- contest(f, pair, joint = FALSE, confint = TRUE); y <- contest(f, rbind(c(0, 0, 1, 0), c(0, 0, 0, 1)), joint = TRUE)
E$sleep_mixed <- list(call = "lmer(Reaction ~ rcs(Days, 4 knots) + (1 | Subject)); lmerTest contest", pair = A(c(x$Estimate, x$`Std. Error`, x$df, x$lower, x$upper)),
  bent = A(c(y$`F value`, y$NumDF, y$DenDF, y$`Pr(>F)`)))

# Lung: survival by sex standardised over the rows. Estimates: survfit of every
# row with its sex replaced, averaged. Errors with Breslow's ties: the delta
# method from its formula; with Efron's: 1000 bootstrap samples of rows, by
# which the delta method is known to be right to a few percent.
at <- c(90, 180, 365, 730)
std <- function(f, d, times) sapply(0:1, function(g) { n <- d; n$female <- g; rowMeans(summary(survfit(f, newdata = n), times = times)$surv) })
delta <- function(f, d, times) { X <- as.matrix(d[, names(coef(f))]); b <- coef(f); r <- exp(X %*% b); ev <- sort(unique(d$time[d$dead == 1]))
  s0 <- sapply(ev, function(t) sum(r[d$time >= t])); m <- t(sapply(ev, function(t) colSums(X[d$time >= t, ] * r[d$time >= t]))) / s0; k <- sapply(ev, function(t) sum(d$dead[d$time == t]))
  one <- function(t, g) { n <- X; n[, "female"] <- g; i <- ev <= t; H <- sum((k / s0)[i]); q <- colSums((k / s0)[i] * m[i, , drop = FALSE]); f1 <- exp(n %*% b)
    S <- exp(-f1 * H); c(mean(S * f1), -colMeans(c(S * f1) * (n * H - rep(q, each = nrow(n))))) }
  t(sapply(times, function(t) { v <- sum((k / s0^2)[ev <= t]); V <- vcov(f); a <- one(t, 0); b <- one(t, 1); se <- function(x) sqrt(x[1]^2 * v + t(x[-1]) %*% V %*% x[-1]); c(se(a), se(b), se(b - a)) })) }
form <- Surv(time, dead) ~ age + female + ph.ecog
f <- coxph(form, data = l, ties = "breslow", control = cc)
e <- coxph(form, data = l, control = cc)
set.seed(1); B <- replicate(1000, { d <<- l[sample(nrow(l), replace = TRUE), ]; s <- std(coxph(form, data = d), d, at); cbind(s, s[, 2] - s[, 1]) })
E$lung_standard <- list(call = "mean over rows of survfit(coxph(Surv(time, dead) ~ age + female + ph.ecog), newdata with female 0 and 1); columns male, female, difference",
  time = A(at), breslow = std(f, l, at), breslow_se = delta(f, l, at), efron = std(e, l, at), efron_boot_se = apply(B, 1:2, sd))

# Lung: residuals, the effect over time and accuracy of the model with Efron's
# ties. The line is that of cox.zph's residuals on 1 - S(t-), natural cubic
# with knots at the thirds; accuracy by its formulas, events a quarter of a day
# before the censorings of their day.
zph <- cox.zph(e, transform = "km", terms = FALSE); x <- zph$x
nb <- splines::ns(x, knots = quantile(x, c(1, 2) / 3), intercept = TRUE); q <- lm.fit(nb, zph$y); lev <- diag(nb %*% solve(crossprod(nb)) %*% t(nb))
first <- which(!duplicated(zph$time)); pick <- first[(c(5, 20, 35) * (length(first) - 1)) %/% 39 + 1]
E$lung_over_time <- list(call = "cox.zph(coxph(Surv(time, dead) ~ age + female + ph.ecog), transform = 'km'); ns(x, knots = quantile(x, c(1, 2) / 3), intercept = TRUE)",
  time = A(zph$time[pick]), estimate = unname(q$fitted.values[pick, ]), se = unname(sqrt(outer(lev[pick], diag(zph$var)))))
sc <- residuals(e, "dfbetas"); big <- order(-apply(abs(sc), 1, max))[1:10]
E$lung_influence <- list(call = "residuals(type = 'dfbetas'), 'dfbeta'; the ten rows with the largest", row = A(as.integer(match(rownames(l)[big], rownames(rd("lung"))))), dfbetas = unname(sc[big, ]), dfbeta = unname(residuals(e, "dfbeta")[big, ]))
acc <- function(t) { cens <- survfit(Surv(time + ifelse(dead == 1, -0.25, 0), 1 - dead) ~ 1, data = l); G <- stepfun(cens$time, c(1, cens$surv)); S <- summary(survfit(e, newdata = l), times = t)$surv; lp <- predict(e, type = "lp")
  ca <- l$time <= t & l$dead == 1; co <- l$time > t; w <- ifelse(ca, 1 / G(l$time - 0.5), ifelse(co, 1 / G(t), 0)); KM <- summary(survfit(Surv(time, dead) ~ 1, data = l), times = t)$surv
  pr <- outer(lp[ca], lp[co], function(a, b) (a > b) + (abs(a - b) < 1e-12) / 2); c(sum(pr * outer(w[ca], w[co])) / sum(outer(w[ca], w[co])), sum(w * (co - c(S))^2) / nrow(l), sum(w * (co - KM)^2) / nrow(l), sum(ca), sum(co)) }
E$lung_accuracy <- list(call = "by hand: weights 1/G(T-) and 1/G(t); AUC, Brier, Brier of the Kaplan-Meier estimate, cases, controls", time = A(at), values = t(sapply(at, acc)))

# Orthodont: mean distance by sex standardised over ages, with a product.
o <- rd("orthodont"); o$male <- as.numeric(o$Sex == "Male")
f <- lm(distance ~ age * male, data = o); V <- vcovCR(f, cluster = o$Subject, type = "CR2"); g <- mean(o$age)
L <- rbind(c(1, g, 0, 0), c(1, g, 1, g), c(0, 0, 1, g))
lc <- linear_contrast(f, vcov = V, contrasts = L, test = "Satterthwaite")
E$orthodont_means <- list(call = "lm(distance ~ age * male); CR2, linear_contrast: female, male, male - female at the mean age", values = unname(as.matrix(lc[, c("Est", "SE", "df", "CI_L", "CI_U")])))


# Sleep: rstandard, hatvalues, cooks.distance of a line, the ten largest.
f <- lm(Reaction ~ Days, data = z); big <- order(-cooks.distance(f))[1:10]
E$sleep_cook <- list(call = "lm(Reaction ~ Days): rstandard, hatvalues, cooks.distance", values = unname(cbind(rstandard(f), hatvalues(f), cooks.distance(f))[big, ]))

write(toJSON(E, auto_unbox = TRUE, digits = 15, pretty = TRUE), "expected.json")
