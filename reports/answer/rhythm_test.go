package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// rhythmVisit is a visit of a drawn log: days since the delivery and the hour.
type rhythmVisit struct {
	limb, day int
	hour      float64 // below 0: not recorded
	value     float64
}

// rhythmLog writes visits, the sockets delivered 10 days apart or all on one
// day.
func rhythmLog(apart int, visits []rhythmVisit) sheets {
	var l, s, v strings.Builder
	l.WriteString("person,limb,side,level,amputated\n")
	s.WriteString("socket,limb,kind,delivered\n")
	v.WriteString("socket,date,time,purpose,comfort\n")
	seen := map[int]bool{}
	for _, r := range visits {
		delivered := apart * r.limb
		if !seen[r.limb] {
			seen[r.limb] = true
			fmt.Fprintf(&l, "P%d,P%d-L,left,TT,%s\n", r.limb, r.limb, day(-300))
			fmt.Fprintf(&s, "S%d,P%d-L,definitive,%s\n", r.limb, r.limb, day(delivered))
		}
		at := ""
		if r.hour >= 0 {
			m := int(math.Round(60 * r.hour))
			at = fmt.Sprintf("%d:%02d", m/60, m%60)
		}
		fmt.Fprintf(&v, "S%d,%s,%s,follow-up,%.2f\n", r.limb, day(delivered+r.day), at, r.value)
	}
	return sheets{"limbs": l.String(), "sockets": s.String(), "visits": v.String()}
}

// drawn are n visits of each limb over days, at hours, with a wave and a level
// of each limb.
func drawn(limbs, n, days int, hours []float64, wave func(day int, hour float64) float64, scatter float64) []rhythmVisit {
	r := rand.New(rand.NewPCG(3, 4))
	var out []rhythmVisit
	for i := range limbs {
		level, pace := 5+r.NormFloat64(), 0.001*r.NormFloat64()
		for k := range n {
			d := 1 + k*days/n + r.IntN(max(1, days/n))
			h := hours[r.IntN(len(hours))]
			out = append(out, rhythmVisit{i + 1, d, h, math.Min(10, math.Max(0, level+pace*float64(d)+wave(d, h)+scatter*r.NormFloat64()))})
		}
	}
	return out
}

var (
	allHours  = []float64{0.5, 2, 4, 6, 8.5, 10, 12, 14.25, 16, 18, 20, 22.5}
	workHours = []float64{8, 9, 10.5, 11, 12.75, 14, 15.5, 16}
)

func dayWave(size, peak float64) func(int, float64) float64 {
	return func(_ int, h float64) float64 { return size * math.Cos(2*math.Pi*(h-peak)/24) }
}

const byDay = "method: rhythm\noutcome: comfort\ncycle: day"

