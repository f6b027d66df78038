# Expected values of degrees of freedom by the method of Kenward and Roger.
# Run in this folder: Rscript kenward.R > kenward.json   (R 4.2.2, lme4 1.1-31, pbkrtest 0.5.2)
# It also writes kenward.csv, the drawn designs, which the tests read.
source("kenwardone.R")
set.seed(61)
d <- NULL
draw <- function(set, sizes, arms, between, pace, from = 0) {
  for (g in seq_along(sizes)) {
    b <- rnorm(2, 0, c(between, pace))
    for (t in sort(sample(from:9, sizes[g])))
      d <<- rbind(d, data.frame(set = set, group = g, t = t, arm = arms[g], y = round(50 + c(0, 2, 3)[arms[g]] + b[1] + (b[2] + 0.5) * t + rnorm(1), 3)))
  }
}
draw("few", c(2, 5, 3, 1, 4, 6, 2, 4), c(1, 2, 3, 1, 2, 3, 1, 2), 3, 0.6)
draw("bent", c(3, 7, 4, 2, 6, 5, 3, 5, 8, 1), c(1, 1, 2, 3, 2, 1, 3, 1, 2, 3), 2, 1.5)
draw("none", c(3, 4, 2, 5, 4, 3), c(1, 2, 3, 1, 2, 3), 0, 0)
draw("even", rep(3, 4), c(1, 1, 2, 2), 3, 0)
draw("least", c(2, 3, 2, 4), c(1, 2, 3, 1), 4, 0)
write.csv(d, "kenward.csv", row.names = FALSE)
d$a2 <- as.numeric(d$arm == 2); d$a3 <- as.numeric(d$arm == 3)
set <- function(s) d[d$set == s, ]
s <- read.csv("../../../testdata/published/sleepstudy/data.csv"); r <- s[(seq_len(nrow(s)) * 7) %% 11 > 2, ]
o <- read.csv("../../../testdata/published/orthodont/data.csv"); o$male <- as.numeric(o$Sex == "Male")
h <- o[seq_len(nrow(o)) %% 7 != 0 & !(o$Subject == "M01" & o$age > 8), ]
l <- read.csv("layers.csv")
b <- beets; b$limb <- paste0(b$block, b$harvest)
write.csv(b, "../../../testdata/published/beets/data.csv", row.names = FALSE)
both <- list(2:4, c(2, 4))
cat("{\n", paste(c(
  one("sleep_intercept", lmer(Reaction ~ Days + (1 | Subject), s, control = ctl)),
  one("sleep_slope", lmer(Reaction ~ Days + (Days | Subject), s, control = ctl), list(1:2)),
  one("sleep_apart", lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), s, control = ctl)),
  one("thinned_slope", lmer(Reaction ~ Days + (Days | Subject), r, control = ctl), list(1:2)),
  one("thinned_apart", lmer(Reaction ~ Days + (1 | Subject) + (0 + Days | Subject), r, control = ctl)),
  one("orthodont_intercept", lmer(distance ~ age * male + (1 | Subject), o, control = ctl), both),
  one("orthodont_slope", lmer(distance ~ age * male + (age | Subject), h, control = ctl), both),
  one("orthodont_apart", lmer(distance ~ age * male + (1 | Subject) + (0 + age | Subject), h, control = ctl), both),
  one("beets", lmer(sugpct ~ block + sow + harvest + (1 | limb), b, control = ctl), list(2:3, 4:7, 2:8)),
  one("few_intercept", lmer(y ~ t + a2 + a3 + (1 | group), set("few"), control = ctl), list(3:4, 2:4)),
  one("bent_slope", lmer(y ~ t + a2 + a3 + (t | group), set("bent"), control = ctl), list(3:4, 2:4)),
  one("bent_apart", lmer(y ~ t + a2 + a3 + (1 | group) + (0 + t | group), set("bent"), control = ctl), list(3:4, 2:4)),
  one("none_intercept", lmer(y ~ t + a2 + a3 + (1 | group), set("none"), control = ctl), list(3:4)),
  one("even_intercept", lmer(y ~ t + a2 + (1 | group), set("even"), control = ctl), list(2:3)),
  one("least_intercept", lmer(y ~ t + a2 + a3 + (1 | group), set("least"), control = ctl), list(3:4)),
  one("nested", lmer(y ~ t + g + (1 | person) + (t | limb), l, control = ctl), list(2:3)),
  one("slopes", lmer(y ~ t + g + (t | person) + (1 | limb), l, control = ctl), list(2:3)),
  one("slopes_apart", lmer(y ~ t + g + (1 | person) + (0 + t | person) + (1 | limb) + (0 + t | limb), l, control = ctl), list(2:3)),
  one("crossed", lmer(y ~ t + g + (1 | limb) + (1 | by), l, control = ctl), list(2:3)),
  one("all", lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), l, control = ctl), list(2:3)),
  one("penicillin", lmer(diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin, control = ctl)),
  one("pastes", lmer(strength ~ 1 + (1 | batch) + (1 | sample), Pastes, control = ctl))), collapse = ",\n"), "\n}\n", sep = "")
