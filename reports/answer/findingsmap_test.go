package answer_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/figure"
)

// skinLog is a log in the making whose visits are a day apart.
type skinLog struct {
	limbs, sockets, visits, findings strings.Builder
	n                                int
	known                            map[string]bool
}

func newSkinLog() *skinLog {
	s := &skinLog{known: map[string]bool{}}
	s.limbs.WriteString("person,limb,side,level\n")
	s.sockets.WriteString("socket,limb,kind,delivered\n")
	s.visits.WriteString("visit,socket,date,purpose,skin_checked\n")
	s.findings.WriteString("visit,region,finding\n")
	return s
}

// visit adds a visit; found are "region: finding".
func (s *skinLog) visit(person, level, checked string, found ...string) {
	if !s.known[person] {
		s.known[person] = true
		fmt.Fprintf(&s.limbs, "%s,%sx,%s,%s\n", person, person, []string{"left", "right"}[len(s.known)%2], level)
		fmt.Fprintf(&s.sockets, "S%s,%sx,definitive,2021-01-04\n", person, person)
	}
	fmt.Fprintf(&s.visits, "V%d,S%s,%s,follow-up,%s\n", s.n, person, isoDay(s.n), checked)
	for _, f := range found {
		region, what, _ := strings.Cut(f, ": ")
		fmt.Fprintf(&s.findings, "V%d,%s,%s\n", s.n, region, what)
	}
	s.n++
}

func (s *skinLog) sheets() sheets {
	return sheets{"limbs": s.limbs.String(), "sockets": s.sockets.String(), "visits": s.visits.String(), "findings": s.findings.String()}
}

// handSkin has 12 visits of transtibial limbs, 9 of them looked at, and what
// was found at 6.
func handSkin() *skinLog {
	s := newSkinLog()
	s.visit("A", "transtibial", "yes", "fibular head: blister", "fibular head: redness persisting")
	s.visit("A", "transtibial", "yes", "fibular head: ulcer", "patellar tendon: callus")
	s.visit("A", "transtibial", "", "whole limb: rash") // a finding says that somebody looked
	s.visit("B", "transtibial", "yes", "none: none")
	s.visit("B", "transtibial", "no")
	s.visit("B", "transtibial", "", "tibial crest: none") // looked at, and nothing there
	s.visit("B", "transtibial", "yes", "patellar tendon: ulcer")
	s.visit("C", "transtibial", "")
	s.visit("C", "transtibial", "yes")
	s.visit("C", "transtibial", "yes", "none: bruise") // a bruise, and no place for it
	s.visit("D", "transfemoral", "yes", "iliac crest: pain")
	s.visit("C", "transtibial", "yes", "brim: pain")
	s.visit("C", "transtibial", "no")
	s.visit("E", "partial foot", "yes", "heel pad: blister")
	return s
}

func TestFindingsMapByHand(t *testing.T) {
	a := one(t, handSkin().sheets(), quality, "method: findings-map")
	levels, regions := table(t, a, "levels"), table(t, a, "regions")
	want(t, row(t, levels, "level", "transtibial"), "visits", 12, "visits_checked", 9, "persons", 3, "findings", 8, "visits_with", 6, "per_100", 600.0/9, "drawing", "transtibial")
	want(t, row(t, levels, "level", "partial foot"), "drawing", nil, "visits_with", 1, "low", 2.5, "high", 100)
	want(t, row(t, regions, "region", "fibular head"), "findings", 3, "visits_with", 2, "persons", 1, "visits_checked", 9, "per_100", 200.0/9, "bony", true, "pressure", "sensitive", "drawn", true)
	want(t, row(t, regions, "region", "patellar tendon"), "findings", 2, "visits_with", 2, "persons", 2, "bony", false, "pressure", "tolerant")
	want(t, row(t, regions, "region", "whole limb"), "visits_with", 1, "bony", nil, "drawn", false)
	want(t, row(t, regions, "region", nil), "visits_with", 1, "drawn", false)
	want(t, row(t, regions, "region", "brim"), "visits_with", 1, "drawn", false)
	want(t, row(t, regions, "region", "heel pad"), "drawn", false)
	for _, r := range regions.Rows {
		if r[2] == "tibial crest" || r[2] == "none" {
			t.Errorf("a row that says that nothing was found is counted: %v", r)
		}
	}
	if a.Rows != 11 {
		t.Errorf("%d rows, want the 11 visits looked at", a.Rows)
	}
	if len(a.Figures) != 2 || a.Figures[0].ID != "q" || a.Figures[1].ID != "q-transfemoral" {
		t.Fatalf("%d figures", len(a.Figures))
	}
	long := a.Figures[0].Long
	for _, phrase := range []string{"Fibular head 2 (22.2), seen from the front, back and outer side", "patellar tendon 2 (22.2), seen from the front"} {
		if !strings.Contains(long, phrase) {
			t.Errorf("%q is not said: %s", phrase, long)
		}
	}
	all := strings.Join(printed(a), "\n")
	for _, phrase := range []string{"Region not recorded *", "* Not on the drawing.", "There is no drawing of a limb of this level (partial foot)", "bone, sensitive", "soft, tolerant"} {
		if !strings.Contains(all, phrase) {
			t.Errorf("%q is not printed", phrase)
		}
	}
	if !strings.HasPrefix(a.Reading, "Transtibial: at 9 visits with the skin checked (3 persons) there was a finding at 6 visits, 67 per 100 (95% interval ") {
		t.Error(a.Reading)
	}
	wantCaution(t, a, "skin", "Refer any person with broken skin")
}

