package ingest

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// codedPlace is a cell that a code stands for.
type codedPlace struct {
	sheet    *sheetData
	col, row int
}

// codedValue is one value that a code stands for: its text by column, and
// where it stands first. It is never shown.
type codedValue struct {
	parts []string
	code  string
	at    codedPlace
	n     int // cells
}

// codedValues are the values of a kind in the order in which they stand.
type codedValues struct {
	list   []*codedValue
	byCode map[string]*codedValue
}

func (r *reader) noteCoded(kind string, parts []string, code string, at codedPlace) {
	if r.coded == nil {
		r.coded = map[string]*codedValues{}
	}
	if r.coded[kind] == nil {
		r.coded[kind] = &codedValues{byCode: map[string]*codedValue{}}
	}
	vs := r.coded[kind]
	if v := vs.byCode[code]; v != nil {
		v.n++
		return
	}
	v := &codedValue{parts: slices.Clone(parts), code: code, at: at, n: 1}
	vs.byCode[code], vs.list = v, append(vs.list, v)
}

// checkCoded asks about values that are nearly one and got a code each: the
// cells are named, and in what they differ, never what stands there.
func (r *reader) checkCoded() {
	for _, kind := range sortedKinds(r.coded) {
		vs := r.coded[kind]
		list := slices.Clone(vs.list)
		gone := r.opts.Codes.gone(kind, vs)
		for _, p := range alikePairs(append(list, gone...)) {
			first, second := p.a, p.b
			if second.n == 0 {
				if !r.opts.Codes.fresh[first.code] {
					continue // both were there before
				}
				r.onSheet(first.at.sheet, first.at.col, first.at.row, CodeAlike, first.at.sheet.headers[first.at.col], "", "one spelling for each person", Kept,
					fmt.Sprintf("the value is new, and nearly one to which %s gives a code and that stands nowhere in the log any more: %s; if it is the same, write it there in the place of the old one, so that the code stays%s", CodesFile, p.how, further(first.n-1)))
				continue
			}
			r.onSheet(second.at.sheet, second.at.col, second.at.row, CodeAlike, second.at.sheet.headers[second.at.col], "", "one spelling for each person", Kept,
				fmt.Sprintf("the value is nearly that of %s: %s; they have a code each, so if they are one, write them alike%s",
					placeName(first.at.sheet, second.at.sheet, cellName(first.at.col, first.at.row)), p.how, further(second.n-1)))
		}
	}
}

func sortedKinds(m map[string]*codedValues) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// gone are the values of the file of codes that stand nowhere in the log.
func (c *Coder) gone(kind string, seen *codedValues) []*codedValue {
	var out []*codedValue
	for value, code := range c.codes.of(kind) {
		if seen.byCode[code] == nil {
			out = append(out, &codedValue{parts: strings.Split(value, partJoint), code: code})
		}
	}
	slices.SortFunc(out, func(a, b *codedValue) int { return strings.Compare(a.code, b.code) })
	return out
}

// alikePair is two values that are nearly one, the first standing first.
type alikePair struct {
	a, b *codedValue
	how  string
}

// crowd is from how many values on that share a word nothing is compared by
// it: a common surname says nothing.
const crowd = 40

// alikePairs finds, for each value but the first, an earlier one that it is
// nearly alike, in the order of the list. Only values that agree in one of
// their traces are compared.
func alikePairs(list []*codedValue) []alikePair {
	at := map[string][]int{}
	var out []alikePair
	for j, v := range list {
		tried := map[int]bool{}
		best := alikePair{}
		first := len(list)
		for _, trace := range v.traces() {
			if len(at[trace]) <= crowd {
				for _, i := range at[trace] {
					if tried[i] {
						continue
					}
					tried[i] = true
					if how := alike(list[i], v); how != "" && i < first {
						first, best = i, alikePair{list[i], v, how}
					}
				}
			}
			at[trace] = append(at[trace], j)
		}
		if best.how != "" {
			out = append(out, best)
		}
	}
	return out
}

// shortName is how many letters a value needs for one of them to be taken
// for a slip of the finger.
const shortName = 5

// traces are texts of which values nearly alike share one.
func (v *codedValue) traces() []string {
	whole := strings.Join(v.parts, " ")
	key := bareLetters(whole)
	words := wordsOf(whole)
	slices.Sort(words)
	out := []string{"k" + key, "k" + twoLetterForm(whole), "w" + strings.Join(words, " "), "d" + bareDigits(whole)}
	if len(v.parts) > 1 {
		for i := range v.parts {
			others := slices.Clone(v.parts)
			others[i] = ""
			for k := range others {
				others[k] = identityKey(others[k])
			}
			out = append(out, fmt.Sprintf("p%d ", i)+strings.Join(others, "|"))
		}
		return distinctTexts(out)
	}
	if letters := []rune(key); len(letters) >= shortName-1 && len(letters) <= 60 && !hasDigit(key) {
		out = append(out, "e"+key)
		for i := range letters {
			out = append(out, "e"+string(letters[:i])+string(letters[i+1:]))
		}
	}
	for _, w := range words {
		if len([]rune(w)) >= 3 && !hasDigit(w) && len(words) > 1 {
			out = append(out, "v"+w)
		}
	}
	return distinctTexts(out)
}

