package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// Rows that may be written down later than the whole log is long leave nothing
// to judge; a baseline longer than the chart sets the limits from all of it.
func TestChartsOfNothingSettled(t *testing.T) {
	low := []int{2, 3, 4, 3, 5, 3, 4, 3, 5, 3, 2, 4}
	s := chartLog(20, low)
	ask := "method: control-chart\nrows: visits\nperiod: month\nnumerator: {comfort: ..5}"
	wantError(t, one(t, s, "to: 2022-12-31", ask+"\nlate_entry: 500d"), "impossible", "leave 0 months of 12 settled", "shorter late_entry")
	if a := one(t, s, "to: 2022-12-31", ask+"\nlate_entry: 60d"); a.Error != nil || strings.Contains(a.Reading, "not computed") {
		t.Errorf("%v %s", a.Error, a.Reading)
	}
	wantCaution(t, one(t, s, "to: 2022-12-31", ask+"\nbaseline_points: 400"), "baseline-longer", "asks for 400 periods, and there are 12")
	if a := one(t, s, "to: 2022-12-31", ask+"\nbaseline_points: 12"); caution(a, "baseline-longer") != "" {
		t.Errorf("%v", a.Cautions)
	}
}

// Steps that take as long are the longest together.
func TestTurnaroundNamesTies(t *testing.T) {
	var s strings.Builder
	s.WriteString("socket,limb,kind,referred,ordered,cast_on,delivered\n")
	for i := range 12 {
		from := addDays("2023-01-01", 7*i)
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,%s,%s,%s\n", i, i+1, from, addDays(from, 10), addDays(from, 20), addDays(from, 26))
	}
	a := one(t, sheets{"limbs": plainLimbs(12), "sockets": s.String()}, quality+"\nto: 2023-12-31", "method: turnaround\nsteps: [referred, ordered, cast_on, delivered]")
	if !strings.Contains(a.Reading, "The longest single steps are from referral to order and from order to cast, with a median of 10 days each.") {
		t.Error(a.Reading)
	}
}

// Where nothing was found nobody has it more often than others.
func TestNothingFoundIsTheSameForAll(t *testing.T) {
	often := seriesSkin(50, 4, 7, "patella")
	for range 120 {
		often.visit("P1", "transtibial", "yes", "patella: callus")
	}
	a := one(t, often.sheets(), quality, "method: findings-map\nkeep: {finding: ulcer}")
	if got := caution(a, "seen-more-often"); got != "" {
		t.Error(got)
	}
}

// What is hidden is called so, and not called something that could not be had.
func TestHiddenIsNotNotComputed(t *testing.T) {
	const ask = "method: log-normal\ncompare: all\ntimes: [100d, 300d]"
	s := livesLog(weibullLives(150, 300, 2, 0))
	a := one(t, s, "audience: annual", ask)
	text := strings.Join(printed(a), "\n")
	if a.Error != nil || strings.Contains(text, "not computed") || !strings.Contains(text, "\nhidden\n") {
		t.Errorf("%v\n%s", a.Error, text)
	}
	if text := strings.Join(printed(one(t, s, quality, ask)), "\n"); strings.Contains(text, "\nhidden\n") {
		t.Error("hidden in a report that hides nothing")
	}
}
