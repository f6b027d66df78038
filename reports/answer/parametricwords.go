package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/words"
)

// reading says counts, the time by which half had the event, the ratio of
// times and how the curve compares with the others.
func (p *parametricWork) reading() string {
	ev := p.causes[0]
	s := []string{fmt.Sprintf("Of %s, %s %s %s.", p.n(p.Answer.Rows, "socket", "sockets"), p.countOnly(p.Events), p.agree(p.Events, "was", "were"), ev.past)}
	for k, x := range p.asked {
		if k == 3 {
			s = append(s, "The table gives the others.")
			break
		}
		lead := ""
		if k == 0 {
			lead = "By the " + p.fit.Distribution.String() + " curve, "
		}
		s = append(s, words.Capital(lead+p.profileSentence(x, ev)))
	}
	said := 0
	for _, e := range whole(p.terms()) {
		if said == 3 || said > 0 && p.ask.By != "" && e.column.Term != p.terms()[0].column.Term {
			break
		}
		s = append(s, p.ratioSentence(e, ev))
		said++
	}
	s = append(s, p.curvePhrases(p.combiner())...)
	if t := p.shapeSentence(ev); t != "" {
		s = append(s, t)
	}
	if p.held != nil {
		s = append(s, p.comparedReading())
	} else {
		s = append(s, p.comparison())
	}
	return strings.Join(append(s, notOneSocket), " ")
}

// profileSentence says when half of the sockets of a profile had the event;
// where that lies beyond what was seen, the share at a time that was seen
// comes first.
func (p *parametricWork) profileSentence(x predictedProfile, ev cause) string {
	who := p.nameWords(x)
	if x.half.Time <= p.fit.LastTime {
		return fmt.Sprintf("half %s are %s by %s.", who, ev.past, p.timeWords(x.half))
	}
	for k := len(x.shares) - 1; k >= 0; k-- {
		if q := x.shares[k]; q.Time <= p.fit.LastTime {
			return fmt.Sprintf("%s %s are not yet %s at %s%s; it reaches half beyond the log only.", p.shareOf(q), who, ev.past,
				words.At(q.Time), p.shareInterval(q))
		}
	}
	return fmt.Sprintf("half %s are %s only beyond the log, by %s.", who, ev.past, p.timeWords(x.half))
}

// shareOf prints a predicted share.
func (p *parametricWork) shareOf(q survival.PredictedShare) string {
	if math.IsNaN(q.Low) {
		return words.Percent(q.Survival, p.Answer.Rows)
	}
	return words.PercentWithin(q.Survival, q.Low, q.High)
}

// shareInterval is the interval of a share in brackets, where there is one.
func (p *parametricWork) shareInterval(q survival.PredictedShare) string {
	if math.IsNaN(q.Low) {
		return ""
	}
	return fmt.Sprintf(" (%s %s)", p.confidenceWords(), words.PercentRange(q.Low, q.High))
}

// nameWords says the sockets of a profile after "half".
func (p *parametricWork) nameWords(x predictedProfile) string {
	switch x.name {
	case "all":
		return "of them"
	case "reference":
		return "of such sockets (each column at its reference or mean)"
	}
	out := "of the sockets with " + x.name
	if x.partial {
		out += " (the rest at reference or mean)"
	}
	return out
}

// farTime is beyond what anybody means by an upper end.
const farTime = 100 * table.DaysPerYear

// timeWords is a time with its interval.
func (p *parametricWork) timeWords(q survival.PredictedTime) string {
	switch {
	case q.Time > farTime:
		return "more than 100 years, which is to say that too few events were seen to tell"
	case math.IsNaN(q.Low):
		return words.Span(q.Time)
	case q.High > farTime:
		show := words.TimesFrom(q.Time, q.Low, q.Time)
		return fmt.Sprintf("%s (%s from %s, no upper end of use)", show.Of(q.Time), p.confidenceWords(), show.Of(q.Low))
	}
	return fmt.Sprintf("%s (%s %s)", words.SpanWithin(q.Time, q.Low, q.High), p.confidenceWords(), words.SpanRange(q.Low, q.High))
}

// ratioSentence says one ratio of times in plain words.
func (p *parametricWork) ratioSentence(e estimate, ev cause) string {
	r := math.Exp(e.value)
	who, than := "", ""
	switch c := e.column; {
	case c.Category != "" && c.Reference != "":
		who, than = fmt.Sprintf("Sockets with %s %s last", c.Label, c.Category), fmt.Sprintf("as those with %s", c.Reference)
	case c.Category != "":
		who, than = fmt.Sprintf("For %s %s, sockets last", c.Label, c.Category), "as the other terms alone would say"
	default:
		who, than = fmt.Sprintf("With %s, sockets last", comparedIn(e)), "as without"
	}
	if e.noInterval {
		return fmt.Sprintf("%s %s times as long before being %s %s; the interval was not computed.", who, words.Ratio(r), ev.past, than)
	}
	lo, hi := math.Exp(e.low), math.Exp(e.high)
	end := "."
	if e.low <= 0 && e.high >= 0 {
		end = ", which may be no difference."
	}
	adjusted := ""
	if len(p.design.TermNames) > 1 {
		adjusted = ", the other columns being equal,"
	}
	return fmt.Sprintf("%s%s %s times as long before being %s %s (%s %s)%s", who, adjusted, words.RatioWithin(r, lo, hi), ev.past, than, p.confidenceWords(), words.RatioRange(lo, hi), end)
}

