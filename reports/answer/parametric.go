package answer

import (
	"fmt"
	"math"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/figure"
	"plybook/reports/notebook"
)

// parametricWork is a parametric answer in the making.
type parametricWork struct {
	*work
	*spans
	design  *design.Design
	data    survival.ParametricData
	fit     *survival.Parametric
	others  map[survival.Distribution]*survival.Parametric // all that could be fitted, fit among them
	cluster string                                         // what groups the errors; empty: nothing
	es      []estimate                                     // the constant first, then the columns, then log scale and the shape
	ratios  []estimate                                     // hazard ratios; none where hazards are not proportional
	groups  []modelGroup
	asked   []predictedProfile
	held    *curveComparison // what `compare` asks for; nil without
}

// predictedProfile is what the model predicts for one profile.
type predictedProfile struct {
	name      string
	x         []float64
	half      survival.PredictedTime
	quantiles []survival.PredictedTime // by told
	partial   bool                     // some term of the model is left at its reference or mean
	shares    []survival.PredictedShare
}

// parametric answers how long sockets last by a curve with few numbers, and
// how many times as long with one thing as with another.
func parametric(w *work) error {
	s, err := w.parametricLives()
	if err != nil {
		return err
	}
	if s.Len() == 0 {
		return stats.ErrNoRows
	}
	p := &parametricWork{work: w, spans: s}
	if err := p.build(); err != nil {
		return err
	}
	if p.smallCount(p.Events) {
		// The error of an exponential curve is 1 over the root of their
		// number, and every answer has that curve in its comparison.
		return &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
			Text: fmt.Sprintf("this report hides counts below %d, and there are fewer events: the numbers of a fitted curve would tell how many; ask of more rows, use kaplan-meier, or answer this in a report for the lab alone", w.ctx.Front.HideBelow)}
	}
	if err := p.fitAll(); err != nil {
		return err
	}
	p.es, p.ratios = p.estimates()
	w.termTable(p.es, p.fit.Robust != nil)
	p.fitTable()
	p.ratioTable()
	if p.tellsNested() {
		p.nestedTable()
	}
	k := p.combiner()
	if err := p.compare(k); err != nil {
		return err
	}
	if err := p.predict(); err != nil {
		return err
	}
	if err := p.groupCurves(); err != nil {
		return err
	}
	if err := p.compareCurves(); err != nil {
		return err
	}
	p.cautions()
	w.Figures = append(w.Figures, p.curvesFigure())
	if p.held != nil && p.held.last > 0 { // else nothing of what was seen may be shown
		w.Figures = append(w.Figures, p.comparedFigure())
	}
	if len(p.ask.Profiles) > 0 {
		f, err := p.predictedFigure()
		if err != nil {
			return err
		}
		w.Figures = append(w.Figures, f)
	}
	if terms := whole(p.terms()); len(terms) > 0 {
		f := w.forest(terms, p.design, figure.ForestSpec{Measure: "Ratio of times", LowHint: "ends sooner", HighHint: "lasts longer"})
		f.ID += "-ratios"
		w.Figures = append(w.Figures, f)
	}
	w.Reading = p.reading()
	p.prints()
	p.methods()
	p.compared(k)
	return nil
}

// combiner combines the coefficients of the columns.
func (p *parametricWork) combiner() combiner {
	n := len(p.design.Columns)
	all := p.fit.Var
	if p.fit.Robust != nil {
		all = p.fit.Robust
	}
	cov := make([][]float64, n)
	for i := range cov {
		cov[i] = all[1+i][1 : 1+n]
	}
	k := normalCombiner(p.fit.Coef[1:1+n], cov, p.ask.Confidence, p.lone())
	k.design, k.measure = p.design, "ratio of times"
	return k
}

// build makes the columns of the model; there may be none.
func (p *parametricWork) build() error {
	spec, err := p.designSpec()
	if err != nil {
		return err
	}
	keyOf := map[string]string{}
	for _, n := range spec.Terms {
		keyOf[n] = "adjust"
		if n == p.ask.By {
			keyOf[n] = "by"
		}
	}
	lt, err := p.lifeTable(p.lives, keyOf)
	if err != nil {
		return err
	}
	if p.design, err = design.Build(lt, indices(p.Len()), spec); err != nil {
		return err
	}
	p.missingCaution(p.design)
	if len(p.design.Rows) == 0 {
		return stats.ErrNoRows
	}
	cluster, name, err := p.clusters(p.lives)
	if err != nil {
		return err
	}
	p.cluster, p.data = name, p.parametricData(p.design, cluster)
	p.Answer.Rows, p.Events = len(p.design.Rows), 0
	for _, j := range p.design.Rows {
		if p.Cause[j] > 0 {
			p.Events++
		}
	}
	return nil
}

// fitAll fits the distribution asked for, and the others to the same rows so
// that they can be compared; those that cannot be fitted are left out.
func (p *parametricWork) fitAll() error {
	var err error
	asked := distributions[p.ask.Method]
	if p.fit, err = survival.FitParametric(p.data, survival.ParametricOptions{Distribution: asked, Zero: halfDay}); err != nil {
		return p.parametricError(err, p.design)
	}
	p.others = map[survival.Distribution]*survival.Parametric{asked: p.fit}
	plain := p.data
	plain.Cluster = nil
	for _, d := range survival.Distributions() {
		if d == asked {
			continue
		}
		if f, err := survival.FitParametric(plain, survival.ParametricOptions{Distribution: d, Zero: halfDay}); err == nil {
			p.others[d] = f
		}
	}
	return nil
}

