# Readings to come of one group: lme4's own predict for the value where it fits
# the model, and value, errors and degrees of freedom (no more than the rows leave)
# from dense matrices; degrees of freedom of variances.
# Run in this folder: Rscript foretell.R > foretell.json   (R 4.2.2, lme4 1.1-31, pbkrtest 0.5.2, numDeriv 2016.8-1.1)
suppressMessages({library(lme4); library(pbkrtest); library(numDeriv)})
ctl <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, check.conv.singular = "ignore",
                   optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-13, xtol_rel = 1e-14, ftol_abs = 1e-14, ftol_rel = 1e-16, maxeval = 1e5))
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
sleep <- read.csv("../../../testdata/published/sleepstudy/data.csv")
limbs <- read.csv("layers.csv")
source("closely.R")
write <- function(name, of, times, line, read, more = "") sprintf('"%s": {"of": %d, %s"time": %s, "line": %s, "line_known_se": %s, "line_se": %s, "line_df": %s, "estimate": %s, "known_se": %s, "se": %s, "df": %s}',
  name, of, more, num(times), num(line[1, ]), num(line[2, ]), num(line[3, ]), num(line[4, ]), num(read[1, ]), num(read[2, ]), num(read[3, ]), num(read[4, ]))

by_lmer <- function(name, f, new, of, what) {
  X <- getME(f, "X"); y <- getME(f, "y"); s2 <- sigma(f)^2
  vc <- VarCorr(f); J <- getME(f, "Ztlist"); fl <- getME(f, "flist")
  G <- kr <- vr <- NULL; par <- NULL
  Xn <- as.matrix(cbind(1, new[, colnames(X)[-1], drop = FALSE]))
  rows <- lapply(seq_len(nrow(new)), function(k) list(kr = NULL, vr = NULL))
  for (t in names(vc)) {
    grp <- sub("[.][0-9]+$", "", t); cols <- colnames(vc[[t]])
    j <- lapply(cols, function(z) as.matrix(J[[paste0(grp, ".", z)]]))
    for (a in seq_along(cols)) for (b in seq_len(a)) {
      G <- c(G, list(if (a == b) t(j[[a]]) %*% j[[a]] else t(j[[a]]) %*% j[[b]] + t(j[[b]]) %*% j[[a]])); par <- c(par, vc[[t]][a, b])
      for (k in seq_len(nrow(new))) {
        hit <- as.numeric(levels(fl[[grp]]) == new[[grp]][k])
        z <- sapply(cols, function(s) if (s == "(Intercept)") 1 else new[[s]][k])
        ja <- z[a] * hit; jb <- z[b] * hit
        rows[[k]]$kr <- cbind(rows[[k]]$kr, if (a == b) t(j[[a]]) %*% ja else t(j[[a]]) %*% jb + t(j[[b]]) %*% ja)
        rows[[k]]$vr <- c(rows[[k]]$vr, if (a == b) z[a]^2 else 2 * z[a] * z[b])
      }
    }
  }
  G <- c(G, list(diag(length(y)))); par <- c(par, s2)
  reml <- if (isREML(f)) as.matrix(vcovAdj(f))
  one <- function(reading) sapply(seq_len(nrow(new)), function(k) closely(y, X, G, par, cbind(rows[[k]]$kr, 0), c(rows[[k]]$vr, 0), Xn[k, ], reading, reml))
  read <- one(1); diagonal <- unlist(lapply(names(vc), function(t) unlist(lapply(seq_len(ncol(vc[[t]])), function(a) seq_len(a) == a))))
  of_variance <- sprintf('"variance": %s, "variance_df": %s, ', num(par[c(diagonal, TRUE)]), num(read[-(1:4), 1][c(diagonal, TRUE)]))
  stopifnot(max(abs(read[1, ] / predict(f, newdata = new, re.form = NULL) - 1)) < 1e-8)
  write(name, of, new[[what]], one(0), read, of_variance)
}

