package answer

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/words"
)

// special is a curve that a wider one becomes where some of its numbers are
// held.
type special struct {
	narrow, wide survival.Distribution
	held         int    // how many numbers are held
	what         string // what is held
}

// specials are the curves that lie within others.
var specials = []special{
	{survival.WeibullLife, survival.GeneralisedGammaLife, 1, "shape 1"},
	{survival.LogNormalLife, survival.GeneralisedGammaLife, 1, "shape 0"},
	{survival.ExponentialLife, survival.WeibullLife, 1, "scale 1"},
	{survival.ExponentialLife, survival.GeneralisedGammaLife, 2, "shape 1, scale 1"},
}

// within tests a curve within a wider one by likelihood ratio; ok is false
// where one of them could not be fitted.
func (p *parametricWork) within(s special) (t stats.Test, ok bool) {
	narrow, wide := p.others[s.narrow], p.others[s.wide]
	if narrow == nil || wide == nil {
		return t, false
	}
	x := math.Max(0, 2*(wide.LogLik-narrow.LogLik))
	return stats.Test{Name: "likelihood-ratio test", Statistic: x, DF: float64(s.held), P: stats.ChiSquareP(x, float64(s.held))}, true
}

// tellsNested says whether the tests of curves within others are told.
func (p *parametricWork) tellsNested() bool {
	return p.fit.Distribution.Shaped() || len(p.ask.Compare) > 0
}

// nestedTable has the tests of the curves that lie within others.
func (p *parametricWork) nestedTable() {
	t := tableOf("nested", text("curve"), text("within"), text("held"), number("statistic", ""), integer("df"), number("p", ""))
	for _, s := range specials {
		if x, ok := p.within(s); ok {
			t.row(s.narrow.String(), s.wide.String(), s.what, x.Statistic, s.held, x.P)
		}
	}
	p.addTable(t)
}

// gammaSentence says the shape of a generalised gamma curve and which of the
// two simpler curves it may be.
func (p *parametricWork) gammaSentence() string {
	e := p.es[len(p.es)-1]
	out := fmt.Sprintf("The shape is %s", words.Plain(e.value))
	if !e.noInterval {
		out = fmt.Sprintf("The shape is %s (%s %s)", words.Value(e.value, e.low, e.high), p.confidenceWords(), words.Interval(e.low, e.high))
	}
	out += ", where 1 would be the Weibull curve and 0 the log-normal one"
	weibull, w := p.within(specials[0])
	normal, n := p.within(specials[1])
	if !w || !n {
		return out + "."
	}
	ps := fmt.Sprintf("%s for Weibull, %s for log-normal", words.PEquals(weibull.P), words.PEquals(normal.P))
	const told = 0.05
	switch {
	case weibull.P >= told && normal.P >= told:
		return fmt.Sprintf("%s: these rows tell it from neither (%s), so that the simpler curves say as much.", out, ps)
	case weibull.P >= told:
		return fmt.Sprintf("%s: these rows tell it from the log-normal curve, not from the Weibull one (%s).", out, ps)
	case normal.P >= told:
		return fmt.Sprintf("%s: these rows tell it from the Weibull curve, not from the log-normal one (%s).", out, ps)
	}
	return fmt.Sprintf("%s: these rows tell it from both (%s).", out, ps)
}

// nestedPrint prints the tests of the curves that lie within others.
func (p *parametricWork) nestedPrint() document.Table {
	t := document.Table{ID: p.ask.ID + "-nested", Caption: "Is a simpler curve enough?", Columns: []document.TableColumn{
		{Head: "Simpler curve", Wide: true}, {Head: "Within"}, {Head: "Held"}, {Head: "Likelihood ratio", Align: document.Right}, {Head: "p", Align: document.Right}}}
	for _, s := range specials {
		if x, ok := p.within(s); ok {
			t.Rows = append(t.Rows, []string{words.Capital(s.narrow.String()), s.wide.String(), s.what, words.Fixed(x.Statistic, 2), words.P(x.P)})
		}
	}
	t.Notes = []string{"A small p says that the simpler curve follows the rows less well; a large one that these rows do not tell them apart, not that it is right."}
	return t
}
