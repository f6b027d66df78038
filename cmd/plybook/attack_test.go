package main

import (
	"fmt"
	"math/big"
	"slices"
	"sort"
	"strings"

	"plybook/reports/notebook"
)

// An attacker has the files of a report and the questions it answers. He sets
// up every sum that he knows to hold between the counts, takes what is printed
// for known, and solves. He shares no code with what withholds the counts: his
// relations come from the labels of the tables and the words of the questions,
// theirs from the rows of the log. So that he is never misled, a sum that does
// not hold of the true counts is not given to him; the true counts, from a run
// that hides nothing, are used for that and to see whether he was right.

// unknown is one count of a report as the attacker sees it.
type unknown struct {
	name  string
	truth int
	known bool
	low   int
	high  int    // -1: no bound
	told  string // how a small one is known
	// places are where it stands, an answer's id each.
	places map[string]bool
}

// tell makes a count known, and keeps how.
func (u *unknown) tell(how string) {
	if !u.known {
		u.known, u.told = true, how
	}
}

type sumToNothing struct{ coef map[int]int } // the sum of coef times unknowns is 0

type attacker struct {
	below    int
	unknowns []unknown
	byName   map[string]int
	sums     []sumToNothing
	// solved are the linear programs tried, failed those that came to nothing.
	solved, failed int
}

func (k *attacker) of(name string, truth int) int {
	i, ok := k.byName[name]
	if !ok {
		i = len(k.unknowns)
		k.byName[name] = i
		k.unknowns = append(k.unknowns, unknown{name: name, truth: truth, high: -1, places: map[string]bool{}})
	}
	return i
}

// sum notes whole = parts, where that is so.
func (k *attacker) sum(whole int, parts ...int) bool {
	left := k.unknowns[whole].truth
	s := sumToNothing{map[int]int{whole: 1}}
	for _, p := range parts {
		left -= k.unknowns[p].truth
		s.coef[p]--
	}
	if left != 0 || len(parts) == 0 || len(s.coef) < 2 {
		return false
	}
	k.sums = append(k.sums, s)
	return true
}

// solve finds what follows: Gauss's elimination with fractions, so that
// whatever the sums fix together comes out, and then bounds drawn in by every
// sum and every reduced one, until nothing moves.
func (k *attacker) solve() {
	var free []int
	at := map[int]int{}
	for i, u := range k.unknowns {
		if !u.known {
			at[i] = len(free)
			free = append(free, i)
		} else {
			k.unknowns[i].low, k.unknowns[i].high = u.truth, u.truth
		}
	}
	n := len(free)
	var rows [][]*big.Rat
	for _, s := range k.sums {
		row := make([]*big.Rat, n+1)
		for j := range row {
			row[j] = new(big.Rat)
		}
		some := false
		for i, c := range s.coef {
			if j, open := at[i]; open {
				row[j].SetInt64(int64(c))
				some = some || c != 0
			} else {
				row[n].Sub(row[n], new(big.Rat).SetInt64(int64(c*k.unknowns[i].truth)))
			}
		}
		if some {
			rows = append(rows, row)
		}
	}
	all := slices.Clone(rows)
	done := 0
	work := make([][]*big.Rat, len(rows))
	for r := range rows {
		for _, x := range rows[r] {
			work[r] = append(work[r], new(big.Rat).Set(x))
		}
	}
	for j := 0; j < n && done < len(work); j++ {
		p := slices.IndexFunc(work[done:], func(r []*big.Rat) bool { return r[j].Sign() != 0 })
		if p < 0 {
			continue
		}
		work[done], work[done+p] = work[done+p], work[done]
		inv := new(big.Rat).Inv(work[done][j])
		for c := range work[done] {
			work[done][c].Mul(work[done][c], inv)
		}
		for r := range work {
			if r == done || work[r][j].Sign() == 0 {
				continue
			}
			f := new(big.Rat).Set(work[r][j])
			for c := range work[r] {
				if work[done][c].Sign() != 0 {
					work[r][c].Sub(work[r][c], new(big.Rat).Mul(f, work[done][c]))
				}
			}
		}
		done++
	}
	all = append(all, work[:done]...)
	for moved, round := true, 0; moved && round < 100; round++ {
		moved = false
		for _, row := range all {
			moved = k.drawIn(free, row) || moved
		}
	}
}

