package notebook

import (
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"plybook/analysis/table"
)

// reader collects the faults found while a block is read. Each of its
// methods reads one kind of value and returns the zero value after a fault.
type reader struct {
	errs []*Error
}

func (r *reader) fail(pos Pos, code, format string, args ...any) {
	r.errs = append(r.errs, &Error{Pos: pos, Code: code, Text: fmt.Sprintf(format, args...)})
}

func (r *reader) failNear(pos Pos, code, nearest, format string, args ...any) {
	r.errs = append(r.errs, &Error{Pos: pos, Code: code, Nearest: nearest, Text: fmt.Sprintf(format, args...)})
}

// sorted returns the faults in order of place: the first one first.
func (r *reader) sorted() []*Error {
	sort.SliceStable(r.errs, func(i, j int) bool { return r.errs[i].Pos.Before(r.errs[j].Pos) })
	return r.errs
}

// first splits the faults into the first and the rest.
func (r *reader) first() (*Error, []*Error) {
	errs := r.sorted()
	if len(errs) == 0 {
		return nil, nil
	}
	return errs[0], errs[1:]
}

// text reads a single value as written.
func (r *reader) text(key string, n node) string {
	switch {
	case n.kind == nodeNone, n.kind == nodeText && n.text == "":
		r.fail(n.pos, CodeWrongType, "`%s` has no value", key)
		return ""
	case n.kind != nodeText:
		r.fail(n.pos, CodeWrongType, "`%s` takes a single value, not %s", key, n.kind)
		return ""
	}
	return n.text
}

// list reads a list of values; one value alone is a list of one. The values
// differ from one another.
func (r *reader) list(key string, n node) []node {
	if n.kind == nodeText && n.text != "" {
		if !n.quoted && strings.Contains(n.text, ", ") {
			near := "[" + n.text + "]"
			r.failNear(n.pos, CodeWrongType, near, "a list stands in brackets; did you mean %s?", near)
			return nil
		}
		return []node{n}
	}
	if n.kind != nodeList {
		what := n.kind.String()
		if n.kind == nodeText {
			what = "nothing"
		}
		r.fail(n.pos, CodeWrongType, "`%s` takes a list, not %s", key, what)
		return nil
	}
	if len(n.items) == 0 {
		r.fail(n.pos, CodeWrongType, "the list of `%s` is empty", key)
	}
	var out []node
	seen := map[string]bool{}
	for _, it := range n.items {
		before := len(r.errs)
		t := r.text(key, it)
		if len(r.errs) > before {
			continue
		}
		if seen[t] {
			r.fail(it.pos, CodeBadValue, "`%s` lists %q twice", key, t)
			continue
		}
		seen[t] = true
		out = append(out, it)
	}
	return out
}

// word reads a value that must be one of valid.
func (r *reader) word(key string, n node, valid []string) string {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return ""
	}
	for _, v := range valid {
		if t == v {
			return v
		}
	}
	h, near := hint(t, valid)
	r.failNear(n.pos, CodeBadValue, near, "`%s` cannot be %q; %s", key, t, h)
	return ""
}

// number reads a number written plainly, in quotes or not.
func (r *reader) number(key string, n node) (float64, bool) {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return 0, false
	}
	v, ok := plainNumber(t)
	if !ok {
		r.fail(n.pos, CodeWrongType, "`%s` takes a number, not %q", key, t)
	}
	return v, ok
}

var numberForm = regexp.MustCompile(`^[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]{1,3})?$`)

