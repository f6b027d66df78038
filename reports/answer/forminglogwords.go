package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/reports/words"
)

// reading says what came of the sheets, and how the most frequent kinds were
// pulled.
func (j *formingJob) reading() {
	var all []int
	for _, g := range j.groups {
		all = append(all, g.rows...)
	}
	known, good := j.results(all)
	var out []string
	switch {
	case !j.anyGood || known == 0 || j.few(good, known):
		out = append(out, fmt.Sprintf("%s %s pulled.", words.Capital(j.n(len(all), "sheet", "sheets")), j.agree(len(all), "was", "were")))
	default:
		_, low, high := j.exact(good, known)
		out = append(out, fmt.Sprintf("Of %s with a result, %s came out good (%s, %s %s).", words.N(known, "sheet", "sheets"), words.Fixed(float64(good), 0),
			words.PercentWithin(float64(good)/float64(known), low/100, high/100), j.confidenceWords(), words.PercentRange(low/100, high/100)))
	}
	groups := slices.Clone(j.groups)
	slices.SortStableFunc(groups, func(a, b *formingGroup) int { return len(b.rows) - len(a.rows) })
	var pulled, outside []string
	for k, g := range groups {
		if s := j.groupPhrase(g); s != "" && k < 3 {
			pulled = append(pulled, s)
		}
		if !j.hasSettings(g) {
			continue
		}
		parts := j.bySettings(g)
		n, told := len(parts["outside"]), len(parts["outside"])+len(parts["within"])
		if told > 0 && !j.few(n, told) && !j.few(told, len(g.rows)) {
			outside = append(outside, fmt.Sprintf("%s of %s of %s", words.Fixed(float64(n), 0), words.Fixed(float64(told), 0), g.name()))
		}
	}
	if len(pulled) > 0 {
		out = append(out, "In the median: "+strings.Join(pulled, "; ")+".")
	}
	if len(outside) > 0 {
		out = append(out, "Outside the range of settings that the lab entered: "+strings.Join(outside, "; ")+".")
	}
	j.Reading = strings.Join(out, " ")
}

// groupPhrase says how one kind of sheet was pulled: the medians of oven, time
// and thinnest wall; the tables have the rest.
func (j *formingJob) groupPhrase(g *formingGroup) string {
	var parts []string
	for _, x := range []struct {
		measure    int
		lead, unit string
	}{{1, "", " min"}, {0, "at ", " °C"}, {3, "thinnest wall ", " mm"}} {
		if m := j.spread(j.measures[x.measure], g.rows).median; !math.IsNaN(m) {
			parts = append(parts, x.lead+formingNumber(m)+x.unit)
		}
	}
	if len(parts) == 0 {
		return ""
	}
	pulled := strings.Replace(strings.Join(parts, ", "), ", at ", " at ", 1)
	return fmt.Sprintf("%s (%s): %s", g.name(), j.n(len(g.rows), "sheet", "sheets"), pulled)
}

// cautions raises what the sheets leave in doubt. The lines on heat, dust and
// fumes were printed when the rows were chosen.
func (j *formingJob) cautions() {
	if !j.anyGood {
		var seen []string
		n := map[string]int{}
		for _, g := range j.groups {
			for _, i := range g.rows {
				if j.result[i] != "" {
					n[j.result[i]]++
				}
			}
		}
		seen = sortedKeys(n)
		if j.public() {
			slices.Sort(seen)
		}
		switch {
		case len(seen) == 0:
			j.caution("no-result", "No sheet has a result, so nothing can be said of how many came out good.")
		default:
			j.caution("no-good-word", "No result is called %s, so no share of good sheets is given. The results are called %s; write those that count as good under `good`.",
				words.List(j.ask.Good), words.List(seen[:min(len(seen), 8)]))
		}
	}
	j.lacking()
	if j.late > 0 {
		j.caution("turned-late", "%s turned, by the log, after the time in the oven was over. When it was turned is not used.", words.Capital(j.n(j.late, "sheet was", "sheets were")))
	}
	if j.thick > 0 {
		j.caution("thicker-than-sheet", "%s a thinnest wall above the thickness of the sheet, by the log. That wall is not used.", words.Capital(j.n(j.thick, "sheet has", "sheets have")))
	}
	var few []string
	for _, g := range j.groups {
		if len(g.rows) < 10 && !j.public() {
			few = append(few, fmt.Sprintf("%s (%d)", g.name(), len(g.rows)))
		}
	}
	if len(few) > 0 {
		j.caution("few-rows", "Fewer than 10 sheets stand behind: %s. Their numbers are largely chance.", strings.Join(few, "; "))
	}
	j.again()
	if slices.ContainsFunc(j.groups, j.hasSettings) {
		j.caution("not-a-trial", "Whoever pulled a sheet chose its settings, and may have left the range for a reason: a larger model, a sheet from another batch, an oven that reads wrong. What came of sheets within and outside does not show what the settings do.")
	}
}

// lacking says what is not recorded of more than one sheet in ten.
func (j *formingJob) lacking() {
	all := 0
	for _, g := range j.groups {
		all += len(g.rows)
	}
	var parts []string
	add := func(label string, n int) {
		if 10*n > all {
			parts = append(parts, label+" "+j.cell(n))
		}
	}
	for _, m := range j.measures[:4] {
		n := 0
		for _, g := range j.groups {
			for _, i := range g.rows {
				if math.IsNaN(m.of[i]) {
					n++
				}
			}
		}
		add(map[string]string{"oven_c": "oven temperature", "minutes": "minutes in the oven", "flipped_percent": "when it was turned", "thinnest_mm": "thinnest wall"}[m.name], n)
	}
	n := 0
	for _, g := range j.groups {
		known, _ := j.results(g.rows)
		n += len(g.rows) - known
	}
	add("result", n)
	if len(parts) > 0 {
		j.caution("missing", "Of %s, these are not recorded for more than one in ten: %s. What is told of the others need not hold for these.", j.n(all, "sheet", "sheets"), strings.Join(parts, ", "))
	}
}

// again warns where many sheets were pulled for a socket that has another.
func (j *formingJob) again() {
	socket := j.builtInText("socket")
	n := map[string]int{}
	all := 0
	for _, g := range j.groups {
		for _, i := range g.rows {
			n[socket[i]]++
			all++
		}
	}
	repeats := 0
	for id, k := range n {
		if id != "" && k > 1 {
			repeats += k
		}
	}
	if 10*repeats > all {
		j.caution("pulled-again", "%s pulled for a socket that has another here. The exact intervals take sheets as independent and may be too narrow.", words.Capital(j.of(repeats, all, "sheet", "sheets"))+plural(repeats, " was", " were"))
	}
}
