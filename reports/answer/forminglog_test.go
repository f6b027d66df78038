package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// formingSheets is a log of sheets pulled, typed by hand: ten of PETG, 12 mm,
// three of polypropylene, and one of which nothing is known.
func formingSheets() sheets {
	rows := []string{"socket,date,sheet_material,sheet_mm,oven_c,minutes,flipped_at_min,thinnest_mm,result"}
	limbs, sockets := []string{"person,limb,side,level"}, []string{"socket,limb,kind"}
	for k := range 14 {
		limbs = append(limbs, fmt.Sprintf("P%d,P%d-L,left,transtibial", k, k))
		sockets = append(sockets, fmt.Sprintf("S%d,P%d-L,definitive", k, k))
		switch {
		case k < 10: // 160 to 169 degrees, 15 minutes, walls from 5 to 6.8 mm
			result := []string{"good", "Good", "thin spot"}[min(k/4, 2)]
			rows = append(rows, fmt.Sprintf("S%d,2024-03-%02d,PETG,12,%d,15,7.5,%.1f,%s", k, k+1, 160+k, 5+0.2*float64(k), result))
		case k < 13:
			rows = append(rows, fmt.Sprintf("S%d,2024-03-%02d,polypropylene,6,%d,20,10,3,good", k, k+1, 180+k))
		default:
			rows = append(rows, fmt.Sprintf("S%d,2024-03-%02d,,,,,,,", k, k+1))
		}
	}
	return sheets{"limbs": strings.Join(limbs, "\n"), "sockets": strings.Join(sockets, "\n"), "forming": strings.Join(rows, "\n")}
}

const petgRange = "\nranges: {material: petg, oven_c: 162..168, minutes: 10..15, flipped: 45%..55%, thinnest_mm: 5.5.., source: an invented maker}"

func TestFormingLogByHand(t *testing.T) {
	a := one(t, formingSheets(), quality, "method: forming-log"+petgRange)
	r := row(t, table(t, a, "rows"), "material", "PETG", "sheet_mm", 12.0)
	want(t, r, "sheets", 10, "results", 10, "good", 8, "good_percent", 80.0)
	if a.Rows != 14 || len(table(t, a, "rows").Rows) != 3 {
		t.Errorf("%d rows, %v", a.Rows, table(t, a, "rows").Rows)
	}
	m := table(t, a, "measures")
	// Type 7: 1 + 9 p, so 162.25, 164.5 and 166.75.
	want(t, row(t, m, "material", "PETG", "measure", "oven_c"), "recorded", 10, "median", 164.5, "lower_quartile", 162.25, "upper_quartile", 166.75, "minimum", 160.0, "maximum", 169.0,
		"range_low", 162.0, "range_high", 168.0, "below", 2, "within", 7, "above", 1)
	want(t, row(t, m, "material", "PETG", "measure", "flipped_percent"), "median", 50.0, "below", 0, "within", 10, "range_low", 45.0)
	want(t, row(t, m, "material", "PETG", "measure", "thinnest_mm"), "below", 3, "within", 7, "range_high", nil)
	want(t, row(t, m, "material", "PETG", "measure", "thinnest_percent"), "minimum", 100*5.0/12, "range_low", nil, "below", nil)
	want(t, row(t, m, "material", "polypropylene", "measure", "oven_c"), "range_low", nil, "below", nil, "recorded", 3)
	want(t, row(t, m, "material", nil, "measure", "oven_c"), "recorded", 0, "median", nil)
	// 160, 161 and 169 degrees lie outside; the last was a thin spot.
	g := table(t, a, "ranges")
	want(t, row(t, g, "settings", "within"), "sheets", 7, "good", 6, "source", "an invented maker")
	want(t, row(t, g, "settings", "outside"), "sheets", 3, "good", 2)
	wantCaution(t, a, "shop", "gloves", "fumes", "dust", "recommend nothing")
	wantCaution(t, a, "not-a-trial")
	wantCaution(t, a, "few-rows", "polypropylene, 6 mm (3)")
	if len(a.Figures) != 1 || !strings.Contains(a.Reading, "8 sheets") && !strings.Contains(a.Reading, "11 came out good") {
		t.Errorf("reading: %s", a.Reading)
	}
	said := strings.Join(printed(a), "\n")
	for _, s := range []string{"Range of PETG, 12 mm: an invented maker.", "none is built in", "Outside the range of settings that the lab entered: 3 of ", "material not recorded, thickness not recorded"} {
		if !strings.Contains(strings.ToLower(said), strings.ToLower(s)) {
			t.Errorf("not said: %s\n%s", s, said)
		}
	}
	plain := one(t, formingSheets(), quality, "method: forming-log")
	if caution(plain, "not-a-trial") != "" || !strings.Contains(strings.Join(printed(plain), "\n"), "The lab entered no range") || caution(plain, "shop") == "" {
		t.Errorf("without ranges: %v", plain.Cautions)
	}
}

