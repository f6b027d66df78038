package survival

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// Concordance says how often, of two rows that can be compared, the one with
// the higher linear predictor had the event first (Harrell and others 1982,
// J Am Med Assoc 247:2543). Two rows can be compared if one had the event
// while the other was at risk and went on longer. Counts are products of
// weights, over pairs of one stratum (for UnoConcordance also times 1/G²,
// but for TiedTime and TiedBoth).
type Concordance struct {
	Estimate   float64 // (Concordant + TiedPredictor/2) / all that can be compared
	StdErr     float64 // infinitesimal jackknife, grouped by cluster where given; else a row of weight 2 counts as two
	Concordant float64
	Discordant float64
	TiedX      float64 // same linear predictor, different times
	TiedTime   float64 // both had the event at one time
	TiedBoth   float64 // and the same linear predictor
}

// HarrellConcordance compares any predictor of risk, one number per row,
// with the times. It is false where no two rows can be compared. Entry,
// Weight, Strata and Cluster of d count; X does not.
func HarrellConcordance(d CoxData, risk []float64) (Concordance, bool, error) {
	if err := checkPredictor(d, risk); err != nil {
		return Concordance{}, false, fmt.Errorf("concordance: %w", err)
	}
	c, ok := compare(d, risk, nil)
	return c, ok, nil
}

// UnoConcordance is like HarrellConcordance, but a pair counts for 1/G² at
// the time of its event, G being the chance of not yet being censored, so
// that the result does not depend on how long rows were followed (Uno and
// others 2011, Stat Med 30:1105). G is the Kaplan-Meier estimate over all
// rows and is taken as known in the error. Rows that enter late are refused,
// for G is then not the chance it should be.
func UnoConcordance(d CoxData, risk []float64) (Concordance, bool, error) {
	if err := checkPredictor(d, risk); err != nil {
		return Concordance{}, false, fmt.Errorf("concordance: %w", err)
	}
	for i := range d.Time {
		if d.entry(i) > 0 {
			return Concordance{}, false, fmt.Errorf("concordance: %w", &RowError{i, "the row enters late"})
		}
	}
	g := uncensored(d)
	c, ok := compare(d, risk, func(t float64) float64 { return 1 / (g[t] * g[t]) })
	return c, ok, nil
}

// uncensored is the chance of not being censored before each time with
// events. Events at a time come before censorings at it.
func uncensored(d CoxData) map[float64]float64 {
	x := Data{Time: d.Time, Weight: d.Weight, Cause: make([]int, len(d.Time))}
	for i, e := range d.Event {
		if e {
			x.Cause[i] = 1
		}
	}
	out := map[float64]float64{}
	g := 1.0
	t := count(x, 0)
	for k := range t.steps {
		s := &t.steps[k]
		if s.events > 0 {
			out[s.time] = g
		}
		if s.censored > 0 && k < len(t.steps)-1 {
			g *= 1 - s.censored/(s.atRisk-s.events)
		}
	}
	return out
}

func checkPredictor(d CoxData, risk []float64) error {
	n := len(d.Time)
	if len(risk) != n || len(d.Event) != n {
		return &RowError{-1, "times, events and predictor differ in length"}
	}
	if err := checkLengths(n, len(d.Entry), len(d.Weight), len(d.Cluster)); err != nil {
		return err
	}
	if len(d.Strata) != 0 && len(d.Strata) != n {
		return &RowError{-1, "times and strata differ in length"}
	}
	for i := range n {
		if err := checkRow(i, d.entry(i), d.Time[i], d.weight(i)); err != nil {
			return err
		}
		if !finite(risk[i]) {
			return &RowError{i, "the predictor is not a finite number"}
		}
	}
	if n == 0 {
		return stats.ErrNoRows
	}
	return nil
}

