# Rscript make.R in this folder writes data.csv and expected.json.
library(survival); library(geepack); library(jsonlite)
cc <- coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14)
d <- pbcseq[c("id", "futime", "status", "age", "sex", "day", "bili", "albumin", "edema", "protime")]
d$age <- round(d$age, 6)
write.csv(d, "data.csv", row.names = FALSE, quote = FALSE, na = "")
d <- read.csv("data.csv")
d$logbili <- round(log(d$bili), 6)
d$prolonged <- round(log(d$protime), 6)
base <- d[!duplicated(d$id), ]

# The last value recorded up to a day, of each column by itself.
known <- function(id, col, s) {
  x <- d[d$id == id & d$day <= s & !is.na(d[[col]]), c("day", col)]
  if (nrow(x)) x[[col]][which.max(x$day)] else NA
}
stack <- function(step, ahead, varying) {
  out <- NULL
  for (s in seq(0, 5000, step)) {
    at <- base[base$futime > s, ]
    r <- data.frame(id = at$id, s = s, time = at$futime, cause = c(0, 2, 1)[at$status + 1], age = at$age)
    for (v in varying) r[[v]] <- sapply(at$id, known, col = v, s = s)
    r <- r[complete.cases(r), ]
    if (sum(r$time >= s + ahead) < 20) next
    out <- rbind(out, r)
  }
  out
}
shape <- function(s, ahead) cbind(s / ahead, (s / ahead)^2)
fit <- function(r, ahead, x, timeterms, competing, w = NULL) {
  r$exit <- pmin(r$time, r$s + ahead); r$c <- ifelse(r$time > r$s + ahead, 0, r$cause)
  X <- as.matrix(r[x]); if (timeterms) X <- cbind(X, shape(r$s, ahead))
  one <- function(k) {
    f <- if (is.null(w)) coxph(Surv(s, exit, c == k) ~ X + cluster(id), r, ties = "breslow", control = cc)
      else coxph(Surv(s, exit, c == k) ~ X, r, weights = w, ties = "breslow", robust = FALSE, control = cc)
    h <- basehaz(f, centered = FALSE)
    list(fit = f, coef = coef(f), time = h$time, d = diff(c(0, h$hazard)))
  }
  a <- one(1)
  if (competing) b <- one(2) else {
    h <- survfit(Surv(s, exit, c == 2) ~ 1, r, weights = if (is.null(w)) rep(1, nrow(r)) else w, ctype = 1)
    b <- list(coef = rep(0, length(a$coef)), time = h$time, d = diff(c(0, h$cumhaz)))
  }
  t <- sort(unique(c(a$time[a$d > 0], b$time[b$d > 0])))
  d1 <- d2 <- numeric(length(t)); d1[match(a$time[a$d > 0], t)] <- a$d[a$d > 0]; d2[match(b$time[b$d > 0], t)] <- b$d[b$d > 0]
  list(a = a, b = b, t = t, d1 = d1, d2 = d2, ahead = ahead, timeterms = timeterms)
}
# Share with the event within `ahead` of s: in each step both hazards act
# together, as in the product integral of the matrix of hazards.
risk <- function(m, X, s) {
  if (m$timeterms) X <- cbind(X, shape(s, m$ahead))
  r1 <- exp(drop(X %*% m$a$coef)); r2 <- exp(drop(X %*% m$b$coef))
  sapply(seq_along(s), function(i) {
    k <- m$t > s[i] & m$t <= s[i] + m$ahead
    h1 <- r1[i] * m$d1[k]; h <- h1 + r2[i] * m$d2[k]
    sum(exp(-(cumsum(h) - h)) * ifelse(h > 0, (1 - exp(-h)) * h1 / h, 0))
  })
}
cll <- function(p) { p <- pmin(pmax(p, 1e-6), 1 - 1e-6); log(-log(1 - p)) }
# Chance of not being censored: events come before censorings of one time.
gcurve <- function(v, cause, w) {
  t <- sort(unique(v)); Y <- sapply(t, function(u) sum(w[v >= u])); d <- sapply(t, function(u) sum(w[v == u & cause > 0]))
  c <- sapply(t, function(u) sum(w[v == u & cause == 0])); list(t = t, g = cumprod(ifelse(c > 0, 1 - c / (Y - d), 1)))
}
measures <- function(r, p, ahead, w = rep(1, nrow(r)), more = FALSE) {
  v <- r$time - r$s; G <- gcurve(v, r$cause, w)
  g <- function(u, before) { k <- if (before) findInterval(u, G$t, left.open = TRUE) else findInterval(u, G$t); c(1, G$g)[k + 1] }
  iw <- ifelse(v > ahead, 1 / g(ahead, FALSE), ifelse(r$cause > 0, 1 / g(v, TRUE), 0)) * w
  y <- as.numeric(v <= ahead & r$cause == 1)
  sf <- survfit(Surv(v, factor(r$cause, 0:2)) ~ 1, weights = w)
  pseudos <- function(v, q) { P <<- data.frame(v = v, q = factor(q, 0:2)); pseudo(survfit(Surv(v, q) ~ 1, P), times = ahead)[, 2] }
  obs <- summary(sf, times = ahead)$pstate[2]
  # A row of weight 2 stands for two rows.
  k <- rep(seq_along(w), w); ps <- pseudos(v[k], r$cause[k])[!duplicated(k)]
  o <- order(r$id); z <- cll(p)
  e <- data.frame(ps = ps[o], z = z[o], id = r$id[o], w = w[o])
  gee <- function(f) geese(f, id = id, data = e, weights = w, mean.link = "cloglog", variance = "gaussian", corstr = "independence", scale.fix = TRUE,
    control = geese.control(epsilon = 1e-12, maxit = 200))
  g0 <- gee(ps ~ offset(z)); g1 <- gee(ps ~ z)
  case <- y == 1 & iw > 0; control <- iw > 0 & !case
  num <- den <- 0
  for (i in which(case)) { ww <- iw[i] * iw[control]; den <- den + sum(ww); num <- num + sum(ww * ((p[control] < p[i]) + 0.5 * (p[control] == p[i]))) }
  b <- sum(iw * (y - p)^2) / sum(w); b0 <- sum(iw * (y - obs)^2) / sum(w)
  out <- c(observed = obs, expected = sum(w * p) / sum(w), ratio = obs / (sum(w * p) / sum(w)), intercept = g0$beta[[1]], slope = g1$beta[[2]],
    c = num / den, brier = b, brier_null = b0, scaled = 1 - b / b0)
  if (!more) return(out)
  # knots of the smooth line
  q <- quantile(z, c(.05, .35, .65, .95), type = 7); cube <- function(x) pmax(x, 0)^3
  B <- function(x) sapply(1:2, function(j) (cube(x - q[j]) - cube(x - q[3]) * (q[4] - q[j]) / (q[4] - q[3]) + cube(x - q[4]) * (q[3] - q[j]) / (q[4] - q[3])) / (q[4] - q[1])^2)
  e <- cbind(e, b1 = B(z)[o, 1], b2 = B(z)[o, 2])
  gc <- gee(ps ~ z + b1 + b2); at <- quantile(p, c(.1, .5, .9), type = 7); xa <- cbind(1, cll(at), matrix(B(cll(at)), ncol = 2))
  eta <- drop(xa %*% gc$beta); se <- sqrt(rowSums((xa %*% gc$vbeta) * xa))
  groups <- lapply(split(seq_along(p), pmin(5, ceiling(5 * rank(p, ties.method = "max") / length(p)))), function(k) {
    # Errors grouped by person: the rows' influences, added up for each.
    q <- pseudos(v[k], r$cause[k]); m <- mean(q)
    list(rows = length(k), predicted = mean(p[k]), observed = m, se = sqrt(sum(rowsum((q - m) / length(k), r$id[k])^2))) })
  list(measures = as.list(out), slope_se = sqrt(g1$vbeta[2, 2]), intercept_se = sqrt(g0$vbeta[1, 1]),
    curve = list(at = unname(at), fit = 1 - exp(-exp(eta)), se = se), groups = unname(groups))
}
boot <- function(r, ahead, x, timeterms, competing, now, draws) {
  set.seed(1); ids <- unique(r$id); app <- test <- first <- NULL; risks <- NULL
  p0 <- risk(fit(r, ahead, x, timeterms, competing), as.matrix(r[x]), r$s)
  for (b in seq_len(draws)) {
    n <- tabulate(match(sample(ids, replace = TRUE), ids), length(ids)); w <- n[match(r$id, ids)]; k <- w > 0
    m <- try(fit(r[k, ], ahead, x, timeterms, competing, w[k]), silent = TRUE); if (inherits(m, "try-error")) next
    p <- risk(m, as.matrix(r[x]), r$s)
    app <- rbind(app, measures(r[k, ], p[k], ahead, w[k])); test <- rbind(test, measures(r, p, ahead))
    first <- rbind(first, measures(r[k, ], p0[k], ahead, w[k]))
    risks <- rbind(risks, cll(risk(m, as.matrix(now[x]), now$s)))
  }
  list(draws = nrow(app), optimism = as.list(colMeans(app - test)), sd = as.list(apply(first, 2, sd)), error_of_optimism = as.list(apply(app - test, 2, sd) / sqrt(nrow(app))),
    risk_spread = apply(risks, 2, IQR))
}
case <- function(name, step, ahead, varying, timeterms, competing, draws) {
  r <- stack(step, ahead, varying); x <- c("age", varying); m <- fit(r, ahead, x, timeterms, competing)
  last <- max(r$s)
  use <- base[base$status == 0 & base$futime < last + step, ]
  now <- data.frame(id = use$id, s = use$futime, age = use$age); for (v in varying) now[[v]] <- mapply(function(i, s) known(i, v, s), use$id, use$futime)
  now <- now[complete.cases(now), ]
  p <- risk(m, as.matrix(r[x]), r$s)
  inwin <- r$time <= r$s + ahead
  out <- list(step = step, ahead = ahead, landmarks = length(unique(r$s)), rows = nrow(r), persons = length(unique(r$id)),
    events = length(unique(r$id[inwin & r$cause == 1])), competing = length(unique(r$id[inwin & r$cause == 2])),
    coef = unname(m$a$coef), naive_se = unname(sqrt(diag(m$a$fit$naive.var))), robust_se = unname(sqrt(diag(m$a$fit$var))),
    competing_coef = if (competing) unname(m$b$coef), competing_robust_se = if (competing) unname(sqrt(diag(m$b$fit$var))),
    stack_risk = p[seq(1, nrow(r), by = 97)], now = list(id = now$id, days = now$s, risk = risk(m, as.matrix(now[x]), now$s)))
  out <- c(out, measures(r, p, ahead, more = TRUE))
  if (draws > 0) out$boot <- boot(r, ahead, x, timeterms, competing, now[1:10, ], draws)
  out
}
res <- list(software = paste0(R.version.string, "; survival ", packageVersion("survival"), ", geepack ", packageVersion("geepack")),
  entries = list(overlap = case("overlap", 365, 730, c("logbili", "albumin", "edema"), TRUE, FALSE, as.integer(Sys.getenv("DRAWS", "200"))),
    apart = case("apart", 730, 730, "logbili", FALSE, TRUE, 0)))
writeLines(toJSON(res, auto_unbox = TRUE, digits = NA, null = "null", pretty = TRUE), "expected.json")
