package export

import (
	"fmt"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/disclose"
	"plybook/analysis/table"
	"plybook/ingest"
)

// levelTold says of each limb whether its level is told as it stands.
func (m *maker) levelTold() func(limb string) bool {
	n, ok := m.index["level"]
	if !ok {
		return func(string) bool { return false }
	}
	as := map[string]bool{}
	t := m.rows[cohort.Limbs]
	levels, limbs := textOf(t, "level"), textOf(t, "limb")
	for k, p := range m.people {
		for u, i := range p.limbs {
			as[limbs[i]] = levels[i] != "" && m.told.Value(m.cols, n, k, u) == levels[i]
		}
	}
	return func(limb string) bool { return as[limb] }
}

// landmarks makes the column of landmarks. A landmark tells the level of the
// limb; where that is not told, the landmarks of the person are numbered.
func (m *maker) landmarks(s *sheet, t *table.Table, c *table.Column, out *column) {
	told, limbs, who := m.levelTold(), textOf(t, "limb"), textOf(t, "person")
	numbered := map[string]map[string]int{}
	named, number := table.NewText(c.Name, t.Rows()), make([]string, t.Rows())
	n := 0
	for _, i := range s.rows {
		switch {
		case c.Missing[i]:
			continue
		case told(limbs[i]):
			named.SetText(i, c.Text[i])
			continue
		}
		of := numbered[who[i]]
		if of == nil {
			of = map[string]int{}
			numbered[who[i]] = of
		}
		if of[c.Text[i]] == 0 {
			of[c.Text[i]] = len(of) + 1
		}
		number[i] = fmt.Sprintf("landmark %d", of[c.Text[i]])
		n++
	}
	m.pool(s, t, named, out)
	if n == 0 {
		return
	}
	what := "numbered within the person where the level of the limb is not told"
	out.how += "; " + what
	m.changes = append(m.changes, change{table: s.name, column: out.name, what: what, concerned: counted(n, "value", "values")})
	for j, i := range s.rows {
		if number[i] != "" {
			out.cells[j] = textCell(number[i])
		}
	}
	if out.allowed == "" { // no level is told, and the column is not yet there
		s.cols = append(s.cols, out)
	}
	out.allowed = strings.TrimPrefix(out.allowed+"; landmark 1, landmark 2...", "; ")
}

// regions makes the column of the regions of findings, which tell the level as
// well.
func (m *maker) regions(s *sheet, t *table.Table, c *table.Column, out *column, f ingest.Field) {
	told, limbs := m.levelTold(), textOf(t, "limb")
	out.kind, out.allowed = "word", strings.Join(append(f.Words.Codes(), disclose.Withheld), "; ")
	n := 0
	s.add(out, func(i int) cell {
		if c.Missing[i] || told(limbs[i]) {
			return textCell(c.Text[i])
		}
		n++
		return textCell(disclose.Withheld)
	})
	out.inLog = append([]cell(nil), out.cells...)
	for j, x := range out.inLog {
		if x.text == disclose.Withheld {
			out.inLog[j] = textCell("other")
		}
	}
	if n > 0 {
		what := "withheld where the level of the limb is not told"
		out.how += "; " + what
		m.changes = append(m.changes, change{table: s.name, column: out.name, what: what, concerned: counted(n, "value", "values")})
	}
}
