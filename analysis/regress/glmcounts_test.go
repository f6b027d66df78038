package regress

import (
	"fmt"
	"math"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// Absence from school (Aitkin 1978), deaths of doctors (Breslow 1985),
// seizures (Thall & Vail 1990), articles (Long 1997).
func TestCounts(t *testing.T) {
	var e struct {
		Quine struct {
			fitted
			Negbin struct {
				fitted
				OwnNull   float64 `json:"own_null"`
				LRPoisson float64 `json:"lr_poisson"`
			}
			Counts        []float64
			CountsPoisson []float64 `json:"counts_poisson"`
		}
		Doctors struct {
			fitted
			Smoke struct {
				Estimate, SE, Ratio []float64
				LogRatioSE          []float64 `json:"log_ratio_se"`
			}
		}
		Epil struct {
			fitted
			Negbin fitted
		}
		Articles struct {
			fitted
			Negbin       []float64
			NegbinLogLik float64   `json:"negbin_loglik"`
			NegbinZeros  []float64 `json:"negbin_zeros"`
		}
	}
	outcomes(t, &e)
	q := quine(t)
	p := glm(t, Poisson, q, GLMOptions{Profile: true})
	compareGLM(t, "quine", p, e.Quine.fitted, 1e-9)
	zeros := func(what string, m *GLM, want []float64) {
		t.Helper()
		z := m.Zeros()
		lsqtest.Close(t, what+" zeros", z.Observed, want[0], 0)
		lsqtest.Close(t, what+" zeros expected", z.Expected, want[1], 1e-8)
		lsqtest.Close(t, what+" z of zeros", z.Z, want[2], 1e-6)
	}
	zeros("quine", p, e.Quine.Zeros)
	_, expected := p.Counts(20)
	for y, v := range expected {
		lsqtest.Close(t, fmt.Sprint("rows of ", y), v, e.Quine.CountsPoisson[y], 1e-8)
	}
	n := glm(t, NegativeBinomial, q, GLMOptions{})
	compareGLM(t, "negbin", n, e.Quine.Negbin.fitted, 1e-8)
	lsqtest.Close(t, "theta", n.Theta, e.Quine.Negbin.Theta, 1e-9)
	lsqtest.Close(t, "error of theta", n.ThetaSE, e.Quine.Negbin.ThetaSE, 1e-7)
	lsqtest.Close(t, "null of its own theta", n.LogLikNull, e.Quine.Negbin.OwnNull, 1e-10)
	lsqtest.Close(t, "against Poisson", n.Overdispersion.Statistic, e.Quine.Negbin.LRPoisson, 1e-9)
	zeros("negbin", n, e.Quine.Negbin.Zeros)
	_, expected = n.Counts(20)
	for y, v := range expected {
		lsqtest.Close(t, fmt.Sprint("negbin rows of ", y), v, e.Quine.Counts[y], 1e-8)
	}

	d := set(t, "doctors", "deaths", "smoke", "age=50", "age=60", "age=70", "age=80", "n")
	for _, v := range d.X[5] {
		d.Offset = append(d.Offset, math.Log(v))
	}
	d.X, d.Names = d.X[:5], d.Names[:5]
	m := glm(t, Poisson, d, GLMOptions{Profile: true})
	compareGLM(t, "doctors", m, e.Doctors.fitted, 1e-9)
	var rates []Average
	for v := range 2 {
		x := append([][]float64(nil), d.X...)
		x[0] = make([]float64, len(d.Y))
		for i := range x[0] {
			x[0][i] = float64(v)
		}
		a, err := m.Standardise(x)
		if err != nil {
			t.Fatal(err)
		}
		lsqtest.Close(t, "rate", a.Estimate, e.Doctors.Smoke.Estimate[v], 1e-10)
		lsqtest.Close(t, "error of the rate", a.SE, e.Doctors.Smoke.SE[v], 1e-9)
		rates = append(rates, a)
	}
	k, err := m.Compare(rates[1], rates[0])
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "rate ratio", k.Ratio.Estimate, e.Doctors.Smoke.Ratio[0], 1e-10)
	lsqtest.Close(t, "its error", k.Ratio.SE, e.Doctors.Smoke.LogRatioSE[0], 1e-9)

	s := set(t, "epil", "y", "trt=progabide", "base", "age")
	for i, v := range s.X[1] {
		s.X[1][i] = math.Log(v / 4)
		s.Offset = append(s.Offset, math.Log(2))
	}
	s.Cluster = lsqtest.Groups(lsqtest.Columns(t, published, "epil")["subject"])
	m = glm(t, Poisson, s, GLMOptions{})
	compareGLM(t, "epil", m, e.Epil.fitted, 1e-9)
	nb := glm(t, NegativeBinomial, s, GLMOptions{})
	lsqtest.Close(t, "epil theta", nb.Theta, e.Epil.Negbin.Theta, 1e-8)
	for j := range m.Coef {
		lsqtest.Close(t, "epil CR2", m.Coef[j].SE, e.Epil.CR2.SE[j], 1e-9)
		lsqtest.Close(t, "epil df", m.Coef[j].DF, e.Epil.CR2.DF[j], 1e-8)
		lsqtest.Close(t, "epil negbin", nb.Coef[j].Estimate, e.Epil.Negbin.Coef[j], 1e-8)
		lsqtest.Close(t, "epil negbin CR2", nb.Coef[j].SE, e.Epil.Negbin.CR2.SE[j], 1e-8)
		lsqtest.Close(t, "epil negbin df", nb.Coef[j].DF, e.Epil.Negbin.CR2.DF[j], 1e-7)
	}

	a := set(t, "articles", "art", "fem=Women", "mar=Single", "kid5", "phd", "ment")
	m = glm(t, Poisson, a, GLMOptions{})
	compareGLM(t, "articles", m, e.Articles.fitted, 1e-9)
	zeros("articles", m, e.Articles.Zeros)
	nb = glm(t, NegativeBinomial, a, GLMOptions{})
	lsqtest.Close(t, "articles theta", nb.Theta, e.Articles.Theta, 1e-8)
	lsqtest.Close(t, "articles log likelihood", nb.LogLik, e.Articles.NegbinLogLik, 1e-10)
	zeros("articles negbin", nb, e.Articles.NegbinZeros)
}
