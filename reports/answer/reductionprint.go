package answer

import (
	"fmt"
	"math"

	"plybook/analysis/regress"
	"plybook/reports/document"
	"plybook/reports/words"
)

func (j *reductionJob) tables() {
	rows := tableOf("rows", text("group"), text("landmark"), text("over"), text("region"), number("station_mm", "mm"), count("sockets"), count("persons"),
		number("limb_mm", "mm"), number("target_mm", "mm"), number("model_mm", "mm"), number("target_reduction", "%"), number("reduction", "%"), number("std_dev", "%"), number("low", "%"), number("high", "%"),
		count("targets"), number("model_less_target", "mm"), number("less_low", "mm"), number("less_high", "mm"), number("lower_limit", "mm"), number("upper_limit", "mm"))
	for _, b := range j.bands {
		if b.withheld {
			continue
		}
		less := []any{when(b.targets > 0, b.lessMean), nil, nil, nil, nil}
		if l := b.less; l != nil {
			less = []any{l.Bias.Value, l.Bias.Low, l.Bias.High, l.Lower.Value, l.Upper.Value}
		}
		row := []any{b.group, orNil(b.from.landmark), orNil(b.from.over), orNil(b.region), b.mm, len(b.models), b.got.Clusters,
			b.limb, b.target, b.model, when(b.targets > 0, b.aim.Mean), b.got.Mean, b.got.SD, b.got.Low, b.got.High, b.targets}
		rows.row(append(row, less...)...)
		if j.few(b.targets, len(b.models)) {
			j.drop(rows, "targets", "target_mm", "target_reduction", "model_less_target", "less_low", "less_high", "lower_limit", "upper_limit")
		}
		if j.few(b.got.Clusters, len(b.models)) {
			j.drop(rows, "persons")
		}
	}
	answers := tableOf("answers", text("landmark"), text("over"), text("answer"), count("sockets"), number("reduction", "%"), number("std_dev", "%"), number("low", "%"), number("high", "%"))
	shares := tableOf("shares", text("landmark"), text("over"), number("from", "%"), number("to", "%"), count("sockets"), count("first_fit"), number("percent", "%"), number("low", "%"), number("high", "%"), number("effective", ""))
	actions := tableOf("actions", text("landmark"), text("over"), text("action"), count("as_it_was"), count("adjusted"), count("not_accepted"))
	terms := tableOf("terms", text("landmark"), text("over"), text("outcome"), text("term"), count("rows"), count("clusters"), number("estimate", ""), number("std_error", ""), number("df", ""), number("ratio", ""), number("low", ""), number("high", ""), number("p", ""), number("bend_p", ""))
	for k := range j.said {
		s := &j.said[k]
		landmark, over := orNil(s.from.landmark), orNil(s.from.over)
		mask := j.answerMask(s)
		for i, a := range s.answers {
			r := a.reduced
			known := len(a.models) > 0
			answers.row(landmark, over, a.answer, len(a.models), when(known, r.Mean), when(known, r.SD), when(known, r.Low), when(known, r.High))
			if mask[i] {
				j.drop(answers, "sockets", "reduction", "std_dev", "low", "high")
			}
		}
		for _, b := range s.shares {
			from, to := b.from, b.to
			if j.public() { // the ends are one socket's
				from, to = math.NaN(), math.NaN()
			}
			shares.row(landmark, over, from, to, b.Rows, b.Events, 100*b.Share, 100*b.Low, 100*b.High, b.Effective)
			if j.few(b.Events, b.Rows) {
				j.drop(shares, "first_fit", "percent", "low", "high", "effective")
			}
		}
		for i, hide := range j.actionMask(s) {
			a := s.actions[i]
			actions.row(landmark, over, a.action, a.counts[0], a.counts[1], a.counts[2])
			for c, name := range []string{"as_it_was", "adjusted", "not_accepted"} {
				if hide[c] {
					j.drop(actions, name)
				}
			}
		}
		if s.fit != nil {
			ratio, low, high := s.ratio()
			c := s.fit.Coef[1]
			terms.row(landmark, over, "first_fit", "reduction_pct", s.fit.Rows, when(s.fit.Clusters > 0, float64(s.fit.Clusters)), c.Estimate, c.SE, when(c.DF > 0, c.DF), ratio, low, high, c.P, s.bendP)
		}
		if s.comfort != nil {
			c := s.comfort.Coef[1]
			terms.row(landmark, over, "comfort", "reduction_pct", s.comfort.Rows, when(s.comfort.Clusters > 0, float64(s.comfort.Clusters)), c.Estimate, c.SE, c.DF, nil, c.Low, c.High, c.P, s.bend2P)
		}
	}
	tape := tableOf("tape", count("girths"), count("readings"), number("error", "mm"), number("smallest_change", "mm"), number("low", "mm"), number("high", "mm"))
	if e := j.tape; e != nil {
		tape.row(e.Things, e.Readings, e.SD.Value, e.Change.Value, e.Change.Low, e.Change.High)
	}
	for _, t := range []*Table{rows, answers, shares, actions, terms, tape} {
		j.addTable(t)
	}
}

