package notebook

import "strings"

// require reports the keys that the method needs and the ask has not.
func (r *askReader) require() {
	a := r.ask
	for _, k := range needed[a.Method] {
		if _, ok := a.KeyPos[k]; !ok && !r.meant[k] {
			r.fail(a.Pos, CodeMissingKey, "%s needs `%s`", a.Method, k)
		}
	}
}

// defaults fills what the ask leaves to the method.
func (r *askReader) defaults() {
	a := r.ask
	set := func(to *string, key, value string) {
		if *to == "" && takes(a.Method, key) {
			*to = value
		}
	}
	if a.Repeats != "" {
		set(&a.Rows, "rows", "limbs")
	}
	if onLives(a.Method) || a.Method == "summary" {
		set(&a.Rows, "rows", "sockets")
	}
	set(&a.Bounds, "bounds", "complementary-log-log")
	set(&a.Ties, "ties", "efron")
	set(&a.AdjustP, "adjust_p", "none")
	set(&a.Intervals, "intervals", "symmetric")
	set(&a.Correlation, "correlation", "none")
	if a.Frailty != "" {
		set(&a.SharedBy, "shared_by", "person")
	}
	set(&a.Within, "within", "limb")
	set(&a.RandomEffects, "random_effects", "correlated")
	set(&a.Freedom, "freedom", "satterthwaite")
	set(&a.Sides, "sides", "straight")
	if a.Method == "limb-volume" {
		set(&a.Rows, "rows", "stations")
	}
	if a.Method == "sock-volume" {
		set(&a.Rows, "rows", "visits")
	}
	if a.Method == "rhythm" {
		r.defaultsOfRhythm()
	}
	set(&a.Initial, "initial", "share")
	set(&a.Estimate, "estimate", "reml")
	if a.Method == "caseload" || a.Method == "completeness" {
		set(&a.Period, "period", "year")
	}
	set(&a.Rows, "rows", map[string]string{"reduction": "stations", "forming-log": "forming"}[a.Method])
	if takes(a.Method, "good") && len(a.Good) == 0 && !r.has("good") {
		a.Good = []string{"good"}
	}
	if a.Method != "turnaround" { // which splits by period only where asked
		set(&a.Period, "period", "month")
	}
	if a.Time != "" {
		set(&a.Scale, "scale", "days")
	}
	if a.Confidence == 0 && takes(a.Method, "confidence") {
		a.Confidence = 0.95
	}
	if a.Seed == 0 && takes(a.Method, "seed") {
		a.Seed = 1
	}
	if a.Event == nil && (onLives(a.Method) || a.Method == "mean-cumulative") {
		a.Event = defaultEvent(a.Pos)
	}
	if a.Method == "sample-size" {
		set(&a.Plan, "plan", "log-rank")
		if len(a.Power) == 0 && !r.has("power") {
			a.Power = []float64{0.8, 0.9}
		}
		if a.Share == 0 && !r.has("share") {
			a.Share = 0.5
		}
	}
	if a.Method == "watch" {
		r.defaultsOfWatch()
	}
	set(&a.Missing, "missing", "complete")
	if a.Imputations == 0 && takes(a.Method, "imputations") && !r.has("imputations") {
		a.Imputations = 20
	}
	if takes(a.Method, "odds_ratio") && a.OddsRatio == 0 && !r.has("odds_ratio") {
		a.OddsRatio = 2
	}
	if a.Method == "maturation" {
		r.defaultsOfMaturation()
	}
	set(&a.Course, "course", "level")
	if a.Method == "segmented" {
		set(&a.Errors, "errors", "autoregressive")
	}
	if takes(a.Method, "numerator") && a.Numerator != nil && a.Denominator == nil && !r.has("denominator") {
		a.Denominator = &Count{All: true, Implied: true, Pos: a.Pos}
	}
}

// has says whether the key was written.
func (r *askReader) has(key string) bool { _, ok := r.ask.KeyPos[key]; return ok }

// check reports keys that contradict one another.
func (r *askReader) check() {
	r.checkTerms()
	r.checkEvent()
	r.checkChart()
	r.checkSegmented()
	r.checkFunnel()
	r.checkSum()
	r.checkCounting()
	r.checkPenalty()
	r.checkSplit()
	r.checkFrailty()
	r.checkPlan()
	r.checkCurves()
	r.checkOutcomes()
	r.checkWatch()
	r.checkMissing()
	r.checkShapes()
	r.checkMaturation()
	r.checkWaits()
	r.checkForecast()
	r.checkCompleteness()
	r.checkForming()
	r.checkNeighbours()
	a := r.ask
	r.checkMixed()
	r.checkRhythm()
	if (a.Method == "cox" || a.Method == "fine-gray") && r.has("times") && !r.has("profiles") && !a.Adjusted && !a.Diagnostics {
		r.fail(a.KeyPos["times"], CodeImpossible, "%s uses `times` to predict for `profiles`%s, which are not given", a.Method, map[string]string{"cox": ", or with `adjusted` or `diagnostics`"}[a.Method])
	}
	if a.Method == "fine-gray" && a.Ties == "discrete" {
		r.fail(a.At("ties", a.Ties), CodeImpossible, "fine-gray takes `ties` as efron or breslow; discrete times are for cox")
	}
}

// terms are the columns that enter a model.
func (r *askReader) terms() []string {
	var out []string
	if r.ask.By != "" {
		out = append(out, r.ask.By)
	}
	return append(append(out, r.ask.Adjust...), r.ask.Varying...)
}

