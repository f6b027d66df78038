package export

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/disclose"
	"plybook/analysis/table"
	"plybook/ingest"
)

// field makes the column of a field of the log.
func (m *maker) field(s *sheet, t *table.Table, f ingest.Field) {
	c, ok := t.Col(f.Name)
	if f.Name == "action" && s.name == cohort.Visits { // all that was done
		if all, has := t.Col("actions"); has {
			c = all
		}
	}
	if !ok || c.Own {
		return
	}
	out := &column{name: f.Name, field: f.Name, meaning: label(c, f), unit: c.Unit, how: "as in the log"}
	switch {
	case f.Staff:
		m.drop(s, f.Name, c, "left out: it names staff")
	case f.Kind == ingest.KindTime:
		m.drop(s, f.Name, c, "left out: a time of day")
	case f.Kind == ingest.KindID:
		m.codes(s, t, c, out)
	case m.leftOut(f.Name), f.Kind == ingest.KindDate && m.leftOut(dayName(f.Name)):
		m.drop(s, f.Name, c, "left out, as asked")
		m.keepRequired(s, f)
	case f.Name == "born":
		m.ages(s)
	case m.isKnown(f.Name) && (s.name == cohort.Limbs || f.Name == "site"):
		m.group(s, t, out, f)
	case f.Kind == ingest.KindDate:
		m.days(s, t, c, out)
	case f.Name == "landmark":
		m.landmarks(s, t, c, out)
	case f.Name == "region":
		m.regions(s, t, c, out, f)
	case f.Kind == ingest.KindText:
		m.pool(s, t, c, out)
	case f.Kind == ingest.KindWord, f.Kind == ingest.KindWords:
		out.kind, out.allowed = "word", strings.Join(f.Words.Codes(), "; ")
		if f.Kind == ingest.KindWords {
			out.how = "as in the log; several are parted by semicolons"
		}
		s.add(out, func(i int) cell { return textCell(c.Text[i]) })
	case f.Name == "mass_kg":
		m.capped(s, t, c, out)
	default:
		out.kind = "number"
		if f.High > f.Low {
			out.allowed = strconv.FormatFloat(f.Low, 'g', -1, 64) + " to " + strconv.FormatFloat(f.High, 'g', -1, 64)
		}
		switch f.Kind {
		case ingest.KindScore:
			out.allowed = "0 to 10"
		case ingest.KindPly:
			out.how = "total ply of what was written"
		}
		if f.Name == "number" && s.name == cohort.Sockets {
			m.numbers(s, t, c, out)
			return
		}
		s.add(out, func(i int) cell { return number(c, i) })
	}
}

func label(c *table.Column, f ingest.Field) string {
	if c.Label != "" {
		return c.Label
	}
	return strings.ReplaceAll(f.Name, "_", " ")
}

func number(c *table.Column, i int) cell {
	if c.Missing[i] {
		return cell{}
	}
	return numCell(c.Num[i])
}

func dayName(field string) string { return field + "_day" }

func (m *maker) isKnown(name string) bool {
	_, ok := m.index[name]
	return ok
}

// drop notes a column that does not go along, if the log has it.
func (m *maker) drop(s *sheet, name string, c *table.Column, why string) {
	if slices.Contains(c.Missing, false) {
		m.changes = append(m.changes, change{table: s.name, column: name, what: why})
	}
}

// keepRequired gives log.xlsx what a log cannot be without.
func (m *maker) keepRequired(s *sheet, f ingest.Field) {
	if s.name != cohort.Limbs || f.Name != "level" && f.Name != "side" {
		return
	}
	out := &column{name: f.Name, field: f.Name, meaning: strings.ReplaceAll(f.Name, "_", " "), kind: "group", allowed: disclose.Withheld, how: "left out, as asked"}
	s.add(out, func(int) cell { return textCell(disclose.Withheld) })
	out.inLog = make([]cell, len(out.cells))
	for j := range out.inLog {
		out.inLog[j] = textCell(f.Name + " not given")
	}
}

// codes makes a column of new codes.
func (m *maker) codes(s *sheet, t *table.Table, c *table.Column, out *column) {
	kind := out.name
	if kind == "replaces" {
		kind = "socket"
	}
	out.kind, out.allowed = "code", "drawn at random"
	out.how = "a new code, drawn at random for this data set"
	if s.name != cohort.Limbs && out.name == "limb" || s.name == cohort.Limbs && out.name == "person" {
		out.how += "; the same in all tables"
	}
	s.add(out, func(i int) cell { return textCell(m.code[kind][c.Text[i]]) })
	if s.name != cohort.Limbs && out.name == firstCode(s.name) {
		who := textOf(t, "person")
		s.add(&column{name: "person", meaning: "person", kind: "code", allowed: "drawn at random", how: "a new code; the same in all tables"},
			func(i int) cell { return textCell(m.code["person"][who[i]]) })
	}
}

