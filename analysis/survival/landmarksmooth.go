package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// pseudoFit is a regression of pseudo-values with the complementary log-log
// as link.
type pseudoFit struct {
	coef []float64
	cov  [][]float64 // grouped by cluster
}

// regress solves the sum of w x dmu/deta (pseudo-value - mu) = 0, mu being
// 1 - exp(-exp(eta)) and eta the columns times the coefficients plus the
// offset (nil: 0): generalised estimating equations with independence and
// equal variances (Klein and Andersen 2005, Biometrics 61:223). The
// covariance is the sandwich grouped by cluster. Not ok where nothing solves
// it.
func (v *landmarkSeen) regress(x [][]float64, offset []float64) (*pseudoFit, bool) {
	p, n := len(x), len(v.pseudo)
	coef := make([]float64, p)
	mu, slope := make([]float64, n), make([]float64, n)
	// at works out the means, their slopes and the squared distance.
	at := func(b []float64) float64 {
		miss := 0.0
		for i := range n {
			eta := 0.0
			if offset != nil {
				eta = offset[i]
			}
			for j := range p {
				eta += b[j] * x[j][i]
			}
			e := math.Exp(min(eta, 30))
			mu[i], slope[i] = -math.Expm1(-e), e*math.Exp(-e)
			miss += v.weight[i] * (v.pseudo[i] - mu[i]) * (v.pseudo[i] - mu[i])
		}
		return miss
	}
	start := min(max(v.share, nearlyNone), nearlyAll)
	if offset == nil {
		coef[0] = logLog(start)
	}
	miss := at(coef)
	info, score := square(p), make([]float64, p)
	for range 200 {
		for j := range p {
			score[j] = 0
			clear(info[j])
		}
		for i := range n {
			for j := range p {
				score[j] += v.weight[i] * x[j][i] * slope[i] * (v.pseudo[i] - mu[i])
				for k := range p {
					info[j][k] += v.weight[i] * x[j][i] * x[k][i] * slope[i] * slope[i]
				}
			}
		}
		step, gain, ok := solve(info, score)
		if !ok {
			return nil, false
		}
		if gain < 1e-22*v.total {
			return v.sandwich(x, coef, info, mu, slope)
		}
		moved, shorter := slices.Clone(coef), 1.0
		for ; ; shorter /= 2 {
			for j := range coef {
				moved[j] = coef[j] + shorter*step[j]
			}
			if m := at(moved); m <= miss*(1+1e-13) {
				miss = m
				break
			}
			if shorter < 1e-6 {
				at(coef)
				if gain < 1e-12*v.total {
					return v.sandwich(x, coef, info, mu, slope)
				}
				return nil, false
			}
		}
		copy(coef, moved)
	}
	return nil, false
}

func (v *landmarkSeen) sandwich(x [][]float64, coef []float64, info [][]float64, mu, slope []float64) (*pseudoFit, bool) {
	bread, ok := inverse(info)
	if !ok {
		return nil, false
	}
	of, groups, _ := numberClusters(v.d.Cluster, len(mu))
	p := len(x)
	score := make([]float64, groups*p)
	for i := range mu {
		for j := range p {
			score[int(of[i])*p+j] += v.weight[i] * x[j][i] * slope[i] * (v.pseudo[i] - mu[i])
		}
	}
	meat := square(p)
	for g := range groups {
		for j := range p {
			for k := range p {
				meat[j][k] += score[g*p+j] * score[g*p+k]
			}
		}
	}
	return &pseudoFit{coef: coef, cov: sandwich(bread, meat)}, true
}

// ErrNoCurve reports risks too few or too much alike for a smooth line.
var ErrNoCurve = errors.New("the risks are too much alike for a smooth line")

// CalibrationPoint is the observed share at a predicted risk.
type CalibrationPoint struct{ Predicted, Observed, StdErr, Low, High float64 }

// Curve is the observed share as a smooth function of the predicted risk:
// pseudo-values regressed on a restricted cubic spline of the complementary
// log-log of the risk, four knots at its quantiles 0.05, 0.35, 0.65 and 0.95
// (Harrell 2001). Intervals allow for clusters, and are made before the link
// is turned back. at are the risks at which it is wanted.
func (l *Landmark) Curve(at []float64) ([]CalibrationPoint, error) {
	sorted := slices.Clone(l.cll)
	slices.Sort(sorted)
	var knots [4]float64
	for k, q := range []float64{0.05, 0.35, 0.65, 0.95} {
		knots[k] = quantileOf(sorted, q)
	}
	for k := 1; k < len(knots); k++ {
		if !(knots[k]-knots[k-1] > 1e-9*(knots[3]-knots[0])) {
			return nil, ErrNoCurve
		}
	}
	basis := func(x float64) []float64 {
		out := []float64{1, x}
		cube := func(y float64) float64 { y = max(y, 0); return y * y * y }
		for k := range 2 {
			y := cube(x-knots[k]) - cube(x-knots[2])*(knots[3]-knots[k])/(knots[3]-knots[2]) + cube(x-knots[3])*(knots[2]-knots[k])/(knots[3]-knots[2])
			out = append(out, y/((knots[3]-knots[0])*(knots[3]-knots[0])))
		}
		return out
	}
	x := make([][]float64, 4)
	for _, z := range l.cll {
		for j, b := range basis(z) {
			x[j] = append(x[j], b)
		}
	}
	f, ok := l.seen.regress(x, nil)
	if !ok {
		return nil, fmt.Errorf("smooth line of calibration: %w", stats.ErrConvergence)
	}
	z := stats.NormalQuantile(0.5 + l.Level/2)
	var out []CalibrationPoint
	for _, p := range at {
		b := basis(logLog(p))
		eta, v := 0.0, 0.0
		for j := range b {
			eta += b[j] * f.coef[j]
			for k := range b {
				v += b[j] * f.cov[j][k] * b[k]
			}
		}
		se := math.Sqrt(max(0, v))
		out = append(out, CalibrationPoint{p, backLogLog(eta), se, backLogLog(eta - z*se), backLogLog(eta + z*se)})
	}
	return out, nil
}
