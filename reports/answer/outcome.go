package answer

import (
	"math"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// outcomeColumn is the name of an outcome worked out from others. It has a
// space, which no column of a log has.
const outcomeColumn = "the outcome"

// yesNo is the outcome of a model of shares, 1 for yes, and what it is
// called: "first-time fit".
func (w *work) yesNo() (*table.Column, error) {
	if w.ask.OutcomeWhen != nil {
		return w.yesWhen(*w.ask.OutcomeWhen)
	}
	name := w.ask.Outcome
	c, err := w.column("outcome", name)
	if err != nil {
		return nil, err
	}
	out := table.NewNumber(outcomeColumn, "", c.Len())
	out.Label = label(c)
	odd := map[string]bool{}
	for _, i := range w.rows {
		if c.Missing[i] {
			continue
		}
		v := strings.ToLower(strings.TrimSpace(valueText(c, i)))
		switch {
		case v == "yes" || v == "1" && c.Kind == table.Number:
			out.SetNum(i, 1)
		case v == "no" || v == "0" && c.Kind == table.Number:
			out.SetNum(i, 0)
		default:
			odd[valueText(c, i)] = true
		}
	}
	if len(odd) == 0 {
		return out, nil
	}
	switch c.Kind {
	case table.Date:
		return nil, w.at("outcome", name, notebook.CodeImpossible, "%s explains yes or no, and %s is a date; write a condition as outcome", w.ask.Method, name)
	case table.Number:
		return nil, w.at("outcome", name, notebook.CodeImpossible, "%s explains yes or no, and %s is a number; write as outcome which values are a yes, a range as in `keep`, or use linear", w.ask.Method, name)
	}
	names := sortedKeysOf(mapOf(odd))
	some := "its values are"
	if identifiers[name] || len(names) > 6 || w.public() {
		return nil, w.at("outcome", name, notebook.CodeImpossible, "%s explains yes or no, and %s has other values; write as outcome which of them are a yes, such as `outcome: {%s: [...]}`", w.ask.Method, name, name)
	}
	return nil, w.at("outcome", name, notebook.CodeImpossible, "%s explains yes or no, and of %s %s %s; write as outcome which of them are a yes, such as `outcome: {%s: [%s]}`", w.ask.Method, name, some, words.List(names), name, names[0])
}

func mapOf(set map[string]bool) map[string]string {
	out := map[string]string{}
	for k := range set {
		out[k] = k
	}
	return out
}

// yesWhen is the outcome that is a condition. A row that lacks a value which
// the condition tests has no outcome.
func (w *work) yesWhen(cond table.Condition) (*table.Column, error) {
	hit, err := w.matches("outcome", cond, w.table)
	if err != nil {
		return nil, err
	}
	out := table.NewNumber(outcomeColumn, "", w.table.Rows())
	out.Label = w.conditionWords(cond)
	unknown, _, err := w.unknown("outcome", cond)
	if err != nil {
		return nil, err
	}
	for i, h := range hit {
		if unknown[i] {
			continue
		}
		out.SetNum(i, 0)
		if h {
			out.SetNum(i, 1)
		}
	}
	return out, nil
}

// numbersFor are the values of a column of numbers, named by a key, in the
// rows used; nil where none is named.
func (w *work) numbersFor(t *table.Table, rows []int, key, name string, good func(float64) bool, must string) ([]float64, error) {
	if name == "" {
		return nil, nil
	}
	c, _ := t.Col(name)
	if c.Kind != table.Number {
		return nil, w.at(key, name, notebook.CodeImpossible, "%s holds no numbers, which `%s` needs", name, key)
	}
	out, bad := make([]float64, len(rows)), 0
	for k, i := range rows {
		out[k] = c.Num[i]
		if !good(out[k]) {
			bad++
		}
	}
	if bad > 0 {
		one, many := w.nouns()
		return nil, w.at(key, name, notebook.CodeImpossible, "%s, and %s of %s is not; leave such %s out with keep", must, w.columnLabel(name), w.n(bad, one, many), many)
	}
	return out, nil
}

// rowWeights are the weights of the rows used.
func (w *work) rowWeights(t *table.Table, rows []int) ([]float64, error) {
	if w.ask.Weights != "" && w.public() {
		return nil, w.at("weights", w.ask.Weights, notebook.CodeImpossible, "this report hides small counts, and weights would pass for counts; answer this in a report for the lab alone")
	}
	return w.numbersFor(t, rows, "weights", w.ask.Weights, func(v float64) bool { return v > 0 && v <= 1e6 && v == math.Trunc(v) },
		"a weight says for how many equal rows one stands, a whole number from 1 to a million")
}

// rowOffsets are the offsets of the rows used.
func (w *work) rowOffsets(t *table.Table, rows []int) ([]float64, error) {
	return w.numbersFor(t, rows, "offset", w.ask.Offset, func(v float64) bool { return math.Abs(v) < 100 },
		"an offset is added to the logarithm of the odds, so that it is small")
}

// rowClusters numbers the clusters of the rows used, and names what they are;
// nil where nobody repeats.
func (w *work) rowClusters(t *table.Table, d *design.Design, name string) ([]int, string) {
	c, ok := t.Col(name)
	if name == "" || !ok {
		return nil, ""
	}
	codes := codesOf(c, d.Rows)
	switch n := distinct(codes); {
	case n == len(codes):
		return nil, ""
	case n < 2:
		w.caution("one-cluster", "All rows are of one %s, so the errors cannot allow for repeated measurement.", plainName(name))
		return nil, ""
	default:
		return codes, plainName(name)
	}
}

// repeatsIgnored warns where several rows of one person are taken as
// independent.
func (w *work) repeatsIgnored(t *table.Table, d *design.Design, why string) {
	c, ok := t.Col("person")
	if !ok {
		return
	}
	codes := codesOf(c, d.Rows)
	if n := distinct(codes); n < len(codes) {
		_, many := w.nouns()
		w.caution("not-clustered", "Some persons have several %s here, which are taken as independent %s. The intervals may be too narrow.", many, why)
	}
}

// percentPoints prints a difference of shares in percentage points.
func percentPoints(v, low, high float64) string {
	return words.With(words.Signed(100*v, 100*low, 100*high), "percentage point", "percentage points")
}
