package cohort

import (
	"math"

	"plybook/analysis/table"
)

// This file holds what follows from reading the log on one day: what is
// dated later is hidden, and what is dated up to it is evidence.

// lastDay is Settings.To, else the latest date of any row.
func (c *Cohort) lastDay() float64 {
	if c.set.To != nil {
		return *c.set.To
	}
	day := minusInf
	for _, s := range []struct {
		t     *table.Table
		dates []string
	}{
		{c.in.Limbs, limbDates}, {c.in.Sockets, socketDates}, {c.in.Visits, []string{"date"}},
		{c.in.Stations, []string{"date"}}, {c.in.Forming, []string{"date"}},
	} {
		for _, name := range s.dates {
			if col, ok := s.t.Col(name); ok && col.Kind != table.Text {
				for i, v := range col.Num {
					if !col.Missing[i] {
						day = max(day, v)
					}
				}
			}
		}
	}
	return day
}

// masked returns the table with the named dates missing where they are later
// than To, and how many were masked.
func (c *Cohort) masked(t *table.Table, dates []string) (*table.Table, int, error) {
	out := table.New(t.Name, t.Rows())
	copy(out.Origin, t.Origin)
	is := setOf(dates)
	n := 0
	for _, col := range t.Columns() {
		if is[col.Name] && col.Kind != table.Text {
			late := false
			for i, v := range col.Num {
				late = late || !col.Missing[i] && v > c.to
			}
			if late {
				col = col.Pick(identity(t.Rows()))
				for i, v := range col.Num {
					if !col.Missing[i] && v > c.to {
						col.SetNum(i, nan)
						n++
					}
				}
			}
		}
		if err := out.Add(col); err != nil {
			return nil, 0, err
		}
	}
	return out, n, nil
}

// hideLaterReasons empties the end reasons that were not known by To: the
// ending they explain is dated later. A remake decided by To is known, and
// so is its reason, though the socket was worn on.
func (c *Cohort) hideLaterReasons(ended, decided, delivered []float64) {
	d := &c.sockets
	replaced := make([]float64, len(d.id))
	for i := range replaced {
		replaced[i] = nan
	}
	for j, id := range d.replaces {
		if i, ok := d.index[id]; ok {
			replaced[i] = earliest(replaced[i], delivered[j])
		}
	}
	for i, reason := range d.reason {
		if reason == "" {
			continue
		}
		when := ended[i]
		if math.IsNaN(when) || c.remake[reason] && decided[i] < when {
			if !math.IsNaN(decided[i]) {
				when = decided[i]
			} else {
				when = replaced[i]
			}
		}
		if when > c.to {
			d.reason[i] = ""
		}
	}
}

// gatherEvidence finds the last day, not after To, on which anything was
// recorded of each person, and the deaths known by To.
func (c *Cohort) gatherEvidence() {
	p := &c.persons
	seen := func(person int, day float64) {
		if day <= c.to && day > p.evidence[person] {
			p.evidence[person] = day
		}
	}
	l := &c.limbs
	for i, who := range l.person {
		for _, day := range []float64{l.amputated[i], l.lastSeen[i], l.died[i]} {
			seen(who, day)
		}
		p.died[who] = earliest(p.died[who], l.died[i])
	}
	s := &c.sockets
	for i, who := range s.person {
		for _, day := range []float64{s.referred[i], s.ordered[i], s.cast[i], s.delivered[i], s.decided[i], s.ended[i]} {
			seen(who, day)
		}
	}
	for i, k := range c.visits.socket {
		if k >= 0 {
			seen(s.person[k], c.visits.date[i])
		}
	}
	for i, k := range c.stations.limb {
		if k >= 0 {
			seen(l.person[k], c.stations.date[i])
		}
	}
	for i, k := range c.forming.socket {
		if k >= 0 {
			seen(s.person[k], c.forming.date[i])
		}
	}
}
