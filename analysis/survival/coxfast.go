package survival

import (
	"math"
	"sync"
)

// coxFast is a coxModel without late entries made ready for many rows; see
// the package comment. Rows stand in the order of the sweep: by stratum,
// latest time first.
type coxFast struct {
	m       *coxModel
	rows    []int32 // row of the data
	pattern []int32 // which pattern of columns and offset the row has
	event   []bool
	w       []float64 // nil: all 1
	z       []float64 // pattern by pattern
	offset  []float64 // by pattern
	bins    []coxBin
	tied    int // bins with more than one piece

	zEvents      []float64 // weighted sum over events
	offsetEvents float64
}

// coxBin is the rows that end at one time.
type coxBin struct {
	lo, hi  int32
	stratum int32
	tied    int32 // which of those whose events must be summed apart; -1: none
	count   int32 // of events
	weight  float64
}

// newCoxFast is nil where rows enter late or ties are discrete.
func newCoxFast(m *coxModel) *coxFast {
	if m.ties == Discrete || m.n > math.MaxInt32 {
		return nil
	}
	for b := range m.blocks {
		if len(m.blocks[b].byEntry) > 0 {
			return nil
		}
	}
	f := &coxFast{m: m, rows: make([]int32, 0, m.n), event: make([]bool, m.n), zEvents: make([]float64, m.p)}
	if len(m.data.Weight) > 0 {
		f.w = make([]float64, m.n)
	}
	for b := range m.blocks {
		from := len(f.rows)
		for _, i := range m.blocks[b].byTime {
			k := int32(len(f.rows))
			f.rows = append(f.rows, int32(i))
			f.event[k] = m.data.Event[i]
			if f.w != nil {
				f.w[k] = m.w[i]
			}
			last := len(f.bins) - 1
			if int(k) == from || m.data.Time[f.rows[k-1]] != m.data.Time[i] {
				f.bins = append(f.bins, coxBin{lo: k, stratum: int32(b), tied: -1})
				last++
			}
			bin := &f.bins[last]
			bin.hi = k + 1
			if !m.data.Event[i] {
				continue
			}
			bin.count++
			bin.weight += m.w[i]
			f.offsetEvents += m.w[i] * m.offset[i]
			for j, x := range m.z[i*m.p : (i+1)*m.p] {
				f.zEvents[j] += m.w[i] * x
			}
		}
	}
	for k := range f.bins {
		if b := &f.bins[k]; m.ties == Efron && (b.count > 1 || b.count == 1 && !m.sampling && b.weight > 1) {
			b.tied = int32(f.tied)
			f.tied++
		}
	}
	f.collapse()
	return f
}

// maxPatterns limits the table in which patterns are looked up.
const maxPatterns = 1 << 22

// collapse finds the rows that are alike in every column, where columns have
// so few values that a table of all their combinations is worth its room.
func (f *coxFast) collapse() {
	m := f.m
	f.pattern = make([]int32, m.n)
	code := make([]int32, m.n)
	columns := append([][]float64(nil), m.data.X...)
	if len(m.data.Offset) > 0 {
		columns = append(columns, m.data.Offset)
	}
	size := 1
	// The columns are centred by stratum.
	if len(m.blocks) > 1 {
		for b := range m.blocks {
			for _, i := range m.blocks[b].byTime {
				code[i] = int32(b)
			}
		}
		size = len(m.blocks)
	}
	for _, x := range columns {
		seen := map[float64]int32{}
		last, lastCode := math.NaN(), int32(0)
		for i, v := range x {
			if v != last {
				c, ok := seen[v]
				if !ok {
					c = int32(len(seen))
					seen[v] = c
					if len(seen)*size > min(maxPatterns, 4*m.n) {
						f.apart()
						return
					}
				}
				last, lastCode = v, c
			}
			code[i] += lastCode * int32(size)
		}
		size *= len(seen)
	}
	name := make([]int32, size)
	for k, i := range f.rows {
		c := code[i]
		if name[c] == 0 {
			f.z = append(f.z, m.z[int(i)*m.p:(int(i)+1)*m.p]...)
			f.offset = append(f.offset, m.offset[i])
			name[c] = int32(len(f.offset))
		}
		f.pattern[k] = name[c] - 1
	}
}

