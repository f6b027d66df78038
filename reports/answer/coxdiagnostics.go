package answer

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

const (
	// mostFigures is how many columns are drawn each on its own.
	mostFigures = 6
	// mostListed is how many rows are listed that sway a model most.
	mostListed = 10
	// sways is from how many standard errors on a row by itself decides too
	// much of an estimate. Common practice, no source.
	sways = 1.0
)

// coxDiagnostics answers `diagnostics` of a Cox regression: the effects over
// time, the shape of numbers, the sockets that sway it, and how well it
// predicts.
func (w *work) coxDiagnostics(r *coxRows, fit *coxFitted, d *design.Design) error {
	if !w.ask.Diagnostics {
		return nil
	}
	switch {
	case w.ask.Ties == "discrete":
		return w.at("diagnostics", "", notebook.CodeImpossible, "diagnostics cannot be had with discrete ties; use efron or breslow")
	case fit.firth != nil:
		return w.at("diagnostics", "", notebook.CodeImpossible, "diagnostics cannot be had with penalised estimates, which this model needs: no finite estimate fits %s otherwise; leave out diagnostics, or group the categories",
			words.List(comparisons(d, fit.separated)))
	}
	res, err := fit.Residuals()
	if err != nil {
		return err
	}
	if err := w.effectsOverTime(fit, d); err != nil {
		return err
	}
	w.shapes(d, res.Martingale)
	w.influence(r, fit, d, res.DFBeta)
	if err := w.accuracy(fit); err != nil {
		return err
	}
	w.Methods += " Residuals are those of Schoenfeld, scaled, against time, and martingale residuals against numbers, each with a natural cubic line with knots at the thirds; influence is the approximate change of a coefficient without a socket."
	w.References = append(w.References, "Therneau TM, Grambsch PM, Fleming TR. Martingale-based residuals for survival models. Biometrika 1990; 77: 147-160.")
	return nil
}

// columnName names a column of a design in words.
func columnName(c design.Column) string {
	switch {
	case c.Piece > 0:
		return c.Label + ", " + c.PieceName()
	case c.Category != "" && c.Reference != "":
		return c.Label + " " + c.Category + " against " + c.Reference
	case c.Category != "":
		return c.Label + " " + c.Category
	}
	return c.Label
}

// effectsOverTime is each coefficient as it would be at each time.
func (w *work) effectsOverTime(fit *coxFitted, d *design.Design) error {
	t := tableOf("effect_over_time", text("term"), text("category"), number("time", "days"), number("estimate", ""), number("std_error", ""),
		number("ratio", ""), number("low", ""), number("high", ""))
	defer func() { w.addTable(t) }()
	rs, v, err := fit.ScaledSchoenfeld(survival.SurvivalTime)
	if errors.Is(err, stats.ErrSingular) {
		w.caution("effect-over-time", "Whether the effects change over time cannot be drawn: all events are of one day.")
		return nil
	} else if err != nil {
		return err
	}
	slices.SortStableFunc(rs, func(a, b survival.ScaledResidual) int { return cmp.Compare(a.Time, b.Time) })
	var clock, at, times []float64
	for _, r := range rs {
		clock = append(clock, r.Clock)
	}
	for _, day := range w.drawnTimes(rs) {
		k := 0
		for k+1 < len(rs) && rs[k+1].Time <= day {
			k++
		}
		times, at = append(times, day), append(at, rs[k].Clock)
	}
	z := stats.NormalQuantile(0.5 + w.ask.Confidence/2)
	drawn := 0
	for j, c := range d.Columns {
		y := make([]float64, len(rs))
		for i, r := range rs {
			y[i] = r.Value[j]
		}
		line, leverage, err := design.Smooth(clock, y, at)
		if err != nil {
			w.caution("effect-over-time", "Whether the effects change over time cannot be drawn: the events are too few or too close in time.")
			return nil
		}
		spec := figure.FitSpec{ID: fmt.Sprintf("%s-over-time-%d", w.ask.ID, j+1), Title: "Effect over time: " + columnName(c), XAxis: w.timeAxis(), XDays: true,
			YAxis: "Log hazard ratio, " + columnName(c), LineName: "as it changes", Confidence: w.ask.Confidence,
			Guides: []figure.Guide{{Name: "one for all time", Points: []figure.XY{{X: times[0], Y: fit.Coef[j]}, {X: times[len(times)-1], Y: fit.Coef[j]}}}}}
		for i, b := range line {
			se := math.Sqrt(v[j][j] * leverage[i])
			t.row(c.Term, orNil(c.Category+c.PieceName()), times[i], b, se, math.Exp(b), math.Exp(b-z*se), math.Exp(b+z*se))
			spec.Line = append(spec.Line, figure.BandPoint{X: times[i], Y: b, Low: b - z*se, High: b + z*se})
		}
		if !w.public() {
			for i, r := range rs {
				spec.Points = append(spec.Points, figure.XY{X: r.Time, Y: y[i]})
			}
		}
		if drawn < mostFigures {
			w.Figures = append(w.Figures, figure.Fit(spec))
			drawn++
		}
	}
	return nil
}

