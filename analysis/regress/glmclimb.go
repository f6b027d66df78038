package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// climb maximises over the coefficients that are free, from a point. A
// coefficient held keeps its value.
func (g *glmModel) climb(at *glmPoint, free func(j int) bool, iterations *int) (*glmPoint, error) {
	settled := 1e-17
	if g.firth {
		settled = 1e-23 // each step leaves a share of the way, not its square
	}
	all := true
	for j := range g.p {
		all = all && free(j)
	}
	if !at.ok {
		return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrSingular)
	}
	var step, before []float64
	factor := 1.0
	for range g.most {
		*iterations++
		var gain float64
		if all {
			step, gain = at.step()
		} else if step, gain = at.stepOf(free); step == nil {
			return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
		}
		if gain < 1e-5 && !g.firth {
			if err := g.separated(step); err != nil {
				return nil, err
			}
		}
		if g.firth {
			// The information is not the curvature of a penalised likelihood, so
			// that a step falls short or goes too far by a share that shows in
			// the next: it is made longer or shorter accordingly.
			if before != nil {
				left := 1 - (1-floats.Dot(step, before)/floats.Dot(before, before))/factor
				factor = math.Max(0.4, math.Min(2.5, 1/(1-math.Min(left, 0.6))))
			}
			before = append([]float64(nil), step...)
			floats.Scale(factor, step)
		}
		if g.firth { // far steps of a penalised likelihood may miss its top
			most := 0.0
			for j, s := range step {
				if j > 0 {
					s *= g.span[j-1]
				}
				most = math.Max(most, math.Abs(s))
			}
			if most > 5 {
				floats.Scale(5/most, step)
				before = nil
				factor = 1
			}
		}
		next := g.along(at, step)
		limit := settled * (1 + math.Abs(at.loglik))
		if next == nil {
			if gain < 1e-9*(1+math.Abs(at.loglik)) {
				return at, nil
			}
			if err := g.separated(step); err != nil && !g.firth {
				return nil, err
			}
			return nil, fmt.Errorf("no step improves the likelihood: %w", stats.ErrConvergence)
		}
		at = next
		if gain < limit {
			return at, nil
		}
	}
	if err := g.separated(step); err != nil && !g.firth {
		return nil, err
	}
	return nil, fmt.Errorf("%d iterations: %w", g.most, stats.ErrConvergence)
}

// along takes the step, or as much of it as loses no likelihood beyond
// rounding; nil where none does.
func (g *glmModel) along(at *glmPoint, step []float64) *glmPoint {
	for f := 1.0; f > 1e-8; f /= 2 {
		to := append([]float64(nil), at.beta...)
		floats.AddScaled(to, f, step)
		if next := g.likelihood(to); next.ok && next.loglik >= at.loglik-1e-13*(1+math.Abs(at.loglik)) {
			return next
		}
	}
	return nil
}

// stepOf is the Fisher step of the free coefficients alone; nil where their
// information cannot be inverted.
func (at *glmPoint) stepOf(free func(j int) bool) ([]float64, float64) {
	var which []int
	for j := range at.score {
		if free(j) {
			which = append(which, j)
		}
	}
	out := make([]float64, len(at.score))
	if len(which) == 0 {
		return out, 0
	}
	part := &glmPoint{score: make([]float64, len(which)), info: square(len(which))}
	for a, i := range which {
		part.score[a] = at.score[i]
		for b, j := range which {
			part.info[a][b] = at.info[i][j]
		}
	}
	if _, ok := part.factor(); !ok {
		return nil, 0
	}
	step, gain := part.step()
	for a, i := range which {
		out[i] = step[a]
	}
	return out, gain
}

func everything(int) bool { return true }

// null is the fit of the constant alone: of NegativeBinomial, as Poisson. Only
// beta and loglik are filled.
func (g *glmModel) null() (*glmPoint, error) {
	beta := make([]float64, g.p)
	share := g.sum / g.total
	if g.family == Logistic {
		beta[0] = math.Log(share) - math.Log1p(-share)
	} else {
		beta[0] = math.Log(g.sum / g.exposure)
	}
	if g.firth || g.family == Logistic && g.data.Offset != nil {
		return g.climbNull(beta)
	}
	at := &glmPoint{beta: beta} // exact
	at.loglik, _ = g.plain(beta)
	return at, nil
}

// climbNull maximises over the constant, all other coefficients being 0.
func (g *glmModel) climbNull(from []float64) (*glmPoint, error) {
	beta := make([]float64, g.p)
	beta[0] = from[0]
	it := 0
	return g.climb(g.likelihood(beta), func(j int) bool { return j == 0 }, &it)
}

// flat is the unpenalised fit of the constant alone at the Theta that is.
func (g *glmModel) flat(from []float64) (*glmPoint, error) {
	bare := *g
	bare.firth = false
	return bare.climbNull(from)
}

// foretaste is the fit of a small part of very many patterns, every so many,
// from which the fit of all takes fewer steps; beta where there are not so many
// or the part has no fit.
func (g *glmModel) foretaste(beta []float64) []float64 {
	const many, part = 1 << 17, 1 << 14
	if g.size < many || g.firth {
		return beta
	}
	every := g.size / part
	few := *g
	few.size = (g.size + every - 1) / every
	pick := func(v []float64) []float64 {
		out := make([]float64, few.size)
		for k := range out {
			out[k] = v[k*every]
		}
		return out
	}
	few.n, few.s, few.q, few.offset = pick(g.n), pick(g.s), pick(g.q), pick(g.offset)
	few.z = make([][]float64, len(g.z))
	for j, z := range g.z {
		few.z[j] = pick(z)
	}
	it := 0
	at, err := few.climb(few.likelihood(beta), everything, &it)
	if err != nil {
		return beta
	}
	return at.beta
}

func (g *glmModel) climbFrom(beta []float64, iterations *int) (*glmPoint, error) {
	return g.climb(g.likelihood(beta), everything, iterations)
}

// separated looks whether a step, taken again and again, tells the rows with
// the outcome from those without, so that the likelihood never comes to its
// top (Albert & Anderson 1984, Biometrika 71:1): the predictor of each row
// with the outcome must not fall along it, that of each without must not
// rise, and some must move. Of counts, those above 0 must stay where they
// are, and those of 0 not rise.
func (g *glmModel) separated(step []float64) error {
	u := make([]float64, g.size)
	bare := g.offset
	g.offset = make([]float64, g.size)
	g.linear(step, 0, g.size, u)
	g.offset = bare
	most := 0.0
	for _, v := range u {
		most = math.Max(most, math.Abs(v))
	}
	if most < 0.05 {
		return nil
	}
	slack := 1e-3 * most
	for k, v := range u {
		some, none := g.s[k] > 0, g.s[k] < g.n[k]
		if g.family != Logistic {
			some, none = g.s[k] > 0, true
			if some && math.Abs(v) > slack {
				return nil
			}
		}
		if some && v < -slack || none && v > slack {
			return nil
		}
	}
	e := &SeparationError{}
	for j := range g.z {
		if math.Abs(step[j+1])*g.span[j] > 0.05*most {
			e.Columns = append(e.Columns, j)
			e.Names = append(e.Names, g.data.Names[j])
		}
	}
	if len(e.Columns) == 0 {
		return nil
	}
	return e
}
