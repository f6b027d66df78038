package answer

import (
	"math"
	"slices"

	"plybook/analysis/quadrature"
	"plybook/reports/words"
)

// lastWithin is up to how many rows limbs are looked at by when they were last
// seen, which takes a second fit by quadrature.
const lastWithin = 20000

// leavingWithin warns where limbs last seen early change otherwise than those
// followed for long: the last time of each limb and its product with time are
// added to the model, and a Wald test of both under 0.05 raises the caution (a
// pattern-mixture model: Little 1995, J Am Stat Assoc 90:1112; Hedeker &
// Gibbons 1997, Psychol Methods 2:64). Limbs have levels of their own here but
// no slopes, so that slopes which differ for other reasons can raise it too.
func (w *work) leavingWithin(f *withinFit) {
	if f.time == "" || f.Groups < fewLimbs || f.Model.Rows > lastWithin {
		return
	}
	tc, ok := f.table.Col(f.time)
	if !ok {
		return
	}
	last := make([]float64, len(f.names))
	for g := range last {
		last[g] = math.Inf(-1)
	}
	for k, i := range f.design.Rows {
		last[f.codes[k]] = math.Max(last[f.codes[k]], tc.Num[i])
	}
	span := slices.Max(last) - slices.Min(last)
	if span <= 0 {
		return
	}
	middle := average(last)
	of, product := make([]float64, len(f.codes)), make([]float64, len(f.codes))
	for k, i := range f.design.Rows {
		of[k] = (last[f.codes[k]] - middle) / span
		product[k] = of[k] * (tc.Num[i] - middle) / span
	}
	family, y, levels := quadrature.Logistic, f.data.Y, 0
	switch {
	case f.counts != nil:
		family = quadrature.Poisson
	case f.levels != nil:
		family, levels = quadrature.Ordinal, f.levels.data.Levels
		y = make([]float64, len(f.levels.data.Y))
		for i, v := range f.levels.data.Y {
			y[i] = float64(v)
		}
	}
	n := len(f.design.X)
	d := quadrature.Data{Y: y, Levels: levels, X: append(slices.Clone(f.design.X), of, product), Names: append(slices.Clone(f.design.Names()), "last", "last by time"), Group: f.codes, Offset: f.data.Offset}
	m, err := quadrature.Fit(family, d, quadrature.Options{Level: w.ask.Confidence})
	if err != nil {
		return // nothing can be said of it
	}
	if t, err := m.Wald([]int{n, n + 1}); err == nil && t.P < 0.05 {
		w.caution("drop-out", "%ss that were last seen early changed otherwise than those followed for long (%s): whether somebody goes on coming may depend on what would be found, and then the answer tells of those who stay. A change that bends with time can look the same; `spline` would show it.",
			words.Capital(f.group), words.PEquals(t.P))
	}
}
