package regress

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
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

// sums works out weighted sums of coefficients, and tests of them, from the
// linear algebra that every model here shares: the inverse information is
// L L', and the covariance used is L middle L'.
type sums struct {
	coef     []float64
	l        [][]float64
	middle   [][]float64
	blocks   []block // nil without clusters, or where CR1 is used
	used     Robust
	level    float64
	df       float64 // of model-based and HC errors; 0: the normal distribution
	clusters int
	tiny     float64 // variance of a direction of length 1 below which it is rounding
}

// Contrast returns the sum of c times the coefficients, c in the order of
// Coef, with the covariance used; with CR2 it has Satterthwaite degrees of
// freedom of its own.
func (m *Linear) Contrast(c []float64) (Contrast, error) {
	if m.Exact {
		s := sums{coef: m.kernel.coef}
		value, err := s.value(c)
		return Contrast{Estimate: value}, err
	}
	return m.kernel.sums.contrast(c)
}

// value is the sum without its error.
func (s *sums) value(c []float64) (float64, error) {
	if len(c) != len(s.coef) {
		return 0, fmt.Errorf("contrast of %d numbers for %d coefficients: %w", len(c), len(s.coef), ErrInput)
	}
	for _, v := range c {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, fmt.Errorf("contrast holds a value that is not a number: %w", ErrInput)
		}
	}
	return floats.Dot(c, s.coef), nil
}

func (s *sums) contrast(c []float64) (Contrast, error) {
	value, err := s.value(c)
	if err != nil {
		return Contrast{}, err
	}
	out := Contrast{Estimate: value}
	a := s.direction(c)
	if s.used >= CR0 && s.decidedByOne(a) {
		return out, nil
	}
	v := make([]float64, len(a))
	times(s.middle, a, v)
	variance := floats.Dot(a, v)
	out.DF = s.df
	switch {
	case s.used == CR0 || s.used == CR1:
		out.DF = float64(s.clusters) - 1
	case s.used == CR2:
		mo := newMoments(s.blocks, [][]float64{a}, len(a))
		mean := mo.trace(0, 0)
		out.DF = mean * mean / mo.product(0, 0, 0, 0)
	}
	// A variance that is rounding beside the model's is no variance.
	normal := s.df == 0 && s.used == ModelBased
	if !(variance > s.tiny*floats.Dot(a, a)) || !normal && !(out.DF > 0) || math.IsInf(out.DF, 0) {
		return Contrast{Estimate: out.Estimate}, nil
	}
	out.SE = math.Sqrt(variance)
	out.T = out.Estimate / out.SE
	half := out.SE
	if normal {
		out.P = stats.NormalP(out.T)
		half *= stats.NormalQuantile(0.5 + s.level/2)
	} else {
		out.P = lsq.TP(out.T, out.DF)
		half *= lsq.TQuantile(0.5+s.level/2, out.DF)
	}
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
func (s *sums) direction(c []float64) []float64 {
	a := make([]float64, len(s.coef))
	for j, v := range c {
		floats.AddScaled(a, v, s.l[j])
	}
	return a
}

// decidedByOne says whether a contrast cannot be estimated once some one
// cluster is left out, so that clusters do not show its error.
func (s *sums) decidedByOne(a []float64) bool {
	size := floats.Norm(a, 2)
	for _, b := range s.blocks {
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
	if m.Exact {
		return FTest{}, fmt.Errorf("nothing to test: %w", ErrInput)
	}
	return m.kernel.sums.wald(c)
}

// wald is Wald's test. On the normal distribution the statistic is a
// chi-square with DF1 degrees of freedom, and DF2 is 0.
func (s *sums) wald(c [][]float64) (FTest, error) {
	q, p := len(c), len(s.coef)
	if q == 0 {
		return FTest{}, fmt.Errorf("nothing to test: %w", ErrInput)
	}
	dirs := make([][]float64, q)
	value := make([]float64, q)
	for k, row := range c {
		if len(row) != p {
			return FTest{}, fmt.Errorf("row of %d numbers for %d coefficients: %w", len(row), p, ErrInput)
		}
		dirs[k], value[k] = s.direction(row), floats.Dot(row, s.coef)
		if s.used >= CR0 && s.decidedByOne(dirs[k]) {
			return FTest{}, ErrNotTested
		}
	}
	// Orthonormal directions: with the model of independent rows their
	// contributions then have covariance one, and dependence shows.
	if err := orthonormal(dirs, value); err != nil {
		return FTest{}, err
	}
	v := make([]float64, p)
	cov := mat.NewSymDense(q, nil)
	for k := range dirs {
		times(s.middle, dirs[k], v)
		for t := k; t < q; t++ {
			cov.SetSym(k, t, floats.Dot(dirs[t], v))
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
	stat := mat.Dot(mat.NewVecDense(q, value), &x)
	t := FTest{Name: "Wald test, " + s.used.String(), Statistic: stat / float64(q), DF1: float64(q), DF2: s.df}
	switch {
	case s.used == CR0 || s.used == CR1:
		t.DF2 = float64(s.clusters) - 1
	case s.used == CR2:
		eta := hotelling(newMoments(s.blocks, dirs, p))
		t.DF2 = eta - t.DF1 + 1
		if !(t.DF2 > 0) {
			return FTest{}, ErrNotTested
		}
		t.Statistic *= t.DF2 / eta
	case s.df == 0:
		t.Statistic, t.P = stat, stats.ChiSquareP(stat, t.DF1)
		return t, nil
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
