package figure

import (
	"image/color"
	"sort"

	"gonum.org/v1/plot/vg"
)

// riskBlock is one group's part of the table of numbers at risk.
type riskBlock struct {
	name  string
	curve int // index of the group's first curve, for the line sample
	lone  bool
	times []float64 // of the rows
	rows  []riskRow
}

type riskRow struct {
	name   string
	counts func(t float64) int
}

// known reports whether a row stands at a time, to the day.
func (b riskBlock) known(t float64) bool {
	k := sort.SearchFloat64s(b.times, t-0.5)
	return k < len(b.times) && b.times[k] <= t+0.5
}

func (b riskBlock) start() int {
	top := 0
	for _, r := range b.rows {
		for _, t := range []float64{0, 1e300} {
			top = max(top, r.counts(t))
		}
	}
	return top
}

// ledger answers how many rows of a group were at risk, had had an event or
// had been censored just before a time. The parts add up to the rows that
// had come under observation by then: without delayed entry, to all of them.
type ledger struct {
	times            []float64
	atRisk           []int
	events, censored []int // before times[i]; one longer than times
}

func newLedger(steps []Step) *ledger {
	l := &ledger{events: []int{0}, censored: []int{0}}
	for _, s := range steps {
		l.times = append(l.times, s.Time)
		l.atRisk = append(l.atRisk, s.AtRisk)
		l.events = append(l.events, l.events[len(l.events)-1]+s.Events)
		l.censored = append(l.censored, l.censored[len(l.censored)-1]+s.Censored)
	}
	return l
}

// row is the first row at or after t.
func (l *ledger) row(t float64) int {
	return sort.Search(len(l.times), func(k int) bool { return l.times[k] >= t*(1-1e-12) })
}

// riskBlocks gathers the curves of a group: the events of each cause, and
// at risk and censored, which its curves share.
func riskBlocks(curves []Curve, eventWord string) []riskBlock {
	var order []string
	byGroup := map[string][]int{}
	for i, c := range curves {
		if _, seen := byGroup[c.Group]; !seen {
			order = append(order, c.Group)
		}
		byGroup[c.Group] = append(byGroup[c.Group], i)
	}
	var out []riskBlock
	for _, g := range order {
		members := byGroup[g]
		ledgers := make([]*ledger, len(members))
		longest := 0
		for k, i := range members {
			ledgers[k] = newLedger(curves[i].Steps)
			if len(ledgers[k].times) > len(ledgers[longest].times) {
				longest = k
			}
		}
		shared := ledgers[longest]
		events := func(t float64) int {
			n := 0
			for _, l := range ledgers {
				n += l.events[l.row(t)]
			}
			return n
		}
		censored := func(t float64) int { return shared.censored[shared.row(t)] }
		atRisk := func(t float64) int {
			k := shared.row(t)
			if k < len(shared.times) {
				return shared.atRisk[k]
			}
			// After the last row: whoever was at risk there less those who
			// left there.
			last := len(shared.times) - 1
			at := shared.times[last]
			left := shared.censored[last+1] - shared.censored[last]
			for _, l := range ledgers {
				left += l.events[len(l.events)-1] - l.events[l.row(at)]
			}
			return max(shared.atRisk[last]-left, 0)
		}
		b := riskBlock{name: g, curve: members[0], lone: len(members) == 1, times: shared.times}
		b.rows = append(b.rows, riskRow{"at risk", atRisk}, riskRow{"censored", censored})
		if len(members) == 1 {
			b.rows = append(b.rows, riskRow{eventWord, events})
		} else {
			for k, i := range members {
				l := ledgers[k]
				b.rows = append(b.rows, riskRow{curves[i].Cause, func(t float64) int { return l.events[l.row(t)] }})
			}
		}
		entered := func(t float64) int { return atRisk(t) + censored(t) + events(t) }
		if entered(0) != entered(1e300) {
			b.rows = append(b.rows, riskRow{"entered", entered})
		}
		out = append(out, b)
	}
	return out
}

// compact: many groups get one line each, the numbers at risk alone.
func (d *curvesDrawing) compact() bool {
	return len(d.groups) > 5 || d.alone() && len(d.groups) > 1
}

// paired: each group has the numbers at risk in one line, and in a quieter
// one beneath those censored and those with the event, which with them add up
// to the rows that had come under observation.
func (d *curvesDrawing) paired() bool {
	if d.compact() || d.alone() {
		return false
	}
	for _, g := range d.groups {
		if !g.lone {
			return false
		}
	}
	return true
}

