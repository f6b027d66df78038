package answer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// formingMeasure is a number that is told of every sheet.
type formingMeasure struct {
	name, label, unit string
	of                []float64 // by row of the table; NaN where not known
	bounds            func(*notebook.FormingRange) *notebook.Bounds
	times             float64 // of the ends of a range, to come to the unit
	setting           bool    // chosen, rather than what came of it
}

// formingGroup is the sheets of one material and thickness.
type formingGroup struct {
	material string  // "" where not recorded
	mm       float64 // NaN where not recorded
	rows     []int
	lab      *notebook.FormingRange // nil: none entered
}

// formingJob is an answer on sheets pulled in the making.
type formingJob struct {
	*work
	measures []formingMeasure
	groups   []*formingGroup
	result   []string // by row of the table; "" where not recorded
	good     map[string]bool
	anyGood  bool // some result is one that counts as good
	late     int  // turned after the time in the oven was over
	thick    int  // thinnest wall above the sheet
}

// formingLog answers how sheets were heated and pulled and what came of it.
func formingLog(w *work) error {
	if len(w.rows) == 0 {
		return stats.ErrNoRows
	}
	j := &formingJob{work: w, good: map[string]bool{}}
	j.readMeasures()
	j.readResults()
	j.findGroups()
	if err := j.leaveOut(); err != nil {
		return err
	}
	j.fitRanges()
	j.tables()
	j.printed()
	j.draw()
	j.reading()
	j.cautions()
	j.methods()
	return nil
}

// builtIn reads a number column of the log; NaN everywhere without it.
func (w *work) builtIn(name string) []float64 {
	out := make([]float64, w.table.Rows())
	c, ok := w.table.Col(name)
	for i := range out {
		out[i] = math.NaN()
		if ok && !c.Own && c.Kind == table.Number && !c.Missing[i] {
			out[i] = c.Num[i]
		}
	}
	return out
}

// builtInText reads a text column of the log; empty where missing.
func (w *work) builtInText(name string) []string {
	out := make([]string, w.table.Rows())
	if c, ok := w.table.Col(name); ok && !c.Own && c.Kind == table.Text {
		for i := range out {
			if !c.Missing[i] {
				out[i] = strings.TrimSpace(c.Text[i])
			}
		}
	}
	return out
}

// readMeasures reads the numbers. A turn after the sheet had left the oven,
// and a wall thicker than its sheet, contradict themselves and are not used.
func (j *formingJob) readMeasures() {
	oven, minutes, flipped := j.builtIn("oven_c"), j.builtIn("minutes"), j.builtIn("flipped_at_min")
	sheet, thinnest := j.builtIn("sheet_mm"), j.builtIn("thinnest_mm")
	share, left := make([]float64, len(oven)), make([]float64, len(oven))
	used := map[int]bool{}
	for _, i := range j.rows {
		used[i] = true
	}
	for i := range oven {
		share[i], left[i] = math.NaN(), math.NaN()
		switch {
		case flipped[i] > minutes[i]:
			if used[i] {
				j.late++
			}
		case minutes[i] > 0:
			share[i] = 100 * flipped[i] / minutes[i]
		}
		switch {
		case thinnest[i] > sheet[i]:
			if used[i] {
				j.thick++
			}
			thinnest[i] = math.NaN()
		case sheet[i] > 0:
			left[i] = 100 * thinnest[i] / sheet[i]
		}
	}
	j.measures = []formingMeasure{
		{"oven_c", "oven", "°C", oven, func(g *notebook.FormingRange) *notebook.Bounds { return g.OvenC }, 1, true},
		{"minutes", "in the oven", "min", minutes, func(g *notebook.FormingRange) *notebook.Bounds { return g.Minutes }, 1, true},
		{"flipped_percent", "turned at, of the minutes", "%", share, func(g *notebook.FormingRange) *notebook.Bounds { return g.Flipped }, 100, true},
		{"thinnest_mm", "thinnest wall", "mm", thinnest, func(g *notebook.FormingRange) *notebook.Bounds { return g.Thinnest }, 1, false},
		{"thinnest_percent", "thinnest wall, of the sheet", "%", left, func(*notebook.FormingRange) *notebook.Bounds { return nil }, 1, false},
	}
}

func (j *formingJob) readResults() {
	j.result = j.builtInText("result")
	for _, g := range j.ask.Good {
		j.good[strings.ToLower(strings.TrimSpace(g))] = true
	}
	for _, i := range j.rows {
		j.anyGood = j.anyGood || j.isGood(i)
	}
}

func (j *formingJob) isGood(i int) bool {
	return j.result[i] != "" && j.good[strings.ToLower(j.result[i])]
}

