package regress

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// glmPoint is the likelihood at some coefficients of the scaled columns, the
// constant first.
type glmPoint struct {
	ok     bool
	beta   []float64
	loglik float64 // without the model's constant; with Firth, penalised
	score  []float64
	info   [][]float64 // expected information
	root   [][]float64 // its inverse is root root'
	logDet float64
}

// factor fills root and logDet, and says how ill the information is: the
// condition number of its correlations.
func (at *glmPoint) factor() (cond float64, ok bool) {
	p := len(at.info)
	d := make([]float64, p)
	at.logDet = 0
	for j := range d {
		if !(at.info[j][j] > 0) || math.IsInf(at.info[j][j], 1) {
			return math.Inf(1), false
		}
		d[j] = math.Sqrt(at.info[j][j])
		at.logDet += 2 * math.Log(d[j])
	}
	c := mat.NewSymDense(p, nil)
	for j := range d {
		for k := j; k < p; k++ {
			c.SetSym(j, k, at.info[j][k]/(d[j]*d[k]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return math.Inf(1), false
	}
	at.logDet += chol.LogDet()
	var u mat.TriDense
	chol.UTo(&u)
	at.root = square(p)
	for k := range p { // column k of the inverse of the triangle
		for j := k; j >= 0; j-- {
			s := 0.0
			if j == k {
				s = 1
			}
			for m := j + 1; m <= k; m++ {
				s -= u.At(j, m) * at.root[m][k]
			}
			at.root[j][k] = s / u.At(j, j)
		}
	}
	for j := range at.root {
		floats.Scale(1/d[j], at.root[j])
	}
	return chol.Cond(), !math.IsNaN(at.logDet)
}

// step is the Fisher step, and twice the gain that it promises.
func (at *glmPoint) step() ([]float64, float64) {
	p := len(at.score)
	u, out := make([]float64, p), make([]float64, p)
	for j, s := range at.score {
		floats.AddScaled(u, s, at.root[j])
	}
	for j := range out {
		out[j] = floats.Dot(at.root[j], u)
	}
	return out, floats.Dot(u, u)
}

// linear writes the linear predictor of the patterns lo to hi.
func (g *glmModel) linear(beta []float64, lo, hi int, out []float64) {
	for i, v := range g.offset[lo:hi] {
		out[i] = v + beta[0]
	}
	for j, b := range beta[1:] {
		if b != 0 {
			floats.AddScaled(out, b, g.z[j][lo:hi])
		}
	}
}

// mean is the mean, the working weight of one row, and the slope of the mean
// by the linear predictor.
func (g *glmModel) mean(eta float64) (mu, weight, slope float64) {
	if g.family == Logistic {
		e := math.Exp(-math.Abs(eta))
		mu = 1 / (1 + e)
		if eta < 0 {
			mu = e / (1 + e)
		}
		weight = e / ((1 + e) * (1 + e))
		return mu, weight, weight
	}
	mu = math.Exp(eta)
	return mu, mu / (1 + mu/g.theta), mu
}

// pass works out the likelihood of a stretch of patterns: its value, and for
// each pattern the derivative by the linear predictor and the working weight.
func (g *glmModel) pass(lo, hi int, eta, r, w []float64) float64 {
	ll := 0.0
	n, s := g.n[lo:hi], g.s[lo:hi]
	switch {
	case g.family == Logistic:
		for i, x := range eta {
			e := math.Exp(-math.Abs(x))
			f := 1 / (1 + e)
			mu := f
			if x < 0 {
				mu = e * f
			}
			ll += s[i]*x - n[i]*(max(x, 0)+math.Log(1+e)) // to rounding of the sum, and faster than Log1p
			r[i], w[i] = s[i]-n[i]*mu, n[i]*e*f*f
		}
	case math.IsInf(g.theta, 1):
		for i, x := range eta {
			mu := n[i] * math.Exp(x)
			ll += s[i]*x - mu
			r[i], w[i] = s[i]-mu, mu
		}
	default:
		for i, x := range eta {
			mu := math.Exp(x)
			f := 1 / (1 + mu/g.theta)
			ll += s[i]*x - (s[i]+n[i]*g.theta)*math.Log1p(mu/g.theta)
			r[i], w[i] = (s[i]-n[i]*mu)*f, n[i]*mu*f
		}
	}
	return ll
}

// likelihood works out value, score and information.
func (g *glmModel) likelihood(beta []float64) *glmPoint {
	at := &glmPoint{beta: beta, score: make([]float64, g.p), info: square(g.p)}
	type part struct {
		ll    float64
		score []float64
		info  [][]float64
	}
	var parts [2]part
	both(g.size, func(half, lo, hi int) {
		t := part{score: make([]float64, g.p), info: square(g.p)}
		buf := make([]float64, 4*chunk)
		for ; lo < hi; lo += chunk {
			end := min(lo+chunk, hi)
			m := end - lo
			eta, r, w := buf[:m], buf[chunk:chunk+m], buf[2*chunk:2*chunk+m]
			g.linear(beta, lo, end, eta)
			t.ll += g.pass(lo, end, eta, r, w)
			t.score[0] += floats.Sum(r)
			for j := range g.z {
				t.score[j+1] += floats.Dot(g.z[j][lo:end], r)
			}
			g.chunkProducts(lo, end, w, buf[3*chunk:], t.info)
		}
		parts[half] = t
	})
	at.loglik = parts[0].ll + parts[1].ll + g.thetaTerms()
	for i := range at.info {
		at.score[i] = parts[0].score[i] + parts[1].score[i]
		for j := i; j < g.p; j++ {
			at.info[i][j] = parts[0].info[i][j] + parts[1].info[i][j]
			at.info[j][i] = at.info[i][j]
		}
	}
	_, ok := at.factor()
	at.ok = ok && !math.IsNaN(at.loglik) && !math.IsInf(at.loglik, 0)
	if at.ok && g.firth {
		g.penalise(at)
	}
	return at
}

// penalise adds half the log determinant of the information, of the columns
// as given, and its derivative (Firth 1993; hat values h: logistic h(1/2-m),
// Poisson h/2).
func (g *glmModel) penalise(at *glmPoint) {
	at.loglik += at.logDet / 2
	for _, s := range g.scale {
		at.loglik += math.Log(s)
	}
	var parts [2][]float64
	both(g.size, func(half, lo, hi int) {
		score := make([]float64, g.p)
		eta, h := make([]float64, chunk), make([]float64, chunk)
		for ; lo < hi; lo += chunk {
			end := min(lo+chunk, hi)
			e, h := eta[:end-lo], h[:end-lo]
			g.linear(at.beta, lo, end, e)
			g.hats(at.root, lo, end, h)
			for i := range h {
				mu, w, _ := g.mean(e[i])
				h[i] *= g.n[lo+i] * w
				if g.family == Logistic {
					h[i] *= 0.5 - mu
				} else {
					h[i] *= 0.5
				}
			}
			score[0] += floats.Sum(h)
			for j := range g.z {
				score[j+1] += floats.Dot(g.z[j][lo:end], h)
			}
		}
		parts[half] = score
	})
	for j := range at.score {
		at.score[j] += parts[0][j] + parts[1][j]
	}
	at.ok = !math.IsNaN(at.loglik) && !math.IsInf(at.loglik, 0)
}

// hats writes x'(inverse information)x of the patterns lo to hi.
func (g *glmModel) hats(root [][]float64, lo, hi int, out []float64) {
	for i := range out {
		out[i] = 0
	}
	u := make([]float64, hi-lo)
	for k := range g.p {
		for i := range u {
			u[i] = root[0][k]
		}
		for j := range g.z {
			if c := root[j+1][k]; c != 0 {
				floats.AddScaled(u, c, g.z[j][lo:hi])
			}
		}
		for i, v := range u {
			out[i] += v * v
		}
	}
}

// plain is the log likelihood without constant and penalty, and the sum of the
// squared Pearson residuals.
func (g *glmModel) plain(beta []float64) (loglik, pearson float64) {
	var lls, squares [2]float64
	both(g.size, func(half, lo, hi int) {
		buf := make([]float64, 3*chunk)
		for ; lo < hi; lo += chunk {
			end := min(lo+chunk, hi)
			m := end - lo
			eta := buf[:m]
			g.linear(beta, lo, end, eta)
			lls[half] += g.pass(lo, end, eta, buf[chunk:chunk+m], buf[2*chunk:2*chunk+m])
			for i, x := range eta {
				k := lo + i
				m, w, slope := g.mean(x)
				// The variance of a row is slope^2/w.
				if w > 0 {
					squares[half] += (g.q[k] - 2*g.s[k]*m + g.n[k]*m*m) * w / (slope * slope)
				}
			}
		}
	})
	return lls[0] + lls[1] + g.thetaTerms(), squares[0] + squares[1]
}

// deviance is twice by how much the log likelihood falls short of that of
// rows which each have their own mean, and the Pearson sum of squares.
func (g *glmModel) deviance(beta []float64) (deviance, pearson float64) {
	ll, pearson := g.plain(beta)
	if g.family == Logistic {
		return -2 * ll, pearson
	}
	own := g.thetaTerms()
	for y, w := range g.at {
		if y == 0 || w == 0 {
			continue
		}
		v := float64(y)
		if math.IsInf(g.theta, 1) {
			own += w * (v*math.Log(v) - v)
		} else {
			own += w * (v*math.Log(v) - (v+g.theta)*math.Log1p(v/g.theta))
		}
	}
	return math.Max(0, 2*(own-ll)), pearson
}
