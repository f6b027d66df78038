package answer

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

var scales = map[string]survival.Scale{
	"complementary-log-log": survival.ComplementaryLogLog,
	"log":                   survival.Log,
	"untransformed":         survival.Untransformed,
	"logit":                 survival.Logit,
}

// fitted is a group with its curve, and which times of it may be shown.
type fitted struct {
	group
	curve *survival.Curve
	open  *disclosure
	shown map[float64]bool // of `times`: reached by the curve, and not withheld
}

// kaplanMeier answers how long sockets last.
func kaplanMeier(w *work) error {
	l, err := w.buildLives(false)
	if err != nil {
		return err
	}
	cluster, clusterName, err := w.clusters(l)
	if err != nil {
		return err
	}
	gs, err := w.groups(l, cluster)
	if err != nil {
		return err
	}
	if len(gs) == 0 || len(l.Time) == 0 {
		return stats.ErrNoRows
	}
	if gs, err = w.leaveOutSmall(l, gs); err != nil {
		return err
	}
	o := survival.CurveOptions{Level: w.ask.Confidence, Bounds: scales[w.ask.Bounds]}
	fits := make([]fitted, len(gs))
	last := math.Inf(1)
	for k, g := range gs {
		c, err := survival.KaplanMeier(g.data, o)
		if err != nil {
			return fmt.Errorf("group %s: %w", g.name, err)
		}
		fits[k] = fitted{group: g, curve: c, open: w.disclose(c.Points), shown: map[float64]bool{}}
		last = math.Min(last, c.LastTime)
		w.groupWarnings(g, c.Warnings)
	}
	until := last
	if w.ask.Until != nil {
		until = w.ask.Until.Days
	}
	ev := l.causes[0]
	w.atTimesTable(fits)
	w.curveTable(fits)
	w.quantileTable(fits)
	diffs, err := w.rmstTable(fits, until)
	if err != nil {
		return err
	}
	tests, err := w.survivalTests(fits, clusterName != "")
	if err != nil {
		return err
	}
	w.competingCaution(l, ev)
	w.unknownEndings(l, ev)
	w.notSeenTwice(l, ev)
	if w.Events == 0 {
		w.caution("no-events", "No socket was %s, so the curve stays at 100%% and says only how long the sockets were watched.", ev.past)
	} else if w.Events < 10 {
		w.caution("few-events", "%s: the curve rests on few events and moves much with each.", w.only(w.Events, "socket was "+ev.past, "sockets were "+ev.past))
	}
	for _, f := range fits {
		if tail := tailStart(f.curve, 10); tail >= 0 && f.curve.Rows >= 10 {
			w.tailCaution("Curves are drawn faint where fewer than 10 sockets are at risk: chance rules there.")
			break
		}
	}
	w.Figures = append(w.Figures, w.curvesFigure(fits, ev))
	w.Reading = w.kaplanMeierReading(fits, ev, until, diffs, tests)
	shown := w.survivalPrint(fits, until)
	shown.Notes = append(shown.Notes, w.unseenNote(l, gs))
	w.print(shown)
	w.kaplanMeierMethods(l, ev, clusterName, tests)
	return nil
}

// tailCaution explains faint lines; a report that hides small counts has none.
func (w *work) tailCaution(format string, args ...any) {
	if w.ctx.Front.HideBelow <= 1 {
		w.caution("tail", format, args...)
	}
}

func tailStart(c *survival.Curve, below float64) float64 {
	for _, p := range c.Points[1:] {
		if p.AtRisk < below {
			return p.Time
		}
	}
	return -1
}

var curveColumns = []Column{number("time", "days"), count("at_risk"), count("events"), count("censored"),
	number("estimate", ""), number("std_error", ""), number("low", ""), number("high", "")}

func pointValues(p survival.Point) []any {
	return []any{p.Time, p.AtRisk, p.Events, p.Censored, p.Estimate,
		when(p.HasBounds, p.StdErr), when(p.HasBounds, p.Low), when(p.HasBounds, p.High)}
}

func (w *work) curveTable(fits []fitted) {
	t := tableOf("curve", append([]Column{text("group")}, curveColumns...)...)
	for _, f := range fits {
		for _, p := range f.open.thin(f.curve.Points) {
			t.row(append([]any{f.name}, pointValues(p)...)...)
		}
	}
	w.addTable(t)
}

