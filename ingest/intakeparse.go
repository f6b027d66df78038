package ingest

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
)

// LoadIntake reads an intake file.
func LoadIntake(path string) (*Intake, error) {
	src, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the intake file: %w", err)
	}
	return ParseIntake(path, src)
}

// ParseIntake reads an intake file's text; path is used in errors alone. An
// error wraps ErrIntake and IntakeErrors, each with file, line and column.
// Whether sheets and columns exist is found out by Read.
func ParseIntake(path string, src []byte) (*Intake, error) {
	sum := sha256.Sum256(src)
	p := &intakeParser{it: &Intake{Path: path, SHA256: hex.EncodeToString(sum[:])}}
	root, e := parseIntakeYAML(path, src)
	if e != nil {
		return nil, fmt.Errorf("%w:\n%w", ErrIntake, IntakeErrors{e})
	}
	p.root(root)
	if err := p.err(); err != nil {
		return nil, err
	}
	return p.it, nil
}

type intakeParser struct {
	faults
	it *Intake
}

// keys are the keys known at each level.
var (
	intakeKeys = []string{"sheets", "words"}
	sheetKeys  = []string{"sheet", "file", "header", "columns", "ends", "skip", "fill_down", "date_order", "limbs", "sockets", "stations", "visits", "findings", "forming", "own", "left_out"}
	fieldKeys  = []string{"column", "coded", "is", "made", "in_use", "from", "unit", "date_order"}
)

// once reports a key that stands twice.
func (p *intakeParser) once(n ynode, each func(yentry)) {
	seen := map[string]int{}
	for _, e := range n.entries {
		if line, ok := seen[e.key]; ok {
			p.fail(e.pos, "", "`%s` stands on line %d already", e.key, line)
			continue
		}
		seen[e.key] = e.pos.Line
		each(e)
	}
}

func (p *intakeParser) root(n ynode) {
	p.once(n, func(e yentry) {
		switch e.key {
		case "sheets":
			if e.value.kind != yList {
				p.fail(e.value.pos, "", "`sheets` takes a list, each entry beginning with \"- sheet: NAME\", not %s", e.value.kind)
				return
			}
			for _, item := range e.value.items {
				p.sheet(item)
			}
		case "words":
			p.words(e.value)
		default:
			p.unknown(e.pos, "an intake file has no key", e.key, intakeKeys)
		}
	})
	p.codedCheck()
	if len(p.it.Sheets) == 0 && len(p.errs) == 0 {
		p.fail(n.pos, "", "`sheets` is missing or empty, so no sheet would be read")
	}
}

func (p *intakeParser) text(key string, n ynode) (string, bool) {
	if n.kind == yText && strings.TrimSpace(n.text) != "" {
		return n.text, true
	}
	if n.kind == yText || n.kind == yNone {
		p.fail(n.pos, "", "`%s` has no value", key)
	} else {
		p.fail(n.pos, "", "`%s` takes a single value, not %s", key, n.kind)
	}
	return "", false
}

func (p *intakeParser) list(key string, n ynode) (texts []string, at []IntakePos) {
	items := n.items
	switch n.kind {
	case yText:
		items = []ynode{n}
	case yNone:
		return nil, nil
	case yMap:
		p.fail(n.pos, "", "`%s` takes a list, not %s", key, n.kind)
		return nil, nil
	}
	for _, it := range items {
		if t, ok := p.text(key, it); ok {
			texts, at = append(texts, t), append(at, it.pos)
		}
	}
	return texts, at
}

var (
	rowSpan    = regexp.MustCompile(`^(\d{1,7})(?:\s*-\s*(\d{1,7}))?$`)
	columnSpan = regexp.MustCompile(`^([A-Za-z]{1,3})\s*-\s*([A-Za-z]{1,3})$`)
)

