package answer_test

import (
	"strings"
	"testing"
)

// A time in months is taken for months whatever the scale: on that of months it
// stays as it is, and its logarithm is that of weeks.
func TestScaleOfMonths(t *testing.T) {
	lab := plyLab(12, rising)
	log := readLog(t, lab.with("limbs", strings.NewReplacer("last_seen", "amputated", ",TT,,", ",TT,"+day(-200)+",").Replace(lab["limbs"])))
	const ask = "method: mixed\nrows: visits\noutcome: ply\ntime: months_since_amputation\n"
	all := answersOnce(t, log, nil, quality, "id: plain\n"+ask, "id: months\n"+ask+"scale: months\nlimb: P1L\ntimes: 30d", "id: weeks\n"+ask+"scale: log-weeks", "id: foretold\n"+ask+"limb: P1L\ntimes: 30d")
	slope := func(id string) any {
		return row(t, table(t, all[id], "terms"), "term", "months_since_amputation")["estimate"]
	}
	want(t, map[string]any{"slope": slope("months")}, "slope", slope("plain"))
	x, y := row(t, table(t, all["foretold"], "forecast")), row(t, table(t, all["months"], "forecast"))
	want(t, y, "estimate", x["estimate"], "line", x["line"])
	if a := all["weeks"]; a.Error != nil {
		t.Error(a.Error.Text)
	}
}