func distinctTexts(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}

// alike says in what two values nearly alike differ, or nothing.
func alike(a, b *codedValue) string {
	if len(a.parts) != len(b.parts) {
		return ""
	}
	if sameWords(strings.Join(a.parts, " "), strings.Join(b.parts, " ")) {
		return "the same words in another order"
	}
	differ := -1
	for i := range a.parts {
		if identityKey(a.parts[i]) == identityKey(b.parts[i]) {
			continue
		}
		if differ >= 0 {
			return ""
		}
		differ = i
	}
	if differ < 0 {
		return ""
	}
	x, y := a.parts[differ], b.parts[differ]
	if len(a.parts) > 1 {
		switch {
		case x == "" || y == "":
			return "one of the cells beside it is blank"
		case hasDigit(x) && hasDigit(y) && dayAlike(x, y):
			return "one figure differs, or two stand the other way round"
		}
	}
	return alikeText(x, y, len([]rune(bareLetters(strings.Join(a.parts, "")))))
}

// alikeText compares one part of two values of which the rest is the same;
// letters is how many the whole of the first has.
func alikeText(x, y string, letters int) string {
	a, b := bareLetters(x), bareLetters(y)
	switch {
	case hasDigit(x) || hasDigit(y):
		if bareDigits(x) == bareDigits(y) {
			return "zeros in front, or figures set apart otherwise"
		}
		return ""
	case a == b || twoLetterForm(x) == twoLetterForm(y):
		return "accents or marks differ"
	case letters >= shortName && min(len([]rune(a)), len([]rune(b))) >= 2 && swapDistance(a, b) == 1:
		return "one letter differs"
	}
	return wordsAlike(wordsOf(x), wordsOf(y))
}

// wordsAlike says whether one name is a shorter form of the other: an initial
// for a word, or a word left out of three or more.
func wordsAlike(a, b []string) string {
	if len(a) > len(b) {
		a, b = b, a
	}
	if len(a) < 2 {
		return ""
	}
	if len(a) == len(b) {
		initial := false
		for i := range a {
			short, long := a[i], b[i]
			if len([]rune(short)) > len([]rune(long)) {
				short, long = long, short
			}
			switch {
			case short == long:
			case len([]rune(short)) == 1 && strings.HasPrefix(long, short) && !initial:
				initial = true
			default:
				return ""
			}
		}
		return "an initial for a name"
	}
	left := slices.Clone(b)
	for _, w := range a {
		i := slices.Index(left, w)
		if i < 0 {
			return ""
		}
		left = slices.Delete(left, i, i+1)
	}
	return "one of the names is left out"
}

func sameWords(a, b string) bool {
	x, y := wordsOf(a), wordsOf(b)
	slices.Sort(x)
	slices.Sort(y)
	return len(x) > 1 && slices.Equal(x, y) && bareLetters(a) != bareLetters(b) && !hasDigit(strings.Join(x, ""))
}

// dayAlike says whether two dates, or numbers of as many figures, differ in
// one figure or have the same figures in another order.
func dayAlike(x, y string) bool {
	a, b := []byte(bareDigits("1"+x)), []byte(bareDigits("1"+y))
	if len(a) != len(b) {
		return false
	}
	differ := 0
	for i := range a {
		if a[i] != b[i] {
			differ++
		}
	}
	slices.Sort(a)
	slices.Sort(b)
	return differ == 1 || slices.Equal(a, b)
}

// wordsOf are the words of a text, in small letters without accents.
func wordsOf(text string) []string {
	var out []string
	for _, w := range wordSplit.Split(bareText(text), -1) {
		if w != "" {
			out = append(out, w)
		}
	}
	return out
}

// otherLetters are letters that are no letter with an accent to Unicode, but
// are written without one where the keyboard lacks them.
var otherLetters = strings.NewReplacer("ø", "o", "ł", "l", "đ", "d", "ð", "d", "ß", "ss", "æ", "ae", "œ", "oe", "þ", "th", "ı", "i")

// bareText is a text in small letters without accents.
func bareText(text string) string {
	return otherLetters.Replace(strings.ToLower(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFKD.String(text))))
}

func bareLetters(text string) string { return strings.ReplaceAll(identityKey(bareText(text)), "-", "") }

// twoLetterForm writes umlauts with two letters, as is done where a keyboard
// lacks them.
func twoLetterForm(text string) string {
	t := strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "å", "aa", "ø", "oe").Replace(strings.ToLower(norm.NFC.String(text)))
	return bareLetters(t)
}

// bareDigits are letters and figures without zeros in front of a number.
func bareDigits(text string) string {
	var b strings.Builder
	inside := false
	for _, r := range bareLetters(text) {
		if r == '0' && !inside {
			continue
		}
		inside = unicode.IsDigit(r)
		b.WriteRune(r)
	}
	return b.String()
}

func hasDigit(s string) bool { return strings.ContainsAny(s, "0123456789") }
