package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// repeatedEvents gathers the repeated events of the rows chosen.
func (w *work) repeatedEvents() (*repeated, error) {
	r := &repeated{}
	spec := cohort.RepeatSpec{}
	var named []cause
	if cond := w.ask.Event.Condition; cond != nil {
		for _, cl := range allClauses(*cond) {
			if err := w.mayTest("event", cl); err != nil {
				return nil, err
			}
		}
		spec.Seen = cond
		r.what = w.visitsWith(*cond)
	} else {
		all, err := w.named("event", w.ask.Event)
		if err != nil {
			return nil, err
		}
		var whats []string
		for _, c := range all {
			whats = append(whats, causePlural(c.name))
		}
		r.what = words.List(whats)
		if named, err = w.eventCauses(false); err != nil {
			return nil, err
		}
		for _, c := range named {
			spec.Events = append(spec.Events, cohort.Cause{Name: c.name, Codes: c.reasons, Within: c.within})
		}
	}
	got, err := w.ctx.Cohort.Repeats(w.table.Pick(w.rows), spec)
	if err != nil {
		if findings, ferr := w.ctx.Cohort.Rows("findings"); ferr == nil && spec.Seen != nil {
			err = w.conditionError("event", err, findings)
		}
		return nil, err
	}
	r.Repeats = got
	w.steps = append(w.steps, got.Flow...)
	w.Answer.Rows, w.HasEvents = len(got.Row), true
	if w.Answer.Rows == 0 {
		return nil, stats.ErrNoRows
	}
	w.rests(w.rowsOf(r), append(w.keepColumns(), "start")...)
	return r, w.endsOfRisk(r, named)
}

// endsOfRisk says after which exits no event can come: a death, and of a
// socket its own end.
func (w *work) endsOfRisk(r *repeated, events []cause) error {
	competing, err := w.competing(events)
	if err != nil {
		return err
	}
	ends := map[string]bool{}
	var said []string
	for _, c := range competing {
		for _, reason := range c.reasons {
			if reason != "died" && w.table.Name != "sockets" {
				if w.ask.Competing == nil || w.ask.Competing.Default {
					continue
				}
				return &notebook.Error{Pos: w.ask.Competing.Pos, Code: notebook.CodeImpossible,
					Text: fmt.Sprintf("the end of a socket does not end what can happen to its %s; of %s, competing can be died only", strings.TrimSuffix(w.table.Name, "s"), w.table.Name)}
			}
			ends[reason] = true
		}
	}
	if ends["died"] {
		said = append(said, "death")
	}
	if w.table.Name == "sockets" {
		said = append(said, "the end of the socket")
		for _, c := range events {
			for _, reason := range c.reasons {
				ends[reason] = true
			}
		}
	}
	r.ends = words.List(said)
	for j := range r.Row {
		r.terminal = append(r.terminal, r.Died[j] && ends["died"] || r.EndReason[j] != "" && ends[r.EndReason[j]])
	}
	return nil
}

// visitsWith is a condition on visits as what is counted.
func (w *work) visitsWith(c table.Condition) string {
	if len(c.Any) == 0 && len(c.Clauses) == 1 && len(c.Clauses[0].Values) > 0 {
		values := strings.Join(c.Clauses[0].Values, " or ")
		switch c.Clauses[0].Column {
		case "purpose":
			return values + " visits"
		case "finding":
			return "visits with " + values
		}
	}
	return "visits with " + w.conditionWords(c)
}

// causePlural is an ending as what is counted.
func causePlural(name string) string {
	switch name {
	case "remake":
		return "remakes"
	case "early-remake":
		return "early remakes"
	case "making":
		return "remakes for an error in the making"
	case "limb-change":
		return "remakes for a change of the limb"
	}
	if r, ok := strings.CutPrefix(name, "remake: "); ok {
		return "remakes for " + r
	}
	return "endings by " + causeWords(name)
}

// repeatClusters gives the cluster of each subject: person where persons
// repeat, the column asked for, or none.
func (w *work) repeatClusters(r *repeated) ([]int, string, error) {
	_, many := w.nouns()
	repeats := distinct(r.Person) < len(r.Person)
	switch w.ask.Cluster {
	case "none":
		if repeats {
			w.caution("not-clustered", "Some persons have several %s here, which are taken as independent because the question says so. The intervals may be too narrow.", many)
		}
		return nil, "", nil
	case "":
		if !repeats {
			return nil, "", nil
		}
		w.fewClusters(distinct(r.Person), len(r.Person), "person", many)
		return r.Person, "person", nil
	}
	c, err := w.column("cluster", w.ask.Cluster)
	if err != nil {
		return nil, "", err
	}
	codes := codesOf(c.Pick(w.rowsOf(r)), indices(len(r.Row)))
	w.fewClusters(distinct(codes), len(r.Row), plainName(w.ask.Cluster), many)
	return codes, w.ask.Cluster, nil
}

// rowsOf are the rows of the rows-table that the subjects are.
func (w *work) rowsOf(r *repeated) []int {
	out := make([]int, len(r.Row))
	for j, i := range r.Row {
		out[j] = w.rows[i]
	}
	return out
}

// countedGroups splits the subjects by the column of `by`.
