package regress

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/stats"
)

// Without repeats the mean has its usual error and the share its exact limits.
// R 4.2.2: t.test(c(2, 4, 4, 7, 9))$conf.int; binom.test(3, 8)$conf.int.
func TestClusterMeanWithoutRepeats(t *testing.T) {
	m, err := ClusterMean([]float64{2, 4, 4, 7, 9}, []int{5, 3, 8, 1, 0}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range []float64{m.Mean - 5.2, m.SD - 2.7748873851023, m.DF - 4, m.SE - 1.2409673645991, m.Low - 1.75452223484866, m.High - 8.64547776515134} {
		if math.Abs(v) > 1e-11 {
			t.Errorf("part %d is off by %g: %+v", k, v, m)
		}
	}
	s, err := ClusterShare([]bool{true, true, true, false, false, false, false, false}, []int{1, 2, 3, 4, 5, 6, 7, 8}, 0.95)
	if err != nil || math.Abs(s.Low-0.0852334141372536) > 1e-12 || math.Abs(s.High-0.7551367836334484) > 1e-12 || s.Effective != 8 {
		t.Errorf("%+v, %v", s, err)
	}
}

func TestClusterMeanDegenerate(t *testing.T) {
	if _, err := ClusterMean(nil, nil, 0.95); !errors.Is(err, stats.ErrNoRows) {
		t.Errorf("no rows: %v", err)
	}
	for name, c := range map[string]struct {
		y       []float64
		cluster []int
	}{"one row": {[]float64{3}, []int{1}}, "one cluster": {[]float64{3, 4, 8}, []int{1, 1, 1}}, "all the same": {[]float64{0.1, 0.1, 0.1}, []int{1, 2, 3}}} {
		m, err := ClusterMean(c.y, c.cluster, 0.95)
		if err != nil || !math.IsNaN(m.Low) || !math.IsNaN(m.SE) {
			t.Errorf("%s: %+v, %v", name, m, err)
		}
		if name == "all the same" && m.Mean != 0.1 {
			t.Errorf("mean %v", m.Mean)
		}
	}
	// All alike: each cluster counts once; R: binom.test(3, 3)$conf.int.
	s, err := ClusterShare([]bool{true, true, true, true, true}, []int{1, 1, 1, 2, 3}, 0.95)
	if err != nil || s.Effective != 3 || math.Abs(s.Low-0.292401773821287) > 1e-12 || s.High != 1 {
		t.Errorf("%+v, %v", s, err)
	}
	// One person: there is nothing to weigh repeats by.
	s, err = ClusterShare([]bool{true, false, true}, []int{1, 1, 1}, 0.95)
	if err != nil || s.Effective != 1 || s.Low >= s.Share || s.High <= s.Share {
		t.Errorf("%+v, %v", s, err)
	}
}
