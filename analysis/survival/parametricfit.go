package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// parametricModel is the data of a parametric regression made ready: checked,
// columns less their means and divided by their spreads, times as logarithms
// less their mean. The parameters are b/s, the constant first, and 1/s last
// unless it is fixed: in them z = y/s - x'b/s is linear.
type parametricModel struct {
	law   law
	dist  Distribution
	fixed bool // s is 1
	n, p  int
	data  ParametricData

	x           []float64 // n by p+1, row by row, 1 first
	mean, scale []float64 // of the columns
	centre      float64   // of the log times
	entry       []float64 // log times less the centre; -Inf: not late
	left, right []float64 // the same; left -Inf: any time up to right; right +Inf: not seen
	exact       []float64 // log time of an event known to the day, not centred; NaN else
	w           []float64

	events float64
	zeros  int
	last   float64
}

func newParametricModel(d ParametricData, o ParametricOptions) (*parametricModel, error) {
	m := &parametricModel{law: o.Distribution.law(0), dist: o.Distribution, fixed: o.Distribution.FixedScale(), n: len(d.Left), p: len(d.X), data: d}
	if err := m.check(o); err != nil {
		return nil, err
	}
	total := 0.0
	typical := make([]float64, m.n)
	for i := range m.n {
		l, r, e := d.Left[i], d.Right[i], d.entry(i)
		w := d.weight(i)
		if l == 0 && (r == 0 || math.IsInf(r, 1)) {
			m.zeros++
			l = o.Zero
			r = math.Max(r, o.Zero)
		}
		late := math.Inf(-1)
		if e > 0 {
			late = math.Log(e)
		}
		known := math.NaN()
		switch {
		case l == r:
			known = math.Log(l)
			typical[i] = known
		case l == 0:
			typical[i] = math.Log(r / 2)
		case math.IsInf(r, 1):
			typical[i] = math.Log(l)
		default:
			typical[i] = (math.Log(l) + math.Log(r)) / 2
		}
		if !math.IsInf(r, 1) {
			m.events += w
			m.last = math.Max(m.last, r)
		}
		m.last = math.Max(m.last, l)
		m.entry, m.left, m.right = append(m.entry, late), append(m.left, math.Log(l)), append(m.right, math.Log(r))
		m.exact, m.w = append(m.exact, known), append(m.w, w)
		total += w
		m.centre += w / total * (typical[i] - m.centre)
	}
	if m.events == 0 {
		return nil, stats.ErrNoEvents
	}
	for i := range m.n {
		m.entry[i] -= m.centre
		m.left[i] -= m.centre
		m.right[i] -= m.centre
	}
	m.scaleColumns(total)
	return m, nil
}

func (d ParametricData) entry(i int) float64 {
	if len(d.Entry) == 0 {
		return 0
	}
	return d.Entry[i]
}

func (d ParametricData) weight(i int) float64 {
	if len(d.Weight) == 0 {
		return 1
	}
	return d.Weight[i]
}

func (m *parametricModel) check(o ParametricOptions) error {
	d := m.data
	switch {
	case o.Distribution < WeibullLife || o.Distribution > GeneralisedGammaLife:
		return fmt.Errorf("there is no distribution %d", int(o.Distribution))
	case o.MaxIterations < 0:
		return fmt.Errorf("%d iterations asked for", o.MaxIterations)
	case !(o.Zero > 0) || !finite(o.Zero):
		return fmt.Errorf("a life of 0 cannot enter at %g", o.Zero)
	case m.n == 0:
		return stats.ErrNoRows
	case len(d.Right) != m.n:
		return &RowError{-1, fmt.Sprintf("%d left ends but %d right ends", m.n, len(d.Right))}
	case len(d.Names) != m.p:
		return fmt.Errorf("%d columns but %d names", m.p, len(d.Names))
	}
	if err := checkLengths(m.n, len(d.Entry), len(d.Weight), len(d.Cluster)); err != nil {
		return err
	}
	for i := range m.n {
		if err := checkInterval(i, d.entry(i), d.Left[i], d.Right[i], d.weight(i)); err != nil {
			return err
		}
	}
	for j, x := range d.X {
		if len(x) != m.n {
			return &RowError{-1, fmt.Sprintf("%d rows but %d values of %s", m.n, len(x), d.Names[j])}
		}
		for i, v := range x {
			if !finite(v) {
				return &RowError{i, fmt.Sprintf("%s is not a finite number", d.Names[j])}
			}
		}
	}
	return nil
}

func checkInterval(i int, entry, left, right, weight float64) error {
	switch {
	case !finite(entry) || !finite(left) || math.IsNaN(right):
		return &RowError{i, "the time is not a finite number"}
	case entry < 0 || left < 0:
		return &RowError{i, "the time is below 0"}
	case right < left:
		return &RowError{i, "the event lies before it was last not there"}
	case left < entry:
		return &RowError{i, "the row ends before it enters"}
	case entry > 0 && left == entry && (right == left || math.IsInf(right, 1)):
		return &RowError{i, "the row ends at the moment it enters, so it was never at risk"}
	case !finite(weight) || weight <= 0:
		return &RowError{i, "the weight is not above 0"}
	}
	return nil
}

