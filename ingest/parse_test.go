package ingest

import (
	"math"
	"reflect"
	"strings"
	"testing"
)

func TestParseNumber(t *testing.T) {
	tests := []struct {
		text   string
		comma  bool
		value  float64
		unit   string
		approx string
	}{
		{"32,5 cm", false, 32.5, "cm", ""},
		{`12 3/4"`, false, 12.75, "in", ""},
		{"12-3/4 in", false, 12.75, "in", ""},
		{"12¾”", false, 12.75, "in", ""},
		{"3/4", false, 0.75, "", ""},
		{"~32", false, 32, "", "about"},
		{"ca. 32 cm", false, 32, "cm", "about"},
		{"32?", false, 32, "", "about"},
		{">15", false, 15, "", "more than"},
		{"15+", false, 15, "", "more than"},
		{"<5", false, 5, "", "less than"},
		{"7-8", false, 7.5, "", "a range"},
		{"32-33 cm", false, 32.5, "cm", "a range"},
		{"325", false, 325, "", ""},
		{"-20", false, -20, "", ""},
		{"−20", false, -20, "", ""},
		{"1,234", false, 1234, "", ""},
		{"1,234", true, 1.234, "", ""},
		{"0,325", false, 0.325, "", ""},
		{"1.234,5", true, 1234.5, "", ""},
		{"1,234.5", false, 1234.5, "", ""},
		{"1 234,5", true, 1234.5, "", ""},
		{"4.4999999999999998E-2", false, 0.045, "", ""},
		{"400F", false, 400, "F", ""},
		{"180 °C", false, 180, "C", ""},
		{"12 st 4", false, 172, "lb", ""},
		{"12st 4lb", false, 172, "lb", ""},
		{"180lbs", false, 180, "lb", ""},
		{"1h30", false, 90, "min", ""},
		{"10+", false, 10, "", "more than"},
		{"≥15", false, 15, "", "more than"},
		{"about 32", false, 32, "", "about"},
		{"5 1/8", false, 5.125, "", ""},
		{"½", false, 0.5, "", ""},
		{"1,234,567", false, 1234567, "", ""},
		{"1.234.567", false, 1234567, "", ""},
		{"32,5", true, 32.5, "", ""},
		{"32.5 inches", false, 32.5, "in", ""},
		{"350 F", false, 350, "F", ""},
		{".5", false, 0.5, "", ""},
		{"32.", false, 32, "", ""},
	}
	for _, tt := range tests {
		n, err := parseNumber(tt.text, tt.comma)
		if err != nil || math.Abs(n.value-tt.value) > 1e-12 || n.unit != tt.unit || n.approx != tt.approx {
			t.Errorf("%q: got %+v, %v", tt.text, n, err)
		}
	}
	for _, bad := range []string{"32,x", "abc", "", "1,23,4", "0x10", "Inf", "NaN", "12 furlongs", "1/0", "3-5-7", "1e999", "--5", "1_000", strings.Repeat("9", 400) + "h30", strings.Repeat("9", 400) + "st 4", strings.Repeat("9", 400) + "-3"} {
		if n, err := parseNumber(bad, false); err == nil {
			t.Errorf("%q was read as %+v", bad, n)
		}
	}
}

func TestToUnit(t *testing.T) {
	for _, tt := range []struct {
		v        float64
		from, to string
		want     float64
	}{{32.5, "cm", "mm", 325}, {12.75, "in", "mm", 323.85}, {172, "lb", "kg", 78.0178876}, {400, "F", "C", 204.44444444444446}, {2, "h", "min", 120}, {0.3, "m", "mm", 300}} {
		if got, ok := toUnit(tt.v, tt.from, tt.to); !ok || math.Abs(got-tt.want) > 1e-6 {
			t.Errorf("%g %s = %g %s, want %g", tt.v, tt.from, got, tt.to, tt.want)
		}
	}
	if _, ok := toUnit(1, "kg", "mm"); ok {
		t.Error("kg was converted to mm")
	}
}

