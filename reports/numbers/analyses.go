package numbers

import (
	"strconv"
	"strings"
)

// Analysis is a line of the list of all analyses of a notebook: what was
// asked, of how many rows and events, and where the answer stands.
type Analysis struct {
	ID, Question, Method string
	RowsOf               string   // what the rows are: sockets, visits...
	Rows, Events         *int     // nil where there are none, or where they are withheld
	RowsHidden           bool     // the number of rows is withheld
	EventsHidden         bool     // the number of events is withheld
	By                   string   // the column that makes groups, empty without
	Groups               int      // groups compared; 0 where there are none
	Terms                []string // columns whose effects a model estimates
	Cautions             []string // codes, each once, in the order raised
	Section              string   // number of the section of the report
	Answered             bool
}

// analyses writes the list as an array of objects.
func (j *jsonWriter) analyses(list []Analysis) {
	j.raw("],\n\"analyses\":[")
	for i, a := range list {
		j.raw(between(i))
		j.raw("{")
		j.pair(true, "id", a.ID)
		j.pair(false, "question", a.Question)
		j.pair(false, "method", a.Method)
		j.pair(false, "rows_of", orNull(a.RowsOf))
		j.pair(false, "rows", a.Rows)
		j.pair(false, "events", a.Events)
		j.pair(false, "by", orNull(a.By))
		var groups any
		if a.Groups > 0 {
			groups = a.Groups
		}
		j.pair(false, "groups", groups)
		j.pair(false, "terms", listed(a.Terms))
		j.pair(false, "cautions", listed(a.Cautions))
		j.pair(false, "section", orNull(a.Section))
		j.pair(false, "answered", a.Answered)
		j.raw("}")
	}
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// listed is a list that is written as one even if it is empty.
func listed(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// GroupsOrTerms says in one cell what an analysis compared.
func (a Analysis) GroupsOrTerms() string {
	plain := func(s string) string { return strings.ReplaceAll(strings.TrimPrefix(s, "own."), "_", " ") }
	if len(a.Terms) > 0 {
		names := make([]string, len(a.Terms))
		for i, t := range a.Terms {
			names[i] = plain(t)
		}
		return strings.Join(names, ", ")
	}
	switch {
	case a.By == "" && a.Answered:
		return undivided(a.Method)
	case a.By == "":
		return ""
	case a.Groups > 0:
		return plain(a.By) + ": " + strconv.Itoa(a.Groups)
	}
	return plain(a.By)
}

// undivided says what was compared where there are neither groups nor terms.
func undivided(method string) string {
	switch method {
	case "limb-volume", "sock-volume":
		return "each limb with itself"
	case "agreement":
		return "readings of the same case"
	}
	return "all together"
}
