package export

import (
	"math"
	"sort"
	"strconv"

	"plybook/analysis/cohort"
	"plybook/analysis/disclose"
	"plybook/analysis/table"
	"plybook/ingest"
	"plybook/reports/batch"
)

// cell is a value of the data set; the zero value is missing.
type cell struct {
	text   string
	num    float64
	number bool
}

func (c cell) missing() bool { return !c.number && c.text == "" }

func (c cell) String() string {
	if c.number {
		return strconv.FormatFloat(c.num, 'g', 10, 64)
	}
	return c.text
}

func textCell(s string) cell { return cell{text: s} }

func numCell(v float64) cell {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return cell{}
	}
	return cell{num: v, number: true}
}

// column is a column of the data set, with what the dictionary says of it.
type column struct {
	name, meaning, unit string
	kind                string // "code", "word", "text", "number", "days", "group"
	allowed             string
	how                 string // what was done to it
	cells               []cell

	// field is the column of a log that it is in log.xlsx; empty where it is
	// in none. Days become dates there, and inLog stands in for cells that a
	// log cannot hold.
	field string
	inLog []cell
}

// sheet is a table of the data set.
type sheet struct {
	name string
	cols []*column
	rows []int // of the table of the cohort, in the order written
}

// change is something that was done to the data, for the list of changes.
type change struct {
	table, column, what string
	concerned           string // how many persons, rows or values
	before, after       string // persons in rare combinations
}

// maker makes a data set.
type maker struct {
	o   Options
	src *batch.Source
	k   int

	rows   map[string]*table.Table
	people []*person
	byID   map[string]int
	cols   []disclose.Column
	index  map[string]int // of cols
	told   *disclose.Result
	ids    map[string]bool // identifiers of the log, folded
	names  []string        // those of several words
	named  map[string]bool // words of names

	code    map[string]map[string]string // kind, identifier of the log -> new code
	key     [][3]string                  // kind, identifier, code
	left    map[string]bool              // names to be left out -> met
	sheets  []*sheet
	changes []change
}

func (m *maker) make() error {
	m.rows, m.byID, m.index = map[string]*table.Table{}, map[string]int{}, map[string]int{}
	m.left = map[string]bool{}
	for _, name := range m.o.LeaveOut {
		m.left[name] = false
	}
	m.gatherIdentifiers()
	if err := m.checkOwn(); err != nil {
		return err
	}
	if err := m.gather(); err != nil {
		return err
	}
	m.known()
	var err error
	if m.told, err = disclose.Protect(len(m.people), m.cols, disclose.Options{K: m.k}); err != nil {
		return err
	}
	for k, p := range m.people {
		p.removed = m.told.Removed[k]
	}
	m.noteSteps()
	if err := m.draw(); err != nil {
		return err
	}
	for _, name := range ingest.Tables() {
		if err := m.sheet(name); err != nil {
			return err
		}
	}
	if m.told.Smallest == 0 {
		return ErrEmpty
	}
	return m.checkLeftOut()
}

// leftOut says whether a column was asked to be left out.
func (m *maker) leftOut(name string) bool {
	if _, ok := m.left[name]; !ok {
		return false
	}
	m.left[name] = true
	return true
}

// draw gives every person, limb, socket and visit that is told of a code of
// its own. Codes are drawn at random: nothing of the log is in them.
func (m *maker) draw() error {
	m.code = map[string]map[string]string{}
	taken := map[string]bool{}
	for _, kind := range []struct{ name, prefix, table, column string }{
		{"person", "P", cohort.Limbs, "person"}, {"limb", "X", cohort.Limbs, "limb"},
		{"socket", "K", cohort.Sockets, "socket"}, {"visit", "V", cohort.Visits, "visit"},
	} {
		m.code[kind.name] = map[string]string{}
		t := m.rows[kind.table]
		who := textOf(t, "person")
		for i, id := range textOf(t, kind.column) {
			k, ok := m.byID[who[i]]
			if id == "" || !ok || m.people[k].removed || m.code[kind.name][id] != "" {
				continue
			}
			code, err := ingest.DrawCode(kind.prefix, taken, m.o.Random)
			if err != nil {
				return err
			}
			m.code[kind.name][id] = code
			m.key = append(m.key, [3]string{kind.name, id, code})
			if kind.name == "person" {
				m.people[k].code = code
			}
		}
	}
	return nil
}

// sheet makes a table of the data set: the rows of persons who are told of, in
// the order of the new codes, so that the order of the log tells nothing.
func (m *maker) sheet(name string) error {
	t := m.rows[name]
	who := textOf(t, "person")
	s := &sheet{name: name}
	lost := 0
	for i := range t.Rows() {
		k, ok := m.byID[who[i]]
		switch {
		case !ok:
			lost++
		case !m.people[k].removed:
			s.rows = append(s.rows, i)
		}
	}
	if lost > 0 {
		m.changes = append(m.changes, change{table: name, what: "left out: rows of no known person", concerned: counted(lost, "row", "rows")})
	}
	if t.Rows() == 0 {
		return nil
	}
	m.order(s, t)
	for _, f := range ingest.Fields(name) {
		m.field(s, t, f)
	}
	m.further(s, t)
	if err := m.own(s); err != nil {
		return err
	}
	m.sheets = append(m.sheets, s)
	return nil
}

// order sorts the rows of a table by person, then day, then code.
func (m *maker) order(s *sheet, t *table.Table) {
	who := textOf(t, "person")
	day := numOf(t, map[string]string{cohort.Sockets: "delivered", cohort.Limbs: "amputated"}[s.name])
	if c, ok := t.Col("date"); ok && !c.Own {
		day = numOf(t, "date")
	}
	var codes []string
	for _, kind := range []string{"visit", "socket", "limb"} {
		if c, ok := t.Col(kind); ok && c.Kind == table.Text {
			codes = make([]string, t.Rows())
			for i, id := range c.Text {
				codes[i] = m.code[kind][id]
			}
			break
		}
	}
	sort.SliceStable(s.rows, func(a, b int) bool {
		i, j := s.rows[a], s.rows[b]
		if x, y := m.people[m.byID[who[i]]].code, m.people[m.byID[who[j]]].code; x != y {
			return x < y
		}
		if x, y := day[i], day[j]; x != y && !(math.IsNaN(x) && math.IsNaN(y)) {
			return x < y || math.IsNaN(y)
		}
		return codes != nil && codes[i] < codes[j]
	})
}

// zero is day 0 of a row.
func (m *maker) zero(t *table.Table) func(i int) float64 {
	who := textOf(t, "person")
	return func(i int) float64 {
		if k, ok := m.byID[who[i]]; ok {
			return m.people[k].zero
		}
		return math.NaN()
	}
}

func (s *sheet) add(c *column, value func(i int) cell) *column {
	c.cells = make([]cell, len(s.rows))
	some := false
	for j, i := range s.rows {
		c.cells[j] = value(i)
		some = some || !c.cells[j].missing()
	}
	if some { // what the log never says is no column of it
		s.cols = append(s.cols, c)
	}
	return c
}
