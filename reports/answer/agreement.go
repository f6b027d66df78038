package answer

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/agreement"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// read is one reading of a thing: the row that holds it.
type read struct {
	level int // of `ways`
	row   int
}

// remeasured are the things that were measured in more ways than one.
type remeasured struct {
	levels  []string
	things  [][]read // by way, one reading each
	alone   int      // things measured in one way only
	again   int      // further readings of a case in the same way, not used
	unknown int      // readings that do not say what was measured, or how
	persons []int    // of each thing; nil where everybody counts once
	cluster string   // what persons are, "" where nil
	many    int      // how many persons there are
}

// agreementOf answers how far measuring again gives the same.
func agreementOf(w *work) error {
	y, err := w.column("outcome", w.ask.Outcome)
	if err != nil {
		return err
	}
	if y.Kind == table.Date {
		return w.at("outcome", w.ask.Outcome, notebook.CodeImpossible, "agreement is of numbers or ratings, and %s is a date", label(y))
	}
	m, err := w.remeasured(y)
	if err != nil {
		return err
	}
	if len(m.things) == 0 {
		one, _ := w.nouns()
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-pairs", Text: fmt.Sprintf("no %s of one thing was recorded in two ways: for no two rows are %s the same and %s different%s", one, w.sameWords(), w.ask.Ways, w.unseenHint())}
	}
	for _, t := range m.things {
		w.Answer.Rows += len(t)
	}
	if err := w.tooFew(len(m.things)); err != nil {
		return err
	}
	if y.Kind == table.Text || w.ask.Weighting != "" {
		return w.ratings(y, m)
	}
	if len(w.ask.Order) > 0 {
		return w.at("order", w.ask.Order[0], notebook.CodeImpossible, "`order` is of ratings; %s is a number, and is rated in order with `weighting`", label(y))
	}
	return w.measured(y, m)
}

