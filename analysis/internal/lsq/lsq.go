// Package lsq factors the design of a least-squares problem: columns are
// centred and scaled, orthogonalised twice, checked for dependence, and
// solved with a residual carried in twice the working precision.
package lsq

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// ErrInput reports lengths that differ or values that are not finite.
var ErrInput = errors.New("input is not usable")

// dependence is the share of a column's length that must remain once the
// earlier columns are taken out of it. What is left below it is rounding in
// the data rather than information.
const dependence = 1e-7

// SingularError names the columns that make a design unusable. It wraps
// stats.ErrSingular.
type SingularError struct {
	Constant  []string    // columns that never vary (or are zero throughout)
	Dependent []Dependent // columns that others give exactly
}

// Dependent is a column that the columns On reproduce.
type Dependent struct {
	Column string
	On     []string
}

func (e *SingularError) Error() string {
	text := ""
	for _, c := range e.Constant {
		text += fmt.Sprintf("column %s has the same value in every row; ", c)
	}
	for _, d := range e.Dependent {
		text += fmt.Sprintf("column %s is given exactly by %s; ", d.Column, join(d.On))
	}
	return text + "leave one of them out"
}

// Unwrap makes errors.Is(err, stats.ErrSingular) true.
func (e *SingularError) Unwrap() error { return stats.ErrSingular }

func join(names []string) string {
	switch len(names) {
	case 0:
		return "the constant"
	case 1:
		return names[0]
	}
	text := names[0]
	for _, n := range names[1 : len(names)-1] {
		text += ", " + n
	}
	return text + " and " + names[len(names)-1]
}

// Factor is the factored design. With L and Q below, the coefficients of a
// response y are L Q'(sqrt(w) y) and the inverse of X'WX is L L'.
type Factor struct {
	N, P   int
	Q      [][]float64 // P orthonormal columns of length N spanning sqrt(w) X; nil if factored by Lean
	L      [][]float64 // P x P, row j belongs to coefficient j
	LogDet float64     // log determinant of X'WX

	x         [][]float64
	intercept bool
	root      []float64 // square roots of the weights, nil for none

	// With Lean: Q times the triangle is the columns less shift, over scale.
	shift, scale []float64
	triangle     [][]float64
}

// New factors the columns x of n rows, with a constant first if intercept is
// set, and weights of the rows (nil for none; all must be positive). Names
// serve the errors. The columns are kept, not copied.
func New(x [][]float64, names []string, n int, intercept bool, weight []float64) (*Factor, error) {
	if err := check(x, names, n, weight); err != nil {
		return nil, err
	}
	f := &Factor{N: n, P: len(x), x: x, intercept: intercept}
	if weight != nil {
		f.root = make([]float64, n)
		for i, w := range weight {
			f.root[i] = math.Sqrt(w)
		}
	}
	label := names
	if intercept {
		f.P++
		label = append([]string{"the constant"}, names...)
	}
	shift, scale := make([]float64, f.P), make([]float64, f.P)
	f.Q = make([][]float64, f.P)
	bad := &SingularError{}
	for j := range f.P {
		col := make([]float64, n)
		if intercept && j == 0 {
			for i := range col {
				col[i] = 1
			}
		} else {
			k := j
			if intercept {
				k--
				shift[j] = mean(x[k], weight)
			}
			largest := 0.0
			for i, v := range x[k] {
				col[i] = v - shift[j]
				largest = math.Max(largest, math.Abs(v))
			}
			// A spread within the rounding of the values is no spread.
			if floats.Norm(col, math.Inf(1)) <= 8e-16*largest {
				bad.Constant = append(bad.Constant, names[k])
				continue
			}
		}
		if f.root != nil {
			floats.Mul(col, f.root)
		}
		// Dividing by the largest value first keeps the norm from overflowing.
		scale[j] = floats.Norm(col, math.Inf(1))
		floats.Scale(1/scale[j], col)
		norm := floats.Norm(col, 2)
		scale[j] *= norm
		floats.Scale(1/norm, col)
		f.Q[j] = col
	}
	if len(bad.Constant) > 0 {
		return nil, bad
	}
	r := f.orthogonalise(label, bad)
	if len(bad.Dependent) > 0 {
		return nil, bad
	}
	f.transform(r, shift, scale)
	return f, nil
}

func check(x [][]float64, names []string, n int, weight []float64) error {
	if len(names) != len(x) {
		return fmt.Errorf("%d names for %d columns: %w", len(names), len(x), ErrInput)
	}
	for j, c := range x {
		if len(c) != n {
			return fmt.Errorf("column %s has %d rows, not %d: %w", names[j], len(c), n, ErrInput)
		}
		for _, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("column %s holds a value that is not a number: %w", names[j], ErrInput)
			}
		}
	}
	if weight != nil && len(weight) != n {
		return fmt.Errorf("%d weights for %d rows: %w", len(weight), n, ErrInput)
	}
	for _, w := range weight {
		if !(w > 0) || math.IsInf(w, 1) {
			return fmt.Errorf("a weight is not a positive number: %w", ErrInput)
		}
	}
	return nil
}

// mean is the weighted mean, taken twice so that a large common part of the
// values costs no digits.
func mean(v, w []float64) float64 {
	centre := v[0]
	for range 2 {
		sum, total := 0.0, 0.0
		for i, x := range v {
			u := 1.0
			if w != nil {
				u = w[i]
			}
			sum += u * (x - centre)
			total += u
		}
		centre += sum / total
	}
	return centre
}

