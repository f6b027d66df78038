package ingest

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// cellCount is a value of a column with how often it stands there.
type cellCount struct {
	cell
	n int
}

// maxDistinct bounds the values of a column that are looked at.
const maxDistinct = 300

// guessColumn is a column of a found table with what is known of it.
type guessColumn struct {
	col      int
	header   string
	lowest   string // the lowest row of a header of several rows
	cells    []cell // not blank
	kinds    []cellCount
	distinct int
	taken    bool
}

func (t *foundTable) columns() []*guessColumn {
	var out []*guessColumn
	for c := t.from; c <= t.to && c < len(t.headers); c++ {
		if t.headers[c] == "" {
			continue
		}
		g := &guessColumn{col: c, header: t.headers[c]}
		if t.end > t.start {
			g.lowest = strings.Join(strings.Fields(t.raw.rows[t.end].cell(c).text), " ")
		}
		seen := map[cell]int{}
		texts := map[string]bool{}
		for _, r := range t.rows {
			if x := r.cell(c); strings.TrimSpace(x.text) != "" {
				x.text = strings.Join(strings.Fields(x.text), " ")
				g.cells = append(g.cells, x)
				texts[x.text] = true
				i, ok := seen[x]
				if !ok && len(g.kinds) < maxDistinct {
					i, ok = len(g.kinds), true
					seen[x] = i
					g.kinds = append(g.kinds, cellCount{cell: x})
				}
				if ok {
					g.kinds[i].n++
				}
			}
		}
		g.distinct = len(texts)
		out = append(out, g)
	}
	return out
}

// share is the part of the column's values that a test accepts; half where
// there is none to tell. Values that stand for missing do not count.
func (g *guessColumn) share(test func(c cell) bool) float64 {
	n, ok := 0, 0
	for _, c := range g.kinds {
		if c.kind == cellError || isMissing(c.text) {
			continue
		}
		n += c.n
		if test(c.cell) {
			ok += c.n
		}
	}
	if n == 0 {
		return 0.5
	}
	return float64(ok) / float64(n)
}

func isDateCell(c cell) bool {
	if c.kind == cellDate || c.kind == cellMonthYear || c.kind == cellISO {
		return true
	}
	if c.kind != cellText {
		return false
	}
	r, err := readDate(c.text)
	return err == nil && r.form != dateYearOnly
}

// fit says how well a column's values suit a field, from 0 to 1.
func (g *guessColumn) fit(table string, field Field, commas bool) float64 {
	number := func(c cell) (number, bool) {
		if c.kind != cellText && c.kind != cellNumber {
			return number{}, false
		}
		n, err := parseNumber(c.text, commas)
		return n, err == nil
	}
	switch field.Kind {
	case KindDate:
		return g.share(func(c cell) bool {
			if isDateCell(c) {
				return true
			}
			_, err := readDate(c.text)
			return err == nil && field.Name == "amputated"
		})
	case KindYear:
		return g.share(func(c cell) bool {
			n, ok := number(c)
			return isDateCell(c) || ok && n.value > 1880 && n.value < 2100
		})
	case KindTime:
		return g.share(func(c cell) bool {
			_, err := parseClock(c.text, c.kind == cellTime)
			return err == nil && c.kind != cellNumber
		})
	case KindWord, KindWords:
		return g.share(func(c cell) bool {
			_, ok := readWord(field, c.text)
			return ok
		})
	case KindScore:
		return g.share(func(c cell) bool {
			_, _, err := parseScore(c.text, commas)
			return err == nil && (c.kind == cellText || c.kind == cellNumber) || c.kind == cellDate
		})
	case KindPly:
		return g.share(func(c cell) bool {
			_, _, err := parsePly(c.text)
			return err == nil && (c.kind == cellText || c.kind == cellNumber) || c.kind == cellDate || c.kind == cellMonthYear
		})
	case KindWhole:
		return g.share(func(c cell) bool {
			v, _, err := parseWhole(c.text, commas)
			return err == nil && v >= field.Low && v <= field.High
		})
	case KindNumber:
		unit := g.unit(field)
		return g.share(func(c cell) bool {
			n, ok := number(c)
			if !ok {
				return c.kind == cellTime && field.Unit == "h"
			}
			if n.unit != "" {
				_, ok := toUnit(1, n.unit, field.Unit)
				return ok
			}
			v, ok := toUnit(n.value, unit, field.Unit)
			return ok && v >= field.Low && v <= field.High
		})
	case KindID:
		dates := g.share(isDateCell)
		if dates > 0.3 && dates != 0.5 {
			return 0
		}
		return g.share(func(c cell) bool { return len([]rune(c.text)) <= 40 && c.kind != cellBool && c.kind != cellTime })
	}
	if s := g.share(isDateCell); s > 0.5 {
		return 0
	}
	return g.share(func(c cell) bool { return c.kind != cellTime && c.kind != cellBool })
}

// known is Lookup without its search for what is near, which is slow.
func (v Vocabulary) known(text string) (string, bool) {
	h, ok := v.index[wordKey(text)]
	return h.code, ok && h.code != ""
}

