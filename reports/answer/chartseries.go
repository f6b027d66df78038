package answer

import (
	"math"
	"sort"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// series is a chart in the making: one value per complete period.
type series struct {
	periods          []period
	num, den, values []float64
	phases           []int    // indices of the periods that start a phase
	pending          []string // periods not complete and so not drawn
	horizon          float64  // days a row must be followed to be counted
}

func (w *work) chartKind() (string, error) {
	kind := w.ask.Chart
	if kind == "" {
		kind = "p"
		if w.ask.Numerator == nil {
			kind = "xmr"
		}
	}
	if kind == "p" && w.ask.Numerator == nil {
		return "", w.at("chart", "p", notebook.CodeMissingKey, "a p chart needs a numerator")
	}
	if kind == "xmr" && w.ask.Outcome == "" && w.ask.Numerator == nil {
		return "", w.at("chart", "xmr", notebook.CodeMissingKey, "an xmr chart needs an outcome, the column whose mean is drawn for each period, or a numerator, whose count is")
	}
	if kind == "xmr" && w.ask.Outcome != "" && w.ask.Numerator != nil {
		return "", w.at("numerator", "", notebook.CodeImpossible, "an xmr chart draws the mean of an outcome or the count of a numerator, not both")
	}
	if kind == "p" && w.ask.Outcome != "" {
		return "", w.at("outcome", w.ask.Outcome, notebook.CodeImpossible, "a p chart draws the share of a numerator and takes no outcome")
	}
	return kind, nil
}

func (w *work) datedColumn() (*table.Column, error) {
	name := w.ask.Dated
	if name == "" {
		for _, n := range []string{"date", "delivered"} {
			if w.table.Has(n) && (n == "date" || w.table.Name == "sockets") {
				name = n
				break
			}
		}
		if name == "" {
			return nil, w.at("rows", w.table.Name, notebook.CodeMissingKey, "%s have no date of their own; name a date column under dated", w.table.Name)
		}
	}
	c, err := w.column("dated", name)
	if err != nil {
		return nil, err
	}
	if c.Kind != table.Date {
		return nil, w.at("dated", name, notebook.CodeImpossible, "%s is not a date", name)
	}
	return c, nil
}

// series counts the rows of each complete period.
func (w *work) series(kind string, dated *table.Column) (*series, error) {
	s := &series{}
	num, den, err := w.chartConditions(kind, s)
	if err != nil {
		return nil, err
	}
	w.unevenFollowUp(dated)
	var y *table.Column
	if w.ask.Outcome != "" {
		if y, err = w.outcome(); err != nil {
			return nil, err
		}
	}
	var rows []int
	undated := 0
	for _, i := range w.rows {
		switch {
		case !den[i] || y != nil && y.Missing[i]:
		case dated.Missing[i]:
			undated++
		default:
			rows = append(rows, i)
		}
	}
	if undated > 0 {
		w.caution("undated", "%s left out because the date %s is not recorded.", words.Capital(w.n(undated, "row was", "rows were")), label(dated))
	}
	if len(rows) == 0 {
		return nil, stats.ErrNoRows
	}
	if y != nil {
		w.repeatability(w.table, rows, y.Name)
	}
	first, last := math.Inf(1), math.Inf(-1)
	for _, i := range rows {
		first, last = math.Min(first, dated.Num[i]), math.Max(last, dated.Num[i])
	}
	begin := math.Inf(-1)
	for _, d := range []*float64{w.ctx.Front.From, w.ctx.Front.LogSince} {
		if d != nil {
			begin = math.Max(begin, *d)
		}
	}
	at := map[float64]int{}
	for _, p := range periods(first, last, w.ask.Period) {
		switch {
		case p.end-1+s.horizon > w.ctx.Today:
			s.pending = append(s.pending, p.name)
			continue
		case p.end <= begin:
			continue // before the period of the report
		case p.start < begin:
			s.pending = append(s.pending, p.name+" (begun before the period of the report)")
			continue
		}
		at[p.start] = len(s.periods)
		s.periods = append(s.periods, p)
	}
	n := len(s.periods)
	s.num, s.den, s.values = make([]float64, n), make([]float64, n), make([]float64, n)
	used := 0
	for _, i := range rows {
		k, ok := at[periodOf(dated.Num[i], w.ask.Period).start]
		if !ok {
			continue
		}
		used++
		s.den[k]++
		if y != nil {
			s.values[k] += y.Num[i]
		}
		if num != nil && num[i] {
			s.num[k]++
		}
	}
	for k := range s.values {
		if y != nil {
			s.values[k] /= s.den[k] // NaN where there is no row: a gap
		} else {
			s.values[k] = s.num[k]
		}
	}
	w.Answer.Rows = used
	if num != nil {
		w.HasEvents = true
		for _, x := range s.num {
			w.Events += int(x)
		}
	}
	w.steps = append(w.steps, cohort.Step{Step: "in a complete period", Rows: used, Excluded: len(w.rows) - used, Reason: "not counted, not dated, or in a period not yet complete"})
	return s, nil
}

// unevenFollowUp warns where what is counted comes about as time goes by, and
// the rows of later periods have had less time for it.
func (w *work) unevenFollowUp(dated *table.Column) {
	if w.table.Name != "sockets" || dated.Known == table.Later {
		return
	}
	var names []string
	if w.ask.Numerator != nil {
		names = w.ask.Numerator.Condition.Columns()
	}
	if w.ask.Outcome != "" {
		names = append(names, w.ask.Outcome)
	}
	for _, n := range names {
		if c, err := w.table.Lookup(n); err == nil && c.Known == table.Later && n != cohort.EarlyRemake {
			w.caution("uneven-follow-up", "%s becomes known as time goes by, and the sockets of later periods have been followed for less: a change at the end of the chart may be nothing else. A column that gives every socket as long, such as early_remake, has no such fault.", words.Capital(label(c)))
			return
		}
	}
}

// chartConditions says which rows count and which of them are hits. A
// numerator about early remakes needs each row followed that long.
func (w *work) chartConditions(kind string, s *series) (num, den []bool, err error) {
	all := make([]bool, w.table.Rows())
	for i := range all {
		all[i] = true
	}
	den = all
	if w.ask.Denominator != nil && !w.ask.Denominator.All {
		if den, err = w.matches("denominator", w.ask.Denominator.Condition, w.table); err != nil {
			return nil, nil, err
		}
	}
	if w.ask.Numerator == nil {
		return nil, den, nil
	}
	if w.ask.Numerator.All {
		if kind == "xmr" {
			return den, den, nil
		}
		return nil, nil, w.at("numerator", "count", notebook.CodeImpossible, "every row is then a hit; write a condition under numerator")
	}
	if num, err = w.matches("numerator", w.ask.Numerator.Condition, w.table); err != nil {
		return nil, nil, err
	}
	if kind == "xmr" {
		den = num // what is counted is the rows of the chart
	}
	for _, cl := range allClauses(w.ask.Numerator.Condition) {
		if cl.Column == cohort.EarlyRemake {
			s.horizon = w.ctx.Front.EarlyRemakeDays
		}
	}
	return num, den, nil
}

// followed are the decisions that follow this ask, in order of date.
func (w *work) followed() []*notebook.Decision {
	var out []*notebook.Decision
	for _, d := range w.ctx.Decision {
		if d.Err == nil && d.Follows == w.ask.ID {
			out = append(out, d)
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].On < out[b].On })
	return out
}

// decisionPhases starts a phase at the first whole period from each decision
// that asks for one.
func (w *work) decisionPhases(s *series, ds []*notebook.Decision) {
	seen := map[int]bool{}
	for _, d := range ds {
		if !d.NewPhase {
			continue
		}
		for k, p := range s.periods {
			if p.start >= d.On {
				if k > 0 && !seen[k] {
					seen[k] = true
					s.phases = append(s.phases, k)
				}
				break
			}
		}
	}
	sort.Ints(s.phases)
}