// answerMask says which answers of first fittings are withheld.
func (j *reductionJob) answerMask(s *seriesSaid) []bool {
	var grid [][]int
	for _, a := range s.answers {
		grid = append(grid, []int{len(a.models)})
	}
	out := make([]bool, len(grid))
	for k, hide := range maskGrid(grid, j.ctx.Front.HideBelow) {
		out[k] = hide[0]
	}
	return out
}

// actionMask says which counts of actions are withheld: all that stand for
// few, and all at fittings whose number is withheld. A fitting can have several
// and no sum is shown.
func (j *reductionJob) actionMask(s *seriesSaid) [][3]bool {
	out := make([][3]bool, len(s.actions))
	answers := j.answerMask(s)
	for k, a := range s.actions {
		for c, n := range a.counts {
			out[k][c] = j.hiddenCount(n) || n > 0 && answers[c]
		}
	}
	return out
}

// mostProfiles is how many series are printed and drawn.
const mostProfiles = 3

func (j *reductionJob) printed() {
	for k, s := range j.series {
		if k == mostProfiles {
			break
		}
		j.printBands(s, k)
	}
	if s := j.mainSaid(); s != nil {
		j.printAnswers(s)
		j.printShares(s)
		j.printActions(s)
	}
}

// mainSaid is what was said of the series with most sockets.
func (j *reductionJob) mainSaid() *seriesSaid {
	if len(j.said) == 0 {
		return nil
	}
	return &j.said[0]
}

// suffix tells the tables and figures of the series apart.
func suffix(k int) string {
	if k == 0 {
		return ""
	}
	return fmt.Sprintf("-%d", k+1)
}

