# Rscript units.R > units.json
library(MASS)
N <- function(x) paste0("[", paste(sprintf("%.17g", as.numeric(x)), collapse = ", "), "]")
line <- function(p, q, prob, up) { r <- q(prob); a <- (p(r) - prob) / (p(r) - p(r - 1)); max(0, r - a + up) }
dft <- function(pr) { n <- length(pr); w <- 2 * pi / (n + 1); k <- 0:n
  cf <- sapply(k, function(l) prod(1 - pr + pr * exp(1i * w * l))); cumsum(pmax(0, Re(fft(cf) / (n + 1)))) }
lims <- function(pr) { F <- dft(pr); p <- function(r) ifelse(r < 0, 0, F[r + 1]); q <- function(x) min(which(F >= x - 1e-15)) - 1
  c(line(p, q, .025, 0), line(p, q, .975, 1), line(p, q, .001, 0), line(p, q, .999, 1)) }
show <- function(unit, y, pr) { u <- sort(unique(as.character(unit)))
  L <- t(sapply(u, function(x) lims(pr[unit == x])))
  paste0('{"unit": [', paste0('"', u, '"', collapse = ", "), '], "rows": ', N(sapply(u, function(x) sum(unit == x))), ', "observed": ', N(sapply(u, function(x) sum(y[unit == x]))),
   ', "expected": ', N(sapply(u, function(x) sum(pr[unit == x]))), ', "lower_95": ', N(L[, 1]), ', "upper_95": ', N(L[, 2]), ', "lower_998": ', N(L[, 3]), ', "upper_998": ', N(L[, 4]), '}') }
b <- birthwt; b$race <- c("white", "black", "other")[b$race]; b$smoke <- ifelse(b$smoke == 1, "yes", "no"); b$ht <- ifelse(b$ht == 1, "yes", "no")
m <- glm(low ~ age + lwt + ht, binomial, b, control = list(epsilon = 1e-14, maxit = 100))
s <- ave(b$low, b$smoke)
cat('{"model": ', show(b$race, b$low, fitted(m)), ',\n"strata": ', show(b$race, b$low, s), ',\n"plain": ', show(b$race, b$low, rep(mean(b$low), nrow(b))), '}\n', sep = "")
write.csv(b[, c("low", "age", "lwt", "race", "smoke", "ht")], "data.csv", row.names = FALSE, quote = FALSE)
