package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// kept is a log of sockets delivered on 1 January 2024, each given as its
// group, site, days and r for a remake, d for a death, o for open.
func kept(lives ...string) sheets {
	var limbs, socks strings.Builder
	limbs.WriteString("person,side,level,last_seen,died\n")
	socks.WriteString("socket,limb,kind,delivered,ended,end_reason,cast_method,site\n")
	for i, s := range lives {
		f := strings.Fields(s)
		var days int
		fmt.Sscan(f[2], &days)
		at := after2024(days)
		ended, reason, seen, died := "", "", at, ""
		switch f[3] {
		case "r":
			ended, reason = at, "volume loss"
		case "d":
			ended, reason, died = at, "died", at
		}
		fmt.Fprintf(&limbs, "P%d,left,transtibial,%s,%s\n", i+1, seen, died)
		fmt.Fprintf(&socks, "S%d,P%d-L,definitive,2024-01-01,%s,%s,%s,%s\n", i+1, i+1, ended, reason, f[0], strings.Replace(f[1], "-", "", 1))
	}
	return sheets{"limbs": limbs.String(), "sockets": socks.String()}
}

const curvesOf = "method: kaplan-meier\nby: cast_method\n"

func plainLives() sheets {
	return kept("a x 30 r", "a y 80 r", "a x 150 o", "b x 60 r", "b y 140 r", "b x 220 o", "c x 100 r", "c y 200 o", "c x 260 r", "c y 300 o")
}

func testNames(t *testing.T, a answer.Answer) []string {
	t.Helper()
	var out []string
	for _, r := range table(t, a, "tests").Rows {
		out = append(out, r[0].(string))
	}
	return out
}

