package answer

import (
	"errors"
	"fmt"
	"strings"

	"plybook/analysis/quadrature"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// fitWithin fits, and says what stands in the way.
func (w *work) fitWithin(f *withinFit, family quadrature.Family, y []float64, levels int) error {
	d := quadrature.Data{Y: y, Levels: levels, X: f.design.X, Names: f.design.Names(), Group: f.codes, Offset: f.data.Offset}
	m, err := quadrature.Fit(family, d, quadrature.Options{Level: w.ask.Confidence})
	if err == nil {
		f.Model = m
		return nil
	}
	one, many := w.nouns()
	plain := strings.TrimPrefix(w.ask.Method, "mixed-")
	at := func(code, format string, args ...any) error {
		return w.at("within", w.ask.Within, code, format, args...)
	}
	var sep *regress.SeparationError
	var singular *regress.SingularError
	switch {
	case errors.As(err, &sep):
		e := w.modelError(sep, f.design, "", sep.Columns)
		var at *notebook.Error
		if errors.As(e, &at) {
			side := "the outcome is the same in every row"
			switch family {
			case quadrature.Poisson:
				side = "nothing at all was counted"
			case quadrature.Ordinal:
				side = "every row lies at one end of the levels"
			}
			more := ""
			if family != quadrature.Ordinal {
				more = fmt.Sprintf(", or ask %s, which penalises the estimates", plain)
			}
			at.Code = "separation"
			at.Text = fmt.Sprintf("no finite estimate fits %s: on one side of the comparison %s; leave the column out, group its categories%s", words.List(comparisons(f.design, sep.Columns)), side, more)
		}
		return e
	case errors.As(err, &singular):
		return w.modelError(singular, f.design, "", nil)
	case errors.Is(err, quadrature.ErrOneGroup):
		return at("one-group", "all rows are of one %s, and %s tells apart how several differ; use %s", f.group, w.ask.Method, plain)
	case errors.Is(err, quadrature.ErrNoRepeats):
		return at("no-repeats", "no %s has more than one %s here, so that how %ss differ cannot be told from how %s differ; use %s", f.group, one, f.group, many, plain)
	case errors.Is(err, quadrature.ErrNoneVaries):
		return at("none-varies", "of every %s all %s have the same outcome, so that how much %ss differ has no finite estimate; use %s, whose intervals allow for several %s of one person", f.group, many, f.group, plain, many)
	case errors.Is(err, quadrature.ErrRunsOff):
		return at("runs-off", "hardly any %s has %s that differ in the outcome, so that how much %ss differ has no finite estimate; use %s, whose intervals allow for several %s of one person", f.group, many, f.group, plain, many)
	case errors.Is(err, stats.ErrConvergence):
		return err
	}
	if text := tooFewRows(err, f.design); text != "" || errors.Is(err, regress.ErrTooFewRows) {
		if text == "" {
			text = fmt.Sprintf("%s with all values known: too few for %s; use fewer columns", words.Capital(words.N(len(f.design.Rows), "row", "rows")), words.N(len(f.design.X), "term", "terms"))
		}
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-rows", Text: text}
	}
	return &notebook.Error{Pos: w.ask.Pos, Code: "model", Text: err.Error()}
}

// withinCautions raises what the groups leave in doubt.
func (w *work) withinCautions(f *withinFit) {
	one, many := w.nouns()
	group, groups := f.group, f.group+"s"
	if f.Groups < 10 {
		w.caution("few-groups", "%s: how much they differ from one another is known only roughly, and the intervals of what differs between them are too narrow.", w.only(f.Groups, group, groups))
	}
	single := 0
	for _, e := range f.Effects {
		if e.Rows == 1 {
			single++
		}
	}
	if 2*single > f.Groups {
		w.caution("single-rows", "%s only one %s: they hardly tell how %s differ from how %s differ.", words.Capital(w.of(single, f.Groups, group, groups))+" "+plural(f.Groups, "has", "have"), one, groups, many)
	}
	if f.AtZero {
		w.caution("singular", "The %s differ no more than chance alone would make them: the variance between them is estimated as 0. The model is then that of %s without clusters, and a typical %s and all %s come to the same.", groups, strings.TrimPrefix(w.ask.Method, "mixed-"), group, groups)
	}
	if !f.High.Has {
		w.caution("variance-unbounded", "How much %s differ has no upper limit: so few of them have %s that differ in the outcome that any difference between %s would fit.", groups, many, groups)
	}
	if f.Moved > 1e-3 {
		w.caution("quadrature", "The likelihood is worked out by %d nodes and still moves with their number (by %s): the estimates are rough.", f.Nodes, words.Plain(f.Moved))
	}
	w.personsWithin(f)
	w.leavingWithin(f)
	w.beyondRows(f.design, w.ask.Profiles...)
}

// personsWithin warns where one person stands in several groups that are
// taken as independent.
func (w *work) personsWithin(f *withinFit) {
	c, ok := f.table.Col("person")
	if !ok || w.ask.Within == "person" || c.Kind != table.Text {
		return
	}
	of := map[string]int{}
	for k, i := range f.design.Rows {
		p := valueText(c, i)
		if g, seen := of[p]; seen && g != f.codes[k] {
			w.caution("persons-repeat", "Some persons have several %ss here, which are taken as independent. With `within: person` they share a level.", f.group)
			return
		}
		of[p] = f.codes[k]
	}
}
