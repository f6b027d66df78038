# Writes expected.json. Run in this folder: Rscript make.R   (R 4.2.2, survival 3.5-3)
library(survival)
v <- read.csv("../veteran/data.csv"); v$ward <- v$age %/% 5
cc <- coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14)
num <- function(x) { s <- paste(sprintf("%.17g", x), collapse = ", "); if (length(x) == 1) s else paste0("[", s, "]") }
out <- c()
wald <- function(f, l) { d <- l %*% coef(f); drop(t(d) %*% solve(l %*% vcov(f) %*% t(l)) %*% d) }
add <- function(name, call, f, more) {
  rob <- !is.null(f$naive.var); s <- summary(f)
  x <- c(list(coef = coef(f), se = sqrt(diag(if (rob) f$naive.var else f$var))), if (rob) list(robust_se = sqrt(diag(f$var))),
    list(loglik = f$loglik, score = f$score, concordance = s$concordance), more)
  out <<- c(out, paste0('    "', name, '": {"call": "', call, '", ', paste0('"', names(x), '": ', sapply(x, num), collapse = ", "), "}"))
}
# Rows of differences: part 2 - part 1, part 3 - part 1, ..., of columns at.
differences <- function(p, ats) do.call(rbind, lapply(ats[-1], function(a) { l <- matrix(0, length(a), p); l[cbind(seq_along(a), a)] <- 1; l[cbind(seq_along(a), ats[[1]])] <- -1; l }))

# The example of Therneau, Crowson and Atkinson, "Using time dependent
# covariates and time dependent coefficients in the Cox model".
v3 <- survSplit(Surv(time, status) ~ ., v, cut = c(90, 180), episode = "part")
f <- coxph(Surv(tstart, time, status) ~ trt + prior + karno:strata(part), v3, control = cc)
add("karno", "coxph(Surv(tstart, time, status) ~ trt + prior + karno:strata(part), survSplit(Surv(time, status) ~ ., veteran, cut = c(90, 180), episode = 'part'))", f,
  list(same = wald(f, differences(5, list(3, 4, 5))), zph = cox.zph(f)$table[, 1]))
v2 <- survSplit(Surv(time, status) ~ ., v, cut = 100, episode = "part")
for (c in c("adeno", "large", "squamous")) for (p in 1:2) v2[[paste0(c, p)]] <- (v2$celltype == c & v2$part == p) * 1
g <- Surv(tstart, time, status) ~ adeno1 + adeno2 + large1 + large2 + squamous1 + squamous2 + karno
same <- differences(7, list(c(1, 3, 5), c(2, 4, 6)))
f <- coxph(g, v2, control = cc); add("cell", "coxph(Surv(tstart, time, status) ~ adeno1 + adeno2 + large1 + large2 + squamous1 + squamous2 + karno, split at 100; adeno2 is 1 for adeno after 100)", f, list(same = wald(f, same)))
f <- coxph(g, v2, cluster = ward, control = cc); add("cell_ward", "the same, cluster = age %/% 5", f, list(same = wald(f, same)))
f <- coxph(g, v2, ties = "breslow", control = cc); add("cell_breslow", "the same, ties = breslow", f, list(same = wald(f, same)))

# Wei, Lin and Weissfeld 1989: a coefficient for each recurrence.
b <- survival::bladder; b$rx2 <- b$rx - 1
pooled <- function(f, at) { v <- vcov(f)[at, at]; w <- solve(v, rep(1, length(at))); c(sum(w * coef(f)[at]) / sum(w), sqrt(1 / sum(w))) }
for (k in 1:4) for (c in c("rx2", "number", "size")) b[[paste0(c, k)]] <- b[[c]] * (b$enum == k)
f <- coxph(Surv(stop, event) ~ rx21 + rx22 + rx23 + rx24 + number + size + strata(enum), b, cluster = id, control = cc)
add("wlw_rx", "coxph(Surv(stop, event) ~ rx21 + rx22 + rx23 + rx24 + number + size + strata(enum), bladder, cluster = id); rx2 = rx - 1, rx23 that of the third recurrence alone", f,
  list(same = wald(f, differences(6, as.list(1:4))), pooled = pooled(f, 1:4)))
f <- coxph(as.formula(paste("Surv(stop, event) ~", paste0(rep(c("rx2", "number", "size"), each = 4), 1:4, collapse = " + "), "+ strata(enum)")), b, cluster = id, control = cc)
add("wlw_all", "the same with coefficients for each recurrence of all three columns", f,
  list(same_rx2 = wald(f, differences(12, as.list(1:4))), same_number = wald(f, differences(12, as.list(5:8))), same_size = wald(f, differences(12, as.list(9:12))),
    pooled_rx2 = pooled(f, 1:4), pooled_number = pooled(f, 5:8), pooled_size = pooled(f, 9:12)))
writeLines(c("{", '  "software": "R 4.2.2, survival 3.5-3; control = coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14)",', '  "entries": {', paste(out, collapse = ",\n"), "  }", "}"), "expected.json")