// drawIn draws in the bounds of the unknowns of one equation.
func (k *attacker) drawIn(free []int, row []*big.Rat) bool {
	n := len(free)
	moved := false
	for j := range n {
		if row[j].Sign() == 0 {
			continue
		}
		low, high := new(big.Rat).Set(row[n]), new(big.Rat).Set(row[n]) // of row[j]*x
		noLow, noHigh := false, false
		for i := range n {
			if i == j || row[i].Sign() == 0 {
				continue
			}
			u := k.unknowns[free[i]]
			least := new(big.Rat).Mul(row[i], new(big.Rat).SetInt64(int64(u.low)))
			most, open := new(big.Rat), u.high < 0
			if !open {
				most.Mul(row[i], new(big.Rat).SetInt64(int64(u.high)))
			}
			if row[i].Sign() > 0 {
				high.Sub(high, least)
				low.Sub(low, most)
				noLow = noLow || open
			} else {
				low.Sub(low, least)
				high.Sub(high, most)
				noHigh = noHigh || open
			}
		}
		low.Quo(low, row[j])
		high.Quo(high, row[j])
		if row[j].Sign() < 0 {
			low, high, noLow, noHigh = high, low, noHigh, noLow
		}
		u := &k.unknowns[free[j]]
		if l := ceil(low); !noLow && l > u.low {
			u.low, moved = l, true
		}
		if h := floor(high); !noHigh && (u.high < 0 || h < u.high) {
			u.high, moved = h, true
		}
	}
	return moved
}

func floor(x *big.Rat) int {
	q, m := new(big.Int).DivMod(x.Num(), x.Denom(), new(big.Int))
	_ = m // Euclid's remainder is never negative, so that q is the floor
	return int(q.Int64())
}

func ceil(x *big.Rat) int { return -floor(new(big.Rat).Neg(x)) }

// won lists the small counts that the attacker has: exactly, or to within
// fewer values than the rule leaves open.
func (k *attacker) won() []string {
	width := max(2, k.below/2)
	var out []string
	for _, u := range k.unknowns {
		switch {
		case u.truth < 1 || u.truth >= k.below:
			continue
		case u.known && u.told != "":
			out = append(out, fmt.Sprintf("%s is %d, %s", u.name, u.truth, u.told))
			continue
		case u.known || u.high < 0 || u.high-u.low+1 >= width:
			continue
		}
		out = append(out, fmt.Sprintf("%s is %d to %d (and is %d)", u.name, u.low, u.high, u.truth))
	}
	sort.Strings(out)
	return out
}

// crowd is whom an answer is about, in the attacker's words.
type crowd struct {
	rows  string
	keep  map[string][]string // column to what of it is kept
	lives string              // how lives are made; empty where rows are taken as they are
	known map[string]bool     // columns without which a row is left out
}

var ofLives = []string{"kaplan-meier", "cumulative-incidence", "cox", "fine-gray", "weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma"}
var ofModels = []string{"cox", "fine-gray", "weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma", "linear", "logistic", "poisson", "negative-binomial", "ordinal", "mixed"}

func crowdOf(a *notebook.Ask) crowd {
	c := crowd{rows: a.Rows, keep: map[string][]string{}, known: map[string]bool{}}
	if c.rows == "" {
		c.rows = "sockets"
	}
	for _, cl := range a.Keep.Clauses {
		s := cl.Values
		if len(s) == 0 {
			s = []string{fmt.Sprint(cl.Test, cl.Low, cl.High)}
		}
		c.keep[cl.Column] = s
	}
	if slices.Contains([]string{"caseload", "turnaround", "control-chart"}, a.Method) {
		c.lives = a.Method // rows of its own: in whole periods, with the dates it needs
	}
	flow := a.Method == "flow" && a.KeyPos["event"].Line > 0
	if slices.Contains(ofLives, a.Method) && c.rows == "sockets" || flow {
		c.lives = "lives " + a.Start + a.End + a.Entry
		if a.Landmark != nil {
			c.lives += a.Landmark.Text
		}
	}
	for _, n := range []string{a.By, a.Outcome} {
		if n != "" && a.Method != "summary" && a.Method != "pareto" && a.Method != "caseload" {
			c.known[n] = true
		}
	}
	if slices.Contains(ofModels, a.Method) {
		for _, n := range append(append([]string{}, a.Adjust...), a.Strata...) {
			c.known[n] = true
		}
	}
	return c
}

func (c crowd) String() string {
	var keep, known []string
	for n, v := range c.keep {
		keep = append(keep, n+"="+strings.Join(v, "|"))
	}
	for n := range c.known {
		known = append(known, n)
	}
	sort.Strings(keep)
	sort.Strings(known)
	return fmt.Sprintf("%s {%s} %s known %s", c.rows, strings.Join(keep, ", "), c.lives, strings.Join(known, ","))
}

// within says whether the rows of c are among those of o.
func (c crowd) within(o crowd) bool {
	if c.rows != o.rows || o.lives != "" && c.lives != o.lives {
		return false
	}
	for n, v := range o.keep {
		mine, ok := c.keep[n]
		if !ok || slices.ContainsFunc(mine, func(s string) bool { return !slices.Contains(v, s) }) {
			return false
		}
	}
	for n := range o.known {
		if !c.known[n] {
			return false
		}
	}
	return true
}
