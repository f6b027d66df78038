package mixed

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// kenwardData are the cases of testdata/kenward.R.
func kenwardData(t testing.TB, name string) (Data, Options) {
	set, kind, _ := strings.Cut(name, "_")
	o := Options{Freedom: KenwardRoger, Uncorrelated: kind == "apart"}
	var d Data
	switch set {
	case "sleep", "orthodont", "thinned":
		switch {
		case set == "sleep":
			d, _ = sleep(t)
		case set == "orthodont" && kind == "intercept":
			d, _ = ortho(t)
		default:
			d, _, _ = thinned(t, map[string]string{"orthodont": "ortho_reml_slope", "thinned": "sleep_reml_slope"}[set])
		}
		d.Terms, d.TermNames = nil, nil
		if kind == "intercept" {
			d.Z, d.ZNames = nil, nil
		}
	case "beets":
		c := columns(t, "../../testdata/published/beets/data.csv")
		d = Data{Y: floatsOf(t, c["sugpct"]), Intercept: true, RandomIntercept: true, GroupName: "plot"}
		d.Group, _ = labelled(c["limb"])
		for _, of := range []string{"block", "sow", "harvest"} {
			codes, names := labelled(c[of])
			for k := 1; k < len(names); k++ {
				x := make([]float64, len(codes))
				for i, v := range codes {
					if v == k {
						x[i] = 1
					}
				}
				d.X, d.Names = append(d.X, x), append(d.Names, names[k])
			}
		}
	case "few", "bent", "none", "even", "least":
		c := columns(t, "testdata/kenward.csv")
		var times, second, third []float64
		y, at, arm := floatsOf(t, c["y"]), floatsOf(t, c["t"]), floatsOf(t, c["arm"])
		is := map[bool]float64{true: 1}
		groups, _ := labelled(c["group"])
		for i, s := range c["set"] {
			if s == set {
				d.Y, d.Group = append(d.Y, y[i]), append(d.Group, groups[i])
				times, second, third = append(times, at[i]), append(second, is[arm[i] == 2]), append(third, is[arm[i] == 3])
			}
		}
		d.X, d.Names, d.Intercept, d.RandomIntercept, d.GroupName = [][]float64{times, second, third}, []string{"t", "second", "third"}, true, true, "limb"
		if set == "even" {
			d.X, d.Names = d.X[:2], d.Names[:2]
		}
		if kind != "intercept" {
			d.Z, d.ZNames = d.X[:1], d.Names[:1]
		}
	default:
		d, _, _ = layeredData(t, set+"_reml")
		if kind == "apart" {
			d.Z, d.ZNames = d.Above.Z, d.Above.ZNames
		}
	}
	return d, o
}

type kenwardWant struct {
	Coef, SE, DF, Cov []float64
	Tests             []struct {
		At                    []int
		F, Scale, NDF, DDF, P float64
	}
}

// R 4.2.2, lme4 1.1-31 and pbkrtest 0.5.2 (testdata/kenward.R): adjusted
// covariance, degrees of freedom and F tests of balanced and imbalanced data,
// small designs, a variance of zero, several groupings. The optimiser of lme4
// stops at about 1e-7 of the variances.
func TestKenwardRoger(t *testing.T) {
	text, err := os.ReadFile("testdata/kenward.json")
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]kenwardWant
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != 22 {
		t.Errorf("%d cases", len(want))
	}
	for name, w := range want {
		t.Run(name, func(t *testing.T) {
			d, o := kenwardData(t, name)
			m, err := Fit(d, o)
			if err != nil {
				t.Fatal(err)
			}
			n := len(w.Coef)
			if len(m.Coef) != n {
				t.Fatalf("%d coefficients", len(m.Coef))
			}
			for j, c := range m.Coef {
				lsqtest.Close(t, c.Name, c.Estimate, w.Coef[j], 1e-6)
				lsqtest.Close(t, c.Name+", error", c.SE, w.SE[j], 1e-6)
				lsqtest.Close(t, c.Name+", degrees of freedom", c.DF, w.DF[j], 1e-6)
				for k := range n {
					if v := m.Cov[j][k] - w.Cov[j*n+k]; v > 1e-6*w.SE[j]*w.SE[k] || v < -1e-6*w.SE[j]*w.SE[k] {
						t.Errorf("covariance of %s and %s is %g, want %g", c.Name, m.Coef[k].Name, m.Cov[j][k], w.Cov[j*n+k])
					}
				}
			}
			for _, x := range w.Tests {
				rows := make([][]float64, len(x.At))
				for k, at := range x.At {
					rows[k] = make([]float64, n)
					rows[k][at] = 1
				}
				f, err := m.FTest(rows)
				if err != nil {
					t.Fatal(err)
				}
				lsqtest.Close(t, "F", f.Statistic, x.F, 2e-6)
				lsqtest.Close(t, "factor of F", f.Scale, x.Scale, 1e-6)
				lsqtest.Close(t, "degrees of freedom of F", f.DF2, x.DDF, 1e-6)
				lsqtest.Close(t, "p of F", f.P, x.P, 1e-5)
			}
		})
	}
}

