package ingest

import (
	"regexp"
	"strings"
	"unicode"
)

// codePrefixes are words that people put before a number to make a code.
var codePrefixes = map[string]bool{"person": true, "limb": true, "user": true, "client": true, "case": true, "study": true, "staff": true, "tech": true, "socket": true, "prosthetist": true, "technician": true, "code": true, "visit": true}

// LooksLikeCode reports whether all values are codes that name nobody: up to
// 12 characters, with a digit (or a single letter), at most six digits, and
// no letters that could be a name or initials alone. An empty list is not.
func LooksLikeCode(values []string) bool {
	if len(values) == 0 {
		return false
	}
	for _, v := range values {
		if !isCode(strings.TrimSpace(v)) {
			return false
		}
	}
	return true
}

// drawnCode is a code of a file of codes, with the side of a limb behind it.
var drawnCode = regexp.MustCompile(`^[PSKVX]-[` + codeLetters + `]{5}(?:-[LR](?:-\d)?)?$`)

func isCode(s string) bool {
	if len(s) >= 7 && s[1] == '-' && drawnCode.MatchString(s) {
		return true
	}
	if digits := codeDigits(s); digits > 0 {
		return digits <= 6
	}
	digits, letters := 0, 0
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case unicode.IsLetter(r):
			letters++
		case strings.ContainsRune("-_/. #", r):
		default:
			return false
		}
	}
	if len([]rune(s)) > 12 || digits > 6 || s == "" {
		return false
	}
	if digits == 0 {
		return letters == 1
	}
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) }) {
		w := strings.ToLower(word)
		if len([]rune(word)) > 3 && !codePrefixes[w] && w != "left" && w != "right" {
			return false
		}
	}
	return true
}

// codeDigits is the number of digits of an identifier in the form of most: up
// to three capitals, a hyphen or nothing, digits. It is 0 for another form.
func codeDigits(s string) int {
	i := 0
	for i < len(s) && i < 3 && s[i] >= 'A' && s[i] <= 'Z' {
		i++
	}
	if i > 0 && i < len(s) && s[i] == '-' {
		i++
	}
	from := i
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if i < len(s) {
		return 0
	}
	return i - from
}

// longest is the length of the longest run of runes that in accepts.
func longest(s string, in func(rune) bool) int {
	best, run := 0, 0
	for _, r := range s {
		if in(r) {
			run++
			best = max(best, run)
		} else {
			run = 0
		}
	}
	return best
}
