package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// The published sets are written out as a lab's log, each row a socket (or a
// visit, or a measurement), and sent through the command. What numbers.json
// then says is compared with the values in testdata/published.

const published = "../../testdata/published"

// record is a row of a published set.
type record map[string]string

func (r record) num(t testing.TB, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("%s: %v", column, err)
	}
	return v
}

func (r record) whole(t testing.TB, column string) int {
	t.Helper()
	v := r.num(t, column)
	if v != math.Trunc(v) {
		t.Fatalf("%s is %g, not whole", column, v)
	}
	return int(v)
}

func readRecords(t testing.TB, set string) []record {
	t.Helper()
	f, err := os.Open(filepath.Join(published, set, "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []record
	for _, r := range all[1:] {
		m := record{}
		for j, v := range r {
			m[all[0][j]] = v
		}
		out = append(out, m)
	}
	return out
}

// expectation is a tree of expected values.
type expectation struct {
	t    testing.TB
	name string
	v    any
}

// expected reads the expected values of a set: its entries, where it has
// such.
func expected(t testing.TB, set string) expectation {
	t.Helper()
	var v map[string]any
	readJSON(t, filepath.Join(published, set, "expected.json"), &v)
	if e, ok := v["entries"]; ok {
		return expectation{t, set, e}
	}
	return expectation{t, set, v}
}

func (e expectation) has(key string) bool {
	m, ok := e.v.(map[string]any)
	return ok && m[key] != nil
}

func (e expectation) at(path ...string) expectation {
	e.t.Helper()
	for _, p := range path {
		m, ok := e.v.(map[string]any)
		if !ok || m[p] == nil {
			e.t.Fatalf("%s has no %s", e.name, p)
		}
		e.name, e.v = e.name+" "+p, m[p]
	}
	return e
}

func (e expectation) num() float64 {
	e.t.Helper()
	x, ok := e.v.(float64)
	if !ok {
		e.t.Fatalf("%s is no number: %v", e.name, e.v)
	}
	return x
}

// list is a list of numbers; NaN where there is none.
func (e expectation) list() []float64 {
	e.t.Helper()
	return floats(e.t, e.name, e.v)
}

func floats(t testing.TB, name string, v any) []float64 {
	t.Helper()
	if m, ok := v.(map[string]any); ok {
		v = m["values"]
	}
	l, ok := v.([]any)
	if !ok {
		t.Fatalf("%s is no list: %v", name, v)
	}
	out := make([]float64, len(l))
	for i, x := range l {
		out[i] = math.NaN()
		if f, ok := x.(float64); ok {
			out[i] = f
		}
	}
	return out
}

func (e expectation) matrix() [][]float64 {
	e.t.Helper()
	v := e.v
	for {
		m, ok := v.(map[string]any)
		if !ok {
			break
		}
		v = m["values"]
	}
	var out [][]float64
	for _, r := range v.([]any) {
		out = append(out, floats(e.t, e.name, r))
	}
	return out
}

func (e expectation) words() []string {
	e.t.Helper()
	var out []string
	for _, x := range e.v.([]any) {
		out = append(out, x.(string))
	}
	return out
}

// near compares a value of numbers.json with what is expected of it,
// relative to the size of the latter where that is above the floor of 1e-8;
// NaN expects a missing value.
func near(t testing.TB, what string, got any, want, tol float64) {
	t.Helper()
	if math.IsNaN(want) {
		if got != nil {
			t.Errorf("%s = %v, want none", what, got)
		}
		return
	}
	x, ok := got.(float64)
	if !ok {
		t.Errorf("%s = %v, want %.15g", what, got, want)
		return
	}
	if d := math.Abs(x - want); d > tol*math.Max(math.Abs(want), 1e-8) {
		t.Errorf("%s = %.15g, want %.15g (off by %.2g, allowed %.2g)", what, x, want, d/math.Abs(want), tol)
	}
}

// day is a calendar day, counted from 1970-01-01.
type day int

func (d day) time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

func ymd(y int, m time.Month, d int) day {
	return day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// sheet is a table of a log in the making.
type sheet struct {
	heads []string
	rows  [][]any
}

// add appends a row given as header, value, header, value. Values are text,
// numbers, days, or nil for an empty cell.
func (s *sheet) add(pairs ...any) {
	row := make([]any, len(s.heads))
	for i := 0; i < len(pairs); i += 2 {
		name := pairs[i].(string)
		k := 0
		for k < len(s.heads) && s.heads[k] != name {
			k++
		}
		if k == len(s.heads) {
			s.heads = append(s.heads, name)
		}
		for len(row) <= k {
			row = append(row, nil)
		}
		row[k] = pairs[i+1]
	}
	s.rows = append(s.rows, row)
}

func (s *sheet) cell(row, col int) any {
	if col < len(s.rows[row]) {
		return s.rows[row][col]
	}
	return nil
}

// lab is a log in the making.
type lab struct {
	limbs, sockets, visits, findings, stations, forming sheet
}

func (l *lab) sheets() map[string]*sheet {
	out := map[string]*sheet{}
	for name, s := range map[string]*sheet{"limbs": &l.limbs, "sockets": &l.sockets, "visits": &l.visits, "findings": &l.findings, "stations": &l.stations, "forming": &l.forming} {
		if len(s.rows) > 0 {
			out[name] = s
		}
	}
	return out
}

// form is a way in which a lab keeps its tables.
type form int

const (
	plainCSV    form = iota // commas, ISO dates
	officeCSV               // semicolons, decimal commas, 31.12.2020
	oneWorkbook             // a sheet for each table, true dates
)

// write puts the log into a folder.
func (l *lab) write(t testing.TB, dir string, how form) {
	t.Helper()
	if how == oneWorkbook {
		l.writeWorkbook(t, filepath.Join(dir, "log.xlsx"))
		return
	}
	for name, s := range l.sheets() {
		var b strings.Builder
		w := csv.NewWriter(&b)
		if how == officeCSV {
			w.Comma, w.UseCRLF = ';', true
		}
		lines := [][]string{s.heads}
		for i := range s.rows {
			line := make([]string, len(s.heads))
			for j := range line {
				line[j] = cellText(s.cell(i, j), how)
			}
			lines = append(lines, line)
		}
		if err := w.WriteAll(lines); err != nil {
			t.Fatal(err)
		}
		writeFile(t, filepath.Join(dir, name+".csv"), b.String())
	}
}

func cellText(v any, how form) string {
	switch x := v.(type) {
	case nil:
		return ""
	case day:
		if how == officeCSV {
			return x.time().Format("02.01.2006")
		}
		return x.time().Format("2006-01-02")
	case float64:
		s := strconv.FormatFloat(x, 'f', -1, 64)
		if how == officeCSV {
			s = strings.ReplaceAll(s, ".", ",")
		}
		return s
	}
	return fmt.Sprint(v)
}

func (l *lab) writeWorkbook(t testing.TB, path string) {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	dated, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	must(err)
	for _, name := range []string{"limbs", "sockets", "visits", "findings", "stations", "forming"} {
		s := l.sheets()[name]
		if s == nil {
			continue
		}
		_, err := f.NewSheet(name)
		must(err)
		for j, h := range s.heads {
			at, err := excelize.CoordinatesToCellName(j+1, 1)
			must(err)
			must(f.SetCellValue(name, at, h))
			for i := range s.rows {
				at, err := excelize.CoordinatesToCellName(j+1, i+2)
				must(err)
				switch v := s.cell(i, j).(type) {
				case nil:
				case day:
					must(f.SetCellValue(name, at, v.time()))
					must(f.SetCellStyle(name, at, at, dated))
				default:
					must(f.SetCellValue(name, at, v))
				}
			}
		}
	}
	must(f.DeleteSheet("Sheet1"))
	must(f.SaveAs(path))
}

// life is a row of a follow-up set, to be told as a socket.
type life struct {
	id     int // of the person
	limb   int // 0 or 1: of the two limbs
	sex    string
	days   int // from delivery to the end
	end    day // last day
	how    ending
	own    []any // own columns of the socket: header, value, ...
	serial int   // varies how the same thing is written down
}

// ending is what became of a socket.
type ending int

const (
	open ending = iota
	remade
	dead
)

var remakeReasons = []string{"volume loss", "volume gain", "weight change", "pain or pressure", "skin breakdown", "breakage or wear", "suspension",
	"growth", "casting or measuring error", "shaping error", "fabrication error", "alignment or length", "revision surgery"}

// tell writes lives as a log. A remake is told by its end, or by the day it
// was decided with a later end; a death by the end, or by the person's death
// alone; what is censored by an end as lost to follow-up, by the day the
// person was last seen, or by a visit on that day. Long lives are visited
// now and then. It returns how many sockets were left open at a death.
func tell(lives []life) (*lab, int) {
	l := &lab{}
	openAtDeath := 0
	for _, x := range lives {
		limb := []any{"person", fmt.Sprintf("P%d", x.id), "side", []string{"left", "right"}[x.limb], "level", "transtibial"}
		if x.sex != "" {
			limb = append(limb, "sex", x.sex)
		}
		side := []string{"L", "R"}[x.limb]
		name := fmt.Sprintf("P%d-%s", x.id, side)
		socket := []any{"socket", fmt.Sprintf("S%d%s", x.id, side), "limb", name, "kind", "definitive", "delivered", x.end - day(x.days)}
		switch x.how {
		case remade:
			reason := remakeReasons[x.serial%len(remakeReasons)]
			if x.serial%5 == 0 {
				socket = append(socket, "remake decided", x.end, "ended", x.end+9, "end reason", reason)
			} else {
				socket = append(socket, "ended", x.end, "end reason", reason)
			}
		case dead:
			if x.serial%2 == 0 {
				socket = append(socket, "ended", x.end, "end reason", "died")
			} else {
				limb = append(limb, "died", x.end)
				openAtDeath++
			}
		default:
			switch x.serial % 3 {
			case 0:
				socket = append(socket, "ended", x.end, "end reason", "lost to follow-up")
			case 1:
				limb = append(limb, "last seen", x.end)
			default:
				l.visits.add("socket", fmt.Sprintf("S%d%s", x.id, side), "date", x.end, "purpose", "follow-up")
			}
		}
		for d := 300; d < x.days; d += 300 {
			l.visits.add("socket", fmt.Sprintf("S%d%s", x.id, side), "date", x.end-day(x.days-d), "purpose", "review")
		}
		l.limbs.add(limb...)
		l.sockets.add(append(socket, x.own...)...)
	}
	return l, openAtDeath
}

// lastDay spreads the last days of lives over most of a year.
func lastDay(i int) day { return ymd(2023, time.January, 2) + day(i*37%300) }

// runLog writes a log and a notebook of the given asks, runs the command and
// reads the numbers. Every row must be used, nothing set aside, and no problem
// found but those named. Lines of front may be added.
func runLog(t testing.TB, l *lab, how form, asks string, problems map[string]int, front ...string) *numbersFile {
	t.Helper()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "log"), 0o755); err != nil {
		t.Fatal(err)
	}
	l.write(t, filepath.Join(dir, "log"), how)
	writeFile(t, filepath.Join(dir, "nb.md"), "---\ntitle: Published\naudience: quality\nlog: [log/*]\n"+strings.Join(append(front, "---"), "\n")+"\n\n"+asks)
	o := plybook(t, dir, "run", "nb.md", "--strict")
	folder := filepath.Join(dir, "nb-report")
	if o.status != 0 {
		t.Errorf("exit status %d\n%s%s", o.status, o.out, o.err)
	}
	n := readNumbers(t, folder)
	var rec runFile
	readJSON(t, filepath.Join(folder, "run.json"), &rec)
	want := 0
	for _, s := range l.sheets() {
		want += len(s.rows)
	}
	if c := rec.Counts; c.Read != want || c.Used != want || c.SetAside != 0 || c.ValuesSetAside != 0 {
		t.Errorf("%+v, want %d rows read and used", c, want)
	}
	found := map[string]int{}
	for _, p := range rec.Problems {
		found[p.Code] = p.Count
	}
	if fmt.Sprint(found) != fmt.Sprint(problems) && len(found)+len(problems) > 0 {
		t.Errorf("problems %v, want %v", found, problems)
	}
	for _, a := range n.Answers {
		if a.Error != nil {
			t.Fatalf("%s: %+v", a.ID, *a.Error)
		}
		if a.Reading == "" {
			t.Errorf("%s has no reading", a.ID)
		}
	}
	return n
}

// ask is a block of a notebook.
func ask(lines ...string) string { return "```ask\n" + strings.Join(lines, "\n") + "\n```\n\n" }

// table finds a table of an answer.
func (a *numbersAnswer) table(t testing.TB, name string) []map[string]any {
	t.Helper()
	rows, ok := a.Tables[name]
	if !ok {
		t.Fatalf("%s has no table %s", a.ID, name)
	}
	return rows
}

// rowsOf are the rows of a table that agree with key, value, key, value.
func (a *numbersAnswer) rowsOf(t testing.TB, name string, match ...any) []map[string]any {
	t.Helper()
	var out []map[string]any
	for _, r := range a.table(t, name) {
		ok := true
		for i := 0; i < len(match); i += 2 {
			ok = ok && r[match[i].(string)] == match[i+1]
		}
		if ok {
			out = append(out, r)
		}
	}
	return out
}

func (a *numbersAnswer) row(t testing.TB, name string, match ...any) map[string]any {
	t.Helper()
	rows := a.rowsOf(t, name, match...)
	if len(rows) != 1 {
		t.Fatalf("%s: %d rows of %s with %v, want 1", a.ID, len(rows), name, match)
	}
	return rows[0]
}
