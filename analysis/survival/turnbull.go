package survival

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/stats"
)

// IntervalData holds times known only to lie between two looks, one entry
// per row.
type IntervalData struct {
	Entry   []float64 // day after which the row was watched, known to be without the event then; nil: all 0
	Left    []float64 // last time known to be without the event; 0 if none
	Right   []float64 // first time known to have it, +Inf if never; equal to Left: exactly then
	Weight  []float64 // how many rows it stands for, above 0; nil: all 1
	Cluster []int     // rows of one person share a number; nil: each row on its own
}

// Validate reports the first thing in the data that cannot be used: no rows
// (stats.ErrNoRows), or a row that is not 0 <= Entry <= Left <= Right, that
// entered late and had the event on entering, or whose weight is not above 0
// (*RowError).
func (d IntervalData) Validate() error {
	n := len(d.Left)
	if n == 0 {
		return stats.ErrNoRows
	}
	if len(d.Right) != n {
		return &RowError{-1, fmt.Sprintf("%d left ends but %d right ends", n, len(d.Right))}
	}
	if err := checkLengths(n, len(d.Entry), len(d.Weight), len(d.Cluster)); err != nil {
		return err
	}
	for i := range d.Left {
		e, l, r := d.entry(i), d.Left[i], d.Right[i]
		switch {
		case !finite(e) || !finite(l) || math.IsNaN(r) || math.IsInf(r, -1):
			return &RowError{i, "the time is not a finite number"}
		case e < 0 || l < 0:
			return &RowError{i, "the time is below 0"}
		case l < e:
			return &RowError{i, "the last look without the event comes before the row was watched"}
		case r < l:
			return &RowError{i, "the event was seen before the last look without it"}
		case r == e && e > 0:
			return &RowError{i, "the row had the event at the moment it entered, so it was never at risk"}
		}
		if len(d.Weight) > 0 && !(d.Weight[i] > 0 && finite(d.Weight[i])) {
			return &RowError{i, "the weight is not above 0"}
		}
	}
	return nil
}

func (d IntervalData) entry(i int) float64 {
	if len(d.Entry) == 0 {
		return 0
	}
	return d.Entry[i]
}

func (d IntervalData) weight(i int) float64 {
	if len(d.Weight) == 0 {
		return 1
	}
	return d.Weight[i]
}

// TurnbullOptions are the settings of Turnbull. The zero value is the
// default.
type TurnbullOptions struct {
	Level float64 // confidence of the intervals, between 0 and 1; 0: 0.95
	Draws int     // samples of the bootstrap; 0: DefaultDraws; below 0: none, and no intervals
	Seed  uint64  // of the bootstrap; 0: 1
}

// DefaultDraws is how many samples of persons stand behind an interval.
const DefaultDraws = 500

// Mass is the share of rows whose event fell after Left and by Right
// (exactly at Right where both are equal). Where in between, the data cannot
// say.
type Mass struct {
	Left, Right float64 // Right is +Inf for the share still without the event at the last look
	Mass        float64
	After       float64 // share without the event after Right
}

// IntervalCurve is the estimated share without an event over time, for
// events known only to lie between two looks. A finished value.
type IntervalCurve struct {
	Masses        []Mass // in time order, each above 0; they add up to 1
	Rows          int
	Seen          float64 // weight of rows with a right end
	Clusters      int
	LastTime      float64 // last time anything is known of
	LogLikelihood float64 // given that rows with a late entry were then without the event
	Iterations    int
	// KKT is how far the Kuhn-Tucker conditions of the maximum are from
	// being met, relative to what each condition weighs; 0 is exact.
	KKT float64
	// Inconsistency is by how much a mass changes in one step of the
	// self-consistency equations; 0 is exact.
	Inconsistency float64
	Unique        bool // no other curve is as likely outside the undetermined stretches
	Level         float64
	Draws         int // samples of the bootstrap used; 0: no intervals
	Warnings      []stats.Warning

	ends  []float64 // of each row: the last time it was watched, ascending
	from  []float64 // entries, ascending
	draws [][]Mass
}

