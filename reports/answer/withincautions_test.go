package answer_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"plybook/reports/answer"
)

// withoutCaution checks that an answer was given and does not raise cautions.
func withoutCaution(t *testing.T, a answer.Answer, codes ...string) {
	t.Helper()
	if a.Error != nil {
		t.Fatal(a.Error.Text)
	}
	for _, code := range codes {
		if s := caution(a, code); s != "" {
			t.Errorf("%s: %s", code, s)
		}
	}
}

// leavingLimbs are limbs of a level of their own, every other one of which is
// seen 4 times and the others 12; those seen 4 times change by early a visit,
// the others hardly.
func leavingLimbs(early float64) []again {
	r := rand.New(rand.NewPCG(11, 3))
	var out []again
	for l := 1; l <= 60; l++ {
		u, visits, slope := 0.8*r.NormFloat64(), 12, -0.05
		if l%2 == 0 {
			visits, slope = 4, early
		}
		for v := range visits {
			eta := u + slope*float64(v)
			x := eta + math.Log(1/r.Float64()-1)
			a := again{limb: l, day: 9 * v, cast: []string{"hand", "vacuum"}[l/2%2], ok: "no"}
			if x > 0 {
				a.ok = "yes"
			}
			a.mark = int(math.Min(math.Max(math.Floor(x+2), 0), 3))
			for p := r.Float64(); p > math.Exp(-math.Exp(0.5+0.5*eta)); p *= r.Float64() {
				a.count++ // Poisson: uniform numbers multiplied until they fall below exp(-mean)
			}
			out = append(out, a)
		}
	}
	return out
}

// Limbs that leave early and change otherwise are told of; those that leave
// early and change alike are not.
func TestWithinTellsOfLeaving(t *testing.T) {
	leave, stay := againLog(leavingLimbs(-1.2), nil), againLog(leavingLimbs(-0.05), nil)
	for _, ask := range []string{askGood, askLevel, askFalls} {
		const time = "time: days_since_delivery\n"
		wantCaution(t, one(t, leave, quality, ask+time), "drop-out", "last seen early changed otherwise")
		withoutCaution(t, one(t, stay, quality, ask+time), "drop-out")
		withoutCaution(t, one(t, leave, quality, ask), "drop-out")
	}
}

// A profile beyond all rows is told of, one among them is not.
func TestWithinTellsOfExtrapolation(t *testing.T) {
	log := againLog(someLimbs(24, 8), nil)
	for _, ask := range []string{askGood, askLevel, askFalls} {
		wantCaution(t, one(t, log, quality, ask+"adjust: [days]\nprofiles: [{cast_method: hand, days: 900}]"), "extrapolation", "as far out as 900")
		withoutCaution(t, one(t, log, quality, ask+"adjust: [days]\nprofiles: [{cast_method: hand, days: 40}]"), "extrapolation")
	}
}

// hardlyMixed are 24 limbs of n visits with one and the same outcome, but for
// the first visit of the first few.
func hardlyMixed(n, few int) []again {
	var out []again
	for l := 1; l <= 24; l++ {
		for v := range n {
			a := again{limb: l, day: 9 * v, cast: []string{"hand", "vacuum"}[l%2], ok: []string{"no", "yes"}[l/2%2]}
			if l <= few && v == 0 {
				a.ok = []string{"yes", "no"}[l/2%2]
			}
			out = append(out, a)
		}
	}
	return out
}

// Where hardly a limb has visits that differ the variance has no end, or no
// upper limit, or is worked out roughly; where enough have, it is none of
// these.
func TestWithinTellsOfHardlyMixedLimbs(t *testing.T) {
	of := func(n, few int) sheets { return againLog(hardlyMixed(n, few), nil) }
	wantError(t, one(t, of(4, 1), quality, askGood), "runs-off", "hardly any limb has visits that differ", "use logistic")
	rough := one(t, of(3, 2), quality, askGood)
	wantCaution(t, rough, "variance-unbounded", "has no upper limit")
	wantCaution(t, rough, "quadrature", "the estimates are rough")
	withoutCaution(t, one(t, of(4, 8), quality, askGood), "variance-unbounded", "quadrature")
}

// Few rows for many levels and terms are told of, enough are not.
func TestWithinTellsOfFewRows(t *testing.T) {
	wantCaution(t, one(t, againLog(leavingLimbs(-0.05)[:28], nil), quality, askLevel+"adjust: [days, falls]"), "few-rows", "so the estimates are shaky")
	withoutCaution(t, one(t, againLog(someLimbs(24, 8), nil), quality, askLevel), "few-rows")
}

// What is counted at visits depends on how often they are held; what a column
// counts does not.
func TestWithinTellsOfWatching(t *testing.T) {
	pairs := map[int]int{}
	for l := 2; l <= 40; l += 2 {
		pairs[l] = l - 1
	}
	log := againLog(someLimbs(40, 6), pairs)
	wantCaution(t, one(t, log, quality, "method: mixed-poisson\nrows: limbs\nwithin: person\nevent: {good: no}\nadjust: [side]"), "watched", "seen more often")
	withoutCaution(t, one(t, log, quality, askFalls), "watched")
}
