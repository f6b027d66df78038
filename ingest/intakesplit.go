package ingest

import (
	"slices"
	"strings"
)

// rowShare is one of several limbs or sockets that stand side by side on a row:
// "Check 1, Check 2, Definitive", or "Left level, Right level".
type rowShare struct {
	table, field, code string // limbs, side, left; or sockets, kind, check
	heading            string // as the headings call it
	place              int    // from 0
	last               bool
	upToFirst          bool // not after the first definitive socket of the row
	own                map[int]string
	others             map[int]bool // columns of the other shares
	date               int          // sockets: the column of their date
}

// shares finds the limbs or sockets that stand side by side on the rows of a
// table; nil where a row is about one.
func (t *foundTable) shares() []*rowShare {
	cols := t.columns()
	out := socketShares(cols, t.rows, t.raw)
	if out == nil {
		out = sideShares(cols, t.raw.commas)
	}
	definitive := false
	for i, s := range out {
		s.place, s.last = i, i == len(out)-1
		s.upToFirst = !definitive
		definitive = definitive || s.code == "definitive"
		s.others = map[int]bool{}
		for _, o := range out {
			for c := range o.own {
				if o != s {
					s.others[c] = true
				}
			}
		}
	}
	return out
}

// collect puts the columns of one code and number together, in the order of
// their first column.
func collect(cols []*guessColumn, table, field string, read func(tokens []string) (code, number string, rest []string)) []*rowShare {
	var out []*rowShare
	at := map[string]*rowShare{}
	for _, g := range cols {
		code, number, rest := read(headerTokens(g.header))
		if code == "" || len(g.cells) == 0 {
			continue
		}
		key := code + " " + number
		if at[key] == nil {
			at[key] = &rowShare{table: table, field: field, code: code, heading: strings.TrimSpace(key), own: map[int]string{}, date: -1}
			out = append(out, at[key])
		}
		at[key].own[g.col] = strings.Join(rest, " ")
	}
	return out
}

// hasColumn says whether a column of the table is headed by a field and
// holds it.
func hasColumn(cols []*guessColumn, table, name string, commas bool) bool {
	field := schema[table][fieldIndex(table, name)]
	return slices.ContainsFunc(cols, func(g *guessColumn) bool {
		return len(g.cells) > 0 && g.fit(table, field, commas) >= 0.8 && slices.ContainsFunc(columnMatches(g.header, g.lowest), func(m wordMatch) bool {
			return m.table == table && m.field == name && m.score >= 0.9
		})
	})
}

// ordinals are numbers as they stand before a word.
var ordinals = map[string]string{"first": "1", "second": "2", "third": "3", "fourth": "4"}

