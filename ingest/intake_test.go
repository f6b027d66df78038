package ingest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// labLog is a file of testdata/intake.
type labLog struct {
	name     string
	sheets   []string
	rows     map[string][][]string
	merges   map[string][]string
	edits    [][2]string
	expected []string
}

func readLabLog(t testing.TB, path string) labLog {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	l := labLog{name: strings.TrimSuffix(filepath.Base(path), ".txt"), rows: map[string][][]string{}, merges: map[string][]string{}}
	part, sheet := "", ""
	for _, line := range strings.Split(strings.TrimRight(string(data), "\n"), "\n") {
		switch {
		case strings.HasPrefix(line, "-- "):
			part = line[3:]
		case part == "edits":
			old, with, ok := strings.Cut(line, " => ")
			if !ok {
				t.Fatalf("%s: %q is no edit", path, line)
			}
			l.edits = append(l.edits, [2]string{old, with})
		case part == "expected":
			l.expected = append(l.expected, line)
		case strings.HasPrefix(line, "== "):
			sheet = line[3:]
			l.sheets = append(l.sheets, sheet)
		case strings.HasPrefix(line, "@merge "):
			l.merges[sheet] = append(l.merges[sheet], line[7:])
		default:
			l.rows[sheet] = append(l.rows[sheet], strings.Split(line, "|"))
		}
	}
	return l
}

// write makes the workbook, or the text table of a file called .csv.txt.
func (l labLog) write(t testing.TB) string {
	t.Helper()
	if strings.HasSuffix(l.name, ".csv") {
		var b strings.Builder
		for _, row := range l.rows[l.sheets[0]] {
			b.WriteString(strings.Join(row, ",") + "\n")
		}
		return writeText(t, l.name, b.String())
	}
	f := excelize.NewFile()
	defer f.Close()
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	day, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	check(err)
	for i, name := range l.sheets {
		if i == 0 {
			check(f.SetSheetName("Sheet1", name))
		} else {
			_, err := f.NewSheet(name)
			check(err)
		}
		for r, row := range l.rows[name] {
			for c, text := range row {
				at := cellName(c, r+1)
				if iso, ok := strings.CutPrefix(text, "date:"); ok {
					d, err := time.Parse("2006-01-02", iso)
					check(err)
					check(f.SetCellValue(name, at, d))
					check(f.SetCellStyle(name, at, at, day))
				} else if v, err := strconv.ParseFloat(text, 64); err == nil {
					check(f.SetCellValue(name, at, v))
				} else if text != "" {
					check(f.SetCellValue(name, at, text))
				}
			}
		}
		for _, m := range l.merges[name] {
			from, to, _ := strings.Cut(m, ":")
			check(f.MergeCell(name, from, to))
		}
	}
	path := filepath.Join(t.TempDir(), l.name+".xlsx")
	check(f.SaveAs(path))
	return path
}

// describeLog lists records and problems, one a line.
func describeLog(log *Log) []string {
	var out []string
	add := func(format string, args ...any) {
		out = append(out, strings.Join(strings.Fields(fmt.Sprintf(format, args...)), " "))
	}
	day := func(word string, d Opt[Date]) string {
		if !d.OK {
			return ""
		}
		return word + " " + d.Value.String()
	}
	num := func(word string, v Opt[float64]) string {
		if !v.OK {
			return ""
		}
		return word + " " + plain(v.Value)
	}
	ply := func(p Opt[Ply]) string {
		if !p.OK {
			return ""
		}
		return "ply " + plain(p.Value.Total)
	}
	word := func(w, s string) string {
		if s == "" {
			return ""
		}
		return w + " " + s
	}
	for _, l := range log.Limbs {
		born := ""
		if l.Born.OK {
			born = fmt.Sprintf("born %d", l.Born.Value)
		}
		add("limb %s of %s: %s %s %s %s %s", l.Limb, l.Person, l.Side.Code, l.Level.Code, l.Cause.Code, l.Activity.Code, born)
	}
	for _, s := range log.Sockets {
		add("socket %s for %s: %s %s %s %s %s %s %s", s.Socket, s.Limb, s.Kind.Code, day("cast", s.CastOn), word("method", s.CastMethod), word("by", s.CastBy), day("delivered", s.Delivered), day("ended", s.Ended), word("for", s.EndReason.Code))
	}
	for _, s := range log.Stations {
		add("station %s %s %s %s mm: %s mm", s.Limb, s.Date, s.Landmark, plain(s.StationMM), plain(s.LimbMM))
	}
	for _, v := range log.Visits {
		var actions []string
		for _, a := range v.Actions {
			actions = append(actions, a.Code)
		}
		add("visit %s about %s on %s: %s %s %s %s %s %s %s", v.Visit, v.Socket, v.Date, v.Purpose.Code, ply(v.Ply), num("comfort", v.Comfort), num("hours", v.Hours), num("kg", v.MassKG), word("action", strings.Join(actions, "+")), word("by", v.SeenBy))
	}
	for _, f := range log.Findings {
		add("finding %s: %s %s", f.Visit, f.Region.Code, f.Finding.Code)
	}
	for _, f := range log.Forming {
		add("forming %s on %s %s %s", f.Socket, f.Date, num("mm", f.SheetMM), num("oven", f.OvenC))
	}
	for _, table := range Tables() {
		for _, o := range log.Own[table] {
			add("own column of %s: %s", table, o.Name)
		}
	}
	for _, s := range log.Sheets {
		if s.Table != "" {
			add("ledger %s: read %d used %d aside %d values %d (%s)", s.Sheet, s.Read, s.Used, s.SetAside, s.ValuesSetAside, s.Table)
		}
	}
	for _, p := range log.Problems {
		add("problem %s!%s %s (%s)", p.Tab, p.Cell, p.Code, p.Done)
	}
	return out
}

