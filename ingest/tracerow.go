package ingest

import (
	"fmt"
	"slices"
	"sort"
	"strings"
)

// notShown is why a text is left out.
const (
	hiddenName = "looks like a name or a number of a person"
	hiddenBorn = "tells when the person was born"
	hiddenCode = "a random code stands for it"
)

// atCell is a place in full: file, sheet and cell.
func atCell(s *sheetData, col, row int) string {
	at := s.file
	if s.raw.name != "" {
		at += ":" + s.raw.name
	}
	return at + "!" + cellName(col, row)
}

func atRow(rec *record) string {
	at := rec.sheet.file
	if rec.sheet.raw.name != "" {
		at += ":" + rec.sheet.raw.name
	}
	return fmt.Sprintf("%s row %d", at, rec.row())
}

func (t *tracer) row(rec *record) TraceRow {
	out := TraceRow{Table: rec.sheet.table, At: atRow(rec), Aside: rec.aside}
	if !rec.aside {
		out.Joined = t.joined(rec)
	}
	said := map[string]bool{}
	for f := range rec.sheet.fields {
		v, ok := t.value(rec, f, said)
		if ok {
			out.Values = append(out.Values, v)
		}
	}
	out.Values = append(out.Values, t.ownValues(rec, said)...)
	for _, p := range t.problems[tracePlace{rec.sheet.index, rec.row(), rec.sheet.table}] {
		if text := t.sentence(p); !said[text] && (p.Done == RowSetAside || rec.sheet.block == nil) {
			said[text] = true
			out.Why = append(out.Why, text)
		}
	}
	out.Why = append(out.Why, t.alsoIn(rec)...)
	return out
}

// sentence is what a problem says, without a name that it might hold. A row
// read by an intake may be used for other tables.
func (t *tracer) sentence(p pending) string {
	text := strings.TrimSuffix(p.Text, ".")
	if t.reveals(text) {
		text = "a problem of the kind " + p.Code + ", whose sentence is not shown since it " + hiddenName
	}
	return text
}

// alsoIn lists the rows that an intake put together with a row, and where
// they said something else.
func (t *tracer) alsoIn(rec *record) []string {
	n := t.r.intake
	if n == nil || rec.sheet.block == nil {
		return nil
	}
	if len(t.again) == 0 {
		for key, st := range n.rows {
			for _, lead := range st.merged {
				t.again[lead] = append(t.again[lead], key)
			}
		}
	}
	keys := slices.Clone(t.again[rec])
	sort.Slice(keys, func(i, j int) bool {
		return keys[i][0] < keys[j][0] || keys[i][0] == keys[j][0] && keys[i][1] < keys[j][1]
	})
	keys = slices.Compact(keys)
	if len(keys) == 0 {
		return nil
	}
	noun := strings.TrimSuffix(rec.sheet.table, "s")
	var out, rows []string
	for i, key := range keys {
		sheet := t.r.log.Sheets[key[0]]
		at := sheet.File
		if sheet.Sheet != "" {
			at += ":" + sheet.Sheet
		}
		if i == 0 || keys[i-1][0] != key[0] {
			rows = append(rows, fmt.Sprintf("%s row %d", at, key[1]))
		} else {
			rows = append(rows, fmt.Sprint(key[1]))
		}
		for _, p := range t.problems[tracePlace{key[0], key[1], rec.sheet.table}] {
			if p.Code == CodeConflict {
				out = append(out, at+"!"+p.Cell+": "+t.sentence(p))
			}
		}
	}
	return append([]string{fmt.Sprintf("the same %s stands in %s; the rows were put together", noun, strings.Join(rows, ", "))}, out...)
}

