package ingest

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
)

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
		if d.share != nil && d.share.table == TableLimbs {
			p.Fields = append(p.Fields, IntakeField{Name: d.share.field, Is: d.share.code, note: "from the headings"})
		} else if !d.has(TableLimbs, "side") && !d.has(TableLimbs, "limb") && !elsewhere(TableLimbs, "side") {
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
	case !person && d.has(TableSockets, "limb"):
		s.Parts = append(s.Parts, w.sockets(d, part(TableSockets), hasSocket))
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
	shared := d.share != nil && d.share.table == TableSockets
	if !named {
		made := []string{"limb"}
		why := "no column names the socket: one socket for each limb, a guess (40%)"
		switch {
		case shared:
			made, why = []string{"limb", "kind", "delivered"}, "one of several sockets on a row: "+d.share.heading
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
	if shared {
		p.Fields = append(p.Fields, IntakeField{Name: "kind", Is: d.share.code, note: "from the headings"})
	} else if !d.has(TableSockets, "kind") && !w.any(func(o *draft) bool {
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
		for c, h := range d.t.headers {
			if !slices.ContainsFunc(d.regions, func(r regionColumn) bool { return r.col == c }) {
				text += " . " + h
			}
		}
		for _, r := range d.t.raw.rows {
			for _, c := range r.all() {
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
			p.At = append(p.At, IntakeAt{What: plain(g.distance) + " " + u, Column: g.header, note: g.samples(d.t.raw) + "; in " + unit + " (" + why + "); " + sure})
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
