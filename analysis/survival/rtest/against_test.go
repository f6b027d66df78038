package rtest

import (
	"fmt"
	"math"
	"os"
	"sort"
	"testing"

	"plybook/analysis/survival"
)

// howMany is how many sets are compared.
const howMany = 200

// The methods for times to an event against R on 200 small random sets: ties,
// strata, late entry, weights, clusters, columns of one value, groups without
// events, nobody with an event, all at one time, two rows. Both get the same
// sets; every number is compared to 1e-6 of its size (of 1 where it is
// smaller), and where the two differ for a reason it stands beside the check.
//
// PLYBOOK_NEED_R makes it a failure that R is not there.
func TestAgainstR(t *testing.T) {
	var sets []*Set
	for k := range howMany {
		sets = append(sets, Random(k))
	}
	answers, ok := Ask(t, os.Getenv("PLYBOOK_NEED_R") != "", "compare.R", sets)
	if !ok {
		return
	}
	j := &judge{T: t, compared: map[string]int{}, refused: map[string]int{}}
	for _, s := range sets {
		j.set, j.answers = s, answers[s.Index]
		j.curves()
		j.comparisons()
		j.cox()
		j.competing()
		j.fineGray()
		j.parametric()
		j.repeated()
		j.visits()
	}
	j.enough()
}

// leastOf is how many numbers of each kind must have been compared: half of
// what there are, so that a comparison cannot fall away unseen.
var leastOf = map[string]int{
	"km_surv": 1900, "km_se": 1700, "km_low": 1700, "km_high": 1700, "km_quantiles": 750, "na_hazard": 1900, "na_se": 1800, "rmst": 190, "rmst_difference": 170,
	"logrank_family": 500, "logrank_trend": 500, "logrank_within_family": 500, "logrank_within_trend": 500, "survdiff_0": 100, "survdiff_1": 100, "survdiff_within_0": 100,
	"cox_efron_coef": 150, "cox_efron_se": 150, "cox_efron_robust": 85, "cox_efron_rscore": 40, "cox_efron_loglik": 150, "cox_efron_score": 75, "cox_efron_wald": 75,
	"cox_efron_concordance": 500, "cox_efron_zph": 200, "cox_efron_martingale": 2800, "cox_efron_deviance": 2800, "cox_efron_scores": 5700, "cox_efron_dfbeta": 4600,
	"cox_efron_schoenfeld": 1500, "cox_efron_scaled": 1200, "cox_efron_predicted": 4700, "cox_efron_baseline": 3200, "cox_efron_refused": 20,
	"cox_breslow_coef": 150, "cox_breslow_robust": 85, "cox_breslow_zph": 200, "cox_breslow_scores": 5700, "cox_breslow_predicted": 4700, "cox_exact_coef": 120, "cox_exact_score": 60, "cox_exact_loglik": 120,
	"cif_share": 3800, "cif_errors": 1700, "cif_low": 1700, "cif_high": 1700, "cif_se": 400, "cif_lost": 200, "cif_lost_se": 180, "cuminc_1": 950, "cuminc_2": 950,
	"gray_1": 90, "gray_2": 90, "gray_within_1": 80, "gray_within_2": 80, "finegray_efron_coef": 80, "finegray_efron_robust": 80, "finegray_breslow_coef": 80, "finegray_breslow_robust": 80, "crr": 80,
	"aft_weibull_coef": 190, "aft_weibull_se": 250, "aft_weibull_robust": 90, "aft_weibull_own": 50, "aft_exponential_coef": 190, "aft_lognormal_coef": 190, "aft_lognormal_robust": 90, "aft_loglogistic_coef": 190,
	"mean": 3100, "mean_se": 3100, "death_mean": 1100, "death_mean_se": 1100, "visits_share": 700, "visits_loglik": 65,
}

func (j *judge) enough() {
	var names []string
	for n := range j.compared {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		j.Logf("%-28s %6d numbers", n, j.compared[n])
	}
	for n, least := range leastOf {
		if j.compared[n] < least {
			j.Errorf("only %d numbers of %s were compared, not %d", j.compared[n], n, least)
		}
	}
	for n, c := range j.refused {
		j.Logf("not compared: %s in %d sets", n, c)
		if c > 30 {
			j.Errorf("%s could not be compared in %d sets", n, c)
		}
	}
}

// judge compares the answers for one set after another.
type judge struct {
	*testing.T
	set      *Set
	answers  map[string]Answer
	compared map[string]int // numbers, by name
	refused  map[string]int // sets for which R had no answer
}

// want is R's answer; ok is false where it has none.
func (j *judge) want(name string) ([]float64, bool) {
	a, ok := j.answers[name]
	if !ok || a.Refused != "" {
		j.refused[name]++
		return nil, false
	}
	return a.Values, true
}

const near = 1e-6

func (j *judge) errorf(name, format string, args ...any) {
	j.Helper()
	j.Errorf("set %d (%+v): %s: %s", j.set.Index, j.what(), name, fmt.Sprintf(format, args...))
}

func (j *judge) what() string {
	s := j.set
	return fmt.Sprintf("kind %d, %d rows, late %v, clustered %v, weights %d", s.Kind, len(s.Time), s.Late, s.Clustered, s.Weights)
}

func apart(got, want float64) float64 {
	return math.Abs(got-want) / math.Max(1, math.Abs(want))
}

// same compares numbers with R's answer; where got is NaN nothing is claimed,
// and nothing compared.
func (j *judge) same(name string, got []float64) {
	j.Helper()
	want, ok := j.want(name)
	if !ok {
		return
	}
	j.list(name, got, want)
}

func (j *judge) list(name string, got, want []float64) {
	j.Helper()
	if len(got) != len(want) {
		j.errorf(name, "%d numbers, R has %d: %v, %v", len(got), len(want), got, want)
		return
	}
	for k := range got {
		if math.IsNaN(got[k]) {
			continue
		}
		j.compared[name]++
		if !(apart(got[k], want[k]) <= near) {
			j.errorf(name, "number %d of %d is %.12g, R has %.12g", k+1, len(got), got[k], want[k])
			return
		}
	}
}

// data is the set for curves: clusters only where it has them.
func (j *judge) data() survival.Data {
	s := j.set
	d := survival.Data{Time: s.Time, Cause: s.Cause}
	if s.Late {
		d.Entry = s.Entry
	}
	if s.Weights != NoWeights {
		d.Weight = s.Weight
	}
	if s.Clustered {
		d.Cluster = s.Cluster
	}
	return d
}

// part is the rows of d that keep accepts.
func part(d survival.Data, keep func(i int) bool) survival.Data {
	var out survival.Data
	for i := range d.Time {
		if !keep(i) {
			continue
		}
		out.Time, out.Cause = append(out.Time, d.Time[i]), append(out.Cause, d.Cause[i])
		if d.Entry != nil {
			out.Entry = append(out.Entry, d.Entry[i])
		}
		if d.Weight != nil {
			out.Weight = append(out.Weight, d.Weight[i])
		}
		if d.Cluster != nil {
			out.Cluster = append(out.Cluster, d.Cluster[i])
		}
	}
	return out
}
