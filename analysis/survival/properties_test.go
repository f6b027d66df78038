package survival

import (
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

// sample makes rows with late entry, ties, two causes and clusters.
func sample(n int, seed uint64) (Data, [][]float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	d := Data{}
	x := make([][]float64, 3)
	for i := range n {
		a, b := r.NormFloat64(), float64(r.IntN(2))
		t := math.Ceil(200 * r.ExpFloat64() * math.Exp(-0.4*a-0.5*b))
		c := math.Ceil(400 * r.Float64())
		cause := 1 + r.IntN(2)
		if c < t {
			t, cause = c, 0
		}
		entry := 0.0
		if i%3 == 0 {
			entry = math.Floor(t * 0.9 * r.Float64())
		}
		d.Entry = append(d.Entry, entry)
		d.Time = append(d.Time, t)
		d.Cause = append(d.Cause, cause)
		d.Cluster = append(d.Cluster, i/2)
		d.Weight = append(d.Weight, 1+float64(r.IntN(3)))
		for j, v := range []float64{a, b, 20 + 5*r.NormFloat64()} {
			x[j] = append(x[j], v)
		}
	}
	return d, x
}

func pick[T any](x []T, rows []int) []T {
	var out []T
	for _, i := range rows {
		out = append(out, x[i])
	}
	return out
}

func (d Data) pick(rows []int) Data {
	return Data{Entry: pick(d.Entry, rows), Time: pick(d.Time, rows), Cause: pick(d.Cause, rows), Weight: pick(d.Weight, rows), Cluster: pick(d.Cluster, rows)}
}

func coxOf(d Data, x [][]float64, rows []int) CoxData {
	d = d.pick(rows)
	out := CoxData{Entry: d.Entry, Time: d.Time, Event: events(d.Cause, 1), Weight: d.Weight, Cluster: d.Cluster, Names: []string{"a", "b", "c"}}
	for _, col := range x {
		out.X = append(out.X, pick(col, rows))
	}
	return out
}

// numbersOf is everything that should not change with the order of the rows.
func numbersOf(t *testing.T, d Data, x [][]float64, rows []int) map[string][]float64 {
	t.Helper()
	out := map[string][]float64{}
	p := d.pick(rows)
	c := must(KaplanMeier(p, CurveOptions{}))(t)
	for _, y := range c.Points {
		out["curve"] = append(out["curve"], y.Estimate, y.StdErr, y.Low, y.High, y.AtRisk)
	}
	m, se, err := c.RMST(200)
	if err != nil {
		t.Fatal(err)
	}
	out["restricted mean"] = []float64{m, se}
	inc := must(CumulativeIncidence(p, 2, CurveOptions{}))(t)
	for _, y := range inc.Causes[1] {
		out["incidence"] = append(out["incidence"], y.Estimate, y.StdErr)
	}
	f := fit(t, coxOf(d, x, rows), CoxOptions{})
	out["cox"] = append(append(f.Coef, f.RobustStdErr()...), f.LogLik, f.Concordance.Estimate, f.Concordance.StdErr)
	return out
}

func compareNumbers(t *testing.T, got, want map[string][]float64, tol float64) {
	t.Helper()
	for name, w := range want {
		nears(t, name, got[name], w, tol)
	}
}

func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	d, x := sample(240, 7)
	want := numbersOf(t, d, x, order(240))
	compareNumbers(t, numbersOf(t, d, x, rand.New(rand.NewPCG(3, 3)).Perm(240)), want, 1e-9)
}

func TestUnitsDoNotMatter(t *testing.T) {
	d, x := sample(240, 8)
	u := d
	u.Entry, u.Time = scaleBy(d.Entry, 24), scaleBy(d.Time, 24)
	a, b := must(KaplanMeier(d, CurveOptions{}))(t), must(KaplanMeier(u, CurveOptions{}))(t)
	for k := range a.Points {
		near(t, "estimate", b.Points[k].Estimate, a.Points[k].Estimate, 0)
		near(t, "std err", b.Points[k].StdErr, a.Points[k].StdErr, 0)
	}
	near(t, "median", b.Quantile(0.5).Estimate.Value, 24*a.Quantile(0.5).Estimate.Value, 1e-12)
	ma, sa, _ := a.RMST(150)
	mb, sb, _ := b.RMST(150 * 24)
	near(t, "restricted mean", mb, 24*ma, 1e-10)
	near(t, "restricted mean std err", sb, 24*sa, 1e-10)

	all := order(240)
	fa := fit(t, coxOf(d, x, all), CoxOptions{})
	y := [][]float64{plus(scaleBy(x[0], 1000), 1e5), x[1], x[2]}
	fb := fit(t, coxOf(u, y, all), CoxOptions{})
	near(t, "coefficient", fb.Coef[0]*1000, fa.Coef[0], 1e-8)
	near(t, "robust std err", fb.RobustStdErr()[0]*1000, fa.RobustStdErr()[0], 1e-8)
	near(t, "log likelihood", fb.LogLik, fa.LogLik, 1e-11)
}

