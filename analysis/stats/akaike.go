package stats

import "math"

// AkaikeWeights are the shares of the evidence for each of several models
// fitted to the same rows, exp(-d/2) over their sum with d the difference of
// AIC from the least (Burnham and Anderson 2002, Model selection and
// multimodel inference, section 2.9). They weigh these models against one
// another, whether or not any of them is right.
func AkaikeWeights(aic []float64) []float64 {
	least := math.Inf(1)
	for _, a := range aic {
		least = math.Min(least, a)
	}
	out, sum := make([]float64, len(aic)), 0.0
	for i, a := range aic {
		out[i] = math.Exp((least - a) / 2)
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}
