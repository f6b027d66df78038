package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// Stretch is the part of a row that lies within one period of time.
type Stretch struct {
	Row         int
	Period      int // from 0
	Entry, Time float64
	Event       bool
}

// SplitRows cuts rows, each at risk over (entry, time], at the times cuts
// (ascending, each above 0), so that effects can be let differ between the
// periods: a stretch is at risk up to and including the time at which its
// period ends, and only the last of a row has its event. A row that never
// reaches a period has no stretch there. entry nil: all 0. The rows tell as
// much as before: no likelihood changes by being cut (Therneau and Grambsch
// 2000, Modeling survival data, section 6.5).
func SplitRows(entry, time []float64, event []bool, cuts []float64) ([]Stretch, error) {
	if len(event) != len(time) {
		return nil, &RowError{-1, fmt.Sprintf("%d times but %d events", len(time), len(event))}
	}
	if err := checkLengths(len(time), len(entry), 0, 0); err != nil {
		return nil, err
	}
	for k, c := range cuts {
		if !finite(c) || c <= 0 || k > 0 && c <= cuts[k-1] {
			return nil, fmt.Errorf("splitting rows: the times %v do not ascend from above 0", cuts)
		}
	}
	var out []Stretch
	for i, end := range time {
		from := 0.0
		if len(entry) > 0 {
			from = entry[i]
		}
		if err := checkRow(i, from, end, 1); err != nil {
			return nil, fmt.Errorf("splitting rows: %w", err)
		}
		p, _ := slices.BinarySearch(cuts, from)
		if p < len(cuts) && cuts[p] == from && from > 0 { // entered as the period ended
			p++
		}
		for ; p < len(cuts) && cuts[p] < end; p++ {
			out = append(out, Stretch{i, p, from, cuts[p], false})
			from = cuts[p]
		}
		out = append(out, Stretch{i, p, from, end, event[i]})
	}
	return out, nil
}

// ErrNotCompared reports fewer than two groups of columns, or groups of
// different sizes.
var ErrNotCompared = errors.New("the groups of columns cannot be compared")

// SameTest tests that the columns of each group have the coefficients of
// those of the first, place by place: with b the differences and V their
// covariance, robust where clustered, b'V^-1 b on as many degrees of freedom
// as there are differences (Wald).
func (c *Cox) SameTest(name string, groups [][]int) (stats.Test, error) {
	if len(groups) < 2 || len(groups[0]) == 0 {
		return stats.Test{}, fmt.Errorf("%s: %w", name, ErrNotCompared)
	}
	var one, other []int
	for _, g := range groups[1:] {
		if len(g) != len(groups[0]) {
			return stats.Test{}, fmt.Errorf("%s: %w", name, ErrNotCompared)
		}
		one, other = append(one, groups[0]...), append(other, g...)
	}
	for _, j := range slices.Concat(one, other) {
		if j < 0 || j >= len(c.Coef) {
			return stats.Test{}, fmt.Errorf("%s: there is no column %d", name, j)
		}
	}
	v, all := square(len(one)), c.Covariance()
	u := make([]float64, len(one))
	for a := range one {
		u[a] = c.Coef[other[a]] - c.Coef[one[a]]
		for b := range one {
			v[a][b] = all[other[a]][other[b]] - all[other[a]][one[b]] - all[one[a]][other[b]] + all[one[a]][one[b]]
		}
	}
	x, ok := quadratic(v, u)
	if !ok {
		return stats.Test{}, fmt.Errorf("%s: %w", name, stats.ErrSingular)
	}
	return chiSquare(name, x, float64(len(one))), nil
}

// Pooled is the mean of some coefficients with the weights that make its
// error least, V^-1 1 / 1'V^-1 1 with V their covariance, robust where
// clustered (Wei, Lin and Weissfeld 1989, J Am Stat Assoc 84:1065, section 3).
// Weights can be below 0 where coefficients go together closely.
func (c *Cox) Pooled(columns []int) (estimate, stdErr float64, weights []float64, err error) {
	v, ones := square(len(columns)), make([]float64, len(columns))
	all := c.Covariance()
	for a, i := range columns {
		if i < 0 || i >= len(c.Coef) {
			return 0, 0, nil, fmt.Errorf("pooled estimate: there is no column %d", i)
		}
		ones[a] = 1
		for b, j := range columns {
			if j >= 0 && j < len(c.Coef) {
				v[a][b] = all[i][j]
			}
		}
	}
	weights, total, ok := solve(v, ones)
	if !ok || !(total > 0) || math.IsInf(total, 0) {
		return 0, 0, nil, fmt.Errorf("pooled estimate: %w", stats.ErrSingular)
	}
	for a, i := range columns {
		weights[a] /= total
		estimate += weights[a] * c.Coef[i]
	}
	return estimate, math.Sqrt(1 / total), weights, nil
}