// sameColumns are those that tell what was measured.
func (w *work) sameColumns() ([]*table.Column, error) {
	names := w.ask.Same
	if len(names) == 0 {
		switch w.table.Name {
		case "stations":
			names = []string{"limb", "date", "landmark", "over"}
			if w.ask.Outcome != "volume_ml" {
				names = append(names, "station_mm")
			}
		case "visits":
			names = []string{"socket", "date"}
		default:
			return nil, &notebook.Error{Pos: w.ask.Pos, Code: notebook.CodeMissingKey, Text: fmt.Sprintf("agreement on %s needs `same`, the columns that tell what was measured again", w.table.Name)}
		}
	}
	var out []*table.Column
	for _, n := range names {
		if n == w.ask.Ways || n == w.ask.Outcome {
			return nil, w.at("same", n, notebook.CodeImpossible, "%s cannot be the same and also what differs", n)
		}
		if w.ask.Same == nil && !w.table.Has(n) {
			continue // a lab that keeps no such column
		}
		c, err := w.column("same", n)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	if c, ok := w.table.Col("measured_by"); ok && w.ask.Ways == "repeat" && w.ask.Same == nil {
		out = append(out, c)
	}
	return out, nil
}

// remeasured puts the rows together that are of one thing.
func (w *work) remeasured(y *table.Column) (*remeasured, error) {
	by, err := w.column("ways", w.ask.Ways)
	if err != nil {
		return nil, err
	}
	if by.Name == y.Name {
		return nil, w.at("ways", w.ask.Ways, notebook.CodeImpossible, "%s is what is measured; `ways` is who or what measured it", by.Name)
	}
	same, err := w.sameColumns()
	if err != nil {
		return nil, err
	}
	var also []string
	cluster, err := w.linearCluster(&also)
	if err != nil {
		return nil, err
	}
	m := &remeasured{}
	rows := slices.Clone(w.rows)
	if c, ok := w.table.Col("repeat"); ok && by.Name != "repeat" {
		slices.SortStableFunc(rows, func(a, b int) int { return cmp.Compare(valueText(c, a), valueText(c, b)) })
	}
	index := map[string]int{}
	var all [][]int
	levels := map[string]bool{}
	for _, i := range rows {
		if y.Missing[i] {
			continue
		}
		how := valueText(by, i)
		if by.Missing[i] {
			if by.Name != "repeat" {
				m.unknown++
				continue
			}
			how = "1" // a lab that numbers only the second
		}
		key, known := thingOf(same, i)
		if !known {
			m.unknown++
			continue
		}
		at, ok := index[key]
		if !ok {
			at = len(all)
			index[key] = at
			all = append(all, nil)
		}
		levels[how] = true
		all[at] = append(all[at], i)
	}
	for l := range levels {
		m.levels = append(m.levels, l)
	}
	slices.SortFunc(m.levels, byNumber)
	m.gather(all, by)
	used := map[int]bool{}
	for _, t := range m.things {
		for _, r := range t {
			used[r.level] = true
		}
	}
	m.only(used)
	if cluster == "" || len(m.things) == 0 {
		return m, nil
	}
	c, _ := w.table.Col(cluster)
	var of []int
	for _, t := range m.things {
		of = append(of, t[0].row)
	}
	codes := codesOf(c, of)
	if n := distinct(codes); n < len(codes) {
		m.persons, m.cluster, m.many = codes, cluster, n
	}
	return m, nil
}

// thingOf is what a row is a reading of, and whether it says so: places and
// days must be known, words may be left out.
func thingOf(same []*table.Column, i int) (string, bool) {
	var key strings.Builder
	for _, c := range same {
		if c.Missing[i] && (c.Kind != table.Text || identifiers[c.Name]) {
			return "", false
		}
		if !c.Missing[i] {
			key.WriteString(valueText(c, i))
		}
		key.WriteByte(0)
	}
	return key.String(), true
}

// byNumber sorts names, those that are numbers by size.
func byNumber(a, b string) int {
	if len(a) != len(b) && isDigits(a) && isDigits(b) {
		return cmp.Compare(len(a), len(b))
	}
	return cmp.Compare(a, b)
}

func isDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// gather keeps the things read in two ways or more, one reading a way.
func (m *remeasured) gather(all [][]int, by *table.Column) {
	for _, rows := range all {
		seen := map[int]bool{}
		var t []read
		for _, i := range rows {
			how := "1"
			if !by.Missing[i] {
				how = valueText(by, i)
			}
			l, _ := slices.BinarySearchFunc(m.levels, how, byNumber)
			if seen[l] {
				m.again++
				continue
			}
			seen[l] = true
			t = append(t, read{l, i})
		}
		if len(t) < 2 {
			m.alone++
			continue
		}
		slices.SortFunc(t, func(a, b read) int { return cmp.Compare(a.level, b.level) })
		m.things = append(m.things, t)
	}
}

// only drops the levels that no thing read twice has.
func (m *remeasured) only(used map[int]bool) {
	to := map[int]int{}
	var levels []string
	for l, name := range m.levels {
		if used[l] {
			to[l] = len(levels)
			levels = append(levels, name)
		}
	}
	m.levels = levels
	for _, t := range m.things {
		for k := range t {
			t[k].level = to[t[k].level]
		}
	}
}

// complete are the readings of the things read in every way.
func (m *remeasured) complete(value func(row int) float64) (readings [][]float64, of []int) {
	for k, t := range m.things {
		if len(t) < len(m.levels) {
			continue
		}
		row := make([]float64, len(t))
		for j, r := range t {
			row[j] = value(r.row)
		}
		readings, of = append(readings, row), append(of, k)
	}
	return readings, of
}

// agreementError says what data cannot tell of agreement.
func (w *work) agreementError(err error, y *table.Column) error {
	switch {
	case errors.Is(err, agreement.ErrFewPairs):
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-rows", Text: "fewer than three cases, of three persons where they are looked at by person, were measured in two ways: nothing can be said of how far the ways agree"}
	case errors.Is(err, agreement.ErrNoSpread):
		return w.at("outcome", w.ask.Outcome, "no-variation", "every reading of %s is the same, so there is nothing to compare", label(y))
	case errors.Is(err, agreement.ErrOneRating):
		return w.at("outcome", w.ask.Outcome, "no-variation", "every rating of %s is the same, so that agreement by chance alone would be complete", label(y))
	}
	return err
}

// readings are those of each thing, in percent of their mean where that is
// asked for.
func (m *remeasured) readings(y *table.Column, percent bool) [][]float64 {
	out := make([][]float64, len(m.things))
	for k, t := range m.things {
		mean := 0.0
		for _, r := range t {
			mean += y.Num[r.row] / float64(len(t))
		}
		for _, r := range t {
			v := y.Num[r.row]
			if percent {
				v *= 100 / mean
			}
			out[k] = append(out[k], v)
		}
	}
	return out
}

// resampled draws persons with replacement, so that several things of one
// person are not taken for as many; without persons, nothing is done.
func (w *work) resampled(m *remeasured, e *agreement.Estimate, of []int, stat func(things []int) float64) {
	if m.persons == nil || math.IsNaN(e.Value) {
		return
	}
	persons := make([]int, len(of))
	for i, k := range of {
		persons[i] = m.persons[k]
	}
	e.Low, e.High = agreement.Resample(persons, agreement.Draws, uint64(w.ask.Seed), w.ask.Confidence, stat)
}
