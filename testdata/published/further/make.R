# Writes expected.json: values beyond those of the folders beside this one,
# for the answers of a whole run. Run in this folder: Rscript make.R
# R 4.2.2, survival 3.5-3, lme4 1.1-31, lmerTest 3.1-3, clubSandwich 0.5.8, sandwich 3.0-2
suppressPackageStartupMessages({library(survival); library(jsonlite); library(lme4); library(lmerTest)})
rd <- function(s) read.csv(file.path("..", s, "data.csv"), stringsAsFactors = FALSE)
A <- function(x) I(as.vector(unname(x)))
cc <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 100)
z975 <- qnorm(0.975)
E <- list()

# A curve of one group as columns, its quantiles at p.
curve <- function(f, p = c(.25, .5, .75)) {
  q <- quantile(f, p)
  list(time = A(f$time), at_risk = A(f$n.risk), events = A(f$n.event), censored = A(f$n.censor), estimate = A(f$surv),
       std_error = A(summary(f, times = f$time)$std.err), low = A(f$lower), high = A(f$upper),
       quantile = A(p), q_estimate = A(q$quantile), q_low = A(q$lower), q_high = A(q$upper))
}
# Mean time within tau: estimate, Greenwood-type error, interval.
rmst <- function(f, tau) { s <- summary(f, rmean = tau)$table; e <- unname(s["rmean"]); se <- unname(s["se(rmean)"]); c(e, se, max(0, e - z975 * se), min(tau, e + z975 * se)) }
# Difference b - a of two such means: estimate, error, interval, p.
minus <- function(b, a) { d <- b[1] - a[1]; s <- sqrt(a[2]^2 + b[2]^2); c(d, s, d - z975 * s, d + z975 * s, 2 * pnorm(-abs(d / s))) }
# Mean time within tau with the infinitesimal jackknife grouped by id.
jack <- function(f, tau, id) { e <- unname(summary(f, rmean = tau)$table["rmean"]); se <- sqrt(sum(rowsum(as.vector(resid(f, times = tau, type = "auc")), id)^2)); c(e, se, max(0, e - z975 * se), min(tau, e + z975 * se)) }
wald <- function(f) list(stat = unname(f$wald.test), p = pchisq(unname(f$wald.test), sum(!is.na(coef(f))), lower.tail = FALSE))
base <- function(f) { b <- basehaz(f, centered = FALSE); list(time = A(b$time), hazard = A(b$hazard), stratum = A(if (is.null(b$strata)) rep("all", nrow(b)) else sub(".*=", "", as.character(b$strata)))) }
zph <- function(f) unname(cox.zph(f)$table)
fit <- function(f) { s <- summary(f); list(term = A(names(coef(f))), coef = A(coef(f)), se = A(if (is.null(f$naive.var)) sqrt(diag(f$var)) else sqrt(diag(f$naive.var))), robust_se = if (is.null(f$naive.var)) NULL else A(sqrt(diag(f$var))),
  loglik = A(f$loglik), wald = wald(f), score = f$score, rscore = f$rscore, C = unname(f$concordance["concordance"]), Cse = unname(f$concordance["std"]), zph = zph(f), base = base(f)) }

g <- rd("freireich"); g$control <- as.numeric(g$treat == "control"); m6 <- subset(g, treat == "6-MP"); co <- subset(g, treat == "control")
for (ty in c("log-log", "plain", "log", "logit")) {
  a <- survfit(Surv(time, cens) ~ 1, m6, conf.type = ty); b <- survfit(Surv(time, cens) ~ 1, co, conf.type = ty)
  E[[paste0("freireich_", ty)]] <- list("6-MP" = curve(a, c(.1, .25, .5, .75)), control = curve(b, c(.1, .25, .5, .75)))
}
a <- survfit(Surv(time, cens) ~ 1, m6); b <- survfit(Surv(time, cens) ~ 1, co)
for (tau in c(20, 23)) { r6 <- rmst(a, tau); rc <- rmst(b, tau); E[[paste0("freireich_rmst", tau)]] <- list("6-MP" = A(r6), control = A(rc), difference = A(minus(rc, r6))) }
for (ti in c("efron", "breslow")) E[[paste0("freireich_cox_", ti)]] <- fit(coxph(Surv(time, cens) ~ control, g, ties = ti, control = cc))
f <- coxph(Surv(time, cens) ~ control, g, ties = "exact", control = cc); E$freireich_cox_exact <- list(coef = unname(coef(f)), wald = wald(f), score = f$score)

