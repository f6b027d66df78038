package survival

import (
	"testing"
)

// The values in testdata/more.json come from testdata/more.R: R 4.2.2,
// survival 3.5-3 (survfit, coxph, cox.zph), the exact calls standing there.

func more(t *testing.T, name string) map[string]any {
	t.Helper()
	return readJSON(t, "testdata/more.json")[name].(map[string]any)
}

func checkAt(t *testing.T, c *Curve, e map[string]any) {
	t.Helper()
	for k, at := range numbers(e["time"]) {
		p, ok := c.At(at)
		if !ok || !p.HasBounds {
			t.Fatalf("not known at %g", at)
		}
		near(t, "survival", p.Estimate, numbers(e["surv"])[k], 1e-9)
		near(t, "std err", p.StdErr, numbers(e["se"])[k], 1e-9)
		near(t, "low", p.Low, numbers(e["lower"])[k], 1e-9)
		near(t, "high", p.High, numbers(e["upper"])[k], 1e-9)
	}
}

func TestKaplanMeierClusteredKidney(t *testing.T) {
	s := load(t, "kidney")
	d := s.data("time", "status")
	d.Cluster = s.ints("id")
	c := must(KaplanMeier(d, CurveOptions{}))(t)
	e := more(t, "km_cluster_kidney")
	checkAt(t, c, e)
	if !c.Clustered || c.Clusters != 38 {
		t.Errorf("clustered %v with %d clusters", c.Clustered, c.Clusters)
	}
	for k, p := range []float64{0.25, 0.5, 0.75} {
		q := c.Quantile(p)
		near(t, "quantile", q.Estimate.Value, numbers(e["q"])[k], 0)
		near(t, "quantile low", q.Low.Value, numbers(e["qlow"])[k], 0)
		near(t, "quantile high", q.High.Value, numbers(e["qhigh"])[k], 0)
	}
	e = more(t, "rmst_cluster_kidney")
	for k, until := range numbers(e["until"]) {
		_, se, err := c.RMST(until)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "restricted mean std err", se, numbers(e["se"])[k], 1e-9)
	}
}

// Each person has one catheter in each group, so that neither curve has
// clusters of its own and yet the groups are not independent.
func TestRMSTDifferencePairedKidney(t *testing.T) {
	s := load(t, "kidney")
	all := s.data("time", "status")
	all.Cluster = s.ints("id")
	seen := map[int]bool{}
	first := make([]bool, len(all.Time))
	for i, id := range all.Cluster {
		first[i] = !seen[id]
		seen[id] = true
	}
	a := must(KaplanMeier(all.where(func(i int) bool { return first[i] }), CurveOptions{}))(t)
	b := must(KaplanMeier(all.where(func(i int) bool { return !first[i] }), CurveOptions{}))(t)
	e := more(t, "rmst_difference_kidney")
	d := must(RMSTDifference(a, b, number(e["until"]), 0))(t)
	near(t, "difference", d.Estimate, number(e["est"]), 1e-9)
	near(t, "std err", d.StdErr, number(e["se"]), 1e-9)
}

func TestKaplanMeierClusteredLateHeart(t *testing.T) {
	s := load(t, "heart")
	d := heartData(s)
	d.Cluster = s.ints("id")
	checkAt(t, must(KaplanMeier(d, CurveOptions{}))(t), more(t, "km_cluster_late_heart"))

	x := s.keep(func(r map[string]string) bool { return r["transplant"] == "1" && r["start"] != "0" })
	d = heartData(x)
	for _, id := range x.ints("id") {
		d.Cluster = append(d.Cluster, id/3)
	}
	e := more(t, "km_cluster_late_heart_tx")
	c := must(KaplanMeier(d, CurveOptions{}))(t)
	checkAt(t, c, e)
	_, se, err := c.RMST(300)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "restricted mean std err", se, number(e["rmst_se"]), 1e-9)
}

