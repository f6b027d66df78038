package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// settlingLab draws limbs that settle to a plateau of 1150 ml from 391 ml more,
// as an own column of visits.
type settlingLab struct {
	limbs, readings int
	step            int     // days between readings
	start           int     // day of the first
	flat            bool    // nothing is lost
	straight        bool    // the same loss every day, without an end
	alike           bool    // every limb loses the same share
	brief           bool    // four limbs of five are seen twice
	leave           bool    // limbs that lose much are soon seen no more
	sigma           float64 // ml; 0 means 14
}

func (l settlingLab) log() sheets {
	r := rand.New(rand.NewPCG(21, 5))
	limbs := [][]string{{"person", "limb", "side", "level", "amputated", "born", "sex"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "ml"}}
	if l.sigma == 0 {
		l.sigma = 14
	}
	for i := range l.limbs {
		limb := fmt.Sprintf("P%d-L", i+1)
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i+1), limb, "left", []string{"TT", "TF"}[i%2], day(0), "1960", []string{"male", "female"}[i/2%2]})
		sockets = append(sockets, []string{fmt.Sprintf("S%d", i+1), limb, "definitive", day(20)})
		plateau, drop := 1150+160*r.NormFloat64(), 391+78*r.NormFloat64()
		if l.alike {
			drop = 0.34 * plateau
		}
		n := l.readings
		if l.leave {
			n = 4
			if drop < 391 {
				n = l.readings
			}
		}
		if l.brief && i%5 > 0 {
			n = 2
		}
		t := l.start + r.IntN(20)
		for k := range n {
			v := plateau + drop*math.Exp(-float64(t)/110)
			switch {
			case l.flat:
				v = plateau
			case l.straight:
				v = plateau - 0.4*float64(t)
			}
			visits = append(visits, []string{fmt.Sprintf("V%d-%d", i, k), fmt.Sprintf("S%d", i+1), day(t), "follow-up", fmt.Sprintf("%.1f", v+l.sigma*r.NormFloat64())})
			t += l.step/2 + r.IntN(l.step)
		}
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
}

const settling = "method: maturation\nrows: visits\noutcome: own.ml\n"

var usualLab = settlingLab{limbs: 30, readings: 7, step: 60, start: 25}

