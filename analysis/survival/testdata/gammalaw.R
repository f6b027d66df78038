# Writes gammalaw.json: the generalised gamma law by the library's own
# incomplete gamma function. Run in this folder: Rscript gammalaw.R
# R 4.2.2: rows of q, z, log density, log upper tail, log lower tail.
suppressPackageStartupMessages(library(jsonlite))
tail <- function(z, q, upper) if (q == 0) pnorm(z, lower.tail = !upper, log.p = TRUE) else { k <- 1 / q^2; pgamma(k * exp(q * z), k, lower.tail = if (q > 0) !upper else upper, log.p = TRUE) }
dens <- function(z, q) if (q == 0) dnorm(z, log = TRUE) else { k <- 1 / q^2; u <- k * exp(q * z); dgamma(u, k, log = TRUE) + log(u) + log(abs(q)) }
g <- expand.grid(z = c(-30, -8, -4, -2, -1, -0.25, 0, 0.25, 1, 2, 4, 8), q = c(-6, -3, -1, -0.5, -0.1, -0.01, 0, 0.01, 0.1, 0.3, 0.5, 1, 2, 4, 8))
m <- t(mapply(function(q, z) c(q, z, dens(z, q), tail(z, q, TRUE), tail(z, q, FALSE)), g$q, g$z))
m <- m[apply(m, 1, function(r) all(is.finite(r)) && all(r[3:5] > -1e5 & r[4:5] < -1e-280)), ] # what a double can hold
writeLines(toJSON(list(law = m), digits = I(15)), "gammalaw.json")
