package survival

import (
	"math"
	"testing"
)

// checkFit compares a fit with an entry made by summary(coxph). The Wald
// statistic is rounded to two digits there.
func checkFit(t *testing.T, s *set, entry string, c *Cox) {
	t.Helper()
	f := s.entry(entry)["fit"].(map[string]any)
	tol := s.tol(entry)
	near(t, entry+" rows", float64(c.Rows), number(f["n"]), 0)
	near(t, entry+" events", c.Events, number(f["nevent"]), 0)
	for j, name := range c.Names {
		near(t, entry+" "+name, c.Coef[j], number(get(f, "coef", name)), tol)
		near(t, entry+" se "+name, c.StdErr()[j], number(get(f, "se", name)), tol)
		if f["robust_se"] != nil {
			near(t, entry+" robust se "+name, c.RobustStdErr()[j], number(get(f, "robust_se", name)), tol)
		}
		for k := range c.Names {
			near(t, entry+" covariance "+name, c.Covariance()[j][k], matrix(get(f, "vcov", "values"))[j][k], 10*tol)
		}
	}
	near(t, entry+" log likelihood null", c.LogLikNull, number(get(f, "loglik", "null")), 1e-11)
	near(t, entry+" log likelihood", c.LogLik, number(get(f, "loglik", "model")), 1e-11)
	near(t, entry+" aic", c.AIC, 2*float64(len(c.Coef))-2*number(get(f, "loglik", "model")), 1e-11)
	near(t, entry+" likelihood ratio", c.LikelihoodRatio.Statistic, number(get(f, "lrt", "stat")), tol)
	near(t, entry+" likelihood ratio p", c.LikelihoodRatio.P, number(get(f, "lrt", "p")), 1e-6)
	near(t, entry+" score", c.Score.Statistic, number(get(f, "score", "stat")), tol)
	near(t, entry+" wald p", c.Wald.P, number(get(f, "wald", "p")), 1e-6)
	near(t, entry+" wald", math.Round(c.Wald.Statistic*100)/100, number(get(f, "wald", "stat")), 1e-12)
	if f["robust_score"] != nil {
		if !c.HasRobustScore {
			t.Fatalf("%s: no robust score test", entry)
		}
		near(t, entry+" robust score", c.RobustScore.Statistic, number(get(f, "robust_score", "stat")), tol)
	}
	k := f["concordance"]
	near(t, entry+" concordant", c.Concordance.Concordant, number(get(k, "concordant")), tol)
	near(t, entry+" discordant", c.Concordance.Discordant, number(get(k, "discordant")), tol)
	near(t, entry+" tied x", c.Concordance.TiedX, number(get(k, "tied_x")), tol)
	near(t, entry+" tied time", c.Concordance.TiedTime, number(get(k, "tied_y")), tol)
	near(t, entry+" tied both", c.Concordance.TiedBoth, number(get(k, "tied_xy")), tol)
	near(t, entry+" concordance", c.Concordance.Estimate, number(get(k, "C")), tol)
	near(t, entry+" concordance std err", c.Concordance.StdErr, number(get(k, "std")), tol)
}

func checkProportionality(t *testing.T, s *set, entry string, c *Cox, scale TimeScale) {
	t.Helper()
	table := s.entry(entry)["table"]
	if table == nil {
		table = get(s.entry(entry), "r", "table")
	}
	want := matrix(table)
	r := must(c.Proportionality(scale))(t)
	for k, x := range append(r.Terms, r.Global) {
		near(t, entry+" "+x.Name, x.Statistic, want[k][0], s.tol(entry))
		near(t, entry+" df "+x.Name, x.DF, want[k][1], 0)
		near(t, entry+" p "+x.Name, x.P, want[k][2], 1e-6)
	}
}

func events(cause []int, which int) []bool {
	out := make([]bool, len(cause))
	for i, c := range cause {
		out[i] = c == which
	}
	return out
}

