package survival

import (
	"cmp"
	"math"
	"slices"
	"sync"
)

// coxRows is what a coxModel makes of every row. A fit by patterns does
// without; what is asked of it afterwards row by row, such as residuals, does
// not.
type coxRows struct {
	once    sync.Once
	z       []float64 // n by p, row by row: each column less its mean in the stratum, divided by scale
	byTime  [][]int   // by stratum: rows by time, descending
	byEntry [][]int   // by stratum: rows that entered late, by entry, descending

	grouping sync.Once
	cluster  []int32 // of each row, from 0
	clusters int
}

// clusters numbers the clusters from 0, says which each row has, and how many
// there are.
func (m *coxModel) clusters() (of []int32, count int) {
	r := m.rows
	r.grouping.Do(func() { r.cluster, r.clusters, _ = numberClusters(m.data.Cluster, m.n) })
	return r.cluster, r.clusters
}

func (m *coxModel) full() *coxRows {
	m.rows.once.Do(func() {
		m.rows.z = m.scaled(nil)
		m.rows.byTime, m.rows.byEntry = m.sortedRows()
	})
	return m.rows
}

// sortedRows lists the rows of each stratum in the orders that the sweep needs.
func (m *coxModel) sortedRows() (byTime, byEntry [][]int) {
	d := m.data
	byTime, byEntry = make([][]int, len(m.blocks)), make([][]int, len(m.blocks))
	if m.stratum == nil {
		byTime[0] = order(m.n)
	}
	for i, s := range m.stratum {
		byTime[s] = append(byTime[s], i)
	}
	for b, rows := range byTime {
		for _, i := range rows {
			if m.from(i) >= 0 {
				byEntry[b] = append(byEntry[b], i)
			}
		}
		sortByTime(rows, d.Time)
		reverseTies(rows, d.Time)
		slices.SortStableFunc(byEntry[b], func(i, k int) int { return cmp.Compare(m.from(k), m.from(i)) })
	}
	return byTime, byEntry
}

// spread is the weighted mean of one column in each stratum, and how far it
// strays from it, over items that stand for equal rows.
type spread struct {
	mean []float64 // by stratum
	span float64   // of the column less its means
	size float64   // of its largest value
	rms  float64
}

// values are numbers that stand a stride apart, how many rows each stands for
// (nil: one) and to which stratum it belongs (nil: there is one).
type values struct {
	x       []float64
	stride  int
	weight  []float64
	stratum []int32
}

// spreadOf goes over n of the values. So that no digits are lost they are taken
// less the first of their stratum.
func spreadOf(v values, n, strata int) spread {
	type sum struct {
		first, weight, sum, square, lo, hi float64
		met                                bool
	}
	sums := make([]sum, strata)
	s := spread{mean: make([]float64, strata)}
	t := &sums[0]
	w := 1.0
	for k, i := 0, 0; k < n; k, i = k+1, i+v.stride {
		x := v.x[i]
		if v.stratum != nil {
			t = &sums[v.stratum[k]]
		}
		if v.weight != nil {
			w = v.weight[k]
		}
		if !t.met {
			t.first, t.met = x, true
		}
		s.size = max(s.size, math.Abs(x))
		x -= t.first
		t.weight += w
		t.sum += w * x
		t.square += w * x * x
		t.lo, t.hi = min(t.lo, x), max(t.hi, x)
	}
	total, square, lo, hi := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	for b := range sums {
		t := &sums[b]
		mean := t.sum / t.weight
		s.mean[b] = t.first + mean
		total += t.weight
		square += max(0, t.square-mean*t.sum)
		lo, hi = min(lo, t.lo-mean), max(hi, t.hi-mean)
	}
	s.span, s.rms = hi-lo, math.Sqrt(square/total)
	return s
}

// take makes the spread of column j the model's. The mean of its stratum is
// taken from each column, which no comparison within strata can notice, and
// what is left is divided by its spread, so that neither units nor origins
// cost digits.
func (m *coxModel) take(j int, s spread) {
	for b, mean := range s.mean {
		m.blocks[b].mean[j] = mean
	}
	m.scale[j] = s.rms
	if s.rms <= 1e-13*s.size || s.rms == 0 {
		m.scale[j] = math.Inf(1) // it does not vary beyond rounding: found out by checkColumns
	}
	m.span[j] = s.span / m.scale[j]
}

func (m *coxModel) beforeScaling() {
	m.scale, m.span = make([]float64, m.p), make([]float64, m.p)
	for b := range m.blocks {
		m.blocks[b].mean = make([]float64, m.p)
	}
}

// scaleColumns finds means and scales from the rows.
func (m *coxModel) scaleColumns() {
	m.beforeScaling()
	weight := m.data.Weight
	if len(weight) == 0 {
		weight = nil
	}
	spreads := make([]spread, m.p)
	both(m.p, func(_, lo, hi int) {
		for j := lo; j < hi; j++ {
			spreads[j] = spreadOf(values{m.data.X[j], 1, weight, m.stratum}, m.n, len(m.blocks))
		}
	})
	for j, s := range spreads {
		m.take(j, s)
	}
}

// scaled are the scaled columns row by row, or where at is given in the order
// of the patterns, of which each row has its own.
func (m *coxModel) scaled(at []rowPlace) []float64 {
	z, scale := make([]float64, m.n*m.p), make([]float64, m.p)
	for j, s := range m.scale {
		scale[j] = 1 / s
	}
	both(m.n, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			k := i
			if at != nil {
				k = int(at[i].pattern)
			}
			mean, to := m.blocks[m.blockOf(i)].mean, z[k*m.p:(k+1)*m.p]
			for j, x := range m.data.X {
				to[j] = (x[i] - mean[j]) * scale[j]
			}
		}
	})
	return z
}

// unscaled turns a covariance of scaled coefficients into one of the
// columns as given.
func (m *coxModel) unscaled(v [][]float64) [][]float64 {
	out := square(m.p)
	for i := range v {
		for j := range v {
			out[i][j] = v[i][j] / (m.scale[i] * m.scale[j])
		}
	}
	return out
}

// risks is exp of the linear predictor of each row; not ok where it cannot
// be held in a number.
func (m *coxModel) risks(beta []float64) ([]float64, bool) {
	r, z := make([]float64, m.n), m.full().z
	for i := range r {
		eta := m.offset(i)
		for j, b := range beta {
			eta += b * z[i*m.p+j]
		}
		if !(math.Abs(eta) < 300) {
			return nil, false
		}
		r[i] = math.Exp(eta)
	}
	return r, true
}
