package answer

// maskGrid settles which cells of a table of counts are withheld. The columns
// are groups, the first the sum of the others where there are others; the
// rows are the categories of one column, those not recorded included, and add
// up to the size of the group, which is shown. Cells of 1 to below-1 are
// withheld, and with them the next smallest, until no cell can be worked out
// from the others and those withheld together come to at least below.
func maskGrid(counts [][]int, below int) [][]bool {
	hide := make([][]bool, len(counts))
	for r := range counts {
		hide[r] = make([]bool, len(counts[r]))
		for c, n := range counts[r] {
			hide[r][c] = below > 1 && n > 0 && n < below
		}
	}
	if below <= 1 || len(counts) == 0 {
		return hide
	}
	for again := true; again; {
		again = false
		for c := range counts[0] {
			var line []place
			for r := range counts {
				line = append(line, place{r, c})
			}
			again = settleLine(counts, hide, line, below) || again
		}
		if len(counts[0]) == 1 {
			continue
		}
		for r := range counts {
			if hide[r][0] {
				continue // the sum is withheld, and tells nothing of its parts
			}
			var line []place
			for c := 1; c < len(counts[r]); c++ {
				line = append(line, place{r, c})
			}
			again = settleLine(counts, hide, line, below) || again
		}
		// The sum itself follows where all its parts are shown.
		for r := range counts {
			parts, next := false, -1
			for c := 1; c < len(counts[r]); c++ {
				parts = parts || hide[r][c]
				if counts[r][c] > 0 && (next < 0 || counts[r][c] < counts[r][next]) {
					next = c
				}
			}
			if hide[r][0] && !parts && next > 0 {
				hide[r][next] = true
				again = true
			}
		}
	}
	return hide
}

// place is a cell of a grid.
type place struct{ row, col int }

// settleLine withholds one more cell of a line whose sum is known, where one
// withheld cell could be worked out or those withheld are few together. It
// reports whether it did.
func settleLine(counts [][]int, hide [][]bool, line []place, below int) bool {
	n, sum, next := 0, 0, -1
	for i, p := range line {
		x := counts[p.row][p.col]
		switch {
		case hide[p.row][p.col]:
			n, sum = n+1, sum+x
		case x > 0 && (next < 0 || x < counts[line[next].row][line[next].col]):
			next = i
		}
	}
	if n == 0 || n > 1 && sum >= below || next < 0 {
		return false
	}
	hide[line[next].row][line[next].col] = true
	return true
}
