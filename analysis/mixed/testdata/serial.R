# Expected values for random intercepts with a correlation of the residuals
# that falls off with time, on data that are not balanced.
# The search starts near the optimum: from its usual start lme can run off to a
# correlation of 1, where rounding makes the matrix singular and the likelihood
# meaningless (at correlations fixed from 0.5 to 0.999999 the optimum shown holds).
# Run in this folder: Rscript serial.R > serial.json   (nlme 3.1-162)
library(nlme)
s <- read.csv("../../../testdata/published/sleepstudy/data.csv")
s <- s[(seq_len(nrow(s)) * 7) %% 11 > 2, ]
num <- function(v) paste0("[", paste(sprintf("%.15g", v), collapse = ", "), "]")
one <- function(name, method) {
  f <- lme(Reaction ~ Days, random = ~ 1 | Subject, correlation = corCAR1(0.65, form = ~ Days | Subject), data = s, method = method,
           control = lmeControl(opt = "nlminb", msMaxIter = 500, niterEM = 0, tolerance = 1e-12, msTol = 1e-14))
  phi <- as.numeric(coef(f$modelStruct$corStruct, unconstrained = FALSE))
  sprintf('  "%s": {"coef": %s, "se": %s, "sigma": %.15g, "sd": %.15g, "phi": %.15g, "loglik": %.15g, "modes": %s, "groups": [%s]}',
          name, num(fixef(f)), num(sqrt(diag(f$varFix))), f$sigma, sqrt(as.numeric(getVarCov(f))), phi, as.numeric(logLik(f)), num(ranef(f)[, 1]),
          paste0('"', rownames(ranef(f)), '"', collapse = ", "))
}
cat("{\n", paste(c(one("reml", "REML"), one("ml", "ML")), collapse = ",\n"), "\n}\n", sep = "")