// Turnbull is the nonparametric maximum likelihood estimate for events known
// only to lie between two looks (Peto 1973, Appl Stat 22:86; Turnbull 1976,
// J R Stat Soc B 38:290), given that rows with a late entry were without the
// event then (Frydman 1994, J R Stat Soc B 56:71). All mass lies in the
// innermost intervals, which begin at a left end and run to the next right
// end or entry; where in such an interval it lies does not change the
// likelihood.
//
// With x(i) the sum of the cumulative hazard's increments within row i's
// interval, and c(j) the weight of rows watched through increment j, the log
// likelihood is
//
//	sum of w(i) log(1 - exp(-x(i))) - sum of c(j) lambda(j), lambda >= 0,
//
// which is concave, with or without late entry. It is maximised by a
// constrained Newton method that adds to its support the increments with the
// largest gradient, as Wang 2008 (Comput Stat Data Anal 52:2388) does for
// masses, until the Kuhn-Tucker conditions hold to 1e-9: these prove that
// no other curve is more likely. On exact times it is the Kaplan-Meier
// estimate.
//
// Intervals are percentiles of a bootstrap by cluster. Errors: those of
// Validate; stats.ErrConvergence.
func Turnbull(d IntervalData, o TurnbullOptions) (*IntervalCurve, error) {
	c, err := turnbull(d, o)
	if err != nil {
		return nil, fmt.Errorf("curve of events seen at visits: %w", err)
	}
	return c, nil
}

func turnbull(d IntervalData, o TurnbullOptions) (*IntervalCurve, error) {
	level, err := levelOrDefault(o.Level)
	if err != nil {
		return nil, err
	}
	if err := d.Validate(); err != nil {
		return nil, err
	}
	rows := make([]intervalRow, len(d.Left))
	c := &IntervalCurve{Rows: len(rows), Level: level}
	for i := range rows {
		rows[i] = rowOf(d.entry(i), d.Left[i], d.Right[i], d.weight(i))
		end := d.Left[i]
		if finite(d.Right[i]) {
			end = d.Right[i]
			c.Seen += d.weight(i)
		}
		c.ends, c.from = append(c.ends, end), append(c.from, riskFrom(d.entry(i)))
	}
	sort.Float64s(c.ends)
	sort.Float64s(c.from)
	c.LastTime = c.ends[len(c.ends)-1]
	fit, err := fitIntervals(rows, true)
	if err != nil {
		return nil, err
	}
	c.Masses, c.LogLikelihood = fit.masses, fit.logLikelihood
	c.Iterations, c.KKT, c.Unique = fit.iterations, fit.kkt, fit.unique
	c.Inconsistency = inconsistency(rows, c.Masses)
	c.warn(fit)
	of, clusters, _ := numberClusters(d.Cluster, len(rows))
	c.Clusters = clusters
	if o.Draws >= 0 && clusters > 1 {
		draws := o.Draws
		if draws == 0 {
			draws = DefaultDraws
		}
		if c.draws, err = bootstrapIntervals(rows, of, clusters, draws, o.Seed); err != nil {
			return nil, err
		}
		c.Draws = len(c.draws)
	}
	return c, nil
}

func (c *IntervalCurve) warn(fit *intervalFit) {
	if !fit.unique {
		c.Warnings = append(c.Warnings, stats.Warning{Code: "not-unique",
			Text: "The visits do not settle the curve everywhere: other curves fit them as well as the one shown."})
	}
	if fit.emptied {
		c.Warnings = append(c.Warnings, stats.Warning{Code: "risk-set-emptied",
			Text: "Everybody watched at some time had the event by then, while others came under observation later. The curve falls to 0 there and says nothing of those who came later."})
	}
}

// IntervalPoint is the curve at one time. Lowest and Highest differ where
// the time falls within an undetermined stretch.
type IntervalPoint struct {
	Time            float64
	AtRisk          int // rows watched up to Time or beyond
	Lowest, Highest float64
	Low, High       float64 // of the interval; 0 without HasBounds
	HasBounds       bool
}

