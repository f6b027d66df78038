package survival

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// checkColumns finds columns that do not vary within risk sets, or that
// repeat others, from the information at 0.
func (m *coxModel) checkColumns(info [][]float64) error {
	if err := m.checkVarying(info); err != nil {
		return err
	}
	return repeatedColumns(info, m.data.Names)
}

// checkVarying finds columns that do not vary within risk sets.
func (m *coxModel) checkVarying(info [][]float64) error {
	const tiny = 1e-10
	for j := range info {
		if !(info[j][j] > tiny*m.events) {
			return &ColumnsError{Columns: []int{j}, Names: []string{m.data.Names[j]}, Constant: true}
		}
	}
	return nil
}

// repeatedColumns finds the first column that the earlier ones explain, from
// a matrix of products with a positive diagonal.
func repeatedColumns(info [][]float64, names []string) error {
	const tiny = 1e-10
	// Cholesky of the correlations, column by column: what is left of the
	// diagonal is the share of a column that the earlier ones do not explain.
	l := square(len(info))
	corr := func(i, j int) float64 { return info[i][j] / math.Sqrt(info[i][i]*info[j][j]) }
	for j := range info {
		left := 1.0
		for k := range j {
			v := corr(j, k)
			for h := range k {
				v -= l[j][h] * l[k][h]
			}
			l[j][k] = v / l[k][k]
			left -= l[j][k] * l[j][k]
		}
		if left < tiny {
			e := &ColumnsError{Columns: []int{j}, Names: []string{names[j]}}
			for k, b := range backSolve(l, l[j][:j]) {
				if math.Abs(b) > 1e-6 {
					e.Columns = append(e.Columns, k)
					e.Names = append(e.Names, names[k])
				}
			}
			return e
		}
		l[j][j] = math.Sqrt(left)
	}
	return nil
}

// backSolve is x with L'x = y, for the leading block of L of the size of y.
func backSolve(l [][]float64, y []float64) []float64 {
	x := make([]float64, len(y))
	for i := len(y) - 1; i >= 0; i-- {
		v := y[i]
		for k := i + 1; k < len(y); k++ {
			v -= l[k][i] * x[k]
		}
		x[i] = v / l[i][i]
	}
	return x
}

// newton climbs from the likelihood at 0, halving steps that do not climb.
// It stops once the step promises a gain below rounding; that last step,
// whose error is the square of its length, is still taken.
func (m *coxModel) newton(at *coxLikelihood, maxIterations int) (*coxLikelihood, []float64, int, error) {
	const settled = 1e-17
	beta := make([]float64, m.p)
	for it := 1; it <= maxIterations; it++ {
		step, gain, ok := solve(at.info, at.score)
		if !ok {
			if it > 1 {
				return nil, nil, it, m.separation(beta, it)
			}
			return nil, nil, it, fmt.Errorf("the information cannot be inverted: %w", stats.ErrSingular)
		}
		// A step that still moves the predictor although it promises next to
		// nothing: the likelihood has become flat in that direction. (Over
		// the range of its column the coefficient then has a standard error
		// above 50.)
		if gain < 1e-6 {
			if cols := m.moving(step); len(cols) > 0 {
				return nil, nil, it, m.separated(cols)
			}
		}
		next, moved := m.climb(at, beta, step)
		if gain < settled*(1+math.Abs(at.loglik)) {
			if moved != nil {
				return next, moved, it, nil
			}
			return at, beta, it, nil
		}
		if moved == nil {
			// No shorter step climbs: the optimum to rounding, if the promise
			// was one that rounding can hide.
			if gain < 1e-9*(1+math.Abs(at.loglik)) {
				return at, beta, it, nil
			}
			return nil, nil, it, fmt.Errorf("no step improves the likelihood: %w", stats.ErrConvergence)
		}
		at, beta = next, moved
	}
	return nil, nil, maxIterations, fmt.Errorf("%d iterations: %w", maxIterations, stats.ErrConvergence)
}

// climb takes the step, or as much of it as does not lose likelihood beyond
// rounding. moved is nil where none does.
func (m *coxModel) climb(at *coxLikelihood, beta, step []float64) (next *coxLikelihood, moved []float64) {
	for f := 1.0; f > 1e-6; f /= 2 {
		moved = make([]float64, len(beta))
		for j := range beta {
			moved[j] = beta[j] + f*step[j]
		}
		next = m.likelihood(moved)
		if next.ok && next.loglik >= at.loglik-1e-13*(1+math.Abs(at.loglik)) {
			return next, moved
		}
	}
	return nil, nil
}

// moving lists the columns through which a step changes the linear
// predictor of some row by more than a twentieth.
func (m *coxModel) moving(step []float64) []int {
	var out []int
	for j, s := range step {
		if math.Abs(s)*m.span[j] > 0.05 {
			out = append(out, j)
		}
	}
	return out
}

// separation is the error of a fit whose information gave out on the way:
// separation where a coefficient has run far, else no convergence.
func (m *coxModel) separation(beta []float64, iteration int) error {
	var cols []int
	for j, b := range beta {
		if math.Abs(b)*m.span[j] > 10 {
			cols = append(cols, j)
		}
	}
	if len(cols) == 0 {
		return fmt.Errorf("the information gave out at iteration %d: %w", iteration, stats.ErrConvergence)
	}
	return m.separated(cols)
}

func (m *coxModel) separated(cols []int) error {
	e := &SeparationError{Columns: cols}
	for _, j := range cols {
		e.Names = append(e.Names, m.data.Names[j])
	}
	return e
}

// solve is the Newton step, and twice the gain it promises.
func solve(info [][]float64, score []float64) (step []float64, gain float64, ok bool) {
	inv, ok := inverse(info)
	if !ok {
		return nil, 0, false
	}
	step = make([]float64, len(score))
	for i := range step {
		for j := range score {
			step[i] += inv[i][j] * score[j]
		}
		gain += step[i] * score[i]
	}
	return step, gain, finite(gain)
}

// inverse inverts a positive definite matrix, scaled to unit diagonal first.
func inverse(v [][]float64) ([][]float64, bool) {
	n := len(v)
	s := mat.NewSymDense(n, nil)
	d := make([]float64, n)
	for i := range n {
		if !(v[i][i] > 0) || !finite(v[i][i]) {
			return nil, false
		}
		d[i] = math.Sqrt(v[i][i])
	}
	for i := range n {
		for j := i; j < n; j++ {
			s.SetSym(i, j, v[i][j]/(d[i]*d[j]))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(s) {
		return nil, false
	}
	var inv mat.SymDense
	if c.InverseTo(&inv) != nil {
		return nil, false
	}
	out := square(n)
	for i := range n {
		for j := range n {
			out[i][j] = inv.At(i, j) / (d[i] * d[j])
		}
	}
	return out, true
}
