package figure

import (
	"math"
	"strings"
	"testing"
)

// A fitted curve is drawn over its steps, said in words, and cut at the edge.
func TestCurvesModel(t *testing.T) {
	steps := []Step{{Time: 0, Estimate: 1, AtRisk: 40}, {Time: 200, Estimate: 0.7, AtRisk: 30, Events: 10}, {Time: 400, Estimate: 0.5, AtRisk: 20, Events: 5}}
	var model []XY
	for t := 0.0; t <= 800; t += 100 {
		model = append(model, XY{t, math.Exp(-t / 500)})
	}
	plainFig := Curves(CurvesSpec{ID: "a", Curves: []Curve{{Steps: steps}}})
	fig := Curves(CurvesSpec{ID: "a", Curves: []Curve{{Steps: steps, Model: append(model, XY{math.NaN(), 1}, XY{100, math.Inf(1)})}}})
	if !strings.Contains(fig.Long, "The fitted curve: 67% at 6.57 months, 45% at 13.1 months.") {
		t.Errorf("the fitted curve does not end with the steps: %s", fig.Long)
	}
	if strings.Contains(plainFig.Long, "fitted") {
		t.Errorf("no curve was fitted: %s", plainFig.Long)
	}
}

// Ratios too small or too large to tell anything are printed as such.
func TestForestSizes(t *testing.T) {
	f := Forest(ForestSpec{Terms: []ForestTerm{{Name: "a", Rows: []ForestRow{{Estimate: 1e-60, Low: 1e-90, High: 1e-30}}}, {Name: "b", Rows: []ForestRow{{Estimate: 1e9, Low: 2, High: 1e40}}}}})
	for _, s := range []string{f.Description, f.Long} {
		if strings.Contains(s, "e−") || strings.Contains(s, "e+") || !strings.Contains(s, "<0.001") || !strings.Contains(s, ">1,000,000") {
			t.Errorf("sizes: %s", s)
		}
	}
}
