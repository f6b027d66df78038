package ingest

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// put changes one cell of a sheet; a column beyond the header is added.
func put(s map[string]sheetRows, sheet, cell string, v any) {
	col, row, _ := parseCellName(cell)
	rows := s[sheet]
	for len(rows) < row {
		rows = append(rows, nil)
	}
	for len(rows[row-1]) <= col {
		rows[row-1] = append(rows[row-1], "")
	}
	rows[row-1][col] = v
	s[sheet] = rows
}

func add(s map[string]sheetRows, sheet string, row ...any) { s[sheet] = append(s[sheet], row) }

func date(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }

func TestSmallLogIsClean(t *testing.T) {
	log := read(t, Options{}, writeBook(t, smallLog(), nil))
	if got := found(log); len(got) > 0 {
		t.Errorf("problems: %v", got)
	}
	if log.First.Value.String() != "2024-01-05" || log.Last.Value.String() != "2024-08-01" {
		t.Errorf("first %v, last %v", log.First.Value, log.Last.Value)
	}
	if log.Limbs[0].Level != (Coded{Code: "transtibial", Text: "BK"}) || log.Sockets[0].EndReason.Code != "remake: volume loss" || log.Sockets[1].Replaces != "S1" {
		t.Errorf("read as %+v %+v", log.Limbs[0], log.Sockets)
	}
}

