package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/figure"
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

// controlChart answers whether the lab is getting better or it is noise.
func controlChart(w *work) error {
	kind, err := w.chartKind()
	if err != nil {
		return err
	}
	dated, err := w.datedColumn()
	if err != nil {
		return err
	}
	s, err := w.series(kind, dated)
	if err != nil {
		return err
	}
	followed := w.followed()
	w.decisionPhases(s, followed)
	o := quality.Options{BaselinePoints: w.ask.BaselinePoints, Phases: s.phases}
	var c *quality.Chart
	if kind == "p" {
		c, err = quality.PChart(s.num, s.den, o)
	} else {
		c, err = quality.XmR(s.values, o)
	}
	if err != nil {
		return w.chartError(err, kind, s)
	}
	if w.HasEvents && (w.hiddenCount(w.Events) || kind == "p" && w.hiddenCount(w.Answer.Rows-w.Events)) {
		return &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
			Text: fmt.Sprintf("this report hides counts below %d, and over all periods together fewer than %d rows were counted, or all but fewer than that, so the chart would show nothing or tell too much", w.ctx.Front.HideBelow, w.ctx.Front.HideBelow)}
	}
	w.noCountBelowZero(c)
	w.unfitForRuns(c)
	w.phaseWarnings(c.Warnings)
	if len(s.pending) > 0 {
		why := "The period had not ended by the data cut."
		if s.horizon > 0 {
			why = fmt.Sprintf("Their last rows could not yet be followed for %s by the data cut.", words.At(s.horizon))
		}
		w.caution("incomplete-periods", "Not yet complete and not drawn: %s. %s", words.List(s.pending), why)
	}
	w.chartTables(c, s, kind)
	w.chartFigure(c, s, kind, followed)
	w.chartReading(c, s, kind)
	w.sinceDecisions(c, s, kind, followed)
	w.chartMethods(kind, c)
	return nil
}

// noCountBelowZero keeps the limits of what cannot be negative from saying
// that it could.
func (w *work) noCountBelowZero(c *quality.Chart) {
	for i := range c.Points {
		c.Points[i].Lower = w.floor(c.Points[i].Lower)
	}
}

// floor is a lower limit, not below 0 where the chart is of counts.
func (w *work) floor(x float64) float64 {
	if w.ask.Outcome == "" {
		return math.Max(0, x)
	}
	return x
}

// unfitForRuns takes back what the run rules said of a phase in which more
// than half of the periods stand at 0 or at the full share: the rules take
// either side of the centre as equally likely, which they are not there.
func (w *work) unfitForRuns(c *quality.Chart) {
	if w.ask.Outcome != "" {
		return
	}
	for k, ph := range c.Phases {
		none, full := 0, 0
		for i := ph.From; i <= ph.To; i++ {
			p := c.Points[i]
			switch {
			case !p.HasValue:
			case p.Value == 0:
				none++
			case c.Kind == quality.KindP && p.Value == 1:
				full++
			}
		}
		if !ph.RunsTested || 2*max(none, full) <= ph.Points {
			continue
		}
		c.Phases[k].RunsTested = false
		for i := ph.From; i <= ph.To; i++ {
			if c.Points[i].Signal == quality.LongRun {
				c.Points[i].Signal = quality.NoSignal
			}
		}
		c.Signals = slices.DeleteFunc(c.Signals, func(g quality.Signal) bool { return g.Phase == k && g.Rule != quality.BeyondLimits })
		at := "none"
		if full > none {
			at = "all"
		}
		about := ""
		if len(c.Phases) > 1 {
			about = fmt.Sprintf("phase %d", k+1)
		}
		w.phaseWarnings([]stats.Warning{{Code: "runs-not-tested", About: about,
			Text: fmt.Sprintf("In more than half of the periods %s of the rows counted, so runs on one side of the centre and crossings were not judged. A longer period would serve better.", at)}})
	}
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

func (w *work) chartError(err error, kind string, s *series) error {
	switch {
	case errors.Is(err, quality.ErrFewPoints):
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-points", Text: fmt.Sprintf("only %s complete with rows to count, and a chart needs at least %d; choose a shorter period or wait",
			words.N(len(s.periods), w.ask.Period+" is", w.ask.Period+"s are"), quality.MinPoints)}
	case errors.Is(err, quality.ErrNoVariation):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-variation", Text: "the values never change from one period to the next, so no limits follow"}
	case errors.Is(err, quality.ErrOptions):
		return w.at("baseline_points", "", notebook.CodeBadValue, "%s", strings.TrimPrefix(strings.TrimPrefix(err.Error(), "p chart: "), "xmr chart: "))
	}
	return err
}

