package regress

import (
	"math"
	"os"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// published is the folder of the published data sets.
var published = os.DirFS("../../testdata/published")

// NIST StRD, Longley: certified to 15 digits. A condition number near 1e9
// leaves double precision about 12 of them here.
func TestLongleyCertified(t *testing.T) {
	c := lsqtest.Columns(t, published, "longley")
	var want struct {
		Entries struct {
			Certified struct {
				Coef       []float64 `json:"coef"`
				SD         []float64 `json:"sd"`
				ResidualSD float64   `json:"residual_sd"`
				R2         float64   `json:"r2"`
			} `json:"certified"`
			R struct {
				Fit struct {
					F      struct{ Stat, DF1, DF2 float64 } `json:"f"`
					LogLik float64                          `json:"loglik"`
				} `json:"fit"`
			} `json:"r"`
		} `json:"entries"`
	}
	lsqtest.Expected(t, published, "longley", "expected.json", &want)
	unit := map[string]float64{"GNP": 1000, "Unemployed": 10, "Armed.Forces": 10, "Population": 1000, "Employed": 1000}
	column := func(name string) []float64 {
		v := lsqtest.Numbers(t, c[name])
		if u, ok := unit[name]; ok {
			for i := range v {
				v[i] = math.Round(v[i] * u)
			}
		}
		return v
	}
	d := LinearData{Y: column("Employed"), Intercept: true}
	for _, n := range []string{"GNP.deflator", "GNP", "Unemployed", "Armed.Forces", "Population", "Year"} {
		d.X, d.Names = append(d.X, column(n)), append(d.Names, n)
	}
	m, err := FitLinear(d, LinearOptions{Robust: ModelBased})
	if err != nil {
		t.Fatal(err)
	}
	cert := want.Entries.Certified
	for j, b := range m.Coef {
		lsqtest.Close(t, b.Name, b.Estimate, cert.Coef[j], 2e-12)
		lsqtest.Close(t, b.Name+" standard error", b.SE, cert.SD[j], 2e-12)
	}
	lsqtest.Close(t, "residual sd", m.Sigma, cert.ResidualSD, 1e-12)
	lsqtest.Close(t, "R2", m.R2, cert.R2, 1e-13)
	f := want.Entries.R.Fit
	lsqtest.Close(t, "F", m.Overall.Statistic, f.F.Stat, 1e-10)
	if m.Overall.DF1 != f.F.DF1 || m.Overall.DF2 != f.F.DF2 {
		t.Errorf("F has %g and %g degrees of freedom, want %g and %g", m.Overall.DF1, m.Overall.DF2, f.F.DF1, f.F.DF2)
	}
	lsqtest.Close(t, "log-likelihood", m.LogLikelihood, f.LogLik, 1e-12)
	// R 4.2.2: pf(330.285339234593, 6, 9, lower.tail = FALSE)
	lsqtest.Close(t, "p of F", m.Overall.P, 4.98403052872448e-10, 1e-9)
}

// NIST StRD, Wampler1 and Wampler2: exact polynomials of degree 5.
func TestWamplerCertified(t *testing.T) {
	c := lsqtest.Columns(t, published, "wampler")
	x := lsqtest.Numbers(t, c["x"])
	var want struct {
		Entries map[string]struct {
			Coef []float64 `json:"coef"`
			SD   float64   `json:"residual_sd"`
		} `json:"entries"`
	}
	lsqtest.Expected(t, published, "wampler", "expected.json", &want)
	for name, y := range map[string]string{"wampler1": "y1", "wampler2": "y2"} {
		d := LinearData{Y: lsqtest.Numbers(t, c[y]), Intercept: true}
		for k := 1; k <= 5; k++ {
			p := make([]float64, len(x))
			for i, v := range x {
				p[i] = math.Pow(v, float64(k))
			}
			d.X, d.Names = append(d.X, p), append(d.Names, "x^"+string(rune('0'+k)))
		}
		m, err := FitLinear(d, LinearOptions{})
		if err != nil {
			t.Fatal(name, err)
		}
		for j, b := range m.Coef {
			lsqtest.Close(t, name+" "+b.Name, b.Estimate, want.Entries[name].Coef[j], 1e-10)
			if b.Tested || b.SE != 0 || b.P != 0 {
				t.Errorf("%s: %s of an exact fit has an error: %+v", name, b.Name, b)
			}
		}
		if m.Sigma != want.Entries[name].SD || !m.Exact || m.R2 != 1 || m.Overall != nil {
			t.Errorf("%s: sigma %g, exact %v, R2 %g, F %v", name, m.Sigma, m.Exact, m.R2, m.Overall)
		}
		if len(m.Warnings) != 1 || m.Warnings[0].Code != "exact-fit" {
			t.Errorf("%s: warnings %v, want exact-fit", name, m.Warnings)
		}
	}
}

// NIST StRD, NoInt1: through the origin.
func TestNoInt1Certified(t *testing.T) {
	c := lsqtest.Columns(t, published, "noint1")
	var want struct {
		Entries struct {
			Certified struct {
				B1         float64 `json:"b1"`
				SD         float64 `json:"sd"`
				ResidualSD float64 `json:"residual_sd"`
				R2         float64 `json:"r2_uncentered"`
			} `json:"certified"`
		} `json:"entries"`
	}
	lsqtest.Expected(t, published, "noint1", "expected.json", &want)
	m, err := FitLinear(LinearData{Y: lsqtest.Numbers(t, c["y"]), X: [][]float64{lsqtest.Numbers(t, c["x"])}, Names: []string{"x"}},
		LinearOptions{Robust: ModelBased})
	if err != nil {
		t.Fatal(err)
	}
	w := want.Entries.Certified
	lsqtest.Close(t, "slope", m.Coef[0].Estimate, w.B1, 1e-14)
	lsqtest.Close(t, "standard error", m.Coef[0].SE, w.SD, 1e-13)
	lsqtest.Close(t, "residual sd", m.Sigma, w.ResidualSD, 1e-13)
	lsqtest.Close(t, "R2", m.R2, w.R2, 1e-14)
}

// sleep and ortho are the data of the robust cases.
func sleep(t testing.TB) LinearData {
	c := lsqtest.Columns(t, published, "sleepstudy")
	return LinearData{Y: lsqtest.Numbers(t, c["Reaction"]), X: [][]float64{lsqtest.Numbers(t, c["Days"])},
		Names: []string{"Days"}, Intercept: true, Cluster: lsqtest.Groups(c["Subject"])}
}

func ortho(t testing.TB) LinearData {
	c := lsqtest.Columns(t, published, "orthodont")
	age := lsqtest.Numbers(t, c["age"])
	male, both := make([]float64, len(age)), make([]float64, len(age))
	for i := range age {
		if c["Sex"][i] == "Male" {
			male[i], both[i] = 1, age[i]
		}
	}
	return LinearData{Y: lsqtest.Numbers(t, c["distance"]), X: [][]float64{age, male, both},
		Names: []string{"age", "male", "age_male"}, Intercept: true, Cluster: lsqtest.Groups(c["Subject"])}
}

// R 4.2.2, lm with HC0 to HC3, CR0 and CR1 by formula (see SOURCE.md).
func TestRobustCovariances(t *testing.T) {
	type named = map[string]float64
	var want struct {
		Entries map[string]struct {
			Fit struct {
				Coef     named   `json:"coef"`
				SE       named   `json:"se"`
				Sigma    float64 `json:"sigma"`
				R2       float64 `json:"r2"`
				AdjR2    float64 `json:"adj_r2"`
				RSS      float64 `json:"rss"`
				F        struct{ Stat, DF1, DF2 float64 }
				LogLik   float64 `json:"loglik"`
				HC0      named   `json:"hc0"`
				HC1      named   `json:"hc1"`
				HC2      named   `json:"hc2"`
				HC3      named   `json:"hc3"`
				CR0      named   `json:"cr0"`
				CR1      named   `json:"cr1_G"`
				Clusters int     `json:"n_cluster"`
				DF       float64 `json:"df_resid"`
				N        int     `json:"n"`
			} `json:"fit"`
		} `json:"entries"`
	}
	lsqtest.Expected(t, published, "robust", "expected.json", &want)
	const tol = 1e-9
	for name, d := range map[string]LinearData{"sleepstudy": sleep(t), "orthodont": ortho(t)} {
		w := want.Entries[name].Fit
		m, err := FitLinear(d, LinearOptions{})
		if err != nil {
			t.Fatal(name, err)
		}
		if m.Rows != w.N || m.Clusters != w.Clusters || m.DF != w.DF {
			t.Errorf("%s: %d rows, %d clusters, %g degrees of freedom", name, m.Rows, m.Clusters, m.DF)
		}
		lsqtest.Close(t, name+" sigma", m.Sigma, w.Sigma, tol)
		lsqtest.Close(t, name+" R2", m.R2, w.R2, tol)
		lsqtest.Close(t, name+" adjusted R2", m.AdjustedR2, w.AdjR2, tol)
		lsqtest.Close(t, name+" RSS", m.RSS, w.RSS, tol)
		lsqtest.Close(t, name+" F", m.Overall.Statistic, w.F.Stat, tol)
		lsqtest.Close(t, name+" log-likelihood", m.LogLikelihood, w.LogLik, tol)
		lsqtest.Close(t, name+" AIC", m.AIC, -2*w.LogLik+2*float64(len(m.Coef)+1), tol)
		for j, b := range m.Coef {
			n := b.Name
			if n == "intercept" {
				n = "(Intercept)"
			}
			lsqtest.Close(t, name+" "+n, b.Estimate, w.Coef[n], tol)
			lsqtest.Close(t, name+" model "+n, b.ModelSE, w.SE[n], tol)
			for kind, c := range map[string]struct {
				cov  [][]float64
				want named
			}{
				"model": {m.Cov.Model, w.SE}, "HC0": {m.Cov.HC0, w.HC0}, "HC1": {m.Cov.HC1, w.HC1}, "HC2": {m.Cov.HC2, w.HC2},
				"HC3": {m.Cov.HC3, w.HC3}, "CR0": {m.Cov.CR0, w.CR0}, "CR1": {m.Cov.CR1, w.CR1},
			} {
				lsqtest.Close(t, name+" "+kind+" "+n, math.Sqrt(c.cov[j][j]), c.want[n], tol)
			}
		}
	}
}

// Every choice of covariance is the one behind the errors of the coefficients.
func TestChoiceOfCovariance(t *testing.T) {
	d := ortho(t)
	for _, r := range []Robust{ModelBased, HC0, HC1, HC2, HC3, CR0, CR1, CR2} {
		m, err := FitLinear(d, LinearOptions{Robust: r})
		if err != nil {
			t.Fatal(r, err)
		}
		cov := map[Robust][][]float64{ModelBased: m.Cov.Model, HC0: m.Cov.HC0, HC1: m.Cov.HC1, HC2: m.Cov.HC2,
			HC3: m.Cov.HC3, CR0: m.Cov.CR0, CR1: m.Cov.CR1, CR2: m.Cov.CR2}[r]
		df := 104.0
		if r == CR0 || r == CR1 {
			df = 26
		}
		if m.Used != r {
			t.Errorf("asked for %v, used %v", r, m.Used)
		}
		for j, b := range m.Coef {
			lsqtest.Close(t, r.String()+" "+b.Name, b.SE*b.SE, cov[j][j], 1e-12)
			if r != CR2 && b.DF != df {
				t.Errorf("%v: %s has %g degrees of freedom, want %g", r, b.Name, b.DF, df)
			}
		}
	}
	if m, err := FitLinear(LinearData{Y: d.Y, X: d.X, Names: d.Names, Intercept: true}, LinearOptions{}); err != nil || m.Used != HC3 {
		t.Errorf("without clusters: %v, %v, want HC3", m.Used, err)
	}
}

// R 4.2.2: x <- c(1.2, 2.3, 2.9, 4.1, 5.2, 5.8); y <- c(2.1, 2.9, 3.8, 4.2, 5.9, 5.5)
// confint(lm(y ~ x), level = 0.9); summary(lm(y ~ x))$coefficients
func TestModelBasedInterval(t *testing.T) {
	m, err := FitLinear(LinearData{Y: []float64{2.1, 2.9, 3.8, 4.2, 5.9, 5.5}, X: [][]float64{{1.2, 2.3, 2.9, 4.1, 5.2, 5.8}},
		Names: []string{"x"}, Intercept: true}, LinearOptions{Level: 0.9, Robust: ModelBased})
	if err != nil {
		t.Fatal(err)
	}
	b := m.Coef[1]
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"estimate", b.Estimate, 0.806799957232973}, {"SE", b.SE, 0.0969831913667323}, {"t", b.T, 8.31896688346890}, {"p", b.P, 0.00114065403132231},
		{"low", b.Low, 0.600046652390102}, {"high", b.High, 1.01355326207584}, {"hat 1", m.Hat[0], 0.531059553084572},
	} {
		lsqtest.Close(t, c.what, c.got, c.want, 1e-10)
	}
}