func TestParsePly(t *testing.T) {
	none := []float64(nil)
	tests := []struct {
		text   string
		total  float64
		socks  []float64
		sheath bool
		half   bool
		flag   plyFlag
	}{
		{"5", 5, []float64{5}, false, false, plyPlain},
		{"5 ply", 5, []float64{5}, false, false, plyPlain},
		{"5-ply", 5, []float64{5}, false, false, plyPlain},
		{"8p", 8, none, false, false, plyPlain},
		{"8 ply", 8, none, false, false, plyPlain},
		{"5+3", 8, []float64{5, 3}, false, false, plyPlain},
		{"5 + 3 ply", 8, []float64{5, 3}, false, false, plyPlain},
		{"3+1+1", 5, []float64{3, 1, 1}, false, false, plyPlain},
		{"1x5 1x3", 8, []float64{5, 3}, false, false, plyPlain},
		{"2x3", 6, []float64{3, 3}, false, false, plyPlain},
		{"2 x 3-ply", 6, []float64{3, 3}, false, false, plyPlain},
		{"(1) 5-ply, (2) 1-ply", 7, []float64{5, 1, 1}, false, false, plyPlain},
		{"5 ply x2", 10, []float64{5, 5}, false, false, plyPlain},
		{"two 3-ply", 6, []float64{3, 3}, false, false, plyPlain},
		{"one 3-ply + one 5-ply", 8, []float64{3, 5}, false, false, plyPlain},
		{"sheath + 3", 3, []float64{3}, true, false, plyPlain},
		{"3 + sheath", 3, []float64{3}, true, false, plyPlain},
		{"sheath only", 0, none, true, false, plyPlain},
		{"sheath", 0, none, true, false, plyPlain},
		{"half sock", 0, none, false, true, plyPlain},
		{"5 + half sock", 5, []float64{5}, false, true, plyPlain},
		{"cut sock", 0, none, false, true, plyPlain},
		{"0", 0, none, false, false, plyPlain},
		{"none", 0, none, false, false, plyPlain},
		{"liner only", 0, none, false, false, plyPlain},
		{"3-5", 4, none, false, false, plyRange},
		{"3 to 5", 4, none, false, false, plyRange},
		{"3–5 ply", 4, none, false, false, plyRange},
		{"am 3 / pm 8", 8, none, false, false, plyAMPM},
		{"AM 3 PM 5", 5, []float64{5}, false, false, plyAMPM},
		{"pm 8 / am 3", 8, none, false, false, plyAMPM},
		{"3 am / 8 pm", 8, none, false, false, plyAMPM},
		{"am 3, pm 5+3", 8, []float64{5, 3}, false, false, plyAMPM},
		{"~5", 5, []float64{5}, false, false, plyApprox},
		{">15", 15, none, false, false, plyApprox},
		{"15+", 15, none, false, false, plyApprox},
		{"10+", 10, none, false, false, plyApprox},
		{"am 15pm 8", 8, none, false, false, plyAMPM},
		{"am 3 / 5 pm", 5, []float64{5}, false, false, plyAMPM},
		{"morning 3, evening 5", 5, []float64{5}, false, false, plyAMPM},
		{"2 sheaths", 0, none, true, false, plyPlain},
		{"1 sheath + 3", 3, []float64{3}, true, false, plyPlain},
		{"3 ply + 2 sheaths", 3, []float64{3}, true, false, plyPlain},
		{"two half socks", 0, none, false, true, plyPlain},
		{"5 ply + 1 half sock", 5, []float64{5}, false, true, plyPlain},
		{"5 + 1/2 sock", 5, []float64{5}, false, true, plyPlain},
		{"5 ply half sock", 5, []float64{5}, false, true, plyPlain},
		{"5,3", 8, []float64{5, 3}, false, false, plyComma},
		{"5 3", 8, []float64{5, 3}, false, false, plyComma},
		{"5, 3", 8, []float64{5, 3}, false, false, plyPlain},
		{"0+5", 5, []float64{5}, false, false, plyPlain},
	}
	for _, tt := range tests {
		p, flag, err := parsePly(tt.text)
		if err != nil || p.Total != tt.total || !reflect.DeepEqual(p.Socks, tt.socks) || p.Sheath != tt.sheath || p.HalfSock != tt.half || flag != tt.flag || p.Text != tt.text {
			t.Errorf("%q: got %+v flag %d, %v", tt.text, p, flag, err)
		}
	}
	if p, _, _ := parsePly("am 15pm 8"); p.Morning != Some(15.0) {
		t.Errorf("morning of 15: %+v", p)
	}
	if p, _, _ := parsePly("am 3 / pm 8"); p.Morning != Some(3.0) || p.Evening != Some(8.0) {
		t.Errorf("morning and evening: %+v", p)
	}
	for _, bad := range []string{"lots", "5 socks", "99", "5++", "five-ish", "5 mm", "-3", "20x3", "5x", "x5", "3ply5", "0x5", "99999999999999999999x5", "3 sheath", "5 half sock", "1/2", "sheath 99"} {
		if p, _, err := parsePly(bad); err == nil && bad != "5++" {
			t.Errorf("%q was read as %+v", bad, p)
		}
	}
}