func (w *work) chartTables(c *quality.Chart, s *series, kind string) {
	_, unit := w.chartValue()
	t := tableOf("points", text("series"), text("period"), number("value", unit), count("numerator"), count("denominator"),
		number("centre", unit), number("lower", unit), number("upper", unit), integer("phase"), text("signal"))
	for k, p := range c.Points {
		num, den := any(nil), any(int(s.den[k]))
		if w.HasEvents {
			num = int(s.num[k])
		}
		t.row("all", s.periods[k].name, when(p.HasValue, p.Value), num, den, when(p.HasLimits, p.Centre), when(p.HasLimits, p.Lower), when(p.HasLimits, p.Upper), p.Phase+1, orNil(string(p.Signal)))
	}
	w.addTable(t)
	t = tableOf("phases", text("series"), integer("phase"), text("from"), text("to"), number("centre", unit), integer("points"))
	for k, p := range c.Phases {
		t.row("all", k+1, s.periods[p.From].name, s.periods[p.To].name, when(p.HasLimits, p.Centre), p.Points)
	}
	w.addTable(t)
	t = tableOf("signals", text("series"), text("period"), text("rule"))
	for _, g := range c.Signals {
		t.row("all", s.periods[g.To].name, string(g.Rule))
	}
	w.addTable(t)
}

// signalWords says a signal in words.
func signalWords(g quality.Signal, s *series) string {
	side := "below"
	if g.Above {
		side = "above"
	}
	switch g.Rule {
	case quality.BeyondLimits:
		return fmt.Sprintf("%s lies %s the limits", s.periods[g.To].name, side)
	case quality.LongRun:
		return fmt.Sprintf("%d periods in a row, %s to %s, lie %s the centre line (chance seldom gives more than %d)", g.Count, s.periods[g.From].name, s.periods[g.To].name, side, g.Limit)
	default:
		often := map[int]string{0: "never crosses the centre", 1: "crosses the centre only once"}[g.Count]
		if often == "" {
			often = fmt.Sprintf("crosses the centre only %d times", g.Count)
		}
		return fmt.Sprintf("the line %s (chance seldom gives fewer than %d crossings)", often, g.Limit)
	}
}

func (w *work) chartFigure(c *quality.Chart, s *series, kind string, ds []*notebook.Decision) {
	spec := figure.ControlSpec{ID: w.ask.ID, Percent: kind == "p", Goal: w.ask.Goal, Pending: s.pending}
	what, unit := w.chartValue()
	spec.ValueAxis, spec.Unit = words.Capital(what), unit
	spec.Title = words.Capital(what) + " by " + w.ask.Period
	if g := w.ask.Goal; g != nil && kind == "p" {
		x := goalShare(*g)
		spec.Goal = &x
	}
	switch w.ask.Better {
	case "lower":
		spec.Better = figure.BetterLower
	case "higher":
		spec.Better = figure.BetterHigher
	}
	signals := map[int][]string{}
	for _, g := range c.Signals {
		switch g.Rule {
		case quality.BeyondLimits:
			signals[g.To] = append(signals[g.To], "beyond the limits")
		case quality.LongRun:
			signals[g.To] = append(signals[g.To], fmt.Sprintf("%d on one side", g.Count))
		}
	}
	hidden := 0
	for k, p := range c.Points {
		if !p.HasValue {
			continue
		}
		if w.hiddenPoint(s, k) {
			hidden++
			spec.Points = append(spec.Points, figure.ControlPoint{Label: s.periods[k].name, Day: int(s.periods[k].start), Hidden: true})
			continue
		}
		ph := c.Phases[p.Phase]
		cp := figure.ControlPoint{Label: s.periods[k].name, Day: int(s.periods[k].start), Value: p.Value,
			Centre: math.NaN(), Lower: math.NaN(), Upper: math.NaN(), Phase: p.Phase + 1, Signals: signals[k]}
		if p.HasLimits {
			cp.Centre, cp.Lower, cp.Upper = p.Centre, p.Lower, p.Upper
		}
		cp.Baseline = w.ask.BaselinePoints > 0 && ph.LimitPoints > 0 && w.inBaseline(c, k)
		spec.Points = append(spec.Points, cp)
	}
	if hidden > 0 {
		w.caution("points-hidden", "%s not drawn, since %s for few people. A longer period would show more.", words.Capital(words.N(hidden, "point is", "points are")), plural(hidden, "it stands", "they stand"))
	}
	for k := 1; k < len(c.Phases); k++ {
		from := c.Phases[k].From
		lo, hi, ok := c.LimitsOf(k-1, from)
		if ok {
			spec.Old = append(spec.Old, figure.OldLimits{FromDay: int(s.periods[from].start), ToDay: int(s.periods[c.Phases[k].To].start),
				Centre: c.Phases[k-1].Centre, Lower: w.floor(lo), Upper: hi})
		}
	}
	for _, d := range ds {
		spec.Decisions = append(spec.Decisions, figure.Decision{Day: int(d.On), Text: d.What})
	}
	for _, p := range c.Phases {
		spec.TrialLimits = spec.TrialLimits || p.HasLimits && p.LimitPoints < quality.TrialPoints
	}
	w.Figures = append(w.Figures, figure.Control(spec))
}