func TestFindingsMapKeep(t *testing.T) {
	s := handSkin().sheets()
	// On findings: the visits looked at stay the same.
	a := one(t, s, quality, "method: findings-map\nkeep: {finding: ulcer, level: transtibial}")
	want(t, row(t, table(t, a, "levels")), "visits", 12, "visits_checked", 9, "visits_with", 2, "findings", 2)
	if !strings.Contains(a.Reading, "there was such a finding at 2 visits") {
		t.Error(a.Reading)
	}
	b := one(t, s, quality, "method: findings-map\nkeep: {bony: yes}")
	want(t, row(t, table(t, b, "levels"), "level", "transtibial"), "visits_checked", 9, "visits_with", 2)
	c := one(t, s, quality, "method: findings-map\nkeep: {any: [{finding: callus}, {region: brim}]}")
	want(t, row(t, table(t, c, "levels"), "level", "transtibial"), "visits_checked", 9, "visits_with", 2)
	// On visits: they choose both.
	d := one(t, s, quality, "method: findings-map\nkeep: {side: right, level: transtibial}")
	want(t, row(t, table(t, d, "levels")), "visits", 8, "visits_checked", 6, "persons", 2)
	e := one(t, s, quality, "method: findings-map\nkeep: {any: [{side: left}, {level: partial foot}]}")
	want(t, row(t, table(t, e, "levels"), "level", "transtibial"), "visits", 4, "visits_checked", 3)
	wantError(t, one(t, s, quality, "method: findings-map\nkeep: {any: [{finding: ulcer}, {level: transtibial}]}"), "impossible", "mix finding")
	wantError(t, one(t, s, quality, "method: findings-map\nkeep: {thing: 1}"), "unknown-column")
	wantError(t, one(t, s, quality, "method: findings-map\nrows: visits"), "impossible", "about findings")
}

func TestFindingsMapOfLittle(t *testing.T) {
	s := handSkin().sheets()
	none := one(t, s, quality, "method: findings-map\nkeep: {finding: abscess, level: transtibial}")
	want(t, row(t, table(t, none, "levels")), "visits_with", 0, "low", 0, "visits_checked", 9)
	if !strings.Contains(none.Reading, "there was none with such a finding; with so many visits up to 34 per 100") {
		t.Error(none.Reading)
	}
	if len(none.Figures) != 0 {
		t.Error("a figure of nothing")
	}
	n := newSkinLog()
	n.visit("A", "transtibial", "no")
	n.visit("A", "transtibial", "")
	wantError(t, one(t, n.sheets(), quality, "method: findings-map"), "no-rows", "at none of the visits chosen is the skin recorded as checked")
	wantError(t, one(t, s, quality, "method: findings-map\nkeep: {level: hip disarticulation}"), "no-rows", "no visits")
	single := newSkinLog()
	for range 6 {
		single.visit("A", "transtibial", "yes", "patella: pain")
		single.visit("A", "transtibial", "yes")
	}
	a := one(t, single.sheets(), quality, "method: findings-map")
	want(t, row(t, table(t, a, "regions")), "visits_with", 6, "per_100", 50, "low", nil, "high", nil)
	wantCaution(t, a, "one-cluster")
}

