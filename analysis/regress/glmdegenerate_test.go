package regress

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
	"plybook/analysis/stats"
)

func small() GLMData {
	return GLMData{Y: []float64{1, 0, 1, 0, 0, 1, 1, 0}, X: [][]float64{{1, 2, 3, 1, 2, 3, 2, 4}, {0, 1, 0, 0, 0, 1, 1, 0}}, Names: []string{"x", "z"}, Cluster: []int{1, 1, 2, 2, 3, 3, 4, 4}}
}

func TestUnusableGLMData(t *testing.T) {
	for _, f := range []Family{Logistic, Poisson, NegativeBinomial} {
		if _, err := FitGLM(f, small(), GLMOptions{}); err != nil {
			t.Fatal("the unchanged data:", err)
		}
	}
	for _, c := range []struct {
		name   string
		family Family
		change func(*GLMData, *GLMOptions)
		want   error
		says   string
	}{
		{"empty", Logistic, func(d *GLMData, _ *GLMOptions) { *d = GLMData{} }, stats.ErrNoRows, "logistic model"},
		{"one row", Logistic, func(d *GLMData, _ *GLMOptions) { *d = GLMData{Y: []float64{1}} }, ErrConstantResponse, ""},
		{"fewer rows than coefficients", Poisson, func(d *GLMData, _ *GLMOptions) {
			d.Y, d.X, d.Cluster = d.Y[:2], [][]float64{{1, 2}, {0, 1}}, nil
		}, ErrTooFewRows, "2 rows for 3 coefficients"},
		{"all yes", Logistic, func(d *GLMData, _ *GLMOptions) { d.Y = []float64{1, 1, 1, 1, 1, 1, 1, 1} }, ErrConstantResponse, "it is 1"},
		{"all no", Logistic, func(d *GLMData, _ *GLMOptions) { d.Y = make([]float64, 8) }, ErrConstantResponse, "it is 0"},
		{"no event counted", NegativeBinomial, func(d *GLMData, _ *GLMOptions) { d.Y = make([]float64, 8) }, ErrConstantResponse, "negative binomial"},
		{"two where yes or no is asked", Logistic, func(d *GLMData, _ *GLMOptions) { d.Y[3] = 2 }, ErrInput, "row 3"},
		{"negative count", Poisson, func(d *GLMData, _ *GLMOptions) { d.Y[3] = -1 }, ErrInput, "row 3"},
		{"half a count", Poisson, func(d *GLMData, _ *GLMOptions) { d.Y[3] = 0.5 }, ErrInput, "0.5"},
		{"not a number", Logistic, func(d *GLMData, _ *GLMOptions) { d.Y[3] = math.NaN() }, ErrInput, "row 3"},
		{"too large a count", Poisson, func(d *GLMData, _ *GLMOptions) { d.Y[3] = 1e7 }, ErrInput, ""},
		{"column not a number", Logistic, func(d *GLMData, _ *GLMOptions) { d.X[0][2] = math.NaN() }, ErrInput, "column x"},
		{"column infinite", Logistic, func(d *GLMData, _ *GLMOptions) { d.X[1][7] = math.Inf(1) }, ErrInput, "column z"},
		{"constant column", Logistic, func(d *GLMData, _ *GLMOptions) { d.X[1] = []float64{7, 7, 7, 7, 7, 7, 7, 7} }, stats.ErrSingular, "column z has the same value"},
		{"repeated column", Poisson, func(d *GLMData, _ *GLMOptions) { d.X[1] = []float64{3, 5, 7, 3, 5, 7, 5, 9} }, stats.ErrSingular, "column z is given exactly by x"},
		{"one cluster", Logistic, func(d *GLMData, _ *GLMOptions) { d.Cluster = make([]int, 8) }, ErrOneCluster, ""},
		{"clustered errors without clusters", Logistic, func(d *GLMData, o *GLMOptions) { d.Cluster, o.Robust = nil, CR1 }, ErrNoClusters, "CR1"},
		{"HC3", Logistic, func(_ *GLMData, o *GLMOptions) { o.Robust = HC3 }, ErrInput, "HC3"},
		{"clustered errors with a penalty", Logistic, func(_ *GLMData, o *GLMOptions) { o.Robust, o.Firth = CR2, true }, ErrInput, "CR2"},
		{"penalty of the negative binomial", NegativeBinomial, func(_ *GLMData, o *GLMOptions) { o.Firth = true }, ErrPenalty, ""},
		{"weight of 0", Logistic, func(d *GLMData, _ *GLMOptions) { d.Weight = []float64{1, 1, 1, 1, 1, 1, 1, 0} }, ErrInput, "row 7"},
		{"offset beyond reach", Poisson, func(d *GLMData, _ *GLMOptions) { d.Offset = []float64{0, 0, 0, 0, 0, 0, 0, 400} }, ErrInput, "row 7"},
		{"short column", Logistic, func(d *GLMData, _ *GLMOptions) { d.X[0] = d.X[0][:3] }, ErrInput, "column x"},
		{"names missing", Logistic, func(d *GLMData, _ *GLMOptions) { d.Names = nil }, ErrInput, ""},
		{"terms missing", Logistic, func(d *GLMData, _ *GLMOptions) { d.Terms = []int{0} }, ErrInput, ""},
		{"weights missing", Logistic, func(d *GLMData, _ *GLMOptions) { d.Weight = []float64{1} }, ErrInput, ""},
		{"offsets missing", Logistic, func(d *GLMData, _ *GLMOptions) { d.Offset = []float64{1} }, ErrInput, ""},
		{"clusters missing", Logistic, func(d *GLMData, _ *GLMOptions) { d.Cluster = []int{1} }, ErrInput, ""},
		{"level of 95", Logistic, func(_ *GLMData, o *GLMOptions) { o.Level = 95 }, ErrInput, "95"},
		{"unknown family", Family(9), func(*GLMData, *GLMOptions) {}, ErrInput, "Family(9)"},
		{"separated", Logistic, func(d *GLMData, _ *GLMOptions) { d.Y = append([]float64(nil), d.X[1]...) }, ErrSeparation, "z"},
		{"nearly separated", Logistic, func(d *GLMData, _ *GLMOptions) { d.Y = []float64{0, 1, 1, 0, 0, 1, 1, 0} }, ErrSeparation, "z"},
		{"a category without counts", Poisson, func(d *GLMData, _ *GLMOptions) { d.Y = []float64{4, 0, 2, 1, 3, 0, 0, 1} }, ErrSeparation, "z"},
		{"a category without counts", NegativeBinomial, func(d *GLMData, _ *GLMOptions) { d.Y = []float64{4, 0, 9, 1, 3, 0, 0, 1} }, ErrSeparation, "z"},
	} {
		d, o := small(), GLMOptions{}
		c.change(&d, &o)
		m, err := FitGLM(c.family, d, o)
		if !errors.Is(err, c.want) || m != nil {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.name, err, c.says)
		}
	}
	d := small()
	d.Cluster = nil
	d.Y = append([]float64(nil), d.X[1]...)
	m := glm(t, Logistic, d, GLMOptions{Firth: true})
	finite(t, "penalised", reflect.ValueOf(m.Coef))
	if !m.Limits[2].HasLow || m.Limits[2].HasHigh && m.Limits[2].High < m.Coef[2].Estimate {
		t.Errorf("limits %+v", m.Limits[2])
	}
}

