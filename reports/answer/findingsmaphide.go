package answer

import (
	"fmt"
	"slices"
	"sort"

	"plybook/analysis/quality"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// estimate works out shares of visits with their limits.
func (j *mapJob) estimate() error {
	for _, l := range j.levels {
		for _, t := range l.times {
			if t.checked == 0 {
				continue
			}
			of := []*placeCount{t.any}
			for _, r := range l.regions {
				if t.places[r] == nil {
					t.places[r] = newPlace()
				}
				of = append(of, t.places[r])
			}
			for _, p := range of {
				var err error
				if p.share, err = quality.ShareOfVisits(l.perPerson(t, p), j.ask.Confidence); err != nil {
					return fmt.Errorf("share of visits: %w", err)
				}
			}
		}
	}
	return nil
}

// perPerson are the visits of each person of a level.
func (l *placeLevel) perPerson(t *placeTime, p *placeCount) []quality.PersonVisits {
	out := make([]quality.PersonVisits, len(l.persons))
	for i, who := range l.persons {
		out[i] = quality.PersonVisits{With: p.persons[who], Visits: t.byPerson[who]}
	}
	return out
}

// withhold settles what a public report does not show: levels with few visits,
// regions with few visits, findings or persons and, since all findings of a
// level are told, further regions until none follows from the rest.
func (j *mapJob) withhold() error {
	if !j.public() {
		return nil
	}
	below := j.ctx.Front.HideBelow
	var gone []string
	j.Answer.Rows = 0
	for _, l := range j.levels {
		for _, t := range l.times {
			l.hidden = l.hidden || t.checked < below
		}
		if l.hidden {
			gone = append(gone, l.level)
			continue
		}
		for _, t := range l.times {
			j.Answer.Rows += t.checked
			t.any.hidden = j.hiddenCount(t.any.with) || j.hiddenCount(len(t.any.persons)) || j.hiddenCount(t.checked-t.any.with)
			counts, hide := make([][]int, len(l.regions)), make([][]bool, len(l.regions))
			line := make([]place, len(l.regions))
			for k, r := range l.regions {
				p := t.places[r]
				counts[k], line[k] = []int{p.with}, place{k, 0}
				hide[k] = []bool{j.hiddenCount(p.with) || j.hiddenCount(len(p.persons))}
				t.twice = t.twice || j.hiddenCount(p.findings-p.with)
			}
			t.twice = t.twice || j.hiddenCount(t.findings) || t.any.hidden
			for settleLine(counts, hide, line, below) {
			}
			for k, r := range l.regions {
				t.places[r].hidden = hide[k][0]
			}
		}
		l.hiddenLast()
	}
	shown := slices.DeleteFunc(slices.Clone(j.levels), func(l *placeLevel) bool { return l.hidden })
	if len(shown) == 0 {
		return &notebook.Error{Pos: j.ask.Pos, Code: "too-few-to-show",
			Text: fmt.Sprintf("this report hides counts below %d, and at no level of amputation was the skin checked at so many visits, so nothing of them is shown; ask of more visits, or answer this in a report for the lab alone", below)}
	}
	if len(gone) > 0 {
		j.caution("groups-hidden", "Left out, since this report hides counts below %d: %s.", below, words.List(gone))
	}
	j.levels = shown
	return nil
}

// hiddenLast sets the regions of which something is withheld behind the
// others, in the order of the alphabet: their order would tell of their size.
func (l *placeLevel) hiddenLast() {
	var shown, hidden []string
	for _, r := range l.regions {
		if slices.ContainsFunc(l.times, func(t *placeTime) bool { return t.places[r] != nil && t.places[r].hidden }) {
			hidden = append(hidden, r)
		} else {
			shown = append(shown, r)
		}
	}
	sort.Strings(hidden)
	l.regions = append(shown, hidden...)
}

// what is what is counted: "a finding", or one of those that keep chooses.
func (j *mapJob) what() string {
	if j.chosen {
		return "such a finding"
	}
	return "a finding"
}
