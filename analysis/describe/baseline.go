// Package describe makes the table that opens a study: who and what was
// analysed, overall and by group, with the differences between the groups on
// a scale that does not depend on how many rows there are.
package describe

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strconv"

	"plybook/analysis/stats"
	"plybook/analysis/table"
)

// Options are the choices of a baseline table.
type Options struct {
	// By is the column that makes the groups; "" for none.
	By string
}

// MaxGroups is the largest number of groups that a table has columns for.
const MaxGroups = 12

// Errors of this package; they are wrapped with the column concerned.
var (
	// ErrNoColumn reports a column that the table does not have.
	ErrNoColumn = errors.New("there is no such column")
	// ErrGroups reports a column with too many values to make groups of.
	ErrGroups = errors.New("too many different values to make groups of")
	// ErrTooLarge reports values beyond 1e150, whose squares cannot be held.
	ErrTooLarge = errors.New("a value is too large to be true")
)

// Baseline is a finished baseline table.
type Baseline struct {
	Rows    int
	By      string
	Groups  []Group // in the order of their names, numbers in the order of size
	NoGroup int     // rows whose group is missing: in Overall only
	// Variables are in the order asked.
	Variables []Variable
	Warnings  []stats.Warning
}

// Group is a group of rows.
type Group struct {
	Name string
	Rows int
}

// Variable is a column described.
type Variable struct {
	Column string
	Label  string // empty: the column's name
	Unit   string
	Kind   table.Kind
	// Overall and Groups describe the values; Groups follows Baseline.Groups.
	Overall Summary
	Groups  []Summary
	// Difference is the largest standardised difference between two groups;
	// nil without groups or where none could be worked out. Differences are
	// those of all pairs that could.
	Difference  *Difference
	Differences []Difference
}

// Summary describes the values of a column in a group. For text columns
// Levels is filled, in the same order in every group; for numbers and dates
// (days since 1970-01-01) the rest.
type Summary struct {
	N       int // rows with a value
	Missing int
	Levels  []LevelCount

	HasValues        bool // N > 0
	Mean, Median     float64
	Q1, Q3, Min, Max float64 // quartiles as by Quantile
	SD               float64 // divisor N-1
	HasSD            bool    // N > 1
}

// LevelCount is how often a value occurs. Percent is of the rows with a
// value; 0 where there are none.
type LevelCount struct {
	Value   string
	Count   int
	Percent float64
}

// Difference is the absolute standardised difference between two groups.
type Difference struct {
	A, B  string
	Value float64
}

// New describes columns of a table. Each column is described once for every
// row that has a value, whatever the others have.
//
// Errors: stats.ErrNoRows, ErrNoColumn, ErrGroups, ErrTooLarge.
func New(t *table.Table, columns []string, o Options) (*Baseline, error) {
	if t.Rows() == 0 {
		return nil, fmt.Errorf("describing %s: %w", t.Name, stats.ErrNoRows)
	}
	out := &Baseline{Rows: t.Rows(), By: o.By}
	rows, err := out.split(t, o.By)
	if err != nil {
		return nil, fmt.Errorf("describing %s by %s: %w", t.Name, o.By, err)
	}
	for _, name := range columns {
		c, ok := t.Col(name)
		if !ok {
			return nil, fmt.Errorf("describing %s: column %s: %w", t.Name, name, ErrNoColumn)
		}
		for i := range c.Num {
			if !c.Missing[i] && math.Abs(c.Num[i]) > 1e150 {
				return nil, fmt.Errorf("describing %s: column %s, row %d: %w", t.Name, name, i+1, ErrTooLarge)
			}
		}
		out.Variables = append(out.Variables, out.describe(c, rows))
	}
	return out, nil
}

// split finds the groups and the rows of each.
func (b *Baseline) split(t *table.Table, by string) ([][]int, error) {
	if by == "" {
		return nil, nil
	}
	c, ok := t.Col(by)
	if !ok {
		return nil, ErrNoColumn
	}
	members := map[string][]int{}
	value := map[string]float64{}
	for i := range c.Missing {
		if c.Missing[i] {
			b.NoGroup++
			continue
		}
		name := ""
		if c.Kind == table.Text {
			name = c.Text[i]
		} else {
			name = strconv.FormatFloat(c.Num[i], 'f', -1, 64)
			value[name] = c.Num[i]
		}
		members[name] = append(members[name], i)
	}
	if len(members) > MaxGroups {
		return nil, fmt.Errorf("%d values, at most %d: %w", len(members), MaxGroups, ErrGroups)
	}
	for name, rows := range members {
		b.Groups = append(b.Groups, Group{Name: name, Rows: len(rows)})
	}
	sort.Slice(b.Groups, func(i, j int) bool {
		x, y := b.Groups[i].Name, b.Groups[j].Name
		if c.Kind != table.Text {
			return value[x] < value[y]
		}
		return x < y
	})
	rows := make([][]int, len(b.Groups))
	for i, g := range b.Groups {
		rows[i] = members[g.Name]
		if g.Rows < 5 {
			b.warn("small-group", g.Name, "The group %s has %d rows only.", g.Name, g.Rows)
		}
	}
	if b.NoGroup > 0 {
		b.warn("no-group", by, "%d of %d rows have no value of %s: they are counted overall and in no group.", b.NoGroup, b.Rows, by)
	}
	return rows, nil
}

