package answer

import (
	"slices"
	"strings"

	"plybook/reports/figure"
	"plybook/reports/words"
)

// draw draws the walls against the settings. For the public nothing is drawn:
// each mark would be one person's sheet.
func (j *formingJob) draw() {
	if j.public() {
		return
	}
	groups := slices.Clone(j.groups)
	slices.SortStableFunc(groups, func(a, b *formingGroup) int { return len(b.rows) - len(a.rows) })
	spec := figure.PullsSpec{ID: j.ask.ID}
	if len(groups) > mostDrawn {
		var rest []string
		for _, g := range groups[mostDrawn:] {
			rest = append(rest, g.name())
		}
		spec.Note = "In the tables alone: " + strings.Join(rest, "; ") + "."
		groups = groups[:mostDrawn]
	}
	mark := j.resultMarks(groups, &spec)
	for _, g := range groups {
		d := figure.PullGroup{Name: words.Capital(g.name())}
		for k, to := range []*[2]float64{&d.Oven, &d.Minutes} {
			to[0], to[1], _ = g.ends(j.measures[k])
		}
		d.Thinnest[0], d.Thinnest[1], _ = g.ends(j.measures[3])
		for _, i := range g.rows {
			d.Pulls = append(d.Pulls, figure.Pull{OvenC: j.measures[0].of[i], Minutes: j.measures[1].of[i], ThinnestMM: j.measures[3].of[i], Result: mark(i)})
		}
		spec.Groups = append(spec.Groups, d)
	}
	j.Figures = append(j.Figures, figure.Pulls(spec))
}

// resultMarks settles the marks of the results: what counts as good is the
// first, the most frequent others have marks of their own.
func (j *formingJob) resultMarks(groups []*formingGroup, spec *figure.PullsSpec) func(row int) int {
	n := map[string]int{}
	missing := false
	for _, g := range groups {
		for _, i := range g.rows {
			if r := j.result[i]; r != "" && !j.isGood(i) {
				n[r]++
			} else if r == "" {
				missing = true
			}
		}
	}
	spec.Results = []string{"Good"}
	names := sortedKeys(n)
	at := map[string]int{}
	room := figure.PullMarks - 1
	if missing {
		room--
	}
	pooled := len(names) > room
	for k, r := range names {
		if pooled && k >= room-1 {
			at[r] = room
			continue
		}
		at[r] = len(spec.Results)
		spec.Results = append(spec.Results, words.Capital(r))
	}
	if pooled {
		spec.Results = append(spec.Results, "Other results")
	}
	unknown := len(spec.Results)
	if missing {
		spec.Results = append(spec.Results, "Result not recorded")
	}
	return func(i int) int {
		switch {
		case j.isGood(i):
			return 0
		case j.result[i] == "":
			return unknown
		}
		return at[j.result[i]]
	}
}
