package survival

import (
	"errors"
	"math"
	"strings"
	"testing"

	"plybook/analysis/stats"
)

// checkCurve compares a curve with an entry made by survfit: points at every
// time but time 0, with null where no bound exists.
func checkCurve(t *testing.T, c *Curve, km any, tol float64) {
	t.Helper()
	points := c.Points
	if points[0].Time == 0 {
		points = points[1:]
	}
	m := km.(map[string]any)
	at := numbers(m["time"])
	if len(points) != len(at) {
		t.Fatalf("%d points, want %d", len(points), len(at))
	}
	col := func(name string) []float64 { return numbers(m[name]) }
	for k, p := range points {
		near(t, "time", p.Time, at[k], 0)
		near(t, "at risk", p.AtRisk, col("n_risk")[k], 0)
		near(t, "events", p.Events, col("n_event")[k], 0)
		near(t, "estimate", p.Estimate, col("surv")[k], tol)
		if m["n_censor"] != nil {
			near(t, "censored", p.Censored, col("n_censor")[k], 0)
		}
		low := col("lower")[k]
		if has := !math.IsNaN(low) && p.Estimate < 1; p.HasBounds != has {
			t.Errorf("time %g: has bounds %v, want %v", p.Time, p.HasBounds, has)
		}
		if p.HasBounds {
			near(t, "low", p.Low, low, tol)
			near(t, "high", p.High, col("upper")[k], tol)
			near(t, "std err", p.StdErr, col("std_err_S")[k], tol)
		}
	}
	if m["quantile"] == nil {
		return
	}
	q := m["quantile"]
	for k, prob := range numbers(get(q, "prob")) {
		got := c.Quantile(prob)
		for _, x := range []struct {
			name string
			got  Limit
		}{{"est", got.Estimate}, {"lower", got.Low}, {"upper", got.High}} {
			want := numbers(get(q, x.name))[k]
			if x.got.OK != !math.IsNaN(want) || (x.got.OK && x.got.Value != want) {
				t.Errorf("quantile %g, %s: got %v, want %g", prob, x.name, x.got, want)
			}
		}
	}
}

func TestKaplanMeierFreireich(t *testing.T) {
	s := load(t, "freireich")
	scales := map[string]Scale{"loglog": ComplementaryLogLog, "plain": Untransformed, "log": Log}
	for group, treat := range map[string]string{"6mp": "6-MP", "control": "control"} {
		d := s.keep(func(r map[string]string) bool { return r["treat"] == treat }).data("time", "cens")
		for name, scale := range scales {
			entry := "km_" + group + "_" + name
			t.Run(entry, func(t *testing.T) {
				c := must(KaplanMeier(d, CurveOptions{Bounds: scale}))(t)
				checkCurve(t, c, s.entry(entry)["km"], s.tol(entry))
				h := must(NelsonAalen(d, CurveOptions{}))(t)
				for k, want := range numbers(get(s.entry(entry), "km", "cumhaz")) {
					near(t, "hazard", h.Points[k+1].Estimate, want, s.tol(entry))
					near(t, "hazard std err", h.Points[k+1].StdErr, numbers(get(s.entry(entry), "km", "std_err_cumhaz"))[k], s.tol(entry))
				}
			})
		}
	}
}

func TestRMSTPublished(t *testing.T) {
	s := load(t, "freireich")
	e := s.entry("rmst_20")
	var curves []*Curve
	for _, g := range [][2]string{{"rmst_6mp", "6-MP"}, {"rmst_control", "control"}} {
		d := s.keep(func(r map[string]string) bool { return r["treat"] == g[1] }).data("time", "cens")
		c := must(KaplanMeier(d, CurveOptions{}))(t)
		m, se, err := c.RMST(20)
		if err != nil {
			t.Fatal(err)
		}
		near(t, g[0], m, number(get(e, g[0], "rmean")), s.tol("rmst_20"))
		near(t, g[0]+" std err", se, number(get(e, g[0], "se(rmean)")), s.tol("rmst_20"))
		curves = append(curves, c)
	}
	diff := must(RMSTDifference(curves[0], curves[1], 20, 0))(t)
	near(t, "difference", diff.Estimate, 8.42857142857143-16.1165266106443, 1e-12)
	near(t, "difference std err", diff.StdErr, math.Hypot(1.25156019600505, 1.26808268250392), 1e-9)
	near(t, "high", diff.High, diff.Estimate+1.959963984540054*diff.StdErr, 1e-12)
	near(t, "p", diff.P, stats.NormalP(diff.Estimate/diff.StdErr), 1e-12)
	if _, _, err := curves[0].RMST(36); !errors.Is(err, ErrBeyondFollowUp) {
		t.Errorf("beyond follow-up: %v", err)
	}
	// The control curve falls to 0 at 23 weeks, so nothing is unknown later.
	m, _, err := curves[1].RMST(100)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean of the control group", m, 182.0/21, 1e-12)

	l := load(t, "lung").keep(func(r map[string]string) bool { return r["ph.ecog"] != "" })
	for g, sex := range map[string]string{"female0": "1", "female1": "2"} {
		x := l.keep(func(r map[string]string) bool { return r["sex"] == sex })
		d := Data{Time: x.num("time")}
		for _, v := range x.num("status") {
			d.Cause = append(d.Cause, int(v)-1)
		}
		m, se, err := must(KaplanMeier(d, CurveOptions{}))(t).RMST(500)
		if err != nil {
			t.Fatal(err)
		}
		near(t, g, m, number(get(l.entry("km_sex_rmst500"), g, "rmean")), 1e-8)
		near(t, g, se, number(get(l.entry("km_sex_rmst500"), g, "se(rmean)")), 1e-8)
	}
}

func heartData(s *set) Data {
	d := s.data("stop", "event")
	d.Entry = s.num("start")
	return d
}

func TestKaplanMeierLateEntryHeart(t *testing.T) {
	s := load(t, "heart")
	for name, tx := range map[string]string{"km_delayed_entry_tx0": "0", "km_delayed_entry_tx1": "1"} {
		x := s.keep(func(r map[string]string) bool { return r["transplant"] == tx })
		c := must(KaplanMeier(heartData(x), CurveOptions{Bounds: Log}))(t)
		checkCurve(t, c, s.entry(name)["km"], s.tol(name))
		codes := ""
		for _, w := range c.Warnings {
			codes += w.Code + " "
		}
		if tx == "1" && !strings.Contains(codes, "nobody-at-start") {
			t.Errorf("%s: warnings %q", name, codes)
		}
	}
}
