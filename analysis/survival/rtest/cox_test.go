package rtest

import (
	"errors"
	"math"
	"slices"
	"sort"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
)

// coxData is the set as rows of a Cox regression of cause 1.
func (j *judge) coxData(robust bool) survival.CoxData {
	s := j.set
	d := survival.CoxData{Time: s.Time, X: s.X, Names: s.Names, Event: make([]bool, len(s.Time))}
	for i, c := range s.Cause {
		d.Event[i] = c == 1
	}
	if s.Late {
		d.Entry = s.Entry
	}
	if s.Weights != NoWeights {
		d.Weight = s.Weight
	}
	if s.Index%2 == 1 {
		d.Strata = s.Stratum
	}
	if s.Index%10 == 0 {
		d.Offset = make([]float64, len(s.Time))
		for i, g := range s.Group {
			d.Offset[i] = float64(g) / 4
		}
	}
	switch {
	case !robust:
	case s.Clustered:
		d.Cluster = s.Cluster
	case s.Weights == Shares:
		d.Cluster = make([]int, len(s.Time))
		for i := range d.Cluster {
			d.Cluster[i] = i
		}
	}
	return d
}

var treatments = map[string]survival.Ties{"efron": survival.Efron, "breslow": survival.Breslow, "exact": survival.Discrete}

func (j *judge) cox() {
	for _, name := range []string{"efron", "breslow", "exact"} {
		if name == "exact" && j.set.Weights == Shares {
			continue
		}
		p := "cox_" + name + "_"
		o := survival.CoxOptions{Ties: treatments[name], SamplingWeights: j.set.Weights == Shares}
		c, err := survival.FitCox(j.coxData(name != "exact"), o)
		if err != nil {
			j.noModel(p, err)
			continue
		}
		j.same(p+"coef", c.Coef)
		j.same(p+"se", c.StdErr())
		j.same(p+"loglik", []float64{c.LogLikNull, c.LogLik})
		j.same(p+"score", []float64{c.Score.Statistic})
		if len(c.Warnings) == 0 { // else too few clusters for it, and it leaves them out
			j.same(p+"wald", []float64{c.Wald.Statistic})
		}
		if name == "exact" {
			continue
		}
		if c.Robust != nil {
			j.same(p+"robust", c.RobustStdErr())
			if c.HasRobustScore {
				j.same(p+"rscore", []float64{c.RobustScore.Statistic})
			}
		}
		j.concordance(p, c)
		j.proportionality(p, c)
		j.residuals(p, c)
		j.predictions(p, c)
	}
}

// noModel checks that where a fit is refused R has none either: no event, a
// column without an estimate, or one that runs away.
func (j *judge) noModel(p string, err error) {
	a := j.answers[p+"coef"]
	if a.Refused != "" {
		return
	}
	se := j.answers[p+"se"].Values
	j.compared[p+"refused"]++
	far := gaveUp(se)
	for _, b := range a.Values {
		far = far || math.IsNaN(b) || b == 0
	}
	switch {
	case errors.Is(err, stats.ErrNoEvents) && !j.set.HasEvents(1):
	case (errors.Is(err, stats.ErrSingular) || errors.Is(err, survival.ErrSeparation) || errors.Is(err, stats.ErrConvergence)) && far:
	default:
		j.errorf(p, "%v, R has %v with errors %v", err, a.Values, se)
	}
}

// gaveUp says that errors stand for no estimate: 0, none or huge.
func gaveUp(errs []float64) bool {
	for _, e := range errs {
		if !(e > 0 && e < 100) {
			return true
		}
	}
	return false
}

func (j *judge) concordance(p string, c *survival.Cox) {
	if !c.HasConcordance {
		return
	}
	x := c.Concordance
	if j.set.Weights == Counts { // R is given equal rows, and pairs them with one another too
		for i, e := range j.coxData(false).Event {
			if w := j.set.Weight[i]; e {
				x.TiedBoth += w * (w - 1) / 2
			}
		}
	}
	j.same(p+"concordance", []float64{x.Estimate, x.StdErr, x.Concordant, x.Discordant, x.TiedX, x.TiedTime, x.TiedBoth})
}

var clocks = []survival.TimeScale{survival.SurvivalTime, survival.PlainTime, survival.RankTime, survival.LogTime}

