package ingest

import "slices"

// Coded says whether an intake replaces any column by codes.
func (it *Intake) Coded() bool {
	if it == nil {
		return false
	}
	for _, s := range it.Sheets {
		if slices.ContainsFunc(s.Own, func(o IntakeOwn) bool { return o.Coded }) {
			return true
		}
		for _, p := range s.Parts {
			if slices.ContainsFunc(p.Fields, func(f IntakeField) bool { return len(f.Coded) > 0 }) {
				return true
			}
		}
	}
	return false
}

// codedKind is the kind of code that stands for the values of a field; empty
// for fields that are read as they stand. A limb is called by the code of its
// person and its side, so that a column that names a limb names the person.
func codedKind(table string, field Field) string {
	switch {
	case field.Staff:
		return kindStaff
	case field.Kind != KindID || table == TableLimbs && field.Name == "limb":
		return ""
	case field.Name == "person" || field.Name == "limb":
		return kindPerson
	case field.Name == "socket" || field.Name == "replaces":
		return KindSocket
	}
	return KindVisit
}

// coded reads {coded: HEADING} and {coded: [HEADING, HEADING]}.
func (p *intakeParser) coded(f *IntakeField, table string, field Field, e yentry) {
	f.Coded, _ = p.list(e.key, e.value)
	f.pos = e.value.pos
	switch {
	case table == TableLimbs && field.Name == "limb":
		p.fail(e.pos, "", "a limb is called by the code of its person and its side: leave `limb` out")
	case codedKind(table, field) == "":
		p.fail(e.pos, "", "`coded` is for columns that tell people apart (person, limb, socket, visit, staff), not for `%s`", field.Name)
	case len(f.Coded) == 0:
		p.fail(e.value.pos, "", "`coded` takes the header of a column, or a list of them that together tell people apart")
	case slices.Contains(f.Coded, question):
		p.ask(e.value.pos, field.Name, "the header of its column")
	}
}

func (p *intakeParser) ownCoded(s *IntakeSheet, table string, n ynode) {
	o := IntakeOwn{Table: table, Coded: true, pos: n.pos}
	p.once(n, func(e yentry) {
		if e.key != "coded" {
			p.unknown(e.pos, "an own column has no key", e.key, []string{"coded"})
			return
		}
		o.Column, _ = p.text(e.key, e.value)
		o.pos = e.value.pos
	})
	if o.Column != "" {
		s.Own = append(s.Own, o)
	}
}

// codedCheck finds what would tell one person by code and by name, and codes
// that could not meet.
func (p *intakeParser) codedCheck() {
	type use struct {
		IntakeField
		table string
	}
	uses := map[string][]use{}
	for i := range p.it.Sheets {
		s := &p.it.Sheets[i]
		p.codedAndRead(s)
		for _, part := range s.Parts {
			for _, f := range part.Fields {
				kind := codedKind(part.Table, schema[part.Table][fieldIndex(part.Table, f.Name)])
				if kind != "" && kind != kindStaff {
					uses[kind] = append(uses[kind], use{f, part.Table})
				}
			}
		}
	}
	for _, kind := range []string{kindPerson, KindSocket, KindVisit} {
		at := slices.IndexFunc(uses[kind], func(u use) bool { return len(u.Coded) > 0 })
		if at < 0 {
			continue
		}
		first := uses[kind][at]
		for _, u := range uses[kind] {
			switch {
			case len(u.Coded) > 0 && len(u.Coded) != len(first.Coded):
				p.fail(u.pos, "", "a %s is told by %d here and by %d on line %d, so that no code would stand for both", kind, len(u.Coded), len(first.Coded), first.pos.Line)
			case len(u.Coded) == 0 && kind == kindPerson && u.Name == "limb":
				// limbs may have codes of their own
			case len(u.Coded) == 0 && !u.InUse:
				p.fail(u.pos, "", "`%s` is replaced by codes on line %d and not here, so that one %s would be two: write {coded: HEADING}", u.Name, first.pos.Line, kind)
			}
		}
	}
}

// codedAndRead finds columns of an entry that are replaced by codes and read
// as they stand as well. Of a birth date that helps to tell people apart the
// year may be read.
func (p *intakeParser) codedAndRead(s *IntakeSheet) {
	coded := map[string]IntakePos{}
	for _, part := range s.Parts {
		for _, f := range part.Fields {
			for _, c := range f.Coded {
				coded[headerKey(c)] = f.pos
			}
		}
	}
	for _, o := range s.Own {
		if o.Coded {
			coded[headerKey(o.Column)] = o.pos
		}
	}
	reads := func(column string, pos IntakePos, as string) {
		if at, ok := coded[headerKey(column)]; ok && column != "" {
			p.fail(pos, "", "%q is replaced by codes on line %d and cannot be read as %s too", column, at.Line, as)
		}
	}
	for _, part := range s.Parts {
		for _, f := range part.Fields {
			if f.Name != "born" {
				reads(f.Column, f.pos, f.Name)
			}
		}
		for _, a := range part.At {
			reads(a.Column, a.pos, a.What)
		}
	}
	for _, o := range s.Own {
		if !o.Coded {
			reads(o.Column, o.pos, "an own column")
		}
	}
	for i, c := range s.LeftOut {
		if i < len(s.leftPos) {
			reads(c, s.leftPos[i], "a column left out")
		}
	}
}

// codedColumns points a field at the columns that its code stands for. A
// sheet that lacks one of them has no values of the field.
func (n *intakeReader) codedColumns(v *view, f int, names []string) {
	s := v.sheetData
	var cols []int
	for _, name := range names {
		before := s.cols[f]
		n.column(v, f, name, "")
		if s.cols[f] == before {
			s.cols[f] = -1
			return
		}
		cols, s.cols[f] = append(cols, s.cols[f]), -1
	}
	if s.coded == nil {
		s.coded = map[int][]int{}
	}
	s.cols[f], s.coded[f] = cols[0], cols
}