// checkIntakeLedger checks the ledger of a log read by an intake: rows of
// sheets add up and those set aside each have their problem.
func checkIntakeLedger(t testing.TB, log *Log) {
	t.Helper()
	aside, values := make([]map[int]bool, len(log.Sheets)), make([]int, len(log.Sheets))
	for _, p := range log.Problems {
		if p.Sheet < 0 {
			continue
		}
		switch p.Done {
		case RowSetAside:
			if aside[p.Sheet] == nil {
				aside[p.Sheet] = map[int]bool{}
			}
			aside[p.Sheet][p.Row] = true
		case ValueSetAside, RecordSetAside:
			values[p.Sheet]++
		}
		if p.Done != Kept && p.Cell == "" {
			t.Errorf("a problem without a cell: %+v", p)
		}
	}
	for i, s := range log.Sheets {
		if s.Read != s.Used+s.SetAside || len(aside[i]) != s.SetAside || values[i] != s.ValuesSetAside {
			t.Errorf("%s %s: read %d, used %d, aside %d (problems name %d), values %d (problems name %d)", s.File, s.Sheet, s.Read, s.Used, s.SetAside, len(aside[i]), s.ValuesSetAside, values[i])
		}
	}
}

// proposeAndRead proposes an intake, makes the edits and reads by it.
func (l labLog) proposeAndRead(t testing.TB) (string, *Log) {
	t.Helper()
	path := l.write(t)
	p, err := ProposeIntake(context.Background(), []string{path})
	if err != nil {
		t.Fatal(err)
	}
	text := p.Text()
	for _, e := range l.edits {
		if strings.Count(text, e[0]) != 1 {
			t.Fatalf("%q stands %d times in the proposal:\n%s", e[0], strings.Count(text, e[0]), text)
		}
		text = strings.Replace(text, e[0], e[1], 1)
	}
	it, err := ParseIntake("intake.yaml", []byte(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	log, err := Read(context.Background(), []string{path}, Options{Intake: it})
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	checkIntakeLedger(t, log)
	return p.Text(), log
}

func labLogs(t testing.TB) []labLog {
	t.Helper()
	paths, err := filepath.Glob("../testdata/intake/*.txt")
	if err != nil || len(paths) < 8 {
		t.Fatalf("%d logs found (%v)", len(paths), err)
	}
	sort.Strings(paths)
	var out []labLog
	for _, p := range paths {
		out = append(out, readLabLog(t, p))
	}
	return out
}

func TestLabLogsAreReadAsTheyStand(t *testing.T) {
	for _, l := range labLogs(t) {
		t.Run(l.name, func(t *testing.T) {
			if len(l.edits) > 2 {
				t.Errorf("%d lines have to be edited", len(l.edits))
			}
			text, log := l.proposeAndRead(t)
			got := describeLog(log)
			if strings.Join(got, "\n") != strings.Join(l.expected, "\n") {
				t.Errorf("read:\n%s\n\nexpected:\n%s\n\nproposal:\n%s", strings.Join(got, "\n"), strings.Join(l.expected, "\n"), text)
			}
			if twice, _ := l.proposeAndRead(t); twice != text {
				t.Errorf("proposed again:\n%s\nand first:\n%s", twice, text)
			}
			again, err := ParseIntake("intake.yaml", []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			if a, b := uncommented(again.Text()), uncommented(text); a != b {
				t.Errorf("parsed and written again:\n%s\nproposed:\n%s", a, b)
			}
		})
	}
}

var comment = regexp.MustCompile(`(?m)[ ]*(?:^|[ ])#.*$`)

// uncommented is a proposal without its comments.
func uncommented(text string) string {
	text = comment.ReplaceAllString(text, "")
	return text[strings.Index(text, "sheets:"):]
}
