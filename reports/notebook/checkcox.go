package notebook

// eventNumber is the column that numbers the repeated events of a subject.
// It is there with `repeats` only, as a stratum.
const eventNumber = "event_number"

// checkCounting reports what does not go with columns that vary or with
// repeated events.
func (r *askReader) checkCounting() {
	a := r.ask
	for _, v := range a.Varying {
		switch {
		case v == a.By && v != "":
			r.fail(a.At("varying", v), CodeImpossible, "%q stands in `by` already, with the one value known at delivery; name it in one of them", v)
		case contains(a.Adjust, v):
			r.fail(a.At("varying", v), CodeImpossible, "%q stands in `adjust` already, with the one value known at delivery; name it in one of them", v)
		}
	}
	if len(a.Varying) > 0 && r.has("profiles") {
		r.fail(a.KeyPos["profiles"], CodeImpossible, "`profiles` cannot be predicted where columns vary: what will be recorded of a socket is not known beforehand, "+
			"and is recorded only while it is worn; leave out `profiles`, or use `landmark` in place of `varying`")
	}
	if a.Repeats == "" {
		if contains(a.Strata, eventNumber) {
			r.fail(a.At("strata", eventNumber), CodeImpossible, "%s is there only with `repeats`, which is not given", eventNumber)
		}
		return
	}
	for _, key := range []string{"start", "end", "entry", "landmark"} {
		if r.has(key) {
			r.fail(a.KeyPos[key], CodeImpossible, "`%s` does not go with `repeats`: the watch runs from the first delivery to the last record", key)
		}
	}
	if r.has("profiles") {
		r.fail(a.KeyPos["profiles"], CodeImpossible, "`profiles` cannot be predicted for repeated events; mean-cumulative gives the mean number by a time")
	}
	if a.Ties == "discrete" {
		r.fail(a.At("ties", a.Ties), CodeImpossible, "discrete `ties` cannot allow for several events of one person, which `repeats` needs; use efron or breslow")
	}
	if a.Repeats == "marginal" && !contains(a.Strata, eventNumber) {
		r.fail(a.At("repeats", a.Repeats), CodeMissingKey, "`repeats: marginal` needs `strata: [%s]`: everybody is at risk of each event from the start, so that events are compared only with those of the same number", eventNumber)
	}
	if a.Rows == "sockets" && a.Event != nil && a.Event.Condition == nil {
		r.fail(a.At("rows", a.Rows), CodeImpossible, "the end of a socket comes once; `repeats` takes `rows: limbs` or `rows: persons` for it, or as `event` a condition on visits")
	}
}

func contains(words []string, w string) bool {
	for _, x := range words {
		if x == w {
			return true
		}
	}
	return false
}
