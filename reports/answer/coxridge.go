package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/design"
	"plybook/analysis/survival"
	"plybook/reports/words"
)

// fitRidge fits with a ridge penalty on columns in units of their standard
// deviations. Where a life stands in several rows, its last one counts for
// those, so that how often something was recorded does not matter.
func (w *work) fitRidge(data survival.CoxData, r *coxRows, d *design.Design) (*coxFitted, error) {
	data.Cluster = nil
	o := survival.RidgeOptions{Size: w.ask.PenaltySize}
	if r.cut {
		o.Spread = lastSpread(r, d)
	}
	f, err := survival.FitCoxRidge(data, survival.CoxOptions{Ties: tieRules[w.ask.Ties]}, o)
	switch {
	case errors.Is(err, survival.ErrNoRidge):
		return nil, w.at("penalty", w.ask.Penalty, "nothing-left", "the rows support no size of effects better than none, so that a ridge chosen by them would draw every ratio to 1; give `penalty_size`, or leave out `penalty`")
	case errors.Is(err, survival.ErrUnboundRidge):
		return nil, w.at("penalty", w.ask.Penalty, "unbounded", "the effects have no largest size that fits, so that the rows choose no penalty; give `penalty_size`, or leave out `penalty`")
	case err != nil:
		return nil, err
	}
	return &coxFitted{Cox: &f.Cox, ridge: f}, nil
}

// lastSpread is the standard deviation of each column over the last rows of
// lives; over all rows where those do not vary.
func lastSpread(r *coxRows, d *design.Design) []float64 {
	last := map[int]bool{}
	for _, j := range r.lastRows(d.Rows) {
		last[j] = true
	}
	out := make([]float64, len(d.X))
	for c, x := range d.X {
		var few []float64
		for k, j := range d.Rows {
			if last[j] {
				few = append(few, x[k])
			}
		}
		if out[c] = deviation(few); !(out[c] > 0) {
			out[c] = deviation(x)
		}
		if !(out[c] > 0) {
			out[c] = 1 // constant, which the fit finds out
		}
	}
	return out
}

func deviation(x []float64) float64 {
	mean, sum := average(x), 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

// ridgeEstimates are the penalised coefficients. They have no test.
func ridgeEstimates(fit *survival.RidgeCox, d *design.Design, level float64) []estimate {
	es := normalEstimates(fit.Coef, fit.StdErr(), nil, d, level)
	for i := range es {
		es[i].stat, es[i].p = math.NaN(), math.NaN()
	}
	return es
}

// ridgeCautions says what the ridge means, and what it leaves out.
func (w *work) ridgeCautions(fit *coxFitted, cluster []int) {
	w.uncaution("few-clusters") // about errors that are not used
	w.uncaution("one-cluster")
	w.caution("ridge", "All ratios of this model are drawn toward 1 on purpose (a ridge penalty), the more the less the rows say of them. Their intervals are no confidence intervals: they hold the likely ratios if small differences are thought likelier than large ones from the start, and no p goes with them. Use such a model to predict or to weigh many columns at once, not to show that one of them matters.")
	if cluster != nil && distinct(cluster) < len(cluster) {
		w.caution("not-clustered", "Penalised estimates cannot allow for several %s of one %s: they are taken as independent. The intervals may be too narrow.", w.clusteredNoun(), clusterNoun(w.ask.Cluster))
	}
	w.caution("proportionality", "Whether the ratios stay the same over time is not tested where the estimates are penalised. Look at the curves of %s.", w.curveMethod())
}

// ridgeNote says the size of the penalty below the table of terms.
func ridgeNote(fit *survival.RidgeCox) string {
	how := "as given"
	if fit.Chosen {
		how = "as the rows ask for"
	}
	return fmt.Sprintf("Drawn toward 1 by a ridge of size %s, %s: the %s count as %s. The intervals are no confidence intervals.",
		words.Plain(fit.Size), how, words.N(len(fit.Coef), "term", "terms"), words.Fixed(fit.DF, 1))
}

// ridgeMethods are the sentences for a paper on the ridge.
func ridgeMethods(fit *survival.RidgeCox) string {
	how := "as set beforehand"
	if fit.Chosen {
		how = "the inverse of the variance that maximises the marginal likelihood (Laplace's approximation) with normal coefficients"
	}
	return fmt.Sprintf(" The log partial likelihood was penalised by half of %s times the sum of squared coefficients per standard deviation of their columns (ridge), %s being %s; effective number of coefficients %s. Intervals are from the inverse of the penalised information and have no guaranteed coverage. Whether hazards are proportional was not tested.",
		words.Plain(fit.Size), words.Plain(fit.Size), how, words.Fixed(fit.DF, 1))
}

var ridgeReferences = []string{
	"Hoerl AE, Kennard RW. Ridge regression: biased estimation for nonorthogonal problems. Technometrics 1970; 12: 55-67.",
	"Verweij PJM, van Houwelingen HC. Penalized likelihood in Cox regression. Stat Med 1994; 13: 2427-2436.",
}
