package answer

import (
	"fmt"
	"math"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// waitQuantiles are the quantiles of waits that are told.
var waitQuantiles = []float64{0.25, 0.5, 0.75, 0.9}

// wayStep is a date on the way of sockets.
type wayStep struct {
	column string
	label  string
	days   []float64 // by way; NaN where not recorded
}

// waits are those from one step to another, of one group.
type waits struct {
	from, to                      int // steps
	group                         string
	days                          []float64
	cause                         []int // 1: over
	person                        []int
	over, open, disorder, skipped int
	longOpen                      int                 // open for longer than any that is over took
	repeats                       int                 // waits of persons who have another here
	got                           *survival.WaitTimes // nil: none to describe
	withheld                      bool                // stands for few people
}

func (g *waits) sockets() int { return g.over + g.open + g.disorder + g.skipped }

// turnaroundJob is an answer on waits in the making.
type turnaroundJob struct {
	*work
	ways    []cohort.Way
	steps   []wayStep
	groups  []string // in order; "all" alone without
	of      []string // group of each way where it does not hang on the wait
	since   float64  // waits that began earlier are left out; -Inf: none
	waits   []*waits
	undated []int        // by pair: sockets without the day on which the wait begins
	early   map[int]bool // ways of which a wait began before since
	lost    int          // open ways of no known group
	ungroup int          // ways of no known group
	whole   bool         // the last pair is from the first step to the last
	pairs   [][2]int
}

// turnaround answers how long people wait at each step of making a socket.
func turnaround(w *work) error {
	j := &turnaroundJob{work: w, since: math.Inf(-1), early: map[int]bool{}}
	if w.ask.Period != "" && w.ctx.Front.ShiftDates != 0 {
		return w.at("period", w.ask.Period, codeTrueDates, "waits by %s need the days on which they began, and with shift_dates no true day is known", w.ask.Period)
	}
	ways, parts, err := w.ctx.Cohort.Ways(w.table, w.rows)
	if err != nil {
		return err
	}
	if gone := len(w.rows) - len(ways); gone > 0 {
		reason := "check sockets, which are steps on the way to another"
		if parts < gone {
			reason = "check sockets on the way to another, or sockets without a name"
		}
		w.cohortStep("sockets to be delivered", len(ways), gone, reason)
	}
	if len(ways) == 0 {
		return stats.ErrNoRows
	}
	j.ways = ways
	w.Answer.Rows = len(ways)
	if err := j.findSteps(); err != nil {
		return err
	}
	if w.ctx.Front.ShiftDates == 0 {
		for _, day := range []*float64{w.ctx.Front.From, w.ctx.Front.LogSince} {
			if day != nil {
				j.since = math.Max(j.since, *day)
			}
		}
	}
	if err := j.findGroups(); err != nil {
		return err
	}
	if err := j.measure(); err != nil {
		return err
	}
	if err := j.withholdFew(); err != nil {
		return err
	}
	j.tables()
	j.printed()
	j.reading()
	j.cautions()
	j.methods()
	return nil
}

func (w *work) cohortStep(step string, rows, excluded int, reason string) {
	w.steps = append(w.steps, cohort.Step{Step: step, Rows: rows, Excluded: excluded, Reason: reason})
}

// findSteps takes the dates asked for, or all steps of which a date is known.
func (j *turnaroundJob) findSteps() error {
	names := j.ask.Steps
	if len(names) == 0 {
		names = cohort.WaySteps()
	}
	for _, n := range names {
		s := wayStep{column: n, days: make([]float64, len(j.ways))}
		known := 0
		if n == cohort.StepCheckFitting {
			s.label = "check fitting"
			for k, x := range j.ways {
				s.days[k] = x.CheckFitting
			}
		} else {
			c, err := j.stepColumn(n)
			if err != nil {
				return err
			}
			if c == nil {
				continue
			}
			s.label = label(c)
			if l := map[string]string{cohort.StepReferred: "referral", cohort.StepOrdered: "order", cohort.StepCast: "cast", cohort.StepDelivered: "delivery"}[n]; l != "" {
				s.label = l
			}
			for k, x := range j.ways {
				s.days[k] = math.NaN()
				if !c.Missing[x.Row] {
					s.days[k] = c.Num[x.Row]
				}
				if c.Own {
					continue
				}
				switch n {
				case cohort.StepReferred:
					s.days[k] = x.Referred
				case cohort.StepOrdered:
					s.days[k] = x.Ordered
				case cohort.StepCast:
					s.days[k] = x.Cast
				}
			}
		}
		for _, d := range s.days {
			if !math.IsNaN(d) {
				known++
			}
		}
		if known > 0 || len(j.ask.Steps) > 0 {
			j.steps = append(j.steps, s)
		}
	}
	if len(j.steps) < 2 {
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-steps", Text: fmt.Sprintf("a wait runs from one date to another, and these sockets have %s", map[int]string{0: "no date of a step", 1: "dates of one step alone"}[len(j.steps)])}
	}
	for k := 1; k < len(j.steps); k++ {
		j.pairs = append(j.pairs, [2]int{k - 1, k})
	}
	if len(j.steps) > 2 {
		j.whole = true
		j.pairs = append(j.pairs, [2]int{0, len(j.steps) - 1})
	}
	return nil
}

// stepColumn is a column of dates; nil for a usual step that the log has not.
func (j *turnaroundJob) stepColumn(name string) (*table.Column, error) {
	if len(j.ask.Steps) == 0 {
		c, ok := j.table.Col(name)
		if !ok || c.Own || c.Kind != table.Date {
			return nil, nil
		}
		return c, nil
	}
	c, err := j.column("steps", name)
	if err != nil {
		return nil, err
	}
	if c.Kind != table.Date {
		return nil, j.at("steps", name, notebook.CodeImpossible, "%s holds no dates; a step is a day, such as %s", name, words.List(cohort.WaySteps()))
	}
	return c, nil
}

// findGroups settles which group each way belongs to. With a period the
// group is that of the day on which the wait begins.
func (j *turnaroundJob) findGroups() error {
	j.of = make([]string, len(j.ways))
	switch {
	case j.ask.By != "":
		c, err := j.column("by", j.ask.By)
		if err != nil {
			return err
		}
		seen := map[string]bool{}
		last := j.steps[len(j.steps)-1].days
		for k, x := range j.ways {
			if c.Missing[x.Row] {
				j.ungroup++
				if math.IsNaN(last[k]) {
					j.lost++
				}
				continue
			}
			j.of[k] = valueText(c, x.Row)
			seen[j.of[k]] = true
		}
		for n := range seen {
			j.groups = append(j.groups, n)
		}
		if len(j.groups) == 0 {
			return stats.ErrNoRows
		}
		if len(j.groups) > maxGroups {
			return j.at("by", j.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", j.ask.By, len(j.groups), maxGroups)
		}
		sortGroups(j.groups)
		if j.ungroup > 0 {
			j.Answer.Rows -= j.ungroup
			j.cohortStep("in a group", j.Answer.Rows, j.ungroup, label(c)+" not recorded")
		}
	case j.ask.Period != "":
		first, last := math.Inf(1), math.Inf(-1)
		for _, p := range j.pairs {
			for _, d := range j.steps[p[0]].days {
				if d >= j.since {
					first, last = math.Min(first, d), math.Max(last, d)
				}
			}
		}
		if math.IsInf(first, 0) {
			return stats.ErrNoRows
		}
		for _, p := range j.periods(first, last) {
			j.groups = append(j.groups, p.name)
		}
		if len(j.groups) > 40 {
			return j.at("period", j.ask.Period, notebook.CodeImpossible, "the waits began in %d %ss, more than can be told apart; take a longer period, or `from`", len(j.groups), j.ask.Period)
		}
	default:
		j.groups = []string{"all"}
		for k := range j.of {
			j.of[k] = "all"
		}
	}
	return nil
}

// measure sorts the ways of every pair of steps into waits that are over,
// open, in the wrong order and without the day on which they ended.
func (j *turnaroundJob) measure() error {
	any := false
	for _, p := range j.pairs {
		by := map[string]*waits{}
		var list []*waits
		for _, g := range j.groups {
			by[g] = &waits{from: p[0], to: p[1], group: g}
			list = append(list, by[g])
		}
		undated := 0
		for k, x := range j.ways {
			begin, end := j.steps[p[0]].days[k], j.steps[p[1]].days[k]
			group := j.of[k]
			switch {
			case math.IsNaN(begin):
				if j.ask.By == "" || group != "" {
					undated++
				}
				continue
			case begin < j.since:
				j.early[k] = true
				continue
			case j.ask.Period != "":
				group = j.periodOf(begin).name
			}
			g := by[group]
			if g == nil {
				continue // of no known group
			}
			switch {
			case end < begin:
				g.disorder++
			case !math.IsNaN(end):
				g.add(end-begin, 1, x.Person)
				g.over++
			case j.further(k, p[1]):
				g.skipped++
			case x.Open < begin:
				g.disorder++
			default:
				g.add(x.Open-begin, 0, x.Person)
				g.open++
			}
		}
		j.undated = append(j.undated, undated)
		for _, g := range list {
			if err := g.describe(j.ask.Confidence); err != nil {
				return err
			}
			if g.sockets() > 0 {
				j.waits = append(j.waits, g)
			}
			any = any || len(g.days) > 0
		}
	}
	if !any {
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-waits", Text: "no wait can be measured: no socket has the day on which a wait begins, in the period of the report, and a day on which it was over or still open"}
	}
	return nil
}
