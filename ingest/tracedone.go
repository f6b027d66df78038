package ingest

import (
	"fmt"
	"strings"
)

// done says how the cell of a field became its value, but for what problems
// say of it. src is the record whose cell it is.
func (t *tracer) done(rec, src *record, f int, v value) []string {
	s := src.sheet
	c, text := src.cell(f), src.text(f)
	if cols := s.coded[f]; cols != nil {
		if len(cols) < 2 {
			return []string{"the random code that stands for the cell"}
		}
		var heads []string
		for _, col := range cols {
			heads = append(heads, fmt.Sprintf("%q", s.headers[col]))
		}
		return []string{"the random code that stands for the cells of " + strings.Join(heads, " and ") + " together"}
	}
	if !v.ok {
		return nil
	}
	field := s.fields[f]
	if text == "" || isMissing(text) && field.Words == nil {
		return []string{t.given(src, f)}
	}
	var out []string
	if s.cols[f] < 0 {
		out = append(out, t.fixed(src, f))
	}
	switch field.Kind {
	case KindID, KindText:
		return append(out, t.textDone(src, f, v)...)
	case KindDate:
		return append(out, t.dateDone(src, c, s.orders[f])...)
	case KindYear:
		if text != plain(v.num) {
			out = append(out, "only the year is kept")
		}
	case KindTime:
		if c.kind == cellTime || c.kind == cellDate || c.kind == cellNumber {
			out = append(out, "a time of the workbook, kept as a part of a day")
		}
	case KindNumber:
		out = append(out, t.numberDone(src, f)...)
	case KindScore:
		if n, err := parseNumber(text, s.raw.commas); err != nil || n.value != v.num {
			out = append(out, "read as "+plain(v.num)+" of 10")
		} else if strings.Contains(text, ",") {
			out = append(out, "the comma is a decimal comma")
		}
	case KindWord, KindWords:
		out = append(out, t.wordDone(src, f)...)
	case KindPly:
		out = append(out, plyDone(v.ply)...)
	}
	return out
}

// given says where a value comes from that no cell of the field gives.
func (t *tracer) given(rec *record, f int) string {
	v := rec.view()
	field := rec.sheet.fields[f].Name
	inUse := v != nil && v.inUse && field == "socket"
	switch rec.sheet.table + "." + field {
	case "limbs.limb":
		if v != nil && !rec.get("side").ok {
			return "the only limb of the person"
		}
		return "the default: the person and L or R"
	case "limbs.born", "limbs.sex", "limbs.died":
		person := rec.get("person").text
		for _, other := range t.r.used(TableLimbs) {
			if other != rec && other.get("person").text == person && other.text(f) != "" {
				at := atRow(other)
				if col := other.sheet.cols[f]; col >= 0 {
					at = atCell(other.sheet, col, other.row())
				}
				return "taken from another limb of the same person, " + at
			}
		}
	case "visits.visit":
		return "the default: socket, date and time"
	case "visits.time":
		return "the time of day that stands with the date"
	case "findings.region":
		return "the default of a visit without findings"
	case "sockets.socket":
		from := []string{"limb", "delivered"}
		if v != nil && len(v.made) > 0 {
			from = v.made
		}
		return "made from " + strings.Join(from, " and ") + ", as the intake says or by default"
	case "stations.date":
		return "the date of the visit of the same row"
	case "sockets.limb", "stations.limb":
		return "the limb of the same row"
	case "visits.socket", "forming.socket", "stations.socket":
		if inUse {
			return "the socket of the limb delivered last by that day, as the intake says"
		}
		return "the socket of the same row"
	case "findings.visit":
		return "the visit of the same row"
	}
	return "worked out from other values"
}

// fixed says what an intake gives for every row.
func (t *tracer) fixed(rec *record, f int) string {
	v, name, text := rec.view(), rec.sheet.fields[f].Name, rec.text(f)
	if v == nil {
		return "the same for every row"
	}
	for _, d := range v.part.Fields {
		if d.Name == name && d.SheetName {
			return fmt.Sprintf("the name of the sheet, %q", shorten(text))
		}
	}
	if len(v.part.At) > 0 && (name == "station_mm" || name == "region") {
		for _, d := range []string{"limb_mm", "finding"} {
			if k := fieldIndex(v.table, d); k >= 0 && v.cols[k] >= 0 {
				return fmt.Sprintf("the intake gives %q for the column %q", shorten(text), v.headers[v.cols[k]])
			}
		}
	}
	return fmt.Sprintf("the intake gives %q for every row", shorten(text))
}

