package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// reasonLog has thirty sockets that ended, ten for two reasons at once.
func reasonLog() sheets {
	var s strings.Builder
	s.WriteString("socket,limb,kind,delivered,ended,end_reason,mine\n")
	for i := range 30 {
		reason, mine := "remake: volume loss", "a"
		switch {
		case i < 10:
			reason, mine = "remake: volume loss; remake: pain or pressure", "a/b"
		case i < 18:
			reason = "remake: pain or pressure"
		}
		fmt.Fprintf(&s, "S%d,P1L,definitive,%s,%s,%s,%s\n", i, dayOf(i, 0), dayOf(i, 20), reason, mine)
	}
	return sheets{"limbs": plainLimbs(1), "sockets": s.String()}
}

// A socket that ended for two reasons counts for both, by the column that has
// both; by the other the answer says what is left out.
func TestParetoOfSeveralReasons(t *testing.T) {
	const front = "to: 2026-12-31\n" + quality
	s := reasonLog()
	ask := "method: pareto\nrows: sockets\nevent: remake\nby: "
	a := one(t, s, front, ask+"end_reason")
	want(t, row(t, table(t, a, "bars"), "category", "remake: volume loss"), "count", 22)
	want(t, row(t, table(t, a, "bars"), "category", "remake: pain or pressure"), "count", 8)
	wantCaution(t, a, "first-of-several", "10 of 30 sockets have several reasons", "by: end_reasons")
	b := one(t, s, front, ask+"end_reasons")
	want(t, row(t, table(t, b, "bars"), "category", "remake: volume loss"), "count", 22, "cumulative_percent", 100.0*22/30)
	want(t, row(t, table(t, b, "bars"), "category", "remake: pain or pressure"), "count", 18, "cumulative_percent", 100)
	if caution(b, "first-of-several") != "" {
		t.Errorf("%v", b.Cautions)
	}
	// What was known by the middle of the log alone: later reasons are none yet.
	c := one(t, s, "to: 2022-12-31\n"+quality, ask+"end_reasons")
	if c.Rows != 12 {
		t.Errorf("%d sockets had ended by then", c.Rows)
	}
	wantError(t, one(t, s, front, ask+"end_reason\nseparator: \";\""), "impossible", "holds the first value of each cell alone", "by: end_reasons")
	wantError(t, one(t, s, front, ask+"end_reasons\nseparator: \"/\""), "impossible", "told apart already")
	wantError(t, one(t, s, front, ask+"mine\nseparator: \"+\""), "impossible", "no mine has")
	want(t, row(t, table(t, one(t, s, front, ask+"mine\nseparator: \"/\""), "bars"), "category", "b"), "count", 10)
	wantError(t, one(t, s, front, "method: cox\nadjust: [end_reasons]"), "known-later", "follows from the end")
}
