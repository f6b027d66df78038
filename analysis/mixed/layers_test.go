package mixed

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq/lsqtest"
)

// columns reads a table of text with a header.
func columns(t testing.TB, path string) map[string][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	return lsqtest.Table(t, f)
}

func floatsOf(t testing.TB, words []string) []float64 {
	t.Helper()
	out := make([]float64, len(words))
	for i, w := range words {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// labelled numbers words in their order.
func labelled(words []string) (labels []int, names []string) {
	names = slices.Clone(words)
	slices.Sort(names)
	names = slices.Compact(names)
	for _, w := range words {
		k, _ := slices.BinarySearch(names, w)
		labels = append(labels, k)
	}
	return labels, names
}

// layeredData are the cases of testdata/layers.R, with the names of the
// levels of each grouping.
func layeredData(t testing.TB, name string) (Data, Options, map[string][]string) {
	o := Options{ML: strings.HasSuffix(name, "_ml")}
	kind := name[:strings.LastIndex(name, "_")]
	names := map[string][]string{}
	level := func(c map[string][]string, group string) []int {
		l, n := labelled(c[group])
		names[group] = n
		return l
	}
	switch kind {
	case "penicillin":
		c := columns(t, "../../testdata/published/penicillin/data.csv")
		return Data{Y: floatsOf(t, c["diameter"]), Intercept: true, RandomIntercept: true, Group: level(c, "plate"), GroupName: "plate",
			Crossed: []Level{{Name: "sample", Labels: level(c, "sample")}}}, o, names
	case "pastes":
		c := columns(t, "../../testdata/published/pastes/data.csv")
		return Data{Y: floatsOf(t, c["strength"]), Intercept: true, RandomIntercept: true, Group: level(c, "sample"), GroupName: "sample",
			Above: &Level{Name: "batch", Labels: level(c, "batch")}}, o, names
	case "orthodont_spread":
		d, labels := ortho(t)
		_ = labels
		d.Z, d.ZNames = nil, nil
		for _, m := range d.X[1] {
			d.Spread = append(d.Spread, int(m))
		}
		return d, o, names
	}
	c := columns(t, "testdata/layers.csv")
	d := Data{Y: floatsOf(t, c["y"]), X: [][]float64{floatsOf(t, c["t"]), floatsOf(t, c["g"])}, Names: []string{"t", "g"}, Intercept: true,
		RandomIntercept: true, Group: level(c, "limb"), GroupName: "limb"}
	z, zn := [][]float64{d.X[0]}, []string{"t"}
	if kind == "nested" || kind == "all" || kind == "spread" {
		d.Z, d.ZNames = z, zn
	}
	if kind == "nested" || kind == "slopes" || kind == "all" || strings.Contains(kind, "_nested") {
		d.Above = &Level{Name: "person", Labels: level(c, "person")}
	}
	if kind == "slopes" {
		d.Above.Z, d.Above.ZNames = z, zn
	}
	if kind == "crossed" || kind == "all" {
		d.Crossed = []Level{{Name: "by", Labels: level(c, "by")}}
	}
	if strings.Contains(kind, "spread") {
		d.Spread = level(c, "by")
	}
	if strings.HasPrefix(kind, "serial") {
		d.Time, o.Correlation = d.X[0], ContinuousAR1
	}
	return d, o, names
}

type layersWant struct {
	Coef, SE, DF, VCov, R2, Kinds []float64
	LogLik, Range                 float64
	Groups                        []string
	Effects                       map[string]struct {
		Levels    []string
		Modes, SE []float64
		All       []float64 `json:"se_all"`
	}
}

// R 4.2.2, lme4 1.1-31 with lmerTest 3.1-3, and nlme 3.1-162 (testdata/layers.R).
// The optimiser of lme4 is driven to its limit, so that variances hold to 1e-6;
// that of nlme stops earlier, with a log-likelihood right to 1e-9 or so.
// lmerTest takes its derivatives by differences.
func TestLayers(t *testing.T) {
	text, err := os.ReadFile("testdata/layers.json")
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]layersWant
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	delete(want, "tests") // of another form
	for name, w := range want {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d, o, names := layeredData(t, name)
			m := mustFit(t, d, o)
			finite(t, name, reflect.ValueOf(m.Coef))
			exact := len(w.Groups) > 0
			tol := map[bool]float64{true: 1e-6, false: 2e-5}[exact]
			if m.LogLikelihood < w.LogLik-1e-9*math.Abs(w.LogLik) {
				t.Errorf("log-likelihood %.12f is below the reference's %.12f", m.LogLikelihood, w.LogLik)
			}
			lsqtest.Close(t, "log-likelihood", m.LogLikelihood, w.LogLik, map[bool]float64{true: 1e-9, false: 1e-8}[exact])
			for j, c := range m.Coef {
				lsqtest.Close(t, "coefficient", c.Estimate, w.Coef[j], map[bool]float64{true: 1e-6, false: 1e-4}[exact])
				lsqtest.Close(t, "error", c.SE, w.SE[j], tol)
				if exact {
					lsqtest.Close(t, "df", c.DF, w.DF[j], 1e-6)
				}
			}
			if !exact {
				m.compareSpread(t, w)
				return
			}
			for k, g := range w.Groups {
				lsqtest.Close(t, g, m.component(t, g), w.VCov[k], tol)
			}
			lsqtest.Close(t, "marginal R2", m.R2Marginal, w.R2[0], tol)
			lsqtest.Close(t, "conditional R2", m.R2Conditional, w.R2[1], tol)
			for _, l := range m.Layers {
				e, q := w.Effects[l.Name], len(l.RandomNames)
				for i, level := range e.Levels {
					k := slices.Index(names[l.Name], level)
					x := l.Effects[k]
					for j := range q {
						// Their spread, not their own size, sets what a difference means.
						if diff := math.Abs(x.Mode[j] - e.Modes[i*q+j]); diff > 1e-5*math.Sqrt(l.Cov[j][j]) {
							t.Errorf("%s %s = %g, want %g", l.Name, level, x.Mode[j], e.Modes[i*q+j])
						}
						lsqtest.Close(t, l.Name+" error", x.SE[j], e.SE[i*q+j], 5e-6)
						lsqtest.Close(t, l.Name+" error with uncertain fixed effects", x.SEAll[j], e.All[i*q+j], 5e-6)
					}
				}
			}
		})
	}
}

