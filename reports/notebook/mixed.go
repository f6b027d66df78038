package notebook

import (
	"maps"
	"slices"
)

// checkMixed reports what does not go together in mixed models.
func (r *askReader) checkMixed() {
	a := r.ask
	if a.Method != "mixed" {
		return
	}
	if r.has("scale") && !r.has("time") {
		r.fail(a.KeyPos["scale"], CodeImpossible, "`scale` is the scale of `time`, which is not given")
	}
	var valid []string
	if a.Time != "" {
		valid = append(valid, a.Time)
	}
	r.among("slopes", a.Slopes, append(valid, r.terms()...), "`time`, `by` or `adjust`")
	r.among("nested_slopes", a.NestedSlopes, append(valid, r.terms()...), "`time`, `by` or `adjust`")
	if r.has("nested_slopes") && !r.has("nested_in") {
		r.fail(a.KeyPos["nested_slopes"], CodeImpossible, "`nested_slopes` are of what `nested_in` names, which is not given")
	}
	if r.has("random_effects") && !r.has("slopes") && !r.has("nested_slopes") {
		r.fail(a.KeyPos["random_effects"], CodeImpossible, "`random_effects` says whether level and slopes of one %s go together, and no `slopes` are given", a.Within)
	}
	r.checkGroupings()
	r.checkFreedom()
	r.checkForetold()
	if r.has("limb") {
		if !r.has("time") {
			r.fail(a.KeyPos["limb"], CodeMissingKey, "`limb` is foretold over `time`, which is not given")
		}
	}
	if r.has("taken_by") && !r.has("limb") {
		r.fail(a.KeyPos["taken_by"], CodeImpossible, "`taken_by` says who takes the next readings of one `limb`, which is not given")
	}
	for _, c := range slices.Sorted(maps.Keys(a.TakenBy)) {
		if c != a.ScatterBy && !contains(a.Crossed, c) {
			r.fail(a.KeyPos["taken_by"], CodeImpossible, "%q in `taken_by` stands neither in `crossed` nor in `scatter_by`", c)
		}
	}
	switch where := a.At("correlation", a.Correlation); {
	case a.Correlation == "exchangeable":
		r.fail(where, CodeImpossible, "rows of one %s are equally alike in mixed by the level it has of its own; `correlation` takes ar1 here, which fades with the time between them", a.Within)
	case a.Correlation == "ar1" && !r.has("time") && a.Rows != "visits" && a.Rows != "stations":
		r.fail(where, CodeMissingKey, "`correlation: ar1` fades with the time between rows and needs `time` where rows have no date of their own")
	}
}

// checkFreedom reports keys with which degrees of freedom cannot be adjusted.
func (r *askReader) checkFreedom() {
	a := r.ask
	if a.Freedom != "kenward-roger" {
		return
	}
	fail := func(why string) {
		r.fail(a.At("freedom", a.Freedom), CodeImpossible, "`freedom: kenward-roger` %s; take `satterthwaite`, which does", why)
	}
	switch {
	case a.Estimate == "ml":
		fail("rests on restricted likelihood and does not go with `estimate: ml`")
	case a.Correlation == "ar1":
		fail("does not allow for `correlation: ar1`")
	case a.ScatterBy != "":
		fail("does not allow for `scatter_by`")
	}
}

// checkGroupings reports a column that groups the rows twice, or that is a
// grouping and something else.
func (r *askReader) checkGroupings() {
	a := r.ask
	terms := r.terms()
	if a.Time != "" {
		terms = append(terms, a.Time)
	}
	seen := map[string]string{a.Within: "within"}
	group := func(key, name string) {
		if name == "" {
			return
		}
		where := a.At(key, name)
		switch {
		case seen[name] != "":
			r.fail(where, CodeImpossible, "%q stands in `%s` already, and groups the rows but once", name, seen[name])
		case contains(terms, name):
			r.fail(where, CodeImpossible, "%q explains the outcome already and cannot have random effects as well; name it in one of them", name)
		case name == a.Outcome:
			r.fail(where, CodeImpossible, "%q is the outcome and cannot group the rows", name)
		}
		seen[name] = key
	}
	group("nested_in", a.NestedIn)
	for _, c := range a.Crossed {
		group("crossed", c)
	}
	if a.ScatterBy != "" && a.ScatterBy == a.Outcome {
		r.fail(a.At("scatter_by", a.ScatterBy), CodeImpossible, "%q is the outcome and cannot part the rows", a.ScatterBy)
	}
}
