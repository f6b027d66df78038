# Fits of the asymptotic regression to the heights of Loblolly pines, with
# nlme driven to its limit. Run in this folder: Rscript make.R
library(nlme); library(jsonlite)
d <- read.csv("data.csv"); d$Seed <- factor(d$Seed)
L <- groupedData(height ~ age | Seed, d)
con <- nlmeControl(tolerance = 1e-9, pnlsTol = 1e-6, pnlsMaxIter = 100, maxIter = 500, msMaxIter = 500, minScale = 1e-8)
out <- function(f, call) {
  v <- as.matrix(f$modelStruct$reStruct[[1]]) * f$sigma^2; b <- as.matrix(random.effects(f))
  list(call = call, fit = list(fixed = as.list(fixef(f)), se = as.list(sqrt(diag(f$varFix))), cov = unclass(v)[seq_len(nrow(v)), , drop = FALSE],
       sigma = f$sigma, loglik = as.numeric(logLik(f)), seeds = rownames(b), modes = unname(b)))
}
init <- function(age, plateau, initial, log_rate) { e <- exp(-exp(log_rate) * age); plateau + (initial - plateau) * e }
share <- function(age, plateau, drop, log_rate) plateau * (1 + drop * exp(-exp(log_rate) * age))
fit <- function(model, fixed, random, start) tryCatch(do.call(nlme, list(model, L, fixed = fixed, random = random, start = start, control = con)), error = function(e) { message(conditionMessage(e)); NULL })
i3 <- plateau + initial + log_rate ~ 1; s3 <- plateau + drop + log_rate ~ 1
mi <- height ~ init(age, plateau, initial, log_rate); ms <- height ~ share(age, plateau, drop, log_rate)
si <- c(103, -8.5, -3.3); ss <- c(103, -1.08, -3.3)
f <- list(initial_plateau = fit(mi, i3, plateau ~ 1 | Seed, si), share_plateau = fit(ms, s3, plateau ~ 1 | Seed, ss),
          initial_plateau_rate = fit(mi, i3, plateau + log_rate ~ 1 | Seed, si), share_plateau_rate = fit(ms, s3, plateau + log_rate ~ 1 | Seed, ss))
f <- f[!sapply(f, is.null)]
call <- c(initial_plateau = "A + (S - A) exp(-exp(l) age); random A | Seed", share_plateau = "A (1 + d exp(-exp(l) age)); random A | Seed",
          initial_plateau_rate = "A + (S - A) exp(-exp(l) age); random A and l | Seed", share_plateau_rate = "A (1 + d exp(-exp(l) age)); random A and l | Seed")
e <- sapply(names(f), function(n) out(f[[n]], call[[n]]), simplify = FALSE)
# What is foretold of one seed source, one and two years of 365.25 days after age 25, years being of 365 days.
ages <- 25 + c(1, 2) * 365.25 / 365
for (n in names(e)) e[[n]]$fit$foretold <- list(seed = "301", ages = ages, heights = as.numeric(predict(f[[n]], data.frame(age = ages, Seed = "301"), level = 1)))
for (n in names(e)) { cat(n, "\n"); str(e[[n]]$fit[1:5], digits.d = 12) }
write_json(list(software = paste(R.version.string, "nlme", packageVersion("nlme")), entries = e), "expected.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)
