package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// contrast is one comparison with what it came to.
type contrast struct {
	ask notebook.Comparison
	combined
	adjusted float64 // p allowing for the number of comparisons; NaN: not asked for
}

// contrastTable works out the comparisons asked for.
func (w *work) contrastTable(k combiner) error {
	if len(w.ask.Contrasts) == 0 {
		return nil
	}
	asked, err := w.comparisonsAsked(k)
	if err != nil {
		return err
	}
	var ps []float64
	for _, c := range asked {
		of, against := c.Sides()
		x, err := w.profileRow(of, k.design)
		if err != nil {
			return err
		}
		y, err := w.profileRow(against, k.design)
		if err != nil {
			return err
		}
		differ := false
		for j := range x {
			differ = differ || x[j] != y[j]
			x[j] -= y[j]
		}
		if !differ {
			return &notebook.Error{Pos: c.Pos, Code: notebook.CodeImpossible, Text: fmt.Sprintf("%s %s and %s are one and the same in this model", plainName(c.Column), c.Of, c.Against)}
		}
		one := contrast{ask: c, adjusted: math.NaN()}
		if one.combined, err = k.sum(x); err != nil {
			return &notebook.Error{Pos: c.Pos, Code: "contrast", Text: "the comparison of " + one.name() + " could not be worked out: " + err.Error()}
		}
		if !one.tested {
			one.stdErr, one.df, one.low, one.high, one.stat, one.p = math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN()
		}
		w.contrasts = append(w.contrasts, one)
		ps = append(ps, one.p)
	}
	if w.ask.AdjustP == "holm" {
		for i, p := range stats.Holm(ps) {
			w.contrasts[i].adjusted = p
		}
	}
	t := tableOf("contrasts", text("column"), text("of"), text("against"), text("given"), number("estimate", ""), number("std_error", ""),
		number("df", ""), number("ratio", ""), number("low", ""), number("high", ""), number("z", ""), number("p", ""), number("p_adjusted", ""))
	for _, c := range w.contrasts {
		low, high, ratio := c.low, c.high, math.NaN()
		if k.ratio {
			ratio, low, high = math.Exp(c.value), math.Exp(c.low), math.Exp(c.high)
		}
		t.row(c.ask.Column, c.ask.Of, c.ask.Against, orNil(profileName(c.ask.Given)), c.value, c.stdErr, c.df, ratio, low, high, c.stat, c.p, c.adjusted)
	}
	w.addTable(t)
	w.contrastCautions(k)
	return nil
}

// comparisonsAsked are the comparisons, with every pair of a column written
// out.
func (w *work) comparisonsAsked(k combiner) ([]notebook.Comparison, error) {
	var out []notebook.Comparison
	for _, c := range w.ask.Contrasts {
		if !c.Pairs {
			out = append(out, c)
			continue
		}
		at := slices.Index(k.design.TermNames, c.Column)
		if at < 0 {
			return nil, &notebook.Error{Pos: c.Pos, Code: "unknown-column", Text: fmt.Sprintf("contrasts names %s, which is not a term of the model", c.Column)}
		}
		cats := k.design.Cats[at]
		if len(cats) == 0 {
			return nil, &notebook.Error{Pos: c.Pos, Code: notebook.CodeImpossible,
				Text: fmt.Sprintf("%s is a number and has no categories to pair; name two of its values, such as [70, 50]", c.Column)}
		}
		for i := range cats {
			for _, of := range cats[i+1:] {
				one := c
				one.Of, one.Against, one.Pairs = of, cats[i], false
				out = append(out, one)
			}
		}
	}
	return out, nil
}

// contrastCautions says where a comparison reaches beyond the rows, and where
// there are many.
func (w *work) contrastCautions(k combiner) {
	for _, c := range w.contrasts {
		of, against := c.ask.Sides()
		w.beyondRows(k.design, of, against)
	}
	if n := len(w.contrasts); n >= manyEstimates && w.ask.AdjustP != "holm" {
		w.caution("many-comparisons", "%s are made: about one in twenty would look like a difference by chance alone. With `adjust_p: holm` the p values allow for their number.", words.Capital(words.N(n, "comparison", "comparisons")))
	}
}

// beyondRows warns where a profile asks for a number that no row has.
func (w *work) beyondRows(d *design.Design, profiles ...notebook.Profile) {
	for _, p := range profiles {
		for _, name := range p.Columns {
			at := slices.Index(d.TermNames, name)
			if at < 0 || len(d.Cats[at]) > 0 {
				continue
			}
			v, err := parseNumber(p.Values[name])
			x := d.X[d.ColumnsOf(name)[0]]
			if err == nil && (v < slices.Min(x) || v > slices.Max(x)) {
				w.caution("extrapolation", "No row used has %s as far out as %s: what is said of it rests on the model carried on beyond what was seen.", w.columnLabel(name), p.Values[name])
			}
		}
	}
}

// unitOf is the unit of a column that is a number.
func (k combiner) unitOf(term string) string {
	for _, c := range k.design.Columns {
		if c.Term == term {
			return c.Unit
		}
	}
	return ""
}

// name says what is compared: "casting method vacuum against hand".
func (c contrast) name() string {
	s := fmt.Sprintf("%s %s against %s", plainName(c.ask.Column), c.ask.Of, c.ask.Against)
	if g := profileName(c.ask.Given); g != "" {
		s += " (" + g + ")"
	}
	return s
}

