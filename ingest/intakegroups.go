package ingest

import (
	"regexp"
	"slices"
	"strings"
)

// visitGroup are the columns of one of several visits on a row.
type visitGroup struct {
	key    string
	fields map[string]pick
	hits   int
}

var groupNoise = map[string]bool{"visit": true, "v": true, "appt": true, "appointment": true, "review": true, "no": true, "at": true, "on": true, "the": true, "of": true, "for": true, "fu": true, "follow": true, "up": true, "seen": true, "in": true}

// groupKey folds what a header says beside the field: "visit 2", "v2" and
// "2nd" are 2.
func groupKey(rest string) string {
	var out []string
	words := strings.Fields(rest)
	for i, w := range words {
		if i > 0 && slices.Contains([]string{"st", "nd", "rd", "th"}, w) && strings.Trim(words[i-1], "0123456789") == "" {
			continue
		}
		if !groupNoise[w] {
			out = append(out, w)
		}
	}
	return strings.Join(out, " ")
}

// deliveryWord is in the headings of what was found at delivery.
var deliveryWord = regexp.MustCompile(`\b(?:delivery|delivered|del|supply|issue|handover|fit|fitted|fitting)\b`)

var groupFields = []string{"date", "ply", "comfort", "ply_left", "comfort_left", "hours", "mass_kg", "purpose", "action", "skin_checked", "accepted", "seen_by"}

// takeGroups finds the columns of several visits on one row: "Date 1, Ply 1,
// SCS 1, Date 2, ...".
func (d *draft) takeGroups() {
	type member struct {
		g     *guessColumn
		field string
		p     float64
	}
	byKey := map[string][]member{}
	var order []string
	for _, g := range d.cols {
		if g.taken {
			continue
		}
		best, key := member{}, ""
		full := 0.0
		for _, m := range columnMatches(g.header, g.lowest) {
			if m.table != TableVisits {
				full = max(full, m.score)
				continue
			}
			if !slices.Contains(groupFields, m.field) {
				continue
			}
			field := schema[TableVisits][fieldIndex(TableVisits, m.field)]
			fit := g.fit(TableVisits, field, d.t.raw.commas)
			rest := groupKey(m.rest)
			if fit < 0.5 {
				continue
			}
			if p := 0.5*m.score + 0.5*fit; p > best.p {
				best, key = member{g, m.field, p}, rest
			}
		}
		if best.g == nil || full >= 0.99 {
			continue
		}
		if len(byKey[key]) == 0 {
			order = append(order, key)
		}
		byKey[key] = append(byKey[key], best)
	}
	// Keys that stand for visits: a date and something else under each, or
	// numbers.
	var keys, atDelivery []string
	count := map[string]int{} // field -> keys
	for _, k := range order {
		seen := map[string]bool{}
		for _, m := range byKey[k] {
			if !seen[m.field] {
				count[m.field]++
			}
			seen[m.field] = true
		}
		switch {
		case seen["date"] && len(seen) >= 2:
			keys = append(keys, k)
		case !seen["date"] && (seen["ply"] || seen["comfort"]) && deliveryWord.MatchString(k):
			atDelivery = append(atDelivery, k)
		}
	}
	if len(keys)+len(atDelivery) < 2 || len(keys) == 0 {
		return
	}
	for _, k := range append(atDelivery[:min(1, len(atDelivery))], keys...) {
		vg := &visitGroup{key: k, fields: map[string]pick{}}
		for _, m := range byKey[k] {
			if _, ok := vg.fields[m.field]; ok || count[m.field] < 2 && m.field != "date" {
				continue
			}
			m.g.taken = true
			vg.fields[m.field] = pick{m.g, min(0.95, m.p+0.1)}
			vg.hits += len(m.g.cells)
		}
		if slices.Contains(atDelivery, k) {
			d.first = vg
			continue
		}
		d.groups = append(d.groups, vg)
	}
}
