package notebook

import "strings"

// Sets returns the named sets of end reasons, sorted.
func Sets() []string {
	return []string{"early-remake", "limb-change", "making", "remake", "untraced"}
}

// isSet says whether a word names a set of end reasons.
func isSet(word string) bool {
	for _, s := range Sets() {
		if s == word {
			return true
		}
	}
	return false
}

// event reads what counts as the event: a set or end reason, a list of them,
// or a condition on visits or findings. Whether an end reason is one of the
// log's is checked where the log is known.
func (r *reader) event(key string, n node) *EventSpec {
	out := &EventSpec{Pos: n.pos}
	if n.kind == nodeMap {
		c := r.condition(key, n)
		out.Condition = &c
		return out
	}
	for _, it := range r.list(key, n) {
		name := strings.Join(strings.Fields(it.text), " ")
		// "early remake" and "limb_change" are the sets with another joint.
		if dashed := strings.NewReplacer(" ", "-", "_", "-").Replace(strings.ToLower(name)); isSet(dashed) {
			name = dashed
		}
		out.Causes = append(out.Causes, Cause{Name: name, Set: isSet(name), Pos: it.pos})
	}
	return out
}

// defaultEvent is a remake.
func defaultEvent(pos Pos) *EventSpec {
	return &EventSpec{Causes: []Cause{{Name: "remake", Set: true, Pos: pos}}, Pos: pos, Default: true}
}
