package mixed

import (
	"errors"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

func mustFit(t testing.TB, d Data, o Options) *Model {
	t.Helper()
	m, err := Fit(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The published log-likelihoods (R 4.2.2, lme4 1.1-31):
// anova(intercept, slope, refit = FALSE) on sleepstudy gives
// 2*(893.23254269746 - 871.814135979246) on 2 degrees of freedom.
func TestCompareRandomEffects(t *testing.T) {
	d, _ := sleep(t)
	large := mustFit(t, d, Options{})
	d.Z, d.ZNames = nil, nil
	small := mustFit(t, d, Options{})
	for _, pair := range [][2]*Model{{small, large}, {large, small}} {
		test, warnings, err := Compare(pair[0], pair[1])
		if err != nil {
			t.Fatal(err)
		}
		lsqtest.Close(t, "statistic", test.Statistic, 42.836813436428, 1e-8)
		lsqtest.Close(t, "p", test.P, 4.9900414269675e-10, 1e-8) // pchisq(42.836813436428, 2, lower = FALSE)
		if test.DF != 2 || len(warnings) != 1 || warnings[0].Code != "boundary" {
			t.Errorf("df %g, warnings %v", test.DF, warnings)
		}
	}
}

// R 4.2.2, lme4 1.1-31: lmer(distance ~ age*male + (1|Subject), REML = FALSE)
// against distance ~ age + male: anova gives 6.21742704 on 1 degree of
// freedom.
func TestCompareFixedEffects(t *testing.T) {
	d, _ := ortho(t)
	d.Z, d.ZNames = nil, nil
	small := d
	small.X, small.Names = d.X[:2], d.Names[:2]
	a, b := mustFit(t, small, Options{ML: true}), mustFit(t, d, Options{ML: true})
	test, warnings, err := Compare(a, b)
	if err != nil || len(warnings) > 0 {
		t.Fatal(err, warnings)
	}
	lsqtest.Close(t, "statistic", test.Statistic, 6.2174270442198, 1e-7)
	lsqtest.Close(t, "p", test.P, 0.01264988155783, 1e-6)
	if test.DF != 1 {
		t.Errorf("df %g, want 1", test.DF)
	}
}

func TestNotComparable(t *testing.T) {
	d, _ := ortho(t)
	small := d
	small.X, small.Names = d.X[:2], d.Names[:2]
	fewer := d
	fewer.Y, fewer.Group = d.Y[:104], d.Group[:104]
	fewer.X, fewer.Z = [][]float64{d.X[0][:104]}, [][]float64{d.Z[0][:104]}
	fewer.Names = d.Names[:1]
	other := d
	other.X, other.Names = [][]float64{d.X[2]}, []string{"age_male"}
	other.Z, other.ZNames = nil, nil
	regrouped := small
	regrouped.Group = append([]int(nil), d.Group...)
	for i := range regrouped.Group {
		regrouped.Group[i] /= 2
	}
	onlySlope := small
	onlySlope.RandomIntercept = false
	full := mustFit(t, d, Options{ML: true})
	for _, c := range []struct {
		name string
		m    *Model
		with *Model
		says string
	}{
		{"itself", full, full, "same number"},
		{"REML, other fixed effects", mustFit(t, small, Options{}), mustFit(t, d, Options{}), "restricted likelihood does not allow"},
		{"REML with ML", mustFit(t, small, Options{}), full, "one is fitted by restricted likelihood"},
		{"other rows", mustFit(t, fewer, Options{ML: true}), full, "different rows"},
		{"other groups", mustFit(t, regrouped, Options{ML: true}), full, "different rows or groups"},
		{"fixed effects not nested", mustFit(t, other, Options{ML: true}), mustFit(t, small, Options{ML: true}), "fixed effects of the smaller"},
		{"correlation in the smaller only", mustFit(t, small, Options{ML: true}), mustFit(t, d, Options{ML: true, Uncorrelated: true}), "same number"},
	} {
		if _, _, err := Compare(c.m, c.with); !errors.Is(err, ErrNotComparable) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
	}
	// A smaller model whose random effects are not among the larger's.
	large := d
	large.Z, large.ZNames = nil, nil
	if _, _, err := Compare(mustFit(t, onlySlope, Options{ML: true}), mustFit(t, large, Options{ML: true})); !errors.Is(err, ErrNotComparable) ||
		!strings.Contains(err.Error(), "random effects of the smaller") {
		t.Errorf("slopes only against intercepts only: %v", err)
	}
}
