package survival

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"plybook/analysis/stats"
)

func cosmesis(s *set) IntervalData {
	var d IntervalData
	for _, r := range s.rows {
		right := math.Inf(1)
		if r["right"] != "" {
			right = (&set{t: s.t, rows: []map[string]string{r}}).num("right")[0]
		}
		d.Left = append(d.Left, (&set{t: s.t, rows: []map[string]string{r}}).num("left")[0])
		d.Right = append(d.Right, right)
	}
	return d
}

// R 4.2.2: self-consistency over the innermost intervals, Kuhn-Tucker
// conditions checked; Fay and Shaw 2010 print the same masses.
func TestTurnbullCosmesis(t *testing.T) {
	all := load(t, "cosmesis")
	for _, chemo := range []string{"0", "1"} {
		t.Run("chemo "+chemo, func(t *testing.T) {
			s := all.keep(func(r map[string]string) bool { return r["chemo"] == chemo })
			e := s.entry("turnbull_chemo" + chemo)["r"].(map[string]any)
			c := must(Turnbull(cosmesis(s), TurnbullOptions{Draws: -1}))(t)
			var left, right, mass, after []float64
			for _, m := range c.Masses {
				left, right = append(left, m.Left), append(right, m.Right)
				mass, after = append(mass, m.Mass), append(after, m.After)
			}
			nears(t, "left", left, numbers(e["left"]), 0)
			nears(t, "right", right, numbers(e["right"]), 0)
			nears(t, "mass", mass, numbers(e["mass"]), 1e-6)
			nears(t, "after", after, numbers(e["surv_after"]), 1e-6)
			near(t, "log likelihood", c.LogLikelihood, number(e["loglik"]), 1e-9)
			if !(c.Inconsistency < 1e-7) {
				t.Errorf("one step of self-consistency moves a mass by %g", c.Inconsistency)
			}
			if c.KKT > kktTolerance || !c.Unique {
				t.Errorf("Kuhn-Tucker conditions missed by %g, unique %v", c.KKT, c.Unique)
			}
		})
	}
}

// On exact and right-censored times the estimate is the product limit, with
// late entry too.
func TestTurnbullOfExactTimesIsKaplanMeier(t *testing.T) {
	s := load(t, "heart").keep(func(r map[string]string) bool { return r["stop"] != r["start"] })
	km := Data{Entry: s.num("start"), Time: s.num("stop"), Cause: s.ints("event")}
	d := IntervalData{Entry: km.Entry}
	for i, at := range km.Time {
		d.Left, d.Right = append(d.Left, at), append(d.Right, at)
		if km.Cause[i] == 0 {
			d.Right[i] = math.Inf(1)
		}
	}
	want := must(KaplanMeier(km, CurveOptions{}))(t)
	got := must(Turnbull(d, TurnbullOptions{Draws: -1}))(t)
	for _, p := range want.Points {
		x, ok := got.At(p.Time)
		if !ok || x.Lowest != x.Highest {
			t.Fatalf("day %g is undetermined", p.Time)
		}
		near(t, "share", x.Lowest, p.Estimate, 1e-8)
		if p.Time > 0 && x.AtRisk != int(p.AtRisk) {
			t.Errorf("day %g: %d watched, want %g", p.Time, x.AtRisk, p.AtRisk)
		}
	}
}

// looked draws lives seen at visits only.
func looked(rng *rand.Rand, n int, gap float64, late bool) IntervalData {
	var d IntervalData
	for len(d.Left) < n {
		event := 400 * math.Pow(rng.ExpFloat64(), 0.8)
		entry, left, right := 0.0, 0.0, math.Inf(1)
		if late && rng.IntN(2) == 0 {
			entry = math.Floor(300 * rng.Float64())
		}
		if event <= entry {
			continue
		}
		left = entry
		for day, until := entry, entry+800*rng.Float64(); day < until; {
			day += 1 + math.Floor(2*gap*rng.Float64())
			if day >= event {
				right = day
				break
			}
			left = day
		}
		d.Entry, d.Left, d.Right = append(d.Entry, entry), append(d.Left, left), append(d.Right, right)
	}
	return d
}

