package ingest

import (
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// TestOrderOfAColumn reads whole columns: the order of day, month and year
// comes from all values, and what stays open is a question, never a guess row
// by row.
func TestOrderOfAColumn(t *testing.T) {
	tests := []struct {
		name   string
		header string
		dates  []string
		want   []string // a day, or the code of the problem that sets the row aside
	}{
		{"a day above 12 decides for all", "date", []string{"05/03/2024", "25/03/2024", "04/06/2024"}, []string{"2024-03-05", "2024-03-25", "2024-06-04"}},
		{"a month-first column", "date", []string{"03/05/2024", "03/25/2024"}, []string{"2024-03-05", "2024-03-25"}},
		{"nothing decides", "date", []string{"05/03/2024", "04/06/2024"}, []string{CodeAmbiguousDate, CodeAmbiguousDate}},
		{"nothing decides but the header", "Date (dd/mm/yyyy)", []string{"05/03/2024", "04/06/2024"}, []string{"2024-03-05", "2024-06-04"}},
		{"both orders", "date", []string{"25/03/2024", "03/26/2024", "05/03/2024"}, []string{"2024-03-25", "2024-03-26", CodeAmbiguousDate}},
		{"dots are day first", "date", []string{"12.3.24", "5.6.24"}, []string{"2024-03-12", "2024-06-05"}},
		{"two-digit years", "date", []string{"25/3/24", "5/6/24", "7/8/'24"}, []string{"2024-03-25", "2024-06-05", "2024-08-07"}},
		{"year first", "date", []string{"2024/03/05", "2024.6.4", "20240801"}, []string{"2024-03-05", "2024-06-04", "2024-08-01"}},
		{"two digits, year first or last", "date", []string{"23-03-05", "24-04-28", "24-07-14", "23-11-02"}, []string{CodeAmbiguousDate, CodeAmbiguousDate, CodeAmbiguousDate, CodeAmbiguousDate}},
		{"two digits, and the header says", "date (yy-mm-dd)", []string{"23-03-05", "24-04-28", "24-07-14", "23-11-02"}, []string{"2023-03-05", "2024-04-28", "2024-07-14", "2023-11-02"}},
		{"days of one week are no years", "date", []string{"23/03/24", "24/03/24", "25/03/24", "26/03/24"}, []string{"2024-03-23", "2024-03-24", "2024-03-25", "2024-03-26"}},
		{"no day, or no year", "date", []string{"March 24", "5 March", "March 2024", "5 March 2024"}, []string{CodeBadDate, CodeBadDate, CodeBadDate, "2024-03-05"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sheets := smallLog()
			sheets["visits"] = sheetRows{{"visit", "socket", tt.header}}
			for i, d := range tt.dates {
				sheets["visits"] = append(sheets["visits"], []any{"V" + columnName(i), "S3", d})
			}
			delete(sheets, "findings")
			log := read(t, Options{}, writeBook(t, sheets, nil))
			byRow := map[int]string{}
			for _, v := range log.Visits {
				byRow[v.Place.Row] = v.Date.String()
			}
			for _, p := range log.Problems {
				if p.Tab == "visits" && p.Done == RowSetAside {
					byRow[p.Row] = p.Code
				}
			}
			for i, want := range tt.want {
				got := byRow[i+2]
				if got == CodeDecadesOutside || got == CodeAfterEnd {
					t.Errorf("%q fell out of the log's time", tt.dates[i])
				}
				if got != want {
					t.Errorf("%q: got %s, want %s", tt.dates[i], got, want)
				}
			}
		})
	}
}

func TestDecideOrder(t *testing.T) {
	for _, tt := range []struct {
		texts string
		want  dateOrder
	}{
		{"99-12-31 00-01-15 01-02-03", orderYearFirst},
		{"99-12-31 05-03-98", orderUnknown}, // one of each: the plain orders decide, and one value is set aside
		{"12.03.2024 13.03.2024", orderDayFirst},
		{"01/02/2024 02/03/2024", orderUnknown},
		{"01/13/2024 02/03/2024", orderMonthFirst},
		{"13/01/2024 01/13/2024", orderMixed},
		{"15/03/24 25/04/23 19/06/22 18/07/24", orderDayFirst},
		{"21-03-05 22-04-19 23-06-30 24-07-14", orderYearAsked},
		{"2024-03-05", orderUnknown},
	} {
		var reads []dateRead
		for _, s := range strings.Fields(tt.texts) {
			r, err := readDate(s)
			if err != nil {
				t.Errorf("%s: %v", s, err)
			}
			reads = append(reads, r)
		}
		if got := decideOrder(reads); got != tt.want {
			t.Errorf("%s: got %d, want %d", tt.texts, got, tt.want)
		}
	}
}

// TestTimeOfDayStandsApart: a time of day in the date's cell becomes the
// visit's time and never a part of the date.
func TestTimeOfDayStandsApart(t *testing.T) {
	sheets := smallLog()
	sheets["visits"] = sheetRows{{"visit", "socket", "date", "time"},
		{"V1", "S3", "2024-03-08 14:30"}, {"V2", "S3", 45359.75}, {"V3", "S3", "9 Mar 2024 9:15 am", "09:15"}, {"V4", "S3", "2024-03-10 10:00", "11:00"}, {"V5", "S3", "2024-03-11 00:00:00"}}
	delete(sheets, "findings")
	book := writeBook(t, sheets, func(f *excelize.File) {
		format := "yyyy-mm-dd hh:mm"
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellStyle("visits", "C3", "C3", style); err != nil {
			t.Fatal(err)
		}
	})
	log := read(t, Options{}, book)
	want := []struct {
		date   string
		minute Opt[int]
	}{{"2024-03-08", Some(870)}, {"2024-03-08", Some(1080)}, {"2024-03-09", Some(555)}, {"2024-03-10", Some(660)}, {"2024-03-11", Opt[int]{}}}
	if len(log.Visits) != len(want) {
		t.Fatalf("%d visits: %v", len(log.Visits), found(log))
	}
	for i, v := range log.Visits {
		if v.Date.String() != want[i].date || v.Minute != want[i].minute {
			t.Errorf("row %d: %s %v, want %s %v", i+2, v.Date, v.Minute, want[i].date, want[i].minute)
		}
	}
	if ps := problemsOf(log, CodeTwoTimes); len(ps) != 1 || ps[0].Cell != "D5" {
		t.Errorf("two times: %v", ps)
	}
}

func TestAmputationOfAMonth(t *testing.T) {
	sheets := smallLog()
	sheets["limbs"] = sheetRows{{"person", "limb", "side", "level", "amputated"}, {"P1", "P1-L", "left", "BK", "March 22"}, {"P2", "P2-R", "right", "AK", "2019"}}
	log := read(t, Options{}, writeBook(t, sheets, nil))
	for i, want := range []string{"2022-03-15", "2019-07-01"} {
		if got := log.Limbs[i].Amputated; !got.OK || got.Value.String() != want {
			t.Errorf("limb %d: %v, want %s", i, got, want)
		}
	}
	if ps := problemsOf(log, CodeApproximateDate); len(ps) != 2 {
		t.Errorf("%v", ps)
	}
}

func TestUnitsOfAColumn(t *testing.T) {
	girths := func(header string, values ...any) *Log {
		sheets := smallLog()
		sheets["stations"] = sheetRows{{"limb", "date", "landmark", "station_mm", header}}
		for i, v := range values {
			sheets["stations"] = append(sheets["stations"], []any{"P1-L", "2024-01-05", "patella", i * 10, v})
		}
		return read(t, Options{}, writeBook(t, sheets, nil))
	}
	t.Run("some cells name a unit", func(t *testing.T) {
		log := girths("Girth", 1)
		if len(log.Stations) != 0 {
			t.Error("a header of no field was read as a girth")
		}
		sheets := smallLog()
		sheets["stations"] = sheetRows{{"limb", "date", "landmark", "station_mm", "target"}}
		for i, v := range []any{325, "31,5 cm", "30 cm", 290} {
			sheets["stations"] = append(sheets["stations"], []any{"P1-L", "2024-01-05", "patella", i * 10, v})
		}
		sheets["stations"][0] = append(sheets["stations"][0], "limb_mm")
		for i := range 4 {
			sheets["stations"][i+1] = append(sheets["stations"][i+1], 320)
		}
		log = read(t, Options{}, writeBook(t, sheets, nil))
		ps := problemsOf(log, CodeMixedUnits)
		if len(ps) != 1 || ps[0].Cell != "E2" || !strings.Contains(ps[0].Text, "cm in 2 cells) and none in 2 cells") {
			t.Errorf("%+v", ps)
		}
		for i, want := range []float64{325, 315, 300, 290} {
			if got := log.Stations[i].TargetMM; got != Some(want) {
				t.Errorf("row %d: %v, want %g", i+2, got, want)
			}
		}
	})
	t.Run("centimetres in a column of millimetres", func(t *testing.T) {
		log := girths("limb_mm", 520, 510, 65, 480, 500, 470)
		ps := problemsOf(log, CodeUnitSuspected)
		if len(ps) != 1 || ps[0].Cell != "E4" || ps[0].Done != Kept {
			t.Fatalf("%+v", found(log))
		}
		if log.Stations[2].LimbMM != 65 {
			t.Errorf("the value was changed to %g", log.Stations[2].LimbMM)
		}
	})
	t.Run("an impossible value names the unit it would fit", func(t *testing.T) {
		log := girths("limb_mm", 320, 32)
		ps := problemsOf(log, CodeImplausible)
		if len(ps) != 1 || !strings.Contains(ps[0].Text, "is it in cm") || len(log.Stations) != 1 {
			t.Errorf("%v", ps)
		}
	})
	t.Run("a column of one unit says nothing", func(t *testing.T) {
		log := girths("limb_mm", 320, 310, 300, 290, 280)
		if ps := append(problemsOf(log, CodeUnitSuspected), problemsOf(log, CodeMixedUnits)...); len(ps) != 0 {
			t.Errorf("%v", ps)
		}
	})
}

// TestPlyThatBecameADate: however a spreadsheet stores or shows it.
func TestPlyThatBecameADate(t *testing.T) {
	for _, tt := range []struct {
		name   string
		value  any
		format string
	}{
		{"5 March shown as a date", 45356, "dd/mm/yyyy"},
		{"3 May shown as a date", 45415, "d-mmm"},
		{"the day number alone", 45356, ""},
		{"text of a date", "05/03/2024", ""},
		{"text of day and month", "5-Mar", ""},
		{"text of month and day", "Mar-05", ""},
		{"5 March shown as its month", 45356, "mmm-yy"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			sheets := smallLog()
			sheets["visits"] = sheetRows{{"visit", "socket", "date", "ply"}, {"V1", "S3", "2024-03-08", tt.value}}
			delete(sheets, "findings")
			book := writeBook(t, sheets, func(f *excelize.File) {
				if tt.format == "" {
					return
				}
				style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &tt.format})
				if err != nil {
					t.Fatal(err)
				}
				if err := f.SetCellStyle("visits", "D2", "D2", style); err != nil {
					t.Fatal(err)
				}
			})
			log := read(t, Options{}, book)
			if ps := problemsOf(log, CodePlyDate); len(ps) != 1 || len(log.Visits) != 1 || log.Visits[0].Ply.Value.Total != 4 {
				t.Errorf("%v %+v", found(log), log.Visits)
			}
		})
	}
}

