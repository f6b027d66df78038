package answer

import (
	"errors"
	"strconv"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

var tieRules = map[string]survival.Ties{"efron": survival.Efron, "breslow": survival.Breslow, "discrete": survival.Discrete}

func parseNumber(s string) (float64, error) { return strconv.ParseFloat(strings.TrimSpace(s), 64) }

// cox answers what shortens a socket's life.
func cox(w *work) error {
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	if len(spec.Terms) == 0 {
		return w.at("by", "", notebook.CodeMissingKey, "cox needs at least one column, in by, adjust or varying")
	}
	r, err := w.coxRows(spec)
	if err != nil {
		return err
	}
	if err := w.neverSeen(r); err != nil {
		return err
	}
	if w.ask.Missing == "impute" {
		if done, err := w.coxImputed(r, spec); done || err != nil {
			return err
		}
	}
	d, err := design.Build(r.table, indices(len(r.time)), spec, w.coxAlso()...)
	if err != nil {
		return err
	}
	if r.cut {
		w.spellsMissing(r, d)
	} else {
		w.missingCaution(d)
	}
	if len(d.Rows) == 0 {
		return stats.ErrNoRows
	}
	r.recount(d)
	// From here on rs and ds are rows and design as they are fitted, cut where
	// effects are split.
	rs, ds, split, err := w.splitRows(r, d)
	if err != nil {
		return err
	}
	data, err := w.coxData(rs, ds)
	if err != nil {
		return err
	}
	if err := w.tooFew(w.Answer.Rows); err != nil {
		return err
	}
	w.modelCautions(ds)
	w.repeatability(r.table, r.lastRows(d.Rows), spec.Terms...)
	if w.ask.Ties == "discrete" && data.Cluster != nil {
		data.Cluster, r.clusterName = nil, ""
		w.caution("not-clustered", "With discrete times the errors cannot allow for several sockets of one person. The intervals may be too narrow.")
	}
	strata := w.strata(rs.table, ds.Rows, &data)
	fit, err := w.fitCox(data, rs, ds)
	if err != nil {
		return w.coxError(err, ds)
	}
	w.warnings(fit.Warnings)
	w.smallCategories(d, func(i int) int { return r.subject[i] })
	if w.Events < 10*len(ds.X) {
		w.caution("few-events", "%s for %s in the model: fewer than 10 events per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(w.Events, "event", "events")), words.N(len(ds.X), "term", "terms"))
	}
	es := w.coxEstimated(r, fit, ds, data.Cluster)
	w.termTable(es, fit.Robust != nil)
	w.coxFit(fit)
	if fit.frailty != nil {
		w.frailtyTables(fit)
	}
	w.splitTables(fit, ds, split)
	ph := w.proportionality(fit, r, d)
	k := normalCombiner(fit.Coef, fit.Covariance(), w.ask.Confidence, fit.Clusters == 1)
	k.design, k.measure = ds, "hazard ratio"
	switch {
	case fit.firth != nil:
		err = w.notPenalised(words.List(comparisons(ds, fit.separated)))
	case fit.ridge == nil: // a ridge is compared with nothing, which the notebook sees to
		err = w.compare(k)
	}
	if err != nil {
		return err
	}
	w.coxBaseline(fit.Cox, strata, !r.cut)
	if err := w.coxPredicted(fit, d); err != nil {
		return err
	}
	w.coxWords(r, fit, es, ph, d, ds, w.curvePhrases(k), split)
	w.compared(k)
	if r.lives != nil {
		if err := w.coxAdjusted(fit, d, r.lives.causes[0].past); err != nil {
			return err
		}
	}
	w.adjustedShown()
	if r.lives != nil {
		return w.coxDiagnostics(r, fit, d)
	}
	return nil
}

// coxEstimated are the estimates, with the cautions that their kind needs.
// cluster numbers the clusters of the rows used.
func (w *work) coxEstimated(r *coxRows, fit *coxFitted, d *design.Design, cluster []int) []estimate {
	switch {
	case fit.firth != nil:
		w.penaltyCautions(fit, d, cluster)
		r.clusterName = ""
		return firthEstimates(fit.firth, d)
	case fit.ridge != nil:
		w.ridgeCautions(fit, cluster)
		r.clusterName = ""
		return ridgeEstimates(fit.ridge, d, w.ask.Confidence)
	case fit.frailty != nil:
		w.frailtyCautions(r, fit)
		r.clusterName = ""
	}
	es := coxEstimates(fit.Cox, d, w.ask.Confidence)
	w.noErrors(es)
	return es
}

func (w *work) strata(lt *table.Table, rows []int, data *survival.CoxData) []string {
	if len(w.ask.Strata) == 0 {
		return []string{"all"}
	}
	keys := make([]string, len(rows))
	seen := map[string]bool{}
	var names []string
	for j, r := range rows {
		var parts []string
		for _, s := range w.ask.Strata {
			c, _ := lt.Col(s)
			parts = append(parts, valueText(c, r))
		}
		keys[j] = strings.Join(parts, ", ")
		if !seen[keys[j]] {
			seen[keys[j]] = true
			names = append(names, keys[j])
		}
	}
	sortGroups(names)
	number := map[string]int{}
	for k, n := range names {
		number[n] = k
	}
	for _, k := range keys {
		data.Strata = append(data.Strata, number[k])
	}
	return names
}

func (w *work) coxError(err error, d *design.Design) error {
	var sep *survival.SeparationError
	var col *survival.ColumnsError
	switch {
	case errors.As(err, &sep):
		more := ""
		switch {
		case w.ask.Frailty != "":
			more = "; without `frailty` the estimates are penalised"
		case w.ask.Ties == "discrete":
			more = "; with efron or breslow as ties the estimates can be penalised"
		case w.ask.Penalty == "none":
			more = "; without `penalty: none` the estimates are penalised"
		}
		return w.separationError(sep, d, more)
	case errors.As(err, &col):
		return w.modelError(err, d, "Cox regression", col.Columns)
	}
	return err
}

func coxEstimates(fit *survival.Cox, d *design.Design, level float64) []estimate {
	return normalEstimates(fit.Coef, fit.StdErr(), fit.RobustStdErr(), d, level)
}

func (w *work) coxFit(fit *coxFitted) {
	t := tableOf("fit", count("rows"), count("events"), count("clusters"), number("log_likelihood", ""), number("log_likelihood_null", ""),
		number("aic", ""), number("likelihood_ratio", ""), integer("likelihood_ratio_df"), number("likelihood_ratio_p", ""),
		number("wald", ""), integer("wald_df"), number("wald_p", ""), number("score", ""), integer("score_df"), number("score_p", ""),
		number("robust_score", ""), number("robust_score_p", ""), number("concordance", ""), number("concordance_std_error", ""), text("penalty"),
		number("penalty_size", ""), number("effective_df", ""))
	// The log likelihoods are of the likelihood that was maximised: with a
	// frailty, the marginal one. The AIC is of no penalised likelihood, and the
	// score test is of the plain one alone.
	tested, penalty, size, df := fit.ridge == nil, "none", any(nil), any(nil)
	switch {
	case fit.firth != nil:
		penalty = "firth"
	case fit.ridge != nil:
		penalty, size, df = "ridge", fit.ridge.Size, fit.ridge.DF
	}
	test := func(ok bool, x stats.Test) []any {
		if !ok {
			return []any{nil, nil, nil}
		}
		return []any{x.Statistic, int(x.DF), x.P}
	}
	clusters := any(nil)
	if fit.Robust != nil {
		clusters = fit.Clusters
	}
	row := []any{fit.Rows, w.Events, clusters, fit.LogLik, fit.LogLikNull, when(!fit.penalised(), fit.AIC)}
	row = append(row, test(tested, fit.LikelihoodRatio)...)
	row = append(row, test(tested, fit.Wald)...)
	row = append(row, test(fit.plain(), fit.Score)...)
	t.row(append(row, when(fit.HasRobustScore, fit.RobustScore.Statistic), when(fit.HasRobustScore, fit.RobustScore.P),
		when(fit.HasConcordance, fit.Concordance.Estimate), when(fit.HasConcordance && fit.frailty == nil, fit.Concordance.StdErr), penalty, size, df)...)
	w.addTable(t)
}

// proportionality tests whether the ratios stay the same over time.
func (w *work) proportionality(fit *coxFitted, r *coxRows, d *design.Design) *survival.Proportionality {
	t := tableOf("proportionality", text("term"), number("statistic", ""), integer("df"), number("p", ""))
	defer func() { w.addTable(t) }()
	if fit.penalised() {
		return nil
	}
	test := fit.Proportionality
	if fit.frailty != nil {
		test = fit.frailty.Proportionality
	}
	ph, err := test(survival.SurvivalTime)
	if err != nil {
		if !errors.Is(err, survival.ErrNotDiscrete) {
			w.caution("proportionality", "Whether the ratios stay the same over time could not be tested: the events are too few or too close in time.")
		}
		return nil
	}
	var bad, terms []string
	for _, x := range ph.Terms {
		t.row(x.Name, x.Statistic, int(x.DF), x.P)
		if x.P < 0.05 {
			bad, terms = append(bad, w.columnLabel(x.Name)), append(terms, x.Name)
		}
	}
	t.row("global", ph.Global.Statistic, int(ph.Global.DF), ph.Global.P)
	if len(bad) > 0 {
		clock := "time worn"
		if w.ask.Repeats != "" {
			clock = "time"
		}
		w.caution("non-proportional", "The ratio for %s seems to change with "+clock+" (%s overall), so the single ratio is an average over the time watched.%s",
			words.List(bad), words.PEquals(ph.Global.P), w.wayOut(terms, r, d))
	}
	return ph
}

// coxBaseline is the hazard with all columns 0, and the survival that follows
// from it where they stay so.
func (w *work) coxBaseline(fit *survival.Cox, strata []string, stay bool) {
	t := tableOf("baseline", text("stratum"), number("time", "days"), number("cumulative_hazard", ""), number("survival", ""))
	base, err := fit.Baseline()
	if err == nil && w.ctx.Front.HideBelow <= 1 {
		for _, b := range base {
			for _, p := range b.Points {
				t.row(strata[b.Stratum], p.Time, p.CumulativeHazard, when(stay, p.Survival))
			}
		}
	}
	w.addTable(t)
}

func (w *work) coxPredicted(fit *coxFitted, d *design.Design) error {
	t := tableOf("predicted", text("profile"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	if len(w.ask.Profiles) > 0 && w.ask.Ties == "discrete" {
		return w.at("profiles", "", notebook.CodeImpossible, "profiles cannot be predicted with discrete ties; use efron or breslow")
	}
	if len(w.ask.Profiles) > 0 && fit.firth != nil {
		return w.at("profiles", "", notebook.CodeImpossible, "profiles cannot be predicted with penalised estimates, which this model needs: no finite estimate fits %s otherwise; leave out profiles, or group the categories",
			words.List(comparisons(d, fit.separated)))
	}
	if len(w.ask.Profiles) > 0 && len(w.ask.Strata) > 0 {
		return w.at("profiles", "", notebook.CodeImpossible, "profiles cannot be predicted in a model with strata; leave out strata or profiles")
	}
	for _, p := range w.ask.Profiles {
		x, err := w.profileRow(p, d)
		if err != nil {
			return err
		}
		pred, err := fit.Predict(x, 0, survival.CurveOptions{Level: w.ask.Confidence})
		if err != nil {
			return err
		}
		times := w.ask.Times
		if len(times) == 0 {
			times = []notebook.Duration{{Days: table.DaysPerYear, Text: "1y"}}
		}
		for _, at := range times {
			if at.Days > pred.LastTime {
				w.caution("beyond-follow-up", "Nobody was still at risk at %s, so nothing is predicted for that time.", words.At(at.Days))
				t.row(profileName(p), at.Days, nil, nil, nil, nil)
				continue
			}
			q, _ := pred.At(at.Days)
			q.HasBounds = q.HasBounds && fit.ridge == nil
			t.row(profileName(p), at.Days, q.Survival, when(q.HasBounds, q.StdErr), when(q.HasBounds, q.Low), when(q.HasBounds, q.High))
		}
	}
	w.addTable(t)
	if len(t.Rows) > 0 {
		w.print(w.predictedPrint(t, fit))
	}
	return nil
}

func (w *work) predictedPrint(t *Table, fit *coxFitted) document.Block {
	out := document.Table{ID: w.ask.ID + "-predicted", Caption: "Predicted share not yet with the event", Columns: []document.TableColumn{{Head: "Socket", Wide: true}},
		Notes: []string{"In brackets: " + w.confidenceWords() + ". What is not named has its reference category, or the mean of the rows used. A prediction is for a group of such sockets, not for one."}}
	if fit.ridge != nil {
		out.Notes[0] = "Without intervals, since the estimates are drawn toward no difference by a ridge." + strings.TrimPrefix(out.Notes[0], "In brackets: "+w.confidenceWords()+".")
	}
	if w.ask.Offset != "" {
		out.Notes[0] += " The offset is taken as 0."
	}
	at := map[string]int{} // column by time, row by profile
	for _, r := range t.Rows {
		profile, time := r[0].(string), words.At(r[1].(float64))
		col, ok := at["at "+time]
		if !ok {
			col = len(out.Columns)
			at["at "+time] = col
			out.Columns = append(out.Columns, document.TableColumn{Head: "At " + time, Align: document.Right})
		}
		row, ok := at["for "+profile]
		if !ok {
			row = len(out.Rows)
			at["for "+profile] = row
			out.Rows = append(out.Rows, []string{words.Capital(profile)})
		}
		cell := words.NotComputed
		if e, ok := r[2].(float64); ok {
			cell = words.Percent(e, 100)
			lo, ok1 := r[4].(float64)
			hi, ok2 := r[5].(float64)
			if ok1 && ok2 {
				cell = words.PercentWithin(e, lo, hi) + " (" + words.PercentRange(lo, hi) + ")"
			}
		}
		for len(out.Rows[row]) <= col {
			out.Rows[row] = append(out.Rows[row], "")
		}
		out.Rows[row][col] = cell
	}
	return out
}
