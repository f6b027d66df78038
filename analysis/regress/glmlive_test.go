package regress

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// liveScript fits each design of the file by R's glm (4.2.2, which takes one
// step more from its own estimate, so that its errors are of the end) or
// MASS::glm.nb (7.3-58.2), and prints design, log likelihood, theta,
// coefficients, errors.
const liveScript = `suppressPackageStartupMessages(library(MASS))
d <- read.csv(%q); ct <- glm.control(epsilon = 1e-14, maxit = 200)
for (k in unique(d$design)) { s <- d[d$design == k, ]; X <- as.matrix(s[, c("x1", "x2", "x3")]); o <- s$offset; w <- s$weight; y <- s$y
  f <- suppressWarnings(try({ if (s$family[1] == "negbin") { g <- glm.nb(y ~ X + offset(o), weights = w, control = ct); for (i in 1:60) { g <- glm(y ~ X + offset(o), family = negative.binomial(th <- if (i == 1) g$theta else th), weights = w, start = coef(g), control = ct); mu <- fitted(g)
      u <- sum(w * (digamma(th + y) - digamma(th) + log(th) + 1 - log(th + mu) - (y + th) / (mu + th))); h <- sum(w * (trigamma(th) - trigamma(th + y) - 1 / th + 2 / (mu + th) - (y + th) / (mu + th)^2)); th <- th + u / h; if (abs(u / h) < 1e-12 * th) break }; list(ll = sum(w * dnbinom(y, th, mu = fitted(g), log = TRUE)), th = th, b = coef(g), se = sqrt(diag(summary(g, dispersion = 1)$cov.scaled))) }
    else { fam <- if (s$family[1] == "logistic") binomial() else poisson(); g <- glm(y ~ X + offset(o), family = fam, weights = w, control = ct); g <- glm(y ~ X + offset(o), family = fam, weights = w, start = coef(g), control = ct)
      list(ll = if (s$family[1] == "logistic") sum(w * dbinom(y, 1, fitted(g), log = TRUE)) else sum(w * dpois(y, fitted(g), log = TRUE)), th = NA, b = coef(g), se = sqrt(diag(vcov(g)))) } }, silent = TRUE))
  if (inherits(f, "try-error")) cat(k, "failed\n") else cat(k, format(c(f$ll, f$th, f$b, f$se), digits = 17), "\n") }`

// TestAgainstR compares random designs, some with few rows, rare outcomes,
// columns nearly alike, weights and offsets, with R where it is present.
func TestAgainstR(t *testing.T) {
	if exec.Command("Rscript", "-e", "library(MASS)").Run() != nil {
		if os.Getenv("PLYBOOK_NEED_R") != "" {
			t.Fatal("R with MASS is required and not here")
		}
		t.Skip("R is not here")
	}
	const designs = 120
	r := rand.New(rand.NewPCG(41, 7))
	names := []string{"x1", "x2", "x3"}
	var all []GLMData
	path := filepath.Join(t.TempDir(), "designs.csv")
	var b strings.Builder
	b.WriteString("design,family,y,x1,x2,x3,offset,weight\n")
	for k := range designs {
		f := Family(k % 3)
		n := 30 + r.IntN(200)
		d := GLMData{X: make([][]float64, 3), Names: names}
		for range n {
			x := []float64{float64(r.IntN(2)), r.NormFloat64(), 50 + 20*r.Float64()}
			if k%4 == 1 {
				x[2] = 1000*x[1] + r.NormFloat64() // nearly alike
			}
			eta := -0.3 + 0.5*x[0] + 0.4*x[1]
			if k%5 == 2 {
				eta -= 1.5 // rare
			}
			off := 0.0
			if k%2 == 1 {
				off = math.Log(0.5 + r.Float64())
			}
			y := 0.0
			if f == Logistic {
				if r.Float64() < expit(eta+off) {
					y = 1
				}
			} else {
				mu := math.Exp(eta + off)
				if f == NegativeBinomial {
					mu *= r.ExpFloat64()
				}
				for s := r.ExpFloat64(); s < mu; s += r.ExpFloat64() {
					y++
				}
			}
			w := 1.0
			if k%7 == 3 {
				w = float64(1 + r.IntN(3))
			}
			for j := range x {
				d.X[j] = append(d.X[j], x[j])
			}
			d.Y, d.Offset, d.Weight = append(d.Y, y), append(d.Offset, off), append(d.Weight, w)
			fmt.Fprintf(&b, "%d,%s,%g,%s,%s,%s,%s,%g\n", k, []string{"logistic", "poisson", "negbin"}[f], y, full17(x[0]), full17(x[1]), full17(x[2]), full17(off), w)
		}
		all = append(all, d)
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("Rscript", "-e", fmt.Sprintf(liveScript, path)).Output()
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for s := bufio.NewScanner(strings.NewReader(string(out))); s.Scan(); {
		f := strings.Fields(s.Text())
		k, err := strconv.Atoi(f[0])
		if err != nil {
			t.Fatal(s.Text())
		}
		if len(f) != 11 {
			continue // R has none, or Theta without end
		}
		family := Family(k % 3)
		m, err := FitGLM(family, all[k], GLMOptions{})
		if err != nil || family == NegativeBinomial && math.IsInf(m.Theta, 1) {
			t.Logf("design %d: %v", k, err)
			continue
		}
		compared++
		value := func(i int) float64 {
			v, err := strconv.ParseFloat(f[i], 64)
			if err != nil {
				return math.NaN()
			}
			return v
		}
		what := fmt.Sprintf("design %d, %v: ", k, family)
		lsqtest.Close(t, what+"log likelihood", m.LogLik, value(1), 1e-9)
		if family == NegativeBinomial {
			lsqtest.Close(t, what+"theta", m.Theta, value(2), 1e-6)
		}
		for j, c := range m.Coef {
			lsqtest.Close(t, what+c.Name, c.Estimate, value(3+j), 1e-6)
			lsqtest.Close(t, what+"error of "+c.Name, c.SE, value(7+j), 1e-6)
		}
	}
	t.Logf("%d designs compared", compared)
	if compared < designs*8/10 {
		t.Errorf("only %d of %d designs were compared", compared, designs)
	}
}

func full17(x float64) string { return strconv.FormatFloat(x, 'g', 17, 64) }