func TestWeightTwoIsTwoRows(t *testing.T) {
	d, x := sample(200, 9)
	d.Cluster = order(200)
	var rows []int
	for i, w := range d.Weight {
		for range int(w) {
			rows = append(rows, i)
		}
	}
	long := d.pick(rows)
	long.Weight = nil
	d.Cluster = nil
	short := must(KaplanMeier(d, CurveOptions{}))(t)
	ungrouped := long
	ungrouped.Cluster = nil
	full := must(KaplanMeier(ungrouped, CurveOptions{}))(t)
	for k, p := range short.Points {
		q := full.Points[k]
		nears(t, "curve", []float64{p.Estimate, p.StdErr, p.AtRisk, p.Events, p.Low}, []float64{q.Estimate, q.StdErr, q.AtRisk, q.Events, q.Low}, 1e-10)
	}
	// In a jackknife a weighted row is one unit, as are its copies in a cluster.
	a, b := must(CumulativeIncidence(d, 2, CurveOptions{}))(t), must(CumulativeIncidence(long, 2, CurveOptions{}))(t)
	for k, p := range a.Causes[0] {
		q := b.Causes[0][k]
		nears(t, "incidence", []float64{p.Estimate, p.StdErr}, []float64{q.Estimate, q.StdErr}, 1e-9)
	}
	all := order(200)
	d.Cluster = order(200)
	for _, ties := range []Ties{Efron, Breslow, Discrete} {
		w, l := coxOf(d, x, all), coxOf(d, x, rows)
		l.Weight = nil
		if ties == Discrete {
			w.Cluster, l.Cluster = nil, nil
		}
		fw, fl := fit(t, w, CoxOptions{Ties: ties}), fit(t, l, CoxOptions{Ties: ties})
		nears(t, ties.String()+" coefficients", fw.Coef, fl.Coef, 1e-8)
		nears(t, ties.String()+" std err", fw.StdErr(), fl.StdErr(), 1e-8)
		near(t, ties.String()+" log likelihood", fw.LogLik, fl.LogLik, 1e-11)
		near(t, ties.String()+" concordance", fw.Concordance.Estimate, fl.Concordance.Estimate, 1e-9)
		if ties == Discrete {
			continue
		}
		nears(t, ties.String()+" robust", fw.RobustStdErr(), fl.RobustStdErr(), 1e-8)
		bw, bl := must(fw.Baseline())(t), must(fl.Baseline())(t)
		for k, p := range bw[0].Points {
			near(t, "baseline", p.CumulativeHazard, bl[0].Points[k].CumulativeHazard, 1e-8)
		}
		pw, pl := must(fw.Proportionality(SurvivalTime))(t), must(fl.Proportionality(SurvivalTime))(t)
		near(t, "proportionality", pw.Global.Statistic, pl.Global.Statistic, 1e-7)
	}
}

func TestSplitRowsChangeNothing(t *testing.T) {
	d, x := sample(240, 10)
	all := order(240)
	var rows []int
	s := Data{}
	for i := range all {
		cut := math.Floor((d.Entry[i] + d.Time[i]) / 2)
		if cut > d.Entry[i] && cut < d.Time[i] {
			rows = append(rows, i)
			s.Entry, s.Time, s.Cause = append(s.Entry, d.Entry[i]), append(s.Time, cut), append(s.Cause, 0)
			d.Entry[i] = cut
			s.Weight, s.Cluster = append(s.Weight, d.Weight[i]), append(s.Cluster, d.Cluster[i])
		}
	}
	whole, wx := sample(240, 10)
	n := 240 + len(rows)
	split := Data{Entry: append(s.Entry, d.Entry...), Time: append(s.Time, d.Time...), Cause: append(s.Cause, d.Cause...),
		Weight: append(s.Weight, d.Weight...), Cluster: append(s.Cluster, d.Cluster...)}
	var sx [][]float64
	for _, col := range x {
		sx = append(sx, append(pick(col, rows), col...))
	}
	a, b := must(KaplanMeier(whole, CurveOptions{}))(t), must(KaplanMeier(split, CurveOptions{}))(t)
	ia, ib := must(CumulativeIncidence(whole, 2, CurveOptions{}))(t), must(CumulativeIncidence(split, 2, CurveOptions{}))(t)
	for _, at := range []float64{1, 20, 77, 150, 300} {
		p, _ := a.At(at)
		q, _ := b.At(at)
		nears(t, "curve", []float64{q.Estimate, q.StdErr, q.AtRisk, q.Low}, []float64{p.Estimate, p.StdErr, p.AtRisk, p.Low}, 1e-9)
		ca, _, _ := ia.At(at)
		cb, _, _ := ib.At(at)
		nears(t, "incidence", []float64{cb[0].Estimate, cb[0].StdErr}, []float64{ca[0].Estimate, ca[0].StdErr}, 1e-9)
	}
	for _, ties := range []Ties{Efron, Breslow} {
		fa, fb := fit(t, coxOf(whole, wx, all), CoxOptions{Ties: ties}), fit(t, coxOf(split, sx, order(n)), CoxOptions{Ties: ties})
		nears(t, "coefficients", fb.Coef, fa.Coef, 1e-8)
		nears(t, "std err", fb.StdErr(), fa.StdErr(), 1e-8)
		nears(t, "robust std err", fb.RobustStdErr(), fa.RobustStdErr(), 1e-8)
		near(t, "log likelihood", fb.LogLik, fa.LogLik, 1e-11)
		near(t, "concordance", fb.Concordance.Estimate, fa.Concordance.Estimate, 1e-9)
		pa, pb := must(fa.Proportionality(SurvivalTime))(t), must(fb.Proportionality(SurvivalTime))(t)
		near(t, "proportionality", pb.Global.Statistic, pa.Global.Statistic, 1e-7)
	}
}

