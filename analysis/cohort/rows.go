package cohort

import (
	"math"

	"plybook/analysis/table"
)

// dated keeps the rows known by To and, unless early ones are wanted too,
// dated from From on; it writes the flow of the named table.
func (c *Cohort) dated(name string, dates []float64, withEarly bool) []int {
	if withEarly {
		return filterRows(len(dates), func(i int) bool { return dates[i] <= c.to })
	}
	rows := make([]int, 0, len(dates))
	var undated, late, early int
	for i, day := range dates {
		switch {
		case math.IsNaN(day):
			undated++
		case day > c.to:
			late++
		case c.set.From != nil && day < *c.set.From:
			early++
		default:
			rows = append(rows, i)
		}
	}
	f := &flow{left: len(dates)}
	f.step("rows in the log", 0, "")
	if undated > 0 {
		f.step("dated", undated, "no date")
	}
	f.step("known by "+c.day(c.to), late, "dated after "+c.day(c.to))
	if c.set.From != nil {
		f.step("dated from "+c.day(*c.set.From), early, "dated before "+c.day(*c.set.From))
	}
	c.flow[name] = f.steps
	return rows
}

// flow counts rows down.
type flow struct {
	steps []Step
	left  int
}

func (f *flow) step(what string, excluded int, why string) {
	f.left -= excluded
	if excluded == 0 {
		why = ""
	}
	f.steps = append(f.steps, Step{Step: what, Rows: f.left, Excluded: excluded, Reason: why})
}

// stepOut is a step that took away the rows given.
func (f *flow) stepOut(what string, out []int, why string) {
	f.step(what, len(out), why)
	f.steps[len(f.steps)-1].Out = out
}

func (c *Cohort) day(d float64) string {
	if math.IsInf(d, 0) {
		return "the end of the log"
	}
	return table.FormatDate(d)
}

// filterRows keeps the rows that pass.
func filterRows(n int, pass func(i int) bool) []int {
	rows := make([]int, 0, n)
	for i := range n {
		if pass(i) {
			rows = append(rows, i)
		}
	}
	return rows
}

func (c *Cohort) socketLayer(rows []int) layer {
	return layer{Sockets, append(c.base[Sockets].Columns(), c.derivedSockets...), rows}
}

func (c *Cohort) limbLayer(rows []int) layer {
	return layer{Limbs, c.base[Limbs].Columns(), rows}
}

func (c *Cohort) visitLayer(rows []int) layer {
	var cols, read []*table.Column
	// Counted and listed where the ply was read: they come in with the log.
	ofPly := map[string]*table.Column{}
	for _, name := range []string{"socks", SockList, SockListLeft} {
		ofPly[name] = derived(name, Visits, c.base[Visits].Rows())
		read = append(read, ofPly[name])
	}
	for _, col := range c.base[Visits].Columns() {
		if to, ok := ofPly[col.Name]; ok && !col.Own && col.Kind == to.Kind {
			to.Num, to.Text, to.Missing = col.Num, col.Text, col.Missing
			continue
		}
		cols = append(cols, col)
	}
	return layer{Visits, append(append(cols, read...), c.derivedVisits...), rows}
}

func (c *Cohort) socketRows() (*table.Table, error) {
	s := &c.sockets
	rows := filterRows(len(s.id), func(i int) bool { return !s.hidden[i] })
	f := &flow{left: len(s.id)}
	f.step("rows in the log", 0, "")
	f.step("known by "+c.day(c.to), len(s.id)-len(rows), "nothing dated up to "+c.day(c.to))
	c.flow[Sockets] = f.steps
	return c.assemble(Sockets, c.socketLayer(rows), c.limbLayer(through(rows, s.limb)))
}

func (c *Cohort) visitRows() (*table.Table, error) {
	return c.visitTableOf(c.dated(Visits, c.visits.date, false))
}

func (c *Cohort) visitTableOf(rows []int) (*table.Table, error) {
	sockets := through(rows, c.visits.socket)
	return c.assemble(Visits, c.visitLayer(rows), c.socketLayer(sockets), c.limbLayer(through(sockets, c.sockets.limb)))
}

func (c *Cohort) findingRows() (*table.Table, error) {
	return c.findingTableOf(c.dated(Findings, c.findingDates(), false))
}

func (c *Cohort) findingDates() []float64 {
	dates := make([]float64, len(c.findings.visit))
	for i, v := range c.findings.visit {
		dates[i] = nan
		if v >= 0 {
			dates[i] = c.visits.date[v]
		}
	}
	return dates
}

func (c *Cohort) findingTableOf(rows []int) (*table.Table, error) {
	d := &c.findings
	visits := through(rows, d.visit)
	sockets := through(visits, c.visits.socket)
	bony := derived("bony", Findings, len(d.visit))
	for i, region := range d.region {
		if over, ok := c.set.BonyRegions[region]; ok {
			bony.SetBool(i, over)
		}
	}
	own := layer{Findings, append(c.base[Findings].Columns(), bony), rows}
	return c.assemble(Findings, own, c.visitLayer(visits), c.socketLayer(sockets), c.limbLayer(through(sockets, c.sockets.limb)))
}

func (c *Cohort) stationRows() (*table.Table, error) {
	rows := c.dated(Stations, c.stations.date, false)
	own := layer{Stations, append(c.base[Stations].Columns(), c.stationColumns()...), rows}
	return c.assemble(Stations, own, c.socketLayer(through(rows, c.stations.socket)), c.limbLayer(through(rows, c.stations.limb)))
}

