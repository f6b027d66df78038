package answer

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// series is a chart in the making: one value per complete period, or per gap
// between events.
type series struct {
	// periods are the periods, or the gaps: a gap starts on the day of the
	// event before it, ends on that of its own, and is named by the latter.
	periods          []period
	num, den, values []float64
	phases           []int    // indices of the periods that start a phase
	pending          []string // periods not complete and so not drawn
	provisional      int      // periods at the end whose rows may not all be written down
	rows             []int    // of the table: those placed in time
	undated          int
	used, events     int

	open     float64 // gaps: cases, or days, since the last event
	openFrom float64 // day of the last event
	hasOpen  bool
	tied     int // gaps: events on a day with other cases
}

// takes says whether a row is of a chart of a kind.
func (j *chartJob) takes(kind quality.Kind) func(i int) bool {
	switch {
	case j.y != nil:
		return func(i int) bool { return j.among[i] && !j.y.Missing[i] }
	case kind == quality.KindXmR || kind == quality.KindC || kind == quality.KindT:
		return func(i int) bool { return j.hit[i] }
	case kind == quality.KindU && (j.ask.Exposure != "" && j.expo.column == nil):
		return func(i int) bool { return j.hit[i] }
	case kind == quality.KindU:
		return func(i int) bool { return j.hit[i] || j.among[i] }
	}
	return func(i int) bool { return j.among[i] }
}

// series counts the rows of each complete period.
func (j *chartJob) series(kind quality.Kind) (*series, error) {
	w, s := j.work, &series{}
	var err error
	if s.rows, s.undated, err = j.datedRows(j.takes(kind)); err != nil {
		return nil, err
	}
	first, last, err := j.reach(s.rows, kind)
	if err != nil {
		return nil, err
	}
	begin, bounded := w.begin()
	if !bounded {
		begin = math.Inf(-1)
	}
	at := map[float64]int{}
	for _, p := range w.periods(first, last) {
		switch {
		case p.end-1+j.days > w.ctx.Today:
			s.pending = append(s.pending, p.name)
			continue
		case p.end <= begin:
			continue // before the period of the report
		case p.start < begin:
			s.pending = append(s.pending, p.name+" (begun before the period of the report)")
			continue
		case p.end-1+j.days+j.lag > w.ctx.Today:
			s.provisional++
		}
		at[p.start] = len(s.periods)
		s.periods = append(s.periods, p)
	}
	n := len(s.periods)
	s.num, s.den, s.values = make([]float64, n), make([]float64, n), make([]float64, n)
	for _, i := range s.rows {
		k, ok := at[w.periodOf(j.dated.Num[i]).start]
		if !ok {
			continue
		}
		s.used++
		if kind == quality.KindU {
			if err := j.addRate(s, k, i); err != nil {
				return nil, err
			}
			continue
		}
		s.den[k]++
		if j.y != nil {
			s.values[k] += j.y.Num[i]
		}
		if j.hit != nil && j.hit[i] {
			s.num[k]++
			s.events++
		}
	}
	if kind == quality.KindU {
		if err := j.finishRate(s); err != nil {
			return nil, err
		}
	}
	for k := range s.values {
		switch {
		case j.y != nil && kind != quality.KindU:
			s.values[k] /= s.den[k] // NaN where there is no row: a gap
		case kind == quality.KindC || kind == quality.KindXmR:
			s.den[k] = 1
			s.values[k] = s.num[k]
		default:
			s.values[k] = s.num[k]
		}
	}
	return s, nil
}

// reach is the first and the last day of a chart of periods: those of its
// rows. Where rows are counted and not the share of them, periods without a
// row are periods with none, so that it is as far as the table goes.
func (j *chartJob) reach(rows []int, kind quality.Kind) (first, last float64, err error) {
	first, last = math.Inf(1), math.Inf(-1)
	see := func(i int) {
		if !j.dated.Missing[i] {
			first, last = math.Min(first, j.dated.Num[i]), math.Max(last, j.dated.Num[i])
		}
	}
	for _, i := range rows {
		see(i)
	}
	counts := j.y == nil && (kind == quality.KindXmR || kind == quality.KindC) || kind == quality.KindU && j.expo != nil && j.expo.column == nil
	if !counts {
		return first, last, nil
	}
	var when table.Condition
	for _, cl := range j.ask.Keep.Clauses {
		if cl.Column == j.dated.Name {
			when.Clauses = append(when.Clauses, cl)
		}
	}
	in, err := when.Match(j.work.table)
	if err != nil {
		return 0, 0, j.conditionError("keep", err, j.work.table)
	}
	for i, h := range in {
		if h && !j.dated.Missing[i] && j.dated.Num[i] <= j.ctx.Today {
			see(i)
		}
	}
	return first, last, nil
}