// seriesSkin has k visits of each of n persons, of which every nth has a
// finding at a region.
func seriesSkin(n, k, nth int, regions ...string) *skinLog {
	s := newSkinLog()
	i := 0
	for v := range k {
		for p := range n {
			var found []string
			if i%nth == 0 {
				found = []string{regions[i/nth%len(regions)] + ": callus"}
			}
			i++
			s.visit(fmt.Sprintf("P%d", p), "transtibial", "yes", found...)
			_ = v
		}
	}
	return s
}

func TestFindingsMapCautions(t *testing.T) {
	s := seriesSkin(50, 6, 7, "patella", "fibular head")
	quiet := one(t, s.sheets(), quality, "method: findings-map")
	if len(quiet.Cautions) > 0 {
		t.Errorf("%v", quiet.Cautions)
	}
	for i := range 40 {
		s.visit(fmt.Sprintf("P%d", i), "transtibial", "no")
	}
	wantCaution(t, one(t, s.sheets(), quality, "method: findings-map"), "not-looked-at", "At 40 of 340 visits", "rates are too high")
	few := one(t, seriesSkin(30, 6, 11, "patella", "fibular head").sheets(), quality, "method: findings-map")
	wantCaution(t, few, "few-findings", "transtibial (17 visits)")
	wantCaution(t, few, "few-clusters", "Only 30 persons stand behind these visits")
	off := one(t, seriesSkin(50, 6, 7, "patella", "brim", "fibular head", "whole limb").sheets(), quality, "method: findings-map")
	wantCaution(t, off, "off-drawing", "brim and whole limb")
	often := seriesSkin(50, 4, 7, "patella")
	for range 120 {
		often.visit("P1", "transtibial", "yes", "patella: callus")
	}
	wantCaution(t, one(t, often.sheets(), quality, "method: findings-map"), "seen-more-often", "in place of")
	change := "method: findings-map\nchange: " + isoDay(150)
	three := one(t, seriesSkin(50, 6, 4, "patella", "fibular head", "tibial crest").sheets(), quality, change)
	wantCaution(t, three, "many-comparisons", "3 regions are compared at once")
	wantCaution(t, three, "seasons")
	two := one(t, seriesSkin(50, 6, 4, "patella", "fibular head").sheets(), quality, change)
	if caution(two, "many-comparisons") != "" {
		t.Error("two comparisons are not many")
	}
	years := one(t, seriesSkin(50, 15, 7, "patella", "fibular head").sheets(), quality+"\nfrom: 2022-01-01\nto: 2023-12-31", "method: findings-map\nchange: 2023-01-01")
	if caution(years, "seasons") != "" {
		t.Error("whole years have the same seasons")
	}
}

func TestFindingsMapOfTwoTimes(t *testing.T) {
	s := seriesSkin(50, 6, 4, "patella", "fibular head").sheets()
	decision := "on: " + isoDay(150) + "\nwhat: Relieve the patella.\nwho: lead\nfollows: q"
	got := answersOf(t, readLog(t, s), nil, quality, "id: q\nmethod: findings-map", decision)["q"]
	levels := table(t, got, "levels")
	want(t, row(t, levels, "period", "before"), "visits_checked", 150, "visits_with", 38)
	want(t, row(t, levels, "period", "since"), "visits_checked", 150, "visits_with", 37)
	c := row(t, table(t, got, "changes"), "region", "patella")
	b, a := row(t, table(t, got, "regions"), "period", "before", "region", "patella"), row(t, table(t, got, "regions"), "period", "since", "region", "patella")
	want(t, c, "before", b["per_100"], "since", a["per_100"], "difference", a["per_100"].(float64)-b["per_100"].(float64))
	if len(got.Since) != 1 {
		t.Fatalf("%v", got.Since)
	}
	for _, text := range got.Since {
		if text != "transtibial: a finding at 24.7 of 100 visits, before 25.3" {
			t.Error(text)
		}
	}
	if !strings.Contains(got.Reading, "is no more than chance could give") {
		t.Error(got.Reading)
	}
	wantError(t, one(t, s, quality, "method: findings-map\nchange: 2030-01-01"), "too-few-to-compare", "0 visits")
	several := answersOf(t, readLog(t, s), nil, quality, "id: q\nmethod: findings-map", decision, strings.Replace(decision, isoDay(150), isoDay(200), 1))["q"]
	wantError(t, several, "missing-key", "2 decisions follow")
	log := readLog(t, s)
	moved := answersOnce(t, log, shiftedCodes(log), quality+"\nshift_dates: 70d", "id: a\nmethod: findings-map", "id: b\nmethod: findings-map\nchange: "+isoDay(150))
	want(t, row(t, table(t, moved["a"], "levels")), "visits_checked", 300)
	wantError(t, moved["b"], "needs-true-dates")
}

