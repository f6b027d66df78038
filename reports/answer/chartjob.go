package answer

import (
	"fmt"
	"sort"

	"plybook/analysis/cohort"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// chartJob is a chart over time in the making: what is counted, which chart
// suits it, the values, and the finished chart.
type chartJob struct {
	*work
	dated *table.Column
	hit   []bool        // by row: meets the numerator; nil without one
	among []bool        // by row: meets the denominator, where that is of these rows
	y     *table.Column // outcome; nil without one
	days  float64       // a row must be followed so long to be counted
	lag   float64       // a row may be written down so long after its date
	expo  *exposure     // nil: the exposure of a rate is rows

	kind   quality.Kind
	over   bool   // limits allow for overdispersion
	stated bool   // the question names the chart
	moved  bool   // the data chose another than the question is first thought of as
	reason string // why this chart
	s      *series
	chart  *quality.Chart
	made   []*notebook.Decision
}

// prepare reads what the question counts, and when.
func (j *chartJob) prepare() error {
	w := j.work
	var err error
	if j.dated, err = w.datedColumn(); err != nil {
		return err
	}
	j.among = make([]bool, w.table.Rows())
	for i := range j.among {
		j.among[i] = true
	}
	if d := w.ask.Denominator; d != nil && !d.All && !j.exposed() {
		if j.among, err = w.matches("denominator", d.Condition, w.table); err != nil {
			return err
		}
	}
	if n := w.ask.Numerator; n != nil {
		if n.All {
			j.hit = make([]bool, w.table.Rows())
			for i := range j.hit {
				j.hit[i] = true
			}
		} else if j.hit, err = w.matches("numerator", n.Condition, w.table); err != nil {
			return err
		}
		for _, cl := range allClauses(n.Condition) {
			if cl.Column == cohort.EarlyRemake {
				j.days = w.ctx.Front.EarlyRemakeDays
			}
		}
		if err := w.dropUnknown(j.among, j.hit, j.ofShare()); err != nil {
			return err
		}
	}
	if w.ask.Outcome != "" {
		if j.y, err = w.outcome(); err != nil {
			return err
		}
	}
	if j.lag, err = j.lateEntry(); err != nil {
		return err
	}
	if w.ask.Exposure != "" {
		if j.expo, err = j.exposureOf(); err != nil {
			return err
		}
	}
	if err := j.confine(); err != nil {
		return err
	}
	w.unevenFollowUp(j.dated)
	return nil
}

// exposed says whether the denominator is of another table than the rows.
func (j *chartJob) exposed() bool {
	return j.ask.Exposure == exposureMonths || j.ask.Exposure == exposureVisits
}

// begin is the first day of the report.
func (w *work) begin() (day float64, ok bool) {
	for _, d := range []*float64{w.ctx.Front.From, w.ctx.Front.LogSince} {
		if d != nil && (!ok || *d > day) {
			day, ok = *d, true
		}
	}
	return day, ok
}

// choose settles which chart it is, and works it out: the one that the
// question names, where it suits, else the one that suits the data.
func (j *chartJob) choose() error {
	if j.ask.Chart != "" {
		return j.chooseStated()
	}
	if j.y != nil && j.expo == nil {
		j.kind, j.reason = quality.KindXmR, "each "+j.ask.Period+" has one mean, whose spread is learnt from the means themselves"
		if j.singly() {
			j.reason = "each case has one value, whose spread is learnt from the values themselves"
		}
		return j.makeChart()
	}
	j.kind, j.reason = quality.KindP, "each row counts or does not, so that each "+j.ask.Period+" has a share"
	switch {
	case j.expo != nil || j.y != nil:
		j.kind, j.reason = quality.KindU, "events are counted over an exposure that differs from "+j.ask.Period+" to "+j.ask.Period
	case j.ask.Numerator.All:
		j.kind, j.reason = quality.KindC, "rows are counted, and each "+j.ask.Period+" is taken to have as much chance of them"
	}
	s, err := j.series(j.kind)
	if err != nil {
		return err
	}
	if bad := quality.Suits(j.kind, s.num, s.den); bad != nil && len(s.periods) >= quality.MinPoints {
		return j.chooseRare(bad, s)
	}
	if err := j.makeChart(); err != nil {
		return err
	}
	told := j.ask.Overdispersed
	switch {
	case told != nil && *told:
		j.over, j.reason = true, j.reason+"; the limits allow for overdispersion as the question says"
	case told == nil && j.chart.MuchWider && len(s.periods) >= quality.TrialPoints:
		spread := fmt.Sprintf("the %ss differ %s times as much as chance alone would make them", j.ask.Period, words.Fixed(j.chart.SigmaZ, 1))
		if j.kind == quality.KindC {
			j.moved = true
			j.kind, j.reason = quality.KindXmR, spread+", so limits are learnt from the counts themselves and not from the Poisson distribution"
			return j.makeChart()
		}
		j.moved = true
		j.over, j.reason = true, j.reason+"; "+spread+", so the limits allow for it"
	default:
		return nil
	}
	return j.makeChart()
}

func (j *chartJob) chooseStated() error {
	j.stated = true
	j.reason = "the question names it"
	for _, k := range []quality.Kind{quality.KindP, quality.KindXmR, quality.KindU, quality.KindC, quality.KindG, quality.KindT} {
		if k.String() == j.ask.Chart {
			j.kind = k
		}
	}
	j.over = j.ask.Overdispersed != nil && *j.ask.Overdispersed
	if err := j.makeChart(); err != nil {
		return err
	}
	if j.kind == quality.KindG && j.chart.Phases[0].LimitPoints > 0 && j.chart.Phases[0].Centre == 0 {
		return j.at("chart", "g", "median-zero", "more than half of the events follow one another with nothing between, so that runs about the middle would mean nothing: these events are not rare; use chart: p, the share of rows that are events")
	}
	if j.gaps() || j.y != nil && j.kind == quality.KindXmR {
		return nil
	}
	if bad := quality.Suits(j.kind, j.s.num, j.s.den); bad != nil {
		return j.unsuitable(bad, j.s, nil)
	}
	return nil
}

// chooseRare takes the chart of gaps between events where periods have too
// few of them.
func (j *chartJob) chooseRare(bad *quality.Unsuitable, s *series) error {
	first := j.kind
	j.kind = quality.KindT
	if first == quality.KindP {
		j.kind = quality.KindG
		if bad.Full { // what is rare is a row that does not count
			return j.unsuitable(bad, s, nil)
		}
	}
	if first == quality.KindU {
		return j.unsuitable(bad, s, nil) // a gap knows nothing of the exposure
	}
	if j.public() {
		return j.unsuitable(bad, s, nil) // each gap is one event
	}
	gaps, err := j.gapSeries(j.kind)
	if err != nil {
		return err
	}
	if len(gaps.values) < quality.MinUseful {
		return j.unsuitable(bad, s, gaps)
	}
	for _, v := range gaps.values {
		if v == 0 && j.kind == quality.KindT {
			return j.unsuitable(bad, s, gaps)
		}
	}
	j.moved = true
	j.reason = unsuitableWords(bad, j.work) + ", so the chart is of what lies between one event and the next"
	return j.makeChart()
}

// gaps says whether the points are gaps between events.
func (j *chartJob) gaps() bool { return j.kind == quality.KindG || j.kind == quality.KindT }

// singly says whether the points are single cases.
func (j *chartJob) singly() bool { return j.ask.Period == "case" }

// inTurn says whether the points stand in order and not by period.
func (j *chartJob) inTurn() bool { return j.gaps() || j.singly() }

// makeChart works the chart out.
func (j *chartJob) makeChart() error {
	var err error
	switch {
	case j.gaps():
		j.s, err = j.gapSeries(j.kind)
	case j.singly():
		j.s, err = j.caseSeries()
	default:
		j.s, err = j.series(j.kind)
	}
	if err != nil {
		return err
	}
	if err := j.allProvisional(); err != nil {
		return err
	}
	j.s.phases = nil
	j.decisionPhases(j.s, j.made)
	o := quality.Options{BaselinePoints: j.ask.BaselinePoints, Phases: j.s.phases, Overdispersed: j.over, Provisional: j.s.provisional}
	switch j.kind {
	case quality.KindP:
		j.chart, err = quality.PChart(j.s.num, j.s.den, o)
	case quality.KindU:
		j.chart, err = quality.UChart(j.s.num, j.s.den, o)
	case quality.KindC:
		j.chart, err = quality.CChart(j.s.num, o)
	case quality.KindG:
		j.chart, err = quality.GChart(j.s.values, o)
	case quality.KindT:
		j.chart, err = quality.TChart(j.s.values, o)
	default:
		j.chart, err = quality.XmR(j.s.values, o)
	}
	if err != nil {
		return j.chartError(err)
	}
	return nil
}

// allProvisional refuses a chart of which nothing can be judged yet, since
// rows of nearly every period may still be written down.
func (j *chartJob) allProvisional() error {
	s := j.s
	if left := len(s.periods) - s.provisional; s.provisional > 0 && left < quality.MinPoints && len(s.periods) >= quality.MinPoints {
		things := map[bool]string{true: "case", false: j.ask.Period}[j.singly()]
		return j.at("late_entry", "", notebook.CodeImpossible, "rows that may be written down up to %s late leave %s of %d settled, and a chart needs at least %d; choose a shorter late_entry, a shorter period, or wait",
			words.At(j.lag), words.N(left, things, things+"s"), len(s.periods), quality.MinPoints)
	}
	return nil
}

// settle writes the counts of the chosen series into the answer.
func (j *chartJob) settle() {
	w, s := j.work, j.s
	if s.undated > 0 {
		w.caution("undated", "%s left out because the %s is not recorded.", words.Capital(w.n(s.undated, "row was", "rows were")), dateWords(j.dated))
	}
	if j.y != nil {
		w.repeatability(w.table, s.rows, j.y.Name)
	}
	w.Answer.Rows = s.used
	w.HasEvents = j.hit != nil
	w.Events = s.events
	where := cohort.Step{Step: "in a complete period", Reason: "not counted, not dated, or in a period not yet complete"}
	if j.inTurn() {
		where = cohort.Step{Step: "in order of date", Reason: "not counted, not dated, or not yet followed long enough"}
	}
	where.Rows, where.Excluded = s.used, max(0, len(w.rows)-s.used)
	w.steps = append(w.steps, where)
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

// datedColumn is the date that places a row.
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

// datedRows are the rows that a chart can place, and how many have no date.
func (j *chartJob) datedRows(takes func(i int) bool) (rows []int, undated int, err error) {
	for _, i := range j.work.rows {
		switch {
		case !takes(i):
		case j.dated.Missing[i]:
			undated++
		default:
			rows = append(rows, i)
		}
	}
	if len(rows) == 0 {
		return nil, undated, stats.ErrNoRows
	}
	return rows, undated, nil
}