// apart lets each row be a pattern of its own.
func (f *coxFast) apart() {
	f.z, f.offset = f.m.z, f.m.offset
	copy(f.pattern, f.rows)
}

func (f *coxFast) patterns() int { return len(f.offset) }

// both runs work on the two halves of 0 to n. The halves do not depend on
// how many cores there are, so that sums come out the same everywhere.
func both(n int, work func(half, lo, hi int)) {
	var wait sync.WaitGroup
	wait.Add(1)
	go func() {
		defer wait.Done()
		work(1, n/2, n)
	}()
	work(0, 0, n/2)
	wait.Wait()
}

// risks is exp of the linear predictor of each pattern.
func (f *coxFast) risks(beta []float64) ([]float64, bool) {
	risk := make([]float64, f.patterns())
	var fine [2]bool
	both(len(risk), func(half, lo, hi int) {
		fine[half] = true
		p := f.m.p
		for k := lo; k < hi; k++ {
			eta := f.offset[k]
			for j, x := range f.z[k*p : (k+1)*p] {
				eta += beta[j] * x
			}
			if !(math.Abs(eta) < 300) {
				fine[half] = false
				return
			}
			risk[k] = math.Exp(eta)
		}
	})
	return risk, fine[0] && fine[1]
}

// binSums are sums of the risk, and of the risk times each column, p+1
// numbers a bin: over the rows that end in it, and over those with the event
// where these are needed apart.
func (f *coxFast) binSums(risk []float64) (all, dead []float64) {
	p := f.m.p
	all, dead = make([]float64, len(f.bins)*(p+1)), make([]float64, f.tied*(p+1))
	both(len(f.bins), func(_, lo, hi int) {
		for b := lo; b < hi; b++ {
			bin := f.bins[b]
			s := all[b*(p+1) : (b+1)*(p+1)]
			var d []float64
			if bin.tied >= 0 {
				d = dead[int(bin.tied)*(p+1) : (int(bin.tied)+1)*(p+1)]
			}
			for k := bin.lo; k < bin.hi; k++ {
				q := int(f.pattern[k])
				r := risk[q]
				if f.w != nil {
					r *= f.w[k]
				}
				z := f.z[q*p : (q+1)*p]
				to := s
				if d != nil && f.event[k] {
					to = d // added to all below
				}
				to[0] += r
				to = to[1 : 1+len(z)]
				for j, x := range z {
					to[j] += r * x
				}
			}
			for j, x := range d {
				s[j] += x
			}
		}
	})
	return all, dead
}

// sweep goes through the bins backwards in time with the running sums of
// those at risk, and shows those with events to visit.
func (f *coxFast) sweep(risk []float64, visit func(b int, r *riskSet)) {
	p := f.m.p
	all, dead := f.binSums(risk)
	r := &riskSet{all: moments{s1: make([]float64, p)}, dead: moments{s1: make([]float64, p)}}
	stratum := int32(-1)
	one := make([]int, 1)
	for b, bin := range f.bins {
		if bin.stratum != stratum {
			stratum = bin.stratum
			r.all.reset()
		}
		s := all[b*(p+1) : (b+1)*(p+1)]
		r.all.s0 += s[0]
		for j, x := range s[1:] {
			r.all.s1[j] += x
		}
		if bin.count == 0 {
			continue
		}
		r.pieces, r.weight = r.pieces[:0], bin.weight
		if bin.tied < 0 {
			r.dead.reset()
			r.pieces = append(r.pieces, piece{bin.weight, 0, r.all.s0})
		} else {
			d := dead[int(bin.tied)*(p+1) : (int(bin.tied)+1)*(p+1)]
			r.dead.s0 = d[0]
			copy(r.dead.s1, d[1:])
			// split looks at how many events there are, not at which.
			for len(one) < int(bin.count) {
				one = append(one, 0)
			}
			r.events = one[:bin.count]
			r.split(f.m.ties, f.m.sampling)
		}
		visit(b, r)
	}
}

