package answer

import (
	"fmt"
	"math"

	"plybook/analysis/agreement"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// measures is what numbers measured again come to.
type measures struct {
	*remeasured
	y      *table.Column
	unit   string // of the differences
	error  *agreement.Error
	limits *agreement.Limits // nil unless there are two ways
	pairs  []agreement.Pair  // as the limits, in the order of the things
	icc    *agreement.ICC    // nil unless three things were read in every way
}

// measured answers how far numbers agree.
func (w *work) measured(y *table.Column, m *remeasured) error {
	ms := &measures{remeasured: m, y: y, unit: y.Unit}
	if w.ask.Percent {
		for _, t := range m.things {
			for _, r := range t {
				if y.Num[r.row] <= 0 {
					return w.at("percent", "yes", "not-positive", "differences in percent are of numbers above 0, and %s is %s in one row", label(y), words.Plain(y.Num[r.row]))
				}
			}
		}
		ms.unit = "%"
	}
	level := w.ask.Confidence
	values := m.readings(y, w.ask.Percent)
	var err error
	if ms.error, err = agreement.FitError(values, level); err != nil {
		return w.agreementError(err, y)
	}
	all := make([]int, len(values))
	for k := range all {
		all[k] = k
	}
	of := func(part func(*agreement.Error) float64) func([]int) float64 {
		return func(pick []int) float64 {
			drawn := make([][]float64, len(pick))
			for i, k := range pick {
				drawn[i] = values[k]
			}
			e, err := agreement.FitError(drawn, level)
			if err != nil {
				return math.NaN()
			}
			return part(e)
		}
	}
	w.resampled(m, &ms.error.SD, all, of(func(e *agreement.Error) float64 { return e.SD.Value }))
	w.resampled(m, &ms.error.Change, all, of(func(e *agreement.Error) float64 { return e.Change.Value }))
	if err := w.pairLimits(ms, values); err != nil {
		return err
	}
	w.correlations(ms)
	w.agreementTables(ms)
	w.agreementCautions(ms)
	w.agreementFigure(ms, values)
	w.agreementPrint(ms)
	w.agreementWords(ms)
	return nil
}

// pairLimits fits the limits of agreement where there are two ways.
func (w *work) pairLimits(ms *measures, values [][]float64) (err error) {
	if len(ms.levels) != 2 {
		return nil
	}
	for k, v := range values {
		cluster := k
		if ms.persons != nil {
			cluster = ms.persons[k]
		}
		ms.pairs = append(ms.pairs, agreement.Pair{First: v[0], Second: v[1], Cluster: cluster})
	}
	if ms.limits, err = agreement.FitLimits(ms.pairs, w.ask.Confidence); err != nil {
		return w.agreementError(err, ms.y)
	}
	if w.ask.Percent { // the mean of the two is 100 in all of them: look at their size as it was
		sized := make([]agreement.Pair, len(ms.pairs))
		for k, p := range ms.pairs {
			m := ms.mean(k)
			sized[k] = agreement.Pair{First: m + (p.First-p.Second)/2, Second: m - (p.First-p.Second)/2, Cluster: p.Cluster}
		}
		if l, err := agreement.FitLimits(sized, w.ask.Confidence); err == nil {
			ms.limits.Slope, ms.limits.SlopeP, ms.limits.Spread, ms.limits.SpreadP = l.Slope, l.SlopeP, l.Spread, l.SpreadP
		}
	}
	return nil
}

// mean is that of the readings of a case, in the unit of the log.
func (ms *measures) mean(k int) float64 {
	m := 0.0
	for _, r := range ms.things[k] {
		m += ms.y.Num[r.row] / float64(len(ms.things[k]))
	}
	return m
}

// correlations fits the intraclass correlations of the things read in every
// way.
func (w *work) correlations(ms *measures) {
	readings, of := ms.complete(func(i int) float64 { return ms.y.Num[i] })
	if len(readings) < 3 {
		return
	}
	icc, err := agreement.FitICC(readings, w.ask.Confidence)
	if err != nil {
		return // every reading is the same: the error said so
	}
	stat := func(part func(*agreement.ICC) *agreement.Estimate) func([]int) float64 {
		return func(pick []int) float64 {
			drawn := make([][]float64, len(pick))
			for i, k := range pick {
				drawn[i] = readings[k]
			}
			c, err := agreement.FitICC(drawn, w.ask.Confidence)
			if err != nil {
				return math.NaN()
			}
			return part(c).Value
		}
	}
	for _, part := range correlationForms {
		w.resampled(ms.remeasured, part.of(icc), of, stat(part.of))
	}
	ms.icc = icc
}

// correlationForms are the forms of the intraclass correlation, as the tables
// name them.
var correlationForms = []struct {
	form, readings string
	print          string
	of             func(*agreement.ICC) *agreement.Estimate
}{
	{"one-way", "one", "One reading, each case in ways of its own (1,1)", func(c *agreement.ICC) *agreement.Estimate { return &c.OneWay }},
	{"agreement", "one", "One reading, any way (2,1)", func(c *agreement.ICC) *agreement.Estimate { return &c.Agreement }},
	{"consistency", "one", "One reading, always the same way (3,1)", func(c *agreement.ICC) *agreement.Estimate { return &c.Consistency }},
	{"one-way", "all", "Mean of all, each case in ways of its own (1,k)", func(c *agreement.ICC) *agreement.Estimate { return &c.OneWayMean }},
	{"agreement", "all", "Mean of all ways (2,k)", func(c *agreement.ICC) *agreement.Estimate { return &c.AgreementMean }},
	{"consistency", "all", "Mean of all, always the same ways (3,k)", func(c *agreement.ICC) *agreement.Estimate { return &c.ConsistencyMean }},
}

// agreementTables puts the numbers at full precision.
func (w *work) agreementTables(ms *measures) {
	fit := tableOf("fit", count("readings"), count("cases"), count("clusters"), integer("ways"),
		number("bias", ms.unit), number("bias_low", ms.unit), number("bias_high", ms.unit), number("sd_of_differences", ms.unit),
		number("lower_limit", ms.unit), number("lower_low", ms.unit), number("lower_high", ms.unit),
		number("upper_limit", ms.unit), number("upper_low", ms.unit), number("upper_high", ms.unit), number("slope", ""), number("slope_p", ""), number("spread", ""), number("spread_p", ""),
		number("error", ms.unit), number("error_low", ms.unit), number("error_high", ms.unit),
		number("smallest_change", ms.unit), number("change_low", ms.unit), number("change_high", ms.unit))
	row := []any{w.Answer.Rows, len(ms.things), when(ms.persons != nil, float64(ms.many)), len(ms.levels)}
	if l := ms.limits; l != nil {
		row = append(row, l.Bias.Value, l.Bias.Low, l.Bias.High, l.SD, l.Lower.Value, l.Lower.Low, l.Lower.High, l.Upper.Value, l.Upper.Low, l.Upper.High, l.Slope, l.SlopeP, l.Spread, l.SpreadP)
	} else {
		row = append(row, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil)
	}
	e := ms.error
	row = append(row, e.SD.Value, e.SD.Low, e.SD.High, e.Change.Value, e.Change.Low, e.Change.High)
	fit.row(row...)
	w.addTable(fit)

	icc := tableOf("correlations", text("form"), text("readings"), count("cases"), number("estimate", ""), number("low", ""), number("high", ""))
	if ms.icc != nil {
		for _, f := range correlationForms {
			v := f.of(ms.icc)
			icc.row(f.form, f.readings, ms.icc.Things, v.Value, v.Low, v.High)
		}
	}
	w.addTable(icc)

	pairs := tableOf("pairs", integer("case"), text("way"), number("value", ms.y.Unit), number("mean", ms.y.Unit), number("difference", ms.unit))
	if w.ctx.Names.Show && !w.public() {
		for k, t := range ms.things {
			mean := ms.mean(k)
			for _, r := range t {
				d := ms.y.Num[r.row] - mean
				if w.ask.Percent {
					d *= 100 / mean
				}
				pairs.row(k+1, ms.levels[r.level], ms.y.Num[r.row], mean, d)
			}
		}
	}
	w.addTable(pairs)
}

// agreementFigure draws differences against size.
func (w *work) agreementFigure(ms *measures, values [][]float64) {
	spec := figure.FitSpec{ID: w.ask.ID, XAxis: words.Capital(label(ms.y)) + ", mean of the readings", XUnit: ms.y.Unit, YUnit: ms.unit, Confidence: w.ask.Confidence}
	lo, hi := math.Inf(1), math.Inf(-1)
	for k := range ms.things {
		m := ms.mean(k)
		lo, hi = math.Min(lo, m), math.Max(hi, m)
	}
	if lo == hi {
		lo, hi = lo-1, hi+1
	}
	across := func(v float64) []figure.XY { return []figure.XY{{X: lo, Y: v}, {X: hi, Y: v}} }
	if l := ms.limits; l != nil {
		spec.Title = "How far two readings differ"
		spec.YAxis = words.Capital(ms.way(0)) + " less " + ms.way(1)
		for k, p := range ms.pairs {
			spec.Points = append(spec.Points, figure.XY{X: ms.mean(k), Y: p.First - p.Second})
		}
		spec.LineName = "mean"
		spec.Line = []figure.BandPoint{{X: lo, Y: l.Bias.Value, Low: l.Bias.Low, High: l.Bias.High}, {X: hi, Y: l.Bias.Value, Low: l.Bias.Low, High: l.Bias.High}}
		spec.Guides = []figure.Guide{{Name: "upper limit", Points: across(l.Upper.Value)}, {Name: "lower limit", Points: across(l.Lower.Value)}}
	} else {
		spec.Title = "How far readings lie from their mean"
		spec.YAxis = "Reading less the mean"
		for k, v := range values {
			m := 0.0
			for _, x := range v {
				m += x / float64(len(v))
			}
			for _, x := range v {
				spec.Points = append(spec.Points, figure.XY{X: ms.mean(k), Y: x - m})
			}
		}
		each := float64(ms.error.Readings) / float64(ms.error.Things)
		edge := ms.error.Change.Value / math.Sqrt2 * math.Sqrt(1-1/each)
		spec.Guides = []figure.Guide{{Name: "upper limit", Points: across(edge)}, {Name: "lower limit", Points: across(-edge)}}
	}
	if w.public() {
		spec.Points = nil // each is of one limb
		if ms.limits == nil {
			return
		}
	}
	w.Figures = append(w.Figures, figure.Fit(spec))
}

// way names a way of measuring in a sentence.
func (ms *measures) way(level int) string { return ms.remeasured.wayName(level) }

func percentOf(share float64) string { return words.AsWritten(math.Round(1000*share)/10) + "%" }

// agreementPrint prints the tables, rounded.
func (w *work) agreementPrint(ms *measures) {
	value := func(e agreement.Estimate) []string {
		if math.IsNaN(e.Low) || math.IsNaN(e.High) {
			return []string{words.Plain(e.Value), words.NotComputed}
		}
		return []string{words.Value(e.Value, e.Low, e.High), words.Interval(e.Low, e.High)}
	}
	unit := ""
	if ms.unit != "" {
		unit = ", " + ms.unit
	}
	level := percentOf(w.ask.Confidence)
	out := document.Table{ID: w.ask.ID + "-fit", Caption: "Measuring " + label(ms.y) + " again", Columns: []document.TableColumn{
		{Head: "What" + unit, Wide: true}, {Head: "Estimate", Align: document.Right}, {Head: level + " interval", Align: document.Right}}}
	add := func(name string, e agreement.Estimate) {
		out.Rows = append(out.Rows, append([]string{name}, value(e)...))
	}
	if l := ms.limits; l != nil {
		add(fmt.Sprintf("Mean difference, %s less %s", ms.way(0), ms.way(1)), l.Bias)
		add("Lower limit of agreement", l.Lower)
		add("Upper limit of agreement", l.Upper)
	}
	add("Measurement error of one reading", ms.error.SD)
	add("Smallest change between two readings that is more than error", ms.error.Change)
	out.Notes = append(out.Notes, fmt.Sprintf("%s, %s.", words.Capital(w.n(w.Answer.Rows, "reading", "readings")), w.n(len(ms.things), "case measured again", "cases measured again")))
	w.print(out)
	if ms.icc == nil {
		return
	}
	c := document.Table{ID: w.ask.ID + "-correlations", Caption: "Intraclass correlations", Columns: []document.TableColumn{
		{Head: "Of", Wide: true}, {Head: "Correlation", Align: document.Right}, {Head: level + " interval", Align: document.Right}}}
	for _, f := range correlationForms {
		v := f.of(ms.icc)
		r := []string{f.print, correlation(v.Value), words.NotComputed}
		if !math.IsNaN(v.Low) && !math.IsNaN(v.High) {
			r[2] = correlation(v.Low) + " to " + correlation(v.High)
		}
		c.Rows = append(c.Rows, r)
	}
	c.Notes = append(c.Notes, fmt.Sprintf("Of %s measured in every way. Numbers in brackets are those of Shrout and Fleiss.", w.n(ms.icc.Things, "case", "cases")))
	w.print(c)
}

// correlation prints a correlation; one is 1.000 only where it is complete.
func correlation(v float64) string {
	switch {
	case math.IsNaN(v):
		return words.NotComputed
	case v < 1 && v > 0.9995:
		return "> 0.999"
	}
	return words.Fixed(v, 3)
}
