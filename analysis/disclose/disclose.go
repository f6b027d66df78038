// Package disclose makes a table of people coarser until nobody stands alone
// in it: every combination of what an outsider may know is shared by k
// persons at least.
//
// All ways of making the columns coarser are weighed, and that is taken which
// loses least of what the columns tell (by entropy, weighted), whoever is left
// in a rare combination being counted as told nothing of. Of these single
// values are then withheld, and who is rare even so is left out.
//
// Sweeney L. k-anonymity: a model for protecting privacy. Int J Uncertain
// Fuzziness Knowl Based Syst 2002; 10: 557-570.
// de Waal AG, Willenborg LCRJ. Information loss through global recoding and
// local suppression. Neth Off Stat 1999; 14: 17-20.
package disclose

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"
)

// Withheld stands in the place of a value that is not told.
const Withheld = "withheld"

// Errors of Protect.
var (
	// ErrK reports a k below 2, under which nothing is protected.
	ErrK = errors.New("a combination must be shared by two persons at least")
	// ErrShape reports columns of unequal length.
	ErrShape = errors.New("the columns are not of equal length")
)

// Column is what an outsider may know of a person, or of each of the person's
// limbs (PerUnit), in versions that grow coarser.
type Column struct {
	Name    string
	PerUnit bool
	Weight  float64 // what the column is worth beside others; 0: 1
	// Steps says of each version what was made of the values. After the last
	// the whole column is withheld.
	Steps []string
	// Values are by version, person and unit; each version joins values of the
	// one before. A column that is not PerUnit has one unit.
	Values [][][]string
}

// Options are the settings of Protect.
type Options struct {
	K int // persons that share each combination at least
}

// Step is something that was done to a column, or to persons.
type Step struct {
	Column      string // empty where persons were left out
	What        string
	Persons     int // whose values were withheld, or who were left out; 0 where all are concerned
	RareBefore  int // persons in combinations shared by fewer than k
	RareAfter   int
	KindsBefore int // distinct values of the column
	KindsAfter  int
}

// Result is what became of each value.
type Result struct {
	Version  []int    // by column: the version used; len(Values) where withheld from all
	Withheld [][]bool // by column and person: withheld of this person alone
	Removed  []bool   // by person
	Steps    []Step
	Smallest int // persons of the smallest combination left; 0 where nobody is left
	Kinds    int // combinations left
}

// Value is what is told of a unit of a person.
func (r *Result) Value(cols []Column, c, person, unit int) string {
	if r.Version[c] >= len(cols[c].Values) || r.Withheld[c][person] {
		return Withheld
	}
	return cols[c].Values[r.Version[c]][person][unit]
}

// Protect makes the columns of n persons coarser. The persons' order does not
// matter to what is done. Errors: ErrK, ErrShape.
func Protect(n int, cols []Column, o Options) (*Result, error) {
	if o.K < 2 {
		return nil, ErrK
	}
	r := &Result{Version: make([]int, len(cols)), Removed: make([]bool, n)}
	units := make([]int, n)
	for _, c := range cols {
		r.Withheld = append(r.Withheld, make([]bool, n))
		if len(c.Steps) != len(c.Values) {
			return nil, fmt.Errorf("%s: %w", c.Name, ErrShape)
		}
		for _, version := range c.Values {
			if len(version) != n {
				return nil, fmt.Errorf("%s: %w", c.Name, ErrShape)
			}
			for i, u := range version {
				if c.PerUnit && units[i] == 0 {
					units[i] = len(u)
				}
				if want := map[bool]int{true: units[i], false: 1}[c.PerUnit]; len(u) != want {
					return nil, fmt.Errorf("%s: %w", c.Name, ErrShape)
				}
			}
		}
	}
	p := &protector{n: n, cols: cols, o: o, r: r, units: units}
	p.coarsen(p.search())
	p.withhold()
	p.join()
	p.remove()
	r.Kinds, r.Smallest = p.classes()
	return r, nil
}

type protector struct {
	n     int
	cols  []Column
	o     Options
	r     *Result
	units []int // of each person; 0 where no column has any
}

