package answer_test

import (
	"fmt"
	"math"
	"testing"
)

// castLives are n lives of a casting method, of which some were remade, on days
// of their own.
func castLives(method string, n, remade int) []string {
	var out []string
	for i := range n {
		kind := "o"
		if i < remade {
			kind = "r"
		}
		out = append(out, fmt.Sprintf("%s x %d %s", method, 101+7*i, kind))
	}
	return out
}

// For the public a curve crosses a share in a whole month, and not at all where
// few had the event; for the lab it does on the day of a life.
func TestPublicQuantilesAreOfWholeMonths(t *testing.T) {
	log := kept(append(castLives("hand", 60, 45), castLives("vacuum", 40, 6)...)...)
	ask := "method: kaplan-meier\nby: cast_method\nquantiles: [0.25, 0.5]\n"
	const month = 365.25 / 12
	lab := table(t, one(t, log, "audience: quality", ask), "quantiles")
	public := one(t, log, "audience: annual", ask)
	shown := table(t, public, "quantiles")
	told, whole := row(t, shown, "group", "hand"), row(t, lab, "group", "hand")
	for _, c := range []string{"estimate", "low", "high"} {
		days := whole[c].(float64)
		if months := days / month; math.Abs(months-math.Round(months)) < 1e-6 {
			t.Errorf("%s is a whole month for the lab: nothing is tried", c)
		}
		want(t, told, c, math.Round(days/month)*month)
	}
	if lab := row(t, lab, "group", "vacuum"); lab["low"] == nil {
		t.Error("the lab is not told of those cast by vacuum")
	}
	want(t, row(t, shown, "group", "vacuum"), "estimate", nil, "low", nil, "high", nil)
	want(t, row(t, table(t, public, "rmst"), "group", "vacuum"), "estimate", nil)
}