// Counts less scattered than Poisson counts have no Theta: the fit is that of
// Poisson, and says so.
func TestNoOverdispersion(t *testing.T) {
	d := GLMData{Y: []float64{2, 2, 3, 2, 3, 4, 3, 4, 4, 5}, X: [][]float64{{1, 1, 2, 2, 3, 3, 4, 4, 5, 5}}, Names: []string{"x"}}
	n, p := glm(t, NegativeBinomial, d, GLMOptions{}), glm(t, Poisson, d, GLMOptions{})
	if !math.IsInf(n.Theta, 1) || len(n.Warnings) != 1 || n.Warnings[0].Code != "no-overdispersion" || n.Overdispersion.P != 1 {
		t.Errorf("theta %g, warnings %v, test %v", n.Theta, n.Warnings, n.Overdispersion)
	}
	for j := range n.Coef {
		lsqtest.Close(t, "coefficient", n.Coef[j].Estimate, p.Coef[j].Estimate, 1e-12)
		lsqtest.Close(t, "error", n.Coef[j].SE, p.Coef[j].SE, 1e-12)
	}
	if n.LogLik != p.LogLik || n.AIC != p.AIC+2 {
		t.Errorf("log likelihood %g and %g, AIC %g and %g", n.LogLik, p.LogLik, n.AIC, p.AIC)
	}
}

