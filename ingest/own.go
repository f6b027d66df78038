package ingest

import (
	"fmt"
	"strings"
	"sync"
	"unicode"
)

// stray is the share of values that must fit a type for the rest to be taken
// for slips rather than the column for text.
const stray = 0.9

// ownGroup is an own column over all sheets of a table.
type ownGroup struct {
	name  string
	coded bool // on one sheet at least, and so on all
	cols  map[*sheetData]ownCol
	recs  []*record // in use

	cells                       []cell // by record
	nums, dates                 []float64
	isNum, isDate               []bool
	filled, numCount, dateCount int
	why                         string // it could identify a person
}

// buildOwn types the lab's own columns from all their values and flags those
// that could identify a person.
func (r *reader) buildOwn() {
	for _, table := range Tables() {
		recs := r.used(table)
		groups := r.ownGroups(table)
		// As many columns at a time as there are cores, so that no more of their
		// cells are held at once.
		for from := 0; from < len(groups); {
			now := groups[from:min(len(groups), from+parts(len(recs)))]
			from += len(now)
			var wait sync.WaitGroup
			for _, g := range now {
				if g.recs = recs; !g.coded {
					wait.Go(func() { g.read(r.span) })
				}
			}
			wait.Wait()
			for _, g := range now {
				col := OwnColumn{}
				if g.coded {
					col = r.ownCoded(g)
				} else {
					col = r.ownColumn(g)
				}
				r.log.Own[table] = append(r.log.Own[table], col)
				*g = ownGroup{}
			}
		}
	}
}

func (r *reader) ownGroups(table string) []*ownGroup {
	var groups []*ownGroup
	byKey := map[string]*ownGroup{}
	for _, s := range r.sheets {
		if s.table != table {
			continue
		}
		for _, o := range s.own {
			key := o.key
			g := byKey[key]
			if g == nil {
				g = &ownGroup{name: o.name, cols: map[*sheetData]ownCol{}}
				byKey[key] = g
				groups = append(groups, g)
			}
			g.coded = g.coded || o.coded
			if _, ok := g.cols[s]; !ok {
				g.cols[s] = o
			}
		}
	}
	return groups
}

// read reads the cells of the column as dates and as numbers. It depends on
// nothing but these.
func (g *ownGroup) read(span logSpan) {
	n := len(g.recs)
	g.cells = make([]cell, n)
	g.nums, g.dates = make([]float64, n), make([]float64, n)
	g.isNum, g.isDate = make([]bool, n), make([]bool, n)
	texts := make([]string, 0, n)
	seen := ownMemo{}
	for i, rec := range g.recs {
		o, ok := g.cols[rec.sheet]
		if !ok {
			continue
		}
		c := rec.raw.cell(o.col)
		c.text = strings.TrimSpace(c.text)
		g.cells[i] = c
		if isMissing(c.text) || c.kind == cellError {
			continue
		}
		g.filled++
		texts = append(texts, c.text)
		switch read := seen.read(c, rec.sheet, o.order); read.kind {
		case OwnDate:
			g.dates[i], g.isDate[i] = read.num, true
			g.dateCount++
		case OwnNumber:
			g.nums[i], g.isNum[i] = read.num, true
			g.numCount++
		}
	}
	g.why = identifyingWhy(g.name, texts, g.dateCount == g.filled && g.filled > 0, g.dates, g.isDate, span)
	if g.why == "" && isRemark(g.name) && float64(max(g.numCount, g.dateCount)) < stray*float64(g.filled) {
		g.why = "holds remarks, which may name people"
	}
}

