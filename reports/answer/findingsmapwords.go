package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/quality"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// read is the reading: where most was found, at the level seen most.
func (j *mapJob) read() {
	var parts []string
	for k, l := range j.levels {
		if k == 2 {
			parts = append(parts, "The table gives the other levels.")
			break
		}
		parts = append(parts, j.readLevel(l))
	}
	j.Reading = strings.Join(parts, " ")
	for _, m := range j.followed() {
		if j.Since == nil {
			j.Since = map[int]string{}
		}
		if j.change == nil || m.On != *j.change {
			j.Since[m.Pos.Line] = "not the change that is measured"
			continue
		}
		var told []string
		for _, l := range j.levels {
			b, s := l.times[0], l.times[1]
			if b.any.share == nil || s.any.share == nil || b.any.hidden || s.any.hidden {
				continue
			}
			told = append(told, fmt.Sprintf("%s: %s at %s of 100 visits, before %s", l.level, j.what(), rate100(s.any.share), rate100(b.any.share)))
		}
		if len(told) > 2 {
			told = told[:2]
		}
		j.Since[m.Pos.Line] = "too few to say"
		if len(told) > 0 {
			j.Since[m.Pos.Line] = strings.Join(told, "; ")
		}
	}
}

func (j *mapJob) readLevel(l *placeLevel) string {
	if j.change != nil {
		return j.readChange(l)
	}
	t := l.times[0]
	if t.checked == 0 {
		return fmt.Sprintf("%s: at none of %s was the skin checked.", words.Capital(l.level), j.n(t.visits, "visit", "visits"))
	}
	where := fmt.Sprintf("%s: at %s with the skin checked (%s)", words.Capital(l.level), j.n(t.checked, "visit", "visits"), j.n(len(t.byPerson), "person", "persons"))
	switch {
	case t.any.with == 0:
		return where + fmt.Sprintf(" there was none with %s; with so many visits up to %s per 100 could have one.", j.what(), words.Rate(100*t.any.share.High, 0, 100*t.any.share.High))
	case t.any.hidden:
		return where + " so little was found that its number is not given."
	}
	var top []string
	for _, r := range l.regions {
		p := t.places[r]
		if p.hidden || p.with == 0 || r == "" || len(top) == 3 {
			continue
		}
		top = append(top, fmt.Sprintf("%s %s (%s)", regionName(r), within100(p.share), limits100(p.share)))
	}
	text := where + fmt.Sprintf(" there was %s at %s, %s per 100 (%s %s).", j.what(), j.n(t.any.with, "visit", "visits"), within100(t.any.share), j.confidenceWords(), limits100(t.any.share))
	if len(top) > 0 {
		text += fmt.Sprintf(" Per 100 visits: %s.", words.List(top))
	}
	return text
}

func (j *mapJob) readChange(l *placeLevel) string {
	b, s := l.times[0], l.times[1]
	name := words.Capital(l.level)
	if b.checked == 0 || s.checked == 0 {
		return fmt.Sprintf("%s: the skin was checked at %s before %s and at %s since, so nothing is compared.", name, j.n(b.checked, "visit", "visits"), words.Date(*j.change), j.n(s.checked, "visit", "visits"))
	}
	text := fmt.Sprintf("%s: the skin was checked at %s before %s and at %s since.", name, j.n(b.checked, "visit", "visits"), words.Date(*j.change), j.n(s.checked, "visit", "visits"))
	if !b.any.hidden && !s.any.hidden {
		text += fmt.Sprintf(" Visits with %s went from %s to %s per 100.", j.what(), rate100(b.any.share), rate100(s.any.share))
	}
	told := 0
	for _, c := range j.changesOf(l) {
		if c.region == "" || told == 2 {
			continue
		}
		told++
		text += fmt.Sprintf(" %s: %s before, %s since per 100", words.Capital(c.region), rate100(c.change.Before), rate100(c.change.Since))
		switch {
		case math.IsNaN(c.change.Low):
			text += "."
		case c.change.Low <= 0 && c.change.High >= 0:
			text += fmt.Sprintf("; the difference (%s, %s %s) is no more than chance could give.", words.Signed(100*c.change.Difference, 100*c.change.Low, 100*c.change.High), j.confidenceWords(), words.Interval(100*c.change.Low, 100*c.change.High))
		default:
			text += fmt.Sprintf("; a difference of %s (%s %s).", words.Signed(100*c.change.Difference, 100*c.change.Low, 100*c.change.High), j.confidenceWords(), words.Interval(100*c.change.Low, 100*c.change.High))
		}
	}
	return text
}

// fewFindings is how many visits with a finding a map should rest on at
// least; common practice, no source.
const fewFindings = 20

