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

	odds   float64
	pace   float64           // cases a year
	series quality.SumSeries // the cases, as what chance alone does in them is worked out
	alarms quality.SumAlarms // chances of a signal within the series though nothing has changed
	sides  [2]sumSide
}

// mostAlarms is the chance, of either sum within the whole series, that a
// signal comes though nothing has changed, up to which a signal is said to be
// more than noise. Common practice, no source.
const mostAlarms = 0.05

// sumSide is the sum that looks for more events, or that for fewer.
type sumSide struct {
	name    string // "more", "fewer"
	odds    float64
	limit   float64
	run     float64 // cases between false alarms, on average; NaN where hardly any come
	seen    float64 // cases until it signals when the odds have changed so
	chance  float64 // of a false alarm within the series
	mute    bool    // no course of these cases could bring it to its limit
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

// stratumChances are the shares of the strata among the first rows.
func (j *sumJob) stratumChances(chance map[int]float64) {
	strata, events := j.strataOf(j.rows), make([]bool, len(j.rows))
	for k, i := range j.rows {
		events[k] = j.hit[i]
	}
	for k, p := range quality.LearntShares(events, strata, j.base) {
		chance[j.rows[k]] = p
	}
	j.series.Strata = strata
	j.how = "the overall share"
	if len(j.strata) > 0 {
		j.how = "the share of each stratum, by " + words.List(labels(j.strata))
	}
	if j.base < len(j.rows) {
		j.how += fmt.Sprintf(" among the first %d", j.base)
	}
}

// strataOf numbers the strata of rows in order of their first.
func (j *sumJob) strataOf(rows []int) []int {
	out, number := make([]int, len(rows)), map[string]int{}
	for k, i := range rows {
		s := stratumOf(j.strata, i)
		if _, ok := number[s]; !ok {
			number[s] = len(number)
		}
		out[k] = number[s]
	}
	return out
}

// limits works out the limits and both sums. Limits are those at which a
// series as long as this one signals, though nothing has changed, with a
// chance of mostAlarms; or, where the question says so, those between whose
// false alarms there is so much time on average.
func (j *sumJob) limits() error {
	w := j.work
	first, last := j.dated.Num[j.rows[0]], j.dated.Num[j.rows[len(j.rows)-1]]
	j.pace = float64(len(j.rows)) / math.Max(last-first+1, 1) * table.DaysPerYear
	j.odds = w.ask.OddsRatio
	j.series.Chance, j.series.Learnt = j.chance, j.base
	for k, odds := range []float64{j.odds, 1 / j.odds} {
		j.sides[k].name, j.sides[k].odds = []string{"more", "fewer"}[k], odds
	}
	if err := j.settleLimits(); err != nil {
		return err
	}
	limits := [2]float64{j.sides[0].limit, j.sides[1].limit}
	var err error
	if j.alarms, err = j.series.Alarms(j.odds, limits, uint64(w.ask.Seed)); err != nil {
		return err
	}
	highest := j.series.Highest(j.odds)
	for k := range j.sides {
		s := &j.sides[k]
		s.chance = []float64{j.alarms.More, j.alarms.Fewer}[k]
		s.mute = s.limit > highest[k]
		if err := j.runs(s); err != nil {
			return err
		}
		if s.points, err = quality.CumulativeSum(j.events, j.chance, s.odds, s.limit); err != nil {
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

// runs works out after how many cases a sum signals on average: by a false
// alarm, where the question does not say it, and when the odds have changed as
// it looks for.
func (j *sumJob) runs(s *sumSide) error {
	reach := math.Min(20*float64(len(j.rows)), longestAlarm)
	var err error
	if j.ask.FalseAlarm == nil {
		s.run = math.NaN()
		if s.chance > rareAlarm {
			if s.run, err = quality.SumRun(j.chance, s.odds, s.limit, 1, reach, uint64(j.ask.Seed)); err != nil {
				return err
			}
		}
	} else {
		reach = s.run
	}
	s.seen, err = quality.SumRun(j.chance, s.odds, s.limit, s.odds, reach, uint64(j.ask.Seed))
	return err
}

// rareAlarm is the chance of a false alarm within the series below which
// nobody waits for one.
const rareAlarm = 0.002

// longestAlarm bounds the number of cases that are simulated, on average,
// until a signal.
const longestAlarm = 20000

// settleLimits sets the limits of both sums, and how many cases come between
// their false alarms.
func (j *sumJob) settleLimits() error {
	w := j.work
	seed := uint64(w.ask.Seed)
	if w.ask.FalseAlarm == nil {
		limits, err := j.series.Limits(j.odds, mostAlarms, seed)
		if err != nil {
			return err
		}
		j.sides[0].limit, j.sides[1].limit = limits[0], limits[1]
		return nil
	}
	alarm := w.ask.FalseAlarm.Days
	run := j.pace * alarm / table.DaysPerYear
	for k := range j.sides {
		s := &j.sides[k]
		s.run = run
		var err error
		if s.limit, err = quality.SumLimit(j.chance, s.odds, run, seed); err != nil {
			if errors.Is(err, quality.ErrRunLength) {
				return w.at("false_alarm", "", notebook.CodeBadValue, "at %s %s a year a false alarm in %s comes to one in %s cases, and limits are worked out for 2 to 20,000; choose another false_alarm", words.Plain(j.pace), many(w), words.At(alarm), words.Plain(run))
			}
			if errors.Is(err, quality.ErrFirstStep) {
				return w.at("false_alarm", "", notebook.CodeBadValue, "at %s %s a year a false alarm in %s comes to one in %s cases, and the sum for %s events leaves 0 more rarely than that, so that it has no limit; choose a longer false_alarm", words.Plain(j.pace), many(w), words.At(alarm), words.Plain(run), s.name)
			}
			return err
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
		if s.mute {
			of := map[string]string{"more": "all of them", "fewer": "none of them"}[s.name]
			w.caution("never-signals", "The sum for %s events cannot come to its limit within these %s: %s an event would be no more than noise, since %s %s expected.", s.name, many, of, words.Fixed(j.expectedUpTo(len(j.rows)), 1), plural(int(j.expectedUpTo(len(j.rows))), "is", "are"))
			continue
		}
		if w.ask.FalseAlarm == nil && s.seen > float64(len(j.rows)) {
			w.caution("slow-to-see", "A change of the odds by %s would be seen only after about %s %s on average, more than there are: that the sum for %s events is silent says little.", words.Plain(s.odds), words.Plain(math.Round(s.seen)), many, s.name)
		}
		if s.seen > 0.5*s.run && w.ask.FalseAlarm != nil {
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