// firstCode is the identifier after which a table names the person.
func firstCode(name string) string {
	return map[string]string{cohort.Sockets: "limb", cohort.Stations: "limb", cohort.Visits: "socket", cohort.Findings: "visit", cohort.Forming: "socket"}[name]
}

// days makes a column of days since day 0 of the person, and for sockets a
// second one of days since their own delivery.
func (m *maker) days(s *sheet, t *table.Table, c *table.Column, out *column) {
	zero := m.zero(t)
	out.name, out.kind, out.unit = dayName(out.name), "days", "days"
	out.meaning += ", in days since day 0 of the person"
	out.how = "the date, as days since day 0"
	at := func(i int) float64 {
		if c.Missing[i] {
			return math.NaN()
		}
		return c.Num[i] - zero(i)
	}
	switch out.field {
	case "amputated":
		out.how += "; " + roundedWords
		s.add(out, func(i int) cell { return numCell(roundedDay(at(i))) })
		m.changes = append(m.changes, change{table: s.name, column: out.name, what: roundedWords})
		return
	case "last_seen":
		m.lastSeen(s, t, out)
		return
	}
	s.add(out, func(i int) cell { return numCell(at(i)) })
	if s.name == cohort.Sockets && out.field != "delivered" {
		delivered := numOf(t, "delivered")
		s.add(&column{name: out.field + "_since_delivery", meaning: label(c, ingest.Field{Name: out.field}) + ", in days since the delivery of the socket", unit: "days", kind: "days",
			how: "the date, as days since the delivery of the socket; empty where it was not delivered"},
			func(i int) cell {
				if c.Missing[i] {
					return cell{}
				}
				return numCell(c.Num[i] - delivered[i])
			})
	}
}

const roundedWords = "more than 2 years before day 0 rounded to years of 365 days, more than 10 years to 5 years, and never more than 40 years"

// roundedDay makes days long before day 0 coarse: how long ago somebody lost a
// limb is known to many.
func roundedDay(day float64) float64 {
	const year = 365
	switch {
	case math.IsNaN(day) || day >= -2*year:
		return day
	case day >= -10*year:
		return year * math.Round(day/year)
	}
	return math.Max(-40*year, 5*year*math.Round(day/(5*year)))
}

// lastSeen makes the last day on which anything is known of a person, which
// ends the watch over sockets still in use.
func (m *maker) lastSeen(s *sheet, t *table.Table, out *column) {
	who, zero := textOf(t, "person"), m.zero(t)
	out.meaning = "last day on which anything was recorded of the person, in days since day 0"
	out.how = "the latest of all dates of the person, last_seen among them, as days since day 0"
	s.add(out, func(i int) cell {
		if day, ok := m.src.Context.Cohort.LastEvidence(who[i]); ok {
			return numCell(day - zero(i))
		}
		return cell{}
	})
}

// numbers makes the number of a definitive socket of its limb.
func (m *maker) numbers(s *sheet, t *table.Table, c *table.Column, out *column) {
	sequence := numOf(t, "sequence")
	out.allowed, out.how = "", "as in the log; else the order of delivery, where it is known that none came before"
	s.add(out, func(i int) cell {
		if !c.Missing[i] {
			return numCell(c.Num[i])
		}
		return numCell(sequence[i])
	})
}

// group makes a column of what an outsider may know, as coarse as it had to
// become.
func (m *maker) group(s *sheet, t *table.Table, out *column, f ingest.Field) {
	n := m.index[f.Name]
	m.groupOf(s, t, out, n)
	if f.Words == nil {
		return
	}
	// A log knows its own words only.
	out.inLog = make([]cell, len(out.cells))
	for j, x := range out.cells {
		switch {
		case x.text == disclose.Withheld && f.Required, x.text == "level not given":
			out.inLog[j] = textCell(f.Name + " not given")
		case f.Words.Has(x.text):
			out.inLog[j] = x
		case f.Name == "level" && x.text == "upper limb":
			out.inLog[j] = x
		case f.Name == "level":
			out.inLog[j] = textCell("lower limb")
		}
	}
}

