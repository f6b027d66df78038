package answer

import (
	"math"
	"slices"
	"strings"

	"plybook/analysis/regress"
)

// seriesSaid is what first fittings and first visits said of the models of one
// series.
type seriesSaid struct {
	from    girthSeries
	answers []answerOf
	actions []actionOf
	shares  []shareBand
	fit     *regress.GLM // first-time fit on the mean reduction; nil: not fitted
	bendP   float64      // of the square of the reduction beside it; NaN: not tested
	whyNot  string       // why fit is nil, in words; "" where too few models tell
	comfort *regress.Linear
	bend2P  float64
	x, y    []float64 // reduction and comfort of the models that scored it
	yes, no []float64 // reductions of those that fitted the first time, and of the others
	persons int
}

// answerOf is one of the things a first fitting can say.
type answerOf struct {
	answer  string
	models  []int
	reduced regress.MeanOf
}

// actionOf counts an action at first fittings, by what was said.
type actionOf struct {
	action string
	counts [3]int // as it was, adjusted, not accepted
}

// shareBand is the share of first-time fits in a stretch of reductions.
type shareBand struct {
	from, to, mean float64
	regress.ShareOf
}

// fittingAnswers are what a first fitting can say, in the words of the tables.
var fittingAnswers = []string{"as it was", "adjusted", "not accepted", "not known"}

func answerCode(accepted string) int {
	switch accepted {
	case "yes":
		return 0
	case "adjusted":
		return 1
	case "no":
		return 2
	}
	return 3
}

// fewestTold is how many models must tell of their first fitting, or of
// comfort, before anything is made of them.
const fewestTold = 20

// meanReduction is the mean over the stations of a model.
func (m *modelOf) meanReduction() float64 {
	sum := 0.0
	for _, s := range m.stations {
		sum += s.reduction
	}
	return sum / float64(len(m.stations))
}

// askFittings sets reductions beside what was said, series by series, since
// reductions from different landmarks or over different layers are not alike.
func (j *reductionJob) askFittings() error {
	for _, s := range j.series {
		said := seriesSaid{from: s, bendP: math.NaN(), bend2P: math.NaN()}
		var of []int
		for k, m := range j.models {
			if m.from == s {
				of = append(of, k)
			}
		}
		if j.hiddenCount(len(of)) {
			continue
		}
		if err := j.countAnswers(&said, of); err != nil {
			return err
		}
		j.countActions(&said, of)
		if err := j.fitShares(&said, of); err != nil {
			return err
		}
		if err := j.fitComfort(&said, of); err != nil {
			return err
		}
		j.said = append(j.said, said)
	}
	return nil
}

func (j *reductionJob) countAnswers(said *seriesSaid, of []int) error {
	said.answers = make([]answerOf, len(fittingAnswers))
	for k, name := range fittingAnswers {
		said.answers[k].answer = name
	}
	for _, k := range of {
		a := &said.answers[answerCode(j.models[k].fitted.Accepted)]
		a.models = append(a.models, k)
	}
	for k := range said.answers {
		a := &said.answers[k]
		if len(a.models) == 0 {
			continue
		}
		x, persons := j.reductions(a.models)
		var err error
		if a.reduced, err = regress.ClusterMean(x, persons, j.ask.Confidence); err != nil {
			return err
		}
	}
	return nil
}

// reductions are the mean reductions of some models, with their persons.
func (j *reductionJob) reductions(of []int) (x []float64, persons []int) {
	for _, k := range of {
		x, persons = append(x, j.models[k].meanReduction()), append(persons, j.models[k].person)
	}
	return x, persons
}

func (j *reductionJob) countActions(said *seriesSaid, of []int) {
	count := map[string]*actionOf{}
	for _, k := range of {
		f := j.models[k].fitted
		code := answerCode(f.Accepted)
		if code > 2 {
			continue
		}
		for _, a := range strings.Split(f.Actions, ";") {
			if a = strings.TrimSpace(a); a == "" {
				continue
			}
			if count[a] == nil {
				count[a] = &actionOf{action: a}
			}
			count[a].counts[code]++
		}
	}
	total := map[string]int{}
	for a, c := range count {
		total[a] = c.counts[0] + c.counts[1] + c.counts[2]
	}
	for _, a := range sortedKeys(total) {
		said.actions = append(said.actions, *count[a])
	}
}