// An independent way to the maximum: self-consistency in the chances of an
// event among those at risk, over all innermost intervals.
func selfConsistent(d IntervalData, steps int) []float64 {
	rows := make([]intervalRow, len(d.Left))
	for i := range rows {
		rows[i] = rowOf(d.entry(i), d.Left[i], d.Right[i], 1)
	}
	s := newSupport(rows)
	m := len(s.left)
	chance := make([]float64, m)
	for j := range chance {
		chance[j] = 0.1
	}
	for range steps {
		events, risk := make([]float64, m), make([]float64, m)
		for i := range rows {
			r := &rows[i]
			a, b := s.within(edge{r.entry.time, edgeOpenLeft}, r.left)
			for j := a; j < b; j++ {
				risk[j]++
			}
			if !r.seen() {
				continue
			}
			a, b = s.within(r.left, r.right)
			share, sum := 1.0, 0.0
			mass := make([]float64, b-a)
			for j := a; j < b; j++ {
				mass[j-a] = share * chance[j]
				sum += mass[j-a]
				share *= 1 - chance[j]
			}
			left := sum
			for j := a; j < b; j++ {
				events[j] += mass[j-a] / sum
				risk[j] += left / sum
				left -= mass[j-a]
			}
		}
		for j := range chance {
			chance[j] = events[j] / risk[j]
		}
	}
	var out []float64
	share := 1.0
	for _, c := range chance {
		share *= 1 - c
		out = append(out, share)
	}
	return out
}

// logLikelihood of the rows, given the share after each candidate.
func logLikelihood(s *support, rows []intervalRow, after []float64) float64 {
	at := func(k int) float64 {
		if k == 0 {
			return 1
		}
		return after[k-1]
	}
	sum := 0.0
	for i := range rows {
		r := &rows[i]
		entered, _ := s.within(edge{r.entry.time, edgeOpenLeft}, r.right)
		from, to := s.within(r.left, r.right)
		switch {
		case r.seen():
			sum += math.Log((at(from) - at(to)) / at(entered))
		default:
			sum += math.Log(at(from) / at(entered))
		}
	}
	return sum
}

func TestTurnbullMeetsSelfConsistency(t *testing.T) {
	for _, late := range []bool{false, true} {
		for seed := range uint64(6) {
			d := looked(rand.New(rand.NewPCG(seed, 7)), 60, 60, late)
			if late {
				// Somebody watched from the start, and long, keeps the curve off 0.
				d.Entry, d.Left, d.Right = append(d.Entry, 0), append(d.Left, 900), append(d.Right, math.Inf(1))
			}
			c := must(Turnbull(d, TurnbullOptions{Draws: -1}))(t)
			rows := make([]intervalRow, len(d.Left))
			for i := range rows {
				rows[i] = rowOf(d.entry(i), d.Left[i], d.Right[i], 1)
			}
			s := newSupport(rows)
			want := selfConsistent(d, 5000)
			if l := logLikelihood(s, rows, want); math.Abs(l-c.LogLikelihood) > 1e-6 {
				t.Errorf("seed %d, late %v: log likelihood %.10f, want %.10f", seed, late, c.LogLikelihood, l)
			}
			if !c.Unique {
				t.Errorf("seed %d, late %v: not unique", seed, late)
			}
			for j := range want {
				// Within an undetermined stretch it lies anywhere between.
				low, high := shareAt(c.Masses, s.right[j].time)
				if want[j] < low-2e-5 || want[j] > high+2e-5 {
					t.Errorf("seed %d, late %v: share after %g is %.8f to %.8f, want %.8f", seed, late, s.right[j].time, low, high, want[j])
				}
			}
		}
	}
}

