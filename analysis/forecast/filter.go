package forecast

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// pass runs over the counts once: before each, what is known of the level is
// gamma(omega a, omega b), the count is negative binomial, and it then adds
// itself to a and its multiplier to b. The first count above zero settles the
// level, as Harvey and Fernandes do, and gives no likelihood of its own. With
// derivatives, those of the log-likelihood by the coefficients are worked out
// on the way.
func pass(count []float64, x [][]float64, omega float64, coef []float64, derivatives bool) state {
	p := len(coef)
	s := state{coef: coef}
	var b1 []float64     // of b by the coefficients
	var b2 *mat.SymDense // and twice
	if derivatives {
		s.grad, s.hess = make([]float64, p), mat.NewSymDense(max(p, 1), nil)
		b1, b2 = make([]float64, p), mat.NewSymDense(max(p, 1), nil)
	}
	for t, y := range count {
		e := 1.0
		if p > 0 {
			dot := 0.0
			for j, c := range coef {
				dot += c * x[t][j]
			}
			e = math.Exp(dot)
		}
		a, b := omega*s.a, omega*s.b
		total := b + e
		known := a > 0
		if known {
			s.logLik += logChoose(a, y) + a*math.Log(b/total)
			if y > 0 {
				s.logLik += y * math.Log(e/total)
			}
			s.used++
		}
		for j := 0; derivatives && j < p; j++ {
			bj, sj := omega*b1[j], omega*b1[j]+e*x[t][j]
			if known {
				s.grad[j] += a*bj/b + y*x[t][j] - (a+y)*sj/total
			}
			for k := 0; k <= j; k++ {
				bk, sk := omega*b1[k], omega*b1[k]+e*x[t][k]
				bjk := omega * b2.At(j, k)
				sjk := bjk + e*x[t][j]*x[t][k]
				if known {
					s.hess.SetSym(j, k, s.hess.At(j, k)+a*(bjk/b-bj*bk/(b*b))-(a+y)*(sjk/total-sj*sk/(total*total)))
				}
			}
		}
		for j := 0; derivatives && j < p; j++ { // once all products above are made
			for k := 0; k <= j; k++ {
				b2.SetSym(j, k, omega*b2.At(j, k)+e*x[t][j]*x[t][k])
			}
		}
		for j := 0; derivatives && j < p; j++ {
			b1[j] = omega*b1[j] + e*x[t][j]
		}
		s.a, s.b = a+y, total
	}
	return s
}

// logChoose is the logarithm of Gamma(a+y)/(Gamma(a) y!).
func logChoose(a, y float64) float64 {
	up, _ := math.Lgamma(a + y)
	down, _ := math.Lgamma(a)
	fact, _ := math.Lgamma(y + 1)
	return up - down - fact
}

// maximise finds the coefficients of the greatest likelihood at one omega, by
// Newton's method with halved steps.
func maximise(count []float64, x [][]float64, omega float64, start []float64) (state, error) {
	p := 0
	if len(x) > 0 {
		p = len(x[0])
	}
	coef := make([]float64, p)
	copy(coef, start)
	at := pass(count, x, omega, coef, true)
	if p == 0 {
		return at, nil
	}
	for range 60 {
		chol := information(at.hess)
		if chol == nil { // far from the top: a short step uphill
			chol = information(ridged(at.hess))
		}
		if chol == nil {
			return at, stats.ErrConvergence
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, mat.NewVecDense(p, at.grad)); err != nil {
			return at, stats.ErrConvergence
		}
		gain := mat.Dot(&step, mat.NewVecDense(p, at.grad))
		if gain < 1e-14 {
			return at, nil
		}
		moved := false
		for half := 0; half < 30 && !moved; half++ {
			next := make([]float64, p)
			for j := range next {
				next[j] = at.coef[j] + step.AtVec(j)
			}
			if got := pass(count, x, omega, next, true); got.logLik > at.logLik {
				at, moved = got, true
			}
			step.ScaleVec(0.5, &step)
		}
		if !moved { // no step gains anything that could be told
			return at, nil
		}
	}
	return at, stats.ErrConvergence
}

// ridged is a Hessian bent downwards in every direction.
func ridged(h *mat.SymDense) *mat.SymDense {
	n := h.SymmetricDim()
	out := mat.NewSymDense(n, nil)
	worst := 0.0
	for i := range n {
		sum := 0.0
		for j := range n {
			sum += math.Abs(h.At(i, j))
		}
		worst = math.Max(worst, sum)
	}
	for i := range n {
		for j := 0; j <= i; j++ {
			out.SetSym(i, j, h.At(i, j))
		}
		out.SetSym(i, i, h.At(i, i)-1.1*worst-1e-8)
	}
	return out
}

// information is the decomposed negative Hessian; nil where it is not
// positive definite.
func information(h *mat.SymDense) *mat.Cholesky {
	neg := mat.NewSymDense(h.SymmetricDim(), nil)
	neg.ScaleSym(-1, h)
	var c mat.Cholesky
	if !c.Factorize(neg) {
		return nil
	}
	return &c
}
