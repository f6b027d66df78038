package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/design"
	"plybook/analysis/survival"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// coxFitted is a Cox regression as an answer uses it.
type coxFitted struct {
	*survival.Cox
	firth     *survival.FirthCox // nil where the estimates are not penalised
	separated []int              // columns without a finite estimate by the plain likelihood

	frailty *survival.FrailtyCox // nil without
	shared  *sharing             // with frailty: who shares it
	ridge   *survival.RidgeCox   // nil without
}

// penalised says that estimates are drawn toward no difference, so that their
// errors are not of the usual kind.
func (f *coxFitted) penalised() bool { return f.firth != nil || f.ridge != nil }

// plain says that the likelihoods are of the partial likelihood itself.
func (f *coxFitted) plain() bool { return !f.penalised() && f.frailty == nil }

// fitCox fits as the question says: with a frailty or penalised where it asks
// for that, and penalised where it leaves the choice open and no finite estimate exists otherwise.
func (w *work) fitCox(data survival.CoxData, r *coxRows, d *design.Design) (*coxFitted, error) {
	switch {
	case w.ask.Frailty != "":
		s, err := w.sharing(r, d)
		if err != nil {
			return nil, err
		}
		return w.fitFrailty(data, s)
	case w.ask.Penalty == "ridge":
		return w.fitRidge(data, r, d)
	}
	o := survival.CoxOptions{Ties: tieRules[w.ask.Ties]}
	plain, err := survival.FitCox(data, o)
	out := &coxFitted{Cox: plain}
	var sep *survival.SeparationError
	if errors.As(err, &sep) {
		out.separated = sep.Columns
	}
	asked := w.ask.Penalty == "firth"
	if !asked && (out.separated == nil || w.ask.Penalty == "none" || w.ask.Ties == "discrete") {
		return out, err
	}
	f, failed := survival.FitCoxFirth(data, o, w.ask.Confidence)
	if failed != nil {
		if asked {
			err = failed
		}
		return out, err
	}
	out.Cox, out.firth = &f.Cox, f
	return out, nil
}

// firthEstimates are penalised coefficients with their profile limits. The
// statistic is the signed root of that of the penalised likelihood-ratio
// test, so that it belongs to p as z does elsewhere.
func firthEstimates(fit *survival.FirthCox, d *design.Design) []estimate {
	se := fit.StdErr()
	var es []estimate
	for j, l := range fit.Limits {
		e := estimate{column: d.Columns[j], value: fit.Coef[j], stdErr: se[j], robust: math.NaN(), df: math.NaN(), ratio: true,
			low: math.NaN(), high: math.NaN(), stat: math.Copysign(math.Sqrt(l.Test.Statistic), fit.Coef[j]), p: l.Test.P,
			noInterval: !l.HasLow || !l.HasHigh}
		if l.HasLow {
			e.low = l.Low
		}
		if l.HasHigh {
			e.high = l.High
		}
		es = append(es, e)
	}
	return es
}

// penaltyCautions says what the penalty means, and what it leaves out. cluster
// numbers the clusters of the rows used; nil: there are none.
func (w *work) penaltyCautions(fit *coxFitted, d *design.Design, cluster []int) {
	if fit.separated != nil {
		w.caution("separation", "No finite hazard ratio fits %s: on one side of the comparison there was no event, or it always came first. All estimates of this model are therefore penalised (Firth's method): drawn a little toward no difference, which keeps them finite. Such a ratio tells which way, hardly how far; read its interval, which is wide and reaches further on one side. Group rare categories where that makes sense.",
			words.List(comparisons(d, fit.separated)))
	}
	w.uncaution("few-clusters") // about errors that are not used
	w.uncaution("one-cluster")
	if cluster != nil && distinct(cluster) < len(cluster) {
		w.caution("not-clustered", "Penalised estimates cannot allow for several %s of one %s: they are taken as independent. The intervals may be too narrow.", w.clusteredNoun(), clusterNoun(w.ask.Cluster))
	}
	w.caution("proportionality", "Whether the ratios stay the same over time is not tested where the estimates are penalised. Look at the curves of %s.", w.curveMethod())
}

func clusterNoun(cluster string) string {
	if cluster == "" {
		return "person"
	}
	return plainName(cluster)
}

// uncaution takes back the cautions of a code.
func (w *work) uncaution(code string) {
	var kept []Caution
	for _, c := range w.Cautions {
		if c.Code != code {
			kept = append(kept, c)
		}
	}
	w.Cautions = kept
}

// comparisons names columns of a design in words: "casting method vacuum
// and scan against hand", "age". Those of one term stand together.
func comparisons(d *design.Design, columns []int) []string {
	var out []string
	for k := 0; k < len(columns); {
		c := d.Columns[columns[k]]
		name := c.Label
		var categories []string
		for ; k < len(columns) && d.Columns[columns[k]].Term == c.Term && d.Columns[columns[k]].Part == c.Part; k++ {
			if x := d.Columns[columns[k]].Category; x != "" {
				categories = append(categories, x)
			}
		}
		if len(categories) > 0 {
			name += " " + words.List(categories)
		}
		if c.Reference != "" {
			name += " against " + c.Reference
		}
		if c.Part != "" {
			name += " (" + c.Part + ")"
		}
		out = append(out, name)
	}
	return out
}

// separationError says, at the place of the first column, that columns have
// no finite estimate. more is what else could be done.
func (w *work) separationError(sep *survival.SeparationError, d *design.Design, more string) error {
	e := w.modelError(sep, d, "", sep.Columns)
	var at *notebook.Error
	if errors.As(e, &at) {
		at.Code = "separation"
		at.Text = fmt.Sprintf("no finite estimate fits %s: on one side of the comparison there was no event, or it always came first; leave the column out, or group its categories%s",
			words.List(comparisons(d, sep.Columns)), more)
	}
	return e
}

// penaltyWords is the methods sentence of penalised estimates.
func penaltyWords(fit *coxFitted, d *design.Design) string {
	why := ""
	if fit.separated != nil {
		why = fmt.Sprintf(", since no finite estimate fits %s otherwise", words.List(comparisons(d, fit.separated)))
	}
	return fmt.Sprintf(" The partial likelihood was penalised by Firth's method%s; intervals are of the penalised profile likelihood and p values of penalised likelihood-ratio tests, taking sockets as independent. Whether hazards are proportional was not tested.", why)
}

var penaltyReferences = []string{
	"Firth D. Bias reduction of maximum likelihood estimates. Biometrika 1993; 80: 27-38.",
	"Heinze G, Schemper M. A solution to the problem of monotone likelihood in Cox regression. Biometrics 2001; 57: 114-119.",
}
