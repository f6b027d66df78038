package answer

import (
	"slices"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// Definition is a word of a report with its meaning.
type Definition struct{ Word, Meaning string }

// Definitions are those of the derived columns that questions use, by what a
// clinician calls them, and of what counts as a remake where one asks for it.
// sets are the named sets of end reasons.
func Definitions(asks []*notebook.Ask, sets map[string][]string, earlyDays float64) []Definition {
	used := map[string]cohort.ColumnDoc{}
	remake, early := false, false
	for _, a := range asks {
		if a.Err != nil {
			continue
		}
		rows := a.Rows
		if rows == "" {
			rows = cohort.Sockets
		}
		note := func(name string) {
			for _, d := range cohort.Derived() {
				if d.Name == name && slices.Contains(d.Rows, rows) {
					used[d.Label] = d
				}
			}
		}
		for _, k := range columnsUsed(a) {
			note(k.name)
		}
		for _, k := range conditionsUsed(a) {
			for _, cl := range allClauses(k.condition) {
				note(cl.Column)
			}
		}
		if e := a.Event; e != nil {
			for _, c := range e.Causes {
				remake = remake || c.Set && c.Name == "remake" || !c.Set && strings.HasPrefix(c.Name, "remake")
				early = early || c.Set && c.Name == "early-remake"
			}
		}
	}
	var out []Definition
	for label, d := range used {
		out = append(out, Definition{words.Capital(label), words.Capital(strings.ReplaceAll(d.Definition, "`", ""))})
	}
	if remake {
		out = append(out, Definition{"Remake", "The end of a socket whose place a new one takes, for one of these reasons: " + strings.Join(reasonsOf(sets["remake"]), ", ") + ". A reline or refit is none."})
	}
	if early {
		out = append(out, Definition{"Early remake", "A remake within " + words.At(earlyDays) + " of the delivery."})
	}
	sort.Slice(out, func(a, b int) bool { return out[a].Word < out[b].Word })
	return out
}

// reasonsOf are reasons without the word they all begin with.
func reasonsOf(reasons []string) []string {
	out := make([]string, len(reasons))
	for i, r := range reasons {
		out[i] = strings.TrimPrefix(r, "remake: ")
	}
	return out
}
