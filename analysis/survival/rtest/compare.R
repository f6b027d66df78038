# Reads small data sets from standard input, a line a row or a repeated event,
# and writes what R's packages survival and cmprsk make of each: lines of the
# set, a name and numbers. Where a call fails, "!" and why stand in their place.
# Written for R 4.2.2, survival 3.5-3, cmprsk 2.2-11.
suppressPackageStartupMessages({library(survival); library(cmprsk)})
options(warn = -1)
all <- read.csv(file("stdin"))
out <- character()
set <- 0
put <- function(name, x) {
  text <- tryCatch({
    x <- suppressWarnings(x)
    x <- as.vector(if (is.matrix(x)) t(x) else x)
    paste(ifelse(is.na(x), "NA", sprintf("%.17g", x)), collapse = " ")
  }, error = function(e) paste("!", gsub("[\r\n]+", " ", conditionMessage(e))))
  out[length(out) + 1] <<- paste(set, name, text)
}
cc <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 100)
scales <- c("log-log", "log", "plain", "logit")
clocks <- c("km", "identity", "rank", "log")

# ---- curves

survival_of <- function(d, late) if (late) Surv(d$entry, d$time, d$ev) else Surv(d$time, d$ev)
curves <- function(s) {
  d <- s$d; conf <- scales[s$scales + 1]
  grouped <- s$clustered || s$weights == 2
  k <- if (grouped) d else s$e
  k$y <- survival_of(k, s$late)
  rows <<- k # resid looks for them outside
  one <- function(...) if (grouped) survfit(y ~ 1, rows, weights = weight, cluster = unit, robust = TRUE, ...) else survfit(y ~ 1, rows, robust = FALSE, ...)
  f <- one(conf.type = conf)
  m <- summary(f, censored = TRUE)
  put("km_time", m$time); put("km_risk", m$n.risk); put("km_events", m$n.event); put("km_censored", m$n.censor)
  put("km_surv", m$surv); put("km_se", m$std.err); put("km_low", f$lower); put("km_high", f$upper)
  q <- quantile(f, c(.25, .5, .75)); put("km_quantiles", c(q$quantile, q$lower, q$upper))
  h <- one(stype = 2, ctype = 1)
  put("na_hazard", h$cumhaz); put("na_se", h$std.chaz)
  until <- min(tapply(d$time, d$group, max)); put("rmst_until", until)
  if (until == 0) return()
  put("rmst", { t <- summary(f, rmean = until)$table
    c(t[["rmean"]], if (grouped) sqrt(sum(rowsum(k$weight * as.vector(resid(f, times = until, type = "auc")), k$unit)^2)) else t[["se(rmean)"]]) })
  put("rmst_difference", {
    parts <- lapply(0:1, function(g) {
      rows <<- k[k$group == g, ]
      f <- if (grouped) survfit(y ~ 1, rows, weights = weight, cluster = unit, robust = TRUE) else survfit(y ~ 1, rows, robust = FALSE)
      t <- summary(f, rmean = until)$table
      r <- if (!grouped || !any(rows$ev == 1)) 0 else rows$weight * as.vector(resid(f, times = until, type = "auc"))
      list(mean = t[["rmean"]], se = t[["se(rmean)"]], move = (2 * g - 1) * r + 0 * rows$weight, unit = rows$unit)
    })
    se <- if (grouped) sqrt(sum(rowsum(c(parts[[1]]$move, parts[[2]]$move), c(parts[[1]]$unit, parts[[2]]$unit))^2)) else sqrt(parts[[1]]$se^2 + parts[[2]]$se^2)
    c(parts[[2]]$mean - parts[[1]]$mean, se)
  })
}

# ---- the log-rank family: the score test of the exact partial likelihood, in
# which each time with events is a stratum of its own, so that a time can be
# weighted. It is the hypergeometric test, with or without late entry.