// TestProblems damages a clean log in one way at a time. A line of want is
// "sheet!cell code what was done".
func TestProblems(t *testing.T) {
	today := Some(Date(20000)) // 2024-10-04
	tests := []struct {
		name   string
		damage func(s map[string]sheetRows)
		book   func(f *excelize.File)
		opts   Options
		want   []string
		says   string // part of the first problem's sentence
	}{
		{name: "bad date", damage: func(s map[string]sheetRows) { put(s, "sockets", "E2", "31/02/2024") },
			want: []string{"sockets!E2 bad-date value set aside"}, says: `"31/02/2024" is not a date`},
		{name: "bad required date", damage: func(s map[string]sheetRows) { put(s, "visits", "C3", "soon") },
			want: []string{"visits!C3 bad-date row set aside"}},
		{name: "order of day and month open", damage: func(s map[string]sheetRows) { put(s, "sockets", "E2", "05/01/2024") },
			want: []string{"sockets!E2 ambiguous-date value set aside"}, says: "2024-01-05 or 2024-05-01"},
		{name: "order decided by another value", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "E2", "05/01/2024")
			put(s, "sockets", "E3", "20/07/2024")
		}},
		{name: "order contradicted", damage: func(s map[string]sheetRows) {
			put(s, "visits", "C2", "02/01/2024")
			put(s, "visits", "C3", "25/05/2024")
			put(s, "visits", "C4", "03/28/2024")
		}, want: []string{"visits!C2 ambiguous-date row set aside", "findings!A2 reference-set-aside row set aside"}},
		{name: "one value against the column's order", damage: func(s map[string]sheetRows) {
			for i := range 10 {
				add(s, "visits", "W"+string(rune('a'+i)), "S2", "08/2"+string(rune('0'+i))+"/2024", "follow-up", "3", 7, 8, "no", "none")
			}
			put(s, "visits", "C2", "02/01/2024")
			put(s, "visits", "C4", "28/03/2024")
		}, want: []string{"visits!C4 ambiguous-date row set aside"}, says: "can only be day first"},
		{name: "visit entered twice under two numbers", damage: func(s map[string]sheetRows) {
			add(s, "visits", "V9", "S1", "2024-05-01", "follow-up", "5+3", 6, 9, "yes", "sock advice")
		}, want: []string{"visits!A5 look-alike-visit kept"}},
		{name: "spreadsheet swapped day and month", damage: func(s map[string]sheetRows) {
			for i := range 6 {
				add(s, "visits", "W"+string(rune('a'+i)), "S2", date(2024, 8, 2+i), "follow-up", "3", 7, 8, "no", "none")
			}
			put(s, "visits", "C2", "25/02/2024")
			put(s, "visits", "C3", "25/05/2024")
			put(s, "visits", "C4", "28/03/2024")
		}, want: []string{"visits!C1 swapped-dates kept"}},
		{name: "day number in a date column", damage: func(s map[string]sheetRows) { put(s, "sockets", "E2", 45296) },
			want: []string{"sockets!E2 number-as-date kept"}, says: "2024-01-05"},
		{name: "amputation known by month", damage: func(s map[string]sheetRows) {
			put(s, "limbs", "H1", "amputated")
			put(s, "limbs", "H2", "Mar 2022")
			put(s, "limbs", "H3", 2020)
		}, want: []string{"limbs!H2 approximate-date kept", "limbs!H3 approximate-date kept"}},
		{name: "year of birth with two digits", damage: func(s map[string]sheetRows) { put(s, "limbs", "E2", "3/4/19") },
			want: []string{"limbs!E1 birth-date kept", "limbs!E2 short-year kept"}},
		{name: "date decades outside the log", damage: func(s map[string]sheetRows) { put(s, "visits", "C3", "1924-05-01") },
			want: []string{"visits!C3 date-outside-log row set aside"}, says: "decades outside"},
		{name: "zero as a date", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "E2", date(1900, 1, 4))
		}, want: []string{"sockets!E2 date-outside-log value set aside"}},
		{name: "date after today", opts: Options{Today: today}, damage: func(s map[string]sheetRows) { put(s, "visits", "C3", "2025-05-01") },
			want: []string{"visits!C3 date-after-end row set aside"}, says: "future"},
		{name: "date after the log's own end", damage: func(s map[string]sheetRows) {
			for i := range 10 {
				add(s, "visits", "W"+string(rune('a'+i)), "S2", "2024-08-1"+string(rune('0'+i)), "follow-up", "3", 7, 8, "no", "none")
			}
			put(s, "visits", "C3", "2027-05-01")
			put(s, "sockets", "H3", "2026-01-01")
			put(s, "sockets", "G1", "died on")
			put(s, "sockets", "H1", "ended")
			put(s, "sockets", "G2", "")
			put(s, "sockets", "H2", "")
		}, want: []string{"sockets!H3 date-after-end value set aside", "visits!C3 date-after-end row set aside"}},
		{name: "date before birth", damage: func(s map[string]sheetRows) {
			put(s, "limbs", "H1", "amputated")
			put(s, "limbs", "H2", "1958-03-01")
		}, want: []string{"limbs!H2 date-before-birth value set aside"}, says: "E2"},
		{name: "delivered before birth", damage: func(s map[string]sheetRows) { put(s, "limbs", "E3", 2030) },
			want: []string{"limbs!E3 date-after-end value set aside"}},
		{name: "seen after death", damage: func(s map[string]sheetRows) { put(s, "limbs", "G2", "2024-03-01") },
			want: []string{"limbs!G2 date-after-death value set aside"}, says: "visits!C3"},
		{name: "ended before delivered", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "G2", "2024-01-15")
			s["visits"] = s["visits"][:1]
			s["findings"] = s["findings"][:1]
			put(s, "sockets", "I3", "")
		}, want: []string{"sockets!G2 ended-before-delivered row set aside"}, says: "F2"},
		{name: "remake decided before delivery", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "J1", "remake_decided")
			put(s, "sockets", "J2", "2024-01-15")
		}, want: []string{"sockets!J2 negative-life value set aside"}},
		{name: "replaced by an earlier socket", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "I3", "")
			put(s, "sockets", "I2", "S2")
		}, want: []string{"sockets!I2 negative-life value set aside"}},
		{name: "cast after delivery", damage: func(s map[string]sheetRows) { put(s, "sockets", "E2", "2024-02-20") },
			want: []string{"sockets!E2 dates-out-of-order value set aside"}},
		{name: "delivered before the amputation", damage: func(s map[string]sheetRows) {
			put(s, "limbs", "H1", "amputated")
			put(s, "limbs", "H2", "2024-06-01")
		}, want: []string{"limbs!H2 dates-out-of-order value set aside"}},
		{name: "reason without a date", damage: func(s map[string]sheetRows) { put(s, "sockets", "G2", "") },
			want: []string{"sockets!H2 reason-without-date kept"}},
		{name: "comfort outside 0 to 10", damage: func(s map[string]sheetRows) { put(s, "visits", "F2", 11) },
			want: []string{"visits!F2 comfort-range value set aside"}},
		{name: "comfort out of ten", damage: func(s map[string]sheetRows) { put(s, "visits", "F2", "7/10") }},
		{name: "comfort turned into a date", damage: func(s map[string]sheetRows) { put(s, "visits", "F2", date(2024, 10, 7)) },
			want: []string{"visits!F2 comfort-as-date kept"}, says: "read back as 7"},
		{name: "comfort is text", damage: func(s map[string]sheetRows) { put(s, "visits", "F2", "good") },
			want: []string{"visits!F2 bad-number value set aside"}},
		{name: "implausible girth", damage: func(s map[string]sheetRows) { put(s, "stations", "E2", 32.5) },
			want: []string{"stations!E2 implausible-value row set aside"}, says: "is it in cm"},
		{name: "implausible girth of 3.2 mm", damage: func(s map[string]sheetRows) { put(s, "stations", "E2", 3.2) },
			want: []string{"stations!E2 implausible-value row set aside"}, says: "is it in inches?"},
		{name: "oven in Fahrenheit", damage: func(s map[string]sheetRows) { put(s, "forming", "E2", 400) },
			want: []string{"forming!E2 implausible-value value set aside"}, says: "degrees Fahrenheit"},
		{name: "bad number", damage: func(s map[string]sheetRows) { put(s, "visits", "G2", "most of the day") },
			want: []string{"visits!G2 bad-number value set aside"}},
		{name: "about and bounds", damage: func(s map[string]sheetRows) { put(s, "visits", "G2", "~8"); put(s, "visits", "G3", ">10") },
			want: []string{"visits!G2 approximate-number kept", "visits!G3 approximate-number kept"}},
		{name: "unit in the cell", damage: func(s map[string]sheetRows) {
			put(s, "stations", "E1", "Limb (cm)")
			put(s, "stations", "E2", "32,5 cm")
			put(s, "stations", "E3", 31.8)
		}},
		{name: "header and cell disagree on the unit", damage: func(s map[string]sheetRows) { put(s, "stations", "E2", "32.5 cm") },
			want: []string{"stations!E2 unit-clash kept"}, says: "the cell was believed"},
		{name: "unit of another quantity", damage: func(s map[string]sheetRows) { put(s, "stations", "E2", "32.5 kg") },
			want: []string{"stations!E2 bad-unit row set aside"}},
		{name: "unit of another quantity in the header", damage: func(s map[string]sheetRows) {
			put(s, "visits", "G1", "hours (kg)")
		}, want: []string{"visits!G1 bad-unit kept"}},
		{name: "thousands separator", damage: func(s map[string]sheetRows) { put(s, "stations", "E2", "1,100") },
			want: []string{"stations!E2 thousands-separator kept"}},
		{name: "unknown word", damage: func(s map[string]sheetRows) { put(s, "limbs", "D2", "BX") },
			want: []string{"limbs!D2 unknown-word row set aside", "sockets!B2 reference-set-aside row set aside", "sockets!B3 reference-set-aside row set aside",
				"stations!A2 reference-set-aside row set aside", "stations!A3 reference-set-aside row set aside",
				"visits!B2 reference-set-aside row set aside", "visits!B3 reference-set-aside row set aside", "findings!A2 reference-set-aside row set aside"}},
		{name: "spelling one letter off", damage: func(s map[string]sheetRows) { put(s, "limbs", "D2", "transtibal") },
			want: []string{"limbs!D2 spelling kept"}},
		{name: "nearest word named", damage: func(s map[string]sheetRows) { put(s, "sockets", "H2", "vlume lss") },
			want: []string{"sockets!H2 unknown-word value set aside"}, says: `is it "remake: volume loss"?`},
		{name: "word that could mean something else", damage: func(s map[string]sheetRows) { put(s, "sockets", "H2", "too loose") },
			want: []string{"sockets!H2 doubtful-word kept"}},
		{name: "two reasons in one cell", damage: func(s map[string]sheetRows) { put(s, "sockets", "H2", "volume loss, pain") },
			want: []string{"sockets!H2 several-words kept"}},
		{name: "both sides in one row", damage: func(s map[string]sheetRows) {
			add(s, "limbs", "P3", "", "bilateral", "BK", 1950, "M", "")
		}, want: []string{"limbs!C4 unknown-word row set aside"}, says: "one row for each limb"},
		{name: "redness with its fading time", damage: func(s map[string]sheetRows) {
			put(s, "findings", "C2", "redness")
			put(s, "findings", "E2", 20)
		}, want: []string{"findings!C2 doubtful-word kept"}, says: "redness persisting"},
		{name: "missing required value", damage: func(s map[string]sheetRows) { put(s, "sockets", "C4", "") },
			want: []string{"sockets!C4 missing-value row set aside", "visits!B4 reference-set-aside row set aside", "forming!A2 reference-set-aside row set aside"}},
		{name: "missing required column", damage: func(s map[string]sheetRows) { put(s, "forming", "B1", "when") },
			want: []string{"forming!A1 missing-column kept", "forming!A2 missing-value row set aside"}},
		{name: "visit of an unknown socket", damage: func(s map[string]sheetRows) { put(s, "visits", "B2", "S9") },
			want: []string{"visits!B2 unknown-socket row set aside", "findings!A2 reference-set-aside row set aside"}},
		{name: "socket of an unknown limb", damage: func(s map[string]sheetRows) { put(s, "sockets", "B4", "P9-R") },
			want: []string{"sockets!B4 unknown-limb row set aside", "visits!B4 reference-set-aside row set aside", "forming!A2 reference-set-aside row set aside"}},
		{name: "finding of an unknown visit", damage: func(s map[string]sheetRows) { put(s, "findings", "A2", "V99") },
			want: []string{"findings!A2 unknown-visit row set aside"}},
		{name: "station of an unknown limb", damage: func(s map[string]sheetRows) { put(s, "stations", "A2", "PX-L") },
			want: []string{"stations!A2 unknown-limb row set aside"}},
		{name: "station of an unknown socket", damage: func(s map[string]sheetRows) { put(s, "stations", "F1", "socket"); put(s, "stations", "F2", "S77") },
			want: []string{"stations!F2 unknown-socket value set aside"}},
		{name: "station with the socket of another limb", damage: func(s map[string]sheetRows) { put(s, "stations", "F1", "socket"); put(s, "stations", "F2", "S3") },
			want: []string{"stations!F2 socket-of-other-limb value set aside"}},
		{name: "replaces an unknown socket", damage: func(s map[string]sheetRows) { put(s, "sockets", "I3", "S44") },
			want: []string{"sockets!I3 unknown-replaced-socket value set aside"}},
		{name: "replaces itself", damage: func(s map[string]sheetRows) { put(s, "sockets", "I3", "S2") },
			want: []string{"sockets!I3 replaces-itself value set aside"}},
		{name: "replaces a socket of another limb", damage: func(s map[string]sheetRows) { put(s, "sockets", "I4", "S1") },
			want: []string{"sockets!I4 replaces-other-limb value set aside"}},
		{name: "identifier in other spelling", damage: func(s map[string]sheetRows) { put(s, "visits", "B2", "s-1") },
			want: []string{"visits!B2 identifier-spelling kept"}},
		{name: "other spelling throughout is reported once", damage: func(s map[string]sheetRows) { put(s, "visits", "B2", "s-1"); put(s, "visits", "B3", "s-1") },
			want: []string{"visits!B2 identifier-spelling kept"}, says: "1 further cell"},
		{name: "limb named by its person", damage: func(s map[string]sheetRows) { put(s, "sockets", "B4", "P2") },
			want: []string{"sockets!B4 identifier-spelling kept"}},
		{name: "leading zero lost", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "A4", "003")
			put(s, "visits", "B4", 3)
			put(s, "forming", "A2", "003")
		}, want: []string{"visits!B4 unknown-socket row set aside"}, says: `is it "003"?`},
		{name: "duplicate row", damage: func(s map[string]sheetRows) { add(s, "visits", s["visits"][1]...) },
			want: []string{"visits!A5 duplicate-row row set aside"}, says: "A2"},
		{name: "same identifier with other values", damage: func(s map[string]sheetRows) {
			add(s, "visits", "V1", "S1", "2024-02-02", "delivery", "3", 7, 8, "yes", "none")
		}, want: []string{"visits!A5 same-identifier row set aside"}, says: "A2"},
		{name: "same station measured again is kept", damage: func(s map[string]sheetRows) {
			add(s, "stations", "P1-L", "2024-01-05", "mid-patellar tendon", 0, 327)
		}},
		{name: "two open everyday sockets", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "G2", "")
			put(s, "sockets", "H2", "")
			put(s, "sockets", "I3", "")
		}, want: []string{"sockets!G2 two-open-everyday kept"}, says: "F3"},
		{name: "later socket without an ending of the earlier", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "G2", "")
			put(s, "sockets", "H2", "")
			put(s, "sockets", "I3", "")
			put(s, "sockets", "D2", "")
		}, want: []string{"sockets!G2 no-ending kept"}},
		{name: "spare beside the everyday socket", damage: func(s map[string]sheetRows) {
			put(s, "sockets", "G2", "")
			put(s, "sockets", "H2", "")
			put(s, "sockets", "I3", "")
			put(s, "sockets", "D3", "spare")
		}},
		{name: "person died with an open socket", damage: func(s map[string]sheetRows) { put(s, "limbs", "G2", "2024-09-01") },
			want: []string{"sockets!G3 open-at-death kept"}, says: "ends at death"},
		{name: "ply range", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", "3-5") },
			want: []string{"visits!E2 ply-range kept"}},
		{name: "ply morning and evening", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", "am 3 / pm 8") },
			want: []string{"visits!E2 ply-morning-evening kept"}},
		{name: "ply turned into a date", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", date(2024, 3, 5)) },
			want: []string{"visits!E2 ply-as-date kept"}, says: "3-5"},
		{name: "ply turned into month and year", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", 41275) },
			book: func(f *excelize.File) {
				id, _ := f.NewStyle(&excelize.Style{NumFmt: 17})
				f.SetCellStyle("visits", "E2", "E2", id)
			}, want: []string{"visits!E2 bad-ply value set aside"}, says: "of which no ply can be told"},
		{name: "ply that is none", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", "lots") },
			want: []string{"visits!E2 bad-ply value set aside"}},
		{name: "number of socks", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", "3 socks") },
			want: []string{"visits!E2 bad-ply value set aside"}, says: "not their ply"},
		{name: "about ply", damage: func(s map[string]sheetRows) { put(s, "visits", "E2", ">15") },
			want: []string{"visits!E2 ply-approximate kept"}},
		{name: "hidden rows", damage: func(s map[string]sheetRows) {}, book: func(f *excelize.File) {
			f.SetRowVisible("visits", 3, false)
			f.SetRowVisible("visits", 4, false)
		}, want: []string{"visits!A3 hidden-rows kept"}, says: "rows 3 to 4"},
		{name: "hidden column and sheet", damage: func(s map[string]sheetRows) {}, book: func(f *excelize.File) {
			f.SetColVisible("stations", "C", false)
			f.SetSheetVisible("forming", false)
		}, want: []string{"stations!C1 hidden-column kept", "forming! hidden-sheet kept"}},
		{name: "merged cells", damage: func(s map[string]sheetRows) { put(s, "stations", "B3", "") }, book: func(f *excelize.File) {
			f.MergeCell("stations", "B2", "B3")
		}, want: []string{"stations!B2 merged-cells kept"}, says: "B2 to B3"},
		{name: "limbs of one person disagree", damage: func(s map[string]sheetRows) {
			add(s, "limbs", "P1", "P1-R", "right", "BK", 1961, "M", "")
		}, want: []string{"limbs!E4 conflicting-person value set aside"}, says: "E2"},
		{name: "one person in two spellings", damage: func(s map[string]sheetRows) {
			add(s, "limbs", "p1", "", "right", "BK", 1960, "M", "")
		}, want: []string{"limbs!A4 identifier-spelling kept"}},
		{name: "header twice", damage: func(s map[string]sheetRows) { put(s, "visits", "J1", "PLY"); put(s, "visits", "J2", "4") },
			want: []string{"visits!J1 duplicate-header kept"}},
		{name: "values without a header", damage: func(s map[string]sheetRows) { put(s, "visits", "J3", "note") },
			want: []string{"visits!J1 no-header kept"}},
		{name: "title above the header", damage: func(s map[string]sheetRows) {
			s["forming"] = append(sheetRows{{"Forming log 2024"}, {}}, s["forming"]...)
		}, want: []string{"forming!A1 rows-above-header kept"}, says: "row 3"},
		{name: "identifier turned into a date", damage: func(s map[string]sheetRows) { put(s, "findings", "A2", date(2024, 5, 3)) },
			want: []string{"findings!A2 damaged-identifier row set aside"}},
		{name: "identifier stored as a long number", damage: func(s map[string]sheetRows) {
			put(s, "visits", "A4", 12345678901234567.0)
		}, want: []string{"visits!A4 damaged-identifier value set aside"}},
		{name: "bad time", damage: func(s map[string]sheetRows) { put(s, "visits", "J1", "time"); put(s, "visits", "J2", "noonish") },
			want: []string{"visits!J2 bad-time value set aside"}},
		{name: "none beside a finding", damage: func(s map[string]sheetRows) { add(s, "findings", "V1", "", "none") },
			want: []string{"findings!C3 none-with-finding kept"}},
		{name: "finding with skin not checked", damage: func(s map[string]sheetRows) { put(s, "visits", "H2", "no") },
			want: []string{"findings!C2 finding-unchecked kept"}},
		{name: "stray text in an own column of numbers", damage: func(s map[string]sheetRows) {
			put(s, "stations", "F1", "room")
			for i := range 11 {
				add(s, "stations", "P1-L", "2024-06-01", "mid-patellar tendon", 10*i, 320-i, 20+i)
			}
			put(s, "stations", "F5", "warm")
		}, want: []string{"stations!F5 mixed-column value set aside"}},
		{name: "missing table", damage: func(s map[string]sheetRows) {
			delete(s, "limbs")
			s["sockets"] = s["sockets"][:2]
			delete(s, "stations")
		},
			want: []string{"! missing-table kept", "sockets!B2 unknown-limb row set aside", "visits!B2 reference-set-aside row set aside", "visits!B3 reference-set-aside row set aside",
				"visits!B4 unknown-socket row set aside", "findings!A2 reference-set-aside row set aside", "forming!A2 unknown-socket row set aside"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sheets := smallLog()
			tt.damage(sheets)
			log := read(t, tt.opts, writeBook(t, sheets, tt.book))
			if diff := cmp.Diff(tt.want, found(log)); diff != "" {
				t.Errorf("problems (-want +got):\n%s", diff)
				for _, p := range log.Problems {
					t.Logf("%s %s %s", p.Cell, p.Code, p.Text)
				}
			}
			if tt.says != "" && (len(log.Problems) == 0 || !strings.Contains(log.Problems[0].Text, tt.says)) {
				for _, p := range log.Problems {
					t.Errorf("%q does not say %q", p.Text, tt.says)
				}
			}
		})
	}
}

