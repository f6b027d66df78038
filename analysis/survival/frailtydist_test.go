package survival

import (
	"math"
	"testing"
)

// R 4.2.2: qgamma(p, 1/v, 1/v), exp(qnorm(p, 0, sqrt(v))), and
// qf(0.75, 2/v, 2/v), exp(sqrt(2 * v) * qnorm(0.75)).
func TestFrailtyDistributions(t *testing.T) {
	for _, c := range []struct{ v, low, high, middle float64 }{
		{0.0001, 0.980495246726, 1.01283673737, 1.0095845028},
		{0.05, 0.61082597927, 1.29512643033, 1.23965638513},
		{0.4, 0.166242322697, 1.84727137996, 1.8946597674},
		{1, 0.0253178079843, 2.30258509299, 3},
		{3, 3.33786977212e-05, 2.90867635072, 11.1136005841},
		{20, 1.06313237798e-31, 1.52634227818, 1132137.053},
	} {
		near(t, "gamma 2.5%", GammaFrailty.Quantile(0.025, c.v), c.low, 1e-8)
		near(t, "gamma 90%", GammaFrailty.Quantile(0.9, c.v), c.high, 1e-8)
		near(t, "gamma median ratio", GammaFrailty.MedianRatio(c.v), c.middle, 1e-8)
	}
	for _, c := range []struct{ v, low, high, middle float64 }{
		{0.0001, 0.980591184367, 1.0128979863, 1.00958436416},
		{0.4, 0.28950287109, 2.24908704752, 1.82810876849},
		{3, 0.0335486987327, 9.20468343958, 5.2182167498},
	} {
		near(t, "log-normal 2.5%", LogNormalFrailty.Quantile(0.025, c.v), c.low, 1e-8)
		near(t, "log-normal 90%", LogNormalFrailty.Quantile(0.9, c.v), c.high, 1e-8)
		near(t, "log-normal median ratio", LogNormalFrailty.MedianRatio(c.v), c.middle, 1e-8)
	}
	for _, f := range []Frailty{GammaFrailty, LogNormalFrailty} {
		if f.Quantile(0.2, 0) != 1 || f.MedianRatio(0) != 1 || f.Above(0) != 1 {
			t.Errorf("%v without variance", f)
		}
	}
	near(t, "gamma above", GammaFrailty.Above(0.25), 1.5, 1e-12)
	near(t, "log-normal above", LogNormalFrailty.Above(0.25), math.Exp(0.5), 1e-12)
}
