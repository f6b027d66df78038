package regress

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
	"plybook/analysis/stats"
)

func TestUnusableData(t *testing.T) {
	ok := func() LinearData {
		return LinearData{Y: []float64{1, 2, 4, 3, 5, 9}, X: [][]float64{{1, 2, 3, 1, 2, 3}, {0, 1, 0, 0, 0, 1}}, Names: []string{"x", "z"},
			Intercept: true, Cluster: []int{1, 1, 2, 2, 3, 3}}
	}
	if _, err := FitLinear(ok(), LinearOptions{}); err != nil {
		t.Fatal("the unchanged data:", err)
	}
	for _, c := range []struct {
		name   string
		change func(*LinearData, *LinearOptions)
		want   error
		says   string
	}{
		{"empty", func(d *LinearData, _ *LinearOptions) { *d = LinearData{} }, stats.ErrNoRows, ""},
		{"one row", func(d *LinearData, _ *LinearOptions) { *d = LinearData{Y: []float64{1}, Intercept: true} }, ErrTooFewRows, ""},
		{"fewer rows than columns", func(d *LinearData, _ *LinearOptions) {
			d.Y, d.X, d.Cluster = d.Y[:2], [][]float64{{1, 2}, {0, 1}}, nil
		}, ErrTooFewRows, "2 rows for 3 coefficients"},
		{"as many rows as columns", func(d *LinearData, _ *LinearOptions) {
			d.Y, d.X, d.Cluster = d.Y[:3], [][]float64{{1, 2, 3}, {0, 1, 0}}, nil
		}, ErrTooFewRows, "3 rows for 3 coefficients"},
		{"one cluster", func(d *LinearData, _ *LinearOptions) { d.Cluster = []int{4, 4, 4, 4, 4, 4} }, ErrOneCluster, ""},
		{"clustered covariance without clusters", func(d *LinearData, o *LinearOptions) { d.Cluster, o.Robust = nil, CR1 }, ErrNoClusters, "CR1"},
		{"constant response", func(d *LinearData, _ *LinearOptions) { d.Y = []float64{3, 3, 3, 3, 3, 3} }, ErrConstantResponse, "3"},
		{"constant column", func(d *LinearData, _ *LinearOptions) { d.X[1] = []float64{7, 7, 7, 7, 7, 7} }, stats.ErrSingular, "column z has the same value"},
		{"constant column of large values", func(d *LinearData, _ *LinearOptions) {
			d.X[1] = []float64{0.1e9, 0.1e9, 0.1e9, 0.1e9, 0.1e9, 0.1e9}
		}, stats.ErrSingular, "column z has the same value"},
		{"column of zeros without intercept", func(d *LinearData, _ *LinearOptions) {
			d.Intercept, d.X[1] = false, make([]float64, 6)
		}, stats.ErrSingular, "column z"},
		{"a sum of columns", func(d *LinearData, _ *LinearOptions) {
			d.X, d.Names = append(d.X, []float64{1.1, 2.4, 3.1, 1.1, 2.1, 3.4}), append(d.Names, "sum")
		}, stats.ErrSingular, "column sum is given exactly by x and z"},
		{"categories that fill the constant", func(d *LinearData, _ *LinearOptions) {
			d.X[0] = []float64{1, 0, 1, 1, 1, 0}
		}, stats.ErrSingular, "column z is given exactly by x"},
		{"no column and no intercept", func(d *LinearData, _ *LinearOptions) { *d = LinearData{Y: []float64{1, 2}} }, ErrInput, ""},
		{"response not a number", func(d *LinearData, _ *LinearOptions) { d.Y[2] = math.NaN() }, ErrInput, "response"},
		{"column not a number", func(d *LinearData, _ *LinearOptions) { d.X[0][2] = math.NaN() }, ErrInput, "column x"},
		{"short column", func(d *LinearData, _ *LinearOptions) { d.X[0] = d.X[0][:3] }, ErrInput, "column x"},
		{"names missing", func(d *LinearData, _ *LinearOptions) { d.Names = nil }, ErrInput, ""},
		{"terms missing", func(d *LinearData, _ *LinearOptions) { d.Terms = []int{0} }, ErrInput, ""},
		{"negative term", func(d *LinearData, _ *LinearOptions) { d.Terms = []int{0, -1} }, ErrInput, "column z"},
		{"term names missing", func(d *LinearData, _ *LinearOptions) { d.TermNames = []string{"x"} }, ErrInput, ""},
		{"negative weight", func(d *LinearData, _ *LinearOptions) { d.Weight = []float64{1, 1, 1, 1, 1, -1} }, ErrInput, "row 5"},
		{"all weights zero", func(d *LinearData, _ *LinearOptions) { d.Weight = make([]float64, 6) }, stats.ErrNoRows, ""},
		{"weights missing", func(d *LinearData, _ *LinearOptions) { d.Weight = []float64{1} }, ErrInput, ""},
		{"clusters missing", func(d *LinearData, _ *LinearOptions) { d.Cluster = []int{1} }, ErrInput, ""},
		{"level of 95", func(_ *LinearData, o *LinearOptions) { o.Level = 95 }, ErrInput, "95"},
		{"unknown covariance", func(_ *LinearData, o *LinearOptions) { o.Robust = 77 }, ErrInput, "77"},
	} {
		d, o := ok(), LinearOptions{}
		c.change(&d, &o)
		m, err := FitLinear(d, o)
		if !errors.Is(err, c.want) || m != nil {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.name, err, c.says)
		}
	}
	d := ok()
	d.X[1] = d.X[0]
	var singular *SingularError
	if _, err := FitLinear(d, LinearOptions{}); !errors.As(err, &singular) || singular.Dependent[0].Column != "z" || singular.Dependent[0].On[0] != "x" {
		t.Errorf("a repeated column gives %v", err)
	}
}

