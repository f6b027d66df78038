package notebook

// explainsOutcome are the methods that explain an outcome by other columns and
// so need some.
var explainsOutcome = map[string]bool{"linear": true, "logistic": true}

// readOutcome reads `outcome`: a column, or, where yes or no is asked, a
// condition in keep's words.
func (r *askReader) readOutcome(key string, n node) {
	if n.kind != nodeMap {
		r.ask.Outcome = r.text(key, n)
		return
	}
	c := r.condition(key, n)
	if r.ask.Method != "logistic" {
		r.fail(n.pos, CodeWrongType, "`outcome` of %s is a column; a condition as outcome, met or not, is for logistic", r.ask.Method)
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
	if a.Intervals == "profile" {
		if a.Cluster != "" && a.Cluster != "none" {
			r.fail(a.At("cluster", a.Cluster), CodeImpossible, "intervals of the profile likelihood take rows as independent and cannot allow for `cluster`; leave out `cluster` or `intervals`")
		}
		if a.Penalty == "firth" {
			r.fail(a.At("intervals", a.Intervals), CodeImpossible, "penalised estimates have intervals of the profile likelihood anyway; leave out `intervals`")
		}
	}
}