func (w *work) quantileTable(fits []fitted) {
	qs := w.ask.Quantiles
	if len(qs) == 0 {
		qs = []float64{0.25, 0.5, 0.75}
	}
	t := tableOf("quantiles", text("group"), number("quantile", ""), number("estimate", "days"), number("low", "days"), number("high", "days"))
	for _, f := range fits {
		for _, p := range qs {
			q := f.curve.Quantile(p)
			t.row(f.name, p, when(q.Estimate.OK, q.Estimate.Value), when(q.Low.OK, q.Low.Value), when(q.High.OK, q.High.Value))
		}
	}
	w.addTable(t)
}

func (w *work) atTimesTable(fits []fitted) {
	t := tableOf("at_times", append([]Column{text("group")}, curveColumns...)...)
	withheld := false
	for _, f := range fits {
		for _, at := range sortedTimes(w.ask.Times) {
			p, ok := f.curve.At(at.Days)
			switch {
			case !ok:
				w.caution("beyond-follow-up", "%s: nobody was still at risk at %s, so nothing can be said of that time.", w.groupName(f.name), words.At(at.Days))
				t.row(f.name, at.Days, 0, nil, nil, nil, nil, nil, nil)
			case f.open.allow(at.Days, p.AtRisk):
				f.shown[at.Days] = true
				t.row(append([]any{f.name}, pointValues(p)...)...)
			default:
				withheld = true
				w.withhold(t, 2, []any{f.name, at.Days})
			}
		}
	}
	if withheld {
		w.caution("times-hidden", "%s", w.timesHidden())
	}
	w.addTable(t)
}

// timesHidden says why a share at a time is not given.
func (w *work) timesHidden() string {
	return fmt.Sprintf("Shares are hidden at times up to which, or since the time shown before, fewer than %d sockets ended one way or fewer than that were left: the share would tell the count.", w.ctx.Front.HideBelow)
}

// sortedTimes are the times asked for, in order.
func sortedTimes(in []notebook.Duration) []notebook.Duration {
	out := slices.Clone(in)
	slices.SortStableFunc(out, func(a, b notebook.Duration) int { return cmp.Compare(a.Days, b.Days) })
	return out
}

// withhold appends a row of which only the first cells are shown; the rest
// count as hidden.
func (w *work) withhold(t *Table, from int, cells []any) {
	for j := from; j < len(t.Columns); j++ {
		cells = append(cells, nil)
		w.Hidden = append(w.Hidden, HiddenCell{t.Name, len(t.Rows), t.Columns[j].Name})
	}
	t.Rows = append(t.Rows, cells)
}

// groupName heads a group in print.
func (w *work) groupName(name string) string {
	if name == "all" && w.ask.By == "" {
		return "All together"
	}
	return words.Capital(w.display(name))
}

// display is how a group is called in print: yes and no say nothing without
// the column they belong to, nor do bare numbers.
func (w *work) display(name string) string {
	if w.ask.By == "" {
		return name
	}
	if c, err := w.table.Lookup(w.ask.By); err != nil || c.Kind == table.Number {
		if x, err := parseNumber(name); err == nil {
			return w.numbered(w.ask.By, x)
		}
	}
	what := w.columnLabel(w.ask.By)
	if _, err := parseNumber(name); err == nil {
		return what + " " + name
	}
	switch name {
	case "yes":
		return what
	case "no":
		return "no " + what
	}
	return name
}

// numbered is a group that a number makes.
func (w *work) numbered(column string, x float64) string {
	n := words.Plain(x)
	switch column {
	case "sequence", "number":
		return "socket no. " + n + " of the limb"
	case "fittings":
		return words.Count(x, "check fitting", "check fittings")
	case "age":
		if w.agesGrouped && x == oldest+1 {
			return "age 90 or over"
		}
	}
	return plainName(column) + " " + n
}

func (w *work) rmstTable(fits []fitted, until float64) ([]survival.Difference, error) {
	t := tableOf("rmst", text("group"), number("until", "days"), number("estimate", "days"), number("std_error", "days"),
		number("low", "days"), number("high", "days"), number("p", ""))
	z := stats.NormalQuantile(1 - (1-w.ask.Confidence)/2)
	var diffs []survival.Difference
	ok := make([]bool, len(fits))
	for k, f := range fits {
		if until <= 0 {
			t.row(f.name, until, nil, nil, nil, nil, nil)
			continue
		}
		e, se, err := f.curve.RMST(until)
		if errors.Is(err, survival.ErrBeyondFollowUp) {
			w.caution("beyond-follow-up", "%s: nobody was at risk up to %s, so the mean time in use within it is not given.", w.groupName(f.name), words.At(until))
			t.row(f.name, until, nil, nil, nil, nil, nil)
			continue
		}
		if err != nil {
			return nil, err
		}
		ok[k] = true
		if se > 0 {
			t.row(f.name, until, e, se, math.Max(0, e-z*se), math.Min(until, e+z*se), nil)
		} else {
			t.row(f.name, until, e, nil, nil, nil, nil)
		}
	}
	for a := range fits {
		for b := a + 1; b < len(fits); b++ {
			if !ok[a] || !ok[b] {
				continue
			}
			d, err := survival.RMSTDifference(fits[a].curve, fits[b].curve, until, w.ask.Confidence)
			if err != nil {
				return nil, err
			}
			diffs = append(diffs, d)
			t.row(fits[b].name+" - "+fits[a].name, until, d.Estimate, when(d.HasTest, d.StdErr), when(d.HasTest, d.Low), when(d.HasTest, d.High), when(d.HasTest, d.P))
		}
	}
	w.addTable(t)
	return diffs, nil
}

