package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// followedLab is a log of visits whose mass is what a test wants it to be.
type followedLab struct {
	limbs, visits int
	step          int // days between visits
	between, pace float64
	scatter       float64
	early         float64 // further pace of limbs that are last seen early
	leave         bool    // half the limbs are seen for half as long
	twice         bool    // each visit is written down twice
	even          bool    // scatter goes up and down in turn
}

func (l followedLab) log() sheets {
	r := rand.New(rand.NewPCG(5, 17))
	var v, s strings.Builder
	v.WriteString("visit,socket,date,purpose,mass_kg\n")
	s.WriteString(socketsHead)
	for i := range l.limbs {
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,,,,,\n", i+1, i+1, day(0))
		level, pace := l.between*r.NormFloat64(), 0.02+l.pace*r.NormFloat64()
		n := l.visits
		if l.leave && i%2 == 1 {
			n /= 2
			pace += l.early
		}
		for k := range n {
			at := l.step*(k+1) + r.IntN(5)
			for c := range map[bool]int{false: 1, true: 2}[l.twice] {
				e := r.NormFloat64()
				if l.even {
					e = 1 - 2*float64(k%2) + 0.1*e
				}
				fmt.Fprintf(&v, "V%d-%d-%d,S%d,%s,follow-up,%.5f\n", i, k, c, i+1, day(at), 80+level+pace*float64(at)+l.scatter*e)
			}
		}
	}
	return sheets{"limbs": plainLimbs(l.limbs), "sockets": s.String(), "visits": v.String()}
}

const followed = "method: mixed\nrows: visits\noutcome: mass_kg\ntime: days_since_delivery\n"

var usualFollowed = followedLab{limbs: 24, visits: 6, step: 30, between: 4, pace: 0.01, scatter: 0.5}

func TestMixedParts(t *testing.T) {
	log := readLog(t, usualFollowed.log())
	all := answersOf(t, log, nil, quality, "id: slopes\n"+followed+"slopes: [days_since_delivery]\ntest_random: yes",
		"id: apart\n"+followed+"slopes: [days_since_delivery]\nrandom_effects: uncorrelated\ntest_random: yes",
		"id: serial\n"+followed+"correlation: ar1\ntest_random: yes", "id: plain\n"+followed)
	a := all["slopes"]
	tests := table(t, a, "variance_tests").Rows
	if len(tests) != 1 || tests[0][1] != "days_since_delivery" || tests[0][3] != 1 || tests[0][4] != 2 {
		t.Errorf("tests %v", tests)
	}
	tests = table(t, all["apart"], "variance_tests").Rows
	if len(tests) != 2 || tests[0][1] != "intercept" || tests[1][3] != 0 || tests[1][4] != 1 {
		t.Errorf("tests of what is not correlated %v", tests)
	}
	if n := len(table(t, all["apart"], "variance").Rows); n != 3 {
		t.Errorf("%d rows of variance without a correlation", n)
	}
	if len(table(t, all["plain"], "variance_tests").Rows) != 0 {
		t.Error("tests that were not asked for")
	}
	// Paces differ, which without slopes of their own shows as values that go
	// together for a while.
	f := row(t, table(t, all["serial"], "fit"))
	if v, ok := f["correlation_range"].(float64); !ok || !(v > 30) {
		t.Errorf("range %v", f["correlation_range"])
	}
	if !strings.Contains(all["serial"].Reading, "have a correlation of") || strings.Contains(a.Reading, "have a correlation of") {
		t.Errorf("readings: %s | %s", all["serial"].Reading, a.Reading)
	}
	limbs := table(t, a, "limbs")
	for _, r := range limbs.Rows {
		if !(r[4].(float64) >= r[3].(float64)) {
			t.Errorf("limb %v", r)
		}
	}
	if n := len(a.Figures); n != 3 { // lines, levels, slopes
		t.Errorf("%d figures", n)
	}
	if n := len(one(t, usualFollowed.log(), "audience: research\nhide_below: 5", followed).Figures); n != 1 {
		t.Errorf("%d figures where small counts are hidden", n)
	}
}

