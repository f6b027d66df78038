package notebook

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
	if r.has("random_effects") && !r.has("slopes") {
		r.fail(a.KeyPos["random_effects"], CodeImpossible, "`random_effects` says whether level and slopes of one %s go together, and no `slopes` are given", a.Within)
	}
	switch where := a.At("correlation", a.Correlation); {
	case a.Correlation == "exchangeable":
		r.fail(where, CodeImpossible, "rows of one %s are equally alike in mixed by the level it has of its own; `correlation` takes ar1 here, which fades with the time between them", a.Within)
	case a.Correlation == "ar1" && !r.has("time") && a.Rows != "visits" && a.Rows != "stations":
		r.fail(where, CodeMissingKey, "`correlation: ar1` fades with the time between rows and needs `time` where rows have no date of their own")
	}
}