v <- rd("veteran"); v$celltype <- factor(v$celltype, c("squamous", "adeno", "large", "smallcell")); v$trt2 <- v$trt - 1; v$prior10 <- v$prior / 10
for (n in levels(v$celltype)) v[[n]] <- as.numeric(v$celltype == n)
full <- Surv(time, status) ~ trt2 + smallcell + adeno + large + karno + diagtime + age + prior10
E$veteran_cox_full_efron <- fit(coxph(full, v, control = cc)); E$veteran_cox_full_breslow <- fit(coxph(full, v, ties = "breslow", control = cc))
E$veteran_cox_factor <- fit(coxph(Surv(time, status) ~ trt2 + celltype + karno + diagtime + age + prior10, v, control = cc))
E$veteran_cox_stratified <- fit(coxph(Surv(time, status) ~ trt2 + karno + age + strata(celltype), v, control = cc))
f <- coxph(full, v, control = cc); s <- summary(survfit(f, newdata = data.frame(trt2 = 1, smallcell = 1, adeno = 0, large = 0, karno = 60, diagtime = 6, age = 65, prior10 = 0), conf.type = "log-log"), times = c(10, 30, 60, 100, 200, 365))
E$veteran_predicted <- list(time = A(s$time), estimate = A(s$surv), std_error = A(s$std.err), low = A(s$lower), high = A(s$upper))
cells <- c("adeno", "large", "smallcell", "squamous"); tau <- min(tapply(v$time, v$celltype, max)); r <- list()
for (n in cells) { w <- v[v$celltype == n, ]; E$veteran_celltype[[n]] <- curve(survfit(Surv(time, status) ~ 1, w, conf.type = "log-log")); r[[n]] <- rmst(survfit(Surv(time, status) ~ 1, w), tau); E$veteran_rmst[[n]] <- A(r[[n]]) }
E$veteran_rmst$until <- tau
for (i in 1:3) for (j in (i + 1):4) E$veteran_rmst[[paste(cells[j], "-", cells[i])]] <- A(minus(r[[j]], r[[i]]))
# A confidence of 90 percent.
E$veteran_ninety <- { s <- summary(survfit(Surv(time, status) ~ 1, v, conf.type = "log-log", conf.int = 0.9), times = c(30, 90, 180, 365.25)); list(time = A(s$time), low = A(s$lower), high = A(s$upper)) }

l <- rd("lung"); l$dead <- l$status - 1; l$female <- l$sex - 1; k <- l[!is.na(l$ph.ecog), ]
E$lung_cox <- fit(coxph(Surv(time, dead) ~ age + female + ph.ecog, k, control = cc)); E$lung_cox_strat_sex <- fit(coxph(Surv(time, dead) ~ age + ph.ecog + strata(sex), k, control = cc))
for (s in 1:2) E$lung_sex[[c("male", "female")[s]]] <- curve(survfit(Surv(time, dead) ~ 1, l[l$sex == s, ], conf.type = "log-log"))
a <- rmst(survfit(Surv(time, dead) ~ 1, l[l$sex == 2, ]), 500); b <- rmst(survfit(Surv(time, dead) ~ 1, l[l$sex == 1, ]), 500)
E$lung_rmst500 <- list(female = A(a), male = A(b), difference = A(minus(b, a)))
s <- survdiff(Surv(time, dead) ~ sex, l); E$lung_logrank <- list(stat = s$chisq, p = pchisq(s$chisq, 1, lower.tail = FALSE))

o <- rd("ovarian"); o$rx2 <- o$rx - 1; E$ovarian_cox <- fit(coxph(Surv(futime, fustat) ~ age + rx2, o, control = cc))

