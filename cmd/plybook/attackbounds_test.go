package main

import (
	"errors"
	"math"
	"sort"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// programmed draws in the bounds of every small count as far as all sums
// together do, by linear programming with a library that has no part in what
// withholds them. Counts that no sum ties to a small one are left.
func (k *attacker) programmed(t *testing.T) {
	t.Helper()
	for _, part := range k.tied() {
		k.program(t, part)
	}
}

// tied parts the unknown counts by the sums that tie them.
func (k *attacker) tied() [][]int {
	of := make([]int, len(k.unknowns))
	for i := range of {
		of[i] = i
	}
	root := func(i int) int {
		for of[i] != i {
			of[i] = of[of[i]]
			i = of[i]
		}
		return i
	}
	for _, s := range k.sums {
		first := -1
		for i := range s.coef {
			if k.unknowns[i].known {
				continue
			}
			if first >= 0 {
				of[root(i)] = root(first)
			}
			first = i
		}
	}
	parts := map[int][]int{}
	for i, u := range k.unknowns {
		if !u.known {
			parts[root(i)] = append(parts[root(i)], i)
		}
	}
	var out [][]int
	for _, p := range parts {
		if len(p) > 1 {
			out = append(out, p)
		}
	}
	sort.Slice(out, func(a, b int) bool { return out[a][0] < out[b][0] })
	return out
}

// program solves for each small count of a part its least and greatest value.
func (k *attacker) program(t *testing.T, part []int) {
	t.Helper()
	at := map[int]int{}
	for j, i := range part {
		at[i] = j
	}
	n := len(part)
	var rows [][]float64 // of the counts above their least, and the right side
	for _, s := range k.sums {
		row := make([]float64, n+1)
		some := false
		for i, c := range s.coef {
			j, open := at[i]
			if u := k.unknowns[i]; !open {
				row[n] -= float64(c * u.truth)
			} else {
				row[j] += float64(c)
				row[n] -= float64(c * u.low)
				some = true
			}
		}
		if some {
			rows = append(rows, row)
		}
	}
	rows = independent(rows, n)
	var capped []int
	for j, i := range part {
		if k.unknowns[i].high >= 0 {
			capped = append(capped, j)
		}
	}
	m, wide := len(rows)+len(capped), n+len(capped)
	if len(rows) == 0 || m >= wide {
		return // nothing ties them, or nothing is left open
	}
	a, b := mat.NewDense(m, wide, nil), make([]float64, m)
	for r, row := range rows {
		for j := range n {
			a.Set(r, j, row[j])
		}
		b[r] = row[n]
	}
	for r, j := range capped {
		u := k.unknowns[part[j]]
		a.Set(len(rows)+r, j, 1)
		a.Set(len(rows)+r, n+r, 1)
		b[len(rows)+r] = float64(u.high - u.low)
	}
	low := make([]int, n)
	for j, i := range part {
		low[j] = k.unknowns[i].low // the sums stand above these
	}
	for j, i := range part {
		u := &k.unknowns[i]
		if u.truth < 1 || u.truth >= k.below {
			continue
		}
		for _, sign := range []float64{1, -1} {
			cost := make([]float64, wide)
			cost[j] = sign
			x, _, err := lp.Simplex(cost, a, b, 1e-9, nil)
			switch {
			case errors.Is(err, lp.ErrUnbounded):
			case err != nil:
				k.failed++
			case sign > 0:
				u.low = max(u.low, low[j]+int(math.Ceil(x-1e-6)))
			default:
				if h := low[j] + int(math.Floor(-x+1e-6)); u.high < 0 || h < u.high {
					u.high = h
				}
			}
			k.solved++
		}
	}
}

// independent keeps rows none of which follows from the others.
func independent(rows [][]float64, n int) [][]float64 {
	done := 0
	for j := 0; j < n && done < len(rows); j++ {
		p := done
		for r := done; r < len(rows); r++ {
			if math.Abs(rows[r][j]) > math.Abs(rows[p][j]) {
				p = r
			}
		}
		if math.Abs(rows[p][j]) < 1e-9 {
			continue
		}
		rows[done], rows[p] = rows[p], rows[done]
		for r := range rows {
			if r == done || rows[r][j] == 0 {
				continue
			}
			f := rows[r][j] / rows[done][j]
			for c := range rows[r] {
				if rows[r][c] -= f * rows[done][c]; math.Abs(rows[r][c]) < 1e-9 {
					rows[r][c] = 0
				}
			}
		}
		done++
	}
	return rows[:done]
}
