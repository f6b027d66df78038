package cohort

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/table"
)

// ErrShift reports days of the calendar among settings that move every
// person's dates by days of their own.
var ErrShift = errors.New("with dates shifted person by person, no day of the calendar can be asked for")

// shift moves every date of every person by the days that Settings.Shift
// gives for the person, in all tables. Times between dates of one person stay
// as they are, to the day. A date of nobody known is taken away. The day of
// the data cut moves along: on each person's clock it is that of cutOf, and
// nothing is later.
func (c *Cohort) shift() error {
	if c.set.Shift == nil {
		return nil
	}
	if c.set.From != nil || c.set.To != nil || c.set.LogSince != nil {
		return fmt.Errorf("cohort: %w", ErrShift)
	}
	texts := func(t *table.Table, name string) []string { return (&reader{t: t}).text(name) }
	// move are the days of each row; NaN for nobody known.
	follow := func(ids []string, days map[string]float64) []float64 {
		out := make([]float64, len(ids))
		for i, id := range ids {
			out[i] = nan
			if d, ok := days[id]; ok && id != "" {
				out[i] = d
			}
		}
		return out
	}
	index := func(ids []string, days []float64) map[string]float64 {
		out := make(map[string]float64, len(ids))
		for i, id := range ids {
			if !math.IsNaN(days[i]) {
				out[id] = days[i]
			}
		}
		return out
	}
	byPerson := follow(texts(c.in.Limbs, "person"), c.set.Shift)
	limbs := index(texts(c.in.Limbs, "limb"), byPerson)
	bySocket := follow(texts(c.in.Sockets, "limb"), limbs)
	sockets := index(texts(c.in.Sockets, "socket"), bySocket)
	byVisit := follow(texts(c.in.Visits, "socket"), sockets)
	visits := index(texts(c.in.Visits, "visit"), byVisit)
	for _, m := range []struct {
		t     **table.Table
		move  []float64
		dates []string
	}{
		{&c.in.Limbs, byPerson, limbDates}, {&c.in.Sockets, bySocket, socketDates}, {&c.in.Visits, byVisit, []string{"date"}},
		{&c.in.Findings, follow(texts(c.in.Findings, "visit"), visits), nil},
		{&c.in.Stations, follow(texts(c.in.Stations, "limb"), limbs), []string{"date"}},
		{&c.in.Forming, follow(texts(c.in.Forming, "socket"), sockets), []string{"date"}},
	} {
		t, err := moved(*m.t, m.move, setOf(m.dates))
		if err != nil {
			return fmt.Errorf("cohort: move the dates of %s: %w", (*m.t).Name, err)
		}
		*m.t = t
	}
	c.to = math.Inf(1)
	return nil
}

// moved is a table with its dates moved row by row.
func moved(t *table.Table, move []float64, dates map[string]bool) (*table.Table, error) {
	out := table.New(t.Name, t.Rows())
	copy(out.Origin, t.Origin)
	for _, col := range t.Columns() {
		if col.Kind == table.Date || col.Kind != table.Text && dates[col.Name] {
			col = col.Pick(identity(t.Rows()))
			for i, day := range col.Num {
				if !col.Missing[i] {
					col.SetNum(i, day+move[i])
				}
			}
		}
		if err := out.Add(col); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// cutOf is the day of the data cut on the clock of a person.
func (c *Cohort) cutOf(person int) float64 {
	if c.set.Shift == nil {
		return c.to
	}
	return c.last + c.persons.shift[person]
}

// Cut is the day of the data cut on the clock of a life's person: that of To,
// moved as the person's dates are.
func (l *Lives) Cut(i int) float64 { return l.cohort.cutOf(l.cohort.sockets.person[l.socket[i]]) }
