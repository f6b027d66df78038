package regress

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
	"plybook/analysis/stats"
)

type levelShares struct {
	Each []struct{ Value, SE []float64 }

	Difference   []float64
	DifferenceSE []float64 `json:"difference_se"`
}

type levelFit struct {
	Coef, SE, CR1 []float64
	Vcov          [][]float64
	LogLik        float64 `json:"loglik"`
	LogLikNull    float64 `json:"loglik_null"`
	AIC           float64
	Tests         map[string]float64
	Contact       levelShares
	Warmth        levelShares
	ContTest      float64 `json:"cont_test"`
	ContWald      float64 `json:"cont_wald"`
	Unequal       struct {
		Alpha, Beta, SE []float64
		LogLik          float64 `json:"loglik"`
	}
}

func levels(t testing.TB) (out struct{ Housing, Wine levelFit }) {
	t.Helper()
	lsqtest.Expected(t, published, "outcomes", "levels.json", &out)
	return out
}

func levelsOf(column []string, order ...string) []int {
	var out []int
	for _, v := range column {
		for k, o := range order {
			if v == o {
				out = append(out, k)
			}
		}
	}
	return out
}

func ordinal(t testing.TB, d OrdinalData, o OrdinalOptions) *Ordinal {
	t.Helper()
	m, err := FitOrdinal(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func housing(t testing.TB) OrdinalData {
	g := set(t, "housing", "Freq", "Infl=Medium", "Infl=High", "Type=Apartment", "Type=Atrium", "Type=Terrace", "Cont=High")
	c := lsqtest.Columns(t, published, "housing")
	return OrdinalData{Y: levelsOf(c["Sat"], "Low", "Medium", "High"), Levels: 3, X: g.X, Names: g.Names, Weight: g.Y, Terms: []int{0, 0, 1, 1, 1, 2}}
}

func compareShares(t *testing.T, what string, s *LevelShares, value, se []float64) {
	t.Helper()
	all := append(append(append([]Average(nil), s.Above...), s.Levels...), s.Mean)
	for i, a := range all {
		lsqtest.Close(t, fmt.Sprint(what, " ", i), a.Estimate, value[i], 1e-9)
		lsqtest.Close(t, fmt.Sprint(what, " error ", i), a.SE, se[i], 1e-7) // theirs by differences
	}
}

// Satisfaction with housing (Madsen 1976; Venables & Ripley 2002, page 200,
// print 0.5664, 1.2888, 0.3603 and the deviance 3479.149).
func TestHousing(t *testing.T) {
	e := levels(t).Housing
	d := housing(t)
	m := ordinal(t, d, OrdinalOptions{})
	for j, c := range m.Coef {
		lsqtest.Close(t, c.Name, c.Estimate, e.Coef[j], 1e-9)
		lsqtest.Close(t, "error of "+c.Name, c.SE, e.SE[j], 1e-8)
		for k := range m.Coef {
			lsqtest.Close(t, "covariance", m.Cov.Model[j][k], e.Vcov[j][k], 1e-6)
		}
	}
	lsqtest.Close(t, "log likelihood", m.LogLik, e.LogLik, 1e-12)
	lsqtest.Close(t, "null", m.LogLikNull, e.LogLikNull, 1e-12)
	lsqtest.Close(t, "AIC", m.AIC, e.AIC, 1e-12)
	for j, printed := range map[int]float64{2: 0.5664, 3: 1.2888, 7: 0.3603} {
		if math.Abs(m.Coef[j].Estimate-printed) > 5e-5 {
			t.Errorf("%s is printed as %.4f, here %.6f", m.Coef[j].Name, printed, m.Coef[j].Estimate)
		}
	}
	if math.Abs(-2*m.LogLik-3479.149) > 5e-4 {
		t.Errorf("deviance %.4f", -2*m.LogLik)
	}
	tests, err := m.Proportional()
	if err != nil || len(tests) != 4 {
		t.Fatal(tests, err)
	}
	for i, name := range []string{"Infl", "Type", "Cont", "all"} {
		lsqtest.Close(t, name, tests[i].Statistic, e.Tests[name], 1e-8)
		if df := []float64{2, 3, 1, 6}[i]; tests[i].DF1 != df || !tests[i].Tested {
			t.Errorf("%s: %+v", name, tests[i])
		}
	}
	var sides []*LevelShares
	for v := range 2 {
		x := append([][]float64(nil), d.X...)
		x[5] = make([]float64, len(d.Y))
		for i := range x[5] {
			x[5][i] = float64(v)
		}
		s, err := m.Standardise(x, []float64{0, 1, 2})
		if err != nil {
			t.Fatal(err)
		}
		compareShares(t, "contact", s, e.Contact.Each[v].Value, e.Contact.Each[v].SE)
		sides = append(sides, s)
	}
	c, err := m.Compare(sides[1].Mean, sides[0].Mean)
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "difference of means", c.Difference.Estimate, e.Contact.Difference[5], 1e-9)
	lsqtest.Close(t, "its error", c.Difference.SE, e.Contact.DifferenceSE[5], 1e-7)

	u := d
	u.Unequal = []bool{false, false, false, false, false, true}
	p := ordinal(t, u, OrdinalOptions{})
	lsqtest.Close(t, "partial log likelihood", p.LogLik, e.Unequal.LogLik, 1e-12)
	for j, b := range e.Unequal.Beta {
		lsqtest.Close(t, p.Coef[2+j].Name, p.Coef[2+j].Estimate, b, 1e-8)
		lsqtest.Close(t, "error", p.Coef[2+j].SE, e.Unequal.SE[4+j], 1e-7)
	}
	for k := range 2 {
		lsqtest.Close(t, "threshold", p.Coef[k].Estimate, e.Unequal.Alpha[k], 1e-8)
		at := p.At(5, k)
		lsqtest.Close(t, "contact at a cut", p.Coef[at].Estimate, -e.Unequal.Alpha[2+k], 1e-8)
		lsqtest.Close(t, "its error", p.Coef[at].SE, e.Unequal.SE[2+k], 1e-7)
	}
	// Let differ already, the test is the same from the other side.
	tests, err = p.Proportional()
	if err != nil || len(tests) != 3 {
		t.Fatal(tests, err)
	}
	lsqtest.Close(t, "from the other side", tests[2].Statistic, e.Tests["Cont"], 1e-7)
}

// Bitterness of wine (Randall 1989), judges as clusters.
func TestWine(t *testing.T) {
	e := levels(t).Wine
	c := lsqtest.Columns(t, published, "wine")
	g := set(t, "wine", "rating", "temp=warm", "contact=yes")
	d := OrdinalData{Y: levelsOf(c["rating"], "1", "2", "3", "4", "5"), Levels: 5, X: g.X, Names: g.Names, Cluster: lsqtest.Groups(c["judge"])}
	m := ordinal(t, d, OrdinalOptions{})
	for j, c := range m.Coef {
		lsqtest.Close(t, c.Name, c.Estimate, e.Coef[j], 1e-9)
		lsqtest.Close(t, "model error of "+c.Name, c.ModelSE, e.SE[j], 1e-8)
		lsqtest.Close(t, "CR1 of "+c.Name, c.SE, e.CR1[j], 1e-8)
		if c.DF != 8 {
			t.Errorf("df %g", c.DF)
		}
	}
	lsqtest.Close(t, "log likelihood", m.LogLik, e.LogLik, 1e-12)
	for v := range 2 {
		x := [][]float64{make([]float64, 72), d.X[1]}
		for i := range x[0] {
			x[0][i] = float64(v)
		}
		s, err := m.Standardise(x, []float64{1, 2, 3, 4, 5})
		if err != nil {
			t.Fatal(err)
		}
		compareShares(t, "warmth", s, e.Warmth.Each[v].Value, e.Warmth.Each[v].SE)
	}
	tests, err := m.Proportional()
	if err != nil {
		t.Fatal(err)
	}
	if tests[1].DF1 != 3 || tests[1].DF2 != 8 || !tests[1].Tested {
		t.Errorf("with clusters: %+v", tests[1])
	}
	lsqtest.Close(t, "Wald test of contact", tests[1].Statistic, e.ContWald, 1e-6)
	d.Cluster = nil
	if tests, err = ordinal(t, d, OrdinalOptions{}).Proportional(); err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "contact", tests[1].Statistic, e.ContTest, 1e-7)
}

