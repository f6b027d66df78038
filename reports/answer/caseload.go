package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// tally counts the sockets of one period, of one group or of all.
type tally struct {
	persons, limbs                       map[string]bool
	sockets, first, later, unknown, prep int
	check, fittings, fitted              int // fittings of `fitted` definitive sockets
}

// parts are the kinds that add up to the sockets delivered.
func (t *tally) parts() []int { return []int{t.first, t.later, t.unknown, t.prep} }

var partNames = []string{"first definitive", "later definitive", "number not known", "preparatory"}

// loadPeriod is a period with its counts.
type loadPeriod struct {
	period
	part   string // why it is not complete; empty where it is
	all    *tally
	groups []*tally
	hidden bool // the sockets of the whole period are withheld
}

// caseloadJob is an answer on what a lab made in the making.
type caseloadJob struct {
	*work
	periods []loadPeriod
	groups  []string // of `by`, in order
	undated int
}

// ageBands are the ages from which a band begins, as registries print them
// (common practice, no source).
var ageBands = []float64{0, 18, 40, 60, 80}

func ageBand(age float64) string {
	for k := len(ageBands) - 1; k >= 0; k-- {
		if age >= ageBands[k] {
			if k == len(ageBands)-1 {
				return fmt.Sprintf("%g or more", ageBands[k])
			}
			return fmt.Sprintf("%g to %g", ageBands[k], ageBands[k+1]-1)
		}
	}
	return ""
}

// caseload answers how many persons, limbs and sockets there were by period.
func caseload(w *work) error {
	j := &caseloadJob{work: w}
	days, err := w.ctx.Cohort.Placed(w.table, w.rows)
	if err != nil {
		return err
	}
	if w.ask.Dated != "" {
		c, err := w.column("dated", w.ask.Dated)
		if err != nil {
			return err
		}
		if c.Kind != table.Date {
			return w.at("dated", w.ask.Dated, notebook.CodeImpossible, "%s holds no dates", w.ask.Dated)
		}
		for k, i := range w.rows {
			days[k] = math.NaN()
			if !c.Missing[i] {
				days[k] = c.Num[i]
			}
		}
	}
	of, err := j.groupOf()
	if err != nil {
		return err
	}
	if err := j.countAll(days, of); err != nil {
		return err
	}
	j.hide()
	j.tables()
	j.printed()
	j.words()
	return nil
}