// At is the curve at a time; ok is false beyond the last time anything is
// known of, and before 0.
func (c *IntervalCurve) At(time float64) (p IntervalPoint, ok bool) {
	if !(time >= 0) || time > c.LastTime {
		return IntervalPoint{}, false
	}
	p = IntervalPoint{Time: time, AtRisk: c.AtRisk(time)}
	p.Lowest, p.Highest = shareAt(c.Masses, time)
	if len(c.draws) == 0 {
		return p, true
	}
	low, high := make([]float64, len(c.draws)), make([]float64, len(c.draws))
	for b, m := range c.draws {
		low[b], high[b] = shareAt(m, time)
	}
	p.Low = math.Min(percentile(low, (1-c.Level)/2), p.Lowest)
	p.High = math.Max(percentile(high, (1+c.Level)/2), p.Highest)
	p.HasBounds = p.Low < p.High || time == 0 && p.Lowest == 1
	if !p.HasBounds {
		p.Low, p.High = 0, 0
	}
	return p, true
}

// AtRisk is how many rows were watched up to a time or beyond it: their last
// look without the event, or their first with it, is then or later.
func (c *IntervalCurve) AtRisk(time float64) int {
	gone := sort.SearchFloat64s(c.ends, time)
	in := sort.SearchFloat64s(c.from, time)
	return max(0, in-gone)
}

// shareAt is the least and the greatest share without the event at a time.
// Beyond the last look it stays as it was then.
func shareAt(masses []Mass, time float64) (lowest, highest float64) {
	lowest, highest = 1, 1
	for _, m := range masses {
		if m.Right <= time {
			lowest, highest = m.After, m.After
			continue
		}
		if m.Left < time && finite(m.Right) {
			lowest = m.After
		}
		break
	}
	return lowest, highest
}

// IntervalQuantile is when a share P of the rows had had the event: some
// time after Left and by Right.
type IntervalQuantile struct {
	P           float64
	Left, Right Limit
	Low, High   Limit // percentiles of the bootstrap, of Left and of Right
}

// Quantile is when a share p had had the event. For p outside (0, 1), and
// for one that the curve does not reach, nothing is reached; where it is
// reached by the share without the event at the last look, Left alone is
// known.
func (c *IntervalCurve) Quantile(p float64) IntervalQuantile {
	q := IntervalQuantile{P: p}
	if !(p > 0 && p < 1) {
		return q
	}
	q.Left, q.Right = crossingInterval(c.Masses, p)
	if len(c.draws) == 0 {
		return q
	}
	low, high := make([]float64, len(c.draws)), make([]float64, len(c.draws))
	for b, m := range c.draws {
		l, r := crossingInterval(m, p)
		low[b], high[b] = l.Value, r.Value
		if !r.OK {
			high[b] = math.Inf(1)
		}
	}
	if v := percentile(low, (1-c.Level)/2); finite(v) {
		q.Low = Limit{math.Min(v, q.Left.Value), true}
	}
	if v := percentile(high, (1+c.Level)/2); finite(v) && q.Right.OK {
		q.High = Limit{math.Max(v, q.Right.Value), true}
	}
	return q
}

// crossingInterval finds the stretch in which the curve comes down to 1-p.
// Where it runs flat exactly at 1-p, the quantile lies anywhere from the end
// of the stretch before to the beginning of the one after.
func crossingInterval(masses []Mass, p float64) (left, right Limit) {
	for k, m := range masses {
		if m.After > 1-p+sameLevel {
			continue
		}
		left = Limit{m.Left, true}
		right = Limit{m.Right, finite(m.Right)}
		if math.Abs(m.After-(1-p)) <= sameLevel && k+1 < len(masses) {
			right = Limit{masses[k+1].Left, true}
			left = Limit{m.Right, true}
		}
		return left, right
	}
	return Limit{}, Limit{}
}

// percentile is the value below which a share p of the sorted xs lies, drawn
// straight between neighbours; infinite where it falls on an infinite one.
func percentile(xs []float64, p float64) float64 {
	sort.Float64s(xs)
	at := p * float64(len(xs)-1)
	k := int(math.Floor(at))
	if k+1 >= len(xs) {
		return xs[len(xs)-1]
	}
	f := at - float64(k)
	if f == 0 || xs[k] == xs[k+1] {
		return xs[k]
	}
	return xs[k] + f*(xs[k+1]-xs[k])
}
