package survival

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"plybook/analysis/stats"
)

// RecurrentData holds subjects whose event can come again and again, one
// entry per subject.
type RecurrentData struct {
	Entry   []float64   // when the subject came under observation; nil: all 0
	Exit    []float64   // when the watch ended; at least 0 and, if it entered late, after Entry
	Died    []bool      // the watch ended with something after which no event can come; nil: none did
	Events  [][]float64 // when the events came, within (Entry, Exit], or from 0 where Entry is 0
	Weight  []float64   // how many subjects it stands for, above 0; nil: all 1
	Cluster []int       // subjects of one person share a number; nil: each on its own
}

// Validate reports the first thing in the data that cannot be used: no
// subjects (stats.ErrNoRows), slices of different lengths, times that are not
// finite or out of order, an event outside the watch, or a weight that is not
// above 0 (*RowError).
func (d RecurrentData) Validate() error {
	n := len(d.Exit)
	if n == 0 {
		return stats.ErrNoRows
	}
	if len(d.Events) != n {
		return &RowError{-1, fmt.Sprintf("%d times but %d lists of events", n, len(d.Events))}
	}
	if len(d.Died) != 0 && len(d.Died) != n {
		return &RowError{-1, fmt.Sprintf("%d times but %d deaths", n, len(d.Died))}
	}
	if err := checkLengths(n, len(d.Entry), len(d.Weight), len(d.Cluster)); err != nil {
		return err
	}
	for i := range d.Exit {
		if err := checkRow(i, d.entry(i), d.Exit[i], d.weight(i)); err != nil {
			return err
		}
		for _, t := range d.Events[i] {
			if !(t > riskFrom(d.entry(i)) && t >= 0 && t <= d.Exit[i]) {
				return &RowError{i, "an event lies outside the time watched"}
			}
		}
	}
	return nil
}

func (d RecurrentData) entry(i int) float64 {
	if len(d.Entry) == 0 {
		return 0
	}
	return d.Entry[i]
}

func (d RecurrentData) weight(i int) float64 {
	if len(d.Weight) == 0 {
		return 1
	}
	return d.Weight[i]
}

func (d RecurrentData) died(i int) bool { return len(d.Died) > 0 && d.Died[i] }

// MeanCurve is the expected number of events of a subject over time. It
// keeps the slices it was made from: they must not be changed afterwards.
type MeanCurve struct {
	Points    []Point // time 0, then each distinct time of an event, a death or a censoring; Censored leaves deaths out
	Deaths    []float64
	Rows      int
	Events    float64 // weight of events
	Died      float64 // weight of deaths
	Clusters  int
	Clustered bool // errors are grouped by cluster, since clusters repeat
	LastTime  float64
	Watched   float64 // weight times time watched
	Level     float64
	Warnings  []stats.Warning

	data RecurrentData
	mean *meanTally
}

// MeanCumulative estimates the mean number of events by each time: Nelson
// 1988 (J Qual Technol 20:24), the sum of dN/Y over the event times, dN being
// the events then and Y the subjects watched. Where subjects die it is the
// mean of Ghosh and Lin 2000 (Biometrics 56:554), the sum of S dN/Y, S being
// the product-limit share alive just before: who has died is counted, with no
// events to come. The two agree without deaths. An event on the day of the
// death counts.
//
// The error is the infinitesimal jackknife of that sum, grouped by cluster;
// without deaths it is the robust variance of Lawless and Nadeau 1995
// (Technometrics 37:158). Limits are made on the logarithm. Level and Bounds
// of the options: Bounds must be the zero value or Log, which are the same
// here.
//
// No events is not an error: the curve then stays at 0.
func MeanCumulative(d RecurrentData, o CurveOptions) (*MeanCurve, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, fmt.Errorf("mean cumulative function: %w", err)
	}
	if o.Bounds != ComplementaryLogLog && o.Bounds != Log {
		return nil, fmt.Errorf("mean cumulative function: limits are made on the logarithm only")
	}
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("mean cumulative function: %w", err)
	}
	c := &MeanCurve{Rows: len(d.Exit), Level: o.Level, data: d, mean: tallyMean(d)}
	of, clusters, repeats := numberClusters(d.Cluster, len(d.Exit))
	c.Clusters, c.Clustered = clusters, repeats
	for i := range d.Exit {
		w := d.weight(i)
		c.Watched += w * (d.Exit[i] - d.entry(i))
		c.Events += w * float64(len(d.Events[i]))
		if d.died(i) {
			c.Died += w
		}
		c.LastTime = math.Max(c.LastTime, d.Exit[i])
	}
	j := newMeanJackknife(d, c.mean)
	sums := make([]float64, clusters)
	if c.mean.steps[0].time > 0 {
		c.Points = append(c.Points, Point{AtRisk: c.mean.atZero, HasBounds: true})
		c.Deaths = append(c.Deaths, 0)
	}
	z := stats.NormalQuantile(0.5 + o.Level/2)
	mean := 0.0
	for k := range c.mean.steps {
		s := &c.mean.steps[k]
		mean += s.alive * s.rate()
		j.step(k, nil)
		p := Point{Time: s.time, AtRisk: s.atRisk, Events: s.events, Censored: s.censored, Estimate: mean}
		if mean > 0 {
			if se := j.error(of, sums); se > 1e-12*mean && clusters > 1 { // less is rounding
				p.StdErr, p.HasBounds = se, true
				p.Low, p.High = mean*math.Exp(-z*se/mean), mean*math.Exp(z*se/mean)
			}
		} else if p.Time == 0 {
			p.HasBounds = true
		}
		c.Points = append(c.Points, p)
		c.Deaths = append(c.Deaths, s.deaths)
	}
	for k := range c.mean.steps {
		if s := &c.mean.steps[k]; s.exhausted && k+1 < len(c.mean.steps) {
			c.Warnings = append(c.Warnings, stats.Warning{Code: "risk-set-emptied",
				Text: "Everybody watched at some time died then, while others came under observation later. The curve stays level from there and says nothing of those who came later."})
			break
		}
	}
	return c, nil
}

