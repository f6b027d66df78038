package agreement

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// columns reads a published set of numbers.
func columns(t *testing.T, set string) map[string][]float64 {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + set + "/data.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]float64{}
	for _, r := range rows[1:] {
		for j, v := range r {
			x, err := strconv.ParseFloat(v, 64)
			if err != nil {
				t.Fatal(err)
			}
			out[rows[0][j]] = append(out[rows[0][j]], x)
		}
	}
	return out
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

// Bland and Altman 1986, Table 1: first readings of the two meters. The
// limits are those of expected.json with 1.96 in full.
func TestPeakFlowFirstReadings(t *testing.T) {
	c := columns(t, "pefr")
	var pairs []Pair
	for i := range c["wright1"] {
		pairs = append(pairs, Pair{c["wright1"][i], c["mini1"][i], i})
	}
	l, err := FitLimits(pairs, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bias", l.Bias.Value, -2.11764705882353, 1e-12)
	near(t, "bias, low", l.Bias.Low, -22.0488376966452, 1e-9)
	near(t, "bias, high", l.Bias.High, 17.8135435789981, 1e-9)
	near(t, "sd", l.SD, 38.7651298736074, 1e-12)
	z := 1.959963984540054
	near(t, "lower", l.Lower.Value, -2.11764705882353-z*38.7651298736074, 1e-12)
	near(t, "upper", l.Upper.Value, -2.11764705882353+z*38.7651298736074, 1e-12)
	// R 4.2.2, sandwich: see SOURCE.md's call, on the first readings.
	near(t, "slope", l.Slope, 0.0286874451525, 1e-10)
	near(t, "p", l.SlopeP, 0.779482748427, 1e-9)
	if l.Repeated || l.Pairs != 17 {
		t.Errorf("%+v", l)
	}
	// The exact interval, by the noncentral t: R 4.2.2, mean less
	// sd * qt(c(0.975, 0.025), 16, ncp = qnorm(0.975) * sqrt(17)) / sqrt(17).
	// Zou's comes within a twentieth of its width.
	for _, x := range [][2]float64{{l.Lower.Low, -124.16079829}, {l.Lower.High, -53.09493142}} {
		if math.Abs(x[0]-x[1]) > (124.16-53.09)/20 {
			t.Errorf("limit: %g, exactly %g", x[0], x[1])
		}
	}
}

// Both pairs of readings of each person, against nlme's components and
// sandwich's errors (SOURCE.md).
func TestPeakFlowRepeatedPairs(t *testing.T) {
	c := columns(t, "pefr")
	var pairs []Pair
	for i := range c["wright1"] {
		pairs = append(pairs, Pair{c["wright1"][i], c["mini1"][i], i}, Pair{c["wright2"][i], c["mini2"][i], i})
	}
	l, err := FitLimits(pairs, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "between", l.Between, 28.0917613929, 1e-7)
	near(t, "within", l.Within, 25.0346818314, 1e-9)
	near(t, "sd", l.SD, math.Hypot(28.0917613929, 25.0346818314), 1e-7)
	near(t, "bias", l.Bias.Value, -6.02941176471, 1e-10)
	near(t, "slope", l.Slope, 0.0514702190651, 1e-9)
	near(t, "p", l.SlopeP, 0.6280703208251, 1e-8)
}

// The repeatability of each meter (Bland and Altman 1986, 1999).
func TestPeakFlowError(t *testing.T) {
	c := columns(t, "pefr")
	for meter, want := range map[string][2]float64{"wright": {15.3066690578669, 42.4271423707051}, "mini": {19.9108306323616, 55.1889926387373}} {
		var things [][]float64
		for i := range c[meter+"1"] {
			things = append(things, []float64{c[meter+"1"][i], c[meter+"2"][i]})
		}
		e, err := FitError(things, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, meter+": sd", e.SD.Value, want[0], 1e-12)
		near(t, meter+": change", e.Change.Value, want[1], 1e-12)
		if meter == "wright" {
			near(t, "icc", e.ICC.Value, 0.983164996468, 1e-6)
		}
	}
}

// Shrout and Fleiss 1979, Tables 2 to 4.
func TestShroutFleiss(t *testing.T) {
	c := columns(t, "shrout-fleiss")
	var m, things [][]float64
	for i := range c["judge1"] {
		m = append(m, []float64{c["judge1"][i], c["judge2"][i], c["judge3"][i], c["judge4"][i]})
	}
	r, err := FitICC(m, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"between", r.Between, 11.2416666666667}, {"within", r.Within, 6.26388888888889}, {"ways", r.Ways2, 32.4861111111111}, {"error", r.Error, 1.01944444444444},
		{"(1,1)", r.OneWay.Value, 0.165741768405475}, {"(2,1)", r.Agreement.Value, 0.289763779527559}, {"(3,1)", r.Consistency.Value, 0.714840714840715},
		{"(1,k)", r.OneWayMean.Value, 0.442797133679269}, {"(2,k)", r.AgreementMean.Value, 0.620050547598989}, {"(3,k)", r.ConsistencyMean.Value, 0.909315542377069},
		{"(1,1) low", r.OneWay.Low, -0.132932324874751}, {"(1,1) high", r.OneWay.High, 0.722560062328121},
		{"(2,1) low", r.Agreement.Low, 0.0187865133747121}, {"(2,1) high", r.Agreement.High, 0.761084369648953},
		{"(3,1) low", r.Consistency.Low, 0.342464765033925}, {"(3,1) high", r.Consistency.High, 0.94585825995536},
	} {
		near(t, x.what, x.got, x.want, 1e-8)
	}
	// The mean of k by Spearman and Brown's formula from one.
	for _, p := range [][2]Estimate{{r.OneWay, r.OneWayMean}, {r.Agreement, r.AgreementMean}, {r.Consistency, r.ConsistencyMean}} {
		for k, v := range []float64{p[0].Value, p[0].Low, p[0].High} {
			near(t, "of the mean", []float64{p[1].Value, p[1].Low, p[1].High}[k], 4*v/(1+3*v), 1e-10)
		}
	}
	things = m
	e, err := FitError(things, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "one way", e.ICC.Value, r.OneWay.Value, 1e-12)
	near(t, "one way, low", e.ICC.Low, r.OneWay.Low, 1e-10)
	near(t, "one way, high", e.ICC.High, r.OneWay.High, 1e-10)
	near(t, "sd", e.SD.Value*e.SD.Value, r.Within, 1e-12)
}

// Fleiss JL, Statistical methods for rates and proportions, 2nd edition 1981,
// section 13.1 (from memory): 100 persons, two raters, kappa 0.68, error 0.087
// and, under chance, 0.076.
func TestFleissDiagnoses(t *testing.T) {
	k, err := FitKappa([][]int{{75, 1, 4}, {5, 4, 1}, {0, 0, 10}}, Unweighted, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "kappa", k.Kappa.Value, 0.68, 0.005)
	near(t, "error", k.SE, 0.087, 0.0008)
	near(t, "error, by the formula of that section worked in R 4.2.2", k.SE, 0.08770295, 1e-7)
	near(t, "observed", k.Observed, 0.89, 1e-12)
	near(t, "expected", k.Expected, 0.66, 1e-12)
}

// With squared steps kappa is the concordance of the two ratings as numbers:
// twice the covariance over the variances and the squared difference of means
// (Fleiss and Cohen 1973, Educ Psychol Meas 33: 613; Krippendorff 1970).
func TestQuadraticKappaIsConcordance(t *testing.T) {
	counts := [][]int{{20, 5, 1, 0}, {6, 14, 7, 2}, {0, 4, 18, 5}, {1, 0, 3, 14}}
	k, err := FitKappa(counts, Quadratic, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	var n, mx, my, sxx, syy, sxy float64
	for i, r := range counts {
		for j, c := range r {
			n += float64(c)
			mx += float64(i * c)
			my += float64(j * c)
			sxx += float64(i * i * c)
			syy += float64(j * j * c)
			sxy += float64(i * j * c)
		}
	}
	mx, my = mx/n, my/n
	want := 2 * (sxy/n - mx*my) / (sxx/n - mx*mx + syy/n - my*my + (mx-my)*(mx-my))
	near(t, "kappa", k.Kappa.Value, want, 1e-12)
	// The error of Fleiss, Cohen and Everitt is that of the infinitesimal
	// jackknife: the derivative of kappa by the weight of each pair.
	for _, how := range []Weighting{Unweighted, Linear, Quadratic} {
		base, err := FitKappa(counts, how, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		const big = 100000
		v := 0.0
		for i, r := range counts {
			for j, c := range r {
				more := make([][]int, len(counts))
				for a := range counts {
					more[a] = make([]int, len(counts))
					for b := range counts[a] {
						more[a][b] = big * counts[a][b]
					}
				}
				more[i][j] += big / 100
				moved, err := FitKappa(more, how, 0.95)
				if err != nil {
					t.Fatal(err)
				}
				d := (moved.Kappa.Value - base.Kappa.Value) / 0.01
				v += float64(c) * d * d
			}
		}
		near(t, "error", base.SE, math.Sqrt(v), 2e-3)
	}
}

// In 4,000 draws the intervals hold what they should, with one pair a person
// and with unequal numbers of them.
func TestLimitsCover(t *testing.T) {
	const draws = 4000
	for _, c := range []struct {
		name  string
		pairs func(k int) int
	}{{"one pair", func(int) int { return 1 }}, {"one to five pairs", func(k int) int { return 1 + k%5 }}} {
		rng := rand.New(rand.NewPCG(1, 2))
		bias, lower, sd := 0, 0, 0.0
		between, within := 3.0, 4.0
		truth := 2 - 1.959963984540054*5
		for range draws {
			var pairs []Pair
			for k := range 20 {
				u := between * rng.NormFloat64()
				for range c.pairs(k) {
					x := 100 + 10*rng.NormFloat64()
					pairs = append(pairs, Pair{x + 2 + u + within*rng.NormFloat64(), x, k})
				}
			}
			l, err := FitLimits(pairs, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if l.Bias.Low <= 2 && 2 <= l.Bias.High {
				bias++
			}
			if l.Lower.Low <= truth && truth <= l.Lower.High {
				lower++
			}
			sd += l.SD * l.SD / draws
		}
		near(t, c.name+": variance", sd, 25, 0.01)
		for what, n := range map[string]int{"bias": bias, "limit": lower} {
			if share := float64(n) / draws; share < 0.94 || share > 0.97 {
				t.Errorf("%s: %s covered in %.1f%%", c.name, what, 100*share)
			}
		}
	}
}

func TestNothingToSay(t *testing.T) {
	if _, err := FitLimits([]Pair{{1, 2, 0}, {2, 3, 1}}, 0.95); !errors.Is(err, ErrFewPairs) {
		t.Error(err)
	}
	if _, err := FitLimits([]Pair{{1, 1, 0}, {1, 1, 1}, {1, 1, 2}}, 0.95); !errors.Is(err, ErrNoSpread) {
		t.Error(err)
	}
	if _, err := FitICC([][]float64{{1, 1}, {1, 1}, {1, 1}}, 0.95); !errors.Is(err, ErrNoSpread) {
		t.Error(err)
	}
	if _, err := FitError([][]float64{{1, 2}, {1}, {3, 3}}, 0.95); !errors.Is(err, ErrFewPairs) {
		t.Error(err)
	}
	if _, err := FitKappa([][]int{{4, 0}, {0, 0}}, Unweighted, 0.95); !errors.Is(err, ErrOneRating) {
		t.Error(err)
	}
	// Perfect agreement and a constant difference are answers.
	l, err := FitLimits([]Pair{{2, 1, 0}, {3, 2, 1}, {5, 4, 2}}, 0.95)
	if err != nil || l.SD != 0 || l.Lower.Value != 1 {
		t.Errorf("%+v, %v", l, err)
	}
	r, err := FitICC([][]float64{{1, 1}, {2, 2}, {4, 4}}, 0.95)
	if err != nil || r.OneWay.Value != 1 || math.Abs(r.Consistency.Value-1) > 1e-12 {
		t.Errorf("%+v, %v", r, err)
	}
	k, err := FitKappa([][]int{{4, 0}, {0, 3}}, Unweighted, 0.95)
	if err != nil || k.Kappa.Value != 1 {
		t.Errorf("%+v, %v", k, err)
	}
}
