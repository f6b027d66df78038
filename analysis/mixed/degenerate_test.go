package mixed

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/stats"
)

func TestUnusableData(t *testing.T) {
	ok := func() Data {
		return Data{Y: []float64{1, 2, 4, 3, 5, 9, 2, 8, 3}, X: [][]float64{{1, 2, 3, 1, 2, 3, 1, 2, 4}}, Names: []string{"x"},
			Intercept: true, Group: []int{1, 1, 1, 2, 2, 2, 3, 3, 3}, RandomIntercept: true}
	}
	if _, err := Fit(ok(), Options{}); err != nil {
		t.Fatal("the unchanged data:", err)
	}
	for _, c := range []struct {
		name   string
		change func(*Data, *Options)
		want   error
		says   string
	}{
		{"empty", func(d *Data, _ *Options) { *d = Data{} }, stats.ErrNoRows, ""},
		{"one row", func(d *Data, _ *Options) {
			*d = Data{Y: []float64{1}, Intercept: true, Group: []int{1}, RandomIntercept: true}
		}, ErrTooFewRows, ""},
		{"one group", func(d *Data, _ *Options) { d.Group = make([]int, 9) }, ErrOneGroup, ""},
		{"three groups, and columns that tell them apart", func(d *Data, _ *Options) {
			d.Group = []int{1, 1, 1, 2, 2, 2, 3, 3, 3}
			d.X, d.Names = [][]float64{{0, 0, 0, 1, 1, 1, 0, 0, 0}, {0, 0, 0, 0, 0, 0, 1, 1, 1}}, []string{"second", "third"}
		}, ErrNoneAlike, ""},
		{"one row per group", func(d *Data, _ *Options) { d.Group = []int{1, 2, 3, 4, 5, 6, 7, 8, 9} }, ErrNotSeparable, ""},
		{"two random effects, two rows per group", func(d *Data, _ *Options) {
			d.Group = []int{1, 1, 2, 2, 3, 3, 4, 4, 5}
			d.Z, d.ZNames = [][]float64{{1, 2, 3, 1, 2, 3, 1, 2, 4}}, []string{"x"}
		}, ErrNotSeparable, ""},
		{"constant response", func(d *Data, _ *Options) { d.Y = []float64{2, 2, 2, 2, 2, 2, 2, 2, 2} }, ErrConstantResponse, ""},
		{"response worked out from the column", func(d *Data, _ *Options) {
			for i, x := range d.X[0] {
				d.Y[i] = 3 + 0.1*x
			}
		}, ErrNoScatter, ""},
		{"response constant within groups", func(d *Data, _ *Options) {
			d.Y = []float64{1.1, 1.1, 1.1, 3.7, 3.7, 3.7, 2.2, 2.2, 2.2}
		}, ErrNoScatter, ""},
		{"constant column", func(d *Data, _ *Options) { d.X[0] = []float64{4, 4, 4, 4, 4, 4, 4, 4, 4} }, stats.ErrSingular, "x"},
		{"column twice", func(d *Data, _ *Options) {
			d.X, d.Names = append(d.X, []float64{2, 4, 6, 2, 4, 6, 2, 4, 8}), append(d.Names, "twice")
		}, stats.ErrSingular, "twice is given exactly by x"},
		{"slope that never varies within a group", func(d *Data, _ *Options) {
			d.Z, d.ZNames = [][]float64{{1, 1, 1, 2, 2, 2, 5, 5, 5}}, []string{"level"}
		}, ErrConstantSlope, "level"},
		{"the same slope twice", func(d *Data, _ *Options) {
			d.Z, d.ZNames = [][]float64{d.X[0], d.X[0]}, []string{"x", "again"}
		}, stats.ErrSingular, "again"},
		{"two random intercepts", func(d *Data, _ *Options) {
			d.Z, d.ZNames = [][]float64{{1, 1, 1, 1, 1, 1, 1, 1, 1}}, []string{"one"}
		}, stats.ErrSingular, "one"},
		{"no random effect", func(d *Data, _ *Options) { d.RandomIntercept = false }, ErrInput, ""},
		{"no fixed effect", func(d *Data, _ *Options) { d.X, d.Names, d.Intercept = nil, nil, false }, ErrInput, ""},
		{"response not a number", func(d *Data, _ *Options) { d.Y[3] = math.NaN() }, ErrInput, ""},
		{"column not finite", func(d *Data, _ *Options) { d.X[0][3] = math.Inf(1) }, ErrInput, "x"},
		{"short column", func(d *Data, _ *Options) { d.X[0] = d.X[0][:4] }, ErrInput, "x"},
		{"short groups", func(d *Data, _ *Options) { d.Group = d.Group[:4] }, ErrInput, ""},
		{"names missing", func(d *Data, _ *Options) { d.Names = nil }, ErrInput, ""},
		{"names of slopes missing", func(d *Data, _ *Options) { d.Z = d.X }, ErrInput, ""},
		{"terms missing", func(d *Data, _ *Options) { d.Terms = []int{1, 2} }, ErrInput, ""},
		{"term out of range", func(d *Data, _ *Options) { d.Terms, d.TermNames = []int{1}, []string{"a"} }, ErrInput, ""},
		{"term names missing", func(d *Data, _ *Options) { d.TermNames = []string{} }, ErrInput, ""},
		{"level of 95", func(_ *Data, o *Options) { o.Level = 95 }, ErrInput, ""},
		{"as many columns as rows", func(d *Data, _ *Options) {
			d.Y, d.Group = d.Y[:2], []int{1, 2}
			d.X[0] = d.X[0][:2]
		}, ErrTooFewRows, ""},
	} {
		d, o := ok(), Options{}
		c.change(&d, &o)
		m, err := Fit(d, o)
		if !errors.Is(err, c.want) || m != nil {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.name, err, c.says)
		}
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

// Groups that differ less than their scatter: the variance is zero, said in
// plain words, and the fit is that of least squares.
func TestNoVariationBetweenGroups(t *testing.T) {
	d := Data{Y: []float64{1, 5, 9, 2, 5, 8.5, 0.5, 5.5, 9}, X: [][]float64{{1, 2, 3, 1, 2, 3, 1, 2, 3}}, Names: []string{"weeks"},
		Intercept: true, Group: []int{1, 1, 1, 2, 2, 2, 3, 3, 3}, GroupName: "limb", RandomIntercept: true}
	m, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	finite(t, "model", reflect.ValueOf(m))
	if !m.Singular || m.Variance[0].Variance != 0 || m.ICC != 0 {
		t.Errorf("singular %v, variance %g, ICC %g", m.Singular, m.Variance[0].Variance, m.ICC)
	}
	if len(m.Warnings) != 1 || m.Warnings[0].Code != "singular" || !strings.Contains(m.Warnings[0].Text, "no more variation between limbs than measurement scatter") {
		t.Errorf("warnings %+v", m.Warnings)
	}
	if df := m.Coef[1].DF; math.Abs(df-7) > 1e-6 {
		t.Errorf("%g degrees of freedom, want the 7 of least squares", df)
	}
	for _, e := range m.Effects {
		if e.Mode[0] != 0 || e.SE[0] != 0 {
			t.Errorf("group %d has effect %g with error %g", e.Group, e.Mode[0], e.SE[0])
		}
	}
	// The same with a slope: neither varies.
	d.Z, d.ZNames = d.X, d.Names
	d.Y = []float64{1, 5, 9, 2, 5, 8.5, 0.5, 5.5, 9, 1.2, 4.8, 9.1}
	d.X = [][]float64{{1, 2, 3, 1, 2, 3, 1, 2, 3, 1, 2, 3}}
	d.Z, d.Group = d.X, []int{1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4}
	for _, uncorrelated := range []bool{false, true} {
		m, err = Fit(d, Options{Uncorrelated: uncorrelated})
		if err != nil {
			t.Fatal(err)
		}
		finite(t, "model", reflect.ValueOf(m))
		if !m.Singular || len(m.Warnings) == 0 {
			t.Errorf("uncorrelated %v: singular %v, warnings %+v", uncorrelated, m.Singular, m.Warnings)
		}
	}
}

// Lines that fan out exactly from a point: intercept and slope follow from
// one another, so that their correlation is 1 or -1.
func TestRandomEffectsThatFollowFromOneAnother(t *testing.T) {
	var d Data
	d.X, d.Names, d.Intercept, d.RandomIntercept = make([][]float64, 1), []string{"x"}, true, true
	for g, slope := range []float64{1, 2.2, 2.9, 4.1, 5.3} {
		for i, e := range []float64{0.1, -0.12, -0.05, 0.07} {
			x := float64(i)
			d.X[0] = append(d.X[0], x)
			d.Y = append(d.Y, slope*(x+2)+e)
			d.Group = append(d.Group, g)
		}
	}
	d.Z, d.ZNames = d.X, d.Names
	m, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	finite(t, "model", reflect.ValueOf(m))
	if !m.Singular || m.Variance[2].Correlation < 1-1e-6 {
		t.Errorf("singular %v, correlation %v", m.Singular, m.Variance[2].Correlation)
	}
	if len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0].Text, "tell the random effects of the groups apart") {
		t.Errorf("warnings %+v", m.Warnings)
	}
}
