package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// watchOptions bend the log of a lab that is watched.
type watchOptions struct {
	persons  int
	weak     bool // comfort has nothing to do with remakes
	allEnd   bool
	unseen   int  // so many sockets in use were last heard of long ago
	noValue  int  // so many sockets in use never had a comfort
	stale    bool // no visit in the last 300 days
	blister  int  // 1: at the last visit of a socket in use, 2: at an earlier one
	constant bool
	safe     bool // sockets of one thing are never remade
	noDeaths bool
}

// watchLast is the last day of the log.
const watchLast = 1100

// watchLog is a lab in which low comfort goes before a remake: a socket for
// each person, seen every 60 days.
func watchLog(o watchOptions) sheets {
	r := rand.New(rand.NewPCG(21, 4))
	limbs := [][]string{{"person", "limb", "side", "level", "last_seen", "born"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered", "ended", "end_reason", "thing"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "ply", "comfort", "skin_checked"}}
	findings := [][]string{{"visit", "region", "finding"}}
	inUse := 0
	for i := range o.persons {
		socket, limb := fmt.Sprintf("S%d", i), fmt.Sprintf("P%d-L", i)
		start := 900 * i / o.persons
		thing := []string{"a", "b"}[i%2]
		comfort := 4 + r.IntN(6)
		end, reason := watchLast, ""
		var seen [][]string
		for d := 0; start+d < watchLast; d += 60 {
			if d > 0 {
				comfort = min(max(comfort+r.IntN(3)-1, 1), 10)
			}
			said := fmt.Sprint(comfort)
			if o.constant {
				said = "7"
			}
			seen = append(seen, []string{fmt.Sprintf("V%d-%d", i, d), socket, day(start + d), []string{"delivery", "follow-up"}[min(d, 1)], fmt.Sprint(r.IntN(6)), said, "yes"})
			effect := 0.6 * float64(6-comfort)
			if o.weak {
				effect = 0
			}
			if o.safe && thing == "b" {
				effect = -100
			}
			remake, death := 60*0.0011*math.Exp(effect), 60*0.0002
			if o.noDeaths {
				death = 0
			}
			if u := r.Float64(); u < remake {
				reason = "remake: volume loss"
			} else if u < remake+death {
				reason = "died"
			}
			if reason != "" {
				end = start + d + 1 + r.IntN(58)
				if end >= watchLast {
					end, reason = watchLast, ""
				}
				break
			}
		}
		if o.allEnd && reason == "" {
			reason = "planned"
		}
		ended, last := "", day(watchLast)
		if reason != "" {
			ended, last = day(end), ""
		} else {
			inUse++
			switch {
			case inUse <= o.unseen:
				last = ""
				var early [][]string
				for _, v := range seen {
					if v[2] < day(watchLast-400) {
						early = append(early, v)
					}
				}
				if len(early) == 0 {
					early = seen[:1]
				}
				seen = early
			case inUse <= o.unseen+o.noValue:
				for _, v := range seen {
					v[5] = ""
				}
			case o.stale:
				seen = seen[:max(1, len(seen)-5)]
			}
			if k := len(seen); inUse == o.unseen+o.noValue+60 && o.blister > 0 && k > 1 {
				findings = append(findings, []string{seen[k-o.blister][0], "fibular head", "blister"})
			}
		}
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i), limb, "left", []string{"TT", "TF"}[i/2%2], last, fmt.Sprint(1940 + i%50)})
		sockets = append(sockets, []string{socket, limb, "definitive", day(start), ended, reason, thing})
		visits = append(visits, seen...)
	}
	s := sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
	if len(findings) > 1 {
		s["findings"] = csvText(findings)
	}
	return s
}

const watchAsk = "method: watch\nahead: 180d\nevery: 60d\nresamples: 100\nvarying: [comfort]"

func absent(t *testing.T, a answer.Answer, codes ...string) {
	t.Helper()
	for _, code := range codes {
		if s := caution(a, code); s != "" {
			t.Errorf("%s: %s", code, s)
		}
	}
}