# Covariance of any kind: the likelihood is climbed here, and the allowance is
# from the slopes of the prediction and the curvature of the likelihood.
# logs: which of its parameters are logarithms of variances told of.
climbed <- function(name, of, y, X, V, par, times, x, line, read, more = "", logs = NULL) {
  ll <- function(q) {
    C <- tryCatch(chol(V(q)), error = function(e) NULL); if (is.null(C)) return(1e10)
    Wy <- backsolve(C, y, transpose = TRUE); WX <- backsolve(C, X, transpose = TRUE); A <- crossprod(WX)
    r <- Wy - WX %*% solve(A, crossprod(WX, Wy)); sum(log(diag(C))) + sum(r^2) / 2 + determinant(A)$modulus[1] / 2
  }
  par <- nlminb(par, ll, control = list(iter.max = 500, eval.max = 2000, rel.tol = 1e-14))$par
  for (i in 1:4) par <- par - as.vector(solve(hessian(ll, par), grad(ll, par)))
  cov <- solve(hessian(ll, par))
  if (!is.null(logs)) more <- paste0(more, sprintf('"variance": %s, "variance_df": %s, ', num(exp(par[logs])), num(2 / diag(cov)[logs])))
  one <- function(what) sapply(seq_along(times), function(j) {
    k <- function(q) what$k(q, j); v <- function(q) what$v(q, j); at <- function(q) told(y, X, V, k, v, x[j, ], q)
    a <- at(par); g <- grad(function(q) at(q)$at, par); h <- grad(function(q) { b <- at(q); b$known + b$fixed }, par)
    total <- a$known + a$fixed + 2 * sum(g * (cov %*% g))
    c(a$at, sqrt(a$known + a$fixed), sqrt(total), min(2 * total^2 / sum(h * (cov %*% h)), length(y) - ncol(X)))
  })
  write(name, of, times, one(line), one(read), more)
}
out <- NULL
s <- data.frame(Subject = 308, Days = c(10, 12, 20))
out <- c(out,
  by_lmer("slope", lmer(Reaction ~ Days + (Days | Subject), sleep, control = ctl), s, 308, "Days"),
  by_lmer("uncorrelated", lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), sleep, control = ctl), s, 308, "Days"),
  by_lmer("ml", lmer(Reaction ~ Days + (Days | Subject), sleep, REML = FALSE, control = ctl), s, 308, "Days"))
# Who measures cuts across the limbs: of these only the variances are asked.
by_crossed <- by_lmer("measured", lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), limbs, control = ctl), data.frame(person = 2, limb = 21, g = 0, by = 2, t = 14), 21, "t")
n <- data.frame(person = 2, limb = 21, g = 0, t = c(14, 24))
out <- c(out, by_crossed,
  by_lmer("nested", lmer(y ~ t + g + (1 | person) + (t | limb), limbs, control = ctl), n, 21, "t"),
  by_lmer("nested_slopes", lmer(y ~ t + g + (t | person) + (1 | limb), limbs, control = ctl), n, 21, "t"))

y <- sleep$Reaction; X <- cbind(1, sleep$Days); same <- outer(sleep$Subject, sleep$Subject, "=="); gap <- abs(outer(sleep$Days, sleep$Days, "-"))
mine <- as.numeric(sleep$Subject == 308); at <- c(10, 12, 20)
out <- c(out, climbed("ar1", 308, y, X, function(q) same * (exp(q[1]) + exp(q[3] - gap / exp(q[2]))), c(6, 0.7, 7), at, cbind(1, at),
  list(k = function(q, j) mine * exp(q[1]), v = function(q, j) exp(q[1])),
  list(k = function(q, j) mine * (exp(q[1]) + exp(q[3] - abs(at[j] - sleep$Days) / exp(q[2]))), v = function(q, j) exp(q[1]) + exp(q[3])), logs = c(1, 3)))

