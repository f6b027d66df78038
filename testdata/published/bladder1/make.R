# Rscript make.R, in this folder. R 4.2.2, survival 3.5-3, jsonlite.
library(survival)
library(jsonlite)
b <- bladder1[, c("id", "treatment", "start", "stop", "status")]
write.csv(b, "data.csv", row.names = FALSE, quote = FALSE)
last <- b[!duplicated(b$id, fromLast = TRUE), ]
last$died <- as.integer(last$status >= 2)
# The mean number of recurrences, with the dead counted (Ghosh and Lin 2000):
# the sum over recurrence times of the share alive just before (survfit of the
# time to death) times the step of the cumulative hazard (survfit of the
# recurrences), each subject weighted by w.
mean_at <- function(ids, w, times) {
  x <- b[b$id %in% ids & b$stop > b$start, ]
  l <- last[last$id %in% ids, ]
  km <- survfit(Surv(stop, died) ~ 1, l, weights = w[as.character(l$id)])
  na <- survfit(Surv(start, stop, status == 1) ~ 1, x, weights = w[as.character(x$id)], id = x$id)
  step <- diff(c(0, na$cumhaz))
  alive <- stepfun(km$time, c(1, km$surv), right = TRUE) # just before
  m <- cumsum(alive(na$time) * step)
  stepfun(na$time, c(0, m))(times)
}
times <- c(6, 12, 24, 36, 48)
out <- list()
for (g in levels(b$treatment)) {
  ids <- unique(b$id[b$treatment == g])
  w <- setNames(rep(1, length(ids)), ids)
  m <- mean_at(ids, w, times)
  h <- 1e-4
  d <- sapply(as.character(ids), function(i) {
    up <- w; up[i] <- 1 + h; down <- w; down[i] <- 1 - h
    (mean_at(ids, up, times) - mean_at(ids, down, times)) / (2 * h)
  })
  out[[g]] <- list(n = length(ids), events = sum(b$status == 1 & b$treatment == g), deaths = sum(last$died[last$treatment == g]),
    time = times, mean = m, std_error = sqrt(rowSums(d^2)))
}
# The test: sums over recurrence times of Y1 Y2 / Y (dm1 - dm2), and its
# variance by the same derivative with the weights Y1 Y2 / Y held fixed.
steps <- function(ids, w, tt) diff(c(0, mean_at(ids, w, tt)))
test <- function(g1, g2) {
  tt <- sort(unique(b$stop[b$status == 1]))
  at <- function(g) sapply(tt, function(t) sum(last$stop[last$treatment == g] >= t))
  k <- at(g1) * at(g2) / (at(g1) + at(g2))
  u <- function(w1, w2, i1, i2) sum(k * (steps(i1, w1, tt) - steps(i2, w2, tt)))
  i1 <- unique(b$id[b$treatment == g1]); i2 <- unique(b$id[b$treatment == g2])
  w1 <- setNames(rep(1, length(i1)), i1); w2 <- setNames(rep(1, length(i2)), i2)
  h <- 1e-4
  d1 <- sapply(as.character(i1), function(i) { up <- w1; up[i] <- 1 + h; down <- w1; down[i] <- 1 - h; (u(up, w2, i1, i2) - u(down, w2, i1, i2)) / (2 * h) })
  d2 <- sapply(as.character(i2), function(i) { up <- w2; up[i] <- 1 + h; down <- w2; down[i] <- 1 - h; (u(w1, up, i1, i2) - u(w1, down, i1, i2)) / (2 * h) })
  s <- u(w1, w2, i1, i2); v <- sum(d1^2) + sum(d2^2)
  list(u = s, variance = v, chisq = s^2 / v, df = 1, p = pchisq(s^2 / v, 1, lower.tail = FALSE))
}
out[["placebo_thiotepa"]] <- test("placebo", "thiotepa")
# Exact Poisson interval of the rate.
p <- poisson.test(out$placebo$events, sum(last$stop[last$treatment == "placebo"]))
out[["placebo_rate"]] <- list(estimate = unname(p$estimate), low = p$conf.int[1], high = p$conf.int[2])
write_json(list(software = "R 4.2.2, survival 3.5-3", entries = out), "expected.json", auto_unbox = TRUE, digits = NA, pretty = TRUE)