// component finds a variance by what lme4 calls it.
func (m *Model) component(t *testing.T, name string) float64 {
	t.Helper()
	p := strings.Split(strings.NewReplacer("(Intercept)", "intercept", "Residual", "residual").Replace(name), ":")
	for _, c := range m.Variance {
		if c.Group == p[0] && (p[1] == "NA" || c.Term == p[1]) && (p[2] == "NA" && c.With == "" || c.With == p[2]) {
			return c.Variance
		}
	}
	t.Fatalf("no component %s", name)
	return 0
}

// compareSpread compares what nlme tells of random effects and residuals.
func (m *Model) compareSpread(t *testing.T, w layersWant) {
	t.Helper()
	k := 0
	for _, l := range m.Layers {
		for a := range l.Cov {
			for b := a; b < len(l.Cov); b++ {
				// nlme lists the group above first.
				at := k
				if len(m.Layers) == 2 {
					at = 1 - k
				}
				scale := math.Sqrt(l.Cov[a][a] * l.Cov[b][b])
				if math.Abs(l.Cov[a][b]-w.VCov[at]) > 5e-5*scale {
					t.Errorf("%s covariance %g, want %g", l.Name, l.Cov[a][b], w.VCov[at])
				}
				k++
			}
		}
	}
	for k, v := range w.Kinds {
		lsqtest.Close(t, "residual standard deviation", m.Spread[k].SD, v, 2e-5)
	}
	if w.Range > 0 {
		lsqtest.Close(t, "range", m.Range, w.Range, 2e-5)
	}
}

// Likelihood ratios of the same models without one part (testdata/layers.R).
func TestLayersTested(t *testing.T) {
	text, err := os.ReadFile("testdata/layers.json")
	if err != nil {
		t.Fatal(err)
	}
	var want struct{ Tests map[string][][]float64 }
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	for name, w := range want.Tests {
		d, o, _ := layeredData(t, name)
		tests, err := mustFit(t, d, o).VarianceTests()
		if err != nil {
			t.Fatal(err)
		}
		if len(tests) != len(w) {
			t.Fatalf("%s: %+v", name, tests)
		}
		for k, v := range w {
			lsqtest.Close(t, name+" ratio of "+tests[k].Term, tests[k].Statistic, v[0], 1e-6)
			lsqtest.Close(t, name+" p of "+tests[k].Term, tests[k].P, v[1], 1e-5)
		}
	}
}

