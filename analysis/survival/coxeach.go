package survival

import (
	"math"
	"sort"
)

// coxEach is a Cox model laid out so that the likelihood can be
// differentiated by the linear predictor of every single row, and so by any
// number of coefficients at once: it knows over which of the event times each
// row is at risk. Times stand stratum by stratum, ascending.
type coxEach struct {
	m      *coxModel
	lo, hi []int32 // row i is at risk at the times from lo to before hi
	dead   []int32 // the time of its event; -1: none
	first  []int32 // of each time: the first time of its stratum
	count  []int32 // events of each time
	late   []int32 // rows that enter after the first time of their stratum
}

// newCoxEach leaves weights out of account.
func newCoxEach(m *coxModel) *coxEach {
	e := &coxEach{m: m, lo: make([]int32, m.n), hi: make([]int32, m.n), dead: make([]int32, m.n)}
	var times []float64
	for b := range m.blocks {
		rows := m.full().byTime[b]
		times = times[:0]
		base := int32(len(e.count))
		for k := len(rows) - 1; k >= 0; k-- { // by time, ascending
			i := rows[k]
			e.dead[i] = -1
			if t := m.data.Time[i]; m.data.Event[i] {
				if len(times) == 0 || times[len(times)-1] != t {
					times = append(times, t)
					e.count, e.first = append(e.count, 0), append(e.first, base)
				}
				e.dead[i] = base + int32(len(times)) - 1
				e.count[e.dead[i]]++
			}
		}
		for _, i := range rows {
			after := func(t float64) int32 {
				return base + int32(sort.Search(len(times), func(k int) bool { return times[k] > t }))
			}
			e.lo[i], e.hi[i] = base, after(m.data.Time[i])
			if m.from(i) >= 0 {
				e.lo[i] = after(m.from(i))
			}
			if e.lo[i] > base && e.lo[i] < e.hi[i] {
				e.late = append(e.late, int32(i))
			}
		}
	}
	return e
}

// overRows is, at each time, the sum over the rows at risk of v. Nothing is
// ever taken away from a sum, so that no digits are lost: rows at risk from
// the first time on are summed from the last time back, late ones through
// the nodes of a binary tree over the times.
func (e *coxEach) overRows(v []float64) []float64 {
	n := len(e.count)
	out := make([]float64, n)
	for i, x := range v {
		if h := e.hi[i]; h > 0 && e.lo[i] < h && e.lo[i] == e.first[h-1] {
			out[h-1] += x
		}
	}
	for k := n - 2; k >= 0; k-- {
		if e.first[k] == e.first[k+1] {
			out[k] += out[k+1]
		}
	}
	if len(e.late) > 0 {
		tree := make([]float64, 2*n)
		for _, i := range e.late {
			for l, r := int(e.lo[i])+n, int(e.hi[i])+n; l < r; l, r = l/2, r/2 {
				if l%2 == 1 {
					tree[l] += v[i]
					l++
				}
				if r%2 == 1 {
					r--
					tree[r] += v[i]
				}
			}
		}
		for k := range out {
			for x := k + n; x > 0; x /= 2 {
				out[k] += tree[x]
			}
		}
	}
	return out
}

// overTimes is, for each row, the sum of v over the times at which it is at
// risk.
func (e *coxEach) overTimes(v []float64) []float64 {
	n := len(e.count)
	out := make([]float64, len(e.lo))
	sum := make([]float64, n) // from the first time of the stratum on
	for k, x := range v {
		sum[k] = x
		if e.first[k] != int32(k) {
			sum[k] += sum[k-1]
		}
	}
	for i, h := range e.hi {
		if h > 0 && e.lo[i] < h && e.lo[i] == e.first[h-1] {
			out[i] = sum[h-1]
		}
	}
	if len(e.late) > 0 {
		tree := make([]float64, 2*n)
		copy(tree[n:], v)
		for x := n - 1; x > 0; x-- {
			tree[x] = tree[2*x] + tree[2*x+1]
		}
		for _, i := range e.late {
			for l, r := int(e.lo[i])+n, int(e.hi[i])+n; l < r; l, r = l/2, r/2 {
				if l%2 == 1 {
					out[i] += tree[l]
					l++
				}
				if r%2 == 1 {
					r--
					out[i] += tree[r]
				}
			}
		}
	}
	return out
}

// overDead is, at each time, the sum over the rows with the event of v.
func (e *coxEach) overDead(v []float64) []float64 {
	out := make([]float64, len(e.count))
	for i, k := range e.dead {
		if k >= 0 {
			out[k] += v[i]
		}
	}
	return out
}

// coxEachPoint is the log partial likelihood at the linear predictors of all
// rows, and what its derivatives need.
type coxEachPoint struct {
	e      *coxEach
	loglik float64
	risk   []float64 // of each row
	hazard []float64 // of each row: that at which it is spared an event less, added up
	slope  []float64 // of the likelihood by the predictor of each row: the martingale residual
	// Of each time, over the pieces that its ties make: the sums of share^i
	// over the square of the piece's risk.
	b0, b1, b2 []float64
}

// at works out the likelihood; not ok where numbers overflow.
func (e *coxEach) at(eta []float64) (*coxEachPoint, bool) {
	n := len(e.count)
	p := &coxEachPoint{e: e, risk: make([]float64, len(eta)), slope: make([]float64, len(eta)),
		b0: make([]float64, n), b1: make([]float64, n), b2: make([]float64, n)}
	for i, x := range eta {
		if !(math.Abs(x) < 300) {
			return nil, false
		}
		p.risk[i] = math.Exp(x)
	}
	all, dead := e.overRows(p.risk), e.overDead(p.risk)
	a0, a1 := make([]float64, n), make([]float64, n)
	for k, d := range e.count {
		pieces, each := 1, float64(d) // Breslow's formula
		if e.m.ties == Efron {
			pieces, each = int(d), 1
		}
		for l := range pieces {
			share := float64(l) / float64(pieces)
			s := all[k] - share*dead[k]
			p.loglik -= each * math.Log(s)
			c := each / s
			a0[k] += c
			a1[k] += c * share
			c /= s
			p.b0[k] += c
			p.b1[k] += c * share
			p.b2[k] += c * share * share
		}
	}
	p.hazard = e.overTimes(a0)
	for i, k := range e.dead {
		if k >= 0 {
			p.hazard[i] -= a1[k]
			p.loglik += eta[i]
			p.slope[i] = 1
		}
		p.slope[i] -= p.risk[i] * p.hazard[i]
	}
	return p, finite(p.loglik)
}

// times is the information in the linear predictors of the rows times a
// vector d, one number a row.
func (p *coxEachPoint) times(d []float64) []float64 {
	e := p.e
	v := make([]float64, len(d))
	for i, x := range d {
		v[i] = x * p.risk[i]
	}
	all, dead := e.overRows(v), e.overDead(v)
	spared := make([]float64, len(all))
	for k, x := range all {
		y := dead[k]
		all[k], spared[k] = p.b0[k]*x-p.b1[k]*y, p.b1[k]*x-p.b2[k]*y
	}
	less := e.overTimes(all)
	for i, k := range e.dead {
		if k >= 0 {
			less[i] -= spared[k]
		}
		v[i] = p.risk[i] * (p.hazard[i]*d[i] - less[i])
	}
	return v
}
