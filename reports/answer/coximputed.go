package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/impute"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// coxImputed answers cox with missing values filled in. Nothing is done
// (false) where nothing is missing.
func (w *work) coxImputed(r *coxRows, spec design.Spec) (bool, error) {
	rows, lost := w.rowsWith(r, w.ask.Strata)
	if len(rows) == 0 {
		return false, stats.ErrNoRows
	}
	among, err := w.outcomeOfLives(r, rows)
	if err != nil {
		return false, err
	}
	f, err := w.fill(r.table, rows, spec, among)
	if err != nil {
		return false, err
	}
	if f == nil {
		w.caution("nothing-missing", "No value of the model's columns is missing, so nothing was filled in.")
		return false, nil
	}
	if lost > 0 {
		w.caution("missing", "%s left out because a stratum is not recorded.", words.Capital(w.n(lost, "socket was", "sockets were")))
	}
	fits, d, err := w.coxFits(r, f)
	if err != nil {
		return false, err
	}
	if err := w.tooFew(len(f.rows)); err != nil {
		return false, err
	}
	clustered := fits[0].Robust != nil
	p := &pooledFit{columns: len(d.X)}
	concordance, known := 0.0, true
	// As without clusters: the events less the columns.
	df := math.Max(1, fits[0].Events-float64(len(d.X)))
	for _, fit := range fits {
		p.parts = append(p.parts, func(c []float64) (float64, float64, float64, bool) {
			x, se, err := fit.Contrast(c)
			return x, se * se, df, err == nil && se > 0
		})
		if clustered {
			var v []float64
			for j := range fit.Var {
				v = append(v, fit.Var[j][j])
			}
			p.plain = append(p.plain, v)
		}
		concordance += fit.Concordance.Estimate / float64(len(fits))
		known = known && fit.HasConcordance
	}
	if err := p.pool(); err != nil {
		return false, err
	}
	w.Answer.Rows, w.Events = len(f.rows), int(fits[0].Events)
	w.steps = append(w.steps, cohort.Step{Step: "with missing values filled in", Rows: len(f.rows), Excluded: lost, Reason: "a stratum is not recorded"})
	w.modelCautions(d)
	if w.Events < 10*len(d.X) {
		w.caution("few-events", "%s for %s in the model: fewer than 10 events per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(w.Events, "event", "events")), words.N(len(d.X), "term", "terms"))
	}
	var es []estimate
	for j := range d.X {
		e := p.estimateOf(j, w.ask.Confidence)
		e.column, e.ratio = d.Columns[j], true
		es = append(es, e)
	}
	w.termTable(es, clustered)
	w.coxFitImputed(fits[0], concordance, known)
	w.imputedTables(f, p, es)
	whole := w.coxWhole(r, f, d)
	w.wholeTable(whole)
	w.imputedCautions(f, p, es, whole, distinctOf(r, f.rows))
	w.caution("proportionality", "Whether the ratios stay the same over time is not tested where values are filled in. Ask once more of the rows with every value, or look at the curves of kaplan-meier.")
	k := p.combiner(w.ask.Confidence, 0)
	k.ratio, k.design, k.measure = true, d, "hazard ratio"
	if err := w.compare(k); err != nil {
		return false, err
	}
	w.coxImputedWords(r, f, es, whole, d, concordance, known)
	w.compared(k)
	return true, nil
}

// rowsWith are the rows in which columns are known, and how many are not so.
func (w *work) rowsWith(r *coxRows, columns []string) (rows []int, lost int) {
	for j := range r.time {
		known := true
		for _, n := range columns {
			if c, ok := r.table.Col(n); ok {
				known = known && !c.Missing[j]
			}
		}
		if known {
			rows = append(rows, j)
		} else {
			lost++
		}
	}
	return rows, lost
}

// outcomeOfLives is what the outcome tells of a missing value: whether the
// event was seen, and the cumulative hazard over the time watched; and the
// strata.
func (w *work) outcomeOfLives(r *coxRows, rows []int) ([]impute.Column, error) {
	event, hazard := impute.Column{Name: "event", Kind: impute.Category, Cats: 2}, impute.Column{Name: "hazard"}
	var data survival.Data
	for _, j := range rows {
		seen := 0
		if r.event[j] {
			seen = 1
		}
		event.Cat = append(event.Cat, seen)
		data.Entry, data.Time, data.Cause = append(data.Entry, r.entry[j]), append(data.Time, r.time[j]), append(data.Cause, seen)
	}
	h, err := survival.NelsonAalen(data, survival.CurveOptions{})
	if err != nil {
		return nil, err
	}
	at := func(t float64) float64 {
		k := sort.Search(len(h.Points), func(k int) bool { return h.Points[k].Time > t })
		if k == 0 {
			return 0
		}
		return h.Points[k-1].Estimate
	}
	for _, j := range rows {
		before := 0.0
		if r.entry[j] > 0 {
			before = at(r.entry[j])
		}
		hazard.Num = append(hazard.Num, at(r.time[j])-before)
	}
	out := []impute.Column{event, hazard}
	for _, n := range w.ask.Strata {
		if c, ok := r.table.Col(n); ok {
			col, _, _ := columnToFill(c, rows, true)
			out = append(out, col)
		}
	}
	return out, nil
}

// coxFits fits each completed table.
func (w *work) coxFits(r *coxRows, f *filled) ([]*survival.Cox, *design.Design, error) {
	var fits []*survival.Cox
	var first *design.Design
	for _, t := range f.tables {
		d, err := design.Build(t, indices(t.Rows()), f.spec)
		if err != nil {
			return nil, nil, err
		}
		data := survival.CoxData{X: d.X, Names: d.Names(), Terms: termsOf(d)}
		for _, j := range f.rows {
			data.Entry, data.Time, data.Event = append(data.Entry, r.entry[j]), append(data.Time, r.time[j]), append(data.Event, r.event[j])
			if r.cluster != nil {
				data.Cluster = append(data.Cluster, r.cluster[j])
			}
		}
		w.strata(r.table, f.rows, &data)
		fit, err := survival.FitCox(data, survival.CoxOptions{Ties: tieRules[w.ask.Ties]})
		if err != nil {
			return nil, nil, w.coxError(err, d)
		}
		if first == nil {
			first = d
			w.warnings(fit.Warnings)
		}
		fits = append(fits, fit)
	}
	return fits, first, nil
}

// coxWhole are the estimates of the rows with every value, in the order of
// the design; nil where they have none.
func (w *work) coxWhole(r *coxRows, f *filled, d *design.Design) []estimate {
	whole, err := design.Build(f.table, f.whole, f.spec)
	if err != nil || len(whole.X) != len(d.X) {
		return nil
	}
	data := survival.CoxData{X: whole.X, Names: whole.Names(), Terms: termsOf(whole)}
	for _, j := range whole.Rows {
		data.Entry, data.Time, data.Event = append(data.Entry, r.entry[j]), append(data.Time, r.time[j]), append(data.Event, r.event[j])
		if r.cluster != nil {
			data.Cluster = append(data.Cluster, r.cluster[j])
		}
	}
	w.strata(r.table, whole.Rows, &data)
	fit, err := survival.FitCox(data, survival.CoxOptions{Ties: tieRules[w.ask.Ties]})
	if err != nil {
		return nil
	}
	return coxEstimates(fit, whole, w.ask.Confidence)
}

// distinctOf says whether a person stands in several rows.
func distinctOf(r *coxRows, rows []int) bool {
	if r.cluster == nil {
		return false
	}
	seen := map[int]bool{}
	for _, j := range rows {
		seen[r.cluster[j]] = true
	}
	return len(seen) < len(rows)
}

// coxFitImputed is the table of the fit: what is of one table alone is not
// told.
func (w *work) coxFitImputed(fit *survival.Cox, concordance float64, known bool) {
	none := &coxFitted{Cox: fit}
	before := len(w.Tables)
	w.coxFit(none)
	t := &w.Tables[before]
	for j, c := range t.Columns {
		switch c.Name {
		case "rows", "events", "clusters", "penalty":
		case "concordance":
			t.Rows[0][j] = when(known, concordance)
		default:
			t.Rows[0][j] = nil
		}
	}
}

func (w *work) coxImputedWords(r *coxRows, f *filled, es, whole []estimate, d *design.Design, concordance float64, known bool) {
	ev := r.lives.causes[0]
	w.addForest(es, d, figure.ForestSpec{Measure: "Hazard ratio", LowHint: "lasts longer", HighHint: "ends sooner"})
	parts := w.ratioSentences(es, w.hazardSides(ev))
	rests := fmt.Sprintf("%s of %s with %s, what was missing filled in %s, all terms taken together.", itIs(len(parts), "ratio", "ratios"), w.n(w.Answer.Rows, "socket", "sockets"),
		w.n(w.Events, "event", "events"), words.N(len(f.tables), "time", "times"))
	w.shortOfTerms(parts, rests)
	s := append(parts, rests)
	if known {
		s = append(s, w.concordanceWords(concordance, false))
	}
	w.Reading = strings.Join(append(s, w.hazardLimits()), " ")
	w.print(w.termsPrint(es, "Hazard ratio", true))
	w.wholePrint(f, es, whole, "Hazard ratio")
	w.competingCaution(r.lives, ev)
	w.unknownEndings(r.lives, ev)
	var m strings.Builder
	fmt.Fprintf(&m, "The hazard of being %s was modelled by Cox regression with %s; ties were handled by %s.", ev.past, words.List(termLabels(d)), tieWords[w.ask.Ties])
	if r.clusterName != "" {
		fmt.Fprintf(&m, " Standard errors are robust, from score residuals grouped by %s without a small-sample factor.", r.clusterName)
	}
	if len(w.ask.Strata) > 0 {
		var names []string
		for _, n := range w.ask.Strata {
			names = append(names, w.columnLabel(n))
		}
		fmt.Fprintf(&m, " The baseline hazard was left free in each stratum of %s.", words.List(names))
	}
	m.WriteString(w.imputedMethods(f, "whether the event was seen and the cumulative hazard up to then (Nelson and Aalen)"))
	m.WriteString(" Other endings were censored." + w.datedWords(r.lives))
	if w.ownColumns() {
		m.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	w.Methods = m.String()
	w.References = append(w.References, "White IR, Royston P. Imputing missing covariate values for the Cox model. Stat Med 2009; 28: 1982-1998.",
		"Cox DR. Regression models and life-tables. J R Stat Soc B 1972; 34: 187-220.")
	if w.ask.Ties == "efron" {
		w.References = append(w.References, "Efron B. The efficiency of Cox's likelihood function for censored data. J Am Stat Assoc 1977; 72: 557-565.")
	}
	if r.clusterName != "" {
		w.References = append(w.References, "Lin DY, Wei LJ. The robust inference for the Cox proportional hazards model. J Am Stat Assoc 1989; 84: 1074-1078.")
	}
}
