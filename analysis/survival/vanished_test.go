package survival

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/stats"
)

// Within one cluster, and where all events fall at one time, the scores sum
// to 0 at the estimate: what rounding leaves of them is no error.
func TestRobustErrorsThatCancelOutAreNone(t *testing.T) {
	var d CoxData
	d.Names, d.X = []string{"a"}, [][]float64{nil}
	for i := range 40 {
		d.Time = append(d.Time, float64(10+i*7%40))
		d.Event = append(d.Event, i%3 > 0)
		d.Cluster = append(d.Cluster, 4)
		d.X[0] = append(d.X[0], float64(i%2))
	}
	lone := d
	oneTime := d
	oneTime.Time, oneTime.Event, oneTime.Cluster = make([]float64, 40), make([]bool, 40), order(40)
	for i := range 40 {
		oneTime.Time[i], oneTime.Event[i] = 5, true
	}
	for name, d := range map[string]CoxData{"one cluster": lone, "one time": oneTime} {
		c, err := FitCox(d, CoxOptions{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if se := c.RobustStdErr()[0]; !math.IsNaN(se) {
			t.Errorf("%s: robust error %g", name, se)
		}
		if se := c.StdErr()[0]; !(se > 0) {
			t.Errorf("%s: model error %g", name, se)
		}
		if math.IsNaN(c.Wald.P) {
			t.Errorf("%s: the Wald test is NaN", name)
		}
		p, err := c.Predict([]float64{1}, 0, CurveOptions{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, q := range p.Points {
			if q.Time > 0 && q.HasBounds || math.IsNaN(q.Survival+q.Low+q.High+q.StdErr) {
				t.Errorf("%s: predicted %+v", name, q)
			}
		}
	}
	two := lone
	two.Cluster = make([]int, 40)
	for i := range 40 {
		two.Cluster[i] = i % 4
	}
	c, err := FitCox(two, CoxOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if se := c.RobustStdErr()[0]; !(se > 0) {
		t.Errorf("four clusters: robust error %g", se)
	}
}

func TestMeansAreNotComparedByFewerClustersThanGroups(t *testing.T) {
	groups := func(clusters int) []RecurrentData {
		out := make([]RecurrentData, 2)
		for i := range 20 {
			g := &out[i%2]
			g.Exit = append(g.Exit, 100)
			g.Cluster = append(g.Cluster, i*7%clusters)
			g.Events = append(g.Events, []float64{float64(5 + i)})
		}
		return out
	}
	if _, err := MeanTest(groups(1)); !errors.Is(err, stats.ErrSingular) {
		t.Errorf("one cluster: %v", err)
	}
	if x, err := MeanTest(groups(5)); err != nil || !(x.P > 0 && x.P <= 1) {
		t.Errorf("five clusters: %+v, %v", x, err)
	}
}
