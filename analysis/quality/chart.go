// Package quality holds the charts of quality improvement: shares, counts,
// rates, gaps between rare events and single values over time with limits
// from the data themselves, one set of run rules, and counts of reasons in
// order of size.
package quality

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"plybook/analysis/stats"
)

// Kind is the kind of a chart.
type Kind int

// The kinds of chart.
const (
	KindP   Kind = iota // proportion of each period's rows
	KindXmR             // one value a period, limits from the moving range
	KindU               // count of each period over its exposure
	KindC               // count of each period
	KindG               // cases, or days, between one event and the next
	KindT               // time from one event to the next
)

func (k Kind) String() string { return [...]string{"p", "xmr", "u", "c", "g", "t"}[k] }

// Options are the choices of a chart. The zero value is the default.
type Options struct {
	// BaselinePoints freezes the centre and limits of each phase at those of
	// its first BaselinePoints points with a value; 0 uses all points of the
	// phase. Otherwise at least 3.
	BaselinePoints int
	// Phases are the indices of the points that start a new phase, in
	// ascending order, each above 0.
	Phases []int
	// Overdispersed widens the limits of a p or u chart by the spread of its
	// baseline beyond what chance alone gives (Laney's charts).
	Overdispersed bool
	// Provisional is how many points at the end may still change: they are
	// on the chart but neither set limits nor count in the rules.
	Provisional int
	// Sigmas is the distance of the limits from the centre in standard
	// deviations; 0 means 3.
	Sigmas float64
}

// MinPoints is the fewest points with a value of which a chart is made, and
// from which the limits of a phase are worked out.
const MinPoints = 3

// TrialPoints is the number of points below which limits are called trial
// limits: they will move as points are added.
const TrialPoints = 12

// MinExpected is the average number expected per period, of rows that count
// and of rows that do not, below which a p chart's limits are crude.
const MinExpected = 5

// largest bounds values and counts, so that sums of them can be held.
const largest = 1e150

// Errors of the charts; they are wrapped with what was found.
var (
	// ErrFewPoints reports fewer than MinPoints periods with a value.
	ErrFewPoints = errors.New("too few periods with a value for a chart")
	// ErrNoDenominator reports that no period has any row to count among.
	ErrNoDenominator = errors.New("no period has any row")
	// ErrNoVariation reports values that never change: no limits follow.
	ErrNoVariation = errors.New("the values never change from one period to the next")
	// ErrBadValue reports a count or value that cannot be.
	ErrBadValue = errors.New("not a possible value")
	// ErrZeroGap reports two events at the same time, which a t chart cannot
	// take: its transformation makes sense of times above 0 only.
	ErrZeroGap = errors.New("two events at the same time")
	// ErrOptions reports options that do not fit the data.
	ErrOptions = errors.New("options do not fit the data")
)

// Rule is a reason to say that a series is more than noise.
type Rule string

// The rules: one set, always applied together.
const (
	NoSignal     Rule = ""
	BeyondLimits Rule = "beyond-limits" // a point outside its limits
	LongRun      Rule = "long-run"      // too many points in a row on one side of the centre
	FewCrossings Rule = "few-crossings" // the series crosses the centre too rarely
)

// Point is a period of a chart.
type Point struct {
	Index       int     // position in the input
	Value       float64 // proportion (0 to 1), rate, count, gap or value; 0 where HasValue is false
	HasValue    bool    // false: nothing to count in this period
	Numerator   float64 // p, u and c charts
	Denominator float64 // p and u charts; 1 in a c chart
	Phase       int     // index into Phases
	Centre      float64
	Lower       float64 // not below 0 but for an xmr chart
	Upper       float64 // not above 1 for a p chart
	HasLimits   bool    // false: the phase has none, or the period has no value
	Provisional bool    // may still change: neither sets limits nor counts in the rules
	Signal      Rule    // BeyondLimits, LongRun (part of it) or NoSignal
}