func TestWeightsAreRowsVeteran(t *testing.T) {
	s := load(t, "veteran")
	d := s.data("time", "status")
	for i := range d.Time {
		d.Weight = append(d.Weight, float64(1+i%3))
	}
	checkAt(t, must(KaplanMeier(d, CurveOptions{Bounds: Logit}))(t), more(t, "km_weights_logit_veteran"))
	trt := s.ints("trt")
	var groups []Data
	for g := 1; g <= 2; g++ {
		groups = append(groups, d.where(func(i int) bool { return trt[i] == g }))
	}
	r := must(LogRank(groups, []string{"1", "2"}, LogRankOptions{}))(t)
	e := more(t, "logrank_weights_veteran")
	near(t, "observed", r.Groups[0].Observed, numbers(e["obs"])[0], 1e-9)
	near(t, "expected", r.Groups[0].Expected, numbers(e["exp"])[0], 1e-9)
	near(t, "statistic", r.Statistic, number(e["chisq"]), 1e-6)
}

func TestCumulativeIncidenceLateClusteredMgus2(t *testing.T) {
	s := load(t, "mgus2")
	d := s.data("etime", "event")
	var entry, weight []float64
	var cluster []int
	for i, age := range s.num("age") {
		e := 0.0
		if d.Time[i] > age/10 {
			e = age / 10
		}
		entry = append(entry, e)
		weight = append(weight, 1+float64((i+1)%4)/2)
		cluster = append(cluster, (i+1)/3)
	}
	for name, c := range map[string]struct {
		d     Data
		scale Scale
	}{
		"aj_cluster_mgus2":              {Data{Time: d.Time, Cause: d.Cause, Cluster: cluster}, ComplementaryLogLog},
		"aj_late_mgus2":                 {Data{Time: d.Time, Cause: d.Cause, Entry: entry}, Logit},
		"aj_late_cluster_weights_mgus2": {Data{Time: d.Time, Cause: d.Cause, Entry: entry, Cluster: cluster, Weight: weight}, ComplementaryLogLog},
	} {
		r := must(CumulativeIncidence(c.d, 2, CurveOptions{Bounds: c.scale}))(t)
		e := more(t, name)
		for k, at := range numbers(e["time"]) {
			causes, free, ok := r.At(at)
			if !ok {
				t.Fatalf("%s: not known at %g", name, at)
			}
			for j, p := range append([]Point{free}, causes...) {
				near(t, name, p.Estimate, matrix(e["p"])[k][j], 1e-9)
				near(t, name+" std err", p.StdErr, matrix(e["se"])[k][j], 1e-9)
				if e["lower"] != nil {
					near(t, name+" low", p.Low, matrix(e["lower"])[k][j], 1e-9)
					near(t, name+" high", p.High, matrix(e["upper"])[k][j], 1e-9)
				}
			}
		}
	}
}

func TestCoxSamplingWeightsVeteran(t *testing.T) {
	s := load(t, "veteran")
	d := CoxData{Time: s.num("time"), Event: events(s.ints("status"), 1), Strata: s.ints("trt"),
		X: [][]float64{s.num("karno"), s.num("age")}, Names: []string{"karno", "age"}, Offset: scaleBy(s.num("diagtime"), 1.0/50)}
	for i := range d.Time {
		d.Weight = append(d.Weight, 0.3+float64((i+1)%7)/3)
		d.Cluster = append(d.Cluster, (i+1)/4)
	}
	for name, ties := range map[string]Ties{"cox_sampling_efron": Efron, "cox_sampling_breslow": Breslow} {
		c := fit(t, d, CoxOptions{Ties: ties, SamplingWeights: true})
		e := more(t, name)
		nears(t, name, c.Coef, numbers(e["coef"]), 1e-7)
		nears(t, name+" se", c.StdErr(), numbers(e["se"]), 1e-7)
		nears(t, name+" robust se", c.RobustStdErr(), numbers(e["robust"]), 1e-7)
		nears(t, name+" log likelihood", []float64{c.LogLikNull, c.LogLik}, numbers(e["loglik"]), 1e-10)
		near(t, name+" score", c.Score.Statistic, number(e["score"]), 1e-7)
		near(t, name+" robust score", c.RobustScore.Statistic, number(e["rscore"]), 1e-7)
		near(t, name+" concordance", c.Concordance.Estimate, number(e["C"]), 1e-7)
		near(t, name+" concordance std err", c.Concordance.StdErr, number(e["Cse"]), 1e-7)
	}
}

