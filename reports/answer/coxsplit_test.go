package answer_test

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// With one column and a split at a time, the parts have no event in common:
// the ratio of each is that of a model of its part alone.
func TestSplitIsAModelOfEachPart(t *testing.T) {
	var whole, early, late []life
	for k := range 60 {
		days, group := 20+5*k, []string{"hand", "vacuum"}[k*k%7%2]
		l := life{k + 1, 0, days, "remake: growth", group}
		whole = append(whole, l)
		if days <= 150 {
			early = append(early, l)
		} else {
			early = append(early, life{k + 1, 0, 150, "", group})
			late = append(late, life{k + 1, 0, days - 150, "remake: growth", group})
		}
	}
	const ask = "method: cox\nby: cast_method\nreference: {cast_method: hand}"
	a := one(t, lifeLog(whole), quality, ask+"\nsplit: {cast_method: 150d}")
	for part, lives := range map[string][]life{"up to 150 days": early, "after 150 days": late} {
		alone := row(t, table(t, one(t, lifeLog(lives), quality, ask), "terms"))
		r := row(t, table(t, a, "terms"), "part", part, "category", "vacuum")
		for _, c := range []string{"estimate", "std_error", "p"} {
			if x, y := r[c].(float64), alone[c].(float64); math.Abs(x-y) > 1e-8 {
				t.Errorf("%s: %s is %g, alone %g", part, c, x, y)
			}
		}
	}
	// So the estimates are independent, and the test by hand follows.
	x, y := row(t, table(t, a, "terms"), "part", "up to 150 days"), row(t, table(t, a, "terms"), "part", "after 150 days")
	z := (x["estimate"].(float64) - y["estimate"].(float64)) / math.Hypot(x["std_error"].(float64), y["std_error"].(float64))
	r := row(t, table(t, a, "split_tests"), "term", "cast_method")
	if got := r["statistic"].(float64); math.Abs(got-z*z) > 1e-8 {
		t.Errorf("the test is %g, by hand %g", got, z*z)
	}
	want(t, r, "df", 1, "test", "the same in all parts")
	want(t, row(t, table(t, a, "split"), "part", "after 150 days"), "from", 150, "to", nil, "rows", 33, "events", 33, "number", nil)
	want(t, row(t, table(t, a, "fit")), "rows", 93, "events", 60)
	for _, phrase := range []string{" of 60 sockets with 60 events", " is, up to 150 days, ", "After 150 days it is ", "The ratios for casting method do not differ from part to part"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	for _, phrase := range []string{"let differ between stretches of time, split for casting method at 150 days", "tested by Wald's test."} {
		if !strings.Contains(a.Methods, phrase) {
			t.Errorf("the methods sentence lacks %q: %s", phrase, a.Methods)
		}
	}
	if !strings.Contains(strings.Join(a.References, " "), "Therneau TM, Grambsch PM. Modeling") || !strings.Contains(a.Figures[0].Long+a.Figures[0].Description, "after 150 days") {
		t.Errorf("%v\n%s", a.References, a.Figures[0].Long)
	}
}

func TestSplitRefusals(t *testing.T) {
	s := calmLives()
	wantError(t, one(t, s, quality, "method: cox\nby: cast_method\nsplit: {cast_method: 10d}"), "impossible", "no event was seen up to 10 days, so casting method can have no ratio there", "other times")
	wantError(t, one(t, s, quality, "method: cox\nby: cast_method\nsplit: {cast_method: [100d, 9000d]}"), "impossible", "no event was seen after 9000 days")
	wantError(t, one(t, s, quality, "method: cox\nby: cast_method\nsplit: {cast_method: [100d, 101d]}"), "impossible", "from 100 to 101 days")
	log := repeatLog(60).lines("limbs", func(i int, l string) string {
		if i < 0 {
			return l
		}
		return strings.Replace(strings.Replace(l, "TF", "TT", 1), "TT", []string{"TT", "TF"}[i/4%2], 1)
	})
	ask := "method: cox\nevent: {purpose: walk-in}\nadjust: [level, cause]\nrepeats: marginal\nstrata: [event_number]\n"
	a := one(t, log, quality, ask+"split: {level: event_number}")
	if a.Error != nil {
		t.Fatal(a.Error)
	}
	if n := len(table(t, a, "split").Rows); n != 3 || len(table(t, a, "pooled").Rows) != 1 {
		t.Errorf("%d parts", n)
	}
	for _, phrase := range []string{" is, for event 1, ", "For event 3 it is ", "Drawn together over all events"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	if !strings.Contains(a.Methods, "with the robust covariance") || !strings.Contains(a.Methods, "(Wei, Lin and Weissfeld)") {
		t.Error(a.Methods)
	}
	// Of fewer limbs the third comes too seldom for a ratio of its own.
	fewer := one(t, repeatLog(32).lines("limbs", func(i int, l string) string {
		if i < 0 {
			return l
		}
		return strings.Replace(strings.Replace(l, "TF", "TT", 1), "TT", []string{"TT", "TF"}[i/4%2], 1)
	}), quality, ask+"split: {level: event_number}")
	parts := table(t, fewer, "split")
	if len(parts.Rows) != 2 {
		t.Fatalf("%v", parts.Rows)
	}
	want(t, row(t, parts, "number", 2), "part", "event 2 and later", "events", 24)
	wantError(t, one(t, repeatLog(8), quality, ask+"split: {level: event_number}"), "impossible", "leave out `split`")
	// Those who wait for a fourth event, of which there is none, stay with the
	// third.
	total := one(t, log, quality, strings.Replace(ask, "marginal\nstrata: [event_number]", "total-time", 1)+"split: {level: event_number}")
	if total.Error != nil || len(table(t, total, "split").Rows) != 3 {
		t.Errorf("%v", total.Error)
	}
}

// Small counts: neither the parts' counts nor those of the figure are shown.
func TestSplitInPublic(t *testing.T) {
	a := one(t, calmLives(), "audience: annual", "method: cox\nby: cast_method\nsplit: {cast_method: 250d}")
	for _, r := range table(t, a, "split").Rows {
		if r[5] != nil || r[6] != nil {
			t.Errorf("shown: %v", r)
		}
	}
	if len(table(t, a, "split_tests").Rows) != 1 {
		t.Error("no test")
	}
}

var offered = regexp.MustCompile("`([a-z_]+: [^`]+)`")

// offers are the lines that a caution offers, by key.
func offers(t *testing.T, a answer.Answer) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, m := range offered.FindAllStringSubmatch(caution(a, "non-proportional"), -1) {
		key, _, _ := strings.Cut(m[1], ":")
		out[key] = m[1]
	}
	if len(out) == 0 {
		t.Fatalf("nothing is offered: %v %v", a.Error, a.Cautions)
	}
	return out
}

// What the caution about ratios that change offers can be asked as it stands.
func TestTheWayOutCanBeAsked(t *testing.T) {
	s := crossed()
	base := "method: cox\nby: cast_method\n"
	o := offers(t, one(t, s, quality, base+"diagnostics: yes\ntimes: [60d]"))
	if !strings.Contains(caution(one(t, s, quality, base+"diagnostics: yes\ntimes: [60d]"), "non-proportional"), "leave out `diagnostics`") {
		t.Error("`diagnostics` does not go with what is offered")
	}
	a := one(t, s, quality, base+o["split"])
	if a.Error != nil || len(table(t, a, "split").Rows) != 2 || row(t, table(t, a, "split_tests"))["p"].(float64) > 0.05 {
		t.Errorf("%s: %v", o["split"], a.Error)
	}
	k := one(t, s, quality, strings.Join([]string{o["method"], o["by"], o["until"]}, "\n"))
	if k.Error != nil || k.Method != "kaplan-meier" || len(table(t, k, "time_lost").Rows) != 3 {
		t.Errorf("%v: %v", o, k.Error)
	}
	// A number has no groups to draw curves of.
	number := s.lines("sockets", func(i int, l string) string {
		switch {
		case i < 0:
			return l + ",thing"
		case strings.HasSuffix(l, "early"):
			return l + ",1"
		}
		return l + ",3"
	})
	o = offers(t, one(t, number, quality, "method: cox\nadjust: [thing]"))
	if o["split"] == "" || o["method"] != "" {
		t.Errorf("%v", o)
	}
	if a := one(t, number, quality, "method: cox\nadjust: [thing]\n"+o["split"]); a.Error != nil {
		t.Error(a.Error)
	}
	// A curve cannot be split, but groups can be compared.
	o = offers(t, one(t, s.lines("sockets", func(i int, l string) string {
		if i < 0 {
			return l + ",thing"
		}
		return l + "," + string(rune('1'+i*i%7))
	}), quality, "method: cox\nby: cast_method\nadjust: [thing]\ninteract: [[cast_method, thing]]"))
	if o["split"] != "" || o["method"] == "" {
		t.Errorf("%v", o)
	}
}

// Of repeated events the way out is their mean number.
func TestTheWayOutOfRepeats(t *testing.T) {
	log := repeatLog(60)
	visits := strings.Split(strings.TrimSpace(log["visits"]), "\n")
	for i, v := range visits {
		f := strings.Split(v, ",")
		if f[3] != "walk-in" {
			continue
		}
		// One level comes early, the other late.
		var limb int
		if _, err := fmt.Sscanf(f[1], "S%d", &limb); err != nil {
			t.Fatal(err)
		}
		late := 0
		if (limb%2 == 1) != (i%4 == 0) {
			late = 200
		}
		f[2] = day(limb + 10 + late + i*37%120)
		visits[i] = strings.Join(f, ",")
	}
	s := log.with("visits", strings.Join(visits, "\n"))
	ask := "method: cox\nevent: {purpose: walk-in}\nby: level\nrepeats: total-time\n"
	a := one(t, s, quality, ask)
	o := offers(t, a)
	if o["method"] != "method: mean-cumulative" || strings.Contains(caution(a, "non-proportional"), "kaplan-meier") {
		t.Errorf("%v", o)
	}
	m := one(t, s, quality, "rows: limbs\nevent: {purpose: walk-in}\n"+o["method"]+"\n"+o["by"])
	if m.Error != nil || len(table(t, m, "tests").Rows) != 1 {
		t.Errorf("%v", m.Error)
	}
	if b := one(t, s, quality, ask+o["split"]); b.Error != nil || row(t, table(t, b, "split_tests"))["p"].(float64) > 0.05 {
		t.Errorf("%s: %v", o["split"], b.Error)
	}
}