// Phase is a stretch of a chart with one centre.
type Phase struct {
	From, To    int     // indices of the first and last point
	Points      int     // points with a value
	LimitPoints int     // points from which centre and limits were worked out
	Centre      float64 // not computed where LimitPoints is 0
	HasLimits   bool

	// Mean is the mean from which the limits follow. It is the centre but in
	// a g chart, whose centre is the median, and in a t chart, where it is
	// the mean of the transformed times.
	Mean float64
	// Widened is by how much the limits of an overdispersed chart are
	// widened, never below 1; 0 for all others.
	Widened float64

	// XmR, and the transformed times of a t chart: the mean moving range, its own upper limit, and the standard
	// deviation that follows from it.
	MeanMovingRange  float64
	MovingRangeUpper float64
	Sigma            float64

	// The run rules, on Useful points: those with a value off the centre.
	RunsTested     bool // false under MinUseful useful points
	Useful         int
	LongestRun     int
	LongestAllowed int // a longer run is a signal
	Crossings      int
	FewestAllowed  int // fewer crossings are a signal
}

// Signal is a rule that was met.
type Signal struct {
	Rule  Rule
	Phase int
	From  int  // index of the first point concerned
	To    int  // index of the last; the point at which it was seen
	Count int  // length of the run, number of crossings, or 1
	Limit int  // what the count was held against; 0 for BeyondLimits
	Above bool // BeyondLimits and LongRun: above the centre
}

// Chart is a finished chart.
type Chart struct {
	Kind     Kind
	Sigmas   float64
	Points   []Point
	Phases   []Phase
	Signals  []Signal // by phase, then beyond-limits in order, long-run, few-crossings
	Warnings []stats.Warning

	// SigmaZ is the spread of the points of a p, u or c chart in units of
	// what chance alone would give, from the moving range of the standardised
	// values; above 1 the points spread wider. Laney DB. Improved control
	// charts for attributes. Quality Engineering 2002;14:531-537.
	SigmaZ    float64
	HasSigmaZ bool
	// WiderThanChance says that SigmaZ lies above its 95% point under chance
	// alone, MuchWider above its 99% point.
	WiderThanChance, MuchWider bool
	Overdispersed              bool // the limits allow for it
}

// LimitsOf returns the limits that a phase gives at a point, which need not
// belong to it: the old limits stay visible beside a new phase. ok is false
// where the phase has no limits or the point nothing to count among.
func (c *Chart) LimitsOf(phase, point int) (lower, upper float64, ok bool) {
	if phase < 0 || phase >= len(c.Phases) || point < 0 || point >= len(c.Points) || !c.Phases[phase].HasLimits {
		return 0, 0, false
	}
	ph, pt := c.Phases[phase], c.Points[point]
	switch c.Kind {
	case KindXmR:
		d := c.Sigmas * ph.Sigma
		return ph.Centre - d, ph.Centre + d, true
	case KindT:
		d := c.Sigmas * ph.Sigma
		return untransformed(ph.Mean - d), untransformed(ph.Mean + d), true
	case KindG:
		lower, upper = geometricLimits(ph.Mean, c.Sigmas)
		return lower, upper, true
	}
	if pt.Denominator <= 0 {
		return 0, 0, false
	}
	d := c.Sigmas * c.standardError(ph.Centre, pt.Denominator) * math.Max(1, ph.Widened)
	lower, upper = math.Max(0, ph.Centre-d), ph.Centre+d
	if c.Kind == KindP {
		upper = math.Min(1, upper)
	}
	return lower, upper, true
}

// standardError is the standard deviation that chance alone gives a point of
// a p, u or c chart.
func (c *Chart) standardError(centre, denominator float64) float64 {
	if c.Kind == KindP {
		return math.Sqrt(centre * (1 - centre) / denominator)
	}
	return math.Sqrt(centre / denominator)
}

// newChart checks the options and lays out points and phases.
func newChart(kind Kind, n int, o Options) (*Chart, error) {
	if o.Sigmas == 0 {
		o.Sigmas = 3
	}
	if !(o.Sigmas > 0) || math.IsInf(o.Sigmas, 0) {
		return nil, fmt.Errorf("limits at %v standard deviations: %w", o.Sigmas, ErrOptions)
	}
	if o.BaselinePoints != 0 && o.BaselinePoints < MinPoints {
		return nil, fmt.Errorf("a baseline of %d points, fewer than %d: %w", o.BaselinePoints, MinPoints, ErrOptions)
	}
	if o.Provisional < 0 {
		return nil, fmt.Errorf("%d provisional points: %w", o.Provisional, ErrOptions)
	}
	c := &Chart{Kind: kind, Sigmas: o.Sigmas, Points: make([]Point, n), Overdispersed: o.Overdispersed}
	for i := max(0, n-o.Provisional); i < n; i++ {
		c.Points[i].Provisional = true
	}
	last := 0
	for _, s := range o.Phases {
		if s <= last || s >= n {
			return nil, fmt.Errorf("a phase that starts at point %d of %d after one at %d: %w", s, n, last, ErrOptions)
		}
		c.Phases = append(c.Phases, Phase{From: last, To: s - 1})
		last = s
	}
	c.Phases = append(c.Phases, Phase{From: last, To: n - 1})
	for k, ph := range c.Phases {
		for i := ph.From; i <= ph.To; i++ {
			c.Points[i].Index, c.Points[i].Phase = i, k
		}
	}
	return c, nil
}

