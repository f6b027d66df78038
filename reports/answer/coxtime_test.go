package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// wornLog is a log of n persons with a socket each, delivered a day apart
// and remade after 100 to 190 days; every third is still worn. visits says
// of a socket on which days after its delivery it was seen, and with what
// ply and comfort.
func wornLog(n int, visits func(i, life int) [][3]string) sheets {
	limbs := [][]string{{"person", "limb", "side", "level", "last_seen"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered", "ended", "end_reason", "thing", "stands"}}
	seen := [][]string{{"visit", "socket", "date", "purpose", "ply", "comfort"}}
	for i := range n {
		life := 100 + 7*i%90
		s, limb := fmt.Sprintf("S%d", i), fmt.Sprintf("P%d-L", i)
		ended, reason := day(i+life), "remake: growth"
		if i%3 == 0 {
			ended, reason = "", ""
		}
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i), limb, "left", []string{"TT", "TF"}[i/2%2], day(i + life)})
		sockets = append(sockets, []string{s, limb, "definitive", day(i), ended, reason, []string{"a", "b"}[i*i%5%2], fmt.Sprint(1 + i%2)})
		for k, v := range visits(i, life) {
			var after int
			fmt.Sscan(v[0], &after)
			seen = append(seen, []string{fmt.Sprintf("V%d-%d", i, k), s, day(i + after), "follow-up", v[1], v[2]})
		}
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(seen)}
}

// usual visits: at delivery, day 40 and day 80.
func usual(i, _ int) [][3]string {
	return [][3]string{{"0", fmt.Sprint(3 + i%3), "8"}, {"40", fmt.Sprint(3 + i%5), ""}, {"80", fmt.Sprint(4 + i%4), "5"}}
}

const varyingPly = "method: cox\nvarying: [ply]"

// Nothing that is recorded on the day of the event or after it is used.
func TestVaryingKnowsNothingOfTheDay(t *testing.T) {
	base := one(t, wornLog(60, usual), quality, varyingPly)
	later := one(t, wornLog(60, func(i, life int) [][3]string {
		return append(usual(i, life), [3]string{fmt.Sprint(life), fmt.Sprint(10 * (i % 3)), "0"})
	}), quality, varyingPly)
	x, y := row(t, table(t, base, "terms"), "term", "ply"), row(t, table(t, later, "terms"), "term", "ply")
	want(t, y, "estimate", x["estimate"], "std_error", x["std_error"], "p", x["p"])
	// A value the day before the event is used.
	before := one(t, wornLog(60, func(i, life int) [][3]string {
		return append(usual(i, life), [3]string{fmt.Sprint(life - 1), fmt.Sprint(10 * (i % 3)), "0"})
	}), quality, varyingPly)
	if z := row(t, table(t, before, "terms"), "term", "ply"); z["estimate"] == x["estimate"] {
		t.Error("a value of the day before makes no difference")
	}
	want(t, row(t, table(t, base, "changes")), "rows", 60, "changes", 0+changesOf(60), "years_without", 0)
	wantCaution(t, base, "carried-forward", "Sock ply on arrival is known only on the days of visits", "carried forward")
	wantCaution(t, base, "internal", "no curve can be predicted")
	for _, code := range []string{"missing", "no-changes"} {
		if caution(base, code) != "" {
			t.Errorf("%s: %s", code, caution(base, code))
		}
	}
	if !strings.Contains(base.Reading, "taken as last recorded before each day") || !strings.Contains(base.Methods, "time-varying") {
		t.Errorf("%s\n%s", base.Reading, base.Methods)
	}
	plain := one(t, wornLog(60, usual), quality, "method: cox\nby: thing")
	for _, code := range []string{"carried-forward", "internal", "no-changes"} {
		if caution(plain, code) != "" {
			t.Errorf("nothing varies: %s", caution(plain, code))
		}
	}
	if strings.Contains(plain.Methods, "time-varying") || strings.Contains(plain.Reading, "last recorded") {
		t.Errorf("%s\n%s", plain.Reading, plain.Methods)
	}
}

// changesOf counts the changes of ply in the usual visits.
func changesOf(n int) int {
	k := 0
	for i := range n {
		v := usual(i, 0)
		for j := range v[1:] {
			if v[j][1] != v[j+1][1] {
				k++
			}
		}
	}
	return k
}

