package survival

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/stats"
)

func TestValidate(t *testing.T) {
	for _, c := range []struct {
		name string
		d    Data
		row  int
	}{
		{"causes", Data{Time: []float64{1, 2}, Cause: []int{1}}, -1},
		{"entries", Data{Time: []float64{1}, Cause: []int{1}, Entry: []float64{0, 0}}, -1},
		{"weights", Data{Time: []float64{1}, Cause: []int{1}, Weight: []float64{1, 1}}, -1},
		{"clusters", Data{Time: []float64{1}, Cause: []int{1}, Cluster: []int{1, 1}}, -1},
		{"not a number", Data{Time: []float64{1, math.NaN()}, Cause: []int{1, 1}}, 1},
		{"infinite", Data{Time: []float64{math.Inf(1)}, Cause: []int{1}}, 0},
		{"negative", Data{Time: []float64{-1}, Cause: []int{1}}, 0},
		{"ends before entry", Data{Time: []float64{3}, Entry: []float64{4}, Cause: []int{1}}, 0},
		{"ends at entry", Data{Time: []float64{3}, Entry: []float64{3}, Cause: []int{1}}, 0},
		{"negative cause", Data{Time: []float64{3}, Cause: []int{-1}}, 0},
		{"no weight", Data{Time: []float64{3}, Cause: []int{1}, Weight: []float64{0}}, 0},
	} {
		var e *RowError
		if err := c.d.Validate(); !errors.As(err, &e) || e.Row != c.row || e.Error() == "" {
			t.Errorf("%s: %v", c.name, err)
		}
		if _, err := KaplanMeier(c.d, CurveOptions{}); !errors.As(err, &e) {
			t.Errorf("%s: curve: %v", c.name, err)
		}
		if _, err := CumulativeIncidence(c.d, 1, CurveOptions{}); !errors.As(err, &e) {
			t.Errorf("%s: incidence: %v", c.name, err)
		}
		if _, err := NelsonAalen(c.d, CurveOptions{}); !errors.As(err, &e) {
			t.Errorf("%s: hazard: %v", c.name, err)
		}
	}
	if err := (Data{}).Validate(); !errors.Is(err, stats.ErrNoRows) {
		t.Errorf("no rows: %v", err)
	}
	if err := (Data{Time: []float64{0}, Cause: []int{1}}).Validate(); err != nil {
		t.Errorf("a life of 0 days: %v", err)
	}
}

// finitePoints fails on any number that is not finite, or bounds out of order.
func finitePoints(t *testing.T, name string, points []Point) {
	t.Helper()
	for _, p := range points {
		for _, v := range []float64{p.Time, p.AtRisk, p.Events, p.Censored, p.Estimate, p.StdErr, p.Low, p.High} {
			if !finite(v) {
				t.Errorf("%s: %+v", name, p)
			}
		}
		if p.HasBounds && (p.Low > p.Estimate || p.High < p.Estimate || p.Low < 0 || p.High > 1) {
			t.Errorf("%s: bounds %+v", name, p)
		}
	}
}

