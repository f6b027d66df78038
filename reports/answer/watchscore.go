package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// riskGroups is how many groups calibration is shown in: ten, or fewer where
// each would have few events on average; for the public, so few that nothing
// of any group has to be withheld, if that can be.
func (p *watchWork) riskGroups() ([]survival.RiskGroup, error) {
	for n := min(10, max(2, p.fit.Events/10)); ; n-- {
		gs, err := p.fit.Groups(n)
		if err != nil || n == 1 || !p.public() {
			return gs, err
		}
		told := true
		for _, g := range gs {
			told = told && !p.hiddenCount(g.Had) && !p.hiddenCount(g.Lives-g.Had) && !p.hiddenCount(g.Lives)
		}
		if told {
			return gs, nil
		}
	}
}

// calibration holds the risks against what came, for the landmarks of the
// past.
func (p *watchWork) calibration() error {
	gs, err := p.riskGroups()
	if err != nil {
		return err
	}
	t := tableOf("calibration", integer("group"), count("rows"), count("sockets"), count("events"), number("predicted", ""), number("lowest", ""), number("highest", ""),
		number("observed", ""), number("std_error", ""), number("low", ""), number("high", ""))
	spec := figure.RiskCheckSpec{ID: p.ask.ID + "-calibration", Title: "Predicted and observed: " + causeWords(p.causes[0].name) + " " + p.aheadWords(),
		XAxis: "Predicted risk", YAxis: "Observed share, " + p.causes[0].past + " " + p.aheadWords(), Confidence: p.ask.Confidence}
	for k, g := range gs {
		o := g.Observed
		lowest, highest := any(g.Lowest), any(g.Highest)
		if p.public() { // of one socket each
			lowest, highest = nil, nil
		}
		t.row(k+1, g.Rows, g.Lives, g.Had, g.Predicted, lowest, highest, when(g.HasObserved, o.Estimate), when(o.HasBounds, o.StdErr), when(o.HasBounds, o.Low), when(o.HasBounds, o.High))
		if !g.HasObserved || p.hiddenCount(g.Had) || p.hiddenCount(g.Lives-g.Had) || p.hiddenCount(g.Lives) {
			continue
		}
		x := figure.BandPoint{X: g.Predicted, Y: o.Estimate, Low: math.NaN(), High: math.NaN()}
		if o.HasBounds {
			x.Low, x.High = o.Low, o.High
		}
		spec.Groups = append(spec.Groups, x)
	}
	p.addTable(t)
	curve := tableOf("calibration_curve", number("predicted", ""), number("observed", ""), number("low", ""), number("high", ""))
	all := p.fit.Risks()
	slices.Sort(all)
	edge := 0.01
	if p.public() {
		edge = math.Max(edge, math.Min(0.1, float64(p.ctx.Front.HideBelow)/float64(p.fit.Lives)))
	}
	lo, hi := sortedQuantile(all, edge), sortedQuantile(all, 1-edge)
	var at []float64
	const pieces = 40
	for k := 0; k <= pieces && hi > lo; k++ {
		at = append(at, lo+(hi-lo)*float64(k)/pieces)
	}
	line, err := p.fit.Curve(at)
	switch {
	case len(at) == 0 || errors.Is(err, survival.ErrNoCurve):
		p.caution("no-curve", "The predicted risks are too much alike for a smooth line of what was observed.")
	case err != nil:
		p.caution("no-curve", "No smooth line of what was observed could be fitted to the predicted risks.")
	}
	for _, q := range line {
		curve.row(q.Predicted, q.Observed, q.Low, q.High)
		spec.Curve = append(spec.Curve, figure.BandPoint{X: q.Predicted, Y: q.Observed, Low: q.Low, High: q.High})
	}
	p.addTable(curve)
	if !p.public() {
		spec.Risks = all
	}
	p.Figures = append(p.Figures, figure.RiskCheck(spec))
	return nil
}

// measureRows are the measures as they are printed.
var measureRows = []struct {
	measure survival.Measure
	name    string // in the numbers
	text    string
	percent bool
}{
	{survival.ObservedShare, "observed", "Share with the event, observed", true},
	{survival.ExpectedShare, "expected", "Share with the event, predicted", true},
	{survival.ObservedRatio, "observed_over_expected", "Observed over predicted (1 is right)", false},
	{survival.CalibrationIntercept, "intercept", "Intercept (0 is right; above 0: risks too low)", false},
	{survival.CalibrationSlope, "slope", "Slope (1 is right; below 1: risks too far apart)", false},
	{survival.CIndex, "c", "Names the right one of two (C; 50% is guessing)", true},
	{survival.BrierScore, "brier", "Squared error of the risk (Brier score)", false},
	{survival.BrierNull, "brier_null", "The same of one share for all", false},
	{survival.ScaledBrier, "scaled_brier", "Gain over one share for all (0 is none)", true},
}

// scores prints how far the risks can be trusted.
func (p *watchWork) scores() {
	t := tableOf("performance", text("measure"), number("apparent", ""), number("optimism", ""), number("corrected", ""), number("std_error", ""), number("low", ""), number("high", ""))
	s := p.fit.Scores()
	out := document.Table{ID: p.ask.ID + "-performance", Caption: "How far the list can be trusted", Columns: []document.TableColumn{
		{Head: "Measure", Wide: true}, {Head: "On the sockets fitted", Align: document.Right}, {Head: "Optimism", Align: document.Right}, {Head: "Corrected", Align: document.Right},
		{Head: words.Capital(p.confidenceWords()), Align: document.Right}},
		Notes: []string{fmt.Sprintf("The model looks better on the sockets that it was fitted to than it is. The optimism is found by fitting it anew to %s of persons; corrected values are what other sockets of the same lab would show.", words.N(p.again.Draws-p.again.Failed, "sample", "samples"))}}
	for _, m := range measureRows {
		a, ok := s.Value[m.measure], s.Has[m.measure]
		c, has := p.again.Corrected.Value[m.measure], p.again.Corrected.Has[m.measure]
		low, high := p.again.Low.Value[m.measure], p.again.High.Value[m.measure]
		if m.measure == survival.CIndex {
			low, high = max(low, 0), min(high, 1)
		}
		t.row(m.name, when(ok, a), when(has, p.again.Optimism.Value[m.measure]), when(has, c), when(has, p.again.StdErr.Value[m.measure]), when(has, low), when(has, high))
		show := func(x float64) string { return words.Fixed(x, 3) }
		if m.percent {
			show = func(x float64) string { return words.Fixed(100*x, 1) + "%" }
		}
		row := []string{m.text, words.NotComputed, words.NotComputed, words.NotComputed, words.NotComputed}
		if ok {
			row[1] = show(a)
		}
		if has {
			row[2], row[3], row[4] = show(p.again.Optimism.Value[m.measure]), words.Value(c, low, high), words.Interval(low, high)
			if m.percent {
				row[3], row[4] = words.Value(100*c, 100*low, 100*high)+"%", words.Interval(100*low, 100*high)+"%"
			}
		}
		out.Rows = append(out.Rows, row)
	}
	p.addTable(t)
	p.print(out)
}

// corrected is a measure with its optimism taken off.
func (p *watchWork) corrected(m survival.Measure) (x, low, high float64, ok bool) {
	return p.again.Corrected.Value[m], p.again.Low.Value[m], p.again.High.Value[m], p.again.Corrected.Has[m]
}
