package answer

import (
	"fmt"

	"plybook/reports/words"
)

// cautions raises what is particular to a curve with few numbers.
func (p *parametricWork) cautions() {
	ev := p.causes[0]
	if n := max(1, len(p.design.Columns)); p.Events < 10*n {
		p.caution("few-events", "%s for %s in the model: fewer than 10 events per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(p.n(p.Events, "event", "events")), words.N(n, "term", "terms"))
	}
	p.extrapolation(ev)
	if best := p.best(); best.AIC < p.fit.AIC-10 {
		p.caution("poor-fit", "The %s curve fits these rows much worse than the %s one (AIC %s higher): ask with that method before reading times from this one.",
			p.fit.Distribution, best.Distribution, words.Fixed(p.fit.AIC-best.AIC, 1))
	}
	if p.lone() {
		p.caution("one-cluster", "All rows are of one %s, so that no interval can allow for it, and none that would have to is given.", p.cluster)
	}
	if p.cluster != "" {
		p.caution("aic-not-clustered", "Likelihood-ratio tests and AIC take the sockets of one %s as independent; the intervals do not.", p.cluster)
	}
	if p.seen && p.Events > 0 && aboutBrokenSkin(*p.ask.Event.Condition) {
		p.caution("skin", skinText)
	}
	p.modelCautions(p.design)
	p.misfit()
	if p.held != nil {
		p.comparedCautions()
	}
	p.competingCaution(p.lives, ev)
	p.unknownEndings(p.lives, ev)
}

// extrapolation warns of what is said of times at which nothing was seen.
func (p *parametricWork) extrapolation(ev cause) {
	last := p.fit.LastTime
	var names, far []string
	for _, x := range p.asked {
		if x.half.Time > last {
			names = append(names, x.name)
		}
	}
	switch {
	case len(names) == len(p.asked):
		far = append(far, "the time by which half are "+ev.past)
	case len(names) > 3:
		far = append(far, fmt.Sprintf("the time by which half are %s for %d of %d kinds of socket", ev.past, len(names), len(p.asked)))
	case len(names) > 0:
		far = append(far, "the time by which half are "+ev.past+" for "+words.List(names))
	}
	var late []string
	for _, t := range p.times() {
		if t > last {
			late = append(late, words.At(t))
		}
	}
	if len(late) > 0 {
		far = append(far, "what is said of "+words.List(late))
	}
	if len(far) > 0 {
		p.caution("extrapolated", "Nothing is known after %s, so %s rests on the curve carried on beyond the log: it holds only if the shape does.", words.Span(last), words.List(far))
	}
}