func TestDegenerateCurves(t *testing.T) {
	for _, c := range []struct {
		name string
		d    Data
		last float64 // estimate at the end
	}{
		{"one row, event", Data{Time: []float64{5}, Cause: []int{1}}, 0},
		{"one row, censored", Data{Time: []float64{5}, Cause: []int{0}}, 1},
		{"one row at time 0", Data{Time: []float64{0}, Cause: []int{1}}, 0},
		{"no events", Data{Time: []float64{1, 2, 3}, Cause: []int{0, 0, 0}}, 1},
		{"all at once", Data{Time: []float64{2, 2, 2}, Cause: []int{1, 1, 1}}, 0},
		{"event at time 0", Data{Time: []float64{0, 4, 4, 6}, Cause: []int{1, 0, 1, 0}}, 0.5},
		{"one cluster", Data{Time: []float64{1, 2, 3, 4}, Cause: []int{1, 0, 1, 0}, Cluster: []int{1, 1, 1, 1}}, 0.375},
		{"risk set runs out early", Data{Entry: []float64{0, 5, 5}, Time: []float64{2, 7, 9}, Cause: []int{1, 1, 0}}, 0},
		{"runs out, clustered", Data{Entry: []float64{0, 5, 5}, Time: []float64{2, 7, 9}, Cause: []int{1, 1, 0}, Cluster: []int{1, 1, 2}}, 0},
		{"gap without anybody", Data{Entry: []float64{0, 5, 5}, Time: []float64{2, 7, 9}, Cause: []int{0, 1, 0}}, 0.5},
		{"tiny weights", Data{Time: []float64{1, 2, 3}, Cause: []int{1, 1, 1}, Weight: []float64{0.1, 0.2, 0.3}}, 0},
	} {
		for _, scale := range []Scale{ComplementaryLogLog, Log, Untransformed, Logit} {
			k, err := KaplanMeier(c.d, CurveOptions{Bounds: scale})
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			finitePoints(t, c.name, k.Points)
			near(t, c.name, k.Points[len(k.Points)-1].Estimate, c.last, 1e-12)
			if k.Points[0].Time != 0 {
				t.Errorf("%s: first point at %g", c.name, k.Points[0].Time)
			}
			r, err := CumulativeIncidence(c.d, 2, CurveOptions{Bounds: scale})
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			finitePoints(t, c.name, r.EventFree)
			finitePoints(t, c.name, r.Causes[0])
			finitePoints(t, c.name, r.Causes[1])
			if k.LastTime > 0 {
				m, se, err := k.RMST(k.LastTime)
				if err != nil || !finite(m) || !finite(se) {
					t.Errorf("%s: restricted mean %g (%g): %v", c.name, m, se, err)
				}
			}
		}
	}
}

func TestEarlyZeroIsSaid(t *testing.T) {
	d := Data{Entry: []float64{0, 5, 5}, Time: []float64{2, 7, 9}, Cause: []int{1, 1, 0}}
	c := must(KaplanMeier(d, CurveOptions{}))(t)
	if len(c.Warnings) != 1 || c.Warnings[0].Code != "early-zero" {
		t.Errorf("warnings %v", c.Warnings)
	}
	r := must(CumulativeIncidence(d, 1, CurveOptions{}))(t)
	if len(r.Warnings) != 1 || r.Warnings[0].Code != "early-zero" {
		t.Errorf("warnings %v", r.Warnings)
	}
}

func TestAt(t *testing.T) {
	d := Data{Entry: []float64{0, 0, 0, 3}, Time: []float64{2, 4, 8, 9}, Cause: []int{1, 0, 2, 0}}
	c := must(KaplanMeier(d, CurveOptions{}))(t)
	for _, x := range []struct {
		at, estimate, atRisk, events float64
		ok                           bool
	}{
		{-1, 0, 0, 0, false}, {math.NaN(), 0, 0, 0, false}, {9.5, 0, 0, 0, false},
		{0, 1, 3, 0, true}, {1, 1, 3, 0, true}, {2, 2. / 3, 3, 1, true}, {3, 2. / 3, 2, 1, true},
		{3.5, 2. / 3, 3, 1, true}, {8, 1. / 3, 2, 2, true}, {9, 1. / 3, 1, 2, true},
	} {
		p, ok := c.At(x.at)
		if ok != x.ok {
			t.Errorf("at %g: known %v", x.at, ok)
			continue
		}
		nears(t, "at", []float64{p.Estimate, p.AtRisk, p.Events}, []float64{x.estimate, x.atRisk, x.events}, 1e-12)
	}
	inc := must(CumulativeIncidence(d, 2, CurveOptions{}))(t)
	causes, free, ok := inc.At(8)
	if !ok {
		t.Fatal("not known at 8")
	}
	nears(t, "incidence", []float64{causes[0].Estimate, causes[1].Estimate, free.Estimate, causes[0].Events}, []float64{1. / 3, 1. / 3, 1. / 3, 1}, 1e-12)
	if _, _, ok := inc.At(10); ok {
		t.Error("known at 10")
	}
	// A curve at 0 stays there.
	z := must(KaplanMeier(Data{Time: []float64{1, 2}, Cause: []int{1, 1}}, CurveOptions{}))(t)
	if p, ok := z.At(50); !ok || p.Estimate != 0 || p.Events != 2 {
		t.Errorf("after everybody's event: %+v %v", p, ok)
	}
}

