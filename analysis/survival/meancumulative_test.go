package survival

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

// recurrent gathers the rows of a set by id: end is the column of the time,
// status that of what happened: 1 an event, from 2 on a death.
func recurrent(s *set, end, status string) RecurrentData {
	var d RecurrentData
	at := map[float64]int{}
	ids, ends, what := s.num("id"), s.num(end), s.num(status)
	for i, id := range ids {
		k, ok := at[id]
		if !ok {
			k = len(d.Exit)
			at[id] = k
			d.Exit, d.Died, d.Events = append(d.Exit, 0), append(d.Died, false), append(d.Events, nil)
		}
		d.Exit[k] = math.Max(d.Exit[k], ends[i])
		switch {
		case what[i] == 1:
			d.Events[k] = append(d.Events[k], ends[i])
		case what[i] > 1:
			d.Died[k] = true
		}
	}
	return d
}

// meanOf compares a curve at its event times with a published entry.
func meanOf(t *testing.T, c *MeanCurve, e map[string]any, tol float64) {
	t.Helper()
	if float64(c.Rows) != number(e["n_units"]) {
		t.Errorf("%d subjects, want %v", c.Rows, e["n_units"])
	}
	var time, risk, events, mean, se, low, high []float64
	for _, p := range c.Points {
		if p.Events == 0 {
			continue
		}
		time, risk, events, mean = append(time, p.Time), append(risk, p.AtRisk), append(events, p.Events), append(mean, p.Estimate)
		se, low, high = append(se, p.StdErr), append(low, p.Low), append(high, p.High)
	}
	nears(t, "time", time, numbers(e["time"]), 0)
	nears(t, "at risk", risk, numbers(e["n_risk"]), 0)
	nears(t, "events", events, numbers(e["n_event"]), 0)
	nears(t, "mean", mean, numbers(e["mcf"]), tol)
	nears(t, "standard error", se, numbers(e["robust_se"]), tol)
	nears(t, "low", low, numbers(e["lower_log"]), tol)
	nears(t, "high", high, numbers(e["upper_log"]), tol)
}

// R 4.2.2: the mean cumulative function with the robust variance of Lawless
// and Nadeau 1995 by formula, and survfit(Surv(start, time, status) ~ 1, id =
// id, robust = TRUE) where no engine has two events on a day.
func TestMeanCumulativeValveSeats(t *testing.T) {
	s := load(t, "valveseat")
	meanOf(t, must(MeanCumulative(recurrent(s, "time", "status"), CurveOptions{}))(t), s.entry("mcf")["r"].(map[string]any), 1e-9)
	d := recurrent(s, "time", "status")
	for i, ev := range d.Events {
		seen := map[float64]bool{}
		d.Events[i] = nil
		for _, e := range ev {
			if !seen[e] {
				d.Events[i] = append(d.Events[i], e)
			}
			seen[e] = true
		}
	}
	meanOf(t, must(MeanCumulative(d, CurveOptions{}))(t), s.entry("mcf_single_event_per_day")["r"].(map[string]any), 1e-9)
}

func TestMeanCumulativeBladder(t *testing.T) {
	all := load(t, "bladder")
	for group, rx := range map[string]string{"mcf_rx2_0": "1", "mcf_rx2_1": "2"} {
		s := all.keep(func(r map[string]string) bool { return r["rx"] == rx })
		meanOf(t, must(MeanCumulative(recurrent(s, "stop", "event"), CurveOptions{}))(t), s.entry(group)["r"].(map[string]any), 1e-9)
	}
}