func TestWatchRanks(t *testing.T) {
	a := one(t, watchLog(watchOptions{persons: 260}), quality, watchAsk)
	list, terms := table(t, a, "sockets"), table(t, a, "terms")
	if len(list.Rows) < 60 {
		t.Fatalf("%d sockets ranked", len(list.Rows))
	}
	before := 2.0
	for i, r := range list.Rows {
		if r[0] != i+1 || r[4].(float64) > before || !(r[5].(float64) < r[4].(float64) && r[4].(float64) < r[6].(float64)) {
			t.Fatalf("row %d: %v", i, r)
		}
		before = r[4].(float64)
	}
	b := row(t, terms, "term", "comfort")["estimate"].(float64)
	if b > -0.3 {
		t.Errorf("comfort has %.3f", b)
	}
	top := list.Rows[0][1].(string)
	why := row(t, table(t, a, "reasons"), "socket", top, "term", "comfort")
	var value, usual float64
	fmt.Sscan(why["value"].(string), &value)
	fmt.Sscan(why["typical"].(string), &usual)
	if math.Abs(why["log_ratio"].(float64)-b*(value-usual)) > 1e-12 || value >= usual {
		t.Errorf("%v by %g", why, b)
	}
	raises := row(t, list, "socket", top)["raises"].(string)
	if !strings.Contains(raises, fmt.Sprintf("comfort on arrival %v, lower than most (%v)", value, usual)) {
		t.Errorf("raised by %q", raises)
	}
	wantCaution(t, a, "watch-list", "not a decision to remake", "no clearance", "Skin trouble now comes first")
	absent(t, a, "skin-now", "sockets-hidden", "none-ranked", "no-better", "old-values", "missing", "few-events", "samples-failed", "not-seen")
	if len(a.Figures) != 3 || !strings.Contains(a.Reading, "The highest is that of "+top) {
		t.Errorf("%d figures; %s", len(a.Figures), a.Reading)
	}
	c := row(t, table(t, a, "performance"), "measure", "c")
	if x := c["corrected"].(float64); x < 0.65 || x >= c["apparent"].(float64) {
		t.Errorf("C %v", c)
	}
	events := 0
	for _, r := range table(t, a, "calibration").Rows {
		events += r[3].(int)
	}
	if events < a.Events {
		t.Errorf("%d events in groups, %d in all", events, a.Events)
	}
}

func TestWatchSkinComesFirst(t *testing.T) {
	a := one(t, watchLog(watchOptions{persons: 260, blister: 1}), quality, watchAsk)
	wantCaution(t, a, "skin-now", "at the last visit of 1 socket in use (S", "Refer any person with broken skin")
	marked := 0
	for _, r := range table(t, a, "sockets").Rows {
		if r[7] == true {
			marked++
		}
	}
	if marked != 1 {
		t.Errorf("%d sockets marked", marked)
	}
	// What was found earlier and not again is no trouble now.
	absent(t, one(t, watchLog(watchOptions{persons: 260, blister: 2}), quality, watchAsk), "skin-now")
}

func TestWatchWithoutAPlace(t *testing.T) {
	a := one(t, watchLog(watchOptions{persons: 260, unseen: 3, noValue: 4}), quality, watchAsk)
	why := map[string]int{}
	for _, r := range table(t, a, "not_ranked").Rows {
		why[r[2].(string)]++
	}
	if why["not heard of for 12 months"] == 0 || why["comfort on arrival not recorded"] != 4 {
		t.Errorf("%v", why)
	}
	wantCaution(t, a, "missing", "4 sockets were left out of the model whole", "comfort on arrival 4")
	if strings.Contains(fmt.Sprint(why), "worn longer") {
		long := one(t, watchLog(watchOptions{persons: 260}), quality, strings.Replace(watchAsk, "180d", "400d", 1))
		if len(table(t, long, "not_ranked").Rows) <= why["worn longer than the log can tell of"] {
			t.Error("looking further ahead ranks as many")
		}
	}
}