func (j *judge) proportionality(p string, c *survival.Cox) {
	// R's clocks by rank and by survival leave weights out, so that a row of
	// weight 2 would not be two.
	clock := clocks[j.set.Scales]
	if j.set.Weights == Shares {
		clock = clocks[j.set.Scales|1]
	}
	r, err := c.Proportionality(clock)
	if err != nil {
		if a := j.answers[p+"zph"]; a.Refused == "" {
			j.errorf(p+"zph", "%v, R has %v", err, a.Values)
		}
		return
	}
	var got []float64
	for _, t := range append(r.Terms, r.Global) {
		got = append(got, t.Statistic)
	}
	j.same(p+"zph", got)
}

func flat(rows [][]float64) []float64 {
	var out []float64
	for _, r := range rows {
		out = append(out, r...)
	}
	return out
}

func (j *judge) residuals(p string, c *survival.Cox) {
	r, err := c.Residuals()
	if err != nil {
		j.errorf(p, "%v", err)
		return
	}
	j.same(p+"martingale", r.Martingale)
	j.same(p+"deviance", r.Deviance)
	j.same(p+"scores", flat(r.Score))
	j.same(p+"dfbeta", flat(r.DFBeta))
	if j.set.Weights == Counts {
		return
	}
	plain, err := c.Schoenfeld()
	if err != nil {
		j.errorf(p+"schoenfeld", "%v", err)
		return
	}
	values := map[float64][]float64{}
	add := func(row int, v []float64) {
		key := j.set.Time[row]
		if j.set.Index%2 == 1 {
			key += 1e5 * float64(j.set.Stratum[row])
		}
		if values[key] == nil {
			values[key] = make([]float64, len(v))
		}
		for k := range v {
			values[key][k] += v[k]
		}
	}
	for _, x := range plain {
		add(x.Row, x.Value)
	}
	j.same(p+"schoenfeld", inOrder(values))
	if j.set.Weights != NoWeights {
		return
	}
	once := len(eventTimes(j.set)) == 1
	values = map[float64][]float64{}
	scaled, _, err := c.ScaledSchoenfeld(survival.PlainTime)
	if once { // one time: there is no clock to draw them along
		return
	}
	if err != nil {
		j.errorf(p+"scaled", "%v", err)
		return
	}
	for _, x := range scaled {
		add(x.Row, x.Value)
	}
	j.same(p+"scaled", inOrder(values))
}

func eventTimes(s *Set) map[float64]bool {
	out := map[float64]bool{}
	for i, c := range s.Cause {
		if c == 1 {
			out[s.Time[i]] = true
		}
	}
	return out
}

func inOrder(values map[float64][]float64) []float64 {
	var keys []float64
	for k := range values {
		keys = append(keys, k)
	}
	sort.Float64s(keys)
	var out []float64
	for _, k := range keys {
		out = append(out, values[k]...)
	}
	return out
}

func (j *judge) predictions(p string, c *survival.Cox) {
	x := []float64{0.5, 1, 3}[:len(c.Coef)]
	var got []float64
	for _, stratum := range c.Strata {
		s, err := c.Predict(x, stratum, survival.CurveOptions{Bounds: scales[j.set.Scales]})
		if err != nil {
			j.errorf(p+"predicted", "%v", err)
			return
		}
		for _, q := range s.Points {
			if q.CumulativeHazard == 0 {
				continue
			}
			se, low, high := math.NaN(), math.NaN(), math.NaN()
			if q.HasBounds {
				se, low, high = q.StdErr, q.Low, q.High
			}
			got = append(got, q.Time, q.Survival, se, low, high)
		}
	}
	// With late entry R takes differences of running sums. Where risks differ
	// by many powers of ten nothing is left of them, and R's share is 0.
	if want := j.answers[p+"predicted"].Values; j.set.Late && len(want) == len(got) {
		for k := 0; k < len(got); k += 5 {
			if want[k+1] == 0 && want[k+2] == 0 {
				j.refused[p+"predicted (digits lost)"]++
				got = slices.Concat(got[:k], []float64{math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN()}, got[k+5:])
			}
		}
	}
	j.same(p+"predicted", got)
	bs, err := c.Baseline()
	if err != nil {
		j.errorf(p+"baseline", "%v", err)
		return
	}
	want, ok := j.want(p + "baseline")
	if !ok {
		return
	}
	// R lists the times of censorings too.
	got = nil
	b, last := -1, math.Inf(1)
	for k := 0; k < len(want); k += 2 {
		if want[k] <= last {
			b++
		}
		last = want[k]
		if b >= len(bs) {
			j.errorf(p+"baseline", "R has more strata than %d", len(bs))
			return
		}
		h, ok := bs[b].At(want[k])
		if !ok {
			h.CumulativeHazard = math.NaN()
		}
		got = append(got, want[k], h.CumulativeHazard)
	}
	j.list(p+"baseline", got, want)
}