// R 4.2.2, survival 3.5-3: the share alive and the step of the mean from
// survfit; errors by numerical derivatives, good to 1e-6.
func TestMeanCumulativeWithDeaths(t *testing.T) {
	all := load(t, "bladder1")
	data := map[string]RecurrentData{}
	for _, g := range []string{"placebo", "pyridoxine", "thiotepa"} {
		s := all.keep(func(r map[string]string) bool { return r["treatment"] == g })
		e := s.entry(g)
		d := recurrent(s, "stop", "status")
		data[g] = d
		c := must(MeanCumulative(d, CurveOptions{}))(t)
		if float64(c.Rows) != number(e["n"]) || c.Events != number(e["events"]) || c.Died != number(e["deaths"]) {
			t.Errorf("%s: %d subjects, %g events, %g deaths", g, c.Rows, c.Events, c.Died)
		}
		for i, at := range numbers(e["time"]) {
			p, ok := c.At(at)
			if !ok {
				t.Fatalf("nobody watched at %g", at)
			}
			near(t, g+" mean", p.Estimate, numbers(e["mean"])[i], 1e-9)
			near(t, g+" standard error", p.StdErr, numbers(e["std_error"])[i], 1e-6)
		}
	}
	e := all.entry("placebo_thiotepa")
	x := must(MeanTest([]RecurrentData{data["placebo"], data["thiotepa"]}))(t)
	near(t, "statistic", x.Statistic, number(e["chisq"]), 1e-6)
	near(t, "p", x.P, number(e["p"]), 1e-6)
	if x.DF != 1 {
		t.Errorf("%g degrees of freedom", x.DF)
	}
	back := must(MeanTest([]RecurrentData{data["thiotepa"], data["placebo"]}))(t)
	near(t, "groups turned round", back.Statistic, x.Statistic, 1e-10)
	if three := must(MeanTest([]RecurrentData{data["thiotepa"], data["placebo"], data["pyridoxine"]}))(t); three.DF != 2 || !(three.P > 0 && three.P < 1) {
		t.Errorf("three groups: %+v", three)
	}
	e = all.entry("placebo_rate")
	c := must(MeanCumulative(data["placebo"], CurveOptions{}))(t)
	r := must(PoissonRate(c.Events, c.Watched, 0))(t)
	near(t, "rate", r.Estimate, number(e["estimate"]), 1e-12)
	near(t, "rate low", r.Low, number(e["low"]), 1e-9)
	near(t, "rate high", r.High, number(e["high"]), 1e-9)
}

// Worked out by hand: of four, one dies on day 20 before the second event.
func TestMeanCumulativeByHand(t *testing.T) {
	d := RecurrentData{Exit: []float64{40, 20, 40, 40}, Died: []bool{false, true, false, false}, Events: [][]float64{{10, 30}, {10}, nil, {30, 30}}}
	c := must(MeanCumulative(d, CurveOptions{}))(t)
	p, _ := c.At(40)
	// 2/4, then the share alive 3/4 times 3/3.
	near(t, "mean", p.Estimate, 0.5+0.75, 1e-12)
	if p.AtRisk != 3 || p.Events != 5 {
		t.Errorf("%+v", p)
	}
	// As if the dead had merely gone out of sight it would be more.
	d.Died = nil
	p, _ = must(MeanCumulative(d, CurveOptions{}))(t).At(40)
	near(t, "mean of the living", p.Estimate, 0.5+1, 1e-12)
}

// Where each has the event once at most and it ends the watch, the mean is
// the cumulative incidence, with death competing.
func TestMeanCumulativeOfOneEventIsIncidence(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	var d RecurrentData
	var one Data
	for range 80 {
		entry := math.Floor(30 * rng.Float64() * float64(rng.IntN(2)))
		at, cause := entry+1+math.Floor(100*rng.Float64()), rng.IntN(3)
		one.Entry, one.Time, one.Cause = append(one.Entry, entry), append(one.Time, at), append(one.Cause, cause)
		d.Entry, d.Exit, d.Died, d.Events = append(d.Entry, entry), append(d.Exit, at), append(d.Died, cause > 0), append(d.Events, nil)
		if cause == 1 {
			d.Events[len(d.Events)-1] = []float64{at}
		}
	}
	c := must(MeanCumulative(d, CurveOptions{}))(t)
	in := must(CumulativeIncidence(one, 2, CurveOptions{}))(t)
	for _, at := range []float64{10, 40, 80} {
		p, _ := c.At(at)
		q, _, ok := in.At(at)
		if !ok {
			t.Fatal("no incidence")
		}
		near(t, "mean", p.Estimate, q[0].Estimate, 1e-10)
		near(t, "standard error", p.StdErr, q[0].StdErr, 1e-8)
	}
}