// scattered draws rows whose columns have few values, for each family.
func scattered(f Family, n int, seed uint64) GLMData {
	r := rand.New(rand.NewPCG(seed, 3))
	d := GLMData{X: make([][]float64, 3), Names: []string{"a", "b", "c"}, Offset: make([]float64, n)}
	for i := range n {
		eta := 0.2
		for j := range d.X {
			v := float64(r.IntN(3 + j))
			d.X[j] = append(d.X[j], v)
			eta += []float64{0.3, -0.2, 0.1}[j] * v
		}
		d.Offset[i] = math.Log(float64(1 + r.IntN(3)))
		y := 0.0
		if f == Logistic {
			if r.Float64() < expit(eta+d.Offset[i]) {
				y = 1
			}
		} else {
			mu := math.Exp(eta + d.Offset[i])
			if f == NegativeBinomial {
				mu *= (r.ExpFloat64() + r.ExpFloat64()) / 2
			}
			for s := r.ExpFloat64(); s < mu; s += r.ExpFloat64() {
				y++
			}
		}
		d.Y, d.Cluster = append(d.Y, y), append(d.Cluster, i/3)
	}
	return d
}

func sameGLM(t *testing.T, what string, a, b *GLM, tol float64) {
	t.Helper()
	for j := range a.Coef {
		x, y := a.Coef[j], b.Coef[j]
		lsqtest.Close(t, what+" "+x.Name, y.Estimate, x.Estimate, tol)
		lsqtest.Close(t, what+" model error", y.ModelSE, x.ModelSE, tol)
		lsqtest.Close(t, what+" error", y.SE, x.SE, tol)
		lsqtest.Close(t, what+" df", y.DF, x.DF, 100*tol)
	}
	for _, v := range [][3]any{{"log likelihood", a.LogLik, b.LogLik}, {"null", a.LogLikNull, b.LogLikNull}, {"deviance", a.Deviance, b.Deviance}, {"Pearson", a.Pearson, b.Pearson}, {"AIC", a.AIC, b.AIC}} {
		lsqtest.Close(t, what+" "+v[0].(string), v[2].(float64), v[1].(float64), 100*tol)
	}
	if !math.IsInf(a.Theta, 1) {
		lsqtest.Close(t, what+" theta", b.Theta, a.Theta, 1e3*tol)
	}
}

// The order of rows, the units and constants of columns do not matter; a row
// of weight 2 is two rows; rows alike are one pattern.
func TestGLMLaws(t *testing.T) {
	for _, f := range []Family{Logistic, Poisson, NegativeBinomial} {
		d := scattered(f, 240, 8)
		a := glm(t, f, d, GLMOptions{})
		if a.Patterns >= a.Rows {
			t.Errorf("%v: %d patterns of %d rows", f, a.Patterns, a.Rows)
		}
		e := GLMData{X: make([][]float64, 3), Names: d.Names}
		for _, i := range rand.New(rand.NewPCG(3, 4)).Perm(len(d.Y)) {
			e.Y, e.Cluster, e.Offset = append(e.Y, d.Y[i]), append(e.Cluster, 500-3*d.Cluster[i]), append(e.Offset, d.Offset[i])
			for j := range d.X {
				e.X[j] = append(e.X[j], d.X[j][i])
			}
		}
		sameGLM(t, f.String()+" shuffled", a, glm(t, f, e, GLMOptions{}), 1e-9)

		w := d
		w.Weight = make([]float64, len(d.Y))
		twice := GLMData{X: make([][]float64, 3), Names: d.Names}
		for i := range d.Y {
			w.Weight[i] = float64(1 + i%3)
			for range 1 + i%3 {
				twice.Y, twice.Cluster, twice.Offset = append(twice.Y, d.Y[i]), append(twice.Cluster, d.Cluster[i]), append(twice.Offset, d.Offset[i])
				for j := range d.X {
					twice.X[j] = append(twice.X[j], d.X[j][i])
				}
			}
		}
		sameGLM(t, f.String()+" weighted", glm(t, f, twice, GLMOptions{}), glm(t, f, w, GLMOptions{}), 1e-9)

		u := d
		u.X = [][]float64{make([]float64, len(d.Y)), d.X[1], d.X[2]}
		for i, v := range d.X[0] {
			u.X[0][i] = 2020 + v/1000
		}
		b := glm(t, f, u, GLMOptions{})
		lsqtest.Close(t, f.String()+" units", b.Coef[1].Estimate/1000, a.Coef[1].Estimate, 1e-8)
		lsqtest.Close(t, f.String()+" unit error", b.Coef[1].SE/1000, a.Coef[1].SE, 1e-8)
		lsqtest.Close(t, f.String()+" unit log likelihood", b.LogLik, a.LogLik, 1e-12)

		// No two rows alike: the same numbers without patterns.
		r := d
		r.X = [][]float64{d.X[0], d.X[1], make([]float64, len(d.Y))}
		for i, v := range d.X[2] {
			r.X[2][i] = v + 1e-12*float64(i)
		}
		apart := glm(t, f, r, GLMOptions{})
		if apart.Patterns != apart.Rows {
			t.Errorf("%v: %d patterns of %d rows", f, apart.Patterns, apart.Rows)
		}
		sameGLM(t, f.String()+" apart", a, apart, 1e-7)
	}
}