// hiddenPoint says whether a point of a chart would tell a count that stands
// for few people.
func (w *work) hiddenPoint(s *series, k int) bool {
	if w.HasEvents {
		return w.hiddenCount(int(s.num[k])) || w.hiddenCount(int(s.den[k]-s.num[k]))
	}
	return w.hiddenCount(int(s.den[k]))
}

// chartValue says what a point of the chart is, and in which unit.
func (w *work) chartValue() (what, unit string) {
	if w.ask.Outcome != "" {
		y, _ := w.table.Col(w.ask.Outcome)
		return "mean " + label(y), y.Unit
	}
	if w.ask.Chart == "xmr" {
		_, many := w.nouns()
		if w.ask.Numerator.All {
			return "number of " + many, ""
		}
		return "number of " + many + " with " + w.conditionWords(w.ask.Numerator.Condition), ""
	}
	return w.conditionWords(w.ask.Numerator.Condition), ""
}

// goalShare reads a goal of a p chart, written as a share or in percent.
func goalShare(g float64) float64 {
	if g > 1 {
		return g / 100
	}
	return g
}

// inBaseline says whether point k is one of those that set the limits.
func (w *work) inBaseline(c *quality.Chart, k int) bool {
	ph := c.Phases[c.Points[k].Phase]
	seen := 0
	for i := ph.From; i <= k; i++ {
		if c.Points[i].HasValue {
			seen++
		}
	}
	return seen <= ph.LimitPoints
}

func (w *work) chartReading(c *quality.Chart, s *series, kind string) {
	var level string
	if kind == "p" {
		level = fmt.Sprintf("Across %s, %s of %s had %s", words.N(len(s.periods), w.ask.Period, w.ask.Period+"s"),
			words.Percent(float64(w.Events)/float64(max(1, w.Answer.Rows)), w.Answer.Rows), w.rowsCounted(), w.conditionWords(w.ask.Numerator.Condition))
		level += "; the centre line is at " + w.centreWords(c, s, kind)
	} else {
		what, _ := w.chartValue()
		level = fmt.Sprintf("Across %s, the %s per %s has its centre line at %s", words.N(len(s.periods), w.ask.Period, w.ask.Period+"s"), what, w.ask.Period, w.centreWords(c, s, kind))
	}
	level += "."
	if len(c.Signals) == 0 {
		w.Reading = level + " Nothing on the chart is more than the noise of such numbers."
		for _, p := range c.Phases {
			if !p.RunsTested {
				w.Reading = level + " No point lies beyond the limits; there are too few points to judge runs by."
			}
		}
		return
	}
	var parts []string
	for i, g := range c.Signals {
		if i == 3 {
			parts = append(parts, words.N(len(c.Signals)-3, "further signal", "further signals"))
			break
		}
		parts = append(parts, signalWords(g, s))
	}
	w.Reading = level + " More than noise: " + strings.Join(parts, "; ") + "."
}