// finite fails the test if any number within v is not finite.
func finite(t *testing.T, what string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			t.Errorf("%s is %v", what, v.Float())
		}
	case reflect.Slice:
		for i := range v.Len() {
			finite(t, what, v.Index(i))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			finite(t, what, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				finite(t, what+"."+f.Name, v.Field(i))
			}
		}
	}
}

// A category seen once has leverage 1: HC3 divides by zero there, so that
// model-based errors are used, and said.
func TestLeverageOfOne(t *testing.T) {
	d := LinearData{Y: []float64{1, 2, 4, 3, 5, 9}, X: [][]float64{{1, 2, 3, 1, 2, 3}, {0, 0, 0, 1, 0, 0}}, Names: []string{"x", "once"}, Intercept: true}
	for _, r := range []Robust{RobustDefault, HC2} {
		m, err := FitLinear(d, LinearOptions{Robust: r})
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "model", reflect.ValueOf(m))
		if m.Used != ModelBased || m.Cov.HC2 != nil || m.Cov.HC3 != nil || m.Cov.HC1 == nil {
			t.Errorf("%v: used %v", r, m.Used)
		}
		if len(m.Warnings) != 1 || m.Warnings[0].Code != "leverage" || !strings.Contains(m.Warnings[0].Text, "Row 4") {
			t.Errorf("warnings %+v", m.Warnings)
		}
		for _, b := range m.Coef {
			if b.SE != b.ModelSE || !b.Tested {
				t.Errorf("%s: error %g, model-based %g", b.Name, b.SE, b.ModelSE)
			}
		}
	}
}

// A category seen in one cluster only: other clusters cannot show the error
// of its coefficient; the others keep theirs.
func TestCoefficientThatRestsOnOneCluster(t *testing.T) {
	d := LinearData{Y: []float64{1, 2, 4, 3, 5, 9, 2, 3}, X: [][]float64{{1, 2, 3, 1, 2, 3, 2, 4}, {0, 0, 0, 0, 0, 0, 1, 1}},
		Names: []string{"x", "once"}, Intercept: true, Cluster: []int{1, 1, 2, 2, 3, 3, 4, 4}}
	m, err := FitLinear(d, LinearOptions{})
	if err != nil {
		t.Fatal(err)
	}
	finite(t, "model", reflect.ValueOf(m))
	if !m.Coef[1].Tested || m.Coef[2].Tested || m.Coef[2].SE != 0 {
		t.Errorf("coefficients %+v", m.Coef)
	}
	codes := ""
	for _, w := range m.Warnings {
		codes += w.Code + "(" + w.About + ") "
	}
	if codes != "few-clusters() low-df(intercept) low-df(x) one-cluster-decides(once) " {
		t.Errorf("warnings %s", codes)
	}
}

func TestRobustNames(t *testing.T) {
	if CR2.String() != "CR2" || ModelBased.String() != "model-based" || Robust(-1).String() != "Robust(-1)" {
		t.Errorf("%v %v %v", CR2, ModelBased, Robust(-1))
	}
}

func TestContrasts(t *testing.T) {
	m, err := FitLinear(ortho(t), LinearOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// One coefficient alone is its row; the Wald test of one row is its t
	// squared with the same degrees of freedom.
	c, err := m.Contrast([]float64{0, 0, 0, 1})
	if err != nil {
		t.Fatal(err)
	}
	b := m.Coef[3]
	if c.Estimate != b.Estimate || c.SE != b.SE || c.DF != b.DF || c.P != b.P || c.Low != b.Low || c.High != b.High {
		t.Errorf("contrast %+v, coefficient %+v", c, b)
	}
	w, err := m.Wald([][]float64{{0, 0, 0, 2}})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "Wald", w.Statistic, b.T*b.T, 1e-12)
	lsqtest.Close(t, "Wald df", w.DF2, b.DF, 1e-10)
	lsqtest.Close(t, "Wald p", w.P, b.P, 1e-10)
	p, err := m.Predict([]float64{11, 1, 11})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "mean of the boys at 11", p.Estimate, 17.3727272727273+11*0.479545454545454-1.03210227272729+11*0.304829545454547, 1e-12)
	for name, c := range map[string][]float64{"short": {1}, "not a number": {0, 0, 0, math.NaN()}} {
		if _, err := m.Contrast(c); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if z, err := m.Contrast(make([]float64, 4)); err != nil || z.Tested || z.Estimate != 0 {
		t.Errorf("contrast of zeros: %+v, %v", z, err)
	}
	for name, c := range map[string][][]float64{"none": {}, "short": {{1}}, "twice": {{0, 1, 0, 0}, {0, 2, 0, 0}}, "zeros": {{0, 0, 0, 0}}} {
		if _, err := m.Wald(c); !errors.Is(err, ErrInput) {
			t.Errorf("Wald test, %s: %v", name, err)
		}
	}
}
