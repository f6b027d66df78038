package ingest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// A month, or a day that no range of ply reaches, is not read as a ply: Mar-24
// is not 3 to 24.
func TestMonthsAreNoPly(t *testing.T) {
	for _, tt := range []struct {
		name   string
		value  any
		format string
	}{
		{"March 2024 shown as Mar-24", 45352, "mmm-yy"},
		{"May 2003 shown as May-03", 37742, "mmm-yy"},
		{"text of a month", "Mar-24", ""},
		{"24 March shown as 24-Mar", 45375, "d-mmm"},
		{"text of a day", "24-Mar", ""},
		{"the day number alone", 45375, ""},
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
			if ps := problemsOf(log, CodeBadPly); len(ps) != 1 || ps[0].Done != ValueSetAside || len(log.Visits) != 1 || log.Visits[0].Ply.OK {
				t.Errorf("%v %+v", found(log), log.Visits)
			}
		})
	}
}

// Fractions as they are typed, pasted and put together from raised figures.
func TestFractionsOfEveryForm(t *testing.T) {
	for text, want := range map[string]float64{
		"12 7\u20448\"":            12.875, // fraction slash
		"12 7\u22158\"":            12.875, // division slash
		"12\u2077\u2044\u2088\"":   12.875, // raised and lowered figures
		"12 \u2077\u2044\u2088 in": 12.875,
		"12\u215e\"":               12.875,
		"10\u2153":                 10 + 1.0/3,
		"\u2154":                   2.0 / 3,
		"12-7\u20448":              12.875,
	} {
		if n, err := parseNumber(text, false); err != nil || n.value != want {
			t.Errorf("%q: %v (%v), want %v", text, n.value, err, want)
		}
	}
	for text, want := range map[string]float64{"1½": 1.5, "1½ ply": 1.5, "1 1/2 ply": 1.5, "5+1½": 6.5, "1\u00b9\u2044\u2082 ply": 1.5, "~2½": 2.5} {
		if p, _, err := parsePly(text); err != nil || p.Total != want || p.HalfSock {
			t.Errorf("%q: %+v (%v), want %v", text, p, err, want)
		}
	}
	// Half a sock is no half ply.
	for _, text := range []string{"1 + ½ sock", "1 and 1/2 sock"} {
		if p, _, err := parsePly(text); err != nil || p.Total != 1 || !p.HalfSock {
			t.Errorf("%q: %+v (%v)", text, p, err)
		}
	}
}

func TestWordsBehindAScore(t *testing.T) {
	sheets := smallLog()
	rows := sheetRows{{"visit", "socket", "date", "comfort"}}
	texts := []string{"7/10 better", "7/10 (sore at the end)", "7 out of 10, wife agrees", "8/10", "7/10 was 5", "12/10 good", "better 7/10", "7/100 x"}
	for i, text := range texts {
		rows = append(rows, []any{fmt.Sprintf("V%d", i), "S1", fmt.Sprintf("2024-03-%02d", 1+i), text})
	}
	sheets["visits"] = rows
	delete(sheets, "findings")
	log := read(t, Options{}, writeBook(t, sheets, nil))
	var got []string
	for _, v := range log.Visits {
		if v.Comfort.OK {
			got = append(got, plain(v.Comfort.Value))
		} else {
			got = append(got, "-")
		}
	}
	if strings.Join(got, " ") != "7 7 7 8 - - - -" {
		t.Errorf("comfort %v", got)
	}
	if ps := problemsOf(log, CodeScoreWords); len(ps) != 3 || ps[0].Done != Kept || strings.Contains(ps[0].Text, "better") || !strings.Contains(ps[0].Text, "read as 7") {
		t.Errorf("%v", ps)
	}
	if ps := problemsOf(log, CodeComfortRange); len(ps) != 1 || ps[0].Cell != "D7" {
		t.Errorf("%v", found(log))
	}
}

func TestRepeatsThatLieFarApart(t *testing.T) {
	head := "limb,date,landmark,station_mm,limb_mm,over,minutes_off,measured_by\n"
	base := "P1-L,2024-01-05,MPT,50,318,skin,5,LM\n"
	for _, c := range []struct {
		name, row string
		said      string
	}{
		{"10 mm apart", "P1-L,2024-01-05,MPT,50,308,skin,5,LM\n", "by the same person in E2 too, and the two differ by 10 mm"},
		{"another spelling of the point", "P1-L,2024-01-05,mid-patellar tendon,50,338,skin,5,LM\n", "differ by 20 mm"},
		{"9.9 mm apart", "P1-L,2024-01-05,MPT,50,308.1,skin,5,LM\n", ""},
		{"another person", "P1-L,2024-01-05,MPT,50,338,skin,5,JB\n", ""},
		{"another day", "P1-L,2024-01-06,MPT,50,338,skin,5,LM\n", ""},
		{"another layer", "P1-L,2024-01-05,MPT,50,338,liner,5,LM\n", ""},
		{"longer out of the socket", "P1-L,2024-01-05,MPT,50,338,skin,20,LM\n", ""},
		{"another point", "P1-L,2024-01-05,MPT,60,338,skin,5,LM\n", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			limbs := writeText(t, "limbs.csv", "person,limb,side,level\nP1,P1-L,L,BK\n")
			log := read(t, Options{}, limbs, writeText(t, "stations.csv", head+base+c.row))
			ps := problemsOf(log, CodeRepeatsApart)
			if c.said == "" && len(ps) > 0 || c.said != "" && (len(ps) != 1 || ps[0].Done != Kept || ps[0].Cell != "E3" || !strings.Contains(ps[0].Text, c.said)) {
				t.Errorf("%v", ps)
			}
			if len(log.Stations) != 2 {
				t.Errorf("%d stations are kept", len(log.Stations))
			}
		})
	}
	limbs := writeText(t, "limbs.csv", "person,limb,side,level\nP1,P1-L,L,BK\n")
	log := read(t, Options{}, limbs, writeText(t, "stations.csv", "limb,date,landmark,station_mm,limb_mm\nP1-L,2024-01-05,MPT,50,318\nP1-L,2024-01-05,MPT,50,340\n"))
	if ps := problemsOf(log, CodeRepeatsApart); len(ps) != 1 || strings.Contains(ps[0].Text, "same person") {
		t.Errorf("where nobody is named: %v", ps)
	}
}

