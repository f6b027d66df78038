package notebook

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Nearest returns the candidate closest to word by the number of letters
// added, dropped, changed or swapped with their neighbour (optimal string
// alignment), ignoring case and taking space, hyphen and underscore as one.
// It is empty where nothing is close: more than a third of the letters
// differ and neither word begins with the other. Ties go to the word that
// comes first in the alphabet.
func Nearest(word string, candidates []string) string {
	w := foldWord(word)
	if w == "" || len(w) > 200 {
		return ""
	}
	sorted := append([]string(nil), candidates...)
	sort.Strings(sorted)
	best, bestDist := "", -1
	for _, c := range sorted {
		f := foldWord(c)
		d := editDistance(w, f)
		n := max(utf8.RuneCountInString(w), utf8.RuneCountInString(f))
		near := d <= max(1, n/3)
		if !near && min(len(w), len(f)) >= 3 && (strings.HasPrefix(w, f) || strings.HasPrefix(f, w)) {
			near = true
		}
		if near && d < n && (bestDist < 0 || d < bestDist) {
			best, bestDist = c, d
		}
	}
	return best
}

func foldWord(s string) string {
	return strings.NewReplacer(" ", "-", "_", "-").Replace(strings.ToLower(strings.TrimSpace(s)))
}

// editDistance is the optimal string alignment distance in characters.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	prev2 := make([]int, len(y)+1)
	prev := make([]int, len(y)+1)
	cur := make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(y)]
}

// hint ends a message about an unknown word: the nearest valid one, or all.
func hint(word string, valid []string) (text, nearest string) {
	if n := Nearest(word, valid); n != "" {
		return fmt.Sprintf("did you mean %q?", n), n
	}
	return "it can be " + orList(valid), ""
}

// orList is "a, b or c"; andList is "a, b and c".
func orList(words []string) string  { return wordList(words, " or ") }
func andList(words []string) string { return wordList(words, " and ") }

func wordList(words []string, last string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + last + words[len(words)-1]
}

func quote(s string) string { return strconv.Quote(s) }

func itoa(n int) string { return strconv.Itoa(n) }

// keysOf returns the keys of a map, sorted.
func keysOf(m map[string]string) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