func TestLayersThatCannotBe(t *testing.T) {
	d, _, _ := layeredData(t, "all_reml")
	one := make([]int, len(d.Y))
	each := make([]int, len(d.Y))
	by := make([][]float64, 3) // columns that tell measurers apart
	for i := range each {
		each[i] = i
		for k := range by {
			by[k] = append(by[k], 0)
			if d.Crossed[0].Labels[i] == k+1 {
				by[k][i] = 1
			}
		}
	}
	for name, c := range map[string]struct {
		change func(*Data)
		want   error
	}{
		"not nested":                    {func(d *Data) { d.Above, d.Crossed = &d.Crossed[0], nil }, ErrNotNested},
		"the same twice":                {func(d *Data) { d.Crossed[0].Labels = d.Group }, ErrSameGrouping},
		"persons are limbs":             {func(d *Data) { d.Above.Labels = d.Group }, ErrSameGrouping},
		"one who measures":              {func(d *Data) { d.Crossed[0].Labels = one }, ErrOneLevel},
		"a measurer a row":              {func(d *Data) { d.Crossed[0].Labels = each }, ErrNotSeparable},
		"one kind of row":               {func(d *Data) { d.Spread = one }, ErrOneLevel},
		"too few labels":                {func(d *Data) { d.Crossed[0].Labels = one[:5] }, ErrInput},
		"columns for each who measures": {func(d *Data) { d.X, d.Names = append(d.X[:2:2], by...), []string{"t", "g", "2", "3", "4"} }, ErrNoneAlike},
		"too few kinds":                 {func(d *Data) { d.Spread = one[:5] }, ErrInput},
		"slopes that cross":             {func(d *Data) { d.Crossed[0].Z = d.Z }, ErrInput},
		"slope that is level":           {func(d *Data) { d.Above.Z, d.Above.ZNames = [][]float64{d.X[1]}, []string{"g"} }, ErrConstantSlope},
	} {
		e := d
		above := *d.Above
		e.Above, e.Crossed = &above, slices.Clone(d.Crossed)
		c.change(&e)
		if _, err := Fit(e, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// Measurers who do not differ: their variance is none, which is said, and the
// rest is as without them.
func TestLayersThatAreNone(t *testing.T) {
	d, _, _ := layeredData(t, "crossed_reml")
	for i := range d.Y {
		d.Y[i] -= []float64{-2, 0, 0.5, 1.5}[d.Crossed[0].Labels[i]]
		d.Crossed[0].Labels[i] = i % 3
	}
	m := mustFit(t, d, Options{})
	d.Crossed = nil
	plain := mustFit(t, d, Options{})
	if !m.Singular || len(m.Warnings) != 1 || m.Warnings[0].About != "by" {
		t.Errorf("singular %v, %v", m.Singular, m.Warnings)
	}
	lsqtest.Close(t, "log-likelihood", m.LogLikelihood, plain.LogLikelihood, 1e-11)
	for j, c := range m.Coef {
		lsqtest.Close(t, "coefficient", c.Estimate, plain.Coef[j].Estimate, 1e-7)
		lsqtest.Close(t, "error", c.SE, plain.Coef[j].SE, 1e-7)
		lsqtest.Close(t, "df", c.DF, plain.Coef[j].DF, 1e-5)
	}
	for g, e := range m.Effects {
		lsqtest.Close(t, "error of a limb", e.SEAll[0], plain.Effects[g].SEAll[0], 1e-6)
	}
}

// With one grouping alone the criterion of several gives what that of one does.
func TestLayersMeetOneGrouping(t *testing.T) {
	for _, o := range []Options{{}, {ML: true}, {Uncorrelated: true}} {
		d, _, _ := layeredData(t, "spread_reml")
		plain := d
		plain.Spread = nil
		a := mustFit(t, plain, o)
		p, err := prepare(plain, o)
		if err != nil {
			t.Fatal(err)
		}
		y := slices.Clone(a.obj.residual)
		floats.Scale(1/a.obj.scale, y)
		l, err := newLayers(p, a.f, y, 1)
		if err != nil {
			t.Fatal(err)
		}
		l.base = a.obj.base
		s, _, err := l.minimise()
		if err != nil {
			t.Fatal(err)
		}
		lsqtest.Close(t, "log-likelihood", -s.value/2, a.LogLikelihood, 1e-11)
		for j, v := range newLayerFreedom(s).middle(a.Sigma * a.Sigma) {
			for k := range v {
				lsqtest.Close(t, "covariance", v[k], a.sat.middle(a.Sigma * a.Sigma)[j][k], 1e-5)
			}
		}
	}
}

// A kind of rows that the rest of the model passes through: its scatter runs to
// nothing and the likelihood grows without end, which is said.
func TestKindWithoutScatter(t *testing.T) {
	d, _, _ := layeredData(t, "spread_reml")
	d.Z, d.ZNames, d.Spread = nil, nil, make([]int, len(d.Y))
	for k, i := range []int{0, 9, 21} { // one row of each of three limbs
		d.Spread[i] = 1
		d.Group[i] = d.Group[0] + 1000 + k
	}
	if _, err := Fit(d, Options{ML: true}); !errors.Is(err, ErrKindWithoutScatter) {
		t.Errorf("%v", err)
	}
}