func (m *parametricModel) scaleColumns(total float64) {
	k := m.p + 1
	m.x = make([]float64, m.n*k)
	for i := range m.n {
		m.x[i*k] = 1
	}
	for j, x := range m.data.X {
		mean, size := 0.0, 0.0
		for i, v := range x {
			mean += m.w[i] / total * v
			size = math.Max(size, math.Abs(v))
		}
		spread := 0.0
		for i, v := range x {
			spread += m.w[i] / total * (v - mean) * (v - mean)
		}
		spread = math.Sqrt(spread)
		if spread <= 1e-13*size {
			spread = 0 // it does not vary beyond rounding: found by checkColumns
		}
		m.mean, m.scale = append(m.mean, mean), append(m.scale, spread)
		for i, v := range x {
			if spread > 0 {
				m.x[i*k+j+1] = (v - mean) / spread
			}
		}
	}
}

// checkColumns finds columns that never vary or repeat others.
func (m *parametricModel) checkColumns() error {
	for j, s := range m.scale {
		if s == 0 {
			return &ColumnsError{Columns: []int{j}, Names: []string{m.data.Names[j]}, Constant: true, Everywhere: true}
		}
	}
	gram := square(m.p)
	k := m.p + 1
	for i := range m.n {
		for a := range m.p {
			for b := range m.p {
				gram[a][b] += m.w[i] * m.x[i*k+a+1] * m.x[i*k+b+1]
			}
		}
	}
	return repeatedColumns(gram, m.data.Names)
}

// without is the model without columns.
func (m *parametricModel) without() *parametricModel {
	out := *m
	out.p, out.mean, out.scale = 0, nil, nil
	out.x = make([]float64, m.n)
	for i := range out.x {
		out.x[i] = 1
	}
	return &out
}

// size is the number of parameters.
func (m *parametricModel) size() int {
	if m.fixed {
		return m.p + 1
	}
	return m.p + 2
}

// start is where the model without columns starts: the middle and the spread
// of the times, censored or not.
func (m *parametricModel) start() []float64 {
	if m.fixed {
		// The rate of events, as if what lies in intervals fell on their end.
		sum := 0.0
		for i := range m.n {
			t := math.Exp(m.left[i])
			if !math.IsInf(m.right[i], 1) {
				t = math.Exp(m.right[i])
			}
			sum += m.w[i] * math.Max(t-math.Exp(m.entry[i]), 1e-9*t)
		}
		return []float64{math.Log(sum / m.events)}
	}
	total, mean, spread := 0.0, 0.0, 0.0
	for i := range m.n {
		y := m.left[i]
		if math.IsInf(y, -1) {
			y = m.right[i] - math.Ln2
		}
		total += m.w[i]
		d := y - mean
		mean += m.w[i] / total * d
		spread += m.w[i] * d * (y - mean)
	}
	s := math.Max(math.Sqrt(spread/total), 0.1)
	return []float64{mean / s, 1 / s}
}

// from is where the model starts: at the fit without columns, which is
// already of the right size.
func (m *parametricModel) from(null []float64) []float64 {
	out := make([]float64, m.size())
	out[0] = null[0]
	if !m.fixed {
		out[m.p+1] = null[1]
	}
	return out
}

// result turns the parameters back to those of the data as given. The
// observed information of b and log s follows from that of b/s and 1/s by
// the chain rule, exactly, because the score is 0. cov is the inverse
// information of the parameters, of the shape too where there is one.
func (m *parametricModel) result(at []float64, cov [][]float64) *Parametric {
	f := &Parametric{Distribution: m.dist, Names: m.data.Names, Rows: m.n, Events: m.events, Zeros: m.zeros, LastTime: m.last,
		Scale: 1, Parameters: len(cov), data: m.data}
	if g, ok := m.law.(*gammaLaw); ok {
		f.Shape = g.q
	}
	for i := range m.n {
		switch {
		case !math.IsNaN(m.exact[i]):
			f.Exact++
		case !math.IsInf(m.right[i], 1):
			f.Intervals++
		}
		if !math.IsInf(m.entry[i], -1) {
			f.Late++
		}
	}
	k, size, all := m.p+1, m.size(), len(cov)
	slope := 1.0 // 1/s
	if !m.fixed {
		slope = at[size-1]
		f.Scale, f.LogScale = 1/slope, -math.Log(slope)
	}
	b := make([]float64, k) // of the scaled columns
	for j := range b {
		b[j] = at[j] / slope
	}
	f.Coef = make([]float64, k)
	f.Coef[0] = m.centre + b[0]
	for j := range m.p {
		f.Coef[j+1] = b[j+1] / m.scale[j]
		f.Coef[0] -= f.Coef[j+1] * m.mean[j]
	}
	// g is the derivative of what is reported by the parameters.
	g := square(all)
	row := func(to, from int, factor float64) {
		g[to][from] += factor / slope
		if !m.fixed {
			g[to][size-1] -= factor * b[from] / slope
		}
	}
	row(0, 0, 1)
	for j := range m.p {
		row(j+1, j+1, 1/m.scale[j])
		row(0, j+1, -m.mean[j]/m.scale[j])
	}
	if !m.fixed {
		g[size-1][size-1] = -1 / slope
	}
	if all > size { // the shape stays as it is
		g[size][size] = 1
	}
	f.Var = around(g, cov)
	if len(m.data.Cluster) > 0 {
		of, count, _ := numberClusters(m.data.Cluster, m.n)
		f.Clusters = count
		f.Robust = around(g, around(cov, m.scoreProducts(at, of, count)))
	}
	return f
}

// around is a b a'.
func around(a, b [][]float64) [][]float64 {
	n := len(a)
	half, out := square(n), square(n)
	for i := range n {
		for j := range n {
			for k := range n {
				half[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	for i := range n {
		for j := range n {
			for k := range n {
				out[i][j] += half[i][k] * a[j][k]
			}
		}
	}
	return out
}
