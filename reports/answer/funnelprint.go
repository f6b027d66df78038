package answer

import (
	"fmt"
	"math"

	"plybook/analysis/quality"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// compareUnits judges the units.
func (j *funnelJob) compareUnits() error {
	var in []quality.FunnelUnit
	for _, u := range j.units {
		q := quality.FunnelUnit{Name: u.name, Observed: float64(u.observed), Mean: u.expected}
		for _, i := range u.rows {
			// A stratum in which all rows count, or none, says so for certain.
			q.Chances = append(q.Chances, math.Min(math.Max(j.chance[i], 1e-9), 1-1e-9))
		}
		if q.Chances == nil {
			q.Mean = math.Max(q.Mean, 1e-9)
		}
		in = append(in, q)
	}
	o := quality.FunnelOptions{Auto: j.ask.Overdispersed == nil, Overdispersed: j.ask.Overdispersed != nil && *j.ask.Overdispersed}
	var err error
	j.f, err = quality.CompareUnits(in, o)
	return err
}

// hideUnits settles which units are not shown: those of which too little is
// expected, and where small counts are hidden those that stand for few, with
// further ones until those not shown cannot be worked out from the totals.
func (j *funnelJob) hideUnits() {
	w := j.work
	j.withold = make([]bool, len(j.units))
	few := func(u *unitCount) bool {
		return w.hiddenCount(u.observed) || len(u.rows) > 0 && w.hiddenCount(len(u.rows)-u.observed)
	}
	for k, u := range j.units {
		j.withold[k] = j.f.Units[k].TooFew || few(u)
	}
	if !w.public() {
		return
	}
	for {
		n, yes, no, next := 0, 0, 0, -1
		for k, u := range j.units {
			if j.withold[k] {
				n, yes, no = n+1, yes+u.observed, no+len(u.rows)-u.observed
			} else if next < 0 || u.observed < j.units[next].observed {
				next = k
			}
		}
		if n == 0 || next < 0 || n > 1 && !w.hiddenCount(yes) && (j.expo != nil || !w.hiddenCount(no)) {
			return
		}
		j.withold[next] = true
	}
}

func (j *funnelJob) shown() int {
	n := 0
	for _, h := range j.withold {
		if !h {
			n++
		}
	}
	return n
}

// anyShown refuses a funnel of fewer than two units.
func (j *funnelJob) anyShown() error {
	if j.shown() >= 2 {
		return nil
	}
	what := fmt.Sprintf("fewer than 2 units (%s) have at least %d expected", label(j.unit), quality.LeastOfUnit)
	if j.expo == nil {
		what += " to count and as many not to"
	}
	if j.public() {
		what += ", or may be shown"
	}
	return &notebook.Error{Pos: j.ask.At("by", j.ask.By), Code: "few-expected", Text: what + ", so there is nothing to compare; take more rows or a longer time, or use control-chart for all of them over time"}
}

func (j *funnelJob) funnelCautions() {
	w, f := j.work, j.f
	if n := len(j.units) - j.shown(); n > 0 {
		w.caution("units-not-shown", "%s (%s) %s not shown, with fewer than %d expected%s: so few say nothing of a unit. Their rows count in what is expected of the others.",
			words.Capital(words.N(n, "unit", "units")), label(j.unit), plural(n, "is", "are"), quality.LeastOfUnit, map[bool]string{true: ", or too few to be shown"}[w.public()])
	}
	if len(j.strata) == 0 && len(w.ask.Adjust) == 0 {
		w.caution("not-adjusted", "Nothing is allowed for: a unit that is given harder cases lies higher for that alone. strata, or adjust, compare it with what its own cases lead to expect.")
	}
	switch {
	case f.Widened > 1:
		w.caution("overdispersed", "The units differ %s times as much as chance explains, so something not allowed for differs between them; the limits are widened by that.", words.Fixed(f.Widened, 1))
	case f.HasSpread && f.SpreadP < 0.05:
		why := "as the question says"
		if w.ask.Overdispersed == nil {
			why = fmt.Sprintf("since with fewer than %d units one of them alone would widen them", quality.UnitsForDispersion)
		}
		w.caution("overdispersed", "The units differ more than chance explains, so something not allowed for may differ between them. The limits are not widened, %s.", why)
	}
	if n := j.shown(); n >= 3 {
		w.caution("many-units", "Of %d units that are alike, one or more lie outside the 95%% limits in %s of such funnels by chance alone, outside the 99.8%% limits in %s.", n,
			words.Percent(1-math.Pow(0.95, float64(n)), 10), words.Percent(1-math.Pow(0.998, float64(n)), 100))
	}
	if p, ok := w.table.Col("person"); ok && w.table.Name != "persons" {
		seen, rows := map[string]bool{}, 0
		for _, i := range j.rows {
			if !p.Missing[i] {
				seen[p.Text[i]] = true
				rows++
			}
		}
		if rows > len(seen) {
			_, many := w.nouns()
			w.caution("repeated-persons", "Some persons have several of the %s, which are taken as independent: the limits may be too narrow.", many)
		}
	}
}

func (j *funnelJob) funnelTables() {
	w, f := j.work, j.f
	t := tableOf("units", text("unit"), count("rows"), count("observed"), number("expected", ""), number("ratio", ""), number("lower_95", ""), number("upper_95", ""), number("lower_998", ""), number("upper_998", ""), number("z", ""), text("place"))
	for k, u := range f.Units {
		if j.withold[k] {
			continue
		}
		rows := any(nil)
		if j.expo == nil {
			rows = u.Rows
		}
		e := u.Expected
		t.row(u.Name, rows, int(u.Observed), e, u.Observed/e, u.Lower95/e, u.Upper95/e, u.Lower998/e, u.Upper998/e, u.Z, placeCode(u))
	}
	w.addTable(t)
	t = tableOf("fit", integer("units"), integer("shown"), count("rows"), count("events"), number("share", ""), text("expected_from"), number("concordance", ""), number("dispersion", ""), number("dispersion_p", ""), number("widened", ""))
	share := any(nil)
	if j.expo == nil {
		share = float64(w.Events) / float64(w.Answer.Rows)
	}
	t.row(len(j.units), j.shown(), w.Answer.Rows, w.Events, share, j.how, j.auc, when(f.HasSpread, f.Dispersion), when(f.HasSpread, f.SpreadP), f.Widened)
	w.addTable(t)
	out := document.Table{ID: w.ask.ID + "-units", Caption: words.Capital(label(j.unit)) + ": observed against expected", Columns: []document.TableColumn{
		{Head: words.Capital(label(j.unit)), Wide: true}, {Head: words.Capital(j.rowsHead()), Align: document.Right}, {Head: "Observed", Align: document.Right}, {Head: "Expected", Align: document.Right}, {Head: "Ratio", Align: document.Right}, {Head: "Where it lies"}}}
	for k, u := range f.Units {
		if j.withold[k] {
			continue
		}
		size := words.Fixed(float64(u.Rows), 0)
		if j.expo != nil {
			size = words.Plain(j.units[k].exposure * j.expo.scale)
		}
		out.Rows = append(out.Rows, []string{w.display(u.Name), size, words.Fixed(u.Observed, 0), words.Fixed(u.Expected, 1), words.Fixed(u.Observed/u.Expected, 2), j.placeWords(u)})
	}
	out.Notes = append(out.Notes, "In the order of the names, which is no ranking.")
	w.print(out)
}

func (j *funnelJob) rowsHead() string {
	if j.expo == nil {
		_, many := j.nouns()
		return many
	}
	return map[string]string{exposureMonths: "socket-months", exposureVisits: "visits checked"}[j.ask.Exposure]
}

func placeCode(u quality.FunnelResult) string {
	side := "-below"
	if u.Above {
		side = "-above"
	}
	switch u.Beyond {
	case quality.Act:
		return "act" + side
	case quality.Watch:
		return "watch" + side
	}
	return "within"
}

func (j *funnelJob) placeWords(u quality.FunnelResult) string {
	side, good := "below", j.ask.Better == "lower"
	if u.Above {
		side, good = "above", j.ask.Better == "higher"
	}
	if j.ask.Better != "" {
		side += map[bool]string{true: ", the better side", false: ", the worse side"}[good]
	}
	switch u.Beyond {
	case quality.Act:
		return "outside 99.8% (act): " + side
	case quality.Watch:
		return "outside 95% (watch): " + side
	}
	return "within"
}

// adjusted says whether more than the overall share or rate is expected.
func (j *funnelJob) allowedFor() bool { return len(j.strata) > 0 || len(j.ask.Adjust) > 0 }

func (j *funnelJob) funnelFigure() {
	w, f := j.work, j.f
	_, many := w.nouns()
	what := many
	if n := w.ask.Numerator; !n.All {
		what = w.conditionWords(n.Condition)
	}
	spec := figure.FunnelSpec{ID: w.ask.ID, Title: words.Capital(what) + " by " + label(j.unit)}
	total := float64(w.Events) / math.Max(1, float64(w.Answer.Rows))
	shares := j.expo == nil && !j.allowedFor()
	var least, most float64
	for k, u := range f.Units {
		if j.withold[k] {
			continue
		}
		p := figure.FunnelUnit{Name: w.display(u.Name), Size: u.Expected, Value: u.Observed / u.Expected, Beyond: int(u.Beyond)}
		if shares {
			p.Size, p.Value = float64(u.Rows), u.Observed/float64(u.Rows)
		}
		spec.Units = append(spec.Units, p)
		if least == 0 || p.Size < least {
			least = p.Size
		}
		most = math.Max(most, p.Size)
	}
	least, most = 0.8*least, 1.1*most
	if shares {
		spec.SizeAxis, spec.ValueAxis, spec.Percent, spec.Centre = words.Capital(many), words.Capital(what), true, total
	} else {
		spec.SizeAxis, spec.ValueAxis, spec.Centre = words.Capital(what)+": expected", "Observed against expected", 1
	}
	const steps = 120
	last := -1
	for i := range steps + 1 {
		size := least + (most-least)*float64(i)/steps
		var l quality.FunnelResult
		scale := 0.0
		switch {
		case j.expo != nil:
			l = quality.FunnelLimitsPoisson(size, f.Widened)
			scale = size
		default:
			n := int(math.Round(size))
			if !shares {
				n = int(math.Round(size / total))
			}
			if n < 2 || n == last {
				continue
			}
			last = n
			l = quality.FunnelLimits(n, total, f.Widened)
			size, scale = float64(n), float64(n)
			if !shares {
				size, scale = float64(n)*total, float64(n)*total
			}
		}
		spec.Limits = append(spec.Limits, figure.FunnelLimit{Size: size, Lower95: l.Lower95 / scale, Upper95: l.Upper95 / scale, Lower998: l.Lower998 / scale, Upper998: l.Upper998 / scale})
	}
	if !shares && j.expo == nil {
		spec.Note = "Lines: limits for the average case. Each unit is judged by its own cases."
	}
	w.Figures = append(w.Figures, figure.Funnel(spec))
}

func (j *funnelJob) funnelRead() {
	w, f := j.work, j.f
	one, many := w.nouns()
	var act, watch []string
	for k, u := range f.Units {
		if j.withold[k] {
			continue
		}
		said := fmt.Sprintf("%s (%s, %s expected; %s)", w.display(u.Name), words.Fixed(u.Observed, 0), words.Fixed(u.Expected, 1), map[bool]string{true: "above", false: "below"}[u.Above])
		switch u.Beyond {
		case quality.Act:
			act = append(act, said)
		case quality.Watch:
			watch = append(watch, said)
		}
	}
	var level string
	switch n := w.ask.Numerator; {
	case j.expo == nil:
		level = fmt.Sprintf("Of %s, %s had %s.", w.n(w.Answer.Rows, one, many), words.Percent(float64(w.Events)/float64(w.Answer.Rows), w.Answer.Rows), w.conditionWords(n.Condition))
	case n.All:
		level = fmt.Sprintf("There were %s.", w.n(w.Events, one, many))
	default:
		level = fmt.Sprintf("There were %s with %s.", w.n(w.Events, one, many), w.conditionWords(n.Condition))
	}
	judged := fmt.Sprintf(" Against %s, %s (%s)", j.how, words.N(j.shown(), "unit", "units"), label(j.unit))
	switch {
	case len(act) > 0:
		level += judged + fmt.Sprintf(" were judged: outside the 99.8%% limits, where it is time to look why, %s %s.", plural(len(act), "lies", "lie"), words.List(act))
	case len(watch) > 0:
		level += judged + " were judged, and none lies outside the 99.8% limits."
	default:
		level += judged + " were judged, and none lies outside the limits: they differ no more than chance would make them."
	}
	if len(watch) > 0 {
		level += fmt.Sprintf(" To be watched, outside the 95%% limits: %s.", words.List(watch))
	}
	w.Reading = level
	dist := "the binomial distribution"
	switch {
	case j.expo != nil:
		dist = "the Poisson distribution"
	case j.allowedFor():
		dist = "the distribution of a sum of trials of unequal chances"
	}
	w.Methods = fmt.Sprintf("Units (%s) were compared with %s, in a funnel with exact limits of 95%% (watch) and 99.8%% (act) from %s. Units with fewer than %d expected are not shown.", label(j.unit), j.how, dist, quality.LeastOfUnit)
	if f.Widened > 1 {
		w.Methods += fmt.Sprintf(" The limits were widened by %s, the root of the mean squared z with the outer tenths drawn in.", words.Fixed(f.Widened, 2))
	}
	if j.expo != nil {
		w.Methods += j.exposureWords()
	}
	w.References = append(w.References, "Spiegelhalter DJ. Funnel plots for comparing institutional performance. Statistics in Medicine 2005; 24: 1185-1202.",
		"Spiegelhalter DJ. Handling over-dispersion of performance indicators. Quality and Safety in Health Care 2005; 14: 347-351.")
}
