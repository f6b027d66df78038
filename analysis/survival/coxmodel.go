package survival

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// coxModel is the data of a Cox regression made ready: checked, scaled and
// sorted.
type coxModel struct {
	n, p     int
	ties     Ties
	sampling bool
	data     CoxData
	terms    []Term
	events   float64 // weight of events

	z      []float64 // n by p, row by row: each column less its mean in the stratum, divided by scale
	scale  []float64
	offset []float64 // less the mean
	shift  float64   // mean of the offsets
	w      []float64
	from   []float64 // see riskFrom

	strata []int
	blocks []block // one per stratum

	fast      *coxFast   // nil where rows enter late or ties are discrete
	third     bool       // moments are kept up to the third
	lingering *lingering // rows that stay at risk after another ending; nil: none
}

// block is the rows of one stratum in the orders the sweep needs.
type block struct {
	byTime  []int     // by time, descending
	byEntry []int     // rows that entered late, by entry, descending
	mean    []float64 // of each column, unscaled
}

func newCoxModel(d CoxData, o CoxOptions) (*coxModel, error) {
	m := &coxModel{n: len(d.Time), p: len(d.X), ties: o.Ties, sampling: o.SamplingWeights, data: d}
	if err := m.check(o); err != nil {
		return nil, err
	}
	m.terms = d.Terms
	if m.terms == nil {
		for j, name := range d.Names {
			m.terms = append(m.terms, Term{name, []int{j}})
		}
	}
	m.w, m.from, m.offset = make([]float64, m.n), make([]float64, m.n), make([]float64, m.n)
	for i := range m.n {
		m.w[i] = d.weight(i)
		m.from[i] = riskFrom(d.entry(i))
		if d.Event[i] {
			m.events += m.w[i]
		}
		if len(d.Offset) > 0 {
			m.shift += d.Offset[i] / float64(m.n)
		}
	}
	if m.events == 0 {
		return nil, stats.ErrNoEvents
	}
	for i := range d.Offset {
		m.offset[i] = d.Offset[i] - m.shift
	}
	m.sortRows()
	m.scaleColumns()
	m.fast = newCoxFast(m)
	return m, nil
}

func (d CoxData) entry(i int) float64 {
	if len(d.Entry) == 0 {
		return 0
	}
	return d.Entry[i]
}

func (d CoxData) weight(i int) float64 {
	if len(d.Weight) == 0 {
		return 1
	}
	return d.Weight[i]
}

// maxRepeats limits a weight that counts equal rows: Efron's formula has a
// term for each of them.
const maxRepeats = 1e6

func (m *coxModel) check(o CoxOptions) error {
	d := m.data
	switch {
	case m.n == 0:
		return stats.ErrNoRows
	case m.p == 0:
		return errors.New("no columns to estimate")
	case o.Ties < Efron || o.Ties > Discrete:
		return fmt.Errorf("unknown treatment of ties %d", o.Ties)
	case o.MaxIterations < 0:
		return fmt.Errorf("%d iterations asked for", o.MaxIterations)
	case len(d.Names) != m.p:
		return fmt.Errorf("%d columns but %d names", m.p, len(d.Names))
	case len(d.Event) != m.n:
		return &RowError{-1, fmt.Sprintf("%d times but %d events", m.n, len(d.Event))}
	case len(d.Strata) != 0 && len(d.Strata) != m.n:
		return &RowError{-1, fmt.Sprintf("%d times but %d strata", m.n, len(d.Strata))}
	case len(d.Offset) != 0 && len(d.Offset) != m.n:
		return &RowError{-1, fmt.Sprintf("%d times but %d offsets", m.n, len(d.Offset))}
	case d.Cluster != nil && o.Ties == Discrete:
		return fmt.Errorf("errors grouped by cluster: %w", ErrNotDiscrete)
	}
	if err := checkLengths(m.n, len(d.Entry), len(d.Weight), len(d.Cluster)); err != nil {
		return err
	}
	for i := range m.n {
		if err := checkRow(i, d.entry(i), d.Time[i], d.weight(i)); err != nil {
			return err
		}
		if w := d.weight(i); o.Ties == Discrete && w != math.Trunc(w) {
			return &RowError{i, "with discrete ties a weight must be a whole number"}
		} else if !o.SamplingWeights && w > maxRepeats {
			return &RowError{i, "the weight stands for more than a million rows"}
		}
		if len(d.Offset) > 0 && !finite(d.Offset[i]) {
			return &RowError{i, "the offset is not a finite number"}
		}
	}
	for j, x := range d.X {
		if len(x) != m.n {
			return &RowError{-1, fmt.Sprintf("%d times but %d values of %s", m.n, len(x), d.Names[j])}
		}
		for i, v := range x {
			if !finite(v) {
				return &RowError{i, fmt.Sprintf("%s is not a finite number", d.Names[j])}
			}
		}
	}
	return checkTerms(d.Terms, m.p)
}