// 95% intervals from 20 persons of 6 rows that share an effect hold the
// marginal difference in 95% of 600 sets (4 standard errors are 3.6%), where
// model-based intervals reach about 80%.
func TestClusteredLogisticCovers(t *testing.T) {
	const sets = 600
	hit, bare := 0, 0
	for s := range sets {
		r := rand.New(rand.NewPCG(uint64(s), 77))
		d := GLMData{X: [][]float64{nil}, Names: []string{"x"}}
		for g := range 20 {
			u := r.NormFloat64() * 1.2
			for range 6 {
				x := float64(g % 2)
				y := 0.0
				if r.Float64() < expit(u) { // x does nothing
					y = 1
				}
				d.Y, d.X[0], d.Cluster = append(d.Y, y), append(d.X[0], x), append(d.Cluster, g)
			}
		}
		m := glm(t, Logistic, d, GLMOptions{})
		if c := m.Coef[1]; c.Low <= 0 && c.High >= 0 {
			hit++
		}
		if c := m.Coef[1]; math.Abs(c.Estimate) < 1.96*c.ModelSE {
			bare++
		}
	}
	if share := float64(hit) / sets; math.Abs(share-0.95) > 0.036 {
		t.Errorf("the intervals hold the truth in %.1f%% of sets", 100*share)
	}
	if bare > hit-30 {
		t.Errorf("model-based intervals hold it in %d of %d sets, clustered in %d", bare, sets, hit)
	}
}

// Of rows alone in their clusters the clustered error of C is DeLong's but
// for small-sample factors; C of a perfect and of a useless score.
func TestDiscriminate(t *testing.T) {
	share := []float64{0.1, 0.4, 0.35, 0.8, 0.4, 0.9}
	y := []float64{0, 0, 1, 1, 1, 0}
	d, err := Discriminate(share, y, nil, nil, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	// Nine pairs: 0.35 beats 0.1; 0.8 beats 0.1 and 0.4; 0.4 beats 0.1 and ties with 0.4.
	lsqtest.Close(t, "C", d.C, 4.5/9, 1e-15)
	c, err := Discriminate(share, y, nil, []int{1, 2, 3, 4, 5, 6}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !d.HasBounds || !c.HasBounds || math.Abs(c.SE/d.SE-1) > 0.1 {
		t.Errorf("errors %g and %g", d.SE, c.SE)
	}
	perfect, err := Discriminate([]float64{0.1, 0.2, 0.8, 0.9}, []float64{0, 0, 1, 1}, nil, nil, 0.95)
	if err != nil || perfect.C != 1 || perfect.HasBounds {
		t.Errorf("perfect: %+v, %v", perfect, err)
	}
	flat, err := Discriminate([]float64{0.5, 0.5, 0.5, 0.5}, []float64{0, 0, 1, 1}, nil, nil, 0.95)
	if err != nil || flat.C != 0.5 || len(flat.Points) != 2 {
		t.Errorf("flat: %+v, %v", flat, err)
	}
	for name, y := range map[string][]float64{"all yes": {1, 1, 1, 1}, "no number": {0, 1, math.NaN(), 1}} {
		if _, err := Discriminate([]float64{0.5, 0.5, 0.5, 0.5}, y, nil, nil, 0.95); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	bins, err := Calibrate(share, y, nil, 3, 0.95)
	if err != nil || len(bins) != 3 || bins[0].Rows != 2 || bins[1].Rows != 2 || math.Abs(bins[1].Expected-0.4) > 1e-15 || bins[1].Observed != 0.5 {
		t.Errorf("bins %+v, %v", bins, err)
	}
	// Newcombe 1998, Stat Med 17:857, table I: 81 of 263, method 3.
	if lo, hi := Wilson(81, 263, 0.95); math.Abs(lo-0.2553) > 5e-5 || math.Abs(hi-0.3662) > 5e-5 {
		t.Errorf("Wilson's interval of 81 of 263: %.4f to %.4f", lo, hi)
	}
}
