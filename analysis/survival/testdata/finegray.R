# Writes finegray.json: expected values of Fine-Gray regressions and of Gray's
# test. Run in this folder: Rscript finegray.R
# R 4.2.2, survival 3.5-3 (finegray, coxph), cmprsk 2.2-11 (crr, cuminc)
suppressPackageStartupMessages({library(survival); library(cmprsk); library(jsonlite)})
A <- function(x) I(as.vector(unname(x)))
cc <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 100)
E <- list()
m <- read.csv("../../../testdata/published/mgus2/data.csv", stringsAsFactors = FALSE)
m$male <- as.numeric(m$sex == "M"); m <- m[!is.na(m$hgb) & !is.na(m$creat), ]; m$row <- seq_len(nrow(m))
m$ev <- factor(m$event, 0:2); m$g <- m$row %/% 4
one <- function(f) list(coef = A(coef(f)), se = A(sqrt(diag(f$naive.var))), robust = A(sqrt(diag(f$var))), loglik = A(f$loglik), wald = unname(f$wald.test), rscore = f$rscore)
for (cause in c("1", "2")) for (ti in c("efron", "breslow")) {
  fg <- finegray(Surv(etime, ev) ~ age + male + hgb + creat + row + g, m, etype = cause)
  f <- function(id) coxph(Surv(fgstart, fgstop, fgstatus) ~ age + male + hgb + creat, fg, weights = fgwt, ties = ti, cluster = id, control = cc)
  E[[paste("mgus2", cause, ti, sep = "_")]] <- one(f(fg$row)); E[[paste("mgus2_clustered", cause, ti, sep = "_")]] <- one(f(fg$g))
}
# Predicted incidence of the event of interest: its value alone, the error of survfit leaving out that of the weighted sums.
fg <- finegray(Surv(etime, ev) ~ age + male + hgb + creat, m, etype = "1"); f <- coxph(Surv(fgstart, fgstop, fgstatus) ~ age + male + hgb + creat, fg, weights = fgwt, control = cc)
s <- summary(survfit(f, newdata = data.frame(age = c(70, 50), male = 1:0, hgb = 13, creat = 1)), times = c(60, 120, 240)); E$predicted <- list(time = A(s$time), first = A(1 - s$surv[, 1]), second = A(1 - s$surv[, 2]))
# Late entries, a few at the time of an event: a sixth of the time to the end for two rows of three.
m$entry <- ifelse(m$row %% 3 == 0 | m$etime < 6, 0, floor(m$etime / 6)); k <- m[m$etime > 0, ]
for (cause in c("1", "2")) {
  fg <- finegray(Surv(entry, etime, ev) ~ age + male + hgb + creat + row, k, id = row, etype = cause)
  E[[paste("late", cause, sep = "_")]] <- one(coxph(Surv(fgstart, fgstop, fgstatus) ~ age + male + hgb + creat, fg, weights = fgwt, ties = "breslow", cluster = row, control = cc))
}
# No censoring at the time of an event: there cmprsk::crr follows the same rule, and allows for the weights' error.
m$moved <- m$etime + ifelse(m$event == 0, 0.5, 0)
for (cause in 1:2) { f <- crr(m$moved, m$event, as.matrix(m[, c("age", "male", "hgb", "creat")]), failcode = cause, gtol = 1e-11, maxiter = 50)
  p <- predict(f, matrix(c(70, 1, 13, 1), 1)); at <- c(60, 120, 240)
  E[[paste("crr", cause, sep = "_")]] <- list(coef = A(f$coef), se = A(sqrt(diag(f$var))), loglik = A(c(f$loglik.null, f$loglik)), time = A(at), incidence = A(sapply(at, function(t) p[max(which(p[, 1] <= t)), 2]))) }

# Gray's test: three groups, strata, simulated data with and without ties.
m <- read.csv("../../../testdata/published/mgus2/data.csv", stringsAsFactors = FALSE); m$third <- cut(m$age, c(0, 65, 77, 200), labels = c("a", "b", "c"))
E$gray_sex <- unname(cuminc(m$etime, m$event, m$sex)$Tests); E$gray_three <- unname(cuminc(m$etime, m$event, m$third)$Tests); E$gray_strata <- unname(cuminc(m$etime, m$event, m$sex, m$third)$Tests)
E$gray_three_strata <- unname(cuminc(m$etime, m$event, m$third, m$sex)$Tests)
# The score test of the thirds, grouped by ward: rows with all values known are counted, four to a ward.
m$ev <- factor(m$event, 0:2); m$ward <- cumsum(!is.na(m$hgb) & !is.na(m$creat)) %/% 4; m$ward <- c(m$ward); E$score_third <- t(sapply(c("1", "2"), function(e) {
  fg <- finegray(Surv(etime, ev) ~ third + ward, m, etype = e); f <- coxph(Surv(fgstart, fgstop, fgstatus) ~ third, fg, weights = fgwt, cluster = ward, control = cc); unname(c(f$rscore, pchisq(f$rscore, 2, lower.tail = FALSE))) })); dimnames(E$score_third) <- NULL
for (ties in 0:1) { set.seed(17 + ties); n <- 120; t <- rexp(n); c <- runif(n, 0, 3); cause <- 1 + rbinom(n, 1, 0.4); t <- t / (1 + 0.6 * (seq_len(n) %% 3 == 1)); time <- pmin(t, c); time <- if (ties) ceiling(time * 6) else round(time, 6)
  d <- list(time = A(time), cause = A(ifelse(t <= c, cause, 0)), group = A(seq_len(n) %% 3), stratum = A(seq_len(n) %/% 7 %% 2))
  d$tests <- unname(cuminc(d$time, d$cause, d$group)$Tests); d$stratified <- unname(cuminc(d$time, d$cause, d$group, d$stratum)$Tests); E[[paste0("gray_simulated_", c("plain", "tied")[ties + 1])]] <- d }
writeLines(toJSON(E, auto_unbox = TRUE, digits = NA, na = "null"), "finegray.json")
