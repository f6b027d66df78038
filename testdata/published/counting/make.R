library(survival)
d <- "../"
v <- read.csv(paste0(d, "veteran/data.csv")); b <- read.csv(paste0(d, "bladder/data.csv"))
v$w <- 1 + v$age %% 3; v$o <- 0.02 * v$diagtime
num <- function(x) sprintf("%.17g", x)
vec <- function(x) paste0("[", paste(num(x), collapse = ", "), "]")
out <- c(); cc <- coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14)
add <- function(name, call, f) {
  s <- summary(f); rob <- if (!is.null(f$naive.var)) sqrt(diag(f$var)) else NULL
  se <- if (!is.null(f$naive.var)) sqrt(diag(f$naive.var)) else sqrt(diag(f$var))
  x <- paste0('    "', name, '": {"call": "', call, '", "coef": ', vec(coef(f)), ', "se": ', vec(se),
    if (!is.null(rob)) paste0(', "robust_se": ', vec(rob)), ', "loglik": ', vec(f$loglik),
    ', "score": ', num(f$score), ', "concordance": ', vec(s$concordance), '}')
  out <<- c(out, x)
}
add("weights", "coxph(Surv(time, status) ~ karno + age, veteran, weights = 1 + age %% 3)", coxph(Surv(time, status) ~ karno + age, v, weights = w, control = cc))
vv <- v[rep(seq_len(nrow(v)), v$w), ]
add("repeated", "the same without weights, each row repeated 1 + age %% 3 times", coxph(Surv(time, status) ~ karno + age, vv, control = cc))
add("weights_breslow", "coxph(Surv(time, status) ~ karno + age, veteran, weights = 1 + age %% 3, ties = 'breslow', robust = FALSE)", coxph(Surv(time, status) ~ karno + age, v, weights = w, ties = "breslow", robust = FALSE, control = cc))
add("offset", "coxph(Surv(time, status) ~ karno + age + offset(0.02 * diagtime), veteran)", coxph(Surv(time, status) ~ karno + age + offset(o), v, control = cc))
b$rx2 <- b$rx - 1
add("gap", "coxph(Surv(stop - start, event) ~ rx2 + number + size, bladder2, cluster = id), rx2 = rx - 1", coxph(Surv(stop - start, event) ~ rx2 + number + size, b, cluster = id, control = cc))
writeLines(c("{", '  "software": "R 4.2.2, survival 3.5-3; control = coxph.control(eps = 1e-13, iter.max = 60, toler.chol = 1e-14)",', '  "entries": {', paste(out, collapse = ",\n"), "  }", "}"), paste0(d, "counting/expected.json"))
