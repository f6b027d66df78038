package answer_test

import (
	"strings"
	"testing"

	"plybook/reports/answer"
)

// What cannot be compared or bent says so, at its place.
func TestComparisonsThatCannotBe(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 40}))
	linear := "id: a\nmethod: linear\nrows: visits\noutcome: comfort\n"
	for name, c := range map[string]struct{ ask, want string }{
		"unknown category": {"id: a\nmethod: cox\nby: cast_method\ncontrasts: {cast_method: [hand, vacum]}", `no row used has cast_method "vacum"; did you mean "vacuum"?`},
		"unknown number":   {linear + "adjust: [ply]\ncontrasts: {ply: [4, many]}", `ply is a number, but the profile says "many"`},
		"pairs of a number": {linear + "adjust: [ply]\ncontrasts: {ply: every pair}",
			"ply is a number and has no categories to pair; name two of its values, such as [70, 50]"},
		"text": {"id: a\nmethod: weibull\nadjust: [cause]\nspline: {cause: 4}", "cause is a column of categories, and a spline is of a number"},
	} {
		t.Run(name, func(t *testing.T) {
			a := answersOnce(t, log, nil, quality, c.ask)["a"]
			if a.Error == nil || !strings.Contains(a.Error.Text, c.want) {
				t.Fatalf("error %+v, want %q", a.Error, c.want)
			}
			if a.Error.Line < 10 {
				t.Errorf("the place %d:%d is not in the ask", a.Error.Line, a.Error.Column)
			}
		})
	}
	flat := readLog(t, lab(labOptions{persons: 40, constant: true}))
	a := answersOnce(t, flat, nil, quality, "id: a\nmethod: mixed\nrows: visits\noutcome: mass_kg\nadjust: [ply]\nspline: {ply: 3}")["a"]
	if a.Error == nil || !strings.Contains(a.Error.Text, "ply is ") || !strings.Contains(a.Error.Text, "in every row") {
		t.Errorf("a constant column: %+v", a.Error)
	}
	two := readLog(t, lab(labOptions{persons: 40, own: func(i int) string { return []string{"1", "1", "1", "1", "2"}[i%5] }}))
	a = answersOnce(t, two, nil, quality, "id: a\nmethod: cox\nadjust: [own.thing]\nspline: {own.thing: 4}")["a"]
	if a.Error == nil || !strings.Contains(a.Error.Text, "takes too few different values for its spline") {
		t.Errorf("two values: %+v", a.Error)
	}
}

// The cautions of comparisons stand where they belong and nowhere else.
func TestComparisonCautions(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 60, own: func(i int) string { return string(rune('a' + i%5)) }}))
	got := answersOf(t, log, nil, quality,
		"id: far\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\ncontrasts: [{ply: [400, 2]}]",
		"id: near\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\nspline: {ply: 3}\ncontrasts: [{ply: [4, 3]}]",
		"id: many\nmethod: cox\nby: own.thing\ncontrasts: {own.thing: every pair}",
		"id: holm\nmethod: cox\nby: own.thing\ncontrasts: {own.thing: every pair}\nadjust_p: holm")
	for id, want := range map[string]map[string]bool{
		"far":  {"extrapolation": true, "many-comparisons": false},
		"near": {"extrapolation": false, "many-comparisons": false, "curve-not-tested": false},
		"many": {"many-comparisons": true, "extrapolation": false},
		"holm": {"many-comparisons": false},
	} {
		a := got[id]
		if a.Error != nil {
			t.Fatalf("%s: %+v", id, a.Error)
		}
		for code, on := range want {
			has := false
			for _, c := range a.Cautions {
				has = has || c.Code == code
			}
			if has != on {
				t.Errorf("%s: caution %s is %v, want %v", id, code, has, on)
			}
		}
	}
	if !strings.Contains(got["near"].Reading, "as a curve, against the middle value") {
		t.Errorf("reading %q", got["near"].Reading)
	}
}

// On separation no comparison and no curve can be had; the error says why.
func TestComparisonsOnSeparation(t *testing.T) {
	a := one(t, lifeLog(separatedLives()), quality, "method: cox\nby: cast_method\ncontrasts: {cast_method: [hand, vacuum]}")
	if a.Error == nil || !strings.Contains(a.Error.Text, "contrasts cannot be worked out with penalised estimates") {
		t.Errorf("error %+v", a.Error)
	}
}

// Where small counts are hidden, a curve shows neither single rows nor the
// ends that few rows make.
func TestCurveWhereCountsAreHidden(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 150}))
	ask := "id: a\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply, mass_kg]\nspline: {mass_kg: 3}"
	open := answersOnce(t, log, nil, quality, ask)["a"]
	hidden := answersOnce(t, log, nil, "audience: quality\nhide_below: 60", ask)["a"]
	if open.Error != nil || hidden.Error != nil {
		t.Fatalf("%+v %+v", open.Error, hidden.Error)
	}
	ends := func(tab answer.Table) (lo, hi float64) {
		return tab.Rows[0][1].(float64), tab.Rows[len(tab.Rows)-1][1].(float64)
	}
	lo, hi := ends(table(t, open, "spline_curve"))
	l2, h2 := ends(table(t, hidden, "spline_curve"))
	if !(l2 > lo && h2 < hi) {
		t.Errorf("hidden from %g to %g, open from %g to %g", l2, h2, lo, hi)
	}
	for name, c := range map[string]struct {
		answer.Answer
		drawn bool
	}{"open": {open, true}, "hidden": {hidden, false}} {
		if has := strings.Contains(fingerprint(c.Answer), "Strokes at the foot"); has != c.drawn {
			t.Errorf("%s: single rows drawn is %v", name, has)
		}
	}
}