func TestMeanCumulativeIndifferentTo(t *testing.T) {
	s := load(t, "bladder1")
	d := recurrent(s, "stop", "status")
	base := must(MeanCumulative(d, CurveOptions{}))(t)
	var turned, double, split RecurrentData
	for i := len(d.Exit) - 1; i >= 0; i-- {
		turned.Exit, turned.Died, turned.Events = append(turned.Exit, d.Exit[i]), append(turned.Died, d.Died[i]), append(turned.Events, d.Events[i])
	}
	for i := range d.Exit {
		for range 2 {
			double.Exit, double.Died, double.Events, double.Cluster = append(double.Exit, d.Exit[i]), append(double.Died, d.Died[i]), append(double.Events, d.Events[i]), append(double.Cluster, i)
		}
		// Watched up to day 5, and again from day 5.
		split.Cluster = append(split.Cluster, i)
		if d.Exit[i] <= 5 {
			split.Entry, split.Exit, split.Died, split.Events = append(split.Entry, 0), append(split.Exit, d.Exit[i]), append(split.Died, d.Died[i]), append(split.Events, d.Events[i])
			continue
		}
		var before, after []float64
		for _, e := range d.Events[i] {
			if e <= 5 {
				before = append(before, e)
			} else {
				after = append(after, e)
			}
		}
		split.Entry, split.Exit = append(split.Entry, 0, 5), append(split.Exit, 5, d.Exit[i])
		split.Died, split.Events, split.Cluster = append(split.Died, false, d.Died[i]), append(split.Events, before, after), append(split.Cluster, i)
	}
	weighted := d
	for range d.Exit {
		weighted.Weight = append(weighted.Weight, 2)
	}
	for name, other := range map[string]RecurrentData{"turned round": turned, "rows twice, grouped": double, "weights of 2": weighted, "split rows": split} {
		c := must(MeanCumulative(other, CurveOptions{}))(t)
		for _, at := range []float64{6, 24, 48} {
			p, _ := base.At(at)
			q, ok := c.At(at)
			if !ok {
				t.Fatal(name)
			}
			near(t, name+" mean", q.Estimate, p.Estimate, 1e-10)
			near(t, name+" standard error", q.StdErr, p.StdErr, 1e-9)
		}
	}
}

// Events at a rate of 2 a year, deaths at 0.3, some watched late: the limits
// hold the truth as often as they should.
func TestMeanCumulativeCovers(t *testing.T) {
	const sets, rate, death, at = 300, 2.0, 0.3, 2.0
	truth := rate / death * (1 - math.Exp(-death*at))
	covered := 0
	for k := range uint64(sets) {
		rng := rand.New(rand.NewPCG(k, 3))
		var d RecurrentData
		for len(d.Exit) < 100 {
			frailty := 0.5 + rng.Float64() // of mean 1: subjects differ
			dies, until, entry := rng.ExpFloat64()/death, 1+3*rng.Float64(), 0.0
			if rng.IntN(3) == 0 {
				entry = 0.8 * rng.Float64()
			}
			exit := math.Min(dies, until)
			if exit <= entry {
				continue
			}
			var ev []float64
			for x := rng.ExpFloat64() / rate / frailty; x <= exit; x += rng.ExpFloat64() / rate / frailty {
				if x > entry {
					ev = append(ev, x)
				}
			}
			d.Entry, d.Exit, d.Died, d.Events = append(d.Entry, entry), append(d.Exit, exit), append(d.Died, dies <= until), append(d.Events, ev)
		}
		if p, ok := must(MeanCumulative(d, CurveOptions{}))(t).At(at); ok && p.HasBounds && p.Low <= truth && truth <= p.High {
			covered++
		}
	}
	if covered < sets*91/100 || covered > sets*98/100 {
		t.Errorf("the 95%% intervals covered in %d of %d", covered, sets)
	}
}

