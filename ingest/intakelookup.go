package ingest

import (
	"slices"
	"strings"
)

// lookupWords reads a text by the intake's words first. A text that the
// intake leaves empty is not read.
func lookupWords(v *Vocabulary, over map[string]string, text string) (matches []Match, parts []string, ok bool) {
	if len(over) == 0 {
		return v.LookupAll(text)
	}
	one := func(t string) (Match, bool) {
		if code, ok := over[wordKey(t)]; ok {
			if code == "" || code == NoRecord {
				return Match{Hint: "the intake leaves it open what it means"}, true
			}
			return Match{Code: code, How: Exact}, true
		}
		return Match{}, false
	}
	if m, ok := one(text); ok {
		return []Match{m}, []string{strings.TrimSpace(text)}, m.How != NoMatch
	}
	split := splitWords(text)
	if len(split) < 2 || !slices.ContainsFunc(split, func(p string) bool { _, ok := one(p); return ok }) || v.Lookup(text).How != NoMatch {
		return v.LookupAll(text)
	}
	seen := map[string]bool{}
	for _, part := range split {
		m, ok := one(part)
		if !ok {
			m = v.Lookup(part)
		}
		if m.How == NoMatch {
			return []Match{m}, []string{part}, false
		}
		if !seen[m.Code] {
			seen[m.Code] = true
			matches, parts = append(matches, m), append(parts, part)
		}
	}
	return matches, parts, true
}
