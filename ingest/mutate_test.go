package ingest

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
)

// TestMutatedLogs damages a cut of the example's log (testdata/mutated) in
// seeded ways and reads it. Checked of every damaged log:
//
//   - reading does not panic, and the ledger adds up (checkLedger);
//   - no value is silently changed: of every row in use, each cell under a
//     field's header is read a second time by the plain rules below, and
//     where the stored value differs, or is missing though the cell is
//     neither blank nor a word for missing, a problem stands at the cell. Of
//     spellings, which are reported once with a count, it may stand at
//     another cell of the column with the same text;
//   - a value without a cell is one of the documented defaults;
//   - every 25th damaged log, written as a workbook and read through the door
//     of files, has the same problems and the same ledger.
//
// The plain rules read numbers of digits with the header's unit, days as
// stored or written 2024-03-05, day and month in either order, words of a
// vocabulary's own list, times of day, sock ply of one number or a sum, and texts as they
// stand. A cell that they cannot read must have a problem, or print back to
// what was stored; the rest is counted and kept under 2 percent. Own columns
// and what rows say of each other are not compared here.
//
// PLYBOOK_MUTATIONS sets how many logs are damaged (500 unless set).
func TestMutatedLogs(t *testing.T) {
	n := 500
	if s := os.Getenv("PLYBOOK_MUTATIONS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil || n < 1 {
			t.Fatalf("PLYBOOK_MUTATIONS is %q, no number", s)
		}
	}
	sound := loadGrid(t, gridPath())
	var judged, open, kept, aside int
	for seed := range uint64(n) {
		g := sound.clone()
		g.mutate(rand.New(rand.NewPCG(seed, 2026)))
		files := seed%25 == 0
		if files { // what a workbook cannot hold is blanked beforehand
			for i := range g {
				for _, row := range g[i].rows {
					for c, x := range row.own.cells {
						if x.kind == cellError || x.kind == cellNoValue {
							row.own.cells[c] = cell{}
						}
					}
				}
			}
		}
		path := filepath.Join(t.TempDir(), "log.xlsx")
		if files {
			g.save(t, path)
		}
		r := readGrid(t, g)
		j, o, faults := compareCells(r)
		judged, open = judged+j, open+o
		for _, f := range faults {
			t.Errorf("seed %d: %s", seed, f)
		}
		log := r.finish()
		checkLedger(t, log)
		for _, p := range log.Problems {
			if p.Done == Kept {
				kept++
			} else {
				aside++
			}
		}
		if files {
			fromFile, err := Read(context.Background(), []string{path}, Options{})
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			sameLogs(t, seed, log, fromFile)
		}
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
	t.Logf("%d logs: %d cells compared, %d left open; problems: %d kept, %d set aside", n, judged, open, kept, aside)
	if 50*open > judged {
		t.Errorf("%d of %d cells could not be compared", open, judged+open)
	}
}

func sameLogs(t *testing.T, seed uint64, a, b *Log) {
	t.Helper()
	x, y := found(a), found(b)
	slices.Sort(x)
	slices.Sort(y)
	if !slices.Equal(x, y) {
		t.Errorf("seed %d: the grid gave\n%s\nand the file\n%s", seed, strings.Join(x, "\n"), strings.Join(y, "\n"))
	}
	for i := range a.Sheets {
		p, q := a.Sheets[i], b.Sheets[i]
		if p.Read != q.Read || p.Used != q.Used || p.ValuesSetAside != q.ValuesSetAside {
			t.Errorf("seed %d: %s: %+v and %+v", seed, p.Sheet, p, q)
		}
	}
}

// reported are the problems of a reader by place, and by column and text.
type reported struct {
	at    map[string]bool
	texts map[string]bool
}

func reportsOf(r *reader) reported {
	out := reported{map[string]bool{}, map[string]bool{}}
	for _, p := range r.problems {
		out.at[fmt.Sprint(p.Sheet, p.Row, p.col)] = true
		if p.Code == CodeSpelling || p.Code == CodeIDSpelling {
			out.texts[fmt.Sprint(p.Sheet, p.col, p.Found)] = true
		}
	}
	return out
}

func compareCells(r *reader) (judged, open int, faults []string) {
	rep := reportsOf(r)
	for _, table := range Tables() {
		for _, rec := range r.used(table) {
			for f, field := range schema[table] {
				col, v, c := rec.sheet.cols[f], rec.val(f), rec.cell(f)
				c.text = strings.TrimSpace(c.text)
				if col < 0 || c.text == "" && c.kind != cellNoValue {
					if v.ok && !isDefault(table, field.Name) {
						faults = append(faults, fmt.Sprintf("%s row %d: %s has the value %+v without a cell", table, rec.row(), field.Name, v))
					}
					continue
				}
				told := rep.at[fmt.Sprint(rec.sheet.index, rec.row(), col)] ||
					rep.texts[fmt.Sprint(rec.sheet.index, col, c.text)] || rep.texts[fmt.Sprint(rec.sheet.index, col, "")]
				same, known := agrees(rec, f, c, v)
				same = same || missingWords[strings.ToLower(c.text)] && isDefault(table, field.Name)
				switch {
				case told || same:
					judged++
				case !known:
					open++
				default:
					faults = append(faults, fmt.Sprintf("%s row %d: %s %q (kind %d) was stored as %+v without a problem", table, rec.row(), field.Name, c.text, c.kind, v))
				}
			}
		}
	}
	return judged, open, faults
}

// isDefault names the fields that a row may leave out: codes made of others,
// the time that stands with the date, the region of no finding, and what
// another limb of the person states (its date of death, say).
func isDefault(table, field string) bool {
	return slices.Contains([]string{"limbs.limb", "visits.visit", "visits.time", "findings.region"}, table+"."+field) ||
		table == TableLimbs && slices.Contains(personFacts, field)
}

