package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/words"
)

// comparedReading ranks the curves in plain words.
func (p *parametricWork) comparedReading() string {
	c := p.held
	best := c.curves[0]
	if len(c.curves) == 1 {
		return fmt.Sprintf("None of the other curves could be fitted to these rows, so there is nothing to hold the %s one against.", best.Distribution)
	}
	var rest []string
	for _, x := range c.curves[1:] {
		rest = append(rest, fmt.Sprintf("%s %s above it", x.Distribution, words.Fixed(x.AIC-best.AIC, 1)))
	}
	s := []string{fmt.Sprintf("Of the curves compared, %s has the least AIC (weight %s of 1), %s.", best.Distribution, words.Fixed(best.weight, 2), words.List(rest))}
	near := c.closeCurves()
	switch next := c.curves[1].AIC - best.AIC; {
	case len(near) > 1:
		s = append(s, fmt.Sprintf("Differences under 2 do not tell curves apart: here %s.", words.List(curveNames(near))))
	case next < 10:
		s = append(s, "That is some reason to prefer it, not a proof of its shape.")
	default:
		s = append(s, "That is a clear reason to prefer it among these, though none of them need be right.")
	}
	if !math.IsNaN(best.apart) {
		s = append(s, fmt.Sprintf("AIC ranks curves and certifies none; held against what was seen, the %s curve is farthest off at %s, %s.", best.Distribution, words.Span(best.apartAt), apartWords(best.apart)))
	} else {
		s = append(s, "AIC ranks curves and certifies none.")
	}
	if p.fit.Distribution != survival.GeneralisedGammaLife {
		if t := p.nestedSentence(); t != "" {
			s = append(s, t)
		}
	}
	return strings.Join(s, " ")
}

// apartWords says how far a share said lies from the one seen.
func apartWords(apart float64) string {
	n := int(math.Round(100 * math.Abs(apart)))
	switch {
	case n == 0:
		return "by less than half a percentage point"
	case apart > 0:
		return words.N(n, "percentage point", "percentage points") + " above it"
	}
	return words.N(n, "percentage point", "percentage points") + " below it"
}

// nestedSentence says what the wider curve says of the two within it.
func (p *parametricWork) nestedSentence() string {
	weibull, w := p.within(specials[0])
	normal, n := p.within(specials[1])
	if !w || !n {
		return ""
	}
	return fmt.Sprintf("Within the generalised gamma curve, whose shape comes to %s (1: Weibull, 0: log-normal), likelihood-ratio tests give %s for Weibull and %s for log-normal.",
		words.Plain(p.others[survival.GeneralisedGammaLife].Shape), words.PEquals(weibull.P), words.PEquals(normal.P))
}

// comparedPrint is the printed table of the curves compared.
func (p *parametricWork) comparedPrint() document.Table {
	ev := p.causes[0]
	t := document.Table{ID: p.ask.ID + "-compared", Caption: "The curves compared, by AIC", Columns: []document.TableColumn{
		{Head: "Curve", Wide: true}, {Head: "Numbers", Align: document.Right}, {Head: "AIC", Align: document.Right}, {Head: "Above the least", Align: document.Right},
		{Head: "Weight", Align: document.Right}, {Head: "BIC", Align: document.Right}, {Head: "Half are " + ev.past + " by", Align: document.Right}, {Head: "Farthest from what was seen, points", Align: document.Right}}}
	for _, at := range p.times() {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Not yet at " + words.At(at), Align: document.Right})
	}
	for _, x := range p.held.curves {
		apart := words.NotComputed
		switch {
		case p.public():
			apart = "hidden"
		case !math.IsNaN(x.apart):
			apart = fmt.Sprintf("%s at %s", words.SignedFixed(100*x.apart, 0), words.Span(x.apartAt))
		}
		row := []string{words.Capital(x.Distribution.String()), words.Fixed(float64(x.Parameters), 0), words.Fixed(x.AIC, 1), words.Fixed(x.AIC-p.held.curves[0].AIC, 1),
			words.Fixed(x.weight, 2), words.Fixed(x.BIC, 1), halfWords(x.half), apart}
		for _, y := range x.MeanSurvival(indices(len(p.data.Left)), p.times()) {
			row = append(row, words.Percent(y, 100))
		}
		t.Rows = append(t.Rows, row)
	}
	for _, d := range p.held.unfitted {
		row := []string{words.Capital(d.String())}
		for range len(t.Columns) - 1 {
			row = append(row, words.NotComputed)
		}
		t.Rows = append(t.Rows, row)
	}
	if p.held.seen != nil && !p.public() {
		row := []string{"Seen", "", "", "", "", "", "", ""}
		for _, at := range p.times() {
			cell := "not known"
			if v, ok := p.seenAt(at); ok {
				cell = words.Percent(v, 100)
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"All curves of the same rows and columns, averaged over the rows. Weight: the evidence for each among these, by AIC. BIC asks more for each number; it counts events. " +
		"Farthest: the largest gap from the curve seen, in percentage points, where at least 10 are still watched."}
	return t
}

// comparedMethods says how the curves were compared.
func (p *parametricWork) comparedMethods() string {
	if p.held == nil {
		return "Distributions were compared by AIC."
	}
	return fmt.Sprintf("The distributions %s were fitted to the same rows and compared by AIC with Akaike's weights and by BIC with the number of events, "+
		"those that lie within others by likelihood-ratio tests, and each with the curve of all rows seen.", words.List(curveNames(p.held.curves)))
}
