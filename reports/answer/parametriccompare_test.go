package answer_test

import (
	"math"
	"strings"
	"testing"
)

// weibullLives are n lives of a Weibull curve, evenly drawn, those after the
// day of the end censored there.
func weibullLives(n int, scale, shape float64, end int) []lifeRow {
	out := bent(n, func(s float64) float64 { return scale * math.Pow(-math.Log1p(-s), 1/shape) })
	for i := range out {
		if end > 0 && out[i].days > end {
			out[i].days, out[i].remade = end, false
		}
	}
	return out
}

func TestCompareCurves(t *testing.T) {
	a := one(t, livesLog(weibullLives(150, 300, 2, 0)), quality, "method: log-normal\ncompare: all\ntimes: [100d, 300d, 5y]")
	compared := table(t, a, "compared")
	if len(compared.Rows) != 5 || compared.Rows[0][0] != "Weibull" {
		t.Fatalf("the least AIC stands first: %v", compared.Rows)
	}
	sum, least := 0.0, row(t, compared, "distribution", "Weibull")["aic"].(float64)
	total := 0.0
	for _, r := range table(t, a, "fit").Rows {
		total += math.Exp((least - r[9].(float64)) / 2)
	}
	for _, r := range table(t, a, "fit").Rows {
		c := row(t, compared, "distribution", r[0])
		want(t, c, "parameters", r[4], "log_likelihood", r[7], "aic", r[9], "aic_above_best", r[9].(float64)-least, "bic", r[11], "aic_weight", math.Exp((least-r[9].(float64))/2)/total)
		sum += c["aic_weight"].(float64)
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("the weights add up to %g", sum)
	}
	// Without columns the mean of all rows is the curve itself.
	for _, name := range []string{"Weibull", "log-normal"} {
		b := one(t, livesLog(weibullLives(150, 300, 2, 0)), quality, "method: "+strings.ToLower(name)+"\nquantiles: [0.5]\ntimes: [100d]")
		half := row(t, table(t, b, "quantiles"), "quantile", 0.5)["estimate"].(float64)
		if got := row(t, compared, "distribution", name)["half"].(float64); math.Abs(got-half) > 1e-8*half {
			t.Errorf("%s: half by %g, want %g", name, got, half)
		}
		want(t, row(t, table(t, a, "compared_at"), "distribution", name, "time", 100.0), "estimate", row(t, table(t, b, "predicted"), "time", 100.0)["estimate"])
	}
	// What was seen is the share left by Kaplan-Meier: nobody is censored.
	left := 0
	for _, r := range weibullLives(150, 300, 2, 0) {
		if r.days > 100 {
			left++
		}
	}
	want(t, row(t, table(t, a, "compared_at"), "distribution", "Weibull", "time", 100.0), "seen", float64(left)/150)
	want(t, row(t, table(t, a, "compared_at"), "distribution", "Weibull", "time", 1826.25), "seen", nil)
	for _, s := range []string{"Of the curves compared, Weibull has the least AIC (weight 0.", "AIC ranks curves and certifies none; held against what was seen, the Weibull curve is farthest off at ",
		"Within the generalised gamma curve, whose shape comes to "} {
		if !strings.Contains(a.Reading, s) {
			t.Errorf("reading lacks %q: %s", s, a.Reading)
		}
	}
	for _, s := range []string{"compared by AIC with Akaike's weights and by BIC with the number of events", "likelihood-ratio tests"} {
		if !strings.Contains(a.Methods, s) {
			t.Errorf("methods lack %q: %s", s, a.Methods)
		}
	}
	if !strings.Contains(strings.Join(a.References, " "), "Burnham KP, Anderson DR") || len(table(t, a, "nested").Rows) != 4 {
		t.Errorf("%v %v", a.References, table(t, a, "nested").Rows)
	}
	if len(a.Figures) != 2 || !strings.HasSuffix(a.Figures[1].ID, "-compared") || !strings.Contains(a.Figures[1].Description, "over the steps of what was seen") {
		t.Errorf("%d figures", len(a.Figures))
	}
	plain := one(t, livesLog(weibullLives(150, 300, 2, 0)), quality, "method: log-normal")
	if _, ok := find(plain, "compared"); ok || len(plain.Figures) != 1 || strings.Contains(plain.Reading, "certifies") {
		t.Errorf("nothing was to be compared: %s", plain.Reading)
	}
	two := one(t, livesLog(weibullLives(150, 300, 2, 0)), quality, "method: log-normal\ncompare: exponential")
	if len(table(t, two, "compared").Rows) != 2 || strings.Contains(two.Reading, "log-logistic") {
		t.Errorf("two curves: %s", two.Reading)
	}
}