// groupOf is the group of each row; nil without `by`.
func (j *caseloadJob) groupOf() ([]string, error) {
	if j.ask.By == "" {
		return nil, nil
	}
	c, err := j.column("by", j.ask.By)
	if err != nil {
		return nil, err
	}
	age := c.Name == "age" && !c.Own
	if c.Kind != table.Text && !age {
		return nil, j.at("by", j.ask.By, notebook.CodeImpossible, "%s is no column of categories; sockets are counted by words, or by `age` in bands", j.ask.By)
	}
	out := make([]string, len(j.rows))
	seen := map[string]bool{}
	for k, i := range j.rows {
		switch {
		case c.Missing[i]:
			out[k] = notRecorded
		case age:
			out[k] = ageBand(c.Num[i])
		default:
			out[k] = c.Text[i]
		}
		seen[out[k]] = true
	}
	missing := seen[notRecorded]
	delete(seen, notRecorded)
	if age {
		for _, from := range ageBands {
			if b := ageBand(from); seen[b] {
				j.groups = append(j.groups, b)
			}
		}
	} else {
		for n := range seen {
			j.groups = append(j.groups, n)
		}
		sortGroups(j.groups)
	}
	if missing {
		j.groups = append(j.groups, notRecorded)
	}
	if len(j.groups) > maxGroups {
		return nil, j.at("by", j.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", j.ask.By, len(j.groups), maxGroups)
	}
	return out, nil
}

const notRecorded = "not recorded"

func (j *caseloadJob) countAll(days []float64, of []string) error {
	since := math.Inf(-1)
	for _, day := range []*float64{j.ctx.Front.From, j.ctx.Front.LogSince} {
		if day != nil {
			since = math.Max(since, *day)
		}
	}
	first, last := math.Inf(1), math.Inf(-1)
	for k, d := range days {
		switch {
		case math.IsNaN(d):
			j.undated++
		case d < since || d > j.ctx.Today:
			days[k] = math.NaN()
		default:
			first, last = math.Min(first, d), math.Max(last, d)
		}
	}
	if math.IsInf(first, 0) {
		return stats.ErrNoRows
	}
	if !math.IsInf(since, 0) {
		first = since
	}
	at := map[string]int{}
	for _, p := range periods(first, math.Max(last, j.ctx.Today), j.ask.Period) {
		x := loadPeriod{period: p, all: newTally()}
		var why []string
		if p.start < since {
			why = append(why, "from "+words.Date(since))
		}
		if p.end > j.ctx.Today+1 {
			why = append(why, "to "+words.Date(j.ctx.Today))
		}
		x.part = strings.Join(why, " ")
		for range j.groups {
			x.groups = append(x.groups, newTally())
		}
		at[p.name] = len(j.periods)
		j.periods = append(j.periods, x)
	}
	if len(j.periods) > 40 {
		return j.at("period", j.ask.Period, notebook.CodeImpossible, "there are %d %ss, more than can be shown; take a longer period, or `from`", len(j.periods), j.ask.Period)
	}
	group := map[string]int{}
	for g, n := range j.groups {
		group[n] = g
	}
	total := 0
	for k, i := range j.rows {
		if math.IsNaN(days[k]) {
			continue
		}
		p := &j.periods[at[periodOf(days[k], j.ask.Period).name]]
		total += j.count(p.all, i)
		if of != nil {
			j.count(p.groups[group[of[k]]], i)
		}
	}
	j.Answer.Rows = total
	if total == 0 {
		return stats.ErrNoRows
	}
	if gone := len(j.rows) - total; gone > 0 {
		j.cohortStep("counted", total, gone, "check sockets, or not dated within the periods")
	}
	return j.tooFew(total)
}

func newTally() *tally { return &tally{persons: map[string]bool{}, limbs: map[string]bool{}} }

// count adds a row to a tally and says whether it is a socket delivered.
func (j *caseloadJob) count(t *tally, i int) int {
	value := func(name string) string {
		if c, ok := j.table.Col(name); ok && c.Kind == table.Text && !c.Missing[i] {
			return c.Text[i]
		}
		return ""
	}
	num := func(name string) (float64, bool) {
		if c, ok := j.table.Col(name); ok && c.Kind == table.Number && !c.Missing[i] {
			return c.Num[i], true
		}
		return 0, false
	}
	kind := value("kind")
	if kind == "check" {
		t.check++
		return 0
	}
	t.sockets++
	t.persons[value("person")] = true
	t.limbs[value("limb")] = true
	n, known := num("sequence")
	switch {
	case kind != "definitive":
		t.prep++
	case !known:
		t.unknown++
	case n == 1:
		t.first++
	default:
		t.later++
	}
	if f, ok := num("fittings"); ok && kind == "definitive" {
		t.fittings += int(f)
		t.fitted++
	}
	return 1
}

// hide settles the periods that stand for few, and with them further ones
// until none follows from the number of all.
func (j *caseloadJob) hide() {
	var grid [][]int
	for _, p := range j.periods {
		grid = append(grid, []int{p.all.sockets})
	}
	for k, m := range maskGrid(grid, j.ctx.Front.HideBelow) {
		j.periods[k].hidden = m[0]
	}
}

// shown are the counts of persons and limbs that may be shown beside the
// sockets: a small difference between two of them is as telling as a small
// count.
func (j *caseloadJob) shown(t *tally, hidden bool) (persons, limbs bool) {
	small := func(n int) bool { return j.hiddenCount(n) }
	p, l, s := len(t.persons), len(t.limbs), t.sockets
	if hidden || small(s) {
		return false, false
	}
	persons = !small(p) && !small(s-p)
	limbs = !small(l) && !small(s-l) && !(persons && small(l-p))
	return persons, limbs
}

// partMask says which of the kinds of a period are withheld.
func (j *caseloadJob) partMask(p loadPeriod) []bool {
	out := make([]bool, 4)
	var grid [][]int
	for _, n := range p.all.parts() {
		grid = append(grid, []int{n})
	}
	for k, m := range maskGrid(grid, j.ctx.Front.HideBelow) {
		out[k] = m[0] || p.hidden
	}
	return out
}

// groupMask says which of the groups of a period are withheld.
func (j *caseloadJob) groupMask(p loadPeriod) []bool {
	out := make([]bool, len(p.groups))
	var grid [][]int
	for _, g := range p.groups {
		grid = append(grid, []int{g.sockets})
	}
	for k, m := range maskGrid(grid, j.ctx.Front.HideBelow) {
		out[k] = m[0] || p.hidden
	}
	return out
}