// A socket counts from the first value on, and what that costs is said.
func TestVaryingMissingUntilSeen(t *testing.T) {
	a := one(t, wornLog(60, func(i, life int) [][3]string {
		switch {
		case i < 4:
			return [][3]string{{"10", "", "7"}} // never a ply
		case i < 10:
			return [][3]string{{"50", fmt.Sprint(3 + i%4), ""}}
		}
		return usual(i, life)
	}), quality, varyingPly)
	wantCaution(t, a, "missing", "4 sockets were left out whole and 6 sockets were left out up to the day", "sock ply on arrival 10", "of 40 events")
	if a.Rows != 56 {
		t.Errorf("%d rows", a.Rows)
	}
	want(t, row(t, table(t, a, "changes")), "rows", 56)
}

func TestVaryingDegenerate(t *testing.T) {
	ask := func(s sheets, text string) answer.Answer { return one(t, s, quality, text) }
	none := func(int, int) [][3]string { return nil }
	wantError(t, ask(wornLog(40, none), varyingPly), "never-known", "ply was never recorded while any socket was watched")
	onDay := func(i, life int) [][3]string { return [][3]string{{fmt.Sprint(life), fmt.Sprint(i % 5), ""}} }
	wantError(t, ask(wornLog(40, onDay), varyingPly), "never-known", "recorded only on the day")
	same := func(int, int) [][3]string { return [][3]string{{"0", "5", ""}, {"50", "5", ""}} }
	wantError(t, ask(wornLog(40, same), varyingPly), "bad-term", "is 5 in every row")
	once := func(i, _ int) [][3]string { return [][3]string{{"0", fmt.Sprint(3 + i%5), ""}} }
	a := ask(wornLog(60, once), varyingPly)
	wantCaution(t, a, "no-changes", "one value for each socket")
	fixed := ask(wornLog(60, once), "method: cox\nadjust: [ply_at_delivery]")
	if fixed.Error != nil {
		// The purpose of these visits is no delivery, but its day is.
		t.Fatal(fixed.Error)
	}
	x, y := row(t, table(t, a, "terms")), row(t, table(t, fixed, "terms"))
	want(t, x, "estimate", y["estimate"], "std_error", y["std_error"])

	s := wornLog(60, usual)
	for text, e := range map[string][2]string{
		"varying: [plyy]":                {"unknown-column", "did you mean"},
		"varying: [level]":               {"impossible", "name it in adjust"},
		"varying: [days_since_delivery]": {"impossible", "the clock"},
		"varying: [socket]":              {"identifying", "names single sockets"},
		"by: ply":                        {"known-later", "landmark"},
		"by: thing\nrows: limbs":         {"impossible", "go with `repeats`"},
		"by: thing\nweights: level":      {"impossible", "holds no numbers"},
		"by: level\nrepeats: gap-time\nadjust: [last_seen]": {"known-later", "after the watch begins"},
	} {
		wantError(t, ask(s, "method: cox\n"+text), e[0], e[1])
	}
	wantError(t, ask(s.with("sockets", strings.ReplaceAll(s["sockets"], ",2\n", ",0\n")), "method: cox\nby: thing\nweights: stands"), "impossible", "stands of 30 sockets does not")
	wantError(t, ask(s.with("sockets", strings.ReplaceAll(s["sockets"], "remake: growth", "died")), varyingPly), "no-events", "no event was seen")
}

// repeatLog is a log of limbs of which each comes to walk-in visits; some
// limbs to none, and no two gaps are alike.
func repeatLog(n int) sheets {
	limbs := [][]string{{"person", "limb", "side", "level", "cause", "last_seen", "died"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "ply"}}
	for i := range n {
		limb := fmt.Sprintf("P%d-L", i)
		died := ""
		if i%9 == 0 {
			died = day(i + 400)
		}
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i), limb, "left", []string{"TT", "TF"}[i%2], []string{"trauma", "vascular"}[i/2%2], day(i + 400), died})
		sockets = append(sockets, []string{fmt.Sprintf("S%d", i), limb, "definitive", day(i)})
		visits = append(visits, []string{fmt.Sprintf("D%d", i), fmt.Sprintf("S%d", i), day(i), "delivery", fmt.Sprint(3 + i%3)})
		for k := range i % 4 {
			visits = append(visits, []string{fmt.Sprintf("V%d-%d", i, k), fmt.Sprintf("S%d", i), day(i + 30 + (37*i+101*k)%360), "walk-in", fmt.Sprint(4 + (i+k)%5)})
		}
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
}

