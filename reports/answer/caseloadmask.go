package answer

// hide settles the periods that stand for few, and with them further ones
// until none follows from the number of all.
func (j *caseloadJob) hide() {
	var grid [][]int
	for _, p := range j.periods {
		grid = append(grid, []int{p.all.sockets})
	}
	for k, m := range maskGrid(grid, j.ctx.Front.HideBelow) {
		j.periods[k].hidden = m[0]
	}
}

// shown are the counts of persons and limbs that may be shown beside the
// sockets: a small difference between two of them is as telling as a small
// count.
func (j *caseloadJob) shown(t *tally, hidden bool) (persons, limbs bool) {
	small := func(n int) bool { return j.hiddenCount(n) }
	p, l, s := len(t.persons), len(t.limbs), t.sockets
	if hidden || small(s) {
		return false, false
	}
	persons = !small(p) && !small(s-p)
	limbs = !small(l) && !small(s-l) && !(persons && small(l-p))
	return persons, limbs
}

// partMask says which of the kinds of a period are withheld.
func (j *caseloadJob) partMask(p loadPeriod) []bool {
	out := make([]bool, 4)
	var grid [][]int
	for _, n := range p.all.parts() {
		grid = append(grid, []int{n})
	}
	for k, m := range maskGrid(grid, j.ctx.Front.HideBelow) {
		out[k] = m[0] || p.hidden
	}
	return out
}

// loadMask says what is withheld of the groups of a period.
type loadMask struct{ sockets, persons, limbs bool }

// groupMask says which counts of the groups of a period are withheld. Persons
// and limbs of a group are withheld where they, or the difference to the next
// count, stand for few; and with them those of further groups, until what is
// withheld cannot be worked out from the number of all, as it could where
// nobody stands in two groups.
func (j *caseloadJob) groupMask(p loadPeriod, groups []*tally) []loadMask {
	out := make([]loadMask, len(groups))
	var grid [][]int
	for _, g := range groups {
		grid = append(grid, []int{g.sockets})
	}
	for k, m := range maskGrid(grid, j.ctx.Front.HideBelow) {
		out[k].sockets = m[0] || p.hidden
		persons, limbs := j.shown(groups[k], out[k].sockets)
		out[k].persons, out[k].limbs = !persons, !limbs
	}
	persons, limbs := j.shown(p.all, p.hidden)
	if persons {
		j.notAlone(groups, func(g *tally) int { return len(g.persons) }, func(k int) *bool { return &out[k].persons })
	}
	if limbs {
		j.notAlone(groups, func(g *tally) int { return len(g.limbs) }, func(k int) *bool { return &out[k].limbs })
	}
	return out
}

// notAlone withholds further counts of a line whose sum is shown until those
// withheld are two or more and neither they nor what they leave of the
// sockets are few together.
func (j *caseloadJob) notAlone(groups []*tally, of func(*tally) int, hide func(k int) *bool) {
	few := func(n int) bool { return j.smallCount(n) }
	for {
		n, sum, rest, next := 0, 0, 0, -1
		for k, g := range groups {
			switch x := of(g); {
			case x == 0:
			case *hide(k):
				n, sum, rest = n+1, sum+x, rest+g.sockets-x
			case next < 0 || x < of(groups[next]):
				next = k
			}
		}
		if n == 0 || next < 0 || n > 1 && !few(sum) && !few(rest) || j.ctx.Front.HideBelow <= 1 {
			return
		}
		*hide(next) = true
	}
}