func TestWatchDoubts(t *testing.T) {
	weak := one(t, watchLog(watchOptions{persons: 260, weak: true}), quality, watchAsk)
	wantCaution(t, weak, "no-better", "order of the list")
	if !strings.Contains(weak.Reading, "no better than one share") {
		t.Error(weak.Reading)
	}
	wantCaution(t, weak, "overfitted", "1 being right")
	wantCaution(t, one(t, watchLog(watchOptions{persons: 90}), quality, watchAsk), "few-events", "fewer than 20 for each")
	wantCaution(t, one(t, watchLog(watchOptions{persons: 260, stale: true}), quality, watchAsk), "old-values", "more than 6 months back")
	alone := one(t, watchLog(watchOptions{persons: 260, noDeaths: true}), quality, watchAsk)
	want(t, row(t, table(t, alone, "fit")), "competing", 0)
	if !strings.Contains(alone.Methods, "No other ending was seen") {
		t.Error(alone.Methods)
	}
}

// A report for the public shows no single socket, but how far such a list
// could be trusted.
func TestWatchForThePublic(t *testing.T) {
	for _, front := range []string{"audience: annual", "audience: research"} {
		a := one(t, watchLog(watchOptions{persons: 400, blister: 1}), front, watchAsk)
		for _, name := range []string{"sockets", "reasons", "not_ranked", "baseline"} {
			if n := len(table(t, a, name).Rows); n > 0 {
				t.Errorf("%s: %d rows of %s", front, n, name)
			}
		}
		wantCaution(t, a, "sockets-hidden", "is not listed", "how far such a list can be trusted")
		wantCaution(t, a, "watch-list")
		if few := one(t, watchLog(watchOptions{persons: 400, noValue: 4}), front, watchAsk); strings.Contains(caution(few, "missing"), "at some landmarks, because") && !strings.Contains(caution(few, "missing"), "whole or at some") {
			t.Errorf("%s: %s", front, caution(few, "missing"))
		}
		if len(table(t, a, "performance").Rows) != 9 || len(table(t, a, "calibration").Rows) < 2 {
			t.Errorf("%s: %v", front, table(t, a, "calibration").Rows)
		}
		for _, s := range printed(a) {
			for i := range 400 {
				if strings.Contains(s, fmt.Sprintf("S%d,", i)) || strings.Contains(s, fmt.Sprintf("S%d)", i)) {
					t.Errorf("%s: a socket in %s", front, s)
				}
			}
		}
		scanPublic(t, "watch", a)
	}
}

func TestWatchRefuses(t *testing.T) {
	ask := func(o watchOptions, text string) answer.Answer { return one(t, watchLog(o), quality, text) }
	wantError(t, ask(watchOptions{persons: 40}, watchAsk+"\nadjust: [age, thing]"), "few-events-to-predict", "5 coefficients (3 of the question and 2 for the time worn)", "needs 10 for each")
	wantError(t, ask(watchOptions{persons: 60, allEnd: true}, watchAsk), "none-in-use", "none of the sockets kept was in use on")
	wantError(t, ask(watchOptions{persons: 60}, strings.Replace(watchAsk, "180d", "4y", 1)), "too-short", "watched for 4 years on")
	wantError(t, ask(watchOptions{persons: 60, constant: true}, watchAsk), "bad-term", "is 7 in every row")
	wantError(t, ask(watchOptions{persons: 260, safe: true}, watchAsk+"\nadjust: [thing]"), "separation")
	wantError(t, ask(watchOptions{persons: 60}, "method: watch\nahead: 180d\nadjust: [comfort]"), "known-later")
	wantError(t, ask(watchOptions{persons: 60}, "method: watch\nahead: 180d\nvarying: [level]"), "impossible")
	wantError(t, ask(watchOptions{persons: 60}, "method: watch\nahead: 180d\nadjust: [socket]"), "bad-term")
	wantError(t, ask(watchOptions{persons: 60}, watchAsk+"\nkeep: {level: syme}"), "no-rows")
	wantError(t, ask(watchOptions{persons: 60}, watchAsk+"\nevent: making"), "no-events")
}
