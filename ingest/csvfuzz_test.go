package ingest

import (
	"context"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// FuzzTextTable takes any bytes for a text table: an error or rows, never a
// panic. The rows that are read one cell at a time are those that are read as
// records, and no text is lost between separators: what the cells hold are the
// bytes of the text without its separators, line ends and quotes.
func FuzzTextTable(f *testing.F) {
	for _, text := range []string{"a,b\n\"x\",1\n", "sep=;\r\na;\"1\r\n2\";3\r", "\xff\xfea\x00,\x00", "a\x00,\x00b\x00\n\x00", "\"a\"\"b\" ,c\n\n,,\n", "\"\na\"b,c\n", "|||\n\"", "é;\xe9\n", "\ufeffa\tb\rc\td"} {
		f.Add([]byte(text))
	}
	bare := strings.NewReplacer("\"", "", "\n", "", "\r", "", ",", "", ";", "", "\t", "", "|", "", " ", "", "\v", "", "\f", "", "\u0085", "", "\u00a0", "", "\u2028", "", "\u2029", "")
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), "visits.csv")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		sheet, err := readCSV(context.Background(), path, nil)
		records, form, err2 := loadCSV(path)
		if (err == nil) != (err2 == nil) {
			t.Fatalf("as rows %v, as records %v", err, err2)
		}
		if err != nil {
			return
		}
		if len(sheet.rows) != len(records) {
			t.Fatalf("%d rows, %d records", len(sheet.rows), len(records))
		}
		var all strings.Builder
		for i := range sheet.rows {
			row := &sheet.rows[i]
			if row.width() != len(records[i]) || row.n != i+1+form.skip {
				t.Fatalf("row %d is called %d and has %d cells, the record %d", i, row.n, row.width(), len(records[i]))
			}
			for j, text := range records[i] {
				if row.cell(j).text != text {
					t.Fatalf("row %d, column %d: %q and %q", i, j, row.cell(j).text, text)
				}
				all.WriteString(text)
			}
			if row.cell(len(records[i])) != (cell{}) {
				t.Fatalf("row %d has a cell behind its last", i)
			}
		}
		text, _, err := loadText(path)
		if err != nil {
			t.Fatal(err)
		}
		unspaced := func(s string) string {
			return strings.Join(strings.Fields(strings.ReplaceAll(s, string(rune(form.comma)), "")), "")
		}
		if got, want := unspaced(bare.Replace(all.String())), unspaced(bare.Replace(text)); got != want {
			t.Errorf("the cells hold %q, the text %q", got, want)
		}
	})
}

// FuzzTextLog takes any bytes for one of the six tables of a small sound log:
// never a panic, a ledger that adds up, and twice the same.
func FuzzTextLog(f *testing.F) {
	sound := map[string]string{
		TableLimbs:    "person,limb,side,level,cause,born,sex,died\nP1,L1,L,BK,trauma,1960,M,\nP2,L2,R,AK,vascular,1971,F,2025-01-01\n",
		TableSockets:  "socket,limb,kind,use,cast_on,delivered,ended,end_reason,replaces,liner_mm\nS1,L1,def,everyday,2024-01-05,2024-02-01,2024-08-01,volume loss,,6\nS2,L1,def,everyday,,2024-08-01,,,S1,\nS3,L2,check,,,2024-03-08,,,,\n",
		TableStations: "limb,date,landmark,station_mm,limb_mm,over\nL1,2024-01-05,MPT,0,325,skin\nL1,2024-01-05,MPT,50,31.8 cm,liner\n",
		TableVisits:   "visit,socket,date,time,purpose,ply,comfort,hours,skin_checked,action\nV1,S1,2024-02-01,10:30,delivery,3,7,8,yes,none\nV2,S1,2024-05-01 9:15,,fu,5+3,6/10,9,yes,\"pad, heat\"\nV3,S3,08/03/2024,,check,,,,,\n",
		TableFindings: "visit,region,finding,severity,fades_min\nV1,fibular head,red,1,5\nV2,,none,,\n",
		TableForming:  "socket,date,sheet_material,sheet_mm,oven_c,minutes\nS3,2024-03-02,PETG,12,165,15\n",
	}
	for i, table := range Tables() {
		f.Add(uint8(i), []byte(sound[table]))
		f.Add(uint8(i), []byte(strings.ReplaceAll(sound[table], ",", ";")))
		f.Add(uint8(i), []byte(strings.ReplaceAll(sound[table], "\n", ",=1+1\r")))
	}
	f.Fuzz(func(t *testing.T, which uint8, data []byte) {
		dir := t.TempDir()
		var paths []string
		for i, table := range Tables() {
			text := []byte(sound[table])
			if i == int(which)%len(sound) {
				text = data
			}
			path := filepath.Join(dir, table+".csv")
			if err := os.WriteFile(path, text, 0o600); err != nil {
				t.Fatal(err)
			}
			paths = append(paths, path)
		}
		log, err := Read(context.Background(), paths, Options{})
		if err != nil {
			if !strings.Contains(err.Error(), paths[int(which)%len(paths)]) {
				t.Errorf("%v does not name the file", err)
			}
			return
		}
		checkLedger(t, log)
		again, err := Read(context.Background(), paths, Options{})
		if err != nil || !reflect.DeepEqual(log, again) {
			t.Errorf("read again the log is another (%v)", err)
		}
	})
}

// loadCSV reads a text table as records of texts.
func loadCSV(path string) ([][]string, csvForm, error) {
	text, form, err := loadText(path)
	if err != nil {
		return nil, form, err
	}
	records, err := splitLines(text, form.comma, 1+form.skip)
	return records, form, err
}
