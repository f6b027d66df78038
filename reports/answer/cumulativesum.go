package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/cohort"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// sumJob is a cumulative sum in the making.
type sumJob struct {
	*chartJob
	strata []*table.Column
	rows   []int // in order
	base   int   // how many first rows the chances are learnt from; 0: stated
	chance []float64
	events []bool
	auc    float64
	how    string
	late   int
	cut    float64

	odds  float64
	run   float64 // cases between false alarms
	pace  float64 // cases a year
	sides [2]sumSide
}

// sumSide is the sum that looks for more events, or that for fewer.
type sumSide struct {
	name    string // "more", "fewer"
	odds    float64
	limit   float64
	seen    float64 // cases until it signals when the odds have changed so
	points  []quality.SumPoint
	signals []int
}

// cumulativeSum answers, case by case, whether an event has become more or
// less frequent than its cases lead to expect.
func cumulativeSum(w *work) error {
	j := &sumJob{chartJob: &chartJob{work: w, made: w.followed(), stated: true}, auc: math.NaN()}
	if w.public() {
		return &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
			Text: fmt.Sprintf("each point of a cumulative sum is one %s, and this report hides counts below %d; use control-chart, or answer this in a report for the lab alone", one(w), w.ctx.Front.HideBelow)}
	}
	if err := j.prepare(); err != nil {
		return err
	}
	if err := j.order(); err != nil {
		return err
	}
	if err := j.expectCases(); err != nil {
		return err
	}
	if err := j.limits(); err != nil {
		return err
	}
	j.sumCautions()
	j.sumTables()
	j.sumFigure()
	j.sumRead()
	j.attendSums()
	return nil
}

func one(w *work) string  { s, _ := w.nouns(); return s }
func many(w *work) string { _, s := w.nouns(); return s }

// order takes the rows that are counted among, by date, as far as they could
// be followed.
func (j *sumJob) order() error {
	w := j.work
	for _, n := range w.ask.Strata {
		c, err := w.column("strata", n)
		if err != nil {
			return err
		}
		if c.Kind != table.Text {
			return w.at("strata", n, notebook.CodeImpossible, "strata are columns of words, but %s is %s; use adjust", n, map[table.Kind]string{table.Number: "a number", table.Date: "a date"}[c.Kind])
		}
		if err := w.knownEarly("strata", c); err != nil {
			return err
		}
		j.strata = append(j.strata, c)
	}
	rows, undated, err := j.datedRows(func(i int) bool { return j.among[i] })
	if err != nil {
		return err
	}
	if undated > 0 {
		w.caution("undated", "%s left out because the %s is not recorded.", words.Capital(w.n(undated, "row was", "rows were")), dateWords(j.dated))
	}
	j.inOrder(rows)
	begin, bounded := w.begin()
	j.cut = w.ctx.Today - j.days - j.lag
	missing := 0
	for _, i := range rows {
		switch day := j.dated.Num[i]; {
		case bounded && day < begin:
		case day > j.cut:
			j.late++
		case missingIn(j.strata, i):
			missing++
		default:
			j.rows = append(j.rows, i)
		}
	}
	if missing > 0 {
		o, many := w.nouns()
		w.caution("missing", "%s left out because %s is not recorded.", words.Capital(w.n(missing, o+" was", many+" were")), words.List(labels(j.strata)))
	}
	w.steps = append(w.steps, cohort.Step{Step: "in order of date", Rows: len(j.rows), Excluded: len(w.rows) - len(j.rows), Reason: "not counted among, not dated, or not yet followed long enough"})
	if len(j.rows) == 0 {
		return stats.ErrNoRows
	}
	return nil
}

func missingIn(cs []*table.Column, i int) bool {
	for _, c := range cs {
		if c.Missing[i] {
			return true
		}
	}
	return false
}

// expectCases sets the chance of each case.
func (j *sumJob) expectCases() error {
	w := j.work
	j.base = len(j.rows)
	if b := w.ask.BaselinePoints; b > 0 {
		if b > len(j.rows) {
			return w.at("baseline_points", "", notebook.CodeBadValue, "there are only %s, fewer than the %d that are to set what is expected", w.n(len(j.rows), one(w), many(w)), b)
		}
		j.base = b
	}
	chance := map[int]float64{}
	switch {
	case w.ask.Expected > 0:
		j.base = 0
		for _, i := range j.rows {
			chance[i] = w.ask.Expected
		}
		j.how = "a chance of " + words.Percent(w.ask.Expected, 100) + ", as the question says"
	case len(w.ask.Adjust) > 0:
		m, err := w.modelChances(j.rows, j.base, j.hit)
		if err != nil {
			return err
		}
		kept := 0
		in := map[int]bool{}
		for _, i := range m.rows {
			in[i] = true
		}
		var rows []int
		for k, i := range j.rows {
			if in[i] {
				rows = append(rows, i)
				if k < j.base {
					kept++
				}
			}
		}
		j.rows, j.base, j.auc, j.how = rows, kept, m.auc, m.how
		chance = m.chance
	default:
		j.stratumChances(chance)
	}
	w.Answer.Rows, w.HasEvents, w.Events = len(j.rows), true, 0
	inBase := 0
	for k, i := range j.rows {
		j.chance, j.events = append(j.chance, chance[i]), append(j.events, j.hit[i])
		if j.hit[i] {
			w.Events++
			if k < j.base {
				inBase++
			}
		}
	}
	if j.base > 0 && (inBase == 0 || inBase == j.base) {
		what := "none"
		if inBase > 0 {
			what = "every one"
		}
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-events", Text: fmt.Sprintf("of the %s that set what is expected %s counts, so that nothing can be held against it; write expected, a share to be held against", words.N(j.base, one(w), many(w)), what)}
	}
	return nil
}

