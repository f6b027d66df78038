package lsq

import "math"

// Lean factors columns as New does, without a weight and without keeping Q:
// the triangle comes from the correlations of the columns, and rows of Q are
// worked out when they are needed. The columns Q then are orthonormal to about
// ten digits only, but what L and LogDet say of them holds to rounding. It
// says no, and New must be asked, where the columns are not usable or far from
// independent.
func Lean(x [][]float64, n int, intercept bool) (*Factor, bool) {
	f := &Factor{N: n, P: len(x), x: x, intercept: intercept}
	first := 0
	if intercept {
		f.P, first = len(x)+1, 1
	}
	f.shift, f.scale = make([]float64, f.P), make([]float64, f.P)
	for j, c := range x {
		if len(c) != n {
			return nil, false
		}
		k := j + first
		sum, largest := 0.0, 0.0
		for _, v := range c {
			sum += v
			if a := math.Abs(v); !(a <= largest) {
				largest = a
			}
		}
		if !(largest > 0 && largest < 1e150) { // all zero, not finite, or squares overflow
			return nil, false
		}
		if intercept {
			f.shift[k] = sum / float64(n)
			off := 0.0
			for _, v := range c {
				off += v - f.shift[k]
			}
			f.shift[k] += off / float64(n)
		}
		squares := 0.0
		for _, v := range c {
			u := (v - f.shift[k]) / largest
			squares += u * u
		}
		f.scale[k] = largest * math.Sqrt(squares)
		if !(squares > 1e-20*float64(n)) {
			return nil, false
		}
	}
	r := make([][]float64, f.P)
	for j := range r {
		r[j] = make([]float64, f.P)
	}
	if intercept {
		f.scale[0], r[0][0] = math.Sqrt(float64(n)), 1
	}
	for j, c := range x {
		for k := range j + 1 {
			r[k+first][j+first] = f.product(j+first, c, k+first, x[k])
		}
	}
	// Cholesky: r becomes upper triangular with r'r the correlations.
	for j := range r {
		for k := range j + 1 {
			v := r[k][j]
			for m := range k {
				v -= r[m][k] * r[m][j]
			}
			if k < j {
				r[k][j] = v / r[k][k]
				continue
			}
			if !(v > 1e-4) {
				return nil, false
			}
			r[j][j] = math.Sqrt(v)
		}
	}
	f.transform(r, f.shift, f.scale)
	f.triangle = r
	return f, true
}

// product of two centred and scaled columns.
func (f *Factor) product(j int, a []float64, k int, b []float64) float64 {
	s, sa, sb := 0.0, f.shift[j], f.shift[k]
	b = b[:len(a)]
	for i, v := range a {
		s += (v - sa) * (b[i] - sb)
	}
	return s / f.scale[j] / f.scale[k]
}

// Orthonormal turns columns that hold some rows of the design, the constant
// first if there is one, into those rows of Q. It serves factors by Lean.
func (f *Factor) Orthonormal(cols [][]float64) {
	for j, c := range cols {
		d := 1 / f.scale[j]
		for i, v := range c {
			c[i] = (v - f.shift[j]) * d
		}
		// Q r = columns: take off what the columns before have of it.
		for k, q := range cols[:j] {
			if w := f.triangle[k][j]; w != 0 {
				for i, v := range q[:len(c)] {
					c[i] -= w * v
				}
			}
		}
		d = 1 / f.triangle[j][j]
		for i := range c {
			c[i] *= d
		}
	}
}

// along is Q'u without Q.
func (f *Factor) along(u []float64) []float64 {
	c := make([]float64, f.P)
	first := 0
	if f.intercept {
		first = 1
		for _, v := range u {
			c[0] += v
		}
		c[0] /= f.scale[0]
	}
	for j, x := range f.x {
		k := j + first
		s, shift := 0.0, f.shift[k]
		for i, v := range x {
			s += (v - shift) * u[i]
		}
		c[k] = s / f.scale[k]
	}
	for j := range c { // r'c = that
		for k := range j {
			c[j] -= f.triangle[k][j] * c[k]
		}
		c[j] /= f.triangle[j][j]
	}
	return c
}