func (j *mapJob) warn() {
	visits, checked := 0, 0
	persons := map[string]bool{}
	var few, off []string
	compared, found, offDrawing := 0, 0, 0
	for _, l := range j.levels {
		_, drawn := figure.LimbDrawn(l.level)
		for k, t := range l.times {
			visits, checked = visits+t.visits, checked+t.checked
			for p := range t.byPerson {
				persons[p] = true
			}
			if t.any.with > 0 && t.any.with < fewFindings {
				name := l.level
				if j.change != nil {
					name += ", " + j.names[k]
				}
				few = append(few, fmt.Sprintf("%s (%s)", name, j.n(t.any.with, "visit", "visits")))
			}
			for r, p := range t.places {
				found += p.with
				if drawn && !onDrawing(l.level, r) {
					offDrawing += p.with
					off = append(off, regionName(r))
				}
			}
		}
		for _, c := range j.changesOf(l) {
			if !math.IsNaN(c.change.Low) {
				compared++
			}
		}
	}
	if gone := visits - checked; 10*gone > visits {
		j.caution("not-looked-at", "At %s nobody is recorded as having looked at the skin, and these count nowhere. If the skin is looked at above all where trouble is suspected, the rates are too high.", j.of(gone, visits, "visit", "visits"))
	}
	j.seenMoreOften()
	if len(few) > 0 {
		j.caution("few-findings", "Few visits with a finding stand behind %s: the order of the regions is largely chance.", words.List(few))
	}
	if len(persons) > 1 && len(persons) < 40 {
		j.caution("few-clusters", "%s %s behind these visits. Limits that allow for several visits of one person are rough when there are fewer than 40 persons.", j.only(len(persons), "person", "persons"), j.agree(len(persons), "stands", "stand"))
	}
	if len(persons) == 1 {
		j.caution("one-cluster", "All visits are of one person, so that no interval can allow for it, and none that would have to is given.")
	}
	if 10*offDrawing > found {
		sort.Strings(off)
		j.caution("off-drawing", "More than one finding in ten has no place on the drawing (%s). Name the region more closely in the log, so that the map shows it.", words.List(compact(off)))
	}
	if compared > 2 {
		j.caution("many-comparisons", "%d regions are compared at once: one in twenty would lie outside its interval by chance alone.", compared)
	}
	if j.change != nil {
		for k, years := range j.years {
			if whole := math.Round(years); math.Abs(years-whole) > 0.1 || whole == 0 {
				j.caution("seasons", "The time %s the change is not whole years (%s), so that seasons weigh differently on the two sides.", j.names[k], words.Span(years*365.25))
				break
			}
		}
	}
}

// seenMoreOften warns where few persons make up many of the visits and the
// rate is another when every person counts alike.
func (j *mapJob) seenMoreOften() {
	visits, with := map[string]int{}, map[string]int{}
	total, found := 0, 0
	for _, l := range j.levels {
		for _, t := range l.times {
			for p, n := range t.byPerson {
				visits[p] += n
				total += n
			}
			for p, n := range t.any.persons {
				with[p] += n
				found += n
			}
		}
	}
	if len(visits) < 10 || j.hiddenCount(found) {
		return
	}
	var ns []int
	alike := 0.0
	names := make([]string, 0, len(visits))
	for p, n := range visits {
		ns, names = append(ns, n), append(names, p)
	}
	sort.Strings(names) // sums in one order
	for _, p := range names {
		alike += float64(with[p]) / float64(visits[p])
	}
	alike /= float64(len(visits))
	sort.Sort(sort.Reverse(sort.IntSlice(ns)))
	tenth := (len(ns) + 9) / 10
	most := 0
	for _, n := range ns[:tenth] {
		most += n
	}
	rate := float64(found) / float64(total)
	if found == 0 || words.Fixed(100*alike, 1) == words.Fixed(100*rate, 1) {
		return // the same for everyone
	}
	if float64(most) <= 0.25*float64(total) && math.Abs(alike-rate) <= 0.2*rate {
		return
	}
	text := fmt.Sprintf("Persons are not seen equally often: the tenth of them seen most stand behind %s of the visits with the skin checked, and whoever has trouble comes more often and is looked at more.", words.Percent(float64(most)/float64(total), 10))
	text += fmt.Sprintf(" These are rates of visits, not of persons; with every person counting alike, %s anywhere would stand at %s per 100 in place of %s.", j.what(), words.Fixed(100*alike, 1), words.Fixed(100*rate, 1))
	j.caution("seen-more-often", "%s", text)
}

func (j *mapJob) methods() {
	m := "Visits with a finding were counted by region among the visits at which the skin was recorded as checked or anything was found; a visit counts once for each region, and rows that say that nothing was found count as a look alone. Rates are per 100 such visits. Their limits allow for several visits of one person: those of Clopper and Pearson at the effective number of visits (Korn and Graubard); where none or all of the visits had it, or no person was seen twice, visits were taken as independent."
	if j.change != nil {
		m += fmt.Sprintf(" Visits before %s were compared with those since, with limits of the difference made from those of the two rates and their correlation (Zou and Donner).", words.Date(*j.change))
		j.References = append(j.References, "Zou GY, Donner A. Construction of confidence limits about effect measures: a general approach. Statistics in Medicine 2008; 27: 1693-1702.")
	}
	m += " Regions over bone and over soft tissue, and those that bear pressure or do not, are those of common teaching; limbs of both sides were put on one."
	j.Methods = m
	j.References = append(j.References,
		"Korn EL, Graubard BI. Confidence intervals for proportions with small expected number of positive counts estimated from survey data. Survey Methodology 1998; 24: 193-201.",
		"Clopper CJ, Pearson ES. The use of confidence or fiducial limits illustrated in the case of the binomial. Biometrika 1934; 26: 404-413.")
}

// rate100 prints a rate per 100 visits.
func rate100(s *quality.VisitShare) string {
	if s == nil {
		return "–"
	}
	return words.Fixed(100*s.Estimate, 1)
}

// within100 prints a rate per 100 visits beside its limits.
func within100(s *quality.VisitShare) string {
	if s == nil || !s.HasBounds {
		return rate100(s)
	}
	return words.Rate(100*s.Estimate, 100*s.Low, 100*s.High)
}

// limits100 prints the limits of a rate per 100 visits.
func limits100(s *quality.VisitShare) string {
	if s == nil || !s.HasBounds {
		return "–"
	}
	return words.RateRange(100*s.Low, 100*s.High)
}
