# Rscript data.R writes data.csv: the lung cancer trial, with values taken away
# by chances that hang on the age and the time alone.
l <- read.csv("../lung/data.csv"); l <- l[!is.na(l$ph.ecog), ]
set.seed(20)
d <- data.frame(time = l$time, event = as.integer(l$status == 2), age = l$age, sex = c("male", "female")[l$sex],
  ecog = c("0", "1", "2+", "2+")[l$ph.ecog + 1], meal = l$meal.cal, loss = l$wt.loss)
p <- plogis(-1.7 + 0.05 * (d$age - 62) + 0.9 * (d$time < 200))
d$sex[runif(nrow(d)) < p * 0.8] <- NA
d$ecog[runif(nrow(d)) < p] <- NA
write.csv(d, "data.csv", row.names = FALSE, quote = FALSE, na = "")