// Without late entry the classic conditions hold: the mean over rows of
// [candidate in the row's interval] / mass of that interval is at most 1.
func TestTurnbullKuhnTuckerInMasses(t *testing.T) {
	d := looked(rand.New(rand.NewPCG(3, 1)), 400, 30, false)
	c := must(Turnbull(d, TurnbullOptions{Draws: -1}))(t)
	rows := make([]intervalRow, len(d.Left))
	for i := range rows {
		rows[i] = rowOf(0, d.Left[i], d.Right[i], 1)
	}
	s := newSupport(rows)
	for k := range s.left {
		sum := 0.0
		for i := range rows {
			if rows[i].left.compare(s.left[k]) > 0 || s.right[k].compare(rows[i].right) > 0 {
				continue
			}
			inside := 0.0
			for _, m := range c.Masses {
				if m.Left >= d.Left[i] && m.Right <= d.Right[i] {
					inside += m.Mass
				}
			}
			sum += 1 / inside
		}
		if sum/float64(len(rows)) > 1+1e-8 {
			t.Errorf("candidate %d: %.12f", k, sum/float64(len(rows)))
		}
	}
}

func TestTurnbullIndifferentTo(t *testing.T) {
	d := looked(rand.New(rand.NewPCG(5, 1)), 80, 40, true)
	base := must(Turnbull(d, TurnbullOptions{Draws: -1}))(t)
	same := func(what string, other IntervalData, unit float64) {
		t.Helper()
		c := must(Turnbull(other, TurnbullOptions{Draws: -1}))(t)
		if len(c.Masses) != len(base.Masses) {
			t.Fatalf("%s: %d masses, want %d", what, len(c.Masses), len(base.Masses))
		}
		for k, m := range c.Masses {
			near(t, what, m.Mass, base.Masses[k].Mass, 1e-7)
			if m.Left != base.Masses[k].Left*unit {
				t.Errorf("%s: left %g", what, m.Left)
			}
		}
	}
	turned := IntervalData{}
	for i := len(d.Left) - 1; i >= 0; i-- {
		turned.Entry, turned.Left, turned.Right = append(turned.Entry, d.Entry[i]), append(turned.Left, d.Left[i]), append(turned.Right, d.Right[i])
	}
	same("rows turned round", turned, 1)
	same("hours for days", IntervalData{Entry: scaleBy(d.Entry, 24), Left: scaleBy(d.Left, 24), Right: scaleBy(d.Right, 24)}, 24)
	double := d
	for range d.Left {
		double.Weight = append(double.Weight, 2.5)
	}
	same("weights of 2.5", double, 1)
}

