package answer

import (
	"math"
	"slices"

	"plybook/analysis/agreement"
	"plybook/analysis/regress"
	"plybook/reports/words"
)

// findBands works out what is told of each station, region and whole model, by
// group and series. Bands that stand for few are withheld where small counts
// are hidden.
func (j *reductionJob) findBands() error {
	shown := 0
	var gone []string
	for _, s := range j.series {
		for _, g := range j.groups {
			var of []int
			for k, m := range j.models {
				if m.from == s && m.group == g {
					of = append(of, k)
				}
			}
			if len(of) == 0 {
				continue
			}
			if j.hiddenCount(len(of)) {
				name := s.words()
				if j.ask.By != "" {
					name = j.groupWords(g) + ", " + name
				}
				gone = append(gone, name)
				continue
			}
			shown += len(of)
			whole, err := j.band(s, g, "all", math.NaN(), of, func(girthAt) bool { return true })
			if err != nil {
				return err
			}
			j.bands = append(j.bands, whole)
			for _, r := range j.regions {
				if err := j.addBand(s, g, r, math.NaN(), of, func(x girthAt) bool { return x.region == r }); err != nil {
					return err
				}
			}
			for _, mm := range j.stationsOf(of) {
				if err := j.addBand(s, g, "", mm, of, func(x girthAt) bool { return x.mm == mm }); err != nil {
					return err
				}
			}
		}
	}
	if shown == 0 {
		return j.tooFew(1)
	}
	if len(gone) > 0 {
		j.caution("groups-hidden", "Left out, since this report hides counts below %d: %s.", j.ctx.Front.HideBelow, words.List(gone))
	}
	return nil
}

// stationsOf are the distances at which any of the models was measured.
func (j *reductionJob) stationsOf(of []int) []float64 {
	var out []float64
	for _, k := range of {
		for _, s := range j.models[k].stations {
			if !slices.Contains(out, s.mm) {
				out = append(out, s.mm)
			}
		}
	}
	slices.Sort(out)
	return out
}

// addBand adds a band that any model has.
func (j *reductionJob) addBand(s girthSeries, group, region string, mm float64, of []int, in func(girthAt) bool) error {
	b, err := j.band(s, group, region, mm, of, in)
	if err != nil || len(b.models) == 0 {
		return err
	}
	b.withheld = j.hiddenCount(len(b.models))
	j.bands = append(j.bands, b)
	return nil
}

// band averages the stations of each model that lie in it, then the models.
func (j *reductionJob) band(s girthSeries, group, region string, mm float64, of []int, in func(girthAt) bool) (bandOf, error) {
	b := bandOf{group: group, from: s, region: region, mm: mm, limb: math.NaN(), model: math.NaN(), target: math.NaN(), lessMean: math.NaN()}
	var got, aim []float64
	var gotBy, aimBy []int
	var pairs []agreement.Pair
	var limb, model, target, less float64
	number := map[int]int{}
	for _, k := range of {
		m := j.models[k]
		var one girthSum
		var reductions, aims, ts float64
		for _, x := range m.stations {
			if !in(x) {
				continue
			}
			one.n++
			one.limb += x.limb
			one.model += x.model
			reductions += x.reduction
			if !math.IsNaN(x.target) {
				one.targets++
				one.target += x.target
				aims += x.targetReduction
				ts += x.model
			}
		}
		if one.n == 0 {
			continue
		}
		b.models = append(b.models, k)
		n := float64(one.n)
		limb += one.limb / n
		model += one.model / n
		got, gotBy = append(got, reductions/n), append(gotBy, m.person)
		if j.tape != nil && math.Abs(one.limb-one.model)/n < j.tape.Change.Value {
			b.smallerThan++
		}
		if one.targets == 0 {
			continue
		}
		t := float64(one.targets)
		target += one.target / t
		less += (ts - one.target) / t
		aim, aimBy = append(aim, aims/t), append(aimBy, m.person)
		if _, ok := number[m.person]; !ok {
			number[m.person] = len(number)
		}
		pairs = append(pairs, agreement.Pair{First: ts / t, Second: one.target / t, Cluster: number[m.person]})
	}
	if len(got) == 0 {
		return b, nil
	}
	var err error
	if b.got, err = regress.ClusterMean(got, gotBy, j.ask.Confidence); err != nil {
		return b, err
	}
	b.limb, b.model = limb/float64(len(got)), model/float64(len(got))
	if b.targets = len(aim); b.targets > 0 {
		if b.aim, err = regress.ClusterMean(aim, aimBy, j.ask.Confidence); err != nil {
			return b, err
		}
		b.target, b.lessMean = target/float64(len(aim)), less/float64(len(aim))
		if l, err := agreement.FitLimits(pairs, j.ask.Confidence); err == nil && l.SD > 0 {
			b.less = l
		}
	}
	return b, nil
}

// wholes are the bands of whole models, those of most sockets first.
func (j *reductionJob) wholes() []bandOf {
	var out []bandOf
	for _, b := range j.bands {
		if b.region == "all" {
			out = append(out, b)
		}
	}
	return out
}

// bandWords is how a band is called in print.
func (b *bandOf) words() string {
	switch {
	case b.region == "all":
		return "Whole"
	case b.region != "":
		return words.Capital(b.region)
	}
	return "At " + formingNumber(b.mm) + " mm"
}
