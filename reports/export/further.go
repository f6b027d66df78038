package export

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/disclose"
	"plybook/analysis/table"
	"plybook/ingest"
	"plybook/reports/notebook"
	"plybook/reports/study"
)

// pooled stands in the place of values that few persons have.
const pooled = "pooled"

// derived are the columns worked out from the log that go along, by table.
var derived = map[string][]string{
	cohort.Limbs:    {"follow_up_days"},
	cohort.Sockets:  {"fittings", "first_fit", "first_fit_clean", "reduction_pct", "volume_ml", "volume_change_pct", "ply_at_delivery", "ply_change", "turnaround_days"},
	cohort.Visits:   {"days_since_delivery", "ply_change", "socks", "volume_ml", "volume_change_pct"},
	cohort.Findings: {"days_since_delivery", "bony"},
	cohort.Stations: {"days_since_delivery", "reduction_pct", "volume_ml", "volume_change_pct"},
	cohort.Forming:  {"days_since_delivery"},
}

// further adds what is worked out from the log.
func (m *maker) further(s *sheet, t *table.Table) {
	if s.name == cohort.Sockets {
		m.lives(s, t)
	}
	for _, d := range cohort.Derived() {
		if !slices.Contains(derived[s.name], d.Name) || !slices.Contains(d.Rows, s.name) || m.leftOut(d.Name) {
			continue
		}
		c, ok := t.Col(d.Name)
		if !ok || c.Own {
			continue
		}
		out := &column{name: d.Name, meaning: d.Label, unit: d.Unit, kind: "number", how: "worked out from the log. " + d.Definition}
		if c.Kind == table.Text {
			out.kind, out.allowed = "word", "yes; no"
			s.add(out, func(i int) cell { return textCell(c.Text[i]) })
			continue
		}
		s.add(out, func(i int) cell { return number(c, i) })
	}
}

// lives adds what an analysis of times needs: from when each socket was
// watched, for how long, and how it ended.
func (m *maker) lives(s *sheet, t *table.Table) {
	l, err := m.src.Context.Cohort.Lives(t, cohort.LifeSpec{})
	if err != nil {
		return
	}
	zero := m.zero(t)
	at := map[int]int{}
	for j, row := range l.Row {
		at[row] = j
	}
	value := func(f func(j, row int) cell) func(i int) cell {
		return func(i int) cell {
			if j, ok := at[i]; ok {
				return f(j, i)
			}
			return cell{}
		}
	}
	const who = "empty for sockets that were never at risk while watched"
	s.add(&column{name: "start_day", meaning: "start of the socket's life, in days since day 0", unit: "days", kind: "days", how: "the delivery; of check sockets the first check fitting; " + who},
		value(func(j, row int) cell { return numCell(l.Start[j] - zero(row)) }))
	s.add(&column{name: "enters_after_days", field: "enters_after_days", meaning: "days after the start from which the socket was watched", unit: "days", kind: "number",
		how: "above 0 where `from` or `log_since` of the notebook come after the start (late entry); " + who},
		value(func(j, _ int) cell { return numCell(l.Entry[j]) }))
	s.add(&column{name: "watched_days", meaning: "days from the start to the end of the socket, else to the last day on which anything was recorded of the person", unit: "days", kind: "number", how: "worked out from the log; " + who},
		value(func(j, _ int) cell { return numCell(l.Time[j]) }))
	s.add(&column{name: "ended_as", meaning: "how the life ended", kind: "word", allowed: "in use; " + strings.Join(ingest.EndReasons().Codes(), "; "),
		how: "the reason of the end, the death of the person among them; `in use` where it had not ended when last heard of (censored); " + who},
		value(func(j, _ int) cell {
			if l.EndReason[j] == "" {
				return textCell("in use")
			}
			return textCell(l.EndReason[j])
		}))
}

// pool makes a column of a lab's own words: no date, no identifier, and no
// value that few persons have.
func (m *maker) pool(s *sheet, t *table.Table, c *table.Column, out *column) {
	texts := m.clean(c.Text)
	who := textOf(t, "person")
	persons := map[string][]int{}
	for _, i := range s.rows {
		if v := texts[i]; v != "" {
			k := m.byID[who[i]]
			if had := persons[v]; len(had) == 0 || !slices.Contains(had, k) {
				persons[v] = append(had, k)
			}
		}
	}
	rare := map[string]bool{pooled: true}
	for _, v := range disclose.Pool(persons, m.k) {
		rare[v] = true
	}
	out.kind = "text"
	n, values := 0, map[string]bool{}
	s.add(out, func(i int) cell {
		v := texts[i]
		if v != "" && rare[v] {
			v = pooled
			n++
		}
		if v != "" {
			values[v] = true
		}
		return textCell(v)
	})
	var all []string
	for v := range values {
		all = append(all, v)
	}
	sort.Strings(all)
	out.allowed = strings.Join(all, "; ")
	out.how = "as in the log"
	if n > 0 {
		out.how = fmt.Sprintf("values that fewer than %d persons have, or that hold an identifier, are `%s`", m.k, pooled)
		m.changes = append(m.changes, change{table: s.name, column: out.name, what: out.how, concerned: counted(n, "value", "values")})
	}
}

var wordsOf = regexp.MustCompile(`[^\pL\pN_\-]+`)