// textDone compares an identifier or free word with its cell.
func (t *tracer) textDone(rec *record, f int, v value) []string {
	read := t.r.plainText(rec, f)
	if c := rec.cell(f); c.kind == cellDate || c.kind == cellMonthYear || c.kind == cellTime {
		return []string{"written out as text"}
	}
	field := rec.sheet.fields[f]
	switch {
	case v.text == read:
		return nil
	case field.Kind == KindText:
		return []string{"spelled as in most rows"}
	case wordKey(v.text) == wordKey(read):
		if field.Name == "person" {
			return []string{"spelled as in an earlier row"}
		}
		return []string{"spelled as where it is defined: only case, spaces or punctuation differ"}
	case field.Name == "limb" && rec.sheet.table == TableLimbs:
		return []string{"the default: the person and L or R"}
	case field.Name == "limb":
		return []string{"the limb of that person or side"}
	}
	return []string{"taken for the identifier that it must mean"}
}

// dateDone says how a date was read.
func (t *tracer) dateDone(rec *record, c cell, order dateOrder) []string {
	from := 1900
	if rec.sheet.raw.date1904 {
		from = 1904
	}
	text := strings.TrimSpace(c.text)
	switch c.kind {
	case cellDate, cellMonthYear:
		return []string{fmt.Sprintf("a date of the workbook, stored as day %s counted from %d", text, from)}
	case cellNumber, cellTime:
		if compact.MatchString(text) {
			return []string{"read as year, month and day"}
		}
		return []string{fmt.Sprintf("a day number counted from %d", from)}
	}
	read, err := readDate(text)
	if err != nil {
		return nil
	}
	var out []string
	if read.form == dateOrdered {
		word := map[dateOrder]string{orderDayFirst: "day first", orderMonthFirst: "month first", orderYearFirst: "year first"}[order]
		switch {
		case word != "" && read.yearOnlyFirst() == (order == orderYearFirst):
			out = append(out, word+", as its column is")
		case read.a == read.b:
			out = append(out, "day and month are the same")
		case read.a > 12:
			out = append(out, "can only be day first")
		default:
			out = append(out, "can only be month first")
		}
	}
	if read.short {
		out = append(out, "the century was added to a year of two digits")
	}
	if read.minute.OK {
		out = append(out, "the time of day behind it was taken apart")
	}
	return out
}

// numberDone says by which unit a number was read.
func (t *tracer) numberDone(rec *record, f int) []string {
	s, field, text := rec.sheet, rec.sheet.fields[f], rec.text(f)
	if rec.cell(f).kind == cellTime {
		return []string{"a time of the workbook, read as a duration"}
	}
	n, err := parseNumber(text, s.raw.commas)
	if err != nil {
		return nil
	}
	var out []string
	if strings.Contains(text, ",") && !n.commas {
		out = append(out, "the comma is a decimal comma")
	}
	if field.Unit == "" {
		return out
	}
	unit, by := s.units[f], "the unit of the column where none is named"
	switch {
	case n.unit != "":
		unit, by = n.unit, "the unit in the cell"
	case s.named[f]:
		by = "the unit of the header"
		if v := rec.view(); v != nil && headerUnit(s.headers[max(0, s.cols[f])], field.Unit) != unit {
			by = "the unit that the intake gives"
		}
	}
	if s.cols[f] < 0 && n.unit == "" {
		by = "the unit of the field"
	}
	if unit == field.Unit || unit == "m" && field.Unit == "min" {
		return append(out, fmt.Sprintf("%s, %s", unitPhrase(field.Unit), by))
	}
	stored, _ := toUnit(n.value, unit, field.Unit)
	return append(out, fmt.Sprintf("%s %s, %s, are %s %s", plain(n.value), unitPhrase(unit), by, plain(stored), unitPhrase(field.Unit)))
}

// wordDone says by which word of a vocabulary a text was read. Words read
// with less than certainty have a problem that says so.
func (t *tracer) wordDone(rec *record, f int) []string {
	field, text := rec.sheet.fields[f], rec.text(f)
	over := rec.sheet.over[f]
	matches, parts, ok := lookupWords(field.Words, over, text)
	if !ok {
		return nil
	}
	var out []string
	for i, m := range matches {
		_, says := over[wordKey(parts[i])]
		switch {
		case m.How != Exact || parts[i] == m.Code && len(matches) == 1:
		case says:
			out = append(out, fmt.Sprintf("the intake says that %q means %q", shorten(parts[i]), m.Code))
		case wordKey(parts[i]) == wordKey(m.Code):
			out = append(out, fmt.Sprintf("the code %q", m.Code))
		default:
			out = append(out, fmt.Sprintf("%q is a word for %q", shorten(parts[i]), m.Code))
		}
	}
	return out
}

// plyDone says what a ply is put together from.
func plyDone(p *Ply) []string {
	if p == nil {
		return nil
	}
	var out []string
	if len(p.Socks) > 1 {
		out = append(out, fmt.Sprintf("socks of %s ply, together %s", plainList(p.Socks), plain(p.Total)))
	}
	if p.Sheath {
		out = append(out, "a sheath, which counts no ply")
	}
	if p.HalfSock {
		out = append(out, "a half sock, which counts no ply")
	}
	if p.Morning.OK && !p.Evening.OK {
		out = append(out, "of the morning")
	}
	if p.Evening.OK && !p.Morning.OK {
		out = append(out, "of the evening")
	}
	return out
}
