package notebook

import (
	"slices"
	"strings"
	"unicode"
)

// ChartKinds are the kinds of a control chart.
func ChartKinds() []string { return []string{"p", "xmr", "u", "c", "g", "t"} }

func (r *askReader) readOverdispersed(key string, n node) {
	v := r.yes(key, n)
	r.ask.Overdispersed = &v
}

// readLateEntry reads how long after its date a row may be written down: a
// length of time, or the column that says when it was.
func (r *askReader) readLateEntry(key string, n node) {
	if n.kind == nodeText && (durationForm.MatchString(n.text) || isNumber(n.text)) {
		r.ask.LateEntry = r.duration(key, n)
		return
	}
	r.ask.Entered = r.text(key, n)
}

func isNumber(s string) bool { _, ok := plainNumber(s); return ok }

// readSeparator reads the mark between the values of a cell that names
// several.
func (r *askReader) readSeparator(key string, n node) {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return
	}
	if strings.ContainsFunc(t, func(c rune) bool { return unicode.IsLetter(c) || unicode.IsDigit(c) }) || len(t) > 5 {
		r.fail(n.pos, CodeBadValue, "`%s` is the mark between the values of a cell, such as \";\", not %q", key, t)
		return
	}
	r.ask.Separator = t
}

// readPoolBelow reads the share below which bars are pooled.
func (r *askReader) readPoolBelow(key string, n node) {
	v := r.share(key, n)
	if v == nil {
		return
	}
	if *v <= 0 || *v > 0.5 {
		r.fail(n.pos, CodeBadValue, "`%s` is a share above 0 and at most a half, such as 5%%, not %s", key, n.text)
		return
	}
	r.ask.PoolBelow = *v
}

// readExpected reads a chance that cases are held against: a share, or a
// percentage, above 0 and below 1.
func (r *askReader) readExpected(key string, n node) {
	v := r.share(key, n)
	if v == nil {
		return
	}
	if *v <= 0 || *v >= 1 {
		r.fail(n.pos, CodeBadValue, "`%s` is a chance above 0 and below 1, such as 8%%, not %s", key, n.text)
		return
	}
	r.ask.Expected = *v
}

// readOddsRatio reads the odds ratio that a cumulative sum looks for.
func (r *askReader) readOddsRatio(key string, n node) {
	v, ok := r.number(key, n)
	if !ok {
		return
	}
	if v <= 1 || v > 100 {
		r.fail(n.pos, CodeBadValue, "`%s` is above 1 and at most 100, such as 2; the sum for fewer events looks for one divided by it", key)
		return
	}
	r.ask.OddsRatio = v
}

// checkSum reports keys of a cumulative sum that contradict one another.
func (r *askReader) checkSum() {
	a := r.ask
	if a.Method != "cumulative-sum" {
		return
	}
	if a.Numerator != nil && a.Numerator.All {
		r.fail(a.Numerator.Pos, CodeImpossible, "where every row is an event there is nothing to follow: give `numerator` a condition")
	}
	for _, key := range []string{"strata", "adjust", "baseline_points"} {
		if r.has("expected") && r.has(key) {
			r.fail(a.KeyPos[key], CodeImpossible, "what is expected is stated by `expected` and not learnt by `%s`", key)
		}
	}
	r.checkCases()
}

// checkCases reports keys of what is expected of cases that contradict one
// another.
func (r *askReader) checkCases() {
	a := r.ask
	if r.has("strata") && r.has("adjust") {
		r.fail(a.KeyPos["adjust"], CodeImpossible, "what is expected comes from `strata` or from a model of `adjust`, not from both")
	}
	for _, key := range []string{"factors", "reference", "spline"} {
		if r.has(key) && !r.has("adjust") {
			r.fail(a.KeyPos[key], CodeImpossible, "`%s` is for the columns of `adjust`, which are not given", key)
		}
	}
}

// checkFunnel reports keys of a comparison of units that contradict one
// another.
func (r *askReader) checkFunnel() {
	a := r.ask
	if a.Method != "funnel" {
		return
	}
	switch {
	case a.Numerator != nil && a.Numerator.All && !r.has("exposure"):
		r.fail(a.Numerator.Pos, CodeImpossible, "a share of all rows among all rows is always 100%%: give `numerator` a condition, or an `exposure`")
	case r.has("exposure") && r.has("adjust"):
		r.fail(a.KeyPos["adjust"], CodeImpossible, "rates over an `exposure` are allowed for by `strata`, not by `adjust`")
	case r.has("exposure") && a.Exposure != "socket-months" && a.Exposure != "checked-visits":
		r.fail(a.At("exposure", a.Exposure), CodeBadValue, "the `exposure` of a funnel is socket-months or checked-visits")
	}
	r.checkCases()
}

// checkSegmented reports keys of a series with a change that contradict one
// another.
func (r *askReader) checkSegmented() {
	a := r.ask
	if a.Method != "segmented" {
		return
	}
	every := a.Numerator != nil && a.Numerator.All
	switch {
	case !r.has("numerator") && !r.has("outcome"):
		r.fail(a.Pos, CodeMissingKey, "segmented needs `numerator`, what is counted, or `outcome`, a column of which each period has a mean")
	case r.has("outcome") && r.has("numerator"):
		r.fail(a.KeyPos["numerator"], CodeImpossible, "a series is of an `outcome` or of a `numerator`, not of both")
	case r.has("outcome") && r.has("denominator") && !r.has("exposure"):
		r.fail(a.KeyPos["denominator"], CodeImpossible, "a mean has no `denominator`; use keep")
	case every && r.has("denominator") && !r.has("exposure"):
		r.fail(a.KeyPos["denominator"], CodeImpossible, "a count of all rows has no `denominator`; give `numerator` a condition")
	}
	if a.Period == "case" {
		r.fail(a.At("period", "case"), CodeImpossible, "segmented follows a number by month, quarter or year")
	}
	if r.has("seasonal") && a.Period == "year" {
		r.fail(a.KeyPos["seasonal"], CodeImpossible, "years have no season; use period: quarter or month")
	}
}

