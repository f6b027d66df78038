package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// plyLab is a log of limbs whose ply rises, limb 1 seen on days 30 to 150 and
// the last one on day 30 alone.
func plyLab(limbs int, ply func(limb, on int) float64) sheets {
	var v, s strings.Builder
	v.WriteString("visit,socket,date,purpose,ply,hours\n")
	s.WriteString(socketsHead)
	for i := 1; i <= limbs; i++ {
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,,,,,\n", i, i, day(0))
		last := 150 + 30*(i%3)
		if i == limbs {
			last = 30
		}
		for on := 30; on <= last; on += 30 {
			fmt.Fprintf(&v, "V%d-%d,S%d,%s,follow-up,%g,%d\n", i, on, i, day(on), ply(i, on), 6+i%5)
		}
	}
	return sheets{"limbs": plainLimbs(limbs), "sockets": s.String(), "visits": v.String()}
}

// rising is 2 to 6 ply at delivery and 1 more every 100 days, up and down in
// turn.
func rising(limb, on int) float64 {
	return float64(2+limb%5+on/100) + float64((limb+on/30)%2)
}

const foretoldPly = "method: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\n"

func TestForecastOfOneLimb(t *testing.T) {
	log := readLog(t, plyLab(36, rising))
	all := answersOf(t, log, nil, quality, "id: one\n"+foretoldPly+"limb: P1L\ntimes: [90d, 30d]", "id: early\n"+foretoldPly+"limb: P36L\ntimes: 1y",
		"id: months\n"+foretoldPly+"scale: months\nslopes: [days_since_delivery]\nlimb: P1L\ntimes: 30d", "id: weeks\n"+foretoldPly+"scale: log-weeks\nlimb: P1L\ntimes: 30d",
		"id: held\n"+foretoldPly+"adjust: [hours]\nlimb: P1L\ntimes: 30d", "id: serial\n"+foretoldPly+"correlation: ar1\nlimb: P1L\ntimes: 30d",
		"id: none\n"+foretoldPly+"limb: P7-L\ntimes: 30d", "id: amputated\nmethod: mixed\nrows: visits\noutcome: ply\ntime: hours\nlimb: P1L\ntimes: 30d")
	a := all["one"]
	f := table(t, a, "forecast")
	// Limb 1 was last seen on day 180.
	r := row(t, f, "ahead", 30)
	want(t, r, "group", "P1L", "time", 210, "extrapolated", false, "outside", false)
	if f.Rows[0][1] != 30.0 {
		t.Errorf("the first time told is %v", f.Rows[0][1])
	}
	want(t, row(t, f, "ahead", 90), "time", 270, "extrapolated", true)
	// Levels alone differ and residuals are independent: the limb's line is the
	// average line moved by what is believed of its level.
	fixed := 0.0
	for _, x := range table(t, a, "terms").Rows {
		switch x[0] {
		case "intercept":
			fixed += x[3].(float64)
		case "days_since_delivery":
			fixed += 210 * x[3].(float64)
		}
	}
	level := row(t, table(t, a, "limbs"), "group", "P1L")["estimate"].(float64)
	want(t, r, "estimate", fixed+level, "line", fixed+level)
	if r["std_error"].(float64) <= r["line_std_error"].(float64) || r["low"].(float64) >= r["line_low"].(float64) {
		t.Errorf("a next reading is told no less surely than the line: %v", r)
	}
	if !strings.Contains(a.Reading, "Limb P1L was last seen on") || !strings.Contains(a.Reading, "30 days on") || !strings.Contains(a.Reading, "lies beyond what was seen of this limb") {
		t.Error(a.Reading)
	}
	wantCaution(t, a, "extrapolation", "as late as 90 days on")
	for _, code := range []string{"few-readings", "forecast-as-known", "outside", "held-columns"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
	if len(a.Figures) != 3 || !strings.Contains(a.Figures[2].Title, "seen, and foretold") {
		t.Errorf("%d figures", len(a.Figures))
	}
	wantCaution(t, all["early"], "few-readings", "1 reading only")
	if caution(all["months"], "extrapolation") != "" {
		t.Error("within what others were seen, and called an extrapolation")
	}
	want(t, row(t, table(t, all["months"], "forecast")), "time", 210)
	want(t, row(t, table(t, all["weeks"], "forecast")), "time", 210)
	wantCaution(t, all["held"], "held-columns", "hours")
	if x := row(t, table(t, all["serial"], "forecast")); x["estimate"] == nil {
		t.Errorf("serial: %v", x)
	}
	wantError(t, all["none"], "unknown-limb", "P7L")
	wantError(t, all["amputated"], "impossible", "not one of them")

	// Two limbs, one of them seen once, tell next to nothing of how they differ.
	v := "visit,socket,date,purpose,mass_kg\n"
	for k, r := range []struct {
		limb, on int
		mass     float64
	}{{1, 2, 77.422950585870051}, {2, 5, 85.212736656196095}, {2, 1, 84.652258152233783}, {2, 1, 84.234617337708353}, {2, 0, 83.825006794043467}} {
		v += fmt.Sprintf("V%d,S%d,%s,follow-up,%g\n", k, r.limb, day(r.on), r.mass)
	}
	few := one(t, sheets{"limbs": plainLimbs(2), "sockets": socketsHead + fmt.Sprintf("S1,P1L,definitive,%s,,,,,\nS2,P2L,definitive,%s,,,,,\n", day(0), day(0)), "visits": v}, quality,
		"method: mixed\nrows: visits\noutcome: mass_kg\ntime: days_since_delivery\nslopes: [days_since_delivery]\nlimb: P1L\ntimes: 30d")
	wantCaution(t, few, "forecast-as-known", "take for known how far limbs differ")
	if !strings.Contains(few.Methods, "variances being taken as known") || !strings.Contains(a.Methods, "Prasad and Rao") {
		t.Errorf("methods: %s | %s", few.Methods, a.Methods)
	}
	// Little ply that scatters much: the bell curve goes below 0.
	low := one(t, plyLab(36, func(limb, on int) float64 { return float64((limb*7+on/30*5)%9) / 4 }), quality, foretoldPly+"limb: P1L\ntimes: 30d")
	wantCaution(t, low, "outside", "below 0")
	x := row(t, table(t, low, "forecast"))
	if x["low"].(float64) >= 0 || x["outside"] != true {
		t.Errorf("%v", x)
	}
	if strings.Contains(low.Reading, "between −") {
		t.Errorf("less than no ply is expected: %s", low.Reading)
	}
	wantError(t, one(t, plyLab(36, rising), "audience: research\nhide_below: 0", foretoldPly+"limb: P1L\ntimes: 30d"), "identifying")
	codes := shiftedCodes(log)
	plain := answersOnce(t, log, codes, quality, "id: q\n"+foretoldPly)["q"]
	limb := fmt.Sprint(table(t, plain, "limbs").Rows[0][0])
	shifted := answersOnce(t, log, codes, quality+"\nshift_dates: 70d", "id: q\n"+foretoldPly+"limb: "+limb+"\ntimes: 30d")["q"]
	if d := row(t, table(t, shifted, "forecast"))["date"]; d != nil {
		t.Errorf("a day is told: %v", d)
	}
	for _, s := range printed(shifted) {
		if d := dayForm.FindString(s); d != "" {
			t.Errorf("the day %s is told: %s", d, s)
		}
	}
}

// Where one limb is foretold, print in short shows that limb: its sentence, its
// figure and its table.
func TestOneLimbIsToldInShort(t *testing.T) {
	ply := one(t, plyLab(36, rising), quality, foretoldPly+"limb: P1L\ntimes: [90d, 30d]")
	volume := one(t, usualLab.log(), quality, settling+"left: 2%\nlimb: P1-L\ntimes: [2m, 30d]")
	for what, a := range map[string]answer.Answer{"P1L": ply, "P1-L": volume} {
		if !strings.Contains(words.FirstSentences(a.Short, 1), what) || !strings.Contains(a.Reading, words.FirstSentences(a.Short, 1)) {
			t.Errorf("in short: %s", a.Short)
		}
		drawn := slices.ContainsFunc(a.Figures, func(f *figure.Figure) bool { return f.ID == a.Shown })
		printed := slices.ContainsFunc(a.Print, func(b document.Block) bool { t, ok := b.(document.Table); return ok && t.ID == a.Shown })
		if a.Shown == "" || !drawn || !printed {
			t.Errorf("%s: shown %q, among the figures %t, among the tables %t", what, a.Shown, drawn, printed)
		}
	}
	for _, a := range []answer.Answer{one(t, plyLab(36, rising), quality, foretoldPly), one(t, usualLab.log(), quality, settling+"left: 2%")} {
		if a.Shown != "" || strings.Contains(a.Short, "is expected") {
			t.Errorf("without a limb %q is shown: %s", a.Shown, a.Short)
		}
	}
}

// takenLab is a log of limbs whose mass three clinicians weigh in turn, the
// last one 3 kg heavier than the others and with twice the scatter.
func takenLab(limbs int) sheets {
	r := rand.New(rand.NewPCG(3, 8))
	v, s := "visit,socket,date,purpose,mass_kg,seen_by\n", socketsHead
	for i := range limbs {
		s += fmt.Sprintf("S%d,P%dL,definitive,%s,,,,,\n", i+1, i+1, day(0))
		level := 4 * r.NormFloat64()
		for k := range 6 {
			who := (i + k) % 3
			v += fmt.Sprintf("V%d-%d,S%d,%s,follow-up,%.4f,%s\n", i, k, i+1, day(20*k+i), 80+level+[]float64{0, 0, 3}[who]+[]float64{0.5, 0.5, 1}[who]*r.NormFloat64(), []string{"A1", "B2", "C3"}[who])
		}
	}
	return sheets{"limbs": plainLimbs(limbs), "sockets": s, "visits": v}
}

func TestForecastByWhom(t *testing.T) {
	log := readLog(t, takenLab(24))
	const asked = followed + "limb: P1L\ntimes: 30d\n"
	all := answersOf(t, log, nil, quality, "id: any\n"+asked+"crossed: [seen_by]", "id: heavy\n"+asked+"crossed: [seen_by]\ntaken_by: {seen_by: C3}",
		"id: sizes\n"+asked+"scatter_by: seen_by", "id: wide\n"+asked+"scatter_by: seen_by\ntaken_by: {seen_by: C3}", "id: nobody\n"+asked+"scatter_by: seen_by\ntaken_by: {seen_by: C4}", "id: plain\n"+asked)
	told := func(id string) map[string]any { return row(t, table(t, all[id], "forecast")) }
	number := func(id, column string) float64 { return told(id)[column].(float64) }
	own := row(t, table(t, all["heavy"], "limbs"), "group", "C3", "of", "seen_by")["estimate"].(float64)
	if d := number("heavy", "estimate") - number("any", "estimate"); math.Abs(d-own) > 1e-9 || !(d > 1) {
		t.Errorf("told of the heavy-handed one: %g more, believed %g", d, own)
	}
	if number("any", "line") != number("heavy", "line") || !(number("any", "std_error") > 1.5*number("heavy", "std_error")) {
		t.Errorf("of anybody %v, of one %v", told("any"), told("heavy"))
	}
	if !(number("wide", "std_error") > number("sizes", "std_error")) || number("wide", "estimate") != number("sizes", "estimate") {
		t.Errorf("of the one who scatters %v, of anybody %v", told("wide"), told("sizes"))
	}
	for id, phrase := range map[string]string{"any": "may be of any clinician, and the limits hold how far these differ", "sizes": "may be of any clinician", "heavy": "Next readings are those of clinician C3.", "wide": "those of clinician C3"} {
		if text := strings.Join(printed(all[id]), " "); !strings.Contains(text, phrase) {
			t.Errorf("%s: no word of %q", id, phrase)
		}
	}
	if text := strings.Join(printed(all["plain"]), " "); strings.Contains(text, "Next readings") {
		t.Errorf("told by whom where nothing tells them apart: %s", text)
	}
	wantError(t, all["nobody"], "unknown-taker", `no row used has seen_by "C4"`)
	named := takenLab(24)
	named["visits"] = strings.ReplaceAll(named["visits"], ",C3", ",Invented Name")
	wantError(t, one(t, named, quality, asked+"crossed: [seen_by]\ntaken_by: {seen_by: Invented Name}"), "identifying", "a single clinician is not told of here")
}
