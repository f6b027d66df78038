package answer

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// public says whether counts that stand for few people are withheld.
func (w *work) public() bool { return w.ctx.Front.HideBelow > 1 }

// of prints "27 of 34 sockets", withholding k where it or the rest stands
// for few people.
func (w *work) of(k, n int, one, many string) string {
	switch {
	case w.smallCount(n):
		return fmt.Sprintf("some of fewer than %d %s", w.ctx.Front.HideBelow, many)
	case w.smallCount(k):
		return fmt.Sprintf("fewer than %d of %s", w.ctx.Front.HideBelow, w.n(n, one, many))
	case w.smallCount(n - k):
		return fmt.Sprintf("nearly all of %s", w.n(n, one, many))
	}
	part := w.cell(k)
	if part == "hidden" {
		part = "some"
	}
	return fmt.Sprintf("%s of %s", part, w.n(n, one, many))
}

// tooFew refuses an answer that a public audience could read nothing of, or
// that would be about few people alone.
func (w *work) tooFew(n int) error {
	if !w.smallCount(n) {
		return nil
	}
	_, many := w.nouns()
	return &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
		Text: fmt.Sprintf("this report hides counts below %d, and fewer than %d %s are left to describe, so nothing of them is shown; ask of more rows, or answer this in a report for the lab alone", w.ctx.Front.HideBelow, w.ctx.Front.HideBelow, many)}
}

// oldest is the greatest age shown to a public audience: those older are few
// enough to be known by it.
const oldest = 89

// groupAges takes everybody older than 89 as 90 where the report is for the
// public, so that no answer tells an age above 89. It works on a copy.
func (w *work) groupAges() error {
	if !w.public() {
		return nil
	}
	type limit struct {
		name string
		far  func(x float64) bool
		to   float64
	}
	year := math.Floor(1970 + w.ctx.Today/table.DaysPerYear)
	for _, l := range []limit{
		{"age", func(x float64) bool { return x > oldest }, oldest + 1},
		{"born", func(x float64) bool { return x < year-oldest }, year - oldest - 1},
	} {
		c, ok := w.table.Col(l.name)
		if !ok || c.Own || c.Kind != table.Number {
			continue
		}
		any := false
		for i, x := range c.Num {
			any = any || !c.Missing[i] && l.far(x)
		}
		if !any {
			continue
		}
		out := *c
		out.Num, out.Missing = slices.Clone(c.Num), slices.Clone(c.Missing)
		for i, x := range out.Num {
			if !out.Missing[i] && l.far(x) {
				out.Num[i] = l.to
			}
		}
		t, err := w.table.With(&out)
		if err != nil {
			return err
		}
		w.table = t
		w.agesGrouped = true
	}
	return nil
}

// agesWords are what the methods sentence says of ages that were grouped.
const agesWords = " Ages above 89 are grouped: everybody older is taken as 90."

// moment is the state of a group at a time: what had ended so far, by kind,
// the censored last, and how many were at risk just before.
type moment struct {
	time   float64
	atRisk float64
	so     []float64
}

// disclosure decides which times of a group's curves may be shown to a
// public audience. Between two times shown each kind of ending did not happen
// or happened at least `below` times: otherwise the difference would tell of
// few people.
type disclosure struct {
	below   float64 // 0 or 1: everything may be shown
	history []moment
	shown   []moment
}

// disclose begins the disclosure of curves that share their times, one a kind
// of ending.
func (w *work) disclose(curves ...[]survival.Point) *disclosure {
	d := &disclosure{below: float64(w.ctx.Front.HideBelow)}
	if d.below <= 1 || len(curves) == 0 {
		return d
	}
	so := make([]float64, len(curves)+1)
	for i := range curves[0] {
		for k, c := range curves {
			so[k] += c[i].Events
		}
		so[len(curves)] += curves[0][i].Censored
		d.history = append(d.history, moment{curves[0][i].Time, curves[0][i].AtRisk, slices.Clone(so)})
	}
	d.shown = d.history[:1:1]
	return d
}

// allow says whether the state at a time may be shown, atRisk being how many
// were at risk just before; if so it counts as shown from then on.
func (d *disclosure) allow(time, atRisk float64) bool {
	if d.below <= 1 {
		return true
	}
	k := sort.Search(len(d.history), func(k int) bool { return d.history[k].time > time }) - 1
	if k < 0 || atRisk < d.below {
		return false
	}
	m := moment{time, atRisk, d.history[k].so}
	at := sort.Search(len(d.shown), func(k int) bool { return d.shown[k].time >= time })
	if at < len(d.shown) && d.shown[at].time == time {
		return true
	}
	if at > 0 && !d.apart(d.shown[at-1], m) || at < len(d.shown) && !d.apart(m, d.shown[at]) {
		return false
	}
	d.shown = slices.Insert(slices.Clone(d.shown), at, m)
	return true
}

func (d *disclosure) apart(a, b moment) bool {
	enough := func(x float64) bool { return x == 0 || math.Abs(x) >= d.below }
	for i := range a.so {
		if !enough(b.so[i] - a.so[i]) {
			return false
		}
	}
	return enough(a.atRisk - b.atRisk)
}

// thin keeps the steps of a curve at the times that may be shown: those
// already allowed, and quarters of a year between them as far as they may.
// Events and censorings are counted from one kept step to the next.
func (d *disclosure) thin(points []survival.Point) []survival.Point {
	if d.below <= 1 {
		return points
	}
	const quarter = table.DaysPerYear / 4
	last := points[len(points)-1].Time
	for q := 1.0; q*quarter <= last; q++ {
		d.allow(q*quarter, riskAfter(points, q*quarter))
	}
	out := []survival.Point{points[0]}
	k := 0
	for _, m := range d.shown[1:] {
		if m.time > last {
			break
		}
		p := survival.Point{Time: m.time, AtRisk: m.atRisk}
		for k+1 < len(points) && points[k+1].Time <= m.time {
			k++
			p.Events += points[k].Events
			p.Censored += points[k].Censored
		}
		e := points[k]
		p.Estimate, p.StdErr, p.Low, p.High, p.HasBounds = e.Estimate, e.StdErr, e.Low, e.High, e.HasBounds
		out = append(out, p)
	}
	return out
}

// riskAfter is how many are at risk just before a time.
func riskAfter(points []survival.Point, time float64) float64 {
	for _, p := range points {
		if p.Time >= time {
			return p.AtRisk
		}
	}
	return 0
}

// leaveOutSmall takes the groups away of which nothing may be shown to a
// public audience, so that the rest is about the others alone.
func (w *work) leaveOutSmall(l *lives, gs []group) ([]group, error) {
	if w.ask.By == "" || !w.public() {
		return gs, w.tooFew(len(l.Time))
	}
	var out []group
	var gone []string
	var all []int
	for _, g := range gs {
		if w.smallCount(len(g.index)) {
			gone = append(gone, w.display(g.name))
			continue
		}
		out = append(out, g)
		all = append(all, g.index...)
	}
	if len(gone) > 0 {
		w.caution("groups-hidden", "Left out, since this report hides counts below %d: %s.", w.ctx.Front.HideBelow,
			words.List(gone))
		w.Answer.Rows = len(all)
		w.countEvents(l, all)
	}
	if len(out) == 0 && len(gs) > 0 {
		return nil, w.tooFew(1)
	}
	return out, nil
}
