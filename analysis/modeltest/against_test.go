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
	"plybook/analysis/stats"
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

// fitted are the models under test of one set.
type fitted struct {
	set                *Set
	mixed, residual    *mixed.Model
	leveled            *quadrature.Model
	mixedErr           error
	residualErr, lvErr error
	working            map[string]*regress.GLM
	workingErr         map[string]error
}

func fitAll(s *Set) *fitted {
	f := &fitted{set: s, working: map[string]*regress.GLM{}, workingErr: map[string]error{}}
	f.mixed, f.mixedErr = fitMixed(s, s.Mixed)
	if s.Residual != "" {
		f.residual, f.residualErr = fitMixed(s, s.Residual)
	}
	if s.Leveled != "" {
		family := quadrature.Family(slices.Index(outcomes, s.Leveled))
		d := quadrature.Data{Y: s.Yes, X: s.columns(), Names: names, Group: s.Limb}
		switch family {
		case quadrature.Poisson:
			d.Y, d.Offset = s.Count, s.LogYears()
		case quadrature.Ordinal:
			d.Y, d.Levels = floats(s.Level), s.Levels()
		}
		f.leveled, f.lvErr = quadrature.Fit(family, d, quadrature.Options{})
	}
	for family, name := range outcomes[:2] {
		for kind, cor := range workings {
			what := "gee_" + name + "_" + cor
			f.working[what], f.workingErr[what] = regress.FitGLM(regress.Family(family), s.counts(regress.Family(family)), regress.GLMOptions{Correlation: regress.Correlation(kind)})
		}
	}
	return f
}

var (
	names    = []string{"t", "g", "x"}
	workings = []string{"independence", "exchangeable", "ar1"}
)

func (s *Set) columns() [][]float64 { return [][]float64{s.T, s.G, s.X} }

func floats(of []int) []float64 {
	out := make([]float64, len(of))
	for i, v := range of {
		out[i] = float64(v)
	}
	return out
}

// fitMixed fits one of Mixeds or Residuals, as the list kinds of compare.R has it.
func fitMixed(s *Set, kind string) (*mixed.Model, error) {
	d := mixed.Data{Y: s.Y, X: s.columns(), Names: names, Intercept: true, Group: s.Limb, GroupName: "limb", RandomIntercept: kind != "serial"}
	o := mixed.Options{ML: s.ML, Uncorrelated: kind == "apart"}
	switch kind {
	case "slope", "apart", "nestedslope", "slopespread", "all":
		d.Z, d.ZNames = d.X[:1], names[:1]
	}
	switch kind {
	case "nested", "nestedslope", "personslope", "nestedserial", "all":
		d.Above = &mixed.Level{Name: "person", Labels: s.Person}
	}
	switch kind {
	case "personslope":
		d.Above.Z, d.Above.ZNames = d.X[:1], names[:1]
	case "crossed", "all":
		d.Crossed = []mixed.Level{{Name: "by", Labels: s.By}}
	case "serial", "levelserial", "nestedserial", "serialspread":
		d.Time, o.Correlation = s.T, mixed.ContinuousAR1
	}
	switch kind {
	case "levelspread", "slopespread", "serialspread":
		d.Spread = s.By
	}
	return mixed.Fit(d, o)
}

// points are the estimates as compare.R takes them.
func (f *fitted) points() map[string][]float64 {
	out := map[string][]float64{}
	for name, m := range map[string]*mixed.Model{"mixed": f.mixed, "residual": f.residual} {
		if m != nil {
			out[name] = point(m, map[string]string{"mixed": f.set.Mixed, "residual": f.set.Residual}[name])
		}
	}
	if m := f.leveled; m != nil {
		for _, c := range m.Coef {
			out["leveled"] = append(out["leveled"], c.Estimate)
		}
		out["leveled"] = append(out["leveled"], m.SD)
	}
	for what, m := range f.working {
		if m != nil && !held(m) {
			out[what] = []float64{m.Alpha}
		}
	}
	return out
}

// held says that the correlation was held within what is possible: nothing
// solves the equations there, and geepack runs off.
func held(m *regress.GLM) bool {
	return slices.ContainsFunc(m.Warnings, func(w stats.Warning) bool { return w.Code == "correlation-bound" })
}

const unit = 10 // of the slopes in compare.R

func point(m *mixed.Model, kind string) []float64 {
	base := m.Sigma
	if len(m.Spread) > 0 {
		base = m.Spread[0].SD
	}
	var out []float64
	for _, l := range m.Layers {
		lower := factor(l.Cov, base)
		for c := range lower {
			for r := c; r < len(lower); r++ {
				if kind != "apart" || r == c || l.Name != "limb" {
					out = append(out, lower[r][c])
				}
			}
		}
	}
	switch kind {
	case "serial", "levelserial", "nestedserial", "serialspread":
		out = append(out, math.Log(math.Max(m.Range, 1e-3))) // 0: residuals came out as independent
	}
	for k, v := range m.Spread {
		if k > 0 {
			out = append(out, math.Log(v.SD/base))
		}
	}
	return out
}

// factor is the Cholesky factor of a covariance of level and slope, which may
// be singular, over that of the residuals, of ten times the slope.
func factor(cov [][]float64, sd float64) [][]float64 {
	lower := make([][]float64, len(cov))
	for r := range cov {
		lower[r] = make([]float64, len(cov))
		for c := range r + 1 {
			v := cov[r][c] / (sd * sd)
			if r > 0 {
				v *= unit
			}
			if c > 0 {
				v *= unit
			}
			for k := range c {
				v -= lower[r][k] * lower[c][k]
			}
			switch {
			case r == c:
				lower[r][c] = math.Sqrt(math.Max(v, 0))
			case lower[c][c] > 0:
				lower[r][c] = v / lower[c][c]
			}
		}
	}
	return lower
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
	if r, ok := j.want(what + "_range"); ok {
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
	for _, e := range []error{mixed.ErrNotSeparable, mixed.ErrLongRange, mixed.ErrSameGrouping, mixed.ErrOneLevel, mixed.ErrTooFewRows, mixed.ErrNoScatter, quadrature.ErrRunsOff, quadrature.ErrNoneVaries, regress.ErrSeparation} {
		if errors.Is(err, e) {
			return e.Error()
		}
	}
	return err.Error()
}

func (j *judge) enough() {
	for _, n := range slices.Sorted(maps.Keys(j.compared)) {
		j.Logf("%-28s %6d numbers, the furthest at %.2g of what is allowed", n, j.compared[n], j.worst[n])
	}
	for _, n := range slices.Sorted(maps.Keys(j.refused)) {
		j.Logf("%4d sets: %s", j.refused[n], n)
	}
}
