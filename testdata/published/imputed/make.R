# Rscript make.R writes expected.json from data.csv and completed.csv.
suppressMessages({library(survival); library(mice); library(jsonlite)})
d <- read.csv("data.csv", na.strings = "", colClasses = c(sex = "character", ecog = "character"))
d$sex <- factor(d$sex, c("male", "female")); d$ecog <- factor(d$ecog, c("1", "0", "2+"))
f <- Surv(time, event) ~ age + sex + ecog + meal + loss
cc <- coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14)
say <- function(p) { s <- summary(p); q <- p$pooled
  list(term = as.character(s$term), estimate = s$estimate, se = s$std.error, df = s$df, between = q$b, within = q$ubar, riv = q$riv, lambda = q$lambda, fmi = q$fmi) }
complete <- coxph(f, d, control = cc)
# 300 tables by mice, whose random numbers are its own. Its polyreg takes the
# coefficients as known; this one draws them, as logreg and pmm do.
mice.impute.drawn <- function(y, ry, x, wy = NULL, ...) {
  if (is.null(wy)) wy <- !ry
  a <- mice:::augment(y, ry, as.matrix(x), wy)
  X <- cbind(1, as.matrix(a$x)); z <- droplevels(a$y[a$ry]); Z <- X[a$ry, ]; w <- a$w[a$ry]
  m <- nnet::multinom(z ~ Z - 1, weights = w, maxit = 500, reltol = 1e-12, trace = FALSE, Hess = TRUE)
  b <- as.vector(t(coef(m))); b <- b + drop(t(chol(solve(m$Hessian))) %*% rnorm(length(b)))
  eta <- cbind(0, X[a$wy, , drop = FALSE] %*% matrix(b, ncol = nlevels(z) - 1)); p <- exp(eta - apply(eta, 1, max)); p <- p / rowSums(p)
  factor(levels(z)[apply(p, 1, function(q) sample(length(q), 1, prob = q))], levels(y))
}
e <- d; e$hazard <- nelsonaalen(e, time, event); e$event <- e$event
start <- mice(e, maxit = 0); pm <- start$predictorMatrix; pm[, "time"] <- 0; pm["time", ] <- 0
i <- mice(e, m = 300, maxit = 10, predictorMatrix = pm, method = replace(start$method, c("sex", "ecog", "meal", "loss"), c("logreg", "drawn", "pmm", "pmm")), seed = 7, printFlag = FALSE)
chained <- pool(with(i, coxph(Surv(time, event) ~ age + sex + ecog + meal + loss, control = coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14))))
# The five tables beside this file, each fitted and put together by pool.
z <- read.csv("completed.csv", colClasses = c(sex = "character", ecog = "character"))
z$sex <- factor(z$sex, c("male", "female")); z$ecog <- factor(z$ecog, c("1", "0", "2+"))
fits <- lapply(split(z, z$set), function(x) coxph(f, x, control = cc))
rules <- pool(as.mira(fits))
robust <- function(x) sqrt(diag(vcov(coxph(Surv(time, event) ~ age + sex + ecog + meal + loss, x, cluster = ward, control = cc))))
z$ward <- (seq_len(nrow(z)) - 1) %% nrow(d) %/% 3
U <- sapply(split(z, z$set), robust)^2
out <- list(software = paste0(R.version.string, "; survival ", packageVersion("survival"), ", mice ", packageVersion("mice")),
  entries = list(complete_case = list(n = complete$n, events = complete$nevent, coef = unname(coef(complete)), se = unname(sqrt(diag(vcov(complete))))),
    mice = say(chained), rules = say(rules), grouped_within = unname(rowMeans(U))))
writeLines(toJSON(out, auto_unbox = TRUE, digits = NA, pretty = TRUE), "expected.json")
