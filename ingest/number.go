package ingest

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// number is what a cell says about one quantity.
type number struct {
	value  float64
	unit   string // canonical unit found in the cell, or empty
	approx string // why the value is not exact: "about", "more than", "less than", "a range"; or empty
	commas bool   // a lone comma was read as a thousands separator
}

var errNotNumber = errors.New("not a number")

var (
	plainNumber = regexp.MustCompile(`^[+-]?\d+(\.\d+)?([eE][+-]?\d+)?$`)
	spacedThou  = regexp.MustCompile(`^([+-]?\d{1,3})((?: \d{3})+)([.,]\d+)?$`)
	mixedFrac   = regexp.MustCompile(`^([+-]?)(?:(\d+)[ -]+)?(\d+)/(\d+)$`)
	stoneMass   = regexp.MustCompile(`^(\d+)\s*st(?:one)?s?\.?\s*(\d+(?:\.\d+)?)\s*(?:lbs?|pounds?)?\.?$`)
	numberRange = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:-|to)\s*(\d+(?:[.,]\d+)?)\s*(\D*)$`)
	hourMinutes = regexp.MustCompile(`^(\d+)\s*h(?:rs?|ours?)?\s*(\d{1,2})\s*(?:m|mins?|minutes?)?$`)
)

var tidy = strings.NewReplacer(
	"\u00a0", " ", "\u202f", " ", "\u2009", " ", "\u2212", "-", "\u2013", "-", "\u2014", "-", "\u2010", "-", "\u2011", "-",
	"\u201c", `"`, "\u201d", `"`, "\u2033", `"`, "\u2032", "'", "\u2019", "'", "\u00d7", "x",
	"\u00bd", " 1/2", "\u00bc", " 1/4", "\u00be", " 3/4", "\u215b", " 1/8", "\u215c", " 3/8", "\u215d", " 5/8", "\u215e", " 7/8",
	"\u2153", " 1/3", "\u2154", " 2/3", "\u2159", " 1/6", "\u215a", " 5/6", "\u2044", "/", "\u2215", "/",
	"''", `"`, "\t", " ", "\r", " ", "\n", " ",
)

// tidyText trims a text, folds its kinds of space, dash and quote, and
// spells out fraction signs.
func tidyText(s string) string {
	if isTidy(s) {
		return s
	}
	return strings.Join(strings.Fields(tidy.Replace(raisedFrac.ReplaceAllStringFunc(s, lowered))), " ")
}

// raisedFrac is a fraction in raised and lowered figures, ⁷⁄₈.
var raisedFrac = regexp.MustCompile(`[⁰¹²³⁴⁵⁶⁷⁸⁹]+[⁄∕/][₀₁₂₃₄₅₆₇₈₉]+`)

// lowered writes such a fraction in plain figures, apart from a number before
// it.
func lowered(s string) string { return " " + norm.NFKC.String(s) }

// isTidy spares most cells the replacements: plain ASCII, single spaces.
func isTidy(s string) bool {
	prev := byte(' ')
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c < ' ' || c > '~' || c == ' ' && prev == ' ' || c == '\'' && prev == '\'' {
			return false
		}
		prev = c
	}
	return s == "" || prev != ' '
}

// parseNumber reads a quantity. comma says that the sheet writes a decimal
// comma. It accepts a unit after the number, fractions (12 3/4"), marks of
// doubt (~, ca., ?), bounds (>15, 15+) and a range (3-5, read as its middle).
func parseNumber(text string, comma bool) (number, error) {
	s := strings.ToLower(tidyText(text))
	var n number
	if plainNumber.MatchString(s) {
		v, thousands, err := finite(atof(s), false)
		if err != nil {
			return n, err
		}
		n.value, n.commas = v, thousands
		return n, nil
	}
	for _, p := range []string{"approximately", "approx.", "approx", "circa", "about", "ca.", "ca ", "c.", "~", "≈"} {
		if rest, ok := strings.CutPrefix(s, p); ok {
			s, n.approx = strings.TrimSpace(rest), "about"
			break
		}
	}
	for _, p := range []struct{ mark, why string }{{">=", "more than"}, {"<=", "less than"}, {"≥", "more than"}, {"≤", "less than"}, {">", "more than"}, {"<", "less than"}, {"over ", "more than"}, {"under ", "less than"}} {
		if rest, ok := strings.CutPrefix(s, p.mark); ok {
			s, n.approx = strings.TrimSpace(rest), p.why
			break
		}
	}
	if rest, ok := strings.CutSuffix(s, "?"); ok {
		s, n.approx = strings.TrimRight(rest, " ?"), "about"
	}
	if rest, ok := strings.CutSuffix(s, "+"); ok {
		s, n.approx = strings.TrimSpace(rest), "more than"
	}
	if m := stoneMass.FindStringSubmatch(s); m != nil {
		st, _ := strconv.ParseFloat(m[1], 64)
		lb, _ := strconv.ParseFloat(m[2], 64)
		n.value, n.unit = st*14+lb, "lb"
		return n, n.fault()
	}
	if m := hourMinutes.FindStringSubmatch(s); m != nil {
		h, _ := strconv.ParseFloat(m[1], 64)
		mi, _ := strconv.ParseFloat(m[2], 64)
		n.value, n.unit = h*60+mi, "min"
		return n, n.fault()
	}
	if m := numberRange.FindStringSubmatch(s); m != nil {
		lo, _, err1 := readDigits(m[1], comma)
		hi, _, err2 := readDigits(m[2], comma)
		unit, ok := unitName(m[3])
		if err1 != nil || err2 != nil || !ok {
			return number{}, errNotNumber
		}
		return number{value: lo/2 + hi/2, unit: unit, approx: "a range"}, nil
	}
	digits, unit := splitUnit(s)
	name, ok := unitName(unit)
	if !ok {
		return number{}, fmt.Errorf("%w: unit %q is not known", errNotNumber, unit)
	}
	n.unit = name
	v, thousands, err := readDigits(digits, comma)
	if err != nil {
		return number{}, err
	}
	n.value, n.commas = v, thousands
	return n, nil
}

