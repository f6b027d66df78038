package ingest

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
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
				if d := newDraft(t); d.useful() {
					drafts = append(drafts, d)
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
	for _, c := range raw.rows[h].cells {
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
	named := d.has(TableLimbs, "person") || d.has(TableSockets, "socket")
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

func (w world) spec(d *draft) IntakeSheet {
	t := d.t
	s := IntakeSheet{Sheets: []string{t.sheet}, Header: t.raw.rows[t.start].n, HeaderEnd: t.raw.rows[t.end].n, Columns: [2]int{-1, -1}, Ends: t.ends, Skip: t.skip, note: notes{}}
	s.note["sheet"] = fmt.Sprintf("%d rows", len(t.rows))
	s.note["header"] = "the row with the headings"
	if s.HeaderEnd > s.Header {
		s.note["header"] = "the rows with the headings, joined into one"
	}
	if t.sideBySide {
		s.Columns = [2]int{t.from, t.to}
		s.note["columns"] = "one of several tables side by side"
	}
	if s.Ends == blankRowEnds {
		s.note["ends"] = "nothing below the first blank row is read"
	} else if s.Ends != "" {
		s.note["ends"] = "the row that begins with this word, and all below it, are not read"
	}
	if len(s.Skip) > 0 {
		s.note["skip"] = "rows that begin so are sums, not data"
	}
	s.DateOrder, s.note["date_order"] = d.dateOrder()
	if s.FillDown = d.fillDown(); len(s.FillDown) > 0 {
		s.note["fill_down"] = "a blank cell here means the same as above: likely (85%)"
	}
	part := func(table string) IntakePart {
		p := IntakePart{Table: table, OfVisit: 1}
		for _, f := range schema[table] {
			if pk, ok := d.fields[table][f.Name]; ok {
				p.Fields = append(p.Fields, d.field(table, f.Name, pk))
			}
		}
		return p
	}
	person := d.has(TableLimbs, "person")
	elsewhere := func(table, field string) bool {
		return w.any(func(o *draft) bool { return o != d && o.has(table, field) && !sameForm(o, d) })
	}
	if person {
		p := part(TableLimbs)
		if !d.has(TableLimbs, "side") && !d.has(TableLimbs, "limb") && !elsewhere(TableLimbs, "side") {
			p.Fields = append(p.Fields, d.fixedOr("side", sides))
		}
		if !d.has(TableLimbs, "level") && !elsewhere(TableLimbs, "level") {
			p.Fields = append(p.Fields, d.fixedOr("level", levels))
		}
		s.Parts = append(s.Parts, p)
	}
	visits := len(d.fields[TableVisits]) > 0 || len(d.groups) > 0
	forming := len(d.fields[TableForming]) > 0
	facts := 0 // columns that describe a socket, besides its name
	for f := range d.fields[TableSockets] {
		if f != "socket" && f != "site" {
			facts++
		}
	}
	_, hasSocket := d.fields[TableSockets]["socket"]
	socketsElsewhere := elsewhere(TableSockets, "delivered") || elsewhere(TableSockets, "kind")
	refer := IntakeField{} // how visits and formings name their socket
	switch {
	case hasSocket && (!person || socketsElsewhere && !d.has(TableSockets, "delivered") && !d.has(TableSockets, "kind")):
		refer = d.field(TableSockets, "socket", d.fields[TableSockets]["socket"])
		delete(d.fields[TableSockets], "socket")
		w.free(d, TableSockets)
	case person && (facts > 0 || hasSocket) && !(socketsElsewhere && !d.has(TableSockets, "delivered") && !d.has(TableSockets, "kind") && !d.has(TableSockets, "number")) || person && (visits || forming) && !socketsElsewhere:
		s.Parts = append(s.Parts, w.sockets(d, part(TableSockets), hasSocket))
	case person && (visits || forming):
		refer = IntakeField{Name: "socket", InUse: true, note: "no column names the socket: the limb's socket delivered last by then"}
		w.free(d, TableSockets)
	}
	if visits {
		w.visits(d, &s, part(TableVisits), refer)
	}
	w.stations(d, &s, part(TableStations))
	w.findings(d, &s, part(TableFindings))
	if forming {
		p := part(TableForming)
		if refer.Name != "" {
			p.Fields = append([]IntakeField{refer}, p.Fields...)
		}
		if !d.has(TableForming, "date") {
			p.Fields = append(p.Fields, IntakeField{Name: "date", Is: question, note: "no column tells when; name its header"})
		}
		s.Parts = append(s.Parts, p)
	}
	d.leftOver(&s)
	return s
}

// free gives back the columns of a table that is not proposed.
func (w world) free(d *draft, table string) { d.drop(table) }

// sameForm says whether two drafts have the same columns, as the sheets of
// two years do.
func sameForm(a, b *draft) bool { return sameTexts(a.t.headers, b.t.headers) }

func (w world) sockets(d *draft, p IntakePart, named bool) IntakePart {
	if !named {
		made := []string{"limb"}
		why := "no column names the socket: one socket for each limb, a guess (40%)"
		switch {
		case d.has(TableSockets, "delivered"):
			made, why = []string{"limb", "delivered"}, "no column names the socket: made from limb and day of delivery"
		case d.has(TableSockets, "number"):
			made, why = []string{"limb", "number"}, "no column names the socket: made from limb and number"
		case d.has(TableSockets, "cast_on"):
			made, why = []string{"limb", "cast_on"}, "no column names the socket: made from limb and day of casting"
		case d.has(TableSockets, "kind"):
			made, why = []string{"limb", "kind"}, "no column names the socket: one of each kind for each limb, a guess (50%)"
		}
		p.Fields = append([]IntakeField{{Name: "socket", Made: made, note: why}}, p.Fields...)
	}
	if !d.has(TableSockets, "kind") && !w.any(func(o *draft) bool {
		return o != d && named && o.has(TableSockets, "kind") && o.has(TableSockets, "socket")
	}) {
		p.Fields = append(p.Fields, d.fixedOr("kind", kinds))
	}
	return p
}

func (w world) visits(d *draft, s *IntakeSheet, single IntakePart, refer IntakeField) {
	add := func(p IntakePart) {
		if refer.Name != "" {
			p.Fields = append([]IntakeField{refer}, p.Fields...)
		}
		s.Parts = append(s.Parts, p)
	}
	if len(d.groups) == 0 {
		if !d.has(TableVisits, "seen_by") && w.perClinician(d) {
			single.Fields = append(single.Fields, IntakeField{Name: "seen_by", SheetName: true, note: "each sheet is called after somebody: likely (75%)"})
		}
		add(single)
		return
	}
	for _, g := range d.groups {
		p := IntakePart{Table: TableVisits, OfVisit: 1}
		for _, f := range schema[TableVisits] {
			if pk, ok := g.fields[f.Name]; ok {
				p.Fields = append(p.Fields, d.field(TableVisits, f.Name, pk))
			}
		}
		if _, ok := g.fields["purpose"]; !ok {
			code, ok := purposes.known(g.key)
			if g == d.first {
				code, ok = "delivery", true
			}
			if ok {
				p.Fields = append(p.Fields, IntakeField{Name: "purpose", Is: code, note: "from the headings"})
			}
		}
		add(p)
	}
}

var yearName4 = regexp.MustCompile(`(?:19|20)\d\d`)

// perClinician says whether sheets of one form are called after people
// rather than years or places.
func (w world) perClinician(d *draft) bool {
	alike, named := 0, 0
	for _, o := range w.drafts {
		if o.t.file == d.t.file && sameForm(o, d) {
			alike++
			if looksLikeName(o.t.sheet) || staffName.MatchString(o.t.sheet) {
				named++
			}
		}
	}
	return alike >= 2 && named == alike
}

// staffName is what a sheet of one member of staff may be called.
var staffName = regexp.MustCompile(`^(?:(?:Dr|Mr|Mrs|Ms|Miss)\.? ?\p{Lu}[\p{L}'-]+|\p{Lu}\p{Lu}|\p{Lu}{2,3}\d{0,2}|[A-Z]\d{1,3}|Clinician ?\w+|Prosthetist ?\w+|Staff ?\w+)$`)

func (w world) stations(d *draft, s *IntakeSheet, p IntakePart) {
	if len(d.girths) == 0 && !d.has(TableStations, "limb_mm") {
		return
	}
	if !d.has(TableStations, "landmark") {
		f := IntakeField{Name: "landmark", Is: question, note: "no column tells; write the point that the distances are taken from, such as mid-patellar tendon"}
		text := d.t.titles
		for _, h := range d.t.headers {
			text += " . " + h
		}
		for _, r := range d.t.raw.rows {
			for _, c := range r.cells {
				if c.kind == cellText && len(c.text) > 2 && len(c.text) < 200 && strings.Contains(c.text, " ") {
					text += " . " + c.text
				}
			}
		}
		if l := landmarkIn(text); l != "" {
			f.Is, f.note = l, "named on the sheet: likely (85%)"
		}
		p.Fields = append([]IntakeField{f}, p.Fields...)
	}
	if len(d.girths) > 0 {
		unit, why := "", ""
		for _, g := range d.girths {
			if unit = headerUnitOfGirth(g.header); unit != "" {
				why = "from the headings"
				break
			}
		}
		step := unitOfSteps(d.girths)
		stepped := slices.ContainsFunc(d.girths, func(g girthColumn) bool { return g.unit != "" })
		if unit == "" {
			var all []float64
			for _, g := range d.girths {
				if m, ok := g.median(); ok {
					all = append(all, m)
				}
			}
			slices.Sort(all)
			unit, why = "cm", "a guess"
			if len(all) > 0 {
				unit, why = girthUnit(all[len(all)/2]), "from the size of the numbers"
			}
		}
		p.Unit = unit
		if !stepped && unit == "in" && step == "cm" {
			step = "in"
		}
		for _, g := range d.girths {
			u, sure := g.unit, "likely (85%)"
			if u == "" {
				u = step
				if !stepped && g.distance != 0 {
					sure = "no heading names the unit of the distance, " + u + " is a guess (65%)"
				}
			}
			p.At = append(p.At, IntakeAt{What: plain(g.distance) + " " + u, Column: g.header, note: g.samples(d.t.raw) + " " + unit + " (" + why + "); " + sure})
		}
	}
	if !d.has(TableStations, "date") {
		switch {
		case d.has(TableVisits, "date"):
			// the visit's own date
		case d.has(TableSockets, "cast_on"):
			p.Fields = append(p.Fields, IntakeField{Name: "date", Column: d.fields[TableSockets]["cast_on"].header, note: "taken as measured on the day of casting: likely (75%)"})
		case d.has(TableSockets, "delivered"):
			p.Fields = append(p.Fields, IntakeField{Name: "date", Column: d.fields[TableSockets]["delivered"].header, note: "taken as measured on the day of delivery: a guess (55%)"})
		case len(d.groups) > 0:
			// the first visit's date
		default:
			p.Fields = append(p.Fields, IntakeField{Name: "date", Is: question, note: "no column tells when the girths were taken"})
		}
	}
	s.Parts = append(s.Parts, p)
}

// headerUnitOfGirth is a unit of the girths themselves in a header: in
// brackets, or behind the word.
func headerUnitOfGirth(header string) string {
	if m := unitBracket.FindString(header); m != "" {
		if u, ok := unitName(strings.Trim(m, "()[] ")); ok && u != "" {
			if _, ok := toUnit(1, u, "mm"); ok {
				return u
			}
		}
	}
	return ""
}

// unitOfSteps is the unit of the distances where no header names one.
func unitOfSteps(girths []girthColumn) string {
	for _, g := range girths {
		if g.unit != "" {
			return g.unit
		}
	}
	most := 0.0
	for _, g := range girths {
		most = max(most, g.distance)
	}
	if most > 60 {
		return "mm"
	}
	if slices.ContainsFunc(girths, func(g girthColumn) bool { return headerUnitOfGirth(g.header) == "in" }) {
		return "in"
	}
	return "cm"
}

func (w world) findings(d *draft, s *IntakeSheet, p IntakePart) {
	if len(d.fields[TableFindings]) > 0 && (len(d.fields[TableVisits]) > 0 || len(d.groups) > 0) {
		s.Parts = append(s.Parts, p)
		return
	}
	if len(d.regions) == 0 || len(d.fields[TableVisits]) == 0 && len(d.groups) == 0 {
		for _, r := range d.regions {
			r.taken = false
		}
		return
	}
	marks := d.marks()
	byVisit := map[int]*IntakePart{}
	var order []int
	for _, r := range d.regions {
		k := 1
		for i, g := range d.groups {
			if r.key != "" && g.key == r.key {
				k = i + 1
			}
		}
		part := byVisit[k]
		if part == nil {
			part = &IntakePart{Table: TableFindings, OfVisit: k, Marks: marks}
			byVisit[k] = part
			order = append(order, k)
		}
		part.At = append(part.At, IntakeAt{What: r.code, Column: r.header, note: r.samples(d.t.raw) + "; " + certainty(0.9)})
	}
	sort.Ints(order)
	for _, k := range order {
		s.Parts = append(s.Parts, *byVisit[k])
	}
}

// leftOver lists the columns that feed no field: kept as own columns, or
// left out where they may name a person, hold free text or have no heading.
func (d *draft) leftOver(s *IntakeSheet) {
	table := ""
	for _, want := range []string{TableVisits, TableSockets, TableLimbs, TableForming, TableStations} {
		k := 0
		for _, p := range s.Parts {
			if p.Table == want {
				k++
			}
		}
		if k == 1 {
			table = want
			break
		}
	}
	used, _ := s.wanted()
	out := func(g *guessColumn, why string) {
		s.note["left_out "+strconv.Itoa(len(s.LeftOut))] = why
		s.LeftOut = append(s.LeftOut, g.header)
	}
	inside := map[int]bool{}
	for _, g := range d.cols {
		inside[g.col] = true
		if slices.Contains(used, g.header) {
			continue
		}
		long := g.share(func(c cell) bool { return len(strings.Fields(c.text)) > 4 })
		remark := slices.ContainsFunc(headerTokens(g.header), func(w string) bool { return remarkWords[w] })
		switch {
		case g.hides(nil):
			out(g, notShown)
		case strings.HasPrefix(g.header, "column "):
			out(g, "a column without a heading")
		case remark || long > 0.3 && len(g.cells) > 0 && long != 0.5:
			out(g, "free text, which may name people: not shown")
		case table == "" || len(g.cells) == 0:
			out(g, "empty or not understood")
		default:
			d.own = append(d.own, g)
			s.Own = append(s.Own, IntakeOwn{Table: table, Column: g.header, note: g.samples(d.t.raw)})
		}
	}
	if d.t.sideBySide {
		return
	}
	texts, _ := headerTexts(d.t.raw, d.t.start, s.HeaderEnd-s.Header, [2]int{-1, -1})
	for c, h := range texts {
		if h != "" && !inside[c] && !strings.HasPrefix(h, "column ") {
			s.note["left_out "+strconv.Itoa(len(s.LeftOut))] = "at the side of the table: not read"
			s.LeftOut = append(s.LeftOut, h)
		}
	}
}

// gather makes one entry of sheets of the same form. Sheets called after
// years become a pattern, so that next year's is read too.
func (w world) gather(list []IntakeSheet) []IntakeSheet {
	var out []IntakeSheet
	var files [][]string
	key := func(s IntakeSheet) string {
		s.Sheets, s.Header, s.HeaderEnd, s.note = nil, 0, s.HeaderEnd-s.Header, nil
		return (&Intake{Sheets: []IntakeSheet{s.bare()}}).Text()
	}
	at := map[string]int{}
	for i, s := range list {
		file := w.drafts[i].t.file
		k := key(s)
		if j, ok := at[k]; ok {
			rows := strings.TrimSuffix(s.note["sheet"], " rows")
			out[j].note["sheet"] = strings.TrimSuffix(out[j].note["sheet"], " rows") + " + " + rows + " rows"
			if !slices.Contains(out[j].Sheets, s.Sheets[0]) {
				out[j].Sheets = append(out[j].Sheets, s.Sheets[0])
			}
			files[j] = append(files[j], file)
			continue
		}
		at[k] = len(out)
		out = append(out, s)
		files = append(files, []string{file})
	}
	for i := range out {
		out[i].Sheets = yearPattern(out[i].Sheets)
		if len(out) == 1 && slices.ContainsFunc(out[i].Sheets, personal) {
			out[i].Sheets = []string{"*"}
			out[i].note["sheet"] += "; every sheet with these columns (they are called after people)"
		}
		// The same name in two files of different form needs the file.
		for j := range out {
			if i != j && slices.ContainsFunc(out[i].Sheets, func(n string) bool { return slices.Contains(out[j].Sheets, n) }) && files[i][0] != files[j][0] && out[i].File == "" {
				out[i].File = baseName(files[i][0])
				out[i].note["file"] = "another file has a sheet of this name"
			}
		}
	}
	return out
}

// bare is the entry without what differs between sheets of one form.
func (s IntakeSheet) bare() IntakeSheet {
	s.Parts = slices.Clone(s.Parts)
	for i := range s.Parts {
		s.Parts[i].Fields = slices.Clone(s.Parts[i].Fields)
		for j := range s.Parts[i].Fields {
			s.Parts[i].Fields[j].note = ""
		}
		s.Parts[i].At = slices.Clone(s.Parts[i].At)
		for j := range s.Parts[i].At {
			s.Parts[i].At[j].note = ""
		}
		s.Parts[i].Marks = slices.Clone(s.Parts[i].Marks)
		for j := range s.Parts[i].Marks {
			s.Parts[i].Marks[j].note = ""
		}
	}
	s.Own = slices.Clone(s.Own)
	for i := range s.Own {
		s.Own[i].note = ""
	}
	return s
}

// personal says whether a sheet's name may be that of a person.
func personal(name string) bool { return looksLikeName(name) || staffName.MatchString(name) }

func yearPattern(names []string) []string {
	if len(names) < 2 {
		return names
	}
	pattern := ""
	for _, n := range names {
		p := yearName4.ReplaceAllStringFunc(n, func(y string) string { return y[:2] + "??" })
		if p == n || pattern != "" && p != pattern {
			return names
		}
		pattern = p
	}
	return []string{pattern}
}

// words lists what the texts of the columns of words are read as. Texts that
// are spelled like the code itself are left out.
func (w world) words() []IntakeWord {
	type seen struct {
		text  string
		count int
	}
	var out []IntakeWord
	done := map[string]bool{}
	for _, table := range Tables() {
		for _, field := range schema[table] {
			if field.Words == nil || done[field.Name] {
				continue
			}
			done[field.Name] = true
			texts := map[string]*seen{}
			for _, d := range w.drafts {
				picks := []pick{}
				if p, ok := d.fields[table][field.Name]; ok {
					picks = append(picks, p)
				}
				for _, g := range d.groups {
					if p, ok := g.fields[field.Name]; ok && table == TableVisits {
						picks = append(picks, p)
					}
				}
				for _, p := range picks {
					for _, c := range p.kinds {
						parts := []string{c.text}
						if _, read, ok := field.Words.LookupAll(c.text); ok {
							parts = read
						} else if split := splitWords(c.text); len(split) > 1 && field.Kind == KindWords {
							parts = split
						}
						for _, t := range parts {
							k := wordKey(t)
							if texts[k] == nil {
								texts[k] = &seen{text: strings.Join(strings.Fields(t), " ")}
							}
							texts[k].count += c.n
						}
					}
				}
			}
			keys := make([]string, 0, len(texts))
			for k := range texts {
				keys = append(keys, k)
			}
			sort.Slice(keys, func(i, j int) bool {
				a, b := texts[keys[i]], texts[keys[j]]
				return a.count > b.count || a.count == b.count && keys[i] < keys[j]
			})
			listed := 0
			for _, k := range keys {
				t := texts[k]
				m := field.Words.Lookup(t.text)
				if m.Code != "" && k == wordKey(m.Code) || isMissing(t.text) || looksLikeName(t.text) || emailText.MatchString(t.text) || longest(t.text, isDigitRune) >= 7 || len([]rune(t.text)) > 40 {
					continue
				}
				if listed++; listed > 40 {
					break
				}
				x := IntakeWord{Field: field.Name, Text: t.text, Code: m.Code, note: timesWord(t.count)}
				switch {
				case m.How == Near:
					x.note += "; a spelling of it: likely (85%)"
				case m.How == Doubtful:
					x.note += "; could mean something else: a guess (60%)"
				case m.How == NoMatch:
					if code, ok := readWord(field, t.text); ok {
						x.Code = code
						x.note += "; likely (85%)"
						break
					}
					x.note += "; not known: fill in one of " + strings.Join(shortList(field.Words.Codes(), 14), ", ")
					if m.Nearest != "" {
						x.note += fmt.Sprintf(" (perhaps %s?)", m.Nearest)
					}
				default:
					x.note += "; certain (95%)"
				}
				out = append(out, x)
			}
		}
	}
	return out
}