func (m *maker) groupOf(s *sheet, t *table.Table, out *column, n int) {
	col, r := m.cols[n], m.told
	out.kind = "group"
	out.how = "withheld from all"
	if v := r.Version[n]; v < len(col.Steps) {
		out.how = col.Steps[v]
	}
	if k := len(slices.DeleteFunc(slices.Clone(r.Withheld[n]), func(w bool) bool { return !w })); k > 0 {
		out.how += "; withheld from " + counted(k, "person", "persons")
	}
	who := textOf(t, "person")
	unit := map[int]int{}
	for _, p := range m.people {
		for u, i := range p.limbs {
			unit[i] = u
		}
	}
	own := map[string]bool{}
	s.add(out, func(i int) cell {
		u := 0
		if col.PerUnit {
			u = unit[i]
		}
		v := r.Value(m.cols, n, m.byID[who[i]], u)
		if out.name == "site" && v != disclose.Withheld && t.Name == cohort.Sockets {
			// Told of the person are all sites, of the socket its own.
			if v = m.clean([]string{textOf(t, "site")[i]})[0]; v == "" {
				return cell{}
			}
		}
		if v == notRecorded {
			return cell{}
		}
		own[v] = true
		return textCell(v)
	})
	var values []string
	for v := range own {
		values = append(values, v)
	}
	slices.Sort(values)
	out.allowed = strings.Join(values, "; ")
}

// ages makes the band of the age on day 0 and, for a log, a year of birth that
// goes with it where day 0 is 1 January 2000.
func (m *maker) ages(s *sheet) {
	n, ok := m.index[ageBand]
	if !ok {
		return
	}
	t := m.rows[s.name]
	out := &column{name: ageBand, field: ageBand, meaning: "age at the first delivery", unit: "years"}
	m.groupOf(s, t, out, n)
	born := &column{name: "born", field: "born", kind: "number", meaning: "year of birth on the made-up calendar of log.xlsx"}
	amputated := numOf(t, "amputated")
	zero := m.zero(t)
	born.inLog = make([]cell, len(out.cells))
	for j, x := range out.cells {
		year, ok := middleOf(x.text)
		if !ok {
			continue
		}
		// A middle of the band must not make anybody lose a limb unborn.
		if day := roundedDay(amputated[s.rows[j]] - zero(s.rows[j])); !math.IsNaN(day) {
			y, _, _ := ingest.Date(int(logZero + day)).Split()
			year = min(year, y)
		}
		born.inLog[j] = numCell(float64(year))
	}
	born.cells = make([]cell, len(out.cells))
	s.cols = append(s.cols, born)
	if y, ok := m.index[firstYear]; ok {
		m.groupOf(s, t, &column{name: firstYear, field: firstYear, meaning: "year of the first delivery"}, y)
	}
}

// middleOf is the year of birth that goes with the middle of a band of ages.
func middleOf(band string) (int, bool) {
	var from, to int
	if n, _ := fmt.Sscanf(band, "%d to %d", &from, &to); n == 2 {
		return 2000 - (from+to+1)/2, true
	}
	if n, _ := fmt.Sscanf(band, "%d and over", &from); n == 1 {
		return 2000 - from - 2, true
	}
	return 0, false
}

// capped keeps numbers from telling the heaviest and the lightest: beyond the
// k-th person from either end all stand at that person's.
func (m *maker) capped(s *sheet, t *table.Table, c *table.Column, out *column) {
	low, high := map[int]float64{}, map[int]float64{}
	who := textOf(t, "person")
	for _, i := range s.rows {
		if c.Missing[i] {
			continue
		}
		k, v := m.byID[who[i]], c.Num[i]
		if x, ok := low[k]; !ok || v < x {
			low[k] = v
		}
		if x, ok := high[k]; !ok || v > x {
			high[k] = v
		}
	}
	if len(low) < m.k {
		m.drop(s, out.name, c, "left out: known of too few persons")
		return
	}
	least, most := sortedValues(low)[m.k-1], sortedValues(high)[len(high)-m.k]
	if least > most {
		m.drop(s, out.name, c, "left out: known of too few persons")
		return
	}
	n := 0
	out.kind = "number"
	s.add(out, func(i int) cell {
		if c.Missing[i] {
			return cell{}
		}
		v := math.Min(math.Max(c.Num[i], least), most)
		if v != c.Num[i] {
			n++
		}
		return numCell(v)
	})
	out.allowed = strconv.FormatFloat(least, 'g', -1, 64) + " to " + strconv.FormatFloat(most, 'g', -1, 64)
	out.how = fmt.Sprintf("beyond what %d persons reach, that value in its place, at either end", m.k)
	if n > 0 {
		m.changes = append(m.changes, change{table: s.name, column: out.name, what: out.how, concerned: counted(n, "value", "values")})
	}
}

func sortedValues(in map[int]float64) []float64 {
	var out []float64
	for _, v := range in {
		out = append(out, v)
	}
	slices.Sort(out)
	return out
}
