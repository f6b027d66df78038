package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/design"
	"plybook/reports/words"
)

// lifeCautions raises what the lives themselves leave in doubt.
func (w *work) lifeCautions(l *lives) {
	n := l.Len()
	if n == 0 {
		return
	}
	if l.ZeroDays > 0 {
		kept := "kept at 0 days"
		if w.takesIntervals() {
			kept = "taken as half a day, since these curves know no time of 0"
		}
		w.caution("zero-days", "%s ended on the day of delivery and %s %s.", words.Capital(w.n(l.ZeroDays, "socket", "sockets")), w.agree(l.ZeroDays, "is", "are"), kept)
	}
	open, unseen := l.openUnseen()
	if open > 0 && float64(unseen) > 0.1*float64(open) {
		w.caution("not-seen", "%s still open had no visit or other record in the last 12 months. They are followed only to their last record.", words.Capital(w.unseenShare(unseen, open)))
	}
	if persons := distinct(l.Person); persons < n && w.ask.Cluster == "" {
		w.fewClusters(persons, n, "person", "sockets")
	}
}

// fewClusters warns where few clusters stand behind the errors of n rows, or
// one, which leaves no errors at all. The variances that allow for
// clusters are sums over these, and too small where they are few (Cameron AC, Miller
// DL. J Hum Resour 2015; 50: 317-372, where few means fewer than 20 to 50).
func (w *work) fewClusters(clusters, n int, name, many string) {
	rows := w.n(n, strings.TrimSuffix(many, "s"), many)
	switch {
	case clusters == 1:
		w.caution("one-cluster", "All rows are of one %s, so that no interval can allow for it, and none that would have to is given.", name)
	case clusters < 40:
		one, all := name, name+"s"
		if name != "person" {
			one, all = "value of "+name, "values of "+name
		}
		w.caution("few-clusters", "%s %s behind these %s. Errors that allow for several %s of one %s are too small when there are fewer than 40 %s.",
			w.only(clusters, one, all), w.agree(clusters, "stands", "stand"), rows, many, one, all)
	}
}

// noErrors says why estimates stand without an interval.
func (w *work) noErrors(es []estimate) {
	for _, e := range es {
		if !e.noInterval {
			continue
		}
		for _, c := range w.Cautions {
			if c.Code == "one-cluster" {
				return
			}
		}
		w.caution("no-errors", "The rows do not tell how far a ratio may be off by chance, as when all events fall on one day: no interval is given.")
		return
	}
}

// smallCategories warns of categories of a model that few sockets or limbs
// have: robust errors of so few are far too small. subject is that of each row
// the design was built from.
func (w *work) smallCategories(d *design.Design, subject func(row int) int) {
	if w.public() {
		return
	}
	one, many := w.nouns()
	column := 0
	for k, cats := range d.Cats {
		first := column
		for column < len(d.Term) && d.Term[column] == k {
			column++
		}
		members := make([]map[int]bool, len(cats)) // the reference first
		for i := range members {
			members[i] = map[int]bool{}
		}
		for i := range d.Rows {
			if len(cats) == 0 {
				break
			}
			of := 0
			for j := first; j < column; j++ {
				if d.X[j][i] == 1 {
					of = 1 + j - first
				}
			}
			members[of][subject(d.Rows[i])] = true
		}
		for i, cat := range cats {
			if n := len(members[i]); n > 0 && n < 5 {
				w.caution("small-group", "The group %s %s has only %s: intervals of what is said of it may be far too narrow.",
					d.Columns[first].Label, w.display(cat), w.n(n, one, many))
			}
		}
	}
}

// datedWords says, for the methods sentence, from which records the day of
// the end comes, where they differ.
func (w *work) datedWords(l *lives) string {
	if len(l.Dated) < 2 || w.ask.Event.Condition != nil {
		return ""
	}
	var kinds []string
	var counts []int
	for _, d := range l.Dated {
		kinds, counts = append(kinds, d.Kind), append(counts, d.Count)
	}
	return fmt.Sprintf(" The day of the end comes from different records (%s); the day a remake was decided comes before the day the old socket is given up.", w.parts(kinds, counts))
}

// unseenShare says how many of the open sockets were not seen. A public
// audience reads the share alone: how many are open would tell, with the
// other endings, what is withheld of them.
func (w *work) unseenShare(unseen, open int) string {
	switch {
	case !w.public():
		return fmt.Sprintf("%s (%s)", w.of(unseen, open, "socket", "sockets"), words.Percent(float64(unseen)/float64(open), open))
	case w.share(unseen, open) == "hidden":
		return "some of the sockets"
	}
	return w.share(unseen, open) + " of the sockets"
}

// unseenNote says of each group how many of the sockets still open have not
// been heard of in the last 12 months: a group seen less often looks better.
func (w *work) unseenNote(l *lives, gs []group) string {
	allOpen, allUnseen := l.openUnseen()
	var parts []string
	for _, g := range gs {
		open, unseen := 0, 0
		for _, j := range g.index {
			if l.EndReason[j] == "" && l.Cause[j] == 0 {
				open++
				if l.Unseen[j] {
					unseen++
				}
			}
		}
		part := "none open"
		switch {
		case open == 0:
		case w.hiddenCount(unseen) || w.hiddenCount(open-unseen) || w.hiddenCount(open):
			part = "hidden"
		default:
			part = words.Percent(float64(unseen)/float64(open), open)
			if !w.public() {
				part = fmt.Sprintf("%s of %s (%s)", words.Fixed(float64(unseen), 0), words.Fixed(float64(open), 0), part)
			}
			if 10*unseen > open && len(gs) > 1 && 10*allUnseen <= allOpen { // else it has been said of all
				w.caution("not-seen", "In the group %s, %s still open had no visit or other record in the last 12 months. A group seen less often looks better than it is.",
					w.display(g.name), w.unseenShare(unseen, open))
			}
		}
		if len(gs) > 1 {
			part = w.display(g.name) + ", " + part
		}
		parts = append(parts, part)
	}
	return "Still in use but without a record in the last 12 months: " + strings.Join(parts, "; ") + "."
}

// openUnseen counts the lives not ended when last heard of, and those of them
// not heard of in the last 12 months.
func (l *lives) openUnseen() (open, unseen int) {
	for _, u := range l.Unseen {
		if u {
			unseen++
		}
	}
	for j, r := range l.EndReason {
		if r == "" && l.Cause[j] == 0 {
			open++
		}
	}
	return open, unseen
}