// With two levels the model is the logistic one.
func TestTwoLevelsAreLogistic(t *testing.T) {
	b := birthwt(t)
	d := OrdinalData{Levels: 2, X: b.X, Names: b.Names}
	for _, y := range b.Y {
		d.Y = append(d.Y, int(y))
	}
	m, g := ordinal(t, d, OrdinalOptions{}), glm(t, Logistic, b, GLMOptions{})
	lsqtest.Close(t, "threshold", m.Coef[0].Estimate, -g.Coef[0].Estimate, 1e-9)
	for j := 1; j < len(g.Coef); j++ {
		lsqtest.Close(t, g.Coef[j].Name, m.Coef[j].Estimate, g.Coef[j].Estimate, 1e-9)
		lsqtest.Close(t, g.Coef[j].Name, m.Coef[j].SE, g.Coef[j].SE, 1e-9)
	}
	lsqtest.Close(t, "log likelihood", m.LogLik, g.LogLik, 1e-12)
	if tests, err := m.Proportional(); tests != nil || err != nil {
		t.Errorf("tests %v, %v", tests, err)
	}
}

func TestUnusableOrdinalData(t *testing.T) {
	ok := func() OrdinalData {
		return OrdinalData{Y: []int{0, 1, 2, 0, 1, 2, 1, 2, 0, 1}, Levels: 3, X: [][]float64{{1, 2, 3, 1, 2, 1, 2, 4, 3, 2}, {0, 1, 0, 0, 0, 1, 1, 0, 1, 0}}, Names: []string{"x", "z"}, Cluster: []int{1, 1, 2, 2, 3, 3, 4, 4, 5, 5}}
	}
	m, err := FitOrdinal(ok(), OrdinalOptions{})
	if err != nil {
		t.Fatal("the unchanged data:", err)
	}
	finite(t, "model", reflect.ValueOf(m.Coef))
	for _, c := range []struct {
		name   string
		change func(*OrdinalData, *OrdinalOptions)
		want   error
		says   string
	}{
		{"empty", func(d *OrdinalData, _ *OrdinalOptions) { *d = OrdinalData{} }, stats.ErrNoRows, "ordinal model"},
		{"one level", func(d *OrdinalData, _ *OrdinalOptions) { d.Levels, d.Y = 1, make([]int, 10) }, ErrInput, ""},
		{"an empty level", func(d *OrdinalData, _ *OrdinalOptions) { d.Levels = 4 }, ErrEmptyLevel, "level 3"},
		{"a level beyond", func(d *OrdinalData, _ *OrdinalOptions) { d.Y[3] = 3 }, ErrInput, "row 3"},
		{"a level below 0", func(d *OrdinalData, _ *OrdinalOptions) { d.Y[3] = -1 }, ErrInput, "row 3"},
		{"weight of 0", func(d *OrdinalData, _ *OrdinalOptions) { d.Weight = make([]float64, 10) }, ErrInput, "row 0"},
		{"constant column", func(d *OrdinalData, _ *OrdinalOptions) { d.X[1] = []float64{7, 7, 7, 7, 7, 7, 7, 7, 7, 7} }, stats.ErrSingular, "column z has the same value"},
		{"repeated column", func(d *OrdinalData, _ *OrdinalOptions) { d.X[1] = d.X[0] }, stats.ErrSingular, "given exactly by x"},
		{"not a number", func(d *OrdinalData, _ *OrdinalOptions) { d.X[1] = append([]float64{math.NaN()}, d.X[1][1:]...) }, ErrInput, "column z"},
		{"one cluster", func(d *OrdinalData, _ *OrdinalOptions) { d.Cluster = make([]int, 10) }, ErrOneCluster, ""},
		{"few rows", func(d *OrdinalData, _ *OrdinalOptions) {
			d.Y, d.X, d.Cluster = d.Y[:3], [][]float64{{1, 2, 3}, {0, 1, 0}}, nil
		}, ErrTooFewRows, "3 rows for 4 coefficients"},
		{"CR2", func(_ *OrdinalData, o *OrdinalOptions) { o.Robust = CR2 }, ErrInput, "CR2"},
		{"clustered without clusters", func(d *OrdinalData, o *OrdinalOptions) { d.Cluster, o.Robust = nil, CR1 }, ErrNoClusters, ""},
		{"level of 95", func(_ *OrdinalData, o *OrdinalOptions) { o.Level = 95 }, ErrInput, "95"},
		{"names missing", func(d *OrdinalData, _ *OrdinalOptions) { d.Names = nil }, ErrInput, ""},
		{"separated", func(d *OrdinalData, _ *OrdinalOptions) { d.X[1] = []float64{0, 0, 1, 0, 0, 1, 0, 1, 0, 0} }, ErrSeparation, "z"},
	} {
		d, o := ok(), OrdinalOptions{}
		c.change(&d, &o)
		m, err := FitOrdinal(d, o)
		if !errors.Is(err, c.want) || m != nil {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.name, err, c.says)
		}
	}
}

