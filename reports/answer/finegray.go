package answer

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// fineGray answers what makes the share of sockets that end for one reason
// larger or smaller, the other endings competing.
func fineGray(w *work) error {
	l, err := w.buildLives(true)
	if err != nil {
		return err
	}
	if len(l.Time) == 0 {
		return stats.ErrNoRows
	}
	d, err := w.lifeDesign(l)
	if err != nil {
		return err
	}
	cluster, clusterName, err := w.clusters(l)
	if err != nil {
		return err
	}
	data := survival.FineGrayData{X: d.X, Names: d.Names(), Terms: termsOf(d)}
	endings := make([]int, len(l.causes)+1)
	late := 0
	for _, j := range d.Rows {
		data.Entry, data.Time, data.Cause = append(data.Entry, l.Entry[j]), append(data.Time, l.Time[j]), append(data.Cause, l.Cause[j])
		endings[l.Cause[j]]++
		if l.Entry[j] > 0 {
			late++
		}
		if cluster != nil {
			data.Cluster = append(data.Cluster, cluster[j])
		}
	}
	w.Answer.Rows, w.Events = len(d.Rows), endings[1]
	fit, err := survival.FitFineGray(data, 1, survival.FineGrayOptions{Ties: tieRules[w.ask.Ties]})
	if err != nil {
		return w.fineGrayError(err, d)
	}
	w.warnings(fit.Warnings)
	w.smallCategories(d, func(i int) int { return i })
	if w.Events < 10*len(d.X) {
		w.caution("few-events", "%s for %s in the model: fewer than 10 events per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(w.Events, "event", "events")), words.N(len(d.X), "term", "terms"))
	}
	es := normalEstimates(fit.Coef, fit.StdErr(), fit.RobustStdErr(), d, w.ask.Confidence)
	w.noErrors(es)
	w.termTable(es, true)
	w.fineGrayFit(fit, clusterName != "")
	k := normalCombiner(fit.Coef, fit.Robust, w.ask.Confidence, fit.Clusters == 1)
	k.design, k.measure = d, "subdistribution ratio"
	if err := w.compare(k); err != nil {
		return err
	}
	specific := w.causeSpecific(data, d, clusterName != "")
	predicted, err := w.fineGrayPredicted(fit, d)
	if err != nil {
		return err
	}
	w.unknownCaution(l)
	w.fineGrayCautions(l, fit, es, specific, late)
	w.addForest(es, d, figure.ForestSpec{Measure: "Subdistribution ratio", LowHint: "smaller share", HighHint: "larger share"})
	w.Reading = w.fineGrayReading(l, es, predicted, w.Answer.Rows-w.Events-endings[0], w.curvePhrases(k))
	w.print(w.fineGrayPrint(l, es, specific))
	if len(predicted.Rows) > 0 {
		w.print(w.sharePrint(predicted, l.causes[0].past))
	}
	w.fineGrayMethods(l, d, clusterName, late)
	w.compared(k)
	return nil
}

// lifeDesign is the columns of a model of lives: those of by and adjust, rows
// with a missing value left out.
func (w *work) lifeDesign(l *lives) (*design.Design, error) {
	spec, err := w.designSpec()
	if err != nil {
		return nil, err
	}
	if len(spec.Terms) == 0 {
		return nil, w.at("by", "", notebook.CodeMissingKey, "%s needs at least one column, in by or adjust", w.ask.Method)
	}
	keyOf := map[string]string{}
	for _, n := range spec.Terms {
		keyOf[n] = "adjust"
		if n == w.ask.By {
			keyOf[n] = "by"
		}
	}
	lt, err := w.lifeTable(l, keyOf)
	if err != nil {
		return nil, err
	}
	d, err := design.Build(lt, indices(l.Len()), spec)
	if err != nil {
		return nil, err
	}
	w.missingCaution(d)
	if len(d.Rows) == 0 {
		return nil, stats.ErrNoRows
	}
	w.modelCautions(d)
	w.repeatability(lt, d.Rows, spec.Terms...)
	return d, nil
}

// termsOf are the terms of a design with their columns.
func termsOf(d *design.Design) []survival.Term {
	var out []survival.Term
	for j, k := range d.Term {
		if k == len(out) {
			out = append(out, survival.Term{Name: d.TermNames[k]})
		}
		out[k].Columns = append(out[k].Columns, j)
	}
	return out
}

func (w *work) fineGrayError(err error, d *design.Design) error {
	var sep *survival.SeparationError
	var col *survival.ColumnsError
	var entry *survival.EntryError
	switch {
	case errors.As(err, &sep):
		return w.separationError(sep, d, "; for the hazard of the event itself, cox gives penalised estimates")
	case errors.As(err, &col):
		return w.modelError(err, d, "Fine-Gray regression", col.Columns)
	case errors.Is(err, stats.ErrConvergence):
		return &notebook.Error{Pos: w.ask.Pos, Code: "model",
			Text: "the estimate did not settle: the events are too few for so many columns or categories; leave some out or group them"}
	case errors.As(err, &entry):
		return &notebook.Error{Pos: w.ask.Pos, Code: "late-entry",
			Text: fmt.Sprintf("sockets that came under observation late leave a time (%s) before which nobody was followed on; those that ended otherwise until then cannot be weighted. Ask of sockets delivered since the log began, or of a landmark after that time", words.At(entry.Time))}
	}
	return err
}

// normalEstimates are coefficients with normal intervals, by the robust error
// where there is one.
func normalEstimates(coef, se, robust []float64, d *design.Design, level float64) []estimate {
	z := stats.NormalQuantile(1 - (1-level)/2)
	var es []estimate
	for j := range coef {
		e := estimate{column: d.Columns[j], value: coef[j], stdErr: se[j], robust: math.NaN(), df: math.NaN(), ratio: true}
		use := se[j]
		if robust != nil {
			e.robust, use = robust[j], robust[j]
		}
		e.low, e.high = e.value-z*use, e.value+z*use
		if use > 0 {
			e.stat = e.value / use
			e.p = stats.NormalP(e.stat)
		} else {
			e.noInterval, e.low, e.high, e.stat, e.p = true, math.NaN(), math.NaN(), math.NaN(), math.NaN()
		}
		es = append(es, e)
	}
	return es
}

func (w *work) fineGrayFit(fit *survival.FineGray, clustered bool) {
	t := tableOf("fit", count("rows"), count("events"), count("competing"), count("clusters"), number("log_likelihood", ""), number("log_likelihood_null", ""),
		number("aic", ""), number("likelihood_ratio", ""), integer("likelihood_ratio_df"), number("likelihood_ratio_p", ""),
		number("wald", ""), integer("wald_df"), number("wald_p", ""), number("robust_score", ""), number("robust_score_p", ""))
	clusters := any(nil)
	if clustered {
		clusters = fit.Clusters
	}
	t.row(fit.Rows, int(fit.Events), int(fit.Competing), clusters, fit.LogLik, fit.LogLikNull, fit.AIC,
		fit.LikelihoodRatio.Statistic, int(fit.LikelihoodRatio.DF), fit.LikelihoodRatio.P,
		fit.Wald.Statistic, int(fit.Wald.DF), fit.Wald.P,
		when(fit.HasRobustScore, fit.RobustScore.Statistic), when(fit.HasRobustScore, fit.RobustScore.P))
	w.addTable(t)
}

// causeSpecific is Cox's regression of the same rows and terms, the competing
// endings censored; nil where it has no finite estimate.
func (w *work) causeSpecific(data survival.FineGrayData, d *design.Design, clustered bool) []estimate {
	t := tableOf("cause_specific", termColumns(clustered)...)
	defer func() { w.addTable(t) }()
	c := survival.CoxData{Entry: data.Entry, Time: data.Time, X: data.X, Names: data.Names, Terms: data.Terms, Cluster: data.Cluster}
	for _, k := range data.Cause {
		c.Event = append(c.Event, k == 1)
	}
	fit, err := survival.FitCox(c, survival.CoxOptions{Ties: tieRules[w.ask.Ties]})
	if err != nil {
		w.caution("no-cause-specific", "The hazard ratios among sockets still in use could not be estimated beside these ratios (%s).", plainReason(err))
		return nil
	}
	es := coxEstimates(fit, d, w.ask.Confidence)
	for _, e := range es {
		t.row(termRow(e, clustered)...)
	}
	return es
}

// plainReason is an error without what was being done.
func plainReason(err error) string {
	text := err.Error()
	return strings.TrimPrefix(text, "Cox regression: ")
}

func (w *work) fineGrayPredicted(fit *survival.FineGray, d *design.Design) (*Table, error) {
	t := tableOf("predicted", text("profile"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	times := w.ask.Times
	if len(times) == 0 {
		times = []notebook.Duration{{Days: table.DaysPerYear, Text: "1y"}}
	}
	var days []float64
	for _, at := range times {
		days = append(days, at.Days)
	}
	for _, p := range w.ask.Profiles {
		x, err := w.profileRow(p, d)
		if err != nil {
			return nil, err
		}
		ps, err := fit.PredictIncidence(x, days, survival.CurveOptions{Level: w.ask.Confidence})
		if err != nil {
			return nil, &notebook.Error{Pos: p.Pos, Code: "model", Text: "the profile lies too far from the sockets of the model to predict for it"}
		}
		for _, q := range ps {
			if !q.HasEstimate {
				w.caution("beyond-follow-up", "Nobody was still at risk at %s, so nothing is predicted for that time.", words.At(q.Time))
				t.row(profileName(p), q.Time, nil, nil, nil, nil)
				continue
			}
			t.row(profileName(p), q.Time, q.Estimate, when(q.HasBounds, q.StdErr), when(q.HasBounds, q.Low), when(q.HasBounds, q.High))
		}
	}
	w.addTable(t)
	return t, nil
}

// fineGrayCautions are those that the fit itself raises.
func (w *work) fineGrayCautions(l *lives, fit *survival.FineGray, es, specific []estimate, late int) {
	if fit.Competing == 0 {
		w.caution("no-competing", "No socket ended otherwise, so nothing competes and the ratios are the hazard ratios of cox.")
	}
	if late > 0 && fit.Competing > 0 {
		text := fmt.Sprintf("%s came under observation only some time after delivery. The weights take that to have nothing to do with how long a socket lasts.", words.Capital(w.n(late, "socket", "sockets")))
		if fit.LargestWeight > 10 {
			text += fmt.Sprintf(" A socket that ended otherwise counts for up to %s later on, so few sockets sway the ratios.", words.Count(math.Round(fit.LargestWeight), "socket", "sockets"))
		}
		w.caution("late-entry", "%s", text)
	}
	if fit.RobustWeights != nil {
		for j, se := range fit.RobustStdErr() {
			full := math.Sqrt(fit.RobustWeights[j][j])
			if full > 1.05*se {
				w.caution("weights-uncertain", "The weights of sockets that ended otherwise are uncertain themselves, since few were followed to the end. Were that allowed for, intervals would be up to %s wider.", words.Percent(full/se-1, 100))
				break
			}
		}
	}
	for j, e := range es {
		if e.column.Piece > 0 || j >= len(specific) || e.noInterval || specific[j].noInterval {
			continue
		}
		s := specific[j]
		apart := e.low > 0 && s.value < 0 || e.high < 0 && s.value > 0 || s.low > 0 && e.value < 0 || s.high < 0 && e.value > 0
		if apart {
			w.caution("directions-differ", "%s: the share ever %s and the hazard among sockets still in use point in different ways. What ends sockets otherwise differs too, and leaves fewer or more of them to be %s.",
				words.Capital(comparedIn(e)), l.causes[0].past, l.causes[0].past)
		}
	}
}
