package survival

import (
	"errors"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

// R 4.2.2, cmprsk 2.2-11, cuminc(etime, event, group, strata)$Tests. The
// tolerance is wide because the variance formulas differ: cmprsk takes the
// incidence of all groups together where this one takes each group's own (so
// that without competing causes it is the log-rank test, see below), and it
// treats ties and the moment before or after an event otherwise. Two groups
// agree to 0.3 percent of the statistic, three groups and strata to 2.
func TestGrayMgus2(t *testing.T) {
	const tol = 3e-3
	s := load(t, "mgus2")
	sexes := s.split("sex", "etime", "event", "F", "M")
	want := matrix(get(s.entry("gray_test"), "r", "tests", "values"))
	for cause := 1; cause <= 2; cause++ {
		r := must(GrayTest(sexes, []string{"F", "M"}, cause, nil))(t)
		near(t, "statistic", r.Statistic, want[cause-1][0], tol)
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
	for k := range 3 {
		groups = append(groups, all.where(func(i int) bool { return third(ages[i]) == k }))
	}
	three := readJSON(t, "testdata/more.json")["gray_three"]
	strat := readJSON(t, "testdata/more.json")["gray_strata"]
	var strata [][]int
	for _, sex := range []string{"F", "M"} {
		var v []int
		for _, age := range s.keep(func(r map[string]string) bool { return r["sex"] == sex }).num("age") {
			v = append(v, third(age))
		}
		strata = append(strata, v)
	}
	for cause := 1; cause <= 2; cause++ {
		r := must(GrayTest(groups, []string{"a", "b", "c"}, cause, nil))(t)
		near(t, "three groups", r.Statistic, matrix(three)[cause-1][0], 2e-2)
		near(t, "three groups df", r.DF, 2, 0)
		r = must(GrayTest(sexes, []string{"F", "M"}, cause, strata))(t)
		near(t, "strata", r.Statistic, matrix(strat)[cause-1][0], 2e-2)
	}
}

// With no other cause Gray's test is the log-rank test.
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
	near(t, "statistic", g.Statistic, l.Statistic, 1e-10)
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