// lone says that all rows belong to one cluster, so that no error can be
// grouped by it: the scores add up to 0.
func (p *parametricWork) lone() bool { return p.fit.Clusters == 1 }

// best is the distribution of the least AIC; the one asked for where equal.
func (p *parametricWork) best() *survival.Parametric {
	best := p.fit
	for _, d := range survival.Distributions() {
		if f := p.others[d]; f != nil && f.AIC < best.AIC {
			best = f
		}
	}
	return best
}

// estimates are the rows of the table of terms, and the hazard ratios.
func (p *parametricWork) estimates() (terms, ratios []estimate) {
	z := stats.NormalQuantile(0.5 + p.ask.Confidence/2)
	se, robust := p.fit.StdErr(), p.fit.RobustStdErr()
	make1 := func(value, se, robust float64) estimate {
		e := estimate{value: value, stdErr: se, robust: robust, df: math.NaN()}
		use := se
		if p.fit.Robust != nil {
			use = robust
		}
		e.low, e.high = value-z*use, value+z*use
		if use > 0 && !p.lone() {
			e.stat = value / use
			e.p = stats.NormalP(e.stat)
		} else {
			e.noInterval, e.low, e.high, e.stat, e.p = true, math.NaN(), math.NaN(), math.NaN(), math.NaN()
		}
		return e
	}
	at := func(j int) (float64, float64) {
		if robust == nil {
			return se[j], math.NaN()
		}
		return se[j], robust[j]
	}
	for j, b := range p.fit.Coef {
		s, r := at(j)
		e := make1(b, s, r)
		if j == 0 {
			e.intercept = true
		} else {
			e.column, e.ratio = p.design.Columns[j-1], true
		}
		terms = append(terms, e)
	}
	if !p.fit.Distribution.FixedScale() {
		s, r := at(len(p.fit.Coef))
		e := make1(p.fit.LogScale, s, r)
		e.column = design.Column{Term: "log_scale", Label: "log scale"}
		terms = append(terms, e)
	}
	if p.fit.Distribution.Shaped() {
		s, r := at(len(p.fit.Coef) + 1)
		e := make1(p.fit.Shape, s, r)
		e.column = design.Column{Term: "shape", Label: "shape"}
		terms = append(terms, e)
	}
	hr, _ := p.fit.HazardRatio()
	for j, x := range hr {
		e := make1(x.Estimate, x.StdErr, x.StdErr)
		e.column, e.ratio = p.design.Columns[j], true
		ratios = append(ratios, e)
	}
	return terms, ratios
}

// terms are the estimates of the columns alone.
func (p *parametricWork) terms() []estimate { return p.es[1 : 1+len(p.design.Columns)] }

// fitTable has a row for each distribution, the one asked for first.
func (p *parametricWork) fitTable() {
	t := tableOf("fit", text("distribution"), count("rows"), count("events"), count("clusters"), integer("parameters"), number("scale", ""), number("shape", ""),
		number("log_likelihood", ""), number("log_likelihood_null", ""), number("aic", ""), number("aic_above_best", ""), number("bic", ""),
		number("likelihood_ratio", ""), integer("likelihood_ratio_df"), number("likelihood_ratio_p", ""))
	least := p.best().AIC
	clusters := any(nil)
	if p.fit.Robust != nil {
		clusters = p.fit.Clusters
	}
	for _, d := range p.order() {
		f := p.others[d]
		if f == nil {
			t.row(d.String(), p.Answer.Rows, p.Events, clusters, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil)
			continue
		}
		lr := f.LikelihoodRatio
		tested := lr.DF > 0
		df := any(nil)
		if tested {
			df = int(lr.DF)
		}
		t.row(d.String(), p.Answer.Rows, p.Events, clusters, f.Parameters, f.Scale, when(d.Shaped(), f.Shape), f.LogLik, f.LogLikNull, f.AIC, f.AIC-least, f.BIC,
			when(tested, lr.Statistic), df, when(tested, lr.P))
	}
	p.addTable(t)
}

// order is the distribution asked for, then the others.
func (p *parametricWork) order() []survival.Distribution {
	out := []survival.Distribution{p.fit.Distribution}
	for _, d := range survival.Distributions() {
		if d != p.fit.Distribution {
			out = append(out, d)
		}
	}
	return out
}

// ratioTable has the hazard ratios, where they stay the same over time.
func (p *parametricWork) ratioTable() {
	if !p.fit.Distribution.Proportional() {
		return
	}
	t := tableOf("hazard_ratios", text("term"), text("category"), text("reference"), number("estimate", ""), number("std_error", ""),
		number("ratio", ""), number("low", ""), number("high", ""))
	for _, e := range p.ratios {
		t.row(e.column.Term, orNil(e.column.Category), orNil(e.column.Reference), e.value, e.robust, math.Exp(e.value), math.Exp(e.low), math.Exp(e.high))
	}
	p.addTable(t)
}

// lateCount counts the rows that came under observation late.
func (p *parametricWork) lateCount() int { return p.fit.Late }