// fitShares gives the share of first-time fits in stretches of reductions that
// hold as many models each, and a logistic curve.
func (j *reductionJob) fitShares(said *seriesSaid, of []int) error {
	var told []int
	for _, k := range of {
		if answerCode(j.models[k].fitted.Accepted) < 3 {
			told = append(told, k)
		}
	}
	slices.SortStableFunc(told, func(a, b int) int {
		x, y := j.models[a].meanReduction(), j.models[b].meanReduction()
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	x, persons := j.reductions(told)
	fits := make([]bool, len(told))
	for i, k := range told {
		fits[i] = answerCode(j.models[k].fitted.Accepted) < 2
		if fits[i] {
			said.yes = append(said.yes, x[i])
		} else {
			said.no = append(said.no, x[i])
		}
	}
	said.persons = distinct(persons)
	if len(told) < fewestTold {
		return nil
	}
	n := min(5, len(told)/15)
	if j.public() {
		n = min(n, len(told)/(2*j.ctx.Front.HideBelow))
	}
	n = max(n, 1)
	for from, b := 0, 0; b < n && from < len(told); b++ {
		to := max((b+1)*len(told)/n, from+1)
		for to < len(told) && x[to] == x[to-1] { // equal reductions stay together
			to++
		}
		s, err := regress.ClusterShare(fits[from:to], persons[from:to], j.ask.Confidence)
		if err != nil {
			return err
		}
		band := shareBand{from: x[from], to: x[to-1], ShareOf: s}
		for _, v := range x[from:to] {
			band.mean += v / float64(to-from)
		}
		said.shares = append(said.shares, band)
		from = to
	}
	return j.fitCurve(said, x, fits, persons)
}

// fitCurve fits first-time fit on the reduction, and tests whether its square
// adds to it.
func (j *reductionJob) fitCurve(said *seriesSaid, x []float64, fits []bool, persons []int) error {
	y := make([]float64, len(x))
	for i, f := range fits {
		if f {
			y[i] = 1
		}
	}
	if len(said.yes) < 5 || len(said.no) < 5 {
		said.whyNot = "fewer than five models fitted the first time, or fewer than five did not"
		return nil
	}
	if x[0] == x[len(x)-1] {
		said.whyNot = "every model has the same mean reduction"
		return nil
	}
	var cluster []int
	if distinct(persons) < len(persons) {
		cluster = persons
	}
	fit, err := regress.FitGLM(regress.Logistic, regress.GLMData{Y: y, X: [][]float64{x}, Names: []string{"reduction"}, Cluster: cluster}, regress.GLMOptions{Level: j.ask.Confidence})
	if err != nil || !fit.Coef[1].Tested {
		said.whyNot = "the reductions of those that fitted and those that did not lie apart, so that no curve has finite numbers"
		return nil
	}
	said.fit = fit
	if square := squared(x); square != nil {
		bent, err := regress.FitGLM(regress.Logistic, regress.GLMData{Y: y, X: [][]float64{x, square}, Names: []string{"reduction", "square"}, Cluster: cluster}, regress.GLMOptions{Level: j.ask.Confidence})
		if err == nil && bent.Coef[2].Tested {
			said.bendP = bent.Coef[2].P
		}
	}
	return nil
}

// squared is the square of x about its mean; nil with fewer than three values.
func squared(x []float64) []float64 {
	mean, seen := 0.0, map[float64]bool{}
	for _, v := range x {
		mean += v / float64(len(x))
		seen[v] = true
	}
	if len(seen) < 3 {
		return nil
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = (v - mean) * (v - mean)
	}
	return out
}

// fitComfort fits comfort at the first visit after delivery on the reduction.
func (j *reductionJob) fitComfort(said *seriesSaid, of []int) error {
	var persons []int
	for _, k := range of {
		if c := j.models[k].fitted.Comfort; !math.IsNaN(c) {
			said.x, said.y = append(said.x, j.models[k].meanReduction()), append(said.y, c)
			persons = append(persons, j.models[k].person)
		}
	}
	if len(said.x) < fewestTold {
		return nil
	}
	cluster := persons
	if distinct(persons) == len(persons) {
		cluster = nil
	} else if distinct(persons) < 2 {
		return nil
	}
	fit, err := regress.FitLinear(regress.LinearData{Y: said.y, X: [][]float64{said.x}, Names: []string{"reduction"}, Intercept: true, Cluster: cluster}, regress.LinearOptions{Level: j.ask.Confidence})
	if err != nil || !fit.Coef[1].Tested {
		return nil // one reduction, or one comfort: there is no line
	}
	said.comfort = fit
	if square := squared(said.x); square != nil {
		bent, err := regress.FitLinear(regress.LinearData{Y: said.y, X: [][]float64{said.x, square}, Names: []string{"reduction", "square"}, Intercept: true, Cluster: cluster}, regress.LinearOptions{Level: j.ask.Confidence})
		if err == nil && bent.Coef[2].Tested {
			said.bend2P = bent.Coef[2].P
		}
	}
	return nil
}

// ratio is the odds ratio of a percentage point more, with its limits.
func (s *seriesSaid) ratio() (ratio, low, high float64) {
	c := s.fit.Coef[1]
	return math.Exp(c.Estimate), math.Exp(c.Low), math.Exp(c.High)
}
