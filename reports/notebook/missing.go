package notebook

// notFilled are the keys that do not go with values filled in, and why.
var notFilled = []struct{ key, why string }{
	{"varying", "what varies over a life is not filled in"},
	{"repeats", "events that repeat are not taken with values filled in"},
	{"frailty", "a frailty is not put together from several tables"},
	{"penalty", "penalised estimates are not put together from several tables"},
	{"spline", "the knots of a curve would differ from table to table"},
	{"split", "effects of parts are not put together from several tables"},
	{"interact", "a product would need a model of its own to be filled in"},
	{"profiles", "predictions are not put together from several tables"},
	{"adjusted", "adjusted values are not put together from several tables"},
	{"diagnostics", "residuals are of one table"},
	{"weights", "the models that fill in know no weights"},
	{"offset", "the models that fill in know no offset"},
}

// checkMissing reports what does not go with values filled in, and keys that
// only these need.
func (r *askReader) checkMissing() {
	a := r.ask
	if !takes(a.Method, "missing") {
		return
	}
	if a.Missing != "impute" {
		for _, key := range []string{"imputations", "seed"} {
			if r.has(key) {
				r.fail(a.KeyPos[key], CodeImpossible, "`%s` is of values filled in, which are not asked for; write `missing: impute` or leave it out", key)
			}
		}
		return
	}
	for _, x := range notFilled {
		if r.has(x.key) {
			r.fail(a.KeyPos[x.key], CodeImpossible, "`%s` does not go with `missing: impute`: %s", x.key, x.why)
		}
	}
	if a.Ties == "discrete" {
		r.fail(a.At("ties", a.Ties), CodeImpossible, "discrete `ties` do not go with `missing: impute`; use efron or breslow")
	}
}
