package regress

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// Zeros compares the rows with a count of 0 with those that a model expects.
type Zeros struct {
	Observed, Expected float64 // sums of weights
	// Z is their difference over its standard error, the coefficients (and
	// Theta) being estimated; above 0 there are more than expected.
	Z, P   float64
	Tested bool // false where the data allow no error
}

// Zeros tests for more or fewer rows of 0 than expected (He, Zhang, Ye & Tang
// 2019, Stat Methods Med Res 28:1157, for Poisson; with Theta by its expected
// information, which keeps the variance above 0). Rows are taken as independent. Logistic has none.
func (m *GLM) Zeros() Zeros {
	g := m.model
	var out Zeros
	if g.family == Logistic {
		return out
	}
	b := make([]float64, g.p)
	variance, byTheta := 0.0, 0.0
	for k, x := range g.etas(m.beta) {
		mu, w, _ := g.mean(x)
		p := g.none(mu)
		out.Expected += g.n[k] * p
		variance += g.n[k] * p * (1 - p)
		f := g.n[k] * p * w
		b[0] += f
		for j, c := range g.z {
			b[j+1] += f * c[k]
		}
		if !math.IsInf(g.theta, 1) {
			byTheta += g.n[k] * p * (mu/(g.theta+mu) - math.Log1p(mu/g.theta))
		}
	}
	out.Observed = g.at[0]
	// The scaled columns' information is that of the fit.
	at := g.likelihood(m.beta)
	u := make([]float64, g.p)
	for j, v := range b {
		floats.AddScaled(u, v, at.root[j])
	}
	variance -= floats.Dot(u, u)
	if !math.IsInf(g.theta, 1) {
		variance -= byTheta * byTheta / g.thetaInformation(m.beta)
	}
	if variance > 1e-12*out.Expected {
		out.Z, out.Tested = (out.Observed-out.Expected)/math.Sqrt(variance), true
		out.P = stats.NormalP(out.Z)
	}
	return out
}

// thetaInformation is the expected information on Theta at its value: of each
// row the sum over counts j of the chance of more than j over (t+j)^2, less
// m/(t(t+m)) (Lawless 1987).
func (g *glmModel) thetaInformation(beta []float64) float64 {
	const rest = 1e-13 // of the chance left
	t, sum := g.theta, 0.0
	for k, x := range g.etas(beta) {
		mu := math.Exp(x)
		p := g.none(mu)
		left, of := 1-p, 0.0
		share := mu / (1 + mu/t)
		for j := 0; left > rest && j < mostCount; j++ {
			of += left / ((t + float64(j)) * (t + float64(j)))
			p *= share * (1 + float64(j)/t) / float64(j+1)
			left -= p
		}
		sum += g.n[k] * (of - mu/(t*(t+mu)))
	}
	return sum
}

// none is the chance of a count of 0 at a mean.
func (g *glmModel) none(mu float64) float64 {
	if math.IsInf(g.theta, 1) {
		return math.Exp(-mu)
	}
	return math.Exp(-g.theta * math.Log1p(mu/g.theta))
}

// Counts is how many rows have each count from 0 to most, and how many the
// model expects to: sums of weights.
func (m *GLM) Counts(most int) (observed, expected []float64) {
	g := m.model
	if g.family == Logistic || most < 0 {
		return nil, nil
	}
	observed, expected = make([]float64, most+1), make([]float64, most+1)
	copy(observed, g.at[:min(most+1, len(g.at))])
	for k, x := range g.etas(m.beta) {
		mu, _, _ := g.mean(x)
		p := g.none(mu)
		share := mu
		if !math.IsInf(g.theta, 1) {
			share = mu / (1 + mu/g.theta) // theta times mu/(theta+mu)
		}
		for y := 0; ; y++ {
			expected[y] += g.n[k] * p
			if y == most {
				break
			}
			// Each chance from the one before.
			if math.IsInf(g.theta, 1) {
				p *= share / float64(y+1)
			} else {
				p *= share * (1 + float64(y)/g.theta) / float64(y+1)
			}
		}
	}
	return observed, expected
}

// Largest is the largest count of the data.
func (m *GLM) Largest() int { return len(m.model.at) - 1 }

// Row says how a row stands to a model.
type Row struct {
	Fitted   float64 // share, or count expected in the row's own exposure
	Residual float64 // Pearson residual over the root of 1 less the hat value
	Hat      float64 // of one of the rows that a weight stands for
	Cook     float64 // approximate distance (Pregibon 1981, Ann Stat 9:705)
}

// RowsOf returns how each row of the data stands to the model.
func (m *GLM) RowsOf() []Row {
	g := m.model
	at := g.likelihood(m.beta)
	h := make([]float64, g.size)
	both(g.size, func(_, lo, hi int) {
		for ; lo < hi; lo += chunk {
			end := min(lo+chunk, hi)
			g.hats(at.root, lo, end, h[lo:end])
		}
	})
	eta := g.etas(m.beta)
	out := make([]Row, len(g.data.Y))
	for i, y := range g.data.Y {
		k := g.of[i]
		mu, w, slope := g.mean(eta[k])
		r := Row{Fitted: mu, Hat: math.Min(1, h[k]*w)}
		if w > 0 && r.Hat < 1-1e-10 {
			r.Residual = (y - mu) * math.Sqrt(w) / slope / math.Sqrt(1-r.Hat)
			r.Cook = r.Residual * r.Residual * r.Hat / ((1 - r.Hat) * float64(g.p))
		}
		out[i] = r
	}
	return out
}

// Linear is the linear predictor of each row of the data.
func (m *GLM) Linear() []float64 {
	g := m.model
	eta := g.etas(m.beta)
	out := make([]float64, len(g.data.Y))
	for i, k := range g.of {
		out[i] = eta[k]
	}
	return out
}