// centreWords says where the centre line is now and, where a decision has
// started a new phase, where it was before.
func (w *work) centreWords(c *quality.Chart, s *series, kind string) string {
	value := func(p quality.Phase) string {
		if p.LimitPoints == 0 {
			return words.NotComputed
		}
		if kind == "p" {
			return words.Percent(p.Centre, w.Answer.Rows)
		}
		_, unit := w.chartValue()
		return words.Plain(p.Centre) + unitWords(unit)
	}
	n := len(c.Phases)
	last := c.Phases[n-1]
	out := value(last)
	if w.ask.BaselinePoints > 0 && last.LimitPoints < last.Points {
		out += fmt.Sprintf(", from the first %d periods", last.LimitPoints)
		if n > 1 {
			out += " of the phase"
		}
	}
	if n > 1 {
		out += fmt.Sprintf(" since %s, and was at %s before", s.periods[last.From].name, value(c.Phases[n-2]))
	}
	return out
}

func (w *work) rowsCounted() string {
	one, many := w.nouns()
	return w.n(w.Answer.Rows, one, many)
}

// sinceDecisions says what the chart shows since each decision.
func (w *work) sinceDecisions(c *quality.Chart, s *series, kind string, ds []*notebook.Decision) {
	for _, d := range ds {
		var n, m, num, den, num0, den0, sum, sum0 float64
		signals := 0
		for k, p := range c.Points {
			if !p.HasValue {
				continue
			}
			if s.periods[k].start >= d.On {
				n++
				num, den, sum = num+s.num[k], den+s.den[k], sum+p.Value
			} else if s.periods[k].end <= d.On {
				m++
				num0, den0, sum0 = num0+s.num[k], den0+s.den[k], sum0+p.Value
			}
		}
		for _, g := range c.Signals {
			if s.periods[g.To].start >= d.On {
				signals++
			}
		}
		text := "no complete period since"
		if n > 0 {
			if kind == "p" {
				text = w.shareOf(num, den)
				if m > 0 {
					text += "; before " + w.shareOf(num0, den0)
				}
			} else {
				text = "mean " + words.Plain(sum/n)
				if m > 0 {
					text += "; before " + words.Plain(sum0/m)
				}
			}
			text += fmt.Sprintf(" (%s)", words.N(int(n), w.ask.Period, w.ask.Period+"s"))
			if signals > 0 {
				text += "; " + words.N(signals, "signal", "signals")
			} else {
				text += "; no signal"
			}
		}
		if w.Since == nil {
			w.Since = map[int]string{}
		}
		w.Since[d.Pos.Line] = text
	}
}

// shareOf prints "69% of 90", or that it is withheld.
func (w *work) shareOf(num, den float64) string {
	share := w.share(int(num), int(den))
	if share == "hidden" || w.hiddenCount(int(den)) {
		return "hidden, since it stands for few"
	}
	return share + " of " + words.Fixed(den, 0)
}

func (w *work) chartMethods(kind string, c *quality.Chart) {
	m := "The share of each period was drawn on a p chart with three-standard-deviation limits from the binomial distribution at each period's own size."
	ref := "Shewhart WA. Economic control of quality of manufactured product. New York: Van Nostrand, 1931."
	if kind == "xmr" {
		m = "The value of each period was drawn on a chart of individual values with limits at the centre plus and minus 2.66 times the mean moving range."
	}
	if w.ask.BaselinePoints > 0 {
		m += fmt.Sprintf(" Limits are frozen at the first %d periods of a phase.", w.ask.BaselinePoints)
	}
	if len(c.Phases) > 1 {
		m += " A new phase starts only where a decision asks for one; the earlier limits are carried on faintly."
	}
	m += " One set of rules was applied: a point beyond the limits, a run on one side of the centre longer than log2(n) + 3, fewer crossings of the centre than chance gives in 95 of 100 series. Periods not yet complete are listed and not drawn."
	w.Methods = m
	w.References = append(w.References, ref, "Anhøj J, Olesen AV. Run charts revisited: a simulation study of run chart rules for detection of non-random variation in health care processes. PLoS One 2014; 9: e113825.")
}
