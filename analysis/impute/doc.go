// Package impute fills what is missing in a table several times over, by
// chained equations, and puts the answers from the completed tables together
// by Rubin's rules. It works on plain slices, opens no file and rounds
// nothing.
//
// What is missing must not depend on its own value once the other columns are
// known (missing at random). Nothing in the data can show that it does not.
package impute

import (
	"errors"
	"fmt"
	"math"
)

// Kind is what a column holds.
type Kind int

// The kinds of a column.
const (
	Number   Kind = iota
	Category      // filled by a logistic or multinomial model
)

// Column is a column of a table in which values may be missing.
type Column struct {
	Name string
	Kind Kind
	Num  []float64 // of a number; NaN where missing
	Cat  []int     // of a category, from 0; -1 where missing
	Cats int       // how many categories there are
}

func (c Column) len() int {
	if c.Kind == Category {
		return len(c.Cat)
	}
	return len(c.Num)
}

func (c Column) missing(i int) bool {
	if c.Kind == Category {
		return c.Cat[i] < 0
	}
	return math.IsNaN(c.Num[i])
}

// Options are the settings of an imputation. The zero value of a field is its
// default.
type Options struct {
	Sets   int // completed tables; 0: 20
	Cycles int // rounds through the columns for each; 0: 10
	Donors int // rows among which the value of a number is drawn; 0: 5
	Seed   uint64
}

// ErrNothingKnown reports a column without any value.
var ErrNothingKnown = errors.New("no value is known")

// ColumnError reports a column that cannot be filled.
type ColumnError struct {
	Column int
	Name   string
	Err    error
}

func (e *ColumnError) Error() string { return fmt.Sprintf("%s: %v", e.Name, e.Err) }

// Unwrap gives the reason.
func (e *ColumnError) Unwrap() error { return e.Err }
