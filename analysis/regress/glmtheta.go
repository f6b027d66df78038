package regress

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// thetaTerms are the terms of the log likelihood that depend on Theta and the
// counts alone: the sum of log Gamma(y+t)/Gamma(t) - y log t, as sums of
// log(1 + j/t), which keep their digits however large t is.
func (g *glmModel) thetaTerms() float64 {
	if math.IsInf(g.theta, 1) || g.family != NegativeBinomial {
		return 0
	}
	s := 0.0
	for j, w := range g.above {
		if w > 0 && j > 0 {
			s += w * math.Log1p(float64(j)/g.theta)
		}
	}
	return s
}

// thetaScore is the derivative of the log likelihood by Theta, and minus the
// second one, at the coefficients beta.
func (g *glmModel) thetaScore(beta []float64) (score, info float64) {
	t := g.theta
	for j, w := range g.above {
		if w > 0 {
			// Of log(t+j) - log t.
			score -= w * float64(j) / (t * (t + float64(j)))
			info -= w * (1/(t*t) - 1/((t+float64(j))*(t+float64(j))))
		}
	}
	eta := make([]float64, g.size)
	g.linear(beta, 0, g.size, eta)
	for k, x := range eta {
		mu := math.Exp(x)
		n, s := g.n[k], g.s[k]
		// Of -(s + n t) log(1 + mu/t).
		share := mu / (t + mu)
		score += -n*math.Log1p(mu/t) + (s+n*t)/t*share
		// Minus its derivative.
		info += -n*share/t + s*mu*(2*t+mu)/(t*t*(t+mu)*(t+mu)) + n*share/(t+mu)
	}
	return score, info
}

// scatter is the derivative of the log likelihood by 1/Theta at 0, Poisson:
// half of how much more than Poisson counts these scatter.
func (g *glmModel) scatter(beta []float64) float64 {
	eta := make([]float64, g.size)
	g.linear(beta, 0, g.size, eta)
	s := 0.0
	for k, x := range eta {
		mu := math.Exp(x)
		s += g.q[k] - 2*g.s[k]*mu + g.n[k]*mu*mu - g.s[k]
	}
	return s / 2
}

// alternate maximises over coefficients and Theta in turn, from a fit of
// Poisson; their errors are independent of one another, so that this settles
// soon. It leaves Theta at +Inf where the counts scatter no more than Poisson
// counts.
func (g *glmModel) alternate(at *glmPoint, free func(int) bool, iterations *int) (*glmPoint, error) {
	over := g.scatter(at.beta)
	if over <= 0 {
		return at, nil
	}
	// By moments: the excess is the sum of the squared means over Theta.
	eta, squares := make([]float64, g.size), 0.0
	g.linear(at.beta, 0, g.size, eta)
	for k, x := range eta {
		squares += g.n[k] * math.Exp(2*x)
	}
	g.theta = squares / (2 * over)
	return g.settle(g.likelihood(at.beta), free, iterations)
}

// settle climbs in turn from a Theta near the best.
func (g *glmModel) settle(at *glmPoint, free func(int) bool, iterations *int) (*glmPoint, error) {
	for range g.most {
		moved, err := g.climbThetaAt(at.beta)
		if err != nil {
			return nil, err
		}
		if math.IsInf(g.theta, 1) {
			return g.climb(g.likelihood(at.beta), free, iterations)
		}
		before := at.loglik
		if at, err = g.climb(g.likelihood(at.beta), free, iterations); err != nil {
			return nil, err
		}
		if moved < 1e-11 && math.Abs(at.loglik-before) < 1e-11*(1+math.Abs(before)) {
			return at, nil
		}
	}
	return nil, fmt.Errorf("theta: %w", stats.ErrConvergence)
}

// climbThetaAt maximises over log Theta at given coefficients, and returns by
// how much it moved. Theta is +Inf where it grows without end.
func (g *glmModel) climbThetaAt(beta []float64) (moved float64, err error) {
	const farthest = 1e8 // of Theta against the mean: Poisson to every digit that counts have
	from := g.theta
	mean := g.sum / g.total
	for range 200 {
		score, info := g.thetaScore(beta)
		// In log Theta: derivative t U, second one t U - t^2 I.
		u, c := g.theta*score, g.theta*g.theta*info-g.theta*score
		step := 0.0
		if c > 0 {
			step = u / c
		} else {
			step = math.Copysign(1, u) // not yet near the top
		}
		step = math.Max(-2, math.Min(2, step))
		g.theta *= math.Exp(step)
		switch {
		case g.theta > farthest*mean:
			g.theta = math.Inf(1)
			return math.Inf(1), nil
		case !(g.theta > 1e-10):
			return 0, fmt.Errorf("theta: %w", stats.ErrConvergence)
		case math.Abs(step) < 1e-13:
			return math.Abs(math.Log(g.theta / from)), nil
		}
		if math.Abs(step) < 1e-9 && math.Abs(u) < 1e-9*(1+g.total) { // rounding moves it to and fro
			return math.Abs(math.Log(g.theta / from)), nil
		}
	}
	return 0, fmt.Errorf("theta: %w", stats.ErrConvergence)
}

// fitTheta turns a fit of Poisson into one of the negative binomial.
func (m *GLM) fitTheta(at *glmPoint) (*glmPoint, error) {
	g := m.model
	poisson := at.loglik
	at, err := g.alternate(at, everything, &m.Iterations)
	if err != nil {
		return nil, err
	}
	m.Theta = g.theta
	m.Overdispersion = stats.Test{Name: "likelihood-ratio test against Poisson", DF: 1, P: 1}
	if math.IsInf(g.theta, 1) {
		m.warn("no-overdispersion", "The counts scatter no more than counts that come at random at a steady rate, so that this is a Poisson model.", "")
		return at, nil
	}
	m.Overdispersion.Statistic = math.Max(0, 2*(at.loglik-poisson))
	m.Overdispersion.P = stats.ChiSquareP(m.Overdispersion.Statistic, 1) / 2
	if _, info := g.thetaScore(at.beta); info > 0 {
		m.ThetaSE = 1 / math.Sqrt(info)
	}
	return at, nil
}

// nullTheta is the log likelihood of the constant alone with a Theta of its
// own. The model's Theta is left as it was.
func (g *glmModel) nullTheta(poisson *glmPoint) (float64, error) {
	keep := g.theta
	defer func() { g.theta = keep }()
	g.theta = math.Inf(1)
	it := 0
	at, err := g.alternate(g.likelihood(poisson.beta), func(j int) bool { return j == 0 }, &it)
	if err != nil {
		return 0, err
	}
	return at.loglik, nil
}