k <- rd("kidney"); k$female <- k$sex - 1; k$side <- ifelse(ave(k$id, k$id, FUN = seq_along) == 1, "left", "right")
k$disease <- factor(k$disease, c("Other", "AN", "GN", "PKD"))
E$kidney_cox_cluster <- fit(coxph(Surv(time, status) ~ age + female + disease, k, cluster = id, control = cc))
E$kidney_cox_cluster_breslow <- fit(coxph(Surv(time, status) ~ age + female, k, cluster = id, ties = "breslow", control = cc))
E$kidney_cox_unclustered <- fit(coxph(Surv(time, status) ~ age + female, k, control = cc))
for (by in c("female", "side")) {
  k$grp <- k[[by]]; u <- sort(unique(k[[by]])); name <- if (by == "side") u else c("male", "female")[u + 1]; tau <- min(tapply(k$time, k[[by]], max)); x <- list(until = tau)
  for (i in 1:2) { w <- k[k[[by]] == u[i], ]; f <- survfit(Surv(time, status) ~ 1, w, cluster = id, conf.type = "log-log"); x[[name[i]]] <- c(curve(f), list(rmst = A(jack(survfit(Surv(time, status) ~ 1, w), tau, w$id)))) }
  # The persons stand in both groups: their share in the difference is grouped.
  fd <- survfit(Surv(time, status) ~ grp, k); r <- as.vector(resid(fd, times = tau, type = "auc")); sg <- if (by == "side") ifelse(k$side == "right", 1, -1) else ifelse(k$female == 0, 1, -1)
  d <- sum(x[[if (by == "side") "right" else "male"]]$rmst[1], -x[[if (by == "side") "left" else "female"]]$rmst[1]); se <- sqrt(sum(rowsum(r * sg, k$id)^2)); x$difference <- A(c(d, se, d - z975 * se, d + z975 * se, 2 * pnorm(-abs(d / se))))
  s <- survdiff(Surv(time, status) ~ grp, k); f <- coxph(Surv(time, status) ~ grp, k, cluster = id, control = cc)
  x$logrank <- A(c(s$chisq, pchisq(s$chisq, 1, lower.tail = FALSE))); x$rscore <- A(c(f$rscore, pchisq(f$rscore, 1, lower.tail = FALSE)))
  E[[paste0("kidney_", by)]] <- x
}

h <- rd("heart"); h$transplant <- as.numeric(h$transplant)
E$heart_cox_tv_efron <- fit(coxph(Surv(start, stop, event) ~ age + year + surgery + transplant, h, control = cc)); E$heart_cox_tv_breslow <- fit(coxph(Surv(start, stop, event) ~ age + year + surgery + transplant, h, ties = "breslow", control = cc))
E$heart_cox_interaction <- fit(coxph(Surv(start, stop, event) ~ (age + surgery) * transplant, h, control = cc)); E$heart_cox_cluster <- fit(coxph(Surv(start, stop, event) ~ age + year + surgery + transplant, h, cluster = id, control = cc))
for (tx in 0:1) for (ty in c("log-log", "log")) E[[paste0("heart_km_", ty)]][[as.character(tx)]] <- curve(survfit(Surv(start, stop, event) ~ 1, h[h$transplant == tx, ], conf.type = ty))
for (tx in 0:1) { w <- h[h$transplant == tx, ]; w$room <- w$id %/% 3; E$heart_km_cluster[[as.character(tx)]] <- curve(survfit(Surv(start, stop, event) ~ 1, w, cluster = room, conf.type = "log-log")) }
# The log-rank test with delayed entry is the score test of the exact partial likelihood for discrete times.
f <- coxph(Surv(start, stop, event) ~ transplant, h, ties = "exact", control = cc); E$heart_logrank <- list(stat = f$score, p = pchisq(f$score, 1, lower.tail = FALSE))

m <- rd("mgus2"); m$ev <- factor(m$event, 0:2); m$male <- as.numeric(m$sex == "M")
aj <- function(x, ty, times) { f <- survfit(Surv(etime, ev) ~ 1, x, conf.type = ty); s <- summary(f, times = times); at <- match(times, f$time)
  list(time = A(times), at_risk = A(f$n.risk[at, 1]), p = unname(s$pstate), se = unname(s$std.err), low = unname(s$lower), high = unname(s$upper)) }
tt <- sort(unique(m$etime)); tt <- tt[seq(3, length(tt) - 3, by = 8)]
E$mgus2_curve <- aj(m, "log-log", tt)
E$mgus2_logit <- aj(m, "logit", c(12, 60, 120, 240, 300))
E$mgus2_sex_loglog <- list(female = aj(m[m$sex == "F", ], "log-log", c(12, 60, 120, 240)), male = aj(m[m$sex == "M", ], "log-log", c(12, 60, 120, 240)))
w <- m[!is.na(m$hgb) & !is.na(m$creat), ]
for (e in 1:2) { f <- fit(coxph(Surv(etime, event == e) ~ age + male + hgb + creat, w, control = cc)); f$base <- NULL; E[[c("mgus2_cause_specific_pcm", "mgus2_cause_specific_death")[e]]] <- f }

