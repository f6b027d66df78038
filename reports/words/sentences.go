package words

import (
	"slices"
	"strings"
	"unicode"
)

// abbreviations are words whose full stop ends no sentence.
var abbreviations = []string{"approx", "ca", "dr", "e.g", "i.e", "mr", "mrs", "no", "prof", "st", "vs"}

// FirstSentences is the first n sentences of a text. A sentence ends with a
// full stop, question mark or exclamation mark before a space, where the next
// word begins with a capital or a digit, unless the mark stands within
// brackets or ends an abbreviation.
func FirstSentences(text string, n int) string {
	text = strings.TrimSpace(text)
	if n <= 0 {
		return ""
	}
	runes := []rune(text)
	depth, start := 0, 0
	for i, r := range runes {
		switch {
		case r == '(':
			depth++
		case r == ')' && depth > 0:
			depth--
		case unicode.IsSpace(r):
			start = i + 1
		}
		if r != '.' && r != '?' && r != '!' || depth > 0 || i+2 >= len(runes) || runes[i+1] != ' ' {
			continue
		}
		if next := runes[i+2]; !unicode.IsUpper(next) && !unicode.IsDigit(next) {
			continue
		}
		if word := strings.ToLower(string(runes[start:i])); slices.Contains(abbreviations, word) {
			continue
		}
		if n--; n == 0 {
			return string(runes[:i+1])
		}
	}
	return text
}
