package survival

import (
	"errors"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

// R 4.2.2, cmprsk 2.2-11, cuminc(etime, event, group, strata)$Tests; the
// calls stand in testdata/finegray.R.
func TestGrayMgus2(t *testing.T) {
	const tol = 1e-10
	s := load(t, "mgus2")
	sexes := s.split("sex", "etime", "event", "F", "M")
	want := matrix(get(s.entry("gray_test"), "r", "tests", "values"))
	for cause := 1; cause <= 2; cause++ {
		r := must(GrayTest(sexes, []string{"F", "M"}, cause, nil))(t)
		near(t, "statistic", r.Statistic, want[cause-1][0], tol)
		near(t, "p", r.P, want[cause-1][1], tol)
		near(t, "df", r.DF, want[cause-1][2], 0)
		// Everything observed is expected of somebody.
		near(t, "expected", r.Groups[0].Expected+r.Groups[1].Expected, r.Groups[0].Observed+r.Groups[1].Observed, 1e-10)
	}
	third := func(age float64) int {
		switch {
		case age <= 65:
			return 0
		case age <= 77:
			return 1
		}
		return 2
	}
	all := s.data("etime", "event")
	ages := s.num("age")
	var groups []Data
	var strata, sexOf [][]int
	for k := range 3 {
		in := func(i int) bool { return third(ages[i]) == k }
		groups = append(groups, all.where(in))
		var v []int
		for i, r := range s.rows {
			if in(i) {
				v = append(v, len(r["sex"])+int(r["sex"][0]))
			}
		}
		sexOf = append(sexOf, v)
	}
	for _, sex := range []string{"F", "M"} {
		var v []int
		for _, age := range s.keep(func(r map[string]string) bool { return r["sex"] == sex }).num("age") {
			v = append(v, third(age))
		}
		strata = append(strata, v)
	}
	e := readJSON(t, "testdata/finegray.json")
	for cause := 1; cause <= 2; cause++ {
		for name, r := range map[string]*GrayResult{
			"gray_three":        must(GrayTest(groups, []string{"a", "b", "c"}, cause, nil))(t),
			"gray_strata":       must(GrayTest(sexes, []string{"F", "M"}, cause, strata))(t),
			"gray_three_strata": must(GrayTest(groups, []string{"a", "b", "c"}, cause, sexOf))(t),
		} {
			near(t, name, r.Statistic, matrix(e[name])[cause-1][0], tol)
			near(t, name+" df", r.DF, matrix(e[name])[cause-1][2], 0)
		}
	}
}

func TestGraySimulated(t *testing.T) {
	for _, name := range []string{"gray_simulated_plain", "gray_simulated_tied"} {
		e := readJSON(t, "testdata/finegray.json")[name].(map[string]any)
		groups, strata := make([]Data, 3), make([][]int, 3)
		group, cause, stratum := numbers(e["group"]), numbers(e["cause"]), numbers(e["stratum"])
		for i, tm := range numbers(e["time"]) {
			g := int(group[i])
			groups[g].Time, groups[g].Cause = append(groups[g].Time, tm), append(groups[g].Cause, int(cause[i]))
			strata[g] = append(strata[g], int(stratum[i]))
		}
		for c := 1; c <= 2; c++ {
			r := must(GrayTest(groups, []string{"a", "b", "c"}, c, nil))(t)
			near(t, name, r.Statistic, matrix(e["tests"])[c-1][0], 1e-10)
			r = must(GrayTest(groups, []string{"a", "b", "c"}, c, strata))(t)
			near(t, name+" stratified", r.Statistic, matrix(e["stratified"])[c-1][0], 1e-10)
		}
	}
}

// With no other cause it compares the events that the log-rank test does. The
// variances differ in how they count those at risk, by little.
func TestGrayIsLogRankWithoutCompetition(t *testing.T) {
	s := load(t, "freireich")
	groups := s.split("treat", "time", "cens", "6-MP", "control")
	names := []string{"6-MP", "control"}
	g := must(GrayTest(groups, names, 1, nil))(t)
	l := must(LogRank(groups, names, LogRankOptions{}))(t)
	for k := range g.Groups {
		near(t, "observed", g.Groups[k].Observed, l.Groups[k].Observed, 1e-12)
		near(t, "expected", g.Groups[k].Expected, l.Groups[k].Expected, 1e-12)
	}
	near(t, "statistic", g.Statistic, l.Statistic, 0.05)
}

// Two groups with the same incidence of cause 1 but different censoring: one
// test in twenty is below 0.05.
func TestGrayKeepsItsLevel(t *testing.T) {
	const runs = 1000
	r := rand.New(rand.NewPCG(11, 2))
	below := 0
	for range runs {
		groups := make([]Data, 2)
		for g := range groups {
			for range 60 {
				tm, c := r.ExpFloat64(), (1.5+float64(g))*r.Float64()
				cause := 1 + r.IntN(2)
				if c < tm {
					tm, cause = c, 0
				}
				groups[g].Time, groups[g].Cause = append(groups[g].Time, tm), append(groups[g].Cause, cause)
			}
		}
		if must(GrayTest(groups, []string{"a", "b"}, 1, nil))(t).P < 0.05 {
			below++
		}
	}
	// 50 of 1000, give or take three standard errors.
	if below < 29 || below > 71 {
		t.Errorf("%d of %d tests below 0.05", below, runs)
	}
}

func TestGrayDegenerate(t *testing.T) {
	two := []string{"a", "b"}
	ok := Data{Time: []float64{1, 2}, Cause: []int{1, 2}}
	if _, err := GrayTest([]Data{ok, ok}, two, 0, nil); err == nil {
		t.Error("cause 0: no error")
	}
	if _, err := GrayTest([]Data{ok}, two[:1], 1, nil); err == nil {
		t.Error("one group: no error")
	}
	if _, err := GrayTest([]Data{ok, ok}, two, 3, nil); !errors.Is(err, stats.ErrNoEvents) {
		t.Errorf("cause without events: %v", err)
	}
	late := Data{Entry: []float64{5, 5}, Time: []float64{6, 7}, Cause: []int{1, 1}}
	if _, err := GrayTest([]Data{{Time: []float64{1}, Cause: []int{1}}, late}, two, 1, nil); !errors.Is(err, ErrNoComparison) {
		t.Errorf("never together: %v", err)
	}
	r, err := GrayTest([]Data{ok, {Time: []float64{1, 2, 3}, Cause: []int{2, 1, 0}}}, two, 1, nil)
	if err != nil || !finite(r.Statistic) || !finite(r.P) {
		t.Errorf("small groups: %+v %v", r, err)
	}
}
