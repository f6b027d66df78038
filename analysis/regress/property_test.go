package regress

import (
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

var every = []Robust{ModelBased, HC0, HC1, HC2, HC3, CR0, CR1, CR2}

// agree compares two fits; slope and intercept of b are in units of a's
// response times scale, with add added to the response.
func agree(t *testing.T, what string, a, b *Linear, scale, add, tol float64) {
	t.Helper()
	for j, x := range a.Coef {
		y := b.Coef[j]
		want := x.Estimate * scale
		if x.Term < 0 {
			want += add
		}
		lsqtest.Close(t, what+" "+x.Name, y.Estimate, want, tol)
		lsqtest.Close(t, what+" SE "+x.Name, y.SE, x.SE*scale, tol)
		lsqtest.Close(t, what+" model SE "+x.Name, y.ModelSE, x.ModelSE*scale, tol)
		lsqtest.Close(t, what+" df "+x.Name, y.DF, x.DF, tol)
	}
	lsqtest.Close(t, what+" sigma", b.Sigma, a.Sigma*scale, tol)
	lsqtest.Close(t, what+" R2", b.R2, a.R2, tol)
	lsqtest.Close(t, what+" adjusted R2", b.AdjustedR2, a.AdjustedR2, tol)
	lsqtest.Close(t, what+" F", b.Overall.Statistic, a.Overall.Statistic, tol)
	for j, x := range a.Terms {
		lsqtest.Close(t, what+" Wald", b.Terms[j].Statistic, x.Statistic, tol)
		lsqtest.Close(t, what+" Wald df", b.Terms[j].DF2, x.DF2, tol)
	}
}

func fit(t testing.TB, d LinearData, o LinearOptions) *Linear {
	t.Helper()
	m, err := FitLinear(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestRowOrderUnitsAndConstantsDoNotMatter(t *testing.T) {
	d := unbalanced(t)
	for _, r := range every {
		o := LinearOptions{Robust: r}
		a := fit(t, d, o)
		e := d
		e.Y, e.Cluster, e.X = nil, nil, make([][]float64, len(d.X))
		for _, i := range rand.New(rand.NewPCG(3, 4)).Perm(len(d.Y)) {
			e.Y, e.Cluster = append(e.Y, d.Y[i]), append(e.Cluster, 500-3*d.Cluster[i])
			for j := range d.X {
				e.X[j] = append(e.X[j], d.X[j][i])
			}
		}
		agree(t, r.String()+" shuffled", a, fit(t, e, o), 1, 0, 1e-10)
		e = d
		e.Y = make([]float64, len(d.Y))
		for i, y := range d.Y {
			e.Y[i] = 1e4*y - 2e5
		}
		agree(t, r.String()+" other units", a, fit(t, e, o), 1e4, -2e5, 1e-10)
	}
}

// A row of weight 2 equals two rows, a row of weight 0 equals none.
func TestWeightsCountRows(t *testing.T) {
	d := unbalanced(t)
	e := d
	e.Y, e.Cluster, e.X, e.Weight = nil, nil, make([][]float64, len(d.X)), nil
	for i := range d.Y {
		w := float64(i % 4)
		e.Weight = append(e.Weight, w)
		for range int(w) {
			e.Y, e.Cluster = append(e.Y, d.Y[i]), append(e.Cluster, d.Cluster[i])
			for j := range d.X {
				e.X[j] = append(e.X[j], d.X[j][i])
			}
		}
	}
	d.Weight, e.Weight = e.Weight, nil
	for _, r := range every {
		o := LinearOptions{Robust: r}
		a, b := fit(t, e, o), fit(t, d, o)
		agree(t, r.String(), a, b, 1, 0, 1e-10)
		lsqtest.Close(t, "log-likelihood", b.LogLikelihood, a.LogLikelihood, 1e-12)
		if b.DF != a.DF || b.Total != a.Total || b.Rows >= len(d.Y) {
			t.Errorf("%v: %g and %g degrees of freedom, %d rows", r, a.DF, b.DF, b.Rows)
		}
		row := 0
		for i, w := range d.Weight {
			if w == 0 {
				if b.Hat[i] != 0 || math.Abs(b.Fitted[i]+b.Residuals[i]-d.Y[i]) > 1e-12 {
					t.Errorf("row %d of weight 0: hat %g, fitted %g, residual %g", i, b.Hat[i], b.Fitted[i], b.Residuals[i])
				}
				continue
			}
			lsqtest.Close(t, "hat", b.Hat[i], a.Hat[row], 1e-10)
			lsqtest.Close(t, "fitted", b.Fitted[i], a.Fitted[row], 1e-12)
			row += int(w)
		}
	}
}

// Dates as days since 1970 next to a 0/1 column: the shift of the dates must
// not cost digits.
func TestLargeConstantInAColumn(t *testing.T) {
	d := ortho(t)
	d.X, d.Names = d.X[:2], d.Names[:2]
	a := fit(t, d, LinearOptions{})
	e := d
	later := make([]float64, len(d.Y))
	for i, v := range d.X[0] {
		later[i] = v + 1e9
	}
	e.X = [][]float64{later, d.X[1]}
	b := fit(t, e, LinearOptions{})
	for j := 1; j <= 2; j++ {
		lsqtest.Close(t, "estimate", b.Coef[j].Estimate, a.Coef[j].Estimate, 1e-11)
		lsqtest.Close(t, "SE", b.Coef[j].SE, a.Coef[j].SE, 1e-11)
		lsqtest.Close(t, "df", b.Coef[j].DF, a.Coef[j].DF, 1e-10)
	}
}

// Hat values sum to the number of coefficients, residuals are orthogonal to
// the columns.
func TestLeastSquaresLaws(t *testing.T) {
	d := unbalanced(t)
	m := fit(t, d, LinearOptions{})
	sum := 0.0
	for _, h := range m.Hat {
		sum += h
	}
	lsqtest.Close(t, "sum of hat values", sum, float64(len(m.Coef)), 1e-12)
	for j, c := range d.X {
		s := 0.0
		for i := range c {
			s += c[i] * m.Residuals[i]
		}
		if math.Abs(s) > 1e-11 {
			t.Errorf("residuals times column %d = %g", j, s)
		}
	}
}

// simulate draws clusters whose rows share an effect; the column is constant
// within clusters, the hardest case for clustered errors.
func simulate(seed uint64, clusters, rows, columns int) LinearData {
	r := rand.New(rand.NewPCG(seed, 11))
	d := LinearData{X: make([][]float64, columns), Names: make([]string, columns), Intercept: true}
	for j := range d.Names {
		d.Names[j] = "x" + string(rune('0'+j))
	}
	for g := range clusters {
		u, x := r.NormFloat64(), 0.0
		if g%4 == 0 {
			x = 1
		}
		for range rows {
			for j := range d.X {
				v := x
				if j > 0 {
					v = r.NormFloat64()
				}
				d.X[j] = append(d.X[j], v)
			}
			d.Y = append(d.Y, 2+0.5*x+u+r.NormFloat64())
			d.Cluster = append(d.Cluster, g)
		}
	}
	return d
}

// 95% intervals from 16 clusters, 4 of them with the exposure, hold the truth
// in 95% of 1500 sets: 4 standard errors of that share are 2.3%. CR0 with the
// normal distribution would reach about 85%.
func TestIntervalsCover(t *testing.T) {
	const sets = 1500
	hit := 0
	for s := range sets {
		if b := fit(t, simulate(uint64(s), 16, 5, 1), LinearOptions{}).Coef[1]; b.Low <= 0.5 && 0.5 <= b.High {
			hit++
		}
	}
	if share := float64(hit) / sets; math.Abs(share-0.95) > 0.023 {
		t.Errorf("the intervals hold the truth in %.1f%% of sets", 100*share)
	}
}

func BenchmarkFitLinear100000x10(b *testing.B) {
	d := simulate(1, 20000, 5, 10)
	for _, c := range []struct {
		name    string
		cluster []int
	}{{"HC3", nil}, {"CR2 20000 clusters", d.Cluster}} {
		e := d
		e.Cluster = c.cluster
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := FitLinear(e, LinearOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