// survivalTests compares the groups: the log-rank test, and where persons
// repeat the score test that allows for it.
func (w *work) survivalTests(fits []fitted, clustered bool) ([]stats.Test, error) {
	t := tableOf("tests", text("test"), number("statistic", ""), integer("df"), number("p", ""))
	defer func() { w.addTable(t) }()
	if len(fits) < 2 {
		return nil, nil
	}
	var data []survival.Data
	var names []string
	for _, f := range fits {
		data, names = append(data, f.data), append(names, f.name)
	}
	r, err := survival.LogRank(data, names, survival.LogRankOptions{})
	if err != nil {
		if errors.Is(err, survival.ErrNoComparison) || errors.Is(err, stats.ErrNoEvents) {
			w.caution("no-comparison", "The groups could not be compared: no event was seen while more than one group was at risk.")
			return nil, nil
		}
		return nil, err
	}
	out := []stats.Test{r.Test}
	if clustered {
		if s, err := clusteredScore(fits); err == nil {
			out = append(out, s)
			w.caution("test-not-clustered", "The log-rank test takes sockets of one person as independent. The clustered score test beside it does not; read that one.")
		} else {
			w.caution("no-clustered-test", "The log-rank test takes sockets of one person as independent, and the score test that does not could not be computed: too few persons, or a group without events. Read its p-value with care.")
		}
	}
	for _, x := range out {
		t.row(x.Name, x.Statistic, int(x.DF), x.P)
	}
	if len(fits) > 2 {
		w.caution("many-comparisons", "With %d groups there are %d differences to look at; the largest of them looks more striking than it is. The test of all groups together comes first.",
			len(fits), len(fits)*(len(fits)-1)/2)
	}
	return out, nil
}

// clusteredScore is the score test of a Cox model with the groups as terms,
// with grouped score residuals.
func clusteredScore(fits []fitted) (stats.Test, error) {
	var d survival.CoxData
	for k, f := range fits {
		for i := range f.data.Time {
			d.Entry = append(d.Entry, f.data.Entry[i])
			d.Time = append(d.Time, f.data.Time[i])
			d.Event = append(d.Event, f.data.Cause[i] > 0)
			d.Cluster = append(d.Cluster, f.data.Cluster[i])
		}
		if k > 0 {
			d.Names = append(d.Names, f.name)
		}
	}
	for k := 1; k < len(fits); k++ {
		x := make([]float64, 0, len(d.Time))
		for j, f := range fits {
			for range f.data.Time {
				if j == k {
					x = append(x, 1)
				} else {
					x = append(x, 0)
				}
			}
		}
		d.X = append(d.X, x)
	}
	c, err := survival.FitCox(d, survival.CoxOptions{})
	if err != nil {
		return stats.Test{}, err
	}
	if !c.HasRobustScore {
		return stats.Test{}, errors.New("too few persons")
	}
	t := c.RobustScore
	t.Name = "score test grouped by person"
	return t, nil
}

