package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// endings tells sockets of one person each as a log: sockets i of n is
// delivered on day i, and ends after life(i) days for reason(i), or is last
// seen then where there is none. Column g is group(i).
func endings(n int, life func(i int) int, reason, group func(i int) string) sheets {
	limbs := [][]string{{"person", "limb", "side", "level", "last_seen"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered", "ended", "end_reason", "g"}}
	for i := range n {
		limb, ended := fmt.Sprintf("P%d-L", i), ""
		if reason(i) != "" {
			ended = day(i + life(i))
		}
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i), limb, "left", "TT", day(i + life(i))})
		sockets = append(sockets, []string{fmt.Sprintf("S%d", i), limb, "definitive", day(i), ended, reason(i), group(i)})
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets)}
}

func half(i int) string { return []string{"a", "b"}[i/6%2] }

// remakesAndDeaths ends half of the sockets by a remake, a third by death.
func remakesAndDeaths(i int) string {
	return []string{"remake: volume loss", "died", "remake: breakage or wear", "", "remake: volume loss", "died"}[i%6]
}

func lifeDays(i int) int { return 40 + i*37%300 }

func TestFineGrayAnswer(t *testing.T) {
	a := one(t, endings(120, lifeDays, remakesAndDeaths, half), quality, "method: fine-gray\nby: g\nprofiles: [{g: a}, {g: b}]\ntimes: [100d, 9000d]")
	r := row(t, table(t, a, "fit"))
	want(t, r, "rows", 120, "events", 60, "competing", 40, "clusters", nil)
	r = row(t, table(t, a, "terms"), "term", "g", "category", "b")
	s := row(t, table(t, a, "cause_specific"), "term", "g", "category", "b")
	if r["robust_std_error"] == nil || s["ratio"] == nil || r["reference"] != "a" {
		t.Errorf("terms %v, beside them %v", r, s)
	}
	p := table(t, a, "predicted")
	want(t, row(t, p, "profile", "g a", "time", 9000), "estimate", nil, "low", nil)
	if e, _ := toFloat(row(t, p, "profile", "g b", "time", 100)["estimate"]); !(e > 0 && e < 1) {
		t.Errorf("predicted %g", e)
	}
	wantCaution(t, a, "beyond-follow-up", "nothing is predicted")
	for _, phrase := range []string{"The ratio is of 120 sockets, all terms taken together; 60 were remade", "40 ended otherwise", "95% interval", "which way the share goes, not how far", "Predicted to be remade by 100 days"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	// A subdistribution ratio is never said to be so many times anything.
	for _, text := range printed(a) {
		if l := strings.ToLower(text); strings.Contains(l, "times the") || strings.Contains(l, "times as") || strings.Contains(l, "more likely") {
			t.Errorf("a ratio read as a multiple: %s", text)
		}
	}
	for _, code := range []string{"few-events", "no-competing", "late-entry", "weights-uncertain", "directions-differ", "no-cause-specific", "reason-unknown", "not-clustered", "few-clusters"} {
		if caution(a, code) != "" {
			t.Errorf("caution %s where nothing calls for it: %s", code, caution(a, code))
		}
	}
}

func TestFineGrayCautions(t *testing.T) {
	ask := "method: fine-gray\nby: g"
	wantCaution(t, one(t, endings(30, lifeDays, remakesAndDeaths, half), quality, ask+"\nevent: [breakage or wear]"), "few-events", "fewer than 10 events per term")
	never := func(i int) string { return []string{"remake: volume loss", ""}[i%2] }
	wantCaution(t, one(t, endings(80, lifeDays, never, half), quality, ask), "no-competing", "hazard ratios of cox")
	late := one(t, endings(120, lifeDays, remakesAndDeaths, half), quality+"\nlog_since: 2023-03-01", ask)
	wantCaution(t, late, "late-entry", "only some time after delivery")
	if !strings.Contains(late.Methods, "late entry in reversed time") {
		t.Errorf("methods: %s", late.Methods)
	}
	unknown := func(i int) string {
		if i%10 == 0 {
			return "unknown"
		}
		return remakesAndDeaths(i)
	}
	wantCaution(t, one(t, endings(120, lifeDays, unknown, half), quality, ask), "reason-unknown", "not known for 12 sockets")
	// Three quarters of group b die early, so few are left to be remade, though
	// those are remade sooner.
	dies := func(i int) bool { return half(i) == "b" && i%4 != 0 }
	reason := func(i int) string {
		switch {
		case dies(i):
			return "died"
		case half(i) == "a" && i%4 == 0:
			return ""
		}
		return "remake: volume loss"
	}
	early := func(i int) int {
		switch {
		case dies(i):
			return 1 + i%20
		case half(i) == "b":
			return lifeDays(i) * 3 / 4
		}
		return lifeDays(i)
	}
	wantCaution(t, one(t, endings(240, early, reason, half), quality, ask), "directions-differ", "point in different ways")
	twice := lab(labOptions{persons: 60})
	wantCaution(t, one(t, twice, quality, "method: fine-gray\nby: cast_method\ncluster: none"), "not-clustered", "taken as independent")
}

func TestFineGrayRefusals(t *testing.T) {
	s := endings(60, lifeDays, remakesAndDeaths, half)
	ask := "method: fine-gray\nby: g\n"
	wantError(t, one(t, s, quality, ask+"event: moved away"), "no-events", "no event was seen")
	wantError(t, one(t, endings(60, lifeDays, func(i int) string {
		if half(i) == "b" {
			return "died"
		}
		return "remake: volume loss"
	}, half), quality, ask), "separation", "no finite estimate fits g b against a: on one side of the comparison there was no event", "cox gives penalised estimates")
	wantError(t, one(t, endings(60, lifeDays, remakesAndDeaths, func(int) string { return "a" }), quality, ask), "bad-term", "g")
	wantError(t, one(t, s, quality, "method: fine-gray\nby: level"), "bad-term")
	wantError(t, one(t, s, quality, ask+"profiles: [{g: c}]"), "bad-value", "no row used")
	wantError(t, one(t, s, quality, ask+"keep: {kind: check}"), "no-rows", "no rows are left")
	wantError(t, one(t, s, quality, "method: fine-gray\nby: end_reason"), "known-later", "cannot explain")
}

func TestGrayAnswer(t *testing.T) {
	ask := "method: cumulative-incidence\nby: g\nevent: [remake, died]"
	a := one(t, endings(120, lifeDays, remakesAndDeaths, half), quality, ask)
	tests := table(t, a, "tests")
	if len(tests.Rows) != 2 || tests.Rows[0][0] != "Gray's test: remake" || tests.Rows[1][0] != "Gray's test: died" || caution(a, "test-not-clustered") != "" {
		t.Errorf("tests %v", tests.Rows)
	}
	if !strings.Contains(a.Reading, "Between the groups, the share ever remade") || !strings.Contains(a.Methods, "Gray's test") {
		t.Errorf("%s\n%s", a.Reading, a.Methods)
	}
	wantCaution(t, a, "many-comparisons", "2 groups and 2 reasons")
	b := one(t, endings(120, lifeDays, remakesAndDeaths, half), quality, "method: cumulative-incidence\nby: g")
	if caution(b, "many-comparisons") != "" || len(table(t, b, "tests").Rows) != 1 {
		t.Errorf("one reason in two groups: %v", b.Cautions)
	}
	// Persons with two sockets.
	c := one(t, lab(labOptions{persons: 60}), quality, "method: cumulative-incidence\nby: cast_method")
	wantCaution(t, c, "test-not-clustered", "read that one")
	want(t, row(t, table(t, c, "tests"), "test", "score test grouped by person: remake"), "df", 1)
	if !strings.Contains(c.Reading, "score test grouped by person") || strings.Contains(c.Reading, "Gray's test") {
		t.Errorf("the reading takes the test that ignores persons: %s", c.Reading)
	}
	// No event, and no groups.
	wantCaution(t, one(t, endings(40, lifeDays, func(int) string { return "" }, half), quality, "method: cumulative-incidence\nby: g"), "no-comparison", "could not be compared")
	d := one(t, endings(40, lifeDays, remakesAndDeaths, half), quality, "method: cumulative-incidence")
	if len(table(t, d, "tests").Rows) != 0 || caution(d, "no-comparison") != "" {
		t.Errorf("without groups: %v", d.Cautions)
	}
	// One person alone: nothing to group by.
	e := one(t, lab(labOptions{persons: 30, onePer: true}), quality, "method: cumulative-incidence\nby: cast_method")
	wantCaution(t, e, "no-clustered-test", "too few persons")
}
