package answer

import (
	"fmt"
	"math"

	"plybook/analysis/quality"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

func (j *chartJob) tables() {
	w, c, s := j.work, j.chart, j.s
	_, unit := j.value()
	chosen := "from the data"
	if j.stated {
		chosen = "by the question"
	}
	t := tableOf("chart", text("chart"), flag("overdispersed"), text("chosen"), text("reason"), number("sigma_z", ""), number("late_entry", "days"), integer("provisional"))
	t.row(j.kind.String(), j.over, chosen, j.reason, when(c.HasSigmaZ, c.SigmaZ), when(j.lag > 0, j.lag), s.provisional)
	w.addTable(t)
	den := count("denominator")
	if j.expo != nil {
		den = number("denominator", j.expo.words)
	}
	t = tableOf("points", text("series"), text("period"), number("value", unit), count("numerator"), den,
		number("centre", unit), number("lower", unit), number("upper", unit), integer("phase"), text("signal"), flag("provisional"))
	hide := j.hiddenPoints()
	for k, p := range c.Points {
		num, d := any(nil), any(nil)
		if w.HasEvents && !j.gaps() {
			num = int(s.num[k])
		}
		switch {
		case j.gaps():
		case j.kind == quality.KindU && j.y != nil:
			num, d = int(s.num[k]), s.den[k]
		case j.kind == quality.KindC, j.kind == quality.KindXmR && j.y == nil:
		default:
			d = s.den[k]
		}
		t.row("all", s.periods[k].name, when(p.HasValue, p.Value), num, d, when(p.HasLimits, p.Centre), when(p.HasLimits, p.Lower), when(p.HasLimits, p.Upper), p.Phase+1, orNil(string(p.Signal)), p.Provisional)
		if hide[k] {
			j.hidePoint(t)
		}
	}
	w.addTable(t)
	t = tableOf("phases", text("series"), integer("phase"), text("from"), text("to"), number("centre", unit), integer("points"), integer("limit_points"), number("mean", ""), number("widened", ""))
	for k, p := range c.Phases {
		t.row("all", k+1, s.periods[p.From].name, s.periods[p.To].name, when(p.HasLimits, p.Centre), p.Points, p.LimitPoints, when(p.HasLimits, p.Mean), when(p.Widened > 0, p.Widened))
	}
	w.addTable(t)
	t = tableOf("rules", text("series"), integer("phase"), flag("judged"), integer("off_centre"), integer("longest_run"), integer("longest_by_chance"), integer("crossings"), integer("fewest_by_chance"), integer("beyond_limits"))
	for k, p := range c.Phases {
		longest, fewest := any(nil), any(nil)
		if p.RunsTested {
			longest, fewest = p.LongestAllowed, p.FewestAllowed
		}
		t.row("all", k+1, p.RunsTested, p.Useful, p.LongestRun, longest, p.Crossings, fewest, j.beyond(k))
	}
	w.addTable(t)
	t = tableOf("signals", text("series"), text("period"), text("rule"))
	for _, g := range c.Signals {
		t.row("all", s.periods[g.To].name, string(g.Rule))
	}
	w.addTable(t)
}

// beyond counts the points of a phase beyond their limits.
func (j *chartJob) beyond(phase int) int {
	n := 0
	for _, g := range j.chart.Signals {
		if g.Phase == phase && g.Rule == quality.BeyondLimits {
			n++
		}
	}
	return n
}

// printed shows which chart it is and why, and how the rules came out.
func (j *chartJob) printed() {
	w, c := j.work, j.chart
	t := document.Table{ID: w.ask.ID + "-rules", Caption: "How the rules came out", Columns: []document.TableColumn{
		{Head: "Phase", Wide: true}, {Head: "Points off the centre", Align: document.Right}, {Head: "Longest run on one side", Align: document.Right},
		{Head: "by chance up to", Align: document.Right}, {Head: "Crossings", Align: document.Right}, {Head: "by chance from", Align: document.Right}, {Head: "Beyond the limits", Align: document.Right}}}
	for k, p := range c.Phases {
		name := j.s.periods[p.From].name + " to " + j.s.periods[p.To].name
		longest, fewest := "not judged", "not judged"
		if p.RunsTested {
			longest, fewest = fmt.Sprint(p.LongestAllowed), fmt.Sprint(p.FewestAllowed)
		}
		t.Rows = append(t.Rows, []string{name, fmt.Sprint(p.Useful), fmt.Sprint(p.LongestRun), longest, fmt.Sprint(p.Crossings), fewest, fmt.Sprint(j.beyond(k))})
	}
	t.Notes = append(t.Notes, "A signal is a longer run, fewer crossings, or any point beyond the limits.",
		"Chart: "+j.kindWords()+", since "+j.reason+".")
	w.print(t)
}

func (j *chartJob) figure() {
	w, c, s := j.work, j.chart, j.s
	p := j.kind == quality.KindP
	spec := figure.ControlSpec{ID: w.ask.ID, Percent: p, Goal: j.goal(), ByOrder: j.inTurn()}
	what, unit := j.value()
	spec.ValueAxis, spec.Unit = words.Capital(what), unit
	spec.Title = words.Capital(what) + " by " + w.ask.Period
	if j.gaps() {
		spec.Title = words.Capital(what)
		spec.OrderAxis = "Events in order, by date"
		spec.CentreWord = map[quality.Kind]string{quality.KindG: "median", quality.KindT: "centre"}[j.kind]
	} else {
		spec.Pending = s.pending
	}
	if j.singly() {
		spec.Title, spec.OrderAxis = words.Capital(what)+", case by case", "Cases in order, by date"
	}
	switch j.better() {
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
	hidden, hide := 0, j.hiddenPoints()
	for k, p := range c.Points {
		if !p.HasValue {
			continue
		}
		day := int(s.periods[k].start)
		if j.gaps() {
			day = int(s.periods[k].end) - 1
		}
		if hide[k] {
			hidden++
			spec.Points = append(spec.Points, figure.ControlPoint{Label: s.periods[k].name, Day: day, Hidden: true})
			continue
		}
		ph := c.Phases[p.Phase]
		cp := figure.ControlPoint{Label: s.periods[k].name, Day: day, Value: p.Value, Provisional: p.Provisional,
			Centre: math.NaN(), Lower: math.NaN(), Upper: math.NaN(), Phase: p.Phase + 1, Signals: signals[k]}
		if p.HasLimits {
			cp.Centre, cp.Lower, cp.Upper = p.Centre, p.Lower, p.Upper
			if j.kind == quality.KindG && p.Lower == 0 {
				cp.Lower = math.NaN() // no count lies below it
			}
		}
		cp.Baseline = w.ask.BaselinePoints > 0 && ph.LimitPoints > 0 && j.inBaseline(k)
		spec.Points = append(spec.Points, cp)
	}
	if hidden > 0 {
		w.caution("points-hidden", "%s not drawn, since %s for few people. A longer period would show more.", words.Capital(words.N(hidden, "point is", "points are")), plural(hidden, "it stands", "they stand"))
	}
	for k := 1; k < len(c.Phases); k++ {
		from := c.Phases[k].From
		lo, hi, ok := c.LimitsOf(k-1, from)
		switch {
		case !ok:
		case j.inTurn():
			if j.kind == quality.KindG && lo == 0 {
				lo = math.NaN()
			}
			spec.Old = append(spec.Old, figure.OldLimits{FromDay: from + 1, ToDay: c.Phases[k].To + 1, Centre: c.Phases[k-1].Centre, Lower: lo, Upper: hi})
		default:
			spec.Old = append(spec.Old, figure.OldLimits{FromDay: int(s.periods[from].start), ToDay: int(s.periods[c.Phases[k].To].start),
				Centre: c.Phases[k-1].Centre, Lower: j.floor(lo), Upper: hi})
		}
	}
	for _, d := range j.made {
		spec.Decisions = append(spec.Decisions, figure.Decision{Day: int(d.On), Text: d.What})
	}
	for _, p := range c.Phases {
		spec.TrialLimits = spec.TrialLimits || p.HasLimits && p.LimitPoints < quality.TrialPoints
	}
	w.Figures = append(w.Figures, figure.Control(spec))
}

// goal is the goal on the scale of the chart. That of a share, where a chart
// of rare events was chosen instead, becomes the cases between that it means.
func (j *chartJob) goal() *float64 {
	g := j.ask.Goal
	if g == nil {
		return nil
	}
	x := *g
	switch {
	case j.kind == quality.KindP && x > 1:
		x /= 100
	case j.kind == quality.KindG && !j.stated:
		if x <= 0 || x >= 1 {
			return nil
		}
		x = 1/x - 1
	case j.kind == quality.KindT && !j.stated:
		return nil // a count per period is not a time between
	}
	return &x
}

// better is the better direction on the scale of the chart: that of a share
// or count turns over where what lies between events is drawn instead.
func (j *chartJob) better() string {
	if j.gaps() && !j.stated {
		return map[string]string{"lower": "higher", "higher": "lower"}[j.ask.Better]
	}
	return j.ask.Better
}

// hiddenPoints are the points that would tell a count that stands for few
// people, with further ones until none can be worked out from the sum of all.
func (j *chartJob) hiddenPoints() []bool {
	out := make([]bool, len(j.s.periods))
	if !j.public() || j.gaps() { // gaps are refused before where counts are hidden
		return out
	}
	column := func(at func(k int) float64) {
		var grid [][]int
		for k := range out {
			grid = append(grid, []int{int(at(k))})
		}
		for k, h := range maskGrid(grid, j.ctx.Front.HideBelow) {
			out[k] = out[k] || h[0]
		}
	}
	s := j.s
	switch {
	case j.kind == quality.KindP:
		column(func(k int) float64 { return s.num[k] })
		column(func(k int) float64 { return s.den[k] - s.num[k] })
	case j.kind == quality.KindU:
		column(func(k int) float64 { return s.num[k] })
		if j.expo == nil {
			column(func(k int) float64 { return s.den[k] })
		}
	case j.y != nil:
		column(func(k int) float64 { return s.den[k] })
	default:
		column(func(k int) float64 { return s.num[k] })
	}
	return out
}

// hidePoint takes what a point that is not shown would tell out of the last
// row of its table.
func (j *chartJob) hidePoint(t *Table) {
	k := len(t.Rows) - 1
	for c, col := range t.Columns {
		if t.Rows[k][c] == nil || col.Type != TypeNumber && col.Type != TypeCount {
			continue
		}
		j.mask(t, k, c)
		t.Rows[k][c] = nil
		j.Hidden = append(j.Hidden, HiddenCell{Table: t.Name, Row: k, Column: col.Name})
	}
}

// inBaseline says whether point k is one of those that set the limits.
func (j *chartJob) inBaseline(k int) bool {
	c := j.chart
	ph := c.Phases[c.Points[k].Phase]
	if c.Points[k].Provisional {
		return false
	}
	seen := 0
	for i := ph.From; i <= k; i++ {
		if c.Points[i].HasValue && !c.Points[i].Provisional {
			seen++
		}
	}
	return seen <= ph.LimitPoints
}
