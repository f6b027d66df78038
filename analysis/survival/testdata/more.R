# Writes more.json: expected values beyond those in testdata/published.
# Run in this folder: Rscript more.R   (R 4.2.2, survival 3.5-3, cmprsk 2.2-11)
suppressPackageStartupMessages({library(survival); library(jsonlite)})
rd <- function(s) read.csv(file.path("../../../testdata/published", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
cc <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 100)
E <- list()
at <- function(f, times) { s <- summary(f, times = times, extend = TRUE); list(time = A(times), surv = A(s$surv), se = A(s$std.err), lower = A(s$lower), upper = A(s$upper)) }

k <- rd("kidney")
f <- survfit(Surv(time, status) ~ 1, k, cluster = id, conf.type = "log-log"); q <- quantile(f, c(.25, .5, .75))
E$km_cluster_kidney <- c(at(f, c(2, 10, 30, 100, 200, 511)), list(q = A(q$quantile), qlow = A(q$lower), qhigh = A(q$upper)))
# infinitesimal jackknife of the restricted mean, grouped by person
ij <- function(f, tau, id) sqrt(sum(rowsum(resid(f, times = tau, type = "auc"), id)^2))
E$rmst_cluster_kidney <- list(until = A(c(50, 200)), se = A(c(ij(f, 50, k$id), ij(f, 200, k$id))))
# both catheters of a person in opposite groups: difference of restricted means
k$cath <- ave(k$id, k$id, FUN = seq_along)
fd <- survfit(Surv(time, status) ~ cath, k); r <- resid(fd, times = 100, type = "auc")
E$rmst_difference_kidney <- list(until = 100, est = unname(diff(summary(fd, rmean = 100)$table[, "rmean"])), se = sqrt(sum(rowsum(as.vector(r) * ifelse(k$cath == 2, 1, -1), k$id)^2)))

h <- rd("heart")
f <- survfit(Surv(start, stop, event) ~ 1, h, cluster = id, conf.type = "log-log"); E$km_cluster_late_heart <- at(f, c(1, 10, 30, 100, 300, 900))
x <- subset(h, transplant == 1 & start > 0); x$g <- x$id %/% 3
f <- survfit(Surv(start, stop, event) ~ 1, x, cluster = g, conf.type = "log-log"); E$km_cluster_late_heart_tx <- c(at(f, c(20, 40, 100, 300, 900)), list(rmst_se = ij(f, 300, x$g)))

v <- rd("veteran"); v$w <- rep(c(1, 2, 3), length.out = nrow(v))
E$km_weights_logit_veteran <- at(survfit(Surv(time, status) ~ 1, v[rep(seq_len(nrow(v)), v$w), ], conf.type = "logit"), c(5, 30, 100, 300))
E$logrank_weights_veteran <- { s <- survdiff(Surv(time, status) ~ trt, v[rep(seq_len(nrow(v)), v$w), ]); list(obs = A(s$obs), exp = A(s$exp), chisq = s$chisq) }

m <- rd("mgus2"); m$ev <- factor(m$event, 0:2); m$row <- seq_len(nrow(m)); m$g <- m$row %/% 3; m$entry <- ifelse(m$etime > m$age / 10, m$age / 10, 0); m$w <- 1 + (m$row %% 4) / 2
aj <- function(f, times) { s <- summary(f, times = times); list(time = A(times), p = s$pstate, se = s$std.err, lower = s$lower, upper = s$upper) }
tt <- c(5, 12, 60, 120, 240)
E$aj_late_mgus2 <- aj(survfit(Surv(entry, etime, ev) ~ 1, m, id = row, conf.type = "logit"), tt)
# survfit leaves cluster aside for several states: group its residuals by hand
grouped <- function(f, w, g) {
  r <- resid(f, times = tt, type = "pstate"); if (!isTRUE(all.equal(dim(r), c(nrow(m), 3L, length(tt))))) r <- aperm(r, c(1, 3, 2))
  by <- function(g) t(sapply(seq_along(tt), function(k) sqrt(colSums(rowsum(w * r[, , k], g)^2))))
  s <- summary(f, times = tt); stopifnot(all.equal(unname(by(m$row)), unname(s$std.err))); list(time = A(tt), p = s$pstate, se = unname(by(g)))
}
E$aj_cluster_mgus2 <- grouped(survfit(Surv(etime, ev) ~ 1, m), 1, m$g)
E$aj_late_cluster_weights_mgus2 <- grouped(survfit(Surv(entry, etime, ev) ~ 1, m, id = row, weights = w), m$w, m$g)

# sampling weights, offset, clusters, strata at once; prediction with robust errors
v$cl <- seq_len(nrow(v)) %/% 4; v$off <- v$diagtime / 50; v$sw <- 0.3 + (seq_len(nrow(v)) %% 7) / 3
for (ti in c("efron", "breslow")) {
  f <- coxph(Surv(time, status) ~ karno + age + offset(off) + strata(trt), v, weights = sw, cluster = cl, ties = ti, control = cc)
  # coxph leaves the offset out of its robust score test: make it from the residuals of the fit at 0
  f0 <- coxph(Surv(time, status) ~ karno + age + offset(off) + strata(trt), v, weights = sw, cluster = cl, ties = ti, init = c(0, 0), iter.max = 0)
  r <- rowsum(resid(f0, "score", weighted = TRUE), v$cl); u <- colSums(r)
  E[[paste0("cox_sampling_", ti)]] <- list(coef = A(coef(f)), se = A(sqrt(diag(f$naive.var))), robust = A(sqrt(diag(f$var))), loglik = A(f$loglik), score = f$score, rscore = drop(u %*% solve(crossprod(r), u)), C = unname(f$concordance["concordance"]), Cse = unname(f$concordance["std"]))
}
f <- coxph(Surv(time, status) ~ karno + age + strata(trt), v, cluster = cl, control = cc); s <- survfit(f, newdata = data.frame(karno = 50, age = 60), conf.type = "log-log")
E$predict_strata_robust <- { z <- summary(s, times = c(20, 80, 200)); list(time = A(z$time), strata = A(as.integer(z$strata)), surv = A(z$surv), se = A(z$std.err), lower = A(z$lower), upper = A(z$upper)) }
f <- coxph(Surv(start, stop, event) ~ age + year + surgery + transplant, h, control = cc); E$predict_late_heart <- at(survfit(f, newdata = data.frame(age = 2, year = 3, surgery = 0, transplant = 1), conf.type = "log"), c(5, 50, 500)); E$predict_late_heart$surv <- A(E$predict_late_heart$surv)

# a factor as one term
f <- coxph(Surv(time, status) ~ trt + factor(celltype, c("squamous", "smallcell", "adeno", "large")) + karno, v, control = cc); E$zph_factor <- list(table = unname(cox.zph(f)$table))
# exact partial likelihood with several columns, heavy ties
l <- rd("lung"); l <- l[!is.na(l$ph.ecog), ]; l$month <- ceiling(l$time / 60); f <- coxph(Surv(month, status == 2) ~ age + sex + ph.ecog, l, ties = "exact", control = cc)
E$cox_discrete_lung <- list(coef = A(coef(f)), se = A(sqrt(diag(f$var))), loglik = A(f$loglik), score = f$score)
# Cox with time 0 events and entry, exact ties with delayed entry
f <- coxph(Surv(start, stop, event) ~ age + surgery, h, ties = "exact", control = cc); E$cox_discrete_heart <- list(coef = A(coef(f)), se = A(sqrt(diag(f$var))), loglik = A(f$loglik))

# Gray's test in three groups and with strata
m$third <- cut(m$age, c(0, 65, 77, 200), labels = c("a", "b", "c")); g <- cmprsk::cuminc(m$etime, m$event, m$third); E$gray_three <- unname(g$Tests)
g <- cmprsk::cuminc(m$etime, m$event, m$sex, m$third); E$gray_strata <- unname(g$Tests)

writeLines(toJSON(E, auto_unbox = TRUE, digits = NA, na = "null", pretty = TRUE), "more.json")
