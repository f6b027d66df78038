package ingest

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// ErrNothingFound is returned where no table of a log is seen on any sheet.
var ErrNothingFound = errors.New("no sheet has a header row with the columns of a fit-check log, such as patient, side, date, ply or delivered")

// Proposal is an intake as the sheets themselves suggest it.
type Proposal struct {
	Intake *Intake
	Plain  []string // sheets already in the plain layout, which need no intake
	Other  []string // sheets in which no table was seen
}

// Text is the proposed intake file, with comments.
func (p *Proposal) Text() string {
	head := `# Intake: how the sheets of this lab are read as a log.
# Proposed from the sheets themselves. Look through it once: behind each line
# stand up to three values of its column and how sure the guess is. Change what
# is wrong, and answer lines with a lone ? (they are refused until you do).
# A line reads "field: header of the column". A field that no column gives can
# be {is: VALUE} for every row; a line that is not wanted can be deleted.
# One row may feed several tables: its socket is the socket of its limb, its
# visit is about its socket. Identifiers that no column gives are made: a limb
# from person and side, a socket from limb and delivery, a visit from socket
# and date. "plybook manual intake" explains every line.
`
	var b strings.Builder
	b.WriteString(head)
	for _, s := range p.Plain {
		fmt.Fprintf(&b, "# %s is in the plain layout already and is read without an entry here.\n", oneLine(s))
	}
	for _, s := range p.Other {
		fmt.Fprintf(&b, "# %s: no table was seen; it is not read.\n", oneLine(s))
	}
	b.WriteByte('\n')
	return b.String() + p.Intake.Text()
}

// ProposeIntake looks at the sheets of workbooks and text tables and
// proposes how they are read as a log. It changes no file. Values of columns
// that name or reveal a person or a member of staff are never shown. An
// error means that a file could not be read or that no table was seen.
func ProposeIntake(ctx context.Context, paths []string) (*Proposal, error) {
	if len(paths) == 0 {
		return nil, errors.New("propose an intake: no file was named")
	}
	p := &Proposal{Intake: &Intake{}}
	var drafts []*draft
	for _, path := range paths {
		file, err := readFile(ctx, path, func(string) bool { return true })
		if err != nil {
			return nil, err
		}
		for i := range file.sheets {
			raw := &file.sheets[i]
			name, called := raw.name, baseName(path)
			if name == "" {
				name = strings.TrimSuffix(called, filepath.Ext(called))
			} else {
				called += ", sheet " + name
			}
			if isPlain(raw) {
				p.Plain = append(p.Plain, called)
				continue
			}
			before := len(drafts)
			for _, t := range findTables(path, name, raw) {
				for _, d := range newDrafts(t) {
					if d.useful() {
						drafts = append(drafts, d)
					}
				}
			}
			if len(drafts) == before && len(raw.rows) > 0 {
				if personal(raw.name) {
					called = baseName(path) + ", a sheet called after somebody,"
				}
				p.Other = append(p.Other, called)
			}
		}
	}
	if len(drafts) == 0 && len(p.Plain) == 0 {
		return nil, fmt.Errorf("look at %s: %w", strings.Join(paths, ", "), ErrNothingFound)
	}
	w := world{drafts: drafts, files: len(paths)}
	for _, d := range drafts {
		p.Intake.Sheets = append(p.Intake.Sheets, w.spec(d))
	}
	w.settleCoded(p.Intake.Sheets)
	p.Intake.Sheets = w.gather(p.Intake.Sheets)
	p.Intake.Words = w.words()
	return p, nil
}

// isPlain says whether a sheet can be read without an intake.
func isPlain(raw *rawSheet) bool {
	h := -1
	if raw.table != "" {
		h = findHeader(raw.table, raw.rows)
	}
	if h < 0 {
		return false
	}
	seen := map[int]bool{}
	for _, c := range raw.rows[h].all() {
		seen[matchHeader(raw.table, c.text).field] = true
	}
	for f, field := range schema[raw.table] {
		if field.Required && !seen[f] {
			return false
		}
	}
	return true
}

// useful says whether a draft feeds any table.
func (d *draft) useful() bool {
	named := d.has(TableLimbs, "person") || d.has(TableSockets, "socket") || d.has(TableSockets, "limb")
	return named && (len(d.fields[TableLimbs])+len(d.fields[TableSockets]) > 1 || len(d.fields[TableVisits]) > 0 || len(d.groups)+len(d.girths) > 0 || len(d.fields[TableForming])+len(d.fields[TableStations]) > 1)
}

// world is what the drafts of all sheets know together.
type world struct {
	drafts []*draft
	files  int
}

func (w world) any(test func(d *draft) bool) bool { return slices.ContainsFunc(w.drafts, test) }

// fromTitle finds a word of a vocabulary in the titles above a table and in
// the names of its sheet and file.
func (d *draft) fromTitle(v Vocabulary) string {
	for _, text := range []string{d.t.titles, d.t.sheet, baseName(d.t.file)} {
		tokens := headerTokens(text)
		for n := min(3, len(tokens)); n >= 1; n-- {
			for i := 0; i+n <= len(tokens); i++ {
				if code, ok := v.known(strings.Join(tokens[i:i+n], " ")); ok && len(strings.Join(tokens[i:i+n], "")) >= 2 {
					return code
				}
			}
		}
	}
	return ""
}

func (d *draft) note(table, name string, p pick) string {
	field := schema[table][fieldIndex(table, name)]
	if p.hides(&field) {
		return notShown + "; " + certainty(p.p)
	}
	return p.samples(d.t.raw) + "; " + certainty(p.p)
}

func (d *draft) field(table, name string, p pick) IntakeField {
	field := schema[table][fieldIndex(table, name)]
	f := IntakeField{Name: name, Column: p.header, note: d.note(table, name, p)}
	if field.Kind == KindID && field.Person || field.Staff {
		d.coded(&f, table, field, p)
	}
	if field.Kind == KindNumber && headerUnit(p.header, field.Unit) == "" {
		if u := p.unit(field); u != field.Unit {
			f.Unit = u
			f.note += "; the unit is a guess from the size of the numbers"
		}
	}
	return f
}

// fixedOr is a value for every row: one from the titles, else a question.
func (d *draft) fixedOr(name string, v Vocabulary) IntakeField {
	if code := d.fromTitle(v); code != "" {
		return IntakeField{Name: name, Is: code, note: "from the title or name of the sheet: likely (80%)"}
	}
	return IntakeField{Name: name, Is: question, note: "no column tells; write one of " + strings.Join(shortList(v.Codes(), 16), ", ")}
}