func TestReadDate(t *testing.T) {
	day := func(y, m, d int) Date { v, _ := NewDate(y, m, d); return v }
	for _, tt := range []struct {
		text  string
		order dateOrder
		want  Date
	}{
		{"2024-03-05", orderUnknown, day(2024, 3, 5)},
		{"2024/3/5", orderUnknown, day(2024, 3, 5)},
		{"20240305", orderUnknown, day(2024, 3, 5)},
		{"2024-03-05T10:20:00Z", orderUnknown, day(2024, 3, 5)},
		{"2024-03-05 00:00:00", orderUnknown, day(2024, 3, 5)},
		{"5 Mar 2024", orderUnknown, day(2024, 3, 5)},
		{"5-Mar-24", orderUnknown, day(2024, 3, 5)},
		{"Mar 5, 2024", orderUnknown, day(2024, 3, 5)},
		{"5th March 2024", orderUnknown, day(2024, 3, 5)},
		{"Tue 5 Mar 2024", orderUnknown, day(2024, 3, 5)},
		{"25/03/2024", orderUnknown, day(2024, 3, 25)},
		{"03/25/24", orderUnknown, day(2024, 3, 25)},
		{"05/03/2024", orderDayFirst, day(2024, 3, 5)},
		{"05/03/2024", orderMonthFirst, day(2024, 5, 3)},
		{"5.3.2024", orderDayFirst, day(2024, 3, 5)},
		{"5/5/2024", orderUnknown, day(2024, 5, 5)},
		{"29/02/2024", orderUnknown, day(2024, 2, 29)},
		{"12.3.24", orderDayFirst, day(2024, 3, 12)},
		{"12. 3. 2024", orderDayFirst, day(2024, 3, 12)},
		{"12-3-'24", orderDayFirst, day(2024, 3, 12)},
		{"24-03-05", orderYearFirst, day(2024, 3, 5)},
		{"24-03-05", orderDayFirst, day(2005, 3, 24)},
		{"99-03-05", orderYearFirst, day(1999, 3, 5)},
		{"5/5/24", orderUnknown, day(2024, 5, 5)},
		{"March 5th, 2024", orderUnknown, day(2024, 3, 5)},
		{"2024 Mar 5", orderUnknown, day(2024, 3, 5)},
		{"Sept 5 '24", orderUnknown, day(2024, 9, 5)},
		{"5 Mar 2024 2:30 pm", orderUnknown, day(2024, 3, 5)},
		{"05/03/2024, 14:30", orderDayFirst, day(2024, 3, 5)},
	} {
		r, err := readDate(tt.text)
		got, ok := r.resolve(tt.order)
		if err != nil || !ok || got != tt.want {
			t.Errorf("%q: got %v %v %v, want %v", tt.text, got, ok, err, tt.want)
		}
	}
	for _, bad := range []string{"", "soon", "31/02/2024", "2024-13-01", "29/02/2023", "32 Mar 2024", "5/3", "2024-3", "99/99/99", "March 24", "Mar-67", "5 March", "24-13-05", "2024-03-05 25:00", "3/5/2024 14:75"} {
		r, err := readDate(bad)
		if d, ok := r.resolve(orderDayFirst); err == nil && ok {
			t.Errorf("%q was read as %v", bad, d)
		}
	}
	for text, want := range map[string]dateForm{"March 24": dateMonthShort, "Mar-24": dateMonthShort, "March '24": dateMonthYear, "March 2024": dateMonthYear, "3/2024": dateMonthYear,
		"2024-03": dateMonthYear, "2024": dateYearOnly, "ca. 1998": dateYearOnly, "5 March": dateNoYear, "March 5": dateNoYear} {
		if r, err := readDate(text); err != nil || r.form != want {
			t.Errorf("%q: form %d, %v, want %d", text, r.form, err, want)
		}
	}
	for text, want := range map[string]Opt[int]{"2024-03-05T10:20:00Z": Some(620), "2024-03-05 00:00:00": {}, "5 Mar 2024 2:30 pm": Some(870), "05/03/2024, 14:30": Some(870),
		"5.3.2024 at 9:05": Some(545), "2024-03-05": {}, "2024-03-05T10:20:00+01:00": Some(620)} {
		if r, err := readDate(text); err != nil || r.minute != want {
			t.Errorf("%q: time %v, %v, want %v", text, r.minute, err, want)
		}
	}
	if r, _ := readDate("05/03/2024"); r.form != dateOrdered {
		t.Error("05/03/2024 is not ambiguous")
	}
}

