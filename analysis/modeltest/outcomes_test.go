package modeltest

import (
	"errors"
	"math"
	"slices"
	"strings"

	"plybook/analysis/regress"
)

// leveled compares a model of odds, counts or levels with a level of each limb.
func (j *judge) leveled() {
	j.Helper()
	m, what := j.fitted.leveled, "leveled_"+j.set.Leveled
	if err := j.fitted.lvErr; err != nil {
		j.refused[what+": "+cause(err)]++
		return
	}
	ll, ok := j.want("leveled_loglik")
	if !ok {
		j.refused[what+": R has none"]++
		return
	}
	j.near(what+"_at_ours", []float64{m.LogLik}, j.answers["leveled_ours"].Values, nil, shareOf)
	if own, ok := j.want("leveled_own"); ok {
		j.near(what+"_package", own[:1], own[1:], nil, shareOf)
		if m.LogLik < own[1]-1e-7*math.Abs(own[1]) {
			j.errorf(what, "the log likelihood is %.12g, that of the package %.12g", m.LogLik, own[1])
		}
	} else {
		j.refused[what+": the package has none"]++
	}
	if again, _ := j.want("leveled_again"); again[0] > 0 {
		j.refused[what+": the package stopped lower, and was led on from here"]++
	}
	j.near(what+"_loglik", []float64{m.LogLik}, ll, nil, shareOf)
	se := j.answers["leveled_se"].Values
	var coef, errs []float64
	for _, c := range m.Coef {
		coef, errs = append(coef, c.Estimate), append(errs, c.SE)
	}
	j.near(what+"_coef", coef, j.answers["leveled_coef"].Values, se, shareOf)
	j.near(what+"_se", errs, se, se, varianceOf)
	j.near(what+"_sd", []float64{m.SD}, j.answers["leveled_sd"].Values, []float64{0.1}, varianceOf)
}

// plain compares the models without random effects.
func (j *judge) plain() {
	j.Helper()
	s := j.set
	lm, err := regress.FitLinear(regress.LinearData{Y: s.Y, X: s.columns(), Names: names, Intercept: true, Cluster: s.Limb}, regress.LinearOptions{Robust: regress.CR0})
	if err != nil {
		j.errorf("lm", "%v", err)
		return
	}
	j.table("lm", lm.Coef, lm.Cov.CR0)
	if _, ok := j.want("lm_hc3"); ok && lm.Cov.HC3 != nil {
		j.near("lm_hc3", roots(lm.Cov.HC3), j.answers["lm_hc3"].Values, j.answers["lm_se"].Values, shareOf)
	}
	for family, name := range outcomes[:2] {
		d := s.counts(regress.Family(family))
		m, err := regress.FitGLM(regress.Family(family), d, regress.GLMOptions{})
		if err != nil {
			j.unfit(name, err)
			continue
		}
		j.table(name, m.Coef, m.Cov.CR0)
		j.near(name+"_loglik", []float64{m.LogLik}, j.answers[name+"_loglik"].Values, nil, likelihoods)
	}
	j.negbin()
	j.ordered()
}

func (s *Set) counts(f regress.Family) regress.GLMData {
	if f == regress.Logistic {
		return regress.GLMData{Y: s.Yes, X: s.columns(), Names: names, Offset: s.Lean, Cluster: s.Limb}
	}
	return regress.GLMData{Y: s.Count, X: s.columns(), Names: names, Offset: s.LogYears(), Cluster: s.Limb, Order: s.T}
}

// unfit holds a refusal to what R has: coefficients without end.
func (j *judge) unfit(name string, err error) {
	j.Helper()
	j.refused[name+": "+cause(err)]++
	largest := 0.0
	for _, b := range j.answers[name+"_coef"].Values {
		largest = math.Max(largest, math.Abs(b))
	}
	if r := j.answers[name+"_coef"]; r.Refused == "" && largest < 8 {
		j.errorf(name, "%v, but R has %v", err, r.Values)
	}
}

func roots(cov [][]float64) []float64 {
	out := make([]float64, len(cov))
	for k := range cov {
		out[k] = math.Sqrt(cov[k][k])
	}
	return out
}