func TestCausesAddUp(t *testing.T) {
	d, _ := sample(240, 11)
	r := must(CumulativeIncidence(d, 2, CurveOptions{}))(t)
	for k, p := range r.EventFree {
		near(t, "sum", p.Estimate+r.Causes[0][k].Estimate+r.Causes[1][k].Estimate, 1, 1e-12)
	}
	// With one cause it is 1 less the Kaplan-Meier curve, errors included.
	for i := range d.Cause {
		d.Cause[i] = min(1, d.Cause[i])
	}
	one := must(CumulativeIncidence(d, 1, CurveOptions{}))(t)
	c := must(KaplanMeier(d, CurveOptions{}))(t)
	for k, p := range c.Points {
		near(t, "one cause", 1-one.Causes[0][k].Estimate, p.Estimate, 1e-12)
		if p.HasBounds && p.Time > 0 {
			near(t, "one cause std err", one.Causes[0][k].StdErr, p.StdErr, 1e-9)
		}
	}
}

// A two-group log-rank test is the score test of the exact partial
// likelihood, and of Cox regression where no times are tied.
func TestLogRankIsAScoreTest(t *testing.T) {
	d, x := sample(240, 12)
	d.Weight, d.Cluster = nil, nil
	var groups []Data
	for g := 0.0; g < 2; g++ {
		groups = append(groups, d.where(func(i int) bool { return x[1][i] == g }))
	}
	r := must(LogRank(groups, []string{"0", "1"}, LogRankOptions{}))(t)
	ev := make([]bool, len(d.Time))
	for i, c := range d.Cause {
		ev[i] = c > 0
	}
	c := fit(t, CoxData{Entry: d.Entry, Time: d.Time, Event: ev, X: x[1:2], Names: []string{"b"}}, CoxOptions{Ties: Discrete})
	near(t, "score", c.Score.Statistic, r.Statistic, 1e-9)
}

// Persons with two sockets each, sharing a frailty: intervals that group by
// person cover the truth as often as they say.
func TestIntervalsCover(t *testing.T) {
	const runs, persons = 400, 150
	truth := 0.0 // S(1) = E exp(-Z), Z gamma with mean 1 and variance 0.5
	truth = math.Pow(1+0.5, -2)
	r := rand.New(rand.NewPCG(5, 5))
	curve, coef := 0, 0
	for range runs {
		d := Data{}
		var x []float64
		for i := range persons {
			z := (r.ExpFloat64() + r.ExpFloat64()) / 2
			g := float64(i % 2)
			for range 2 {
				tm, c := r.ExpFloat64()/z, 3*r.Float64()
				cause := 1
				if c < tm {
					tm, cause = c, 0
				}
				d.Time, d.Cause, d.Cluster = append(d.Time, tm), append(d.Cause, cause), append(d.Cluster, i)
				x = append(x, g)
			}
		}
		p, _ := must(KaplanMeier(d, CurveOptions{}))(t).At(1)
		if p.Low <= truth && truth <= p.High {
			curve++
		}
		f := fit(t, CoxData{Time: d.Time, Event: events(d.Cause, 1), Cluster: d.Cluster, X: [][]float64{x}, Names: []string{"g"}}, CoxOptions{})
		if math.Abs(f.Coef[0]) <= stats.NormalQuantile(0.975)*f.RobustStdErr()[0] {
			coef++
		}
	}
	// 95 percent of 400, give or take three standard errors.
	for name, n := range map[string]int{"curve": curve, "coefficient": coef} {
		if n < 367 || n > 393 {
			t.Errorf("%s: %d of %d intervals cover", name, n, runs)
		}
	}
}