// joined says to which rows of other tables a row belongs.
func (t *tracer) joined(rec *record) []string {
	var out []string
	to := func(table, noun, id, how string) *record {
		other := t.used[table][id]
		if id == "" || other == nil {
			return nil
		}
		name := t.showID(noun, id)
		if name != "" {
			name = " " + name
		}
		out = append(out, fmt.Sprintf("%s %s%s (%s)", how, noun, name, atRow(other)))
		return other
	}
	person := func(limb *record) {
		if limb != nil {
			if name := t.showID("person", limb.get("person").text); name != "" {
				out[len(out)-1] += " of person " + name
			}
		}
	}
	str := rec.str
	switch rec.sheet.table {
	case TableLimbs:
		if name := t.showID("person", str("person")); name != "" {
			out = append(out, "a limb of person "+name)
		}
		sockets := 0
		for _, s := range t.r.used(TableSockets) {
			if s.str("limb") == str("limb") {
				sockets++
			}
		}
		out = append(out, fmt.Sprintf("sockets joined to it: %d", sockets))
	case TableSockets:
		person(to(TableLimbs, "limb", str("limb"), "joined to"))
		to(TableSockets, "socket", str("replaces"), "takes the place of")
		visits := 0
		for _, s := range t.r.used(TableSockets) {
			if s.str("replaces") == str("socket") {
				to(TableSockets, "socket", s.str("socket"), "its place was taken by")
			}
		}
		for _, v := range t.r.used(TableVisits) {
			if v.str("socket") == str("socket") {
				visits++
			}
		}
		out = append(out, fmt.Sprintf("visits joined to it: %d", visits))
	case TableStations:
		person(to(TableLimbs, "limb", str("limb"), "joined to"))
		to(TableSockets, "socket", str("socket"), "joined to")
	case TableVisits, TableForming:
		if s := to(TableSockets, "socket", str("socket"), "joined to"); s != nil {
			person(to(TableLimbs, "limb", s.str("limb"), "and so to"))
		}
	case TableFindings:
		if v := to(TableVisits, "visit", str("visit"), "joined to"); v != nil {
			to(TableSockets, "socket", v.str("socket"), "and so to")
		}
	}
	return out
}

// value tells of a field; ok is false where there is nothing to tell. said
// takes the sentences that stand with values.
func (t *tracer) value(rec *record, f int, said map[string]bool) (out TraceValue, ok bool) {
	field := rec.sheet.fields[f]
	out = TraceValue{Column: field.Name}
	v := rec.val(f)
	src := rec
	for from := rec.from(f); from != nil; from = from.from(f) {
		src = from
	}
	text := src.text(f)
	var problems []string
	for _, p := range t.problems[tracePlace{src.sheet.index, src.row(), src.sheet.table}] {
		if t.isOf(p, src, f) {
			s := t.sentence(p)
			problems = append(problems, s)
			said[s] = true
		}
	}
	if !v.ok && text == "" && len(problems) == 0 {
		return out, false
	}
	if col := src.sheet.cols[f]; col >= 0 {
		out.At = atCell(src.sheet, col, src.row())
	}
	out.Text = text
	out.Hidden = t.hidden(src, f)
	if out.Hidden != "" {
		out.Text = ""
	}
	out.Value = t.shown(rec, f, v, out.Hidden)
	out.Done = t.done(rec, src, f, v)
	if src != rec {
		out.Done = append(out.Done, "taken from another row, where the same "+strings.TrimSuffix(rec.sheet.table, "s")+" stands")
	}
	out.Done = append(out.Done, problems...)
	switch {
	case len(out.Done) > 0:
	case v.ok && out.Hidden == hiddenName && out.Value != "":
		out.Done = []string{"shown by its code or number in reports"}
	case v.ok && out.Hidden == "" && text != strings.TrimSpace(strings.TrimSuffix(out.Value, unitOf(field))):
		out.Done = []string{"read as " + out.Value}
	case v.ok:
		out.Done = []string{AsItStands}
	case isMissing(text):
		out.Done = []string{"says that nothing is known"}
	default:
		out.Done = []string{"not used"}
	}
	if t.reveals(strings.Join(out.Done, " ")) {
		out.Done = []string{"what was done is not shown, since it " + hiddenName}
	}
	return out, true
}

// unitOf is the unit with which a field's value is shown.
func unitOf(f Field) string {
	if f.Kind == KindPly {
		return "ply"
	}
	return f.Unit
}

