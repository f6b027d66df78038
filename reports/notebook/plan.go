package notebook

// readRatios reads the hazard ratios that a plan is to see.
func (r *askReader) readRatios(key string, n node) {
	for _, it := range r.list(key, n) {
		v, ok := r.number(key, it)
		if !ok {
			continue
		}
		if v <= 0 || v == 1 || v > 1000 {
			r.fail(it.pos, CodeBadValue, "`%s` takes hazard ratios above 0 and other than 1, such as 0.6, not %s", key, it.text)
			continue
		}
		r.ask.Ratios = append(r.ask.Ratios, v)
	}
}

// readPower reads the powers that a plan is to have, each from 0.5 on: below
// it the plan is rather to miss what it looks for.
func (r *askReader) readPower(key string, n node) {
	for _, it := range r.list(key, n) {
		before := len(r.errs)
		v := r.fraction(key, it)
		if len(r.errs) > before {
			continue
		}
		if v < 0.5 {
			r.fail(it.pos, CodeBadValue, "a `%s` of %s is a plan to miss more often than not; give 0.5 or more", key, it.text)
			continue
		}
		r.ask.Power = append(r.ask.Power, v)
	}
}

// fractionFrom0 reads a number from 0 to below 1.
func (r *reader) fractionFrom0(key string, n node) float64 {
	if n.kind == nodeText && (n.text == "0" || n.text == "0.0") {
		return 0
	}
	return r.fraction(key, n)
}

// checkPlan reports keys of a plan that contradict one another.
func (r *askReader) checkPlan() {
	a := r.ask
	if a.Method != "sample-size" {
		return
	}
	if a.Event.Condition != nil {
		r.fail(a.Event.Pos, CodeImpossible, "sample-size takes end reasons and sets of them as `event`, not a condition")
	}
	if a.Plan != "cox" {
		for _, key := range []string{"by", "explained"} {
			if r.has(key) {
				r.fail(a.KeyPos[key], CodeImpossible, "`%s` is for `plan: cox`; a plan by %s compares two groups of a stated `share`", key, a.Plan)
			}
		}
	}
}
