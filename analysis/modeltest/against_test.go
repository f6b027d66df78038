package modeltest

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"testing"

	"plybook/analysis/mixed"
	"plybook/analysis/quadrature"
	"plybook/analysis/regress"
)

// howMany is how many sets are compared.
const howMany = 200

// The regression and mixed models against R on 200 small random designs:
// imbalance, missed visits, few persons, variances at and near 0, offsets. The
// linear mixed models are held to lme4 and nlme, those with levels of limbs
// beside odds, counts and ordered levels to lme4 and ordinal, those without to
// R's lm and glm, MASS, ordinal and geepack. compare.R says how R is asked.
//
// Numbers are compared to the share of their own size that shareOf gives, or,
// where that is more, of what the data can tell apart at all: fixed effects and
// their errors of one standard error, variances of what the residuals alone
// would give the mean of one limb's visits.
//
// PLYBOOK_NEED_R makes it a failure that R is not there.
func TestAgainstR(t *testing.T) {
	j := &judge{T: t, compared: map[string]int{}, refused: map[string]int{}, worst: map[string]float64{}, fits: Fits{}}
	var sets []*Set
	models := map[int]*fitted{}
	for k := range howMany {
		s := Random(k)
		sets = append(sets, s)
		models[k] = fitAll(s)
		j.fits[k] = models[k].points()
	}
	answers, ok := Ask(t, os.Getenv("PLYBOOK_NEED_R") != "", "compare.R", sets, j.fits)
	if !ok {
		return
	}
	for _, s := range sets {
		j.set, j.answers, j.fitted = s, answers[s.Index], models[s.Index]
		j.mixed("mixed", j.fitted.mixed, j.fitted.mixedErr)
		if s.Residual != "" {
			j.mixed("residual", j.fitted.residual, j.fitted.residualErr)
		}
		if s.Leveled != "" {
			j.leveled()
		}
		j.plain()
		j.working()
	}
	j.enough()
}

// judge compares the answers for one set after another.
type judge struct {
	*testing.T
	set      *Set
	fitted   *fitted
	fits     Fits
	answers  map[string]Answer
	compared map[string]int     // numbers, by name
	refused  map[string]int     // sets, by why nothing was compared
	worst    map[string]float64 // largest difference as a share of what is allowed
}

func (j *judge) errorf(name, format string, args ...any) {
	j.Helper()
	s := j.set
	j.Errorf("set %d (%d visits of %d limbs, %s, %s, %s, ML %v): %s: %s", s.Index, len(s.Y), slices.Max(s.Limb), s.Mixed, s.Residual, s.Leveled, s.ML, name, fmt.Sprintf(format, args...))
}

// want is R's answer; ok is false where it has none.
func (j *judge) want(name string) ([]float64, bool) {
	a, ok := j.answers[name]
	if !ok || a.Refused != "" {
		return nil, false
	}
	return a.Values, true
}

// near compares numbers with want to the share tol of the size of want, or of
// floors where that is more; floors nil: 1.
func (j *judge) near(name string, got, want, floors []float64, tol float64) {
	j.Helper()
	if len(got) != len(want) {
		j.errorf(name, "%d numbers, R has %d: %v, %v", len(got), len(want), got, want)
		return
	}
	for k, v := range want {
		floor := 1.0
		if floors != nil {
			floor = floors[k]
		}
		j.compared[name]++
		share := math.Abs(got[k]-v) / math.Max(math.Abs(v), floor) / tol
		j.worst[name] = math.Max(j.worst[name], share)
		if !(share <= 1) {
			j.errorf(name, "number %d of %d is %.12g, R has %.12g (%.2g of its size)", k+1, len(got), got[k], v, share*tol)
			return
		}
	}
}

const (
	shareOf     = 1e-6 // of log likelihoods, coefficients and their errors
	varianceOf  = 1e-5 // of variances, ranges and what depends on them
	likelihoods = 1e-9 // of two log likelihoods at one point
)

// mixed compares a linear mixed model.
func (j *judge) mixed(what string, m *mixed.Model, err error) {
	j.Helper()
	kind := j.set.Mixed
	if what == "residual" {
		kind = j.set.Residual
	}
	if err != nil {
		j.refused[what+": "+cause(err)]++
		if vars := j.answers[what+"_vars"].Values; errors.Is(err, mixed.ErrKindWithoutScatter) {
			// The likelihood grows without end as the scatter of a kind shrinks. R
			// walks the same way until its steps end, or stops on a hill beside it.
			if n := len(vars) - slices.Max(j.set.By); slices.Min(vars[n:]) > 1e-2*slices.Max(vars[n:]) {
				j.errorf(what, "%v, but R has %v", err, vars)
			}
		}
		return
	}
	ll, ok := j.want(what + "_loglik")
	if !ok {
		j.refused[what+": R has none"]++
		return
	}
	j.near(what+"_at_ours", []float64{m.LogLikelihood}, j.answers[what+"_ours"].Values, nil, likelihoods)
	if own, ok := j.want(what + "_own"); ok {
		j.near(what+"_package", own[:1], own[1:], nil, likelihoods) // what it calls the likelihood is what the definition says
		if m.LogLikelihood < own[1]-1e-8*math.Abs(own[1]) {
			j.errorf(what, "the log likelihood is %.12g, that of the package %.12g", m.LogLikelihood, own[1])
		}
	} else {
		j.refused[what+": the package has none"]++
	}
	if again, _ := j.want(what + "_again"); again[0] > 0 {
		j.refused[what+": the package stopped lower, and was led on from here"]++
	}
	j.near(what+"_loglik", []float64{m.LogLikelihood}, ll, nil, shareOf)
	se := j.answers[what+"_se"].Values
	var coef, errs, vars, floors []float64
	for _, c := range m.Coef {
		coef, errs = append(coef, c.Estimate), append(errs, c.SE)
	}
	j.near(what+"_coef", coef, j.answers[what+"_coef"].Values, se, shareOf)
	j.near(what+"_se", errs, se, se, varianceOf)
	vars, floors = variances(m, kind, j.set)
	j.near(what+"_vars", vars, j.answers[what+"_vars"].Values, floors, varianceOf)
	if r, ok := j.want(what + "_range"); ok && m.Range == 0 { // visits close together are no more alike than others
		if alike := math.Exp(-1 / r[0]); alike > 1e-3 {
			j.errorf(what, "no correlation in time, but R has %g at a day apart", alike)
		}
	} else if ok {
		j.near(what+"_range", []float64{m.Range}, r, nil, varianceOf)
	}
}