// measured are the indices of the points of a phase that have a value which
// will not change.
func (c *Chart) measured(k int) []int {
	var out []int
	for i := c.Phases[k].From; i <= c.Phases[k].To; i++ {
		if c.Points[i].HasValue && !c.Points[i].Provisional {
			out = append(out, i)
		}
	}
	return out
}

// baseline are the points from which the limits of a phase are worked out.
func (c *Chart) baseline(k int, o Options) []int {
	pts := c.measured(k)
	c.Phases[k].Points = len(pts)
	if o.BaselinePoints > 0 && len(pts) > o.BaselinePoints {
		pts = pts[:o.BaselinePoints]
	}
	c.Phases[k].LimitPoints = len(pts)
	return pts
}

// finish sets the limits of every point and applies the rules.
func (c *Chart) finish() {
	empty := 0
	for i := range c.Points {
		p := &c.Points[i]
		ph := c.Phases[p.Phase]
		if ph.LimitPoints > 0 {
			p.Centre = ph.Centre
		}
		if !p.HasValue {
			empty++
			continue
		}
		p.Lower, p.Upper, p.HasLimits = c.LimitsOf(p.Phase, i)
	}
	for k := range c.Phases {
		if c.Kind != KindG && c.Kind != KindT {
			c.Phases[k].Mean = c.Phases[k].Centre
		}
	}
	if empty > 0 {
		c.warn("empty-periods", "", "%s had nothing to count and %s left as a gap.", periods(empty), isAre(empty))
	}
	for k := range c.Phases {
		c.applyRules(k)
		c.commonWarnings(k)
	}
}

func (c *Chart) commonWarnings(k int) {
	ph := c.Phases[k]
	about := c.about(k)
	if ph.HasLimits && ph.LimitPoints < TrialPoints {
		c.warn("trial-limits", about, "The limits rest on %d %s only, fewer than %d: take them as trial limits.", ph.LimitPoints, c.things(), TrialPoints)
	}
	if ph.LimitPoints >= MinPoints && !ph.RunsTested {
		c.warn("runs-not-tested", about, "Only %s off the centre line, fewer than %d: runs and crossings were not judged.", c.lie(ph.Useful), MinUseful)
	}
	if on := ph.Points - ph.Useful; ph.Points >= MinPoints && 2*on > ph.Points {
		c.warn("many-on-centre", about, "%d of %d %s lie exactly on the centre line, more than half: the chart says little about change.%s", on, ph.Points, c.things(), map[bool]string{true: " A longer period may help."}[!c.ofGaps()])
	}
}

// about names a phase where there is more than one.
func (c *Chart) about(k int) string {
	if len(c.Phases) == 1 {
		return ""
	}
	return fmt.Sprintf("phase %d", k+1)
}

func (c *Chart) warn(code, about, format string, args ...any) {
	c.Warnings = append(c.Warnings, stats.Warning{Code: code, About: about, Text: fmt.Sprintf(format, args...)})
}

// ofGaps says whether the points are gaps between events, not periods.
func (c *Chart) ofGaps() bool { return c.Kind == KindG || c.Kind == KindT }

// things are what several points of the chart are.
func (c *Chart) things() string {
	if c.ofGaps() {
		return "gaps"
	}
	return "periods"
}

func (c *Chart) lie(n int) string {
	if n == 1 {
		return "1 " + strings.TrimSuffix(c.things(), "s") + " lies"
	}
	return fmt.Sprintf("%d %s lie", n, c.things())
}

func periods(n int) string {
	if n == 1 {
		return "1 period"
	}
	return fmt.Sprintf("%d periods", n)
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}
