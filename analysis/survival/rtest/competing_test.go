package rtest

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
)

func (j *judge) competing() {
	s := j.set
	r, err := survival.CumulativeIncidence(j.data(), 2, survival.CurveOptions{Bounds: scales[s.Scales]})
	if err != nil {
		j.errorf("cif", "%v", err)
		return
	}
	skip := 0
	if slices.Min(s.Time) > 0 {
		skip = 1
	}
	var time, share, se, low, high []float64
	for k := range r.EventFree[skip:] {
		time = append(time, r.EventFree[skip+k].Time)
		for _, c := range r.Causes {
			p := c[skip+k]
			l, h := p.Low, p.High
			if !p.HasBounds || p.Time == 0 { // that all begin without is so by definition; R gives no limits there
				l, h = math.NaN(), math.NaN()
			}
			share, se, low, high = append(share, p.Estimate), append(se, errorOf(p)), append(low, l), append(high, h)
		}
	}
	j.same("cif_time", time)
	j.same("cif_share", share)
	if !s.Clustered {
		j.same("cif_errors", se)
		j.same("cif_low", low)
		j.same("cif_high", high)
	}
	at, ok := j.want("cif_at")
	if !ok {
		return
	}
	var errs, lost, lostErrs []float64
	for _, t := range at {
		for _, c := range r.Causes {
			x := math.NaN()
			for _, p := range c {
				if p.Time <= t {
					x = errorOf(p)
				}
			}
			errs = append(errs, x)
		}
	}
	j.same("cif_se", errs)
	if last := at[len(at)-1]; last > 0 {
		for cause := 1; cause <= 2; cause++ {
			l, err := r.TimeLost(cause, last)
			if err != nil {
				j.errorf("cif_lost", "%v", err)
				return
			}
			if !l.HasBounds {
				l.StdErr = math.NaN()
			}
			lost, lostErrs = append(lost, l.Estimate), append(lostErrs, l.StdErr)
		}
		j.same("cif_lost", lost)
		j.same("cif_lost_se", lostErrs)
	}
	for cause := range r.Causes {
		var curve []float64
		for _, p := range r.Causes[cause][skip:] {
			curve = append(curve, p.Estimate)
		}
		if _, asked := j.answers[fmt.Sprintf("cuminc_%d", cause+1)]; asked {
			j.same(fmt.Sprintf("cuminc_%d", cause+1), curve)
		}
		j.gray(cause + 1)
	}
}

func (j *judge) gray(cause int) {
	s := j.set
	if _, asked := j.answers[fmt.Sprintf("gray_%d", cause)]; !asked {
		return
	}
	var groups []survival.Data
	var names []string
	var strata [][]int
	for g := range s.Groups() {
		d, of := survival.Data{}, []int(nil)
		for i := range s.Time {
			if s.Group[i] != g {
				continue
			}
			d.Time, d.Cause, of = append(d.Time, s.Time[i]), append(d.Cause, s.Cause[i]), append(of, s.Stratum[i])
			if s.Weights == Counts {
				d.Weight = append(d.Weight, s.Weight[i])
			}
		}
		groups, names, strata = append(groups, d), append(names, fmt.Sprint(g)), append(strata, of)
	}
	for _, name := range []string{"gray_", "gray_within_"} {
		var within [][]int
		if name == "gray_within_" {
			within = strata
		}
		name = fmt.Sprint(name, cause)
		r, err := survival.GrayTest(groups, names, cause, within)
		if err != nil {
			if a := j.answers[name]; len(a.Values) > 0 && a.Values[0] > 1e-9 {
				j.errorf(name, "%v, R has %v", err, a.Values)
			}
			continue
		}
		switch {
		case len(j.answers[name].Values) > 0 && j.answers[name].Values[0] == -1: // R gives up where a group never meets an event
			j.refused[name+" (-1)"]++
			continue
		case s.Outnumbered(cause, within != nil):
			// R's variance of tied events then falls below 0; ours is kept at 0.
			j.refused[name+" (variance below 0)"]++
			continue
		}
		j.same(name, []float64{r.Statistic, r.DF})
	}
}