// plainNumber reads a decimal number: no hexadecimal, no underscores, no
// infinity, which the notebook's other parts would read as text.
func plainNumber(s string) (float64, bool) {
	if !numberForm.MatchString(s) {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// whole reads a whole number from lo to hi.
func (r *reader) whole(key string, n node, lo, hi int) int {
	before := len(r.errs)
	v, _ := r.number(key, n)
	if len(r.errs) > before {
		return 0
	}
	if v != math.Trunc(v) || v < float64(lo) || v > float64(hi) {
		r.fail(n.pos, CodeBadValue, "`%s` takes a whole number from %d to %d, not %s", key, lo, hi, n.text)
		return 0
	}
	return int(v)
}

// positive reads a number above 0 and up to a million.
func (r *reader) positive(key string, n node) float64 {
	before := len(r.errs)
	v, _ := r.number(key, n)
	if len(r.errs) > before {
		return 0
	}
	if !(v > 0) || v > 1e6 {
		r.fail(n.pos, CodeBadValue, "`%s` takes a number above 0 and up to a million, not %s", key, n.text)
		return 0
	}
	return v
}

// fraction reads a number between 0 and 1, both excluded.
func (r *reader) fraction(key string, n node) float64 {
	before := len(r.errs)
	v, _ := r.number(key, n)
	if len(r.errs) > before {
		return 0
	}
	if v <= 0 || v >= 1 {
		near := ""
		if v > 1 && v < 100 {
			near = strconv.FormatFloat(v/100, 'g', -1, 64)
			r.failNear(n.pos, CodeBadValue, near, "`%s` lies between 0 and 1; did you mean %s?", key, near)
			return 0
		}
		r.fail(n.pos, CodeBadValue, "`%s` lies between 0 and 1, not at %s", key, n.text)
		return 0
	}
	return v
}

// share reads a number, or a percentage as a fraction of 1.
func (r *reader) share(key string, n node) *float64 {
	if n.kind == nodeText {
		if t, ok := strings.CutSuffix(n.text, "%"); ok {
			if v, ok := plainNumber(strings.TrimSpace(t)); ok {
				v /= 100
				return &v
			}
		}
	}
	v, ok := r.number(key, n)
	if !ok {
		return nil
	}
	return &v
}

// yes reads yes or no, in the words of either convention.
func (r *reader) yes(key string, n node) bool {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return false
	}
	switch strings.ToLower(t) {
	case "true", "yes":
		return true
	case "false", "no":
		return false
	}
	r.fail(n.pos, CodeWrongType, "`%s` is true or false, not %q", key, t)
	return false
}

// date reads a calendar day.
func (r *reader) date(key string, n node) *float64 {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return nil
	}
	d, ok := days(t)
	if !ok {
		r.fail(n.pos, CodeBadDate, "`%s` takes a day written as 2024-01-31, not %q", key, t)
		return nil
	}
	return &d
}

var durationForm = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?([dwmy])$`)

// duration reads a length of time above 0: 90d, 2w, 6m or 1y. A month is
// 30.4375 days, a year 365.25.
func (r *reader) duration(key string, n node) *Duration {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return nil
	}
	m := durationForm.FindStringSubmatch(t)
	if m == nil {
		near := ""
		if v, ok := plainNumber(t); ok && v > 0 {
			near = t + "d"
			r.failNear(n.pos, CodeBadDuration, near, "`%s` needs a unit, d, w, m or y; did you mean %s?", key, near)
			return nil
		}
		r.fail(n.pos, CodeBadDuration, "`%s` takes a length of time such as 90d, 2w, 6m or 1y, not %q", key, t)
		return nil
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil || v <= 0 || v > 100000 {
		r.fail(n.pos, CodeBadDuration, "`%s` takes a length of time above 0, not %q", key, t)
		return nil
	}
	unit := map[string]float64{"d": 1, "w": 7, "m": table.DaysPerMonth, "y": table.DaysPerYear}[m[2]]
	return &Duration{Days: v * unit, Text: m[1] + m[2]}
}

// Words is the duration as one would say it: "90 days", "1 year".
func (d Duration) Words() string {
	if d.Text == "" {
		return ""
	}
	n, unit := d.Text[:len(d.Text)-1], d.Text[len(d.Text)-1]
	w := map[byte]string{'d': "day", 'w': "week", 'm': "month", 'y': "year"}[unit]
	if v, err := strconv.ParseFloat(n, 64); err != nil || v != 1 {
		w += "s"
	}
	return n + " " + w
}

// percentage reads a number of percent above 0 and up to 100.
func (r *reader) percentage(key string, n node) float64 {
	before := len(r.errs)
	v, _ := r.number(key, n)
	if len(r.errs) > before {
		return 0
	}
	if !(v > 0 && v <= 100) {
		r.fail(n.pos, CodeBadValue, "`%s` takes a number of percent above 0 and up to 100, such as 6.5, not %s", key, n.text)
		return 0
	}
	return v
}
