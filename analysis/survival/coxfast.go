package survival

import (
	"math"
	"sync"
)

// maxFast bounds the rows of a coxFast: their bins are kept in 30 bits.
const maxFast = 1 << 29

// coxFast is a coxModel without late entries made ready for many rows; see
// the package comment. Places are rows in the order of the sweep: by stratum,
// latest time first, those with the event first at each time.
type coxFast struct {
	m     *coxModel
	where []rowPlace // of each row of the data
	rows  []int32    // the row of each place
	code  []int32    // the pattern of each place
	w     []float64  // of each place; nil: all 1
	bins  []coxBin
	stays []float64 // of each bin, for those who linger; nil: nobody does
	tied  int       // bins whose events must be summed apart

	// By pattern. Where few rows are alike each place is its own pattern.
	first  []int32   // a row of it
	z      []float64 // scaled columns
	offset []float64 // nil: all 0

	zEvents      []float64 // weighted sum over events
	offsetEvents float64

	spare sync.Pool // of lists with a number for each pattern
}

// list has a number for each pattern, not yet set; done gives it back.
func (f *coxFast) list() []float64 {
	if x, ok := f.spare.Get().(*[]float64); ok {
		return *x
	}
	return make([]float64, f.patterns())
}

func (f *coxFast) done(x []float64) { f.spare.Put(&x) }

// rowList has a number for each place.
func (f *coxFast) rowList() []float64 {
	if f.patterns() == f.m.n {
		return f.list()
	}
	return make([]float64, f.m.n)
}

func (f *coxFast) rowsDone(x []float64) {
	if len(x) == f.patterns() {
		f.done(x)
	}
}

// rowPlace is the pattern of a row, its bin, and how it ended.
type rowPlace struct {
	pattern int32
	bin     uint32 // four times the bin, and the ending
}

// The endings of rows, in the order in which they stand in a bin.
const (
	endEvent     = iota
	endCompeting // which leaves the row at risk; see lingering
	endOther
	endings
)

// coxBin is the rows that end at one time: places lo to mid with the event,
// mid to out with a competing one, out to hi with neither.
type coxBin struct {
	lo, mid, out, hi int32
	stratum          int32
	tied             int32 // which of those whose events must be summed apart; -1: none
	weight           float64
}

// newCoxFast makes the patterns, from them the scales of the model's columns,
// and the order of the sweep.
func newCoxFast(m *coxModel) *coxFast {
	f := &coxFast{m: m, zEvents: make([]float64, m.p)}
	columns := append([][]float64(nil), m.data.X...)
	if len(m.data.Offset) > 0 {
		columns = append(columns, m.data.Offset)
	}
	if m.stratum != nil { // columns are centred by stratum
		s := make([]float64, m.n)
		for i, b := range m.stratum {
			s[i] = float64(b)
		}
		columns = append(columns, s)
	}
	of, t := patternsOf(columns, m.n)
	if of == nil {
		m.scaleColumns()
	}
	f.place(of)
	if of == nil {
		f.apart()
	} else {
		f.collapse(of, t)
	}
	for b := range f.bins {
		x := &f.bins[b]
		for k := x.lo; k < x.mid; k++ {
			x.weight += f.weight(k)
		}
		if n := x.mid - x.lo; m.ties == Efron && (n > 1 || n == 1 && !m.sampling && x.weight > 1) {
			x.tied = int32(f.tied)
			f.tied++
		}
	}
	return f
}

func (f *coxFast) weight(place int32) float64 {
	if f.w == nil {
		return 1
	}
	return f.w[place]
}

// collapse lets rows alike in every column share a pattern.
func (f *coxFast) collapse(of []int32, t *patternTable) {
	m, n, width := f.m, len(t.first), t.width
	f.first = t.first
	var counts [2][]float64 // of rows, and of events, by pattern
	both(m.n, func(half, lo, hi int) {
		c := make([]float64, 2*n)
		for i := lo; i < hi; i++ {
			w := m.weight(i)
			c[of[i]] += w
			if m.data.Event[i] {
				c[n+int(of[i])] += w
			}
		}
		counts[half] = c
	})
	for q, x := range counts[1] {
		counts[0][q] += x
	}
	all, events := counts[0][:n], counts[0][n:]
	var stratum []int32
	if m.stratum != nil {
		stratum = make([]int32, n)
		for q, i := range t.first {
			stratum[q] = m.stratum[i]
		}
	}
	m.beforeScaling()
	for j := range m.p {
		m.take(j, spreadOf(values{t.values[j:], width, all, stratum}, n, len(m.blocks)))
	}
	f.z = make([]float64, n*m.p)
	for q := range n {
		b := 0
		if stratum != nil {
			b = int(stratum[q])
		}
		mean, z := m.blocks[b].mean, f.z[q*m.p:(q+1)*m.p]
		for j, x := range t.values[q*width : q*width+m.p] {
			z[j] = (x - mean[j]) / m.scale[j]
			f.zEvents[j] += events[q] * z[j]
		}
	}
	if len(m.data.Offset) > 0 {
		f.offset = make([]float64, n)
		for q := range n {
			f.offset[q] = t.values[q*width+m.p] - m.shift
			f.offsetEvents += events[q] * f.offset[q]
		}
	}
}