# sets cuts rows into those at risk at each time with events, within strata.
sets <- function(e, ev, strata, late) {
  out <- list()
  for (g in unique(strata)) {
    here <- which(strata == g)
    if (!any(ev[here] == 1)) next
    m <- summary(survfit((if (late) Surv(e$entry[here], e$time[here], ev[here]) else Surv(e$time[here], ev[here])) ~ 1, se.fit = FALSE))
    before <- c(1, m$surv[-length(m$surv)])
    w <- cbind(1, m$n.risk, sqrt(m$n.risk), before, cumprod(1 - m$n.event / (m$n.risk + 1)), before * (1 - before), 1 - before)
    for (i in seq_along(m$time)) {
      r <- here[(e$entry[here] < m$time[i] | e$entry[here] == 0) & e$time[here] >= m$time[i]]
      out[[length(out) + 1]] <- list(row = r, event = ev[r] * (e$time[r] == m$time[i]), w = w[rep(i, length(r)), , drop = FALSE])
    }
  }
  list(row = unlist(lapply(out, `[[`, "row")), event = unlist(lapply(out, `[[`, "event")),
    set = rep(seq_along(out), sapply(out, function(x) length(x$row))), w = do.call(rbind, lapply(out, `[[`, "w")))
}
# w: 1, Gehan, Tarone-Ware, Peto-Peto, Prentice, middle and late differences.
family <- function(s, strata) {
  x <- sets(s$e, s$e$ev, strata, s$late)
  group <- s$e$group[x$row]
  groups <- sapply(sort(unique(group))[-1], function(g) as.numeric(group == g))
  if (!is.matrix(groups)) return()
  y <- Surv(rep(1, length(group)), x$event)
  score <- function(z) survival:::coxexact.fit(z, y, x$set, NULL, rep(0, ncol(z)), coxph.control(iter.max = 0), NULL, "exact", seq_along(group))$score
  list(tests = sapply(1:7, function(j) score(groups * x$w[, j])), trend = sapply(1:7, function(j) score(cbind(group * x$w[, j]))))
}
comparisons <- function(s) {
  if (s$weights == 2) return()
  for (within in c(FALSE, TRUE)) {
    name <- if (within) "within_" else ""
    r <- tryCatch(family(s, if (within) s$e$stratum else rep(0, nrow(s$e))), error = function(e) NULL)
    if (!is.null(r)) { put(paste0("logrank_", name, "family"), r$tests); put(paste0("logrank_", name, "trend"), r$trend) }
    if (!s$late) for (rho in 0:1) put(paste0("survdiff_", name, rho), {
      g <- if (within) survdiff(Surv(time, ev) ~ group + strata(stratum), s$e, rho = rho) else survdiff(Surv(time, ev) ~ group, s$e, rho = rho)
      c(g$chisq, sum((if (is.matrix(g$exp)) rowSums(g$exp) else g$exp) > 0) - 1) })
  }
}

# ---- Cox

cox <- function(s, ties, robust) {
  k <- if (s$weights == 2) s$d else s$e
  k$y <- if (s$late) Surv(k$entry, k$time, k$cause == 1) else Surv(k$time, k$cause == 1)
  k$w <- if (s$weights == 2) k$weight else 1
  k$off <- k$group / 4
  form <- paste("y ~", paste(s$names, collapse = " + "), if (s$stratified) "+ strata(stratum)", if (s$offset) "+ offset(off)")
  call <- list(as.formula(form), k, weights = k$w, ties = ties, control = cc, x = TRUE, y = TRUE)
  if (robust) call$cluster <- k$unit
  if (ties == "exact" && s$late) { # coxph goes through all choices of tied rows there; by sets of those at risk it need not
    x <- sets(k, as.numeric(k$cause == 1), if (s$stratified) k$stratum else rep(0, nrow(k)), TRUE); z <- k[x$row, ]; z$y <- Surv(rep(1, nrow(z)), x$event); z$set <- x$set
    return(list(f = coxph(as.formula(paste("y ~", paste(s$names, collapse = " + "), "+ strata(set)", if (s$offset) "+ offset(off)")), z, ties = "exact", control = cc), k = k))
  }
  f <- do.call(coxph, call)
  if (ties == "exact") return(list(f = f, k = k))
  # coxph leaves the offset out of its robust score test: make it at 0.
  call$init <- rep(0, length(s$names)); call$control <- coxph.control(iter.max = 0)
  list(f = f, f0 = if (robust) do.call(coxph, call), k = k)
}
models <- function(s) {
  for (ties in c("efron", "breslow", "exact")) {
    if (ties == "exact" && s$weights == 2) next
    p <- paste0("cox_", ties, "_")
    r <- tryCatch(cox(s, ties, if (ties == "exact") FALSE else s$clustered || s$weights == 2), error = function(e) conditionMessage(e))
    if (is.character(r)) { put(paste0(p, "coef"), stop(r)); next }
    f <- r$f; k <- r$k; b <- !is.na(coef(f)); robust <- !is.null(f$naive.var)
    put(paste0(p, "coef"), coef(f))
    v <- if (robust) f$naive.var else f$var
    put(paste0(p, "se"), sqrt(diag(v)))
    put(paste0(p, "loglik"), f$loglik); put(paste0(p, "score"), f$score); put(paste0(p, "wald"), f$wald.test)
    if (ties == "exact") next
    if (robust) {
      put(paste0(p, "robust"), sqrt(diag(f$var)))
      put(paste0(p, "rscore"), { u <- rowsum(resid(r$f0, "score", weighted = TRUE), k$unit); t <- colSums(u); drop(t %*% solve(crossprod(u), t)) })
    }
    put(paste0(p, "concordance"), f$concordance[c("concordance", "std", "concordant", "discordant", "tied.x", "tied.y", "tied.xy")])
    plain <- if (robust) cox(s, ties, FALSE)$f else f
    put(paste0(p, "zph"), cox.zph(plain, if (s$weights == 2) clocks[bitwOr(s$scales, 1) + 1] else clocks[s$scales + 1])$table[, 1])
    first <- !duplicated(k$row)
    put(paste0(p, "martingale"), resid(plain, "martingale")[first]); put(paste0(p, "deviance"), resid(plain, "deviance")[first])
    put(paste0(p, "scores"), as.matrix(resid(plain, "score"))[first, ]); put(paste0(p, "dfbeta"), as.matrix(resid(plain, "dfbeta", weighted = FALSE))[first, ])
    if (s$weights != 1) {
      x <- order(k$stratum * s$stratified, k$time); x <- x[k$cause[x] == 1]; key <- k$stratum[x] * s$stratified * 1e5 + k$time[x]
      put(paste0(p, "schoenfeld"), rowsum(as.matrix(resid(plain, "schoenfeld")), key))
      if (s$weights == 0) put(paste0(p, "scaled"), rowsum(as.matrix(resid(plain, "scaledsch")), key))
    }
    at <- data.frame(x1 = .5, x2 = 1, x3 = 3, off = 0)
    put(paste0(p, "predicted"), { g <- survfit(f, newdata = at, conf.type = scales[s$scales + 1]); if (!any(g$n.event > 0)) stop("no events"); g <- summary(g)
      cbind(g$time, g$surv, g$std.err, g$lower, g$upper) })
    put(paste0(p, "baseline"), { g <- basehaz(f, newdata = data.frame(x1 = 0, x2 = 0, x3 = 0, off = 0)); cbind(g$time, g$hazard) })
  }
}

