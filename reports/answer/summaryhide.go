package answer

import "plybook/analysis/describe"

// sharesOf is what the shares of a text column are of in a group: the rows
// with a value, or all of its rows where the number of those without one is
// withheld. A count with its share of the rows with a value would tell it.
func (w *work) sharesOf(s describe.Summary, rows int, mask [][]bool, group int) int {
	if mask[len(mask)-1][group] || w.isHidden(s.Missing) || w.isHidden(s.N) {
		return rows
	}
	return s.N
}

// sharesOfAll says whether some shares of the table are of all rows of a
// group.
func (w *work) sharesOfAll(b *describe.Baseline) bool {
	for _, v := range b.Variables {
		if len(v.Overall.Levels) == 0 {
			continue
		}
		mask := w.levelMask(v)
		for g, s := range append([]describe.Summary{v.Overall}, v.Groups...) {
			if rows := s.N + s.Missing; w.sharesOf(s, rows, mask, g) != s.N {
				return true
			}
		}
	}
	return false
}

// differenceHidden says whether the standardised difference of a column is
// withheld: that of categories is worked out from their counts alone, so that
// it would tell those withheld.
func (w *work) differenceHidden(v describe.Variable) bool {
	if !w.public() || len(v.Overall.Levels) == 0 {
		return false
	}
	mask := w.levelMask(v)
	for g, s := range append([]describe.Summary{v.Overall}, v.Groups...) {
		for r := range mask {
			n := s.Missing
			if r < len(s.Levels) {
				n = s.Levels[r].Count
			}
			if mask[r][g] || w.isHidden(n) {
				return true
			}
		}
	}
	return false
}