func TestQuantileFlat(t *testing.T) {
	for _, x := range []struct {
		name  string
		time  []float64
		cause []int
		want  float64
	}{
		// quantile(survfit(Surv(time, cause) ~ 1), 0.5)
		{"flat to the next event", []float64{1, 2, 3, 4}, []int{1, 1, 0, 1}, 3},
		{"flat to the end", []float64{1, 2, 3, 4}, []int{1, 1, 0, 0}, 3},
		{"falls through", []float64{1, 2, 3}, []int{1, 1, 1}, 2},
	} {
		c := must(KaplanMeier(Data{Time: x.time, Cause: x.cause}, CurveOptions{}))(t)
		if q := c.Quantile(0.5).Estimate; !q.OK || q.Value != x.want {
			t.Errorf("%s: %v", x.name, q)
		}
	}
	c := must(KaplanMeier(Data{Time: []float64{1, 2}, Cause: []int{1, 0}}, CurveOptions{}))(t)
	for _, p := range []float64{0, 1, -1, math.NaN()} {
		if q := c.Quantile(p); q.Estimate.OK || q.Low.OK || q.High.OK {
			t.Errorf("quantile %g: %+v", p, q)
		}
	}
}

func TestCurveOptions(t *testing.T) {
	d := Data{Time: []float64{1, 2, 3}, Cause: []int{1, 0, 1}}
	for _, o := range []CurveOptions{{Level: 1}, {Level: -1}, {Level: math.NaN()}, {Bounds: 7}} {
		if _, err := KaplanMeier(d, o); err == nil {
			t.Errorf("%+v: no error", o)
		}
		if _, err := CumulativeIncidence(d, 1, o); err == nil {
			t.Errorf("%+v: no error", o)
		}
	}
	if _, err := CumulativeIncidence(d, 0, CurveOptions{}); err == nil {
		t.Error("no causes: no error")
	}
	if _, err := CumulativeIncidence(Data{Time: []float64{1}, Cause: []int{3}}, 2, CurveOptions{}); err == nil {
		t.Error("cause above the number of causes: no error")
	}
	narrow, wide := must(KaplanMeier(d, CurveOptions{Level: 0.5}))(t), must(KaplanMeier(d, CurveOptions{Level: 0.99}))(t)
	if narrow.Points[1].Low <= wide.Points[1].Low {
		t.Error("a wider level does not give a wider interval")
	}
	if _, _, err := narrow.RMST(-1); err == nil {
		t.Error("restricted mean until -1: no error")
	}
	if _, err := RMSTDifference(narrow, wide, 2, 2); err == nil {
		t.Error("level 2: no error")
	}
}

func simpleCox() CoxData {
	return CoxData{
		Time:  []float64{1, 2, 3, 4, 5, 6, 7, 8},
		Event: []bool{true, true, false, true, true, false, true, true},
		X:     [][]float64{{1, 0, 1, 0, 0, 1, 1, 0}, {3, 1, 4, 1, 5, 9, 2, 6}},
		Names: []string{"heavy", "age"},
	}
}

