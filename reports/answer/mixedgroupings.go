package answer

import (
	"errors"
	"fmt"

	"plybook/analysis/mixed"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// grouping is a column whose values have random effects of their own.
type grouping struct {
	column string
	noun   string   // what one is, in words: "limb"
	names  []string // by their number in the model
	hidden bool     // single ones may not be shown
}

// staffNouns are what the columns that name staff name.
var staffNouns = map[string]string{"cast_by": "caster", "shaped_by": "shaper", "seen_by": "clinician", "measured_by": "measurer", "formed_by": "former"}

// nounOf is what a value of a column of groups is.
func nounOf(column string) string {
	if n, ok := staffNouns[column]; ok {
		return n
	}
	return plainName(column)
}

// group makes the groupings of the model: what `within`, `nested_in` and
// `crossed` name, in the order of the fit.
func (j *mixedJob) group() error {
	d := &j.data
	add := func(key, column string) ([]int, error) {
		c, err := j.column(key, column)
		if err != nil {
			return nil, err
		}
		if c.Kind == table.Date {
			return nil, j.at(key, column, notebook.CodeImpossible, "%s is a date and cannot group the rows", column)
		}
		names, codes := namesOf(c, j.design.Rows)
		g := grouping{column: column, noun: nounOf(column), names: names, hidden: !j.ctx.Names.Show || staffColumns[column] && !j.ctx.Names.Staff}
		if len(names) == 1 && key != "within" {
			return nil, j.at(key, column, "one-group", "all rows are of one %s, so that nothing tells how %ss differ; leave out `%s`", g.noun, g.noun, key)
		}
		j.groupings = append(j.groupings, g)
		return codes, nil
	}
	codes, err := add("within", j.within)
	if err != nil {
		return err
	}
	if len(j.groupings[0].names) == 1 {
		return j.at("within", j.within, "one-group", "all rows are of one %s, and a mixed model tells apart how several differ; use linear", j.one)
	}
	d.Group, d.GroupName = codes, j.one
	if n := j.ask.NestedIn; n != "" {
		codes, err := add("nested_in", n)
		if err != nil {
			return err
		}
		d.Above = &mixed.Level{Name: nounOf(n), Labels: codes}
		d.Above.Z, d.Above.ZNames = j.slopes(j.ask.NestedSlopes)
	}
	for _, n := range j.ask.Crossed {
		codes, err := add("crossed", n)
		if err != nil {
			return err
		}
		d.Crossed = append(d.Crossed, mixed.Level{Name: nounOf(n), Labels: codes})
	}
	if n := j.ask.ScatterBy; n != "" {
		c, err := j.column("scatter_by", n)
		if err != nil {
			return err
		}
		if c.Kind == table.Date || c.Kind == table.Number {
			return j.at("scatter_by", n, notebook.CodeImpossible, "%s is a %s and has no categories that could scatter by different amounts", n, kindWords(c.Kind))
		}
		if j.kinds, d.Spread = namesOf(c, j.design.Rows); len(j.kinds) == 1 {
			return j.at("scatter_by", n, "one-group", "all rows have one %s, so that nothing tells how far others scatter; leave out `scatter_by`", j.columnLabel(n))
		}
		for k, name := range j.kinds {
			rows := 0
			for _, v := range d.Spread {
				if v == k {
					rows++
				}
			}
			if rows < fewestOfKind {
				return j.at("scatter_by", n, "few-rows", "only %s of %s %s: too few to tell how far they scatter; pool such categories or leave them out with `keep`", j.rowsWords(rows), j.columnLabel(n), name)
			}
		}
	}
	return nil
}

// fewestOfKind is how many rows a kind must have so that its scatter can be
// told at all: with 5 the 95% interval of a standard deviation reaches to
// nearly three times the estimate, by the chi-square distribution.
const fewestOfKind = 5

func (j *mixedJob) rowsWords(n int) string {
	one, many := j.nouns()
	return j.n(n, one, many) + plural(n, " is", " are")
}

// slopes are the columns of random slopes over the rows used.
func (j *mixedJob) slopes(names []string) (z [][]float64, of []string) {
	for _, s := range names {
		c, _ := j.table.Col(s)
		v := make([]float64, len(j.design.Rows))
		for k, i := range j.design.Rows {
			v[k] = c.Num[i]
		}
		z, of = append(z, v), append(of, s)
	}
	return z, of
}

// groupingFault is a fault of groupings in words, nil if it is another.
func (j *mixedJob) groupingFault(err error) error {
	at, why := j.ask.Pos, ""
	key := func(k string) { at = j.ask.KeyPos[k] }
	switch {
	case errors.Is(err, mixed.ErrNotNested):
		key("nested_in")
		why = fmt.Sprintf("some %ss have rows of several %ss, so that they do not lie in one; name %s in `crossed`", j.one, nounOf(j.ask.NestedIn), j.ask.NestedIn)
	case errors.Is(err, mixed.ErrSameGrouping):
		key("crossed")
		if j.ask.NestedIn != "" {
			key("nested_in")
		}
		why = fmt.Sprintf("two of the columns that group the rows part them alike (each %s has one %s, say), so that what differs between the ones and the others cannot be told apart; leave one of them out", nounOf(j.second()), j.one)
	case errors.Is(err, mixed.ErrKindWithoutScatter):
		key("scatter_by")
		why = fmt.Sprintf("the rows of one %s are so few that the model passes through them and no scatter is left, so that how much they scatter cannot be told; leave `scatter_by` out, or keep only rows of those who have more", nounOf(j.ask.ScatterBy))
	case errors.Is(err, mixed.ErrNoneAlike):
		what := j.one
		if len(j.groupings) > 1 {
			what = "group of a grouping"
		}
		why = fmt.Sprintf("the columns of the model tell every %s from every other, as where each has a category of its own, so that nothing shows how far they differ beyond that; leave out such a column, or take linear", what)
	default:
		return nil
	}
	return &notebook.Error{Pos: at, Code: "groupings", Text: why}
}

// second is the column of the second grouping.
func (j *mixedJob) second() string {
	if j.ask.NestedIn != "" {
		return j.ask.NestedIn
	}
	return j.ask.Crossed[0]
}

// column of a grouping of the fit, by its noun.
func (j *mixedJob) columnOf(noun string) string {
	for _, g := range j.groupings {
		if g.noun == noun {
			return g.column
		}
	}
	return noun
}