func (p *intakeParser) sheet(n ynode) {
	if n.kind != yMap {
		p.fail(n.pos, "", "an entry of `sheets` takes %s, not %s", yMap, n.kind)
		return
	}
	s := IntakeSheet{pos: n.pos, sheetPos: n.pos, Columns: [2]int{-1, -1}}
	p.once(n, func(e yentry) {
		v := e.value
		switch e.key {
		case "sheet":
			s.Sheets, _ = p.list(e.key, v)
			s.sheetPos = v.pos
			for _, pat := range s.Sheets {
				if _, err := filepath.Match(pat, ""); err != nil {
					p.fail(v.pos, "", "the pattern %q is not valid", pat)
				}
			}
		case "file":
			s.File, _ = p.text(e.key, v)
			if _, err := filepath.Match(s.File, ""); err != nil {
				p.fail(v.pos, "", "the pattern %q is not valid", s.File)
			}
		case "header":
			t, ok := p.text(e.key, v)
			m := rowSpan.FindStringSubmatch(t)
			if ok && m == nil {
				p.fail(v.pos, "", "`header` takes a row such as 3, or rows such as 3-4, not %q", t)
			} else if ok {
				s.Header = num(m[1])
				s.HeaderEnd = s.Header
				if m[2] != "" {
					s.HeaderEnd = num(m[2])
				}
				if s.Header < 1 || s.HeaderEnd < s.Header || s.HeaderEnd > s.Header+3 {
					p.fail(v.pos, "", "`header` takes up to four rows, the first before the last, not %q", t)
				}
			}
		case "columns":
			t, ok := p.text(e.key, v)
			m := columnSpan.FindStringSubmatch(t)
			if !ok || m == nil {
				p.fail(v.pos, "", "`columns` takes the first and last column, such as A-H, not %q", t)
				return
			}
			a, _, _ := parseCellName(strings.ToUpper(m[1]) + "1")
			b, _, _ := parseCellName(strings.ToUpper(m[2]) + "1")
			if s.Columns = [2]int{a, b}; b < a {
				p.fail(v.pos, "", "the first column comes before the last, unlike in %q", t)
			}
		case "ends":
			s.Ends, _ = p.text(e.key, v)
		case "skip":
			s.Skip, _ = p.list(e.key, v)
		case "fill_down":
			s.FillDown, s.fillPos = p.list(e.key, v)
		case "date_order":
			s.DateOrder = p.dateOrder(v)
		case "own":
			p.own(&s, v)
		case "left_out":
			s.LeftOut, s.leftPos = p.list(e.key, v)
		case TableLimbs, TableSockets, TableStations, TableVisits, TableFindings, TableForming:
			switch v.kind {
			case yMap:
				p.part(&s, e.key, v)
			case yList:
				for _, item := range v.items {
					p.part(&s, e.key, item)
				}
			default:
				p.fail(v.pos, "", "`%s` takes lines of \"field: column\", not %s", e.key, v.kind)
			}
		default:
			p.unknown(e.pos, "an entry of `sheets` has no key", e.key, sheetKeys)
		}
	})
	if len(s.Sheets) == 0 {
		p.fail(n.pos, "", "this entry names no sheet: begin it with \"- sheet: NAME\"")
	}
	if s.Header == 0 {
		s.Header, s.HeaderEnd = 1, 1
	}
	if len(s.Parts) == 0 {
		p.fail(n.pos, "", "this entry feeds no table: write `limbs`, `sockets`, `visits`, `stations`, `findings` or `forming` with its columns")
	}
	p.crossCheck(&s)
	p.it.Sheets = append(p.it.Sheets, s)
}

func (p *intakeParser) dateOrder(n ynode) string {
	t, ok := p.text("date_order", n)
	switch {
	case !ok:
	case t == question:
		p.ask(n.pos, "date_order", "day-first, month-first or year-first")
	case t == DayFirst || t == MonthFirst || t == YearFirst:
	default:
		p.unknown(n.pos, "`date_order` cannot be", t, []string{DayFirst, MonthFirst, YearFirst})
		return ""
	}
	return t
}

