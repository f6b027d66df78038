package answer

import (
	"fmt"
	"sort"

	"plybook/analysis/quality"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// expectRates expects of each unit the rate of all, stratum by stratum, over
// its own exposure.
func (j *funnelJob) expectRates() error {
	w := j.work
	name := map[string]string{exposureMonths: "sockets", exposureVisits: "visits"}[w.ask.Exposure]
	t, _, err := j.exposedRows(name)
	if err != nil {
		return err
	}
	unit, err := t.Lookup(w.ask.By)
	if err != nil || unit.Kind != table.Text {
		return w.at("by", w.ask.By, notebook.CodeImpossible, "the %s that make up the exposure have no %s, so that no rate of a unit can be told", name, w.ask.By)
	}
	var strata []*table.Column
	for _, n := range w.ask.Strata {
		c, err := t.Lookup(n)
		if err != nil || c.Kind != table.Text {
			return w.at("strata", n, notebook.CodeImpossible, "the %s that make up the exposure have no %s", name, n)
		}
		strata = append(strata, c)
	}
	if j.expo, err = j.exposureOf(); err != nil {
		return err
	}
	j.dated, _ = w.table.Col("date")
	if err := j.confine(); err != nil {
		return err
	}
	type cell struct {
		hits     int
		exposure float64
	}
	all, byUnit := map[string]*cell{}, map[string]map[string]*cell{}
	at := func(u, s string) (*cell, *cell) {
		if byUnit[u] == nil {
			byUnit[u] = map[string]*cell{}
			j.names = append(j.names, u)
		}
		if byUnit[u][s] == nil {
			byUnit[u][s] = &cell{}
		}
		if all[s] == nil {
			all[s] = &cell{}
		}
		return byUnit[u][s], all[s]
	}
	unknown := 0
	for k, i := range j.expo.rows {
		known := !unit.Missing[i]
		for _, c := range strata {
			known = known && !c.Missing[i]
		}
		if !known {
			unknown++
			continue
		}
		x := j.expo.share(k)
		if x <= 0 {
			continue
		}
		one, sum := at(unit.Text[i], stratumOf(strata, i))
		one.exposure += x
		sum.exposure += x
	}
	lost := 0
	events := 0
	for _, i := range j.rows {
		if !j.hit[i] {
			continue // not of the exposure
		}
		u, s := j.unit.Text[i], stratumOf(j.strata, i)
		if byUnit[u] == nil || byUnit[u][s] == nil {
			lost++
			continue
		}
		byUnit[u][s].hits++
		all[s].hits++
		events++
	}
	if lost > 0 {
		one, many := w.nouns()
		w.caution("no-exposure", "%s left out, of units or strata without any exposure.", words.Capital(w.n(lost, one+" was", many+" were")))
	}
	if events == 0 {
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-events", Text: "nothing was counted in any unit that has an exposure"}
	}
	by := map[string]*unitCount{}
	for _, n := range j.names {
		u := &unitCount{name: n}
		cells := byUnit[n]
		names := make([]string, 0, len(cells))
		for s := range cells {
			names = append(names, s)
		}
		sort.Strings(names) // sums to the same bits always
		for _, s := range names {
			c := cells[s]
			u.observed += c.hits
			u.exposure += c.exposure
			u.expected += c.exposure * float64(all[s].hits) / all[s].exposure
		}
		by[n] = u
	}
	j.sortUnits(by)
	w.Answer.Rows, w.HasEvents, w.Events = events, true, events
	if w.smallCount(events) {
		return w.tooFew(events)
	}
	small := 0
	for _, c := range all {
		if float64(c.hits) < quality.LeastOfUnit {
			small++
		}
	}
	if small > 0 && len(strata) > 0 {
		w.caution("small-strata", "%s of %d strata have fewer than %d events: what is expected there is little more than what the unit itself did.", words.Fixed(float64(small), 0), len(all), quality.LeastOfUnit)
	}
	per := map[string]string{exposureMonths: "the months of sockets in use", exposureVisits: "the visits with the skin checked"}[w.ask.Exposure]
	j.how = "the overall rate over " + per
	if len(strata) > 0 {
		j.how = fmt.Sprintf("the rate of each stratum over all units, over %s, by %s", per, words.List(labels(strata)))
	}
	if unknown > 0 {
		w.caution("missing-exposure", "%s of the exposure have no %s recorded and were left out.", words.Capital(w.n(unknown, "row", "rows")), words.List(append([]string{label(unit)}, labels(strata)...)))
	}
	return nil
}