func TestMeanCumulativeDegenerate(t *testing.T) {
	for name, d := range map[string]RecurrentData{
		"no subjects":     {},
		"lengths":         {Exit: []float64{1}},
		"not a number":    {Exit: []float64{math.NaN()}, Events: [][]float64{nil}},
		"event too late":  {Exit: []float64{5}, Events: [][]float64{{6}}},
		"event too early": {Entry: []float64{3}, Exit: []float64{5}, Events: [][]float64{{3}}},
		"event below 0":   {Exit: []float64{5}, Events: [][]float64{{-0.5}}},
		"deaths":          {Exit: []float64{5}, Events: [][]float64{nil}, Died: []bool{true, true}},
		"weight":          {Exit: []float64{5}, Events: [][]float64{nil}, Weight: []float64{0}},
	} {
		_, err := MeanCumulative(d, CurveOptions{})
		var row *RowError
		if !errors.As(err, &row) && !errors.Is(err, stats.ErrNoRows) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := MeanCumulative(RecurrentData{Exit: []float64{1}, Events: [][]float64{nil}}, CurveOptions{Bounds: Logit}); err == nil {
		t.Error("limits on the logit of a mean")
	}
	c := must(MeanCumulative(RecurrentData{Exit: []float64{0, 5}, Events: [][]float64{nil, nil}}, CurveOptions{}))(t)
	if p, ok := c.At(5); !ok || p.Estimate != 0 || p.HasBounds || p.AtRisk != 1 {
		t.Errorf("no events: %+v", p)
	}
	if _, ok := c.At(5.1); ok {
		t.Error("the curve goes on after the watch")
	}
	c = must(MeanCumulative(RecurrentData{Exit: []float64{5}, Events: [][]float64{{2, 2, 5}}}, CurveOptions{}))(t)
	if p, ok := c.At(5); !ok || p.Estimate != 3 || p.HasBounds {
		t.Errorf("one subject: %+v", p)
	}
	c = must(MeanCumulative(RecurrentData{Exit: []float64{5, 9}, Entry: []float64{0, 6}, Died: []bool{true, false}, Events: [][]float64{{5}, {8}}}, CurveOptions{}))(t)
	if p, _ := c.At(9); p.Estimate != 1 || len(c.Warnings) != 1 || c.Warnings[0].Code != "risk-set-emptied" {
		t.Errorf("all dead before the rest came: %+v %+v", p, c.Warnings)
	}
	one := RecurrentData{Exit: []float64{5}, Events: [][]float64{{2}}}
	if _, err := MeanTest([]RecurrentData{one}); !errors.Is(err, ErrNoComparison) {
		t.Errorf("one group: %v", err)
	}
	if _, err := MeanTest([]RecurrentData{one, {Exit: []float64{1}, Events: [][]float64{nil}}}); !errors.Is(err, ErrNoComparison) {
		t.Errorf("never watched together at an event: %v", err)
	}
	if _, err := MeanTest([]RecurrentData{one, one}); !errors.Is(err, stats.ErrSingular) {
		t.Errorf("no spread: %v", err)
	}
	if r := must(PoissonRate(0, 10, 0))(t); r.Low != 0 || math.Abs(r.High-3.6888794541/10) > 1e-9 {
		t.Errorf("no events: %+v", r)
	}
	if r := must(PoissonRate(0, 0, 0))(t); r.HasRate {
		t.Errorf("nobody watched: %+v", r)
	}
	if _, err := PoissonRate(-1, 1, 0); err == nil {
		t.Error("a negative number of events")
	}
}
