package notebook

import "strings"

// TestNames are the words that `tests` can have.
func TestNames() []string {
	return []string{"log-rank", "gehan-breslow", "tarone-ware", "peto-peto", "peto-prentice",
		"fleming-harrington-middle", "fleming-harrington-late"}
}

// Trend is the order of groups for a test of trend.
type Trend struct {
	Order []string // the groups, one step apart; nil: they are numbers, which stand as they are
	Pos   Pos
}

func (r *askReader) readTests(key string, n node) {
	for _, it := range r.list(key, n) {
		if t := r.word(key, it, TestNames()); t != "" {
			r.ask.Tests = append(r.ask.Tests, t)
		}
	}
}

func (r *askReader) readTrend(key string, n node) {
	if n.kind == nodeText && !n.quoted {
		switch strings.ToLower(n.text) {
		case "true", "yes":
			r.ask.Trend = &Trend{Pos: n.pos}
			return
		case "false", "no":
			r.fail(n.pos, CodeBadValue, "`%s` is true or the groups in their order; where no trend is asked for, leave it out", key)
			return
		}
	}
	before := len(r.errs)
	t := &Trend{Pos: n.pos}
	for _, it := range r.list(key, n) {
		t.Order = append(t.Order, it.text)
	}
	if len(r.errs) > before {
		return
	}
	if len(t.Order) < 2 {
		r.fail(n.pos, CodeBadValue, "`%s` is true where the groups are numbers, or lists at least two groups in their order", key)
		return
	}
	r.ask.Trend = t
}

// checkCurves reports comparisons of curves without groups to compare.
func (r *askReader) checkCurves() {
	if r.ask.Method != "kaplan-meier" || r.has("by") {
		return
	}
	for _, key := range []string{"strata", "tests", "trend"} {
		if r.has(key) {
			r.fail(r.ask.KeyPos[key], CodeImpossible, "`%s` compares groups, and needs `by`", key)
		}
	}
}