// A wave of amplitude 1 that is highest at 9:00, seen round the clock.
func TestRhythmOfTheDay(t *testing.T) {
	a := one(t, rhythmLog(10, drawn(30, 10, 300, allHours, dayWave(1, 9), 0.4)), quality, byDay)
	w := row(t, table(t, a, "waves"))
	low, high := w["low"].(float64), w["high"].(float64)
	if low > 1 || high < 1 || high-low > 0.4 || w["peak_low"].(float64) > 9 || w["peak_high"].(float64) < 9 {
		t.Errorf("amplitude %g to %g, peak %v to %v", low, high, w["peak_low"], w["peak_high"])
	}
	p := row(t, table(t, a, "pattern"), "cycle", "day", "waves", 1, "rows", 300, "groups", 30, "parts", 12)
	// Over the whole cycle highest and lowest are those of the wave.
	want(t, p, "change", 2*w["amplitude"].(float64), "change_std_error", 2*w["std_error"].(float64))
	if math.Abs(p["highest"].(float64)-w["peak"].(float64)) > 1e-9 || math.Abs(p["lowest"].(float64)-p["highest"].(float64)-12) > 1e-9 {
		t.Errorf("highest %v, lowest %v, peak %v", p["highest"], p["lowest"], w["peak"])
	}
	if e := p["explained"].(float64); math.Abs(e-0.5/(0.5+0.16)) > 0.06 {
		t.Errorf("the curve accounts for %g, in truth for %g", e, 0.5/0.66)
	}
	if len(table(t, a, "parts").Rows) != 12 || len(a.Figures) != 2 {
		t.Errorf("%d parts, %d figures", len(table(t, a, "parts").Rows), len(a.Figures))
	}
	for _, text := range []string{"Over the day (all of it seen), comfort on arrival of one limb changes by ", " points between its lowest and its highest time", "by 300 visits of 30 limbs.", "It is highest at ", "p < 0.0001"} {
		if !strings.Contains(a.Reading, text) {
			t.Errorf("no %q in: %s", text, a.Reading)
		}
	}
	for _, code := range []string{"unseen-times", "untimed", "second-wave", "between", "between-unknown", "few-groups", "no-pace", "small-change", "no-trend", "under-two-years", "short-follow-up"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
}

// Without a pattern no time of a peak is told, in words, print or numbers.
func TestNoRhythm(t *testing.T) {
	a := one(t, rhythmLog(10, drawn(30, 10, 300, allHours, dayWave(0, 9), 0.4)), quality, byDay)
	w, p := row(t, table(t, a, "waves")), row(t, table(t, a, "pattern"))
	for _, name := range []string{"peak_low", "peak_high", "peak_std_error"} {
		if w[name] != nil {
			t.Errorf("%s is %v", name, w[name])
		}
	}
	for _, name := range []string{"highest_low", "highest_high", "lowest_low", "lowest_high"} {
		if p[name] != nil {
			t.Errorf("%s is %v", name, p[name])
		}
	}
	if p["p"].(float64) < 0.05 || p["change_low"] != 0.0 || !strings.Contains(a.Reading, "Chance alone would often show as much") || strings.Contains(a.Reading, "highest at") {
		t.Error(a.Reading)
	}
	if !strings.Contains(strings.Join(printed(a), "\n"), "not told") {
		t.Error("the printed table tells a peak")
	}
}

func TestRhythmCautions(t *testing.T) {
	few := drawn(30, 10, 300, workHours, dayWave(1, 11), 0.4)
	a := one(t, rhythmLog(10, few), quality, byDay)
	wantCaution(t, a, "unseen-times", "from 8:00 to 16:00, in 5 of 12 parts of the day")
	if !strings.Contains(a.Reading, "from 8:00 to 16:00") || strings.Contains(caution(a, "unseen-times"), "would be highest") {
		t.Errorf("%s\n%s", a.Reading, caution(a, "unseen-times"))
	}
	// The peak lies at night: of the hours seen the curve is highest at the edge.
	night := one(t, rhythmLog(10, drawn(30, 10, 300, workHours, dayWave(2, 3), 0.4)), quality, byDay)
	wantCaution(t, night, "unseen-times", "would be highest at ", "where nothing was seen")
	if !strings.Contains(night.Reading, "highest at the edge of what was seen (8:00)") {
		t.Error(night.Reading)
	}

	untimed := drawn(30, 10, 300, append([]float64{-1, -1, -1, -1}, allHours...), dayWave(0, 9), 0.4)
	b := one(t, rhythmLog(10, untimed), quality, byDay)
	wantCaution(t, b, "untimed", "of 300 visits have no time of the day and are left out")

	twice := func(_ int, h float64) float64 { return math.Cos(2 * math.Pi * (h - 4) / 12) }
	c := one(t, rhythmLog(10, drawn(30, 10, 300, allHours, twice, 0.4)), quality, byDay)
	wantCaution(t, c, "second-wave", "`waves: 2`")
	d := one(t, rhythmLog(10, drawn(30, 10, 300, allHours, twice, 0.4)), quality, byDay+"\nwaves: 2")
	if caution(d, "second-wave") != "" {
		t.Error("two waves ask for two")
	}
	if w := row(t, table(t, d, "waves"), "wave", 2); math.Abs(w["peak"].(float64)-4) > 0.3 || w["peak_low"] == nil || !strings.Contains(d.Methods, "two harmonics") {
		t.Errorf("second wave %v", w)
	}

	// Limbs seen in the morning have a higher level, and none changes.
	between := drawn(40, 8, 300, allHours, dayWave(0, 9), 0.4)
	for k := range between {
		v := &between[k]
		early := v.limb%2 == 0
		v.hour = map[bool]float64{true: 7, false: 13}[early] + float64(k%5)
		if early {
			v.value = math.Min(10, v.value+2)
		}
	}
	e := one(t, rhythmLog(10, between), quality, byDay)
	wantCaution(t, e, "between", "Limbs usually seen at one time of the day differ")
	if p := row(t, table(t, e, "pattern"))["p"].(float64); p < 0.05 {
		t.Errorf("what differs between limbs passes for a pattern (p %g)", p)
	}
	var small []rhythmVisit
	for _, v := range between {
		if v.limb <= 8 {
			small = append(small, v)
		}
	}
	f := one(t, rhythmLog(10, small), quality, byDay)
	wantCaution(t, f, "between-unknown", "too few limbs")
	wantCaution(t, f, "few-groups", "Only 8 limbs")
	if caution(f, "between") != "" || row(t, table(t, f, "fit"))["between_p"] != nil {
		t.Error("what differs between limbs is told of 8")
	}
	two := drawn(40, 2, 300, allHours, dayWave(1, 9), 0.4)
	g := one(t, rhythmLog(10, two), quality, byDay)
	wantCaution(t, g, "no-pace", "No limb has visits enough")
	if row(t, table(t, g, "fit"))["pace"] != false || strings.Contains(g.Methods, "random slope") {
		t.Errorf("pace: %s", g.Methods)
	}
}

// A wave over the year, highest on 1 July; days count from the day that the
// tests' calendar begins.
func yearWave(size float64, apart int) func(limb, d int) float64 {
	return func(limb, d int) float64 {
		return size * math.Cos(2*math.Pi*(dayOfYear(day(apart*limb+d))-181)/365.25)
	}
}

func dayOfYear(text string) float64 {
	var y, m, d int
	if _, err := fmt.Sscanf(text, "%d-%d-%d", &y, &m, &d); err != nil {
		panic(err)
	}
	days := []int{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334}
	return float64(days[m-1] + d - 1)
}

func seasons(limbs, n, days, apart int, size float64) sheets {
	v := drawn(limbs, n, days, []float64{-1}, dayWave(0, 9), 0.4)
	wave := yearWave(size, apart)
	for k := range v {
		v[k].value = math.Min(10, math.Max(0, v[k].value+wave(v[k].limb, v[k].day)))
	}
	return rhythmLog(apart, v)
}

func TestRhythmOfTheYear(t *testing.T) {
	const byYear = "method: rhythm\noutcome: comfort\ncycle: year"
	a := one(t, seasons(30, 12, 900, 20, 1), quality, byYear)
	w := row(t, table(t, a, "waves"))
	if w["peak_low"].(float64) > 6 || w["peak_high"].(float64) < 6 || w["low"].(float64) > 1 || w["high"].(float64) < 1 {
		t.Errorf("wave %v", w)
	}
	if !strings.Contains(a.Reading, "highest in ") || len(a.Figures) != 2 {
		t.Error(a.Reading)
	}
	for _, code := range []string{"under-two-years", "no-trend", "short-follow-up", "unseen-times"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
	b := one(t, seasons(30, 8, 200, 15, 1), quality, byYear+"\ntime: none")
	wantCaution(t, b, "under-two-years", "came round but once")
	wantCaution(t, b, "short-follow-up", "Half of the limbs", "12 months")
	wantCaution(t, b, "no-trend", "`time: none`")
	if strings.Contains(b.Methods, "random slope") || strings.Contains(b.Methods, "since delivery") {
		t.Error(b.Methods)
	}
	wantError(t, one(t, seasons(30, 8, 150, 5, 1), quality, byYear), "under-a-year", "a season cannot be told")
	log := readLog(t, seasons(30, 12, 900, 20, 1))
	shifted := answersOf(t, log, shiftedCodes(log), quality+"\nshift_dates: 90d", "id: q\n"+byYear)["q"]
	wantError(t, shifted, "needs-true-dates", "cycle: day")
}

// The hour of a visit stays what it is where dates are shifted.
func TestRhythmOfShiftedDays(t *testing.T) {
	log := readLog(t, rhythmLog(10, drawn(20, 6, 300, workHours, dayWave(1, 11), 0.4)))
	plain := answersOf(t, log, nil, quality, "id: q\n"+byDay)["q"]
	shifted := answersOf(t, log, shiftedCodes(log), quality+"\nshift_dates: 90d", "id: q\n"+byDay)["q"]
	x, y := row(t, table(t, plain, "pattern")), row(t, table(t, shifted, "pattern"))
	want(t, y, "change", x["change"], "p", x["p"], "highest", x["highest"])
}

func TestRhythmRefused(t *testing.T) {
	level := dayWave(0, 0)
	for _, c := range []struct {
		name   string
		visits []rhythmVisit
		more   string
		code   string
		words  string
	}{
		{"no times", drawn(20, 5, 300, []float64{-1}, level, 1), "", "no-times", "of none of the visits chosen the time of the day is recorded"},
		{"one time", drawn(20, 5, 300, []float64{9}, level, 1), "", "one-time", "(9:00)"},
		{"two times", drawn(20, 5, 300, []float64{9, 15}, level, 1), "", "few-times", "of 2 times of the day: one wave takes 4"},
		{"four hours", drawn(20, 5, 300, []float64{8, 8.5, 9, 10, 11, 11.75}, level, 1), "", "part-of-cycle", "in 2 of its 12 parts (two hours each), and one wave takes 3"},
		{"working hours, two waves", drawn(20, 5, 300, workHours, level, 1), "waves: 2", "part-of-cycle", "two waves take 6"},
		{"few rows", drawn(5, 5, 300, allHours, level, 1), "", "few-rows", "needs 30"},
		{"few limbs", drawn(4, 20, 300, allHours, level, 1), "", "few-limbs", "fewer than 5 limbs"},
		{"one value", drawn(20, 5, 300, allHours, func(int, float64) float64 { return 100 }, 0), "", "no-variation", "nothing to explain"},
	} {
		a := one(t, rhythmLog(10, c.visits), quality, byDay+"\n"+c.more)
		if a.Error == nil || a.Error.Code != c.code || !strings.Contains(a.Error.Text, c.words) {
			t.Errorf("%s: %+v %s", c.name, a.Error, a.Reading)
		}
	}
	// No scatter beside the limbs' own levels: nothing to hold a pattern against.
	exact := drawn(20, 5, 300, allHours, level, 0)
	for k := range exact {
		exact[k].value = float64(exact[k].limb % 9)
	}
	if a := one(t, rhythmLog(10, exact), quality, byDay); a.Error == nil || a.Error.Code != "model" {
		t.Errorf("no scatter: %+v %s", a.Error, a.Reading)
	}
	wantError(t, one(t, rhythmLog(10, drawn(20, 5, 300, allHours, level, 1)), quality, "method: rhythm\noutcome: purpose\ncycle: day"), "impossible", "explains a number")
}

// Reports that hide small counts show nothing of single visits, and no counts
// of parts, which add up to one that is shown.
func TestRhythmHidesSmallCounts(t *testing.T) {
	a := one(t, rhythmLog(10, drawn(30, 10, 300, allHours, dayWave(1, 9), 0.4)), "audience: annual\nhide_below: 5", byDay)
	if len(a.Figures) != 1 {
		t.Errorf("%d figures", len(a.Figures))
	}
	for _, r := range table(t, a, "parts").Rows {
		if r[2] != nil {
			t.Errorf("a part counts %v", r[2])
		}
	}
	// Nor the times of the first and the last visit, nor the mean of a few.
	few := drawn(30, 10, 300, []float64{8.5, 9, 10.5, 12, 13, 14.25}, dayWave(1, 9), 0.4)
	few[0].hour, few[1].hour, few[2].hour = 7, 7.25, 6.5
	b := one(t, rhythmLog(10, few), "audience: annual\nhide_below: 5", byDay)
	want(t, row(t, table(t, b, "pattern")), "from", 6, "to", 16)
	if r := row(t, table(t, b, "parts"), "from", 6); r["estimate"] != nil {
		t.Errorf("the mean of three visits is told: %v", r)
	}
	c := one(t, rhythmLog(10, few), quality, byDay)
	want(t, row(t, table(t, c, "pattern")), "from", 6.5, "to", 14.25)
}

// Cylinders whose girth goes up and down with the season by less, and by more,
// than what measuring twice gives.
func TestRhythmOfVolume(t *testing.T) {
	log := func(share float64) sheets {
		r := rand.New(rand.NewPCG(5, 6))
		l := &sockLab{}
		for i := 1; i <= 12; i++ {
			l.limb(i, "")
			size := 50 + 3*r.NormFloat64()
			for k := range 10 {
				on := 150 + 90*k + r.IntN(60)
				wave := 1 + share/2*math.Cos(2*math.Pi*(dayOfYear(day(on))-181)/365.25) + 0.003*r.NormFloat64()
				l.girths(i, on, "T1", size*math.Sqrt(wave))
			}
			l.visit(i, 130, "delivery", "3")
		}
		return l.log()
	}
	const ask = "method: rhythm\nrows: stations\noutcome: volume_ml\ncycle: year"
	a := one(t, log(0.03), quality, ask)
	wantCaution(t, a, "small-change", "the volume changes by 3.", "less than 5%", "commonly gives")
	b := one(t, log(0.08), quality, ask)
	if caution(b, "small-change") != "" || !strings.Contains(b.Reading, "That is more than 5%, which measuring an unchanged limb twice") {
		t.Errorf("%s\n%s", b.Reading, caution(b, "small-change"))
	}
	c := one(t, log(0.08), quality+"\nvolume_repeatability: 9", ask)
	wantCaution(t, c, "small-change", "less than 9%", "measuring in this lab")
}
