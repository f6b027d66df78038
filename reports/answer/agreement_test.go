package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// taped is a log of girths at one station: each reading is the number of the
// limb, the week, who measured, which repeat it is and the girth in mm.
func taped(readings ...string) sheets {
	var limbs, stations strings.Builder
	limbs.WriteString("person,side,level\n")
	stations.WriteString("limb,date,landmark,station_mm,limb_mm,measured_by,repeat\n")
	seen := map[int]bool{}
	for _, r := range readings {
		var limb, week int
		var by, repeat string
		var mm float64
		fmt.Sscanf(r, "%d %d %s %s %g", &limb, &week, &by, &repeat, &mm)
		if by == "?" {
			by = ""
		}
		if !seen[limb] {
			fmt.Fprintf(&limbs, "P%d,left,transtibial\n", limb)
			seen[limb] = true
		}
		fmt.Fprintf(&stations, "P%d-L,%s,MTP,50,%g,%s,%s\n", limb, after2024(7*week), mm, by, repeat)
	}
	return sheets{"limbs": limbs.String(), "stations": stations.String()}
}

const byTwo = "method: agreement\noutcome: limb_mm\nways: measured_by\n"

// twoMeasurers are n limbs measured by A and by B; the difference goes by
// turns through what is given.
func twoMeasurers(n int, differences ...float64) []string {
	var out []string
	for i := range n {
		mm := 250 + float64(i*37%90)
		out = append(out, fmt.Sprintf("%d 1 A 1 %g", i+1, mm), fmt.Sprintf("%d 1 B 1 %g", i+1, mm-differences[i%len(differences)]))
	}
	return out
}

