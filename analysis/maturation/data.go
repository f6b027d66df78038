package maturation

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// Errors of this package beside those of packages mixed and stats.
var (
	// ErrInput reports lengths that differ, values that are not finite,
	// options that contradict or a limb that there is not.
	ErrInput = lsq.ErrInput
	// ErrOneTime reports that no limb was measured at two times.
	ErrOneTime = errors.New("no limb was measured at two different times, so that nothing shows how volume changes")
	// ErrTimes reports fewer than four different times, over which a curve
	// with a plateau, a drop and a rate leaves nothing to test it.
	ErrTimes = errors.New("fewer than 4 different times, too few for a curve that levels off")
	// ErrNoPlateau reports a rate so small that the curves are straight over
	// the time seen.
	ErrNoPlateau = errors.New("over the time seen the volumes do not level off, so that no plateau can be told")
	// ErrNoChange reports that the volumes have no trend that ends: a rate
	// so large that all is over before the second time, or no drop at all.
	ErrNoChange = errors.New("over the time seen the volumes show no settling: the change is over before the earliest times, or there is none")
	// ErrVaries reports a covariate that changes within a limb.
	ErrVaries = errors.New("changes within a limb, and so cannot explain its plateau")
	// ErrNegativeTime reports a time before amputation.
	ErrNegativeTime = errors.New("a time lies before the amputation")
)

// Form is how the volume at amputation is told.
type Form int

// The forms: as a share of the plateau that is still to be lost, or as a
// volume in its own right.
const (
	Share Form = iota
	Initial
)

// Data is the data of the model. Rows must be complete; their order does not
// matter.
type Data struct {
	Y     []float64   // volumes
	Time  []float64   // since amputation, any unit, not negative
	X     [][]float64 // covariates of the plateau, one slice a column; constant within a limb
	Names []string    // one per column of X
	Group []int       // label of the limb of each row
	// GroupName is what a group is, for words; empty: "limb".
	GroupName string
}

// Options are the settings of Fit. The plateau always differs between limbs.
type Options struct {
	Form Form
	// VaryInitial and VaryRate let limbs differ in the drop (or the volume at
	// amputation) and in the logarithm of the rate too.
	VaryInitial, VaryRate bool
	Level                 float64 // confidence level of the intervals; 0 means 0.95
}

// problem is the data made ready.
type problem struct {
	data   Data
	opts   Options
	labels []int
	rows   [][]int // of each limb, in order of time
	p      int     // coefficients: plateau and its covariates, initial, log rate
	vary   []int   // which of plateau 0, initial 1, log rate 2 differ between limbs
	gap    float64 // shortest time from one time of a limb to its next
	span   float64 // latest time less earliest
	last   float64 // latest time
}

func prepare(d Data, o Options) (*problem, error) {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if d.GroupName == "" {
		d.GroupName = "limb"
	}
	n := len(d.Y)
	switch {
	case !(o.Level > 0 && o.Level < 1):
		return nil, fmt.Errorf("confidence level %g: %w", o.Level, ErrInput)
	case o.Form != Share && o.Form != Initial:
		return nil, fmt.Errorf("form %d is not known: %w", o.Form, ErrInput)
	case n == 0:
		return nil, stats.ErrNoRows
	case len(d.Time) != n || len(d.Group) != n:
		return nil, fmt.Errorf("%d volumes, %d times, %d limbs: %w", n, len(d.Time), len(d.Group), ErrInput)
	case len(d.X) != len(d.Names):
		return nil, fmt.Errorf("%d names for %d columns: %w", len(d.Names), len(d.X), ErrInput)
	}
	for _, v := range append([][]float64{d.Y, d.Time}, d.X...) {
		if len(v) != n {
			return nil, fmt.Errorf("a column has %d of %d rows: %w", len(v), n, ErrInput)
		}
		for _, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, fmt.Errorf("a value is not finite: %w", ErrInput)
			}
		}
	}
	same := true
	for _, y := range d.Y {
		same = same && y == d.Y[0]
	}
	if same && n > 1 {
		return nil, fmt.Errorf("all %d are %g: %w", n, d.Y[0], ErrNoChange)
	}
	p := &problem{data: d, opts: o, p: len(d.X) + 3, vary: []int{0}}
	if o.VaryInitial {
		p.vary = append(p.vary, 1)
	}
	if o.VaryRate {
		p.vary = append(p.vary, 2)
	}
	return p, p.group()
}

func (p *problem) group() error {
	d := p.data
	number := map[int]int{}
	times := map[float64]bool{}
	first := math.Inf(1)
	for i, g := range d.Group {
		if _, ok := number[g]; !ok {
			number[g] = 0
			p.labels = append(p.labels, g)
		}
		if d.Time[i] < 0 {
			return ErrNegativeTime
		}
		times[d.Time[i]] = true
		first, p.last = math.Min(first, d.Time[i]), math.Max(p.last, d.Time[i])
	}
	p.span = p.last - first
	sort.Ints(p.labels)
	for i, g := range p.labels {
		number[g] = i
	}
	p.rows = make([][]int, len(p.labels))
	for i, g := range d.Group {
		p.rows[number[g]] = append(p.rows[number[g]], i)
	}
	p.gap = math.Inf(1)
	for _, rows := range p.rows {
		sort.SliceStable(rows, func(a, b int) bool { return d.Time[rows[a]] < d.Time[rows[b]] })
		for k, i := range rows {
			if k > 0 && d.Time[i] > d.Time[rows[k-1]] {
				p.gap = math.Min(p.gap, d.Time[i]-d.Time[rows[k-1]])
			}
			for j, x := range d.X {
				if x[i] != x[rows[0]] {
					return fmt.Errorf("%s %w", d.Names[j], ErrVaries)
				}
			}
		}
	}
	switch {
	case math.IsInf(p.gap, 1):
		return ErrOneTime
	case len(times) < 4:
		return ErrTimes
	}
	return nil
}

// names of the coefficients.
func (p *problem) names() []string {
	out := append([]string{"plateau"}, p.data.Names...)
	return append(out, p.initialName(), "log_rate")
}

func (p *problem) initialName() string {
	if p.opts.Form == Initial {
		return "initial"
	}
	return "drop"
}

func (p *problem) varyName(k int) string {
	return []string{"plateau", p.initialName(), "log_rate"}[k]
}

// curve holds the three numbers of a curve: plateau, drop or volume at
// amputation, log rate.
type curve [3]float64

// value is the volume at time t and its slopes in the three numbers.
func (f Form) value(c curve, t float64) (v float64, slope [3]float64) {
	r := math.Exp(c[2])
	e := math.Exp(-r * t)
	if f == Initial {
		return c[0] + (c[1]-c[0])*e, [3]float64{1 - e, e, -(c[1] - c[0]) * e * r * t}
	}
	return c[0] * (1 + c[1]*e), [3]float64{1 + c[1]*e, c[0] * e, -c[0] * c[1] * e * r * t}
}