// variances are those of a model in the order of compare.R, with what the
// residuals alone would give each: the floor of the comparison.
func variances(m *mixed.Model, kind string, s *Set) (vars, floors []float64) {
	visits := float64(len(s.Y)) / float64(slices.Max(s.Limb))
	size := []float64{1, 0}
	for _, v := range s.T {
		size[1] += v * v / float64(len(s.T))
	}
	size[1] = math.Sqrt(size[1])
	for _, l := range m.Layers {
		for c := range l.Cov {
			for r := c; r < len(l.Cov); r++ {
				if kind != "apart" || r == c || l.Name != "limb" {
					vars, floors = append(vars, l.Cov[r][c]), append(floors, m.Sigma*m.Sigma/visits/size[r]/size[c])
				}
			}
		}
	}
	if len(m.Spread) == 0 {
		return append(vars, m.Sigma*m.Sigma), append(floors, 0)
	}
	for _, v := range m.Spread {
		vars, floors = append(vars, v.SD*v.SD), append(floors, 0)
	}
	return vars, floors
}

// cause names what stood against a fit, without the numbers of the set.
func cause(err error) string {
	for _, e := range []error{mixed.ErrNotSeparable, mixed.ErrLongRange, mixed.ErrSameGrouping, mixed.ErrKindWithoutScatter, mixed.ErrNoneAlike, mixed.ErrOneLevel, mixed.ErrTooFewRows, mixed.ErrNoScatter, quadrature.ErrRunsOff, quadrature.ErrNoneVaries, regress.ErrSeparation} {
		if errors.Is(err, e) {
			return e.Error()
		}
	}
	return err.Error()
}

// leastOf is how many numbers of each kind must have been compared, so that a
// comparison cannot fall away unseen.
var leastOf = map[string]int{
	"lm_coef": 800, "lm_se": 800, "lm_hc3": 780, "lm_cr0": 800, "logistic_coef": 740, "logistic_se": 740, "logistic_cr0": 740, "logistic_loglik": 185,
	"poisson_coef": 780, "poisson_se": 780, "poisson_cr0": 780, "poisson_loglik": 195, "negbin_coef": 480, "negbin_theta": 120, "negbin_se": 480,
	"clm_coef": 1150, "clm_se": 1150, "clm_loglik": 195, "polr_coef": 1150, "mixed_coef": 770, "mixed_se": 770, "mixed_vars": 730, "mixed_loglik": 190, "mixed_package": 190, "mixed_at_ours": 190,
	"residual_coef": 360, "residual_se": 360, "residual_vars": 280, "residual_range": 45, "residual_package": 85, "leveled_logistic_coef": 155, "leveled_logistic_sd": 38,
	"leveled_poisson_coef": 170, "leveled_poisson_sd": 42, "leveled_ordinal_coef": 260, "leveled_ordinal_sd": 42, "leveled_logistic_package": 38, "leveled_poisson_package": 42, "leveled_ordinal_package": 42,
	"gee_logistic_independence_coef": 740, "gee_logistic_exchangeable_coef": 640, "gee_logistic_exchangeable_alpha": 160, "gee_logistic_ar1_coef": 700, "gee_logistic_ar1_robust": 700,
	"gee_poisson_independence_coef": 780, "gee_poisson_exchangeable_coef": 690, "gee_poisson_exchangeable_robust": 690, "gee_poisson_ar1_coef": 730, "gee_poisson_ar1_alpha": 180,
}

func (j *judge) enough() {
	for _, n := range slices.Sorted(maps.Keys(j.compared)) {
		j.Logf("%-28s %6d numbers, the furthest at %.2g of what is allowed", n, j.compared[n], j.worst[n])
	}
	for n, least := range leastOf {
		if j.compared[n] < least {
			j.Errorf("only %d numbers of %s were compared, not %d", j.compared[n], n, least)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(j.refused)) {
		j.Logf("not as usual: %s in %d sets", n, j.refused[n])
		if c := j.refused[n]; c > 20 && n != "negbin: R has theta without end" {
			j.Errorf("%s in %d sets", n, c)
		}
	}
}