func TestAgreementByHand(t *testing.T) {
	// Differences 1, -1, 3 and -3 in turn: mean 0, variance 40 x 5 / 39; the
	// error is the root of the sum of squares, 200, over twice 40.
	a := one(t, taped(twoMeasurers(40, 1, -1, 3, -3)...), quality, byTwo)
	f := row(t, table(t, a, "fit"))
	want(t, f, "readings", 80, "cases", 40, "bias", 0.0, "sd_of_differences", 2.264554068289191, "error", 1.5811388300841898, "smallest_change", 4.382612702882907)
	for _, phrase := range []string{"Circumference was measured more than once in 40 cases", "95% of pairs differ by between −4.4 and 4.4 mm", "must differ by more than 4.4 mm"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	for _, code := range []string{"few-rows", "few-clusters", "bias", "size", "measured-once", "further-readings", "missing"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
	if len(table(t, a, "pairs").Rows) != 80 || len(a.Figures) != 1 {
		t.Errorf("%d rows of pairs, %d figures", len(table(t, a, "pairs").Rows), len(a.Figures))
	}
	// In a report for others no reading of one limb is told.
	p := one(t, taped(twoMeasurers(40, 1, -1, 3, -3)...), "audience: research", "method: agreement\noutcome: limb_mm\nways: repeat\nsame: [limb, date]")
	if p.Error == nil { // both are repeat 1: nothing was measured twice
		t.Errorf("answered: %s", p.Reading)
	}
}

func TestAgreementCautions(t *testing.T) {
	even := twoMeasurers(40, 1, -1, 3, -3)
	wantCaution(t, one(t, taped(twoMeasurers(12, 1, -1)...), quality, byTwo), "few-rows", "Only 12 cases were measured again")
	wantCaution(t, one(t, taped(twoMeasurers(40, 5, 4)...), quality, byTwo), "bias", "A gives more than B")
	wantCaution(t, one(t, taped(append(even, "1 2 A 1 300")...), quality, byTwo), "measured-once", "1 case was measured in one way only")
	wantCaution(t, one(t, taped(append(even, "1 1 A 2 251")...), quality, byTwo), "further-readings", "the first is used")
	wantCaution(t, one(t, taped(append(even, "1 1 ? 3 251")...), quality, byTwo), "missing", "1 row does not say")
	wantCaution(t, one(t, taped(even...), quality, byTwo), "spread", "go by the smallest change")

	var grows, shrinks, alike []string
	for i := range 40 {
		mm, sign := 200+5*float64(i), float64(1-2*(i%2))
		grows = append(grows, fmt.Sprintf("%d 1 A 1 %g", i+1, mm), fmt.Sprintf("%d 1 B 1 %g", i+1, mm+sign*(1+float64(i)/4)))
		shrinks = append(shrinks, fmt.Sprintf("%d 1 A 1 %g", i+1, mm), fmt.Sprintf("%d 1 B 1 %g", i+1, mm+float64(i)/4+sign))
		alike = append(alike, fmt.Sprintf("%d 1 A 1 %g", i+1, 300+float64(i%3)), fmt.Sprintf("%d 1 B 1 %g", i+1, 300+float64((i+1)%4)))
	}
	wantCaution(t, one(t, taped(grows...), quality, byTwo), "size", "How far readings lie apart depends on size: it goes up")
	wantCaution(t, one(t, taped(shrinks...), quality, byTwo), "size", "Which of the two gives more depends on size: differences go down")
	if c := caution(one(t, taped(alike...), quality, byTwo), "spread"); c != "" {
		t.Errorf("limbs hardly differ, and %s", c)
	}

	// Four limbs, ten weeks each: the intervals are by person.
	var few, many []string
	for i := range 40 {
		few = append(few, fmt.Sprintf("%d %d A 1 %d", 1+i%4, i/4, 250+i), fmt.Sprintf("%d %d B 1 %d", 1+i%4, i/4, 251+i-2*(i%3)))
	}
	for i := range 50 {
		many = append(many, fmt.Sprintf("%d %d A 1 %d", 1+i%25, i/25, 250+i), fmt.Sprintf("%d %d B 1 %d", 1+i%25, i/25, 251+i-2*(i%3)+i*i%7))
	}
	wantCaution(t, one(t, taped(few...), quality, byTwo), "few-clusters", "4 persons")
	if c := caution(one(t, taped(many...), quality, byTwo), "few-clusters"); c != "" {
		t.Errorf("25 persons, and %s", c)
	}
	a := one(t, taped(many...), quality, byTwo)
	b := one(t, taped(many...), quality, byTwo+"seed: 2\n")
	if row(t, table(t, a, "fit"))["error_low"] == row(t, table(t, b, "fit"))["error_low"] {
		t.Error("another seed draws the same samples", row(t, table(t, a, "fit")))
	}
	if row(t, table(t, a, "fit"))["error_low"] == row(t, table(t, one(t, taped(many...), quality, byTwo+"cluster: none\n"), "fit"))["error_low"] {
		t.Error("`cluster: none` changes nothing")
	}
}

func TestAgreementRatings(t *testing.T) {
	var limbs, socks, visits strings.Builder
	limbs.WriteString("person,side,level\n")
	socks.WriteString("socket,limb,kind,delivered\n")
	visits.WriteString("visit,socket,date,purpose,seen_by,comfort\n")
	for i := range 40 {
		fmt.Fprintf(&limbs, "P%d,left,transtibial\n", i)
		fmt.Fprintf(&socks, "S%d,P%d-L,definitive,2024-01-01\n", i, i)
		fmt.Fprintf(&visits, "V%da,S%d,2024-02-01,follow-up,A,%d\nV%db,S%d,2024-02-01,follow-up,B,%d\n", i, i, 4+i%5, i, i, 4+(i+i%2)%5)
	}
	s := sheets{"limbs": limbs.String(), "sockets": socks.String(), "visits": visits.String()}
	ask := "method: agreement\nrows: visits\noutcome: comfort\nways: seen_by\n"
	a := one(t, s, quality, ask+"weighting: quadratic")
	f := row(t, table(t, a, "kappa"))
	want(t, f, "cases", 40, "categories", 5, "same", 0.5)
	if !strings.Contains(a.Reading, "A and B gave the same comfort on arrival to 50% of 40 cases rated by both") {
		t.Error(a.Reading)
	}
	if one := one(t, s, quality, ask+"weighting: none"); row(t, table(t, one, "kappa"))["kappa"] == f["kappa"] {
		t.Error("the weighting changes nothing")
	}
	if c := caution(a, "one-category"); c != "" {
		t.Error(c)
	}
	hidden := one(t, s, "audience: quality\nhide_below: 11", ask+"weighting: quadratic")
	wantCaution(t, hidden, "rows-hidden", "some stand for few")
	if n := len(table(t, hidden, "ratings").Rows); n != 0 {
		t.Errorf("%d cells of ratings told", n)
	}
	if c := caution(a, "rows-hidden"); c != "" {
		t.Error(c)
	}
	same := visits.String()
	for v := 5; v <= 8; v++ {
		same = strings.ReplaceAll(same, fmt.Sprintf("A,%d\n", v), "A,4\n")
		same = strings.ReplaceAll(same, fmt.Sprintf("B,%d\n", v), "B,4\n")
	}
	wantError(t, one(t, s.with("visits", same), quality, ask+"weighting: none"), "no-variation", "every rating of comfort on arrival is the same")
	odd := strings.Replace(same, "B,4\n", "B,9\n", 1)
	wantCaution(t, one(t, s.with("visits", odd), quality, ask+"weighting: none"), "one-category", "would agree by chance alone")
}

func TestAgreementNothingToSay(t *testing.T) {
	for name, c := range map[string]struct {
		log              sheets
		more, code, text string
	}{
		"two limbs":         {taped(twoMeasurers(2, 1, 2)...), "", "few-rows", "fewer than three cases"},
		"one way":           {taped("1 1 A 1 250", "2 1 A 1 260", "3 1 A 1 270"), "", "no-pairs", "recorded in two ways"},
		"all the same":      {taped("1 1 A 1 250", "1 1 B 1 250", "2 1 A 1 250", "2 1 B 1 250", "3 1 A 1 250", "3 1 B 1 250"), "", "no-variation", "every reading"},
		"the same differs":  {taped(twoMeasurers(4, 1)...), "same: [measured_by]", "impossible", "cannot be the same and also"},
		"ratings of a date": {taped(twoMeasurers(4, 1)...), "outcome: date", "impossible", "is a date"},
		"order of numbers":  {taped(twoMeasurers(4, 1)...), "order: [a, b]", "impossible", "is rated in order with `weighting`"},
	} {
		ask := byTwo
		if strings.HasPrefix(c.more, "outcome") {
			ask = strings.Replace(ask, "outcome: limb_mm\n", "", 1)
		}
		a := one(t, c.log, quality, ask+c.more)
		t.Log(name)
		wantError(t, a, c.code, c.text)
	}
	// The three ways of three measurers are told by what they scatter.
	var three []string
	for i := range 10 {
		for k, by := range []string{"A", "B", "C"} {
			three = append(three, fmt.Sprintf("%d 1 %s 1 %d", i+1, by, 250+3*i+k))
		}
	}
	a := one(t, taped(three...), quality, byTwo)
	want(t, row(t, table(t, a, "fit")), "ways", 3, "error", 1.0, "bias", nil)
	want(t, row(t, table(t, a, "correlations"), "form", "consistency", "readings", "one"), "estimate", 1.0)
}

// What the lab set as its repeatability takes the place of the usual figure.
func TestLabsOwnRepeatability(t *testing.T) {
	var limbs, socks, stations strings.Builder
	limbs.WriteString("person,side,level,cause\n")
	socks.WriteString("socket,limb,kind,cast_on,delivered\n")
	stations.WriteString("limb,date,landmark,station_mm,limb_mm\n")
	for i := range 30 {
		fmt.Fprintf(&limbs, "P%d,left,transtibial,%s\n", i, []string{"trauma", "vascular"}[i%2])
		fmt.Fprintf(&socks, "S%d,P%d-L,definitive,2024-01-01,2024-01-20\n", i, i)
		for k, mm := range []int{0, 50, 100} {
			fmt.Fprintf(&stations, "P%d-L,2024-01-01,MTP,%d,%d\n", i, mm, 300-10*k)
			fmt.Fprintf(&stations, "P%d-L,2024-06-01,MTP,%d,%d\n", i, mm, 295-10*k+i%4)
		}
	}
	s := sheets{"limbs": limbs.String(), "sockets": socks.String(), "stations": stations.String()}
	ask := "method: linear\nrows: sockets\noutcome: volume_change_pct\nby: cause"
	wantCaution(t, one(t, s, quality, ask), "repeatability", "less than 5%")
	wantCaution(t, one(t, s, quality+"\nvolume_repeatability: 3.8", ask), "repeatability", "less than 3.8%, the smallest change that measuring in this lab tells from none")
	if c := caution(one(t, s, quality+"\nvolume_repeatability: 0.5", ask), "repeatability"); c != "" {
		t.Error(c)
	}
}