func TestMixedCautions(t *testing.T) {
	lab := func(change func(*followedLab)) sheets {
		l := usualFollowed
		change(&l)
		return l.log()
	}
	calm := one(t, usualFollowed.log(), quality, followed+"slopes: [days_since_delivery]\nprofiles: [{days_since_delivery: 90}]")
	for _, code := range []string{"few-groups", "drop-out", "extrapolation", "singular", "limbs-hidden", "no-serial-correlation"} {
		if c := caution(calm, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
	for code, c := range map[string]struct {
		log                sheets
		front, ask, phrase string
	}{
		"few-groups":            {lab(func(l *followedLab) { l.limbs = 7 }), quality, "", "Only 7 limbs"},
		"drop-out":              {lab(func(l *followedLab) { l.leave, l.early = true, 0.06 }), quality, "slopes: [days_since_delivery]", "last seen early changed otherwise"},
		"extrapolation":         {usualFollowed.log(), quality, "profiles: [{days_since_delivery: 900}]", "as far out as 900"},
		"singular":              {lab(func(l *followedLab) { l.between, l.pace, l.even = 0, 0, true }), quality, "slopes: [days_since_delivery]", "no more variation between limbs"},
		"limbs-hidden":          {usualFollowed.log(), "audience: research\nhide_below: 5", "", "small counts are hidden"},
		"no-serial-correlation": {lab(func(l *followedLab) { l.pace, l.even = 0, true }), quality, "correlation: ar1", "estimated as zero"},
	} {
		t.Run(code, func(t *testing.T) { wantCaution(t, one(t, c.log, c.front, followed+c.ask), code, c.phrase) })
	}
	// Paces differ, and are allowed for or not.
	wantCaution(t, one(t, usualFollowed.log(), quality, followed), "same-pace", "Name it in `slopes`")
	for name, a := range map[string]answer.Answer{"allowed for": calm, "alike": one(t, lab(func(l *followedLab) { l.pace = 0 }), quality, followed), "in time": one(t, usualFollowed.log(), quality, followed+"correlation: ar1")} {
		if c := caution(a, "same-pace"); c != "" {
			t.Errorf("%s: %s", name, c)
		}
	}
	// Limbs that stay away early but change like the others.
	if c := caution(one(t, lab(func(l *followedLab) { l.leave = true }), quality, followed+"slopes: [days_since_delivery]"), "drop-out"); c != "" {
		t.Errorf("drop-out: %s", c)
	}
	wantError(t, one(t, lab(func(l *followedLab) { l.twice = true }), quality, followed+"correlation: ar1"), "tied-times", "two visits of one limb have the same", "`keep`")
}

// tapedLab is a log of limbs taped four times, three months apart, whose
// volume falls by a percentage over all.
func tapedLab(percent float64) sheets {
	r := rand.New(rand.NewPCG(8, 1))
	limbs := [][]string{{"person", "limb", "side", "level", "amputated"}}
	stations := [][]string{{"limb", "date", "landmark", "station_mm", "limb_mm", "measured_by"}}
	for i := range 14 {
		limb := fmt.Sprintf("P%d-L", i+1)
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i+1), limb, "left", "TT", day(-400)})
		size := 1 + 0.1*r.NormFloat64()
		for k := range 4 {
			now := size * math.Sqrt(1-percent/100*float64(k)/3+0.002*r.NormFloat64())
			for s := range 5 {
				stations = append(stations, []string{limb, day(90*k + i), "patella", fmt.Sprint(40 * s), fmt.Sprintf("%.0f", now*float64(330-14*s)), []string{"A1", "B2"}[(i+k)%2]})
			}
		}
	}
	return sheets{"limbs": csvText(limbs), "stations": csvText(stations)}
}