func TestRepeats(t *testing.T) {
	s := repeatLog(60)
	ask := "method: cox\nevent: {purpose: walk-in}\nadjust: [level, cause]\n"
	total, gap := one(t, s, quality, ask+"repeats: total-time"), one(t, s, quality, ask+"repeats: gap-time\nstrata: [event_number]")
	for _, a := range []answer.Answer{total, gap} {
		if a.Rows != 60 || a.Events != 90 {
			t.Errorf("%d rows, %d events", a.Rows, a.Events)
		}
		want(t, row(t, table(t, a, "fit")), "rows", 150, "events", 90, "clusters", 60)
		want(t, row(t, table(t, a, "events_by_number"), "number", 2), "rows", 45, "events", 30)
		for _, b := range table(t, a, "baseline").Rows {
			if b[3] != nil {
				t.Fatalf("a survival of repeated events: %v", b)
			}
		}
		if !strings.Contains(a.Reading, " of 60 limbs with 90 walk-in visits") || caution(a, "few-repeats") != "" || caution(a, "late-numbers") != "" || caution(a, "same-day") != "" {
			t.Errorf("%s %v", a.Reading, a.Cautions)
		}
	}
	if !strings.Contains(total.Methods, "total time") || !strings.Contains(gap.Methods, "gap time") || !strings.Contains(gap.Methods, "of the same number") || strings.Contains(total.Methods, "of the same number") {
		t.Errorf("%s\n%s", total.Methods, gap.Methods)
	}
	if x, y := row(t, table(t, total, "terms"))["estimate"], row(t, table(t, gap, "terms"))["estimate"]; x == y {
		t.Error("the clock makes no difference")
	}
	alone := one(t, s, quality, ask+"repeats: total-time\ncluster: none")
	wantCaution(t, alone, "not-clustered", "Several events of one limb are taken as independent")
	if _, has := row(t, table(t, alone, "terms"))["robust_std_error"]; has {
		t.Error("robust errors without clusters")
	}
	// A watch that begins late, two events of a day, a rare number.
	late := one(t, s, quality+"\nlog_since: "+day(30), ask+"repeats: gap-time\nstrata: [event_number]")
	wantCaution(t, late, "late-numbers", "30 limbs came under observation only some time after", "numbered from then on", "first gap runs from the delivery")
	visits := s["visits"] + fmt.Sprintf("E1,S3,%s,walk-in,3\nE2,S3,%s,walk-in,4\n", day(388), day(388))
	twice := one(t, s.with("visits", visits), quality, ask+"repeats: total-time\nstrata: [event_number]")
	wantCaution(t, twice, "same-day", "1 event was of one limb on a day")
	wantCaution(t, twice, "few-repeats", "From event 4 on")
	if twice.Events != 91 {
		t.Errorf("%d events", twice.Events)
	}
	// With what varies, and for the public.
	both := one(t, s, quality, ask+"repeats: total-time\nvarying: [ply]")
	wantCaution(t, both, "carried-forward")
	if len(table(t, both, "changes").Rows) != 1 {
		t.Error("no table of changes")
	}
	public := one(t, s.with("visits", visits), "audience: annual", ask+"repeats: total-time")
	wantCaution(t, public, "numbers-hidden", "fewer than 11 limbs")
	if len(table(t, public, "events_by_number").Rows) != 0 {
		t.Error("numbers of few are shown")
	}
	none := one(t, s, quality, "method: cox\nevent: remake\nrepeats: total-time\nadjust: [level]")
	wantError(t, none, "no-events", "no event was seen")
}

// A row of weight 2 equals two rows; an offset of b times a column takes b
// from its coefficient.
func TestWeightsAndOffset(t *testing.T) {
	s := wornLog(60, usual)
	a := one(t, s, quality, "method: cox\nadjust: [thing]\nweights: stands")
	want(t, row(t, table(t, a, "fit")), "rows", 60, "events", 40)
	if !strings.Contains(a.Methods, "weighted by stands") || strings.Contains(a.Methods, "offset") {
		t.Error(a.Methods)
	}
	x := row(t, table(t, one(t, s, quality, "method: cox\nadjust: [stands]"), "terms"))["estimate"].(float64)
	b := one(t, s, quality, "method: cox\nadjust: [stands]\noffset: stands")
	want(t, row(t, table(t, b, "terms")), "estimate", x-1)
	if !strings.Contains(b.Methods, "Stands was added to the linear predictor as an offset") {
		t.Error(b.Methods)
	}
	gone := one(t, s.with("sockets", strings.Replace(s["sockets"], ",2\n", ",\n", 1)), quality, "method: cox\nadjust: [thing]\nweights: stands")
	wantCaution(t, gone, "missing", "1 of 60 sockets", "stands 1")
}
