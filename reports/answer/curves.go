package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// curve is a number that enters a model as a spline, and what became of it.
type curve struct {
	term, label, unit string
	spline            *design.Spline
	line              []curvePoint
	ends              []curvePoint // at the lower and upper tenth, for the words
	any, bent         joint        // tests of all pieces, and of all but the first
	tested            bool
}

// curvePoint is the effect at a value against the median.
type curvePoint struct {
	at float64
	combined
}

// curvePieces is the number of stretches in which a curve is drawn.
const curvePieces = 60

// curveTables works out the curve of each column in `spline`.
func (w *work) curveTables(k combiner) error {
	if len(w.ask.Spline) == 0 {
		return nil
	}
	knots := tableOf("knots", text("term"), integer("knot"), number("value", ""))
	line := tableOf("spline_curve", text("term"), number("value", ""), number("reference", ""), number("estimate", ""), number("std_error", ""),
		number("ratio", ""), number("low", ""), number("high", ""))
	tests := tableOf("spline_tests", text("term"), text("test"), number("statistic", ""), number("df", ""), number("df_residual", ""), number("p", ""))
	for _, term := range k.design.TermNames {
		s := k.design.Splines[term]
		if s == nil {
			continue
		}
		c, err := w.curveOf(k, term, s)
		if err != nil {
			return err
		}
		for i, v := range s.Knots {
			knots.row(term, i+1, v)
		}
		for _, p := range c.line {
			low, high, ratio := p.low, p.high, math.NaN()
			if !p.tested {
				low, high = math.NaN(), math.NaN()
			}
			if k.ratio {
				ratio, low, high = math.Exp(p.value), math.Exp(low), math.Exp(high)
			}
			line.row(term, p.at, s.Median, p.value, when(p.tested, p.stdErr), ratio, low, high)
		}
		if c.tested {
			for _, x := range []struct {
				name string
				joint
			}{{"any effect", c.any}, {"not a straight line", c.bent}} {
				tests.row(term, x.name, x.statistic, x.df, x.dfRest, x.p)
			}
		} else {
			w.caution("curve-not-tested", "Whether the curve of %s differs from a straight line could not be tested: too few %s bear on it.", c.label, w.bearers())
		}
		w.curves = append(w.curves, c)
	}
	w.addTable(knots)
	w.addTable(line)
	w.addTable(tests)
	return nil
}

func (w *work) bearers() string {
	_, many := w.nouns()
	return many
}

// curveOf works out one curve, over the values that most rows have: the
// outermost hundredths are left out, and more where small counts are hidden,
// since the ends would be those of single rows.
func (w *work) curveOf(k combiner, term string, s *design.Spline) (curve, error) {
	cols := k.design.ColumnsOf(term)
	values := slices.Clone(k.design.X[cols[0]])
	slices.Sort(values)
	edge := 0.01
	if w.ctx.Front.HideBelow > 1 {
		edge = math.Max(edge, math.Min(0.1, float64(w.ctx.Front.HideBelow)/float64(len(values))))
	}
	c := curve{term: term, label: k.design.Columns[cols[0]].Label, unit: k.design.Columns[cols[0]].Unit, spline: s}
	at := func(x float64) (curvePoint, error) {
		here, there := make([]float64, len(k.design.Columns)), make([]float64, len(k.design.Columns))
		k.design.SetNumber(here, term, x)
		k.design.SetNumber(there, term, s.Median)
		for j := range here {
			here[j] -= there[j]
		}
		if x == s.Median {
			return curvePoint{at: x, combined: combined{tested: true}}, nil
		}
		sum, err := k.sum(here)
		return curvePoint{x, sum}, err
	}
	lo, hi := sortedQuantile(values, edge), sortedQuantile(values, 1-edge)
	places := []float64{}
	for i := 0; i <= curvePieces; i++ {
		places = append(places, lo+(hi-lo)*float64(i)/curvePieces)
	}
	if s.Median > lo && s.Median < hi {
		places = append(places, s.Median)
		slices.Sort(places)
		places = slices.Compact(places)
	}
	for _, x := range places {
		p, err := at(x)
		if err != nil {
			return c, fmt.Errorf("curve of %s: %w", term, err)
		}
		c.line = append(c.line, p)
	}
	for _, q := range []float64{0.1, 0.9} {
		p, err := at(sortedQuantile(values, q))
		if err != nil {
			return c, fmt.Errorf("curve of %s: %w", term, err)
		}
		c.ends = append(c.ends, p)
	}
	var err error
	if c.any, err = k.test(cols); err == nil {
		c.bent, err = k.test(cols[1:])
	}
	if err != nil && !notTestable(err) {
		return c, err
	}
	c.tested = err == nil
	return c, nil
}

