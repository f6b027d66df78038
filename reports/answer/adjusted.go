package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// standard is the rows of a model with the column of `by` set to each of its
// categories in turn, the reference first.
type standard struct {
	names  []string
	rows   []int // as they are, in each
	groups [][][]float64
}

// standardRows makes the groups that `adjusted` averages over.
func (w *work) standardRows(d *design.Design) (*standard, error) {
	k := slices.Index(d.TermNames, w.ask.By)
	if k < 0 || len(d.Cats[k]) == 0 {
		return nil, w.at("by", w.ask.By, notebook.CodeImpossible, "adjusted values are of categories, and %s is a number; list it in factors, or ask for profiles", w.ask.By)
	}
	s := &standard{names: d.Cats[k], rows: d.Counts[k]}
	for c, name := range s.names {
		if s.rows[c] < 5 {
			one, many := w.nouns()
			w.caution("small-group", "The group %s has only %s.", w.display(name), w.n(s.rows[c], one, many))
		}
		x := make([][]float64, len(d.X))
		copy(x, d.X)
		for j, col := range d.Columns {
			if col.Term != w.ask.By {
				continue
			}
			x[j] = make([]float64, len(d.Rows))
			if col.Category == name {
				for r := range x[j] {
					x[j][r] = 1
				}
			}
		}
		if err := w.productColumns(x, d); err != nil {
			return nil, err
		}
		s.groups = append(s.groups, x)
	}
	return s, nil
}

// productColumns works out the product columns of whole rows anew.
func (w *work) productColumns(x [][]float64, d *design.Design) error {
	for _, pair := range w.ask.Interact {
		cols, k := d.ColumnsOf(pair[0]+" × "+pair[1]), 0
		for _, a := range d.ColumnsOf(pair[0]) {
			for _, b := range d.ColumnsOf(pair[1]) {
				if k >= len(cols) {
					return fmt.Errorf("the product of %s and %s lacks columns", pair[0], pair[1])
				}
				p := make([]float64, len(d.Rows))
				for r := range p {
					p[r] = x[a][r] * x[b][r]
				}
				x[cols[k]] = p
				k++
			}
		}
	}
	return nil
}