func TestTurnbullDegenerate(t *testing.T) {
	inf := math.Inf(1)
	for name, d := range map[string]IntervalData{
		"no rows":            {},
		"lengths":            {Left: []float64{1}},
		"not a number":       {Left: []float64{math.NaN()}, Right: []float64{1}},
		"below 0":            {Left: []float64{-1}, Right: []float64{1}},
		"right before left":  {Left: []float64{2}, Right: []float64{1}},
		"left before entry":  {Entry: []float64{3}, Left: []float64{2}, Right: []float64{5}},
		"event on entering":  {Entry: []float64{3}, Left: []float64{3}, Right: []float64{3}},
		"weight 0":           {Left: []float64{3}, Right: []float64{4}, Weight: []float64{0}},
		"lengths of entries": {Left: []float64{3}, Right: []float64{4}, Entry: []float64{0, 0}},
	} {
		_, err := Turnbull(d, TurnbullOptions{})
		var row *RowError
		if !errors.As(err, &row) && !errors.Is(err, stats.ErrNoRows) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Turnbull(IntervalData{Left: []float64{1}, Right: []float64{2}}, TurnbullOptions{Level: 1}); err == nil {
		t.Error("a confidence of 1 was taken")
	}
	// Nothing seen: the curve stays at 1.
	c := must(Turnbull(IntervalData{Left: []float64{5, 9}, Right: []float64{inf, inf}}, TurnbullOptions{}))(t)
	if p, ok := c.At(9); !ok || p.Lowest != 1 || p.Highest != 1 || p.HasBounds || len(c.Masses) != 1 || c.Masses[0].Mass != 1 {
		t.Errorf("nothing seen: %+v, %+v", p, c.Masses)
	}
	if q := c.Quantile(0.5); !q.Left.OK || q.Left.Value != 9 || q.Right.OK {
		t.Errorf("nothing seen: median %+v", q)
	}
	// One row: one stretch, no interval.
	c = must(Turnbull(IntervalData{Left: []float64{5}, Right: []float64{8}}, TurnbullOptions{}))(t)
	if p, _ := c.At(6); p.Lowest != 0 || p.Highest != 1 || p.HasBounds || c.Draws != 0 {
		t.Errorf("one row: %+v", p)
	}
	if _, ok := c.At(8.5); ok {
		t.Error("the curve is known after the last look")
	}
	// Everybody had it on the first day.
	c = must(Turnbull(IntervalData{Left: []float64{0, 0}, Right: []float64{0, 0}}, TurnbullOptions{}))(t)
	if p, _ := c.At(0); p.Lowest != 0 || p.Highest != 0 {
		t.Errorf("all on day 0: %+v", p)
	}
	// Those watched first had it before the rest came.
	c = must(Turnbull(IntervalData{Entry: []float64{0, 50}, Left: []float64{5, 60}, Right: []float64{10, inf}}, TurnbullOptions{Draws: -1}))(t)
	if len(c.Warnings) != 1 || c.Warnings[0].Code != "risk-set-emptied" {
		t.Errorf("emptied risk set: %+v", c.Warnings)
	}
	// Two stretches that every row holds in turn cannot be told apart.
	c = must(Turnbull(IntervalData{Left: []float64{0, 2, 0, 2, 9}, Right: []float64{1, 3, 3, 9, inf}}, TurnbullOptions{Draws: -1}))(t)
	if c.KKT > kktTolerance || !(c.Inconsistency < 1e-7) {
		t.Errorf("conditions missed by %g, self-consistency by %g", c.KKT, c.Inconsistency)
	}
}

// A share that only rows with mass on both sides settle: left open.
func TestTurnbullNotUnique(t *testing.T) {
	inf := math.Inf(1)
	// Gentleman and Geyer 1994 (Biometrika 81:618): four rows in a ring.
	d := IntervalData{Left: []float64{0, 0, 4, 4, 2, 8}, Right: []float64{3, 6, 7, 10, 5, 9}}
	c := must(Turnbull(d, TurnbullOptions{Draws: -1}))(t)
	if c.KKT > kktTolerance || !(c.Inconsistency < 1e-7) {
		t.Errorf("conditions missed by %g, self-consistency by %g", c.KKT, c.Inconsistency)
	}
	// Rows (0,2] and (1,3] with one candidate each side are settled.
	c = must(Turnbull(IntervalData{Left: []float64{0, 1, 5}, Right: []float64{2, 3, inf}}, TurnbullOptions{Draws: -1}))(t)
	if !c.Unique || len(c.Masses) != 2 {
		t.Errorf("unique %v, %+v", c.Unique, c.Masses)
	}
}

func TestTurnbullQuantiles(t *testing.T) {
	s := load(t, "cosmesis").keep(func(r map[string]string) bool { return r["chemo"] == "1" })
	c := must(Turnbull(cosmesis(s), TurnbullOptions{Seed: 4}))(t)
	q := c.Quantile(0.5)
	// The curve falls from 0.558 to 0.442 between months 19 and 20.
	if q.Left.Value != 19 || q.Right.Value != 20 || !q.Low.OK || !q.High.OK || q.Low.Value > 19 || q.High.Value < 20 {
		t.Errorf("median %+v", q)
	}
	p, ok := c.At(19.5)
	if !ok || !p.HasBounds || !(p.Low < p.Lowest && p.Lowest < p.Highest && p.Highest < p.High) {
		t.Errorf("at 19.5 months %+v", p)
	}
	again := must(Turnbull(cosmesis(s), TurnbullOptions{Seed: 4}))(t)
	if again.Quantile(0.5) != q {
		t.Error("the same seed gives another interval")
	}
	if x := must(Turnbull(cosmesis(s), TurnbullOptions{Seed: 4, Level: 0.8}))(t).Quantile(0.5); x.Low.Value < q.Low.Value || x.High.Value > q.High.Value {
		t.Errorf("a lower confidence gives a wider interval: %+v", x)
	}
	for _, p := range []float64{0, 1, math.NaN()} {
		if x := c.Quantile(p); x.Left.OK {
			t.Errorf("quantile %g: %+v", p, x)
		}
	}
	// Flat exactly at one half: anywhere on the flat.
	flat := must(Turnbull(IntervalData{Left: []float64{1, 7}, Right: []float64{2, 8}}, TurnbullOptions{Draws: -1}))(t)
	if x := flat.Quantile(0.5); x.Left.Value != 2 || x.Right.Value != 7 {
		t.Errorf("flat median %+v", x)
	}
}

// The intervals cover: events at a known rate, visits every 60 days or so.
func TestTurnbullCovers(t *testing.T) {
	const sets, at = 40, 300.0
	truth := math.Exp(-math.Pow(at/400, 1/0.8))
	covered := 0
	for k := range uint64(sets) {
		d := looked(rand.New(rand.NewPCG(k, 11)), 120, 40, k%2 == 0)
		c := must(Turnbull(d, TurnbullOptions{Draws: 100, Seed: k + 1}))(t)
		if p, ok := c.At(at); ok && p.HasBounds && p.Low <= truth && truth <= p.High {
			covered++
		}
	}
	// 95 percent or more, since the interval also spans what is undetermined.
	if covered < sets*90/100 {
		t.Errorf("the 95%% intervals covered in %d of %d", covered, sets)
	}
}

func benchmarkTurnbull(b *testing.B, d IntervalData, draws int) {
	b.Helper()
	b.ResetTimer()
	for range b.N {
		if _, err := Turnbull(d, TurnbullOptions{Draws: draws}); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
}

// BenchmarkTurnbull10000 is the estimate for 10,000 intervals. The bound is 2
// s; measured: 0.02 s.
func BenchmarkTurnbull10000(b *testing.B) {
	benchmarkTurnbull(b, looked(rand.New(rand.NewPCG(1, 1)), 10000, 30, false), -1)
}

// BenchmarkTurnbullBesideR is at a size at which R's package survival 3.5-3
// comes to an end; 10,000 intervals kept it busy for more than two minutes.
func BenchmarkTurnbullBesideR(b *testing.B) {
	d := looked(rand.New(rand.NewPCG(1, 1)), 1000, 30, false)
	benchmarkTurnbull(b, d, -1)
	right := slices.Clone(d.Right)
	for i, t := range right {
		if math.IsInf(t, 1) {
			right[i] = math.NaN()
		}
	}
	against(b, [][]float64{d.Left, right}, "survival", "m[is.nan(m)] <- NA", `survfit(Surv(m[, 1], m[, 2], type = "interval2") ~ 1)`)
}

// The same with late entries, and with the 500 samples of persons that its
// intervals come from (measured: 3.8 s).
func BenchmarkTurnbullLate10000(b *testing.B) {
	benchmarkTurnbull(b, looked(rand.New(rand.NewPCG(1, 1)), 10000, 30, true), -1)
}
func BenchmarkTurnbullIntervals10000(b *testing.B) {
	benchmarkTurnbull(b, looked(rand.New(rand.NewPCG(1, 1)), 10000, 30, false), 0)
}

// Self-consistency is worked out apart from the fit: it must see a curve that
// is not the maximum, with and without late entry.
func TestInconsistencySeesAnother(t *testing.T) {
	d := IntervalData{Left: []float64{0, 6, 3, 8, 4, 10}, Right: []float64{4, 9, 7, math.Inf(1), 4, 12}, Entry: []float64{0, 2, 0, 5, 0, 3}}
	c := must(Turnbull(d, TurnbullOptions{Draws: -1}))(t)
	if !(c.Inconsistency < 1e-7) || len(c.Masses) < 2 {
		t.Fatalf("%g with %d masses", c.Inconsistency, len(c.Masses))
	}
	var rows []intervalRow
	for i := range d.Left {
		rows = append(rows, rowOf(d.entry(i), d.Left[i], d.Right[i], 1))
	}
	moved := append([]Mass(nil), c.Masses...)
	moved[0].Mass += 0.05
	moved[1].Mass -= 0.05
	if x := inconsistency(rows, moved); !(x > 0.005) {
		t.Errorf("a moved curve is inconsistent by %g only", x)
	}
}
