package survival

import "math"

// concordance is compare for the linear predictor of the coefficients. Rows of
// one pattern share it, so that patterns are ranked and not rows.
func (f *coxFast) concordance(coef []float64) (Concordance, bool) {
	m := f.m
	ranks, distinct := f.ranks(coef)
	// What a row's comparisons say in favour of the predictor, a tie counting
	// half, made at its event and made by outliving others' events.
	made, outlived := f.rowList(), f.rowList()
	defer f.rowsDone(made)
	defer f.rowsDone(outlived)
	c := &comparison{f: f, rank: ranks, later: make([]float64, len(f.bins)), before: make([]float64, len(f.bins))}
	both(2, func(half, _, _ int) {
		switch {
		case half == 0 && f.w == nil:
			backwards(c, newSums[int32](distinct), made)
		case half == 0:
			backwards(c, newSums[float64](distinct), made)
		case f.w == nil:
			forwards(c, newSums[int32](distinct), outlived)
		default:
			forwards(c, newSums[float64](distinct), outlived)
		}
	})
	all := c.out.Concordant + c.out.Discordant + c.out.TiedX
	if all == 0 {
		return Concordance{}, false
	}
	c.out.Estimate = (c.out.Concordant + c.out.TiedX/2) / all
	share := f.weight
	if len(m.data.Cluster) == 0 && !m.sampling && f.w != nil {
		share = func(k int32) float64 { return math.Sqrt(f.w[k]) } // of w equal rows each moves the estimate by itself
	}
	// In place: how far each row moves the estimate.
	f.bothBins(func(_, lo, hi int) {
		for b := lo; b < hi; b++ {
			bin := &f.bins[b]
			for k := bin.lo; k < bin.hi; k++ {
				pairs := c.before[b] + c.later[b]
				if k >= bin.mid {
					pairs = c.before[b] + bin.weight
				}
				made[k] = share(k) * (made[k] + outlived[k] - c.out.Estimate*pairs) / all
			}
		}
	})
	if len(m.data.Cluster) == 0 {
		c.out.StdErr = rootSquares(made)
		return c.out, true
	}
	of, clusters := m.clusters()
	u := make([]float64, clusters)
	for k, i := range f.rows {
		u[of[i]] += made[k]
	}
	c.out.StdErr = rootSquares(u)
	return c.out, true
}

// ranks are those of the linear predictors of the patterns, and how many
// differ.
func (f *coxFast) ranks(coef []float64) (of []int32, distinct int) {
	m := f.m
	lp := f.list()
	defer f.done(lp)
	predictor := func(i int) float64 {
		sum := 0.0
		if len(m.data.Offset) > 0 {
			sum = m.data.Offset[i]
		}
		for j, x := range m.data.X {
			sum += coef[j] * x[i]
		}
		return sum
	}
	if len(lp) < m.n {
		for q, i := range f.first {
			lp[q] = predictor(int(i))
		}
	} else { // columns are read faster as they stand
		both(m.n, func(_, lo, hi int) {
			for i := lo; i < hi; i++ {
				lp[f.where[i].pattern] = predictor(i)
			}
		})
	}
	of = make([]int32, len(lp))
	last := int32(-1)
	for _, q := range sortedPlaces(len(lp), func(q int) float64 { return lp[q] }) {
		if last < 0 || lp[q] != lp[last] {
			distinct++
		}
		of[q], last = int32(distinct-1), q
	}
	return of, distinct
}

// comparison counts pairs; see pairs.
type comparison struct {
	f      *coxFast
	rank   []int32   // of each pattern
	later  []float64 // by bin: weight of the rows that go on longer than an event in it
	before []float64 // by bin: weight of the events before it
	out    Concordance
}

// backwards counts, at each event, the rows then at risk that go on longer. A
// row censored at that very time does. It counts pairs of events at one time
// too, which nothing else compares.
func backwards[T int32 | float64](c *comparison, risk *sums[T], made []float64) {
	f := c.f
	same := make([]T, len(risk.at)) // weight of the events at one time by rank
	for b := range f.bins {
		bin := &f.bins[b]
		if b > 0 && bin.stratum != f.bins[b-1].stratum {
			risk.reset()
		}
		for k := bin.mid; k < bin.hi; k++ {
			made[k] = 0
			risk.add(c.rank[f.code[k]], T(f.weight(k)))
		}
		c.later[b] = float64(risk.total)
		sum, alike := 0.0, 0.0
		for k := bin.lo; k < bin.mid; k++ {
			r, w := c.rank[f.code[k]], f.weight(k)
			below, equal, above := risk.around(r)
			made[k] = float64(below) + float64(equal)/2
			c.out.Concordant += w * float64(below)
			c.out.TiedX += w * float64(equal)
			c.out.Discordant += w * float64(above)
			alike += w * float64(same[r])
			c.out.TiedTime += w * sum
			same[r] += T(w)
			sum += w
		}
		c.out.TiedBoth += alike
		c.out.TiedTime -= alike
		for k := bin.lo; k < bin.mid; k++ {
			r := c.rank[f.code[k]]
			same[r] = 0
			risk.add(r, T(f.weight(k)))
		}
	}
}

// forwards counts the other part: for each row, the events that it outlived. A
// pair is concordant if the one with the event had the higher predictor.
func forwards[T int32 | float64](c *comparison, events *sums[T], outlived []float64) {
	f := c.f
	for b := len(f.bins) - 1; b >= 0; b-- {
		bin := &f.bins[b]
		if b < len(f.bins)-1 && bin.stratum != f.bins[b+1].stratum {
			events.reset()
		}
		c.before[b] = float64(events.total)
		for k := bin.lo; k < bin.mid; k++ {
			_, equal, above := events.around(c.rank[f.code[k]])
			outlived[k] = float64(above) + float64(equal)/2
		}
		for k := bin.lo; k < bin.mid; k++ {
			events.add(c.rank[f.code[k]], T(f.weight(k)))
		}
		for k := bin.mid; k < bin.hi; k++ {
			_, equal, above := events.around(c.rank[f.code[k]])
			outlived[k] = float64(above) + float64(equal)/2
		}
	}
}