func (p *intakeParser) ask(pos IntakePos, what, valid string) {
	p.it.Questions = append(p.it.Questions, &IntakeError{IntakePos: pos, Text: fmt.Sprintf("`%s` is left as a question: write %s in the place of the ?", what, valid)})
}

func fieldNames(table string) []string {
	var out []string
	for _, f := range schema[table] {
		out = append(out, f.Name)
	}
	return out
}

func (p *intakeParser) part(s *IntakeSheet, table string, n ynode) {
	part := IntakePart{Table: table, OfVisit: 1, pos: n.pos}
	if n.kind != yMap {
		p.fail(n.pos, "", "`%s` takes lines of \"field: column\", not %s", table, n.kind)
		return
	}
	columns := table == TableStations || table == TableFindings
	p.once(n, func(e yentry) {
		switch {
		case columns && e.key == "at":
			p.at(&part, e.value)
		case columns && e.key == "of_visit":
			t, ok := p.text(e.key, e.value)
			if part.OfVisit = num(t); ok && (part.OfVisit < 1 || part.OfVisit > 999) {
				p.fail(e.value.pos, "", "`of_visit` takes the number of an entry of `visits`, from 1, not %q", t)
				part.OfVisit = 1
			}
		case table == TableStations && e.key == "unit":
			if t, ok := p.text(e.key, e.value); ok {
				part.Unit = p.unit(e.value.pos, t, "mm")
			}
		case table == TableFindings && e.key == "marks":
			p.marks(&part, e.value)
		default:
			f := fieldIndex(table, e.key)
			if f < 0 {
				names := fieldNames(table)
				if columns {
					names = append(names, "at", "of_visit")
				}
				p.unknown(e.pos, "the table "+table+" has no field", e.key, names)
				return
			}
			p.field(&part, schema[table][f], e)
		}
	})
	s.Parts = append(s.Parts, part)
}

// crossCheck finds what does not go together within an entry.
func (p *intakeParser) crossCheck(s *IntakeSheet) {
	count := map[string]int{}
	for _, part := range s.Parts {
		count[part.Table]++
	}
	for _, t := range []string{TableLimbs, TableSockets, TableForming} {
		if count[t] > 1 {
			p.fail(s.pos, "", "`%s` stands once in an entry; further ones need an entry of their own", t)
		}
	}
	for _, o := range s.Own {
		if count[o.Table] == 0 {
			p.fail(o.pos, "", "this entry feeds no %s, so %q cannot be an own column of them", o.Table, o.Column)
		}
	}
	for _, part := range s.Parts {
		has := map[string]bool{}
		for _, f := range part.Fields {
			has[f.Name] = true
		}
		if part.OfVisit > max(1, count[TableVisits]) {
			p.fail(part.pos, "", "`of_visit` is %d, but the entry has %d of `visits`", part.OfVisit, count[TableVisits])
		}
		parent := func(field, table string) {
			if !has[field] && count[table] == 0 {
				p.fail(part.pos, "", "`%s` needs `%s`: name its column, or add `%s` to this entry", part.Table, field, table)
			}
		}
		needs := func(fields ...string) {
			for _, f := range fields {
				if !has[f] {
					p.fail(part.pos, "", "`%s` needs `%s`: name its column, or write {is: VALUE}", part.Table, f)
				}
			}
		}
		switch part.Table {
		case TableLimbs:
			needs("person")
		case TableSockets:
			parent("limb", TableLimbs)
		case TableStations:
			parent("limb", TableLimbs)
			if needs("landmark"); len(part.At) == 0 {
				needs("station_mm", "limb_mm")
			}
			if !has["date"] && count[TableVisits] == 0 {
				needs("date")
			}
		case TableVisits:
			parent("socket", TableSockets)
			needs("date")
		case TableFindings:
			parent("visit", TableVisits)
			if len(part.At) == 0 {
				needs("region", "finding")
			}
		case TableForming:
			parent("socket", TableSockets)
			needs("date")
		}
	}
}
