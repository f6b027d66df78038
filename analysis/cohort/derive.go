package cohort

import (
	"math"
	"time"

	"plybook/analysis/table"
)

// birthday places a birth of which only the year is kept: 1 July, which is
// right to within half a year and not biased. NaN where the year is none of
// a living memory.
func birthday(year float64) float64 {
	if !(year >= 1850 && year <= 2200) {
		return nan
	}
	return float64(time.Date(int(year), time.July, 1, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ageAt is the age on each of the days of a person born on the day beside.
func ageAt(rows string, days, births []float64) *table.Column {
	col := derived("age", rows, len(days))
	for i, day := range days {
		col.SetNum(i, (day-births[i])/table.DaysPerYear)
	}
	return dropNegative(col)
}

// birthsOf are the birthdays of the persons of the limbs, moved as their other
// dates are; NaN where unknown.
func (c *Cohort) birthsOf(limbs []int) []float64 {
	out := make([]float64, len(limbs))
	for i, l := range limbs {
		out[i] = nan
		if l >= 0 {
			out[i] = c.birth(c.limbs.born[l], c.limbs.person[l])
		}
	}
	return out
}

func (c *Cohort) birth(year float64, person int) float64 {
	return birthday(year) + c.persons.shift[person]
}

func (c *Cohort) sinceAmputation(rows string, days []float64, limbs []int) *table.Column {
	col := derived("months_since_amputation", rows, len(days))
	for i, day := range days {
		if l := limbs[i]; l >= 0 {
			col.SetNum(i, (day-c.limbs.amputated[l])/table.DaysPerMonth)
		}
	}
	return dropNegative(col)
}

// dropNegative makes spans of time that run backwards missing: two dates
// that contradict each other say nothing.
func dropNegative(col *table.Column) *table.Column {
	for i, v := range col.Num {
		if v < 0 {
			col.SetNum(i, nan)
		}
	}
	return col
}

func (c *Cohort) sinceDelivery(rows string, n int, dates []float64, sockets []int) *table.Column {
	col := derived("days_since_delivery", rows, n)
	for i, k := range sockets {
		if k >= 0 {
			col.SetNum(i, dates[i]-c.sockets.delivered[k])
		}
	}
	return col
}

// followUp runs from a first delivery to the person's last evidence.
func (c *Cohort) followUp(rows string, first []float64, people []int) *table.Column {
	col := derived("follow_up_days", rows, len(first))
	for i, day := range first {
		if last := c.persons.evidence[people[i]]; last >= day {
			col.SetNum(i, last-day)
		}
	}
	return col
}

// socketColumns works out the derived columns of every socket.
func (c *Cohort) socketColumns() []*table.Column {
	s := &c.sockets
	n := len(s.id)
	starts := make([]float64, n)
	for i := range starts {
		starts[i] = c.start(i)
	}
	sequence, turnaround, follow := derived("sequence", Sockets, n), derived("turnaround_days", Sockets, n), derived("follow_up_days", Sockets, n)
	fittings, firstFit, clean := derived("fittings", Sockets, n), derived("first_fit", Sockets, n), derived("first_fit_clean", Sockets, n)
	plyStart, plyChange := derived("ply_at_delivery", Sockets, n), derived("ply_change", Sockets, n)
	year := derived(YearDelivered, Sockets, n)
	volume, from, to := derived("volume_ml", Sockets, n), derived("volume_from_mm", Sockets, n), derived("volume_to_mm", Sockets, n)
	change, early := derived("volume_change_pct", Sockets, n), derived(EarlyRemake, Sockets, n)
	for i := range n {
		sequence.SetNum(i, s.sequence[i])
		if day := starts[i]; !math.IsNaN(day) && c.set.Shift == nil { // a moved day is of no known year
			name, _, _ := YearOf(day, c.set.YearBegins)
			year.SetText(i, name)
		}
		asked := s.referred[i]
		if math.IsNaN(asked) {
			asked = s.ordered[i]
		}
		turnaround.SetNum(i, s.delivered[i]-asked)
		if s.endBasis[i] != BasisUndated {
			follow.SetNum(i, c.lastDayOf(i)-starts[i])
		}
		if f := c.fittings(i); f.known {
			fittings.SetNum(i, f.count)
			firstFit.SetText(i, f.first)
			clean.SetText(i, f.clean)
		}
		c.setEndedWithin(early, i, i, c.remake, c.set.EarlyRemakeDays)
		plyStart.SetNum(i, c.plyAtDelivery(i))
		plyChange.SetNum(i, c.plyChangeBy(i, math.Inf(1)))
		if s.limb[i] < 0 {
			continue
		}
		if key, base, ok := c.castSeries(s.limb[i], s.cast[i]); ok {
			volume.SetNum(i, c.volume(key, base.profile))
			if !volume.Missing[i] {
				from.SetNum(i, c.measures.span[key].From)
				to.SetNum(i, c.measures.span[key].To)
			}
			change.SetNum(i, c.volumeChangeBy(i, math.Inf(1)))
		}
	}
	return []*table.Column{
		ageAt(Sockets, starts, c.birthsOf(s.limb)), c.sinceAmputation(Sockets, starts, s.limb), year, sequence, fittings, firstFit, clean,
		c.meanReduction(), volume, from, to, change, plyStart, plyChange, early, dropNegative(turnaround), dropNegative(follow),
	}
}

// lastDayOf is the end of a socket's life, else the person's last evidence.
func (c *Cohort) lastDayOf(i int) float64 {
	if !math.IsNaN(c.sockets.end[i]) {
		return c.sockets.end[i]
	}
	return c.persons.evidence[c.sockets.person[i]]
}

func (c *Cohort) plyAtDelivery(i int) float64 {
	s, v := &c.sockets, &c.visits
	for _, onlyDelivery := range []bool{true, false} {
		for _, j := range s.visits[i] {
			at := v.purpose[j] == PurposeDelivery
			if !onlyDelivery {
				at = v.date[j] == s.delivered[i]
			}
			if !at {
				continue
			}
			if !math.IsNaN(v.ply[j]) {
				return v.ply[j]
			}
			if !math.IsNaN(v.plyLeft[j]) {
				return v.plyLeft[j]
			}
		}
	}
	return nan
}

// plyChangeBy is the ply of the socket's last visit up to a day, less that
// at delivery.
func (c *Cohort) plyChangeBy(i int, day float64) float64 {
	s, v := &c.sockets, &c.visits
	change := nan
	for _, j := range s.visits[i] {
		if v.date[j] >= s.delivered[i] && v.date[j] <= day && !math.IsNaN(v.ply[j]) {
			change = v.ply[j]
		}
	}
	return change - c.plyAtDelivery(i)
}

// volumeChangeBy is the change from the cast to the last measurement in the
// socket's life, up to a day.
func (c *Cohort) volumeChangeBy(i int, day float64) float64 {
	s := &c.sockets
	if s.limb[i] < 0 {
		return nan
	}
	key, _, ok := c.castSeries(s.limb[i], s.cast[i])
	if !ok {
		return nan
	}
	change := nan
	day = min(day, c.lastDayOf(i))
	for _, m := range c.measures.of[key] {
		if m.date >= s.delivered[i] && m.date <= day {
			if v := c.changeSince(s.cast[i], m.date, key, m.profile); !math.IsNaN(v) {
				change = v
			}
		}
	}
	return change
}

// meanReduction is the mean reduction over the stations of each socket.
func (c *Cohort) meanReduction() *table.Column {
	d := &c.stations
	type place struct {
		landmark, over string
		mm             float64
	}
	type sum struct {
		total float64
		n     int
	}
	bySocket := make([]map[place]sum, len(c.sockets.id))
	for _, i := range c.modelStations() {
		k, r := d.socket[i], c.reduction(i)
		if bySocket[k] == nil {
			bySocket[k] = map[place]sum{}
		}
		p := place{d.landmark[i], d.over[i], d.mm[i]}
		s := bySocket[k][p]
		bySocket[k][p] = sum{s.total + r, s.n + 1}
	}
	col := derived("reduction_pct", Sockets, len(bySocket))
	for k, places := range bySocket {
		groups := map[string][]float64{} // landmark and layer -> station means
		where := map[string]map[float64]float64{}
		for p, s := range places {
			g := p.landmark + "\x00" + p.over
			if where[g] == nil {
				where[g] = map[float64]float64{}
			}
			where[g][p.mm] = s.total / float64(s.n)
		}
		best := ""
		for _, g := range sortedKeys(where) {
			groups[g] = inOrder(where[g])
			if best == "" || len(groups[g]) > len(groups[best]) {
				best = g
			}
		}
		if best != "" {
			col.SetNum(k, mean(groups[best]))
		}
	}
	return col
}

// reduction is the reduction in percent at a station row; NaN if unknown.
func (c *Cohort) reduction(i int) float64 {
	limbMM, model := c.stations.girth[i], c.stations.model[i]
	if !(limbMM > 0) || !(model > 0) {
		return nan
	}
	return 100 * (limbMM - model) / limbMM
}

func mean(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// visitColumns works out the derived columns of every visit.
func (c *Cohort) visitColumns() []*table.Column {
	v, s := &c.visits, &c.sockets
	n := len(v.id)
	plyChange, volume, change := derived("ply_change", Visits, n), derived("volume_ml", Visits, n), derived("volume_change_pct", Visits, n)
	from, to := derived("volume_from_mm", Visits, n), derived("volume_to_mm", Visits, n)
	atDelivery := make([]float64, len(s.id))
	for k := range atDelivery {
		atDelivery[k] = c.plyAtDelivery(k)
	}
	for i, k := range v.socket {
		if k < 0 || !v.known[i] {
			continue
		}
		if v.date[i] >= s.delivered[k] {
			plyChange.SetNum(i, v.ply[i]-atDelivery[k])
		}
		if s.limb[k] < 0 {
			continue
		}
		if key, m, ok := c.measuredOn(s.limb[k], v.date[i], s.cast[k]); ok {
			volume.SetNum(i, c.volume(key, m.profile))
			if !volume.Missing[i] {
				from.SetNum(i, c.measures.span[key].From)
				to.SetNum(i, c.measures.span[key].To)
			}
			change.SetNum(i, c.changeSince(s.cast[k], m.date, key, m.profile))
		}
	}
	return append([]*table.Column{
		c.sinceAmputation(Visits, v.date, through(v.socket, s.limb)), volume, from, to, change, plyChange,
		c.sinceDelivery(Visits, n, v.date, v.socket), c.hours(), c.months(Visits, v.date),
	}, c.sockColumns()...)
}

// stationColumns works out the derived columns of every station row.
func (c *Cohort) stationColumns() []*table.Column {
	d, s := &c.stations, &c.sockets
	n := len(d.limb)
	reduction, volume, change := derived("reduction_pct", Stations, n), derived("volume_ml", Stations, n), derived("volume_change_pct", Stations, n)
	from, to := derived("volume_from_mm", Stations, n), derived("volume_to_mm", Stations, n)
	for i := range n {
		reduction.SetNum(i, c.reduction(i))
	}
	casts := c.castsByLimb()
	for _, set := range c.sets {
		if !set.usable {
			continue
		}
		volume.SetNum(set.row, c.volume(set.series, set.profile))
		if !volume.Missing[set.row] {
			from.SetNum(set.row, c.measures.span[set.series].From)
			to.SetNum(set.row, c.measures.span[set.series].To)
		}
		against := c.castsFor(casts[set.series.limb], set.date)
		if k := d.socket[set.row]; k >= 0 {
			against = []float64{s.cast[k]}
		}
		for _, cast := range against {
			if v := c.changeSince(cast, set.date, set.series, set.profile); !math.IsNaN(v) {
				change.SetNum(set.row, v)
				break
			}
		}
	}
	return []*table.Column{
		c.sinceAmputation(Stations, d.date, d.limb), reduction, volume, from, to, change,
		c.sinceDelivery(Stations, n, d.date, d.socket), c.months(Stations, d.date),
	}
}

// hours are the times of visits, in hours since midnight.
func (c *Cohort) hours() *table.Column {
	col := derived(HourOfDay, Visits, len(c.visits.minute))
	if !c.visits.timed {
		return col
	}
	for i, m := range c.visits.minute {
		col.SetNum(i, m/60)
	}
	return col
}

// months are the months of the calendar of some days; a moved day is of no
// known month.
func (c *Cohort) months(rows string, days []float64) *table.Column {
	col := derived(MonthOfYear, rows, len(days))
	if c.set.Shift != nil {
		return col
	}
	for i, day := range days {
		if !math.IsNaN(day) {
			col.SetNum(i, float64(time.Unix(int64(day)*86400, 0).UTC().Month()))
		}
	}
	return col
}
