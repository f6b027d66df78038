package answer

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
)

// lookedAt is how often the sockets and persons of a group were looked at
// while watched, and how long ago those still in use were.
type lookedAt struct {
	rate    survival.GroupRate // visits per socket-year
	persons survival.GroupRate // days seen per person-year
	gaps    []float64          // days from the start, or a visit, to the next visit; sorted
	without int                // sockets without any visit
	quiet   []float64          // days from the last evidence of each socket still in use to the data cut; sorted
	unseen  int                // of these, longer than a year
	// What is not told, since it stands for few: all; the number without a
	// visit; what is known of the sockets in use; how many of them are unseen.
	hidden, hiddenWithout, hiddenQuiet, hiddenUnseen bool
}

// unseenAfter is how many days without a sign of a socket are counted.
const unseenAfter = 365

// followUp answers for how long and how completely sockets were followed, and
// how often they were looked at, by group.
func followUp(w *work) error {
	l, gs, _, err := w.groupedLives(false)
	if err != nil {
		return err
	}
	if len(l.Time) == 0 {
		return stats.ErrNoRows
	}
	o := survival.CurveOptions{Level: w.ask.Confidence, Bounds: survival.ComplementaryLogLog}
	fits := make([]fitted, len(gs))
	for k, g := range gs {
		c, err := survival.KaplanMeier(g.data, o)
		if err != nil {
			return fmt.Errorf("group %s: %w", g.name, err)
		}
		fits[k] = fitted{group: g, curve: c, open: w.disclose(c.Points), shown: map[float64]bool{}}
	}
	watched, err := w.watchedTables(l, fits, o)
	if err != nil {
		return err
	}
	looked, err := w.lookedTables(l, gs)
	if err != nil {
		return err
	}
	w.Main = []string{w.ask.ID + "-watched", w.ask.ID + "-seen"}
	w.print(watched)
	w.print(w.personsPrint(gs, looked))
	w.print(w.socketsPrint(gs, looked))
	w.seenFigure(gs, looked)
	w.seenUnequally(gs, looked)
	for k, x := range looked {
		if n := x.persons.Clusters; !x.hidden && n > 1 && n < 20 {
			w.caution("few-persons-seen", "The group %s has %s: intervals from so few are too narrow.", w.display(gs[k].name), w.n(n, "person", "persons"))
			break
		}
	}
	w.followUpWords(gs, looked)
	return nil
}

// lookedTables are the tables of visits, of the gaps between them and of how
// long ago sockets in use were heard of.
func (w *work) lookedTables(l *lives, gs []group) ([]lookedAt, error) {
	visits := l.Visits()
	var counts, years, days, personYears []float64
	var of, person, ofPerson, persons []int
	out := make([]lookedAt, len(gs))
	for k, g := range gs {
		x := &out[k]
		for _, j := range g.index {
			counts, years = append(counts, float64(len(visits[j]))), append(years, (l.Time[j]-l.Entry[j])/table.DaysPerYear)
			of, person = append(of, k), append(person, l.Person[j])
			if len(visits[j]) == 0 {
				x.without++
			}
			last := l.Entry[j]
			for _, day := range visits[j] {
				if day > last {
					x.gaps = append(x.gaps, day-last)
				}
				last = day
			}
			if l.Cause[j] == 0 && l.EndReason[j] == "" {
				ago := math.Max(0, l.Cut(j)-l.Start[j]-l.Time[j])
				x.quiet = append(x.quiet, ago)
				if ago > unseenAfter {
					x.unseen++
				}
			}
		}
		slices.Sort(x.gaps)
		slices.Sort(x.quiet)
		for _, p := range personTimes(l, g.index, visits) {
			days, personYears = append(days, float64(p.seen)), append(personYears, p.days/table.DaysPerYear)
			ofPerson, persons = append(ofPerson, k), append(persons, p.person)
		}
	}
	rates, err := survival.ClusteredRates(counts, years, of, person, len(gs), w.ask.Confidence)
	if err != nil {
		return nil, err
	}
	byPerson, err := survival.ClusteredRates(days, personYears, ofPerson, persons, len(gs), w.ask.Confidence)
	if err != nil {
		return nil, err
	}
	for k, g := range gs {
		x := &out[k]
		x.rate, x.persons = rates[k], byPerson[k]
		any := func(counts ...int) (hidden bool) {
			for _, n := range counts {
				hidden = w.hiddenCount(n) || hidden
			}
			return hidden
		}
		x.hidden = any(len(g.index), int(x.rate.Events), x.rate.Clusters, int(x.persons.Events), len(x.gaps))
		x.hiddenWithout = any(x.without, len(g.index)-x.without)
		x.hiddenQuiet = any(len(x.quiet), len(g.index)-len(x.quiet))
		x.hiddenUnseen = x.hiddenQuiet || any(x.unseen, len(x.quiet)-x.unseen)
	}
	w.lookedNumbers(gs, out)
	return out, nil
}