// A log of a few rows has a span too: what lies decades from all else in it is
// set aside, and nothing where there is nothing to compare with.
func TestFarDatesOfSmallLogs(t *testing.T) {
	today := Some(Date(19900)) // 2024-06-26
	for _, c := range []struct {
		name, delivered, ended, visit string
		today                         Opt[Date]
		aside                         string
	}{
		{"an end in another century", "2024-01-05", "2124-03-01", "2024-02-01", Opt[Date]{}, "sockets!ended"},
		{"a visit a century early", "2024-01-05", "2024-03-01", "1924-02-01", Opt[Date]{}, "visits!date"},
		{"one of two, and a clock", "2024-01-05", "", "1924-02-01", today, "visits!date"},
		{"one of two, and no clock", "2024-01-05", "", "1924-02-01", Opt[Date]{}, ""},
		{"nothing is far", "2024-01-05", "2024-03-01", "2024-02-01", Opt[Date]{}, ""},
		{"years apart, not decades", "2010-01-05", "2024-03-01", "2011-02-01", Opt[Date]{}, ""},
		{"one date", "2024-01-05", "", "", Opt[Date]{}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := []string{
				writeText(t, "limbs.csv", "person,limb,side,level,amputated\nP1,P1-L,L,BK,1990-05-05\n"),
				writeText(t, "sockets.csv", "socket,limb,kind,delivered,ended,end_reason\nS1,P1-L,definitive,"+c.delivered+","+c.ended+",\n"),
			}
			if c.visit != "" {
				files = append(files, writeText(t, "visits.csv", "socket,date,ply\nS1,"+c.visit+",2\n"))
			}
			log := read(t, Options{Today: c.today}, files...)
			var got []string
			for _, p := range problemsOf(log, CodeDecadesOutside) {
				got = append(got, log.Sheets[p.Sheet].Table+"!"+p.Column)
			}
			if strings.Join(got, " ") != c.aside {
				t.Errorf("set aside %v, want %q: %v", got, c.aside, found(log))
			}
		})
	}
}

// Rows of sums in plain sheets are said to be that, and rows that can be used
// are used whatever they begin with.
func TestTotalsInPlainSheets(t *testing.T) {
	limbs := "person,limb,side,level\nP1,P1-L,L,BK\nTotal,1,,\n"
	sockets := "socket,limb,kind,delivered,ended\nTotal,P1-L,definitive,2024-01-05,\nS2,P1-L,definitive,2024-03-05,\nCount: 2,,,,\n"
	visits := "socket,date,ply,comfort\nS2,2024-04-01,2,7\nS2,2024-05-01,3,8\n,,,\nGRAND TOTAL,2,5,15\nMean,,2.5,7.5\nMeanwhile,,,\nTotally lost,soon,,\n"
	log := read(t, Options{}, writeText(t, "limbs.csv", limbs), writeText(t, "sockets.csv", sockets), writeText(t, "visits.csv", visits))
	checkLedger(t, log)
	var got []string
	for _, p := range problemsOf(log, CodeTotals) {
		got = append(got, log.Sheets[p.Sheet].Table+"!"+p.Cell+" "+p.Done.String()+" "+p.Text)
	}
	want := []string{
		`limbs!A3 row set aside the row begins with "Total" and sums up others; the row was set aside.`,
		`sockets!A4 row set aside the row begins with "Count" and sums up others; the row was set aside.`,
		`visits!A5 row set aside the row begins with "Grand total" and sums up others; the row was set aside.`,
		`visits!A6 row set aside the row begins with "Mean" and sums up others; the row was set aside.`,
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if len(log.Sockets) != 2 || log.Sockets[0].Socket != "Total" || len(log.Visits) != 2 {
		t.Errorf("sockets %+v, %d visits", log.Sockets, len(log.Visits))
	}
	for _, p := range log.Problems {
		if p.Code != CodeTotals && (p.Cell == "B5" || p.Cell == "A3") && p.Done == RowSetAside {
			t.Errorf("a row of totals has another problem too: %v", p)
		}
	}
	for _, w := range Wins(log) {
		if w.Code == CodeTotals {
			t.Errorf("rows of totals are to be won back: %+v", w)
		}
	}
}
