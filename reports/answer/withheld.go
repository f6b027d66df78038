package answer

import (
	"fmt"

	safe "plybook/analysis/withhold"
	"plybook/reports/words"
)

// How says how a count is withheld that is not small itself.
type How int

// The ways: told all the same, by a round number, altogether.
const (
	Told How = iota
	Rounded
	Altogether
)

// Withheld are counts that are not small themselves and yet are withheld: with
// others of the report, or of an earlier edition, they would tell small ones.
// By the id of the answer in which the count stands, and the count: within one
// answer everything that comes to the same number is withheld with it, so that
// no sentence, table or figure tells what another does not.
type Withheld map[string]map[int]How

// Add withholds a count of an answer; it reports whether that is news.
func (w Withheld) Add(id string, n int, how How) bool {
	if w[id] == nil {
		w[id] = map[int]How{}
	}
	if w[id][n] >= how {
		return false
	}
	w[id][n] = how
	return true
}

// smallCount says whether a count stands for few people, and so is withheld.
func (w *work) smallCount(n int) bool { return n > 0 && n < w.ctx.Front.HideBelow }

// hiddenCount says whether a count is withheld, since it is small or since
// others would follow from it.
func (w *work) hiddenCount(n int) bool {
	w.mayPrint(n)
	return w.isHidden(n)
}

// isHidden is hiddenCount of a count that is not to be printed for that.
func (w *work) isHidden(n int) bool { return w.smallCount(n) || w.withheld(n) != Told }

// mayPrint notes a count that may be printed: what is printed alone, and stands
// in no table of the numbers, is held against the others too.
func (w *work) mayPrint(n int) {
	if !w.public() || n < w.ctx.Front.HideBelow {
		return
	}
	if w.printed == nil {
		w.printed = map[int]bool{}
	}
	w.printed[n] = true
}

func (w *work) withheld(n int) How {
	if w.smallCount(n) {
		return Told // for what it is, see smallCount
	}
	return w.ctx.Withheld[w.ask.ID][n]
}

// about is a withheld count as a round number; false where it is not said.
func (w *work) about(n int) (string, bool) {
	return about(n, w.ctx.Front.HideBelow, w.withheld(n))
}

func about(n, below int, how How) (string, bool) {
	if how != Rounded {
		return "", false
	}
	k, ok := safe.Coarsen(n, below)
	return words.Fixed(float64(k), 0), ok
}

// Say is a count with its noun as a report says it that hides counts below a
// number, and withholds this one in some way.
func Say(n, below int, how How, one, many string) string {
	round, rounded := about(n, below, how)
	switch {
	case n > 0 && n < below:
		return fmt.Sprintf("fewer than %d %s", below, many)
	case rounded:
		return "about " + round + " " + many
	case how != Told:
		return "a withheld number of " + many
	}
	return words.N(n, one, many)
}

// mask keeps the count of a cell that a method itself withholds: what can be
// worked out of it from other tables can be judged only by who knows it.
func (w *work) mask(t *Table, row, col int) {
	if n, ok := t.Rows[row][col].(int); ok && t.Columns[col].Type == TypeCount {
		if w.Masked == nil {
			w.Masked = map[HiddenCell]int{}
		}
		w.Masked[HiddenCell{t.Name, row, t.Columns[col].Name}] = n
	}
}

// CountAt is the count of a cell of a table of the answer, withheld by the
// method or not; false where there is none.
func (a *Answer) CountAt(t *Table, row, col int) (int, bool) {
	if t.Columns[col].Type != TypeCount {
		return 0, false
	}
	switch n := t.Rows[row][col].(type) {
	case int:
		return n, true
	case nil:
		k, ok := a.Masked[HiddenCell{t.Name, row, t.Columns[col].Name}]
		return k, ok
	}
	return 0, false
}
