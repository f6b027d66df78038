package notebook

// explainsOutcome are the methods that explain an outcome by other columns and
// so need some.
var explainsOutcome = map[string]bool{"linear": true, "logistic": true, "ordinal": true, "poisson": true, "negative-binomial": true}

// readOutcome reads `outcome`: a column, or, where yes or no is asked, a
// condition in keep's words.
func (r *askReader) readOutcome(key string, n node) {
	if n.kind != nodeMap {
		r.ask.Outcome = r.text(key, n)
		return
	}
	c := r.condition(key, n)
	if r.ask.Method != "logistic" && r.ask.Method != "mixed-logistic" {
		r.fail(n.pos, CodeWrongType, "`outcome` of %s is a column; a condition as outcome, met or not, is for logistic and mixed-logistic", r.ask.Method)
		return
	}
	r.ask.OutcomeWhen = &c
}

// checkOutcomes reports what does not go together in models of outcomes.
func (r *askReader) checkOutcomes() {
	a := r.ask
	if a.OutcomeWhen != nil {
		inside := a.OutcomeWhen.Columns()
		for _, t := range r.terms() {
			if contains(inside, t) {
				key := "adjust"
				if t == a.By {
					key = "by"
				}
				r.fail(a.At(key, t), CodeImpossible, "%q is part of the outcome and cannot explain itself", t)
			}
		}
	}
	if a.Method == "poisson" || a.Method == "negative-binomial" || a.Method == "mixed-poisson" {
		r.checkCounts()
	}
	r.checkWithin()
	r.among("unequal", a.Unequal, r.terms(), "`by` or `adjust`")
	for _, s := range a.Spline {
		if contains(a.Unequal, s.Column) {
			r.fail(a.At("unequal", s.Column), CodeImpossible, "%q has a spline, and its curve cannot differ from level to level; take it out of `unequal` or of `spline`", s.Column)
		}
	}
	for _, x := range a.Interact {
		for _, n := range x {
			if contains(a.Unequal, n) {
				r.fail(a.At("unequal", n), CodeImpossible, "%q stands in `interact`, and the ratio of a product cannot be let differ from level to level; take it out of `unequal` or of `interact`", n)
			}
		}
	}
	if a.Correlation != "none" && a.Correlation != "" && a.Method != "mixed" {
		where := a.At("correlation", a.Correlation)
		switch {
		case a.Cluster == "none":
			r.fail(where, CodeImpossible, "`correlation` is of the rows of a cluster, and `cluster: none` says that there are none; leave out one of them")
		case a.Intervals == "profile":
			r.fail(where, CodeImpossible, "with `correlation` there is no likelihood, and so no profile of it; leave out `intervals` or `correlation`")
		case a.Penalty == "firth":
			r.fail(where, CodeImpossible, "with `correlation` there is no likelihood to be penalised; leave out `penalty` or `correlation`")
		case r.has("weights"):
			r.fail(where, CodeImpossible, "`correlation` is between single rows, and `weights` lets one stand for several; leave out one of them")
		}
	}
	if a.Intervals == "profile" {
		if a.Cluster != "" && a.Cluster != "none" {
			r.fail(a.At("cluster", a.Cluster), CodeImpossible, "intervals of the profile likelihood take rows as independent and cannot allow for `cluster`; leave out `cluster` or `intervals`")
		}
		if a.Penalty == "firth" {
			r.fail(a.At("intervals", a.Intervals), CodeImpossible, "penalised estimates have intervals of the profile likelihood anyway; leave out `intervals`")
		}
	}
}

// checkCounts reports what does not go together in models of counts.
func (r *askReader) checkCounts() {
	a := r.ask
	switch {
	case !r.has("outcome") && !r.has("event"):
		r.fail(a.Pos, CodeMissingKey, "%s needs `outcome`, a column of counts, or `event`, what is to be counted over the time watched", a.Method)
	case r.has("outcome") && r.has("event"):
		r.fail(a.KeyPos["event"], CodeImpossible, "what is counted is either in a column, `outcome`, or gathered as `event`; leave one of them out")
	case r.has("event") && r.has("exposure"):
		r.fail(a.KeyPos["exposure"], CodeImpossible, "an `event` is counted over the time watched, so `exposure` has nothing to say; leave it out")
	}
	if a.Event == nil {
		return
	}
	if a.Rows != "limbs" && a.Rows != "persons" && a.Rows != "sockets" {
		r.fail(a.At("rows", a.Rows), CodeImpossible, "`event` is counted over the watch of limbs, persons or sockets, not of %s", a.Rows)
	}
	if a.Rows == "sockets" && a.Event.Condition == nil {
		r.fail(a.At("rows", a.Rows), CodeImpossible, "the end of a socket comes once, so cox is for it; its number is counted of `rows: limbs` or `rows: persons`")
	}
}
