package notebook

// EveryPair asks for the comparison of every two categories of a column.
const EveryPair = "every pair"

// Comparison is one of `contrasts`: a column of the model with the two values
// to compare, the first against the second, and the values that other columns
// have in both. Pairs stands for every two categories of the column; Of and
// Against are then empty.
type Comparison struct {
	Column      string
	Of, Against string
	Pairs       bool
	Given       Profile // the other columns named
	Pos         Pos
}

// Sides are the two profiles compared.
func (c Comparison) Sides() (of, against Profile) {
	side := func(value string) Profile {
		p := Profile{Columns: append([]string{c.Column}, c.Given.Columns...), Values: map[string]string{c.Column: value}, Pos: c.Pos}
		for k, v := range c.Given.Values {
			p.Values[k] = v
		}
		return p
	}
	return side(c.Of), side(c.Against)
}

// SplineTerm is a column of `spline` with its number of knots.
type SplineTerm struct {
	Column string
	Knots  int
}

// The fewest and the most knots of `spline`.
const (
	fewestKnots = 3
	mostKnots   = 7
)

// readSpline reads `spline`: {age: 4}.
func (r *askReader) readSpline(key string, n node) {
	if n.kind != nodeMap || len(n.entries) == 0 {
		r.fail(n.pos, CodeWrongType, "`%s` takes {column: knots}, such as {age: 4}", key)
		return
	}
	for _, e := range r.pairs(key, n) {
		before := len(r.errs)
		k := r.whole(key, e.value, fewestKnots, mostKnots)
		if len(r.errs) == before {
			r.ask.Spline = append(r.ask.Spline, SplineTerm{e.key, k})
		}
	}
}

// readContrasts reads `contrasts`: a list of {column: [value, value]}, or
// {column: every pair}; a further column with one value holds for both.
func (r *askReader) readContrasts(key string, n node) {
	items := []node{n}
	if n.kind == nodeList {
		items = n.items
	}
	if len(items) == 0 {
		r.fail(n.pos, CodeWrongType, "the list of `%s` is empty", key)
	}
	for _, it := range items {
		if c, ok := r.comparison(key, it); ok {
			r.ask.Contrasts = append(r.ask.Contrasts, c)
		}
	}
}

func (r *askReader) comparison(key string, n node) (Comparison, bool) {
	const form = "each of `%s` is {column: [value, value]}, the first compared with the second, or {column: every pair}"
	c := Comparison{Pos: n.pos, Given: Profile{Values: map[string]string{}, Pos: n.pos}}
	if n.kind != nodeMap || len(n.entries) == 0 {
		r.fail(n.pos, CodeWrongType, form, key)
		return c, false
	}
	before := len(r.errs)
	seen := map[string]bool{}
	for _, e := range n.entries {
		if seen[e.key] {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` is named twice in one of `%s`", e.key, key)
			return c, false
		}
		seen[e.key] = true
		list := e.value.kind == nodeList
		pairs := e.value.kind == nodeText && e.value.text == EveryPair
		switch {
		case (list || pairs) && c.Column != "":
			r.fail(e.keyPos, CodeWrongType, "each of `%s` compares two values of one column, not of %s and %s at once", key, c.Column, e.key)
			return c, false
		case pairs:
			c.Column, c.Pairs = e.key, true
		case list && (len(e.value.items) != 2 || e.value.items[0].kind != nodeText || e.value.items[1].kind != nodeText):
			r.fail(e.value.pos, CodeWrongType, form, key)
			return c, false
		case list:
			c.Column, c.Of, c.Against = e.key, e.value.items[0].text, e.value.items[1].text
			if c.Of == c.Against {
				r.fail(e.value.items[1].pos, CodeImpossible, "`%s` compares %s %q with itself", key, e.key, c.Of)
				return c, false
			}
		default:
			if v := r.text(e.key, e.value); v != "" {
				c.Given.Columns = append(c.Given.Columns, e.key)
				c.Given.Values[e.key] = v
			}
		}
	}
	if len(r.errs) > before {
		return c, false
	}
	if c.Column == "" {
		r.fail(n.pos, CodeWrongType, form, key)
		return c, false
	}
	return c, true
}

// checkCompared reports splines and comparisons that do not go with the rest.
func (r *askReader) checkCompared(inModel []string) {
	a := r.ask
	terms := r.terms()
	if a.Time != "" {
		terms = append(terms, a.Time)
	}
	var splines []string
	for _, s := range a.Spline {
		splines = append(splines, s.Column)
		for _, f := range a.Factors {
			if f == s.Column {
				r.fail(a.At("spline", f), CodeImpossible, "%q stands in `factors`, as categories, and can have no spline", f)
			}
		}
		for _, x := range a.Interact {
			if x[0] == s.Column || x[1] == s.Column {
				r.fail(a.At("interact", s.Column), CodeImpossible, "%q has a spline, and `interact` takes no column of `spline`: its curve would differ for each value of the other; take it out of one of them", s.Column)
			}
		}
	}
	r.among("spline", splines, terms, "`by`, `adjust` or `time`")
	for _, c := range a.Contrasts {
		r.among("contrasts", append([]string{c.Column}, c.Given.Columns...), inModel, "the model's columns")
	}
	if a.AdjustP != "" && r.has("adjust_p") && !r.has("contrasts") {
		r.fail(a.KeyPos["adjust_p"], CodeImpossible, "`adjust_p` is for the p values of `contrasts`, which are not given")
	}
	if a.Adjusted {
		where := a.KeyPos["adjusted"]
		switch {
		case a.By == "":
			r.fail(where, CodeImpossible, "`adjusted` compares the categories of `by`, which is not given")
		case len(a.Varying) > 0 || a.Repeats != "":
			r.fail(where, CodeImpossible, "`adjusted` does not go with `varying` or `repeats`: what a socket will come to is not known beforehand")
		}
	}
	if a.Diagnostics && (len(a.Varying) > 0 || a.Repeats != "") {
		r.fail(a.KeyPos["diagnostics"], CodeImpossible, "`diagnostics` does not go with `varying` or `repeats`, where a socket or limb stands in many rows")
	}
}