func sortedQuantile(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * p
	i := int(math.Floor(h))
	if i >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// curvePhrases says each curve by its effect at the lower and upper tenth.
func (w *work) curvePhrases(k combiner) []string {
	var out []string
	for _, c := range w.curves {
		s := fmt.Sprintf("%s as a curve, against the middle value of %s:", c.label, amount(c.spline.Median, c.unit))
		for i, p := range c.ends {
			if i > 0 {
				s += ";"
			}
			if p.at == c.spline.Median {
				s += " nothing to tell at the tenth that is the middle value itself"
				continue
			}
			s += fmt.Sprintf(" %s at %s", w.sumWords(k, p.combined), amount(p.at, c.unit))
		}
		if c.tested {
			s += "; " + bentWords(c.bent.p)
		}
		out = append(out, sentence(s))
	}
	return out
}

// curveP is the p value of any effect of a column that is a curve, in print.
func (w *work) curveP(term string) string {
	for _, c := range w.curves {
		if c.term == term && c.tested {
			return words.P(c.any.p)
		}
	}
	return words.NotComputed
}

// bentWords says what the test of a straight line came to.
func bentWords(p float64) string {
	if p < 0.05 {
		return fmt.Sprintf("a straight line would not do (%s)", words.PEquals(p))
	}
	return fmt.Sprintf("a straight line might do as well (%s)", words.PEquals(p))
}

func knotList(knots []float64) string {
	var out []string
	for _, v := range knots {
		out = append(out, words.Plain(v))
	}
	return words.List(out)
}

func (w *work) curveFigure(k combiner, c curve) *figure.Figure {
	spec := figure.EffectSpec{ID: w.ask.ID + "-curve-" + fileName(c.term), Title: words.Capital(k.measure) + " by " + c.label,
		XAxis: words.Capital(c.label), XUnit: c.unit, YUnit: strings.TrimSpace(pointWords(k.unit)), Ratio: k.ratio, Marks: c.spline.Knots, MarkNames: "knots of the curve",
		YAxis: fmt.Sprintf("%s against %s", words.Capital(k.measure), amount(c.spline.Median, c.unit)), Confidence: w.ask.Confidence,
		XDays: c.unit == "days"}
	for _, p := range c.line {
		b := figure.BandPoint{X: p.at, Y: p.value, Low: p.low, High: p.high}
		if !p.tested {
			b.Low, b.High = math.NaN(), math.NaN()
		}
		if k.ratio {
			b.Y, b.Low, b.High = math.Exp(b.Y), math.Exp(b.Low), math.Exp(b.High)
		}
		spec.Line = append(spec.Line, b)
	}
	if w.ctx.Front.HideBelow <= 1 {
		spec.Rug = slices.Clone(k.design.X[k.design.ColumnsOf(c.term)[0]])
		slices.Sort(spec.Rug)
		spec.Rug = slices.Compact(spec.Rug)
	}
	return figure.Effect(spec)
}

// fileName is a column's name as part of a figure's.
func fileName(column string) string {
	out := []rune(plainName(column))
	for i, r := range out {
		if !('a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9') {
			out[i] = '-'
		}
	}
	return string(out)
}

// curvePrint is the printed table of a curve: at the knots, and the tests.
func (w *work) curvePrint(k combiner, c curve) document.Block {
	t := document.Table{ID: w.ask.ID + "-curve-" + fileName(c.term), Caption: fmt.Sprintf("%s by %s, against %s", words.Capital(k.measure), c.label, amount(c.spline.Median, c.unit)),
		Columns: []document.TableColumn{{Head: words.Capital(c.label), Wide: true}, {Head: words.Capital(k.measure), Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}}}
	for i := 0; i <= 6; i++ {
		p := c.line[i*(len(c.line)-1)/6]
		val, iv := sumCells(k, p.combined)
		if p.at == c.spline.Median {
			iv = "compared with"
		}
		t.Rows = append(t.Rows, []string{words.Plain(p.at), val, iv})
	}
	t.Notes = append(t.Notes, fmt.Sprintf("Knots at %s%s.", knotList(c.spline.Knots), unitWords(c.unit)))
	if c.tested {
		t.Notes = append(t.Notes, fmt.Sprintf("Test of any effect: %s; of a straight line being enough: %s.", words.PEquals(c.any.p), words.PEquals(c.bent.p)))
	}
	return t
}

// whole drops the pieces of splines, which mean nothing one by one.
func whole(es []estimate) []estimate {
	var out []estimate
	for _, e := range es {
		if e.column.Piece == 0 {
			out = append(out, e)
		}
	}
	return out
}
