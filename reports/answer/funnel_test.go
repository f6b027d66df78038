package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// unitLog is a log of sockets of units: of each, how many with a low comfort
// at their one visit, of how many, all of one level.
type unitRows struct {
	name, level string
	low, of     int
}

func unitLog(units ...unitRows) sheets {
	var limbs, sockets, visits strings.Builder
	limbs.WriteString("person,limb,side,level,sex\n")
	sockets.WriteString("socket,limb,kind,delivered,cast_method,site\n")
	visits.WriteString("visit,socket,date,purpose,comfort,skin_checked\n")
	k := 0
	for _, u := range units {
		for i := range u.of {
			k++
			comfort := 9
			if i < u.low {
				comfort = 3
			}
			fmt.Fprintf(&limbs, "P%d,P%dL,left,%s,%s\n", k, k, u.level, []string{"female", "male"}[i%2])
			fmt.Fprintf(&sockets, "S%d,P%dL,definitive,2023-01-01,hand,%s\n", k, k, u.name)
			fmt.Fprintf(&visits, "V%d,S%d,%s,follow-up,%d,yes\n", k, k, addDays("2023-02-01", k%90), comfort)
		}
	}
	return sheets{"limbs": limbs.String(), "sockets": sockets.String(), "visits": visits.String()}
}

const lowBySite = "method: funnel\nrows: visits\nby: site\nnumerator: {comfort: ..5}"

func TestFunnelByHand(t *testing.T) {
	s := unitLog(unitRows{"north", "transtibial", 10, 40}, unitRows{"south", "transfemoral", 30, 60}, unitRows{"west", "transtibial", 20, 60}, unitRows{"tiny", "transtibial", 3, 8})
	a := one(t, s, quality, lowBySite+"\nbetter: lower")
	p := 63.0 / 168
	want(t, row(t, table(t, a, "units"), "unit", "north"), "rows", 40, "observed", 10, "expected", 40*p, "ratio", 10/(40*p), "z", (10-40*p)/math.Sqrt(40*p*(1-p)))
	want(t, row(t, table(t, a, "fit")), "units", 4, "shown", 3, "rows", 168, "events", 63, "share", p, "widened", 1, "concordance", nil)
	wantCaution(t, a, "units-not-shown", "1 unit (site) is not shown")
	wantCaution(t, a, "not-adjusted", "harder cases")
	wantCaution(t, a, "many-units", "14%", "0.6%")
	if caution(a, "repeated-persons") != "" || !strings.Contains(a.Reading, "37.5%") {
		t.Errorf("%s %v", a.Reading, a.Cautions)
	}
	for _, text := range printed(a) {
		if strings.Contains(text, "tiny") {
			t.Errorf("a unit that is not shown: %s", text)
		}
	}
	// By level: transfemoral is south alone, and expects of itself what it did.
	b := one(t, s, quality, lowBySite+"\nstrata: level")
	want(t, row(t, table(t, b, "units"), "unit", "south"), "expected", 30, "ratio", 1, "place", "within")
	want(t, row(t, table(t, b, "units"), "unit", "north"), "expected", 40*33.0/108)
	if caution(b, "not-adjusted") != "" || caution(b, "small-strata") != "" || !strings.Contains(b.Methods, "share of each stratum over all units, by level") {
		t.Errorf("%s %v", b.Methods, b.Cautions)
	}
	// One and the same by a model of the level.
	c := one(t, s, quality, lowBySite+"\nadjust: [level]")
	e := row(t, table(t, c, "units"), "unit", "north")["expected"].(float64)
	if math.Abs(e-40*33.0/108) > 1e-5 {
		t.Errorf("expected %g by the model", e)
	}
	for _, code := range []string{"not-adjusted", "separation", "few-events", "weak-model"} {
		if text := caution(c, code); text != "" {
			t.Errorf("%s: %s", code, text)
		}
	}
	wantCaution(t, one(t, s, quality, lowBySite+"\nadjust: [sex]"), "weak-model", "hardly better than chance")
}

