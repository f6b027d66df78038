package maturation

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/mixed"
	"plybook/analysis/stats"
)

// lab draws limbs that settle: plateaus and drops normal between limbs, one
// rate, readings at irregular days after amputation.
type lab struct {
	limbs, readings int
	plateau, sdA    float64
	drop, sdD       float64
	days            float64 // 1/rate
	sdRate, sigma   float64
}

// shrinking is what volumes of the example look like, in ml and days.
var shrinking = lab{limbs: 40, readings: 6, plateau: 1150, sdA: 160, drop: 0.34 * 1150, sdD: 0.07 * 1150, days: 110, sigma: 14}

type drawn struct {
	data   Data
	curves []curve // form Initial, of each limb
}

func (l lab) draw(r *rand.Rand) drawn {
	var out drawn
	for g := range l.limbs {
		a := l.plateau + l.sdA*r.NormFloat64()
		c := curve{a, a + l.drop + l.sdD*r.NormFloat64(), -math.Log(l.days) + l.sdRate*r.NormFloat64()}
		out.curves = append(out.curves, c)
		t := 20 + 40*r.Float64()
		for range l.readings {
			v, _ := Initial.value(c, t)
			out.data.Y = append(out.data.Y, v+l.sigma*r.NormFloat64())
			out.data.Time = append(out.data.Time, t)
			out.data.Group = append(out.data.Group, g)
			t += 15 + 100*r.Float64()
		}
	}
	return out
}

// The truth is covered as often as intervals promise, where limbs share one
// rate; 200 draws leave an error of 1.5 percentage points. Where rates differ
// limbs' own intervals are too short: DEVELOPERS.md says by how much.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("200 fits of two models")
	}
	for name, l := range map[string]lab{"one rate": shrinking, "rates differ": func() lab { s := shrinking; s.sdRate = 0.25; return s }()} {
		draws, least := 200, 0.90
		if l.sdRate > 0 { // three effects from six readings: slower, and known only roughly
			draws, least = 40, 0.82
		}
		covered, of, mean := map[string]float64{}, map[string]float64{}, map[string]float64{}
		r := rand.New(rand.NewPCG(17, 4))
		for range draws {
			d := l.draw(r)
			m, err := Fit(d.data, Options{Form: Initial, VaryInitial: true, VaryRate: l.sdRate > 0})
			if err != nil {
				t.Fatal(err)
			}
			see := func(what string, truth, low, high float64) {
				of[what]++
				if low <= truth && truth <= high {
					covered[what]++
				}
			}
			for j, truth := range []float64{l.plateau, l.plateau + l.drop, -math.Log(l.days)} {
				c := m.Coef[j]
				see(c.Name, truth, c.Low, c.High)
				mean[c.Name] += c.Estimate / float64(draws)
			}
			v, err := m.AverageSettled(nil, 0.02)
			if err != nil {
				t.Fatal(err)
			}
			truth := l.days * math.Log(l.drop/l.plateau/(0.02/0.98))
			see("settled", truth, v.Low, v.High)
			for g, c := range d.curves {
				at := m.Limbs[g].Last + 60
				noise := l.sigma * r.NormFloat64()
				true60, _ := Initial.value(c, at)
				for what, get := range map[string]func() (Value, float64){
					"limb's plateau": func() (Value, float64) { v, _ := m.Plateau(g); return v, c[0] },
					"limb's volume":  func() (Value, float64) { v, _ := m.At(g, at); return v, true60 },
					"limb's next":    func() (Value, float64) { v, _ := m.Next(g, at); return v, true60 + noise },
					"limb's further loss": func() (Value, float64) {
						v, _ := m.Change(g, m.Limbs[g].Last, math.Inf(1))
						now, _ := Initial.value(c, m.Limbs[g].Last)
						return v, 100 * (c[0]/now - 1)
					},
				} {
					v, truth := get()
					see(what, truth, v.Low, v.High)
				}
			}
		}
		for what, n := range of {
			share := covered[what] / n
			t.Logf("%s, %s: %.1f%% of %g covered, mean estimate %.5g", name, what, 100*share, n, mean[what])
			if share < least || share > 0.995 {
				t.Errorf("%s: %s is covered in %.1f percent", name, what, 100*share)
			}
		}
	}
}