// gapSeries counts the cases, or the days, from one event to the next.
func (j *chartJob) gapSeries(kind quality.Kind) (*series, error) {
	w, s := j.work, &series{}
	if w.public() {
		return nil, &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
			Text: fmt.Sprintf("each point of a %s chart is one event, and this report hides counts below %d; use a p, u or c chart by quarter or year, or answer this in a report for the lab alone", kind, w.ctx.Front.HideBelow)}
	}
	days := kind == quality.KindT || w.ask.Between == "days"
	var err error
	takes := j.takes(kind)
	if days {
		takes = func(i int) bool { return j.hit[i] && j.among[i] }
	}
	if s.rows, s.undated, err = j.datedRows(takes); err != nil {
		return nil, err
	}
	j.inOrder(s.rows)
	begin, bounded := w.begin()
	cut := w.ctx.Today - j.days - j.lag
	late := 0
	var since, prev float64
	seen := false
	perDay := map[float64]int{}
	for _, i := range s.rows {
		day := j.dated.Num[i]
		switch {
		case bounded && day < begin:
			continue
		case day > cut:
			late++
			continue
		}
		s.used++
		perDay[day]++
		if !j.hit[i] {
			since++
			continue
		}
		s.events++
		if seen {
			v := since
			if days {
				v = day - prev
			}
			s.values = append(s.values, v)
			s.periods = append(s.periods, period{name: words.ISODate(day), start: prev, end: day + 1})
		}
		seen, since, prev = true, 0, day
	}
	if s.used == 0 {
		return nil, stats.ErrNoRows
	}
	for _, p := range s.periods {
		if perDay[p.end-1] > 1 && !days {
			s.tied++
		}
	}
	if seen {
		s.open, s.openFrom, s.hasOpen = since, prev, true
		if days {
			s.open = math.Max(0, cut-prev)
		}
	}
	if late > 0 {
		s.pending = append(s.pending, fmt.Sprintf("%s from %s on", words.N(late, "row", "rows"), words.ISODate(cut+1)))
	}
	return s, nil
}

// mostCases is the number of single cases beyond which a chart of them shows
// nothing.
const mostCases = 1000

// caseSeries takes each value by itself, in order.
func (j *chartJob) caseSeries() (*series, error) {
	w, s := j.work, &series{}
	if w.public() {
		return nil, &notebook.Error{Pos: w.ask.At("period", "case"), Code: "too-few-to-show",
			Text: fmt.Sprintf("each point is one case, and this report hides counts below %d; take period: month, or answer this in a report for the lab alone", w.ctx.Front.HideBelow)}
	}
	var err error
	if s.rows, s.undated, err = j.datedRows(j.takes(quality.KindXmR)); err != nil {
		return nil, err
	}
	j.inOrder(s.rows)
	begin, bounded := w.begin()
	perDay := map[float64]int{}
	for _, i := range s.rows {
		day := j.dated.Num[i]
		if bounded && day < begin || day > w.ctx.Today {
			continue
		}
		s.used++
		perDay[day]++
		if day+j.lag > w.ctx.Today {
			s.provisional++
		}
		s.values = append(s.values, j.y.Num[i])
		s.num, s.den = append(s.num, 0), append(s.den, 1)
		s.periods = append(s.periods, period{name: words.ISODate(day), start: day, end: day + 1})
	}
	if s.used > mostCases {
		return nil, w.at("period", "case", notebook.CodeImpossible, "there are %s, too many for a chart of single cases (up to %d); take period: month", words.N(s.used, "case", "cases"), mostCases)
	}
	for _, p := range s.periods {
		if perDay[p.start] > 1 {
			s.tied++
		}
	}
	if s.used == 0 {
		return nil, stats.ErrNoRows
	}
	return s, nil
}

// inOrder sorts rows by date, visits of a day by their time, else as they
// stand in the log.
func (j *chartJob) inOrder(rows []int) {
	clock, hasClock := j.work.table.Col("time")
	minute := func(i int) float64 {
		if !hasClock || clock.Num == nil || clock.Missing[i] {
			return -1
		}
		return clock.Num[i]
	}
	sort.SliceStable(rows, func(a, b int) bool {
		x, y := rows[a], rows[b]
		if j.dated.Num[x] != j.dated.Num[y] {
			return j.dated.Num[x] < j.dated.Num[y]
		}
		return minute(x) < minute(y)
	})
}
