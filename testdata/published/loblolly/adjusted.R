# Errors and degrees of freedom of the asymptotic regression to the heights of
# Loblolly pines, by the method of Kenward and Roger: lme4 and pbkrtest on the
# tangent at the fit of make.R; of what is foretold of one seed source by
# analysis/mixed/testdata/closely.R. Run in this folder: Rscript adjusted.R
suppressMessages({library(nlme); library(lme4); library(pbkrtest); library(numDeriv); library(jsonlite)})
source("../../../analysis/mixed/testdata/closely.R")
e <- fromJSON("expected.json")$entries; d <- read.csv("data.csv"); d$Seed <- factor(d$Seed)
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, check.conv.singular = "ignore", check.nobs.vs.nRE = "ignore",
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
out <- list()
for (n in names(e)) {
  f <- e[[n]]$fit; share <- grepl("^share", n); rate <- grepl("rate$", n)
  b <- unlist(f$fixed)[c("plateau", if (share) "drop" else "initial", "log_rate")]
  modes <- as.matrix(f$modes)[match(levels(d$Seed), f$seeds), , drop = FALSE]
  vary <- if (rate) c(1, 3) else 1
  at <- function(age, seed) {
    c <- b; c[vary] <- c[vary] + modes[seed, ]; r <- exp(c[3]); g <- exp(-r * age)
    if (share) list(v = c[1] * (1 + c[2] * g), s = c(1 + c[2] * g, c[1] * g, -c[1] * c[2] * g * r * age))
    else list(v = c[1] + (c[2] - c[1]) * g, s = c(1 - g, g, -(c[2] - c[1]) * g * r * age))
  }
  X <- t(mapply(function(a, k) at(a, k)$s, d$age, as.integer(d$Seed)))
  w <- d$height - mapply(function(a, k) at(a, k)$v, d$age, as.integer(d$Seed)) + X %*% b + rowSums(X[, vary, drop = FALSE] * modes[as.integer(d$Seed), , drop = FALSE])
  t <- data.frame(w = w, a = X[, 1], b = X[, 2], c = X[, 3], Seed = d$Seed)
  m <- if (rate) lmer(w ~ 0 + a + b + c + (0 + a + c | Seed), t, control = ctl) else lmer(w ~ 0 + a + b + c + (0 + a | Seed), t, control = ctl)
  V <- vcovAdj(m)
  same <- outer(d$Seed, d$Seed, "=="); J <- X[, vary, drop = FALSE]; vc <- as.matrix(VarCorr(m)$Seed)
  mine <- as.numeric(d$Seed == "301"); k301 <- which(levels(d$Seed) == "301")
  G <- list(); par <- NULL; pairs <- list()
  for (i in seq_along(vary)) for (j in seq_len(i)) {
    G <- c(G, list(same * if (i == j) outer(J[, i], J[, i]) else outer(J[, i], J[, j]) + outer(J[, j], J[, i]))); par <- c(par, vc[i, j]); pairs <- c(pairs, list(c(i, j)))
  }
  G <- c(G, list(diag(nrow(d)))); par <- c(par, sigma(m)^2)
  one <- function(reading) sapply(f$foretold$ages, function(age) {
    x <- at(age, k301)$s; z <- x[vary]
    kr <- sapply(pairs, function(p) mine * if (p[1] == p[2]) J[, p[1]] * z[p[1]] else J[, p[1]] * z[p[2]] + J[, p[2]] * z[p[1]])
    vr <- sapply(pairs, function(p) if (p[1] == p[2]) z[p[1]]^2 else 2 * z[p[1]] * z[p[2]])
    closely(w, X, G, par, cbind(kr, 0), c(vr, 0), x, reading, as.matrix(V))
  })
  line <- one(0); read <- one(1)
  out[[n]] <- list(se = as.list(setNames(sqrt(diag(as.matrix(V))), names(b))), df = as.list(setNames(sapply(1:3, function(k) Lb_ddf(as.numeric(1:3 == k), vcov(m), V)), names(b))),
    curve_se = line[3, ], curve_df = line[4, ], reading_se = read[3, ], reading_df = read[4, ])
}
write_json(list(software = paste(R.version.string, "lme4", packageVersion("lme4"), "pbkrtest", packageVersion("pbkrtest")), entries = out), "adjusted.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)