// key is all that is told of a person, the units in no order.
func (p *protector) key(person int) string {
	var b strings.Builder
	for c, col := range p.cols {
		if !col.PerUnit {
			b.WriteString(p.r.Value(p.cols, c, person, 0))
			b.WriteByte(0)
		}
	}
	units := make([]string, p.units[person])
	for u := range units {
		for c, col := range p.cols {
			if col.PerUnit {
				units[u] += p.r.Value(p.cols, c, person, u) + "\x00"
			}
		}
	}
	sort.Strings(units)
	return b.String() + strings.Join(units, "\x01")
}

// rare are the persons who share their combination with fewer than k, among
// those not left out.
func (p *protector) rare() []int {
	keys, count := make([]string, p.n), map[string]int{}
	for i := range p.n {
		if !p.r.Removed[i] {
			keys[i] = p.key(i)
			count[keys[i]]++
		}
	}
	var out []int
	for i := range p.n {
		if !p.r.Removed[i] && count[keys[i]] < p.o.K {
			out = append(out, i)
		}
	}
	return out
}

func (p *protector) classes() (kinds, smallest int) {
	count := map[string]int{}
	for i := range p.n {
		if !p.r.Removed[i] {
			count[p.key(i)]++
		}
	}
	smallest = math.MaxInt
	for _, n := range count {
		smallest = min(smallest, n)
	}
	if len(count) == 0 {
		smallest = 0
	}
	return len(count), smallest
}

// kinds counts the distinct values of a column among some persons.
func (p *protector) kinds(c int, persons []int) int {
	seen := map[string]bool{}
	for _, i := range persons {
		for u := range p.unitsOf(c, i) {
			seen[p.r.Value(p.cols, c, i, u)] = true
		}
	}
	return len(seen)
}

func (p *protector) unitsOf(c, person int) int {
	if p.cols[c].PerUnit {
		return p.units[person]
	}
	return 1
}

// coarsen makes the columns as coarse as was found best, those worth least
// first, and notes what each step does.
func (p *protector) coarsen(best []int) {
	order := make([]int, len(p.cols))
	for c := range order {
		order[c] = c
	}
	sort.SliceStable(order, func(a, b int) bool { return weightOf(p.cols[order[a]]) < weightOf(p.cols[order[b]]) })
	all := p.everybody()
	rare := len(p.rare())
	for _, c := range order {
		if best[c] == 0 {
			continue
		}
		kinds := p.kinds(c, all)
		p.r.Version[c] = best[c]
		what := "withheld from all"
		if v := best[c]; v < len(p.cols[c].Steps) {
			what = p.cols[c].Steps[v]
		}
		after := len(p.rare())
		p.r.Steps = append(p.r.Steps, Step{Column: p.cols[c].Name, What: what, RareBefore: rare, RareAfter: after, KindsBefore: kinds, KindsAfter: p.kinds(c, all)})
		rare = after
	}
}

// withhold keeps single values of those who are still rare from being told,
// beginning with the column that tells them apart most.
func (p *protector) withhold() {
	rest := p.rare()
	done := make([]bool, len(p.cols))
	for len(rest) > 0 {
		best, most := -1, 0
		for c := range p.cols {
			if k := p.kinds(c, rest); !done[c] && k > most && p.r.Version[c] < len(p.cols[c].Values) {
				best, most = c, k
			}
		}
		if best < 0 {
			return
		}
		done[best] = true
		all := p.kinds(best, p.everybody())
		for _, i := range rest {
			p.r.Withheld[best][i] = true
		}
		// Who was not rare shares a combination in which none of the others
		// was, and keeps it.
		after := p.rare()
		p.r.Steps = append(p.r.Steps, Step{Column: p.cols[best].Name, What: "withheld from persons still in rare combinations", Persons: len(rest),
			RareBefore: len(rest), RareAfter: len(after), KindsBefore: all, KindsAfter: p.kinds(best, p.everybody())})
		rest = after
	}
}

func (p *protector) everybody() []int {
	var out []int
	for i := range p.n {
		if !p.r.Removed[i] {
			out = append(out, i)
		}
	}
	return out
}
