package survival

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// quadratic is u' V⁻¹ u. It is not ok where V is singular; V is brought to
// unit diagonal first, so that units do not matter.
func quadratic(v [][]float64, u []float64) (float64, bool) {
	n := len(u)
	if n == 0 {
		return 0, false
	}
	s := mat.NewSymDense(n, nil)
	x := mat.NewVecDense(n, nil)
	for i := range n {
		if !(v[i][i] > 0) || !finite(v[i][i]) {
			return 0, false
		}
		x.SetVec(i, u[i]/math.Sqrt(v[i][i]))
		for j := i; j < n; j++ {
			s.SetSym(i, j, v[i][j]/math.Sqrt(v[i][i]*v[j][j]))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(s) || c.Cond() > 1e13 {
		return 0, false
	}
	var y mat.VecDense
	if c.SolveVecTo(&y, x) != nil {
		return 0, false
	}
	q := mat.Dot(x, &y)
	return q, finite(q) && q >= 0
}

// independent picks, in order, those of the places of a covariance that do
// not follow from the ones picked before.
func independent(v [][]float64, of []int) []int {
	var use []int
	var factor [][]float64 // of the part picked, lower triangle by row
	for _, g := range of {
		if !(v[g][g] > 0) {
			continue
		}
		row := make([]float64, len(use))
		left := v[g][g]
		for a, h := range use {
			x := v[g][h]
			for b := range a {
				x -= row[b] * factor[a][b]
			}
			row[a] = x / factor[a][a]
			left -= row[a] * row[a]
		}
		if left > 1e-9*v[g][g] {
			use, factor = append(use, g), append(factor, append(row, math.Sqrt(left)))
		}
	}
	return use
}