func fit(t testing.TB, d CoxData, o CoxOptions) *Cox {
	t.Helper()
	return must(FitCox(d, o))(t)
}

func TestCoxFreireich(t *testing.T) {
	s := load(t, "freireich")
	d := CoxData{Time: s.num("time"), Event: events(s.ints("cens"), 1), X: [][]float64{s.is("treat", "control")}, Names: []string{"control"}}
	for entry, ties := range map[string]Ties{"cox_efron": Efron, "cox_breslow": Breslow, "cox_exact": Discrete} {
		checkFit(t, s, entry, fit(t, d, CoxOptions{Ties: ties}))
	}
}

func veteranData(s *set) CoxData {
	return CoxData{
		Time: s.num("time"), Event: events(s.ints("status"), 1),
		X: [][]float64{plus(s.num("trt"), -1), s.is("celltype", "smallcell"), s.is("celltype", "adeno"), s.is("celltype", "large"),
			s.num("karno"), s.num("diagtime"), s.num("age"), scaleBy(s.num("prior"), 0.1)},
		Names: []string{"trt2", "smallcell", "adeno", "large", "karno", "diagtime", "age", "prior10"},
	}
}

func TestCoxVeteran(t *testing.T) {
	s := load(t, "veteran")
	d := veteranData(s)
	c := fit(t, d, CoxOptions{})
	checkFit(t, s, "cox_full_efron", c)
	checkFit(t, s, "cox_full_breslow", fit(t, d, CoxOptions{Ties: Breslow}))
	for entry, scale := range map[string]TimeScale{"zph_km": SurvivalTime, "zph_identity": PlainTime, "zph_rank": RankTime, "zph_log": LogTime} {
		checkProportionality(t, s, entry, c, scale)
	}

	code := make([]int, len(d.Time))
	for k, cell := range []string{"adeno", "large", "smallcell", "squamous"} {
		for i, y := range s.is("celltype", cell) {
			code[i] += k * int(y)
		}
	}
	st := fit(t, CoxData{Time: d.Time, Event: d.Event, Strata: code,
		X: [][]float64{d.X[0], d.X[4], d.X[6]}, Names: []string{"trt2", "karno", "age"}}, CoxOptions{})
	checkFit(t, s, "cox_stratified", st)
	checkProportionality(t, s, "zph_stratified", st, SurvivalTime)
}

func TestCoxResidualsVeteran(t *testing.T) {
	s := load(t, "veteran")
	c := fit(t, veteranData(s), CoxOptions{})
	e, tol := s.entry("residuals"), s.tol("residuals")
	r := must(c.Residuals())(t)
	abs, sq, dev, lo, hi := 0.0, 0.0, 0.0, math.Inf(1), math.Inf(-1)
	for i, m := range r.Martingale {
		abs += math.Abs(m)
		sq += m * m
		dev += r.Deviance[i] * r.Deviance[i]
		lo, hi = math.Min(lo, m), math.Max(hi, m)
	}
	near(t, "sum abs", abs, number(e["martingale_sum_abs"]), tol)
	near(t, "sum squares", sq, number(e["martingale_sumsq"]), tol)
	near(t, "min", lo, number(e["martingale_min"]), tol)
	near(t, "max", hi, number(e["martingale_max"]), tol)
	near(t, "deviance", dev, number(e["deviance_sumsq"]), tol)
	nears(t, "martingale", r.Martingale[:10], numbers(e["first10_martingale"]), tol)
	nears(t, "deviance", r.Deviance[:10], numbers(e["first10_deviance"]), tol)
	sch := must(c.Schoenfeld())(t)
	for j, name := range c.Names {
		sum := 0.0
		for i := range r.Score {
			sum += r.Score[i][j] * r.Score[i][j]
		}
		near(t, "score "+name, sum, number(get(e, "score_colsumsq", name)), tol)
		near(t, "dfbeta "+name, r.DFBeta[0][j], number(get(e, "dfbeta_row1", name)), tol)
		near(t, "schoenfeld "+name, sch[0].Value[j], number(get(e, "schoenfeld_first", name)), tol)
		total := 0.0
		for _, x := range sch {
			total += x.Value[j]
		}
		if math.Abs(total) > 1e-9 {
			t.Errorf("Schoenfeld residuals of %s add up to %g", name, total)
		}
	}
}