// stratumChances are the shares of the strata among the first rows; where
// none or all of a stratum count there, or it has none there, one row of the
// overall share is added to it.
func (j *sumJob) stratumChances(chance map[int]float64) {
	hits, all := map[string]float64{}, map[string]float64{}
	var h, n float64
	for _, i := range j.rows[:j.base] {
		s := stratumOf(j.strata, i)
		all[s]++
		n++
		if j.hit[i] {
			hits[s]++
			h++
		}
	}
	for _, i := range j.rows {
		s := stratumOf(j.strata, i)
		p := hits[s] / all[s]
		if !(p > 0) || !(p < 1) {
			p = (hits[s] + h/n) / (all[s] + 1)
		}
		chance[i] = math.Min(math.Max(p, 1e-9), 1-1e-9)
	}
	j.how = "the overall share"
	if len(j.strata) > 0 {
		j.how = "the share of each stratum, by " + words.List(labels(j.strata))
	}
	if j.base < len(j.rows) {
		j.how += fmt.Sprintf(" among the first %d", j.base)
	}
}

// limits simulates the limits and works out both sums.
func (j *sumJob) limits() error {
	w := j.work
	first, last := j.dated.Num[j.rows[0]], j.dated.Num[j.rows[len(j.rows)-1]]
	j.pace = float64(len(j.rows)) / math.Max(last-first+1, 1) * table.DaysPerYear
	alarm := 5 * table.DaysPerYear
	if d := w.ask.FalseAlarm; d != nil {
		alarm = d.Days
	}
	j.run = j.pace * alarm / table.DaysPerYear
	j.odds = w.ask.OddsRatio
	for k, odds := range []float64{j.odds, 1 / j.odds} {
		s := &j.sides[k]
		s.name, s.odds = []string{"more", "fewer"}[k], odds
		var err error
		if s.limit, err = quality.SumLimit(j.chance, odds, j.run, uint64(w.ask.Seed)); err != nil {
			if errors.Is(err, quality.ErrRunLength) {
				return w.at("false_alarm", "", notebook.CodeBadValue, "at %s %s a year a false alarm in %s comes to one in %s cases, and limits are worked out for 2 to 20,000; choose another false_alarm", words.Plain(j.pace), many(w), words.At(alarm), words.Plain(j.run))
			}
			if errors.Is(err, quality.ErrFirstStep) {
				return w.at("false_alarm", "", notebook.CodeBadValue, "at %s %s a year a false alarm in %s comes to one in %s cases, and the sum for %s events leaves 0 more rarely than that, so that it has no limit; choose a longer false_alarm", words.Plain(j.pace), many(w), words.At(alarm), words.Plain(j.run), s.name)
			}
			return err
		}
		if s.seen, err = quality.SumRun(j.chance, odds, s.limit, odds, j.run, uint64(w.ask.Seed)); err != nil {
			return err
		}
		if s.points, err = quality.CumulativeSum(j.events, j.chance, odds, s.limit); err != nil {
			return err
		}
		for i, p := range s.points {
			if p.Signal {
				s.signals = append(s.signals, i)
			}
		}
	}
	return nil
}

// expectedUpTo is the number expected of the first cases.
func (j *sumJob) expectedUpTo(n int) float64 {
	sum := 0.0
	for _, p := range j.chance[:n] {
		sum += p
	}
	return sum
}

func (j *sumJob) sumCautions() {
	w := j.work
	o, many := w.nouns()
	if j.late > 0 {
		why := "not all of those days may be written down yet"
		if j.days > 0 {
			why = fmt.Sprintf("they could not yet be followed for %s", words.At(j.days))
		}
		w.caution("incomplete-periods", "Not counted: %s from %s on, since %s.", words.N(j.late, o, many), words.ISODate(j.cut+1), why)
	}
	if e := j.expectedUpTo(len(j.rows)); e < 10 {
		w.caution("few-expected", "Only %s %s expected in all: the sums rest on very few events.", words.Fixed(e, 1), plural(int(e), "event is", "events are"))
	}
	if j.base == len(j.rows) {
		w.caution("own-mean", "What is expected was learnt from the same %s, so that a slow drift is hidden by itself. baseline_points, or expected, holds them against something that came before.", many)
	}
	if !(len(j.strata) > 0 || len(w.ask.Adjust) > 0) {
		w.caution("not-adjusted", "Nothing is allowed for: harder cases in a row look like a change. strata, or adjust, expect of each case what such cases come to.")
	}
	for _, s := range j.sides {
		if s.seen > 0.5*j.run {
			w.caution("slow-to-see", "With so few events a change of the odds by %s would be seen only after about %s %s on average, half the time between false alarms or more: the sum for %s events can hardly tell.", words.Plain(s.odds), words.Plain(math.Round(s.seen)), many, s.name)
		}
	}
	if p, ok := w.table.Col("person"); ok && w.table.Name != "persons" {
		seen, rows := map[string]bool{}, 0
		for _, i := range j.rows {
			if !p.Missing[i] {
				seen[p.Text[i]] = true
				rows++
			}
		}
		if rows > len(seen) {
			w.caution("repeated-persons", "Some persons have several of the %s, which are taken as independent: false alarms may come sooner than said.", many)
		}
	}
}