// likelihood is as that of coxModel. The sums of products of columns are not
// carried along: a row of risk r that ends at t enters the information with
// r times the hazard up to t, so that they are made once, over patterns.
func (f *coxFast) likelihood(beta []float64) *coxLikelihood {
	p := f.m.p
	l := &coxLikelihood{score: append([]float64(nil), f.zEvents...), info: square(p)}
	risk, ok := f.risks(beta)
	if !ok {
		return l
	}
	l.loglik = f.offsetEvents
	for j, x := range f.zEvents {
		l.loglik += beta[j] * x
	}
	hazard, spared := make([]float64, len(f.bins)), make([]float64, f.tied)
	f.sweep(risk, func(b int, r *riskSet) {
		var a0, a1, b0, b1, b2 float64
		for _, x := range r.pieces {
			l.loglik -= x.count * math.Log(x.s0)
			c := x.count / x.s0
			a0 += c
			a1 += c * x.share
			c /= x.s0
			b0 += c
			b1 += c * x.share
			b2 += c * x.share * x.share
		}
		hazard[b] = a0
		if t := f.bins[b].tied; t >= 0 {
			spared[t] = a1
		}
		for i, x := range r.all.s1 {
			y := r.dead.s1[i]
			l.score[i] -= a0*x - a1*y
			u, v := b1*y-b0*x, b1*x-b2*y
			row := l.info[i]
			for j := i; j < p; j++ {
				row[j] += u*r.all.s1[j] + v*r.dead.s1[j]
			}
		}
	})
	f.addProducts(risk, f.upTo(hazard), spared, l.info)
	for i := range l.info {
		for j := range i {
			l.info[i][j] = l.info[j][i]
		}
	}
	l.ok = finite(l.loglik)
	return l
}

// upTo turns the hazards of bins into those up to and including each, in
// place.
func (f *coxFast) upTo(hazard []float64) []float64 {
	for b := len(hazard) - 2; b >= 0; b-- {
		if f.bins[b].stratum == f.bins[b+1].stratum {
			hazard[b] += hazard[b+1]
		}
	}
	return hazard
}

// addProducts adds the products of columns of all patterns, each with its
// risk times the hazards that its rows lived through.
func (f *coxFast) addProducts(risk, hazard, spared []float64, info [][]float64) {
	m, p, n := f.m, f.m.p, f.patterns()
	weights := [2][]float64{make([]float64, n), nil}
	weights[1] = weights[0] // no row of one half shares a pattern with the other
	if n < m.n {
		weights[1] = make([]float64, n)
	}
	both(len(f.bins), func(half, lo, hi int) {
		to := weights[half]
		for b := lo; b < hi; b++ {
			bin := f.bins[b]
			h, less := hazard[b], hazard[b]
			if bin.tied >= 0 {
				less -= spared[bin.tied]
			}
			for k := bin.lo; k < bin.hi; k++ {
				x := h
				if f.event[k] {
					x = less
				}
				if f.w != nil {
					x *= f.w[k]
				}
				to[f.pattern[k]] += x
			}
		}
	})
	var part [2][]float64
	both(n, func(half, lo, hi int) {
		sum := make([]float64, p*(p+1)/2)
		for k := lo; k < hi; k++ {
			c := weights[0][k]
			if n < m.n {
				c += weights[1][k]
			}
			c *= risk[k]
			z := f.z[k*p : (k+1)*p]
			at := 0
			for i, x := range z {
				cx := c * x
				rest := z[i:]
				to := sum[at : at+len(rest)]
				for j, y := range rest {
					to[j] += cx * y
				}
				at += len(rest)
			}
		}
		part[half] = sum
	})
	at := 0
	for i := range p {
		for j := i; j < p; j++ {
			info[i][j] += part[0][at] + part[1][at]
			at++
		}
	}
}
