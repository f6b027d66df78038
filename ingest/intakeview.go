package ingest

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// view is a part of a block: the columns of one record of one table.
type view struct {
	*sheetData
	part    *IntakePart
	visit   int   // visits: its number from 0
	drivers []int // a row gives a record where one of these columns has a value
	always  bool  // no column drives it: every row gives a record
	made    []string
	inUse   bool
	has     map[string]bool // fields that the intake names
	ordered map[int]string  // field -> date order that the intake gives
}

// order is the date order of a field: what the intake says of the column,
// else what the column's own dates say, else what the intake says of the
// sheet.
func (b *block) order(s *sheetData, f int, found dateOrder) dateOrder {
	if b == nil {
		return found
	}
	orders := map[string]dateOrder{DayFirst: orderDayFirst, MonthFirst: orderMonthFirst, YearFirst: orderYearFirst}
	for _, v := range b.views {
		if v.sheetData == s && v.ordered[f] != "" {
			return orders[v.ordered[f]]
		}
	}
	if o, ok := orders[b.spec.DateOrder]; ok && (found == orderUnknown || found == orderMixed || found == orderYearAsked) {
		return o
	}
	return found
}

// firstCol is the column that stands for a field without one.
func (b *block) firstCol(s *sheetData) int {
	for _, c := range s.cols {
		if c >= 0 {
			return c
		}
	}
	if len(b.mapped) > 0 {
		return b.mapped[0]
	}
	return 0
}

// layViews makes the views of a block and hands them to the reader.
func (n *intakeReader) layViews(b *block) {
	tables := map[string]bool{}
	visits := 0
	for i := range b.spec.Parts {
		part := &b.spec.Parts[i]
		tables[part.Table] = true
		if len(part.At) == 0 {
			v := n.view(b, part, -1)
			if part.Table == TableVisits {
				v.visit = visits
				visits++
			}
			if part.Table == TableStations || part.Table == TableFindings {
				b.together = true
			}
			continue
		}
		for a := range part.At {
			n.view(b, part, a)
		}
	}
	var names []string
	for _, t := range Tables() {
		if tables[t] {
			names = append(names, t)
		}
	}
	sheet := &n.r.log.Sheets[b.index]
	if sheet.HeaderRow == 0 && b.header < len(b.raw.rows) {
		sheet.HeaderRow = b.raw.rows[b.header].n
	}
	earlier := sheet.Table
	if earlier == b.raw.table { // nothing by an intake yet
		earlier = ""
	}
	var all []string
	for _, t := range Tables() {
		if slices.Contains(names, t) || slices.Contains(strings.Split(earlier, ", "), t) {
			all = append(all, t)
		}
	}
	sheet.Table = strings.Join(all, ", ")
}

func (n *intakeReader) view(b *block, part *IntakePart, at int) *view {
	fields := schema[part.Table]
	s := &sheetData{index: b.index, file: b.file, table: part.Table, fields: fields, raw: b.raw, header: b.header, headers: b.headers, block: b,
		cols: make([]int, len(fields)), units: make([]string, len(fields)), named: make([]bool, len(fields)), orders: make([]dateOrder, len(fields)),
		fixed: map[int]string{}, over: map[int]map[string]string{}}
	v := &view{sheetData: s, part: part, has: map[string]bool{}, ordered: map[int]string{}}
	for f, field := range fields {
		s.cols[f], s.units[f] = -1, field.Unit
		if field.Words == nil {
			continue
		}
		for _, w := range n.it.Words {
			if w.Field == field.Name {
				if s.over[f] == nil {
					s.over[f] = map[string]string{}
				}
				s.over[f][wordKey(w.Text)] = w.Code
			}
		}
	}
	for _, d := range part.Fields {
		f := fieldIndex(part.Table, d.Name)
		v.has[d.Name] = true
		if d.DateOrder != "" {
			v.ordered[f] = d.DateOrder
		}
		switch {
		case d.Column != "":
			n.column(v, f, d.Column, d.Unit)
		case len(d.Coded) > 0:
			n.codedColumns(v, f, d.Coded)
		case d.Is != "":
			s.fixed[f] = d.Is
		case d.SheetName:
			if s.fixed[f] = b.raw.name; b.raw.name == "" {
				s.fixed[f] = strings.TrimSuffix(baseName(b.file), filepath.Ext(b.file))
			}
		case d.InUse:
			v.inUse = true
		}
		v.made = append(v.made, d.Made...)
	}
	if at >= 0 {
		a := part.At[at]
		if part.Table == TableStations {
			s.fixed[fieldIndex(part.Table, "station_mm")] = a.What
			n.column(v, fieldIndex(part.Table, "limb_mm"), a.Column, part.Unit)
		} else {
			f := fieldIndex(part.Table, "finding")
			s.fixed[fieldIndex(part.Table, "region")] = a.What
			n.column(v, f, a.Column, "")
			over := map[string]string{}
			for k, c := range s.over[f] {
				over[k] = c
			}
			for _, m := range part.Marks {
				over[wordKey(m.Text)] = m.Code
			}
			s.over[f] = over
		}
	}
	for f, field := range fields {
		if c := s.cols[f]; c >= 0 && drives(part.Table, field.Name) {
			v.drivers = append(v.drivers, c)
			if coded := s.coded[f]; len(coded) > 1 {
				v.drivers = append(v.drivers, coded[1:]...)
			}
		}
	}
	v.always = len(v.drivers) == 0
	for _, o := range b.spec.Own {
		if c, ok := b.columns[headerKey(o.Column)]; ok && o.Table == part.Table && at <= 0 && !slices.ContainsFunc(b.views, func(w *view) bool { return w.part.Table == part.Table }) {
			s.own = append(s.own, ownCol{name: b.headers[c], key: headerKey(b.headers[c]), col: c, coded: o.Coded})
		}
	}
	s.soft = part.Table == TableLimbs || part.Table == TableSockets
	b.views = append(b.views, v)
	n.r.sheets = append(n.r.sheets, s)
	return v
}

