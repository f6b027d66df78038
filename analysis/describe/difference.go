package describe

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/table"
)

// standardised is the absolute standardised difference between two groups.
// ok is false where it does not exist: fewer than two numbers in a group,
// numbers that vary in neither group about different means, or categories of
// which the groups share none.
//
// Numbers: the difference of means over the root of the mean of the two
// variances. Two categories: the difference of proportions over the root of
// the mean of p(1-p). Source: Austin PC. Balance diagnostics for comparing
// the distribution of baseline covariates between treatment groups in
// propensity-score matched samples. Stat Med 2009;28:3083-3107.
//
// More categories: the Mahalanobis distance between the vectors of
// proportions. Source: Yang D, Dalton JE. A unified approach to measuring the
// effect size between two groups using SAS. SAS Global Forum 2012, paper 335.
func standardised(kind table.Kind, a, b Summary) (float64, bool) {
	if kind == table.Text {
		return categories(a, b)
	}
	if !a.HasSD || !b.HasSD {
		return 0, false
	}
	return overSpread(a.Mean-b.Mean, a.SD*a.SD, b.SD*b.SD)
}

// overSpread divides a difference by the root of the mean of two variances.
func overSpread(diff, varA, varB float64) (float64, bool) {
	v := (varA + varB) / 2
	if v <= 0 {
		return 0, diff == 0
	}
	return math.Abs(diff) / math.Sqrt(v), true
}

func categories(a, b Summary) (float64, bool) {
	if a.N == 0 || b.N == 0 {
		return 0, false
	}
	// A category that neither group has adds nothing and would make the
	// matrix singular.
	var p, q []float64
	shared := false
	for i := range a.Levels {
		x, y := a.Levels[i].Count, b.Levels[i].Count
		if x == 0 && y == 0 {
			continue
		}
		shared = shared || x > 0 && y > 0
		p = append(p, float64(x)/float64(a.N))
		q = append(q, float64(y)/float64(b.N))
	}
	switch {
	case !shared:
		// The matrix below is singular just then: the distance is without
		// bound.
		return 0, false
	case len(p) == 1:
		return 0, true
	case len(p) == 2:
		return overSpread(p[0]-q[0], p[0]*(1-p[0]), q[0]*(1-q[0]))
	}
	// One category is left out: it follows from the others, and which one
	// does not matter.
	k := len(p) - 1
	s := mat.NewSymDense(k, nil)
	d := mat.NewVecDense(k, nil)
	for i := 0; i < k; i++ {
		d.SetVec(i, p[i+1]-q[i+1])
		for j := i; j < k; j++ {
			v := -(p[i+1]*p[j+1] + q[i+1]*q[j+1]) / 2
			if i == j {
				v = (p[i+1]*(1-p[i+1]) + q[i+1]*(1-q[i+1])) / 2
			}
			s.SetSym(i, j, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(s) {
		return 0, false
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, d); err != nil {
		return 0, false
	}
	return math.Sqrt(math.Max(0, mat.Dot(d, &x))), true
}
