package table

import "unicode/utf8"

// Nearest returns the candidate closest to word by the number of letters to
// change, add, drop or swap with a neighbour, case aside. Ties go to the
// first in alphabetical order. It returns an empty string where no candidate
// is near: more than one letter, and more than a third of the longer word,
// would have to change.
func Nearest(word string, candidates []string) string {
	best, bestDist := "", -1
	folded := []rune(Fold(word))
	for _, c := range candidates {
		limit := max(1, (max(len(folded), utf8.RuneCountInString(c))+1)/3)
		cf := []rune(Fold(c))
		if diff := len(cf) - len(folded); diff > limit || -diff > limit {
			continue
		}
		d := editDistance(folded, cf)
		if d > limit || d >= max(len(folded), len(cf)) {
			continue
		}
		if bestDist < 0 || d < bestDist || d == bestDist && c < best {
			best, bestDist = c, d
		}
	}
	return best
}

// editDistance counts insertions, deletions, substitutions and swaps of
// adjacent letters (optimal string alignment).
func editDistance(a, b []rune) int {
	var before []int
	prev := make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur := make([]int, len(b)+1)
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev = prev, cur
	}
	return prev[len(b)]
}