// Sockets called after their people, by the lab or by an intake, are not named
// in the sentences of problems of other rows.
func TestProblemsNameNoSocketOfAPerson(t *testing.T) {
	plain := []string{
		writeText(t, "limbs.csv", "person,side,level\nWenda Orrick,left,BK\nTolly Marsk,right,BK\n"),
		writeText(t, "sockets.csv", "socket,limb,kind,use,delivered,replaces\nWenda Orrick,Wenda Orrick,def,everyday,2024-01-03,\nTolly Marsk,Tolly Marsk,def,everyday,2024-01-04,Wenda Orrick\n"+
			"Wenda Orrick 2,Wenda Orrick,def,everyday,2024-06-04,Wenda Orrick 3\nWenda Orrick 3,Wenda Orrick,def,everyday,2024-09-04,\n"),
		writeText(t, "stations.csv", "limb,date,landmark,station_mm,limb_mm,socket\nTolly Marsk,2024-02-03,MPT,0,320,Wenda Orrick 2\n"),
	}
	it, err := ParseIntake("intake.yaml", []byte("sheets:\n  - sheet: wide\n    header: 1\n    limbs: {person: Name, side: Side, level: Level}\n    sockets: {kind: Type, use: Use, delivered: Fitted}\n"))
	if err != nil {
		t.Fatal(err)
	}
	wide := writeText(t, "wide.csv", "Name,Side,Level,Type,Use,Fitted\nWenda Orrick,L,BK,def,everyday,2024-01-03\nWenda Orrick,L,BK,def,everyday,2024-06-03\n")
	for _, c := range []struct {
		log  *Log
		want []string
	}{
		{read(t, Options{}, plain...), []string{"another socket belongs to another limb (A2)", "another socket was delivered later", "another socket belongs to another limb;", "another socket (E"}},
		{readIntake(t, it, wide), []string{"another socket (F3) is an everyday socket"}},
	} {
		text := ""
		for _, p := range c.log.Problems {
			text += p.String() + "\n" + p.Found + "\n"
		}
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("lacks %q:\n%s", want, text)
			}
		}
		for _, name := range []string{"Wenda", "Orrick", "Tolly", "Marsk"} {
			if strings.Contains(text, name) {
				t.Errorf("%s is named:\n%s", name, text)
			}
		}
	}
}

func readIntake(t testing.TB, it *Intake, path string) *Log {
	t.Helper()
	log, err := Read(context.Background(), []string{path}, Options{Intake: it})
	if err != nil {
		t.Fatal(err)
	}
	return log
}
