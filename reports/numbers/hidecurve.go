package numbers

import (
	"slices"
	"sort"

	"plybook/reports/answer"
)

// isCurve reports whether a table has the columns of a curve.
func isCurve(t answer.Table) bool {
	for _, name := range []string{"time", "at_risk", "events", "censored"} {
		if column(t, name) < 0 {
			return false
		}
	}
	return true
}

func column(t answer.Table, name string) int {
	return slices.IndexFunc(t.Columns, func(c answer.Column) bool { return c.Name == name })
}

// moment is the state of a group at a time: what has ended so far, by cause
// and censored, and how many are at risk just before.
type moment struct {
	time   float64
	atRisk int
	so     []int
}

// curves decides which times of the curves may be shown, group by group, and
// withholds the rest.
func (h *hider) curves() {
	var curve *answer.Table
	for i := range h.a.Tables {
		if isCurve(h.a.Tables[i]) && h.a.Tables[i].Name == "curve" {
			curve = &h.a.Tables[i]
		}
	}
	open := map[string][]moment{} // by group, in time order
	history := map[string][]moment{}
	if curve != nil {
		history = histories(*curve)
		for g, ms := range history {
			open[g] = ms[:1]
		}
	}
	// Times asked for come first.
	for pass := range 2 {
		for i := range h.a.Tables {
			t := &h.a.Tables[i]
			if !isCurve(*t) || (t.Name == "curve") != (pass == 1) {
				continue
			}
			h.curve(t, history, open)
		}
	}
}

func groupOf(t answer.Table, r []any) string {
	if j := column(t, "group"); j >= 0 {
		s, _ := r[j].(string)
		return s
	}
	return ""
}

func numberOf(v any) float64 {
	switch x := v.(type) {
	case int:
		return float64(x)
	case float64:
		return x
	}
	return 0
}

// histories adds up what a curve table says, by group and time.
func histories(t answer.Table) map[string][]moment {
	time, risk, events, censored, cause := column(t, "time"), column(t, "at_risk"), column(t, "events"), column(t, "censored"), column(t, "cause")
	causes := map[string]int{}
	name := func(r []any) string {
		if cause < 0 {
			return ""
		}
		s, _ := r[cause].(string)
		return s
	}
	for _, r := range t.Rows {
		if _, ok := causes[name(r)]; !ok {
			causes[name(r)] = len(causes)
		}
	}
	type key struct {
		group string
		time  float64
	}
	at := map[key]*moment{}
	out := map[string][]moment{}
	var keys []key
	for _, r := range t.Rows {
		k := key{groupOf(t, r), numberOf(r[time])}
		m := at[k]
		if m == nil {
			m = &moment{time: k.time, so: make([]int, len(causes)+1)}
			at[k] = m
			keys = append(keys, k)
		}
		e, _ := countOf(r[events])
		c, _ := countOf(r[censored])
		n, _ := countOf(r[risk])
		m.atRisk = max(m.atRisk, n)
		m.so[causes[name(r)]] += e
		m.so[len(causes)] = max(m.so[len(causes)], c) // the causes share it
	}
	sort.SliceStable(keys, func(a, b int) bool { return keys[a].time < keys[b].time })
	for _, k := range keys {
		m := *at[k]
		if before := out[k.group]; len(before) > 0 {
			for i, n := range before[len(before)-1].so {
				m.so[i] += n
			}
		}
		out[k.group] = append(out[k.group], m)
	}
	return out
}

// apartEnough reports whether between two moments each kind of ending did
// not happen or happened often enough.
func (h *hider) apartEnough(a, b moment) bool {
	for i := range a.so {
		if d := b.so[i] - a.so[i]; d != 0 && d < h.below {
			return false
		}
	}
	d := a.atRisk - b.atRisk
	return d == 0 || d >= h.below || -d >= h.below
}

// curve withholds the rows of a table whose times may not be shown, and adds
// those that may to open.
func (h *hider) curve(t *answer.Table, history, open map[string][]moment) {
	time, risk := column(*t, "time"), column(*t, "at_risk")
	type key struct {
		group string
		time  float64
	}
	allowed := map[key]bool{}
	order := make([]int, len(t.Rows))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		return numberOf(t.Rows[order[a]][time]) < numberOf(t.Rows[order[b]][time])
	})
	for _, i := range order {
		r := t.Rows[i]
		g := groupOf(*t, r)
		k := key{g, numberOf(r[time])}
		ok, seen := allowed[k]
		if !seen {
			ok = h.allow(g, k.time, r[risk], history, open)
			allowed[k] = ok
		}
		if ok {
			// What happened at one time alone may still be few.
			for j, c := range t.Columns {
				if n, isCount := countOf(r[j]); isCount && c.Type == answer.TypeCount && h.small(n) {
					h.drop(t, i, j)
				}
			}
			continue
		}
		for j, c := range t.Columns {
			if c.Type == answer.TypeCount || fromCounts(t.Name, c) {
				h.drop(t, i, j)
			}
		}
	}
}

// allow decides on a time of a group: the state there must differ enough
// from those already shown before and after it.
func (h *hider) allow(group string, time float64, risk any, history, open map[string][]moment) bool {
	past := history[group]
	n, _ := countOf(risk)
	if len(past) == 0 {
		// A table at asked times without its curve: the count alone decides.
		return !h.few(n)
	}
	k := sort.Search(len(past), func(k int) bool { return past[k].time > time }) - 1
	if k < 0 || h.few(n) {
		return false
	}
	m := moment{time: time, atRisk: n, so: past[k].so}
	shown := open[group]
	at := sort.Search(len(shown), func(k int) bool { return shown[k].time >= time })
	if at < len(shown) && shown[at].time == time {
		return true
	}
	if at > 0 && !h.apartEnough(shown[at-1], m) || at < len(shown) && !h.apartEnough(m, shown[at]) {
		return false
	}
	open[group] = slices.Insert(slices.Clone(shown), at, m)
	return true
}