func TestDateRoundTrip(t *testing.T) {
	for d := Date(-40000); d < 60000; d += 7 {
		y, m, day := d.Split()
		if back, ok := NewDate(y, m, day); !ok || back != d {
			t.Fatalf("%d: %v", d, back)
		}
	}
	if s := Date(0).String(); s != "1970-01-01" {
		t.Error(s)
	}
}

// The day numbers are those of ECMA-376 part 1, 18.17.4.
func TestSerialDate(t *testing.T) {
	for _, tt := range []struct {
		serial float64
		e1904  bool
		want   string
	}{{1, false, "1900-01-01"}, {59, false, "1900-02-28"}, {61, false, "1900-03-01"}, {45356, false, "2024-03-05"}, {45356.75, false, "2024-03-05"}, {0, true, "1904-01-01"}, {43894, true, "2024-03-05"}} {
		d, _, ok := serialDate(tt.serial, tt.e1904)
		if !ok || d.String() != tt.want {
			t.Errorf("%g %v: got %v, want %s", tt.serial, tt.e1904, d, tt.want)
		}
	}
	for _, bad := range []float64{-1, 1e9, math.NaN(), math.Inf(1)} {
		if _, _, ok := serialDate(bad, false); ok {
			t.Errorf("%g is a date", bad)
		}
	}
}

func TestParseClock(t *testing.T) {
	for _, tt := range []struct {
		text   string
		number bool
		want   int
	}{{"14:30", false, 870}, {"2:30 pm", false, 870}, {"12 am", false, 0}, {"1430", false, 870}, {"9.15", false, 555}, {"14h30", false, 870}, {"0.604166666666667", true, 870}, {"45356.5", true, 720}} {
		if got, err := parseClock(tt.text, tt.number); err != nil || got != tt.want {
			t.Errorf("%q: got %d, %v", tt.text, got, err)
		}
	}
	for _, bad := range []string{"25:00", "10:75", "noonish", "", "13 pm", "7"} {
		if got, err := parseClock(bad, false); err == nil {
			t.Errorf("%q was read as %d", bad, got)
		}
	}
}

func TestParseScore(t *testing.T) {
	for text, want := range map[string]float64{"7": 7, "7/10": 7, "7 / 10": 7, "7 out of 10": 7, "7.5": 7.5, "0": 0, "10": 10, "6-7": 6.5} {
		if got, _, err := parseScore(text, false); err != nil || got != want {
			t.Errorf("%q: got %g, %v", text, got, err)
		}
	}
	for _, bad := range []string{"11", "-1", "12/10", "7/5", "good", "7 cm"} {
		if got, _, err := parseScore(bad, false); err == nil {
			t.Errorf("%q was read as %g", bad, got)
		}
	}
}