// agrees compares a stored value with the plain reading of its cell; known is
// false where the plain rules cannot read it.
func agrees(rec *record, f int, c cell, v value) (same, known bool) {
	field := schema[rec.sheet.table][f]
	number, err := strconv.ParseFloat(c.text, 64)
	isNumber := err == nil && (c.kind == cellText || c.kind == cellNumber)
	if !v.ok {
		return missingWords[strings.ToLower(c.text)], true
	}
	switch field.Kind {
	case KindID, KindText:
		if v.text == strings.Join(strings.Fields(c.text), " ") {
			return true, true
		}
		if c.kind == cellDate || c.kind == cellMonthYear {
			d, ok := rec.serial(f)
			return ok && v.text == d.String(), true
		}
		if days, err := strconv.ParseFloat(c.text, 64); err == nil && c.kind == cellTime { // the clock shown, to the second
			var h, m, sec int
			n, _ := fmt.Sscanf(v.text, "%d:%d:%d", &h, &m, &sec)
			return n >= 2 && math.Abs(days*86400-float64(h*3600+m*60+sec)) <= 0.5, true
		}
		if field.Name == "limb" { // the side in the place of a name, or another spelling of a name that is made
			return sides.Lookup(c.text).Code != "" || wordKey(c.text) == wordKey(v.text), true
		}
		return number == math.Trunc(number) && isNumber && v.text == strconv.FormatFloat(number, 'f', 0, 64), true
	case KindDate, KindYear:
		return sameDay(rec, f, c, v, field.Kind == KindYear)
	case KindNumber, KindWhole, KindScore:
		if !isNumber {
			unit, ok := strings.CutSuffix(c.text, "/10")
			score, err := strconv.ParseFloat(unit, 64)
			if ok && err == nil && field.Kind == KindScore {
				return near(v.num, score), true
			}
			i := strings.IndexFunc(c.text, func(r rune) bool { return unicode.IsLetter(r) })
			if i > 0 && c.kind == cellText { // 32.5 cm
				x, err := strconv.ParseFloat(strings.TrimSpace(c.text[:i]), 64)
				want, ok := toUnit(x, plainUnits[c.text[i:]], field.Unit)
				if err == nil && ok && plainUnits[c.text[i:]] != "" {
					return near(v.num, want), true
				}
			}
			if c.kind == cellTime {
				return near(v.num, 24*number) || near(v.num, 1440*number), true
			}
			return false, false
		}
		want, ok := toUnit(number, rec.sheet.units[f], field.Unit)
		return ok && near(v.num, want), true
	case KindWord, KindWords:
		for _, e := range field.Words.Entries() {
			for _, w := range append(append([]string{e.Code}, e.Synonyms...), e.Abbreviations...) {
				if wordKey(w) == wordKey(c.text) {
					return v.code == e.Code, true
				}
			}
		}
		return false, false
	case KindPly:
		want := 0.0
		for _, part := range strings.FieldsFunc(strings.TrimSuffix(c.text, " ply"), func(r rune) bool { return r == '+' || r == ' ' }) {
			count, ply, times := strings.Cut(part, "x")
			if !times {
				count, ply = "1", part
			}
			k, err1 := strconv.ParseFloat(count, 64)
			x, err2 := strconv.ParseFloat(ply, 64)
			switch {
			case part == "sheath":
			case err1 != nil || err2 != nil:
				return false, false
			default:
				want += k * x
			}
		}
		return near(v.ply.Total, want), c.kind == cellText || c.kind == cellNumber
	case KindTime:
		if c.kind != cellText {
			_, fraction := math.Modf(number)
			return near(v.num, math.Round(fraction*1440)), true
		}
		for _, layout := range []string{"15:04", "3:04 pm", "3:04pm", "3 pm"} {
			if clock, err := time.Parse(layout, strings.ToLower(c.text)); err == nil {
				return int(v.num) == 60*clock.Hour()+clock.Minute(), true
			}
		}
		return false, false
	}
	return false, false
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a)) }

// sameDay compares a day with its cell, by day or year: stored days by their
// number, texts written 2024-03-05, or three numbers in any order.
func sameDay(rec *record, f int, c cell, v value, year bool) (same, known bool) {
	is := func(d Date) bool {
		y, _, _ := d.Split()
		return year && v.num == float64(y) || !year && v.num == float64(d)
	}
	switch c.kind {
	case cellDate, cellMonthYear:
		d, ok := rec.serial(f)
		return ok && is(d) || year && c.text == strconv.Itoa(int(v.num)), true
	case cellText, cellISO, cellNumber, cellTime:
		if year && c.text == strconv.Itoa(int(v.num)) {
			return true, true
		}
		parts := strings.FieldsFunc(c.text, func(r rune) bool { return r < '0' || r > '9' })
		if len(parts) < 3 {
			return false, false
		}
		n := [3]int{num(parts[0]), num(parts[1]), num(parts[2])}
		for _, o := range [][3]int{{0, 1, 2}, {2, 1, 0}, {2, 0, 1}} {
			y := n[o[0]]
			for _, c := range []int{0, 1900, 2000} {
				if d, ok := NewDate(y+c, n[o[1]], n[o[2]]); ok && is(d) {
					return true, true
				}
			}
		}
		return false, true
	}
	return false, true
}

var plainUnits = map[string]string{"mm": "mm", "cm": "cm", "in": "in", "kg": "kg", "lb": "lb", "min": "min", "h": "h", "C": "C", "F": "F"}