// shapeSentence says how the hazard of a Weibull curve goes with time, or
// which simpler curves a generalised gamma curve may be.
func (p *parametricWork) shapeSentence(ev cause) string {
	if p.fit.Distribution.Shaped() {
		return p.gammaSentence()
	}
	if p.fit.Distribution != survival.WeibullLife || p.lone() {
		return ""
	}
	// The shape is 1/s.
	e := p.es[len(p.es)-1]
	shape, lo, hi := math.Exp(-e.value), math.Exp(-e.high), math.Exp(-e.low)
	if !(lo > 0) || math.IsInf(hi, 1) {
		return ""
	}
	way := "whether the risk of being " + ev.past + " rises or falls with time worn cannot be told"
	switch {
	case lo > 1:
		way = "the risk of being " + ev.past + " rises with time worn"
	case hi < 1:
		way = "the risk of being " + ev.past + " falls with time worn"
	}
	return fmt.Sprintf("%s (shape %s, %s %s; 1 would be a steady risk).", words.Capital(way), words.RatioWithin(shape, lo, hi), p.confidenceWords(), words.RatioRange(lo, hi))
}

// comparison says which curve fits best and by how much, and no more.
func (p *parametricWork) comparison() string {
	best, n := p.best(), len(p.others)
	if n < 2 {
		return "None of the other curves could be fitted to these rows, so there is nothing to compare it with."
	}
	tried := fmt.Sprintf("Of the %s curves fitted to the same rows, ", map[int]string{2: "two", 3: "three", 4: "four", 5: "five"}[n])
	if best == p.fit {
		next := math.Inf(1)
		var second survival.Distribution
		for _, d := range survival.Distributions() {
			if f := p.others[d]; f != nil && f != p.fit && f.AIC-p.fit.AIC < next {
				next, second = f.AIC-p.fit.AIC, d
			}
		}
		return fmt.Sprintf("%sthis one has the least AIC, %s below the next (%s); %s", tried, words.Fixed(next, 1), second, aicWords(next))
	}
	gap := p.fit.AIC - best.AIC
	return fmt.Sprintf("%s%s has the least AIC, %s below this one; %s", tried, best.Distribution, words.Fixed(gap, 1), aicWords(gap))
}

// aicWords says how much a difference of AIC tells.
func aicWords(gap float64) string {
	switch {
	case gap < 2:
		return "so small a difference does not tell them apart."
	case gap < 10:
		return "that is some reason to prefer it, not a proof of its shape."
	}
	return "that is a clear reason to prefer it, though none of them need be right."
}

// prints are the printed tables.
func (p *parametricWork) prints() {
	if terms := p.terms(); len(terms) > 0 {
		p.print(p.termsPrint(terms, "Ratio of times", true))
	}
	if len(p.ratios) > 0 {
		t := p.termsPrint(p.ratios, "Hazard ratio", true)
		t.ID = p.ask.ID + "-hazard-ratios"
		t.Notes = append(t.Notes, "The same effects read as ratios of hazards: above 1 ends sooner.")
		p.print(t)
	}
	p.print(p.predictedTimes())
	if p.held != nil {
		p.print(p.comparedPrint())
	} else {
		p.print(p.fitPrint())
	}
	if p.tellsNested() {
		p.print(p.nestedPrint())
	}
}

