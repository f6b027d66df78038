package withhold

import "math"

// proofs keep, of cells that are safe, the solutions that show it: what the
// cells may be, all sums holding, with a low and a high value of the one that
// is protected. The true counts are a solution always. While more is shown,
// a proof stands as long as its solutions agree with what is shown, so that
// few have to be sought anew.
type proofs map[int]*proof

type proof struct{ low, high *solution } // nil: the true counts

// solution is what the cells of a part may be.
type solution struct {
	of    map[int]int
	value []float64
}

// value is what a cell is in a solution; cells that are not of its part are
// what they are.
func (s *System) value(w *solution, i int) float64 {
	if w != nil {
		if v, ok := w.of[i]; ok {
			return w.value[v]
		}
	}
	return float64(s.Cells[i].Count)
}

// agrees says whether a solution goes with what is told of a cell.
func (s *System) agrees(w *solution, i int) bool {
	x := s.value(w, i)
	if s.Cells[i].Shown {
		return math.Abs(x-float64(s.Cells[i].Count)) < slack
	}
	low, high := s.bounds(i)
	return x > float64(low)-slack && (high == 0 || x < float64(high)+slack)
}

// enough says whether the two solutions of a proof leave a cell the choice
// that it has to have.
func (s *System) enough(pr *proof, i int) bool {
	low, high := math.Ceil(s.value(pr.low, i)-slack), math.Floor(s.value(pr.high, i)+slack)
	return int(high-low)+1 >= Width(s.Below)
}

// stillSafe says whether cells that were safe are so after more was shown of
// another, and keeps what shows it.
func (s *System) stillSafe(cells []int, other int, known proofs) bool {
	var open []int
	for _, i := range cells {
		if pr := known[i]; pr == nil || !s.agrees(pr.low, other) || !s.agrees(pr.high, other) || !s.enough(pr, i) {
			open = append(open, i)
		}
	}
	parts := map[int]*part{} // by cell
	for _, i := range open {
		if parts[i] == nil {
			p := s.part(i)
			for _, c := range p.cells {
				parts[c] = p
			}
		}
		p := parts[i]
		if v := p.of[i]; p.high[v] >= 0 && p.high[v]-p.low[v]+1 < Width(s.Below) {
			return false
		}
	}
	found, tableaux := proofs{}, map[*part]*tableau{}
	for _, i := range open {
		found[i] = &proof{}
	}
	for _, i := range open {
		p := parts[i]
		t, have := tableaux[p]
		if !have {
			t = newTableau(p)
			tableaux[p] = t
		}
		if t == nil {
			continue // what single sums tell is all that is known
		}
		pr := found[i]
		for _, sign := range []float64{-1, 1} {
			if s.enough(pr, i) {
				break
			}
			goal := math.Ceil(s.value(pr.low, i)-slack) + float64(Width(s.Below)-1)
			if sign > 0 {
				goal = math.Floor(s.value(pr.high, i)+slack) - float64(Width(s.Below)-1)
			}
			t.extreme(p.of[i], sign, goal)
			w := &solution{of: p.of, value: make([]float64, len(p.cells))}
			for v := range w.value {
				w.value[v] = t.now(v)
			}
			for _, k := range open {
				if parts[k] != p || s.enough(found[k], k) {
					continue
				}
				if s.value(w, k) < s.value(found[k].low, k) {
					found[k].low = w
				}
				if s.value(w, k) > s.value(found[k].high, k) {
					found[k].high = w
				}
			}
		}
		if !s.enough(pr, i) {
			return false
		}
	}
	for i, pr := range found {
		if s.enough(pr, i) {
			known[i] = pr
		}
	}
	return true
}