# Mixed models with the optimiser driven to its limit, so that the values hold to about 1e-7.
s <- rd("sleepstudy"); r <- rd("orthodont"); r$male <- as.numeric(r$Sex == "Male")
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
mixed <- function(f, slope) {
  f <- suppressMessages(as_lmerModLmerTest(f)); b <- summary(f)$coefficients; V <- as.matrix(VarCorr(f)[[1]]); S <- V; attr(S, "stddev") <- attr(S, "correlation") <- NULL
  re <- ranef(f, condVar = TRUE)[[1]]; se <- t(apply(attr(re, "postVar"), 3, function(v) sqrt(diag(as.matrix(v))))); if (nrow(S) == 1) se <- matrix(se, ncol = 1)
  X <- getME(f, "X"); s2 <- sigma(f)^2; Z <- if (nrow(S) == 1) matrix(1, nrow(X), 1) else cbind(1, model.frame(f)[[slope]]); vr <- mean(rowSums((Z %*% S) * Z)); vf <- var(as.vector(X %*% fixef(f))); q <- qt(0.975, b[, 3])
  list(coef = A(b[, 1]), se = A(b[, 2]), df = A(b[, 3]), t = A(b[, 4]), p = A(b[, 5]), low = A(b[, 1] - q * b[, 2]), high = A(b[, 1] + q * b[, 2]), cov = unname(S), sigma = sigma(f), loglik = as.numeric(logLik(f)), aic = AIC(f),
       groups = A(rownames(re)), modes = unname(as.matrix(re)), mode_se = unname(se), icc = vr / (vr + s2), r2_marginal = vf / (vf + vr + s2), r2_conditional = (vf + vr) / (vf + vr + s2))
}
for (reml in c(TRUE, FALSE)) {
  n <- if (reml) "reml" else "ml"
  E[[paste0("sleepstudy_", n, "_int_slope")]] <- mixed(lmer(Reaction ~ Days + (Days | Subject), s, REML = reml, control = ctl), "Days")
  E[[paste0("sleepstudy_", n, "_int")]] <- mixed(lmer(Reaction ~ Days + (1 | Subject), s, REML = reml, control = ctl), "Days")
  E[[paste0("orthodont_", n, "_int_slope")]] <- mixed(lmer(distance ~ age * male + (age | Subject), r, REML = reml, control = ctl), "age")
  E[[paste0("orthodont_", n, "_int")]] <- mixed(lmer(distance ~ age * male + (1 | Subject), r, REML = reml, control = ctl), "age")
}

# Linear models: HC3 with the residual degrees of freedom, CR2 with Satterthwaite's.
linear <- function(f, id) {
  b <- coef(f); out <- function(V, df) { se <- sqrt(diag(V)); q <- qt(0.975, df); list(se = A(se), df = A(df), t = A(b / se), p = A(2 * pt(-abs(b / se), df)), low = A(b - q * se), high = A(b + q * se)) }
  V <- clubSandwich::vcovCR(f, id, "CR2"); d <- clubSandwich::coef_test(f, V); s <- summary(f)
  list(coef = A(b), hc3 = out(sandwich::vcovHC(f, "HC3"), rep(df.residual(f), length(b))), cr2 = out(as.matrix(V), if (is.null(d$df)) d$df_Satt else d$df),
       sigma = s$sigma, r2 = s$r.squared, adj_r2 = s$adj.r.squared, f = unname(s$fstatistic[1]), f_p = pf(s$fstatistic[1], s$fstatistic[2], s$fstatistic[3], lower.tail = FALSE)[[1]], loglik = as.numeric(logLik(f)), aic = AIC(f))
}
E$sleepstudy_linear <- linear(lm(Reaction ~ Days, s), s$Subject); E$orthodont_linear <- linear(lm(distance ~ age * male, r), r$Subject)
writeLines(toJSON(E, auto_unbox = TRUE, digits = I(15), na = "null", null = "null"), "expected.json")
