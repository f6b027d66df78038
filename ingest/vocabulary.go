package ingest

import (
	"strings"
	"unicode"
)

// Entry is one code of a vocabulary with the words read as it.
type Entry struct {
	Code          string
	Synonyms      []string // full words and phrases
	Abbreviations []string
	Doubtful      []string // read as this code, but reported: the word could mean something else
	// Released codes stand in data sets that were made coarser before they were
	// given out. They are read, but offered to nobody who writes a log.
	Released bool
}

// Vocabulary is a closed list of codes. It is never changed once made, so
// it can be shared.
type Vocabulary struct {
	name    string
	entries []Entry
	index   map[string]hit
	phrases []phrase // what index holds without what is doubtful, for near readings
	hints   map[string]string
}

type hit struct {
	code     string
	doubtful bool
}

// How says how sure a reading through a vocabulary is.
type How int

// The ways in which a text is read through a vocabulary.
const (
	NoMatch  How = iota // not read; Nearest may name a likely code
	Exact               // code, synonym or abbreviation; case, spaces and punctuation do not matter
	Near                // not a known word, but as good as certain to mean one: read, and reported
	Doubtful            // read by convention, and reported: the word could mean something else
)

// Match is the result of a look-up.
type Match struct {
	Code      string // empty with NoMatch
	How       How
	Certainty float64 // Near: at least MinCertainty; 1 where known; 0 with NoMatch
	Why       string  // Near: in what the text differs from the known word
	Nearest   string  // NoMatch: nearest code, or empty where nothing is near
	Hint      string  // NoMatch: a sentence on what to write instead, or empty
}

func newVocabulary(name string, hints map[string]string, entries ...Entry) Vocabulary {
	v := Vocabulary{name: name, entries: entries, index: map[string]hit{}, hints: map[string]string{}}
	for _, e := range entries {
		v.index[wordKey(e.Code)] = hit{code: e.Code}
		for _, w := range e.Synonyms {
			v.index[wordKey(w)] = hit{code: e.Code}
		}
		for _, w := range e.Abbreviations {
			v.index[wordKey(w)] = hit{code: e.Code}
		}
		for _, w := range e.Doubtful {
			v.index[wordKey(w)] = hit{code: e.Code, doubtful: true}
		}
	}
	v.phrases = phrasesOf(entries)
	for w, h := range hints {
		v.hints[wordKey(w)] = h
	}
	return v
}

// Name is the vocabulary's name in plain English, such as "level".
func (v Vocabulary) Name() string { return v.name }

// Entries returns the codes with their words, in the vocabulary's order.
func (v Vocabulary) Entries() []Entry { return append([]Entry(nil), v.entries...) }

// Codes returns the codes in the vocabulary's order, those of released data
// sets left out.
func (v Vocabulary) Codes() []string {
	codes := make([]string, 0, len(v.entries))
	for _, e := range v.entries {
		if !e.Released {
			codes = append(codes, e.Code)
		}
	}
	return codes
}

// Has reports whether code is one of the vocabulary's codes, spelled exactly.
func (v Vocabulary) Has(code string) bool {
	for _, e := range v.entries {
		if e.Code == code {
			return true
		}
	}
	return false
}

// Lookup reads text. Case, spaces and punctuation do not matter. A text that
// is no known word is accepted as Near where the certainty (see certainty) is
// MinCertainty at least and no other code comes close; nothing else is
// guessed.
func (v Vocabulary) Lookup(text string) Match {
	key := wordKey(text)
	if key == "" {
		return Match{}
	}
	if h, ok := v.index[key]; ok {
		how := Exact
		if h.doubtful {
			how = Doubtful
		}
		return Match{Code: h.code, How: how, Certainty: 1}
	}
	if hint, ok := v.hints[key]; ok {
		return Match{Hint: hint}
	}
	best, ok := v.near(text, key)
	if ok {
		return Match{Code: best.code, How: Near, Certainty: best.certainty, Why: best.why}
	}
	if nearest := v.nearest(key); nearest != "" || best.certainty < proposeFrom {
		return Match{Nearest: nearest}
	}
	return Match{Nearest: best.code}
}

// LookupAll reads a text that may hold several words joined by commas,
// semicolons, plus signs, slashes, line breaks, "&" or "and". The whole text
// is tried first. ok is false if any part is unknown; the first result then
// describes the unknown part. parts are the texts read, in order.
func (v Vocabulary) LookupAll(text string) (matches []Match, parts []string, ok bool) {
	whole := v.Lookup(text)
	if whole.How != NoMatch {
		return []Match{whole}, []string{strings.TrimSpace(text)}, true
	}
	split := splitWords(text)
	if len(split) < 2 {
		return []Match{whole}, []string{strings.TrimSpace(text)}, false
	}
	seen := map[string]bool{}
	for _, part := range split {
		m := v.Lookup(part)
		if m.How == NoMatch {
			return []Match{m}, []string{part}, false
		}
		if !seen[m.Code] {
			seen[m.Code] = true
			matches = append(matches, m)
			parts = append(parts, part)
		}
	}
	return matches, parts, true
}

func splitWords(text string) []string {
	text = strings.NewReplacer(" and ", ",", " AND ", ",", " And ", ",").Replace(text)
	var out []string
	for _, p := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;+/&|\n\r", r) }) {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// letters6 reports whether a key is long enough, and free of digits, for a
// one-letter slip to be told from another word.
func letters6(key string) bool {
	n := 0
	for _, r := range key {
		if unicode.IsDigit(r) {
			return false
		}
		n++
	}
	return n >= 6
}

// nearest names the code whose words are closest to key, within a third of
// its length, or nothing.
func (v Vocabulary) nearest(key string) string {
	best, bestDist := "", len(key)/3+1
	if len(key) < 3 || len(key) > 60 {
		return ""
	}
	for _, e := range v.entries {
		words := append([]string{e.Code}, e.Synonyms...)
		for _, w := range words {
			if d := editDistance(key, wordKey(w)); d < bestDist {
				best, bestDist = e.Code, d
			}
		}
	}
	if best == "" && len(key) >= 5 { // a known word inside a longer remark
		longest := 0
		for _, e := range v.entries {
			for _, w := range append([]string{e.Code}, e.Synonyms...) {
				k := wordKey(w)
				if len(k) >= 5 && len(k) > longest && (strings.Contains(key, k) || strings.Contains(k, key)) {
					best, longest = e.Code, len(k)
				}
			}
		}
	}
	return best
}

// wordKey folds case and drops spaces and punctuation; a text of symbols
// only stays as it is.
func wordKey(text string) string {
	var b strings.Builder
	for _, r := range text {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(unicode.ToLower(r))
		}
	}
	if b.Len() == 0 {
		return strings.TrimSpace(text)
	}
	return b.String()
}

// within1 reports whether a and b differ by at most one insertion, deletion
// or replacement.
func within1(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(y)-len(x) > 1 {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	if len(x) < len(y) {
		return string(x[i:]) == string(y[i+1:])
	}
	return i >= len(x)-1 || string(x[i+1:]) == string(y[i+1:])
}

// editDistance is the Levenshtein distance in runes.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	prev := make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := range x {
		cur := make([]int, len(y)+1)
		cur[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			cur[j+1] = min(prev[j+1]+1, cur[j]+1, prev[j]+cost)
		}
		prev = cur
	}
	return prev[len(y)]
}
