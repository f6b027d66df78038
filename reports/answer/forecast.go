package answer

import (
	"errors"
	"math"

	"plybook/analysis/forecast"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// mostAhead is how many years a count is foretold at most: beyond it the
// interval says only that nobody knows.
const mostAhead = 3

// mostSeries is how many groups are foretold side by side.
const mostSeries = 6

// foretold is one series with what is foretold of it.
type foretold struct {
	group    string
	s        *series
	counts   []float64 // of the periods used, the first and those late rows may yet join left out
	periods  []period
	fit      *forecast.Fit
	next     *forecast.Prediction
	coming   []period
	looks    map[string][]forecast.Look // by course
	withheld bool                       // a stretch shown would stand for few people
	why      string                     // why nothing is foretold of it; empty where something is
}

// forecastJob is an answer on counts to come, in the making.
type forecastJob struct {
	*work
	cycle, ahead int
	dated        *table.Column
	series       []*foretold
}

// foretell answers how many rows the coming periods will have.
func foretell(w *work) error {
	j := &forecastJob{work: w}
	j.cycle = map[string]int{"month": 12, "quarter": 4, "year": 1}[w.ask.Period]
	j.ahead = j.cycle
	if a := w.ask.Ahead; a != nil {
		j.ahead = int(math.Round(a.Days * float64(j.cycle) / table.DaysPerYear))
		switch {
		case j.ahead < 1:
			return w.at("ahead", "", notebook.CodeImpossible, "`ahead` is shorter than half a %s, which is the shortest that is foretold; choose a shorter `period` or look further", w.ask.Period)
		case j.ahead > mostAhead*j.cycle:
			return w.at("ahead", "", notebook.CodeImpossible, "counts are foretold at most %d years ahead: what lies further cannot be told from past counts", mostAhead)
		}
	}
	groups, rows, err := j.groupRows()
	if err != nil {
		return err
	}
	for k, g := range groups {
		if err := j.oneSeries(g, rows[k]); err != nil {
			return err
		}
	}
	told := false
	for _, f := range j.series {
		told = told || f.why == ""
	}
	if !told {
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-points", Text: j.series[0].why}
	}
	j.tables()
	j.figures()
	j.printed()
	j.reading()
	j.cautions()
	j.methods()
	return nil
}

// groupRows are the rows of each group of `by`; all of them without it.
func (j *forecastJob) groupRows() ([]string, [][]int, error) {
	if j.ask.By == "" {
		return []string{"all"}, [][]int{j.rows}, nil
	}
	c, err := j.column("by", j.ask.By)
	if err != nil {
		return nil, nil, err
	}
	if c.Kind != table.Text {
		return nil, nil, j.at("by", j.ask.By, notebook.CodeImpossible, "%s is no column of categories, so that it makes no groups to count", j.ask.By)
	}
	of := map[string][]int{}
	var names []string
	for _, i := range j.rows {
		name := notRecorded
		if !c.Missing[i] {
			name = c.Text[i]
		}
		if of[name] == nil && name != notRecorded {
			names = append(names, name)
		}
		of[name] = append(of[name], i)
	}
	sortGroups(names)
	if of[notRecorded] != nil {
		names = append(names, notRecorded)
	}
	if len(names) > mostSeries {
		return nil, nil, j.at("by", j.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that are foretold side by side; choose some with keep", j.ask.By, len(names), mostSeries)
	}
	rows := make([][]int, len(names))
	for k, n := range names {
		rows[k] = of[n]
	}
	if len(names) == 0 {
		return nil, nil, stats.ErrNoRows
	}
	return names, rows, nil
}

// oneSeries counts the rows of one group by period and foretells it.
func (j *forecastJob) oneSeries(group string, rows []int) error {
	f := &foretold{group: group, looks: map[string][]forecast.Look{}}
	j.series = append(j.series, f)
	part := *j.work
	part.picked.rows = rows
	chart := &chartJob{work: &part}
	if err := chart.prepare(); err != nil {
		return err
	}
	j.dated = chart.dated
	chart.hit = make([]bool, j.table.Rows())
	for i := range chart.hit {
		chart.hit[i] = true
	}
	var err error
	if f.s, err = chart.series(quality.KindC); err != nil {
		if errors.Is(err, stats.ErrNoRows) && j.ask.By != "" {
			f.why = "no row has a date"
			return nil
		}
		return err
	}
	if f.s.undated > 0 {
		j.caution("undated", "%s left out because the %s is not recorded.", words.Capital(j.n(f.s.undated, "row was", "rows were"))+j.inGroup(f), dateWords(j.dated))
	}
	first := 0
	if _, bounded := j.begin(); !bounded && len(f.s.periods) > 0 {
		first = 1 // the log may begin in the middle of it
	}
	last := max(len(f.s.periods)-f.s.provisional, first)
	f.periods, f.counts = f.s.periods[first:last], f.s.num[first:last]
	for _, y := range f.counts {
		j.Answer.Rows += int(y)
	}
	if err := j.fitSeries(f); err != nil {
		return err
	}
	// A public report shows stretches of so many periods, and no shorter one.
	if j.public() && f.why == "" {
		for _, s := range j.stretches(f) {
			f.withheld = f.withheld || j.hiddenCount(int(s.seen))
		}
		if f.withheld {
			f.why = "a stretch of it stands for few people"
		}
	}
	return nil
}

func (j *forecastJob) fitSeries(f *foretold) error {
	var err error
	n := len(f.counts)
	o := j.options(j.ask.Course)
	s := forecast.Series{Count: f.counts, Cycle: j.cycle}
	if n > 0 {
		s.First = placeInYear(f.periods[0], j.cycle)
	}
	o.Season = o.Season && n >= quality.SeasonYears*j.cycle
	if told := j.ask.Seasonal; told != nil {
		o.Season = *told && j.cycle > 1
	}
	f.fit, err = forecast.New(s, o)
	switch {
	case errors.Is(err, forecast.ErrFew):
		f.why = "there are " + words.N(n, "complete "+j.ask.Period, "complete "+j.ask.Period+"s") + j.inGroup(f) + ", and at least " + words.N(max(2*j.cycle, forecast.MinPeriods), j.ask.Period, j.ask.Period+"s") + " are needed to foretell more; until then plan with the last year's count"
		return nil
	case errors.Is(err, forecast.ErrEmpty):
		f.why = "hardly anything was counted before the last third of the time" + j.inGroup(f) + ", so that there is nothing to foretell from"
		return nil
	case errors.Is(err, stats.ErrConvergence):
		f.why = "the counts" + j.inGroup(f) + " say too little for such a model; ask with seasonal: no, or course: level"
		return nil
	case err != nil:
		return err
	}
	if f.next, err = f.fit.Predict(j.ahead, j.ask.Confidence, j.ask.Seed); err != nil {
		return err
	}
	day := f.periods[n-1].end
	for range j.ahead {
		p := j.periodOf(day)
		f.coming = append(f.coming, p)
		day = p.end
	}
	for _, course := range courses {
		back := j.options(course)
		back.Season = o.Season
		looks, err := forecast.BackTest(s, back, j.ahead, j.ask.Confidence, j.ask.Seed)
		if err != nil && course == j.ask.Course && !errors.Is(err, forecast.ErrEmpty) && !errors.Is(err, stats.ErrConvergence) {
			return err
		}
		f.looks[course] = looks
	}
	return nil
}

// courses are what a level can do: drift, or also grow or shrink steadily.
var courses = []string{"level", "trend"}

func (j *forecastJob) options(course string) forecast.Options {
	return forecast.Options{Season: j.cycle > 1, Slope: course == "trend"}
}

// placeInYear is the number of a period within its year.
func placeInYear(p period, cycle int) int {
	return (int(dayTime(p.start).Month()) - 1) * cycle / 12
}

// inGroup names the group of a series at the end of a phrase.
func (j *forecastJob) inGroup(f *foretold) string {
	if j.ask.By == "" {
		return ""
	}
	return " of " + j.groupName(f.group)
}

// pastRun is as many periods as are foretold, somewhere in the past.
type pastRun struct {
	from, to period
	seen     float64
}

func (s pastRun) name() string { return spanName(s.from, s.to) }

// spanName names a run of periods.
func spanName(from, to period) string {
	if from.name == to.name {
		return from.words()
	}
	return from.words() + " to " + to.words()
}

// stretches are the past ones that end with the series, the newest last.
func (j *forecastJob) stretches(f *foretold) []pastRun {
	var out []pastRun
	for to := len(f.counts); to-j.ahead >= 0; to -= j.ahead {
		s := pastRun{from: f.periods[to-j.ahead], to: f.periods[to-1]}
		for _, y := range f.counts[to-j.ahead : to] {
			s.seen += y
		}
		out = append([]pastRun{s}, out...)
	}
	return out
}

// missed is the mean distance between what was foretold and what came, as a
// share of what came; NaN where nothing could be compared.
func missed(looks []forecast.Look, of func(forecast.Look) float64) float64 {
	sum, n := 0.0, 0
	for _, l := range looks {
		if l.Seen > 0 {
			sum += math.Abs(of(l)-l.Seen) / l.Seen
			n++
		}
	}
	return sum / float64(n)
}

func expectedOf(l forecast.Look) float64 { return l.Expected }
func beforeOf(l forecast.Look) float64   { return l.Before }

// counted is what is counted, in words: "definitive sockets", "visits with
// purpose walk-in".
func (j *forecastJob) counted() string {
	_, many := j.nouns()
	rest, lead := j.ask.Keep, ""
	if len(rest.Any) == 0 && j.table.Name == "sockets" {
		rest.Clauses = nil
		for _, cl := range j.ask.Keep.Clauses {
			if cl.Column == "kind" && cl.Test == table.OneOf {
				lead = words.List(cl.Values) + " "
				continue
			}
			rest.Clauses = append(rest.Clauses, cl)
		}
	}
	if hasCondition(rest) {
		return lead + many + " with " + j.conditionWords(rest)
	}
	return lead + many
}
