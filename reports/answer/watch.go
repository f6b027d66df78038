package answer

import (
	"errors"
	"fmt"
	"slices"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// watchedBeyond is how many sockets must have been watched for the whole
// window of a landmark for it to be used. Common practice, no source.
const watchedBeyond = 20

// watchWork is a watch in the making.
type watchWork struct {
	*work
	*lives
	spec  design.Spec
	rows  coxRows         // the histories
	stack []cohort.Moment // of landmarks
	now   []cohort.Moment // in use on the last day
	table *table.Table    // a row for each of stack, then of now
	d     *design.Design
	fit   *survival.Landmark
	again *survival.Resampled

	ranked   []watched
	unranked []unranked
	typical  []typical
}

// watchList ranks the sockets in use by their risk of the event in the time
// ahead, by a landmark model, with how far it can be trusted.
func watchList(w *work) error {
	p := &watchWork{work: w}
	w.caution("watch-list", watchText)
	var err error
	if p.spec, err = w.designSpec(); err != nil {
		return err
	}
	if len(p.spec.Terms) == 0 {
		return w.at("adjust", "", notebook.CodeMissingKey, "watch needs at least one column, in adjust or varying")
	}
	if p.lives, err = w.buildLives(true); err != nil {
		return err
	}
	if p.Len() == 0 {
		return stats.ErrNoRows
	}
	if distinct(p.Person) < 2 {
		return w.at("keep", "", "one-person", "all these sockets are of one person, and how far risks can be trusted is told by the differences between persons; keep the sockets of several")
	}
	if err := p.moments(); err != nil {
		return err
	}
	if err := p.build(); err != nil {
		return err
	}
	if err := p.model(); err != nil {
		return err
	}
	if err := w.tooFew(w.Answer.Rows); err != nil {
		return err
	}
	if err := p.rank(); err != nil {
		return err
	}
	if err := p.resample(); err != nil {
		return err
	}
	p.unknownCaution(p.lives)
	p.modelTables()
	k := normalCombiner(p.coef(), p.cov(), w.ask.Confidence, p.fit.Clusters == 1)
	k.design, k.measure = p.d, "hazard ratio"
	if err := w.curveTables(k); err != nil {
		return err
	}
	p.watchCautions()
	p.listed()
	if err := p.calibration(); err != nil {
		return err
	}
	p.scores()
	es := p.estimates()
	p.addForest(es, p.d, figure.ForestSpec{Measure: "Hazard ratio", LowHint: "later", HighHint: "sooner"})
	p.print(p.termsPrint(es, "Hazard ratio", true))
	p.Reading = p.watchReading()
	p.watchMethods()
	w.compared(k)
	return nil
}

// moments lays out the sockets at each landmark and on the last day.
func (p *watchWork) moments() error {
	if err := p.findHistories(&p.rows, p.History); err != nil {
		return err
	}
	hs := p.rows.histories
	p.now = p.Now(hs)
	if len(p.now) == 0 {
		return p.at("keep", "", "none-in-use", "none of the sockets kept was in use on %s, so that there is none to watch", words.Date(p.ctx.Today))
	}
	p.stack = p.Moments(hs, p.ask.Every.Days)
	keyOf := map[string]string{}
	for _, n := range p.spec.Terms {
		if !slices.Contains(p.ask.Varying, n) {
			keyOf[n] = "adjust"
		}
	}
	fixed, err := p.lifeTable(p.lives, keyOf)
	if err != nil {
		return err
	}
	all := append(slices.Clone(p.stack), p.now...)
	of := make([]int, len(all))
	for k, m := range all {
		of[k] = m.Of
	}
	p.table = table.New("sockets", len(all))
	for _, c := range fixed.Columns() {
		if err := p.table.Add(c.Pick(of)); err != nil {
			return err
		}
	}
	for i, h := range hs {
		at := make([]int, len(all))
		for k, m := range all {
			at[k] = m.At[i]
		}
		if err := p.table.Add(h.Column.Pick(at)); err != nil {
			return err
		}
	}
	return nil
}

// build makes the design of the landmarks at which enough sockets were
// watched for the whole window.
func (p *watchWork) build() error {
	beyond := map[float64]int{}
	for k, m := range p.stack {
		whole := true
		for _, c := range p.table.Columns() {
			whole = whole && !c.Missing[k]
		}
		if whole && p.Time[m.Of] >= m.Time+p.ask.Ahead.Days {
			beyond[m.Time]++
		}
	}
	var rows []int
	for k, m := range p.stack {
		if beyond[m.Time] >= watchedBeyond {
			rows = append(rows, k)
		}
	}
	if len(rows) == 0 {
		return p.at("ahead", "", "too-short", "at no time since delivery were %d sockets with every value known watched for %s on, so that nothing can be said of the next %s; ask for less ahead, or leave out columns that are seldom recorded",
			watchedBeyond, words.At(p.ask.Ahead.Days), words.At(p.ask.Ahead.Days))
	}
	var err error
	if p.d, err = design.Build(p.table, rows, p.spec); err != nil {
		return err
	}
	p.rows.table = p.table
	for _, m := range append(slices.Clone(p.stack), p.now...) {
		p.rows.subject = append(p.rows.subject, m.Of)
	}
	p.rows.recount(p.d) // a socket stands at many landmarks
	p.watchMissing(rows)
	p.modelCautions(p.d)
	p.repeatability(p.table, p.d.Rows, p.spec.Terms...)
	return nil
}

// watchMissing says which sockets missing values cost.
func (p *watchWork) watchMissing(rows []int) {
	if p.d.Dropped == 0 {
		return
	}
	all, kept, lost := map[int]bool{}, map[int]bool{}, map[int]bool{}
	for _, k := range rows {
		all[p.stack[k].Of] = true
	}
	used := map[int]bool{}
	for _, k := range p.d.Rows {
		kept[p.stack[k].Of], used[k] = true, true
	}
	by := make([]map[int]bool, len(p.d.Missing))
	for _, k := range rows {
		if used[k] {
			continue
		}
		lost[p.stack[k].Of] = true
		for i, m := range p.d.Missing {
			if c, _ := p.table.Col(m.Column); c.Missing[k] {
				if by[i] == nil {
					by[i] = map[int]bool{}
				}
				by[i][p.stack[k].Of] = true
			}
		}
	}
	gone, part := len(all)-len(kept), 0
	for j := range lost {
		if kept[j] {
			part++
		}
	}
	var lacking, said []string
	for i, m := range p.d.Missing {
		lacking = append(lacking, p.columnLabel(m.Column)+" "+p.cell(len(by[i])))
	}
	switch {
	case p.hiddenCount(gone) || p.hiddenCount(part):
		// Apart, each would follow from the other and the counts by column.
		said = append(said, p.n(len(lost), "socket was", "sockets were")+" left out of the model whole or at some landmarks")
	case gone > 0 && part > 0:
		said = append(said, p.n(gone, "socket was", "sockets were")+" left out of the model whole", p.n(part, "socket was", "sockets were")+" left out at some landmarks")
	case gone > 0:
		said = append(said, p.n(gone, "socket was", "sockets were")+" left out of the model whole")
	default:
		said = append(said, p.n(part, "socket was", "sockets were")+" left out at some landmarks")
	}
	p.caution("missing", "%s, because a value was not yet recorded (%s). The answer holds for all only if what is missing does not depend on the outcome.",
		words.Capital(words.List(said)), joined(lacking))
}

func joined(parts []string) string {
	out := ""
	for i, s := range parts {
		if i > 0 {
			out += ", "
		}
		out += s
	}
	return out
}

// model fits the landmark model.
func (p *watchWork) model() error {
	data := survival.LandmarkData{X: p.d.X, Names: p.d.Names(), Terms: termsOf(p.d)}
	for _, k := range p.d.Rows {
		m := p.stack[k]
		data.Landmark, data.Time = append(data.Landmark, m.Time), append(data.Time, p.Time[m.Of])
		data.Cause = append(data.Cause, min(p.Cause[m.Of], 2))
		data.Life, data.Cluster = append(data.Life, m.Of), append(data.Cluster, p.Person[m.Of])
	}
	fit, err := survival.FitLandmark(data, survival.LandmarkOptions{Ahead: p.ask.Ahead.Days, Level: p.ask.Confidence})
	var few *survival.FewEventsError
	var sep *survival.SeparationError
	var col *survival.ColumnsError
	switch {
	case errors.As(err, &few):
		return &notebook.Error{Pos: p.ask.Pos, Code: "few-events-to-predict", Text: p.tooFewEvents(few)}
	case errors.As(err, &sep):
		return p.separationError(sep, p.d, "; a list for watching needs finite estimates")
	case errors.As(err, &col):
		return p.modelError(err, p.d, "Cox regression", col.Columns)
	case err != nil:
		return err
	}
	p.fit = fit
	p.Answer.Rows, p.Answer.Events = fit.Lives, fit.Events
	p.steps = append(p.steps, cohort.Step{Step: "at a landmark with every value known", Rows: fit.Lives, Excluded: p.Len() - fit.Lives,
		Reason: "not worn and watched at any landmark used, or a value not recorded by then"})
	return nil
}

func (p *watchWork) tooFewEvents(e *survival.FewEventsError) string {
	terms, more := len(p.d.X), ""
	if n := e.Columns - terms; n > 0 {
		more = fmt.Sprintf(" (%d of the question and %d for the time worn)", terms, n)
	}
	most := e.Events/survival.EventsPerColumn - (e.Columns - terms)
	advice := "There are too few for any such model: the log must grow, or the time ahead be longer"
	if most > 0 {
		advice = fmt.Sprintf("Take columns that make %s at most, or a longer time ahead", words.N(most, "coefficient", "coefficients"))
	}
	return fmt.Sprintf("too few events to predict from: %s %s within %s of a landmark, and a model of %s%s needs %d for each. %s",
		p.n(e.Events, "socket was", "sockets were"), p.causes[0].past, words.At(p.ask.Ahead.Days), words.N(e.Columns, "coefficient", "coefficients"), more, survival.EventsPerColumn, advice)
}

// coef and cov are of the columns of the question alone.
func (p *watchWork) coef() []float64 { return p.fit.Event.Coef[:len(p.d.X)] }

func (p *watchWork) cov() [][]float64 {
	v := p.fit.Event.Covariance()
	out := make([][]float64, len(p.d.X))
	for i := range out {
		out[i] = v[i][:len(p.d.X)]
	}
	return out
}

func (p *watchWork) estimates() []estimate {
	n := len(p.d.X)
	return normalEstimates(p.fit.Event.Coef[:n], p.fit.Event.StdErr()[:n], p.fit.Event.RobustStdErr()[:n], p.d, p.ask.Confidence)
}

// resample fits the model anew to samples of persons.
func (p *watchWork) resample() error {
	var of []survival.Subject
	for _, r := range p.ranked {
		of = append(of, survival.Subject{At: r.worn, X: r.x})
	}
	again, err := p.fit.Resample(p.run, p.ask.Resamples, uint64(p.ask.Seed), of)
	if errors.Is(err, stats.ErrConvergence) {
		return &notebook.Error{Pos: p.ask.Pos, Code: "not-settled",
			Text: "fitted anew to samples of the persons the model mostly has no answer, so that its predictions cannot be trusted; use fewer columns, or group rare categories"}
	} else if err != nil {
		return err
	}
	p.again = again
	for i := range p.ranked {
		r := &p.ranked[i]
		r.low, r.high, r.hasBounds = p.fit.Bounds(r.risk, again.RiskErr[i])
	}
	return nil
}

// modelTables are the model itself, for programs.
func (p *watchWork) modelTables() {
	es := p.estimates()
	p.termTable(es, true)
	n := len(p.d.X)
	t := tableOf("time_worn", text("ending"), text("term"), number("estimate", ""), number("robust_std_error", ""))
	for k := range p.fit.TimeColumns {
		t.row("event", p.fit.Event.Names[n+k], p.fit.Event.Coef[n+k], p.fit.Event.RobustStdErr()[n+k])
	}
	competing := tableOf("competing_terms", termColumns(true)...)
	if c := p.fit.Competing; c != nil {
		for k := range p.fit.TimeColumns {
			t.row("competing", c.Names[n+k], c.Coef[n+k], c.RobustStdErr()[n+k])
		}
		for _, e := range normalEstimates(c.Coef[:n], c.StdErr()[:n], c.RobustStdErr()[:n], p.d, p.ask.Confidence) {
			competing.row(termRow(e, true)...)
		}
	}
	p.addTable(t)
	p.addTable(competing)
	f := tableOf("fit", count("rows"), count("sockets"), count("persons"), count("events"), count("competing"), integer("landmarks"),
		number("first_landmark", "days"), number("last_landmark", "days"), number("every", "days"), number("ahead", "days"), integer("columns"),
		flag("competing_has_columns"), integer("resamples"), integer("resamples_failed"), integer("seed"))
	last := len(p.fit.Landmarks) - 1
	f.row(p.fit.Rows, p.fit.Lives, p.fit.Clusters, p.fit.Events, p.fit.Competed, last+1, p.fit.Landmarks[0], p.fit.Landmarks[last], p.ask.Every.Days,
		p.ask.Ahead.Days, n+p.fit.TimeColumns, p.fit.Competing != nil, p.again.Draws, p.again.Failed, p.ask.Seed)
	p.addTable(f)
	b := tableOf("baseline", number("time", "days"), number("hazard", ""), number("competing_hazard", ""))
	if steps, err := p.fit.Baseline(); err == nil && !p.public() {
		for _, s := range steps {
			b.row(s.Time, s.Event, s.Competing)
		}
	}
	p.addTable(b)
}

// aheadWords is the window in words, for labels.
func (p *watchWork) aheadWords() string { return "within " + words.At(p.ask.Ahead.Days) }
