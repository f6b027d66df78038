package survival

import (
	"errors"
	"testing"

	"plybook/analysis/stats"
)

// split makes a group of each value of a column, in the order given.
func (s *set) split(column, time, cause string, values ...string) []Data {
	var out []Data
	for _, v := range values {
		out = append(out, s.keep(func(r map[string]string) bool { return r[column] == v }).data(time, cause))
	}
	return out
}

func checkLogRank(t *testing.T, s *set, entry string, r *LogRankResult, obs, exp string) {
	t.Helper()
	want := s.entry(entry)["r"]
	tol := s.tol(entry)
	for g, c := range r.Groups {
		near(t, entry+" observed", c.Observed, numbers(get(want, obs))[g], tol)
		near(t, entry+" expected", c.Expected, numbers(get(want, exp))[g], tol)
		nears(t, entry+" variance", r.Variance[g], matrix(get(want, "var"))[g], tol)
	}
	near(t, entry+" statistic", r.Statistic, number(get(want, "chisq")), tol)
	near(t, entry+" df", r.DF, number(get(want, "df")), 0)
	near(t, entry+" p", r.P, number(get(want, "p")), 1e-7)
}

func TestLogRankPublished(t *testing.T) {
	s := load(t, "freireich")
	groups := s.split("treat", "time", "cens", "6-MP", "control")
	names := []string{"6-MP", "control"}
	for entry, w := range map[string]Weighting{
		"logrank": EqualWeights, "peto_peto_rho1": PetoPeto, "gehan_breslow": GehanBreslow,
		"peto_peto_prentice": PetoPrentice, "tarone_ware": TaroneWare,
	} {
		obs, exp := "wobs", "wexp"
		if w == EqualWeights || w == PetoPeto {
			obs, exp = "obs", "exp"
		}
		checkLogRank(t, s, entry, must(LogRank(groups, names, LogRankOptions{Weighting: w}))(t), obs, exp)
	}

	v := load(t, "veteran")
	cells := []string{"adeno", "large", "smallcell", "squamous"}
	r := must(LogRank(v.split("celltype", "time", "status", cells...), cells, LogRankOptions{}))(t)
	checkLogRank(t, v, "logrank_celltype", r, "obs", "exp")

	var strata [][]int
	for _, trt := range []string{"1", "2"} {
		x := v.keep(func(r map[string]string) bool { return r["trt"] == trt })
		code := make([]int, len(x.rows))
		for k, c := range cells {
			for i, y := range x.is("celltype", c) {
				code[i] += k * int(y)
			}
		}
		strata = append(strata, code)
	}
	r = must(LogRank(v.split("trt", "time", "status", "1", "2"), []string{"1", "2"}, LogRankOptions{Strata: strata}))(t)
	checkLogRank(t, v, "logrank_trt_strat", r, "obs", "exp")
}

func TestLogRankDegenerate(t *testing.T) {
	two := []string{"a", "b"}
	ok := Data{Time: []float64{1, 2}, Cause: []int{1, 0}}
	for _, c := range []struct {
		name   string
		groups []Data
		want   error
	}{
		{"no events", []Data{{Time: []float64{1}, Cause: []int{0}}, {Time: []float64{2}, Cause: []int{0}}}, stats.ErrNoEvents},
		{"never together", []Data{ok, {Entry: []float64{3}, Time: []float64{5}, Cause: []int{1}}}, ErrNoComparison},
		{"all at once", []Data{{Time: []float64{1}, Cause: []int{1}}, {Time: []float64{1}, Cause: []int{1}}}, ErrNoComparison},
		{"empty group", []Data{ok, {}}, stats.ErrNoRows},
	} {
		if _, err := LogRank(c.groups, two, LogRankOptions{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	for _, c := range []struct {
		name   string
		groups []Data
		names  []string
		o      LogRankOptions
	}{
		{"one group", []Data{ok}, two[:1], LogRankOptions{}},
		{"names", []Data{ok, ok}, two[:1], LogRankOptions{}},
		{"weighting", []Data{ok, ok}, two, LogRankOptions{Weighting: 9}},
		{"strata", []Data{ok, ok}, two, LogRankOptions{Strata: [][]int{{1}, {1, 1}}}},
	} {
		if _, err := LogRank(c.groups, c.names, c.o); err == nil {
			t.Errorf("%s: no error", c.name)
		}
	}
}

// Within strata groups may meet only some of the others: a and b in one
// stratum, c and d in another. Both comparisons count, with a degree of freedom
// each, whatever the order of the groups; a group that meets nobody counts not
// at all. By hand: stratum 1 has O - E of a = 1 - 1/2 and variance 1/4 (then a
// alone is left); stratum 2 the same with c.
func TestLogRankGroupsThatMeetFewOthers(t *testing.T) {
	groups := []Data{
		{Time: []float64{1, 5}, Cause: []int{1, 0}},
		{Time: []float64{2, 3}, Cause: []int{0, 0}},
		{Time: []float64{1, 5}, Cause: []int{1, 0}},
		{Time: []float64{2, 3}, Cause: []int{0, 0}},
		{Time: []float64{4, 6}, Cause: []int{1, 1}},
	}
	names := []string{"a", "b", "c", "d", "e"}
	strata := [][]int{{1, 1}, {1, 1}, {2, 2}, {2, 2}, {3, 3}}
	r := must(LogRank(groups, names, LogRankOptions{Strata: strata}))(t)
	near(t, "statistic", r.Statistic, 2*0.5*0.5/0.25, 1e-12)
	near(t, "df", r.DF, 2, 0)
	// Gray's test meets the same groups.
	g := must(GrayTest(groups, names, 1, strata))(t)
	near(t, "df of Gray's test", g.DF, 2, 0)
	order := []int{4, 2, 0, 1, 3}
	var moved []Data
	var movedStrata [][]int
	for _, k := range order {
		moved, movedStrata = append(moved, groups[k]), append(movedStrata, strata[k])
	}
	again := must(LogRank(moved, names, LogRankOptions{Strata: movedStrata}))(t)
	near(t, "statistic in another order", again.Statistic, r.Statistic, 1e-12)
	near(t, "Gray's test in another order", must(GrayTest(moved, names, 1, movedStrata))(t).Statistic, g.Statistic, 1e-12)
}
