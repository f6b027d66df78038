package answer

import (
	"strconv"
	"strings"

	"plybook/reports/words"
)

// n prints a count with its noun, or that it is small.
func (w *work) n(k int, one, many string) string {
	w.mayPrint(k)
	return Say(k, w.ctx.Front.HideBelow, w.withheld(k), one, many)
}

// only prints a count that is small, at the head of a sentence.
func (w *work) only(k int, one, many string) string {
	if w.hiddenCount(k) {
		return words.Capital(w.n(k, one, many))
	}
	return "Only " + w.n(k, one, many)
}

// cell prints a count in a table, or that it is small.
func (w *work) cell(k int) string {
	w.mayPrint(k)
	about, rounded := w.about(k)
	switch {
	case w.smallCount(k):
		return "< " + strconv.Itoa(w.ctx.Front.HideBelow)
	case rounded:
		return "about " + about
	case w.withheld(k) != Told:
		return "hidden"
	}
	return words.Fixed(float64(k), 0)
}

// parts prints the counts that make up a sum, "died 23, moved away 13", so
// that none that is withheld follows from the sum and the others.
func (w *work) parts(names []string, counts []int) string {
	grid := make([][]int, len(counts))
	for i, n := range counts {
		grid[i] = []int{n}
	}
	hide := maskGrid(grid, w.ctx.Front.HideBelow)
	var out []string
	for i, name := range names {
		if hide[i][0] {
			out = append(out, name+" "+w.hiddenCell(counts[i]))
		} else {
			out = append(out, name+" "+w.cell(counts[i]))
		}
	}
	return strings.Join(out, ", ")
}

// hiddenCell is printed in place of a count that is withheld.
func (w *work) hiddenCell(k int) string {
	if w.hiddenCount(k) {
		return w.cell(k)
	}
	return "hidden"
}

// share prints k of n as a percentage, unless it would tell a hidden count.
func (w *work) share(k, n int) string {
	if n == 0 {
		return words.NotComputed
	}
	if w.hiddenCount(k) || w.hiddenCount(n-k) || w.hiddenCount(n) {
		return "hidden"
	}
	return words.Percent(float64(k)/float64(n), n)
}

// nouns are the singular and plural of what a row is.
func (w *work) nouns() (one, many string) {
	if Measured(w.ask) {
		return "measurement", "measurements"
	}
	return rowNoun(w.table.Name)
}

func rowNoun(table string) (one, many string) {
	switch table {
	case "sockets":
		return "socket", "sockets"
	case "visits":
		return "visit", "visits"
	case "limbs":
		return "limb", "limbs"
	case "stations":
		return "station", "stations"
	case "findings":
		return "finding", "findings"
	case "persons":
		return "person", "persons"
	case "forming":
		return "sheet", "sheets"
	}
	return "row", "rows"
}

// confidenceWords is "95% interval" at the confidence asked for.
func (w *work) confidenceWords() string {
	return words.AsWritten(100*w.ask.Confidence) + "% interval"
}
