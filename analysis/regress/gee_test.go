package regress

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

type geeFit struct {
	Coef, Naive, Robust []float64
	Scale, Alpha        []float64
	CR2                 struct{ SE, DF []float64 }
}

func ohio(t testing.TB) GLMData {
	d := set(t, "ohio", "resp", "age", "smoke")
	product := make([]float64, len(d.Y))
	for i := range product {
		product[i] = d.X[0][i] * d.X[1][i]
	}
	d.Order = d.X[0]
	d.X, d.Names = append(d.X, product), append(d.Names, "agesmoke")
	d.Cluster = lsqtest.Groups(lsqtest.Columns(t, published, "ohio")["id"])
	return d
}

func epil(t testing.TB) GLMData {
	d := set(t, "epil", "y", "trt=progabide", "base", "age", "period")
	for i, v := range d.X[1] {
		d.X[1][i] = math.Log(v / 4)
		d.Offset = append(d.Offset, math.Log(2))
	}
	d.Order = d.X[3]
	d.X, d.Names = d.X[:3], d.Names[:3]
	d.Cluster = lsqtest.Groups(lsqtest.Columns(t, published, "epil")["subject"])
	return d
}

// Against geepack 1.3.9, and CR2 by whole matrices, in any order of rows.
func TestWorkingCorrelation(t *testing.T) {
	var e map[string]geeFit
	lsqtest.Expected(t, published, "outcomes", "gee.json", &e)
	for name, d := range map[string]GLMData{"ohio": ohio(t), "epil": epil(t)} {
		family := map[string]Family{"ohio": Logistic, "epil": Poisson}[name]
		mixed := GLMData{X: make([][]float64, len(d.X)), Names: d.Names}
		for _, i := range rand.New(rand.NewPCG(3, 4)).Perm(len(d.Y)) {
			mixed.Y, mixed.Cluster, mixed.Order = append(mixed.Y, d.Y[i]), append(mixed.Cluster, d.Cluster[i]), append(mixed.Order, d.Order[i])
			if d.Offset != nil {
				mixed.Offset = append(mixed.Offset, d.Offset[i])
			}
			for j := range d.X {
				mixed.X[j] = append(mixed.X[j], d.X[j][i])
			}
		}
		for kind, k := range map[string]Correlation{"exchangeable": Exchangeable, "ar1": Serial} {
			want := e[name+"_"+kind]
			for _, d := range []GLMData{d, mixed} {
				m := glm(t, family, d, GLMOptions{Correlation: k})
				what := name + " " + kind + " "
				if m.Correlation != k {
					t.Errorf("%s: %v", what, m.Correlation)
				}
				lsqtest.Close(t, what+"alpha", m.Alpha, want.Alpha[0], 1e-7)
				lsqtest.Close(t, what+"scale", m.Scale, want.Scale[0], 1e-8)
				for j, c := range m.Coef {
					lsqtest.Close(t, what+c.Name, c.Estimate, want.Coef[j], 1e-7)
					lsqtest.Close(t, what+"naive error", c.ModelSE, want.Naive[j], 1e-7)
					lsqtest.Close(t, what+"robust error", math.Sqrt(m.Cov.CR0[j][j]), want.Robust[j], 1e-7)
					lsqtest.Close(t, what+"CR2", c.SE, want.CR2.SE[j], 1e-7)
					lsqtest.Close(t, what+"df", c.DF, want.CR2.DF[j], 1e-6)
				}
			}
		}
		independent := glm(t, family, d, GLMOptions{})
		for j, c := range independent.Coef {
			lsqtest.Close(t, name+" independence", c.Estimate, e[name+"_independence"].Coef[j], 1e-8)
			lsqtest.Close(t, name+" independence, robust", math.Sqrt(independent.Cov.CR0[j][j]), e[name+"_independence"].Robust[j], 1e-8)
		}
	}
}

func TestWorkingCorrelationThatCannotBe(t *testing.T) {
	for name, c := range map[string]struct {
		family Family
		change func(*GLMData, *GLMOptions)
		want   error
	}{
		"no clusters":       {Logistic, func(d *GLMData, _ *GLMOptions) { d.Cluster = nil }, ErrNoClusters},
		"negative binomial": {NegativeBinomial, func(*GLMData, *GLMOptions) {}, ErrInput},
		"profile":           {Logistic, func(_ *GLMData, o *GLMOptions) { o.Profile = true }, ErrInput},
		"weights":           {Logistic, func(d *GLMData, _ *GLMOptions) { d.Weight = []float64{1, 1, 1, 1, 1, 1, 1, 2} }, ErrInput},
		"short order":       {Logistic, func(d *GLMData, _ *GLMOptions) { d.Order = []float64{1} }, ErrInput},
		"unknown":           {Logistic, func(_ *GLMData, o *GLMOptions) { o.Correlation = 7 }, ErrInput},
		"model-based":       {Logistic, func(_ *GLMData, o *GLMOptions) { o.Robust = ModelBased }, ErrInput},
	} {
		d, o := small(), GLMOptions{Correlation: Exchangeable}
		c.change(&d, &o)
		if m, err := FitGLM(c.family, d, o); !errors.Is(err, c.want) || m != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Nobody repeats: independence, and no correlation.
	d := small()
	d.Cluster = []int{1, 2, 3, 4, 5, 6, 7, 8}
	if m := glm(t, Logistic, d, GLMOptions{Correlation: Serial}); m.Correlation != Independent {
		t.Errorf("%v", m.Correlation)
	}
	if Exchangeable.String() != "exchangeable" || Correlation(9).String() != "Correlation(9)" {
		t.Error(Exchangeable, Correlation(9))
	}
	// Rows of a cluster that exclude one another: a correlation below 0, held
	// where it is possible.
	x := GLMData{X: [][]float64{nil}, Names: []string{"x"}}
	for i := range 40 {
		x.Y, x.X[0], x.Cluster = append(x.Y, float64(i%2)), append(x.X[0], float64(i%3)), append(x.Cluster, i/2)
	}
	m := glm(t, Logistic, x, GLMOptions{Correlation: Exchangeable})
	if !(m.Alpha < -0.9) || len(m.Warnings) == 0 {
		t.Errorf("alpha %g, warnings %v", m.Alpha, m.Warnings)
	}
}
