package notebook

// ByNumber is what stands in `split` for the number of a repeated event.
const ByNumber = eventNumber

// SplitTerm is a column of `split`: its effect is let differ before and after
// each of some times, or, with Number, between the first, second and later
// events.
type SplitTerm struct {
	Column string
	At     []Duration // ascending; empty with Number
	Number bool
}

// mostCuts is how many times one column can be split at.
const mostCuts = 5

// readSplit reads `split`: {cast_method: 180d}, {age: [90d, 1y]} or
// {level: event_number}.
func (r *askReader) readSplit(key string, n node) {
	if n.kind != nodeMap || len(n.entries) == 0 {
		r.fail(n.pos, CodeWrongType, "`%s` takes {column: times}, such as {cast_method: 180d} or {age: [90d, 1y]}; with `repeats` also {column: %s}", key, ByNumber)
		return
	}
	seen := map[string]bool{}
	for _, e := range n.entries {
		if seen[e.key] {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` names %s twice", key, e.key)
			continue
		}
		seen[e.key] = true
		before := len(r.errs)
		s := SplitTerm{Column: e.key}
		if e.value.kind == nodeText && e.value.text == ByNumber {
			s.Number = true
			r.ask.Split = append(r.ask.Split, s)
			continue
		}
		for _, it := range r.list(key, e.value) {
			d := r.duration(key, it)
			switch {
			case d == nil:
			case len(s.At) > 0 && d.Days <= s.At[len(s.At)-1].Days:
				r.fail(it.pos, CodeBadValue, "the times of `%s` ascend; %s stands after %s", key, d.Text, s.At[len(s.At)-1].Text)
			case len(s.At) == mostCuts:
				r.fail(it.pos, CodeBadValue, "`%s` takes at most %d times for a column", key, mostCuts)
			default:
				s.At = append(s.At, *d)
			}
		}
		if len(r.errs) == before {
			r.ask.Split = append(r.ask.Split, s)
		}
	}
}

// checkSplit reports what does not go with a split.
func (r *askReader) checkSplit() {
	a := r.ask
	if len(a.Split) == 0 {
		return
	}
	no := func(key, why string) {
		if r.has(key) {
			r.fail(a.KeyPos[key], CodeImpossible, "`%s` does not go with `split`: %s", key, why)
		}
	}
	no("profiles", "what is predicted would have to change from one time to the next; leave out one of them")
	no("adjusted", "the curves would have to change from one time to the next; leave out one of them")
	no("diagnostics", "a socket then stands in several rows; its picture of the effect over time is drawn without `split`")
	no("frailty", "leave out one of them")
	if a.Penalty == "ridge" {
		r.fail(a.At("penalty", a.Penalty), CodeImpossible, "a ridge draws the ratios of all parts toward 1, so that they cannot be compared with one another; leave out `penalty` or `split`")
	}
	var columns []string
	for _, s := range a.Split {
		columns = append(columns, s.Column)
		if s.Number && a.Repeats == "" {
			r.fail(a.At("split", ByNumber), CodeImpossible, "%s is there only with `repeats`, which is not given", ByNumber)
		}
		for _, x := range a.Spline {
			if x.Column == s.Column {
				r.fail(a.At("split", s.Column), CodeImpossible, "%q has a spline, and a curve is not split; take it out of one of them", s.Column)
			}
		}
		for _, x := range a.Interact {
			if x[0] == s.Column || x[1] == s.Column {
				r.fail(a.At("split", s.Column), CodeImpossible, "%q stands in `interact`, and a product is not split; take it out of one of them", s.Column)
			}
		}
		for _, c := range a.Contrasts {
			if c.Column == s.Column || contains(c.Given.Columns, s.Column) {
				r.fail(a.At("split", s.Column), CodeImpossible, "%q stands in `contrasts`, and has an effect for each part; its ratios stand among the terms already", s.Column)
			}
		}
	}
	r.among("split", columns, r.terms(), "`by`, `adjust` or `varying`")
}
