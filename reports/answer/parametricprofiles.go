package answer

import (
	"math"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// drawnProfiles is how many profiles the figure of predictions holds, and
// drawnShares how many quantiles.
const (
	drawnProfiles = 6
	drawnShares   = 2
)

// told are the quantiles that are printed: those asked for, else half.
func (p *parametricWork) told() []float64 {
	if len(p.ask.Quantiles) > 0 {
		return p.ask.Quantiles
	}
	return []float64{0.5}
}

// shareEnded says that a share of the sockets had the event by a time.
func (p *parametricWork) shareEnded(share float64) string {
	past := p.causes[0].past
	switch share {
	case 0.25:
		return "A quarter are " + past + " by"
	case 0.5:
		return "Half are " + past + " by"
	case 0.75:
		return "Three quarters are " + past + " by"
	}
	return words.Percent(share, 1000) + " are " + past + " by"
}

// predictedFigure draws what the model predicts for the profiles asked for,
// with the times by which the shares told have had the event.
func (p *parametricWork) predictedFigure() (*figure.Figure, error) {
	ev := p.causes[0]
	spec := figure.FittedSpec{ID: p.ask.ID + "-predicted", Title: "Sockets not yet " + ev.past + ", predicted by the " + p.fit.Distribution.String() + " curve",
		ValueAxis: "Sockets not yet " + ev.past, TimeAxis: p.timeAxis(), Confidence: p.ask.Confidence, Known: p.fit.LastTime}
	asked := p.asked[:min(len(p.asked), drawnProfiles)]
	shares := p.told()[:min(len(p.told()), drawnShares)]
	for _, s := range shares {
		spec.Shares, spec.ShareWords = append(spec.Shares, 1-s), append(spec.ShareWords, p.shareEnded(s))
	}
	// As far as anything is known or asked, and on to the marks where that is
	// not more than as far again.
	spec.Until = p.fit.LastTime
	for _, t := range p.ask.Times {
		spec.Until = math.Max(spec.Until, t.Days)
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	for _, x := range asked {
		for _, q := range x.quantiles[:len(shares)] {
			if q.Time <= 2*p.fit.LastTime {
				spec.Until = math.Max(spec.Until, 1.05*q.Time)
			}
		}
	}
	times := evenTimes(spec.Until)
	for _, x := range asked {
		c := figure.FittedCurve{Name: x.name, Points: []figure.BandPoint{{Y: 1, Low: 1, High: 1}}}
		if len(asked) == 1 {
			c.Name = ""
		}
		curve, err := p.fit.Survival(x.x, times[1:], p.ask.Confidence)
		if err != nil {
			return nil, err
		}
		for _, s := range curve {
			q := figure.BandPoint{X: s.Time, Y: s.Survival, Low: s.Low, High: s.High}
			if p.lone() {
				q.Low, q.High = math.NaN(), math.NaN()
			}
			c.Points = append(c.Points, q)
		}
		for _, q := range x.quantiles[:len(shares)] {
			c.Marks = append(c.Marks, figure.Mark{Time: q.Time, Low: q.Low, High: q.High, Text: timeCell(q)})
		}
		spec.Curves = append(spec.Curves, c)
	}
	return figure.Fitted(spec), nil
}

// mainTerms counts the columns of the model, products aside.
func (p *parametricWork) mainTerms() int {
	n := 0
	for _, t := range p.design.TermNames {
		if !strings.Contains(t, " × ") {
			n++
		}
	}
	return n
}

// predict works out the profiles: those asked for, else the categories of
// `by`, else the reference alone.
func (p *parametricWork) predict() error {
	predicted := tableOf("predicted", text("profile"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	quantiles := tableOf("quantiles", text("profile"), number("quantile", ""), number("estimate", "days"), number("std_error", "days"), number("low", "days"), number("high", "days"))
	qs := p.ask.Quantiles
	if len(qs) == 0 {
		qs = []float64{0.25, 0.5, 0.75}
	}
	for _, x := range p.profiles() {
		row, err := p.profileRow(x, p.design)
		if err != nil {
			return err
		}
		one := predictedProfile{name: p.profileName(x), x: row, partial: len(x.Columns) < p.mainTerms()}
		if one.half, err = p.fit.Quantile(row, 0.5, p.ask.Confidence); err != nil {
			return p.unpredictable(x, err)
		}
		if one.shares, err = p.fit.Survival(row, p.times(), p.ask.Confidence); err != nil {
			return p.unpredictable(x, err)
		}
		for _, share := range p.told() {
			q, err := p.fit.Quantile(row, share, p.ask.Confidence)
			if err != nil {
				return p.unpredictable(x, err)
			}
			one.quantiles = append(one.quantiles, q)
		}
		none := math.NaN()
		if p.lone() {
			one.half.StdErr, one.half.Low, one.half.High = none, none, none
			for k := range one.quantiles {
				one.quantiles[k].StdErr, one.quantiles[k].Low, one.quantiles[k].High = none, none, none
			}
			for k := range one.shares {
				one.shares[k].StdErr, one.shares[k].Low, one.shares[k].High = none, none, none
			}
		}
		for _, s := range one.shares {
			predicted.row(one.name, s.Time, s.Survival, s.StdErr, s.Low, s.High)
		}
		for _, share := range qs {
			q, err := p.fit.Quantile(row, share, p.ask.Confidence)
			if err != nil {
				return p.unpredictable(x, err)
			}
			if p.lone() {
				q.StdErr, q.Low, q.High = none, none, none
			}
			quantiles.row(one.name, share, q.Time, q.StdErr, q.Low, q.High)
		}
		p.asked = append(p.asked, one)
	}
	p.addTable(predicted)
	p.addTable(quantiles)
	return nil
}

// unpredictable is a profile so far from the rows used that its times are too
// long for a number.
func (p *parametricWork) unpredictable(x notebook.Profile, err error) error {
	return &notebook.Error{Pos: x.Pos, Code: "profile-too-far", Text: p.profileName(x) + " is too far from the rows used to predict for: " + err.Error()}
}

func (p *parametricWork) times() []float64 {
	if len(p.ask.Times) == 0 {
		return []float64{table.DaysPerYear}
	}
	var out []float64
	for _, t := range sortedTimes(p.ask.Times) {
		out = append(out, t.Days)
	}
	return out
}

func (p *parametricWork) profiles() []notebook.Profile {
	if len(p.ask.Profiles) > 0 {
		return p.ask.Profiles
	}
	var out []notebook.Profile
	for k, term := range p.design.TermNames {
		if term != p.ask.By || len(p.design.Cats[k]) > maxGroups {
			continue
		}
		for c, v := range p.design.Cats[k] {
			if !p.hiddenCount(p.design.Counts[k][c]) {
				out = append(out, notebook.Profile{Pos: p.ask.Pos, Columns: []string{term}, Values: map[string]string{term: v}})
			}
		}
	}
	if len(out) == 0 {
		out = append(out, notebook.Profile{Pos: p.ask.Pos, Values: map[string]string{}})
	}
	return out
}

// profileName is a profile in words; without columns it is all sockets, or
// that of the references and means.
func (p *parametricWork) profileName(x notebook.Profile) string {
	switch {
	case len(x.Columns) > 0:
		return profileName(x)
	case len(p.design.Columns) == 0:
		return "all"
	}
	return "reference"
}
