package cohort

import (
	"math"
	"sort"
	"strings"

	"plybook/analysis/limb"
)

// series names the measurements of a limb that may be compared: taken from
// one landmark and over one layer.
type series struct {
	limb           int
	landmark, over string
}

// measureSet is one run of the tape down a limb: one day, one measurer, one
// repeat.
type measureSet struct {
	series  series
	date    float64
	row     int // the station row that carries its volume
	profile limb.Profile
	usable  bool // at least two stations
}

// measurement is what was measured on one day, repeats and measurers
// averaged station by station.
type measurement struct {
	date     float64
	profile  limb.Profile
	stations int
	runs     int    // of the tape down the limb
	by       string // who measured, in order; "" where not told
	// measurers is how many persons did; 0 where not told.
	measurers int
}

// measureIndex holds the usable measurements of each series in time order
// and the stretch over which their volumes are given.
type measureIndex struct {
	of     map[series][]measurement
	span   map[series]limb.Span
	byLimb map[int][]series // in order of landmark and layer
}

// measure gathers the station rows known by To into sets and measurements.
func (c *Cohort) measure() {
	d := &c.stations
	rows := make([]int, 0, len(d.limb))
	for i := range d.limb {
		if d.known[i] && d.limb[i] >= 0 && !math.IsNaN(d.mm[i]) && !math.IsNaN(d.girth[i]) {
			rows = append(rows, i)
		}
	}
	less := func(a, b int) int {
		for _, order := range []int{
			cmp(d.limb[a], d.limb[b]), cmp(d.landmark[a], d.landmark[b]), cmp(d.over[a], d.over[b]), cmp(d.date[a], d.date[b]),
			cmp(d.rep[a], d.rep[b]), cmp(d.by[a], d.by[b]), cmp(d.mm[a], d.mm[b]), cmp(d.girth[a], d.girth[b]),
		} {
			if order != 0 {
				return order
			}
		}
		return 0
	}
	sort.SliceStable(rows, func(x, y int) bool { return less(rows[x], rows[y]) < 0 })
	c.measures = measureIndex{of: map[series][]measurement{}, span: map[series]limb.Span{}, byLimb: map[int][]series{}}
	for lo := 0; lo < len(rows); {
		first := rows[lo]
		key := series{d.limb[first], d.landmark[first], d.over[first]}
		hi := lo
		for hi < len(rows) && d.limb[rows[hi]] == key.limb && d.landmark[rows[hi]] == key.landmark && d.over[rows[hi]] == key.over && d.date[rows[hi]] == d.date[first] {
			hi++
		}
		c.addMeasurement(key, d.date[first], rows[lo:hi])
		lo = hi
	}
	for _, key := range c.seriesInOrder() {
		var profiles []limb.Profile
		for _, m := range c.measures.of[key] {
			profiles = append(profiles, m.profile)
		}
		if span, ok := limb.UsualSpan(profiles); ok {
			c.measures.span[key] = span
		}
	}
}

func cmp[T int | float64 | string](a, b T) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func (c *Cohort) seriesInOrder() []series {
	limbs := make([]int, 0, len(c.measures.byLimb))
	for l := range c.measures.byLimb {
		limbs = append(limbs, l)
	}
	sort.Ints(limbs)
	var out []series
	for _, l := range limbs {
		out = append(out, c.measures.byLimb[l]...)
	}
	return out
}

// addMeasurement records the rows of one series and day, which come sorted
// by repeat, measurer and distance.
func (c *Cohort) addMeasurement(key series, date float64, rows []int) {
	d := &c.stations
	all := make([]limb.Station, 0, len(rows))
	runs, by := 0, map[string]bool{}
	for lo := 0; lo < len(rows); {
		hi := lo
		for hi < len(rows) && d.rep[rows[hi]] == d.rep[rows[lo]] && d.by[rows[hi]] == d.by[rows[lo]] {
			hi++
		}
		var at []limb.Station
		for _, i := range rows[lo:hi] {
			// A girth of nothing is no girth; the reader of the log says so.
			if d.girth[i] > 0 {
				at = append(at, limb.Station{MM: d.mm[i], GirthMM: d.girth[i]})
			}
		}
		p, err := limb.NewProfile(at)
		if len(at) > 0 {
			runs++
		}
		if who := d.by[rows[lo]]; who != "" {
			by[who] = true
		}
		c.sets = append(c.sets, measureSet{series: key, date: date, row: rows[lo], profile: p, usable: err == nil})
		all = append(all, at...)
		lo = hi
	}
	p, err := limb.NewProfile(all)
	if err != nil {
		return // too few stations to enclose a stretch of limb
	}
	m := &c.measures
	if _, ok := m.of[key]; !ok {
		m.byLimb[key.limb] = append(m.byLimb[key.limb], key)
	}
	m.of[key] = append(m.of[key], measurement{date: date, profile: p, stations: len(p.Stations()), runs: runs, by: strings.Join(sortedKeys(by), "\x00"), measurers: len(by)})
}