func (j *judge) table(name string, coef []regress.Coefficient, cr0 [][]float64) {
	j.Helper()
	var b, se []float64
	for _, c := range coef {
		b, se = append(b, c.Estimate), append(se, c.ModelSE)
	}
	floor := j.answers[name+"_se"].Values
	j.near(name+"_coef", b, j.answers[name+"_coef"].Values, floor, shareOf)
	j.near(name+"_se", se, floor, floor, shareOf)
	j.near(name+"_cr0", roots(cr0), j.answers[name+"_cr0"].Values, floor, shareOf)
}

func (j *judge) negbin() {
	j.Helper()
	want, ok := j.want("negbin")
	d := j.set.counts(regress.NegativeBinomial)
	m, err := regress.FitGLM(regress.NegativeBinomial, d, regress.GLMOptions{Robust: regress.ModelBased})
	switch {
	case err != nil:
		j.refused["negbin: "+cause(err)]++
		if b := want; ok && !(errors.Is(err, regress.ErrSeparation) && math.Max(slices.Max(b[2:6]), -slices.Min(b[2:6])) > 8) {
			j.errorf("negbin", "%v, but R has %v", err, want)
		}
		return
	case !ok:
		j.refused["negbin: R has "+j.answers["negbin"].Refused]++
		if !math.IsInf(m.Theta, 1) {
			j.refused["negbin: theta has an end here"]++
		}
		return
	}
	var b, se []float64
	for _, c := range m.Coef {
		b, se = append(b, c.Estimate), append(se, c.ModelSE)
	}
	k := len(b)
	j.near("negbin_loglik", []float64{m.LogLik}, want[:1], nil, shareOf)
	j.near("negbin_theta", []float64{m.Theta}, want[1:2], nil, varianceOf)
	j.near("negbin_coef", b, want[2:2+k], want[2+k:], shareOf)
	j.near("negbin_se", se, want[2+k:], want[2+k:], shareOf)
}

func (j *judge) ordered() {
	j.Helper()
	s := j.set
	m, err := regress.FitOrdinal(regress.OrdinalData{Y: s.Level, Levels: s.Levels(), X: s.columns(), Names: names}, regress.OrdinalOptions{})
	if err != nil {
		j.refused["ordinal: "+cause(err)]++
		return
	}
	var b, se []float64
	for _, c := range m.Coef {
		b, se = append(b, c.Estimate), append(se, c.SE)
	}
	k := len(b)
	if want, ok := j.want("clm"); ok {
		j.near("clm_loglik", []float64{m.LogLik}, want[:1], nil, likelihoods)
		j.near("clm_coef", b, want[1:1+k], want[1+k:], shareOf)
		j.near("clm_se", se, want[1+k:], want[1+k:], shareOf)
	} else {
		j.refused["clm: "+j.answers["clm"].Refused]++
	}
	if want, ok := j.want("polr"); ok { // its climb ends where ten steps gain nothing; its coefficients are less sharp
		j.near("polr_loglik", []float64{m.LogLik}, want[:1], nil, likelihoods)
		j.near("polr_coef", b, want[1:], se, 1e-4)
	} else {
		j.refused["polr: "+j.answers["polr"].Refused]++
	}
}

// working compares generalised estimating equations.
func (j *judge) working() {
	j.Helper()
	for what, m := range j.fitted.working {
		if err := j.fitted.workingErr[what]; err != nil {
			j.refused[what+": "+cause(err)]++
			continue
		}
		if held(m) {
			j.refused[what+": no correlation within what is possible"]++
			continue
		}
		want, ok := j.want(what)
		if !ok {
			j.refused[what+": R has "+j.answers[what].Refused]++
			continue
		}
		var b []float64
		for _, c := range m.Coef {
			b = append(b, c.Estimate)
		}
		k := len(b)
		se := want[k : 2*k]
		j.near(what+"_coef", b, want[:k], se, shareOf)
		j.near(what+"_robust", roots(m.Cov.CR0), se, se, varianceOf)
		if !strings.HasSuffix(what, workings[0]) {
			j.near(what+"_alpha", []float64{m.Alpha}, want[2*k+1:], nil, varianceOf)
		}
	}
}
