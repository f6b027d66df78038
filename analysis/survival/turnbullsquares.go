package survival

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// nonNegative finds the y >= 0 with the largest slope'(y-now) -
// (y-now)'h(y-now)/2 by block principal pivoting (Judice and Pires 1994,
// Comput Oper Res 21:587): all that are on the wrong side change sides, or
// one alone where that brings nothing. A trace of a ridge settles what h
// leaves open.
func nonNegative(h *mat.SymDense, now, slope []float64) []float64 {
	n := len(now)
	largest := 0.0
	for i := range n {
		largest = math.Max(largest, h.At(i, i))
	}
	ridge := 1e-12*largest + 1e-300
	// The slope at y = 0, from which that at y is c - (h + ridge) y.
	c := make([]float64, n)
	free := make([]bool, n)
	for i := range n {
		c[i] = slope[i] + ridge*now[i]
		for j := range n {
			c[i] += h.At(i, j) * now[j]
		}
		free[i] = now[i] > 0 || slope[i] > 0
	}
	fewest, patience := n+1, 3
	y := slices.Clone(now)
	for range 5*n + 20 {
		z, ok := solveFree(h, ridge, c, free)
		if !ok {
			return y
		}
		var wrong []int
		for i := range n {
			if free[i] {
				if z[i] < 0 {
					wrong = append(wrong, i)
				}
				continue
			}
			v := c[i]
			for j := range n {
				v -= h.At(i, j) * z[j]
			}
			if v > 1e-12*math.Abs(c[i]) {
				wrong = append(wrong, i)
			}
		}
		for i := range n {
			y[i] = math.Max(0, z[i])
		}
		switch {
		case len(wrong) == 0:
			return y
		case len(wrong) < fewest:
			fewest, patience = len(wrong), 3
		case patience > 0:
			patience--
		default:
			wrong = wrong[len(wrong)-1:]
		}
		for _, i := range wrong {
			free[i] = !free[i]
		}
	}
	return y
}

// solveFree solves (h + ridge) z = c among the free; it is false where that
// matrix is not positive definite. An ill-conditioned system is solved all the
// same: the line search judges the step.
func solveFree(h *mat.SymDense, ridge float64, c []float64, free []bool) ([]float64, bool) {
	var at []int
	for i, f := range free {
		if f {
			at = append(at, i)
		}
	}
	z := make([]float64, len(c))
	n := len(at)
	if n == 0 {
		return z, true
	}
	m := blas64.Symmetric{N: n, Stride: n, Data: make([]float64, n*n), Uplo: blas.Upper}
	v := blas64.General{Rows: n, Cols: 1, Stride: 1, Data: make([]float64, n)}
	raw := h.RawSymmetric()
	for a, i := range at {
		v.Data[a] = c[i]
		row, to := raw.Data[i*raw.Stride:], m.Data[a*n:]
		for b := a; b < n; b++ {
			to[b] = row[at[b]]
		}
		to[a] += ridge
	}
	t, ok := lapack64.Potrf(m)
	if !ok {
		return nil, false
	}
	lapack64.Potrs(t, v)
	for a, i := range at {
		z[i] = v.Data[a]
	}
	return z, true
}

// unique says whether the increments that the Kuhn-Tucker conditions leave
