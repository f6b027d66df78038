package regress

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"plybook/analysis/internal/lsq"
)

// ErrNotTested reports a hypothesis on which the data bear too little to
// test it.
var ErrNotTested = errors.New("too few clusters bear on it")

// Contrast is a weighted sum of coefficients with its error. Tested is false
// where the data allow no error; the fields after Estimate then are 0.
type Contrast struct {
	Estimate  float64
	SE, DF    float64
	T, P      float64
	Low, High float64
	Tested    bool
}

// Contrast returns the sum of c times the coefficients, c in the order of
// Coef, with the covariance used; with CR2 it has Satterthwaite degrees of
// freedom of its own.
func (m *Linear) Contrast(c []float64) (Contrast, error) {
	k := m.kernel
	if len(c) != k.f.P {
		return Contrast{}, fmt.Errorf("contrast of %d numbers for %d coefficients: %w", len(c), k.f.P, ErrInput)
	}
	for _, v := range c {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Contrast{}, fmt.Errorf("contrast holds a value that is not a number: %w", ErrInput)
		}
	}
	out := Contrast{Estimate: floats.Dot(c, k.coef)}
	if m.Exact {
		return out, nil
	}
	a := k.direction(c)
	if m.Used >= CR0 && k.decidedByOne(a) {
		return out, nil
	}
	v := make([]float64, k.f.P)
	times(k.middle, a, v)
	variance := floats.Dot(a, v)
	out.DF = m.DF
	switch m.Used {
	case CR0, CR1:
		out.DF = float64(m.Clusters) - 1
	case CR2:
		mo := newMoments(k.blocks, [][]float64{a}, k.f.P)
		mean := mo.trace(0, 0)
		out.DF = mean * mean / mo.product(0, 0, 0, 0)
	}
	// A variance that is rounding beside the model's is no variance.
	if !(variance > 1e-24*floats.Dot(a, a)*m.Sigma*m.Sigma) || !(out.DF > 0) || math.IsInf(out.DF, 0) {
		return Contrast{Estimate: out.Estimate}, nil
	}
	out.SE = math.Sqrt(variance)
	out.T = out.Estimate / out.SE
	out.P = lsq.TP(out.T, out.DF)
	half := lsq.TQuantile(0.5+m.Level/2, out.DF) * out.SE
	out.Low, out.High, out.Tested = out.Estimate-half, out.Estimate+half, true
	return out, nil
}

// Predict returns the mean response where the columns have the values x (in
// the order of LinearData.X, without the intercept), with its error.
func (m *Linear) Predict(x []float64) (Contrast, error) {
	c := x
	if m.kernel.p.data.Intercept {
		c = append([]float64{1}, x...)
	}
	return m.Contrast(c)
}

// direction is L'c, the contrast in the coordinates of Q.
func (k *kernel) direction(c []float64) []float64 {
	a := make([]float64, k.f.P)
	for j, v := range c {
		floats.AddScaled(a, v, k.f.L[j])
	}
	return a
}

// decidedByOne says whether a contrast cannot be estimated once some one
// cluster is left out, so that clusters do not show its error.
func (k *kernel) decidedByOne(a []float64) bool {
	size := floats.Norm(a, 2)
	for _, b := range k.blocks {
		for _, v := range b.fixed {
			if math.Abs(floats.Dot(a, v)) > 1e-6*size {
				return true
			}
		}
	}
	return false
}

// Wald tests that all the weighted sums of coefficients in the rows of c are
// 0, with the covariance used. The statistic is Wald's divided by the number
// of rows; with CR2 it is referred to the approximate Hotelling distribution
// of Pustejovsky & Tipton 2018, so that the statistic carries their factor.
// Rows that repeat one another are ErrInput; ErrNotTested means that too few
// clusters bear on the rows together.
func (m *Linear) Wald(c [][]float64) (FTest, error) {
	k := m.kernel
	q := len(c)
	if q == 0 || m.Exact {
		return FTest{}, fmt.Errorf("nothing to test: %w", ErrInput)
	}
	dirs := make([][]float64, q)
	value := make([]float64, q)
	for s, row := range c {
		if len(row) != k.f.P {
			return FTest{}, fmt.Errorf("row of %d numbers for %d coefficients: %w", len(row), k.f.P, ErrInput)
		}
		dirs[s], value[s] = k.direction(row), floats.Dot(row, k.coef)
		if m.Used >= CR0 && k.decidedByOne(dirs[s]) {
			return FTest{}, ErrNotTested
		}
	}
	// Orthonormal directions: with the model of independent rows their
	// contributions then have covariance one, and dependence shows.
	if err := orthonormal(dirs, value); err != nil {
		return FTest{}, err
	}
	v := make([]float64, k.f.P)
	cov := mat.NewSymDense(q, nil)
	for s := range dirs {
		times(k.middle, dirs[s], v)
		for t := s; t < q; t++ {
			cov.SetSym(s, t, floats.Dot(dirs[t], v))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) || chol.Cond() > 1e13 {
		return FTest{}, ErrNotTested
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, mat.NewVecDense(q, value)); err != nil {
		return FTest{}, ErrNotTested
	}
	stat := mat.Dot(mat.NewVecDense(q, value), &x) / float64(q)
	t := FTest{Name: "Wald test, " + m.Used.String(), Statistic: stat, DF1: float64(q), DF2: m.DF}
	switch m.Used {
	case CR0, CR1:
		t.DF2 = float64(m.Clusters) - 1
	case CR2:
		eta := hotelling(newMoments(k.blocks, dirs, k.f.P))
		t.DF2 = eta - t.DF1 + 1
		if !(t.DF2 > 0) {
			return FTest{}, ErrNotTested
		}
		t.Statistic *= t.DF2 / eta
	}
	t.P = lsq.FP(t.Statistic, t.DF1, t.DF2)
	return t, nil
}

// hotelling is eta of the test that Pustejovsky & Tipton 2018 call AHT: the degrees
// of freedom of the Wishart distribution whose total variance is that of the
// covariance estimate under the model of independent rows.
func hotelling(m moments) float64 {
	total := 0.0
	for s := range m.q {
		for t := range m.q {
			total += m.product(s, s, t, t) + m.product(s, t, t, s)
		}
	}
	q := float64(m.q)
	return q * (q + 1) / total
}

// orthonormal replaces the directions by orthonormal ones and carries the
// values along.
func orthonormal(dirs [][]float64, value []float64) error {
	for s, a := range dirs {
		size := floats.Norm(a, 2)
		for range 2 {
			for t := range s {
				d := floats.Dot(dirs[t], a)
				floats.AddScaled(a, -d, dirs[t])
				value[s] -= d * value[t]
			}
		}
		n := floats.Norm(a, 2)
		if !(n > 1e-9*size) {
			return fmt.Errorf("the sums of coefficients repeat one another: %w", ErrInput)
		}
		floats.Scale(1/n, a)
		value[s] /= n
	}
	return nil
}
