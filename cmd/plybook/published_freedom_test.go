package main

import (
	"strings"
	"testing"
	"time"
)

// beetsLab is a field trial as a log: each of six strips (a block and a time of
// harvest) is a limb, each of its five plots a visit.
func beetsLab(t *testing.T) *lab {
	t.Helper()
	l, strips := &lab{}, map[string]string{}
	for k, r := range readRecords(t, "beets") {
		s, ok := strips[r["limb"]]
		if !ok {
			s = "F" + string(rune('1'+len(strips)))
			strips[r["limb"]] = s
			l.limbs.add("person", s, "side", "left", "level", "TT")
			l.sockets.add("socket", "S"+s, "limb", s+"-L", "kind", "definitive", "delivered", ymd(2022, time.March, 1))
		}
		l.visits.add("socket", "S"+s, "date", ymd(2022, time.March, 2)+day(k), "purpose", "follow-up", "sugar", r.num(t, "sugpct"),
			"block", r["block"], "sown", r["sow"], "reaped", r["harvest"])
	}
	return l
}

// R 4.2.2, lme4 1.1-31 and pbkrtest 0.5.2 (analysis/mixed/testdata/kenward.R):
// adjusted errors, degrees of freedom, and F of several columns with the factor
// that it is multiplied by. The optimiser of lme4 stops at about 1e-7 of the
// variances.
func TestPublishedFreedom(t *testing.T) {
	t.Parallel()
	var all map[string]struct {
		Coef, SE, DF []float64
		Tests        []struct {
			At                    []int
			F, Scale, NDF, DDF, P float64
		}
	}
	readJSON(t, "../../analysis/mixed/testdata/kenward.json", &all)
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + strings.ReplaceAll(id, "_", "-"), "method: mixed", "rows: visits", "freedom: kenward-roger"}, more...)...)
	}
	slope, person, by := "slopes: [days_since_delivery]", "nested_in: person", "crossed: [seen_by]"
	apart := "random_effects: uncorrelated"
	sleep := func(id string, more ...string) string {
		return block(id, append(more, "outcome: reaction", "time: days_since_delivery")...)
	}
	layered := func(id string, more ...string) string {
		return block(id, append(more, "outcome: own.level_of", "time: days_since_delivery", "adjust: [own.dose]")...)
	}
	cases := 0
	check := func(n *numbersFile, ids ...string) {
		t.Helper()
		for _, id := range ids {
			cases++
			a, w := n.answer(t, strings.ReplaceAll(id, "_", "-")), all[id]
			terms := a.table(t, "terms")
			if len(terms) != len(w.Coef) || len(terms) == 0 {
				t.Fatalf("%s: %d terms, want %d", id, len(terms), len(w.Coef))
			}
			for j, r := range terms {
				near(t, id+" term", r["estimate"], w.Coef[j], 1e-6)
				near(t, id+" error", r["std_error"], w.SE[j], 1e-6)
				near(t, id+" df", r["df"], w.DF[j], freedom)
			}
		}
	}
	check(runLog(t, sleepLab(t), plainCSV, sleep("sleep_intercept")+sleep("sleep_slope", slope)+sleep("sleep_apart", slope, apart), nil), "sleep_intercept", "sleep_slope", "sleep_apart")
	check(runLog(t, layersLab(t), plainCSV, layered("nested", slope, person)+layered("slopes", person, "nested_slopes: [days_since_delivery]")+
		layered("slopes_apart", slope, person, "nested_slopes: [days_since_delivery]", apart)+layered("crossed", by)+layered("all", slope, person, by), nil),
		"nested", "slopes", "slopes_apart", "crossed", "all")
	n := runLog(t, beetsLab(t), plainCSV, block("beets", "outcome: own.sugar", "adjust: [own.block, own.sown, own.reaped]", "reference: {own.block: block1, own.sown: sow1, own.reaped: harv1}"), nil)
	check(n, "beets")
	if cases != 9 {
		t.Errorf("%d cases", cases)
	}
	for k, term := range []string{"own.block", "own.sown"} {
		r, w := n.answer(t, "beets").row(t, "term_tests", "term", term), all["beets"].Tests[k]
		near(t, term+" F", r["statistic"], w.F, 2e-6)
		near(t, term+" columns", r["df"], w.NDF, 0)
		near(t, term+" df", r["df_residual"], w.DDF, freedom)
		near(t, term+" factor", r["factor"], w.Scale, 1e-6)
		near(t, term+" p", r["p"], w.P, 1e-5)
	}
}