// compare counts the pairs. worth is what a pair counts for by the time of
// its event; nil: 1.
func compare(d CoxData, lp []float64, worth func(time float64) float64) (Concordance, bool) {
	n := len(d.Time)
	if worth == nil {
		worth = func(float64) float64 { return 1 }
	}
	p := &pairs{d: d, worth: worth, good: make([]float64, n), bad: make([]float64, n), same: make([]float64, n)}
	rows, strata := rowsByStratum(d.Strata, n)
	var distinct int
	p.rank, distinct = ranks(lp)
	p.risk, p.events, p.tied = newSums[float64](distinct), newSums[float64](distinct), &ties{out: &p.out, weight: make([]float64, distinct)}
	for _, s := range strata {
		p.stratum(rows[s])
	}
	c := p.out
	all := c.Concordant + c.Discordant + c.TiedX
	if all == 0 {
		return Concordance{}, false
	}
	c.Estimate = (c.Concordant + c.TiedX/2) / all
	of, clusters, _ := numberClusters(d.Cluster, n)
	u := make([]float64, clusters)
	for i := range n {
		w := d.weight(i)
		if len(d.Cluster) == 0 {
			w = math.Sqrt(w) // of w equal rows each moves the estimate by itself
		}
		mine := p.good[i] + p.bad[i] + p.same[i]
		u[of[i]] += w * (p.good[i] + p.same[i]/2 - c.Estimate*mine) / all
	}
	c.StdErr = rootSquares(u)
	return c, true
}

// pairs counts, for every row, the weight of the rows with which it makes
// concordant, discordant and tied pairs, in either part.
type pairs struct {
	d               CoxData
	rank            []int32 // of the linear predictor
	risk, events    *sums[float64]
	tied            *ties
	worth           func(time float64) float64
	good, bad, same []float64
	out             Concordance
}

// comparand is a row as the two parts see it.
type comparand struct {
	weight float64
	rank   int32 // of the linear predictor
	event  bool
}

// lined are the rows of a stratum in order of time, with what they come to.
type lined struct {
	time    []float64
	rows    []comparand
	enters  []int32   // places of those who enter late, in order of entry
	entries []float64 // when
	counts  [2][]tally3
}

// tally3 is the weight of concordant, discordant and tied pairs of a row.
type tally3 struct{ good, bad, same float64 }

func (p *pairs) stratum(rows []int) {
	d := p.d
	byTime := slices.Clone(rows)
	sortByTime(byTime, d.Time)
	l := &lined{time: make([]float64, len(rows)), rows: make([]comparand, len(rows))}
	for k, i := range byTime {
		l.time[k], l.rows[k] = d.Time[i], comparand{d.weight(i), p.rank[i], d.Event[i]}
		if riskFrom(d.entry(i)) >= 0 { // the others outlive no event before they enter
			l.enters = append(l.enters, int32(k))
		}
	}
	entry := func(k int32) float64 { return riskFrom(d.entry(byTime[k])) }
	slices.SortStableFunc(l.enters, func(a, b int32) int { return cmp.Compare(entry(a), entry(b)) })
	for _, k := range l.enters {
		l.entries = append(l.entries, entry(k))
	}
	l.counts[0], l.counts[1] = make([]tally3, len(rows)), make([]tally3, len(rows))
	both(2, func(half, _, _ int) {
		if half == 0 {
			p.backwards(l)
		} else {
			p.forwards(l)
		}
	})
	for k, i := range byTime {
		a, b := l.counts[0][k], l.counts[1][k]
		p.good[i], p.bad[i], p.same[i] = a.good+b.good, a.bad+b.bad, a.same+b.same
	}
}

