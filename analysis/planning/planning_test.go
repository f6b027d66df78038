package planning

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"plybook/analysis/survival"
)

// Hsieh and Lavori 2000, the multiple myeloma example: the log of blood urea
// nitrogen with standard deviation 0.3126, a hazard ratio of e for one unit,
// R squared 0.1837 on the other columns, 48 deaths among 65 patients,
// one-sided 5 percent (a two-sided 90 percent interval) and power 80 percent
// need 64 deaths without the other columns, 78 with them, and 106 patients.
// The figures are from memory; the quantiles 1.644854 and 0.841621 are those
// of any table of the normal distribution.
func TestHsiehLavoriMyeloma(t *testing.T) {
	p := Plan{Ratio: math.E, Confidence: 0.90, Variance: 0.3126 * 0.3126, EventShare: 48.0 / 65}
	if d, err := p.Events(0.8); err != nil || math.Ceil(d) != 64 {
		t.Errorf("%v events, %v", d, err)
	}
	p.Explained = 0.1837
	if d, err := p.Events(0.8); err != nil || math.Ceil(d) != 78 {
		t.Errorf("%v events, %v", d, err)
	}
	if n, err := p.Sockets(0.8); err != nil || n != 106 {
		t.Errorf("%d sockets, %v", n, err)
	}
}

// Collett, Modelling Survival Data in Medical Research, the trial in chronic
// active hepatitis: a hazard ratio of 0.57, 90 percent power at the two-sided
// 5 percent level, equal groups, takes 133 deaths (from memory, with the
// rounded quantiles 1.96 and 1.28).
func TestCollettHepatitis(t *testing.T) {
	d, err := Plan{Ratio: 0.57, Variance: 0.25, EventShare: 1}.Events(0.9)
	if err != nil || math.Abs(d-133) > 0.5 {
		t.Errorf("%v events, %v", d, err)
	}
}

// The closed form, with normal quantiles to 10 digits written down from R
// 4.2.2, qnorm(0.975) and qnorm(0.8), and pnorm of the sum below.
func TestClosedForm(t *testing.T) {
	const za, zb = 1.9599639845, 0.8416212336
	p := Plan{Ratio: 0.5, Variance: 0.25, EventShare: 0.4, DesignEffect: 1.3, Lost: 0.1}
	want := 1.3 * (za + zb) * (za + zb) / (0.25 * math.Ln2 * math.Ln2)
	d, err := p.Events(0.8)
	if err != nil || math.Abs(d/want-1) > 1e-9 {
		t.Errorf("%v, want %v (%v)", d, want, err)
	}
	n, err := p.Sockets(0.8)
	if err != nil || n != int(math.Ceil(math.Ceil(want)/0.36)) {
		t.Errorf("%d sockets, %v", n, err)
	}
	// Exactly the events needed give back the power.
	pw, err := p.Power(d / 0.36)
	if err != nil || math.Abs(pw-0.8) > 1e-9 {
		t.Errorf("power %v, %v", pw, err)
	}
	if pw, _ := p.Power(0); math.Abs(pw-0.025) > 1e-9 {
		t.Errorf("power of nothing is %v", pw)
	}
	if e := p.EventsFrom(100); math.Abs(e-36) > 1e-12 {
		t.Errorf("%v events", e)
	}
}

// Exponential lives: the mean share over an accrual is known in closed form,
// 1 - (exp(-hf) - exp(-h(f+a)))/(h a), which Simpson's rule meets to 1e-6 at
// these rates.
func TestEventSharesExponential(t *testing.T) {
	const h, f, a = 0.001, 365.0, 365.0
	free := func(t float64) (float64, bool) { return math.Exp(-h * t), true }
	exact := func(h float64) float64 { return 1 - (math.Exp(-h*f)-math.Exp(-h*(f+a)))/(h*a) }
	g, o, err := EventShares(free, 0.6, f, a)
	if err != nil || math.Abs(g-exact(h)) > 1e-5 || math.Abs(o-exact(0.6*h)) > 1e-5 {
		t.Errorf("%v %v, want %v %v (%v)", g, o, exact(h), exact(0.6*h), err)
	}
	g, o, err = EventShares(free, 0.6, f, 0)
	if err != nil || math.Abs(g-(1-math.Exp(-h*f))) > 1e-12 || math.Abs(o-(1-math.Exp(-0.6*h*f))) > 1e-12 {
		t.Errorf("%v %v, %v", g, o, err)
	}
}

func TestDesignEffect(t *testing.T) {
	for _, c := range []struct {
		sizes []int
		r     float64
		want  float64
	}{
		{[]int{3, 3, 3}, 0.1, 1.2},  // 1 + (3-1) 0.1
		{[]int{1, 1, 1, 1}, 0.9, 1}, // nobody repeats
		{[]int{1, 3}, 0.2, 1.3},     // m = (1+9)/4 = 2.5
		{[]int{5}, 0, 1},
	} {
		if got, err := DesignEffect(c.sizes, c.r); err != nil || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v %v: %v, %v", c.sizes, c.r, got, err)
		}
	}
	for _, bad := range []struct {
		sizes []int
		r     float64
	}{{nil, 0.1}, {[]int{0}, 0.1}, {[]int{2}, 1.1}, {[]int{2}, math.NaN()}} {
		if _, err := DesignEffect(bad.sizes, bad.r); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}