// personTime is for how long a person was watched with any socket of a group,
// and on how many days they were seen about one.
type personTime struct {
	person, seen int
	days         float64
}

// personTimes adds up the sockets of a group by person, in the order of their
// first row: days on which two sockets were watched count once, and so do
// visits about two sockets on a day.
func personTimes(l *lives, index []int, visits [][]float64) []personTime {
	rows := map[int][]int{}
	var order []int
	for _, j := range index {
		if _, ok := rows[l.Person[j]]; !ok {
			order = append(order, l.Person[j])
		}
		rows[l.Person[j]] = append(rows[l.Person[j]], j)
	}
	out := make([]personTime, 0, len(order))
	for _, p := range order {
		js := rows[p]
		slices.SortStableFunc(js, func(a, b int) int { return cmp.Compare(l.Start[a]+l.Entry[a], l.Start[b]+l.Entry[b]) })
		x, end := personTime{person: p}, math.Inf(-1)
		seen := map[float64]bool{}
		for _, j := range js {
			from, to := l.Start[j]+l.Entry[j], l.Start[j]+l.Time[j]
			x.days += math.Max(0, to-math.Max(from, end))
			end = math.Max(end, to)
			for _, day := range visits[j] {
				seen[l.Start[j]+day] = true
			}
		}
		x.seen = len(seen)
		out = append(out, x)
	}
	return out
}

func (w *work) lookedNumbers(gs []group, out []lookedAt) {
	rate := func(years, unit string) []Column {
		return []Column{number(years, ""), number("estimate", unit), number("low", ""), number("high", ""), number("ratio", ""), number("ratio_low", ""), number("ratio_high", ""), number("p", "")}
	}
	seen := tableOf("seen", append([]Column{text("group"), count("persons"), count("days_seen")}, rate("person_years", "days seen per person-year")...)...)
	visits := tableOf("visits", append([]Column{text("group"), count("rows"), count("persons"), count("visits"), count("without_visit")}, rate("socket_years", "visits per socket-year")...)...)
	gaps := tableOf("gaps", text("group"), count("gaps"), number("lower_quartile", "days"), number("median", "days"), number("upper_quartile", "days"), number("percentile_90", "days"))
	last := tableOf("last_seen", text("group"), count("in_use"), count("over_a_year"), number("lower_quartile", "days"), number("median", "days"), number("upper_quartile", "days"))
	first := out[0].hidden
	values := func(r survival.GroupRate) []any {
		return []any{r.Watched, when(r.HasRate, r.Estimate), when(r.HasBounds, r.Low), when(r.HasBounds, r.High),
			when(r.HasRatio && !first, r.Ratio), when(r.HasRatioBounds && !first, r.RatioLow), when(r.HasRatioBounds && !first, r.RatioHigh), when(r.HasRatioBounds && !first, r.P)}
	}
	for k, g := range gs {
		x := out[k]
		if x.hidden {
			for _, t := range []*Table{seen, visits, gaps, last} {
				w.withhold(t, 1, []any{g.name})
			}
			continue
		}
		seen.row(append([]any{g.name, x.persons.Clusters, int(x.persons.Events)}, values(x.persons)...)...)
		visits.row(append([]any{g.name, len(g.index), x.rate.Clusters, int(x.rate.Events), x.without}, values(x.rate)...)...)
		if x.hiddenWithout {
			w.drop(visits, "without_visit")
		}
		some := len(x.gaps) > 0
		gaps.row(g.name, len(x.gaps), when(some, quantileOf(x.gaps, 0.25)), when(some, quantileOf(x.gaps, 0.5)), when(some, quantileOf(x.gaps, 0.75)), when(some, quantileOf(x.gaps, 0.9)))
		if x.hiddenQuiet {
			w.withhold(last, 1, []any{g.name})
			continue
		}
		some = len(x.quiet) > 0
		last.row(g.name, len(x.quiet), x.unseen, when(some, quantileOf(x.quiet, 0.25)), when(some, quantileOf(x.quiet, 0.5)), when(some, quantileOf(x.quiet, 0.75)))
		if x.hiddenUnseen {
			w.drop(last, "over_a_year")
		}
	}
	for _, t := range []*Table{seen, visits, gaps, last} {
		w.addTable(t)
	}
}

// quantileOf is a quantile of sorted values by linear interpolation between
// order statistics (type 7 of Hyndman and Fan); NaN of none.
func quantileOf(sorted []float64, p float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	at := p * float64(n-1)
	i := int(at)
	if i+1 >= n {
		return sorted[n-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