// socketShares are groups of columns that are headed by a kind of socket, at
// least two, each with a date. rows are those of the table.
func socketShares(cols []*guessColumn, rows []rawRow, raw *rawSheet) []*rowShare {
	commas := raw.commas
	if hasColumn(cols, TableSockets, "kind", commas) {
		return nil
	}
	out := collect(cols, TableSockets, "kind", func(tokens []string) (code, number string, rest []string) {
		if slices.ContainsFunc(tokens, func(t string) bool { return t == "up" || t == "ups" || t == "skin" || t == "list" }) {
			return "", "", nil // a check-up, a skin check or a check list is no socket
		}
		for i := 0; i < len(tokens); i++ {
			t := tokens[i]
			next := ""
			if i+1 < len(tokens) {
				next = tokens[i+1]
			}
			switch known, ok := kinds.known(t); {
			case ok && code == "":
				code = known
			case number == "" && ordinals[t] != "":
				number = ordinals[t]
			case number == "" && len(t) == 1 && t >= "1" && t <= "9" && (code != "" && len(rest) == 0 || slices.Contains([]string{"st", "nd", "rd", "th"}, next)):
				number = t
				if slices.Contains([]string{"st", "nd", "rd", "th"}, next) {
					i++
				}
			case t == "socket" || t == "no":
			default:
				rest = append(rest, t)
			}
		}
		return code, number, rest
	})
	field := schema[TableSockets][fieldIndex(TableSockets, "delivered")]
	out = slices.DeleteFunc(out, func(s *rowShare) bool {
		for _, g := range cols { // the first of its columns that holds dates
			rest, ok := s.own[g.col]
			if ok && s.date < 0 && g.fit(TableSockets, field, commas) >= 0.8 && !strings.Contains(rest, "cast") && !strings.Contains(rest, "end") {
				s.date = g.col
			}
		}
		return s.date < 0
	})
	if !slices.ContainsFunc(out, func(s *rowShare) bool { return s.code == "definitive" }) {
		out = withDelivery(cols, rows, out, raw)
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// withDelivery settles what columns such as "Check 1" mean beside one of
// deliveries: check sockets where their dates come before it, and the column
// of deliveries is then the definitive socket; visits where they come after.
func withDelivery(cols []*guessColumn, rows []rawRow, out []*rowShare, raw *rawSheet) []*rowShare {
	field := schema[TableSockets][fieldIndex(TableSockets, "delivered")]
	i := slices.IndexFunc(cols, func(g *guessColumn) bool {
		return len(g.cells) > 0 && g.fit(TableSockets, field, raw.commas) >= 0.8 && slices.ContainsFunc(columnMatches(g.header, g.lowest), func(m wordMatch) bool {
			return m.field == "delivered" && m.score >= 0.9
		})
	})
	if i < 0 || len(out) == 0 {
		return out
	}
	before, after := 0, 0
	for _, r := range rows {
		a, ok := roughDay(r.cell(out[0].date), raw.date1904)
		b, ok2 := roughDay(r.cell(cols[i].col), raw.date1904)
		switch {
		case !ok || !ok2:
		case a < b:
			before++
		default:
			after++
		}
	}
	if before <= after {
		return nil
	}
	return append(out, &rowShare{table: TableSockets, field: "kind", code: "definitive", heading: "delivered", own: map[int]string{cols[i].col: "delivered"}, date: cols[i].col})
}

// roughDay is a day to tell earlier from later by; of a text whose order of
// day and month is not known, as if the day came first.
func roughDay(c cell, date1904 bool) (Date, bool) {
	if c.kind == cellDate {
		v, _, err := readDigits(c.text, false)
		if err != nil {
			return 0, false
		}
		d, _, ok := serialDate(v, date1904)
		return d, ok
	}
	r, err := readDate(c.text)
	if err != nil || c.kind != cellText {
		return 0, false
	}
	if r.form == dateOrdered {
		r.month, r.day = r.b, r.a
		if r.month > 12 {
			r.month, r.day = r.a, r.b
		}
	}
	return NewDate(r.year, r.month, max(r.day, 1))
}

// sideShares are columns for the left limb and the same for the right.
func sideShares(cols []*guessColumn, commas bool) []*rowShare {
	if hasColumn(cols, TableLimbs, "side", commas) {
		return nil
	}
	out := collect(cols, TableLimbs, "side", func(tokens []string) (code, number string, rest []string) {
		if len(tokens) < 2 {
			return "", "", nil
		}
		for _, at := range []int{0, len(tokens) - 1} {
			if known, ok := sides.known(tokens[at]); ok {
				return known, "", slices.Delete(slices.Clone(tokens), at, at+1)
			}
		}
		return "", "", nil
	})
	if len(out) != 2 {
		return nil
	}
	both := false
	for _, rest := range out[0].own {
		for _, other := range out[1].own {
			if rest == other && slices.ContainsFunc(headerMatches(rest), func(m wordMatch) bool {
				return m.score >= 0.9 && (m.table == TableLimbs && m.field == "level" || m.table == TableSockets && m.field == "delivered")
			}) {
				both = true
			}
		}
	}
	if !both {
		return nil
	}
	return out
}

// madeUpTo are fields of a socket that belong to all sockets made from the
// cast of the row.
var madeUpTo = []string{"referred", "ordered", "cast_on", "cast_method", "cast_by"}

// columnsOf are the columns of a share: its own, and those that the shares
// have in common as far as they say something of each. What is left is read
// with the last socket, or with the first limb.
func (t *foundTable) columnsOf(s *rowShare) []*guessColumn {
	var out []*guessColumn
	for _, g := range t.columns() {
		rest, own := s.own[g.col]
		switch {
		case own:
			g.lowest = rest
		case s.others[g.col]:
			continue
		case s.table == TableSockets && !s.last:
			common := false
			for _, m := range columnMatches(g.header, g.lowest) {
				if m.score >= 0.6 && (m.table == TableLimbs || m.table == TableSockets && s.upToFirst && slices.Contains(madeUpTo, m.field)) {
					common = true
				}
			}
			if !common {
				continue
			}
		case s.table == TableSockets && !s.upToFirst:
			if slices.ContainsFunc(columnMatches(g.header, g.lowest), func(m wordMatch) bool {
				return m.score >= 0.9 && m.table == TableSockets && slices.Contains(madeUpTo, m.field)
			}) {
				continue
			}
		}
		out = append(out, g)
	}
	return out
}

// takeShare gives the columns of a socket's own to its delivery and the visit
// of that day.
func (d *draft) takeShare() {
	s := d.share
	if s == nil || s.table != TableSockets {
		return
	}
	d.visit = &visitGroup{key: "delivery", fields: map[string]pick{}}
	if s.code == "check" {
		d.visit.key = "check fitting"
	}
	for _, g := range d.cols {
		rest, own := s.own[g.col]
		if !own || g.taken {
			continue
		}
		if g.col == s.date {
			d.take(TableSockets, "delivered", g, 0.9)
			d.visit.fields["date"] = pick{g, 0.9}
			continue
		}
		for _, m := range headerMatches(rest) {
			if m.table != TableVisits || m.score < 0.6 || !slices.Contains(groupFields, m.field) || m.field == "date" {
				continue
			}
			if _, taken := d.visit.fields[m.field]; taken {
				continue
			}
			if fit := g.fit(TableVisits, schema[TableVisits][fieldIndex(TableVisits, m.field)], d.t.raw.commas); fit >= 0.5 {
				g.taken = true
				d.visit.fields[m.field] = pick{g, 0.5*m.score + 0.45*fit}
				break
			}
		}
	}
	accepted := schema[TableVisits][fieldIndex(TableVisits, "accepted")]
	for _, g := range d.cols { // "OK?", by what it holds
		if _, taken := d.visit.fields["accepted"]; s.code != "check" || taken {
			break
		}
		if _, own := s.own[g.col]; own && !g.taken && len(g.kinds) > 0 && g.fit(TableVisits, accepted, d.t.raw.commas) >= 0.9 {
			g.taken = true
			d.visit.fields["accepted"] = pick{g, 0.8}
		}
	}
	if len(d.visit.fields) == 1 && s.code != "check" { // a date of delivery alone is no visit
		d.visit = nil
	}
}

// doubtCommon lowers the certainty of what the sockets of a row have in
// common: a second check socket may be made from a cast of its own.
func (d *draft) doubtCommon() {
	if d.share == nil || d.share.table != TableSockets || d.share.place == 0 {
		return
	}
	for _, name := range madeUpTo {
		p, ok := d.fields[TableSockets][name]
		if !ok {
			continue
		}
		if _, own := d.share.own[p.col]; !own {
			p.p = min(p.p, 0.6)
			d.fields[TableSockets][name] = p
		}
	}
}

// leavesToOthers says whether a column that no field takes is listed with
// another limb or socket of the row: with the last socket or the first limb.
func (d *draft) leavesToOthers(g *guessColumn) bool {
	if d.share == nil {
		return false
	}
	_, own := d.share.own[g.col]
	home := d.share.last
	if d.share.table == TableLimbs {
		home = !home
	}
	return !own && !home
}

// beside says whether two entries read the same rows of a sheet, as those of
// two sockets on a row do.
func (b *block) beside(o *block) bool {
	return o != b && o.index == b.index && o.start == b.start && o.spec.overlaps(b.spec)
}

// partDrivers sees to it that what several entries of the same rows have in
// common gives none of them a record: the date on which both limbs were seen
// is no visit about a limb of which nothing is written.
func (n *intakeReader) partDrivers() {
	common := make([]map[string]map[int]bool, len(n.blocks)) // table -> column
	for i, b := range n.blocks {
		common[i] = map[string]map[int]bool{}
		for _, o := range n.blocks {
			if !b.beside(o) {
				continue
			}
			for _, v := range o.views {
				if common[i][v.table] == nil {
					common[i][v.table] = map[int]bool{}
				}
				for _, c := range v.cols {
					common[i][v.table][c] = true
				}
			}
		}
	}
	for i, b := range n.blocks {
		for _, v := range b.views {
			shared := func(c int) bool { return c < 0 || common[i][v.table][c] }
			if !slices.ContainsFunc(v.drivers, shared) {
				continue
			}
			own := slices.DeleteFunc(slices.Clone(v.drivers), shared)
			if len(own) == 0 {
				own = slices.DeleteFunc(slices.Clone(v.cols), shared)
			}
			if len(own) > 0 {
				v.drivers = own
			}
		}
	}
}