// pair is what is printed beneath the numbers at risk at a tick.
func (b riskBlock) pair(t float64) string {
	return count(b.rows[1].counts(t)) + pairSign + count(b.rows[2].counts(t))
}

const pairSign = " · "

func (d *curvesDrawing) pairName() string { return "censored" + pairSign + d.spec.EventWord }

// keyed: in a small figure a row is known by the sample of its line, whose name
// stands at the end of the line.
func (d *curvesDrawing) keyed() bool {
	return d.spec.Small && d.compact() && len(d.groups) == len(d.curves)
}

// late reports whether rows came under observation after the start.
func (d *curvesDrawing) late() bool {
	for _, g := range d.groups {
		if g.rows[len(g.rows)-1].name == "entered" {
			return true
		}
	}
	return false
}

// keyShort is the sample of a line before a name of the table.
const keyShort vg.Length = 16

// tableMargin is the room that the names at the left of the table need.
func (d *curvesDrawing) tableMargin() vg.Length {
	most := d.width * 0.22
	var w vg.Length
	if d.paired() {
		w = min(small.width(clean(d.pairName())), most)
	}
	for _, g := range d.groups {
		if d.keyed() {
			w = max(w, keyShort-4)
			continue
		}
		if d.compact() || d.paired() && len(d.groups) > 1 {
			w = max(w, min(small.width(clean(g.name)), most)+keyShort)
			continue
		}
		for _, r := range g.rows {
			if d.paired() && r.name != g.rows[0].name {
				continue
			}
			w = max(w, min(small.width(clean(r.name)), most))
		}
	}
	return w
}

// table sets each number centred under its tick.
func (d *curvesDrawing) table() {
	title := upper(d.spec.Rows) + " at risk"
	switch {
	case d.paired():
		title += "; beneath, " + d.pairName() + " so far"
	case !d.compact() && !d.alone():
		title += "; censored and " + d.spec.EventWord + " so far"
	}
	d.below -= 6 + small.line()
	d.text(0, d.below+small.descent(), smallBold.shorten(title, d.width), smallBold, ink, fromLeft)
	margin := d.tableMargin()
	for k, g := range d.groups {
		shown := maskedCounts(g, d.ticks, d.spec.HideBelow, d.spec.Sparse)
		name := g.name
		if name == "" {
			name = "all"
		}
		if d.compact() || d.paired() {
			if d.paired() && k > 0 {
				d.below -= 2
			}
			d.below -= small.line()
			y := d.below + small.descent()
			if d.paired() && len(d.groups) == 1 {
				d.text(0, y, g.rows[0].name, small, ink, fromLeft)
			} else {
				d.line(0, y+small.capHeight()/2, keyShort-4, y+small.capHeight()/2, lineWide, seriesColour(g.curve), seriesDash(g.curve))
				if !d.keyed() {
					d.text(keyShort, y, d.short(name, margin-keyShort), small, ink, fromLeft)
				}
			}
			d.numbers(y, shown[0], ink)
			if d.paired() {
				d.below -= small.line()
				y := d.below + small.descent()
				pairs := make([]string, len(d.ticks))
				for i, t := range d.ticks {
					pairs[i] = g.pair(t.value)
				}
				d.text(0, y, d.short(d.pairName(), margin), small, quiet, fromLeft)
				d.numbers(y, pairs, quiet)
			}
			continue
		}
		if len(d.groups) > 1 {
			d.below -= small.line() + 1.5
			x := vg.Length(0)
			y := d.below + small.descent()
			if g.lone {
				d.line(0, y+small.capHeight()/2, keyWide, y+small.capHeight()/2, lineWide, seriesColour(g.curve), seriesDash(g.curve))
				x = keyWide + 4
			}
			d.text(x, y, d.short(name, d.width-x), small, ink, fromLeft)
		}
		for k, r := range g.rows {
			d.below -= small.line()
			y := d.below + small.descent()
			d.text(0, y, d.short(clean(r.name), margin), small, quiet, fromLeft)
			d.numbers(y, shown[k], ink)
		}
	}
}

func (d *curvesDrawing) short(name string, w vg.Length) string {
	name = clean(name)
	t := small.shorten(name, w)
	if t != name {
		d.cut = append(d.cut, name)
	}
	return t
}

// numbers sets a row of the table; a number that would touch the one before
// is left out, as labels of the axis are.
func (d *curvesDrawing) numbers(y vg.Length, shown []string, c color.NRGBA) {
	end := vg.Length(-1e9)
	for i, t := range d.ticks {
		x, half := d.x.at(t.value), small.width(shown[i])/2
		if x-half < end+2 {
			continue
		}
		d.text(x, y, shown[i], small, c, centred)
		end = x + half
	}
}
