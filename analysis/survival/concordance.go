package survival

import (
	"fmt"
	"math"
	"slices"
	"sort"

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
	StdErr     float64 // infinitesimal jackknife, grouped by cluster where given
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
	p := &pairs{d: d, lp: lp, worth: worth, good: make([]float64, n), bad: make([]float64, n), same: make([]float64, n)}
	rows := map[int][]int{}
	var strata []int
	for i := range n {
		s := 0
		if len(d.Strata) > 0 {
			s = d.Strata[i]
		}
		if _, ok := rows[s]; !ok {
			strata = append(strata, s)
		}
		rows[s] = append(rows[s], i)
	}
	slices.Sort(strata)
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
		mine := p.good[i] + p.bad[i] + p.same[i]
		u[of[i]] += d.weight(i) * (p.good[i] + p.same[i]/2 - c.Estimate*mine) / all
	}
	c.StdErr = rootSquares(u)
	return c, true
}

// pairs counts, for every row, the weight of the rows with which it makes
// concordant, discordant and tied pairs, in either part.
type pairs struct {
	d               CoxData
	lp              []float64
	worth           func(time float64) float64
	good, bad, same []float64
	out             Concordance
}

func (p *pairs) stratum(rows []int) {
	d := p.d
	values := make([]float64, len(rows))
	for k, i := range rows {
		values[k] = p.lp[i]
	}
	slices.Sort(values)
	values = slices.Compact(values)
	rank := make(map[int]int, len(rows))
	for _, i := range rows {
		rank[i] = sort.SearchFloat64s(values, p.lp[i])
	}
	byTime, byEntry := slices.Clone(rows), slices.Clone(rows)
	from := func(i int) float64 { return riskFrom(d.entry(i)) }
	sort.SliceStable(byTime, func(a, b int) bool { return d.Time[byTime[a]] < d.Time[byTime[b]] })
	sort.SliceStable(byEntry, func(a, b int) bool { return from(byEntry[a]) < from(byEntry[b]) })

	// Backwards in time: at each event, the rows then at risk that go on
	// longer. A row censored at that very time does.
	risk := newSums(len(values))
	out := len(rows) - 1
	for k := len(rows) - 1; k >= 0; {
		at := d.Time[byTime[k]]
		for ; out >= 0 && from(byEntry[out]) >= at; out-- {
			risk.add(rank[byEntry[out]], -d.weight(byEntry[out]))
		}
		first := k
		for ; first >= 0 && d.Time[byTime[first]] == at; first-- {
			if i := byTime[first]; !d.Event[i] {
				risk.add(rank[i], d.weight(i))
			}
		}
		tied := newTies(&p.out)
		for _, i := range byTime[first+1 : k+1] {
			if !d.Event[i] {
				continue
			}
			w := d.weight(i)
			below, equal, above := risk.around(rank[i])
			g := p.worth(at)
			below, equal, above = g*below, g*equal, g*above
			p.good[i] += below
			p.same[i] += equal
			p.bad[i] += above
			p.out.Concordant += w * below
			p.out.TiedX += w * equal
			p.out.Discordant += w * above
			tied.add(rank[i], w)
		}
		tied.close()
		for _, i := range byTime[first+1 : k+1] {
			if d.Event[i] {
				risk.add(rank[i], d.weight(i))
			}
		}
		k = first
	}

	// Forwards in time, the other part: for each row, the events that it
	// outlived since it entered.
	events := newSums(len(values))
	in := 0
	for k := 0; k < len(rows); {
		at := d.Time[byTime[k]]
		// Rows that enter before this time outlive no event up to their entry.
		for ; in < len(rows) && from(byEntry[in]) < at; in++ {
			p.outlived(byEntry[in], rank, events, -1)
		}
		last := k
		for ; last < len(rows) && d.Time[byTime[last]] == at; last++ {
			if i := byTime[last]; d.Event[i] {
				p.outlived(i, rank, events, 1)
			}
		}
		for _, i := range byTime[k:last] {
			if d.Event[i] {
				events.add(rank[i], p.worth(at)*d.weight(i))
			}
		}
		for _, i := range byTime[k:last] {
			if !d.Event[i] {
				p.outlived(i, rank, events, 1)
			}
		}
		k = last
	}
}

// outlived adds (or takes away) the events so far to the pairs of row i: a
// pair is concordant if the one with the event had the higher predictor.
func (p *pairs) outlived(i int, rank map[int]int, events *sums, sign float64) {
	below, equal, above := events.around(rank[i])
	p.good[i] += sign * above
	p.same[i] += sign * equal
	p.bad[i] += sign * below
}

// ties counts the pairs among events at one time.
type ties struct {
	out     *Concordance
	weight  float64
	squares float64
	byRank  map[int]*[2]float64
}

func newTies(out *Concordance) *ties { return &ties{out: out, byRank: map[int]*[2]float64{}} }

func (t *ties) add(rank int, w float64) {
	t.weight += w
	t.squares += w * w
	r := t.byRank[rank]
	if r == nil {
		r = new([2]float64)
		t.byRank[rank] = r
	}
	r[0] += w
	r[1] += w * w
}

func (t *ties) close() {
	both := 0.0
	ranks := make([]int, 0, len(t.byRank))
	for k := range t.byRank {
		ranks = append(ranks, k)
	}
	slices.Sort(ranks)
	for _, k := range ranks {
		r := t.byRank[k]
		both += (r[0]*r[0] - r[1]) / 2
	}
	t.out.TiedBoth += both
	t.out.TiedTime += (t.weight*t.weight-t.squares)/2 - both
}

// sums are sums of weights by rank, kept as a binary indexed tree (Fenwick
// 1994, Softw Pract Exp 24:327).
type sums struct {
	tree  []float64
	at    []float64
	total float64
}

func newSums(n int) *sums { return &sums{tree: make([]float64, n+1), at: make([]float64, n)} }

func (s *sums) add(rank int, w float64) {
	s.at[rank] += w
	s.total += w
	for k := rank + 1; k < len(s.tree); k += k & -k {
		s.tree[k] += w
	}
}

func (s *sums) around(rank int) (below, equal, above float64) {
	for k := rank; k > 0; k -= k & -k {
		below += s.tree[k]
	}
	equal = s.at[rank]
	return below, equal, math.Max(0, s.total-below-equal)
}