func adjustedTable() *Table {
	return tableOf("adjusted", text("group"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("df", ""),
		number("low", ""), number("high", ""), number("p", ""))
}

// coxAdjusted answers `adjusted` of a Cox regression: curves of each group
// averaged over all the rows.
func (w *work) coxAdjusted(fit *coxFitted, d *design.Design, past string) error {
	if !w.ask.Adjusted {
		return nil
	}
	switch {
	case w.ask.Ties == "discrete":
		return w.at("adjusted", "", notebook.CodeImpossible, "adjusted curves cannot be had with discrete ties; use efron or breslow")
	case fit.firth != nil:
		return w.at("adjusted", "", notebook.CodeImpossible, "adjusted curves cannot be had with penalised estimates, which this model needs: no finite estimate fits %s otherwise; leave out adjusted, or group the categories",
			words.List(comparisons(d, fit.separated)))
	}
	s, err := w.standardRows(d)
	if err != nil {
		return err
	}
	o := survival.CurveOptions{Level: w.ask.Confidence}
	last := fit.LastStandard()
	curve, err := fit.Standardise(s.groups, w.standardTimes(fit, last), o)
	if err != nil {
		return err
	}
	t := tableOf("adjusted_curve", text("group"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	spec := figure.CurvesSpec{ID: w.ask.ID + "-adjusted", Title: "Sockets not yet " + past + byWords(w.ask.By) + ", adjusted", Direction: figure.Down,
		ValueAxis: "Sockets not yet " + past + ", adjusted", TimeAxis: w.timeAxis(), Confidence: w.ask.Confidence, NoTable: true, FaintBelow: -1}
	for g, name := range s.names {
		c := figure.Curve{Group: w.display(name)}
		for _, p := range curve {
			x := p.Groups[g]
			t.row(name, p.Time, x.Estimate, when(x.HasBounds, x.StdErr), when(x.HasBounds, x.Low), when(x.HasBounds, x.High))
			step := figure.Step{Time: p.Time, Estimate: x.Estimate, Low: math.NaN(), High: math.NaN(), AtRisk: 1}
			if x.HasBounds {
				step.Low, step.High = x.Low, x.High
			}
			c.Steps = append(c.Steps, step)
		}
		spec.Curves = append(spec.Curves, c)
	}
	w.addTable(t)
	w.Figures = append(w.Figures, figure.Curves(spec))
	times := []float64{table.DaysPerYear}
	if len(w.ask.Times) > 0 {
		times = nil
		for _, at := range sortedTimes(w.ask.Times) {
			times = append(times, at.Days)
		}
	}
	out := adjustedTable()
	print := document.Table{ID: w.ask.ID + "-adjusted", Caption: "Share not yet " + past + ", were all sockets of the one kind", Columns: []document.TableColumn{{Head: words.Capital(w.columnLabel(w.ask.By)), Wide: true}},
		Notes: []string{"In brackets: " + w.confidenceWords() + ". Averaged over the sockets used, each with its own other columns. Differences are in percentage points."}}
	lines := map[string]int{}
	cell := func(group, text string) {
		k, ok := lines[group]
		if !ok {
			k = len(print.Rows)
			lines[group] = k
			print.Rows = append(print.Rows, []string{group})
		}
		print.Rows[k] = append(print.Rows[k], text)
	}
	var parts []string
	for _, at := range times {
		print.Columns = append(print.Columns, document.TableColumn{Head: "At " + words.At(at), Align: document.Right})
		if at > last {
			w.caution("beyond-follow-up", "Nobody was still at risk at %s, so nothing is predicted for that time.", words.At(at))
			for g, name := range s.names {
				out.row(name, at, nil, nil, nil, nil, nil, nil)
				cell(w.display(name), words.NotComputed)
				if g > 0 {
					out.row(name+" - "+s.names[0], at, nil, nil, nil, nil, nil, nil)
					cell(w.display(name)+" − "+w.display(s.names[0]), words.NotComputed)
				}
			}
			continue
		}
		x, err := fit.Standardise(s.groups, []float64{at}, o)
		if err != nil {
			return err
		}
		parts = nil // of the last time that can be said
		for g, name := range s.names {
			q := x[0].Groups[g]
			out.row(name, at, q.Estimate, when(q.HasBounds, q.StdErr), nil, when(q.HasBounds, q.Low), when(q.HasBounds, q.High), nil)
			text := words.Percent(q.Estimate, 100)
			if q.HasBounds {
				text = words.PercentWithin(q.Estimate, q.Low, q.High) + " (" + words.PercentRange(q.Low, q.High) + ")"
			}
			cell(w.display(name), text)
			parts = append(parts, fmt.Sprintf("%s with %s", text, w.display(name)))
		}
		for g, name := range s.names[1:] {
			q := x[0].Differences[g]
			out.row(name+" - "+s.names[0], at, q.Estimate, when(q.HasBounds, q.StdErr), nil, when(q.HasBounds, q.Low), when(q.HasBounds, q.High), when(q.HasBounds, q.P))
			text := words.Signed(100*q.Estimate, 100*q.Low, 100*q.High)
			if q.HasBounds {
				text += " (" + words.Interval(100*q.Low, 100*q.High) + ")"
			}
			cell(w.display(name)+" − "+w.display(s.names[0]), text)
		}
		if len(parts) > 4 {
			parts = parts[:4]
		}
		w.adjustedWords = fmt.Sprintf(" Were all these sockets of the one kind, each with its own other columns, this share would not yet be %s at %s: %s.", past, words.At(at), strings.Join(parts, "; "))
	}
	w.addTable(out)
	w.adjustedPrint = &print
	return nil
}

// standardTimes are those at which adjusted curves are drawn: the days with
// events, at most so many; where small counts are hidden, every quarter of a
// year, which tells of no single day.
func (w *work) standardTimes(fit *coxFitted, last float64) []float64 {
	const most, quarter = 200, table.DaysPerYear / 4
	out := []float64{0}
	if w.ctx.Front.HideBelow > 1 {
		for t := quarter; t <= last; t += quarter {
			out = append(out, t)
		}
		return out
	}
	base, err := fit.Baseline()
	if err != nil {
		return out
	}
	var all []float64
	for _, b := range base {
		for _, p := range b.Points {
			if p.Time > 0 && p.Time <= last {
				all = append(all, p.Time)
			}
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	every := (len(all) + most - 1) / most
	for i, t := range all {
		if every <= 1 || i%every == 0 || i == len(all)-1 {
			out = append(out, t)
		}
	}
	return out
}

// adjustedShown adds what is printed and said of adjusted values.
func (w *work) adjustedShown() {
	if w.adjustedPrint == nil {
		return
	}
	w.print(*w.adjustedPrint)
	w.Reading += w.adjustedWords
	_, many := w.nouns()
	w.Methods += fmt.Sprintf(" Adjusted values are standardised: predicted for all %s used, with each category of %s in turn and all other columns as they are, and averaged; their errors are by the delta method, the %s taken as they are.", many, w.columnLabel(w.ask.By), many)
	w.References = append(w.References, "Makuch RW. Adjusted survival curve estimation using covariates. J Chronic Dis 1982; 35: 437-443.")
}

// linearAdjusted answers `adjusted` of a linear model: means of each group
// averaged over all the rows.
func (w *work) linearAdjusted(fit *regress.Linear, d *design.Design, y *table.Column) error {
	if !w.ask.Adjusted {
		return nil
	}
	s, err := w.standardRows(d)
	if err != nil {
		return err
	}
	one, many := w.nouns()
	out := adjustedTable()
	print := document.Table{ID: w.ask.ID + "-adjusted", Caption: "Mean " + label(y) + inUnit(y.Unit) + ", were all " + many + " of the one kind", Columns: []document.TableColumn{
		{Head: words.Capital(w.columnLabel(w.ask.By)), Wide: true}, {Head: "Mean", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}},
		Notes: []string{fmt.Sprintf("Averaged over the %s used, each with its own other columns. The interval is of the mean, not of one %s.", many, one)}}
	spec := figure.MeansSpec{ID: w.ask.ID + "-adjusted", Title: "Adjusted mean " + label(y) + byWords(w.ask.By), Measure: "Adjusted mean", Unit: y.Unit, By: w.columnLabel(w.ask.By), Rows: many, Confidence: w.ask.Confidence}
	var first []float64
	var parts []string
	for g, name := range s.names {
		c := []float64{1}
		for _, x := range s.groups[g] {
			c = append(c, average(x))
		}
		if g == 0 {
			first = slices.Clone(c)
		}
		q, err := fit.Contrast(c)
		if err != nil {
			return err
		}
		out.row(name, nil, q.Estimate, when(q.Tested, q.SE), when(q.Tested, q.DF), when(q.Tested, q.Low), when(q.Tested, q.High), nil)
		mean, iv := words.Plain(q.Estimate), words.NotComputed
		m := figure.Mean{Name: w.display(name), Estimate: q.Estimate, Low: math.NaN(), High: math.NaN()}
		if q.Tested {
			mean, iv = words.Value(q.Estimate, q.Low, q.High), words.Interval(q.Low, q.High)
			m.Low, m.High = q.Low, q.High
		}
		if !w.hiddenCount(s.rows[g]) {
			m.Rows = s.rows[g]
		}
		spec.Means = append(spec.Means, m)
		print.Rows = append(print.Rows, []string{w.display(name), mean, iv, ""})
		if len(parts) < 4 {
			parts = append(parts, fmt.Sprintf("%s%s with %s (%s)", mean, unitWords(y.Unit), w.display(name), iv))
		}
	}
	for g, name := range s.names[1:] {
		c := []float64{1}
		for _, x := range s.groups[g+1] {
			c = append(c, average(x))
		}
		for j := range c {
			c[j] -= first[j]
		}
		q, err := fit.Contrast(c)
		if err != nil {
			return err
		}
		out.row(name+" - "+s.names[0], nil, q.Estimate, when(q.Tested, q.SE), when(q.Tested, q.DF), when(q.Tested, q.Low), when(q.Tested, q.High), when(q.Tested, q.P))
		row := []string{w.display(name) + " − " + w.display(s.names[0]), words.SignedPlain(q.Estimate), words.NotComputed, words.NotComputed}
		if q.Tested {
			row[1], row[2], row[3] = words.Signed(q.Estimate, q.Low, q.High), words.Interval(q.Low, q.High), words.P(q.P)
		}
		print.Rows = append(print.Rows, row)
	}
	w.addTable(out)
	w.Figures = append(w.Figures, figure.Means(spec))
	w.adjustedPrint = &print
	w.adjustedWords = fmt.Sprintf(" Were all these %s of the one kind, each with its own other columns, the mean %s would be %s.", many, label(y), strings.Join(parts, "; "))
	return nil
}
