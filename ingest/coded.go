package ingest

import "strings"

// parseCoded reads a field that is replaced by codes: of one column or of
// several that together tell people apart. What the cells hold goes to the
// Coder and nowhere else.
func (r *reader) parseCoded(rec *record, f int) {
	field := &rec.sheet.fields[f]
	kind := codedKind(rec.sheet.table, *field)
	var texts []string
	filled := false
	cols := rec.sheet.coded[f]
	for _, col := range cols {
		text, bad := codedText(rec, col, len(cols) > 1)
		if bad != "" {
			r.drop(rec, f, bad, "a value", "a cell that the code stands for holds a formula that failed or has no result stored")
			return
		}
		filled = filled || text != ""
		texts = append(texts, text)
	}
	if !filled {
		return
	}
	code, err := r.opts.Codes.code(kind, strings.Join(texts, partJoint))
	if err != nil {
		r.codeErr = err
		return
	}
	rec.set(f, value{ok: true, text: code})
	r.noteCoded(kind, texts, code, codedPlace{rec.sheet, cols[0], rec.row()})
}

// codedText is the text of a cell that a code stands for, empty where it is
// missing, or the code of a problem. A true date is written as 1950-03-02,
// and so is one typed in a column among several; a column by itself may hold
// numbers that only look like dates.
func codedText(rec *record, col int, among bool) (text, bad string) {
	c := rec.raw.cell(col)
	text = strings.Join(strings.Fields(c.text), " ")
	switch {
	case c.kind == cellNoValue && text == "":
		return "", CodeFormulaNoValue
	case c.kind == cellError:
		return "", CodeFormulaError
	case isMissing(text):
		return "", ""
	case c.kind == cellDate || c.kind == cellMonthYear:
		if v, _, err := readDigits(text, false); err == nil {
			if d, _, ok := serialDate(v, rec.sheet.raw.date1904); ok {
				return d.String(), ""
			}
		}
	case c.kind == cellISO || c.kind == cellText && among:
		if read, err := readDate(text); err == nil && read.form == dateExact && read.year > 1850 {
			if d, ok := read.resolve(orderUnknown); ok {
				return d.String(), ""
			}
		}
	}
	return strings.ReplaceAll(text, "|", "/"), ""
}

// codeOwn gives the code of a cell of an own column that codes stand for.
func (r *reader) codeOwn(rec *record, o ownCol) string {
	text, bad := codedText(rec, o.col, false)
	if bad != "" {
		r.onSheet(rec.sheet, o.col, rec.row(), bad, rec.sheet.headers[o.col], "", "a value", ValueSetAside, "the cell that the code stands for holds a formula that failed or has no result stored")
		return ""
	}
	if text == "" {
		return ""
	}
	kind := KindOwn + o.name
	code, err := r.opts.Codes.code(kind, text)
	if err != nil {
		r.codeErr = err
		return ""
	}
	r.noteCoded(kind, []string{text}, code, codedPlace{rec.sheet, o.col, rec.row()})
	return code
}

// ownCoded is an own column that codes stand for.
func (r *reader) ownCoded(g *ownGroup) OwnColumn {
	n := len(g.recs)
	col := OwnColumn{Name: g.name, Kind: OwnText, Text: make([]string, n), OK: make([]bool, n), Coded: true}
	for i, rec := range g.recs {
		if o, ok := g.cols[rec.sheet]; ok {
			col.Text[i] = r.codeOwn(rec, o)
			col.OK[i] = col.Text[i] != ""
		}
	}
	return col
}
