package main

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"plybook/analysis/modeltest"
)

// modelSets are sets with persons seen on both sides and enough visits for every
// ask, two of each kind of mixed model.
func modelSets() []*modeltest.Set {
	var out []*modeltest.Set
	taken := map[string]int{}
	for k := 0; len(out) < 2*len(modeltest.Mixeds); k++ {
		s := modeltest.Random(k)
		if len(s.Y) >= 25 && slices.Max(s.Limb) > slices.Max(s.Person) && taken[s.Mixed] < 2 {
			taken[s.Mixed]++
			out = append(out, s)
		}
	}
	return out
}

// modelled is one set told as visits, with R's answers.
type modelled struct {
	*testing.T
	set     *modeltest.Set
	answers map[string]modeltest.Answer
	n       *numbersFile
}

// Some of the random designs that regression and mixed models are compared on
// with R (analysis/modeltest) are told as a log and sent through the command.
func TestModelsAgainstRThroughTheFrontDoor(t *testing.T) {
	t.Parallel()
	sets := modelSets()
	answers, ok := modeltest.Ask(t, os.Getenv("PLYBOOK_NEED_R") != "", "../../analysis/modeltest/compare.R", sets, nil)
	if !ok {
		return
	}
	l := &lab{}
	var asks strings.Builder
	var all []modelled
	for _, s := range sets {
		m := modelled{T: t, set: s, answers: answers[s.Index]}
		all = append(all, m)
		tellVisits(l, s)
		for name, lines := range m.asks() {
			asks.WriteString(ask(append([]string{fmt.Sprintf("id: %s-%d", name, s.Index), "rows: visits", fmt.Sprintf("keep: {set: set%d}", s.Index)}, lines...)...))
		}
	}
	n := runLog(t, l, plainCSV, asks.String(), nil)
	compared := map[string]int{}
	for _, m := range all {
		m.n = n
		for name := range m.asks() {
			compared[name]++
			m.compare(name)
		}
	}
	for name, least := range map[string]int{"mixed": 16, "residual": 3, "logistic": 12, "poisson": 14, "negbin": 8, "ordinal": 14, "leveled": 5} {
		if compared[name] < least {
			t.Errorf("%s was compared on %d sets, not on %d", name, compared[name], least)
		}
	}
}

func tellVisits(l *lab, s *modeltest.Set) {
	side := map[int]string{}
	first := map[int]int{}
	for i, limb := range s.Limb {
		if side[limb] == "" {
			side[limb] = "left"
			if first[s.Person[i]] != 0 {
				side[limb] = "right"
			}
			first[s.Person[i]] = limb
			person := fmt.Sprintf("P%dx%d", s.Index, s.Person[i])
			l.limbs.add("person", person, "side", side[limb], "level", "transtibial")
			l.sockets.add("socket", fmt.Sprintf("S%dx%d", s.Index, limb), "limb", person+"-"+strings.ToUpper(side[limb][:1]), "kind", "definitive", "delivered", ymd(2022, time.March, 1))
		}
		l.visits.add("socket", fmt.Sprintf("S%dx%d", s.Index, limb), "date", ymd(2022, time.March, 1)+day(int(s.T[i])), "purpose", "follow-up", "seen_by", fmt.Sprintf("C%d", s.By[i]),
			"set", fmt.Sprintf("set%d", s.Index), "day", s.T[i], "dose", s.G[i], "load", s.X[i], "reading", s.Y[i], "fits", s.Yes[i], "falls", s.Count[i], "grade", s.Level[i], "lean", s.Lean[i], "years", s.Years[i])
	}
}

// asks are the questions that R has an answer to: where a coefficient runs off,
// a variance to nothing or a correlation to where it is none, the answer says so
// and is another.
func (m modelled) asks() map[string][]string {
	out := map[string][]string{"mixed": m.mixedAsk(m.set.Mixed)}
	if r := m.set.Residual; r != "" && r != "serial" && m.settles() {
		out["residual"] = m.mixedAsk(r)
	}
	terms := "adjust: [own.day, dose, load]"
	if m.finite("logistic_coef") {
		out["logistic"] = []string{"method: logistic", "outcome: fits", terms, "offset: lean", "cluster: none"}
	}
	if m.finite("poisson_coef") {
		out["poisson"] = []string{"method: poisson", "outcome: falls", terms, "exposure: own.years", "cluster: none"}
	}
	if m.finite("negbin") {
		out["negbin"] = []string{"method: negative-binomial", "outcome: falls", terms, "exposure: own.years", "cluster: none"}
	}
	if m.finite("clm") {
		out["ordinal"] = []string{"method: ordinal", "outcome: grade", terms, "cluster: none"}
	}
	if f := m.set.Leveled; f != "" && m.finite("leveled_coef") && m.answers["leveled_sd"].Values[0] > 0.01 {
		out["leveled"] = append([]string{"method: mixed-" + f, terms}, map[string][]string{"logistic": {"outcome: fits"}, "poisson": {"outcome: falls", "exposure: own.years"}, "ordinal": {"outcome: grade"}}[f]...)
	}
	return out
}

// finite says that R has coefficients that do not run off.
func (m modelled) finite(name string) bool {
	v := m.answers[name].Values
	if strings.HasSuffix(name, "_coef") {
		return len(v) > 0 && math.Max(slices.Max(v), -slices.Min(v)) < 8
	}
	return len(v) > 0
}

func (m modelled) settles() bool {
	v, kinds := m.answers["residual_vars"].Values, map[int]int{}
	for _, k := range m.set.By {
		kinds[k]++
	}
	for _, rows := range kinds {
		if strings.HasSuffix(m.set.Residual, "spread") && rows < 5 { // a kind with fewer is refused
			return false
		}
	}
	if r := m.answers["residual_range"].Values; len(r) > 0 && !(r[0] > 0.3 && r[0] < 100) {
		return false
	}
	return len(v) > 0 && v[len(v)-1] > 1e-3
}