// findGroups splits the sheets by material and thickness, in that order.
func (j *formingJob) findGroups() {
	material, sheet := j.builtInText("sheet_material"), j.builtIn("sheet_mm")
	type key struct {
		material string
		mm       float64 // tenths; -1: not recorded
	}
	by := map[key]*formingGroup{}
	for _, i := range j.rows {
		mm, tenths := sheet[i], -1.0
		if !math.IsNaN(mm) {
			tenths = math.Round(10 * mm)
			mm = tenths / 10
		}
		k := key{material[i], tenths}
		if by[k] == nil {
			by[k] = &formingGroup{material: k.material, mm: mm}
			j.groups = append(j.groups, by[k])
		}
		by[k].rows = append(by[k].rows, i)
	}
	slices.SortFunc(j.groups, func(a, b *formingGroup) int {
		if (a.material == "") != (b.material == "") { // those not recorded come last
			return cmp.Compare(b.material, a.material)
		}
		if c := cmp.Compare(strings.ToLower(a.material), strings.ToLower(b.material)); c != 0 {
			return c
		}
		if math.IsNaN(a.mm) != math.IsNaN(b.mm) {
			return map[bool]int{true: 1, false: -1}[math.IsNaN(a.mm)]
		}
		return cmp.Compare(a.mm, b.mm)
	})
}

// name is how a group is called in print.
func (g *formingGroup) name() string {
	material := g.material
	if material == "" {
		material = "material not recorded"
	}
	if math.IsNaN(g.mm) {
		return material + ", thickness not recorded"
	}
	return material + ", " + words.Plain(g.mm) + " mm"
}

// leaveOut drops, where small counts are hidden, the groups of few sheets.
func (j *formingJob) leaveOut() error {
	var kept []*formingGroup
	var gone []string
	rows := 0
	for _, g := range j.groups {
		if j.hiddenCount(len(g.rows)) {
			gone = append(gone, g.name())
			continue
		}
		kept = append(kept, g)
		rows += len(g.rows)
	}
	if len(kept) == 0 {
		return j.tooFew(1)
	}
	if len(gone) > 0 {
		j.caution("groups-hidden", "Left out, since this report hides counts below %d: %s.", j.ctx.Front.HideBelow, words.List(gone))
	}
	j.groups, j.Answer.Rows = kept, rows
	return nil
}

// fitRanges finds the lab's range of each group: that of the thickness before
// that of the material alone.
func (j *formingJob) fitRanges() {
	for k := range j.ask.Ranges {
		r := &j.ask.Ranges[k]
		used := false
		for _, g := range j.groups {
			if !strings.EqualFold(r.Material, g.material) || r.SheetMM != nil && !(math.Abs(*r.SheetMM-g.mm) < 0.051) {
				continue
			}
			used = true
			if g.lab == nil || g.lab.SheetMM == nil {
				g.lab = r
			}
		}
		if !used {
			what := r.Material
			if r.SheetMM != nil {
				what += ", " + words.Plain(*r.SheetMM) + " mm"
			}
			j.caution("range-unused", "The range entered for %s belongs to none of the sheets shown here.", what)
		}
	}
}

// ends are the ends of the lab's range of a measure; NaN where open.
func (g *formingGroup) ends(m formingMeasure) (lo, hi float64, given bool) {
	lo, hi = math.NaN(), math.NaN()
	if g.lab == nil {
		return lo, hi, false
	}
	b := m.bounds(g.lab)
	if b == nil {
		return lo, hi, false
	}
	if b.Low != nil {
		lo = m.times * *b.Low
	}
	if b.High != nil {
		hi = m.times * *b.High
	}
	return lo, hi, true
}

// rangeSide is where a number lies: -1 below the range, 0 within, 1 above. What
// was worked out by dividing is compared with room for its rounding.
func rangeSide(v, lo, hi float64) int {
	slack := 1e-9 * math.Max(1, math.Abs(v))
	switch {
	case v < lo-slack:
		return -1
	case v > hi+slack:
		return 1
	}
	return 0
}

// settings says how a sheet stands to the lab's range of the settings: within
// all that are given, outside one, or not known, since one is not recorded.
func (j *formingJob) settings(g *formingGroup, i int) string {
	unknown := false
	for _, m := range j.measures {
		lo, hi, given := g.ends(m)
		switch {
		case !m.setting || !given:
		case math.IsNaN(m.of[i]):
			unknown = true
		case rangeSide(m.of[i], lo, hi) != 0:
			return "outside"
		}
	}
	if unknown {
		return "not known"
	}
	return "within"
}

// hasSettings says whether the lab's range is about any setting.
func (j *formingJob) hasSettings(g *formingGroup) bool {
	for _, m := range j.measures {
		if _, _, given := g.ends(m); given && m.setting {
			return true
		}
	}
	return false
}

// results counts the sheets with a result and those that are good.
func (j *formingJob) results(rows []int) (known, good int) {
	for _, i := range rows {
		if j.result[i] != "" {
			known++
		}
		if j.isGood(i) {
			good++
		}
	}
	return known, good
}

func (j *formingJob) methods() {
	j.Methods = "Sheets were grouped by material and thickness as written in the log. Centiles are those of the sample, by linear interpolation between the order statistics. Shares of results have exact binomial intervals, sheets taken as independent."
	j.References = append(j.References, "Clopper CJ, Pearson ES. The use of confidence or fiducial limits illustrated in the case of the binomial. Biometrika 1934; 26: 404-413.",
		"Hyndman RJ, Fan Y. Sample quantiles in statistical packages. Am Stat 1996; 50: 361-365.")
	var sources []string
	for _, g := range j.groups {
		if g.lab != nil && !slices.Contains(sources, g.lab.Source) {
			sources = append(sources, g.lab.Source)
		}
	}
	if len(sources) > 0 {
		j.Methods += fmt.Sprintf(" Ranges were entered by the lab, from: %s.", strings.Join(sources, "; "))
	}
}