func (p *parametricWork) predictedTimes() document.Block {
	t := document.Table{ID: p.ask.ID + "-predicted", Caption: "What the " + p.fit.Distribution.String() + " curve predicts", Columns: []document.TableColumn{
		{Head: "Sockets", Wide: true}}}
	for _, share := range p.told() {
		t.Columns = append(t.Columns, document.TableColumn{Head: p.shareEnded(share), Align: document.Right})
	}
	for _, at := range p.times() {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Not yet at " + words.At(at), Align: document.Right})
	}
	for _, x := range p.asked {
		row := []string{words.Capital(x.name)}
		for _, q := range x.quantiles {
			row = append(row, timeCell(q))
		}
		for _, s := range x.shares {
			cell := words.Percent(s.Survival, 100)
			if !math.IsNaN(s.Low) {
				cell = words.PercentWithin(s.Survival, s.Low, s.High) + " (" + words.PercentRange(s.Low, s.High) + ")"
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"In brackets: " + p.confidenceWords() + ". What is not named has its reference category, or the mean of the rows used. A prediction is for a group of such sockets, not for one."}
	return t
}

func timeCell(q survival.PredictedTime) string {
	switch {
	case q.Time > farTime:
		return "over 100 years"
	case math.IsNaN(q.Low):
		return words.Span(q.Time)
	case q.High > farTime:
		show := words.TimesFrom(q.Time, q.Low, q.Time)
		return show.Of(q.Time) + " (from " + show.Of(q.Low) + ")"
	}
	return words.SpanWithin(q.Time, q.Low, q.High) + " (" + words.SpanRange(q.Low, q.High) + ")"
}

func (p *parametricWork) fitPrint() document.Block {
	t := document.Table{ID: p.ask.ID + "-fit", Caption: "Five curves fitted to the same rows, the one asked for first", Columns: []document.TableColumn{
		{Head: "Curve", Wide: true}, {Head: "Numbers estimated", Align: document.Right}, {Head: "Log-likelihood", Align: document.Right},
		{Head: "AIC", Align: document.Right}, {Head: "AIC above the least", Align: document.Right}, {Head: "BIC", Align: document.Right}}}
	least := p.best().AIC
	for _, d := range p.order() {
		f := p.others[d]
		if f == nil {
			t.Rows = append(t.Rows, []string{words.Capital(d.String()), words.NotComputed, words.NotComputed, words.NotComputed, words.NotComputed, words.NotComputed})
			continue
		}
		t.Rows = append(t.Rows, []string{words.Capital(d.String()), words.Fixed(float64(f.Parameters), 0), words.Fixed(f.LogLik, 1), words.Fixed(f.AIC, 1), words.Fixed(f.AIC-least, 1), words.Fixed(f.BIC, 1)})
	}
	t.Notes = []string{"AIC: the smaller, the better the curve follows the rows for the numbers it needs. Differences under 2 tell nothing. BIC asks more for each number (with the count of events)."}
	return t
}

// methods is the sentence for a paper.
func (p *parametricWork) methods() {
	ev := p.causes[0]
	var s strings.Builder
	fmt.Fprintf(&s, "Time from %s until the socket was %s was modelled by %s regression (accelerated failure time: effects are ratios of times)",
		strings.ToLower(strings.TrimPrefix(p.timeAxis(), "Time since ")), ev.past, p.fit.Distribution)
	if labels := termLabels(p.design); len(labels) > 0 {
		fmt.Fprintf(&s, " with %s", words.List(labels))
	} else {
		s.WriteString(" without further columns")
	}
	s.WriteString(", fitted by maximum likelihood.")
	if p.fit.Distribution.Shaped() {
		s.WriteString(" Its shape was estimated too (Prentice's parameters: 1 is the Weibull curve, 0 the log-normal one).")
	}
	if p.seen {
		s.WriteString(" The event is known to lie between the last visit that was without it and the first that met it, and that interval was used.")
	}
	if p.lateCount() > 0 {
		s.WriteString(" Sockets that came under observation late count given that they had lasted until then.")
	}
	if p.fit.Zeros > 0 {
		s.WriteString(" Lives of 0 days entered as half a day.")
	}
	if p.cluster != "" {
		fmt.Fprintf(&s, " Standard errors are robust, from scores grouped by %s without a small-sample factor; likelihood-ratio tests and the AIC take sockets of one %s as independent.", p.cluster, p.cluster)
	}
	fmt.Fprintf(&s, " Intervals of times were made on their logarithm, those of shares on the scale on which the curve is a straight line in log time. %s Other endings were censored%s.",
		p.comparedMethods(),
		map[bool]string{true: "; rows with missing values were left out", false: ""}[len(p.design.Columns) > 0])
	s.WriteString(p.datedWords(p.lives))
	if p.ownColumns() {
		s.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	p.Methods = s.String()
	if p.fit.Distribution.Shaped() {
		p.References = append(p.References, "Prentice RL. A log gamma model and its maximum likelihood estimation. Biometrika 1974; 61: 539-544.",
			"Lawless JF. Inference in the generalized gamma and log gamma distributions. Technometrics 1980; 22: 409-419.")
	}
	p.References = append(p.References, "Kalbfleisch JD, Prentice RL. The statistical analysis of failure time data. 2nd ed. Hoboken: Wiley; 2002.",
		"Akaike H. A new look at the statistical model identification. IEEE Trans Automat Contr 1974; 19: 716-723.")
	if p.held != nil {
		p.References = append(p.References, "Burnham KP, Anderson DR. Model selection and multimodel inference. 2nd ed. New York: Springer; 2002.",
			"Volinsky CT, Raftery AE. Bayesian information criterion for censored survival models. Biometrics 2000; 56: 256-262.")
	}
	if p.seen {
		p.References = append(p.References, "Lindsey JC, Ryan LM. Tutorial in biostatistics: methods for interval-censored data. Stat Med 1998; 17: 219-238.",
			"Turnbull BW. The empirical distribution function with arbitrarily grouped, censored and truncated data. J R Stat Soc B 1976; 38: 290-295.")
	}
	if p.cluster != "" {
		p.References = append(p.References, "White H. Maximum likelihood estimation of misspecified models. Econometrica 1982; 50: 1-25.")
	}
}