func (w *work) curvesFigure(fits []fitted, ev cause) *figure.Figure {
	spec := figure.CurvesSpec{
		ID: w.ask.ID, Title: "Sockets not yet " + ev.past + byWords(w.ask.By), Direction: figure.Down,
		ValueAxis: "Sockets not yet " + ev.past, TimeAxis: w.timeAxis(), Rows: "sockets",
		EventWord: "events", Confidence: w.ask.Confidence,
	}
	for _, t := range w.ask.Times {
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	for _, f := range fits {
		c := figure.Curve{Steps: figureSteps(f.open.thin(f.curve.Points))}
		if len(fits) > 1 || f.name != "all" {
			c.Group = w.display(f.name)
		}
		spec.Curves = append(spec.Curves, c)
	}
	spec.HideBelow, spec.Sparse = w.ctx.Front.HideBelow, w.public()
	return figure.Curves(spec)
}

// figureSteps are the steps of a curve; the figure itself withholds what
// stands for few.
func figureSteps(points []survival.Point) []figure.Step {
	out := make([]figure.Step, len(points))
	for i, p := range points {
		s := figure.Step{Time: p.Time, Estimate: p.Estimate, Low: math.NaN(), High: math.NaN(),
			AtRisk: int(math.Round(p.AtRisk)), Events: int(math.Round(p.Events)), Censored: int(math.Round(p.Censored))}
		if p.HasBounds {
			s.Low, s.High = p.Low, p.High
		}
		out[i] = s
	}
	return out
}

// byWords says the groups of a figure's title.
func byWords(column string) string {
	if column == "" {
		return ""
	}
	return ", by " + plainName(column)
}

func (w *work) timeAxis() string { return "Time since " + w.timeZero() }

// timeZero is what the clock starts at.
func (w *work) timeZero() string {
	zero := "delivery"
	switch {
	case w.ask.Start != "":
		zero = startWords(w.ask.Start)
	case w.onlyChecks():
		zero = "the first check fitting"
	}
	if w.ask.Landmark != nil {
		return words.At(w.ask.Landmark.Days) + " after " + zero
	}
	return zero
}

// startWords is a date column as the thing that happened then.
func startWords(column string) string {
	switch column {
	case "cast_on":
		return "casting"
	case "delivered":
		return "delivery"
	case "referred":
		return "referral"
	case "ordered":
		return "the order"
	}
	return plainName(column)
}

func (w *work) onlyChecks() bool {
	c, ok := w.table.Col("kind")
	if !ok || len(w.rows) == 0 {
		return false
	}
	for _, i := range w.rows {
		if c.Text[i] != "check" {
			return false
		}
	}
	return true
}

// survivalPrint is the printed table: groups side by side where they are few,
// one under the other where they are many.
func (w *work) survivalPrint(fits []fitted, until float64) document.Table {
	heads := []string{"", "Sockets", "Events", "Half had the event by"}
	for _, at := range w.ask.Times {
		heads = append(heads, "Not yet at "+words.At(at.Days))
	}
	heads = append(heads, "Mean time within "+words.Span(until))
	cells := [][]string{heads}
	for _, f := range fits {
		cells = append(cells, w.survivalCells(f, until))
	}
	t := document.Table{ID: w.ask.ID + "-table", Caption: "Time in use" + byWords(w.ask.By)}
	if len(fits) <= 3 {
		cells = transposed(cells)
	}
	for j, h := range cells[0] {
		c := document.TableColumn{Head: h, Align: document.Right}
		if j == 0 {
			c.Align, c.Wide = document.Left, true
		}
		t.Columns = append(t.Columns, c)
	}
	t.Rows = cells[1:]
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". Mean time within a period: the mean time in use during it."}
	return t
}

func transposed(in [][]string) [][]string {
	out := make([][]string, len(in[0]))
	for j := range out {
		for i := range in {
			out[j] = append(out[j], in[i][j])
		}
	}
	return out
}

func (w *work) survivalCells(f fitted, until float64) []string {
	row := []string{w.groupName(f.name), w.cell(f.curve.Rows), w.cell(int(f.curve.Events)), quantileText(f.curve.Quantile(0.5))}
	for _, at := range w.ask.Times {
		p, ok := f.curve.At(at.Days)
		switch {
		case !ok:
			row = append(row, "no one at risk")
		case !f.shown[at.Days]:
			row = append(row, "hidden")
		case !hasWidth(p):
			row = append(row, words.Percent(p.Estimate, f.curve.Rows))
		default:
			row = append(row, words.Percent(p.Estimate, f.curve.Rows)+" ("+words.PercentRange(p.Low, p.High, f.curve.Rows)+")")
		}
	}
	e, _, err := f.curve.RMST(until)
	if err != nil {
		return append(row, words.NotComputed)
	}
	return append(row, words.Span(e))
}

func quantileText(q survival.Quantile) string {
	if !q.Estimate.OK {
		return "not reached"
	}
	s := words.Span(q.Estimate.Value)
	switch {
	case q.Low.OK && q.High.OK:
		return spanLike(q.Estimate.Value, q.Low.Value, q.High.Value) + " (" + words.SpanRange(q.Low.Value, q.High.Value) + ")"
	case q.Low.OK:
		s += " (from " + words.Span(q.Low.Value) + ")"
	}
	return s
}
