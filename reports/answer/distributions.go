package answer

import "plybook/analysis/survival"

// distributions are the parametric methods.
var distributions = map[string]survival.Distribution{
	"weibull":           survival.WeibullLife,
	"exponential":       survival.ExponentialLife,
	"log-normal":        survival.LogNormalLife,
	"log-logistic":      survival.LogLogisticLife,
	"generalised-gamma": survival.GeneralisedGammaLife,
}

// takesIntervals says whether the method of the ask uses the interval in
// which something seen at visits came about, and so needs times above 0.
func (w *work) takesIntervals() bool {
	_, ok := distributions[w.ask.Method]
	return ok
}
