package notebook

import (
	"regexp"
	"strings"

	"plybook/analysis/table"
)

// condition reads the words of `keep`, which numerator, denominator and an
// event on visits share:
//
//	{kind: definitive, age: 18..65, cast_method: [hand, vacuum], ended: missing,
//	 any: [{cause: vascular}, {sex: known}]}
//
// Quotes make `missing` and `known` plain text; a range is a range in quotes
// too, where its bounds are numbers or dates.
func (r *reader) condition(key string, n node) table.Condition {
	var out table.Condition
	if n.kind != nodeMap {
		if n.kind == nodeNone {
			r.fail(n.pos, CodeWrongType, "`%s` has no value: it takes {column: value}", key)
			return out
		}
		what := n.kind.String()
		if n.kind == nodeText {
			what = quote(n.text)
		}
		r.fail(n.pos, CodeWrongType, "`%s` takes {column: value}, not %s", key, what)
		return out
	}
	if len(n.entries) == 0 {
		r.fail(n.pos, CodeWrongType, "`%s` has no condition", key)
		return out
	}
	seen := map[string]Pos{}
	for _, e := range n.entries {
		if p, ok := seen[e.key]; ok {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` in `%s` stands on line %d already", e.key, key, p.Line)
			continue
		}
		seen[e.key] = e.keyPos
		switch {
		case e.key == "":
			r.fail(e.keyPos, CodeWrongType, "`%s` has a value without a column", key)
		case e.key == "any":
			out.Any = r.anyOf(key, e)
		default:
			if c, ok := r.clause(e); ok {
				out.Clauses = append(out.Clauses, c)
			}
		}
	}
	return out
}

func (r *reader) anyOf(key string, e entry) []table.Condition {
	if e.value.kind != nodeList || len(e.value.items) == 0 {
		r.fail(e.value.pos, CodeWrongType, "`any` takes a list of {column: value}")
		return nil
	}
	var out []table.Condition
	for _, it := range e.value.items {
		out = append(out, r.condition(key+".any", it))
	}
	return out
}

func (r *reader) clause(e entry) (table.Clause, bool) {
	c := table.Clause{Column: e.key, Line: e.keyPos.Line, Col: e.keyPos.Column}
	n := e.value
	switch n.kind {
	case nodeNone:
		r.fail(n.pos, CodeWrongType, "`%s` has no value: write missing for rows where it is not recorded, known for the others", e.key)
		return c, false
	case nodeMap:
		r.fail(n.pos, CodeWrongType, "`%s` takes a value, a list or a range, not a map", e.key)
		return c, false
	case nodeList:
		return r.oneOf(c, n)
	}
	switch {
	case n.text == "":
		r.fail(n.pos, CodeWrongType, "`%s` has no value: write missing for rows where it is not recorded, known for the others", e.key)
		return c, false
	case n.text == "missing" && !n.quoted:
		c.Test = table.IsMissing
		return c, true
	case n.text == "known" && !n.quoted:
		c.Test = table.IsKnown
		return c, true
	case strings.Contains(n.text, ".."):
		return r.between(c, n)
	}
	if near := comparison(n.text); near != "" && !n.quoted {
		r.failNear(n.pos, CodeBadRange, near, "a range is written with two dots; did you mean %s?", near)
		return c, false
	}
	c.Values = []string{n.text}
	return c, true
}

func (r *reader) oneOf(c table.Clause, n node) (table.Clause, bool) {
	before := len(r.errs)
	for _, it := range r.list(c.Column, n) {
		switch {
		case !it.quoted && (it.text == "missing" || it.text == "known"):
			r.fail(it.pos, CodeBadValue, "%s cannot stand in a list: use any: [{%s: ...}, {%s: %s}]", it.text, c.Column, c.Column, it.text)
		case rangeForm.MatchString(it.text):
			r.fail(it.pos, CodeBadRange, "a range cannot stand in a list: use any: [{%s: ...}, {%s: %s}]", c.Column, c.Column, it.text)
		default:
			c.Values = append(c.Values, it.text)
		}
	}
	return c, len(r.errs) == before
}

var (
	boundForm   = `[-+]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)|[0-9]{4}-[0-9]{2}-[0-9]{2}`
	rangeForm   = regexp.MustCompile(`^(` + boundForm + `)? ?\.\. ?(` + boundForm + `)?$`)
	compareForm = regexp.MustCompile(`^([<>≤≥]=?) ?(` + boundForm + `)$`)
)

// between reads a range, open at one end at most.
func (r *reader) between(c table.Clause, n node) (table.Clause, bool) {
	m := rangeForm.FindStringSubmatch(n.text)
	if m == nil || m[1] == "" && m[2] == "" {
		if n.quoted {
			c.Values = []string{n.text}
			return c, true
		}
		r.fail(n.pos, CodeBadRange, "a range is written as 18..65, 10.. or ..5, with numbers or days at its ends; text with two dots must be in quotes")
		return c, false
	}
	c.Test, c.Low, c.High = table.Between, m[1], m[2]
	lowDay, lowIsDay := days(c.Low)
	highDay, highIsDay := days(c.High)
	low, lowIsNum := plainNumber(c.Low)
	high, highIsNum := plainNumber(c.High)
	switch {
	case c.Low != "" && !lowIsDay && !lowIsNum:
		r.fail(n.pos, CodeBadDate, "%s is not a day", c.Low)
	case c.High != "" && !highIsDay && !highIsNum:
		r.fail(n.pos, CodeBadDate, "%s is not a day", c.High)
	case c.Low == "" || c.High == "":
		return c, true
	case lowIsDay != highIsDay:
		r.fail(n.pos, CodeBadRange, "a range runs between two numbers or two days, not from one to the other")
	case lowIsDay && lowDay > highDay, !lowIsDay && low > high:
		r.failNear(n.pos, CodeBadRange, c.High+".."+c.Low, "the range runs backwards; did you mean %s..%s?", c.High, c.Low)
	default:
		return c, true
	}
	return c, false
}

// comparison is the range meant by "> 5" and the like.
func comparison(s string) string {
	m := compareForm.FindStringSubmatch(s)
	if m == nil {
		return ""
	}
	if m[1][0] == '<' || strings.HasPrefix(m[1], "≤") {
		return ".." + m[2]
	}
	return m[2] + ".."
}

// count reads a numerator or denominator.
func (r *reader) count(key string, n node) *Count {
	if n.kind == nodeText {
		if n.text == "count" {
			return &Count{All: true, Pos: n.pos}
		}
		h := "{column: value}, or count for all rows"
		near := Nearest(n.text, []string{"count"})
		r.failNear(n.pos, CodeBadValue, near, "`%s` cannot be %q; it takes %s", key, n.text, h)
		return nil
	}
	return &Count{Condition: r.condition(key, n), Pos: n.pos}
}
