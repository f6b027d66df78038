// Package wordstest reads finished text as a careful reader would, and says
// what is wrong with it. Tests hold every reading, caution and note to it.
package wordstest

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// longest is how many words may stand between two full stops or semicolons.
const longest = 45

// units are what is counted or measured, in the plural.
const units = `cases|cells|checks|clusters|clinicians|columns|coefficients|counts|crossings|cycles|days|deaths|differences|endings|events|findings|fits|girths|groups|hours|inches|intervals|items|levels|limbs|lists|looks|losses|measurements|minutes|models|months|nodes|occasions|others|pairs|parts|percentage points|periods|persons|pieces|plies|points|quarters|ratios|readings|records|regions|remakes|rows|samples|sentences|series|sheets|shares|signals|sockets|socks|spots|stations|steps|strata|tables|terms|times|units|values|visits|waits|weeks|years`

var (
	// Numbers that are none, verbs of a format, Go's own spellings, powers of
	// ten.
	broken = regexp.MustCompile(`NaN|\bInf\b|%!|<nil>|map\[|\[\]string|0x[0-9a-f]{6}|[0-9]e[-−+][0-9]+`)
	// The word that a reader mistakes for important.
	barred = regexp.MustCompile(`(?i)significan`)
	// One of them, in the wrong number; and several, in that of one.
	plurals  = regexp.MustCompile(`(^|[^0-9.,/])[−+-]?1 (` + units + `)\b`)
	singular = regexp.MustCompile(`(^|[^0-9.,/-])([2-9]|[1-9][0-9]+) (socket|person|limb|visit|day|week|month|year|event|row|group|remake)( |[.,;)]|$)`)
	negative = regexp.MustCompile(`(−|(^|[ (])-)0(\.0+)?([^0-9.]|$)`)
	doubled  = regexp.MustCompile(`\S {2}\S|\.\.|,,|;;| ,| ;|\( | \)| \.( |$)|^ | $`)
	bareP    = regexp.MustCompile(`\bp p\b|\bp [0-9<]?[0-9]*\.[0-9]`)
	listed   = regexp.MustCompile(` \([^()]*(,[^()]*){3,}\)`)
	word     = regexp.MustCompile(`^[A-Za-z]{2,}$`)
	ends     = regexp.MustCompile(`[.?!:](\)|”|")?$`)
)

// Faults are the faults of a printed text of any kind: a caption, the head of
// a column, a cell, a sentence.
func Faults(text string) []string {
	var out []string
	find := func(re *regexp.Regexp, what string) {
		if m := re.FindString(text); m != "" {
			out = append(out, fmt.Sprintf("%s %q", what, strings.TrimSpace(m)))
		}
	}
	find(broken, "no number for a reader:")
	find(barred, "the word")
	find(plurals, "wrong number in")
	find(negative, "a negative zero:")
	find(doubled, "stray mark or space in")
	depth := 0
	for _, r := range text {
		switch r {
		case '(':
			depth++
		case ')':
			depth--
		}
		if depth < 0 {
			break
		}
	}
	if depth != 0 {
		out = append(out, "brackets that do not close")
	}
	return out
}

// ProseFaults are the faults of a text of whole sentences.
func ProseFaults(text string) []string {
	out := Faults(text)
	if text == "" {
		return out
	}
	if !ends.MatchString(text) {
		out = append(out, "no full stop at the end")
	}
	if r := []rune(text)[0]; unicode.IsLower(r) {
		out = append(out, "no capital at the beginning")
	}
	if m := bareP.FindString(text); m != "" {
		out = append(out, fmt.Sprintf("p without its sign: %q", m))
	}
	if m := singular.FindString(text); m != "" {
		out = append(out, fmt.Sprintf("wrong number in %q", strings.TrimSpace(m)))
	}
	fields := strings.Fields(text)
	for i := 1; i < len(fields); i++ {
		if fields[i] == fields[i-1] && word.MatchString(fields[i]) {
			out = append(out, fmt.Sprintf("the word %q twice", fields[i]))
		}
	}
	// A list in brackets is read as one thing.
	fields = strings.Fields(listed.ReplaceAllString(text, ""))
	n, from := 0, 0
	for i, f := range fields {
		n++
		if strings.HasSuffix(f, ";") || ends.MatchString(f) && (i+1 == len(fields) || startsSentence(fields[i+1])) {
			if n > longest {
				out = append(out, fmt.Sprintf("%d words in a row: %q", n, strings.Join(fields[from:i+1], " ")))
			}
			n, from = 0, i+1
		}
	}
	return out
}

func startsSentence(word string) bool {
	r := []rune(strings.TrimLeft(word, "(“\"*"))
	return len(r) == 0 || unicode.IsUpper(r[0]) || unicode.IsDigit(r[0]) || r[0] == '<' || r[0] == '−' || r[0] == '`'
}