func TestFunnelPlaces(t *testing.T) {
	s := unitLog(unitRows{"a", "transtibial", 12, 60}, unitRows{"b", "transtibial", 14, 60}, unitRows{"c", "transtibial", 34, 60}, unitRows{"d", "transtibial", 22, 60}, unitRows{"e", "transtibial", 6, 60})
	a := one(t, s, quality, lowBySite+"\nbetter: lower")
	units := table(t, a, "units")
	want(t, row(t, units, "unit", "c"), "place", "act-above")
	want(t, row(t, units, "unit", "e"), "place", "act-below")
	want(t, row(t, units, "unit", "b"), "place", "within")
	all := strings.Join(printed(a), "\n")
	for _, phrase := range []string{"outside the 99.8% limits", "c (34, 17.6 expected; above)", "outside 99.8% (act): above, the worse side", "outside 99.8% (act): below, the better side"} {
		if !strings.Contains(all, phrase) {
			t.Errorf("%q is not said: %s", phrase, a.Reading)
		}
	}
	wantCaution(t, a, "overdispersed", "not widened", "fewer than 8 units")
	b := one(t, s, quality, lowBySite+"\noverdispersed: yes")
	wantCaution(t, b, "overdispersed", "limits are widened")
	if w := row(t, table(t, b, "fit"))["widened"].(float64); w < 2 || row(t, table(t, b, "units"), "unit", "e")["place"] != "within" {
		t.Errorf("widened by %g", w)
	}
	wantCaution(t, one(t, s, quality, lowBySite+"\noverdispersed: no"), "overdispersed", "as the question says")
	// Nine that are alike but for chance, and one to be watched.
	var many []unitRows
	for k := range 9 {
		many = append(many, unitRows{fmt.Sprintf("u%d", k), "transtibial", 17 + k%3, 60})
	}
	calm := one(t, unitLog(append(many, unitRows{"x", "transtibial", 28, 60})...), quality, lowBySite)
	if caution(calm, "overdispersed") != "" || !strings.Contains(calm.Reading, "none lies outside the 99.8% limits. To be watched, outside the 95% limits: x (28") {
		t.Errorf("%s %v", calm.Reading, calm.Cautions)
	}
	for k := range many {
		many[k].low = 8 + 3*k
	}
	wide := one(t, unitLog(many...), quality, lowBySite)
	wantCaution(t, wide, "overdispersed", "limits are widened")
}