// Rows of weight are rows, the order of rows and units do not matter; turned
// about, the coefficients change sign.
func TestOrdinalLaws(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	d := OrdinalData{Levels: 4, X: [][]float64{nil, nil}, Names: []string{"a", "b"}}
	for i := range 150 {
		a, b := float64(r.IntN(3)), r.NormFloat64()
		u := r.Float64()
		y := 0
		for _, cut := range []float64{-1, 0.5, 1.6} {
			if math.Log(u/(1-u))+0.6*a+0.5*b > cut {
				y++
			}
		}
		d.Y, d.X[0], d.X[1], d.Cluster = append(d.Y, y), append(d.X[0], a), append(d.X[1], b), append(d.Cluster, i/3)
		d.Weight = append(d.Weight, float64(1+i%2))
	}
	m := ordinal(t, d, OrdinalOptions{})
	twice, turned := OrdinalData{Levels: 4, X: [][]float64{nil, nil}, Names: d.Names}, d
	turned.Y, turned.X = nil, [][]float64{d.X[0], nil}
	for i := len(d.Y) - 1; i >= 0; i-- {
		for range int(d.Weight[i]) {
			twice.Y, twice.Cluster = append(twice.Y, d.Y[i]), append(twice.Cluster, 7-d.Cluster[i])
			twice.X[0], twice.X[1] = append(twice.X[0], d.X[0][i]), append(twice.X[1], d.X[1][i])
		}
	}
	for i, y := range d.Y {
		turned.Y, turned.X[1] = append(turned.Y, 3-y), append(turned.X[1], 1000+d.X[1][i]/100)
	}
	x, y := ordinal(t, twice, OrdinalOptions{}), ordinal(t, turned, OrdinalOptions{})
	for j, c := range m.Coef {
		lsqtest.Close(t, "weighted "+c.Name, x.Coef[j].Estimate, c.Estimate, 1e-9)
		lsqtest.Close(t, "weighted error", x.Coef[j].SE, c.SE, 1e-9)
	}
	lsqtest.Close(t, "turned", y.Coef[3].Estimate, -m.Coef[3].Estimate, 1e-8)
	lsqtest.Close(t, "turned", y.Coef[4].Estimate, -100*m.Coef[4].Estimate, 1e-7)
	lsqtest.Close(t, "turned error", y.Coef[4].SE, 100*m.Coef[4].SE, 1e-7)
	lsqtest.Close(t, "turned log likelihood", y.LogLik, m.LogLik, 1e-12)
}