// fault is an error where the digits are more than a number holds.
func (n number) fault() error {
	_, _, err := finite(n.value, false)
	return err
}

// splitUnit parts the leading number from what follows it.
func splitUnit(s string) (digits, unit string) {
	if plainNumber.MatchString(s) {
		return s, ""
	}
	end := len(s)
	for i, r := range s {
		if !strings.ContainsRune("0123456789.,/+- '", r) {
			end = i
			break
		}
	}
	return strings.TrimSpace(s[:end]), strings.TrimSpace(s[end:])
}

// readDigits reads a bare number. thousands reports that a single comma was
// taken as a thousands separator though it might be a decimal comma.
func readDigits(s string, comma bool) (v float64, thousands bool, err error) {
	s = strings.TrimSpace(s)
	if isPlainDigits(s) { // as most are
		return finite(atof(s), false)
	}
	if m := mixedFrac.FindStringSubmatch(s); m != nil {
		whole, num, den := 0.0, atof(m[3]), atof(m[4])
		if m[2] != "" {
			whole = atof(m[2])
		}
		if den == 0 {
			return 0, false, errNotNumber
		}
		v = whole + num/den
		if m[1] == "-" {
			v = -v
		}
		return finite(v, false)
	}
	if m := spacedThou.FindStringSubmatch(s); m != nil {
		s = m[1] + strings.ReplaceAll(m[2], " ", "") + m[3]
	}
	dots, commas := strings.Count(s, "."), strings.Count(s, ",")
	switch {
	case dots > 0 && commas > 0:
		if strings.LastIndex(s, ",") > strings.LastIndex(s, ".") { // 1.234,5
			if commas > 1 || !grouped(s[:strings.LastIndex(s, ",")], ".") {
				return 0, false, errNotNumber
			}
			s = strings.Replace(strings.ReplaceAll(s, ".", ""), ",", ".", 1)
		} else {
			if dots > 1 || !grouped(s[:strings.LastIndex(s, ".")], ",") {
				return 0, false, errNotNumber
			}
			s = strings.ReplaceAll(s, ",", "")
		}
	case commas == 1:
		i := strings.Index(s, ",")
		if !comma && grouped(s, ",") && !strings.HasPrefix(strings.TrimLeft(s, "+-"), "0") {
			s, thousands = s[:i]+s[i+1:], true
		} else {
			s = s[:i] + "." + s[i+1:]
		}
	case commas > 1:
		if !grouped(s, ",") {
			return 0, false, errNotNumber
		}
		s = strings.ReplaceAll(s, ",", "")
	case dots > 1:
		if !grouped(s, ".") {
			return 0, false, errNotNumber
		}
		s = strings.ReplaceAll(s, ".", "")
	}
	if strings.HasPrefix(s, ".") {
		s = "0" + s
	}
	s = strings.TrimSuffix(s, ".")
	if !plainNumber.MatchString(s) {
		return 0, false, errNotNumber
	}
	return finite(atof(s), thousands)
}

// isPlainDigits says whether a text is digits, with a point among them or
// without.
func isPlainDigits(s string) bool {
	point := -1
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
		case c == '.' && point < 0:
			point = i
		default:
			return false
		}
	}
	return len(s) > 0 && point != 0 && point != len(s)-1
}

func finite(v float64, thousands bool) (float64, bool, error) {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, false, errNotNumber
	}
	if v == 0 {
		v = 0 // no minus zero
	}
	return v, thousands, nil
}

func atof(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return math.Inf(1)
	}
	return v
}

// grouped reports whether sep parts s into groups of three after a first
// group of one to three digits.
func grouped(s, sep string) bool {
	parts := strings.Split(strings.TrimLeft(s, "+-"), sep)
	for i, p := range parts {
		if i == 0 && (len(p) < 1 || len(p) > 3) || i > 0 && len(p) != 3 {
			return false
		}
	}
	return true
}

// parseWhole reads a whole number, an ordinal (2nd) included.
func parseWhole(text string, comma bool) (float64, string, error) {
	s := strings.ToLower(tidyText(text))
	for _, suffix := range []string{"st", "nd", "rd", "th", "."} {
		if rest, ok := strings.CutSuffix(s, suffix); ok && plainNumber.MatchString(rest) {
			s = rest
		}
	}
	s = strings.TrimPrefix(s, "#")
	n, err := parseNumber(s, comma)
	if err != nil {
		return 0, "", err
	}
	if n.unit != "" || n.approx == "a range" || n.value != math.Trunc(n.value) {
		return 0, "", errors.New("not a whole number")
	}
	return n.value, n.approx, nil
}
