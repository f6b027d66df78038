package answer

import (
	"math"

	"plybook/reports/figure"
	"plybook/reports/words"
)

// draw draws the profile of each series, and of that with most sockets
// first-time fit and comfort against the reduction.
func (j *reductionJob) draw() {
	for k, s := range j.series {
		if k == mostProfiles {
			break
		}
		j.drawProfile(s, k)
	}
	if s := j.mainSaid(); s != nil {
		j.drawShares(s)
		j.drawComfort(s)
	}
}

// drawProfile draws the stations that at least half of the sockets have, so
// that one mean is not of other limbs than the next.
func (j *reductionJob) drawProfile(s girthSeries, k int) {
	spec := figure.GirthsSpec{ID: j.ask.ID + suffix(k), Title: "Limb, target and model by station; " + s.words(), Landmark: s.landmark, Confidence: j.ask.Confidence}
	if spec.Landmark == "" {
		spec.Landmark = "landmark"
	}
	var all []int
	left := false
	for _, w := range j.wholes() {
		if w.from != s {
			continue
		}
		all = append(all, w.models...)
		line := figure.GirthLine{Name: "model"}
		if j.ask.By != "" {
			line.Name = j.groupWords(w.group)
		}
		for _, b := range j.bands {
			if b.from != s || b.group != w.group || b.region != "" || b.withheld {
				continue
			}
			if 2*len(b.models) < len(w.models) {
				left = true
				continue
			}
			line.Points = append(line.Points, figure.BandPoint{X: b.mm, Y: b.got.Mean, Low: b.got.Low, High: b.got.High})
		}
		spec.Lines = append(spec.Lines, line)
	}
	for _, mm := range j.stationsOf(all) {
		b, err := j.band(s, "", "", mm, all, func(x girthAt) bool { return x.mm == mm })
		if err != nil || 2*len(b.models) < len(all) || j.hiddenCount(len(b.models)) {
			continue
		}
		at := figure.GirthStation{MM: mm, Limb: b.limb, Model: b.model, Target: b.target, TargetReduction: math.NaN()}
		if b.targets > 0 {
			at.TargetReduction = b.aim.Mean
		}
		if 2*b.targets < len(b.models) || j.few(b.targets, len(b.models)) {
			at.Target, at.TargetReduction = math.NaN(), math.NaN()
		}
		spec.Stations = append(spec.Stations, at)
	}
	if len(all) == 0 {
		return
	}
	if left {
		spec.Note = "Stations that fewer than half of the sockets have are in the table alone."
	}
	j.Figures = append(j.Figures, figure.Girths(spec))
}

func (j *reductionJob) drawShares(s *seriesSaid) {
	if len(s.shares) == 0 {
		return
	}
	spec := figure.ShareBandsSpec{ID: j.ask.ID + "-fit", Title: "First-time fit by mean reduction; " + s.from.words(), XAxis: "Mean reduction of the socket", XUnit: "%", YAxis: "First-time fit",
		WithName: "fitted the first time", NoneName: "did not", Confidence: j.ask.Confidence}
	for _, b := range s.shares {
		if j.few(b.Events, b.Rows) {
			continue
		}
		from, to := b.from, b.to
		if j.public() {
			from, to = b.mean, b.mean
		}
		spec.Bands = append(spec.Bands, figure.ShareBand{From: from, To: to, At: b.mean, Share: b.Share, Low: b.Low, High: b.High, Detail: j.of(b.Events, b.Rows, "socket", "sockets")})
	}
	lo, hi := s.shares[0].from, s.shares[len(s.shares)-1].to
	if j.public() {
		lo, hi = s.shares[0].mean, s.shares[len(s.shares)-1].mean
	} else {
		spec.With, spec.None = s.yes, s.no
	}
	if s.fit != nil {
		for i := range 41 {
			x := lo + (hi-lo)*float64(i)/40
			p, err := s.fit.Predict([]float64{x})
			if err != nil {
				break
			}
			at := figure.BandPoint{X: x, Y: p.Estimate, Low: math.NaN(), High: math.NaN()}
			if p.Tested {
				at.Low, at.High = p.Low, p.High
			}
			spec.Curve = append(spec.Curve, at)
		}
	}
	j.Figures = append(j.Figures, figure.ShareBands(spec))
}

func (j *reductionJob) drawComfort(s *seriesSaid) {
	if s.comfort == nil {
		return
	}
	spec := figure.FitSpec{ID: j.ask.ID + "-comfort", Title: "Comfort at the first visit by mean reduction; " + s.from.words(), XAxis: "Mean reduction of the socket", XUnit: "%",
		YAxis: "Comfort at the first visit", YUnit: "of 10", LineName: "line fitted", Confidence: j.ask.Confidence}
	lo, hi := math.Inf(1), math.Inf(-1)
	for k, x := range s.x {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
		if !j.public() {
			spec.Points = append(spec.Points, figure.XY{X: x, Y: s.y[k]})
		}
	}
	if j.public() && len(s.shares) > 1 { // the ends are one socket's
		lo, hi = s.shares[0].mean, s.shares[len(s.shares)-1].mean
	} else if j.public() {
		return
	}
	for i := range 41 {
		x := lo + (hi-lo)*float64(i)/40
		p, err := s.comfort.Contrast([]float64{1, x})
		if err != nil {
			break
		}
		at := figure.BandPoint{X: x, Y: p.Estimate, Low: math.NaN(), High: math.NaN()}
		if p.Tested {
			at.Low, at.High = p.Low, p.High
		}
		spec.Line = append(spec.Line, at)
	}
	j.Figures = append(j.Figures, figure.Fit(spec))
}

// comfortWords says how comfort goes with the reduction.
func (s *seriesSaid) comfortWords(confidence string) string {
	c := s.comfort.Coef[1]
	return "comfort at the first visit differed by " + words.Value(c.Estimate, c.Low, c.High) + " of 10 (" + confidence + " " + words.Interval(c.Low, c.High) + ")"
}