func TestMonthShownAlone(t *testing.T) {
	sheets := smallLog()
	sheets["visits"] = sheetRows{{"visit", "socket", "date"}, {"V1", "S3", 45352}, {"V2", "S3", 45356}}
	delete(sheets, "findings")
	format := "mmm-yy"
	book := writeBook(t, sheets, func(f *excelize.File) {
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellStyle("visits", "C2", "C3", style); err != nil {
			t.Fatal(err)
		}
	})
	log := read(t, Options{}, book)
	if ps := problemsOf(log, CodeApproximateDate); len(ps) != 1 || ps[0].Cell != "C2" || len(log.Visits) != 2 {
		t.Errorf("%v", found(log))
	}
}

// A year typed into a cell formatted as a date is a day of 1905 to the
// spreadsheet.
func TestYearFormattedAsDate(t *testing.T) {
	sheets := smallLog()
	format := "dd/mm/yyyy"
	book := writeBook(t, sheets, func(f *excelize.File) {
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellStyle("limbs", "E2", "E2", style); err != nil {
			t.Fatal(err)
		}
	})
	log := read(t, Options{}, book)
	if ps := problemsOf(log, CodeNumberDate); len(ps) != 1 || ps[0].Cell != "E2" || log.Limbs[0].Born != Some(1960) {
		t.Errorf("%v %v", found(log), log.Limbs[0].Born)
	}
}
