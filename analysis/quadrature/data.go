package quadrature

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Family is what kind of outcome is explained.
type Family int

// The families.
const (
	// Logistic is an outcome of 0 or 1; its log odds are linear.
	Logistic Family = iota
	// Poisson is a count; the logarithm of its mean is linear.
	Poisson
	// Ordinal is a level from 0 up; the log odds of a level above each cut are
	// linear, with the same coefficients at every cut.
	Ordinal
)

var familyNames = [...]string{"logistic", "Poisson", "ordinal"}

func (f Family) String() string {
	if f < 0 || int(f) >= len(familyNames) {
		return fmt.Sprintf("Family(%d)", int(f))
	}
	return familyNames[f]
}

// Errors of Fit beside those of the regress package for the same columns.
var (
	// ErrInput reports data that do not fit together.
	ErrInput = errors.New("the data do not fit together")
	// ErrOneGroup reports that all rows are of one group.
	ErrOneGroup = errors.New("all rows are of one group")
	// ErrNoRepeats reports that no group has two rows, so that what groups
	// differ by cannot be told from what rows differ by.
	ErrNoRepeats = errors.New("no group has more than one row")
	// ErrNoneVaries reports that within each group all rows have the same
	// outcome: the variance of the groups' levels has no finite estimate.
	ErrNoneVaries = errors.New("no group has rows that differ in the outcome")
	// ErrRunsOff reports a variance that the likelihood lets grow without end.
	ErrRunsOff = errors.New("the variance has no finite estimate")
)

// Data are complete rows.
type Data struct {
	Y      []float64   // 0 or 1; a count; a level from 0 up
	Levels int         // Ordinal only: at least 2, and every level occurs
	X      [][]float64 // one slice per column, each as long as Y
	Names  []string    // one per column
	Group  []int       // numbers the group of each row; any numbers will do
	Offset []float64   // added to the linear predictor: of a count, the logarithm of the time at risk; nil: 0; not for Ordinal
}

// Options are the settings of Fit.
type Options struct {
	Level float64 // confidence level of the intervals; 0 means 0.95
	// Nodes of the quadrature, 1 being Laplace's approximation; 0 begins with
	// 11 and doubles them until the answer stays as it is.
	Nodes         int
	MaxIterations int // of each climb; 0 means 100
}

// item are the rows of one group that have the same columns, seen at one cut:
// n rows (or as much exposure) with the sum s of outcomes contribute
// s eta - n A(eta) to the log likelihood, A being log(1+e^eta) or e^eta.
type item struct {
	n, s, offset float64
	cut          int
	z            []float64
}

// class are groups whose rows are the same.
type class struct {
	lo, hi int // its items
	weight float64
	rows   int // of one of its groups
}

// problem is the data made ready: columns centred and scaled, rows gathered.
// The parameters are a constant for each cut, the coefficients of the scaled
// columns and the standard deviation of the groups' levels.
type problem struct {
	family        Family
	data          Data
	cuts, p, dim  int
	centre, scale []float64

	items   []item
	classes []class
	of      []int     // class of each group
	labels  []int     // label of each group, ascending
	gaps    []float64 // Ordinal: rows of each level that lies between two cuts
	fixed   float64   // what of the log likelihood does not depend on parameters

	mode, spread []float64 // by class: mode and scale of the integrand where last looked
	widest       int
}

func (d *Data) check(family Family) error {
	n := len(d.Y)
	switch {
	case n == 0:
		return stats.ErrNoRows
	case family < Logistic || family > Ordinal:
		return fmt.Errorf("%v: %w", family, ErrInput)
	case len(d.Group) != n || len(d.Names) != len(d.X) || d.Offset != nil && (len(d.Offset) != n || family == Ordinal):
		return fmt.Errorf("groups, names or offsets for %d rows: %w", n, ErrInput)
	}
	for j, c := range d.X {
		if len(c) != n {
			return fmt.Errorf("column %s has %d rows, not %d: %w", d.Names[j], len(c), n, ErrInput)
		}
		for _, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("column %s holds %g: %w", d.Names[j], v, ErrInput)
			}
		}
	}
	most := math.Inf(1)
	switch family {
	case Logistic:
		most = 1
	case Ordinal:
		most = float64(d.Levels - 1)
	}
	for i, y := range d.Y {
		if !(y >= 0 && y <= most) || y != math.Trunc(y) || math.IsInf(y, 0) {
			return fmt.Errorf("outcome %g: %w", y, ErrInput)
		}
		if d.Offset != nil && !(math.Abs(d.Offset[i]) < 700) {
			return fmt.Errorf("offset %g: %w", d.Offset[i], ErrInput)
		}
	}
	return d.repeats(family)
}

// repeats says whether the groups can tell a variance at all.
func (d *Data) repeats(family Family) error {
	first := map[int]float64{}
	several, varies := false, false
	for i, g := range d.Group {
		y, seen := first[g]
		if !seen {
			first[g] = d.Y[i]
			continue
		}
		several = true
		varies = varies || y != d.Y[i]
	}
	switch {
	case len(first) == 1:
		return ErrOneGroup
	case family == Poisson: // whose rows are spread as their mean says
		return nil
	case !several:
		return ErrNoRepeats
	case !varies:
		return ErrNoneVaries
	}
	return nil
}
