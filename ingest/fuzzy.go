package ingest

import (
	"slices"
	"strings"
	"unicode"
)

// MinCertainty is how certain a reading of a text that is no known word must
// be to be used. Below, it is only proposed. The figures of certainty are a
// scale of the tool's own, set so that what is accepted is what two readers
// would not argue about; they are no measured rates of error.
const MinCertainty = 0.9

const (
	// slip is what one wrong letter costs in a word of one letter; it costs
	// less in longer words: 0.9 is left of 6 letters, 0.95 of 12.
	slip = 0.6
	// reorder is what is left where the words stand in another order.
	reorder = 0.95
	// shortened is what is left for each word of which only the beginning
	// stands, of three letters or more: two in a phrase are accepted, three
	// are not.
	shortened = 0.95
	// alone is what is left where the text is a single word cut short: too
	// little to accept.
	alone = 0.8
	// apart is by how much the best reading must beat that of another code.
	apart = 0.05
	// proposeFrom is the certainty from which a reading is worth a question.
	proposeFrom = 0.5
)

// phrase is a word or phrase of a vocabulary, taken apart.
type phrase struct {
	code  string
	key   string
	words []string
	fixed bool // the order of its words matters
}

// ordering are words that make the order of a phrase matter: check to
// definitive is not definitive to check.
var ordering = []string{"to", "from", "not", "no", "non", "than", "before", "after", "under", "over", "without", "of"}

func phrasesOf(entries []Entry) []phrase {
	var out []phrase
	for _, e := range entries {
		for i, w := range append(append([]string{e.Code}, e.Synonyms...), e.Abbreviations...) {
			p := phrase{code: e.Code, key: wordKey(w)}
			if i <= len(e.Synonyms) { // abbreviations are not cut shorter
				p.words = phraseWords(w)
				p.fixed = slices.ContainsFunc(p.words, func(w string) bool { return slices.Contains(ordering, w) })
			}
			out = append(out, p)
		}
	}
	return out
}

func phraseWords(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\''
	})
}

// nearRead is a reading of a text that is no known word.
type nearRead struct {
	code      string
	certainty float64
	why       string
}

// near finds the most certain reading; ok says that it can be used.
func (v Vocabulary) near(text, key string) (best nearRead, ok bool) {
	words := phraseWords(text)
	fixed := slices.ContainsFunc(words, func(w string) bool { return slices.Contains(ordering, w) })
	second := 0.0
	for i := range v.phrases {
		p := &v.phrases[i]
		c, why := p.certainty(key, words, fixed)
		switch {
		case c == 0:
		case p.code == best.code:
			if c > best.certainty {
				best.certainty, best.why = c, why
			}
		case c > best.certainty:
			second = best.certainty
			best = nearRead{p.code, c, why}
		default:
			second = max(second, c)
		}
	}
	return best, best.certainty >= MinCertainty && best.certainty-second >= apart
}

// certainty is how certain a text means a phrase, from 0 to 1, and in what it
// differs. One slip (a letter added, dropped, changed, or swapped with its
// neighbour) in n letters leaves 1 - 0.6/n; words in another order leave
// 0.95; each word cut short leaves 0.95. Words with a digit must be equal.
func (p *phrase) certainty(key string, words []string, fixed bool) (float64, string) {
	best, why := 0.0, ""
	if letters6(key) && letters6(p.key) && oneSlip(key, p.key) {
		best, why = 1-slip/float64(min(len([]rune(key)), len([]rune(p.key)))), "one letter off"
	}
	if len(words) != len(p.words) || len(words) == 0 || len(words) > 6 {
		return best, why
	}
	if c, cut := wordsCertainty(words, p.words); c > best {
		best, why = c, differs(cut, false)
	}
	if len(words) > 1 && !fixed && !p.fixed {
		a, b := slices.Clone(words), slices.Clone(p.words)
		slices.Sort(a)
		slices.Sort(b)
		if c, cut := wordsCertainty(a, b); c*reorder > best {
			best, why = c*reorder, differs(cut, true)
		}
	}
	return best, why
}

func differs(cut, moved bool) string {
	switch {
	case cut && moved:
		return "words cut short and in another order"
	case moved:
		return "words in another order"
	case cut:
		return "words cut short"
	}
	return "a letter off"
}

// wordsCertainty compares words one by one; cut says that some are cut short.
func wordsCertainty(a, b []string) (c float64, cut bool) {
	c = 1
	for i := range a {
		switch n := len([]rune(a[i])); {
		case a[i] == b[i]:
		case strings.IndexFunc(a[i]+b[i], unicode.IsDigit) >= 0:
			return 0, false
		case n >= 3 && strings.HasPrefix(b[i], a[i]):
			cut = true
			if c *= shortened; len(a) == 1 {
				c *= alone
			}
		case n >= 4 && oneSlip(a[i], b[i]):
			c *= 1 - slip/float64(min(n, len([]rune(b[i]))))
		default:
			return 0, false
		}
	}
	return c, cut
}

// oneSlip says whether two words differ by one letter added, dropped, changed
// or swapped with its neighbour.
func oneSlip(a, b string) bool {
	if within1(a, b) {
		return true
	}
	x, y := []rune(a), []rune(b)
	if len(x) != len(y) {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	return i+1 < len(x) && x[i] == y[i+1] && x[i+1] == y[i] && string(x[i+2:]) == string(y[i+2:])
}
