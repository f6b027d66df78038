# Epileptic fits (MASS, data set epil) told as visits: see SOURCE.md.
suppressMessages({library(survival); library(sandwich)})
d <- read.csv("data.csv")
d$trt <- relevel(factor(d$trt), "placebo")
v <- function(m, g) vcovCL(m, cluster = g, type = "HC0", cadjust = TRUE)
show <- function(...) cat(..., "\n")
p <- function(x) formatC(x, digits = 12, format = "g")
rate <- function(d, what) {
  for (t in levels(d$trt)) {
    s <- d[d$trt == t, ]
    m <- glm(visits ~ 1 + offset(log(days / 365.25)), poisson, s, control = glm.control(epsilon = 1e-14))
    e <- sqrt(v(m, s$subject)[1, 1])
    y <- pyears(days ~ 1, data = s, scale = 365.25)
    show(what, t, p(c(y$pyears, sum(s$visits), exp(coef(m)), exp(coef(m) + c(-1, 1) * qnorm(0.975) * e))))
  }
  m <- glm(visits ~ trt + offset(log(days / 365.25)), poisson, d, control = glm.control(epsilon = 1e-14))
  b <- coef(m)[2]; e <- sqrt(v(m, d$subject)[2, 2])
  show(what, "ratio", p(c(exp(b), exp(b + c(-1, 1) * qnorm(0.975) * e), 2 * pnorm(-abs(b / e)))))
}
rate(d, "sockets")
# Persons: both halves begin on one day, so that a person is watched for the
# longer; a day with visits about both counts once.
at <- function(v, days) if (v == 0) integer(0) else 1 + ((seq_len(v) - 1) * (days - 1)) %/% v
q <- do.call(rbind, lapply(split(d, d$subject), function(s) data.frame(subject = s$subject[1], trt = s$trt[1],
  days = max(s$days), visits = length(unique(unlist(Map(at, s$visits, s$days)))))))
rate(q, "persons")
# Follow-up: the first half ended with a remake, the second was lost.
for (t in levels(d$trt)) {
  s <- d[d$trt == t, ]
  f <- survfit(Surv(days, half == 2) ~ 1, s, cluster = subject, robust = TRUE, conf.type = "log-log")
  show("follow-up", t, p(unlist(quantile(f, 0.5))))
  gaps <- unlist(Map(function(v, n) diff(c(0, unique(at(v, n)))), s$visits, s$days))
  show("gaps", t, length(gaps), p(quantile(gaps, c(0.25, 0.5, 0.75, 0.9))))
}
# The rate of remakes: the first half of each person ended so.
for (t in levels(d$trt)) {
  s <- d[d$trt == t, ]
  m <- glm(half == 1 ~ 1 + offset(log(days / 365.25)), poisson, s, control = glm.control(epsilon = 1e-14))
  e <- sqrt(v(m, s$subject)[1, 1])
  show("remakes", t, p(100 * c(exp(coef(m)), exp(coef(m) + c(-1, 1) * qnorm(0.975) * e), poisson.test(sum(s$half == 1), sum(s$days) / 365.25)$conf.int)))
}
