package ingest

import (
	"fmt"
	"slices"
	"strings"
)

func (p *intakeParser) unit(pos IntakePos, text, to string) string {
	if text == question {
		p.ask(pos, "unit", "the unit, such as mm, cm or in")
		return text
	}
	u, ok := unitName(text)
	if ok && u != "" && to != "" {
		if _, fits := toUnit(1, u, to); fits {
			return u
		}
	}
	valid := append([]string{to}, unitsOf(to)...)
	if to == "" {
		p.fail(pos, "", "this field has no unit")
	} else {
		p.unknown(pos, "`unit` cannot be", text, valid)
	}
	return ""
}

func (p *intakeParser) field(part *IntakePart, field Field, e yentry) {
	f := IntakeField{Name: field.Name, pos: e.value.pos}
	switch e.value.kind {
	case yText:
		t, ok := p.text(e.key, e.value)
		if !ok {
			return
		}
		if t == question {
			p.ask(e.value.pos, e.key, "the header of its column, or {is: VALUE}")
		}
		f.Column = t
	case yMap:
		p.fieldMap(&f, part.Table, field, e.value)
	default:
		p.fail(e.value.pos, "", "`%s` takes the header of a column, or {is: VALUE}, not %s; leave the line out if no column tells", e.key, e.value.kind)
		return
	}
	part.Fields = append(part.Fields, f)
}

func (p *intakeParser) fieldMap(f *IntakeField, table string, field Field, n ynode) {
	sources := 0
	p.once(n, func(e yentry) {
		v := e.value
		switch e.key {
		case "column":
			if f.Column, _ = p.text(e.key, v); f.Column == question {
				p.ask(v.pos, field.Name, "the header of its column")
			}
			f.pos = v.pos
			sources++
		case "coded":
			p.coded(f, table, field, e)
			sources++
		case "is":
			f.Is, _ = p.text(e.key, v)
			f.Is = p.fixed(v.pos, field, f.Is)
			f.pos = v.pos
			sources++
		case "made":
			var at []IntakePos
			f.Made, at = p.list(e.key, v)
			f.pos = v.pos
			if table != TableSockets || field.Name != "socket" {
				p.fail(e.pos, "", "`made` is for the identifier of sockets alone; limbs and visits are named by themselves where no column is given")
			}
			valid := append([]string{"limb"}, fieldNames(table)...)
			for i, m := range f.Made {
				if !slices.Contains(valid, m) || m == "socket" {
					p.unknown(at[i], "an identifier cannot be made from", m, valid)
				}
			}
			if len(f.Made) == 0 {
				p.fail(v.pos, "", "`made` lists the fields that make the identifier, such as [limb, delivered]")
			}
			sources++
		case "in_use":
			t, _ := p.text(e.key, v)
			f.InUse = t == "true" || t == "yes"
			if !f.InUse || field.Name != "socket" || table != TableVisits && table != TableStations && table != TableForming {
				p.fail(e.pos, "", "`in_use: yes` is for the socket of a visit: the one of the limb that was delivered last")
			}
			sources++
		case "from":
			t, _ := p.text(e.key, v)
			f.SheetName = true
			if t != "sheet name" {
				p.unknown(v.pos, "`from` cannot be", t, []string{"sheet name"})
			}
			sources++
		case "unit":
			if t, ok := p.text(e.key, v); ok {
				f.Unit = p.unit(v.pos, t, field.Unit)
			}
		case "date_order":
			f.DateOrder = p.dateOrder(v)
			if field.Kind != KindDate && field.Kind != KindYear {
				p.fail(e.pos, "", "`%s` is no date and has no `date_order`", field.Name)
			}
		default:
			p.unknown(e.pos, "a field's column has no key", e.key, fieldKeys)
		}
	})
	if sources != 1 {
		p.fail(n.pos, "", "`%s` takes exactly one of column, coded, is, made, in_use and from", field.Name)
	}
}

// fixed checks a value that stands for every row.
func (p *intakeParser) fixed(pos IntakePos, field Field, text string) string {
	if text == "" {
		return ""
	}
	if text == question {
		valid := "the value"
		if field.Words != nil {
			valid = "one of " + strings.Join(shortList(field.Words.Codes(), 16), ", ")
		}
		p.ask(pos, field.Name, valid)
		return text
	}
	var err error
	switch field.Kind {
	case KindWord, KindWords:
		if m := field.Words.Lookup(text); m.How == NoMatch {
			p.unknown(pos, "`"+field.Name+"` cannot be", text, field.Words.Codes())
		} else {
			text = m.Code
		}
	case KindDate, KindYear:
		var d dateRead
		if d, err = readDate(text); err == nil && d.form != dateExact && (field.Kind == KindDate || d.form != dateYearOnly) {
			err = errNotDate
		}
	case KindNumber, KindWhole, KindScore:
		var n number
		if n, err = parseNumber(text, false); err == nil {
			low, high := field.Low, field.High
			if field.Kind == KindScore {
				high = 10
			}
			v, ok := toUnit(n.value, n.unit, field.Unit)
			if !ok || n.unit != "" && field.Unit == "" || v < low || v > high || field.Kind == KindWhole && v != float64(int(v)) {
				err = errNotNumber
			}
		}
	case KindPly:
		_, _, err = parsePly(text)
	case KindTime:
		_, err = parseClock(text, false)
	}
	if err != nil {
		p.fail(pos, "", "`%s` cannot be %q for every row", field.Name, text)
	}
	return text
}