func TestMixedOfStations(t *testing.T) {
	const ask = "method: mixed\nrows: stations\noutcome: volume_ml\ntime: months_since_amputation\n"
	small, large := one(t, tapedLab(1.5), quality, ask), one(t, tapedLab(12), quality, ask)
	wantCaution(t, small, "small-change", "of the average limb changes by 1.", "less than 5%", "tape commonly gives")
	if c := caution(large, "small-change"); c != "" {
		t.Errorf("small-change: %s", c)
	}
	wantCaution(t, one(t, tapedLab(12), quality+"\nvolume_repeatability: 15", ask), "small-change", "less than 15%", "in this lab")
	if !strings.Contains(large.Reading, " of 56 measurements of 14 limbs.") || caution(large, "missing") != "" { // 5 stations each, one of which bears the volume
		t.Errorf("reading: %s", large.Reading)
	}
	two := one(t, tapedLab(12), quality, ask+"crossed: [measured_by]\nscatter_by: measured_by")
	wantCaution(t, two, "few-groups", "Only 2 measurers")
	if !strings.Contains(two.Reading, "for measurer A1") && !strings.Contains(two.Reading, "for measurer B2") {
		t.Errorf("reading: %s", two.Reading)
	}
	if c := caution(large, "few-groups"); c != "" {
		t.Errorf("few-groups: %s", c)
	}
	// Staff may be allowed for where it may not be shown, but not told apart.
	hidden := one(t, tapedLab(12), "audience: annual", ask+"crossed: [measured_by]")
	for _, r := range table(t, hidden, "limbs").Rows {
		if r[5] == "measured_by" {
			t.Errorf("a measurer is shown: %v", r)
		}
	}
	wantError(t, one(t, tapedLab(12), "audience: annual", ask+"scatter_by: measured_by"), "staff-hidden")
}

func TestMixedGroupings(t *testing.T) {
	log := usualFollowed.log()
	a := one(t, pairedLimbs(false), quality, followed+"nested_in: person\nslopes: [days_since_delivery]\ntest_random: yes")
	f := row(t, table(t, a, "fit"))
	want(t, f, "groups", 28, "groups_above", 14)
	if !(f["icc"].(float64) > f["icc_above"].(float64) && f["icc_above"].(float64) > 0) {
		t.Errorf("shares between limbs %v and persons %v", f["icc"], f["icc_above"])
	}
	if !strings.Contains(a.Reading, "From one limb of one person to another") || !strings.Contains(a.Reading, "From one person to another") || !strings.Contains(a.Methods, "for each limb within persons, a random intercept for each person") {
		t.Errorf("%s | %s", a.Reading, a.Methods)
	}
	if n := len(table(t, a, "limbs").Rows); n != 2*28+14 {
		t.Errorf("%d rows of what is believed", n)
	}
	for code, e := range map[string]struct {
		log    sheets
		ask    string
		phrase string
	}{
		"groupings": {log, followed + "nested_in: person", "part them alike"},
		"one-group": {log, followed + "crossed: [purpose]", "all rows are of one purpose"},
		"few-rows":  {pairedLimbs(true), followed + "scatter_by: purpose", "too few to tell how far they scatter"},
	} {
		wantError(t, one(t, e.log, quality, e.ask), code, e.phrase)
	}
	wantError(t, one(t, pairedLimbs(false), quality, followed+"within: person\nnested_in: limb"), "groupings", "do not lie in one", "`crossed`")
	wantError(t, one(t, log, quality, followed+"crossed: [date]"), "impossible", "is a date")
	wantError(t, one(t, log, quality, strings.Replace(followed, "time: days_since_delivery", "adjust: [days_since_delivery]", 1)+"scatter_by: days_since_delivery"), "impossible", "no categories")
}

// pairedLimbs is a log of 14 persons with two limbs each. With rare, three
// visits have another purpose than all others.
func pairedLimbs(rare bool) sheets {
	r := rand.New(rand.NewPCG(3, 33))
	limbs := [][]string{{"person", "limb", "side", "level"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "mass_kg"}}
	for i := range 28 {
		p, side := fmt.Sprintf("P%d", i/2+1), []string{"left", "right"}[i%2]
		limb := p + "-" + strings.ToUpper(side[:1])
		limbs = append(limbs, []string{p, limb, side, "TT"})
		sockets = append(sockets, []string{fmt.Sprintf("S%d", i+1), limb, "definitive", day(0)})
		level := 5*math.Sin(float64(i/2)*2.4) + 2*r.NormFloat64()
		for k := range 5 {
			purpose := "follow-up"
			if rare && k == 2 && i < 3 {
				purpose = "walk-in"
			}
			visits = append(visits, []string{fmt.Sprintf("V%d-%d", i, k), fmt.Sprintf("S%d", i+1), day(30*k + 20 + i%7), purpose, fmt.Sprintf("%.4f", 80+level+(0.02+0.005*r.NormFloat64())*float64(30*k)+0.5*r.NormFloat64())})
		}
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
}
