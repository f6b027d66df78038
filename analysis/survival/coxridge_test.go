package survival

import (
	"errors"
	"testing"

	"plybook/analysis/stats"
)

// checkRidge compares a fit with testdata/frailty.json: testdata/frailty.R
// checks its penalised fits against ridge of survival 3.5-3 (R 4.2.2), and
// writes out the marginal likelihood.
func checkRidge(t *testing.T, name string, d CoxData, o RidgeOptions) *RidgeCox {
	t.Helper()
	e := readJSON(t, "testdata/frailty.json")[name].(map[string]any)
	f := must(FitCoxRidge(d, CoxOptions{}, o))(t)
	near(t, name+" size", f.Size, number(e["size"]), 1e-6)
	nears(t, name+" coefficients", f.Coef, numbers(e["coef"]), 1e-6)
	nears(t, name+" errors", f.StdErr(), numbers(e["se"]), 1e-6)
	near(t, name+" log likelihood", f.LogLik, number(e["loglik"]), 1e-9)
	near(t, name+" marginal", f.Marginal, number(e["marginal"]), 1e-10)
	near(t, name+" effective df", f.DF, number(e["df"]), 1e-6)
	return f
}

func TestRidgePublishedSets(t *testing.T) {
	o := frailData(t, load(t, "ovarian"), "futime", "fustat", "age", "rx", "ecog.ps")
	v := frailData(t, load(t, "veteran"), "time", "status", "trt", "karno", "diagtime", "age", "prior")
	heart := load(t, "heart")
	h := frailData(t, heart, "stop", "event", "age", "year", "surgery")
	h.Entry = heart.num("start")
	checkRidge(t, "ridge_ovarian_1", o, RidgeOptions{Size: 1, Spread: []float64{1, 1, 1}})
	checkRidge(t, "ridge_ovarian_scaled", o, RidgeOptions{Size: 5})
	checkRidge(t, "ridge_ovarian_chosen", o, RidgeOptions{})
	checkRidge(t, "ridge_veteran_scaled", v, RidgeOptions{Size: 20})
	checkRidge(t, "ridge_veteran_chosen", v, RidgeOptions{})
	checkRidge(t, "ridge_heart_chosen", h, RidgeOptions{})
}

// A row of weight 2 is two rows; units do not matter; a penalty of next to
// nothing is none.
func TestRidgeProperties(t *testing.T) {
	d := frailData(t, load(t, "ovarian"), "futime", "fustat", "age", "rx", "ecog.ps")
	twice, units := d, d
	twice.Weight = make([]float64, len(d.Time))
	rows := []int{}
	for i := range d.Time {
		twice.Weight[i] = float64(1 + i%3)
		for range 1 + i%3 {
			rows = append(rows, i)
		}
	}
	written := CoxData{Names: d.Names, X: make([][]float64, 3)}
	for _, i := range rows {
		written.Time, written.Event = append(written.Time, d.Time[i]), append(written.Event, d.Event[i])
		for j := range d.X {
			written.X[j] = append(written.X[j], d.X[j][i])
		}
	}
	a, b := must(FitCoxRidge(twice, CoxOptions{Ties: Breslow}, RidgeOptions{}))(t), must(FitCoxRidge(written, CoxOptions{Ties: Breslow}, RidgeOptions{}))(t)
	near(t, "size", a.Size, b.Size, 1e-6)
	nears(t, "coefficients", a.Coef, b.Coef, 1e-7)
	units.X = [][]float64{nil, d.X[1], d.X[2]}
	for _, x := range d.X[0] {
		units.X[0] = append(units.X[0], 1000*x-3)
	}
	a, b = must(FitCoxRidge(units, CoxOptions{}, RidgeOptions{Size: 3}))(t), must(FitCoxRidge(d, CoxOptions{}, RidgeOptions{Size: 3}))(t)
	near(t, "coefficient", 1000*a.Coef[0], b.Coef[0], 1e-9)
	near(t, "concordance", a.Concordance.Estimate, b.Concordance.Estimate, 1e-12)
	free, plain := must(FitCoxRidge(d, CoxOptions{}, RidgeOptions{Size: 1e-12}))(t), must(FitCox(d, CoxOptions{}))(t)
	nears(t, "without penalty", free.Coef, plain.Coef, 1e-8)
	near(t, "effective df without penalty", free.DF, 3, 1e-8)
}

func TestRidgeDegenerate(t *testing.T) {
	d := separated(t)
	f := must(FitCoxRidge(d, CoxOptions{}, RidgeOptions{}))(t)
	if !(f.Coef[1] < 0) || !finite(f.Coef[1]) || !(f.DF < 2) {
		t.Errorf("separated: %+v", f)
	}
	double := d
	double.X, double.Names = append([][]float64{d.X[0]}, d.X...), []string{"one", "again", "marked"}
	f = must(FitCoxRidge(double, CoxOptions{}, RidgeOptions{Size: 1}))(t)
	near(t, "a column twice", f.Coef[0], f.Coef[1], 1e-9)
	var columns *ColumnsError
	flat := d
	flat.X = [][]float64{d.X[0], make([]float64, len(d.Time))}
	if _, err := FitCoxRidge(flat, CoxOptions{}, RidgeOptions{}); !errors.As(err, &columns) || !columns.Constant {
		t.Errorf("constant column: %v", err)
	}
	none := d
	none.Event = make([]bool, len(d.Time))
	if _, err := FitCoxRidge(none, CoxOptions{}, RidgeOptions{}); !errors.Is(err, stats.ErrNoEvents) {
		t.Errorf("no events: %v", err)
	}
	if _, err := FitCoxRidge(d, CoxOptions{Ties: Discrete}, RidgeOptions{}); !errors.Is(err, ErrNotDiscrete) {
		t.Errorf("discrete: %v", err)
	}
	if _, err := FitCoxRidge(d, CoxOptions{}, RidgeOptions{Size: -1}); err == nil {
		t.Error("negative size: no error")
	}
	// A column that orders nothing: the data want it at 0.
	idle := CoxData{Names: []string{"x"}, X: make([][]float64, 1)}
	for i := range 40 {
		idle.Time, idle.Event = append(idle.Time, float64(1+i/2)), append(idle.Event, true)
		idle.X[0] = append(idle.X[0], float64(i%2))
	}
	if _, err := FitCoxRidge(idle, CoxOptions{}, RidgeOptions{}); !errors.Is(err, ErrNoRidge) {
		t.Errorf("idle column: %v", err)
	}
}