func (b *Baseline) describe(c *table.Column, groups [][]int) Variable {
	v := Variable{Column: c.Name, Label: c.Label, Unit: c.Unit, Kind: c.Kind}
	all := make([]int, c.Len())
	for i := range all {
		all[i] = i
	}
	var levels []string
	if c.Kind == table.Text {
		for _, l := range c.Levels() {
			levels = append(levels, l.Value)
		}
	}
	v.Overall = summarise(c, all, levels)
	for _, rows := range groups {
		v.Groups = append(v.Groups, summarise(c, rows, levels))
	}
	if v.Overall.N == 0 {
		b.warn("all-missing", c.Name, "%s is missing in all rows.", c.Name)
		return v
	}
	separate := false
	for i := range v.Groups {
		for j := i + 1; j < len(v.Groups); j++ {
			d, ok := standardised(c.Kind, v.Groups[i], v.Groups[j])
			if !ok {
				separate = true
				continue
			}
			v.Differences = append(v.Differences, Difference{b.Groups[i].Name, b.Groups[j].Name, d})
		}
	}
	for i, d := range v.Differences {
		if v.Difference == nil || d.Value > v.Difference.Value {
			v.Difference = &v.Differences[i]
		}
	}
	if separate {
		b.warn("no-difference", c.Name, "For %s no standardised difference could be worked out between some groups: "+
			"they have too few values, or no value in common.", c.Name)
	}
	return v
}

// summarise describes the values of a column at the given rows.
func summarise(c *table.Column, rows []int, levels []string) Summary {
	var s Summary
	if c.Kind == table.Text {
		count := map[string]int{}
		for _, i := range rows {
			if c.Missing[i] {
				s.Missing++
				continue
			}
			s.N++
			count[c.Text[i]]++
		}
		for _, l := range levels {
			lc := LevelCount{Value: l, Count: count[l]}
			if s.N > 0 {
				lc.Percent = 100 * float64(lc.Count) / float64(s.N)
			}
			s.Levels = append(s.Levels, lc)
		}
		s.HasValues = s.N > 0
		return s
	}
	var x []float64
	for _, i := range rows {
		if c.Missing[i] {
			s.Missing++
			continue
		}
		x = append(x, c.Num[i])
	}
	s.N = len(x)
	if s.N == 0 {
		return s
	}
	s.HasValues = true
	sort.Float64s(x)
	s.Mean, s.SD = meanSD(x)
	s.HasSD = s.N > 1
	s.Min, s.Max = x[0], x[s.N-1]
	s.Q1, s.Median, s.Q3 = Quantile(x, 0.25), Quantile(x, 0.5), Quantile(x, 0.75)
	return s
}

// meanSD returns the mean and the standard deviation with divisor n-1, in two
// passes so that a large mean does not cost digits. SD is 0 for one value.
func meanSD(x []float64) (mean, sd float64) {
	shift := x[0]
	var sum float64
	for _, v := range x {
		sum += v - shift
	}
	mean = shift + sum/float64(len(x))
	if len(x) < 2 {
		return mean, 0
	}
	var ss, comp float64
	for _, v := range x {
		d := v - mean
		ss += d * d
		comp += d
	}
	ss -= comp * comp / float64(len(x))
	return mean, math.Sqrt(math.Max(0, ss) / float64(len(x)-1))
}

// Quantile is the quantile of sorted values by linear interpolation between
// the order statistics at 1 + (n-1)p: type 7 of Hyndman RJ, Fan Y. Sample
// quantiles in statistical packages. Am Stat 1996;50:361-365. sorted must not
// be empty; p is held within 0 and 1.
func Quantile(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * math.Min(1, math.Max(0, p))
	lo := int(math.Floor(h))
	// A position within rounding of an order statistic is that statistic.
	if r := math.Round(h); math.Abs(h-r) < 4e-15*math.Max(1, r) {
		return sorted[int(r)]
	}
	return sorted[lo] + (h-float64(lo))*(sorted[lo+1]-sorted[lo])
}

func (b *Baseline) warn(code, about, format string, args ...any) {
	b.Warnings = append(b.Warnings, stats.Warning{Code: code, About: about, Text: fmt.Sprintf(format, args...)})
}
