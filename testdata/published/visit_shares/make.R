# Rscript make.R in this folder writes expected.json. R 4.2.2, sandwich.
library(sandwich)

# limits are those of Korn and Graubard (1998): the variance of the share from
# sums over persons, the number of visits that independent ones would have had
# (corrected for the degrees of freedom, never above the real number), and the
# beta quantiles of Clopper and Pearson at that number.
limits <- function(x, id, level = 0.95) {
  a <- (1 - level) / 2
  n <- length(x); G <- length(unique(id)); p <- mean(x)
  m <- n
  se <- NA
  if (p > 0 && p < 1) {
    v <- vcovCL(lm(x ~ 1), cluster = id, type = "HC0", cadjust = TRUE)[1, 1]
    se <- sqrt(v)
    if (G < n) m <- min(n, p * (1 - p) / v * (qt(a, n - 1) / qt(a, G - 1))^2)
  }
  k <- m * p
  list(visits = n, with = sum(x), persons = G, share = p, std_error = se, effective = m,
       low = if (k == 0) 0 else qbeta(a, k, m - k + 1), high = if (k >= m) 1 else qbeta(1 - a, k + 1, m - k))
}

# change puts the limits of two shares together (Zou and Donner 2008), with
# the correlation that persons seen in both times bring about.
change <- function(x, id, since, level = 0.95) {
  b <- limits(x[!since], id[!since], level); s <- limits(x[since], id[since], level)
  z <- function(w) tapply((x - mean(x[w])) * w / sum(w), id, sum)
  zb <- z(!since); zs <- z(since)
  r <- sum(zb * zs) / sqrt(sum(zb^2) * sum(zs^2))
  d <- s$share - b$share
  join <- function(u, v) sqrt(u^2 + v^2 - 2 * r * u * v)
  list(before = b, since = s, correlation = r, difference = d,
       low = d - join(s$share - s$low, b$high - b$share), high = d + join(s$high - s$share, b$share - b$low))
}

ohio <- read.csv("../ohio/data.csv")
cbpp <- read.csv("data.csv")
names(cbpp) <- tolower(names(cbpp))
each <- cbpp[rep(seq_len(nrow(cbpp)), cbpp$size), ]
each$ill <- unlist(lapply(seq_len(nrow(cbpp)), function(i) rep(1:0, c(cbpp$incidence[i], cbpp$size[i] - cbpp$incidence[i]))))
cat(R.version.string, "\n")

# The limits themselves beside the tables of exact ones.
exact <- lapply(list(c(0, 30), c(3, 30), c(30, 30)), function(v) as.numeric(binom.test(v[1], v[2])$conf.int))
show <- function(x) {
  if (is.list(x)) paste0("{", paste0('"', names(x), '":', vapply(x, show, ""), collapse = ","), "}")
  else if (length(x) > 1) paste0("[", paste(vapply(x, show, ""), collapse = ","), "]")
  else if (is.na(x)) "null" else format(x, digits = 16)
}
out <- list(ohio = limits(ohio$resp, ohio$id), ohio90 = limits(ohio$resp, ohio$id, 0.9),
  ohio_change = change(ohio$resp, ohio$id, ohio$age >= 0),
  cbpp = limits(each$ill, each$herd), cbpp_change = change(each$ill, each$herd, each$period > 1),
  exact = list(none = exact[[1]], few = exact[[2]], all = exact[[3]]))
cat(show(out), "\n", file = "expected.json", sep = "")