func TestFunnelRates(t *testing.T) {
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,skin_checked\n")
	k := 0
	for socket, n := range map[string]int{"S1": 12, "S2": 8, "S3": 20} {
		for i := range n + 6 {
			purpose := "walk-in"
			if i >= n {
				purpose = "follow-up"
			}
			k++
			fmt.Fprintf(&v, "%s-%d,%s,%s,%s,yes\n", socket, i, socket, addDays("2023-01-10", 12*i), purpose)
		}
	}
	sockets := "socket,limb,kind,delivered,ended,end_reason,site\nS1,P1L,definitive,2023-01-01,,,east\nS2,P2L,definitive,2023-01-01,2023-07-02,remake: growth,east\nS3,P3L,definitive,2023-01-01,,,west\n"
	s := sheets{"limbs": plainLimbs(3), "sockets": sockets, "visits": v.String()}
	ask := "method: funnel\nrows: visits\nby: site\nnumerator: {purpose: walk-in}\n"
	a := one(t, s, "to: 2023-12-31", ask+"exposure: socket-months")
	east := 365.0 + 182
	want(t, row(t, table(t, a, "units"), "unit", "east"), "observed", 20, "rows", nil, "expected", 40*east/(east+365))
	want(t, row(t, table(t, a, "fit")), "share", nil, "events", 40)
	if !strings.Contains(a.Methods, "Poisson") || !strings.Contains(a.Methods, "3 sockets were in use") {
		t.Errorf("%s", a.Methods)
	}
	b := one(t, s, "to: 2023-12-31", ask+"exposure: checked-visits")
	want(t, row(t, table(t, b, "units"), "unit", "west"), "observed", 20, "expected", 40*26.0/58)
	wantCaution(t, b, "repeated-persons", "several of the visits")
	wantError(t, one(t, s, "to: 2023-12-31", "method: funnel\nrows: visits\nby: purpose\nnumerator: {purpose: walk-in}\nexposure: socket-months"), "impossible", "have no purpose")
	// A row of a unit that nothing was in use of.
	c := s.with("sockets", strings.Replace(sockets, "S2,P2L,definitive,2023-01-01,2023-07-02,remake: growth,east", "S2,P2L,definitive,,,,north", 1))
	wantCaution(t, one(t, c, "to: 2023-12-31", ask+"exposure: socket-months"), "outside-exposure", "8 visits were not counted")
	c = s.with("sockets", strings.Replace(sockets, "S2,P2L,definitive,2023-01-01,2023-07-02,remake: growth,east", "S2,P2L,definitive,2023-01-10,2023-01-10,remake: growth,north", 1))
	wantCaution(t, one(t, c, "to: 2023-12-31", ask+"exposure: socket-months"), "no-exposure", "1 visit was left out")
	// Strata of the exposure, and units that it does not know.
	d := one(t, s, "to: 2023-12-31", ask+"exposure: socket-months\nstrata: level")
	want(t, row(t, table(t, d, "units"), "unit", "east"), "expected", 40*east/(east+365))
	wantCaution(t, one(t, s.with("sockets", strings.Replace(sockets, ",east\nS3", ",\nS3", 1)), "to: 2023-12-31", ask+"exposure: socket-months"), "missing-exposure", "1 row")
}

func TestFunnelRefusals(t *testing.T) {
	s := unitLog(unitRows{"a", "transtibial", 12, 60}, unitRows{"b", "transtibial", 14, 60})
	wantError(t, one(t, s, quality, strings.Replace(lowBySite, "site", "comfort", 1)), "impossible", "is a number")
	wantError(t, one(t, s, quality, strings.Replace(lowBySite, "site", "socket", 1)), "impossible", "units of many rows")
	wantError(t, one(t, s, quality, lowBySite+"\nstrata: days_since_delivery"), "impossible", "use adjust")
	wantError(t, one(t, s, quality, strings.Replace(lowBySite, "..5", "..1", 1)), "no-events", "none, or all")
	wantError(t, one(t, unitLog(unitRows{"a", "transtibial", 12, 60}, unitRows{"b", "transtibial", 1, 4}), quality, lowBySite), "few-expected", "nothing to compare")
	wantError(t, one(t, s, quality, strings.Replace(lowBySite, "rows: visits", "rows: sockets", 1)+"\nadjust: [follow_up_days]"), "unknown-column")
	late := "method: funnel\nrows: sockets\nby: site\nnumerator: {cast_method: hand}\nadjust: [follow_up_days]"
	wantError(t, one(t, s, quality, late), "known-later", "what was to be expected")
}

// Where small counts are hidden, what is not shown cannot be worked out from
// the totals.
func TestFunnelHidesSmall(t *testing.T) {
	s := unitLog(unitRows{"a", "transtibial", 30, 80}, unitRows{"b", "transtibial", 9, 50}, unitRows{"c", "transtibial", 25, 70}, unitRows{"d", "transtibial", 28, 75})
	a := one(t, s, "audience: annual", lowBySite)
	if n := len(table(t, a, "units").Rows); n != 2 {
		t.Fatalf("%d units shown: %v", n, table(t, a, "units").Rows)
	}
	for _, text := range printed(a) {
		if strings.Contains(text, "b (") || text == "b" || text == "c" {
			t.Errorf("a unit that is not shown: %s", text)
		}
	}
	b := one(t, s, quality, lowBySite)
	if n := len(table(t, b, "units").Rows); n != 4 {
		t.Errorf("%d units shown to the lab", n)
	}
}
