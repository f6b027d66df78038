package quality

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"testing"
)

// Defects on wafers (NIST e-Handbook 6.3.3.1), R 4.2.2 by formula.
func TestCChartWafers(t *testing.T) {
	var want struct {
		Published map[string]float64
		Entries   struct {
			C struct {
				RelTol           float64 `json:"rel_tol"`
				Center, UCL, LCL float64
				Out              []int `json:"out_of_control"`
			} `json:"c_chart"`
		}
	}
	expected(t, "wafer_c", &want)
	c, err := CChart(column(t, "wafer_c", "defects"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	e := want.Entries.C
	near(t, "centre", c.Phases[0].Centre, e.Center, e.RelTol)
	near(t, "printed centre", c.Phases[0].Centre, want.Published["c_bar"], 1e-12)
	var out []int
	for _, s := range c.Signals {
		if s.Rule == BeyondLimits {
			out = append(out, s.To+1)
		}
	}
	for _, p := range c.Points {
		near(t, "upper", p.Upper, e.UCL, e.RelTol)
		near(t, "lower", p.Lower, e.LCL, e.RelTol)
	}
	if fmt.Sprint(out) != fmt.Sprint(e.Out) {
		t.Errorf("beyond the limits: %v, the handbook has %v", out, e.Out)
	}
}

// Personal computers (Montgomery), R 4.2.2 by formula.
func TestUChartComputers(t *testing.T) {
	var want struct {
		Published map[string]float64
		Entries   struct {
			U struct {
				RelTol           float64 `json:"rel_tol"`
				Center, UCL, LCL float64
			} `json:"u_chart"`
		}
	}
	expected(t, "pc_u", &want)
	num, units := column(t, "pc_u", "nonconf"), column(t, "pc_u", "units")
	c, err := UChart(num, units, Options{})
	if err != nil {
		t.Fatal(err)
	}
	e := want.Entries.U
	near(t, "centre", c.Phases[0].Centre, e.Center, e.RelTol)
	near(t, "upper", c.Points[7].Upper, e.UCL, e.RelTol)
	near(t, "lower", c.Points[7].Lower, e.LCL, e.RelTol)
	near(t, "printed upper", math.Round(c.Points[7].Upper*100)/100, want.Published["u_ucl"], 1e-12)
	near(t, "printed lower", math.Round(c.Points[7].Lower*100)/100, want.Published["u_lcl"], 1e-12)
	if len(c.Signals) != 0 {
		t.Errorf("signals %v, the book has none", c.Signals)
	}
	// In hundreds of computers everything is per 100.
	for i := range units {
		units[i] /= 100
	}
	h, err := UChart(num, units, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "upper per 100", h.Points[7].Upper, 100*c.Points[7].Upper, 1e-13)
}

// Counts and times between events, and geometric quantiles, R 4.2.2.
func TestChartsBetweenEvents(t *testing.T) {
	var want struct {
		G         struct{ Between, Mean, Median, Upper, Lower []float64 }
		Geometric struct{ Mean, Upper, Lower []float64 }
		T         struct{ Days, Centre, Upper, Lower []float64 }
	}
	expected(t, "between_events", &want)
	g, err := GChart(want.G.Between, Options{})
	if err != nil {
		t.Fatal(err)
	}
	ph := g.Phases[0]
	near(t, "mean between", ph.Mean, want.G.Mean[0], 1e-13)
	near(t, "centre of g", ph.Centre, want.G.Median[0], 1e-13)
	if g.Points[3].Upper != want.G.Upper[0] || g.Points[3].Lower != want.G.Lower[0] {
		t.Errorf("limits of g %v, %v; want %v, %v", g.Points[3].Lower, g.Points[3].Upper, want.G.Lower, want.G.Upper)
	}
	for i, m := range want.Geometric.Mean {
		if lo, hi := geometricLimits(m, 3); lo != want.Geometric.Lower[i] || hi != want.Geometric.Upper[i] {
			t.Errorf("mean %g: limits %v, %v; want %v, %v", m, lo, hi, want.Geometric.Lower[i], want.Geometric.Upper[i])
		}
	}
	c, err := TChart(want.T.Days, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre of t", c.Phases[0].Centre, want.T.Centre[0], 1e-12)
	near(t, "upper of t", c.Points[0].Upper, want.T.Upper[0], 1e-12)
	near(t, "lower of t", c.Points[0].Lower, want.T.Lower[0], 1e-11)
}

// Laney's limits, R 4.2.2 by formula.
func TestLaney(t *testing.T) {
	type series struct {
		Numerator, Denominator, Centre, Lower, Upper []float64
		SigmaZ                                       []float64 `json:"sigma_z"`
	}
	var want map[string]series
	expected(t, "laney", &want)
	for name, w := range want {
		chart := PChart
		if name == "u" {
			chart = UChart
		}
		num, den := w.Numerator, w.Denominator
		c, err := chart(num, den, Options{Overdispersed: true})
		if err != nil {
			t.Fatal(err)
		}
		near(t, name+" widened", c.Phases[0].Widened, w.SigmaZ[0], 1e-12)
		near(t, name+" sigma z", c.SigmaZ, w.SigmaZ[0], 1e-12)
		for i, p := range c.Points {
			near(t, name+" centre", p.Centre, w.Centre[0], 1e-12)
			near(t, name+" upper", p.Upper, w.Upper[i], 1e-12)
			near(t, name+" lower", p.Lower, w.Lower[i], 1e-12)
		}
		if !c.WiderThanChance {
			t.Errorf("%s: %g is taken for chance", name, c.SigmaZ)
		}
	}
	// What varies less than chance is never given narrower limits.
	num, den := []float64{5, 5, 5, 5, 5, 6, 5, 5, 5, 5}, repeat(40, 10)
	plain, err := PChart(num, den, Options{})
	if err != nil {
		t.Fatal(err)
	}
	wide, err := PChart(num, den, Options{Overdispersed: true})
	if err != nil {
		t.Fatal(err)
	}
	if plain.SigmaZ >= 0.5 || wide.Points[0].Upper != plain.Points[0].Upper || wide.Phases[0].Widened != 1 {
		t.Errorf("%g: upper %g and %g", plain.SigmaZ, plain.Points[0].Upper, wide.Points[0].Upper)
	}
}

// The limits of the run rules for n = 10 to 60, worked out anew from the
// binomial distribution in whole numbers: the smallest k with
// 20 * sum C(n-1, 0..k) >= 2^(n-1), and the whole number next to log2 n,
// which is at most j where n^2 < 2^(2j+1).
func TestRuleLimitsFromTheBinomial(t *testing.T) {
	for n := 10; n <= 60; n++ {
		m := int64(n - 1)
		sum, all := new(big.Int), new(big.Int).Lsh(big.NewInt(1), uint(m))
		k := int64(-1)
		for new(big.Int).Mul(sum, big.NewInt(20)).Cmp(all) < 0 {
			k++
			sum.Add(sum, new(big.Int).Binomial(m, k))
		}
		if got := fewestAllowed(n); int64(got) != k {
			t.Errorf("n = %d: fewest crossings %d, the binomial gives %d", n, got, k)
		}
		j := 0
		for n*n >= 1<<(2*j+1) {
			j++
		}
		if got := longestAllowed(n); got != j+3 {
			t.Errorf("n = %d: longest run %d, want %d", n, got, j+3)
		}
	}
}

func TestProvisionalPointsAreOnlyDrawn(t *testing.T) {
	num := []float64{5, 6, 4, 5, 7, 5, 4, 6, 5, 6, 4, 5, 30, 30}
	c, err := CChart(num, Options{Provisional: 2})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", c.Phases[0].Centre, 62.0/12, 1e-14)
	if len(c.Signals) != 0 || c.Points[13].Signal != NoSignal || !c.Points[13].HasLimits || !c.Points[13].Provisional || c.Points[11].Provisional {
		t.Errorf("%+v %+v", c.Signals, c.Points[13])
	}
	c, err = CChart(num, Options{})
	if err != nil || len(c.Signals) == 0 {
		t.Errorf("%v: %+v", err, c.Signals)
	}
}

func TestPhasesOfGaps(t *testing.T) {
	x := []float64{2, 5, 1, 9, 3, 20, 31, 8, 40}
	for name, chart := range map[string]func([]float64, Options) (*Chart, error){"g": GChart, "t": TChart} {
		c, err := chart(x, Options{Phases: []int{5}, BaselinePoints: 3})
		if err != nil {
			t.Fatal(err)
		}
		alone, err := chart(x[5:8], Options{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, name+" second centre", c.Phases[1].Centre, alone.Phases[0].Centre, 1e-14)
		near(t, name+" second upper", c.Points[8].Upper, alone.Points[0].Upper, 1e-14)
		first, err := chart(x[:3], Options{})
		if err != nil {
			t.Fatal(err)
		}
		if _, upper, ok := c.LimitsOf(0, 8); !ok || math.Abs(upper-first.Points[0].Upper) > 1e-9 {
			t.Errorf("%s: old upper %v, want %v", name, upper, first.Points[0].Upper)
		}
		finite(t, c)
	}
}

func TestRefusalsOfFurtherCharts(t *testing.T) {
	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"two events at once", second(TChart([]float64{4, 0, 3, 5}, Options{})), ErrZeroGap},
		{"a negative time", second(TChart([]float64{4, -1, 3, 5}, Options{})), ErrBadValue},
		{"two gaps", second(TChart([]float64{4, 1}, Options{})), ErrFewPoints},
		{"equal times", second(TChart(repeat(7, 9), Options{})), ErrNoVariation},
		{"half a case", second(GChart([]float64{4, 1.5, 3, 5}, Options{})), ErrBadValue},
		{"no gaps", second(GChart(nil, Options{})), ErrFewPoints},
		{"overdispersed g", second(GChart([]float64{1, 2, 3}, Options{Overdispersed: true})), ErrOptions},
		{"overdispersed c", second(CChart([]float64{1, 2, 3}, Options{Overdispersed: true})), ErrOptions},
		{"events without exposure", second(UChart([]float64{1, 2, 3}, []float64{1, 0, 1}, Options{})), ErrBadValue},
		{"negative count", second(CChart([]float64{1, -2, 3}, Options{})), ErrBadValue},
		{"provisional", second(CChart([]float64{1, 2, 3}, Options{Provisional: -1})), ErrOptions},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, c.err, c.want)
		}
	}
	// Nothing but events: no limits, and no number that is none.
	g, err := GChart(repeat(0, 12), Options{})
	if err != nil || g.Phases[0].HasLimits {
		t.Errorf("%v %+v", err, g)
	}
	finite(t, g)
	for _, n := range []int{3, 12} {
		c, err := UChart(repeat(0, n), repeat(2.5, n), Options{Overdispersed: true})
		if err != nil || c.Phases[0].HasLimits {
			t.Errorf("%v %+v", err, c)
		}
		finite(t, c)
	}
}