// At is the mean at a time: what the last step at or before it says, with
// the subjects watched just before it and the events and censorings up to it.
// It is not ok before 0 and once nobody is watched any more.
func (c *MeanCurve) At(time float64) (Point, bool) {
	if !(time >= 0) || time > c.LastTime {
		return Point{}, false
	}
	k := sort.Search(len(c.Points), func(k int) bool { return c.Points[k].Time > time }) - 1
	p := c.Points[k]
	p.Time, p.Events, p.Censored = time, 0, 0
	for _, x := range c.Points[:k+1] {
		p.Events += x.Events
		p.Censored += x.Censored
	}
	p.AtRisk = 0
	for i := range c.data.Exit {
		if riskFrom(c.data.entry(i)) < time && time <= c.data.Exit[i] {
			p.AtRisk += c.data.weight(i)
		}
	}
	return p, true
}

// Rate is a number of events for a time watched.
type Rate struct {
	Events    float64
	Watched   float64
	Estimate  float64 // Events / Watched
	Low, High float64
	HasRate   bool // somebody was watched for some time
}

// PoissonRate is the rate of events with the exact interval of a Poisson
// count (Garwood 1936, Biometrika 28:437), which takes the events as
// independent of one another. The confidence 0 is 0.95.
func PoissonRate(events, watched, level float64) (Rate, error) {
	level, err := levelOrDefault(level)
	if err != nil {
		return Rate{}, err
	}
	if !(events >= 0) || !(watched >= 0) || !finite(events) || !finite(watched) {
		return Rate{}, &RowError{-1, "a rate needs a number of events and a time watched of at least 0"}
	}
	r := Rate{Events: events, Watched: watched}
	if watched == 0 {
		return r, nil
	}
	r.HasRate = true
	r.Estimate = events / watched
	if events > 0 {
		r.Low = distuv.ChiSquared{K: 2 * events}.Quantile((1-level)/2) / 2 / watched
	}
	r.High = distuv.ChiSquared{K: 2*events + 2}.Quantile((1+level)/2) / 2 / watched
	return r, nil
}

// meanStep is what happened at one distinct time.
type meanStep struct {
	time      float64
	atRisk    float64
	events    float64
	deaths    float64
	censored  float64
	alive     float64 // share alive just before
	exhausted bool    // everybody watched died
}

func (s *meanStep) rate() float64 {
	if s.events == 0 {
		return 0
	}
	return s.events / s.atRisk
}

// dying is the share of those watched who died.
func (s *meanStep) dying() float64 {
	switch {
	case s.exhausted:
		return 1
	case s.deaths == 0:
		return 0
	}
	return s.deaths / s.atRisk
}

type meanTally struct {
	steps  []meanStep
	atZero float64 // watched from the start
}

func tallyMean(d RecurrentData) *meanTally {
	at := map[float64]*meanStep{}
	step := func(t float64) *meanStep {
		if at[t] == nil {
			at[t] = &meanStep{time: t}
		}
		return at[t]
	}
	t := &meanTally{}
	for i := range d.Exit {
		w := d.weight(i)
		for _, e := range d.Events[i] {
			step(e).events += w
		}
		if s := step(d.Exit[i]); d.died(i) {
			s.deaths += w
		} else {
			s.censored += w
		}
		if d.entry(i) == 0 {
			t.atZero += w
		}
	}
	for _, s := range at {
		t.steps = append(t.steps, *s)
	}
	slices.SortFunc(t.steps, func(a, b meanStep) int {
		if a.time < b.time {
			return -1
		}
		return 1
	})
	t.fill(d)
	return t
}

// fill counts who is watched at each step, and the share alive before it.
func (t *meanTally) fill(d RecurrentData) {
	n := len(t.steps)
	weight, rows, deaths := make([]float64, n+1), make([]int, n+1), make([]int, n)
	for i := range d.Exit {
		a := sort.Search(n, func(k int) bool { return t.steps[k].time > riskFrom(d.entry(i)) })
		b := sort.Search(n, func(k int) bool { return t.steps[k].time >= d.Exit[i] })
		// Added backwards below, so that small risk sets stay exact.
		weight[b] += d.weight(i)
		rows[b]++
		if a > 0 {
			weight[a-1] -= d.weight(i)
			rows[a-1]--
		}
		if d.died(i) {
			deaths[b]++
		}
	}
	sum, count := 0.0, 0
	for k := n - 1; k >= 0; k-- {
		sum, count = sum+weight[k], count+rows[k]
		t.steps[k].atRisk = sum
		t.steps[k].exhausted = count > 0 && deaths[k] == count
	}
	alive := 1.0
	for k := range t.steps {
		s := &t.steps[k]
		s.alive = alive
		alive *= 1 - s.dying()
	}
}
