package quadrature

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"plybook/analysis/regress"
	"plybook/analysis/stats"
)

func TestDegenerate(t *testing.T) {
	ok := func() Data {
		return Data{Y: []float64{0, 1, 0, 1, 1, 0, 0, 1}, X: [][]float64{{1, 2, 3, 4, 5, 6, 8, 7}}, Names: []string{"x"}, Group: []int{1, 1, 2, 2, 3, 3, 4, 4}, Levels: 2}
	}
	for name, c := range map[string]struct {
		family Family
		change func(*Data)
		want   error
	}{
		"no rows":           {Logistic, func(d *Data) { *d = Data{} }, stats.ErrNoRows},
		"one group":         {Logistic, func(d *Data) { clear(d.Group) }, ErrOneGroup},
		"one row a group":   {Logistic, func(d *Data) { d.Group = []int{1, 2, 3, 4, 5, 6, 7, 8} }, ErrNoRepeats},
		"none varies":       {Logistic, func(d *Data) { d.Y = []float64{0, 0, 1, 1, 0, 0, 1, 1} }, ErrNoneVaries},
		"ordinal, the same": {Ordinal, func(d *Data) { d.Y = []float64{0, 0, 1, 1, 0, 0, 1, 1} }, ErrNoneVaries},
		"separated":         {Logistic, func(d *Data) { d.X[0] = []float64{0, 1, 0, 1, 1, 0, 0, 1} }, regress.ErrSeparation},
		"a constant column": {Ordinal, func(d *Data) { d.X[0] = make([]float64, 8) }, stats.ErrSingular},
		"twice a column":    {Logistic, func(d *Data) { d.X, d.Names = append(d.X, d.X[0]), append(d.Names, "again") }, stats.ErrSingular},
		"not 0 or 1":        {Logistic, func(d *Data) { d.Y[0] = 2 }, ErrInput},
		"no level":          {Ordinal, func(d *Data) { d.Y[0] = 2 }, ErrInput},
		"half a count":      {Poisson, func(d *Data) { d.Y[0] = 0.5 }, ErrInput},
		"a missing value":   {Poisson, func(d *Data) { d.X[0][0] = math.NaN() }, ErrInput},
		"no counts":         {Poisson, func(d *Data) { clear(d.Y) }, regress.ErrConstantResponse},
		"a short column":    {Logistic, func(d *Data) { d.X[0] = d.X[0][:7] }, ErrInput},
	} {
		d := ok()
		c.change(&d)
		if _, err := Fit(c.family, d, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, err := Fit(Logistic, ok(), Options{Level: 2}); !errors.Is(err, ErrInput) {
		t.Errorf("level 2: %v", err)
	}
}

// Groups that differ less than chance makes them have a variance of 0, and the
// fit is that without them.
func TestNoVariance(t *testing.T) {
	d := Data{Names: []string{"x"}, X: [][]float64{nil}}
	for g := range 12 { // every group has as many of each
		for k := range 6 {
			d.Group = append(d.Group, g)
			d.X[0] = append(d.X[0], float64((k*5+g)%6))
			d.Y = append(d.Y, float64(k%2))
		}
	}
	for _, family := range []Family{Logistic, Poisson} {
		m, err := Fit(family, d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		f := regress.Logistic
		if family == Poisson {
			f = regress.Poisson
		}
		p, err := regress.FitGLM(f, regress.GLMData{Y: d.Y, X: d.X, Names: d.Names}, regress.GLMOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if !m.AtZero || m.SD != 0 || m.Between.P != 1 || !m.Low.Has || m.Low.Value != 0 || !m.High.Has || !(m.High.Value > 0) {
			t.Errorf("%v: %+v %+v", family, m.SD, m.Between)
		}
		for j, c := range p.Coef {
			same(t, "coefficient", m.Coef[j].Estimate, c.Estimate, 1e-7)
			same(t, "error", m.Coef[j].SE, c.SE, 1e-6)
		}
		same(t, "log likelihood", m.LogLik, p.LogLik, 1e-10)
		pair, err := m.Predict([]float64{2})
		if err != nil || pair.Typical.Estimate != pair.All.Estimate || m.Effects[0].Mode != 0 {
			t.Errorf("%+v %v", pair, err)
		}
	}
}

// Bytes do not depend on the number of processors, nor numbers on the order of
// rows, nor on units.
func TestSameAnswer(t *testing.T) {
	for _, family := range []Family{Logistic, Poisson, Ordinal} {
		d := drawn(family, 11, 60, 5, 1)
		a, err := Fit(family, d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		before := runtime.GOMAXPROCS(1)
		b, err := Fit(family, d, Options{})
		runtime.GOMAXPROCS(before)
		if err != nil || !reflect.DeepEqual(a.theta, b.theta) || !reflect.DeepEqual(a.Effects, b.Effects) || a.High != b.High {
			t.Errorf("%v: one processor gives another answer: %v", family, err)
		}
		r := rand.New(rand.NewPCG(1, 2))
		order := r.Perm(len(d.Y))
		e := Data{Levels: d.Levels, Names: d.Names, X: make([][]float64, 2)}
		for _, i := range order {
			e.Y, e.Group = append(e.Y, d.Y[i]), append(e.Group, d.Group[i])
			e.X[0], e.X[1] = append(e.X[0], 1000+30*d.X[0][i]), append(e.X[1], d.X[1][i])
			if d.Offset != nil {
				e.Offset = append(e.Offset, d.Offset[i])
			}
		}
		c, err := Fit(family, e, Options{})
		if err != nil {
			t.Fatal(err)
		}
		same(t, "log likelihood", c.LogLik, a.LogLik, 1e-11)
		same(t, "SD", c.SD, a.SD, 1e-8)
		same(t, "coefficient", 30*columnOf(c, 0).Estimate, columnOf(a, 0).Estimate, 1e-7)
		same(t, "error", columnOf(c, 1).SE, columnOf(a, 1).SE, 1e-7)
		same(t, "limit", c.High.Value, a.High.Value, 1e-5)
	}
}

// An ordinal outcome of two levels is a yes or no, and one node at a time the
// answers agree.
func TestTwoLevels(t *testing.T) {
	d := drawn(Logistic, 4, 50, 4, 1)
	a, err := Fit(Logistic, d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	d.Levels = 2
	b, err := Fit(Ordinal, d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "log likelihood", b.LogLik, a.LogLik, 1e-12)
	same(t, "threshold", -b.Coef[0].Estimate, a.Coef[0].Estimate, 1e-8)
	same(t, "SD", b.SD, a.SD, 1e-8)
	x, err := a.Predict([]float64{1, 0})
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.PredictLevels([]float64{1, 0}, []float64{0, 1})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "share", s.Mean.All.Estimate, x.All.Estimate, 1e-9)
	same(t, "its error", s.Mean.All.SE, x.All.SE, 1e-7)
	same(t, "typical", s.Levels[1].Typical.Low, x.Typical.Low, 1e-7)
}

// The error of what is expected over all groups is that of the delta method,
// by differences of the estimates.
func TestExpectedGradient(t *testing.T) {
	m, err := Fit(Logistic, drawn(Logistic, 4, 50, 4, 1.5), Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := []float64{1.5, 1}
	p, _ := m.Predict(x)
	for j := range m.theta {
		moved := *m
		const h = 1e-6
		moved.theta = append([]float64(nil), m.theta...)
		moved.theta[j] += h
		if j == len(m.theta)-1 {
			moved.SD += h
		}
		q, _ := moved.Predict(x)
		same(t, "gradient", p.All.gradient[j], (q.All.Estimate-p.All.Estimate)/h, 1e-4)
		same(t, "gradient", p.Typical.gradient[j], (q.Typical.Estimate-p.Typical.Estimate)/h, 1e-4)
	}
}

// The truth is covered: coefficients and standard deviation in 95 of 100
// drawings, within what so many drawings allow.
func TestCoverage(t *testing.T) {
	const drawings = 200
	for _, family := range []Family{Logistic, Poisson, Ordinal} {
		var time, kind, sd int
		for k := range drawings {
			m, err := Fit(family, drawn(family, uint64(1000+k), 80, 5, 1), Options{})
			if err != nil {
				t.Fatal(err)
			}
			hit := func(n *int, low, high, truth float64) {
				if low <= truth && truth <= high {
					*n++
				}
			}
			a, b := columnOf(m, 0), columnOf(m, 1)
			hit(&time, a.Low, a.High, 0.5)
			hit(&kind, b.Low, b.High, -0.7)
			hit(&sd, m.Low.Value, m.High.Value, 1)
		}
		for name, n := range map[string]int{"time": time, "kind": kind, "standard deviation": sd} {
			// 190 expected, with an error of 3.1.
			if n < 180 || n > 199 {
				t.Errorf("%v: the interval of %s covers %d of %d", family, name, n, drawings)
			}
			t.Logf("%v: %s %d of %d", family, name, n, drawings)
		}
	}
}

// columnOf is the coefficient of column j of X.
func columnOf(m *Model, j int) Coefficient { return m.Coef[m.problem.cuts+j] }