func TestCoxPredictVeteran(t *testing.T) {
	s := load(t, "veteran")
	c := fit(t, veteranData(s), CoxOptions{})
	e := s.entry("baseline_at_zero")
	base := must(c.Baseline())(t)
	if len(base) != 1 {
		t.Fatalf("%d baselines", len(base))
	}
	for k, at := range numbers(e["times"]) {
		p, ok := base[0].At(at)
		if !ok {
			t.Fatalf("baseline not known at %g", at)
		}
		near(t, "baseline", p.CumulativeHazard, numbers(e["cumhaz"])[k], s.tol("baseline_at_zero"))
	}
	checkPrediction(t, s, c, []float64{1, 1, 0, 0, 60, 6, 65, 0}, Log)
}

func checkPrediction(t *testing.T, s *set, c *Cox, x []float64, scale Scale) {
	t.Helper()
	e, tol := s.entry("predicted_curve")["r"], s.tol("predicted_curve")
	p := must(c.Predict(x, 0, CurveOptions{Bounds: scale}))(t)
	for k, at := range numbers(get(e, "times")) {
		got, ok := p.At(at)
		if !ok {
			t.Fatalf("not known at %g", at)
		}
		near(t, "survival", got.Survival, numbers(get(e, "surv"))[k], tol)
		near(t, "std err", got.StdErr, numbers(get(e, "std_err_S"))[k], tol)
		near(t, "low", got.Low, numbers(get(e, "lower"))[k], tol)
		near(t, "high", got.High, numbers(get(e, "upper"))[k], tol)
		near(t, "hazard", got.CumulativeHazard, numbers(get(e, "cumhaz"))[k], tol)
	}
}

func TestCoxLung(t *testing.T) {
	s := load(t, "lung").keep(func(r map[string]string) bool { return r["ph.ecog"] != "" })
	d := CoxData{Time: s.num("time"), Event: events(s.ints("status"), 2),
		X: [][]float64{s.num("age"), plus(s.num("sex"), -1), s.num("ph.ecog")}, Names: []string{"age", "female", "ph.ecog"}}
	c := fit(t, d, CoxOptions{})
	checkFit(t, s, "cox", c)
	checkProportionality(t, s, "zph_km", c, SurvivalTime)
	checkPrediction(t, s, c, []float64{65, 1, 1}, ComplementaryLogLog)
	m, dev := 0.0, 0.0
	r := must(c.Residuals())(t)
	for i := range r.Martingale {
		m += r.Martingale[i] * r.Martingale[i]
		dev += r.Deviance[i] * r.Deviance[i]
	}
	near(t, "martingale", m, number(s.entry("residuals")["martingale_sumsq"]), 1e-6)
	near(t, "deviance", dev, number(s.entry("residuals")["deviance_sumsq"]), 1e-6)

	var strata []int
	for _, f := range d.X[1] {
		strata = append(strata, int(f))
	}
	checkFit(t, s, "cox_strat_sex", fit(t, CoxData{Time: d.Time, Event: d.Event, Strata: strata,
		X: [][]float64{d.X[0], d.X[2]}, Names: []string{"age", "ph.ecog"}}, CoxOptions{}))

	k, ok, err := HarrellConcordance(CoxData{Time: d.Time, Event: d.Event}, d.X[0])
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	e := s.entry("concordance_age")
	near(t, "C", k.Estimate, number(e["C"]), 1e-8)
	near(t, "variance of C", k.StdErr*k.StdErr, number(e["var"]), 1e-8)
	near(t, "tied both", k.TiedBoth, number(get(e, "counts", "tied.xy")), 0)
	u, ok, err := UnoConcordance(CoxData{Time: d.Time, Event: d.Event}, c.Predictor())
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	near(t, "Uno's C", u.Estimate, number(s.entry("uno_c")["C"]), 1e-6)
	near(t, "variance of Uno's C", u.StdErr*u.StdErr, number(s.entry("uno_c")["var"]), 1e-6)
}

