# Rscript make.R > expected.json
n <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
laney <- function(x, size, se) {
  c0 <- sum(x) / sum(size)
  s <- se(c0, size)
  sz <- mean(abs(diff((x / size - c0) / s))) / (2 / sqrt(pi))
  paste0('{"numerator": ', n(x), ', "denominator": ', n(size), ', "centre": ', n(c0), ', "sigma_z": ', n(sz),
         ', "lower": ', n(pmax(0, c0 - 3 * s * sz)), ', "upper": ', n(c0 + 3 * s * sz), '}')
}
p <- function(c0, n) sqrt(c0 * (1 - c0) / n)
u <- function(c0, n) sqrt(c0 / n)
j <- read.csv("../juice_p/data.csv")
x <- c(412, 655, 390, 580, 701, 433, 520, 760, 498, 610, 377, 590, 540, 470, 682, 455)
size <- c(2100, 2600, 1900, 2500, 2700, 2200, 2400, 2900, 2300, 2450, 2050, 2350, 2600, 2150, 2550, 2250)
cat('{"juice": ', laney(j$defective, j$n, p), ',\n"p": ', laney(x, size, p), ',\n"u": ', laney(x, size / 100, u), '}\n', sep = "")
