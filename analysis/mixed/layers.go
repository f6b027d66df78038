package mixed

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/internal/lsq"
)

// Errors of models with several groupings.
var (
	// ErrNotNested reports a group whose rows belong to several of the groups
	// above it.
	ErrNotNested = errors.New("one group lies in several of the groups above it")
	// ErrSameGrouping reports two groupings that part the rows alike, so that
	// what differs between the groups of one and of the other is the same.
	ErrSameGrouping = errors.New("two groupings part the rows alike")
	// ErrKindWithoutScatter reports a kind of rows whose residuals come out as
	// none beside those of another kind, which happens where few rows are of that
	// kind: what the model has beside passes through them, and their standard
	// deviation has no estimate above 0.
	ErrKindWithoutScatter = errors.New("the rows of one kind are so few that no scatter is left in them")
	// ErrOneLevel reports a grouping that all rows share.
	ErrOneLevel = errors.New("all rows belong to one group of a grouping")
)

// scatterless is how far the logarithm of the residual standard deviation of a
// kind may lie below that of another, a factor of a thousand, before it counts
// as running to 0.
const scatterless = 6.9

// Level is a further grouping of the rows with random effects of its own.
type Level struct {
	Name   string // what a group is, singular, for words: "person"
	Labels []int  // label of the group of each row; any numbers will do
	// Z holds columns on which the groups have slopes of their own, beside
	// the intercept that they always have. Only Data.Above takes them.
	Z      [][]float64
	ZNames []string
}

// layered says whether the model has more than one grouping or residuals of
// several sizes, and so takes the criterion of this file.
func (d *Data) layered() bool { return d.Above != nil || len(d.Crossed) > 0 || d.Spread != nil }

// layers is the model with several groupings made ready. The groups of
// problem p lie within those of above, if there are any; the levels of the
// crossed groupings are numbered one grouping after another.
type layers struct {
	p      *problem
	f      *lsq.Factor
	y      []float64
	base   float64 // constant of the criterion
	serial bool
	above  *problem // groupings above, nil for none: its z, shift, scale
	blocks []block
	cross  [][]int // number of each row's level in each crossed grouping
	first  []int   // number of the first level of each crossed grouping, and of all
	names  [][]int // labels of the levels of each crossed grouping
	spread []int   // number of each row's kind of residual; nil: all alike
	kinds  []int   // labels of the kinds
	kept   map[string]*reduced
	fold   []*folder // one for each lot of blocks; made when first needed

	// Rows that are counted; and what is added to the crossproduct of the fixed
	// effects, in a sample, which may lack a column.
	rows  int
	ridge float64

	evaluations int
}

// block is a set of rows that share random effects with no others but for the
// crossed ones: the groups of one group above, or one group.
type block struct {
	groups []int
	levels []int // crossed levels that its rows have, ascending
	place  []int // where in the top matrix the columns after the effects of the group above belong
}

func newLayers(p *problem, f *lsq.Factor, y []float64, size float64) (*layers, error) {
	d := p.data
	n := len(d.Y)
	m := &layers{p: p, f: f, y: y, rows: n, kept: map[string]*reduced{}, serial: p.opts.Correlation == ContinuousAR1}
	m.base = 2 * float64(n) * math.Log(size)
	if !p.opts.ML {
		m.base = 2*float64(n-f.P)*math.Log(size) + f.LogDet
	}
	if err := m.check(); err != nil {
		return nil, err
	}
	of := make([]int, p.count()) // block of each group
	for g := range of {
		of[g] = g
	}
	count := len(of)
	if d.Above != nil {
		o := p.opts
		m.above = &problem{data: Data{Y: d.Y, Group: d.Above.Labels, GroupName: d.Above.Name, Z: d.Above.Z, ZNames: d.Above.ZNames, RandomIntercept: true}, opts: o}
		m.above.grouping = newGrouping(d.Above.Labels)
		if err := m.above.random(); err != nil {
			return nil, fmt.Errorf("%s: %w", d.Above.Name, err)
		}
		owner := make([]int, n)
		for a := range m.above.count() {
			for _, i := range m.above.rowsOf(a) {
				owner[i] = a
			}
		}
		for g := range p.count() {
			rows := p.rowsOf(g)
			of[g] = owner[rows[0]]
			for _, i := range rows {
				if owner[i] != of[g] {
					return nil, fmt.Errorf("%s within %s: %w", d.GroupName, d.Above.Name, ErrNotNested)
				}
			}
		}
		count = m.above.count()
	}
	m.first = []int{0}
	if err := p.alike(f); err != nil {
		return nil, err
	}
	if m.above != nil {
		if err := m.above.alike(f); err != nil {
			return nil, err
		}
	}
	for _, c := range d.Crossed {
		g := newGrouping(c.Labels)
		if g.left(func(int) float64 { return 1 }, f.Q) < 1e-9 {
			return nil, fmt.Errorf("%s: %w", c.Name, ErrNoneAlike)
		}
		numbers, labels := numbered(c.Labels)
		m.cross, m.names = append(m.cross, numbers), append(m.names, labels)
		m.first = append(m.first, m.first[len(m.first)-1]+len(labels))
	}
	if d.Spread != nil {
		m.spread, m.kinds = numbered(d.Spread)
	}
	m.blocks = make([]block, count)
	for g, b := range of {
		m.blocks[b].groups = append(m.blocks[b].groups, g)
	}
	for b := range m.blocks {
		bl := &m.blocks[b]
		for _, g := range bl.groups {
			for _, i := range p.rowsOf(g) {
				for k, c := range m.cross {
					bl.levels = append(bl.levels, m.first[k]+c[i])
				}
			}
		}
		slices.Sort(bl.levels)
		bl.levels = slices.Compact(bl.levels)
		bl.place = slices.Clone(bl.levels)
		for j := range m.f.P + 1 {
			bl.place = append(bl.place, m.first[len(m.first)-1]+j)
		}
	}
	return m, nil
}