// checkChart reports keys of a chart over time that contradict one another.
func (r *askReader) checkChart() {
	a := r.ask
	if a.Method != "control-chart" {
		return
	}
	every := a.Numerator != nil && a.Numerator.All
	// Which of the keys that only some charts take go with this one.
	for _, k := range []struct {
		key    string
		charts []string
		why    string
	}{
		{"outcome", []string{"xmr", "u", ""}, "`outcome` is for an xmr chart, of its mean, or a u chart, of its sum"},
		{"denominator", []string{"p", "u", "g", ""}, "`denominator` is for a p, u or g chart"},
		{"exposure", []string{"u", ""}, "`exposure` is for a u chart, of a rate"},
		{"between", []string{"g"}, "`between` is for a g chart; write chart: g"},
		{"overdispersed", []string{"p", "u", ""}, "limits of a %s chart do not come from a binomial or Poisson distribution of many, so `overdispersed` is for p and u charts"},
		{"period", []string{"p", "u", "c", "xmr", ""}, "a point of a %s chart is the stretch from one event to the next, so it takes no `period`"},
	} {
		if r.has(k.key) && !slices.Contains(k.charts, a.Chart) {
			r.fail(a.KeyPos[k.key], CodeImpossible, k.why, fill(k.why, a.Chart)...)
		}
	}
	switch {
	case !r.has("numerator") && !r.has("outcome") && a.Chart == "":
		r.fail(a.Pos, CodeMissingKey, "control-chart needs `numerator`, what is counted, or `outcome`, a column of which each period has a mean")
	case (a.Chart == "p" || a.Chart == "c" || a.Chart == "g" || a.Chart == "t") && !r.has("numerator"):
		r.fail(a.Pos, CodeMissingKey, "a %s chart needs `numerator`: %s", a.Chart, map[string]string{"p": "the condition that is counted", "c": "what is counted",
			"g": "the condition that makes a row an event", "t": "the condition that makes a row an event"}[a.Chart])
	case a.Chart == "u" && !r.has("outcome") && !r.has("numerator"):
		r.fail(a.Pos, CodeMissingKey, "a u chart needs `numerator`, what is counted, or `outcome`, a column of counts that is summed")
	case a.Chart == "xmr" && !r.has("outcome") && !r.has("numerator"):
		r.fail(a.Pos, CodeMissingKey, "an xmr chart needs `outcome`, a column whose mean is drawn, or `numerator`, what is counted in each period")
	case r.has("outcome") && r.has("numerator") && (a.Chart == "xmr" || a.Chart == "u" || a.Chart == ""):
		r.fail(a.KeyPos["numerator"], CodeImpossible, "a chart is of an `outcome` or of a `numerator`, not of both")
	case a.Chart == "p" && every:
		r.fail(a.Numerator.Pos, CodeImpossible, "a p chart of all rows among all rows is always 100%%: give `numerator` a condition")
	case a.Chart == "g" && every && a.Between != "days":
		r.fail(a.Numerator.Pos, CodeImpossible, "where every row is an event there are no cases between: give `numerator` a condition")
	case a.Chart == "u" && every && !r.has("denominator") && !r.has("exposure"):
		r.fail(a.Numerator.Pos, CodeImpossible, "a rate of all rows among all rows is always 1: give `numerator` a condition, or an `exposure`")
	case r.has("denominator") && r.has("outcome") && a.Chart != "u" && !r.has("exposure"):
		r.fail(a.KeyPos["denominator"], CodeImpossible, "`denominator` is for a p, u or g chart")
	case a.Between == "days" && r.has("denominator"):
		r.fail(a.KeyPos["denominator"], CodeImpossible, "days between events are not counted among rows, so there is no `denominator`; use keep")
	case a.Chart == "" && every && r.has("denominator") && !r.has("exposure"):
		r.fail(a.KeyPos["denominator"], CodeImpossible, "a count of all rows has no `denominator`; for a rate write chart: u")
	}
	if a.Period == "case" && (!r.has("outcome") || r.has("exposure") || a.Chart == "u") {
		r.fail(a.At("period", "case"), CodeImpossible, "`period: case` draws each value of an `outcome` by itself, on an xmr chart; for what is counted case by case use chart: g, or cumulative-sum")
	}
	if a.Chart == "" && a.Overdispersed != nil && r.has("outcome") && !r.has("exposure") {
		r.fail(a.KeyPos["overdispersed"], CodeImpossible, "the limits of means come from their own spread, so `overdispersed` is for p and u charts")
	}
	if a.Goal != nil && a.ofShares() && (*a.Goal < 0 || *a.Goal > 1) {
		r.fail(a.KeyPos["goal"], CodeBadValue, "the goal of a p chart lies between 0 and 1, or 0%% and 100%%")
	}
}

// ofShares says whether the values of a chart, and so its goal, are shares:
// of a chart left to be chosen, those that it is first thought of as.
func (a *Ask) ofShares() bool {
	return a.Chart == "p" || a.Chart == "" && a.Numerator != nil && !a.Numerator.All && a.Exposure == ""
}

// fill is the value for the one place of a text that has one.
func fill(text, value string) []any {
	for i := 0; i+1 < len(text); i++ {
		if text[i:i+2] == "%s" {
			return []any{value}
		}
	}
	return nil
}