// Neither the order of rows nor the units change what is found.
func TestUnits(t *testing.T) {
	d := shrinking.draw(rand.New(rand.NewPCG(1, 2))).data
	a, err := Fit(d, Options{VaryInitial: true})
	if err != nil {
		t.Fatal(err)
	}
	var e Data
	for i := len(d.Y) - 1; i >= 0; i-- {
		e.Y, e.Time, e.Group = append(e.Y, d.Y[i]/1000), append(e.Time, d.Time[i]/7), append(e.Group, d.Group[i])
	}
	b, err := Fit(e, Options{VaryInitial: true})
	if err != nil {
		t.Fatal(err)
	}
	close(t, "plateau", b.Coef[0].Estimate*1000, a.Coef[0].Estimate, 1e-6)
	close(t, "drop", b.Coef[1].Estimate, a.Coef[1].Estimate, 1e-6)
	close(t, "log rate", b.Coef[2].Estimate-math.Log(7), a.Coef[2].Estimate, 1e-6)
	close(t, "sigma", b.Sigma*1000, a.Sigma, 1e-6)
	for _, get := range []func(*Model, int, float64) (Value, error){
		func(m *Model, g int, u float64) (Value, error) { return m.Change(g, 200/u, math.Inf(1)) },
		func(m *Model, g int, u float64) (Value, error) { return m.Change(g, 100/u, 200/u) },
		func(m *Model, g int, u float64) (Value, error) {
			v, err := m.Settled(g, 0.02)
			return Value{v.Estimate * u, v.SE * u, v.Low * u, v.High * u}, err
		},
	} {
		x, err := get(a, 3, 1)
		if err != nil {
			t.Fatal(err)
		}
		y, err := get(b, 3, 7)
		if err != nil {
			t.Fatal(err)
		}
		close(t, "estimate", y.Estimate, x.Estimate, 1e-5)
		close(t, "error", y.SE, x.SE, 1e-5)
		close(t, "low", y.Low, x.Low, 1e-5)
	}
}

// Slopes by the delta method are slopes.
func TestSlopes(t *testing.T) {
	for _, m := range []*Model{{Form: Share}, {Form: Initial}} {
		c := curve{1100, 0.3, -4.5}
		if m.Form == Initial {
			c[1] = 1500
		}
		_, s := m.Form.value(c, 130)
		_, u, ok := m.settled(c, 0.02)
		if !ok {
			t.Fatal("nothing left to settle")
		}
		for k := range c {
			e := 1e-6 * math.Abs(c[k])
			a, b := c, c
			a[k], b[k] = c[k]-e, c[k]+e
			va, _ := m.Form.value(a, 130)
			vb, _ := m.Form.value(b, 130)
			close(t, "slope of the volume", s[k], (vb-va)/(2*e), 1e-6)
			ta, _, _ := m.settled(a, 0.02)
			tb, _, _ := m.settled(b, 0.02)
			close(t, "slope of the time", u[k], (tb-ta)/(2*e), 1e-5)
		}
	}
}

func TestCovariate(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	d := shrinking.draw(r).data
	high := make([]float64, len(d.Y))
	for i, g := range d.Group {
		if g%2 == 1 {
			high[i] = 1
			d.Y[i] *= 2.5
		}
	}
	d.X, d.Names = [][]float64{high}, []string{"high"}
	m, err := Fit(d, Options{VaryInitial: true})
	if err != nil {
		t.Fatal(err)
	}
	c := m.Coef[1]
	if c.Name != "high" || math.Abs(c.Estimate-1.5*1150) > 3*c.SE {
		t.Errorf("covariate %v", c)
	}
	low, _ := m.AveragePlateau([]float64{0})
	up, _ := m.AveragePlateau([]float64{1})
	close(t, "difference", up.Estimate-low.Estimate, c.Estimate, 1e-12)
	high[0] = 1
	if _, err := Fit(d, Options{}); !errors.Is(err, ErrVaries) {
		t.Errorf("a covariate that varies: %v", err)
	}
}

