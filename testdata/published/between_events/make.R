# Rscript make.R > expected.json
n <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
g <- c(17, 6, 15, 26, 12, 9, 31, 4, 22, 8, 14, 19)
m <- mean(g)
d <- c(52, 31, 127, 88, 14, 203, 66, 99, 45, 71, 160, 23)
y <- d^(1 / 3.6)
s <- mean(abs(diff(y))) / (2 / sqrt(pi))
means <- c(.2, 1, 3.7, 15.25, 99, 740, 2500)
q <- function(p) sapply(means, function(m) qgeom(p, 1 / (m + 1)))
tail <- pnorm(-3)
cat('{"g": {"between":', n(g), ', "mean":', n(m)[1], ', "median":', n(median(g)), ', "upper":', n(qgeom(1 - tail, 1 / (m + 1))),
    ', "lower":', n(qgeom(tail, 1 / (m + 1))), ', "three_sd":', n(m + 3 * sqrt(m * (m + 1))), ', "beyond_three_sd":',
    n(pgeom(floor(m + 3 * sqrt(m * (m + 1))), 1 / (m + 1), lower.tail = FALSE)), '},\n',
    '"geometric": {"mean":', n(means), ', "upper":', n(q(1 - tail)), ', "lower":', n(q(tail)), '},\n',
    '"t": {"days":', n(d), ', "centre":', n(mean(y)^3.6), ', "upper":', n((mean(y) + 3 * s)^3.6),
    ', "lower":', n(max(0, mean(y) - 3 * s)^3.6), '}}\n')