func TestSuits(t *testing.T) {
	for _, c := range []struct {
		name     string
		kind     Kind
		num, den []float64
		want     error
	}{
		{"half at none", KindP, []float64{0, 0, 3, 4}, repeat(9, 4), nil},
		{"more than half at none", KindP, []float64{0, 0, 0, 40}, repeat(50, 4), ErrMedianZero},
		{"more than half at all", KindP, []float64{9, 9, 9, 1}, repeat(9, 4), ErrMedianZero},
		{"all is no end of a rate", KindU, []float64{9, 9, 9, 1}, repeat(9, 4), nil},
		{"few", KindC, []float64{0, 1, 0, 1}, repeat(1, 4), ErrFewExpected},
		{"few left out", KindP, []float64{8, 9, 9, 8}, repeat(9, 4), ErrFewExpected},
		{"few of an xmr chart", KindXmR, []float64{0, 1, 0, 1}, repeat(1, 4), nil},
		{"gaps are passed over", KindC, []float64{0, 5, 0, 4}, []float64{0, 1, 0, 1}, nil},
		{"no periods", KindP, nil, nil, nil},
	} {
		got := Suits(c.kind, c.num, c.den)
		if c.want == nil && got != nil || c.want != nil && (got == nil || !errors.Is(got, c.want) || got.Error() == "") {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func ExampleGChart() {
	// Sockets delivered between one early remake and the next.
	c, err := GChart([]float64{17, 6, 15, 26, 12, 9, 31, 4, 22, 8, 14, 19}, Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	p := c.Points[0]
	fmt.Printf("median %.1f, upper limit %.0f\n", p.Centre, p.Upper)
	// Output: median 14.5, upper limit 104
}
