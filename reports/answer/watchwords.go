package answer

import (
	"fmt"
	"slices"
	"strings"

	"plybook/analysis/survival"
	"plybook/reports/words"
)

// watchText stands beside every list.
const watchText = "This is a list of whom to look at sooner, not a decision to remake: that is for a licensed prosthetist with the person, at a visit. A low place, or none, is no clearance. Skin trouble now comes first, wherever the socket stands."

const (
	// slopeEnough is the slope below which predictions are too far apart
	// (the shrinkage that Riley and others 2019 ask for).
	slopeEnough = 0.9
	// comfortablyMany is how many events for each coefficient raise no doubt.
	// Common practice, no source.
	comfortablyMany = 20
	// staleDays is how old the last visit of a socket may be before its values
	// are taken to be old. Common practice, no source.
	staleDays = 183
)

// watchCautions raises what the list leaves in doubt.
func (p *watchWork) watchCautions() {
	p.skinNow()
	if !p.shown() {
		why := "this report shows no single sockets"
		if !p.public() && !p.ctx.Names.Public && p.ctx.Names.Why != "" {
			why = strings.TrimSuffix(p.ctx.Names.Why, ".")
		}
		p.caution("sockets-hidden", "Which sockets are at risk is not listed: %s. What is shown is how far such a list can be trusted.", why)
	}
	if len(p.ranked) == 0 {
		p.caution("none-ranked", "None of the sockets in use could be given a risk.")
	}
	if n := len(p.d.X) + p.fit.TimeColumns; p.fit.Events < comfortablyMany*n {
		p.caution("few-events", "%s for %s: fewer than %d for each, so the risks are shaky and may lie too far apart. The slope corrected for optimism says how far.",
			words.Capital(p.n(p.fit.Events, "socket with the event", "sockets with the event")), words.N(n, "coefficient", "coefficients"), comfortablyMany)
	}
	if slope, _, _, ok := p.corrected(survival.CalibrationSlope); ok && slope < slopeEnough {
		p.caution("overfitted", "The predicted risks lie too far apart (slope %s once its optimism is taken off, 1 being right): high ones are too high and low ones too low.", words.Fixed(slope, 2))
	}
	if gain, _, _, ok := p.corrected(survival.ScaledBrier); ok && gain <= 0 {
		p.caution("no-better", "Once its optimism is taken off, the model predicts no better than one share for all sockets: the order of the list says next to nothing.")
	} else if c, low, _, ok := p.corrected(survival.CIndex); ok && low <= 0.5 {
		p.caution("no-better", "The model may be no better than guessing at naming the right one of two (%s, from %s on): the order of the list says little.", words.Percent(c, 50), words.Percent(low, 50))
	}
	if p.again.Failed > 0 {
		p.caution("samples-failed", "%s of persons had no fit and %s left out: intervals and corrections may be too narrow.",
			words.Capital(fmt.Sprintf("%d of %s", p.again.Failed, words.N(p.again.Draws, "sample", "samples"))), plural(p.again.Failed, "is", "are"))
	}
	old := 0
	for _, r := range p.ranked {
		if !r.hasVisit || p.ctx.Today-r.lastVisit > staleDays {
			old++
		}
	}
	if 4*old > len(p.ranked) && old > 0 && len(p.ask.Varying) > 0 {
		p.caution("old-values", "The last visit of %s lies more than 6 months back: what was recorded then may no longer hold.", p.of(old, len(p.ranked), "socket ranked", "sockets ranked"))
	}
}

// skinNow names the sockets at whose last visit broken skin was found.
func (p *watchWork) skinNow() {
	var codes []string
	name := p.socketName()
	for _, r := range p.ranked {
		if r.skin {
			codes = append(codes, name(r.life))
		}
	}
	for _, r := range p.unranked {
		if r.skin {
			codes = append(codes, name(r.life))
		}
	}
	if len(codes) == 0 {
		return
	}
	slices.Sort(codes)
	who := p.n(len(codes), "socket in use", "sockets in use")
	if p.shown() {
		who += " (" + words.List(codes) + ")"
	}
	p.caution("skin-now", "Broken skin was found at the last visit of %s. %s", who, skinText[len("Skin breakdown is among these rows. "):])
}