# ---- competing causes

competing <- function(s) {
  d <- s$d; d$state <- factor(d$cause, 0:2)
  d$y <- if (s$late) Surv(d$entry, d$time, d$state) else Surv(d$time, d$state)
  rows <<- d
  f <- survfit(y ~ 1, rows, weights = weight, id = row, conf.type = scales[s$scales + 1])
  put("cif_time", f$time)
  put("cif_share", f$pstate[, -1, drop = FALSE])
  last <- max(d$time); at <- unique(ceiling(last * c(.2, .5, 1)))
  put("cif_at", at)
  state <- function(type) { r <- array(resid(f, times = at, type = type), c(nrow(d), length(at), 3))
    t(sapply(seq_along(at), function(k) sqrt(colSums(rowsum(d$weight * matrix(r[, k, ], ncol = 3), d$unit)^2))[-1])) }
  put("cif_se", state("pstate"))
  if (!s$clustered) { put("cif_errors", f$std.err[, -1]); put("cif_low", f$lower[, -1]); put("cif_high", f$upper[, -1]) }
  put("cif_lost", summary(f, rmean = last)$table[-1, "rmean"])
  put("cif_lost_se", { r <- resid(f, times = last, type = "auc"); sqrt(colSums(rowsum(d$weight * matrix(r, ncol = 3), d$unit)^2))[-1] })
  if (!s$late && s$weights != 2) {
    e <- s$e
    for (cause in 1:2) if (any(d$cause == cause)) {
      put(paste0("cuminc_", cause), { g <- cuminc(e$time, e$cause); sapply(f$time, function(t) timepoints(g, t)$est[paste("1", cause), 1]) })
      if (length(unique(e$group)) > 1) {
        put(paste0("gray_", cause), { g <- cuminc(e$time, e$cause, e$group)$Tests; g[rownames(g) == cause, c(1, 3)] })
        put(paste0("gray_within_", cause), { g <- cuminc(e$time, e$cause, e$group, e$stratum)$Tests; g[rownames(g) == cause, c(1, 3)] })
      }
    }
  }
}
subdistribution <- function(s) {
  d <- s$e; p <- "finegray_"
  d$state <- factor(d$cause, 0:2); d$copy <- seq_len(nrow(d))
  # finegray leaves weights out of the chance of censoring: shares are not given to it.
  if (s$weights != 2) for (ties in c("efron", "breslow")) {
    r <- tryCatch({
      fg <- finegray(as.formula(paste(if (s$late) "Surv(entry, time, state)" else "Surv(time, state)", "~ x1 + x2 + unit")), d, id = copy, etype = "1")
      coxph(Surv(fgstart, fgstop, fgstatus) ~ x1 + x2, fg, weights = fgwt, ties = ties, cluster = unit, control = cc)
    }, error = function(e) conditionMessage(e))
    if (is.character(r)) { put(paste0(p, ties, "_coef"), stop(r)); next }
    put(paste0(p, ties, "_coef"), coef(r)); put(paste0(p, ties, "_se"), sqrt(diag(r$naive.var))); put(paste0(p, ties, "_robust"), sqrt(diag(r$var)))
    put(paste0(p, ties, "_loglik"), r$loglik)
  }
  # crr takes a censoring at the time of an event as before it: move it on.
  if (!s$late && s$weights == 0) put("crr", { f <- crr(d$time + ifelse(d$cause == 0, .5, 0), d$cause, as.matrix(d[, c("x1", "x2")]), failcode = 1, gtol = 1e-13, maxiter = 200)
    c(f$coef, sqrt(diag(f$var)), f$loglik.null, f$loglik) })
}

