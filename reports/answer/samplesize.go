package answer

import (
	"errors"
	"math"

	"plybook/analysis/planning"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// planned is a row of a plan: a ratio, and a power asked for or a number of
// sockets given.
type planned struct {
	ratio, power  float64
	events        float64
	sockets       int
	few, many     int // sockets if the log's share of events were at the ends of its interval; 0: not known
	group, other  float64
	share         float64
	solvedForPow  bool
	persons       float64
	years         float64 // at the pace of the last 12 months; NaN where none came
	plan          planning.Plan
	groupsCounted bool // two groups, as against a column that is a number
}

// planWork is a plan in the making.
type planWork struct {
	*work
	*lives
	free     func(bound int) func(t float64) (float64, bool) // bound -1 and 1: the ends of the interval
	variance float64
	column   *table.Column // of `by`; nil: two groups
	effect   float64
	repeats  bool
	perHead  float64 // sockets a person has in the log
	lastYear int     // sockets started in the last 12 months
	rows     []planned
}

// sampleSize answers how many sockets a comparison needs, and what a given
// number can tell.
func sampleSize(w *work) error {
	competing := w.ask.Plan == "cumulative-incidence"
	if _, ok := w.ask.KeyPos["competing"]; ok && !competing {
		return w.at("competing", "", notebook.CodeImpossible, "`competing` is for `plan: cumulative-incidence`; the other plans take every other ending as censored")
	}
	l, err := w.buildLives(competing)
	if err != nil {
		return err
	}
	if l.Len() == 0 {
		return stats.ErrNoRows
	}
	p := &planWork{work: w, lives: l}
	if err := p.curve(competing); err != nil {
		return err
	}
	if err := p.spread(); err != nil {
		return err
	}
	if err := p.persons(); err != nil {
		return err
	}
	if err := p.solve(); err != nil {
		return err
	}
	p.table()
	if err := p.powerCurves(); err != nil {
		return err
	}
	p.planCautions()
	p.Reading = p.planReading()
	p.print(p.planPrint())
	p.planMethods()
	return nil
}

// curve finds the share of sockets without the event by time, from the log.
func (p *planWork) curve(competing bool) error {
	data := p.data(indices(p.Len()), nil)
	var at func(t float64) (survival.Point, bool)
	var open *disclosure
	if competing {
		f, err := survival.CumulativeIncidence(data, len(p.causes), survival.CurveOptions{Level: p.ask.Confidence})
		if err != nil {
			return err
		}
		open = p.disclose(f.Causes...)
		at = func(t float64) (survival.Point, bool) {
			c, free, ok := f.At(t)
			if !ok {
				return survival.Point{}, false
			}
			x := c[0]
			x.Estimate, x.Low, x.High, x.AtRisk = 1-x.Estimate, 1-x.High, 1-x.Low, free.AtRisk
			return x, true
		}
	} else {
		f, err := survival.KaplanMeier(data, survival.CurveOptions{Level: p.ask.Confidence})
		if err != nil {
			return err
		}
		open, at = p.disclose(f.Points), f.At
	}
	p.free = func(bound int) func(t float64) (float64, bool) {
		return func(t float64) (float64, bool) {
			x, ok := at(t)
			if !ok || !open.allow(t, x.AtRisk) {
				return 0, false
			}
			switch {
			case bound < 0 && x.HasBounds:
				return x.Low, true
			case bound > 0 && x.HasBounds:
				return x.High, true
			case bound != 0:
				return 0, false
			}
			return x.Estimate, true
		}
	}
	return nil
}

// spread is the variance of what is compared.
func (p *planWork) spread() error {
	if p.ask.By == "" {
		p.variance = p.ask.Share * (1 - p.ask.Share)
		return nil
	}
	if _, ok := p.ask.KeyPos["share"]; ok {
		return p.at("share", "", notebook.CodeImpossible, "`share` is of two groups; the spread of %s is taken from the log", p.ask.By)
	}
	c, err := p.lifeColumn(p.lives, "by", p.ask.By)
	if err != nil {
		return err
	}
	if c.Kind != table.Number {
		return p.at("by", p.ask.By, notebook.CodeImpossible, "a plan takes a number in `by`; to compare two groups leave `by` out and give the `share` of the second")
	}
	p.column = c
	var n, sum, sq float64
	for j := range p.Row {
		if !c.Missing[j] {
			n, sum = n+1, sum+c.Num[j]
		}
	}
	for j := range p.Row {
		if !c.Missing[j] {
			sq += (c.Num[j] - sum/n) * (c.Num[j] - sum/n)
		}
	}
	if missing := p.Len() - int(n); missing > 0 {
		p.caution("missing", "%s is not recorded for %s; the spread is that of the others.", words.Capital(label(c)), p.n(missing, "socket", "sockets"))
	}
	if n < 2 || sq == 0 {
		return p.at("by", p.ask.By, notebook.CodeImpossible, "%s never varies among these sockets, so nothing can be planned from its spread", p.ask.By)
	}
	p.variance = sq / (n - 1)
	return nil
}

// persons finds how sockets repeat within persons, and how many come.
func (p *planWork) persons() error {
	sizes := map[int]int{}
	for _, k := range p.Person {
		sizes[k]++
	}
	list := make([]int, 0, len(sizes))
	for _, m := range sizes {
		list = append(list, m)
		p.repeats = p.repeats || m > 1
	}
	p.perHead = float64(p.Len()) / float64(len(sizes))
	for i, s := range p.Start {
		if s > p.Cut(i)-table.DaysPerYear && s <= p.Cut(i) {
			p.lastYear++
		}
	}
	var err error
	p.effect, err = planning.DesignEffect(list, p.ask.WithinPerson)
	return err
}

// planFor is the plan for a ratio, with the share of events at an end of its
// interval or at its estimate.
func (p *planWork) planFor(ratio float64, bound int) (planned, error) {
	accrual := 0.0
	if p.ask.Accrual != nil {
		accrual = p.ask.Accrual.Days
	}
	out := planned{ratio: ratio, groupsCounted: p.column == nil}
	var err error
	if out.group, out.other, err = planning.EventShares(p.free(bound), ratio, p.ask.Until.Days, accrual); err != nil {
		return out, err
	}
	out.share = out.group
	if out.groupsCounted {
		out.share = (1-p.ask.Share)*out.group + p.ask.Share*out.other
	}
	out.plan = planning.Plan{Ratio: ratio, Confidence: p.ask.Confidence, Variance: p.variance, Explained: p.ask.Explained,
		EventShare: out.share, DesignEffect: p.effect, Lost: p.ask.Lost}
	return out, out.plan.Validate()
}

func (p *planWork) solve() error {
	for _, ratio := range p.ask.Ratios {
		base, err := p.planFor(ratio, 0)
		if err != nil {
			return p.planError(err)
		}
		for _, power := range p.ask.Power {
			r := base
			r.power = power
			if r.events, err = r.plan.Events(power); err != nil {
				return p.planError(err)
			}
			if r.sockets, err = r.plan.Sockets(power); err != nil {
				return p.planError(err)
			}
			r.few, r.many = p.socketsAt(ratio, power, -1), p.socketsAt(ratio, power, 1)
			p.rows = append(p.rows, p.pace(r))
		}
		if p.ask.Sockets > 0 {
			r := base
			r.solvedForPow, r.sockets = true, p.ask.Sockets
			r.events = r.plan.EventsFrom(float64(r.sockets))
			if r.power, err = r.plan.Power(float64(r.sockets)); err != nil {
				return p.planError(err)
			}
			p.rows = append(p.rows, p.pace(r))
		}
	}
	return nil
}

// socketsAt is the number of sockets if the share without the event lay at
// an end of its interval; 0 where that is not known.
func (p *planWork) socketsAt(ratio, power float64, bound int) int {
	r, err := p.planFor(ratio, bound)
	if err != nil {
		return 0
	}
	n, err := r.plan.Sockets(power)
	if err != nil {
		return 0
	}
	return n
}

// pace adds what the log's own numbers make of a number of sockets.
func (p *planWork) pace(r planned) planned {
	r.persons = math.Ceil(float64(r.sockets) / p.perHead)
	r.years = math.NaN()
	if p.lastYear > 0 {
		r.years = float64(r.sockets) / float64(p.lastYear)
	}
	return r
}

func (p *planWork) planError(err error) error {
	far := p.ask.Until.Words()
	if p.ask.Accrual != nil {
		far += " and " + p.ask.Accrual.Words()
	}
	switch {
	case errors.Is(err, planning.ErrEvents):
		return p.at("until", "", notebook.CodeImpossible, "none of these sockets was %s within %s, so no number of them would show a difference; lengthen `until`, or keep other sockets", p.causes[0].past, far)
	case errors.Is(err, planning.ErrRange):
		if _, ok := p.free(0)(p.ask.Until.Days); !ok || p.ask.Accrual != nil {
			return p.at("until", "", notebook.CodeImpossible, "the log does not follow enough of these sockets for %s to say what share is %s by then; shorten `until` or `accrual`", far, p.causes[0].past)
		}
		return p.at("ratios", "", notebook.CodeBadValue, "no number of sockets below two thousand million would do; a ratio so near 1 cannot be seen")
	}
	return err
}

func (p *planWork) table() {
	t := tableOf("rows", number("ratio", ""), text("solved"), number("power", ""), number("events", ""), integer("sockets"),
		integer("sockets_low"), integer("sockets_high"), number("persons", ""), number("event_share", ""), number("event_share_group", ""),
		number("event_share_other", ""), number("design_effect", ""), number("years", "y"))
	for _, r := range p.rows {
		solved := "sockets"
		if r.solvedForPow {
			solved = "power"
		}
		group, other := finite(r.group), finite(r.other)
		if !r.groupsCounted {
			group, other = nil, nil
		}
		t.row(r.ratio, solved, r.power, r.events, r.sockets, when(r.few > 0, float64(r.few)), when(r.many > 0, float64(r.many)),
			r.persons, r.share, group, other, p.effect, r.years)
	}
	p.addTable(t)
}
