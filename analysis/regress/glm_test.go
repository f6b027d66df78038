package regress

import (
	"fmt"
	"math"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// fitted are the values of a fit in testdata/published/outcomes, made by R
// 4.2.2 (make.R there has the calls).
type fitted struct {
	Coef, SE                   []float64
	Vcov                       [][]float64
	LogLik                     float64 `json:"loglik"`
	LogLikNull                 float64 `json:"loglik_null"`
	Deviance, DF, Pearson, AIC float64
	NullDeviance               float64 `json:"null_deviance"`
	Profile                    [][]float64
	Zeros                      []float64
	CR2                        struct{ SE, DF, Estimate []float64 }
	CR1                        []float64
	Theta                      float64
	ThetaSE                    float64 `json:"theta_se"`
}

func outcomes(t testing.TB, into any) {
	t.Helper()
	lsqtest.Expected(t, published, "outcomes", "expected.json", into)
}

// set makes the data of a published set: numbers as they are, "column=value"
// for what is 1 where a text column has the value.
func set(t testing.TB, name, y string, columns ...string) GLMData {
	t.Helper()
	c := lsqtest.Columns(t, published, name)
	d := GLMData{Y: lsqtest.Numbers(t, c[y])}
	for _, n := range columns {
		d.Names = append(d.Names, n)
		if col, value, ok := cut(n); ok {
			x := make([]float64, len(d.Y))
			for i, v := range c[col] {
				if v == value {
					x[i] = 1
				}
			}
			d.X = append(d.X, x)
			continue
		}
		d.X = append(d.X, lsqtest.Numbers(t, c[n]))
	}
	return d
}

func cut(s string) (string, string, bool) {
	for i := range s {
		if s[i] == '=' {
			return s[:i], s[i+1:], true
		}
	}
	return s, "", false
}

func birthwt(t testing.TB) GLMData {
	d := set(t, "birthwt", "low", "smoke", "age", "lwt", "race=2", "race=3", "ptl", "ht", "ui")
	for i, v := range d.X[5] {
		d.X[5][i] = math.Min(v, 1)
	}
	return d
}

func quine(t testing.TB) GLMData {
	return set(t, "quine", "Days", "Eth=N", "Sex=M", "Age=F1", "Age=F2", "Age=F3", "Lrn=SL")
}

func glm(t testing.TB, f Family, d GLMData, o GLMOptions) *GLM {
	t.Helper()
	m, err := FitGLM(f, d, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func compareGLM(t *testing.T, what string, m *GLM, e fitted, tol float64) {
	t.Helper()
	for j, c := range m.Coef {
		lsqtest.Close(t, what+" "+c.Name, c.Estimate, e.Coef[j], tol)
		lsqtest.Close(t, what+" error of "+c.Name, c.ModelSE, e.SE[j], tol)
		for k := range m.Coef {
			if e.Vcov != nil {
				lsqtest.Close(t, what+" covariance", m.Cov.Model[j][k], e.Vcov[j][k], 100*tol)
			}
		}
	}
	lsqtest.Close(t, what+" log likelihood", m.LogLik, e.LogLik, 1e-11)
	if e.LogLikNull != 0 {
		lsqtest.Close(t, what+" null", m.LogLikNull, e.LogLikNull, 1e-11)
	}
	lsqtest.Close(t, what+" deviance", m.Deviance, e.Deviance, tol)
	lsqtest.Close(t, what+" null deviance", m.DevianceNull, e.NullDeviance, tol)
	lsqtest.Close(t, what+" Pearson", m.Pearson, e.Pearson, tol)
	lsqtest.Close(t, what+" AIC", m.AIC, e.AIC, 1e-10)
	lsqtest.Close(t, what+" df", m.DF, e.DF, 0)
	for j, l := range m.Limits {
		if e.Profile == nil {
			break
		}
		lsqtest.Close(t, fmt.Sprint(what, " low ", j), l.Low, e.Profile[j][0], 1e-8)
		lsqtest.Close(t, fmt.Sprint(what, " high ", j), l.High, e.Profile[j][1], 1e-8)
		lsqtest.Close(t, fmt.Sprint(what, " test ", j), l.Test.Statistic, e.Profile[j][2], 1e-7)
	}
}

// Low birth weight (Hosmer & Lemeshow 1989).
func TestBirthwt(t *testing.T) {
	var e struct {
		Birthwt struct {
			fitted
			Pairs struct {
				Estimate, SE []float64
				Wald         float64
			}
			Smoke struct {
				Estimate, SE, Difference, Ratio []float64
				DifferenceSE                    []float64 `json:"difference_se"`
				LogRatioSE                      []float64 `json:"log_ratio_se"`
			}
			AUC   []float64
			Brier float64
			Cook  [][]float64
		}
		Offset fitted `json:"birthwt_offset"`
	}
	outcomes(t, &e)
	d := birthwt(t)
	m := glm(t, Logistic, d, GLMOptions{Profile: true})
	compareGLM(t, "birthwt", m, e.Birthwt.fitted, 1e-10)
	w, err := m.Wald([][]float64{{0, 0, 0, 0, 1, 0, 0, 0, 0}, {0, 0, 0, 0, 0, 1, 0, 0, 0}})
	if err != nil || w.DF2 != 0 {
		t.Fatal(w, err)
	}
	lsqtest.Close(t, "Wald test of race", w.Statistic, e.Birthwt.Pairs.Wald, 1e-10)
	c, err := m.Contrast([]float64{0, 0, 0, 0, -1, 1, 0, 0, 0})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "pair", c.Estimate, e.Birthwt.Pairs.Estimate[2], 1e-9)
	lsqtest.Close(t, "error of the pair", c.SE, e.Birthwt.Pairs.SE[2], 1e-10)

	var averages []Average
	for v := range 2 {
		x := append([][]float64(nil), d.X...)
		x[0] = make([]float64, len(d.Y))
		for i := range x[0] {
			x[0][i] = float64(v)
		}
		a, err := m.Standardise(x)
		if err != nil {
			t.Fatal(err)
		}
		lsqtest.Close(t, "share", a.Estimate, e.Birthwt.Smoke.Estimate[v], 1e-11)
		lsqtest.Close(t, "error of the share", a.SE, e.Birthwt.Smoke.SE[v], 1e-10)
		averages = append(averages, a)
	}
	k, err := m.Compare(averages[1], averages[0])
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "difference", k.Difference.Estimate, e.Birthwt.Smoke.Difference[0], 1e-10)
	lsqtest.Close(t, "error of the difference", k.Difference.SE, e.Birthwt.Smoke.DifferenceSE[0], 1e-10)
	lsqtest.Close(t, "ratio", k.Ratio.Estimate, e.Birthwt.Smoke.Ratio[0], 1e-10)
	lsqtest.Close(t, "error of the log ratio", k.Ratio.SE, e.Birthwt.Smoke.LogRatioSE[0], 1e-10)

	var share []float64
	for _, r := range m.RowsOf() {
		share = append(share, r.Fitted)
	}
	roc, err := Discriminate(share, d.Y, nil, nil, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "C", roc.C, e.Birthwt.AUC[0], 1e-12)
	lsqtest.Close(t, "error of C", roc.SE, e.Birthwt.AUC[1], 1e-10)
	lsqtest.Close(t, "Brier", roc.Brier, e.Birthwt.Brier, 1e-11)
	for _, r := range e.Birthwt.Cook {
		got := m.RowsOf()[int(r[0])-1]
		for k, v := range []float64{got.Fitted, got.Residual, got.Hat, got.Cook} {
			lsqtest.Close(t, fmt.Sprint("row ", r[0], " figure ", k), v, r[k+1], 1e-9)
		}
	}
	own := set(t, "birthwt", "low", "smoke")
	for _, a := range d.X[1] {
		own.Offset = append(own.Offset, -a/20)
	}
	compareGLM(t, "offset", glm(t, Logistic, own, GLMOptions{}), e.Offset, 1e-10)
}

// Endometrial cancer, where NV separates (Heinze & Schemper 2002, table 2:
// 2.93 with limits 0.61 and 7.85; -0.03; -2.60, -4.37 and -1.23).
func TestFirthEndometrial(t *testing.T) {
	var e struct {
		Endometrial struct {
			fitted
			BRGLM2 []float64 `json:"brglm2"`
		}
		QuineFirth fitted `json:"quine_firth"`
	}
	outcomes(t, &e)
	d := set(t, "endometrial", "HG", "NV", "PI", "EH")
	_, err := FitGLM(Logistic, d, GLMOptions{})
	var sep *SeparationError
	if !asSeparation(err, &sep) || len(sep.Columns) != 1 || sep.Names[0] != "NV" {
		t.Fatalf("without penalty: %v", err)
	}
	m := glm(t, Logistic, d, GLMOptions{Firth: true})
	for j, c := range m.Coef {
		lsqtest.Close(t, c.Name, c.Estimate, e.Endometrial.Coef[j], 1e-9)
		lsqtest.Close(t, c.Name+" of brglm2", c.Estimate, e.Endometrial.BRGLM2[j], 1e-9)
		lsqtest.Close(t, c.Name+" error", c.SE, e.Endometrial.SE[j], 1e-9)
		lsqtest.Close(t, c.Name+" low", m.Limits[j].Low, e.Endometrial.Profile[j][0], 1e-7)
		lsqtest.Close(t, c.Name+" high", m.Limits[j].High, e.Endometrial.Profile[j][1], 1e-7)
		lsqtest.Close(t, c.Name+" test", m.Limits[j].Test.Statistic, e.Endometrial.Profile[j][2], 1e-7)
	}
	lsqtest.Close(t, "log likelihood", m.LogLik, e.Endometrial.LogLik, 1e-11)
	lsqtest.Close(t, "null", m.LogLikNull, e.Endometrial.LogLikNull, 1e-10)
	for j, want := range map[int][3]float64{1: {2.93, 0.61, 7.85}, 3: {-2.60, -4.37, -1.23}} {
		for k, got := range []float64{m.Coef[j].Estimate, m.Limits[j].Low, m.Limits[j].High} {
			if math.Abs(got-want[k]) > 0.005 {
				t.Errorf("published: column %d figure %d is %.4f, printed %.2f", j, k, got, want[k])
			}
		}
	}

	// Counts: the third form of Aitkin's set, and everybody who was never away.
	q := quine(t)
	var keep []int
	for i := range q.Y {
		if q.X[4][i] == 1 || q.Y[i] == 0 {
			keep = append(keep, i)
		}
	}
	c := GLMData{Y: pick(q.Y, keep), X: [][]float64{pick(q.X[0], keep), pick(q.X[1], keep)}, Names: q.Names[:2]}
	p := glm(t, Poisson, c, GLMOptions{Firth: true})
	for j, x := range p.Coef {
		lsqtest.Close(t, "counts "+x.Name, x.Estimate, e.QuineFirth.Coef[j], 1e-9)
		lsqtest.Close(t, "counts error "+x.Name, x.SE, e.QuineFirth.SE[j], 1e-9)
	}
}

func asSeparation(err error, to **SeparationError) bool {
	for err != nil {
		if s, ok := err.(*SeparationError); ok {
			*to = s
			return true
		}
		u, ok := err.(interface{ Unwrap() error })
		if !ok {
			return false
		}
		err = u.Unwrap()
	}
	return false
}

// Of a two-by-two table the penalised log odds ratio is that with a half added
// to every cell (Haldane 1956; Firth 1993, section 3.4).
func TestFirthOfATable(t *testing.T) {
	for _, cells := range [][2][2]float64{{{7, 0}, {5, 9}}, {{1, 0}, {0, 1}}, {{400, 3}, {0, 2}}} { // by column, without and with the outcome
		tableOf(t, cells)
	}
}

func tableOf(t *testing.T, cells [2][2]float64) {
	t.Helper()
	d := GLMData{X: [][]float64{nil}, Names: []string{"x"}}
	for x, c := range cells {
		for y, n := range c {
			if n > 0 {
				d.Y, d.X[0], d.Weight = append(d.Y, float64(y)), append(d.X[0], float64(x)), append(d.Weight, n)
			}
		}
	}
	m := glm(t, Logistic, d, GLMOptions{Firth: true})
	constant := math.Log((cells[0][1] + 0.5) / (cells[0][0] + 0.5))
	lsqtest.Close(t, "log odds ratio", m.Coef[1].Estimate, math.Log((cells[1][1]+0.5)/(cells[1][0]+0.5))-constant, 1e-10)
	lsqtest.Close(t, "constant", m.Coef[0].Estimate, constant, 1e-10)
	if m.Iterations > 30 {
		t.Errorf("%d iterations", m.Iterations)
	}
}

// Wheeze of children in Ohio: four rows of each child.
func TestClusteredOhio(t *testing.T) {
	var e struct {
		Ohio      fitted
		OhioSmoke struct{ Coef, SE, DF, P []float64 } `json:"ohio_smoke"`
	}
	outcomes(t, &e)
	d := set(t, "ohio", "resp", "age", "smoke")
	product := make([]float64, len(d.Y))
	for i := range product {
		product[i] = d.X[0][i] * d.X[1][i]
	}
	d.X, d.Names = append(d.X, product), append(d.Names, "agesmoke")
	d.Cluster = lsqtest.Groups(lsqtest.Columns(t, published, "ohio")["id"])
	m := glm(t, Logistic, d, GLMOptions{})
	compareGLM(t, "ohio", m, e.Ohio, 1e-9)
	for j, c := range m.Coef {
		lsqtest.Close(t, "CR2 "+c.Name, c.SE, e.Ohio.CR2.SE[j], 1e-9)
		lsqtest.Close(t, "df "+c.Name, c.DF, e.Ohio.CR2.DF[j], 1e-8)
		lsqtest.Close(t, "CR1 "+c.Name, math.Sqrt(m.Cov.CR1[j][j]), e.Ohio.CR1[j], 1e-9)
	}
	// Columns that a child keeps: the adjustment is that of clubSandwich too.
	s := d
	s.X, s.Names = d.X[1:2], d.Names[1:2]
	for j, c := range glm(t, Logistic, s, GLMOptions{}).Coef {
		lsqtest.Close(t, "smoke", c.Estimate, e.OhioSmoke.Coef[j], 1e-9)
		lsqtest.Close(t, "smoke CR2", c.SE, e.OhioSmoke.SE[j], 1e-9)
		lsqtest.Close(t, "smoke df", c.DF, e.OhioSmoke.DF[j], 1e-8)
		lsqtest.Close(t, "smoke p", c.P, e.OhioSmoke.P[j], 1e-7)
	}
}
