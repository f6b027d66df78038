package ingest

import (
	"fmt"
	"regexp"
	"strings"
)

// sheetData is a sheet of the log with its columns found.
type sheetData struct {
	index   int // in Log.Sheets
	file    string
	table   string
	fields  []Field // of the table
	raw     rawSheet
	header  int      // index into raw.rows, -1 for a sheet without a header
	headers []string // by column
	cols    []int    // field -> column, -1 where absent
	units   []string // field -> unit that the header names, or the field's own
	named   []bool   // field -> the header names a unit
	orders  []dateOrder
	own     []ownCol
	noUnits []bool                    // field -> no cell names a unit; nil where that is not known
	ragged  int                       // text table: column from which a row has a cell too many; 0 where rows are not compared
	block   *block                    // where an intake names the columns
	fixed   map[int]string            // field -> text that stands for every row
	over    map[int]map[string]string // field -> folded text -> code, from an intake
	lent    map[lentValue]*record     // values that a record has from another row
	coded   map[int][]int             // field -> columns that a code stands for, from an intake
	soft    bool                      // records are put together, so what one row lacks another may give
}

type ownCol struct {
	name  string
	key   string // folded name
	col   int
	order dateOrder
	coded bool // codes stand for its values
}

var inBrackets = regexp.MustCompile(`^(.*?)\s*[(\[]([^)\]]*)[)\]]\s*\*?$`)

// headerKey folds case, spaces, underscores, hyphens and other punctuation.
func headerKey(s string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if r == '_' || r == '-' || r == ' ' || r == '*' || r == '.' || r == ':' || r == '/' || r == '\n' || r == '\u00a0' {
			return -1
		}
		return r
	}, strings.TrimSpace(s)))
}

// stem is a field's name without its unit: limb_mm -> limb.
func (f Field) stem() string {
	for _, suffix := range []string{"_mm", "_kg", "_c", "_min"} {
		if s, ok := strings.CutSuffix(f.Name, suffix); ok && f.Unit != "" {
			return s
		}
	}
	return f.Name
}

// headerMatch is a header read.
type headerMatch struct {
	field int // -1 for an own column
	unit  string
	named bool
	order dateOrder // from a note such as (dd/mm/yyyy)
	clash string    // unit of another quantity in the header
}

// matchHeader finds the field that a header names. `Limb (cm)`, `limb_mm`
// and `Station mm` name a unit; a bare `Limb` is the identifier where the
// table has one.
func matchHeader(table, header string) headerMatch {
	fields := schema[table]
	text := strings.Join(strings.Fields(header), " ")
	none := headerMatch{field: -1}
	note := ""
	if m := inBrackets.FindStringSubmatch(text); m != nil && m[1] != "" {
		text, note = m[1], m[2]
	}
	key := headerKey(text)
	if key == "" {
		return none
	}
	if note != "" {
		if unit, ok := unitName(note); ok && unit != "" {
			for i, f := range fields {
				if f.Unit == "" || key != headerKey(f.stem()) && key != headerKey(f.Name) {
					continue
				}
				if _, ok := toUnit(1, unit, f.Unit); !ok {
					return headerMatch{field: -1, clash: unit}
				}
				return headerMatch{field: i, unit: unit, named: true}
			}
		}
	}
	for i, f := range fields {
		if key == headerKey(f.Name) {
			m := headerMatch{field: i, unit: f.Unit, named: f.stem() != f.Name}
			if f.Kind == KindDate || f.Kind == KindYear {
				m.order = orderNote(note)
			}
			return m
		}
	}
	for i, f := range fields {
		if f.Unit == "" {
			continue
		}
		stem := headerKey(f.stem())
		if key == stem {
			return headerMatch{field: i, unit: f.Unit}
		}
		if rest, ok := strings.CutPrefix(key, stem); ok {
			if unit, ok := unitName(rest); ok && unit != "" {
				if _, ok := toUnit(1, unit, f.Unit); ok {
					return headerMatch{field: i, unit: unit, named: true}
				}
			}
		}
	}
	return none
}

// orderNote reads a header's note on the order of a date's parts.
func orderNote(note string) dateOrder {
	n := strings.ToLower(strings.TrimSpace(note))
	switch {
	case strings.HasPrefix(n, "d"):
		return orderDayFirst
	case strings.HasPrefix(n, "yy-") || strings.HasPrefix(n, "yy/") || strings.HasPrefix(n, "yy.") || strings.HasPrefix(n, "yymm"):
		return orderYearFirst
	case strings.HasPrefix(n, "mm/d"), strings.HasPrefix(n, "mm-d"), strings.HasPrefix(n, "m/d"), strings.HasPrefix(n, "mm d"):
		return orderMonthFirst
	}
	return orderUnknown
}

