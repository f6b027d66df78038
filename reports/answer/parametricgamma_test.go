package answer_test

import (
	"math"
	"strings"
	"testing"
)

// bent are lives whose logarithms have the spread of a curve of the given
// shape, evenly drawn; none is censored.
func bent(n int, life func(share float64) float64) []lifeRow {
	var out []lifeRow
	for i := range n {
		out = append(out, lifeRow{int(math.Round(life((float64(i) + 0.5) / float64(n)))), true, "hand"})
	}
	return out
}

func TestGeneralisedGammaAnswer(t *testing.T) {
	weibull := one(t, livesLog(bent(200, func(s float64) float64 { return 300 * math.Pow(-math.Log1p(-s), 1/1.5) })), quality, "method: generalised-gamma")
	r := row(t, table(t, weibull, "terms"), "term", "shape")
	if x := r["estimate"].(float64); math.Abs(x-1) > 0.15 || r["low"].(float64) > 1 || r["high"].(float64) < 1 || r["low"].(float64) < 0 {
		t.Errorf("shape %v of Weibull lives", r)
	}
	if !strings.Contains(weibull.Reading, "where 1 would be the Weibull curve and 0 the log-normal one: these rows tell it from the log-normal curve, not from the Weibull one (p ") {
		t.Errorf("reading: %s", weibull.Reading)
	}
	if !strings.Contains(weibull.Methods, "generalised gamma regression") || !strings.Contains(weibull.Methods, "Its shape was estimated too") || !strings.Contains(strings.Join(weibull.References, " "), "Prentice RL. A log gamma model") {
		t.Errorf("methods: %s %v", weibull.Methods, weibull.References)
	}
	fit := table(t, weibull, "fit")
	lik := func(name string) float64 { return row(t, fit, "distribution", name)["log_likelihood"].(float64) }
	want(t, row(t, table(t, weibull, "nested"), "curve", "log-normal"), "within", "generalised gamma", "held", "shape 0", "df", 1,
		"statistic", 2*(lik("generalised gamma")-lik("log-normal")))
	want(t, row(t, table(t, weibull, "nested"), "curve", "exponential", "within", "generalised gamma"), "held", "shape 1, scale 1", "df", 2)
	want(t, row(t, fit, "distribution", "generalised gamma"), "shape", r["estimate"], "parameters", 3, "bic", 3*math.Log(200)-2*lik("generalised gamma"))
	want(t, row(t, fit, "distribution", "Weibull"), "shape", nil)

	normal := one(t, livesLog(bent(200, func(s float64) float64 { return 300 * math.Exp(-math.Sqrt2*0.6*math.Erfcinv(2*s)) })), quality, "method: generalised-gamma")
	if !strings.Contains(normal.Reading, "tell it from the Weibull curve, not from the log-normal one (p ") {
		t.Errorf("reading: %s", normal.Reading)
	}
	few := one(t, livesLog(spread(16)), quality, "method: generalised-gamma")
	if !strings.Contains(few.Reading, "these rows tell it from neither (p ") {
		t.Errorf("reading: %s", few.Reading)
	}
	// Between the two, with many rows: neither.
	other := one(t, livesLog(bent(800, func(s float64) float64 {
		return 400 * math.Exp(0.3*math.Log(-math.Log1p(-s))-0.3*math.Sqrt2*math.Erfcinv(2*s))
	})), quality, "method: generalised-gamma")
	if !strings.Contains(other.Reading, "these rows tell it from both (p ") {
		t.Errorf("reading: %s", other.Reading)
	}
}

// Lives that run up against a wall tell no shape: an error of its own, and
// the other curves do without it.
func TestGeneralisedGammaNoShape(t *testing.T) {
	wall := livesLog([]lifeRow{{1, true, "hand"}, {600, true, "hand"}, {990, true, "hand"}, {995, true, "hand"}, {1000, true, "hand"}})
	wantError(t, one(t, wall, quality, "method: generalised-gamma"), "no-shape", "weibull")
	a := one(t, wall, quality, "method: weibull")
	want(t, row(t, table(t, a, "fit"), "distribution", "generalised gamma"), "aic", nil, "shape", nil)
	if !strings.Contains(a.Reading, "Of the four curves fitted") {
		t.Errorf("reading: %s", a.Reading)
	}
	b := one(t, livesLog(spread(80)), quality, "method: weibull")
	if !strings.Contains(b.Reading, "Of the five curves fitted") {
		t.Errorf("reading: %s", b.Reading)
	}
}
