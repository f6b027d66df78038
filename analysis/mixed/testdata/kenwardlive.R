# Draws random designs, writes them to the file named, and prints what pbkrtest
# says of each: Rscript kenwardlive.R designs.csv
source("kenwardone.R")
set.seed(7)
d <- NULL; cases <- NULL
for (k in 1:36) {
  kind <- c("intercept", "slope", "apart", "crossed")[1 + k %% 4]
  groups <- sample(6:25, 1); sizes <- sample(1:9, groups, TRUE); g <- rep(1:groups, sizes); n <- length(g)
  t <- round(runif(n, 0, 12), 2); arm <- sample(1:3, groups, TRUE)[g]; by <- sample(1:5, n, TRUE); w <- round(rnorm(n), 3)
  y <- round(20 + rnorm(groups, 0, runif(1, 0, 4))[g] + rnorm(groups, 0, runif(1, 0, 0.6))[g] * t + arm + rnorm(5)[by] + 0.3 * w + rnorm(n), 4)
  one_set <- data.frame(set = k, kind = kind, group = g, t = t, a2 = +(arm == 2), a3 = +(arm == 3), by = by, w = w, y = y)
  if (qr(model.matrix(~ t + a2 + a3 + w, one_set))$rank < 5) next
  form <- switch(kind, intercept = y ~ t + a2 + a3 + w + (1 | group), slope = y ~ t + a2 + a3 + w + (t | group),
                 apart = y ~ t + a2 + a3 + w + (1 | group) + (0 + t | group), crossed = y ~ t + a2 + a3 + w + (1 | group) + (1 | by))
  cases <- c(cases, suppressWarnings(one(as.character(k), lmer(form, one_set, control = ctl), list(3:4, 2:5))))
  d <- rbind(d, one_set)
}
write.csv(d, commandArgs(TRUE)[1], row.names = FALSE)
cat("{\n", paste(cases, collapse = ",\n"), "\n}\n", sep = "")
