package answer

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/design"
	"plybook/analysis/mixed"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
)

// combined is a weighted sum of a model's coefficients with its error.
type combined struct {
	value, stdErr, df, low, high, stat, p float64
	tested                                bool // false: only value holds
}

// joint is a test that several coefficients are 0.
type joint struct {
	name      string
	statistic float64
	df        float64
	dfRest    float64 // of the residual; NaN: a chi-square
	p         float64
}

// combiner is what every model offers to comparisons and curves: sums of its
// coefficients and tests of several at once, on the errors of its table of
// terms. Weights stand by column of the design, without the constant.
type combiner struct {
	design  *design.Design
	measure string // what a sum is: "hazard ratio", "difference in comfort"
	unit    string // of a sum that is no ratio
	ratio   bool   // a sum is read as its exponential
	sum     func(weights []float64) (combined, error)
	test    func(columns []int) (joint, error)
}

// errNoTest reports coefficients whose errors allow no test.
var errNoTest = errors.New("the rows allow no test of it")

// normalCombiner combines coefficients with a covariance on the normal
// distribution. lone says that the covariance is of one cluster and means
// nothing.
func normalCombiner(coef []float64, cov [][]float64, level float64, lone bool) combiner {
	z := stats.NormalQuantile(0.5 + level/2)
	return combiner{ratio: true,
		sum: func(c []float64) (combined, error) {
			out, v := combined{df: math.NaN()}, 0.0
			for i := range coef {
				out.value += c[i] * coef[i]
				for j := range coef {
					v += c[i] * cov[i][j] * c[j]
				}
			}
			if lone || !(v > 0) {
				return out, nil
			}
			out.stdErr, out.tested = math.Sqrt(v), true
			out.low, out.high = out.value-z*out.stdErr, out.value+z*out.stdErr
			out.stat = out.value / out.stdErr
			out.p = stats.NormalP(out.stat)
			return out, nil
		},
		test: func(columns []int) (joint, error) {
			k := len(columns)
			if lone || k == 0 {
				return joint{}, errNoTest
			}
			v, b := mat.NewSymDense(k, nil), mat.NewVecDense(k, nil)
			for a, i := range columns {
				b.SetVec(a, coef[i])
				for c := a; c < k; c++ {
					v.SetSym(a, c, cov[i][columns[c]])
				}
			}
			// Columns of very different units: scaled by their own errors.
			for a := range k {
				if !(v.At(a, a) > 0) {
					return joint{}, errNoTest
				}
			}
			scaled := mat.NewSymDense(k, nil)
			for a := range k {
				s := math.Sqrt(v.At(a, a))
				b.SetVec(a, b.AtVec(a)/s)
				for c := a; c < k; c++ {
					scaled.SetSym(a, c, v.At(a, c)/(s*math.Sqrt(v.At(c, c))))
				}
			}
			var chol mat.Cholesky
			var x mat.VecDense
			if !chol.Factorize(scaled) || chol.Cond() > 1e13 || chol.SolveVecTo(&x, b) != nil {
				return joint{}, errNoTest
			}
			stat := mat.Dot(b, &x)
			return joint{name: "Wald test", statistic: stat, df: float64(k), dfRest: math.NaN(), p: stats.ChiSquareP(stat, float64(k))}, nil
		},
	}
}

// unitRows are the hypotheses that single coefficients are 0, the constant
// standing first.
func unitRows(columns []int, p int) [][]float64 {
	var out [][]float64
	for _, j := range columns {
		r := make([]float64, p+1)
		r[j+1] = 1
		out = append(out, r)
	}
	return out
}

func linearCombiner(fit *regress.Linear, columns int) combiner {
	return combiner{
		sum: func(c []float64) (combined, error) {
			x, err := fit.Contrast(append([]float64{0}, c...))
			return combined{x.Estimate, x.SE, x.DF, x.Low, x.High, x.T, x.P, x.Tested}, err
		},
		test: func(which []int) (joint, error) {
			x, err := fit.Wald(unitRows(which, columns))
			if err != nil {
				return joint{}, fmt.Errorf("%w: %w", errNoTest, err)
			}
			return joint{x.Name, x.Statistic, x.DF1, x.DF2, x.P}, nil
		},
	}
}

func mixedCombiner(fit *mixed.Model, columns int) combiner {
	return combiner{
		sum: func(c []float64) (combined, error) {
			x, err := fit.Contrast(append([]float64{0}, c...))
			if x.DF == 0 {
				x.DF = math.NaN()
			}
			return combined{x.Estimate, x.SE, x.DF, x.Low, x.High, x.T, x.P, x.SE > 0}, err
		},
		test: func(which []int) (joint, error) {
			x, err := fit.FTest(unitRows(which, columns))
			if err != nil {
				return joint{}, fmt.Errorf("%w: %w", errNoTest, err)
			}
			if x.DF2 == 0 {
				x.DF2 = math.NaN()
			}
			return joint{x.Name, x.Statistic, x.DF1, x.DF2, x.P}, nil
		},
	}
}