y <- limbs$y; X <- cbind(1, limbs$t, limbs$g); limb <- outer(limbs$limb, limbs$limb, "=="); person <- outer(limbs$person, limbs$person, "=="); by <- outer(limbs$by, limbs$by, "==")
tt <- outer(limbs$t, limbs$t); tsum <- outer(limbs$t, limbs$t, "+"); mine <- as.numeric(limbs$limb == 21); kin <- as.numeric(limbs$person == 2)
at <- c(14, 24); x <- cbind(1, at, 0); gap <- abs(outer(limbs$t, limbs$t, "-"))
# limb and measurer: exp(q) are limb, measurer, residual.
V <- function(q) exp(q[1]) * limb + exp(q[2]) * by + exp(q[3]) * diag(length(y))
line <- list(k = function(q, j) exp(q[1]) * mine, v = function(q, j) exp(q[1]))
for (b in c(2, 0)) out <- c(out, climbed(paste0("crossed_", b), 21, y, X, V, c(1, 1, 1), at, x, line,
  list(k = function(q, j) exp(q[1]) * mine + exp(q[2]) * (limbs$by == b), v = function(q, j) sum(exp(q))), sprintf('"by": %d, ', b)))
# person, limb with a pace of its own that goes with its level, measurer.
V <- function(q) exp(q[1]) * person + exp(q[2]) * by + exp(q[3]) * diag(length(y)) + limb * (q[4]^2 + q[4] * q[5] * tsum + (q[5]^2 + q[6]^2) * tt)
k <- function(q, j) exp(q[1]) * kin + mine * (q[4]^2 + q[4] * q[5] * (limbs$t + at[j]) + (q[5]^2 + q[6]^2) * limbs$t * at[j])
v <- function(q, j) exp(q[1]) + q[4]^2 + 2 * q[4] * q[5] * at[j] + (q[5]^2 + q[6]^2) * at[j]^2
f <- lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), limbs, control = ctl)
L <- t(chol(VarCorr(f)$limb)); from <- c(log(VarCorr(f)$person[1]), log(VarCorr(f)$by[1]), log(sigma(f)^2), L[1, 1], L[2, 1], L[2, 2])
for (b in c(3, 0)) out <- c(out, climbed(paste0("all_", b), 21, y, X, V, from, at, x, list(k = k, v = v),
  list(k = function(q, j) k(q, j) + exp(q[2]) * (limbs$by == b), v = function(q, j) v(q, j) + exp(q[2]) + exp(q[3])), sprintf('"by": %d, ', b)))
# residuals of several sizes: limb, then the residual of each who measures.
V <- function(q) exp(q[1]) * limb + diag(exp(q[1 + limbs$by]))
share <- as.vector(table(limbs$by)) / length(y)
for (b in c(4, 0)) out <- c(out, climbed(paste0("spread_", b), 21, y, X, V, rep(1, 5), at, x, line,
  list(k = function(q, j) exp(q[1]) * mine, v = function(q, j) exp(q[1]) + if (b > 0) exp(q[1 + b]) else sum(share * exp(q[2:5]))), sprintf('"by": %d, ', b), 1:5))
# the same with correlation in time, its range the last.
V <- function(q) limb * (exp(q[1]) + exp(-gap / exp(q[6])) * outer(exp(q[1 + limbs$by] / 2), exp(q[1 + limbs$by] / 2)))
out <- c(out, climbed("serial_spread_4", 21, y, X, V, c(3, 1, 1, 1, 1, 0.5), at, x, line,
  list(k = function(q, j) mine * (exp(q[1]) + exp(-abs(limbs$t - at[j]) / exp(q[6])) * exp(q[5] / 2) * exp(q[1 + limbs$by] / 2)), v = function(q, j) exp(q[1]) + exp(q[5])), '"by": 4, ', 1:5))
# correlation in time beside who measures: limb, measurer, residual, range.
V <- function(q) limb * (exp(q[1]) + exp(q[3] - gap / exp(q[4]))) + exp(q[2]) * by
for (b in c(2, 0)) out <- c(out, climbed(paste0("serial_crossed_", b), 21, y, X, V, c(3, 1, 1, 0.5), at, x, line,
  list(k = function(q, j) mine * (exp(q[1]) + exp(q[3] - abs(limbs$t - at[j]) / exp(q[4]))) + exp(q[2]) * (limbs$by == b), v = function(q, j) sum(exp(q[1:3]))), sprintf('"by": %d, ', b)))
cat("{\n  ", paste(out, collapse = ",\n  "), "\n}\n", sep = "")