// No count that a public report withholds follows from those that it shows,
// in the tables, the print or the drawing.
func TestFindingsMapInPublic(t *testing.T) {
	s := seriesSkin(60, 10, 7, "patella", "fibular head", "patella", "patella", "tibial crest", "patella")
	for i := range 7 { // few, of its own region
		s.visit(fmt.Sprintf("P%d", i), "transtibial", "yes", "distal fibula: ulcer")
	}
	for i := range 5 { // a level of few
		s.visit(fmt.Sprintf("Q%d", i), "transradial", "yes", "olecranon: callus")
	}
	open := one(t, s.sheets(), quality, "method: findings-map")
	shut := one(t, s.sheets(), "audience: annual", "method: findings-map")
	regions := table(t, shut, "regions")
	want(t, row(t, regions, "region", "distal fibula"), "visits_with", nil, "findings", nil, "per_100", nil, "low", nil, "high", nil, "persons", nil)
	want(t, row(t, regions, "region", "patella"), "visits_with", row(t, table(t, open, "regions"), "region", "patella")["visits_with"])
	wantCaution(t, shut, "groups-hidden", "transradial")
	// The sum of those withheld is the sum of all less those shown.
	left, gone := row(t, table(t, shut, "levels"), "level", "transtibial")["visits_with"].(int), 0
	for _, r := range regions.Rows {
		if n, ok := r[7].(int); ok {
			left -= n
		} else {
			gone++
		}
	}
	if gone < 2 || left < 11 {
		t.Errorf("%d withheld, which stand for %d visits", gone, left)
	}
	last := regions.Rows[len(regions.Rows)-gone:]
	if !slices.IsSortedFunc(last, func(a, b []any) int { return strings.Compare(a[2].(string), b[2].(string)) }) {
		t.Errorf("those withheld stand in the order of their size: %v", last)
	}
	if long := shut.Figures[0].Long; strings.Contains(long, "istal fibula") {
		t.Error(long)
	}
	if shut.Rows != 607 {
		t.Errorf("%d rows tell of the level left out", shut.Rows)
	}
	// Two findings at one place of one visit: how many such visits is withheld.
	s.visit("P3", "transtibial", "yes", "patella: callus", "patella: rash")
	twice := one(t, s.sheets(), "audience: annual", "method: findings-map")
	want(t, row(t, table(t, twice, "levels"), "level", "transtibial"), "findings", nil)
	want(t, row(t, table(t, twice, "regions"), "region", "patella"), "findings", nil)
	f := newSkinLog()
	f.visit("A", "transtibial", "yes", "patella: pain")
	wantError(t, one(t, f.sheets(), "audience: annual", "method: findings-map"), "too-few-to-show")
}

// What the vocabulary knows of a level stands on its drawing, but for what
// has no one place.
func TestEveryRegionHasItsPlace(t *testing.T) {
	nowhere := map[string]bool{"neuroma": true, "other axilla": true, "brim": true, "whole limb": true, "none": true, "other": true}
	drawn := map[string]bool{}
	for _, level := range ingest.Levels().Codes() {
		if _, ok := figure.LimbDrawn(level); !ok {
			continue
		}
		drawn[level] = true
		for _, code := range ingest.RegionWords().Codes() {
			r, _ := ingest.RegionByCode(code)
			general := len(r.Tolerant)+len(r.Sensitive) == 0
			if (general || slices.Contains(r.Tolerant, level) || slices.Contains(r.Sensitive, level)) && !nowhere[code] && len(figure.LimbShows(level, code)) == 0 {
				t.Errorf("%s has no place on the limb of %s", code, level)
			}
		}
		for _, code := range figure.LimbRegions(level) {
			if _, ok := ingest.RegionByCode(code); !ok {
				t.Errorf("%s of %s is no region of the vocabulary", code, level)
			}
		}
	}
	if len(drawn) != 7 {
		t.Errorf("drawings of %v", drawn)
	}
}
