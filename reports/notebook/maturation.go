package notebook

import "strings"

// Settled is a lab's own rule of when a limb is stable: readings over at least
// a length of time lie within a share of the last one.
type Settled struct {
	Change float64 // share of one
	Over   Duration
	Source string // where the rule comes from, as written
}

// varyWords are what can differ from limb to limb.
var varyWords = []string{"plateau", "initial", "rate"}

// readVary reads what differs from limb to limb.
func (r *askReader) readVary(key string, n node) {
	for _, it := range r.list(key, n) {
		if v := r.word(key, it, varyWords); v != "" {
			r.ask.Vary = append(r.ask.Vary, v)
		}
	}
}

// partOfVolume reads a share above 0 and below one half, written as 2% or 0.02.
func (r *askReader) partOfVolume(key string, n node) *float64 {
	before := len(r.errs)
	v := r.share(key, n)
	if len(r.errs) > before || v == nil {
		return nil
	}
	if !(*v > 0 && *v < 0.5) {
		near := ""
		if *v >= 0.5 && *v < 50 && !strings.HasSuffix(n.text, "%") {
			near = n.text + "%"
			r.failNear(n.pos, CodeBadValue, near, "`%s` is a share of the volume above 0 and below one half; did you mean %s?", key, near)
			return nil
		}
		r.fail(n.pos, CodeBadValue, "`%s` is a share of the volume above 0%% and below 50%%, such as 2%%, not %s", key, n.text)
		return nil
	}
	return v
}

func (r *askReader) readLeft(key string, n node) { r.ask.Left = r.partOfVolume(key, n) }

// readSettled reads {change: 3%, over: 60d, source: text}. A rule without its
// source is no rule of the lab's.
func (r *askReader) readSettled(key string, n node) {
	const form = "`settled` takes {change: 3%%, over: 60d, source: where the rule comes from}"
	if n.kind != nodeMap {
		r.fail(n.pos, CodeWrongType, form)
		return
	}
	s := &Settled{}
	seen := map[string]bool{}
	for _, e := range n.entries {
		if seen[e.key] {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands in `%s` already", e.key, key)
			continue
		}
		seen[e.key] = true
		switch e.key {
		case "change":
			if v := r.partOfVolume("change", e.value); v != nil {
				s.Change = *v
			}
		case "over":
			if d := r.duration("over", e.value); d != nil {
				s.Over = *d
			}
		case "source":
			s.Source = r.text("source", e.value)
		default:
			h, near := hint(e.key, []string{"change", "over", "source"})
			r.failNear(e.keyPos, CodeUnknownKey, near, "`settled` has no %q; %s", e.key, h)
		}
	}
	for _, k := range []string{"change", "over", "source"} {
		if !seen[k] {
			r.fail(n.pos, CodeMissingKey, "`settled` needs `%s`: "+form, k)
		}
	}
	r.ask.Settled = s
}

// defaultsOfMaturation fills what an ask of maturation leaves out.
func (r *askReader) defaultsOfMaturation() {
	a := r.ask
	for to, v := range map[*string]string{&a.Rows: "stations", &a.Outcome: "volume_ml", &a.Time: "months_since_amputation"} {
		if *to == "" {
			*to = v
		}
	}
	if len(a.Vary) == 0 && !r.has("vary") {
		a.Vary = []string{"plateau", "initial"}
	}
}

// checkMaturation reports what does not go together.
func (r *askReader) checkMaturation() {
	a := r.ask
	if a.Method != "maturation" {
		return
	}
	if !contains(a.Vary, "plateau") {
		r.fail(a.KeyPos["vary"], CodeImpossible, "`vary` names plateau always: limbs of one plateau would be of one size")
	}
	r.checkForetold()
}

// checkForetold reports a limb without the times at which it is foretold, or
// times without it.
func (r *askReader) checkForetold() {
	a := r.ask
	switch {
	case r.has("limb") == r.has("times"):
	case r.has("limb"):
		r.fail(a.KeyPos["limb"], CodeMissingKey, "`limb` is foretold after each of `times`, such as [30d, 90d], counted from its last measurement; they are not given")
	default:
		r.fail(a.KeyPos["times"], CodeMissingKey, "`times` are those at which one `limb` is foretold, which is not given")
	}
}