// Each caution of a comparison once raised and once not.
func TestCompareCautions(t *testing.T) {
	calm := one(t, livesLog(weibullLives(200, 300, 2, 0)), quality, "method: weibull\ncompare: all\ntimes: [300d]")
	for _, code := range []string{"curves-disagree", "none-fits", "not-fitted", "compared-beyond"} {
		if c := caution(calm, code); c != "" {
			t.Errorf("%s is raised without cause: %s", code, c)
		}
	}
	// Few of the sockets have been remade by the end: the curves part beyond.
	early := one(t, livesLog(weibullLives(200, 1200, 1.3, 240)), quality, "method: weibull\ncompare: [log-normal, log-logistic]\ntimes: [200d]")
	wantCaution(t, early, "compared-beyond", "only after 7.9 months", "AIC does not judge it")
	wantCaution(t, early, "curves-disagree", "AIC within 2", "take the range, not one curve")
	// Two kinds of life far apart, which no curve follows.
	var mixed []lifeRow
	for i := range 80 {
		mixed = append(mixed, lifeRow{20 + i%5, true, "hand"}, lifeRow{900 + i%50, true, "hand"})
	}
	none := one(t, livesLog(mixed), quality, "method: weibull\ncompare: [log-normal, log-logistic]\ntimes: [200d]")
	wantCaution(t, none, "none-fits", "None of the curves compared follows what was seen", "AIC only ranks them; read kaplan-meier instead")
	wall := one(t, livesLog([]lifeRow{{1, true, "hand"}, {600, true, "hand"}, {990, true, "hand"}, {995, true, "hand"}, {1000, true, "hand"}}), quality, "method: weibull\ncompare: all")
	wantCaution(t, wall, "not-fitted", "The generalised gamma curve could not be fitted to these rows and is left out")
	want(t, row(t, table(t, wall, "compared"), "distribution", "generalised gamma"), "aic", nil, "aic_weight", nil)
	lonely := one(t, livesLog([]lifeRow{{1, true, "hand"}, {600, true, "hand"}, {990, true, "hand"}, {995, true, "hand"}, {1000, true, "hand"}}), quality, "method: weibull\ncompare: generalised-gamma")
	if !strings.Contains(lonely.Reading, "nothing to hold the Weibull one against") {
		t.Errorf("reading: %s", lonely.Reading)
	}
}

// What is seen at visits is compared with turnbull's curve.
func TestCompareSeenAtVisits(t *testing.T) {
	a := one(t, lab(labOptions{persons: 60}), quality, "method: weibull\nevent: {comfort: ..5}\ncompare: [log-normal]\ntimes: [180d]")
	if a.Error != nil {
		t.Fatal(a.Error.Text)
	}
	if len(table(t, a, "compared").Rows) != 2 || len(a.Figures) != 2 {
		t.Errorf("%d figures, %v", len(a.Figures), table(t, a, "compared").Rows)
	}
}

