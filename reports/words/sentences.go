package words

import (
	"slices"
	"strings"
	"unicode"
)

// abbreviations are words whose full stop ends no sentence.
var abbreviations = []string{"approx", "ca", "dr", "e.g", "i.e", "mr", "mrs", "no", "prof", "st", "vs"}

// FirstSentences is the first n sentences of a text.
func FirstSentences(text string, n int) string {
	all := Sentences(text)
	return strings.Join(all[:max(0, min(n, len(all)))], " ")
}

// Sentences are those of a text. A sentence ends with a full stop, question
// mark or exclamation mark before a space, where the next word begins with a
// capital or a digit, unless the mark stands within brackets or ends an
// abbreviation.
func Sentences(text string) []string {
	text = strings.TrimSpace(text)
	if text == "" {
		return nil
	}
	var out []string
	runes := []rune(text)
	depth, start, first := 0, 0, 0
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
		out = append(out, string(runes[first:i+1]))
		first = i + 2
	}
	return append(out, string(runes[first:]))
}