func TestCoxOvarian(t *testing.T) {
	s := load(t, "ovarian")
	c := fit(t, CoxData{Time: s.num("futime"), Event: events(s.ints("fustat"), 1),
		X: [][]float64{s.num("age"), plus(s.num("rx"), -1)}, Names: []string{"age", "rx2"}}, CoxOptions{})
	checkFit(t, s, "cox", c)
	checkProportionality(t, s, "zph_km", c, SurvivalTime)
	base := must(c.Baseline())(t)
	want := s.entry("baseline_cumhaz_full")["r"]
	for k, at := range numbers(get(want, "time")) {
		p, ok := base[0].At(at)
		if !ok {
			t.Fatalf("not known at %g", at)
		}
		near(t, "baseline", p.CumulativeHazard, numbers(get(want, "hazard"))[k], 1e-6)
	}
}

func TestCoxClusteredKidney(t *testing.T) {
	s := load(t, "kidney")
	d := CoxData{Time: s.num("time"), Event: events(s.ints("status"), 1), Cluster: s.ints("id"),
		X:     [][]float64{s.num("age"), plus(s.num("sex"), -1), s.is("disease", "GN"), s.is("disease", "AN"), s.is("disease", "PKD")},
		Names: []string{"age", "female", "GN", "AN", "PKD"}}
	checkFit(t, s, "cox_cluster", fit(t, d, CoxOptions{}))
	d.X, d.Names = d.X[:2], d.Names[:2]
	checkFit(t, s, "cox_cluster_breslow", fit(t, d, CoxOptions{Ties: Breslow}))
}

func TestCoxCauseSpecificMgus2(t *testing.T) {
	s := load(t, "mgus2").keep(func(r map[string]string) bool { return r["hgb"] != "" && r["creat"] != "" })
	for entry, cause := range map[string]int{"cause_specific_pcm": 1, "cause_specific_death": 2} {
		checkFit(t, s, entry, fit(t, CoxData{Time: s.num("etime"), Event: events(s.ints("event"), cause),
			X:     [][]float64{s.num("age"), s.is("sex", "M"), s.num("hgb"), s.num("creat")},
			Names: []string{"age", "male", "hgb", "creat"}}, CoxOptions{}))
	}
}

func heartCox(s *set) CoxData {
	return CoxData{Entry: s.num("start"), Time: s.num("stop"), Event: events(s.ints("event"), 1),
		X:     [][]float64{s.num("age"), s.num("year"), s.num("surgery"), s.num("transplant")},
		Names: []string{"age", "year", "surgery", "transplant"}}
}

func TestCoxTimeVaryingHeart(t *testing.T) {
	s := load(t, "heart")
	d := heartCox(s)
	checkFit(t, s, "cox_tv_efron", fit(t, d, CoxOptions{}))
	checkFit(t, s, "cox_tv_breslow", fit(t, d, CoxOptions{Ties: Breslow}))
	i := d
	i.X = [][]float64{d.X[0], d.X[2], d.X[3], times(d.X[0], d.X[3]), times(d.X[2], d.X[3])}
	i.Names = []string{"age", "surgery", "transplant", "age_tx", "surg_tx"}
	c := fit(t, i, CoxOptions{})
	checkFit(t, s, "cox_interaction", c)
	checkProportionality(t, s, "zph", c, SurvivalTime)
	d.Cluster = s.ints("id")
	checkFit(t, s, "cox_cluster", fit(t, d, CoxOptions{}))
}
