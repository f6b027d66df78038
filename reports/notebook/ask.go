package notebook

import (
	"fmt"
	"regexp"
	"strings"
)

// parseAsk reads an ask. It always returns one: its faults are in Err and
// More.
func parseAsk(c chunk) *Ask {
	a := &Ask{Pos: c.pos, Src: c.body.source(), KeyPos: map[string]Pos{}, valuePos: map[string]Pos{}}
	if c.fault != nil {
		// What follows the fault may belong to anything; the id, if one can
		// be made out, still says which answer is lost.
		a.Err = c.fault
		a.ID, a.Method = lostID(c.body)
		return a
	}
	root, err := parseYAML(c.body)
	if err != nil {
		a.Err = err
		a.ID, a.Method = lostID(c.body)
		return a
	}
	if len(root.entries) == 0 {
		a.Err = &Error{Pos: c.pos, Code: CodeMissingKey, Text: "this ask is empty: it needs at least an id and a method"}
		return a
	}
	r := &askReader{ask: a, meant: map[string]bool{}}
	r.readAll(root)
	a.Err, a.More = r.first()
	return a
}

var (
	idForm     = regexp.MustCompile(`^[A-Za-z0-9-]+$`)
	lostIDForm = regexp.MustCompile(`^id: *([A-Za-z0-9-]+) *$`)
	lostMethod = regexp.MustCompile(`^method: *([a-z-]+) *$`)
)

// maxID keeps an id usable as a file name.
const maxID = 60

// lostID finds the id and method of an ask that cannot be read as a whole.
func lostID(b block) (id, method string) {
	for _, l := range b.lines {
		if m := lostIDForm.FindStringSubmatch(l); m != nil && id == "" && len(m[1]) <= maxID {
			id = m[1]
		}
		if m := lostMethod.FindStringSubmatch(l); m != nil && method == "" {
			method = m[1]
		}
	}
	return id, method
}

type askReader struct {
	reader
	ask *Ask
	// meant are the keys that misspelt ones stand for: to call them missing
	// too would hide the fault behind another.
	meant map[string]bool
}

func (r *askReader) readAll(root node) {
	a := r.ask
	for _, e := range root.entries {
		if e.key == "method" {
			if e.value.kind == nodeText && AcceptedKeys(e.value.text) != nil {
				a.Method = e.value.text
			}
			break
		}
	}
	readers := r.readers()
	for _, e := range root.entries {
		if p, ok := a.KeyPos[e.key]; ok {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands on line %d already", e.key, p.Line)
			continue
		}
		read, known := readers[e.key]
		if !known {
			valid := allKeys()
			if a.Method != "" {
				valid = AcceptedKeys(a.Method)
			}
			near := Nearest(e.key, valid)
			if near == "" {
				near = Nearest(e.key, allKeys())
			}
			if near != "" {
				r.meant[near] = true
				r.failNear(e.keyPos, CodeUnknownKey, near, "there is no key %q; did you mean %q?", e.key, near)
			} else {
				r.fail(e.keyPos, CodeUnknownKey, "there is no key %q; the keys are %s", e.key, andList(valid))
			}
			continue
		}
		a.KeyPos[e.key] = e.keyPos
		if a.Method != "" && !takes(a.Method, e.key) {
			do := "do"
			if len(takers(e.key)) == 1 {
				do = "does"
			}
			r.fail(e.keyPos, CodeKeyNotTaken, "%s does not take `%s`; %s %s", a.Method, e.key, andList(takers(e.key)), do)
			continue
		}
		r.place(e)
		read(e.key, e.value)
	}
	if a.Method != "" {
		r.require()
		r.defaults()
		if len(r.errs) == 0 { // a value that could not be read would seem to contradict others
			r.check()
		}
	} else if _, ok := a.KeyPos["method"]; !ok && !r.meant["method"] {
		r.fail(a.Pos, CodeMissingKey, "this ask has no `method`; it can be %s", orList(Methods()))
	}
	if _, ok := a.KeyPos["id"]; !ok && !r.meant["id"] {
		r.fail(a.Pos, CodeMissingKey, "this ask has no `id`: give it a name of letters, digits and hyphens")
	}
}

// place notes where the values of a key stand.
func (r *askReader) place(e entry) {
	put := func(value string, pos Pos) {
		if _, ok := r.ask.valuePos[e.key+"\x00"+value]; !ok {
			r.ask.valuePos[e.key+"\x00"+value] = pos
		}
	}
	var walk func(n node)
	walk = func(n node) {
		switch n.kind {
		case nodeText:
			put(n.text, n.pos)
		case nodeList:
			for _, it := range n.items {
				walk(it)
			}
		case nodeMap:
			for _, x := range n.entries {
				put(x.key, x.keyPos)
				walk(x.value)
			}
		}
	}
	walk(e.value)
}