// gatherIdentifiers lists what names somebody or something in the log, and
// must stand in no text.
func (m *maker) gatherIdentifiers() {
	log := m.src.Log
	m.ids, m.named = map[string]bool{}, map[string]bool{}
	add := func(list ...string) {
		for _, s := range list {
			if s = strings.ToLower(strings.TrimSpace(s)); len(s) < 2 {
				continue
			}
			m.ids[s] = true
			if parts := wordsOf.Split(s, -1); len(parts) > 1 {
				m.names = append(m.names, s)
			}
		}
	}
	add(study.Persons(log)...)
	add(study.Staff(log)...)
	// Of names every word names: a site may be called after somebody.
	for _, s := range append(study.Persons(log), study.Staff(log)...) {
		for _, w := range wordsOf.Split(strings.ToLower(s), -1) {
			if len(w) > 3 && !strings.ContainsAny(w, "0123456789") {
				m.named[w] = true
			}
		}
	}
	for _, l := range log.Limbs {
		add(l.Limb)
	}
	for _, s := range log.Sockets {
		add(s.Socket)
	}
	for _, v := range log.Visits {
		add(v.Visit)
	}
	if codes := m.src.Codes; codes != nil {
		for _, kind := range []map[string]string{codes.Person, codes.Staff} {
			for value, code := range kind {
				add(value, code)
			}
		}
	}
	slices.Sort(m.names)
	m.names = slices.Compact(m.names)
}

// clean takes dates out of texts, and pools those that hold an identifier.
func (m *maker) clean(texts []string) []string {
	done := map[string]string{}
	out := make([]string, len(texts))
	for i, s := range texts {
		if s == "" {
			continue
		}
		clean, ok := done[s]
		if !ok {
			clean = study.WithoutDates(s)
			if m.identifies(clean) {
				clean = pooled
			}
			done[s] = clean
		}
		out[i] = clean
	}
	return out
}

func (m *maker) identifies(s string) bool {
	low := strings.ToLower(s)
	if m.ids[low] {
		return true
	}
	for _, w := range wordsOf.Split(low, -1) {
		// A word such as `left` or `2` may be an identifier in some log; alone
		// within a text it names nobody.
		if m.named[w] || m.ids[w] && strings.ContainsAny(w, "0123456789") && len(w) > 2 {
			return true
		}
	}
	return slices.ContainsFunc(m.names, func(name string) bool { return strings.Contains(low, name) })
}

// ErrOwn reports an own column that cannot go along.
var ErrOwn = errors.New("the column cannot be exported")

// checkOwn looks at the own columns that were asked for.
func (m *maker) checkOwn() error {
	found := map[string]ingest.OwnColumn{}
	var names []string
	for _, name := range ingest.Tables() {
		for _, o := range m.src.Log.Own[name] {
			if !o.Identifying && !o.Coded {
				names = append(names, o.Name)
			}
			if old, ok := found[o.Name]; !ok || !old.Identifying && !old.Coded {
				found[o.Name] = o
			}
		}
	}
	for _, name := range m.o.Own {
		o, ok := found[name]
		switch {
		case !ok:
			return fmt.Errorf("--own %s: %w: the log has no such column of its own%s", name, ErrOwn, nearest(name, names))
		case o.Identifying:
			return fmt.Errorf("--own %s: %w: it may identify people", name, ErrOwn)
		case o.Coded:
			return fmt.Errorf("--own %s: %w: codes of the lab stand in it", name, ErrOwn)
		}
	}
	return nil
}

func nearest(name string, among []string) string {
	if near := notebook.Nearest(name, among); near != "" {
		return fmt.Sprintf("; did you mean %s?", near)
	}
	return ""
}

// own adds the own columns that were asked for.
func (m *maker) own(s *sheet) error {
	t := m.rows[s.name]
	for _, o := range m.src.Log.Own[s.name] {
		if o.Identifying {
			m.changes = append(m.changes, change{table: s.name, what: "a column that may identify people was left out"})
			continue
		}
		if !slices.Contains(m.o.Own, o.Name) {
			m.changes = append(m.changes, change{table: s.name, column: o.Name, what: "left out: a column of the lab's own that was not asked for"})
			continue
		}
		c, ok := t.Col(table.OwnPrefix + o.Name)
		if !ok {
			continue
		}
		out := &column{name: "own." + o.Name, field: o.Name, meaning: o.Name + ", a column of the lab's own", kind: "number", how: "as in the log"}
		switch c.Kind {
		case table.Text:
			m.pool(s, t, c, out)
		case table.Date:
			zero := m.zero(t)
			out.name, out.kind, out.unit, out.how = dayName(out.name), "days", "days", "the date, as days since day 0"
			s.add(out, func(i int) cell {
				if c.Missing[i] {
					return cell{}
				}
				return numCell(c.Num[i] - zero(i))
			})
		default:
			if study.DayNumbers(o) {
				return fmt.Errorf("--own %s: %w: its numbers are days of the calendar", o.Name, ErrOwn)
			}
			if persons := m.personsOf(s, t, c); persons < m.k {
				m.drop(s, o.Name, c, "left out: known of too few persons")
				continue
			}
			s.add(out, func(i int) cell { return number(c, i) })
		}
	}
	return nil
}

// personsOf counts the persons of whom a column says something.
func (m *maker) personsOf(s *sheet, t *table.Table, c *table.Column) int {
	who, seen := textOf(t, "person"), map[string]bool{}
	for _, i := range s.rows {
		if !c.Missing[i] && !math.IsNaN(c.Num[i]) {
			seen[who[i]] = true
		}
	}
	return len(seen)
}