func TestCoxErrors(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*CoxData, *CoxOptions)
		want   error // nil: any
	}{
		{"no rows", func(d *CoxData, _ *CoxOptions) { *d = CoxData{} }, stats.ErrNoRows},
		{"no columns", func(d *CoxData, _ *CoxOptions) { d.X, d.Names = nil, nil }, nil},
		{"no events", func(d *CoxData, _ *CoxOptions) { d.Event = make([]bool, 8) }, stats.ErrNoEvents},
		{"names", func(d *CoxData, _ *CoxOptions) { d.Names = d.Names[:1] }, nil},
		{"events", func(d *CoxData, _ *CoxOptions) { d.Event = d.Event[:1] }, nil},
		{"column length", func(d *CoxData, _ *CoxOptions) { d.X[1] = d.X[1][:3] }, nil},
		{"missing value", func(d *CoxData, _ *CoxOptions) { d.X[1][2] = math.NaN() }, nil},
		{"strata", func(d *CoxData, _ *CoxOptions) { d.Strata = []int{1} }, nil},
		{"offset length", func(d *CoxData, _ *CoxOptions) { d.Offset = []float64{1} }, nil},
		{"offset", func(d *CoxData, _ *CoxOptions) { d.Offset = make([]float64, 8); d.Offset[3] = math.Inf(1) }, nil},
		{"entry", func(d *CoxData, _ *CoxOptions) { d.Entry = []float64{0, 0, 3, 0, 0, 0, 0, 0} }, nil},
		{"weight", func(d *CoxData, _ *CoxOptions) { d.Weight = []float64{1, 1, 1, 1, 1, 1, 1, -1} }, nil},
		{"huge weight", func(d *CoxData, _ *CoxOptions) { d.Weight = []float64{1, 1, 1, 1, 1, 1, 1, 1e9} }, nil},
		{"ties", func(_ *CoxData, o *CoxOptions) { o.Ties = 7 }, nil},
		{"iterations", func(_ *CoxData, o *CoxOptions) { o.MaxIterations = -1 }, nil},
		{"too few iterations", func(_ *CoxData, o *CoxOptions) { o.MaxIterations = 1 }, stats.ErrConvergence},
		{"discrete with clusters", func(d *CoxData, o *CoxOptions) { o.Ties = Discrete; d.Cluster = order(8) }, ErrNotDiscrete},
		{"discrete with half a row", func(d *CoxData, o *CoxOptions) {
			o.Ties = Discrete
			d.Weight = []float64{1, 1, 1, 1, 1, 1, 1, 0.5}
		}, nil},
		{"term twice", func(d *CoxData, _ *CoxOptions) { d.Terms = []Term{{"a", []int{0, 1}}, {"b", []int{1}}} }, nil},
		{"term without columns", func(d *CoxData, _ *CoxOptions) { d.Terms = []Term{{"a", nil}} }, nil},
		{"term outside", func(d *CoxData, _ *CoxOptions) { d.Terms = []Term{{"a", []int{0, 5}}} }, nil},
		{"everybody at once", func(d *CoxData, _ *CoxOptions) {
			d.X, d.Names, d.Time, d.Event = [][]float64{{1}}, d.Names[:1], d.Time[:1], d.Event[:1]
		}, stats.ErrSingular},
	} {
		d, o := simpleCox(), CoxOptions{}
		c.change(&d, &o)
		f, err := FitCox(d, o)
		if err == nil || f != nil || (c.want != nil && !errors.Is(err, c.want)) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

func TestCoxColumns(t *testing.T) {
	d := simpleCox()
	d.X = append(d.X, []float64{7, 7, 7, 7, 7, 7, 7, 7})
	d.Names = append(d.Names, "same")
	var e *ColumnsError
	if _, err := FitCox(d, CoxOptions{}); !errors.As(err, &e) || !e.Constant || e.Columns[0] != 2 || e.Names[0] != "same" || !errors.Is(err, stats.ErrSingular) {
		t.Errorf("constant: %v", err)
	}
	for i := range d.X[2] {
		d.X[2][i] = 3 - 0.1*d.X[0][i] + 7*d.X[1][i]
	}
	e = nil
	if _, err := FitCox(d, CoxOptions{}); !errors.As(err, &e) || e.Constant || len(e.Columns) != 3 || e.Columns[0] != 2 {
		t.Errorf("repeated: %v", err)
	}
	// Constant within strata is constant.
	d.X[2] = []float64{1, 1, 1, 1, 2, 2, 2, 2}
	d.Strata = []int{4, 4, 4, 4, 9, 9, 9, 9}
	e = nil
	if _, err := FitCox(d, CoxOptions{}); !errors.As(err, &e) || !e.Constant || e.Columns[0] != 2 {
		t.Errorf("constant within strata: %v", err)
	}
}

func TestCoxSeparation(t *testing.T) {
	d, x := sample(200, 4)
	rows := order(200)
	c := coxOf(d, x, rows)
	// Nobody with b = 1 has the event.
	for i := range c.Event {
		c.Event[i] = c.Event[i] && c.X[1][i] == 0
	}
	var e *SeparationError
	if _, err := FitCox(c, CoxOptions{}); !errors.As(err, &e) || !errors.Is(err, ErrSeparation) || len(e.Columns) != 1 || e.Columns[0] != 1 || e.Names[0] != "b" {
		t.Errorf("a category without events: %v", err)
	}
	c.Cluster = nil
	c.Weight = nil
	if _, err := FitCox(c, CoxOptions{Ties: Discrete}); !errors.Is(err, ErrSeparation) {
		t.Errorf("discrete: %v", err)
	}
	// A number that sorts the events perfectly, in whatever unit.
	s := simpleCox()
	s.Event = []bool{true, true, true, true, true, true, true, true}
	s.X, s.Names = [][]float64{{8e6, 7e6, 6e6, 5e6, 4e6, 3e6, 2e6, 1e6}}, []string{"order"}
	if _, err := FitCox(s, CoxOptions{}); !errors.Is(err, ErrSeparation) {
		t.Errorf("perfect order: %v", err)
	}
	// A strong effect is not separation.
	s.X = [][]float64{{8, 7, 6, 5, 4, 3, 1, 2}}
	if _, err := FitCox(s, CoxOptions{}); err != nil {
		t.Errorf("strong effect: %v", err)
	}
}

func TestCoxDiscreteOffersLess(t *testing.T) {
	c := fit(t, simpleCox(), CoxOptions{Ties: Discrete})
	_, e1 := c.Residuals()
	_, e2 := c.Baseline()
	_, e3 := c.Predict([]float64{0, 1}, 0, CurveOptions{})
	_, e4 := c.Proportionality(SurvivalTime)
	_, e5 := c.Schoenfeld()
	for _, err := range []error{e1, e2, e3, e4, e5} {
		if !errors.Is(err, ErrNotDiscrete) {
			t.Errorf("got %v", err)
		}
	}
}

func TestCoxQuestions(t *testing.T) {
	c := fit(t, simpleCox(), CoxOptions{})
	if _, err := c.Predict([]float64{1}, 0, CurveOptions{}); err == nil {
		t.Error("too few values: no error")
	}
	if _, err := c.Predict([]float64{1, math.NaN()}, 0, CurveOptions{}); err == nil {
		t.Error("missing value: no error")
	}
	if _, err := c.Predict([]float64{1, 1}, 3, CurveOptions{}); err == nil {
		t.Error("unknown stratum: no error")
	}
	if _, err := c.WaldTest("x", []int{5}); err == nil {
		t.Error("unknown column: no error")
	}
	if _, err := c.Proportionality(9); err == nil {
		t.Error("unknown time scale: no error")
	}
	w := must(c.WaldTest("both", []int{0, 1}))(t)
	near(t, "Wald test of all columns", w.Statistic, c.Wald.Statistic, 1e-12)
	est, se, err := c.Contrast([]float64{1, 0})
	if err != nil {
		t.Fatal(err)
	}
	nears(t, "contrast", []float64{est, se}, []float64{c.Coef[0], c.StdErr()[0]}, 1e-12)
	if _, _, err := c.Contrast([]float64{1}); err == nil {
		t.Error("short contrast: no error")
	}
	b := must(c.Baseline())(t)
	if _, ok := b[0].At(9); ok {
		t.Error("baseline known after the end")
	}
}

// Few clusters: the joint tests that allow for them cannot be made, and say so.
func TestCoxFewClusters(t *testing.T) {
	d := simpleCox()
	d.Cluster = []int{1, 1, 1, 1, 2, 2, 2, 2}
	c := fit(t, d, CoxOptions{})
	if c.HasRobustScore || len(c.Warnings) != 1 || c.Warnings[0].Code != "few-clusters" {
		t.Errorf("robust score %v, warnings %v", c.HasRobustScore, c.Warnings)
	}
}

func TestConcordanceDegenerate(t *testing.T) {
	for _, f := range []func(CoxData, []float64) (Concordance, bool, error){HarrellConcordance, UnoConcordance} {
		if _, _, err := f(CoxData{}, nil); !errors.Is(err, stats.ErrNoRows) {
			t.Errorf("no rows: %v", err)
		}
		if _, ok, err := f(CoxData{Time: []float64{1, 1}, Event: []bool{true, true}}, []float64{1, 2}); ok || err != nil {
			t.Errorf("nothing to compare: %v %v", ok, err)
		}
		if _, _, err := f(CoxData{Time: []float64{1, 2}, Event: []bool{true, true}}, []float64{1, math.NaN()}); err == nil {
			t.Error("missing predictor: no error")
		}
		if _, _, err := f(CoxData{Time: []float64{1, 2}, Event: []bool{true}}, []float64{1, 2}); err == nil {
			t.Error("lengths: no error")
		}
		c, ok, err := f(CoxData{Time: []float64{1, 2, 3}, Event: []bool{true, true, true}}, []float64{3, 2, 1})
		if !ok || err != nil || c.Estimate != 1 {
			t.Errorf("perfect order: %+v %v %v", c, ok, err)
		}
	}
	if _, _, err := UnoConcordance(CoxData{Entry: []float64{0, 1}, Time: []float64{1, 2}, Event: []bool{true, true}}, []float64{1, 2}); err == nil {
		t.Error("late entry: no error")
	}
}
