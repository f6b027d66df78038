package notebook

// checkWithin reports what does not go together in models of yes or no, of
// counts and of levels in which limbs have a level of their own.
func (r *askReader) checkWithin() {
	a := r.ask
	if !contains(WithinMethods(), a.Method) {
		return
	}
	if len(r.terms()) == 0 && !r.has("by") && !r.has("adjust") && !r.has("time") {
		r.fail(a.Pos, CodeMissingKey, "%s needs `time`, `by` or `adjust`: the columns that explain the outcome", a.Method)
	}
	if r.has("scale") && !r.has("time") {
		r.fail(a.KeyPos["scale"], CodeImpossible, "`scale` is the scale of `time`, which is not given")
	}
	if a.Event != nil && r.has("time") {
		r.fail(a.KeyPos["time"], CodeImpossible, "an `event` is counted over the whole time watched, so that a count has no `time` of its own; leave one of them out")
	}
	for _, t := range append(r.terms(), a.Time) {
		if t != "" && t == a.Within {
			r.fail(a.At("within", a.Within), CodeImpossible, "each %s has a level of its own already, so that %q cannot be a term too", t, t)
		}
	}
}