// Beside the curves of groups, the curve of all would tell what is hidden.
func TestComparePublic(t *testing.T) {
	rows := spread(120)
	a := one(t, livesLog(rows), "audience: research", "method: weibull\nby: cast_method\ncompare: [log-normal]\ntimes: [100d]")
	want(t, row(t, table(t, a, "compared"), "distribution", "Weibull"), "farthest", nil, "farthest_at", nil)
	want(t, row(t, table(t, a, "compared_at"), "distribution", "Weibull"), "seen", nil)
	for _, f := range a.Figures {
		if strings.HasSuffix(f.ID, "-compared") && strings.Contains(f.Description, "what was seen") {
			t.Errorf("what was seen of all is drawn: %s", f.Description)
		}
	}
	if strings.Contains(a.Reading, "farthest off") || !strings.Contains(a.Reading, "AIC ranks curves and certifies none.") {
		t.Errorf("reading: %s", a.Reading)
	}
	b := one(t, livesLog(rows), quality, "method: weibull\nby: cast_method\ncompare: [log-normal]\ntimes: [100d]")
	if row(t, table(t, b, "compared_at"), "distribution", "Weibull")["seen"] == nil || !strings.Contains(b.Reading, "farthest off") {
		t.Errorf("reading: %s", b.Reading)
	}
}

// The error of an exponential curve tells the number of events: where that is
// hidden, so is the curve.
func TestParametricTellsNoSmallCount(t *testing.T) {
	rows := weibullLives(60, 300, 2, 0)
	for i := range rows {
		rows[i].remade = i%8 == 0
	}
	for _, m := range parametricMethods {
		wantError(t, one(t, livesLog(rows), "audience: annual", "method: "+m), "too-few-to-show", "fewer events", "kaplan-meier")
	}
	if a := one(t, livesLog(rows), quality, "method: exponential"); a.Error != nil {
		t.Errorf("%s", a.Error.Text)
	}
	if a := one(t, livesLog(weibullLives(60, 300, 2, 0)), "audience: annual", "method: exponential"); a.Error != nil {
		t.Errorf("%s", a.Error.Text)
	}
}

// The profiles asked for have a figure of their own, with the times told.
func TestPredictedFigure(t *testing.T) {
	s := livesLog(spread(80))
	a := one(t, s, quality, "method: weibull\nby: cast_method\nadjust: [age]\nprofiles: [{cast_method: hand, age: 60}, {cast_method: vacuum}]\nquantiles: [0.25, 0.5]\ntimes: [90d]")
	if len(a.Figures) != 3 || !strings.HasSuffix(a.Figures[1].ID, "-predicted") {
		t.Fatalf("%d figures", len(a.Figures))
	}
	q := row(t, table(t, a, "quantiles"), "profile", "cast method hand, age 60", "quantile", 0.5)
	for _, text := range []string{"A quarter are remade by: ", "Half are remade by: "} {
		if strings.Count(a.Figures[1].Long, text) != 2 {
			t.Errorf("the figure lacks %q: %s", text, a.Figures[1].Long)
		}
	}
	if q["low"].(float64) >= q["estimate"].(float64) || !strings.Contains(a.Reading, "sockets with cast method hand, age 60 are remade by") ||
		!strings.Contains(a.Reading, "sockets with cast method vacuum (the rest at reference or mean) are remade by") {
		t.Errorf("%v %s", q, a.Reading)
	}
	if b := one(t, s, quality, "method: weibull\nby: cast_method"); len(b.Figures) != 2 {
		t.Errorf("no profile was asked for: %d figures", len(b.Figures))
	}
	alone := one(t, s, quality, "method: exponential\nby: cast_method\nprofiles: [{cast_method: hand}]")
	if !strings.Contains(alone.Figures[1].Long, "The curve: ") {
		t.Errorf("%s", alone.Figures[1].Long)
	}
	// Times beyond what is known are shaded.
	far := one(t, s, quality, "method: exponential\nprofiles: [{cast_method: hand}]\nby: cast_method\ntimes: [3y]")
	if !strings.Contains(far.Figures[1].Long, "Nothing is known after") || strings.Contains(alone.Figures[1].Long, "Nothing is known after") {
		t.Errorf("%s; %s", far.Figures[1].Long, alone.Figures[1].Long)
	}
}
