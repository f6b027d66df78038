package quality

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"plybook/analysis/stats"
)

const published = "../../testdata/published"

// column reads a numeric column of a published data set.
func column(t *testing.T, set, name string) []float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(published, set, "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for j, h := range rows[0] {
		if h != name {
			continue
		}
		var out []float64
		for _, r := range rows[1:] {
			v, err := strconv.ParseFloat(r[j], 64)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, v)
		}
		return out
	}
	t.Fatalf("no column %s", name)
	return nil
}

func expected(t *testing.T, set string, to any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(published, set, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, to); err != nil {
		t.Fatal(err)
	}
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > rel*math.Max(math.Abs(want), 1e-8) {
		t.Errorf("%s = %.15g, want %.15g", what, got, want)
	}
}

func repeat(v float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func codes(c *Chart) string {
	var out []string
	for _, w := range c.Warnings {
		out = append(out, w.Code)
	}
	return strings.Join(out, " ")
}

// Orange juice cans (Montgomery), R 4.2.2 by formula.
func TestPChartJuice(t *testing.T) {
	type entry struct {
		RelTol       float64 `json:"rel_tol"`
		Center       float64 `json:"center"`
		UCL          float64 `json:"ucl"`
		LCL          float64 `json:"lcl"`
		OutOfControl []int   `json:"out_of_control"`
		SigmaZ       float64 `json:"laney_sigma_z"`
	}
	var want struct {
		Published map[string]float64
		Entries   map[string]entry
	}
	expected(t, "juice_p", &want)
	num, den := column(t, "juice_p", "defective"), column(t, "juice_p", "n")
	c, err := PChart(num, den, Options{})
	if err != nil {
		t.Fatal(err)
	}
	e := want.Entries["p_chart"]
	near(t, "centre", c.Phases[0].Centre, e.Center, e.RelTol)
	near(t, "upper", c.Points[0].Upper, e.UCL, e.RelTol)
	near(t, "lower", c.Points[0].Lower, e.LCL, e.RelTol)
	// The reference rounds d2 to 1.128.
	near(t, "sigma z", c.SigmaZ, e.SigmaZ*1.128/(2/math.Sqrt(math.Pi)), e.RelTol)
	near(t, "printed centre", math.Round(c.Phases[0].Centre*1e4)/1e4, want.Published["p_bar"], 1e-12)
	var out []int
	for _, s := range c.Signals {
		if s.Rule == BeyondLimits {
			out = append(out, s.To+1)
		}
	}
	if fmt.Sprint(out) != fmt.Sprint(e.OutOfControl) {
		t.Errorf("beyond limits: %v, want %v", out, e.OutOfControl)
	}
	if codes(c) != "overdispersed" {
		t.Errorf("warnings %q", codes(c))
	}

	var n2, d2 []float64
	for i := range num {
		if i != 14 && i != 22 {
			n2, d2 = append(n2, num[i]), append(d2, den[i])
		}
	}
	c, err = PChart(n2, d2, Options{})
	if err != nil {
		t.Fatal(err)
	}
	e = want.Entries["p_chart_revised"]
	near(t, "revised centre", c.Phases[0].Centre, e.Center, e.RelTol)
	near(t, "revised upper", c.Points[0].Upper, e.UCL, e.RelTol)
	near(t, "revised lower", c.Points[0].Lower, e.LCL, e.RelTol)
}

// Flow rate of ten batches (NIST e-Handbook 6.3.2.2), R 4.2.2 by formula.
func TestXmRFlow(t *testing.T) {
	var want struct {
		Published map[string]float64
		Entries   struct {
			XmR struct {
				RelTol float64 `json:"rel_tol"`
				R      map[string]float64
			}
		}
	}
	expected(t, "flow_xmr", &want)
	c, err := XmR(column(t, "flow_xmr", "flow"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, tol := want.Entries.XmR.R, want.Entries.XmR.RelTol
	ph := c.Phases[0]
	near(t, "mean", ph.Centre, r["mean"], tol)
	near(t, "moving range", ph.MeanMovingRange, r["mr_bar"], tol)
	near(t, "sigma", ph.Sigma, r["mr_bar"]/(2/math.Sqrt(math.Pi)), tol)
	near(t, "upper", c.Points[3].Upper, r["ucl_d2_exact"], tol)
	near(t, "lower", c.Points[3].Lower, r["lcl_d2_exact"], tol)
	// The handbook rounds its factor to 3.267 where (1 + 3 d3/d2) is 3.26653.
	near(t, "moving range upper", ph.MovingRangeUpper, r["mr_ucl_3.267"], 2e-4)
	near(t, "printed upper", c.Points[3].Upper, want.Published["xmr_ucl"], 4e-5)
	if len(c.Signals) != 0 {
		t.Errorf("signals %v, the handbook has none", c.Signals)
	}
}

// round(log2 n) + 3 and qbinom(0.05, n - 1, 0.5), R 4.2.2.
func TestRuleLimits(t *testing.T) {
	for _, w := range [][3]int{{10, 6, 2}, {11, 6, 2}, {12, 7, 3}, {13, 7, 3}, {14, 7, 4}, {15, 7, 4}, {16, 7, 4}, {17, 7, 5},
		{18, 7, 5}, {19, 7, 6}, {20, 7, 6}, {21, 7, 6}, {22, 7, 7}, {23, 8, 7}, {24, 8, 8}, {25, 8, 8}, {26, 8, 8}, {27, 8, 9},
		{28, 8, 9}, {29, 8, 10}, {30, 8, 10}, {40, 8, 14}, {60, 9, 23}, {100, 10, 41}, {500, 12, 231}, {2000, 14, 963}} {
		if l, f := longestAllowed(w[0]), fewestAllowed(w[0]); l != w[1] || f != w[2] {
			t.Errorf("n = %d: longest %d, fewest %d, want %d, %d", w[0], l, f, w[1], w[2])
		}
	}
}

// Invented remake counts, limits frozen at the first 12 points:
// R 4.2.2, p <- sum(d[1:12])/sum(n[1:12]); p + 3*sqrt(p*(1-p)/n).
func TestPChartFrozenBaseline(t *testing.T) {
	n := []float64{12, 15, 9, 20, 14, 18, 11, 16, 13, 17, 10, 19, 15, 12, 14, 16, 18, 9, 13, 20, 11, 15, 17, 14}
	d := []float64{3, 5, 2, 6, 4, 4, 2, 5, 3, 6, 2, 5, 1, 1, 2, 1, 2, 0, 1, 2, 1, 2, 1, 1}
	c, err := PChart(d, n, Options{BaselinePoints: 12})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", c.Phases[0].Centre, 0.27011494252873564, 1e-13)
	near(t, "upper 1", c.Points[0].Upper, 0.65464666457982346, 1e-13)
	near(t, "upper 24", c.Points[23].Upper, 0.62612213980378484, 1e-13)
	if c.Points[0].Lower != 0 {
		t.Errorf("lower %v, want 0", c.Points[0].Lower)
	}
	ph := c.Phases[0]
	if ph.LimitPoints != 12 || ph.Points != 24 || ph.Useful != 24 {
		t.Errorf("phase %+v", ph)
	}
	// Twelve points below the centre follow the baseline, and point 11 is
	// below too, with point 12 (5/19 = 0.263) the run is 14 long.
	if len(c.Signals) != 1 || c.Signals[0] != (Signal{Rule: LongRun, From: 10, To: 23, Count: 14, Limit: 8}) {
		t.Errorf("signals %+v", c.Signals)
	}
	// The baseline crosses eight times, what follows never: eight are just
	// enough for 24 points.
	if ph.Crossings != 8 || ph.FewestAllowed != 8 {
		t.Errorf("%d crossings, at least %d", ph.Crossings, ph.FewestAllowed)
	}
	if c.Points[9].Signal != NoSignal || c.Points[10].Signal != LongRun || c.Points[23].Signal != LongRun {
		t.Error("the points of the long run are not marked")
	}
	if !strings.Contains(codes(c), "few-expected") {
		t.Errorf("4 remakes are expected in a period, warnings %q", codes(c))
	}

	// A new phase at point 13: own centre, old limits still to be had.
	c, err = PChart(d, n, Options{BaselinePoints: 12, Phases: []int{12}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "second centre", c.Points[20].Centre, 15.0/174, 1e-13)
	lower, upper, ok := c.LimitsOf(0, 23)
	if !ok || lower != 0 {
		t.Errorf("old limits %v %v", lower, ok)
	}
	near(t, "old upper", upper, 0.62612213980378484, 1e-13)
	if len(c.Signals) != 0 {
		t.Errorf("signals %+v after the new phase", c.Signals)
	}
}

func TestXmRPhases(t *testing.T) {
	// Moving ranges 1 2 1 | 1 1 1: the step from 12 to 22 is not one of them.
	c, err := XmR([]float64{10, 11, 13, 12, 22, 23, 22, 23}, Options{Phases: []int{4}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "first range", c.Phases[0].MeanMovingRange, 4.0/3, 1e-14)
	near(t, "second range", c.Phases[1].MeanMovingRange, 1, 1e-14)
	near(t, "first centre", c.Points[3].Centre, 11.5, 1e-14)
	near(t, "second centre", c.Points[4].Centre, 22.5, 1e-14)
	near(t, "second upper", c.Points[4].Upper, 22.5+1.5*math.Sqrt(math.Pi), 1e-14)
	_, upper, ok := c.LimitsOf(0, 7)
	if !ok {
		t.Error("the old limits are gone")
	}
	near(t, "old upper", upper, 11.5+1.5*math.Sqrt(math.Pi)*4/3, 1e-14)

	// A phase just begun has a centre, no limits, and says so.
	c, err = XmR([]float64{10, 11, 13, 12, 22}, Options{Phases: []int{4}})
	if err != nil {
		t.Fatal(err)
	}
	if c.Points[4].HasLimits || c.Points[4].Centre != 22 || !strings.Contains(codes(c), "short-phase") {
		t.Errorf("%+v %q", c.Points[4], codes(c))
	}
}

func TestGaps(t *testing.T) {
	nan := math.NaN()
	c, err := XmR([]float64{10, nan, 12, 11, nan}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "range across the gap", c.Phases[0].MeanMovingRange, 1.5, 1e-14)
	if c.Points[1].HasValue || c.Points[1].HasLimits || c.Points[1].Value != 0 || c.Phases[0].Points != 3 {
		t.Errorf("%+v", c.Points[1])
	}
	if !strings.Contains(codes(c), "empty-periods") {
		t.Errorf("warnings %q", codes(c))
	}
	p, err := PChart([]float64{1, 0, 2, 3}, []float64{10, 0, 10, 10}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre without the gap", p.Phases[0].Centre, 0.2, 1e-14)
	if p.Points[1].HasValue || p.Points[1].HasLimits {
		t.Errorf("%+v", p.Points[1])
	}
	if _, _, ok := p.LimitsOf(0, 1); ok {
		t.Error("limits where there is nothing to count")
	}
}

func TestPointsOnTheCentreAreNotUseful(t *testing.T) {
	// Mean 2: the 2s neither break a run nor cross.
	x := []float64{3, 3, 2, 3, 3, 2, 3, 3, 2, 3, 3, 2, 1, 1, 1, 1, 1, 1, 1, 1}
	c, err := XmR(x, Options{})
	if err != nil {
		t.Fatal(err)
	}
	ph := c.Phases[0]
	if ph.Centre != 2 || ph.Useful != 16 || ph.LongestRun != 8 || ph.Crossings != 1 {
		t.Errorf("%+v", ph)
	}
	if len(c.Signals) != 2 || !c.Signals[0].Above || c.Signals[0].From != 0 || c.Signals[0].To != 10 {
		t.Errorf("%+v", c.Signals)
	}
	if c.Points[2].Signal != NoSignal {
		t.Error("a point on the centre is marked as part of a run")
	}
}

func TestWarnings(t *testing.T) {
	xmr := func(x []float64) func() (*Chart, error) {
		return func() (*Chart, error) { return XmR(x, Options{}) }
	}
	p := func(num, den []float64, o Options) func() (*Chart, error) {
		return func() (*Chart, error) { return PChart(num, den, o) }
	}
	for _, c := range []struct {
		name string
		make func() (*Chart, error)
		want string
	}{
		{"half on the centre", xmr([]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2, 0}), "runs-not-tested many-on-centre"},
		{"few points", xmr([]float64{1, 2, 1, 2}), "trial-limits runs-not-tested"},
		{"nothing counted", p(repeat(0, 15), repeat(20, 15), Options{}), "no-variation runs-not-tested many-on-centre"},
		{"all counted", p(repeat(20, 15), repeat(20, 15), Options{}), "no-variation runs-not-tested many-on-centre"},
		{"few expected", p([]float64{1, 0, 2, 1, 0, 1, 2, 0, 1, 1, 0, 2, 1, 0}, repeat(9, 14), Options{}), "few-expected"},
		{"few left out", p([]float64{8, 9, 7, 8, 9, 8, 7, 9, 8, 8, 9, 7, 8, 9}, repeat(9, 14), Options{}), "few-expected"},
		{"phase without rows", p([]float64{5, 6, 5, 0}, []float64{10, 11, 10, 0}, Options{Phases: []int{3}}),
			"short-phase empty-periods trial-limits runs-not-tested"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := c.make()
			if err != nil {
				t.Fatal(err)
			}
			s := codes(got)
			if s != c.want {
				t.Errorf("warnings %q, want %q", s, c.want)
			}
			finite(t, got)
		})
	}
}

// finite checks that no number on output is NaN or infinite.
func finite(t *testing.T, c *Chart) {
	t.Helper()
	b, err := json.Marshal(c) // refuses both
	if err != nil || len(b) == 0 {
		t.Error(err)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name string
		err  error
		want error
	}{
		{"no points", second(XmR(nil, Options{})), ErrFewPoints},
		{"two points", second(XmR([]float64{1, 2, math.NaN()}, Options{})), ErrFewPoints},
		{"infinite", second(XmR([]float64{1, 2, math.Inf(1)}, Options{})), ErrBadValue},
		{"constant", second(XmR(repeat(4, 20), Options{})), ErrNoVariation},
		{"constant baseline", second(XmR([]float64{1, 1, 1, 5, 6}, Options{BaselinePoints: 3})), ErrNoVariation},
		{"short baseline", second(XmR([]float64{1, 2, 3}, Options{BaselinePoints: 2})), ErrOptions},
		{"negative baseline", second(XmR([]float64{1, 2, 3}, Options{BaselinePoints: -5})), ErrOptions},
		{"phase at 0", second(XmR([]float64{1, 2, 3}, Options{Phases: []int{0}})), ErrOptions},
		{"phase beyond", second(XmR([]float64{1, 2, 3}, Options{Phases: []int{3}})), ErrOptions},
		{"phases out of order", second(XmR([]float64{1, 2, 3, 4}, Options{Phases: []int{2, 1}})), ErrOptions},
		{"negative sigmas", second(XmR([]float64{1, 2, 3}, Options{Sigmas: -1})), ErrOptions},
		{"no p points", second(PChart(nil, nil, Options{})), ErrFewPoints},
		{"lengths", second(PChart([]float64{1}, nil, Options{})), ErrBadValue},
		{"more than all", second(PChart([]float64{1, 2, 5}, []float64{4, 4, 4}, Options{})), ErrBadValue},
		{"not a number", second(PChart([]float64{math.NaN(), 2, 3}, []float64{4, 4, 4}, Options{})), ErrBadValue},
		{"infinite denominator", second(PChart([]float64{1, 2, 3}, []float64{4, 4, math.Inf(1)}, Options{})), ErrBadValue},
		{"denominators all 0", second(PChart(repeat(0, 5), repeat(0, 5), Options{})), ErrNoDenominator},
		{"one denominator", second(PChart([]float64{1, 0, 0}, []float64{4, 0, 0}, Options{})), ErrFewPoints},
	} {
		if !errors.Is(c.err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, c.err, c.want)
		}
	}
}

func second(_ *Chart, err error) error { return err }

// Properties: a constant added moves an XmR chart and leaves its signals; a
// factor scales it; the input is not changed.
func TestXmRShiftAndScale(t *testing.T) {
	x := column(t, "flow_xmr", "flow")
	x = append(x, 70, 40, 71)
	base, err := XmR(x, Options{})
	if err != nil {
		t.Fatal(err)
	}
	y := make([]float64, len(x))
	for i := range x {
		y[i] = 1e6 + 4*x[i]
	}
	moved, err := XmR(y, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "upper", moved.Points[0].Upper, 1e6+4*base.Points[0].Upper, 1e-12)
	near(t, "range", moved.Phases[0].MeanMovingRange, 4*base.Phases[0].MeanMovingRange, 1e-9)
	if fmt.Sprint(moved.Signals) != fmt.Sprint(base.Signals) {
		t.Errorf("signals %v and %v", moved.Signals, base.Signals)
	}
}

func TestPareto(t *testing.T) {
	in := []string{"volume loss", "pain", "volume loss", "", "breakage", "pain", "volume loss", "unknown", "", "", "", "casting"}
	p, err := Pareto(in, ParetoOptions{Unknown: []string{"unknown"}})
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	for _, b := range p.Bars {
		fmt.Fprintf(&got, "%s %d %.4f %.4f\n", b.Category, b.Count, b.Percent, b.CumulativePercent)
	}
	want := `volume loss 3 25.0000 25.0000
pain 2 16.6667 41.6667
breakage 1 8.3333 50.0000
casting 1 8.3333 58.3333
not known 5 41.6667 100.0000
`
	if got.String() != want {
		t.Errorf("got\n%swant\n%s", got.String(), want)
	}
	if p.Unknown != 5 || !p.Bars[4].Unknown || len(p.Warnings) != 1 || p.Warnings[0].Code != "many-unknown" {
		t.Errorf("%+v", p)
	}
	if _, err := Pareto(nil, ParetoOptions{}); !errors.Is(err, stats.ErrNoRows) {
		t.Errorf("no rows: %v", err)
	}
	p, err = Pareto([]string{"", ""}, ParetoOptions{UnknownLabel: "no reason"})
	if err != nil || len(p.Bars) != 1 || p.Bars[0].Category != "no reason" || p.Warnings[0].Code != "all-unknown" {
		t.Errorf("%+v %v", p, err)
	}
}

func ExamplePChart() {
	remakes := []float64{3, 5, 2, 6, 4, 4, 2, 5, 3, 6, 2, 14}
	sockets := []float64{12, 15, 9, 20, 14, 18, 11, 16, 13, 17, 10, 19}
	c, err := PChart(remakes, sockets, Options{BaselinePoints: 11})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("centre %.3f\n", c.Phases[0].Centre)
	for _, s := range c.Signals {
		p := c.Points[s.To]
		fmt.Printf("%s at point %d: %.3f, upper limit %.3f\n", s.Rule, s.To+1, p.Value, p.Upper)
	}
	// Output:
	// centre 0.271
	// beyond-limits at point 12: 0.737, upper limit 0.577
}

func ExampleXmR() {
	turnaround := []float64{31, 28, 33, 30, 29, 34, 30, 32}
	c, err := XmR(turnaround, Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("mean %.1f days, limits %.1f to %.1f\n", c.Phases[0].Centre, c.Points[0].Lower, c.Points[0].Upper)
	// Output: mean 30.9 days, limits 22.1 to 39.6
}

func ExamplePareto() {
	p, err := Pareto([]string{"volume loss", "pain", "volume loss", ""}, ParetoOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, b := range p.Bars {
		fmt.Printf("%-12s %d %3.0f%% %3.0f%%\n", b.Category, b.Count, b.Percent, b.CumulativePercent)
	}
	// Output:
	// volume loss  2  50%  50%
	// pain         1  25%  75%
	// not known    1  25% 100%
}