// check refuses groupings that cannot be told apart.
func (m *layers) check() error {
	d := m.p.data
	n := len(d.Y)
	type parting struct {
		name   string
		labels []int
	}
	var all []parting
	if len(m.p.z) > 0 {
		all = append(all, parting{d.GroupName, d.Group})
	}
	if d.Above != nil {
		all = append(all, parting{d.Above.Name, d.Above.Labels})
	}
	for _, c := range d.Crossed {
		if len(c.Z) > 0 {
			return fmt.Errorf("%s: slopes of a crossed grouping: %w", c.Name, ErrInput)
		}
		all = append(all, parting{c.Name, c.Labels})
	}
	for k, a := range all {
		if len(a.labels) != n {
			return fmt.Errorf("%s: %d labels for %d rows: %w", a.name, len(a.labels), n, ErrInput)
		}
		numbers, labels := numbered(a.labels)
		switch {
		case len(labels) == 1:
			return fmt.Errorf("%s: %w", a.name, ErrOneLevel)
		case len(labels) == n:
			return fmt.Errorf("%s: %w", a.name, ErrNotSeparable)
		}
		for _, b := range all[:k] {
			if other, names := numbered(b.labels); len(names) == len(labels) && alike(numbers, other, len(names)) {
				return fmt.Errorf("%s and %s: %w", b.name, a.name, ErrSameGrouping)
			}
		}
	}
	if d.Spread != nil {
		if len(d.Spread) != n {
			return fmt.Errorf("%d kinds of residual for %d rows: %w", len(d.Spread), n, ErrInput)
		}
		if _, labels := numbered(d.Spread); len(labels) == 1 {
			return fmt.Errorf("residuals: %w", ErrOneLevel)
		}
	}
	return nil
}

// numbered gives labels the numbers of their ascending order.
func numbered(labels []int) (numbers, order []int) {
	order = slices.Clone(labels)
	slices.Sort(order)
	order = slices.Compact(order)
	at := make(map[int]int, len(order))
	for k, l := range order {
		at[l] = k
	}
	numbers = make([]int, len(labels))
	for i, l := range labels {
		numbers[i] = at[l]
	}
	return numbers, order
}

// alike says whether two numberings with k numbers part the rows alike.
func alike(a, b []int, k int) bool {
	to := make([]int, k)
	for i := range to {
		to[i] = -1
	}
	for i, v := range a {
		if to[v] >= 0 && to[v] != b[i] {
			return false
		}
		to[v] = b[i]
	}
	return true
}

// shape of a point: the theta of the groups, of the groups above, one relative
// standard deviation for each crossed grouping, the log range, and the log of
// the residual standard deviation of each further kind against the first's.
func (m *layers) counts() (inner, above, crossed, ranges, kinds int) {
	size := func(q int) int {
		if m.p.opts.Uncorrelated {
			return q
		}
		return q * (q + 1) / 2
	}
	inner = size(len(m.p.z))
	if m.above != nil {
		above = size(len(m.above.z))
	}
	if m.serial {
		ranges = 1
	}
	return inner, above, len(m.cross), ranges, max(0, len(m.kinds)-1)
}

// lambdas spreads a point over the relative covariance factors.
func (m *layers) lambdas(t []float64) (inner, above [][]float64, crossed []float64) {
	a, b, c, _, _ := m.counts()
	inner = spreadOut(t[:a], len(m.p.z), m.p.opts.Uncorrelated)
	if m.above != nil {
		above = spreadOut(t[a:a+b], len(m.above.z), m.p.opts.Uncorrelated)
	}
	return inner, above, t[a+b : a+b+c]
}

// spreadOut makes the lower triangle of theta.
func spreadOut(theta []float64, q int, diagonal bool) [][]float64 {
	c := criterion{q: q, diagonal: diagonal}
	return c.lambda(theta)
}

// residual is the part of a point that is about residuals: the log range, and
// the log relative standard deviations of all kinds, that of the first 0.
func (m *layers) residual(t []float64) (logRange float64, logs []float64) {
	a, b, c, d, _ := m.counts()
	at := a + b + c
	if d > 0 {
		logRange = t[at]
	}
	if len(m.kinds) > 0 {
		logs = append([]float64{0}, t[at+d:]...)
	}
	return logRange, logs
}
