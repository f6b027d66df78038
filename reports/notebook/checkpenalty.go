package notebook

// checkPenalty reports what does not go with penalised estimates.
func (r *askReader) checkPenalty() {
	a := r.ask
	if r.has("penalty_size") && a.Penalty != "ridge" {
		r.fail(a.KeyPos["penalty_size"], CodeImpossible, "`penalty_size` is the size of a ridge penalty, which is not asked for; write `penalty: ridge` or leave it out")
	}
	if a.Method != "cox" {
		if a.Penalty == "ridge" {
			r.fail(a.At("penalty", a.Penalty), CodeImpossible, "cox alone takes a ridge; %s takes `penalty` as firth or none", a.Method)
		}
		return
	}
	if a.Penalty != "firth" && a.Penalty != "ridge" {
		return
	}
	if a.Ties == "discrete" {
		r.fail(a.At("penalty", a.Penalty), CodeImpossible, "estimates with discrete `ties` cannot be penalised; use efron or breslow, or leave out `penalty`")
	}
	if a.Penalty == "firth" && r.has("profiles") {
		r.fail(a.KeyPos["profiles"], CodeImpossible, "`profiles` cannot be predicted with penalised estimates; leave out `profiles` or `penalty`")
	}
	why := "penalised estimates, whose errors do not add up"
	if a.Penalty == "ridge" {
		why = "estimates drawn toward no difference by a ridge, which have no errors of the usual kind"
	}
	for _, key := range []string{"spline", "contrasts", "adjusted", "diagnostics"} {
		if r.has(key) {
			r.fail(a.KeyPos[key], CodeImpossible, "`%s` cannot be worked out with %s; leave out `%s` or `penalty`", key, why, key)
		}
	}
}

// checkFrailty reports what does not go with a frailty.
func (r *askReader) checkFrailty() {
	a := r.ask
	if a.Frailty == "" {
		if r.has("shared_by") {
			r.fail(a.KeyPos["shared_by"], CodeImpossible, "`shared_by` names who shares a frailty, which is not asked for; write `frailty: gamma` or leave it out")
		}
		return
	}
	no := func(key, why string) {
		if r.has(key) {
			r.fail(a.KeyPos[key], CodeImpossible, "`%s` does not go with `frailty`: %s", key, why)
		}
	}
	no("cluster", "the frailty allows for several rows of one "+a.SharedBy+" itself; leave out `cluster`, or leave out `frailty` and let the errors allow for it")
	if a.Penalty != "none" {
		no("penalty", "it is a penalty of its own; leave out one of them")
	}
	no("weights", "how a row's weight should count within a "+a.SharedBy+" has no agreed answer; leave out one of them")
	no("profiles", "what is predicted would depend on the "+a.SharedBy+"; leave out `frailty`, and the errors allow for several rows of one "+a.SharedBy)
	no("adjusted", "the shares would depend on the "+a.SharedBy+"; leave out `frailty`, and the errors allow for several rows of one "+a.SharedBy)
	no("diagnostics", "residuals and accuracy would depend on the "+a.SharedBy+"; ask for them without `frailty`")
	if a.Ties == "discrete" {
		r.fail(a.At("ties", a.Ties), CodeImpossible, "discrete `ties` do not go with `frailty`; use efron or breslow")
	}
	if a.Repeats == "marginal" {
		r.fail(a.At("repeats", a.Repeats), CodeImpossible, "`repeats: marginal` does not go with `frailty`: it lets everybody be at risk of every event at once, and leaves what goes with the %s to the errors; use gap-time or total-time", a.SharedBy)
	}
	where := a.At("shared_by", a.SharedBy)
	switch {
	case contains(a.Strata, a.SharedBy):
		r.fail(where, CodeImpossible, "%q stands in `strata`, within which each %s is compared with itself alone: nothing is left to tell how they differ; take it out of `strata` or leave out `frailty`", a.SharedBy, a.SharedBy)
	case contains(r.terms(), a.SharedBy):
		r.fail(where, CodeImpossible, "%q is a term of the model and cannot share a frailty as well: the term says all there is about how its categories differ", a.SharedBy)
	}
}
