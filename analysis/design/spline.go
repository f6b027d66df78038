package design

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/table"
)

// The fewest and the most knots of a spline.
const (
	MinKnots = 3
	MaxKnots = 7
)

// knotPlaces are the quantiles at which the knots of a restricted cubic
// spline stand, by their number (Harrell FE, Regression modeling strategies,
// 2001, table 2.3).
var knotPlaces = map[int][]float64{
	3: {0.10, 0.50, 0.90},
	4: {0.05, 0.35, 0.65, 0.95},
	5: {0.05, 0.275, 0.50, 0.725, 0.95},
	6: {0.05, 0.23, 0.41, 0.59, 0.77, 0.95},
	7: {0.025, 0.1833, 0.3417, 0.50, 0.6583, 0.8167, 0.975},
}

// Spline is a restricted cubic spline: cubic between its knots, straight
// before the first and after the last, smooth where they meet.
type Spline struct {
	Knots  []float64 // ascending
	Median float64   // of the values that it was made for
}

// NewSpline places so many knots at the usual quantiles of values (linear
// interpolation between order statistics). It is an error where the values
// are fewer different ones than knots, or two knots fall on one value.
func NewSpline(values []float64, knots int) (*Spline, error) {
	places, ok := knotPlaces[knots]
	if !ok {
		return nil, fmt.Errorf("a spline has %d to %d knots, not %d", MinKnots, MaxKnots, knots)
	}
	if len(values) == 0 {
		return nil, fmt.Errorf("there are no values to place knots among")
	}
	sorted := slices.Clone(values)
	sort.Float64s(sorted)
	if n := len(slices.Compact(slices.Clone(sorted))); n < knots {
		return nil, fmt.Errorf("there are %d, and %d knots need as many at the least", n, knots)
	}
	s := &Spline{Median: quantile(sorted, 0.5)}
	for _, p := range places {
		s.Knots = append(s.Knots, quantile(sorted, p))
	}
	for k := 1; k < len(s.Knots); k++ {
		if !(s.Knots[k] > s.Knots[k-1]) {
			return nil, fmt.Errorf("%d knots would fall on %s, and two on one value make no spline", knots, shortList(s.Knots))
		}
	}
	return s, nil
}

// quantile interpolates between the order statistics around 1 + (n-1)p.
func quantile(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * p
	k := int(math.Floor(h))
	if k >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[k] + (h-float64(k))*(sorted[k+1]-sorted[k])
}

func shortList(xs []float64) string {
	var out []string
	for _, x := range xs {
		out = append(out, rounded(x))
	}
	return strings.Join(out, ", ")
}

// Basis is the value itself and one number for each knot but two: the
// truncated cubes of the knots, made straight beyond the outer ones and
// divided by the squared distance of these, so that all have the unit of the
// value (Harrell 2001, section 2.4.5).
func (s *Spline) Basis(x float64) []float64 {
	t := s.Knots
	k := len(t)
	last, before := t[k-1], t[k-2]
	norm := (last - t[0]) * (last - t[0])
	out := []float64{x}
	for j := range k - 2 {
		v := cube(x-t[j]) - cube(x-before)*(last-t[j])/(last-before) + cube(x-last)*(before-t[j])/(last-before)
		out = append(out, v/norm)
	}
	return out
}

// cube is the third power of what is above 0.
func cube(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return x * x * x
}

// addSpline adds the pieces of a number column.
func (d *Design) addSpline(c *table.Column, label string, term, knots int) error {
	values := make([]float64, len(d.Rows))
	for j, i := range d.Rows {
		values[j] = c.Num[i]
	}
	if len(values) == 0 {
		d.X = append(d.X, nil)
		d.Columns = append(d.Columns, Column{Term: c.Name, Label: label, Unit: c.Unit})
		d.Term = append(d.Term, term)
		d.Cats, d.Counts = append(d.Cats, nil), append(d.Counts, nil)
		return nil
	}
	lo, hi := slices.Min(values), slices.Max(values)
	if lo == hi {
		return termErr(c.Name, "%s is %s in every row and so can explain nothing", c.Name, rounded(lo))
	}
	s, err := NewSpline(values, knots)
	if err != nil {
		return termErr(c.Name, "%s takes too few different values for its spline: %v; use fewer knots, or leave it out of `spline`", c.Name, err)
	}
	if d.Splines == nil {
		d.Splines = map[string]*Spline{}
	}
	d.Splines[c.Name] = s
	pieces := make([][]float64, knots-1)
	for p := range pieces {
		pieces[p] = make([]float64, len(values))
	}
	for r, x := range values {
		for p, v := range s.Basis(x) {
			pieces[p][r] = v
		}
	}
	for p, x := range pieces {
		d.X = append(d.X, x)
		d.Columns = append(d.Columns, Column{Term: c.Name, Label: label, Unit: c.Unit, Piece: p + 1})
		d.Term = append(d.Term, term)
	}
	d.Cats, d.Counts = append(d.Cats, nil), append(d.Counts, nil)
	return nil
}

// ColumnsOf are the indices of the columns of a term.
func (d *Design) ColumnsOf(term string) []int {
	var out []int
	for j, c := range d.Columns {
		if c.Term == term {
			out = append(out, j)
		}
	}
	return out
}

// SetNumber puts the value of a number column into x, a row of the design:
// as it is, or as the pieces of its spline. Products are left as they are.
func (d *Design) SetNumber(x []float64, term string, value float64) {
	at := d.ColumnsOf(term)
	s := d.Splines[term]
	if s == nil {
		for _, j := range at {
			x[j] = value
		}
		return
	}
	for p, v := range s.Basis(value) {
		x[at[p]] = v
	}
}