# ---- parametric

# The score of each row by differences: residuals of survreg are not its
# derivatives where an event lies between two looks, and leave weights out.
scores <- function(f, d, dist) {
  base <- c(weibull = "extreme", exponential = "extreme", lognormal = "gaussian", loglogistic = "logistic")[[dist]]
  fixed <- dist == "exponential"
  p <- c(coef(f), if (!fixed) log(f$scale))
  like <- function(p) {
    scale <- if (fixed) 1 else exp(p[4]); at <- p[1] + p[2] * d$x1 + p[3] * d$x2
    low <- psurvreg(log(d$left), at, scale, base); high <- psurvreg(log(d$right), at, scale, base)
    ifelse(is.na(d$right), log1p(-low), ifelse(d$left == d$right, log(dsurvreg(log(d$left), at, scale, base)), log(high - ifelse(d$left == 0, 0, low))))
  }
  sapply(seq_along(p), function(k) { h <- 1e-4 * (seq_along(p) == k); (8 * (like(p + h) - like(p - h)) - like(p + 2 * h) + like(p - 2 * h)) / 12e-4 })
}
parametric <- function(s) {
  # On columns that cannot be estimated, and on lives that do not differ, survreg writes where it must not and R falls
  # over: they are kept from it.
  if (s$late || length(unique(s$d$time)) < 3 || !any(s$d$ev == 1)) return()
  d <- s$d; d$y <- Surv(ifelse(d$left == 0, NA, d$left), d$right, type = "interval2")
  for (dist in c("weibull", "exponential", "lognormal", "loglogistic")) {
    f <- tryCatch(survreg(y ~ x1 + x2, d, weights = weight, dist = dist, control = survreg.control(rel.tolerance = 1e-13, maxiter = 200)), error = function(e) conditionMessage(e))
    p <- paste0("aft_", dist, "_")
    if (is.character(f)) { put(paste0(p, "coef"), stop(f)); next }
    put(paste0(p, "coef"), coef(f)); put(paste0(p, "scale"), f$scale); put(paste0(p, "loglik"), f$loglik); put(paste0(p, "se"), sqrt(diag(f$var)))
    if (s$clustered) put(paste0(p, "robust"), sqrt(diag(f$var %*% crossprod(rowsum(d$weight * scores(f, d, dist), d$unit)) %*% f$var)))
    # Without such rows and weights survreg's own are right.
    k <- d[is.na(d$right) | d$left == d$right, ]
    if (s$clustered && s$weights == 0 && nrow(k) > 8 && length(unique(k$time[k$ev == 1])) > 3)
      put(paste0(p, "own"), { g <- survreg(y ~ x1 + x2, k, dist = dist, cluster = unit, robust = TRUE, control = survreg.control(rel.tolerance = 1e-13, maxiter = 200)); c(coef(g), sqrt(diag(g$var))) })
  }
}

# ---- repeated events: where somebody dies R has no such curve. There the mean
# is put together from its pieces, and its error is a derivative by differences.