// drawnTimes are those at which the effects are worked out: days with events,
// at most so many; quarters of a year where small counts are hidden.
func (w *work) drawnTimes(rs []survival.ScaledResidual) []float64 {
	const most, quarter = 40, table.DaysPerYear / 4
	var out []float64
	last := rs[len(rs)-1].Time
	if w.public() {
		for t := quarter; t <= last; t += quarter {
			out = append(out, t)
		}
		if len(out) > 0 {
			return out
		}
		return []float64{quarter}
	}
	for _, r := range rs {
		if len(out) == 0 || r.Time > out[len(out)-1] {
			out = append(out, r.Time)
		}
	}
	if len(out) <= most {
		return out
	}
	var thin []float64
	for k := range most {
		thin = append(thin, out[k*(len(out)-1)/(most-1)])
	}
	return thin
}

// shapes draws what the model leaves unexplained against each number.
func (w *work) shapes(d *design.Design, martingale []float64) {
	drawn := 0
	for j, c := range d.Columns {
		if c.Category != "" || c.Piece > 1 || d.Term[j] < len(d.TermNames) && len(d.ColumnsOf(c.Term)) > 1 && c.Piece == 0 || drawn == mostFigures {
			continue
		}
		x := d.X[j]
		sorted := slices.Clone(x)
		slices.Sort(sorted)
		edge := 0.0
		if w.public() {
			edge = math.Min(0.1, float64(w.ctx.Front.HideBelow)/float64(len(x)))
		}
		lo, hi := sortedQuantile(sorted, edge), sortedQuantile(sorted, 1-edge)
		var at []float64
		for k := 0; k <= curvePieces; k++ {
			at = append(at, lo+(hi-lo)*float64(k)/curvePieces)
		}
		line, leverage, err := design.Smooth(x, martingale, at)
		if err != nil {
			continue // two values or so: there is no shape to look at
		}
		mean, square := average(martingale), 0.0
		for _, m := range martingale {
			square += (m - mean) * (m - mean) / float64(len(martingale)-1)
		}
		z := stats.NormalQuantile(0.5 + w.ask.Confidence/2)
		spec := figure.FitSpec{ID: w.ask.ID + "-shape-" + fileName(c.Term), Title: "What the model leaves over, by " + c.Label, XAxis: words.Capital(c.Label), XUnit: c.Unit, XDays: c.Unit == "days",
			YAxis: "Events less events expected", LineName: "smoothed", Confidence: w.ask.Confidence,
			Guides: []figure.Guide{{Name: "none left", Points: []figure.XY{{X: lo}, {X: hi}}}}}
		for i, y := range line {
			se := math.Sqrt(square * leverage[i])
			spec.Line = append(spec.Line, figure.BandPoint{X: at[i], Y: y, Low: y - z*se, High: y + z*se})
		}
		if !w.public() {
			for i := range x {
				spec.Points = append(spec.Points, figure.XY{X: x[i], Y: martingale[i]})
			}
		}
		w.Figures = append(w.Figures, figure.Fit(spec))
		drawn++
	}
}

// swayed is how a row moves an estimate.
type swayed struct {
	row, column    int
	change, errors float64
}

// mostSwaying sorts rows by how far each moves any estimate, in its standard
// errors, and keeps the largest.
func mostSwaying(change [][]float64, se []float64) []swayed {
	var all []swayed
	for i, row := range change {
		one := swayed{row: i}
		for j, c := range row {
			if e := c / se[j]; se[j] > 0 && math.Abs(e) > math.Abs(one.errors) {
				one.column, one.change, one.errors = j, c, e
			}
		}
		all = append(all, one)
	}
	slices.SortStableFunc(all, func(a, b swayed) int { return cmp.Compare(math.Abs(b.errors), math.Abs(a.errors)) })
	return all[:min(len(all), mostListed)]
}

