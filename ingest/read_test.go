package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// rewrite changes one part of a workbook's archive as text.
func rewrite(t testing.TB, path, part string, change func(string) string) string {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	hit := false
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == part {
			hit = true
			data = []byte(change(string(data)))
		}
		out, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := out.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if !hit {
		t.Fatalf("no part %s", part)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "changed.xlsx")
	if err := os.WriteFile(out, buf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestErrorCells(t *testing.T) {
	path := writeBook(t, smallLog(), nil)
	// visits is the fourth sheet; give F2 a failed formula and G2 a formula never calculated
	path = rewrite(t, path, "xl/worksheets/sheet4.xml", func(s string) string {
		s = strings.Replace(s, `<c r="F2"><v>7</v></c>`, `<c r="F2" t="e"><f>NA()</f><v>#N/A</v></c>`, 1)
		return strings.Replace(s, `<c r="G2"><v>8</v></c>`, `<c r="G2"><f>4+4</f></c>`, 1)
	})
	log := read(t, Options{}, path)
	want := []string{"visits!F2 formula-error value set aside", "visits!G2 formula-without-value value set aside"}
	if diff := cmp.Diff(want, found(log)); diff != "" {
		t.Error(diff)
	}
	if log.Visits[0].Comfort.OK || log.Visits[0].Hours.OK {
		t.Error("a failed formula gave a value")
	}
}

func TestDates1904(t *testing.T) {
	for _, flag := range []string{"1", "true"} {
		sheets := smallLog()
		put(sheets, "visits", "C2", 43862) // 2024-02-02 counted from 1904
		path := writeBook(t, sheets, func(f *excelize.File) {
			id, _ := f.NewStyle(&excelize.Style{NumFmt: 14})
			f.SetCellStyle("visits", "C2", "C2", id)
		})
		path = rewrite(t, path, "xl/workbook.xml", func(s string) string {
			if strings.Contains(s, "date1904=") {
				t.Fatal("the workbook has an epoch already")
			}
			return strings.Replace(s, "<workbookPr", `<workbookPr date1904="`+flag+`"`, 1)
		})
		log := read(t, Options{}, path)
		if got := log.Visits[0].Date.String(); got != "2024-02-02" {
			t.Errorf("date1904=%s: read %s", flag, got)
		}
	}
}

func TestIdentifiersStayText(t *testing.T) {
	sheets := smallLog()
	put(sheets, "sockets", "A4", "007")
	put(sheets, "visits", "B4", "007")
	put(sheets, "forming", "A2", "007")
	put(sheets, "visits", "A4", "12345678901234567")
	add(sheets, "findings", "12345678901234567", "patella", "callus", 1)
	put(sheets, "sockets", "A2", 1001)
	put(sheets, "sockets", "I3", "1001")
	put(sheets, "visits", "B2", "1001")
	put(sheets, "visits", "B3", 1001)
	log := read(t, Options{}, writeBook(t, sheets, nil))
	if got := found(log); len(got) > 0 {
		t.Errorf("problems: %v", got)
	}
	if log.Sockets[2].Socket != "007" || log.Visits[2].Socket != "007" || log.Visits[2].Visit != "12345678901234567" || log.Sockets[0].Socket != "1001" {
		t.Errorf("identifiers changed: %q %q %q %q", log.Sockets[2].Socket, log.Visits[2].Socket, log.Visits[2].Visit, log.Sockets[0].Socket)
	}
}

func TestDefaultIdentifiers(t *testing.T) {
	limbs := writeText(t, "limbs.csv", "person,side,level\nP1,L,BK\nP1,R,AK\n")
	sockets := writeText(t, "sockets.csv", "socket,limb,kind\nS1,P1-L,def\nS2,P1 right,check\n")
	visits := writeText(t, "visits.csv", "socket,date,time\nS1,2024-02-01,\nS1,2024-02-02,14:30\n")
	findings := writeText(t, "findings.csv", "visit,region,finding\nS1 2024-02-01,fib head,blister\nS1 2024-02-02 14:30,,none\n")
	log := read(t, Options{}, limbs, sockets, visits, findings)
	if log.Limbs[0].Limb != "P1-L" || log.Limbs[1].Limb != "P1-R" || log.Sockets[1].Limb != "P1-R" {
		t.Errorf("limbs %+v, sockets %+v", log.Limbs, log.Sockets)
	}
	if log.Visits[0].Visit != "S1 2024-02-01" || log.Visits[1].Visit != "S1 2024-02-02 14:30" {
		t.Errorf("visits %+v", log.Visits)
	}
	if len(log.Findings) != 2 || log.Findings[1].Region.Code != "none" {
		t.Errorf("findings %+v", log.Findings)
	}
}

func TestSemicolonMeansDecimalComma(t *testing.T) {
	limbs := writeText(t, "Limbs.csv", "\ufeffperson;side;level\r\nP1;L;BK\r\n")
	stations := writeText(t, "stations.csv", "sep=;\nlimb;date;landmark;station_mm;Limb (cm);liner colour\nP1-L;05.03.2024;Kniescheibe;0;32,5;sch\xf6n\nP1-L;25.03.2024;Kniescheibe;0;1,125;\n")
	log := read(t, Options{}, limbs, stations)
	if len(log.Stations) != 1 || log.Stations[0].LimbMM != 325 || log.Stations[0].Date.String() != "2024-03-05" {
		t.Errorf("stations %+v", log.Stations)
	}
	want := []string{"! encoding kept", "!E4 implausible-value row set aside"}
	if diff := cmp.Diff(want, found(log)); diff != "" {
		t.Error(diff)
	}
	if own := log.Own[TableStations]; own[0].Text[0] != "schön" {
		t.Errorf("own %+v", own)
	}
}

func TestSheetsOutsideTheLog(t *testing.T) {
	sheets := smallLog()
	sheets["Lunch rota"] = sheetRows{{"day", "who"}, {"Mon", "A"}}
	log := read(t, Options{}, writeBook(t, sheets, nil))
	last := log.Sheets[len(log.Sheets)-1]
	if last.Sheet != "Lunch rota" || last.Table != "" || last.Read != 0 || len(last.SHA256) != 64 {
		t.Errorf("ledger: %+v", last)
	}
}

func TestSeveralFilesJoin(t *testing.T) {
	a := smallLog()
	b := map[string]sheetRows{"visits": {a["visits"][0], a["visits"][1], {"V8", "S2", "2024-09-01", "follow-up", "1", 9, 8, "yes", "none"}}}
	log := read(t, Options{}, writeBook(t, a, nil), writeBook(t, b, nil))
	if len(log.Visits) != 4 {
		t.Errorf("%d visits", len(log.Visits))
	}
	ps := problemsOf(log, CodeDuplicateRow)
	if len(ps) != 1 || ps[0].Sheet != 6 || !strings.Contains(ps[0].Text, "log.xlsx visits!A2") {
		t.Errorf("duplicates: %+v", ps)
	}
}

func TestFilesThatCannotBeRead(t *testing.T) {
	good, err := os.ReadFile(writeBook(t, smallLog(), nil))
	if err != nil {
		t.Fatal(err)
	}
	locked := filepath.Join(t.TempDir(), "locked.xlsx")
	f, err := excelize.OpenReader(bytes.NewReader(good))
	if err != nil {
		t.Fatal(err)
	}
	if err := f.SaveAs(locked, excelize.Options{Password: "secret"}); err != nil {
		t.Fatal(err)
	}
	f.Close()
	odd := excelize.NewFile()
	oddPath := filepath.Join(t.TempDir(), "odd.xlsx")
	if err := odd.SaveAs(oddPath); err != nil {
		t.Fatal(err)
	}
	odd.Close()
	tests := []struct {
		name string
		path string
		want error
	}{
		{"missing", filepath.Join(t.TempDir(), "visits.csv"), os.ErrNotExist},
		{"empty", writeText(t, "visits.csv", ""), ErrEmpty},
		{"cut short", writeText(t, "log.xlsx", string(good[:len(good)/2])), ErrTruncated},
		{"cut to the last bytes", writeText(t, "log.xlsx", string(good[:len(good)-30])), ErrTruncated},
		{"password", locked, ErrPassword},
		{"old format", writeText(t, "log.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"+strings.Repeat("x", 600)), ErrOldFormat},
		{"table renamed to workbook", writeText(t, "visits.xlsx", "socket,date\nS1,2024-01-01\n"), ErrWrongKind},
		{"workbook renamed to table", writeText(t, "visits.csv", string(good)), ErrWrongKind},
		{"web page", writeText(t, "visits.csv", "<html><table></table></html>"), ErrWrongKind},
		{"PDF", writeText(t, "visits.csv", "%PDF-1.7 ..."), ErrWrongKind},
		{"unknown ending", writeText(t, "visits.doc", "socket,date\n"), ErrWrongKind},
		{"unclosed quote", writeText(t, "visits.csv", "socket,date\n\"S1,2024\n"), ErrBadCSV},
		{"no table", oddPath, ErrNoTable},
		{"random bytes", writeText(t, "log.xlsx", "\x00\x01\x02\x03"), ErrTruncated},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			log, err := Read(context.Background(), []string{tt.path}, Options{})
			if !errors.Is(err, tt.want) || log != nil {
				t.Errorf("got %v, want %v", err, tt.want)
			}
			if err != nil && !strings.Contains(err.Error(), filepath.Base(tt.path)) {
				t.Errorf("%v does not name the file", err)
			}
		})
	}
	if _, err := Read(context.Background(), []string{t.TempDir()}, Options{}); err == nil {
		t.Error("a folder was read")
	}
	if _, err := Read(context.Background(), nil, Options{}); err == nil {
		t.Error("no file gives no error")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Read(ctx, []string{locked}, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestEmptyTables(t *testing.T) {
	log := read(t, Options{}, writeText(t, "visits.csv", "socket,date\n"), writeText(t, "limbs.csv", "\n\n"), writeText(t, "sockets.csv", "x"))
	if len(log.Visits)+len(log.Limbs)+len(log.Sockets) != 0 || log.First.OK {
		t.Errorf("read %+v", log)
	}
}

func TestOwnColumns(t *testing.T) {
	sheets := smallLog()
	for i, row := range []([]any){
		{"Liner name", "code", "Score X", "checked on", "Patient name", "MRN", "Contact", "ref", "temp C", "odd"},
		{"Alpha", "007", 1.5, date(2024, 2, 1), "Test Person", 1234567, "x@example.org", "0171 234567", "21", "a"},
		{"Beta", "010", 2, date(2024, 5, 1), "Other Body", 7654321, "y@example.org", "0171 234568", "22,5", "1"},
		{"Alpha", "011", 3, date(2024, 5, 2), "Third One", 7654322, "", "0171 234569", "-", "2"},
	} {
		for j, v := range row {
			put(sheets, "visits", cellName(9+j, i+1), v)
		}
	}
	log := read(t, Options{}, writeBook(t, sheets, nil))
	own := map[string]OwnColumn{}
	for _, c := range log.Own[TableVisits] {
		own[c.Name] = c
	}
	if c := own["Liner name"]; c.Kind != OwnText || c.Identifying || c.Text[1] != "Beta" {
		t.Errorf("liner name: %+v", c)
	}
	if c := own["code"]; c.Kind != OwnText || c.Text[0] != "007" {
		t.Errorf("code: %+v", c)
	}
	if c := own["Score X"]; c.Kind != OwnNumber || !reflect.DeepEqual(c.Num, []float64{1.5, 2, 3}) {
		t.Errorf("score: %+v", c)
	}
	if c := own["checked on"]; c.Kind != OwnDate || Date(c.Num[0]).String() != "2024-02-01" {
		t.Errorf("checked on: %+v", c)
	}
	if c := own["temp C"]; c.Kind != OwnNumber || c.Num[1] != 22.5 || c.OK[2] {
		t.Errorf("temp: %+v", c)
	}
	if c := own["odd"]; c.Kind != OwnText || c.Text[0] != "a" {
		t.Errorf("odd: %+v", c)
	}
	for _, name := range []string{"Patient name", "MRN", "Contact", "ref"} {
		c := own[name]
		if !c.Identifying {
			t.Errorf("%s is not flagged: %+v", name, c)
		}
		for i := range c.OK {
			if c.OK[i] || c.Text[i] != "" {
				t.Errorf("%s keeps a value", name)
			}
		}
	}
	if n := len(problemsOf(log, CodeIdentifying)); n != 4 {
		t.Errorf("%d identifying columns reported", n)
	}
}

// Names must not leave the reader by way of a problem.
func TestIdentifyingTextIsNotShown(t *testing.T) {
	sheets := smallLog()
	sheets["limbs"] = sheetRows{
		{"person", "side", "level", "born"},
		{"Zebulon Quark", "left", "BK", "12/13/1950x"},
		{"Zebulon Quark", "left", "AK", 1960},
		{"zebulon quark", "right", "BK", 1961},
	}
	sheets["sockets"] = sheetRows{{"socket", "limb", "kind"}, {"S1", "Zebulon Quark", "check"}, {"S2", "Zebulon Quirk", "check"}}
	log := read(t, Options{}, writeBook(t, sheets, nil))
	if len(log.Problems) < 5 {
		t.Errorf("only %d problems", len(log.Problems))
	}
	var buf bytes.Buffer
	if err := WriteProblems(&buf, log); err != nil {
		t.Fatal(err)
	}
	for _, leak := range []string{"ebulon", "uark", "uirk", "1950"} {
		if strings.Contains(buf.String(), leak) {
			t.Errorf("the list of problems holds %q:\n%s", leak, buf.String())
		}
	}
}

func TestReadIsDeterministic(t *testing.T) {
	paths := busyPaths(t)
	first := read(t, Options{}, paths...)
	for range 5 {
		if diff := cmp.Diff(first, read(t, Options{}, paths...)); diff != "" {
			t.Fatal(diff)
		}
	}
}

func TestActionsAreAllKept(t *testing.T) {
	sheets := smallLog()
	put(sheets, "visits", "I2", "heat relief + pad")
	log := read(t, Options{}, writeBook(t, sheets, nil))
	v := log.Visits[0]
	if v.Action.Code != "heat relief" || len(v.Actions) != 2 || v.Actions[1].Code != "pad added" || v.Action.Text != "heat relief + pad" {
		t.Errorf("%+v %+v", v.Action, v.Actions)
	}
}

func TestWriteProblems(t *testing.T) {
	sheets := smallLog()
	put(sheets, "visits", "F2", "=good")
	log := read(t, Options{}, writeBook(t, sheets, nil))
	var buf bytes.Buffer
	if err := WriteProblems(&buf, log); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil || len(rows) != 2 || rows[1][2] != "F2" || rows[1][4] != "bad-number" || rows[1][5] != "'=good" {
		t.Errorf("%q %v", rows, err)
	}
}

// Remarks may name anybody: a short column of them is no column of
// categories. A number by that name is one.
func TestRemarksAreNoColumn(t *testing.T) {
	log := read(t, Options{}, writeText(t, "limbs.csv", "person,side,level,Notes,Remark count\nA1,left,transtibial,ask Mary,1\nB2,right,transtibial,ask Mary,2\nC3,left,transtibial,,3\n"))
	for _, c := range log.Own["limbs"] {
		if want := c.Name == "Notes"; c.Identifying != want {
			t.Errorf("%s: identifying %v", c.Name, c.Identifying)
		}
	}
	if n := len(log.Own["limbs"]); n != 2 {
		t.Fatalf("%d own columns", n)
	}
	if ps := problemsOf(log, CodeIdentifying); len(ps) != 1 || !strings.Contains(ps[0].Text, "holds remarks") || strings.Contains(ps[0].Text, "Mary") {
		t.Errorf("%v", ps)
	}
}