func TestDegenerate(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	good := func() Data { return shrinking.draw(r).data }
	for name, c := range map[string]struct {
		change func(*Data)
		want   []error
	}{
		"nothing":      {func(d *Data) { *d = Data{} }, []error{stats.ErrNoRows}},
		"one limb":     {func(d *Data) { d.Y, d.Time, d.Group = d.Y[:6], d.Time[:6], d.Group[:6] }, []error{mixed.ErrOneGroup}},
		"one reading":  {func(d *Data) { d.Y, d.Time, d.Group = d.Y[:1], d.Time[:1], d.Group[:1] }, []error{ErrOneTime}},
		"lengths":      {func(d *Data) { d.Y = d.Y[1:] }, []error{ErrInput}},
		"not a number": {func(d *Data) { d.Y[3] = math.NaN() }, []error{ErrInput}},
		"before":       {func(d *Data) { d.Time[3] = -1 }, []error{ErrNegativeTime}},
		"one each": {func(d *Data) {
			for i := range d.Group {
				d.Group[i] = i
			}
		}, []error{ErrOneTime}},
		"three times": {func(d *Data) {
			for i := range d.Time {
				d.Time[i] = float64(i % 3)
			}
		}, []error{ErrTimes}},
		"all the same": {func(d *Data) {
			for i := range d.Y {
				d.Y[i] = 1000
			}
		}, []error{ErrNoChange}},
		"straight": {func(d *Data) {
			for i := range d.Y {
				d.Y[i] = 1000 + 40*float64(d.Group[i]) - 0.5*d.Time[i] + r.NormFloat64()
			}
		}, []error{ErrNoPlateau, stats.ErrConvergence}},
		"only noise": {func(d *Data) {
			for i := range d.Y {
				d.Y[i] = 1000 + 40*float64(d.Group[i]) + r.NormFloat64()
			}
		}, []error{nil, ErrNoChange, ErrNoPlateau, stats.ErrConvergence, stats.ErrSingular}},
		"no scatter": {func(d *Data) {
			for i := range d.Y {
				d.Y[i], _ = Initial.value(curve{1000 + 10*float64(d.Group[i]), 1400 + 10*float64(d.Group[i]), -4.5}, d.Time[i])
			}
		}, []error{mixed.ErrNoScatter, stats.ErrConvergence}},
		"a covariate of one value": {func(d *Data) {
			x := make([]float64, len(d.Y))
			d.X, d.Names = [][]float64{x}, []string{"x"}
		}, []error{stats.ErrSingular}},
	} {
		d := good()
		c.change(&d)
		m, err := Fit(d, Options{VaryInitial: true})
		ok := false
		for _, w := range c.want {
			ok = ok || w == nil && err == nil || w != nil && errors.Is(err, w)
		}
		if !ok {
			t.Errorf("%s: error %v, want one of %v", name, err, c.want)
		}
		if m != nil {
			for _, x := range m.Coef {
				if math.IsNaN(x.Estimate) || math.IsNaN(x.SE) {
					t.Errorf("%s: %v", name, x)
				}
			}
		}
	}
}

// Limbs seen briefly say little of the rate; the search still ends, and ends
// where the likelihood of nearby variances is no higher.
func TestBriefLimbs(t *testing.T) {
	for seed := range uint64(12) {
		l := lab{limbs: 12, readings: 5, plateau: 1150, sdA: 160, drop: 391, sdD: 78, days: 110, sigma: 14}
		d := l.draw(rand.New(rand.NewPCG(seed, 1))).data
		for i := range d.Time { // six times as fast a follow-up of slower limbs
			d.Time[i] = 25 + d.Time[i]/4
		}
		for _, o := range []Options{{Form: Share, VaryInitial: true}, {Form: Initial, VaryInitial: true}} {
			m, err := Fit(d, o)
			if err != nil {
				t.Errorf("seed %d, form %d: %v", seed, o.Form, err)
				continue
			}
			if c := m.Coef[2]; !(c.SE > 0) || math.Abs(c.Estimate+math.Log(110/4.0)) > 5*c.SE+0.5 {
				t.Errorf("seed %d, form %d: log rate %g with error %g", seed, o.Form, c.Estimate, c.SE)
			}
		}
	}
}
