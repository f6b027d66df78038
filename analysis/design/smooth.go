package design

import (
	"errors"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// ErrSmooth reports values too few, or too much alike, for a smooth line.
var ErrSmooth = errors.New("too few different values for a smooth line")

// Smooth fits y by a restricted cubic spline of x with knots at the ends of x
// and at its thirds, by least squares, and returns the line at the values at:
// fit, and leverage, by which the variance of y has to be multiplied to get
// that of fit.
func Smooth(x, y, at []float64) (fit, leverage []float64, err error) {
	if len(x) != len(y) || len(x) < 5 {
		return nil, nil, ErrSmooth
	}
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	s := &Spline{Knots: []float64{sorted[0], quantile(sorted, 1.0/3), quantile(sorted, 2.0/3), sorted[len(sorted)-1]}}
	for k := 1; k < len(s.Knots); k++ {
		if !(s.Knots[k]-s.Knots[k-1] > 1e-9*(s.Knots[3]-s.Knots[0])) {
			return nil, nil, ErrSmooth
		}
	}
	// From 0 to 1, so that no unit costs digits.
	lo, span := s.Knots[0], s.Knots[3]-s.Knots[0]
	for k := range s.Knots {
		s.Knots[k] = (s.Knots[k] - lo) / span
	}
	row := func(v float64) []float64 { return append([]float64{1}, s.Basis((v-lo)/span)...) }
	a := mat.NewDense(len(x), 4, nil)
	for i, v := range x {
		a.SetRow(i, row(v))
	}
	var qr mat.QR
	qr.Factorize(a)
	if qr.Cond() > 1e12 {
		return nil, nil, ErrSmooth
	}
	var b mat.VecDense
	if err := qr.SolveVecTo(&b, false, mat.NewVecDense(len(y), slices.Clone(y))); err != nil {
		return nil, nil, ErrSmooth
	}
	var full mat.Dense
	qr.RTo(&full)
	r := full.Slice(0, 4, 0, 4)
	for _, v := range at {
		p := mat.NewVecDense(4, row(v))
		var u mat.VecDense
		if err := u.SolveVec(r.T(), p); err != nil {
			return nil, nil, ErrSmooth
		}
		fit = append(fit, mat.Dot(p, &b))
		leverage = append(leverage, mat.Dot(&u, &u))
	}
	return fit, leverage, nil
}