// The power that a plan promises is what simulated comparisons have: 2,000
// of exponential lives with accrual, tested by the log-rank test.
func TestPowerBySimulation(t *testing.T) {
	const h, follow, accrual, ratio, runs = 0.0015, 365.0, 200.0, 0.6, 2000
	g, o, err := EventShares(func(t float64) (float64, bool) { return math.Exp(-h * t), true }, ratio, follow, accrual)
	if err != nil {
		t.Fatal(err)
	}
	p := Plan{Ratio: ratio, Variance: 0.25, EventShare: (g + o) / 2}
	n, err := p.Sockets(0.8)
	if err != nil {
		t.Fatal(err)
	}
	n += n % 2
	r := rand.New(rand.NewPCG(1, 2))
	seen := 0
	for range runs {
		data := make([]survival.Data, 2)
		for k := range data {
			for range n / 2 {
				rate := h
				if k == 1 {
					rate *= ratio
				}
				time, end := r.ExpFloat64()/rate, follow+accrual*r.Float64()
				cause := 1
				if time > end {
					time, cause = end, 0
				}
				data[k].Time, data[k].Cause = append(data[k].Time, time), append(data[k].Cause, cause)
			}
		}
		test, err := survival.LogRank(data, []string{"a", "b"}, survival.LogRankOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if test.Test.P < 0.05 {
			seen++
		}
	}
	promised, _ := p.Power(float64(n))
	got := float64(seen) / runs
	if se := math.Sqrt(promised * (1 - promised) / runs); math.Abs(got-promised) > 3.5*se {
		t.Errorf("power %.3f by simulation with %d sockets, %.3f promised", got, n, promised)
	}
}

func TestUnusablePlans(t *testing.T) {
	good := Plan{Ratio: 0.5, Variance: 0.25, EventShare: 0.4}
	for name, c := range map[string]struct {
		change func(*Plan)
		want   error
	}{
		"ratio 1":        {func(p *Plan) { p.Ratio = 1 }, ErrRatio},
		"ratio 0":        {func(p *Plan) { p.Ratio = 0 }, ErrRatio},
		"ratio NaN":      {func(p *Plan) { p.Ratio = math.NaN() }, ErrRatio},
		"no event":       {func(p *Plan) { p.EventShare = 0 }, ErrEvents},
		"share above 1":  {func(p *Plan) { p.EventShare = 1.1 }, ErrRange},
		"no variance":    {func(p *Plan) { p.Variance = 0 }, ErrRange},
		"all explained":  {func(p *Plan) { p.Explained = 1 }, ErrRange},
		"all lost":       {func(p *Plan) { p.Lost = 1 }, ErrRange},
		"effect below 1": {func(p *Plan) { p.DesignEffect = 0.5 }, ErrRange},
		"confidence 1":   {func(p *Plan) { p.Confidence = 1 }, ErrRange},
		"a hair from 1":  {func(p *Plan) { p.Ratio = 1 + 1e-9 }, ErrRange},
	} {
		p := good
		c.change(&p)
		if _, err := p.Sockets(0.8); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, power := range []float64{0, 1, math.NaN(), 0.01} {
		if _, err := good.Events(power); !errors.Is(err, ErrRange) {
			t.Errorf("power %v: %v", power, err)
		}
	}
	for _, n := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := good.Power(n); err == nil {
			t.Errorf("%v sockets were taken", n)
		}
	}
	unknown := func(float64) (float64, bool) { return 0, false }
	if _, _, err := EventShares(unknown, 0.5, 365, 0); !errors.Is(err, ErrRange) {
		t.Errorf("unknown share: %v", err)
	}
	if _, _, err := EventShares(unknown, 0, 365, 0); !errors.Is(err, ErrRatio) {
		t.Errorf("ratio 0: %v", err)
	}
}

func ExamplePlan_Sockets() {
	p := Plan{Ratio: 0.6, Variance: 0.25, EventShare: 0.45}
	events, _ := p.Events(0.8)
	sockets, _ := p.Sockets(0.8)
	fmt.Printf("%.0f events, %d sockets\n", math.Ceil(events), sockets)
	// Output: 121 events, 269 sockets
}

// Schoenfeld 1983, worked out in R 4.2.2: testdata/published/sample_size.
func TestSchoenfeld1983(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "published", "sample_size", "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Entries struct {
			L struct {
				Equal  float64 `json:"schoenfeld_1to1"`
				Uneven float64 `json:"schoenfeld_2to1"`
				Power  float64 `json:"power_schoenfeld_d150_1to1"`
				Total  float64 `json:"n_total_for_event_prob_.6"`
				Effect float64 `json:"design_effect_m5_icc.1"`
			} `json:"sample_size_logrank"`
		} `json:"entries"`
	}
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	w := want.Entries.L
	p := Plan{Ratio: 1.5, Variance: 0.25, EventShare: 0.6}
	d, err := p.Events(0.8)
	near(t, "events", d, w.Equal, err)
	n, err := p.Sockets(0.8)
	near(t, "sockets", float64(n), math.Ceil(w.Total), err)
	power, err := p.Power(150 / 0.6)
	near(t, "power of 150 events", power, w.Power, err)
	p.Variance = 2.0 / 9
	d, err = p.Events(0.8)
	near(t, "events, two to one", d, w.Uneven, err)
	effect, err := DesignEffect([]int{5, 5}, 0.1)
	near(t, "design effect", effect, w.Effect, err)
}

func near(t *testing.T, what string, got, want float64, err error) {
	t.Helper()
	if err != nil || !(math.Abs(got-want) <= 1e-9*math.Abs(want)) {
		t.Errorf("%s: %v, want %v (%v)", what, got, want, err)
	}
}
