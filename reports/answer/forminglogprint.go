package answer

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/describe"
	"plybook/analysis/stats"
	"plybook/reports/document"
	"plybook/reports/words"
)

// spreadOf are the centiles of a measure of a group.
type spreadOf struct {
	n                                     int
	least, lower, median, upper, greatest float64 // NaN where not told
}

// spread sorts the values of a group. For the public no value is one sheet's:
// neither the ends nor a centile with fewer than five sheets on one side.
func (j *formingJob) spread(m formingMeasure, rows []int) spreadOf {
	var x []float64
	for _, i := range rows {
		if !math.IsNaN(m.of[i]) {
			x = append(x, m.of[i])
		}
	}
	nan := math.NaN()
	s := spreadOf{len(x), nan, nan, nan, nan, nan}
	if len(x) == 0 {
		return s
	}
	sort.Float64s(x)
	at := func(p float64) float64 {
		if j.public() && float64(len(x))*math.Min(p, 1-p) < 5 {
			return nan
		}
		return describe.Quantile(x, p)
	}
	s.least, s.lower, s.median, s.upper, s.greatest = at(0), at(0.25), at(0.5), at(0.75), at(1)
	return s
}

// sides counts the values of a group below, within and above the lab's range.
func sides(m formingMeasure, rows []int, lo, hi float64) (n [3]int) {
	for _, i := range rows {
		if !math.IsNaN(m.of[i]) {
			n[1+rangeSide(m.of[i], lo, hi)]++
		}
	}
	return n
}

// few says whether a part of a whole may not be shown: either the part or
// the rest stands for few.
func (w *work) few(part, whole int) bool { return w.hiddenCount(part) || w.hiddenCount(whole-part) }

func (j *formingJob) tables() {
	material := func(g *formingGroup) (any, any) { return orNil(g.material), finite(g.mm) }
	rows := tableOf("rows", text("material"), number("sheet_mm", "mm"), count("sheets"), count("results"), count("good"), number("good_percent", "%"), number("low", "%"), number("high", "%"))
	spreads := tableOf("measures", text("material"), number("sheet_mm", "mm"), text("measure"), text("unit"), count("recorded"), number("median", ""), number("lower_quartile", ""), number("upper_quartile", ""),
		number("minimum", ""), number("maximum", ""), number("range_low", ""), number("range_high", ""), count("below"), count("within"), count("above"))
	results := tableOf("results", text("material"), number("sheet_mm", "mm"), text("result"), count("count"), number("percent", "%"), number("low", "%"), number("high", "%"))
	ranges := tableOf("ranges", text("material"), number("sheet_mm", "mm"), text("settings"), count("sheets"), count("results"), count("good"), number("good_percent", "%"), number("low", "%"), number("high", "%"), text("source"))
	for _, g := range j.groups {
		name, mm := material(g)
		known, good := j.results(g.rows)
		share, low, high := j.exact(good, known)
		rows.row(name, mm, len(g.rows), known, when(j.anyGood, float64(good)), share, low, high)
		if j.few(known, len(g.rows)) {
			j.drop(rows, "results")
		}
		if j.few(good, known) || j.few(known, len(g.rows)) {
			j.drop(rows, "good", "good_percent", "low", "high")
		}
		for _, m := range j.measures {
			s := j.spread(m, g.rows)
			lo, hi, given := g.ends(m)
			n := [3]int{}
			if given {
				n = sides(m, g.rows, lo, hi)
			}
			spreads.row(name, mm, m.name, m.unit, s.n, s.median, s.lower, s.upper, s.least, s.greatest, lo, hi,
				when(given, float64(n[0])), when(given, float64(n[1])), when(given, float64(n[2])))
			if j.few(s.n, len(g.rows)) {
				j.drop(spreads, "recorded")
			}
			for k, hide := range maskGrid([][]int{{n[0]}, {n[1]}, {n[2]}}, j.ctx.Front.HideBelow) {
				if hide[0] {
					j.drop(spreads, []string{"below", "within", "above"}[k])
				}
			}
		}
		mask := j.resultMask(g)
		for k, r := range j.resultsOf(g) {
			share, low, high := j.percentOfResults(r, known)
			results.row(name, mm, r.result, r.n, share, low, high)
			if mask[k] {
				j.drop(results, "count", "percent", "low", "high")
			}
		}
		if !j.hasSettings(g) {
			continue
		}
		parts := j.bySettings(g)
		hide := maskGrid([][]int{{len(parts["within"])}, {len(parts["outside"])}, {len(parts["not known"])}}, j.ctx.Front.HideBelow)
		for k, s := range settingWords {
			known, good := j.results(parts[s])
			share, low, high := j.exact(good, known)
			ranges.row(name, mm, s, len(parts[s]), known, when(j.anyGood, float64(good)), share, low, high, g.lab.Source)
			if hide[k][0] {
				j.drop(ranges, "sheets", "results", "good", "good_percent", "low", "high")
			} else if j.few(good, known) || j.few(known, len(parts[s])) {
				j.drop(ranges, "results", "good", "good_percent", "low", "high")
			}
		}
	}
	for _, t := range []*Table{rows, spreads, results, ranges} {
		j.addTable(t)
	}
}