func (p *intakeParser) at(part *IntakePart, n ynode) {
	if n.kind != yMap {
		p.fail(n.pos, "", "`at` takes lines of \"distance: column\" or \"region: column\", not %s", n.kind)
		return
	}
	p.once(n, func(e yentry) {
		a := IntakeAt{What: e.key, pos: e.value.pos}
		a.Column, _ = p.text(e.key, e.value)
		if part.Table == TableStations {
			if v, err := parseNumber(e.key, false); err != nil || v.approx != "" || v.unit == "" {
				p.fail(e.pos, "", "a distance from the landmark is a number with its unit, such as 5 cm, not %q", e.key)
			} else if mm, ok := toUnit(v.value, v.unit, "mm"); !ok || mm < -300 || mm > 800 {
				p.fail(e.pos, "", "%q cannot be a distance from the landmark", e.key)
			}
		} else if m := regions.Lookup(e.key); m.How == NoMatch && e.key != question {
			p.unknown(e.pos, "there is no region", e.key, regions.Codes())
		} else if e.key == question {
			p.ask(e.pos, "region", "the region of this column")
		}
		part.At = append(part.At, a)
	})
}

func (p *intakeParser) marks(part *IntakePart, n ynode) {
	if n.kind == yNone {
		return
	}
	if n.kind != yMap {
		p.fail(n.pos, "", "`marks` takes lines of \"mark: finding\", not %s", n.kind)
		return
	}
	p.once(n, func(e yentry) {
		w := IntakeWord{Text: e.key, pos: e.value.pos}
		if e.value.kind != yNone {
			w.Code, _ = p.text(e.key, e.value)
		}
		if w.Code == question {
			p.ask(w.pos, e.key, "the finding that this mark means: "+strings.Join(findings.Codes(), ", ")+", or "+NoRecord)
		} else if w.Code != "" && w.Code != NoRecord && !findings.Has(w.Code) {
			p.unknown(w.pos, "there is no finding", w.Code, append(findings.Codes(), NoRecord))
		}
		part.Marks = append(part.Marks, w)
	})
}

// wordFields are the fields that take words, by name.
func wordFields() map[string]*Vocabulary {
	out := map[string]*Vocabulary{}
	for _, table := range Tables() {
		for i := range schema[table] {
			if w := schema[table][i].Words; w != nil {
				out[schema[table][i].Name] = w
			}
		}
	}
	return out
}

func (p *intakeParser) words(n ynode) {
	if n.kind == yNone {
		return
	}
	if n.kind != yMap {
		p.fail(n.pos, "", "`words` takes the fields, each with lines of \"text: word\", not %s", n.kind)
		return
	}
	vocab := wordFields()
	var names []string
	for _, table := range Tables() {
		for _, f := range schema[table] {
			if f.Words != nil {
				names = append(names, f.Name)
			}
		}
	}
	p.once(n, func(e yentry) {
		v := vocab[e.key]
		if v == nil {
			p.unknown(e.pos, "no field takes words that is named", e.key, names)
			return
		}
		if e.value.kind != yMap {
			if e.value.kind != yNone {
				p.fail(e.value.pos, "", "`%s` takes lines of \"text: word\", not %s", e.key, e.value.kind)
			}
			return
		}
		p.once(e.value, func(w yentry) {
			word := IntakeWord{Field: e.key, Text: w.key, pos: w.value.pos}
			if w.value.kind != yNone {
				word.Code, _ = p.text(w.key, w.value)
			}
			if word.Code == question {
				p.ask(word.pos, w.key, "one of "+strings.Join(shortList(v.Codes(), 20), ", ")+", or nothing")
			} else if word.Code != "" && !v.Has(word.Code) {
				p.unknown(word.pos, fmt.Sprintf("a %s cannot be", v.Name()), word.Code, v.Codes())
			}
			p.it.Words = append(p.it.Words, word)
		})
	})
}

func (p *intakeParser) own(s *IntakeSheet, n ynode) {
	if n.kind == yNone {
		return
	}
	if n.kind != yMap {
		p.fail(n.pos, "", "`own` takes the tables, each with a list of columns, not %s", n.kind)
		return
	}
	p.once(n, func(e yentry) {
		if !slices.Contains(Tables(), e.key) {
			p.unknown(e.pos, "there is no table", e.key, Tables())
			return
		}
		items := []ynode{e.value}
		if e.value.kind == yList {
			items = e.value.items
		}
		for _, item := range items {
			if item.kind == yMap {
				p.ownCoded(s, e.key, item)
				continue
			}
			names, at := p.list(e.key, item)
			for i, c := range names {
				s.Own = append(s.Own, IntakeOwn{Table: e.key, Column: c, pos: at[i]})
			}
		}
	})
}