func (r *askReader) checkTerms() {
	a := r.ask
	terms := r.terms()
	for i, t := range terms {
		if i > 0 && t == a.By && contains(a.Adjust, t) {
			r.fail(a.At("adjust", t), CodeImpossible, "%q stands in `by` already", t)
		}
		if t == a.Outcome && t != "" {
			r.fail(a.At("adjust", t), CodeImpossible, "%q is the outcome and cannot explain itself", t)
		}
		if t == a.Time && t != "" {
			r.fail(a.At("adjust", t), CodeImpossible, "%q stands in `time` already", t)
		}
	}
	for _, s := range a.Strata {
		for _, t := range terms {
			if s == t {
				r.fail(a.At("strata", s), CodeImpossible, "%q cannot be a stratum and a term at once", s)
			}
		}
	}
	if explainsOutcome[a.Method] && len(terms) == 0 && !r.has("by") && !r.has("adjust") {
		r.fail(a.Pos, CodeMissingKey, "%s needs `by` or `adjust`: the columns that explain the outcome", a.Method)
	}
	if (a.Method == "cox" || a.Method == "fine-gray") && len(terms) == 0 && !r.has("by") && !r.has("adjust") && !r.has("varying") {
		r.fail(a.Pos, CodeMissingKey, "%s needs `by` or `adjust`: the columns that explain the socket's life", a.Method)
	}
	if a.Method == "watch" && len(terms) == 0 && !r.has("adjust") && !r.has("varying") {
		r.fail(a.Pos, CodeMissingKey, "watch needs `adjust` or `varying`: the columns that tell sockets apart")
	}
	if a.Method == "mixed" && len(terms) == 0 && !r.has("by") && !r.has("adjust") && !r.has("time") {
		r.fail(a.Pos, CodeMissingKey, "mixed needs `time`, `by` or `adjust`: the columns that explain the outcome")
	}
	r.among("factors", a.Factors, terms, "`by` or `adjust`")
	if len(a.Reference) > 0 {
		r.among("reference", keysOf(a.Reference), terms, "`by` or `adjust`")
	}
	for i, x := range a.Interact {
		r.among("interact", x[:], terms, "`by` or `adjust`")
		if x[0] == x[1] {
			r.fail(a.At("interact", x[0]), CodeImpossible, "`interact` pairs %q with itself", x[0])
		}
		for _, y := range a.Interact[:i] {
			if x == y || x == [2]string{y[1], y[0]} {
				r.fail(a.KeyPos["interact"], CodeImpossible, "`interact` lists the pair of %q and %q twice", x[0], x[1])
			}
		}
	}
	inProfile := append(append([]string(nil), terms...), a.Strata...)
	if a.Time != "" {
		inProfile = append(inProfile, a.Time)
	}
	for _, p := range a.Profiles {
		r.among("profiles", p.Columns, inProfile, "the model's columns")
	}
	r.checkCompared(inProfile)
}

// among reports the words that are not among the valid ones, once each.
func (r *askReader) among(key string, words, valid []string, where string) {
	for _, w := range words {
		ok := false
		for _, v := range valid {
			ok = ok || v == w
		}
		if ok {
			continue
		}
		if near := Nearest(w, valid); near != "" {
			r.failNear(r.ask.At(key, w), CodeImpossible, near, "`%s` names %q, which is not in %s; did you mean %q?", key, w, where, near)
		} else {
			r.fail(r.ask.At(key, w), CodeImpossible, "`%s` names %q, which is not in %s", key, w, where)
		}
	}
}

func (r *askReader) checkEvent() {
	a := r.ask
	if a.Event == nil {
		return
	}
	if a.Event.Condition != nil {
		switch a.Method {
		case "kaplan-meier", "cox":
			if a.Repeats != "" {
				if a.SeenAsExact {
					r.fail(a.KeyPos["seen_as_exact"], CodeImpossible, "with `repeats` each visit that meets the condition is an event, so there is nothing to take as exact; leave out `seen_as_exact`")
				}
			} else if !a.SeenAsExact {
				r.fail(a.Event.Pos, CodeImpossible, "a condition is met at some time between two visits; %s takes the visit itself "+
					"as the time only where the ask says `seen_as_exact: true`", a.Method)
			}
		case "weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma":
			for _, key := range []string{"end", "landmark"} {
				if r.has(key) {
					r.fail(a.KeyPos[key], CodeImpossible, "`%s` does not go with an event that is a condition: the visits say when it came about", key)
				}
			}
		case "cumulative-incidence", "fine-gray", "watch", "pareto":
			r.fail(a.Event.Pos, CodeImpossible, "%s takes end reasons and sets of them as `event`, not a condition", a.Method)
		}
	} else if a.Method == "turnbull" && !a.Event.Default {
		r.fail(a.Event.Pos, CodeImpossible, "turnbull is for what is seen at visits only, a condition such as {finding: ulcer}; the day of an ending is known, so kaplan-meier takes it")
	} else if a.SeenAsExact {
		r.fail(a.KeyPos["seen_as_exact"], CodeImpossible, "`seen_as_exact` is for an event that is a condition on visits; this one's date is known")
	}
	if a.Competing == nil {
		return
	}
	if a.Competing.Condition != nil {
		r.fail(a.Competing.Pos, CodeImpossible, "`competing` takes end reasons and sets of them, not a condition")
	}
	for _, c := range a.Competing.Causes {
		for _, e := range a.Event.Causes {
			if strings.EqualFold(c.Name, e.Name) {
				r.fail(c.Pos, CodeImpossible, "%q is the event and cannot compete with itself", c.Name)
			}
		}
	}
}