// readers is how each key is read. It is the list of all keys.
func (r *askReader) readers() map[string]func(key string, n node) {
	a := r.ask
	text := func(to *string) func(string, node) {
		return func(k string, n node) { *to = r.text(k, n) }
	}
	word := func(to *string, valid ...string) func(string, node) {
		return func(k string, n node) { *to = r.word(k, n, valid) }
	}
	list := func(to *[]string) func(string, node) {
		return func(k string, n node) {
			for _, it := range r.list(k, n) {
				*to = append(*to, it.text)
			}
		}
	}
	length := func(to **Duration) func(string, node) {
		return func(k string, n node) { *to = r.duration(k, n) }
	}
	return map[string]func(key string, n node){
		"id":              r.readID,
		"question":        text(&a.Question),
		"method":          r.readMethod,
		"rows":            word(&a.Rows, Tables()...),
		"keep":            func(k string, n node) { a.Keep = r.condition(k, n) },
		"note":            text(&a.Note),
		"by":              text(&a.By),
		"adjust":          list(&a.Adjust),
		"columns":         list(&a.Columns),
		"factors":         list(&a.Factors),
		"reference":       r.values(&a.Reference),
		"interact":        r.readInteract,
		"strata":          list(&a.Strata),
		"varying":         list(&a.Varying),
		"repeats":         word(&a.Repeats, "total-time", "gap-time", "marginal"),
		"weights":         text(&a.Weights),
		"offset":          text(&a.Offset),
		"compare":         r.readCompare,
		"tests":           r.readTests,
		"trend":           r.readTrend,
		"hazard":          length(&a.Hazard),
		"cluster":         text(&a.Cluster),
		"start":           text(&a.Start),
		"end":             text(&a.End),
		"entry":           text(&a.Entry),
		"landmark":        length(&a.Landmark),
		"event":           func(k string, n node) { a.Event = r.event(k, n) },
		"competing":       func(k string, n node) { a.Competing = r.event(k, n) },
		"seen_as_exact":   func(k string, n node) { a.SeenAsExact = r.yes(k, n) },
		"times":           r.readTimes,
		"until":           length(&a.Until),
		"quantiles":       r.readQuantiles,
		"confidence":      func(k string, n node) { a.Confidence = r.fraction(k, n) },
		"seed":            func(k string, n node) { a.Seed = r.whole(k, n, 1, 1000000) },
		"bounds":          word(&a.Bounds, "complementary-log-log", "log", "untransformed", "logit"),
		"ties":            word(&a.Ties, "efron", "breslow", "discrete"),
		"penalty":         word(&a.Penalty, "none", "firth", "ridge"),
		"penalty_size":    func(k string, n node) { a.PenaltySize = r.positive(k, n) },
		"frailty":         word(&a.Frailty, "gamma", "log-normal"),
		"shared_by":       text(&a.SharedBy),
		"outcome":         r.readOutcome,
		"unequal":         list(&a.Unequal),
		"correlation":     word(&a.Correlation, "none", "exchangeable", "ar1"),
		"intervals":       word(&a.Intervals, "symmetric", "profile"),
		"time":            text(&a.Time),
		"within":          text(&a.Within),
		"slopes":          list(&a.Slopes),
		"nested_in":       text(&a.NestedIn),
		"nested_slopes":   list(&a.NestedSlopes),
		"crossed":         list(&a.Crossed),
		"taken_by":        r.values(&a.TakenBy),
		"scatter_by":      text(&a.ScatterBy),
		"random_effects":  word(&a.RandomEffects, "correlated", "uncorrelated"),
		"test_random":     func(k string, n node) { a.TestRandom = r.yes(k, n) },
		"freedom":         word(&a.Freedom, "satterthwaite", "kenward-roger"),
		"estimate":        word(&a.Estimate, "reml", "ml"),
		"scale":           word(&a.Scale, "days", "months", "log-weeks"),
		"period":          word(&a.Period, "month", "quarter", "year", "case"),
		"dated":           text(&a.Dated),
		"chart":           word(&a.Chart, ChartKinds()...),
		"change":          func(k string, n node) { a.Change = r.date(k, n) },
		"transition":      length(&a.Transition),
		"seasonal":        func(k string, n node) { v := r.yes(k, n); a.Seasonal = &v },
		"errors":          word(&a.Errors, "autoregressive", "newey-west"),
		"separator":       r.readSeparator,
		"pool_below":      r.readPoolBelow,
		"expected":        r.readExpected,
		"odds_ratio":      r.readOddsRatio,
		"false_alarm":     length(&a.FalseAlarm),
		"exposure":        text(&a.Exposure),
		"between":         word(&a.Between, "cases", "days"),
		"overdispersed":   r.readOverdispersed,
		"late_entry":      r.readLateEntry,
		"steps":           list(&a.Steps),
		"numerator":       func(k string, n node) { a.Numerator = r.count(k, n) },
		"denominator":     func(k string, n node) { a.Denominator = r.count(k, n) },
		"baseline_points": func(k string, n node) { a.BaselinePoints = r.whole(k, n, 3, 1000) },
		"goal":            func(k string, n node) { a.Goal = r.share(k, n) },
		"better":          word(&a.Better, "higher", "lower"),
		"profiles":        r.readProfiles,
		"plan":            word(&a.Plan, "log-rank", "cox", "cumulative-incidence"),
		"ratios":          r.readRatios,
		"power":           r.readPower,
		"sockets":         func(k string, n node) { a.Sockets = r.whole(k, n, 2, 1000000) },
		"share":           func(k string, n node) { a.Share = r.fraction(k, n) },
		"explained":       func(k string, n node) { a.Explained = r.fractionFrom0(k, n) },
		"within_person":   func(k string, n node) { a.WithinPerson = r.fractionFrom0(k, n) },
		"lost":            func(k string, n node) { a.Lost = r.fractionFrom0(k, n) },
		"accrual":         length(&a.Accrual),
		"missing":         word(&a.Missing, "complete", "impute"),
		"imputations":     func(k string, n node) { a.Imputations = r.whole(k, n, 5, 500) },
		"ahead":           length(&a.Ahead),
		"course":          word(&a.Course, "level", "trend"),
		"every":           length(&a.Every),
		"resamples":       func(k string, n node) { a.Resamples = r.whole(k, n, 100, 2000) },
		"listed":          func(k string, n node) { a.Listed = r.whole(k, n, 1, 200) },
		"spline":          r.readSpline,
		"split":           r.readSplit,
		"diagnostics":     func(k string, n node) { a.Diagnostics = r.yes(k, n) },
		"adjusted":        func(k string, n node) { a.Adjusted = r.yes(k, n) },
		"contrasts":       r.readContrasts,
		"vary":            r.readVary,
		"initial":         word(&a.Initial, "share", "volume"),
		"left":            r.readLeft, "settled": r.readSettled,
		"limb":      text(&a.Limb),
		"cycle":     word(&a.Cycle, "day", "year"),
		"waves":     func(k string, n node) { a.Waves = r.whole(k, n, 1, 2) },
		"sides":     word(&a.Sides, "straight", "curved"),
		"axes":      r.readAxes,
		"cap":       text(&a.Cap),
		"ways":      text(&a.Ways),
		"same":      list(&a.Same),
		"percent":   func(k string, n node) { a.Percent = r.yes(k, n) },
		"weighting": word(&a.Weighting, "none", "linear", "quadratic"),
		"order":     list(&a.Order),
		"region":    text(&a.Region),
		"ranges":    r.readRanges,
		"good":      list(&a.Good),
		"adjust_p":  word(&a.AdjustP, "none", "holm"),
	}
}

// readMethod reports a method that there is not; what it is was read first,
// since it decides which keys there are.
func (r *askReader) readMethod(key string, n node) {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before || AcceptedKeys(t) != nil {
		return
	}
	h, near := hint(t, Methods())
	r.failNear(n.pos, CodeUnknownMethod, near, "there is no method %q; %s", t, h)
}

func (r *askReader) readID(key string, n node) {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return
	}
	if !idForm.MatchString(t) || len(t) > maxID {
		near := suggestID(t)
		text := fmt.Sprintf("an id is made of letters, digits and hyphens, at most %d, not %q", maxID, t)
		if near != "" {
			text += fmt.Sprintf("; did you mean %q?", near)
		}
		r.failNear(n.pos, CodeBadID, near, "%s", text)
		return
	}
	r.ask.ID = t
}

// suggestID turns text into an id by putting hyphens where other characters are.
func suggestID(s string) string {
	parts := strings.FieldsFunc(s, func(c rune) bool {
		return !('a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9')
	})
	id := strings.Join(parts, "-")
	if len(id) > maxID {
		id = strings.TrimRight(id[:maxID], "-")
	}
	return id
}