func TestFormingLogCautions(t *testing.T) {
	s := formingSheets()
	replace := func(old, with string) sheets { return s.with("forming", strings.ReplaceAll(s["forming"], old, with)) }
	ask := "method: forming-log"
	plain := one(t, s, quality, ask)
	for _, c := range []struct {
		code   string
		log    sheets
		ask    string
		phrase string
	}{
		{"turned-late", replace("162,15,7.5", "162,15,17.5"), ask, "1 sheet was turned, by the log, after"},
		{"thicker-than-sheet", replace("5.4,", "54,").with("sockets", s["sockets"]), ask, ""},
		{"no-good-word", s, ask + "\ngood: [fine]", "The results are called"},
		{"no-result", replace("good", "").with("limbs", s["limbs"]), ask + "\nkeep: {sheet_material: polypropylene}", "No sheet has a result"},
		{"pulled-again", s.with("forming", strings.ReplaceAll(s["forming"], "S3,", "S2,")), ask, "2 of 14 sheets were"},
		{"missing", s.with("forming", strings.ReplaceAll(s["forming"], ",15,7.5,", ",15,,")), ask, "when it was turned 11"},
		{"range-unused", s, ask + "\nranges: {material: acrylic, oven_c: 100..120, source: x}", "acrylic"},
		{"check-socket", s.with("sockets", strings.ReplaceAll(s["sockets"], "definitive", "check")), ask, "unsupervised"},
	} {
		if x := caution(plain, c.code); x != "" {
			t.Errorf("%s is raised without cause: %s", c.code, x)
		}
		if c.code == "thicker-than-sheet" {
			c.log = s.with("forming", strings.ReplaceAll(s["forming"], "180+k,20,10,3,", "")+"\nS0,2024-04-02,polypropylene,3,180,20,10,3.5,good")
			c.phrase = "1 sheet has a thinnest wall above"
		}
		wantCaution(t, one(t, c.log, quality, c.ask), c.code, c.phrase)
	}
	// What contradicts itself is not used.
	late := one(t, replace("162,15,7.5", "162,15,17.5"), quality, ask)
	want(t, row(t, table(t, late, "measures"), "material", "PETG", "measure", "flipped_percent"), "recorded", 9)
	other := one(t, s, quality, ask+"\ngood: [fine]")
	want(t, row(t, table(t, other, "rows"), "material", "PETG"), "good", nil, "good_percent", nil)
	both := one(t, s, quality, ask+"\ngood: [GOOD, thin spot]")
	want(t, row(t, table(t, both, "rows"), "material", "PETG"), "good", 10, "good_percent", 100.0, "high", 100.0)
}

// The range of a thickness comes before that of the material.
func TestFormingRangeOfAThickness(t *testing.T) {
	a := one(t, formingSheets(), quality, "method: forming-log\nranges:\n  - {material: PETG, oven_c: 100..110, source: all}\n  - {material: PETG, sheet_mm: 12, oven_c: 165.., source: twelve}")
	want(t, row(t, table(t, a, "measures"), "material", "PETG", "measure", "oven_c"), "range_low", 165.0, "range_high", nil, "below", 5, "within", 5, "above", 0)
	wantCaution(t, a, "not-a-trial")
	wantError(t, one(t, formingSheets().with("forming", "socket,date"), quality, "method: forming-log"), "no-rows")
	a = one(t, formingSheets(), quality, "method: forming-log\nranges: {material: PETG, thinnest_mm: 5.., source: x}")
	if len(table(t, a, "ranges").Rows) != 0 || caution(a, "not-a-trial") != "" {
		t.Error("a range of the wall alone is no setting")
	}
}

func TestFormingLogForThePublic(t *testing.T) {
	var limbs, sockets, forming = []string{"person,limb,side,level"}, []string{"socket,limb,kind"}, []string{"socket,date,sheet_material,sheet_mm,oven_c,minutes,flipped_at_min,thinnest_mm,result"}
	for k := range 45 {
		limbs = append(limbs, fmt.Sprintf("P%d,P%d-L,left,transtibial", k, k))
		sockets = append(sockets, fmt.Sprintf("S%d,P%d-L,definitive", k, k))
		material, result := "PETG", "good"
		if k >= 40 {
			material = "acrylic"
		}
		if k < 3 {
			result = "webbing"
		}
		forming = append(forming, fmt.Sprintf("S%d,2024-03-%02d,%s,12,%d,15,7.5,6,%s", k, k%28+1, material, 140+k, result))
	}
	a := one(t, sheets{"limbs": strings.Join(limbs, "\n"), "sockets": strings.Join(sockets, "\n"), "forming": strings.Join(forming, "\n")}, "audience: annual",
		"method: forming-log\nranges: {material: PETG, oven_c: 143.., source: x}")
	if len(a.Figures) != 0 || a.Rows != 40 {
		t.Errorf("%d figures, %d rows", len(a.Figures), a.Rows)
	}
	wantCaution(t, a, "groups-hidden", "acrylic")
	wantCaution(t, a, "shop")
	m := row(t, table(t, a, "measures"), "measure", "oven_c")
	want(t, m, "minimum", nil, "maximum", nil, "below", nil, "within", nil, "median", 159.5)
	want(t, row(t, table(t, a, "rows"), "material", "PETG"), "good", nil, "good_percent", nil, "low", nil)
	for _, r := range table(t, a, "results").Rows {
		if r[3] != nil || r[4] != nil {
			t.Errorf("results: %v", r)
		}
	}
	for _, s := range printed(a) {
		for _, n := range []string{"37", "92.5", "7.5%", "140", "184", " 3 "} {
			if strings.Contains(s, n) && !strings.Contains(s, "References") {
				t.Errorf("%q tells of few: %s", n, s)
			}
		}
	}
	if v, ok := m["median"].(float64); !ok || math.IsNaN(v) {
		t.Error("no median")
	}
}
