package answer

import (
	"math"
	"slices"
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
	groups []*tally   // of `by`
	split  [][]*tally // of each of `columns`, and its groups
	hidden bool       // the sockets of the whole period are withheld
}

// caseloadJob is an answer on what a lab made in the making.
type caseloadJob struct {
	*work
	periods []loadPeriod
	by      *loadGroups   // nil without
	columns []*loadGroups // of `columns`
	undated int
}

// loadGroups are the groups that a column parts sockets into.
type loadGroups struct {
	column string
	label  string
	names  []string // in order, those not recorded last
	of     []string // by row of the job
}

// ageBands are the ages from which a band begins, as registries print them
// (common practice, no source).
var ageBands = []float64{0, 18, 40, 60, 80}

func ageBand(age float64) string {
	for k := len(ageBands) - 1; k >= 0; k-- {
		if age >= ageBands[k] {
			if k == len(ageBands)-1 {
				return words.Plain(ageBands[k]) + " or more"
			}
			return words.Plain(ageBands[k]) + " to " + words.Plain(ageBands[k+1]-1)
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
	if w.ask.By != "" {
		if j.by, err = j.groupsOf("by", w.ask.By); err != nil {
			return err
		}
	}
	for _, n := range w.ask.Columns {
		g, err := j.groupsOf("columns", n)
		if err != nil {
			return err
		}
		j.columns = append(j.columns, g)
	}
	if err := j.countAll(days); err != nil {
		return err
	}
	j.hide()
	j.tables()
	j.printed()
	j.words()
	return nil
}

// groupsOf parts the rows by a column named under a key.
func (j *caseloadJob) groupsOf(key, name string) (*loadGroups, error) {
	c, err := j.column(key, name)
	if err != nil {
		return nil, err
	}
	age := c.Name == "age" && !c.Own
	if c.Kind != table.Text && !age {
		return nil, j.at(key, name, notebook.CodeImpossible, "%s is no column of categories; sockets are counted by words, or by `age` in bands", name)
	}
	g := &loadGroups{column: name, label: j.columnLabel(name), of: make([]string, len(j.rows))}
	seen := map[string]bool{}
	for k, i := range j.rows {
		switch {
		case c.Missing[i]:
			g.of[k] = notRecorded
		case age:
			g.of[k] = ageBand(c.Num[i])
		default:
			g.of[k] = c.Text[i]
		}
		seen[g.of[k]] = true
	}
	missing := seen[notRecorded]
	delete(seen, notRecorded)
	if age {
		for _, from := range ageBands {
			if b := ageBand(from); seen[b] {
				g.names = append(g.names, b)
			}
		}
	} else {
		for n := range seen {
			g.names = append(g.names, n)
		}
		sortGroups(g.names)
	}
	if missing {
		g.names = append(g.names, notRecorded)
	}
	if len(g.names) > maxGroups {
		return nil, j.at(key, name, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", name, len(g.names), maxGroups)
	}
	return g, nil
}

const notRecorded = "not recorded"

func (j *caseloadJob) countAll(days []float64) error {
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
	for _, p := range j.work.periods(first, math.Max(last, j.ctx.Today)) {
		x := loadPeriod{period: p, all: newTally()}
		var why []string
		if p.start < since {
			why = append(why, "from "+words.Date(since))
		}
		if p.end > j.ctx.Today+1 {
			why = append(why, "to "+words.Date(j.ctx.Today))
		}
		x.part = strings.Join(why, " ")
		if j.by != nil {
			x.groups = newTallies(len(j.by.names))
		}
		for _, g := range j.columns {
			x.split = append(x.split, newTallies(len(g.names)))
		}
		at[p.name] = len(j.periods)
		j.periods = append(j.periods, x)
	}
	if len(j.periods) > 40 {
		return j.at("period", j.ask.Period, notebook.CodeImpossible, "there are %d %ss, more than can be shown; take a longer period, or `from`", len(j.periods), j.ask.Period)
	}
	total := 0
	for k, i := range j.rows {
		if math.IsNaN(days[k]) {
			continue
		}
		p := &j.periods[at[j.periodOf(days[k]).name]]
		total += j.count(p.all, i)
		if j.by != nil {
			j.count(p.groups[slices.Index(j.by.names, j.by.of[k])], i)
		}
		for c, g := range j.columns {
			j.count(p.split[c][slices.Index(g.names, g.of[k])], i)
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

func newTallies(n int) []*tally {
	out := make([]*tally, n)
	for k := range out {
		out[k] = newTally()
	}
	return out
}

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
