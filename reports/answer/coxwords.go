package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/survival"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// coxWords writes reading and methods. d is the design of the rows as they are
// counted, fitted that of the fit, in which effects may be split.
func (w *work) coxWords(r *coxRows, fit *coxFitted, es []estimate, ph *survival.Proportionality, d, fitted *design.Design, curves []string, split []*splitTerm) {
	var ev cause
	cluster := r.clusterName
	one, many := w.nouns()
	spec := figure.ForestSpec{Measure: "Hazard ratio", LowHint: "lasts longer", HighHint: "ends sooner"}
	if r.lives != nil {
		ev = r.lives.causes[0]
	} else {
		spec.LowHint, spec.HighHint = "less often", "more often"
		if w.ask.Repeats == "gap-time" {
			spec.LowHint, spec.HighHint = "comes later", "comes sooner"
		}
	}
	w.addForest(es, d, spec)
	of, equal := "", ""
	if fit.frailty != nil {
		if one != fit.shared.one {
			of = " of " + w.n(len(fit.shared.names), fit.shared.one, fit.shared.many)
		}
		equal = fmt.Sprintf(" and %s equally prone", fit.shared.many)
	}
	hazards := w.hazardSides(ev)
	hazards.silent = fit.ridge != nil // its interval says nothing of which way for sure
	var parts []string
	first, told := es[0].column.Term, 0
	groups := together(whole(es))
	for k, same := range groups {
		e := same[0]
		if w.ask.By != "" && e.column.Term != first && told > 0 || told == mostTold {
			break
		}
		if e.column.Part == "" {
			parts = append(parts, w.ratioSentence(len(parts), e, hazards))
		} else {
			parts = append(parts, w.splitSentences(same, hazards, split, len(parts) == 0)...)
			if k+1 == len(groups) || groups[k+1][0].column.Term != e.column.Term || told+1 == mostTold {
				if verdict := splitVerdict(e.column.Term, split); verdict != "" {
					parts = append(parts, verdict)
				}
			}
		}
		told++
	}
	rests := fmt.Sprintf("%s of %s%s with %s, all terms taken together%s%s.", itIs(len(parts)+len(curves), "ratio", "ratios"), w.n(w.Answer.Rows, one, many), of, w.coxEvents(r), w.asKnown(), equal)
	s := append(parts, curves...)
	s = append(s, rests)
	if fit.firth != nil {
		s = append(s, "These ratios are penalised (Firth's method).")
	}
	if fit.ridge != nil {
		s = append(s, "These ratios are drawn toward 1 by a ridge, and the intervals are no confidence intervals.")
	}
	if fit.frailty != nil {
		s = append(s, w.frailtyReading(fit))
	}
	if fit.HasConcordance {
		s = append(s, w.concordanceWords(fit.Concordance.Estimate, fit.frailty != nil))
	}
	w.Reading = strings.Join(s, " ")
	if t := w.numbers("predicted"); t != nil && r.lives != nil {
		w.Reading += w.predictedAt(t, "not to be "+ev.past+" by")
	}
	w.Reading += " " + w.hazardLimits()
	w.shortOfTerms(parts, rests)
	terms := w.termsPrint(es, "Hazard ratio", true)
	if fit.firth != nil {
		terms.Notes = append(terms.Notes, "Penalised estimates (Firth's method), with intervals of the penalised profile likelihood.")
	}
	if fit.ridge != nil {
		terms.Notes = append(terms.Notes, ridgeNote(fit.ridge))
	}
	w.print(terms)
	if fit.frailty != nil {
		w.print(w.frailtyPrint(fit))
		w.frailtyFigure(fit, spec.LowHint, spec.HighHint)
	}
	w.splitPrint(split)
	w.varyingWords(r)
	w.repeatsWords(r, d)
	hazard, dated := "", ""
	if r.lives != nil {
		w.competingCaution(r.lives, ev)
		w.unknownEndings(r.lives, ev)
		hazard, dated = "being "+ev.past, " Other endings were censored; rows with missing values were left out."+w.datedWords(r.lives)
	} else {
		hazard, dated = r.repeated.what, " Rows with missing values were left out."
	}
	var m strings.Builder
	fmt.Fprintf(&m, "The hazard of %s was modelled by Cox regression with %s; ties were handled by %s.", hazard, words.List(termLabels(d)), tieWords[w.ask.Ties])
	m.WriteString(w.spellMethods(r) + w.weightMethods() + w.splitMethods(split, fit.Robust != nil))
	if cluster != "" {
		fmt.Fprintf(&m, " Standard errors are robust, from score residuals grouped by %s without a small-sample factor; the likelihood-ratio test and the AIC take %s of one %s as independent.", cluster, w.clusteredNoun(), cluster)
	}
	if fit.firth != nil {
		m.WriteString(penaltyWords(fit, fitted))
	}
	if fit.frailty != nil {
		m.WriteString(w.frailtyMethods(fit))
	}
	if fit.ridge != nil {
		m.WriteString(ridgeMethods(fit.ridge))
	}
	if len(w.ask.Strata) > 0 {
		var names []string
		for _, n := range w.ask.Strata {
			names = append(names, w.columnLabel(n))
		}
		fmt.Fprintf(&m, " The baseline hazard was left free in each stratum of %s.", words.List(names))
	}
	if ph != nil {
		fmt.Fprintf(&m, " Proportional hazards were tested by the score test against the survival-transformed time (%s for all terms)%s.", words.PEquals(ph.Global.P), map[bool]string{true: ", the frailties held at their estimates"}[fit.frailty != nil])
	}
	m.WriteString(dated)
	if w.ownColumns() {
		m.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	w.Methods = m.String()
	w.References = append(w.References, "Cox DR. Regression models and life-tables. J R Stat Soc B 1972; 34: 187-220.")
	if fit.firth != nil {
		w.References = append(w.References, penaltyReferences...)
	} else if fit.ridge != nil {
		w.References = append(w.References, ridgeReferences...)
	} else {
		if fit.frailty != nil {
			w.References = append(w.References, frailtyReferences(fit.frailty.Distribution)...)
		}
		w.References = append(w.References, "Grambsch PM, Therneau TM. Proportional hazards tests and diagnostics based on weighted residuals. Biometrika 1994; 81: 515-526.")
	}
	w.References = append(w.References, append(w.spellReferences(), w.splitReferences(split)...)...)
	w.References = append(w.References, "Harrell FE, Califf RM, Pryor DB, Lee KL, Rosati RA. Evaluating the yield of medical tests. JAMA 1982; 247: 2543-2546.")
	if w.ask.Ties == "efron" {
		w.References = append(w.References, "Efron B. The efficiency of Cox's likelihood function for censored data. J Am Stat Assoc 1977; 72: 557-565.")
	}
	if cluster != "" {
		w.References = append(w.References, "Lin DY, Wei LJ. The robust inference for the Cox proportional hazards model. J Am Stat Assoc 1989; 84: 1074-1078.")
	}
}

var tieWords = map[string]string{"efron": "Efron's method", "breslow": "Breslow's method", "discrete": "the exact partial likelihood for discrete times"}

func termLabels(d *design.Design) []string {
	var out []string
	seen := map[string]bool{}
	for _, c := range d.Columns {
		if !seen[c.Term] {
			seen[c.Term] = true
			out = append(out, c.Label)
		}
	}
	return out
}

// hazardSides are what a hazard ratio above and below 1 means.
func (w *work) hazardSides(ev cause) ratioSides {
	above, below := w.ways(ev)
	return ratioSides{measure: "hazard ratio", above: above, below: below}
}

// hazardLimits says what a hazard ratio does not show.
func (w *work) hazardLimits() string {
	if w.ask.Repeats != "" && w.ask.Repeats != "gap-time" {
		return notHowOften
	}
	return notHowMany
}
