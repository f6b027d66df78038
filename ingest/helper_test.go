package ingest

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// sheetRows is a sheet as typed: rows of values.
type sheetRows [][]any

// smallLog is a log without a defect, which a test then damages.
func smallLog() map[string]sheetRows {
	return map[string]sheetRows{
		"limbs": {
			{"person", "limb", "side", "level", "born", "sex", "died"},
			{"P1", "P1-L", "left", "BK", 1960, "M", ""},
			{"P2", "P2-R", "right", "AK", 1971, "F", ""},
		},
		"sockets": {
			{"socket", "limb", "kind", "use", "cast_on", "delivered", "ended", "end_reason", "replaces"},
			{"S1", "P1-L", "definitive", "everyday", "2024-01-05", "2024-02-01", "2024-08-01", "volume loss", ""},
			{"S2", "P1-L", "definitive", "everyday", "2024-07-20", "2024-08-01", "", "", "S1"},
			{"S3", "P2-R", "check", "", "2024-03-01", "2024-03-08", "", "", ""},
		},
		"stations": {
			{"limb", "date", "landmark", "station_mm", "limb_mm"},
			{"P1-L", "2024-01-05", "mid-patellar tendon", 0, 325},
			{"P1-L", "2024-01-05", "mid-patellar tendon", 50, 318},
		},
		"visits": {
			{"visit", "socket", "date", "purpose", "ply", "comfort", "hours", "skin_checked", "action"},
			{"V1", "S1", "2024-02-01", "delivery", "3", 7, 8, "yes", "none"},
			{"V2", "S1", "2024-05-01", "follow-up", "5+3", 6, 9, "yes", "sock advice"},
			{"V3", "S3", "2024-03-08", "check fitting", "", "", "", "", ""},
		},
		"findings": {
			{"visit", "region", "finding", "severity", "fades_min"},
			{"V1", "fibular head", "redness fading", 1, 5},
		},
		"forming": {
			{"socket", "date", "sheet_material", "sheet_mm", "oven_c", "minutes"},
			{"S3", "2024-03-02", "PETG", 12, 165, 15},
		},
	}
}

// writeBook writes sheets in the order of the tables, then others by name.
func writeBook(t testing.TB, sheets map[string]sheetRows, change func(*excelize.File)) string {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	first := true
	names := Tables()
	for name := range sheets {
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	for _, name := range names {
		rows, ok := sheets[name]
		if !ok {
			continue
		}
		if first {
			f.SetSheetName("Sheet1", name)
			first = false
		} else if _, err := f.NewSheet(name); err != nil {
			t.Fatal(err)
		}
		for i, row := range rows {
			for j, v := range row {
				if v == "" {
					continue
				}
				if err := f.SetCellValue(name, cellName(j, i+1), v); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	if change != nil {
		change(f)
	}
	path := filepath.Join(t.TempDir(), "log.xlsx")
	if err := f.SaveAs(path); err != nil {
		t.Fatal(err)
	}
	return path
}

func writeText(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func read(t testing.TB, opts Options, paths ...string) *Log {
	t.Helper()
	log, err := Read(context.Background(), paths, opts)
	if err != nil {
		t.Fatal(err)
	}
	checkLedger(t, log)
	return log
}

// checkLedger checks what must hold of every log: rows add up, every row set
// aside has its reason, values set aside are those of the problems, problems
// are whole and in order.
func checkLedger(t testing.TB, log *Log) {
	t.Helper()
	aside, values, perTable := make([]map[int]bool, len(log.Sheets)), make([]int, len(log.Sheets)), map[string]int{}
	for i := range aside {
		aside[i] = map[int]bool{}
	}
	for i, p := range log.Problems {
		if p.Code == "" || p.Text == "" || !strings.HasSuffix(p.Text, ".") && !strings.HasSuffix(p.Text, "?") {
			t.Errorf("problem %d is not whole: %+v", i, p)
		}
		if p.Sheet < 0 {
			continue
		}
		if p.Done != Kept && (p.Cell == "" || p.Want == "") {
			t.Errorf("problem %d lacks a cell or what was expected: %+v", i, p)
		}
		switch p.Done {
		case RowSetAside:
			aside[p.Sheet][p.Row] = true
		case ValueSetAside:
			values[p.Sheet]++
		}
		if i > 0 && (log.Problems[i-1].Sheet > p.Sheet || log.Problems[i-1].Sheet == p.Sheet && log.Problems[i-1].Row > p.Row) {
			t.Errorf("problem %d is out of order", i)
		}
	}
	for i, s := range log.Sheets {
		if s.Read != s.Used+s.SetAside {
			t.Errorf("%s %s: read %d, used %d, set aside %d", s.File, s.Sheet, s.Read, s.Used, s.SetAside)
		}
		if len(aside[i]) != s.SetAside {
			t.Errorf("%s %s: %d rows set aside, but problems name %d", s.File, s.Sheet, s.SetAside, len(aside[i]))
		}
		if values[i] != s.ValuesSetAside {
			t.Errorf("%s %s: %d values set aside, but problems name %d", s.File, s.Sheet, s.ValuesSetAside, values[i])
		}
		perTable[s.Table] += s.Used
	}
	rows := map[string]int{TableLimbs: len(log.Limbs), TableSockets: len(log.Sockets), TableStations: len(log.Stations), TableVisits: len(log.Visits), TableFindings: len(log.Findings), TableForming: len(log.Forming)}
	for _, table := range Tables() {
		if rows[table] != perTable[table] {
			t.Errorf("%s: %d rows in the log, %d used in the ledger", table, rows[table], perTable[table])
		}
		for _, own := range log.Own[table] {
			if len(own.OK) != rows[table] || len(own.Text) != rows[table] || own.Kind != OwnText && len(own.Num) != rows[table] {
				t.Errorf("%s: own column %q has %d values for %d rows", table, own.Name, len(own.OK), rows[table])
			}
		}
	}
}

// found lists problems as "sheet!cell code done", for comparison.
func found(log *Log) []string {
	var out []string
	for _, p := range log.Problems {
		out = append(out, p.Tab+"!"+p.Cell+" "+p.Code+" "+p.Done.String())
	}
	return out
}

func problemsOf(log *Log, code string) []Problem {
	var out []Problem
	for _, p := range log.Problems {
		if p.Code == code {
			out = append(out, p)
		}
	}
	return out
}