// checkTerms makes sure that every column belongs to exactly one term.
func checkTerms(terms []Term, p int) error {
	if terms == nil {
		return nil
	}
	seen := make([]int, p)
	for _, t := range terms {
		if len(t.Columns) == 0 {
			return fmt.Errorf("term %s has no columns", t.Name)
		}
		for _, j := range t.Columns {
			if j < 0 || j >= p {
				return fmt.Errorf("term %s: there is no column %d", t.Name, j)
			}
			seen[j]++
		}
	}
	for j, k := range seen {
		if k != 1 {
			return fmt.Errorf("column %d belongs to %d terms", j, k)
		}
	}
	return nil
}

func (m *coxModel) sortRows() {
	d := m.data
	rows, strata := rowsByStratum(d.Strata, m.n)
	m.strata = strata
	for _, s := range m.strata {
		b := block{byTime: rows[s]}
		for _, i := range rows[s] {
			if m.from[i] >= 0 {
				b.byEntry = append(b.byEntry, i)
			}
		}
		sortByTime(b.byTime, d.Time)
		reverseTies(b.byTime, d.Time)
		slices.SortStableFunc(b.byEntry, func(i, k int) int { return cmp.Compare(m.from[k], m.from[i]) })
		m.blocks = append(m.blocks, b)
	}
}

// scaleColumns takes the mean of its stratum from each column, which no
// comparison within strata can notice, and divides by the spread that is
// left, so that neither units nor origins cost digits.
func (m *coxModel) scaleColumns() {
	m.z = make([]float64, m.n*m.p)
	m.scale = make([]float64, m.p)
	for b := range m.blocks {
		m.blocks[b].mean = make([]float64, m.p)
	}
	natural := order(m.n) // columns are read faster as they stand
	total := 0.0
	for _, w := range m.w {
		total += w
	}
	for j, x := range m.data.X {
		sum, size := 0.0, 0.0
		for b := range m.blocks {
			rows := m.blocks[b].byTime
			if len(m.blocks) == 1 {
				rows = natural
			}
			mean := m.weightedMean(rows, x)
			m.blocks[b].mean[j] = mean
			for _, i := range rows {
				sum += m.w[i] * (x[i] - mean) * (x[i] - mean)
				size = math.Max(size, math.Abs(x[i]))
			}
		}
		m.scale[j] = math.Sqrt(sum / total)
		if m.scale[j] <= 1e-13*size || m.scale[j] == 0 {
			m.scale[j] = math.Inf(1) // it does not vary beyond rounding: found out by checkColumns
		}
	}
	for b := range m.blocks {
		rows, mean := m.blocks[b].byTime, m.blocks[b].mean
		if len(m.blocks) == 1 {
			rows = natural
		}
		for _, i := range rows {
			z := m.z[i*m.p : (i+1)*m.p]
			for j, x := range m.data.X {
				z[j] = (x[i] - mean[j]) / m.scale[j]
			}
		}
	}
	for j, s := range m.scale {
		if math.IsInf(s, 1) {
			m.scale[j] = 1
		}
	}
}

// weightedMean is the mean of x over some rows, made exact in a second pass.
func (m *coxModel) weightedMean(rows []int, x []float64) float64 {
	sum, w := 0.0, 0.0
	for _, i := range rows {
		w += m.w[i]
		sum += m.w[i] * x[i]
	}
	mean := sum / w
	rest := 0.0
	for _, i := range rows {
		rest += m.w[i] * (x[i] - mean)
	}
	return mean + rest/w
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
	r := make([]float64, m.n)
	for i := range r {
		eta := m.offset[i]
		for j, b := range beta {
			eta += b * m.z[i*m.p+j]
		}
		if !(math.Abs(eta) < 300) {
			return nil, false
		}
		r[i] = math.Exp(eta)
	}
	return r, true
}