func (m modelled) mixedAsk(kind string) []string {
	out := []string{"method: mixed", "outcome: reading", "time: days_since_delivery", "adjust: [dose, load]"}
	add := func(line string, kinds ...string) {
		if slices.Contains(kinds, kind) {
			out = append(out, line)
		}
	}
	add("slopes: [days_since_delivery]", "slope", "apart", "nestedslope", "all", "slopespread")
	add("random_effects: uncorrelated", "apart")
	add("nested_in: person", "nested", "nestedslope", "personslope", "all", "nestedserial")
	add("nested_slopes: [days_since_delivery]", "personslope")
	add("crossed: [seen_by]", "crossed", "all")
	add("scatter_by: seen_by", "levelspread", "slopespread", "serialspread")
	add("correlation: ar1", "levelserial", "nestedserial", "serialspread")
	if m.set.ML {
		out = append(out, "estimate: ml")
	}
	return out
}

// near compares to the share tol of the size of want or, where that is more, of floor.
func (m modelled) near(what string, got any, want, floor, tol float64) {
	m.Helper()
	x, ok := got.(float64)
	if !ok || !(math.Abs(x-want) <= tol*math.Max(floor, math.Abs(want))) {
		m.Errorf("set %d (%s, %s, %s): %s = %v, R has %.12g", m.set.Index, m.set.Mixed, m.set.Residual, m.set.Leveled, what, got, want)
	}
}

func (m modelled) compare(name string) {
	m.Helper()
	a := m.n.answer(m.T, fmt.Sprintf("%s-%d", name, m.set.Index))
	of := func(part string) []float64 { return m.answers[name+"_"+part].Values }
	var ll float64
	var coef, se []float64
	switch name {
	case "negbin", "ordinal":
		v := m.answers[map[string]string{"negbin": "negbin", "ordinal": "clm"}[name]].Values
		ll, v = v[0], v[1:]
		if name == "negbin" {
			m.near("theta", a.row(m.T, "fit")["theta"], v[0], 0, 1e-5)
			v = v[1:]
		}
		coef, se = v[:len(v)/2], v[len(v)/2:]
	default:
		ll, coef, se = of("loglik")[0], of("coef"), of("se")
	}
	m.near(name+" likelihood", a.row(m.T, "fit")["log_likelihood"], ll, 1, 1e-6)
	rows := a.table(m.T, "terms")
	if strings.Contains(name+m.set.Leveled, "ordinal") && name != "mixed" && name != "residual" { // thresholds stand by themselves
		cuts := len(coef) - 3
		if len(rows) == 3 {
			coef, se = coef[cuts:], se[cuts:]
		}
	}
	if len(rows) != len(coef) {
		m.Fatalf("%s: %d terms, R has %d", a.ID, len(rows), len(coef))
	}
	for k, r := range rows {
		m.near(fmt.Sprint(name, " ", r["term"]), r["estimate"], coef[k], se[k], 1e-6)
		m.near(fmt.Sprint(name, " error of ", r["term"]), r["std_error"], se[k], 0, 1e-5)
	}
	switch name {
	case "mixed", "residual":
		m.variances(a, name)
	case "leveled":
		m.near("between limbs", a.row(m.T, "between")["std_dev"], of("sd")[0], 0, 1e-5)
	}
}

// variances are held to a hundred-thousandth of their size or of what the
// residuals alone would give the mean of one limb's visits.
func (m modelled) variances(a *numbersAnswer, name string) {
	m.Helper()
	rows := a.table(m.T, "variance")
	kind := map[string]string{"mixed": m.set.Mixed, "residual": m.set.Residual}[name]
	left := append([]float64(nil), m.answers[name+"_vars"].Values...)
	floor := left[len(left)-1] * float64(slices.Max(m.set.Limb)) / float64(len(m.set.Y))
	pick := func(what string, match func(r map[string]any) bool, floor float64) {
		m.Helper()
		for _, r := range rows {
			if match(r) {
				m.near(name+" "+what, r["variance"], left[0], floor, 1e-5)
				left = left[1:]
				return
			}
		}
		m.Errorf("%s: no variance of %s", a.ID, what)
		left = left[1:]
	}
	const day = "days_since_delivery"
	triangle := func(group string, slope, together bool) {
		of := func(term, with string) func(r map[string]any) bool {
			return func(r map[string]any) bool {
				w, _ := r["with"].(string)
				return r["group"] == group && r["term"] == term && w == with
			}
		}
		pick(group, of("intercept", ""), floor)
		if together {
			pick(group+" covariance", of("intercept", day), floor/10)
		}
		if slope {
			pick(group+" slope", of(day, ""), floor/100)
		}
	}
	if kind != "serial" {
		slope := slices.Contains([]string{"slope", "apart", "nestedslope", "all", "slopespread"}, kind)
		triangle("limb", slope, slope && kind != "apart")
	}
	if slices.Contains([]string{"nested", "nestedslope", "personslope", "all", "nestedserial"}, kind) {
		triangle("person", kind == "personslope", kind == "personslope")
	}
	if kind == "crossed" || kind == "all" {
		pick("seen_by", func(r map[string]any) bool { return r["group"] == "seen_by" }, floor)
	}
	k := 0
	for _, r := range rows {
		if r["group"] == "residual" && k < len(left) {
			m.near(name+" residual", r["variance"], left[k], 0, 1e-5)
			k++
		}
	}
	if k != len(left) {
		m.Errorf("%s: %d residual variances, R has %d", a.ID, k, len(left))
	}
}