// isOf says whether a problem of the record's row is of a field: of its cell,
// or by its name where it has no column.
func (t *tracer) isOf(p pending, rec *record, f int) bool {
	if col := rec.sheet.cols[f]; col >= 0 {
		return p.col == col && p.Column == rec.sheet.headers[col]
	}
	return p.Column == rec.sheet.fields[f].Name && !slices.Contains(rec.sheet.headers, p.Column)
}

// hidden is why a field's text is not shown, or nothing.
func (t *tracer) hidden(rec *record, f int) string {
	field := rec.sheet.fields[f]
	switch {
	case rec.sheet.coded[f] != nil:
		return hiddenCode
	case field.Name == "born":
		return hiddenBorn
	case t.r.hides(rec, f), t.reveals(rec.storedText(f)), t.reveals(rec.text(f)):
		return hiddenName
	}
	return ""
}

// shown is a value as the log has it, with its unit.
func (t *tracer) shown(rec *record, f int, v value, hidden string) string {
	field := rec.sheet.fields[f]
	switch {
	case !v.ok:
		return ""
	case hidden == hiddenName && field.Staff:
		return t.staff(v.text)
	case hidden == hiddenName:
		switch field.Name {
		case "person", "limb", "socket", "visit":
			return t.showID(field.Name, v.text)
		case "replaces":
			return t.showID("socket", v.text)
		}
		return ""
	case v.ply != nil:
		return plain(v.ply.Total) + " ply"
	case field.Kind == KindDate:
		return v.date().String()
	case field.Kind == KindTime:
		return fmt.Sprintf("%02d:%02d", int(v.num)/60, int(v.num)%60)
	case len(v.more) > 1:
		var codes []string
		for _, m := range v.more {
			codes = append(codes, m.Code)
		}
		return strings.Join(codes, ", ")
	case v.code != "":
		return v.code
	case v.text != "":
		return v.text
	}
	return strings.TrimSpace(plain(v.num) + " " + field.Unit)
}

// ownValues tells of the lab's own columns.
func (t *tracer) ownValues(rec *record, said map[string]bool) []TraceValue {
	var out []TraceValue
	for k, g := range t.own[rec.sheet.table] {
		o, ok := g.cols[rec.sheet]
		if !ok {
			continue
		}
		col := t.r.log.Own[rec.sheet.table][k]
		c := rec.raw.cell(o.col)
		text := strings.TrimSpace(c.text)
		v := TraceValue{Column: g.name, Own: true, At: atCell(rec.sheet, o.col, rec.row()), Text: text}
		for _, p := range t.problems[tracePlace{rec.sheet.index, rec.row(), rec.sheet.table}] {
			if p.col == o.col {
				s := t.sentence(p)
				said[s] = true
				v.Done = append(v.Done, s)
			}
		}
		if text == "" && len(v.Done) == 0 {
			continue
		}
		i, used := t.at[rec]
		switch {
		case col.Identifying:
			v.Hidden, v.Text = hiddenName, ""
			v.Done = append(v.Done, "the column may tell who the person is; it is never used or printed")
		case col.Coded:
			v.Hidden, v.Text = hiddenCode, ""
			if used {
				v.Value = col.Text[i]
			}
		case t.reveals(text):
			v.Hidden, v.Text = hiddenName, ""
		case !used:
		case col.OK[i]:
			v.Value = map[OwnKind]func() string{
				OwnNumber: func() string { return plain(col.Num[i]) },
				OwnDate:   func() string { return Date(int(col.Num[i])).String() },
				OwnText:   func() string { return col.Text[i] },
			}[col.Kind]()
			if col.Kind == OwnDate {
				v.Done = append(t.dateDone(rec, c, o.order), v.Done...)
			}
		}
		switch {
		case len(v.Done) > 0:
		case v.Value != "":
			v.Done = []string{AsItStands}
		case isMissing(text):
			v.Done = []string{"says that nothing is known"}
		default:
			v.Done = []string{"not used"}
		}
		out = append(out, v)
	}
	return out
}