// apart lets each place be a pattern of its own.
func (f *coxFast) apart() {
	m := f.m
	f.first = f.rows
	f.z = m.scaled(f.where)
	if len(m.data.Offset) > 0 {
		f.offset = make([]float64, m.n)
		for k, i := range f.rows {
			f.offset[k] = m.offset(int(i))
		}
	}
	for _, b := range f.bins {
		for k := b.lo; k < b.mid; k++ {
			w := f.weight(k)
			for j, x := range f.z[int(k)*m.p : (int(k)+1)*m.p] {
				f.zEvents[j] += w * x
			}
			if f.offset != nil {
				f.offsetEvents += w * f.offset[k]
			}
		}
	}
}

func (f *coxFast) patterns() int { return len(f.first) }

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

// risks is exp of the linear predictor of each pattern, in a list to be given
// back.
func (f *coxFast) risks(beta []float64) ([]float64, bool) {
	risk := f.list()
	var fine [2]bool
	both(len(risk), func(half, lo, hi int) {
		fine[half] = true
		p := f.m.p
		for k := lo; k < hi; k++ {
			eta := 0.0
			if f.offset != nil {
				eta = f.offset[k]
			}
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
// numbers a bin: over the rows that end in it or later, and over those with
// the event where these are needed apart.
func (f *coxFast) binSums(risk []float64) (all, dead []float64) {
	p := f.m.p
	all, dead = make([]float64, len(f.bins)*(p+1)), make([]float64, f.tied*(p+1))
	f.bothBins(func(_, lo, hi int) {
		for b := lo; b < hi; b++ {
			bin := &f.bins[b]
			s := all[b*(p+1) : (b+1)*(p+1)]
			f.addRows(s, risk, bin.mid, bin.hi)
			if bin.tied < 0 {
				f.addRows(s, risk, bin.lo, bin.mid)
				continue
			}
			d := dead[int(bin.tied)*(p+1) : (int(bin.tied)+1)*(p+1)]
			f.addRows(d, risk, bin.lo, bin.mid)
			for j, x := range d {
				s[j] += x
			}
		}
	})
	for b := 1; b < len(f.bins); b++ {
		if f.bins[b].stratum != f.bins[b-1].stratum {
			continue
		}
		before, s := all[(b-1)*(p+1):b*(p+1)], all[b*(p+1):(b+1)*(p+1)]
		for j, x := range before {
			s[j] += x
		}
	}
	if f.stays != nil {
		f.addLingering(all, risk)
	}
	return all, dead
}

// addRows adds the risk of some places, and the risk times each column, four
// columns at a time.
func (f *coxFast) addRows(to, risk []float64, lo, hi int32) {
	p := f.m.p
	code := f.code[lo:hi]
	sum := 0.0
	for k, q := range code {
		sum += risk[q] * f.weight(lo+int32(k))
	}
	to[0] += sum
	to = to[1:]
	j := 0
	for ; j+4 <= p; j += 4 {
		var a, b, c, d float64
		for k, q := range code {
			r := risk[q]
			if f.w != nil {
				r *= f.w[int(lo)+k]
			}
			z := f.z[int(q)*p+j : int(q)*p+j+4 : int(q)*p+j+4]
			a += r * z[0]
			b += r * z[1]
			c += r * z[2]
			d += r * z[3]
		}
		to[j] += a
		to[j+1] += b
		to[j+2] += c
		to[j+3] += d
	}
	for ; j < p; j++ {
		a := 0.0
		for k, q := range code {
			r := risk[q]
			if f.w != nil {
				r *= f.w[int(lo)+k]
			}
			a += r * f.z[int(q)*p+j]
		}
		to[j] += a
	}
}

// bothBins is both for bins, parted where half of the rows lie.
func (f *coxFast) bothBins(work func(half, lo, hi int)) {
	cut := 0
	for cut < len(f.bins) && int(f.bins[cut].hi) <= f.m.n/2 {
		cut++
	}
	var wait sync.WaitGroup
	wait.Go(func() { work(1, cut, len(f.bins)) })
	work(0, 0, cut)
	wait.Wait()
}