func (j *judge) fineGray() {
	s := j.set
	d := survival.FineGrayData{Time: s.Time, Cause: s.Cause, X: s.X[:2], Names: s.Names[:2]}
	if s.Late {
		d.Entry = s.Entry
	}
	if s.Weights == Shares { // see compare.R
		return
	}
	if s.Weights == Counts {
		d.Weight = s.Weight
	}
	if s.Clustered {
		d.Cluster = s.Cluster
	}
	for _, name := range []string{"efron", "breslow"} {
		p := "finegray_" + name + "_"
		f, err := survival.FitFineGray(d, 1, survival.FineGrayOptions{Ties: treatments[name]})
		var entry *survival.EntryError
		switch {
		case errors.As(err, &entry):
			// The chance to have entered comes to 0, so that weights are 0/0. R
			// fails, or takes them as 1.
			j.refused[p+"(entries)"]++
			continue
		case s.Late && slices.Max(s.Entry) <= slices.Min(s.Time):
			// finegray takes entries up to the first ending as none, though those
			// who enter at it were not at risk for it.
			j.refused[p+"(early entries)"]++
			continue
		}
		if err != nil {
			j.noModel(p, err)
			continue
		}
		j.same(p+"coef", f.Coef)
		j.same(p+"se", f.StdErr())
		j.same(p+"robust", f.RobustStdErr())
		j.same(p+"loglik", []float64{f.LogLikNull, f.LogLik})
		if name == "breslow" && !s.Late && !s.Clustered && s.Weights == NoWeights {
			j.crr(f)
		}
	}
}

// crr has the errors that allow for the weights of those who linger. It leaves
// the factor 1 - dC/Y out of the derivative of a product, Y being the rows that
// could be censored: in small sets its errors are off by a few percent, ours are
// derivatives of the estimate (TestFineGrayErrorsAreDerivatives).
func (j *judge) crr(f *survival.FineGray) {
	want, ok := j.want("crr")
	if !ok {
		return
	}
	j.list("crr", append(append([]float64(nil), f.Coef...), f.LogLikNull, f.LogLik), []float64{want[0], want[1], want[4], want[5]})
	for k := range f.Coef {
		se := math.Sqrt(f.RobustWeights[k][k])
		j.compared["crr_errors"]++
		if d := se/want[2+k] - 1; math.Abs(d) > 0.05 {
			j.errorf("crr", "error %g, R has %g", se, want[2+k])
		}
	}
}

var distributions = map[string]survival.Distribution{"weibull": survival.WeibullLife, "exponential": survival.ExponentialLife, "lognormal": survival.LogNormalLife, "loglogistic": survival.LogLogisticLife}

func (j *judge) parametric() {
	s := j.set
	if s.Late {
		return
	}
	d := survival.ParametricData{Left: s.Left, Right: s.Right, X: s.X[:2], Names: s.Names[:2]}
	if s.Weights != NoWeights {
		d.Weight = s.Weight
	}
	if s.Clustered {
		d.Cluster = s.Cluster
	}
	for _, name := range []string{"weibull", "exponential", "lognormal", "loglogistic"} {
		p := "aft_" + name + "_"
		if _, asked := j.answers[p+"coef"]; !asked {
			return
		}
		f, err := survival.FitParametric(d, survival.ParametricOptions{Distribution: distributions[name]})
		if err != nil {
			if errors.Is(err, survival.ErrNoSpread) || errors.Is(err, stats.ErrNoEvents) {
				j.compared[p+"refused"]++
				continue
			}
			j.noModel(p, err)
			continue
		}
		j.same(p+"coef", f.Coef)
		j.same(p+"scale", []float64{f.Scale})
		j.same(p+"loglik", []float64{f.LogLikNull, f.LogLik})
		var se []float64
		for k := range f.Var {
			se = append(se, math.Sqrt(f.Var[k][k]))
		}
		j.same(p+"se", se)
		if f.Robust != nil {
			se = nil
			for k := range f.Robust {
				se = append(se, math.Sqrt(f.Robust[k][k]))
			}
			j.same(p+"robust", se)
		}
		j.exactOnly(p, name, d)
	}
}

// exactOnly fits the rows whose time is known or censored on the right alone,
// for which R's own robust errors are right.
func (j *judge) exactOnly(p, name string, d survival.ParametricData) {
	if _, asked := j.answers[p+"own"]; !asked {
		return
	}
	k := survival.ParametricData{X: make([][]float64, 2), Names: d.Names}
	for i := range d.Left {
		if d.Left[i] != d.Right[i] && !math.IsInf(d.Right[i], 1) {
			continue
		}
		k.Left, k.Right, k.Cluster = append(k.Left, d.Left[i]), append(k.Right, d.Right[i]), append(k.Cluster, d.Cluster[i])
		for c := range k.X {
			k.X[c] = append(k.X[c], d.X[c][i])
		}
	}
	f, err := survival.FitParametric(k, survival.ParametricOptions{Distribution: distributions[name]})
	if err != nil {
		if v := j.answers[p+"own"].Values; !gaveUp(v[len(k.X)+1:]) {
			j.errorf(p+"own", "%v, R has %v", err, v)
		}
		return
	}
	got := append([]float64(nil), f.Coef...)
	for c := range f.Robust {
		got = append(got, math.Sqrt(f.Robust[c][c]))
	}
	j.same(p+"own", got)
}
