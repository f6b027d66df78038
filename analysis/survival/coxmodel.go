package survival

import (
	"errors"
	"fmt"
	"math"

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

	scale []float64 // what the columns are divided by
	span  []float64 // range of each scaled column
	shift float64   // mean of the offsets, which is taken away

	strata  []int
	stratum []int32 // of each row; nil: there is one
	blocks  []block // one per stratum

	rows      *coxRows   // what is made of each row, once somebody asks
	fast      *coxFast   // nil where rows enter late or ties are discrete
	third     bool       // moments are kept up to the third
	lingering *lingering // rows that stay at risk after another ending; nil: none
}

// block is what is known of a stratum.
type block struct {
	mean []float64 // of each column, unscaled
}

func newCoxModel(d CoxData, o CoxOptions) (*coxModel, error) {
	m := &coxModel{n: len(d.Time), p: len(d.X), ties: o.Ties, sampling: o.SamplingWeights, data: d, rows: &coxRows{}}
	if err := m.check(o); err != nil {
		return nil, err
	}
	m.terms = d.Terms
	if m.terms == nil {
		for j, name := range d.Names {
			m.terms = append(m.terms, Term{name, []int{j}})
		}
	}
	late := false
	for i := range d.Entry {
		late = late || d.Entry[i] > 0
	}
	for i, e := range d.Event {
		if e {
			m.events += d.weight(i)
		}
	}
	if m.events == 0 {
		return nil, stats.ErrNoEvents
	}
	for _, x := range d.Offset {
		m.shift += x / float64(m.n)
	}
	m.stratum, m.strata = codes(d.Strata)
	m.blocks = make([]block, len(m.strata))
	if !late && !o.rowwise && o.Ties != Discrete && m.n <= maxFast {
		m.fast = newCoxFast(m)
	} else {
		m.scaleColumns()
	}
	return m, nil
}

// weight, offset and from are those of a row; see riskFrom.
func (m *coxModel) weight(i int) float64 {
	if len(m.data.Weight) == 0 {
		return 1
	}
	return m.data.Weight[i]
}

func (m *coxModel) offset(i int) float64 {
	if len(m.data.Offset) == 0 {
		return 0
	}
	return m.data.Offset[i] - m.shift
}

func (m *coxModel) from(i int) float64 {
	if len(m.data.Entry) == 0 {
		return -1
	}
	return riskFrom(m.data.Entry[i])
}

// block of a row, as an index into blocks.
func (m *coxModel) blockOf(i int) int {
	if m.stratum == nil {
		return 0
	}
	return int(m.stratum[i])
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
	for j, x := range d.X {
		if len(x) != m.n {
			return &RowError{-1, fmt.Sprintf("%d times but %d values of %s", m.n, len(x), d.Names[j])}
		}
	}
	var faults [2]*RowError
	both(m.n, func(half, lo, hi int) { faults[half] = m.checkRows(o, lo, hi) })
	for _, fault := range faults {
		if fault != nil {
			return fault
		}
	}
	return checkTerms(d.Terms, m.p)
}

// checkRows is the first fault of the rows from lo to hi.
func (m *coxModel) checkRows(o CoxOptions, lo, hi int) *RowError {
	d := m.data
	for i := lo; i < hi; i++ {
		w := m.weight(i)
		if err := checkRow(i, d.entry(i), d.Time[i], w); err != nil {
			return err
		}
		if o.Ties == Discrete && w != math.Trunc(w) {
			return &RowError{i, "with discrete ties a weight must be a whole number"}
		} else if !o.SamplingWeights && w > maxRepeats {
			return &RowError{i, "the weight stands for more than a million rows"}
		}
		if len(d.Offset) > 0 && !finite(d.Offset[i]) {
			return &RowError{i, "the offset is not a finite number"}
		}
	}
	first, column := hi, 0
	for j, x := range d.X {
		for i, v := range x[lo:first] {
			if v-v != 0 { // neither a number nor finite
				first, column = lo+i, j
				break
			}
		}
	}
	if first < hi {
		return &RowError{first, fmt.Sprintf("%s is not a finite number", d.Names[column])}
	}
	return nil
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
