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
