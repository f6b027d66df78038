package agreement

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Weighting says how far apart two categories are taken to be.
type Weighting int

// The weightings: every disagreement alike, by steps, by squared steps.
const (
	Unweighted Weighting = iota
	Linear
	Quadratic
)

// Kappa is agreement beyond chance between two raters.
type Kappa struct {
	N        int
	Table    [][]int // counts by first rating and second
	Observed float64 // share of pairs that agree, weighted
	Expected float64 // by chance
	Exact    float64 // share of pairs in one category
	Kappa    Estimate
	SE       float64
	P        float64 // of agreement no better than chance
}

// FitKappa returns Cohen's kappa from a table of counts, first rater by rows,
// with the large-sample errors of Fleiss, Cohen and Everitt 1969, Psychol Bull
// 72: 323: their full one for the interval, the one under chance for P. Needs
// at least one pair in each of two categories, else ErrOneRating.
func FitKappa(counts [][]int, how Weighting, level float64) (*Kappa, error) {
	k := len(counts)
	n := 0
	rows, cols := make([]float64, k), make([]float64, k)
	for i, r := range counts {
		for j, c := range r {
			n += c
			rows[i] += float64(c)
			cols[j] += float64(c)
		}
	}
	used := 0
	for i := range rows {
		rows[i] /= float64(n)
		cols[i] /= float64(n)
		if rows[i]+cols[i] > 0 {
			used++
		}
	}
	if n == 0 || used < 2 {
		return nil, ErrOneRating
	}
	weight := func(i, j int) float64 {
		d := math.Abs(float64(i-j)) / float64(k-1)
		switch {
		case how == Linear:
			return 1 - d
		case how == Quadratic:
			return 1 - d*d
		case i == j:
			return 1
		}
		return 0
	}
	out := &Kappa{N: n, Table: counts}
	wi, wj := make([]float64, k), make([]float64, k) // mean weights of a row and of a column
	for i := range k {
		for j := range k {
			w := weight(i, j)
			p := float64(counts[i][j]) / float64(n)
			out.Observed += w * p
			out.Expected += w * rows[i] * cols[j]
			wi[i] += w * cols[j]
			wj[j] += w * rows[i]
		}
		out.Exact += float64(counts[i][i]) / float64(n)
	}
	po, pe := out.Observed, out.Expected
	if pe == 1 {
		return nil, ErrOneRating
	}
	kappa := (po - pe) / (1 - pe)
	var full, chance float64
	for i := range k {
		for j := range k {
			w, p := weight(i, j), float64(counts[i][j])/float64(n)
			t := w*(1-pe) - (wi[i]+wj[j])*(1-po)
			full += p * t * t
			t = w - (wi[i] + wj[j])
			chance += rows[i] * cols[j] * t * t
		}
	}
	c := po*pe - 2*pe + po
	full = math.Max(0, full-c*c) / (float64(n) * math.Pow(1-pe, 4))
	chance = math.Max(0, chance-pe*pe) / (float64(n) * (1 - pe) * (1 - pe))
	out.SE = math.Sqrt(full)
	z := distuv.UnitNormal.Quantile(1 - (1-level)/2)
	out.Kappa = Estimate{kappa, kappa - z*out.SE, math.Min(1, kappa+z*out.SE)}
	out.P = math.NaN()
	if chance > 0 {
		out.P = 2 * distuv.UnitNormal.CDF(-math.Abs(kappa)/math.Sqrt(chance))
	}
	return out, nil
}