// settingWords are the ways in which a sheet's settings stand to the range.
var settingWords = []string{"within", "outside", "not known"}

func (j *formingJob) bySettings(g *formingGroup) map[string][]int {
	out := map[string][]int{}
	for _, i := range g.rows {
		s := j.settings(g, i)
		out[s] = append(out[s], i)
	}
	return out
}

// exact is the share of good ones in percent with its exact interval; NaN
// where no word counts as good or no result is known.
func (j *formingJob) exact(good, known int) (share, low, high float64) {
	if !j.anyGood {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return exactPercent(good, known, j.ask.Confidence)
}

func exactPercent(k, n int, level float64) (share, low, high float64) {
	if n == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	low, high = stats.ExactShare(float64(k), float64(n), level)
	return 100 * float64(k) / float64(n), 100 * low, 100 * high
}

// percentOfResults is a result's share of those known; NaN of those that are
// not.
func (j *formingJob) percentOfResults(r resultCount, known int) (share, low, high float64) {
	if !r.known {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return exactPercent(r.n, known, j.ask.Confidence)
}

// resultCount is how many sheets of a group came to one result.
type resultCount struct {
	result string // "not recorded" last
	n      int
	known  bool
}

// resultsOf counts the results of a group: good ones first, the others by
// number, those not recorded last.
func (j *formingJob) resultsOf(g *formingGroup) []resultCount {
	n := map[string]int{}
	good := map[string]bool{}
	missing := 0
	for _, i := range g.rows {
		if r := j.result[i]; r == "" {
			missing++
		} else {
			n[r]++
			good[r] = j.isGood(i)
		}
	}
	names := sortedKeys(n)
	slices.SortStableFunc(names, func(a, b string) int {
		if good[a] != good[b] {
			return map[bool]int{true: -1, false: 1}[good[a]]
		}
		return 0
	})
	var out []resultCount
	for _, r := range names {
		out = append(out, resultCount{r, n[r], true})
	}
	if missing > 0 {
		out = append(out, resultCount{"not recorded", missing, false})
	}
	return out
}

// resultMask says which results of a group are withheld: their sum is shown.
func (j *formingJob) resultMask(g *formingGroup) []bool {
	var grid [][]int
	for _, r := range j.resultsOf(g) {
		grid = append(grid, []int{r.n})
	}
	out := make([]bool, len(grid))
	for k, hide := range maskGrid(grid, j.ctx.Front.HideBelow) {
		out[k] = hide[0]
	}
	return out
}

// printed prints the spread of each measure, what came of the sheets and, where
// the lab entered ranges, what came of those within and outside.
func (j *formingJob) printed() {
	ranged := slices.ContainsFunc(j.groups, func(g *formingGroup) bool { return g.lab != nil })
	right := func(head string) document.TableColumn { return document.TableColumn{Head: head, Align: document.Right} }
	t := document.Table{ID: j.ask.ID + "-measures", Caption: "Sheets pulled: settings and thinnest wall", Columns: []document.TableColumn{{Head: "Sheet", Wide: true}, {Head: "What"}, right("Recorded"), right("Median"), right("Quartiles"), right("Range")}}
	if ranged {
		t.Columns = append(t.Columns, right("The lab's range"), right("Outside"))
	}
	for _, g := range j.groups {
		head := words.Capital(g.name()) + " (" + j.n(len(g.rows), "sheet", "sheets") + ")"
		for _, m := range j.measures {
			s := j.spread(m, g.rows)
			recorded := j.cell(s.n)
			if j.few(s.n, len(g.rows)) {
				recorded = j.hiddenCell(s.n)
			}
			row := []string{head, words.Capital(m.label) + " (" + m.unit + ")", recorded, formingNumber(s.median), fromTo(s.lower, s.upper), fromTo(s.least, s.greatest)}
			head = ""
			if ranged {
				lo, hi, given := g.ends(m)
				range2, outside := "", ""
				if given {
					range2 = fromTo(lo, hi)
					n := sides(m, g.rows, lo, hi)
					if outside = j.cell(n[0] + n[2]); j.few(n[0]+n[2], s.n) {
						outside = j.hiddenCell(n[0] + n[2])
					}
				}
				row = append(row, range2, outside)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if ranged {
		t.Notes = append(t.Notes, j.sources()...)
	} else {
		t.Notes = append(t.Notes, "The lab entered no range for these sheets, and none is built in.")
	}
	if j.public() {
		t.Notes = append(t.Notes, "Neither the least and the greatest number is given, nor a centile with fewer than five sheets on one side of it.")
	}
	j.print(t)
	j.printResults()
	j.printRanges()
}

// sources are the lines beneath the table that say where ranges come from.
func (j *formingJob) sources() []string {
	var out []string
	for _, g := range j.groups {
		if g.lab != nil {
			out = append(out, fmt.Sprintf("Range of %s: %s.", g.name(), strings.TrimSuffix(g.lab.Source, ".")))
		}
	}
	return append(out, "Ranges are the lab's own, as it entered them; none is built in.")
}

func (j *formingJob) printResults() {
	level := percentOf(j.ask.Confidence)
	t := document.Table{ID: j.ask.ID + "-results", Caption: "What came of the sheets", Columns: []document.TableColumn{{Head: "Sheet", Wide: true}, {Head: "Result"},
		{Head: "Sheets", Align: document.Right}, {Head: "Share", Align: document.Right}, {Head: level + " interval", Align: document.Right}}}
	for _, g := range j.groups {
		head := words.Capital(g.name())
		known, _ := j.results(g.rows)
		mask := j.resultMask(g)
		for k, r := range j.resultsOf(g) {
			row := []string{head, words.Capital(r.result), j.cell(r.n), "", ""}
			head = ""
			if mask[k] {
				row[2], row[3], row[4] = j.hiddenCell(r.n), "hidden", "hidden"
			} else if r.known {
				_, low, high := exactPercent(r.n, known, j.ask.Confidence)
				row[3], row[4] = words.PercentWithin(float64(r.n)/float64(known), low/100, high/100), words.PercentRange(low/100, high/100)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	t.Notes = append(t.Notes, "Shares are of the sheets with a result.")
	j.print(t)
}

// printRanges prints the results of sheets within the lab's settings and
// outside.
func (j *formingJob) printRanges() {
	level := percentOf(j.ask.Confidence)
	t := document.Table{ID: j.ask.ID + "-ranges", Caption: "Good results within and outside the lab's range of settings", Columns: []document.TableColumn{{Head: "Sheet", Wide: true}, {Head: "Settings"},
		{Head: "Sheets", Align: document.Right}, {Head: "Good", Align: document.Right}, {Head: level + " interval", Align: document.Right}}}
	for _, g := range j.groups {
		if !j.hasSettings(g) {
			continue
		}
		head := words.Capital(g.name())
		parts := j.bySettings(g)
		hide := maskGrid([][]int{{len(parts["within"])}, {len(parts["outside"])}, {len(parts["not known"])}}, j.ctx.Front.HideBelow)
		for k, s := range settingWords {
			if len(parts[s]) == 0 {
				continue
			}
			known, good := j.results(parts[s])
			row := []string{head, words.Capital(s), j.cell(len(parts[s])), "", ""}
			head = ""
			switch {
			case hide[k][0]:
				row[2], row[3], row[4] = j.hiddenCell(len(parts[s])), "hidden", "hidden"
			case j.few(good, known) || j.few(known, len(parts[s])):
				row[3], row[4] = "hidden", "hidden"
			case j.anyGood && known > 0:
				_, low, high := j.exact(good, known)
				row[3] = fmt.Sprintf("%s of %s, %s", words.Fixed(float64(good), 0), words.Fixed(float64(known), 0), words.PercentWithin(float64(good)/float64(known), low/100, high/100))
				row[4] = words.PercentRange(low/100, high/100)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if len(t.Rows) > 0 {
		note := "Outside: at least one of temperature, minutes and turning."
		if slices.ContainsFunc(t.Rows, func(r []string) bool { return r[1] == "Not known" }) {
			note += " Not known: one that the range is about is not recorded."
		}
		t.Notes = append(t.Notes, note)
		j.print(t)
	}
}

// formingNumber prints a number, a dash where there is none.
func formingNumber(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	if math.Abs(x-math.Round(x)) < 1e-9 { // 55, though 100 times 0.55 is a little more
		return words.Fixed(x, 0)
	}
	return words.Fixed(x, 1)
}

// fromTo prints a range of which a side may be open.
func fromTo(lo, hi float64) string {
	switch {
	case math.IsNaN(lo) && math.IsNaN(hi):
		return "–"
	case math.IsNaN(lo):
		return "up to " + formingNumber(hi)
	case math.IsNaN(hi):
		return "from " + formingNumber(lo)
	}
	return formingNumber(lo) + " to " + formingNumber(hi)
}

// mostDrawn is how many kinds of sheet are drawn; the others are in the
// tables.
const mostDrawn = 4