// ownColumn makes a column of what was read.
func (r *reader) ownColumn(g *ownGroup) OwnColumn {
	n := len(g.cells)
	col := OwnColumn{Name: g.name, Kind: OwnText, Text: make([]string, n), OK: make([]bool, n)}
	if g.why != "" {
		col.Identifying = true
		for _, s := range r.sheets {
			if o, ok := g.cols[s]; ok {
				r.onSheet(s, o.col, s.raw.rows[s.header].n, CodeIdentifying, g.name, "", "no names, numbers or addresses of persons", Kept,
					fmt.Sprintf("the column %q %s; it is never used or printed", g.name, g.why))
			}
		}
		return col
	}
	switch {
	case g.filled > 0 && float64(g.numCount) >= stray*float64(g.filled):
		col.Kind, col.Num, col.OK = OwnNumber, g.nums, g.isNum
	case g.filled > 0 && float64(g.dateCount) >= stray*float64(g.filled):
		col.Kind, col.Num, col.OK = OwnDate, g.dates, g.isDate
	}
	for i, c := range g.cells {
		rec := g.recs[i]
		if c.kind == cellError && c.text != "" {
			r.ownProblem(rec, g, c, CodeFormulaError, "a value", fmt.Sprintf("the cell holds the formula error %s", c.text))
			continue
		}
		if isMissing(c.text) {
			continue
		}
		switch {
		case col.Kind == OwnText:
			col.Text[i], col.OK[i] = strings.Join(strings.Fields(c.text), " "), true
			if d, ok := ownDate(c, rec.sheet, orderUnknown); ok && c.kind != cellText {
				col.Text[i] = d.String()
			}
			if c.kind == cellTime {
				col.Text[i] = clockOf(c.text)
			}
		case !col.OK[i]:
			what := map[OwnKind]string{OwnNumber: "a number", OwnDate: "a date"}[col.Kind]
			r.ownProblem(rec, g, c, CodeMixedColumn, what, fmt.Sprintf("%q is not %s as the rest of the column is", shorten(c.text), what))
		}
	}
	return col
}

// ownMemo remembers how cells of an own column were read, since they repeat.
// Columns with more than a thousand different cells are read one by one.
type ownMemo map[ownKey]ownRead

type ownKey struct {
	cell  cell
	sheet *sheetData
}

type ownRead struct {
	kind OwnKind
	num  float64
}

func (m ownMemo) read(c cell, s *sheetData, order dateOrder) ownRead {
	key := ownKey{c, s}
	if read, ok := m[key]; ok {
		return read
	}
	read := ownRead{kind: OwnText}
	if d, ok := ownDate(c, s, order); ok {
		read = ownRead{OwnDate, float64(d)}
	} else if v, ok := ownNumber(c, s); ok {
		read = ownRead{OwnNumber, v}
	}
	if len(m) < 1000 {
		m[key] = read
	}
	return read
}

func (r *reader) ownProblem(rec *record, g *ownGroup, c cell, code, want, text string) {
	o := g.cols[rec.sheet]
	r.onSheet(rec.sheet, o.col, rec.row(), code, rec.sheet.headers[o.col], c.text, want, ValueSetAside, text)
}

func ownDate(c cell, s *sheetData, order dateOrder) (Date, bool) {
	switch c.kind {
	case cellDate, cellMonthYear:
		v, _, err := readDigits(c.text, false)
		if err != nil {
			return 0, false
		}
		d, _, ok := serialDate(v, s.raw.date1904)
		return d, ok
	case cellText, cellISO:
		read, err := readDate(c.text)
		if err != nil || len(c.text) == 8 && compact.MatchString(c.text) { // eight bare digits are rather a number
			return 0, false
		}
		return read.resolve(order)
	}
	return 0, false
}

// ownNumber reads a number that is not an identifier: no leading zero, no
// more than 15 digits.
func ownNumber(c cell, s *sheetData) (float64, bool) {
	if c.kind != cellText && c.kind != cellNumber {
		return 0, false
	}
	if c.kind == cellText && len(c.text) > 1 && c.text[0] == '0' && unicode.IsDigit(rune(c.text[1])) || len(c.text) > 24 {
		return 0, false
	}
	n, err := parseNumber(c.text, s.raw.commas)
	if err != nil || n.unit != "" || n.approx != "" || n.value > 1e15 || n.value < -1e15 {
		return 0, false
	}
	return n.value, true
}