// readWord reads a text by a field's vocabulary; where the whole is not
// known, by the only word inside it that is ("R BKA").
func readWord(field Field, text string) (string, bool) {
	if code, ok := field.Words.known(text); ok {
		return code, true
	}
	if split := splitWords(text); len(split) > 1 && len(split) < 6 {
		first := ""
		all := true
		for _, p := range split {
			code, ok := field.Words.known(p)
			if all = all && ok; first == "" {
				first = code
			}
		}
		if all {
			return first, true
		}
	}
	code := ""
	for _, t := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,-/()+", r) }) {
		if known, ok := field.Words.known(t); ok {
			if code != "" && code != known {
				return "", false
			}
			code = known
		}
	}
	return code, code != "" && (field.Name == "side" || field.Name == "level")
}

func (g *guessColumn) median() (float64, bool) {
	var v []float64
	for _, c := range g.cells {
		if n, err := parseNumber(c.text, true); err == nil && n.unit == "" && (c.kind == cellText || c.kind == cellNumber) {
			v = append(v, n.value)
		}
	}
	if len(v) == 0 {
		return 0, false
	}
	slices.Sort(v)
	return v[len(v)/2], true
}

// unit is the unit of a column's numbers: that of the header, of the cells,
// or what their size speaks for.
func (g *guessColumn) unit(field Field) string {
	if u := headerUnit(g.header, field.Unit); u != "" {
		return u
	}
	numbers, named := 0, map[string]int{}
	for _, c := range g.cells {
		n, err := parseNumber(c.text, true)
		if err != nil {
			continue
		}
		numbers++
		if _, ok := toUnit(1, n.unit, field.Unit); n.unit != "" && ok && !(n.unit == "m" && field.Unit == "min") {
			named[n.unit]++
		}
	}
	for u, k := range named { // one cell in another unit says nothing of the rest
		if 2*k > numbers {
			return u
		}
	}
	m, ok := g.median()
	if !ok {
		return field.Unit
	}
	switch {
	case field.Name == "limb_mm" || field.Name == "target_mm" || field.Name == "model_mm":
		return girthUnit(m)
	case field.Name == "mass_kg" && m > 130:
		return "lb"
	case field.Name == "oven_c" && m > 260:
		return "F"
	case field.Name == "station_mm" && m > 0 && m <= 40:
		return "cm"
	}
	return field.Unit
}

// girthUnit is the unit in which a median girth of a limb is likely.
func girthUnit(median float64) string {
	switch {
	case median >= 100:
		return "mm"
	case median > 18:
		return "cm"
	}
	return "in"
}

// inchMark is a figure with the mark of inches.
var inchMark = regexp.MustCompile(`\d\s*(?:"|”|″|'')`)

// girthHeader reads a header such as "Circ 5", "Girth @ 10 cm" or "MPT +5":
// the distance and its unit, empty where the header names none.
func girthHeader(header string) (distance float64, unit string, ok bool) {
	tokens := headerTokens(strings.NewReplacer("(", " ", ")", " ").Replace(header))
	girth, has := false, false
	minus := strings.Contains(header, " -") || strings.Contains(strings.ToLower(header), "above")
	for i, t := range tokens {
		if girthWords[t] || landmarkIn(t) != "" && len(tokens) <= 4 {
			girth = true
			continue
		}
		v, err := strconv.ParseFloat(t, 64)
		if err != nil || has {
			continue
		}
		distance, has = v, true
		if inchMark.MatchString(header) {
			unit = "in"
		}
		if i+1 < len(tokens) {
			if u, ok := unitName(tokens[i+1]); ok && (u == "cm" || u == "mm" || u == "in") {
				unit = u
			}
		}
	}
	if minus {
		distance = -distance
	}
	return distance, unit, girth && has && distance < 600
}

// certainty is a share in words.
func certainty(p float64) string {
	p = min(p, 0.99)
	word := "a guess"
	switch {
	case p >= 0.9:
		word = "certain"
	case p >= 0.75:
		word = "likely"
	}
	return fmt.Sprintf("%s (%.0f%%)", word, 100*p)
}

const notShown = "(identifying: not shown)"

// samples shows up to three values of a column. Values that could name a
// person are left out.
func (g *guessColumn) samples(raw *rawSheet) string {
	var out []string
	for _, c := range g.cells {
		text := c.text
		if c.kind == cellDate || c.kind == cellMonthYear {
			if v, _, err := readDigits(c.text, false); err == nil {
				if d, _, ok := serialDate(v, raw.date1904); ok {
					text = d.String()
				}
			}
		}
		if r := []rune(text); len(r) > 24 {
			text = string(r[:22]) + "..."
		}
		if looksLikeName(c.text) || emailText.MatchString(c.text) || longest(c.text, isDigitRune) >= 7 || slices.Contains(out, text) {
			continue
		}
		if out = append(out, text); len(out) == 3 {
			break
		}
	}
	if len(out) == 0 {
		return "empty"
	}
	return strings.Join(out, " | ")
}

func isDigitRune(r rune) bool { return r >= '0' && r <= '9' }

// hides says whether samples of a column must not be shown.
func (g *guessColumn) hides(field *Field) bool {
	var texts []string
	for _, c := range g.cells {
		texts = append(texts, c.text)
	}
	if field != nil {
		return field.Person || field.Staff || field.Kind == KindYear || field.Kind == KindID && !LooksLikeCode(texts)
	}
	return identifyingWhy(g.header, texts, false, nil, nil, logSpan{}) != ""
}