// watchReading is what the list says, in two or three sentences.
func (p *watchWork) watchReading() string {
	var b strings.Builder
	inUse, n := len(p.now), len(p.ranked)
	event, ahead := causeWords(p.causes[0].name), p.aheadWords()
	if n > 0 {
		sum := 0.0
		for _, r := range p.ranked {
			sum += r.risk
		}
		if p.public() {
			fmt.Fprintf(&b, "The mean predicted risk of %s %s of the sockets in use on %s that could be ranked is %s. ", event, ahead, words.Date(p.ctx.Today), words.Percent(sum/float64(n), 50))
		} else {
			expected := "about " + words.Fixed(sum, 0)
			if sum < 0.5 {
				expected = "less than one"
			}
			fmt.Fprintf(&b, "Of %s in use on %s, %s given a risk of %s %s: %s on average, so that %s of them can be expected. ",
				words.N(inUse, "socket", "sockets"), words.Date(p.ctx.Today), plural(n, "1 was", words.Fixed(float64(n), 0)+" were"), event, ahead, riskWords(sum/float64(n)), expected)
		}
		if top := p.ranked[0]; p.shown() {
			fmt.Fprintf(&b, "The highest is that of %s, %s. ", p.socketName()(top.life), riskRange(top))
		}
	}
	if c, low, high, ok := p.corrected(survival.CIndex); ok {
		fmt.Fprintf(&b, "At such moments of the past the model named the right one of two sockets %s of the time (%s; 50%% is guessing)", words.PercentWithin(c, max(low, 0), min(high, 1)), words.PercentRange(max(low, 0), min(high, 1)))
		s := p.fit.Scores()
		fmt.Fprintf(&b, "; it predicted %s on average and %s came.", words.Percent(s.Value[survival.ExpectedShare], 100), words.Percent(s.Value[survival.ObservedShare], 100))
	}
	if gain, _, _, ok := p.corrected(survival.ScaledBrier); ok && gain <= 0 {
		b.WriteString(" That is no better than one share for all sockets.")
	}
	return strings.TrimSpace(b.String())
}

func (p *watchWork) watchMethods() {
	var m strings.Builder
	event := causeWords(p.causes[0].name)
	last := p.fit.Landmarks[len(p.fit.Landmarks)-1]
	fmt.Fprintf(&m, "The risk of %s %s was predicted by a landmarking super model: landmarks every %s from %s to %s after delivery, at each the sockets then in use with the values recorded by then, followed for %s; hazards of the event and of other endings by Cox regression of the stacked landmarks on the time since delivery, with %s",
		event, p.aheadWords(), words.At(p.ask.Every.Days), sinceWords(p.fit.Landmarks[0]), words.Span(last), words.At(p.ask.Ahead.Days), words.List(termLabels(p.d)))
	if p.fit.TimeColumns > 0 {
		m.WriteString(", the landmark")
		if p.fit.TimeColumns > 1 {
			m.WriteString(" and its square")
		}
	}
	m.WriteString(" as columns and Breslow's ties. ")
	switch {
	case p.fit.Competing != nil:
		m.WriteString("Other endings have the same columns. ")
	case p.fit.Competed > 0:
		fmt.Fprintf(&m, "Other endings, being fewer than %d for each column, have a hazard common to all. ", survival.EventsPerColumn)
	default:
		m.WriteString("No other ending was seen. ")
	}
	m.WriteString("The two hazards together give the share with the event, other endings competing. Risks of sockets in use hold from the last day of the log on, with the values last recorded; that they were still in use then is taken from nothing else being recorded. ")
	fmt.Fprintf(&m, "Intervals of risks and the optimism of each measure are by fitting the model anew to %d samples of persons drawn with replacement (seed %d); observed shares are Aalen-Johansen estimates with errors grouped by person; slope, intercept and smooth line are regressions of pseudo-values on the complementary log-log of the risk; C and Brier score are weighted by the inverse chance of not being out of sight. Errors in the table of terms are grouped by person.",
		p.again.Draws, p.ask.Seed)
	m.WriteString(" No such model is fitted with fewer than ten events for each coefficient.")
	m.WriteString(p.datedWords(p.lives))
	if p.ownColumns() {
		m.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	p.Methods = m.String()
	p.References = append(p.References,
		"van Houwelingen HC. Dynamic prediction by landmarking in event history analysis. Scand J Stat 2007; 34: 70-85.",
		"van Houwelingen HC, Putter H. Dynamic prediction in clinical survival analysis. CRC Press; 2011.",
		"Nicolaie MA, van Houwelingen JC, de Witte TM, Putter H. Dynamic prediction by landmarking in competing risks. Stat Med 2013; 32: 2031-2047.",
		"van Geloven N, Giardiello D, Bonneville EF, Teece L, Ramspek CL, van Smeden M, et al. Validation of prediction models in the presence of competing risks: a guide through modern methods. BMJ 2022; 377: e069249.",
		"Harrell FE, Lee KL, Mark DB. Multivariable prognostic models: issues in developing models, evaluating assumptions and adequacy, and measuring and reducing errors. Stat Med 1996; 15: 361-387.",
		"Peduzzi P, Concato J, Feinstein AR, Holford TR. Importance of events per independent variable in proportional hazards regression analysis. II. Accuracy and precision of regression estimates. J Clin Epidemiol 1995; 48: 1503-1510.",
		"Riley RD, Snell KI, Ensor J, Burke DL, Harrell FE, Moons KG, et al. Minimum sample size for developing a multivariable prediction model: part II, binary and time-to-event outcomes. Stat Med 2019; 38: 1276-1296.")
}

func sinceWords(days float64) string {
	if days == 0 {
		return "0 days"
	}
	return words.Span(days)
}
