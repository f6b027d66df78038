# Rscript make.R > expected.json
N <- function(x) paste0("[", paste(sprintf("%.17g", as.numeric(x)), collapse = ", "), "]")
line <- function(p, q, prob, up) { # r - a below, r - a + 1 above
  r <- q(prob); a <- (p(r) - prob) / (p(r) - p(r - 1)); pmax(0, r - a + up)
}
lims <- function(p, q) c(line(p, q, .025, 0), line(p, q, .975, 1), line(p, q, .001, 0), line(p, q, .999, 1))
# Poisson
m <- c(5, 7.3, 12, 40.5, 150, 1000)
P <- t(sapply(m, function(m) lims(function(r) ppois(r, m), function(p) qpois(p, m))))
# Unequal trials: the distribution by the discrete Fourier transform of its characteristic function
dft <- function(pr) { n <- length(pr); w <- 2 * pi / (n + 1); k <- 0:n
  cf <- sapply(k, function(l) prod(1 - pr + pr * exp(1i * w * l)))
  cumsum(pmax(0, Re(fft(cf) / (n + 1)))) }
set.seed(7); mix <- list(); O <- c(); cat("{")
names <- LETTERS[1:10]; n <- c(22, 30, 35, 41, 48, 55, 64, 75, 90, 120)
tab <- NULL
for (i in seq_along(n)) {
  pr <- round(plogis(rnorm(n[i], -1 + .3 * (i %% 3), .8)), 3); F <- dft(pr)
  p <- function(r) ifelse(r < 0, 0, F[r + 1]); q <- function(x) min(which(F >= x - 1e-15)) - 1
  o <- rbinom(1, n[i], min(.9, mean(pr) * c(1, 1.9, .7, 1.2)[1 + i %% 4]))
  z <- (o - sum(pr)) / sqrt(sum(pr * (1 - pr)))
  tab <- rbind(tab, c(o, sum(pr), z, lims(p, q), p(o), 1 - p(o - 1)))
  mix[[i]] <- pr
}
z <- tab[, 3]; w <- pmin(pmax(z, quantile(z, .1)), quantile(z, .9)); phi <- mean(w^2)
cat('"poisson": {"mean":', N(m), ', "lower_95":', N(P[, 1]), ', "upper_95":', N(P[, 2]), ', "lower_998":', N(P[, 3]), ', "upper_998":', N(P[, 4]), '},\n')
cat('"units": {"chances": [', paste(sapply(mix, N), collapse = ",\n"), '],\n')
for (j in 1:9) cat('"', c("observed", "expected", "z", "lower_95", "upper_95", "lower_998", "upper_998", "tail_below", "tail_above")[j], '": ', N(tab[, j]), ',\n', sep = "")
cat('"dispersion": ', N(phi), ', "spread_p": ', N(pchisq(10 * phi, 10, lower.tail = FALSE)), '}}\n', sep = "")
