package answer

import (
	"math"
	"strings"

	"plybook/reports/figure"
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
