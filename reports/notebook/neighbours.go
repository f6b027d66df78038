package notebook

// checkNeighbours reports what does not go with errors of a linear model that
// allow for rows near in time.
func (r *askReader) checkNeighbours() {
	a := r.ask
	if a.Method != "linear" {
		return
	}
	if !r.has("errors") {
		if r.has("dated") {
			r.fail(a.KeyPos["dated"], CodeImpossible, "`dated` puts rows in order for errors: newey-west, which is not asked for")
		}
		return
	}
	switch {
	case a.Errors != "newey-west":
		r.fail(a.At("errors", a.Errors), CodeImpossible, "linear takes `errors` as newey-west; an autoregression is for segmented, and for limbs `mixed` has it")
	case r.has("cluster") && a.Cluster != "none":
		r.fail(a.KeyPos["cluster"], CodeImpossible, "errors allow for rows of one %s, or for rows near in time, not for both", a.Cluster)
	case a.Missing == "impute":
		r.fail(a.KeyPos["missing"], CodeImpossible, "rows filled in have no errors by newey-west; leave one of the two out")
	}
}