// orthogonalise turns the unit columns Q into orthonormal ones (Gram-Schmidt
// done twice, which is as stable as reflections: Giraud et al. 2005, Comput
// Math Appl 50:1069) and returns the triangular factor. Dependent columns
// are recorded in bad and left out.
func (f *Factor) orthogonalise(label []string, bad *SingularError) [][]float64 {
	r := make([][]float64, f.P)
	for j := range r {
		r[j] = make([]float64, f.P)
	}
	var kept []int
	for j := range f.P {
		col := f.Q[j]
		for range 2 {
			for _, k := range kept {
				d := floats.Dot(f.Q[k], col)
				floats.AddScaled(col, -d, f.Q[k])
				r[k][j] += d
			}
		}
		norm := floats.Norm(col, 2)
		if norm < dependence {
			bad.Dependent = append(bad.Dependent, dependent(r, kept, j, label))
			continue
		}
		r[j][j] = norm
		floats.Scale(1/norm, col)
		kept = append(kept, j)
	}
	return r
}

// dependent finds which of the kept columns reproduce column j.
func dependent(r [][]float64, kept []int, j int, label []string) Dependent {
	c := make([]float64, len(kept))
	largest := 0.0
	for a := len(kept) - 1; a >= 0; a-- {
		s := r[kept[a]][j]
		for b := a + 1; b < len(kept); b++ {
			s -= r[kept[a]][kept[b]] * c[b]
		}
		c[a] = s / r[kept[a]][kept[a]]
		largest = math.Max(largest, math.Abs(c[a]))
	}
	d := Dependent{Column: label[j]}
	for a, k := range kept {
		if math.Abs(c[a]) > 1e-5*largest {
			d.On = append(d.On, label[k])
		}
	}
	return d
}

// transform works out L, which undoes triangle, scale and shift.
func (f *Factor) transform(r [][]float64, shift, scale []float64) {
	f.L = make([][]float64, f.P)
	for j := range f.L {
		f.L[j] = make([]float64, f.P)
		f.LogDet += 2 * math.Log(scale[j]*r[j][j])
	}
	for k := range f.P { // column k of the inverse of the triangle
		for j := k; j >= 0; j-- {
			s := 0.0
			if j == k {
				s = 1
			}
			for m := j + 1; m <= k; m++ {
				s -= r[j][m] * f.L[m][k]
			}
			f.L[j][k] = s / r[j][j]
		}
	}
	for j := range f.L {
		floats.Scale(1/scale[j], f.L[j])
	}
	if f.intercept {
		for j := 1; j < f.P; j++ {
			floats.AddScaled(f.L[0], -shift[j], f.L[j])
		}
	}
}

// Solve returns the least-squares coefficients of y and the residuals
// y - Xb (not multiplied by root weights). The residuals are accumulated in
// twice the working precision and fed back, so that the coefficients of an
// exact fit come back exact to rounding.
func (f *Factor) Solve(y []float64) (coef, residual []float64, err error) {
	if len(y) != f.N {
		return nil, nil, fmt.Errorf("response has %d rows, not %d: %w", len(y), f.N, ErrInput)
	}
	for _, v := range y {
		// Squares of the response must not overflow.
		if !(math.Abs(v) < 1e150) {
			return nil, nil, fmt.Errorf("the response holds a value that is not a number, or beyond 1e150: %w", ErrInput)
		}
	}
	coef = make([]float64, f.P)
	residual = append([]float64(nil), y...)
	for range 3 {
		f.correct(coef, residual)
		f.residual(y, coef, residual)
	}
	return coef, residual, nil
}

// correct adds to coef the solution for the current residual.
func (f *Factor) correct(coef, residual []float64) {
	u := residual
	if f.root != nil {
		u = make([]float64, f.N)
		floats.MulTo(u, f.root, residual)
	}
	var c []float64
	if f.Q == nil {
		c = f.along(u)
	} else {
		c = make([]float64, f.P)
		for k, q := range f.Q {
			c[k] = floats.Dot(q, u)
		}
	}
	for j := range coef {
		coef[j] += floats.Dot(f.L[j], c)
	}
}

// residual writes y - Xb, summed with the rounding errors of every product
// and sum carried along (Ogita, Rump & Oishi 2005, SIAM J Sci Comput 26:1955).
func (f *Factor) residual(y, coef, out []float64) {
	for i := range out {
		hi, lo := y[i], 0.0
		for j, b := range coef {
			v := 1.0
			if !f.intercept {
				v = f.x[j][i]
			} else if j > 0 {
				v = f.x[j-1][i]
			}
			p := -v * b
			e := math.FMA(-v, b, -p)
			s := hi + p
			t := s - hi
			lo += (hi - (s - t)) + (p - t) + e
			hi = s
		}
		out[i] = hi + lo
	}
}

// Cov returns L M L', the covariance of the coefficients for a middle
// matrix in the coordinates of Q; nil means the identity.
func (f *Factor) Cov(middle [][]float64) [][]float64 {
	if middle == nil {
		return outer(f.L, f.L)
	}
	half := make([][]float64, f.P)
	for j := range half {
		half[j] = make([]float64, f.P)
		for k := range middle {
			half[j][k] = floats.Dot(f.L[j], middle[k])
		}
	}
	c := outer(half, f.L)
	for j := range c { // symmetric to the last bit
		for k := range j {
			c[j][k] = c[k][j]
		}
	}
	return c
}

func outer(a, b [][]float64) [][]float64 {
	c := make([][]float64, len(a))
	for j := range c {
		c[j] = make([]float64, len(b))
		for k := range c[j] {
			c[j][k] = floats.Dot(a[j], b[k])
		}
	}
	return c
}

// Row writes row i of Q into out and returns it.
func (f *Factor) Row(i int, out []float64) []float64 {
	for k, q := range f.Q {
		out[k] = q[i]
	}
	return out
}