// Where the method does not apply it is refused.
func TestKenwardRogerRefused(t *testing.T) {
	d, _ := sleep(t)
	ar, spread := d, d
	ar.Time = d.X[0]
	spread.Spread = make([]int, len(d.Y))
	spread.Spread[0] = 1
	for name, c := range map[string]struct {
		d Data
		o Options
	}{"ML": {d, Options{ML: true}}, "correlation": {ar, Options{Correlation: ContinuousAR1}}, "spread": {spread, Options{}}} {
		c.o.Freedom = KenwardRoger
		if _, err := Fit(c.d, c.o); !errors.Is(err, ErrNoAdjustment) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Fit(d, Options{Freedom: 7}); !errors.Is(err, ErrInput) {
		t.Errorf("unknown: %v", err)
	}
	many := d
	labels := make([]int, 3*len(d.Y))
	many.Y, many.X, many.Z, many.Group = nil, [][]float64{nil}, nil, nil
	many.ZNames = nil
	for k := range 3 {
		for i := range d.Y {
			many.Y = append(many.Y, d.Y[i]+float64((7*i+k)%5))
			many.X[0] = append(many.X[0], d.X[0][i])
			many.Group = append(many.Group, d.Group[i])
			labels[k*len(d.Y)+i] = (i*3 + k) % 301
		}
	}
	many.Crossed = []Level{{Name: "measurer", Labels: labels}}
	if _, err := Fit(many, Options{Freedom: KenwardRoger}); !errors.Is(err, ErrManyLevels) {
		t.Errorf("many levels: %v", err)
	}
}

// The adjustment does not depend on units, on added constants nor on the order
// of the rows, and an estimate's F is its t squared.
func TestKenwardRogerProperties(t *testing.T) {
	d, o := kenwardData(t, "bent_slope")
	a := mustFit(t, d, o)
	n := len(d.Y)
	e := d
	e.Y, e.Group, e.X = make([]float64, n), make([]int, n), [][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i := range n {
		k := (i*7 + 3) % n
		e.Y[i], e.Group[i] = 1000*d.Y[k]-4e5, d.Group[k]
		e.X[0][i], e.X[1][i], e.X[2][i] = 30*d.X[0][k]+1000, d.X[1][k], d.X[2][k]
	}
	e.Z = e.X[:1]
	b := mustFit(t, e, o)
	for j, c := range a.Coef[1:] {
		scale := 1000.0
		if j == 0 {
			scale = 1000.0 / 30
		}
		lsqtest.Close(t, c.Name+", error", b.Coef[j+1].SE, scale*c.SE, 1e-8)
		lsqtest.Close(t, c.Name+", degrees of freedom", b.Coef[j+1].DF, c.DF, 1e-7)
	}
	f, err := a.FTest([][]float64{{0, 2, 0, -1}})
	if err != nil {
		t.Fatal(err)
	}
	c, err := a.Contrast([]float64{0, 2, 0, -1})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "F of one row", f.Statistic, c.T*c.T, 1e-12)
	lsqtest.Close(t, "df of one row", f.DF2, c.DF, 1e-12)
	lsqtest.Close(t, "p of one row", f.P, c.P, 1e-9)
	if f.Scale != 1 {
		t.Errorf("factor %g of one row", f.Scale)
	}
}

// Of next to nothing either something finite is said or a sentence.
func TestKenwardRogerOfNextToNothing(t *testing.T) {
	fits, refused, untested := 0, 0, 0
	for seed := range 300 {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		d := Data{Intercept: true, RandomIntercept: true, X: make([][]float64, 3), Names: []string{"t", "second", "third"}, Terms: []int{0, 1, 1}}
		for g := range 3 + r.IntN(3) {
			level := 3 * r.NormFloat64()
			for range 1 + r.IntN(4) {
				at := r.NormFloat64()
				d.Group, d.Y = append(d.Group, g), append(d.Y, level+at+r.NormFloat64())
				for k, v := range []float64{at, float64(g % 3 % 2), float64(g % 3 / 2)} {
					d.X[k] = append(d.X[k], v)
				}
			}
		}
		if r.IntN(2) == 0 {
			d.Z, d.ZNames = d.X[:1], d.Names[:1]
		}
		m, err := Fit(d, Options{Freedom: KenwardRoger})
		switch {
		case errors.Is(err, ErrFewToAdjust):
			refused++
			continue
		case errors.Is(err, ErrTooFewRows) || errors.Is(err, ErrNotSeparable) || errors.Is(err, ErrNoneAlike):
			continue
		case err != nil:
			t.Fatal(seed, err)
		}
		fits++
		for _, c := range m.Coef {
			if math.IsNaN(c.P+c.Low+c.High) || !(c.SE > 0) || !(c.DF >= leastFreedom) {
				t.Errorf("%d: %+v", seed, c)
			}
		}
		if len(m.Terms) == 0 {
			untested++
		}
		for _, f := range m.Terms {
			if math.IsNaN(f.P+f.Statistic) || !(f.DF2 >= leastFreedom) || !(f.Scale > 0) {
				t.Errorf("%d: %+v", seed, f)
			}
		}
	}
	if fits < 100 || refused < 5 || untested < 2 {
		t.Errorf("%d fits, %d refused, %d terms not tested", fits, refused, untested)
	}
}