// volume is the volume in ml over the usual span of the series; NaN where
// the profile does not reach over it.
func (c *Cohort) volume(key series, p limb.Profile) float64 {
	span, ok := c.measures.span[key]
	if !ok {
		return nan
	}
	v, err := p.VolumeOver(span)
	if err != nil {
		return nan
	}
	return v
}

// castBaseline is the first measurement of a series within CastWindowDays of
// the cast of a socket.
func (c *Cohort) castBaseline(cast float64, key series) (measurement, bool) {
	ms := c.measures.of[key]
	i := sort.Search(len(ms), func(i int) bool { return ms[i].date >= cast-c.set.CastWindowDays })
	if i < len(ms) && ms[i].date <= cast+c.set.CastWindowDays {
		return ms[i], true
	}
	return measurement{}, false
}

// changeSince is the change in percent from the cast's measurement to a
// later profile of the same series over their common span; NaN where there
// is no such measurement, no common span, or the profile is the earlier.
func (c *Cohort) changeSince(cast, date float64, key series, p limb.Profile) float64 {
	base, ok := c.castBaseline(cast, key)
	if !ok || date < base.date {
		return nan
	}
	change, err := limb.Compare(base.profile, p)
	if err != nil {
		return nan
	}
	return change.Percent
}

// castSeries picks the series that stands for the limb at the cast of a
// socket: the earliest measured, then the one with most stations.
func (c *Cohort) castSeries(limbRow int, cast float64) (key series, base measurement, ok bool) {
	for _, k := range c.measures.byLimb[limbRow] {
		m, has := c.castBaseline(cast, k)
		if has && (!ok || m.date < base.date || m.date == base.date && m.stations > base.stations) {
			key, base, ok = k, m, true
		}
	}
	return key, base, ok
}

// measuredOn picks what was measured on a limb on a day: the series of the
// socket's cast if it was measured, else the one with most stations.
func (c *Cohort) measuredOn(limbRow int, day, cast float64) (key series, found measurement, ok bool) {
	preferred, _, has := c.castSeries(limbRow, cast)
	for _, k := range c.measures.byLimb[limbRow] {
		ms := c.measures.of[k]
		i := sort.Search(len(ms), func(i int) bool { return ms[i].date >= day })
		if i == len(ms) || ms[i].date != day {
			continue
		}
		if has && k == preferred {
			return k, ms[i], true
		}
		if !ok || ms[i].stations > found.stations {
			key, found, ok = k, ms[i], true
		}
	}
	return key, found, ok
}

// castsFor lists the casts that a measurement is held against, in order of
// preference, when its row names no socket: the limb's last cast up to that
// day, then the next one within CastWindowDays.
func (c *Cohort) castsFor(casts []float64, day float64) []float64 {
	var out []float64
	i := sort.Search(len(casts), func(i int) bool { return casts[i] > day })
	if i > 0 {
		out = append(out, casts[i-1])
	}
	if i < len(casts) && casts[i] <= day+c.set.CastWindowDays {
		out = append(out, casts[i])
	}
	return out
}

// castsByLimb lists the days on which each limb was cast, in order.
func (c *Cohort) castsByLimb() map[int][]float64 {
	out := map[int][]float64{}
	for i, l := range c.sockets.limb {
		if l >= 0 && !math.IsNaN(c.sockets.cast[i]) {
			out[l] = append(out[l], c.sockets.cast[i])
		}
	}
	for _, days := range out {
		sort.Float64s(days)
	}
	return out
}

// modelStations lists the station rows that tell a socket's reduction, in an
// order that depends on what they say and not on where they stand, so that
// sums come out the same.
func (c *Cohort) modelStations() []int {
	d := &c.stations
	rows := filterRows(len(d.limb), func(i int) bool {
		return d.socket[i] >= 0 && d.known[i] && !math.IsNaN(d.mm[i]) && !math.IsNaN(c.reduction(i))
	})
	sort.SliceStable(rows, func(x, y int) bool {
		a, b := rows[x], rows[y]
		if d.socket[a] != d.socket[b] {
			return d.socket[a] < d.socket[b]
		}
		if d.mm[a] != d.mm[b] {
			return d.mm[a] < d.mm[b]
		}
		if d.girth[a] != d.girth[b] {
			return d.girth[a] < d.girth[b]
		}
		return d.model[a] < d.model[b]
	})
	return rows
}

// inOrder lists the values of a map in the order of its keys.
func inOrder(m map[float64]float64) []float64 {
	keys := make([]float64, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Float64s(keys)
	out := make([]float64, len(keys))
	for i, k := range keys {
		out[i] = m[k]
	}
	return out
}