repeated <- function(s) {
  d <- s$d; n <- nrow(d)
  rows <- do.call(rbind, lapply(seq_len(n), function(i) {
    at <- s$events[[i]]; ends <- unique(c(at, d$time[i]))
    data.frame(row = i, start = c(d$entry[i], ends[-length(ends)]), stop = ends, ev = as.numeric(ends %in% at))
  }))
  if (any(rows$stop == 0)) return()
  rows$weight <- d$weight[rows$row]; rows$unit <- d$unit[rows$row]
  f <- survfit(Surv(start, stop, ev) ~ 1, rows, weights = weight, id = row, cluster = unit, robust = TRUE)
  put("mean_time", f$time); put("mean", f$cumhaz); put("mean_se", f$std.chaz)
  if (s$index %% 3 != 0) return()
  times <- sort(unique(c(rows$stop)))
  risk <- outer(times, seq_len(n), function(t, i) (d$entry[i] < t | d$entry[i] == 0) & d$time[i] >= t)
  dead <- outer(times, seq_len(n), function(t, i) d$time[i] == t & d$cause[i] > 0)
  events <- sapply(seq_len(n), function(i) as.numeric(times %in% s$events[[i]]))
  mean_of <- function(w) { y <- risk %*% w; surv <- c(1, cumprod(1 - (dead %*% w) / y)[-length(times)]); cumsum(surv * (events %*% w) / y) }
  put("death_mean", mean_of(d$weight))
  put("death_mean_se", { move <- sapply(unique(d$unit), function(u) { h <- 1e-5 * d$weight * (d$unit == u); (mean_of(d$weight + h) - mean_of(d$weight - h)) / 2e-5 }); sqrt(rowSums(move^2)) })
}

# ---- seen at visits: survfit stops its self-consistency at changes of 5e-5.
# Its masses are where it begins here; steps of the same equations, sped up,
# go on until they settle.

visits <- function(s) {
  if (s$late) return()
  d <- s$d
  f <- survfit(Surv(ifelse(d$left == 0, NA, d$left), d$right, type = "interval2") ~ 1, weights = d$weight, se.fit = FALSE)
  mass <- -diff(c(1, f$surv)); keep <- mass > 0; at <- f$time[keep]; mass <- mass[keep]
  # A middle of two looks stands for the whole stretch between them, and what
  # is left of the curve for all time after the last look.
  last <- max(d$left, d$right, na.rm = TRUE) + 1
  at <- c(at, last); mass <- c(mass, max(0, 1 - sum(mass)))
  right <- ifelse(is.na(d$right), Inf, d$right)
  within <- outer(seq_len(nrow(d)), at, function(i, t) ifelse(d$left[i] == right[i], t == right[i], t > d$left[i] & t <= right[i])) * 1
  total <- sum(d$weight)
  step <- function(p) { x <- as.vector(within %*% p); as.vector(p * (t(within) %*% (d$weight / x)) / total) }
  like <- function(p) sum(d$weight * log(within %*% p))
  put("visits_first", c(like(mass), max(abs(step(mass) - mass))))
  # Where survfit dropped a place to 0 it cannot come back: give all some.
  p <- .999 * mass + .001 / length(mass); change <- 1
  for (i in 1:2000) {
    p1 <- step(p); p2 <- step(p1); r <- p1 - p; v <- p2 - p1 - r
    change <- max(abs(r)); if (change < 1e-13) break
    q <- p2
    if (sum(v^2) > 0) { a <- -sqrt(sum(r^2) / sum(v^2)); z <- p - 2 * a * r + a^2 * v; if (all(z >= 0) && sum(z) > 0 && isTRUE(like(z) >= like(p2))) q <- step(z / sum(z)) }
    p <- q
  }
  put("visits_time", at[-length(at)]); put("visits_share", 1 - cumsum(p)[-length(p)]); put("visits_settled", c(change, like(p)))
}

is_row <- is.na(all$event)
answer <- function(d) {
  out <<- character()
  set <<- d$set[1]
  d$ev <- as.numeric(d$cause > 0); d$unit <- if (d$clustered[1] == 1) d$cluster else d$row
  ev <- all[!is_row & all$set == set, ]
  s <- list(index = set, late = d$late[1] == 1, clustered = d$clustered[1] == 1, weights = d$weights[1], scales = d$scales[1], stratified = set %% 2 == 1, offset = set %% 10 == 0,
    names = c("x1", "x2", if (!is.na(d$x3[1])) "x3"), d = d, e = d[rep(seq_len(nrow(d)), if (d$weights[1] == 1) d$weight else 1), ],
    events = lapply(d$row, function(i) ev$event[ev$row == i]))
  for (part in list(curves, comparisons, models, competing, subdistribution, parametric, repeated, visits))
    tryCatch(part(s), error = function(e) put("failed", stop(conditionMessage(e))))
  out
}
writeLines(unlist(parallel::mclapply(split(all[is_row, ], all$set[is_row]), answer, mc.cores = 2)))