// findHeader picks the header among the first rows: the one that names most
// fields, the earliest of equals.
func findHeader(table string, rows []rawRow) int {
	best, bestCount, tried := -1, 0, 0
	for i, row := range rows {
		if blankRow(row) {
			continue
		}
		if tried++; tried > 15 {
			break
		}
		count := 0
		seen := map[int]bool{}
		for _, c := range row.all() {
			if m := matchHeader(table, c.text); m.field >= 0 && !seen[m.field] {
				seen[m.field] = true
				count++
			}
		}
		if best < 0 || count > bestCount {
			best, bestCount = i, count
		}
	}
	return best
}

// layColumns finds the columns of a sheet and reports what is odd about them.
func (r *reader) layColumns(s *sheetData) {
	fields := schema[s.table]
	s.cols, s.units, s.named, s.orders = make([]int, len(fields)), make([]string, len(fields)), make([]bool, len(fields)), make([]dateOrder, len(fields))
	for i, f := range fields {
		s.cols[i], s.units[i] = -1, f.Unit
	}
	s.header = findHeader(s.table, s.raw.rows)
	if s.header < 0 {
		return
	}
	head := s.raw.rows[s.header]
	ragged, width := s.raggedFrom()
	if s.ragged = ragged; ragged > 0 {
		width = ragged
	} else {
		width = max(width, head.width())
	}
	s.headers = make([]string, width)
	hidden := map[int]bool{}
	for _, c := range s.raw.hiddenCols {
		hidden[c] = true
	}
	names := map[string]bool{}
	for col := range width {
		text := strings.Clone(strings.Join(strings.Fields(head.cell(col).text), " ")) // which outlives the file's text
		s.headers[col] = text
		if text == "" {
			if !s.hasValues(col) {
				continue
			}
			s.headers[col] = "column " + columnName(col)
			r.onSheet(s, col, head.n, CodeNoHeader, "", "", "a header over every column with values", Kept,
				fmt.Sprintf("column %s has values but no header; it was kept as an own column named %q", columnName(col), s.headers[col]))
			s.own = append(s.own, ownCol{name: s.headers[col], key: headerKey(s.headers[col]), col: col})
			continue
		}
		if hidden[col] {
			r.onSheet(s, col, head.n, CodeHiddenColumn, text, text, "", Kept, fmt.Sprintf("column %s (%s) is hidden; it was read like the others", columnName(col), text))
		}
		m := matchHeader(s.table, text)
		switch {
		case m.clash != "":
			r.onSheet(s, col, head.n, CodeBadUnit, text, text, "a unit of the quantity measured", Kept,
				fmt.Sprintf("the header %q names a unit of another quantity; the column was kept as an own column", text))
		case m.field >= 0 && s.cols[m.field] >= 0:
			r.onSheet(s, col, head.n, CodeDuplicateHeader, text, text, "each header once", Kept,
				fmt.Sprintf("%q and %q name the same field; the first (column %s) is used and this one was kept as an own column", s.headers[s.cols[m.field]], text, columnName(s.cols[m.field])))
			m.field = -1
		case m.field >= 0:
			s.cols[m.field], s.units[m.field], s.named[m.field], s.orders[m.field] = col, m.unit, m.named, m.order
			continue
		}
		name := text
		for k := 2; names[headerKey(name)]; k++ {
			name = fmt.Sprintf("%s (%d)", text, k)
		}
		names[headerKey(name)] = true
		s.own = append(s.own, ownCol{name: name, key: headerKey(name), col: col})
	}
	for i, f := range fields {
		if f.Required && s.cols[i] < 0 {
			r.onSheet(s, 0, head.n, CodeMissingColumn, f.Name, "", "a column headed "+f.Name, Kept,
				fmt.Sprintf("the table %s needs a column %s and none was found; its rows cannot be used", s.table, f.Name))
		}
	}
}

func (s *sheetData) hasValues(col int) bool {
	for _, row := range s.raw.rows[s.header+1:] {
		if strings.TrimSpace(row.cell(col).text) != "" {
			return true
		}
	}
	return false
}