func (c *Cohort) formingRows() (*table.Table, error) {
	d := &c.forming
	rows := c.dated(Forming, d.date, false)
	sockets := through(rows, d.socket)
	n := len(d.socket)
	own := layer{Forming, append(c.base[Forming].Columns(),
		c.sinceDelivery(Forming, n, d.date, d.socket), c.sinceAmputation(Forming, d.date, through(d.socket, c.sockets.limb))), rows}
	return c.assemble(Forming, own, c.socketLayer(sockets), c.limbLayer(through(sockets, c.sockets.limb)))
}

// keptLimbs leaves out limbs amputated after To, unless something else of
// them is known by then.
func (c *Cohort) keptLimbs() []int {
	r := &reader{t: c.in.Limbs}
	amputated := r.num("amputated")
	has := make([]bool, len(amputated))
	for i, l := range c.sockets.limb {
		if l >= 0 && !c.sockets.hidden[i] {
			has[l] = true
		}
	}
	for i, l := range c.stations.limb {
		if l >= 0 && c.stations.known[i] {
			has[l] = true
		}
	}
	return filterRows(len(amputated), func(i int) bool { return has[i] || !(amputated[i] > c.to) })
}

func (c *Cohort) limbRows() (*table.Table, error) {
	l := &c.limbs
	rows := c.keptLimbs()
	n := len(l.id)
	f := &flow{left: n}
	f.step("rows in the log", 0, "")
	f.step("known by "+c.day(c.to), n-len(rows), "amputated after "+c.day(c.to))
	c.flow[Limbs] = f.steps
	first := make([]float64, n)
	for i := range first {
		first[i] = nan
	}
	for i, k := range c.sockets.limb {
		if k >= 0 && c.sockets.kind[i] != KindCheck {
			first[k] = earliest(first[k], c.sockets.delivered[i])
		}
	}
	own := c.limbLayer(rows)
	own.cols = append(own.cols, ageAt(Limbs, first, c.birthsOf(identity(n))), c.sinceAmputation(Limbs, first, identity(n)), c.followUp(Limbs, first, l.person))
	return c.assemble(Limbs, own)
}

// personRows gives one row for each person: what the person's limbs agree
// on or that they differ, the latest last_seen and the first record of a death.
func (c *Cohort) personRows() (*table.Table, error) {
	l := &c.limbs
	row := map[int]int{} // person -> row
	var people, head []int
	var members [][]int
	for _, i := range c.keptLimbs() {
		p := l.person[i]
		if _, ok := row[p]; !ok {
			row[p] = len(people)
			people, head, members = append(people, p), append(head, i), append(members, nil)
		}
		members[row[p]] = append(members[row[p]], i)
	}
	n := len(people)
	f := &flow{left: n}
	f.step("persons in the log", 0, "")
	c.flow[Persons] = f.steps
	first := make([]float64, n)
	for j := range first {
		first[j] = nan
	}
	for i, p := range c.sockets.person {
		if j, ok := row[p]; ok && c.sockets.kind[i] != KindCheck {
			first[j] = earliest(first[j], c.sockets.delivered[i])
		}
	}
	var cols []*table.Column
	for _, col := range c.base[Limbs].Columns() {
		cols = append(cols, agreed(col, members))
	}
	born := &reader{t: table.New(Persons, n)}
	for _, col := range cols {
		if err := born.t.Add(col); err != nil {
			return nil, err
		}
	}
	births := born.num("born")
	for j, year := range births {
		births[j] = c.birth(year, people[j])
	}
	cols = append(cols, ageAt(Persons, first, births), c.followUp(Persons, first, people))
	// The columns are already one row a person; the rows of the log that
	// they came from stay with them.
	t, err := c.assemble(Persons, layer{Limbs, cols, identity(n)})
	if err != nil {
		return nil, err
	}
	for j, i := range head {
		t.Origin[j] = c.base[Limbs].Origin[i]
	}
	return t, nil
}

// What a person is in a column of words in which the limbs differ, so that
// nothing is missing and no single word holds: amputated at two levels, on
// both sides.
const (
	MoreThanOne = "more than one"
	BothSides   = "both sides"
)

// agreed reduces a limb column to one value for each group of limbs. Where
// limbs differ, numbers and dates are missing; words say so.
func agreed(col *table.Column, members [][]int) *table.Column {
	rows := make([]int, len(members))
	var apart []int
	for j, limbs := range members {
		rows[j] = limbs[0]
		for _, i := range limbs[1:] {
			if rows[j] = prefer(col, rows[j], i); rows[j] < 0 {
				apart = append(apart, j)
				break
			}
		}
	}
	out := col.Pick(rows)
	if col.Kind != table.Text || !col.Own && col.Name == "limb" {
		return out
	}
	for _, j := range apart {
		out.SetText(j, MoreThanOne)
		if col.Name == "side" && !col.Own {
			out.SetText(j, BothSides)
		}
	}
	return out
}

// prefer picks between two rows of a person's limbs: the known one, the
// later last_seen, the earlier death; -1 where two values differ.
func prefer(col *table.Column, a, b int) int {
	switch {
	case col.Missing[a]:
		return b
	case col.Missing[b]:
		return a
	case !col.Own && col.Name == "last_seen" && col.Kind != table.Text:
		if col.Num[b] > col.Num[a] {
			return b
		}
		return a
	case !col.Own && col.Name == "died" && col.Kind != table.Text:
		if col.Num[b] < col.Num[a] {
			return b
		}
		return a
	case col.Kind == table.Text && col.Text[a] == col.Text[b], col.Kind != table.Text && col.Num[a] == col.Num[b]:
		return a
	}
	return -1
}