func (j *reductionJob) printBands(s girthSeries, k int) {
	right := func(head string) document.TableColumn { return document.TableColumn{Head: head, Align: document.Right} }
	level := percentOf(j.ask.Confidence)
	t := document.Table{ID: j.ask.ID + "-girths" + suffix(k), Caption: "Limb, target and model by region and station; " + s.words()}
	if j.ask.By != "" {
		t.Columns = append(t.Columns, document.TableColumn{Head: words.Capital(j.columnLabel(j.ask.By))})
	}
	t.Columns = append(t.Columns, document.TableColumn{Head: "Where", Wide: true}, right("Sockets"), right("Limb, mm"), right("Target, mm"), right("Model, mm"), right("Smaller by, %"), right(level+" interval"), right("SD"), right("Model less target, mm"), right("Limits, mm"))
	last := ""
	for i := range j.bands {
		b := &j.bands[i]
		if b.from != s || b.withheld {
			continue
		}
		var row []string
		if j.ask.By != "" {
			g := j.groupWords(b.group)
			if g == last {
				g = ""
			} else {
				last = g
			}
			row = append(row, g)
		}
		row = append(row, b.words(), j.cell(len(b.models)), millimetres(b.limb), "–", millimetres(b.model), reductionText(b.got), words.NotComputed, "–", "–", "–")
		at := len(row) - 7
		if !math.IsNaN(b.got.Low) {
			row[at+3] = words.Interval(b.got.Low, b.got.High)
		}
		if !math.IsNaN(b.got.SD) {
			row[at+4] = words.Plain(b.got.SD)
		}
		if b.targets > 0 && !j.few(b.targets, len(b.models)) {
			row[at] = millimetres(b.target)
			row[at+5] = words.Plain(b.lessMean)
			if b.less != nil {
				row[at+5] = words.Value(b.less.Bias.Value, b.less.Lower.Value, b.less.Upper.Value)
				row[at+6] = words.Interval(b.less.Lower.Value, b.less.Upper.Value)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		return
	}
	t.Notes = []string{"Smaller by: reduction in percent of the limb, averaged over sockets; SD: how far sockets differ. Limits: those between which the difference of " + level + " of models from their targets lies."}
	if j.ask.Region == "" {
		t.Notes = append(t.Notes, "Thirds: of the stretch from a socket's first station to its last. Stations: distance from the landmark, downwards.")
	}
	j.print(t)
}

func millimetres(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return words.Fixed(x, 0)
}

// meanCells print a mean of reductions and its interval.
func meanCells(m regress.MeanOf, rows int) (mean, interval string) {
	if rows == 0 {
		return "–", "–"
	}
	if math.IsNaN(m.Low) {
		return words.Plain(m.Mean), words.NotComputed
	}
	return words.Value(m.Mean, m.Low, m.High), words.Interval(m.Low, m.High)
}

// reductionText prints a mean reduction as its interval allows.
func reductionText(m regress.MeanOf) string {
	if math.IsNaN(m.Low) {
		return words.Plain(m.Mean)
	}
	return words.Value(m.Mean, m.Low, m.High)
}

func (j *reductionJob) printAnswers(s *seriesSaid) {
	t := document.Table{ID: j.ask.ID + "-answers", Caption: "What the first fitting said; " + s.from.words(), Columns: []document.TableColumn{{Head: "First fitting", Wide: true},
		{Head: "Sockets", Align: document.Right}, {Head: "Mean reduction, %", Align: document.Right}, {Head: percentOf(j.ask.Confidence) + " interval", Align: document.Right}}}
	mask := j.answerMask(s)
	for k, a := range s.answers {
		row := []string{map[string]string{"as it was": "Accepted as it was", "adjusted": "Accepted once adjusted", "not accepted": "Not accepted", "not known": "No check fitting recorded, or not what it said"}[a.answer], j.cell(len(a.models)), "", ""}
		row[2], row[3] = meanCells(a.reduced, len(a.models))
		if mask[k] {
			row[1], row[2], row[3] = j.hiddenCell(len(a.models)), "hidden", "hidden"
		}
		t.Rows = append(t.Rows, row)
	}
	j.print(t)
}

func (j *reductionJob) printShares(s *seriesSaid) {
	if len(s.shares) == 0 || j.public() && len(s.shares) < 2 {
		return
	}
	t := document.Table{ID: j.ask.ID + "-shares", Caption: "First-time fit by mean reduction; " + s.from.words(), Columns: []document.TableColumn{{Head: "Mean reduction, %", Wide: true},
		{Head: "Sockets", Align: document.Right}, {Head: "Fitted the first time", Align: document.Right}, {Head: "Share", Align: document.Right}, {Head: percentOf(j.ask.Confidence) + " interval", Align: document.Right}}}
	for _, b := range s.shares {
		where := words.Fixed(b.from, 1) + " to " + words.Fixed(b.to, 1)
		if j.public() {
			where = "about " + words.Fixed(b.mean, 1)
		}
		row := []string{where, j.cell(b.Rows), "hidden", "hidden", "hidden"}
		if !j.few(b.Events, b.Rows) {
			row[2], row[3], row[4] = words.Fixed(float64(b.Events), 0), words.PercentWithin(b.Share, b.Low, b.High), words.PercentRange(b.Low, b.High)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"Each stretch holds as many sockets as equal reductions allow. First-time fit: the first check fitting was accepted, as it was or adjusted, and no further check socket was made."}
	j.print(t)
}

func (j *reductionJob) printActions(s *seriesSaid) {
	if len(s.actions) == 0 {
		return
	}
	t := document.Table{ID: j.ask.ID + "-actions", Caption: "What was done at the first fitting; " + s.from.words(), Columns: []document.TableColumn{{Head: "Action", Wide: true},
		{Head: "As it was", Align: document.Right}, {Head: "Adjusted", Align: document.Right}, {Head: "Not accepted", Align: document.Right}}}
	mask := j.actionMask(s)
	for k, a := range s.actions {
		if k == 10 {
			t.Notes = append(t.Notes, "Rarer actions are in the tables of numbers.")
			break
		}
		row := []string{words.Capital(a.action)}
		for c, n := range a.counts {
			if mask[k][c] {
				row = append(row, j.hiddenCell(n))
			} else {
				row = append(row, j.cell(n))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = append(t.Notes, "A fitting can have several actions, and counts once for each.")
	j.print(t)
}
