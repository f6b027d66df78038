# Models with a random intercept by adaptive Gauss-Hermite quadrature, in R's
# lme4 and ordinal. Run in this folder: Rscript make.R
# R 4.2.2, lme4 1.1-31, ordinal 2022.11-16
suppressMessages({library(lme4); library(ordinal); library(jsonlite)})
tight <- glmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9, maxfun = 1e5), tolPwrss = 1e-13)
over <- function(f, eta, sd) integrate(function(u) f(eta + sd * u) * dnorm(u), -Inf, Inf, rel.tol = 1e-11)$value
out <- list()

# One row an animal.
d <- read.csv("../cbpp/data.csv"); d$period <- factor(d$period)
d <- do.call(rbind, lapply(seq_len(nrow(d)), function(i)
  data.frame(herd = d$herd[i], period = d$period[i], y = rep(c(1, 0), c(d$incidence[i], d$size[i] - d$incidence[i])))))
m <- glmer(y ~ period + (1 | herd), d, binomial, nAGQ = 25, control = tight)
r <- ranef(m, condVar = TRUE)$herd
b <- fixef(m); s <- getME(m, "theta")
out$cbpp <- list(coef = unname(b), se = unname(sqrt(diag(vcov(m)))), sd = unname(s), loglik = c(logLik(m)),
  plain = c(logLik(glm(y ~ period, binomial, d))), profile = unname(confint(m, "theta_", method = "profile", quiet = TRUE)[1, ]),
  mode = r[, 1], mode_se = sqrt(attr(r, "postVar")[1, 1, ]),
  typical = unname(plogis(b[1] + c(0, b[2:4]))), all = unname(sapply(b[1] + c(0, b[2:4]), over, f = plogis, sd = s)))

d <- read.csv("../ohio/data.csv")
m <- glmer(resp ~ age + smoke + (1 | id), d, binomial, nAGQ = 100, control = tight)
out$ohio <- list(coef = unname(fixef(m)), se = unname(sqrt(diag(vcov(m)))), sd = unname(getME(m, "theta")), loglik = c(logLik(m)))

d <- read.csv("../wine/data.csv"); d$rating <- ordered(d$rating)
d$temp <- factor(d$temp, c("cold", "warm")); d$contact <- factor(d$contact, c("no", "yes")); d$judge <- factor(d$judge)
m <- clmm(rating ~ temp + contact + (1 | judge), data = d, nAGQ = 25, control = clmm.control(gradTol = 1e-9))
b <- coef(m); s <- c(m$ST[[1]])
above <- function(eta) sapply(b[1:4], function(a) over(plogis, eta - a, s))
out$wine <- list(threshold = unname(b[1:4]), coef = unname(b[5:6]), se = unname(sqrt(diag(vcov(m)))[1:6]), sd = s, loglik = m$logLik,
  mode = unname(m$ranef), mode_se = sqrt(unname(m$condVar)), plain = c(logLik(clm(rating ~ temp + contact, data = d))),
  warm_typical = unname(plogis(b[5] - b[1:4])), warm_all = unname(above(b[5])))

# Counts of four periods of two weeks, as rates a week.
d <- read.csv("../epil/data.csv"); d$trt <- factor(d$trt, c("placebo", "progabide"))
m <- glmer(y ~ log(base / 4) + trt + period + (1 | subject) + offset(rep(log(2), nrow(d))), d, poisson, nAGQ = 25, control = tight)
b <- fixef(m); s <- getME(m, "theta")
out$epil <- list(coef = unname(b), se = unname(sqrt(diag(vcov(m)))), sd = unname(s), typical = unname(exp(b[1] + b[2] * log(5) + b[4])),
  all = unname(exp(b[1] + b[2] * log(5) + b[4] + s^2 / 2)))
write_json(out, "expected.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