func TestMaturation(t *testing.T) {
	a := one(t, usualLab.log(), quality, settling+"left: 2%\nsettled: {change: 5%, over: 60d, source: our protocol 7.}\nlimb: P1-L\ntimes: [2m, 30d]")
	for _, x := range []struct {
		term  string
		truth float64
	}{{"plateau", 1150}, {"drop", 391. / 1150}, {"log_rate", -math.Log(110)}} {
		r := row(t, table(t, a, "terms"), "term", x.term)
		if low, high := r["low"].(float64), r["high"].(float64); low > x.truth || high < x.truth {
			t.Errorf("%s: %g to %g does not hold %g", x.term, low, high, x.truth)
		}
	}
	for _, phrase := range []string{"of 30 limbs the average limb loses", "Less than 2% is left by", "By the lab's own rule (within 5% over 60 days)", "30 days after its last measurement", "On the logarithm of weeks instead", "9.7%"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	if s := strings.Join(printed(a), "\n"); !strings.Contains(s, "Its source: our protocol 7.") {
		t.Error("the source of the rule is not printed")
	}
	if n := len(table(t, a, "limbs").Rows); n != 30 {
		t.Errorf("%d limbs", n)
	}
	// The plateau and the time by which little is left say the same of a limb.
	l := row(t, table(t, a, "limbs"), "group", "P1-L")
	if l["left"].(float64) > 2 != (l["settled"].(float64) > l["last"].(float64)) {
		t.Errorf("limb %v", l)
	}
	f := table(t, a, "forecast").Rows
	if len(f) != 2 || f[0][1] != 30.0 || !(f[0][4].(float64) > f[1][4].(float64)) {
		t.Errorf("forecast %v", f)
	}
	for _, r := range f {
		if r[5].(float64) > r[7].(float64) || r[6].(float64) < r[8].(float64) {
			t.Errorf("a next reading is surer than the curve: %v", r)
		}
	}
	wantCaution(t, a, "settled-is-not-ready", "licensed prosthetist")
	for _, code := range []string{"few-groups", "few-measurements", "no-settling", "rate-uncertain", "extrapolation", "rates-differ", "drop-out", "missing", "limbs-hidden", "singular"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
}

// Each caution stands where it belongs, and not with the usual limbs.
func TestMaturationCautions(t *testing.T) {
	lab := func(change func(*settlingLab)) sheets {
		l := usualLab
		change(&l)
		return l.log()
	}
	for code, c := range map[string]struct {
		log        sheets
		front, ask string
		phrase     string
	}{
		"few-groups":       {lab(func(l *settlingLab) { l.limbs = 7 }), quality, "", "Only 7 limbs"},
		"few-measurements": {lab(func(l *settlingLab) { l.limbs, l.brief = 60, true }), quality, "", "fewer than 3 times"},
		"extrapolation":    {lab(func(l *settlingLab) { l.limbs, l.step = 60, 14 }), quality, "left: 1%", "beyond what was seen"},
		"rates-differ":     {usualLab.log(), quality, "vary: [plateau, initial, rate]", "about 90 in 100"},
		"drop-out":         {lab(func(l *settlingLab) { l.leave, l.limbs = true, 80 }), quality, "", "last measured early have a larger"},
		"rate-uncertain":   {lab(func(l *settlingLab) { l.limbs, l.readings, l.step, l.sigma = 12, 5, 28, 14 }), quality, "", "known poorly"},
		"limbs-hidden":     {usualLab.log(), "audience: research\nhide_below: 5", "", "small counts are hidden"},
	} {
		t.Run(code, func(t *testing.T) { wantCaution(t, one(t, c.log, c.front, settling+c.ask), code, c.phrase) })
	}
	foretold := one(t, usualLab.log(), quality, settling+"limb: P3-L\ntimes: 3y")
	wantCaution(t, foretold, "extrapolation", "is foretold for later after amputation")
	own := one(t, usualLab.log(), quality+"\nvolume_repeatability: 12.5", settling)
	wantCaution(t, own, "repeatability", "less than 12.5%, the smallest change that measuring in this lab tells from none")
	if c := caution(one(t, usualLab.log(), quality+"\nvolume_repeatability: 0.5", settling), "repeatability"); c != "" {
		t.Errorf("repeatability: %s", c)
	}
	if c := caution(own, "few-groups") + caution(own, "rates-differ") + caution(own, "drop-out"); c != "" {
		t.Error(c)
	}
}

func TestMaturationThatCannotBe(t *testing.T) {
	lab := func(change func(*settlingLab)) sheets {
		l := usualLab
		change(&l)
		return l.log()
	}
	for name, c := range map[string]struct {
		log              sheets
		front, ask, code string
		phrase           string
	}{
		"straight":       {lab(func(l *settlingLab) { l.straight, l.sigma = true, 1 }), quality, "", "model", "do"},
		"one limb":       {lab(func(l *settlingLab) { l.limbs = 1 }), quality, "", "one-group", "one limb"},
		"one reading":    {lab(func(l *settlingLab) { l.readings = 1 }), quality, "", "model", "no limb was measured at two different times"},
		"exact":          {lab(func(l *settlingLab) { l.flat, l.sigma = true, 1e-9 }), quality, "", "model", ""},
		"unknown limb":   {usualLab.log(), quality, "limb: P3-R\ntimes: 30d", "unknown-limb", `did you mean "P3-L"`},
		"public":         {usualLab.log(), "audience: annual\nhide_below: 5", "limb: P3-L\ntimes: 30d", "identifying", "is not foretold here"},
		"changing":       {usualLab.log(), quality, "adjust: days_since_delivery", "model", "changes within a limb"},
		"not a number":   {usualLab.log(), quality, "time: purpose", "impossible", "must be numbers"},
		"nobody":         {usualLab.log(), quality, "keep: {sex: male, level: transradial}", "no-rows", "no rows are left"},
		"own time":       {usualLab.log(), quality, "time: own.ml", "impossible", "cannot be its own time"},
		"unknown column": {usualLab.log(), quality, "adjust: levl", "unknown-column", "level"},
	} {
		t.Run(name, func(t *testing.T) {
			wantError(t, one(t, c.log, c.front, settling+c.ask), c.code, c.phrase)
		})
	}
}

// Nothing of single limbs reaches a report that shows none, and no day one of
// shifted dates.
func TestMaturationHides(t *testing.T) {
	a := one(t, usualLab.log(), "audience: annual\nhide_below: 5", settling)
	if n := len(table(t, a, "limbs").Rows); n != 0 {
		t.Errorf("%d limbs in a public report", n)
	}
	log := readLog(t, usualLab.log())
	codes := shiftedCodes(log)
	s := answersOnce(t, log, codes, quality+"\nshift_dates: 70d", "id: q\n"+settling)["q"]
	limb := table(t, s, "limbs").Rows[2][0].(string)
	s = answersOnce(t, log, codes, quality+"\nshift_dates: 70d", "id: q\n"+settling+"limb: "+limb+"\ntimes: 30d")["q"]
	for _, r := range table(t, s, "forecast").Rows {
		if r[3] != nil {
			t.Errorf("a day where dates are shifted: %v", r)
		}
	}
	for _, r := range table(t, s, "limbs").Rows {
		if r[15] != nil {
			t.Errorf("a day where dates are shifted: %v", r)
		}
	}
}

// Volumes over another stretch or from another landmark are volumes of
// something else and are left out.
func TestMaturationKeepsToOneStretch(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 9))
	log := func(other bool) sheets {
		limbs := [][]string{{"person", "limb", "side", "level", "amputated"}}
		stations := [][]string{{"limb", "date", "landmark", "station_mm", "limb_mm"}}
		for i := range 14 {
			limb := fmt.Sprintf("P%d-L", i+1)
			limbs = append(limbs, []string{fmt.Sprintf("P%d", i+1), limb, "left", "TT", day(0)})
			girth, drop := 300+20*r.NormFloat64(), 40+8*r.NormFloat64()
			for k, t := range []int{30, 60, 100, 150, 220, 300, 400} {
				landmark := "patella"
				if other && k == 3 && i < 6 {
					landmark = "tibial tubercle"
				}
				g := girth + drop*math.Exp(-float64(t)/110) + 1.5*r.NormFloat64()
				for st := range 4 {
					stations = append(stations, []string{limb, day(t + i), landmark, fmt.Sprint(40 * st), fmt.Sprintf("%.0f", g-12*float64(st))})
				}
			}
		}
		return sheets{"limbs": csvText(limbs), "stations": csvText(stations)}
	}
	a := one(t, log(true), quality, "method: maturation")
	wantCaution(t, a, "other-span", "6 measurements were left out", "another landmark")
	if a.Rows != 92 {
		t.Errorf("%d measurements of 98 less 6", a.Rows)
	}
	b := one(t, log(false), quality, "method: maturation")
	if c := caution(b, "other-span"); c != "" || b.Rows != 98 {
		t.Errorf("%d measurements: %s", b.Rows, c)
	}
}

// Limbs that do not change say so one way or the other, and limbs all of one
// drop say that they do not differ in it.
func TestMaturationOfLittle(t *testing.T) {
	said := 0
	for more := range 8 {
		flat := usualLab
		flat.flat, flat.limbs = true, 20+more
		a := one(t, flat.log(), quality, settling)
		if a.Error == nil {
			wantCaution(t, a, "no-settling", "may be none")
			said++
		} else if a.Error.Code != "model" {
			t.Errorf("error %s: %s", a.Error.Code, a.Error.Text)
		}
	}
	if said == 0 {
		t.Error("no lab without change was answered")
	}
	if c := caution(one(t, usualLab.log(), quality, settling), "no-settling"); c != "" {
		t.Error(c)
	}
	alike := usualLab
	alike.alike = true
	wantCaution(t, one(t, alike.log(), quality, settling), "singular", "Fewer words under `vary`")
}
