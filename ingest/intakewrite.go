package ingest

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Text writes the intake as a file that ParseIntake reads to the same
// meaning, with the comments of a proposal where it is one.
func (it *Intake) Text() string {
	w := &intakeWriter{}
	w.line(0, "sheets:", "")
	for i := range it.Sheets {
		w.sheet(&it.Sheets[i])
	}
	w.words(it.Words)
	return w.b.String()
}

type intakeWriter struct{ b strings.Builder }

// commentAt is the column in which comments begin where there is room.
const commentAt = 46

func (w *intakeWriter) line(indent int, text, note string) {
	text = strings.Repeat(" ", indent) + text
	w.b.WriteString(text)
	if note != "" {
		w.b.WriteString(strings.Repeat(" ", max(2, commentAt-utf8.RuneCountInString(text))) + "# " + oneLine(note))
	}
	w.b.WriteByte('\n')
}

func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, s)
}

func (w *intakeWriter) sheet(s *IntakeSheet) {
	w.b.WriteByte('\n')
	w.line(2, "- sheet: "+yamlList(s.Sheets), s.note["sheet"])
	if s.File != "" {
		w.line(4, "file: "+yamlText(s.File), s.note["file"])
	}
	header := strconv.Itoa(s.Header)
	if s.HeaderEnd > s.Header {
		header += "-" + strconv.Itoa(s.HeaderEnd)
	}
	w.line(4, "header: "+header, s.note["header"])
	if s.Columns[0] >= 0 {
		w.line(4, "columns: "+columnName(s.Columns[0])+"-"+columnName(s.Columns[1]), s.note["columns"])
	}
	if s.Ends != "" {
		w.line(4, "ends: "+yamlText(s.Ends), s.note["ends"])
	}
	if len(s.Skip) > 0 {
		w.line(4, "skip: "+yamlList(s.Skip), s.note["skip"])
	}
	if len(s.FillDown) > 0 {
		w.line(4, "fill_down: "+yamlList(s.FillDown), s.note["fill_down"])
	}
	if s.DateOrder != "" {
		w.line(4, "date_order: "+yamlValue(s.DateOrder), s.note["date_order"])
	}
	for _, table := range Tables() {
		var parts []*IntakePart
		for i := range s.Parts {
			if s.Parts[i].Table == table {
				parts = append(parts, &s.Parts[i])
			}
		}
		if len(parts) == 0 {
			continue
		}
		w.line(4, table+":", s.note[table])
		for _, p := range parts {
			w.part(p, len(parts) > 1)
		}
	}
	own := false
	for _, table := range Tables() {
		var list []IntakeOwn
		for _, o := range s.Own {
			if o.Table == table {
				list = append(list, o)
			}
		}
		if len(list) == 0 {
			continue
		}
		if !own {
			w.line(4, "own:", "kept as columns of the lab's own, to be asked about")
			own = true
		}
		w.line(6, table+":", "")
		for _, o := range list {
			if o.Coded {
				w.line(8, "- {coded: "+yamlText(o.Column)+"}", o.note)
				continue
			}
			w.line(8, "- "+yamlText(o.Column), o.note)
		}
	}
	if len(s.LeftOut) > 0 {
		w.line(4, "left_out:", "not read; move a line to `own` to keep the column")
		for i, c := range s.LeftOut {
			w.line(6, "- "+yamlText(c), s.note["left_out "+strconv.Itoa(i)])
		}
	}
}

func (w *intakeWriter) part(p *IntakePart, list bool) {
	indent, dash := 6, ""
	if list {
		indent, dash = 8, "- "
	}
	line := func(text, note string) {
		if dash != "" {
			w.line(6, dash+text, note)
			dash = ""
			return
		}
		w.line(indent, text, note)
	}
	if p.OfVisit > 1 {
		line(fmt.Sprintf("of_visit: %d", p.OfVisit), "")
	}
	for _, f := range p.Fields {
		var keys []string
		if f.Unit != "" {
			keys = append(keys, "unit: "+yamlValue(f.Unit))
		}
		if f.DateOrder != "" {
			keys = append(keys, "date_order: "+yamlValue(f.DateOrder))
		}
		value := ""
		switch {
		case f.Column != "" && len(keys) == 0:
			value = yamlText(f.Column)
			if f.Column == question {
				value = question
			}
		case f.Column != "":
			value = "column: " + yamlText(f.Column)
		case len(f.Coded) > 0:
			value = "coded: " + yamlList(f.Coded)
		case f.Is != "":
			value = "is: " + yamlValue(f.Is)
		case f.InUse:
			value = "in_use: yes"
		case f.SheetName:
			value = "from: sheet name"
		default:
			value = "made: " + "[" + strings.Join(f.Made, ", ") + "]"
		}
		if f.Column == "" || len(keys) > 0 {
			value = "{" + strings.Join(append([]string{value}, keys...), ", ") + "}"
		}
		line(f.Name+": "+value, f.note)
	}
	if p.Unit != "" {
		line("unit: "+yamlValue(p.Unit), "of the girths; write mm, cm or in")
	}
	if len(p.At) > 0 {
		line("at:", "")
		for _, a := range p.At {
			w.line(indent+2, yamlText(a.What)+": "+yamlText(a.Column), a.note)
		}
	}
	if len(p.Marks) > 0 {
		line("marks:", "what each mark in these columns means")
		for _, m := range p.Marks {
			w.line(indent+2, strings.TrimRight(yamlText(m.Text)+": "+yamlWord(m.Code), " "), m.note)
		}
	}
	if dash != "" {
		w.line(6, "- {}", "")
	}
}

func (w *intakeWriter) words(words []IntakeWord) {
	if len(words) == 0 {
		return
	}
	w.b.WriteByte('\n')
	w.line(0, "words:", "")
	last := ""
	for _, x := range words {
		if x.Field != last {
			w.line(2, x.Field+":", "")
			last = x.Field
		}
		w.line(4, strings.TrimRight(yamlText(x.Text)+": "+yamlWord(x.Code), " "), x.note)
	}
}

func yamlWord(code string) string {
	if code == "" {
		return ""
	}
	return yamlValue(code)
}

// yamlValue leaves a question bare, so that it is seen.
func yamlValue(s string) string {
	if s == question {
		return s
	}
	return yamlText(s)
}

func yamlList(list []string) string {
	if len(list) == 1 {
		return yamlText(list[0])
	}
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = yamlText(s)
	}
	return "[" + strings.Join(out, ", ") + "]"
}

var (
	plainYAML = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9 _()/.+%-]*[A-Za-z0-9_)%]$|^[A-Za-z]$`)
	takenYAML = map[string]bool{"y": true, "n": true, "yes": true, "no": true, "true": true, "false": true, "null": true, "on": true, "off": true, "nan": true, "inf": true}
)

// yamlText writes a text so that YAML reads it back as the same text.
func yamlText(s string) string {
	if plainYAML.MatchString(s) && !takenYAML[strings.ToLower(s)] {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r < ' ' || r == 0x7f || r == 0x85 || r == 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