// column points a field at its column. A sheet may lack a column that other
// sheets of the entry have.
func (n *intakeReader) column(v *view, f int, name, unit string) {
	s := v.sheetData
	field := schema[s.table][f]
	c, ok := s.block.columns[headerKey(name)]
	if !ok {
		n.r.onSheet(s, 0, s.raw.rows[s.header].n, CodeMissingColumn, name, "", "a column headed "+name, Kept, fmt.Sprintf("the intake names a column %q, which other sheets have and this one lacks", name))
		return
	}
	s.cols[f] = c
	switch {
	case unit != "":
		s.units[f], s.named[f] = unit, true
	case field.Unit != "":
		if u := headerUnit(s.headers[c], field.Unit); u != "" {
			s.units[f], s.named[f] = u, true
		}
	}
	if m := inBrackets.FindStringSubmatch(s.headers[c]); m != nil && (field.Kind == KindDate || field.Kind == KindYear) {
		s.orders[f] = orderNote(m[2])
	}
}

// drives says whether a value of a field makes a row give a record of its
// table: identifiers of other tables do not.
func drives(table, field string) bool {
	switch table {
	case TableLimbs:
		return field == "person" || field == "limb"
	case TableSockets:
		return field != "limb"
	case TableStations:
		return field == "limb_mm" || field == "target_mm" || field == "model_mm"
	case TableVisits:
		return field != "socket" && field != "visit"
	case TableFindings:
		return field == "region" || field == "finding"
	}
	return field != "socket" && field != "date"
}

// report says what a reader should know of how the block was found.
func (b *block) report(n *intakeReader) {
	if len(b.views) == 0 {
		return
	}
	s := b.views[0].sheetData
	at := b.raw.rows[b.header].n
	first := true
	for _, o := range n.blocks {
		if o == b {
			break
		}
		first = first && o.index != b.index
	}
	if first {
		n.r.layNotes(s)
	}
	if b.raw.rows[b.start].n != b.spec.Header {
		n.r.onSheet(s, b.firstCol(s), at, CodeHeaderMoved, "", "", fmt.Sprintf("the header in row %d", b.spec.Header), Kept,
			fmt.Sprintf("the intake says that the header stands in row %d; it was found in row %d", b.spec.Header, b.raw.rows[b.start].n))
	}
	names, _ := b.spec.wanted()
	known := map[int]bool{}
	for _, name := range names {
		if c, ok := b.columns[headerKey(name)]; ok {
			known[c] = true
		}
	}
	for c, h := range b.headers {
		elsewhere := slices.ContainsFunc(n.blocks, func(o *block) bool {
			_, named := slices.BinarySearch(o.mapped, c)
			return o != b && o.index == b.index && o.spec.overlaps(b.spec) && c < len(o.headers) && (named || !b.beside(o) || !first)
		})
		if h != "" && !known[c] && !strings.HasPrefix(h, "column ") && !elsewhere {
			n.r.onSheet(s, c, at, CodeNotMapped, h, "", "each column in the intake", Kept, fmt.Sprintf("the column %q is not named in the intake; it was not read", h))
		}
	}
	n.belowEnd(b, s)
}

// belowEnd counts rows that look like data below the row that ends a table.
func (n *intakeReader) belowEnd(b *block, s *sheetData) {
	if b.spec.Ends == "" || len(b.rows) == 0 {
		return
	}
	last := b.rows[len(b.rows)-1].n
	first, count := 0, 0
	for _, row := range b.raw.rows[b.header+1:] {
		if row.n <= last || b.begins(row, b.spec.Ends) {
			continue
		}
		if slices.ContainsFunc(n.blocks, func(o *block) bool {
			return o != b && o.index == b.index && o.spec.overlaps(b.spec) && row.n >= o.raw.rows[o.start].n
		}) {
			break
		}
		filled := 0
		for _, c := range b.mapped {
			if strings.TrimSpace(row.cell(c).text) != "" {
				filled++
			}
		}
		if 2*filled > len(b.mapped) {
			if count++; count == 1 {
				first = row.n
			}
		}
	}
	if count > 0 {
		n.r.onSheet(s, b.firstCol(s), first, CodeRowsBelowEnd, "", "", "no rows below the end of the table", Kept,
			fmt.Sprintf("%d rows that look like rows of the table stand below its end (%s) and were not read", count, b.spec.Ends))
	}
}
