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

	compared *alikeForm // made when first compared
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

// alikeForm is a value as it is compared with others, worked out once.
type alikeForm struct {
	whole textForm
	parts []textForm
}

// textForm is a text as it is compared with others.
type textForm struct {
	text    string
	key     string // identityKey
	bare    string // letters and figures without accents
	twoFold string // the same with umlauts in two letters
	digits  string // the same without zeros in front of a number
	figures bool   // there are figures
	words   []string
	sorted  []string // words
}

func newTextForm(text string) textForm {
	f := textForm{text: text, key: identityKey(text), bare: bareLetters(text), twoFold: twoLetterForm(text), figures: hasDigit(text), words: wordsOf(text)}
	f.digits = withoutZeros(f.bare)
	f.sorted = slices.Sorted(slices.Values(f.words))
	return f
}

func (v *codedValue) form() *alikeForm {
	if v.compared == nil {
		v.compared = &alikeForm{whole: newTextForm(strings.Join(v.parts, " "))}
		for _, p := range v.parts {
			v.compared.parts = append(v.compared.parts, newTextForm(p))
		}
	}
	return v.compared
}

// traces are texts of which values nearly alike share one.
func (v *codedValue) traces() []string {
	f := v.form()
	out := []string{"k" + f.whole.bare, "k" + f.whole.twoFold, "w" + strings.Join(f.whole.sorted, " "), "d" + f.whole.digits}
	if len(f.parts) > 1 {
		for i := range f.parts {
			others := make([]string, len(f.parts))
			for k := range others {
				if k != i {
					others[k] = f.parts[k].key
				}
			}
			out = append(out, fmt.Sprintf("p%d ", i)+strings.Join(others, "|"))
		}
		return distinctTexts(out)
	}
	if letters := []rune(f.whole.bare); len(letters) >= shortName-1 && len(letters) <= 60 && !f.whole.figures {
		out = append(out, "e"+f.whole.bare)
		for i := range letters {
			out = append(out, "e"+string(letters[:i])+string(letters[i+1:]))
		}
	}
	for _, w := range f.whole.words {
		if len([]rune(w)) >= 3 && !hasDigit(w) && len(f.whole.words) > 1 {
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
func alike(v, w *codedValue) string {
	a, b := v.form(), w.form()
	if len(a.parts) != len(b.parts) {
		return ""
	}
	if len(a.whole.sorted) > 1 && slices.Equal(a.whole.sorted, b.whole.sorted) && a.whole.bare != b.whole.bare && !a.whole.figures {
		return "the same words in another order"
	}
	differ := -1
	for i := range a.parts {
		if a.parts[i].key == b.parts[i].key {
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
		case x.text == "" || y.text == "":
			return "one of the cells beside it is blank"
		case x.figures && y.figures && dayAlike(x.bare, y.bare):
			return "one figure differs, or two stand the other way round"
		}
	}
	return alikeText(x, y, len([]rune(a.whole.bare)))
}

// alikeText compares one part of two values of which the rest is the same;
// letters is how many the whole of the first has.
func alikeText(x, y textForm, letters int) string {
	switch {
	case x.figures || y.figures:
		if x.digits == y.digits {
			return "zeros in front, or figures set apart otherwise"
		}
		return ""
	case x.bare == y.bare || x.twoFold == y.twoFold:
		return "accents or marks differ"
	case letters >= shortName && min(len([]rune(x.bare)), len([]rune(y.bare))) >= 2 && within2(x.bare, y.bare) && swapDistance(x.bare, y.bare) == 1:
		return "one letter differs"
	}
	return wordsAlike(x.words, y.words)
}

// within2 spares most texts the count of slips: the lengths are near.
func within2(a, b string) bool { return max(len(a)-len(b), len(b)-len(a)) <= 3 }

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

// dayAlike says whether two dates, or numbers of as many figures, differ in
// one figure or have the same figures in another order.
func dayAlike(x, y string) bool {
	a, b := []byte(x), []byte(y)
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

// umlauts are letters that are written with two where a keyboard lacks them.
var umlauts = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "å", "aa", "ø", "oe")

// twoLetterForm writes umlauts with two letters.
func twoLetterForm(text string) string {
	return bareLetters(umlauts.Replace(strings.ToLower(norm.NFC.String(text))))
}

// withoutZeros takes the zeros in front of each number out.
func withoutZeros(bare string) string {
	var b strings.Builder
	inside := false
	for _, r := range bare {
		if r == '0' && !inside {
			continue
		}
		inside = unicode.IsDigit(r)
		b.WriteRune(r)
	}
	return b.String()
}

func hasDigit(s string) bool { return strings.ContainsAny(s, "0123456789") }
