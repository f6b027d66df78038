package survival

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/stats"
)

// The values in testdata/firth.json come from testdata/firth.R, which writes
// the method out from its formulas (R 4.2.2).
func checkFirth(t *testing.T, d CoxData, ties Ties, name string) *FirthCox {
	t.Helper()
	e := readJSON(t, "testdata/firth.json")[name].(map[string]any)
	f := must(FitCoxFirth(d, CoxOptions{Ties: ties}, 0))(t)
	for j, want := range numbers(e["coef"]) {
		near(t, name+" coefficient", f.Coef[j], want, 1e-7)
		near(t, name+" std err", f.StdErr()[j], numbers(e["se"])[j], 1e-7)
		l := f.Limits[j]
		if !l.HasLow || !l.HasHigh {
			t.Errorf("%s: column %d has no limits", name, j)
		}
		near(t, name+" low", l.Low, numbers(e["low"])[j], 1e-6)
		near(t, name+" high", l.High, numbers(e["high"])[j], 1e-6)
		near(t, name+" test", l.Test.Statistic, numbers(e["test"])[j], 1e-6)
	}
	near(t, name+" null log likelihood", f.LogLikNull, numbers(e["loglik"])[0], 1e-10)
	near(t, name+" log likelihood", f.LogLik, numbers(e["loglik"])[1], 1e-10)
	return f
}

// separated is Freireich's trial with a column that nobody with the event has.
func separated(t *testing.T) CoxData {
	s := load(t, "freireich")
	d := CoxData{Time: s.num("time"), Names: []string{"control", "marked"}, X: make([][]float64, 2)}
	for i, r := range s.rows {
		event := r["cens"] == "1"
		d.Event = append(d.Event, event)
		d.X[0] = append(d.X[0], yes(r["treat"] == "control"))
		d.X[1] = append(d.X[1], yes(!event && (i+1)%2 == 0))
	}
	return d
}

func yes(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func TestFirthPublishedSets(t *testing.T) {
	s := load(t, "ovarian")
	d := CoxData{Time: s.num("futime"), Names: []string{"age", "rx", "ecog"}, X: [][]float64{s.num("age"), s.num("rx"), s.num("ecog.ps")}}
	for _, r := range s.rows {
		d.Event = append(d.Event, r["fustat"] == "1")
	}
	sep := separated(t)
	var separation *SeparationError
	if _, err := FitCox(sep, CoxOptions{}); !errors.As(err, &separation) {
		t.Fatalf("not separated: %v", err)
	}
	for name, ties := range map[string]Ties{"efron": Efron, "breslow": Breslow} {
		checkFirth(t, d, ties, "ovarian_"+name)
		checkFirth(t, sep, ties, "separated_"+name)
	}
	alone := sep
	alone.Names, alone.X = sep.Names[1:], sep.X[1:]
	checkFirth(t, alone, Efron, "separated_alone")
	h := load(t, "heart")
	late := CoxData{Entry: h.num("start"), Time: h.num("stop"), Names: []string{"age", "transplant"}, X: [][]float64{h.num("age"), h.num("transplant")}}
	for _, r := range h.rows {
		late.Event = append(late.Event, r["event"] == "1")
	}
	checkFirth(t, late, Efron, "late")
}

// Units and the side that is called 1 do not matter.
func TestFirthUnits(t *testing.T) {
	d := separated(t)
	a := must(FitCoxFirth(d, CoxOptions{}, 0.9))(t)
	for i := range d.X[1] {
		d.X[1][i] = 7 - 1000*d.X[1][i]
	}
	b := must(FitCoxFirth(d, CoxOptions{}, 0.9))(t)
	near(t, "coefficient", b.Coef[1], -a.Coef[1]/1000, 1e-8)
	near(t, "low", b.Limits[1].Low, -a.Limits[1].High/1000, 1e-8)
	near(t, "concordance", b.Concordance.Estimate, a.Concordance.Estimate, 1e-12)
}

func TestFirthDegenerate(t *testing.T) {
	d := separated(t)
	if _, err := FitCoxFirth(d, CoxOptions{Ties: Discrete}, 0); !errors.Is(err, ErrNotDiscrete) {
		t.Errorf("discrete ties: %v", err)
	}
	if _, err := FitCoxFirth(d, CoxOptions{}, 1.5); err == nil {
		t.Error("confidence 1.5: no error")
	}
	one := CoxData{Time: []float64{1, 2}, Event: []bool{true, false}, Names: []string{"x"}, X: [][]float64{{1, 0}}}
	f, err := FitCoxFirth(one, CoxOptions{}, 0)
	if err != nil || !finite(f.Coef[0]) || math.Abs(f.Coef[0]) > 5 {
		t.Errorf("two rows: %+v %v", f, err)
	}
	d.Event = make([]bool, len(d.Time))
	if _, err := FitCoxFirth(d, CoxOptions{}, 0); !errors.Is(err, stats.ErrNoEvents) {
		t.Errorf("no events: %v", err)
	}
	d = separated(t)
	d.X[0] = d.X[1]
	var columns *ColumnsError
	if _, err := FitCoxFirth(d, CoxOptions{}, 0); !errors.As(err, &columns) {
		t.Errorf("one column twice: %v", err)
	}
}