func TestCoxPredictRobustAndLate(t *testing.T) {
	s := load(t, "veteran")
	d := CoxData{Time: s.num("time"), Event: events(s.ints("status"), 1), Strata: s.ints("trt"),
		X: [][]float64{s.num("karno"), s.num("age")}, Names: []string{"karno", "age"}}
	for i := range d.Time {
		d.Cluster = append(d.Cluster, (i+1)/4)
	}
	c := fit(t, d, CoxOptions{})
	e := more(t, "predict_strata_robust")
	for k, stratum := range numbers(e["strata"]) {
		p := must(c.Predict([]float64{50, 60}, int(stratum), CurveOptions{}))(t)
		x, ok := p.At(numbers(e["time"])[k])
		if !ok {
			t.Fatal("not known")
		}
		near(t, "survival", x.Survival, numbers(e["surv"])[k], 1e-8)
		near(t, "std err", x.StdErr, numbers(e["se"])[k], 1e-8)
		near(t, "low", x.Low, numbers(e["lower"])[k], 1e-8)
		near(t, "high", x.High, numbers(e["upper"])[k], 1e-8)
	}
	h := load(t, "heart")
	c = fit(t, heartCox(h), CoxOptions{})
	e = more(t, "predict_late_heart")
	p := must(c.Predict([]float64{2, 3, 0, 1}, 0, CurveOptions{Bounds: Log}))(t)
	for k, at := range numbers(e["time"]) {
		x, _ := p.At(at)
		near(t, "late survival", x.Survival, numbers(e["surv"])[k], 1e-8)
		near(t, "late std err", x.StdErr, numbers(e["se"])[k], 1e-8)
	}
}

func TestProportionalityFactorVeteran(t *testing.T) {
	s := load(t, "veteran")
	c := fit(t, CoxData{Time: s.num("time"), Event: events(s.ints("status"), 1),
		X:     [][]float64{s.num("trt"), s.is("celltype", "smallcell"), s.is("celltype", "adeno"), s.is("celltype", "large"), s.num("karno")},
		Names: []string{"trt", "smallcell", "adeno", "large", "karno"},
		Terms: []Term{{"trt", []int{0}}, {"celltype", []int{1, 2, 3}}, {"karno", []int{4}}}}, CoxOptions{})
	r := must(c.Proportionality(SurvivalTime))(t)
	want := matrix(more(t, "zph_factor")["table"])
	for k, x := range append(r.Terms, r.Global) {
		near(t, x.Name, x.Statistic, want[k][0], 1e-6)
		near(t, x.Name+" df", x.DF, want[k][1], 0)
	}
}

func TestCoxDiscreteTies(t *testing.T) {
	s := load(t, "lung").keep(func(r map[string]string) bool { return r["ph.ecog"] != "" })
	d := CoxData{Event: events(s.ints("status"), 2), X: [][]float64{s.num("age"), s.num("sex"), s.num("ph.ecog")}, Names: []string{"age", "sex", "ecog"}}
	for _, x := range s.ints("time") {
		d.Time = append(d.Time, float64((x+59)/60))
	}
	c := fit(t, d, CoxOptions{Ties: Discrete})
	e := more(t, "cox_discrete_lung")
	nears(t, "coef", c.Coef, numbers(e["coef"]), 1e-7)
	nears(t, "se", c.StdErr(), numbers(e["se"]), 1e-7)
	nears(t, "log likelihood", []float64{c.LogLikNull, c.LogLik}, numbers(e["loglik"]), 1e-10)
	near(t, "score", c.Score.Statistic, number(e["score"]), 1e-7)

	h := heartCox(load(t, "heart"))
	h.X, h.Names = [][]float64{h.X[0], h.X[2]}, []string{"age", "surgery"}
	c = fit(t, h, CoxOptions{Ties: Discrete})
	e = more(t, "cox_discrete_heart")
	nears(t, "late coef", c.Coef, numbers(e["coef"]), 1e-7)
	nears(t, "late se", c.StdErr(), numbers(e["se"]), 1e-7)
	nears(t, "late log likelihood", []float64{c.LogLikNull, c.LogLik}, numbers(e["loglik"]), 1e-10)
}