// contrastWords says the first comparisons in a sentence.
func (w *work) contrastWords(k combiner) string {
	var parts []string
	for _, c := range w.contrasts {
		if len(parts) == 3 {
			break
		}
		name := fmt.Sprintf("%s %s against %s%s", w.columnLabel(c.ask.Column), c.ask.Of, c.ask.Against, unitWords(k.unitOf(c.ask.Column)))
		if g := profileName(c.ask.Given); g != "" {
			name += " (" + g + ")"
		}
		parts = append(parts, name+", "+w.sumWords(k, c.combined))
	}
	if len(parts) == 0 {
		return ""
	}
	s := " Compared as asked: " + strings.Join(parts, "; ") + "."
	if len(w.contrasts) > len(parts) {
		s += " The table gives the others."
	}
	return s
}

// sumWords says a sum of coefficients with its interval.
func (w *work) sumWords(k combiner, c combined) string {
	switch {
	case k.ratio && !c.tested:
		return fmt.Sprintf("%s %s, interval not computed", k.measure, words.Ratio(math.Exp(c.value)))
	case k.ratio:
		lo, hi := math.Exp(c.low), math.Exp(c.high)
		return fmt.Sprintf("%s %s (%s %s)", k.measure, words.RatioWithin(math.Exp(c.value), lo, hi), w.confidenceWords(), words.RatioRange(lo, hi))
	case !c.tested:
		return fmt.Sprintf("%s %s%s, interval not computed", k.measure, words.SignedPlain(c.value), pointWords(k.unit))
	}
	return fmt.Sprintf("%s %s%s (%s %s)", k.measure, words.Signed(c.value, c.low, c.high), pointWords(k.unit), w.confidenceWords(), words.Interval(c.low, c.high))
}

// sumCells are a sum of coefficients and its interval in a printed table.
func sumCells(k combiner, c combined) (value, interval string) {
	switch {
	case k.ratio && !c.tested:
		return words.Ratio(math.Exp(c.value)), words.NotComputed
	case k.ratio:
		lo, hi := math.Exp(c.low), math.Exp(c.high)
		return words.RatioWithin(math.Exp(c.value), lo, hi), words.RatioRange(lo, hi)
	case !c.tested:
		return words.Plain(c.value), words.NotComputed
	}
	return words.Value(c.value, c.low, c.high), words.Interval(c.low, c.high)
}

func (w *work) contrastPrint(k combiner) document.Block {
	t := document.Table{ID: w.ask.ID + "-contrasts", Caption: "Comparisons asked for: " + k.measure, Columns: []document.TableColumn{
		{Head: "Of", Wide: true}, {Head: "Against"}, {Head: words.Capital(k.measure), Align: document.Right},
		{Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}}}
	given := false
	for _, c := range w.contrasts {
		given = given || len(c.ask.Given.Columns) > 0
	}
	if given {
		t.Columns = slices.Insert(t.Columns, 2, document.TableColumn{Head: "Given"})
	}
	holm := w.ask.AdjustP == "holm"
	if holm {
		t.Columns = append(t.Columns, document.TableColumn{Head: "p, Holm", Align: document.Right})
		t.Notes = append(t.Notes, fmt.Sprintf("Holm's p allows for %s. The intervals are of one comparison each.", words.N(len(w.contrasts), "comparison", "comparisons")))
	}
	for _, c := range w.contrasts {
		val, iv := sumCells(k, c.combined)
		unit := unitWords(k.unitOf(c.ask.Column))
		row := []string{words.Capital(w.columnLabel(c.ask.Column)) + " " + c.ask.Of + unit, c.ask.Against + unit, val, iv, words.P(c.p)}
		if given {
			row = slices.Insert(row, 2, profileName(c.ask.Given))
		}
		if holm {
			row = append(row, words.P(c.adjusted))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// compare answers what `contrasts` and `spline` ask of a fitted model: their
// tables and cautions.
func (w *work) compare(k combiner) error {
	if err := w.curveTables(k); err != nil {
		return err
	}
	return w.contrastTable(k)
}

// notPenalised refuses what penalised estimates do not offer.
func (w *work) notPenalised(why string) error {
	for _, key := range []string{"spline", "contrasts", "adjusted", "diagnostics"} {
		if _, ok := w.ask.KeyPos[key]; ok {
			return w.at(key, "", notebook.CodeImpossible, "%s cannot be worked out with penalised estimates, which this model needs: no finite estimate fits %s otherwise; leave out %s, or group the categories", key, why, key)
		}
	}
	return nil
}

// compared adds what is shown and said of comparisons and curves, after the
// rest of an answer.
func (w *work) compared(k combiner) {
	for _, c := range w.curves {
		w.Figures = append(w.Figures, w.curveFigure(k, c))
		w.print(w.curvePrint(k, c))
	}
	if len(w.contrasts) > 0 {
		w.print(w.contrastPrint(k))
		w.Reading += w.contrastWords(k)
		w.Methods += " The comparisons named are sums of the model's coefficients, with its errors"
		if w.ask.AdjustP == "holm" {
			w.Methods += "; their p values are adjusted by Holm's method"
			w.References = append(w.References, "Holm S. A simple sequentially rejective multiple test procedure. Scand J Stat 1979; 6: 65-70.")
		}
		w.Methods += "."
	}
	if len(w.curves) > 0 {
		var parts []string
		for _, c := range w.curves {
			parts = append(parts, fmt.Sprintf("%s as a restricted cubic spline with %d knots at %s%s", c.label, len(c.spline.Knots), knotList(c.spline.Knots), unitWords(c.unit)))
		}
		w.Methods += " " + words.Capital(words.List(parts)) + plural(len(parts), " enters", " enter") + " the model; that a straight line would do was tested by setting all pieces but the first to 0."
		w.References = append(w.References, "Stone CJ, Koo CY. Additive splines in statistics. Proc Stat Comput Sect Am Stat Assoc 1985: 45-48.",
			"Harrell FE. Regression modeling strategies. New York: Springer; 2001.")
	}
}

func notTestable(err error) bool { return errors.Is(err, errNoTest) }