func TestTestsAskedFor(t *testing.T) {
	a := one(t, plainLives(), quality, curvesOf)
	if got := testNames(t, a); len(got) != 1 || got[0] != "log-rank test" {
		t.Errorf("tests %v", got)
	}
	for _, code := range []string{"several-tests", "missing-strata", "lone-strata", "no-trend", "no-comparison", "few-events-rate"} {
		if caution(a, code) != "" {
			t.Errorf("caution %s: %s", code, caution(a, code))
		}
	}
	a = one(t, plainLives(), quality, curvesOf+"tests: [tarone-ware, fleming-harrington-late]\ntrend: [a, b, c]\n")
	if got := strings.Join(testNames(t, a), "; "); got != "Tarone-Ware test; Tarone-Ware test for trend; Fleming-Harrington test of late differences" {
		t.Errorf("tests %s", got)
	}
	wantCaution(t, a, "several-tests", "chosen before looking")
	for _, phrase := range []string{"(Tarone-Ware test, p", "From a to b to c", "Tarone-Ware test for trend"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	if !strings.Contains(a.Methods, "scored 1 to 3 in the order written") || strings.Contains(strings.Join(a.References, " "), "Mantel N") {
		t.Errorf("methods %s, references %v", a.Methods, a.References)
	}
}

func TestTrendInOrder(t *testing.T) {
	a := one(t, plainLives(), quality, curvesOf+"trend: [c, b, a]\n")
	b := one(t, plainLives(), quality, curvesOf+"trend: [a, b, c]\n")
	if x, y := table(t, a, "tests").Rows[1][1], table(t, b, "tests").Rows[1][1]; x != y {
		t.Errorf("the order reversed gives %v, not %v", x, y)
	}
	wantError(t, one(t, plainLives(), quality, curvesOf+"trend: true\n"), "impossible", "not numbers", "trend: [a, b, c]")
	wantError(t, one(t, plainLives(), quality, curvesOf+"trend: [a, b]\n"), "impossible", `"c"`)
	wantError(t, one(t, plainLives(), quality, curvesOf+"trend: [a, b, c, d]\n"), "impossible", `"d"`, "no group")
}

func TestStrataOfCurves(t *testing.T) {
	a := one(t, plainLives(), quality, curvesOf+"strata: [site]\n")
	if got := testNames(t, a); len(got) != 1 || got[0] != "log-rank test within site" {
		t.Errorf("tests %v", got)
	}
	if caution(a, "missing-strata") != "" || caution(a, "lone-strata") != "" {
		t.Errorf("cautions %v", a.Cautions)
	}
	if !strings.Contains(a.Methods, "only with others of the same site") {
		t.Errorf("methods: %s", a.Methods)
	}
	a = one(t, kept("a x 30 r", "a - 80 r", "a x 150 o", "b x 60 r", "b z 140 r", "b z 220 o", "a x 200 o"), quality, curvesOf+"strata: [site]\n")
	wantCaution(t, a, "missing-strata", "1 socket is drawn but left out", "site is not recorded")
	wantCaution(t, a, "lone-strata", "2 sockets have no socket of another group beside them with the same")
	// Each site has one group only.
	a = one(t, kept("a x 30 r", "a x 80 r", "b z 60 r", "b z 140 r"), quality, curvesOf+"strata: [site]\n")
	wantCaution(t, a, "no-comparison", "within site")
	// The only group left.
	wantCaution(t, one(t, kept("a x 30 r", "a x 80 r"), quality, curvesOf+"tests: [log-rank]\n"), "no-comparison", "one group only")
}

func TestFollowUpByHand(t *testing.T) {
	// One lab, data cut on day 360 by the last record of all.
	a := one(t, kept("a x 100 r", "a x 200 o", "a x 360 o", "b x 90 o", "b x 60 r", "b x 120 d"), quality+"\nto: 2024-12-26", curvesOf)
	f := table(t, a, "follow_up")
	year := 365.25
	want(t, row(t, f, "group", "a"), "rows", 3, "median", 280, "observed_years", 660/year, "possible_years", 820/year, "completeness", 660.0/820)
	// Those who died or were remade could not have been watched longer.
	want(t, row(t, f, "group", "b"), "observed_years", 270/year, "possible_years", 540/year, "completeness", 0.5)
	wantCaution(t, a, "followed-unequally", "80% was in the group a", "50% in the group b")
	r := row(t, table(t, a, "rates"), "group", "a")
	want(t, r, "events", 1, "years", 660/year, "estimate", 100*year/660)
	if caution(one(t, kept("a x 100 r", "a x 360 o", "b x 355 o", "b x 60 r"), quality+"\nto: 2024-12-26", curvesOf), "followed-unequally") != "" {
		t.Error("groups followed alike raise the caution")
	}
}

func TestRateByTime(t *testing.T) {
	var lives []string
	for i := range 24 {
		how := "r"
		if i%2 == 1 {
			how = "o"
		}
		lives = append(lives, fmt.Sprintf("a x %d %s", 20+14*i, how))
	}
	a := one(t, kept(lives...), quality, "method: kaplan-meier\nhazard: 60d\n")
	rows := table(t, a, "hazard").Rows
	if len(rows) != 81 || len(a.Figures) != 3 || !strings.Contains(a.Reading, "Of 100 sockets in use, ") {
		t.Errorf("%d rows, %d figures: %s", len(rows), len(a.Figures), a.Reading)
	}
	if caution(a, "few-events-rate") != "" {
		t.Error("twelve events are called few")
	}
	wantCaution(t, one(t, kept(lives[:14]...), quality, "method: kaplan-meier\nhazard: 60d\n"), "few-events-rate", "fewer than 10 events")
	wantError(t, one(t, kept(lives...), quality, "method: kaplan-meier\nhazard: 1y\n"), "impossible", "at most half of that")
	// Nothing happened: no rate, no figure, a sentence.
	a = one(t, kept("a x 100 o", "a x 200 o"), quality, "method: kaplan-meier\nhazard: 30d\n")
	for _, r := range table(t, a, "hazard").Rows {
		if r[3] != 0.0 || r[4] != nil {
			t.Fatalf("a rate without events: %v", r)
		}
	}
	// Hidden below 11: a point only where it rests on enough.
	a = one(t, kept(lives...), "audience: annual", "method: kaplan-meier\nhazard: 60d\n")
	if len(table(t, a, "hazard").Rows) != 0 {
		t.Error("a rate over few events reaches the public")
	}
	wantCaution(t, a, "no-rate", "not shown")
}

func TestTimeLostByReason(t *testing.T) {
	a := one(t, kept("a x 100 r", "a x 200 d", "a x 300 o"), quality, "method: cumulative-incidence\nuntil: 300d\n")
	l := table(t, a, "time_lost")
	// By hand: a third lost 200 days, a third 100.
	want(t, row(t, l, "cause", "remake"), "estimate", 200.0/3)
	want(t, row(t, l, "cause", "died"), "estimate", 100.0/3)
	want(t, row(t, l, "cause", "still in use"), "estimate", 200)
	text := strings.Join(printed(a), "\n")
	if !strings.Contains(text, "Mean time in use and lost within") {
		t.Error("the table asked for is not printed")
	}
	b := one(t, kept("a x 100 r", "a x 200 d", "a x 300 o"), quality, "method: cumulative-incidence\n")
	if strings.Contains(strings.Join(printed(b), "\n"), "Mean time in use and lost within") {
		t.Error("a table is printed that nobody asked for")
	}
	wantCaution(t, one(t, kept("a x 100 r", "a x 200 d", "a x 300 o"), quality, "method: cumulative-incidence\nuntil: 2y\n"), "beyond-follow-up", "time lost within it")
}

func TestWeightsOfCurves(t *testing.T) {
	s := plainLives()
	lines := strings.Split(strings.TrimSpace(s["sockets"]), "\n")
	weighed := func(of func(i int) string) sheets {
		var b strings.Builder
		for i, l := range lines {
			if i == 0 {
				b.WriteString(l + ",stands\n")
				continue
			}
			b.WriteString(l + "," + of(i) + "\n")
		}
		return s.with("sockets", b.String())
	}
	plain := one(t, s, quality, curvesOf)
	ones := one(t, weighed(func(int) string { return "1" }), quality, curvesOf+"weights: stands\n")
	for _, name := range []string{"curve", "tests", "rmst", "rates", "time_lost"} {
		if x, y := fmt.Sprint(table(t, plain, name).Rows), fmt.Sprint(table(t, ones, name).Rows); x != y {
			t.Errorf("%s with weights of 1: %s, want %s", name, y, x)
		}
	}
	if caution(ones, "no-weight") != "" || !strings.Contains(ones.Methods, "standing for so many equal sockets") {
		t.Errorf("cautions %v, methods %s", ones.Cautions, ones.Methods)
	}
	some := one(t, weighed(func(i int) string { return []string{"2", "", "1", "0"}[i%4] }), quality, curvesOf+"weights: stands\n")
	wantCaution(t, some, "no-weight", "sockets were left out", "not recorded, or 0")
	halves := weighed(func(i int) string { return []string{"0.5", "1.5"}[i%2] })
	if a := one(t, halves, quality, curvesOf+"weights: stands\n"); !strings.Contains(a.Methods, "score test alone") {
		t.Errorf("methods: %s", a.Methods)
	}
	wantError(t, one(t, halves, quality, curvesOf+"weights: stands\ntests: [log-rank]\n"), "impossible", "not whole numbers")
	wantError(t, one(t, weighed(func(int) string { return "-1" }), quality, curvesOf+"weights: stands\n"), "impossible", "above 0")
	wantError(t, one(t, weighed(func(int) string { return "" }), quality, curvesOf+"weights: stands\n"), "impossible", "no numbers")
	wantError(t, one(t, s, quality, curvesOf+"weights: level\n"), "impossible", "no numbers")
	// A public report needs groups that may be shown.
	var many []string
	for i := range 24 {
		many = append(many, fmt.Sprintf("%s x %d r", []string{"a", "b"}[i%2], 20+14*i))
	}
	wantError(t, one(t, kept(many...), "audience: annual", curvesOf+"weights: number\n"), "impossible", "hides small counts")
}
