package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// LevelShares are the shares of rows in each level, with their intervals.
type LevelShares struct {
	Levels []Average // by level
	Above  []Average // by cut: in a level above it
	Mean   Average   // of the values given to the levels
}

// Standardise averages the shares of the levels that the model expects of the
// rows, with the columns x in place of their own (one slice per column of
// OrdinalData.X), and the mean of the values that the levels have. The error is
// that of the coefficients alone, by the delta method; intervals of shares are
// made on the scale of log odds.
func (m *Ordinal) Standardise(x [][]float64, values []float64) (*LevelShares, error) {
	g := m.model
	if len(x) != len(g.data.X) {
		return nil, fmt.Errorf("%d columns for %d: %w", len(x), len(g.data.X), ErrInput)
	}
	for j, c := range x {
		if len(c) != len(g.w) {
			return nil, fmt.Errorf("column %s has %d rows, not %d: %w", g.data.Names[j], len(c), len(g.w), ErrInput)
		}
	}
	return m.shares(x, g.w, values)
}

// Predict are the shares of the levels where the columns have the values x.
func (m *Ordinal) Predict(x []float64, values []float64) (*LevelShares, error) {
	if len(x) != len(m.model.data.X) {
		return nil, fmt.Errorf("%d values for %d columns: %w", len(x), len(m.model.data.X), ErrInput)
	}
	columns := make([][]float64, len(x))
	for j, v := range x {
		columns[j] = []float64{v}
	}
	return m.shares(columns, []float64{1}, values)
}

func (m *Ordinal) shares(x [][]float64, w, values []float64) (*LevelShares, error) {
	g := m.model
	if len(values) != g.data.Levels {
		return nil, fmt.Errorf("%d values for %d levels: %w", len(values), g.data.Levels, ErrInput)
	}
	above, gradient := make([]float64, g.cuts), make([][]float64, g.cuts)
	total := floats.Sum(w)
	for k := range above {
		gradient[k] = make([]float64, g.p)
		for i, u := range w {
			_, over, f, _ := logisticAt(g.gap(m.sums.coef, x, i, k))
			above[k] += u * over / total
			g.pieces(x, i, k, func(at int, v float64) { gradient[k][at] -= u * f * v / total })
		}
	}
	out := &LevelShares{}
	add := func(to *[]Average, value float64, grad []float64) error {
		a, err := m.sums.averaged(value, grad, shareScale)
		*to = append(*to, a)
		return err
	}
	mean, slope := values[0], make([]float64, g.p)
	for k := range above {
		if err := add(&out.Above, above[k], gradient[k]); err != nil {
			return nil, err
		}
		mean += (values[k+1] - values[k]) * above[k]
		floats.AddScaled(slope, values[k+1]-values[k], gradient[k])
	}
	for y := range g.data.Levels {
		value, grad := 1.0, make([]float64, g.p)
		if y > 0 {
			value = above[y-1]
			copy(grad, gradient[y-1])
		}
		if y < g.cuts {
			value -= above[y]
			floats.Sub(grad, gradient[y])
		}
		if err := add(&out.Levels, math.Max(0, value), grad); err != nil {
			return nil, err
		}
	}
	var err error
	out.Mean, err = m.sums.averaged(mean, slope, plainScale)
	return out, err
}

// Compare compares average a with b.
func (m *Ordinal) Compare(a, b Average) (AverageContrast, error) { return m.sums.compareAverages(a, b) }