// backwards counts, at each event, the rows then at risk that go on longer. A
// row censored at that very time does.
func (p *pairs) backwards(l *lined) {
	risk, tied := p.risk, p.tied
	risk.reset()
	out := len(l.enters) - 1
	for k := len(l.rows) - 1; k >= 0; {
		at := l.time[k]
		for ; out >= 0 && l.entries[out] >= at; out-- {
			x := l.rows[l.enters[out]]
			risk.add(x.rank, -x.weight)
		}
		first := k
		for ; first >= 0 && l.time[first] == at; first-- {
			if x := l.rows[first]; !x.event {
				risk.add(x.rank, x.weight)
			}
		}
		g := p.worth(at)
		for k := first + 1; k < len(l.rows) && l.time[k] == at; k++ {
			x := l.rows[k]
			if !x.event {
				continue
			}
			below, equal, above := risk.around(x.rank)
			below, equal, above = g*below, g*equal, g*above
			l.counts[0][k] = tally3{below, above, equal}
			p.out.Concordant += x.weight * below
			p.out.TiedX += x.weight * equal
			p.out.Discordant += x.weight * above
			tied.add(x.rank, x.weight)
		}
		tied.close()
		for _, x := range l.rows[first+1 : k+1] {
			if x.event {
				risk.add(x.rank, x.weight)
			}
		}
		k = first
	}
}

// forwards counts the other part: for each row, the events that it outlived
// since it entered.
func (p *pairs) forwards(l *lined) {
	events := p.events
	events.reset()
	outlived := func(k int, sign float64) {
		// A pair is concordant if the one with the event had the higher predictor.
		below, equal, above := events.around(l.rows[k].rank)
		c := &l.counts[1][k]
		c.good += sign * above
		c.same += sign * equal
		c.bad += sign * below
	}
	in := 0
	for k := 0; k < len(l.rows); {
		at := l.time[k]
		// Rows that enter before this time outlive no event up to their entry.
		for ; in < len(l.enters) && l.entries[in] < at; in++ {
			outlived(int(l.enters[in]), -1)
		}
		last := k
		for ; last < len(l.rows) && l.time[last] == at; last++ {
			if l.rows[last].event {
				outlived(last, 1)
			}
		}
		g := 0.0
		for _, x := range l.rows[k:last] {
			if x.event {
				if g == 0 {
					g = p.worth(at)
				}
				events.add(x.rank, g*x.weight)
			}
		}
		for ; k < last; k++ {
			if !l.rows[k].event {
				outlived(k, 1)
			}
		}
	}
}

// ties counts the pairs among events at one time.
type ties struct {
	out    *Concordance
	weight []float64 // of these events, by rank
	ranks  []int32
	sum    float64
}

func (t *ties) add(rank int32, w float64) {
	alike := w * t.weight[rank]
	t.out.TiedBoth += alike
	t.out.TiedTime += w*t.sum - alike
	t.weight[rank] += w
	t.sum += w
	t.ranks = append(t.ranks, rank)
}

func (t *ties) close() {
	for _, rank := range t.ranks {
		t.weight[rank] = 0
	}
	t.ranks, t.sum = t.ranks[:0], 0
}

// sums are sums of weights by rank, kept as a binary indexed tree (Fenwick
// 1994, Softw Pract Exp 24:327). Where all weights are 1 whole numbers do.
type sums[T int32 | float64] struct {
	tree  []T
	at    []T
	total T
	added []int32 // ranks, as long as they are few
}

func newSums[T int32 | float64](n int) *sums[T] {
	return &sums[T]{tree: make([]T, n+1), at: make([]T, n)}
}

// reset takes all away again, by the ranks that were added where these are few.
func (s *sums[T]) reset() {
	if 16*len(s.added) > len(s.at) {
		clear(s.tree)
		clear(s.at)
	} else {
		for _, rank := range s.added {
			s.at[rank] = 0
			for k := int(rank) + 1; k < len(s.tree); k += k & -k {
				s.tree[k] = 0
			}
		}
	}
	s.added, s.total = s.added[:0], 0
}

func (s *sums[T]) add(rank int32, w T) {
	if s.at[rank] == 0 && 16*len(s.added) <= len(s.at) {
		s.added = append(s.added, rank)
	}
	s.at[rank] += w
	s.total += w
	for k := int(rank) + 1; k < len(s.tree); k += k & -k {
		s.tree[k] += w
	}
}

func (s *sums[T]) around(rank int32) (below, equal, above T) {
	for k := int(rank); k > 0; k -= k & -k {
		below += s.tree[k]
	}
	equal = s.at[rank]
	return below, equal, max(0, s.total-below-equal)
}