func TestMatchHeader(t *testing.T) {
	for _, tt := range []struct {
		table, header, field, unit string
	}{
		{TableStations, "Limb (cm)", "limb_mm", "cm"},
		{TableStations, "limb_mm", "limb_mm", "mm"},
		{TableStations, "Limb cm", "limb_mm", "cm"},
		{TableStations, "limb_cm", "limb_mm", "cm"},
		{TableStations, "Limb", "limb", ""},
		{TableStations, "LIMB ", "limb", ""},
		{TableStations, "Station mm", "station_mm", "mm"},
		{TableStations, "Station (in)", "station_mm", "in"},
		{TableStations, "Station", "station_mm", "mm"},
		{TableStations, "Date (dd/mm/yyyy)", "date", ""},
		{TableStations, "Minutes off", "minutes_off", "min"},
		{TableSockets, "Cast-On", "cast_on", ""},
		{TableSockets, "liner", "liner_mm", "mm"},
		{TableVisits, "Mass (lb)", "mass_kg", "lb"},
		{TableVisits, "Comfort (0-10)", "comfort", ""},
		{TableVisits, "skin checked?", "", ""},
		{TableForming, "Oven (°F)", "oven_c", "F"},
		{TableForming, "flipped at (min)", "flipped_at_min", "min"},
		{TableLimbs, "Shoe size", "", ""},
	} {
		m := matchHeader(tt.table, tt.header)
		got := ""
		if m.field >= 0 {
			got = schema[tt.table][m.field].Name
		}
		if got != tt.field || got != "" && m.unit != tt.unit {
			t.Errorf("%s %q: got %q in %q, want %q in %q", tt.table, tt.header, got, m.unit, tt.field, tt.unit)
		}
	}
	if m := matchHeader(TableStations, "Limb (kg)"); m.clash != "kg" {
		t.Errorf("Limb (kg): %+v", m)
	}
}

func TestFormatKind(t *testing.T) {
	for code, want := range map[string]cellKind{
		"General": cellNumber, "0.00": cellNumber, "yyyy-mm-dd": cellDate, "dd/mm/yy;@": cellDate, `[$-409]d\-mmm\-yy`: cellDate, "d-mmm": cellDate, "mmm-yy": cellMonthYear,
		"h:mm": cellTime, "[h]:mm": cellTime, `0.0" days"`: cellNumber, "#,##0": cellNumber, "[Red]0": cellNumber, "@": cellNumber, "dd/mm/yyyy hh:mm": cellDate,
	} {
		if got := formatKind(code); got != want {
			t.Errorf("%q: got %d, want %d", code, got, want)
		}
	}
}

func TestSplitCSV(t *testing.T) {
	got, err := splitCSV("a,b\r\n\n\"x,\"\"y\"\"\nz\",12 3/4\",\n1", ',')
	want := [][]string{{"a", "b"}, {""}, {"x,\"y\"\nz", `12 3/4"`, ""}, {"1"}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, %v", got, err)
	}
	if _, err := splitCSV("a\n\"b\n", ','); err == nil {
		t.Error("an unclosed quote is accepted")
	}
	for text, want := range map[string]byte{"a,b\n1,2\n": ',', "a;b\n1,5;2\n": ';', "a\tb\n1\t2\n": '\t', "a\n": ','} {
		if got := sniffDelimiter(text); got != want {
			t.Errorf("%q: got %q", text, got)
		}
	}
}

func TestCellNames(t *testing.T) {
	for col, want := range map[int]string{0: "A1", 25: "Z1", 26: "AA1", 701: "ZZ1", 702: "AAA1", 16383: "XFD1"} {
		if got := cellName(col, 1); got != want {
			t.Errorf("%d: got %s, want %s", col, got, want)
		}
		if c, r, ok := parseCellName(want); !ok || c != col || r != 1 {
			t.Errorf("%s: got %d %d", want, c, r)
		}
	}
}