// influence lists the sockets that move the estimates most, where single ones
// may be shown.
func (w *work) influence(r *coxRows, fit *coxFitted, d *design.Design, change [][]float64) {
	t := tableOf("influence", text("socket"), text("term"), text("category"), number("change", ""), number("standard_errors", ""))
	defer func() { w.addTable(t) }()
	top := mostSwaying(change, fit.StdErr())
	if len(top) > 0 && math.Abs(top[0].errors) > sways {
		w.caution("influence", "One socket alone moves the ratio for %s by more than its standard error: the answer rests on it. Look whether what is recorded of it is right.", columnName(d.Columns[top[0].column]))
	}
	if !w.ctx.Names.Show || w.ctx.Names.Public {
		w.caution("sockets-hidden", "Which sockets move the estimates most is not listed: this report shows no single sockets.")
		return
	}
	names, ok := r.lives.picked.Col("socket")
	if !ok {
		return
	}
	out := document.Table{ID: w.ask.ID + "-influence", Caption: "The sockets that move the estimates most", Columns: []document.TableColumn{
		{Head: "Socket"}, {Head: "Moves", Wide: true}, {Head: "Log hazard ratio by", Align: document.Right}, {Head: "In standard errors", Align: document.Right}},
		Notes: []string{"About how much higher the estimate is for the socket being there. A socket that moves it much is to be looked at, not to be left out."}}
	for _, s := range top {
		c := d.Columns[s.column]
		name := valueText(names, r.lives.Row[r.subject[d.Rows[s.row]]])
		t.row(name, c.Term, orNil(c.Category+c.PieceName()), s.change, s.errors)
		out.Rows = append(out.Rows, []string{name, columnName(c), words.SignedFixed(s.change, 3), words.SignedFixed(s.errors, 2)})
	}
	w.print(out)
}

// accuracy says how well the model predicts by each of `times`.
func (w *work) accuracy(fit *coxFitted) error {
	t := tableOf("accuracy", number("time", "days"), count("cases"), count("controls"), number("auc", ""), number("brier", ""), number("brier_null", ""))
	defer func() { w.addTable(t) }()
	times := []float64{table.DaysPerYear}
	if len(w.ask.Times) > 0 {
		times = nil
		for _, at := range sortedTimes(w.ask.Times) {
			times = append(times, at.Days)
		}
	}
	out := document.Table{ID: w.ask.ID + "-accuracy", Caption: "How well the model predicts", Columns: []document.TableColumn{
		{Head: "By", Wide: true}, {Head: "Named the right one of two", Align: document.Right}, {Head: "Squared error", Align: document.Right}, {Head: "Of one share for all", Align: document.Right}},
		Notes: []string{"Of two sockets, one with the event by then and one without, how often the model gives the former the higher risk (50% is guessing); and the mean squared error of the predicted share (Brier score). Rows censored before are made up for by weights. Worked out on the sockets that the model was fitted to, which flatters it."}}
	if fit.HasConcordance {
		c := fit.Concordance
		out.Notes = append(out.Notes, fmt.Sprintf("Over all times, the concordance is %s with a standard error of %s.", words.Fixed(c.Estimate, 3), words.Fixed(c.StdErr, 3)))
	}
	var worse []string
	for _, at := range times {
		got, err := fit.Accuracy([]float64{at})
		switch {
		case errors.Is(err, survival.ErrLateEntry):
			w.caution("accuracy", "How well the model predicts is not worked out: some sockets came under observation only some time after delivery, and the chance of not yet being out of sight is not known for them.")
			return nil
		case at >= fit.LastStandard():
			w.caution("beyond-follow-up", "Nobody was still at risk at %s, so nothing is predicted for that time.", words.At(at))
			t.row(at, nil, nil, nil, nil, nil)
			continue
		case err != nil:
			return err
		}
		a := got[0]
		t.row(at, a.Cases, a.Controls, when(a.HasAUC, a.AUC), when(a.HasBrier, a.Brier), when(a.HasBrier, a.BrierNull))
		row := []string{words.Capital(words.At(at)), words.NotComputed, words.NotComputed, words.NotComputed}
		if a.HasAUC {
			row[1] = words.Percent(a.AUC, 50)
		}
		if a.HasBrier {
			row[2], row[3] = words.Fixed(a.Brier, 3), words.Fixed(a.BrierNull, 3)
			if a.Brier >= a.BrierNull {
				worse = append(worse, words.At(at))
			}
		}
		out.Rows = append(out.Rows, row)
	}
	if len(worse) > 0 {
		w.caution("no-better", "By %s the model predicts no better than one share for all sockets.", words.List(worse))
	}
	if len(out.Rows) > 0 {
		w.print(out)
		w.References = append(w.References, "Graf E, Schmoor C, Sauerbrei W, Schumacher M. Assessment and comparison of prognostic classification schemes for survival data. Stat Med 1999; 18: 2529-2545.",
			"Uno H, Cai T, Tian L, Wei LJ. Evaluating prediction rules for t-year survivors with censored regression models. J Am Stat Assoc 2007; 102: 527-537.")
	}
	return nil
}
