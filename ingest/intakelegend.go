package ingest

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// dateOrder is the order that the date texts of the table speak for. It is
// a question where some could be read both ways and none decides, and empty
// where there is nothing to decide.
func (d *draft) dateOrder() (order, why string) {
	s := &sheetData{raw: *d.t.raw, header: d.t.end, block: &block{rows: d.t.rows, spec: &IntakeSheet{}}}
	var open, day, month, year []string
	for _, g := range d.dates() {
		found, _ := columnOrder(s, g.col)
		if m := inBrackets.FindStringSubmatch(g.header); m != nil && found == orderUnknown && orderNote(m[2]) != orderUnknown {
			continue // its header says it
		}
		ordered := false
		for _, c := range g.cells {
			if r, err := readDate(c.text); c.kind == cellText && err == nil && r.form == dateOrdered {
				ordered = true
			}
		}
		switch {
		case found == orderDayFirst:
			day = append(day, g.header)
		case found == orderMonthFirst:
			month = append(month, g.header)
		case found == orderYearFirst:
			year = append(year, g.header)
		case ordered:
			open = append(open, g.header)
		}
	}
	list := func(headers []string) string { return strings.Join(shortList(headers, 3), ", ") }
	likewise := ""
	if len(open) > 0 {
		likewise = fmt.Sprintf("; %s does not tell and is read likewise: likely (75%%)", list(open))
	}
	kinds := 0
	for _, headers := range [][]string{day, month, year} {
		if len(headers) > 0 {
			kinds++
		}
	}
	switch {
	case kinds > 1 && len(open) > 0:
		why := ""
		for _, k := range []struct {
			name    string
			headers []string
		}{{DayFirst, day}, {MonthFirst, month}, {YearFirst, year}} {
			if len(k.headers) > 0 {
				why += fmt.Sprintf(", %s in %s", k.name, list(k.headers))
			}
		}
		return question, fmt.Sprintf("day-first or month-first; nothing in %s decides, and the others differ: %s", list(open), why[2:])
	case kinds > 1:
		return "", "" // each column tells
	case len(day) > 0:
		return DayFirst, day[0] + " has days after the 12th, or dots" + likewise
	case len(month) > 0:
		return MonthFirst, month[0] + " has days after the 12th" + likewise
	case len(year) > 0:
		return YearFirst, year[0] + " has dates that can only begin with the year" + likewise
	case len(open) > 0:
		return question, fmt.Sprintf("day-first or month-first; nothing in %s decides", list(open))
	}
	return "", ""
}

// dates are the columns taken for dates, in order.
func (d *draft) dates() []*guessColumn {
	var out []*guessColumn
	add := func(table string, fields map[string]pick) {
		for name, p := range fields {
			if k := schema[table][fieldIndex(table, name)].Kind; k == KindDate {
				out = append(out, p.guessColumn)
			}
		}
	}
	for table, fields := range d.fields {
		add(table, fields)
	}
	for _, g := range d.groups {
		add(TableVisits, g.fields)
	}
	slices.SortFunc(out, func(a, b *guessColumn) int { return a.col - b.col })
	return out
}

var legendForm = regexp.MustCompile(`(?:^|[\s,;(])([A-Za-z]{1,3})\s*[=:]\s*([A-Za-z][A-Za-z -]+)`)

// legend are the meanings of marks that the sheet itself explains, such as
// "R = redness fading, B = blister".
func (d *draft) legend() map[string]string {
	out := map[string]string{}
	for _, r := range d.t.raw.rows {
		for _, c := range r.all() {
			if !strings.ContainsAny(c.text, "=:") || c.kind != cellText {
				continue
			}
			for _, m := range legendForm.FindAllStringSubmatch(c.text, -1) {
				out[wordKey(m[1])] = strings.TrimSpace(m[2])
			}
		}
	}
	return out
}

// marks proposes what the marks in the columns of regions mean.
func (d *draft) marks() []IntakeWord {
	legend := d.legend()
	count := map[string]int{}
	first := map[string]string{}
	for _, rc := range d.regions {
		for _, c := range rc.cells {
			k := wordKey(c.text)
			if count[k]++; first[k] == "" {
				first[k] = c.text
			}
		}
	}
	keys := make([]string, 0, len(count))
	for k := range count {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if count[keys[i]] != count[keys[j]] {
			return count[keys[i]] > count[keys[j]]
		}
		return keys[i] < keys[j]
	})
	var out []IntakeWord
	for _, k := range keys {
		w := IntakeWord{Text: first[k]}
		times := timesWord(count[k])
		said := legend[k]
		m := findings.Lookup(first[k])
		lm := findings.Lookup(said)
		switch {
		case said != "" && (lm.How == Exact || lm.How == Near):
			w.Code, w.note = lm.Code, fmt.Sprintf("%s; the sheet says %q; certain (95%%)", times, said)
		case clearMarks[strings.ToLower(first[k])]:
			w.Code, w.note = "none", times+"; looked at, nothing found: likely (80%); write \"no record\" if it only means not looked at"
		case m.How == Exact:
			w.Code, w.note = m.Code, times+"; certain (95%)"
		case markWords[k] != "":
			w.Code, w.note = markWords[k], times+"; a guess (60%)"
		case isMissing(first[k]):
			w.Code, w.note = NoRecord, times
		case len(splitWords(first[k])) > 1:
			continue // several marks in one cell are read one by one
		default:
			w.Code = question
			w.note = times + "; which finding? " + strings.Join(shortList(findings.Codes(), 14), ", ") + "; or no record"
			if said != "" {
				w.note = fmt.Sprintf("%s; the sheet says %q: redness fading, redness persisting or which other?", times, said)
			}
		}
		out = append(out, w)
	}
	return out
}

func timesWord(n int) string {
	if n == 1 {
		return "once"
	}
	return strconv.Itoa(n) + " times"
}

func isKnown(v Vocabulary, text string) bool {
	_, ok := v.known(text)
	return ok
}

// fillDown finds columns in which facts of a person are written on the first
// row of several only: the person's, and those blank on the same rows.
func (d *draft) fillDown() []string {
	person, ok := d.fields[TableLimbs]["person"]
	date, dated := d.fields[TableVisits]["date"]
	if !ok || !dated {
		return nil
	}
	blank := func(r rawRow, c int) bool { return strings.TrimSpace(r.cell(c).text) == "" }
	var later []rawRow // rows with a visit and no person
	for i, r := range d.t.rows {
		if blank(r, person.col) && !blank(r, date.col) {
			if i == 0 {
				return nil
			}
			later = append(later, r)
		}
	}
	if 5*len(later) < len(d.t.rows) || len(later) < 2 {
		return nil
	}
	out := []string{person.header}
	for _, g := range d.cols {
		facts := false
		for _, table := range []string{TableLimbs, TableSockets} {
			for _, p := range d.fields[table] {
				facts = facts || p.col == g.col && g.col != person.col && g.col != date.col
			}
		}
		if facts && !slices.ContainsFunc(later, func(r rawRow) bool { return !blank(r, g.col) }) {
			out = append(out, g.header)
		}
	}
	return out
}
