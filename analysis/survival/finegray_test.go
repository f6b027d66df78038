package survival

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

// The values in testdata/finegray.json come from testdata/finegray.R: R
// 4.2.2, survival 3.5-3 (finegray, coxph) and cmprsk 2.2-11 (crr, cuminc), the
// exact calls standing there.
func fineGrayExpected(t testing.TB, name string) map[string]any {
	t.Helper()
	return readJSON(t, "testdata/finegray.json")[name].(map[string]any)
}

var mgusColumns = []string{"age", "male", "hgb", "creat"}

// mgusComplete is the rows of mgus2 with haemoglobin and creatinine, male as
// a column.
func mgusComplete(t *testing.T) FineGrayData {
	t.Helper()
	s := load(t, "mgus2").keep(func(r map[string]string) bool {
		return r["hgb"] != "" && r["hgb"] != "NA" && r["creat"] != "" && r["creat"] != "NA"
	})
	d := FineGrayData{Time: s.num("etime"), Cause: s.ints("event"), Names: mgusColumns}
	male := make([]float64, len(d.Time))
	for i, r := range s.rows {
		if r["sex"] == "M" {
			male[i] = 1
		}
	}
	d.X = [][]float64{s.num("age"), male, s.num("hgb"), s.num("creat")}
	return d
}

func checkFineGray(t *testing.T, f *FineGray, e map[string]any) {
	t.Helper()
	const tol = 1e-8
	for j, want := range numbers(e["coef"]) {
		near(t, "coefficient", f.Coef[j], want, tol)
		near(t, "std err", f.StdErr()[j], numbers(e["se"])[j], tol)
		near(t, "robust std err", f.RobustStdErr()[j], numbers(e["robust"])[j], tol)
	}
	near(t, "null log likelihood", f.LogLikNull, numbers(e["loglik"])[0], 1e-10)
	near(t, "log likelihood", f.LogLik, numbers(e["loglik"])[1], 1e-10)
	near(t, "Wald test", f.Wald.Statistic, e["wald"].(float64), tol)
	near(t, "robust score test", f.RobustScore.Statistic, e["rscore"].(float64), tol)
}

func TestFineGrayMgus2(t *testing.T) {
	for cause := 1; cause <= 2; cause++ {
		for _, ties := range []Ties{Efron, Breslow} {
			d := mgusComplete(t)
			name := fmt.Sprintf("%d_%s", cause, map[Ties]string{Efron: "efron", Breslow: "breslow"}[ties])
			f := must(FitFineGray(d, cause, FineGrayOptions{Ties: ties}))(t)
			checkFineGray(t, f, fineGrayExpected(t, "mgus2_"+name))
			if f.Clusters != 0 || f.LargestWeight > 1 || f.RobustWeights == nil {
				t.Errorf("clusters %d, largest weight %g", f.Clusters, f.LargestWeight)
			}
			for i := range d.Time {
				d.Cluster = append(d.Cluster, (i+1)/4)
			}
			f = must(FitFineGray(d, cause, FineGrayOptions{Ties: ties}))(t)
			e := fineGrayExpected(t, "mgus2_clustered_"+name)
			checkFineGray(t, f, e)
			s := must(FineGrayScore(d, cause, FineGrayOptions{Ties: ties}))(t)
			near(t, "score test alone", s.Statistic, e["rscore"].(float64), 1e-8)
			near(t, "score test alone df", s.DF, 4, 0)
		}
	}
}

func TestFineGrayLateEntryMgus2(t *testing.T) {
	d := lateMgus(t)
	for cause := 1; cause <= 2; cause++ {
		f := must(FitFineGray(d, cause, FineGrayOptions{Ties: Breslow}))(t)
		checkFineGray(t, f, fineGrayExpected(t, fmt.Sprintf("late_%d", cause)))
		if f.RobustWeights != nil {
			t.Error("errors of the weights with late entry")
		}
	}
}

// lateMgus is mgus2 with entries as testdata/finegray.R makes them.
func lateMgus(t *testing.T) FineGrayData {
	all := mgusComplete(t)
	d := FineGrayData{Names: all.Names, X: make([][]float64, len(all.X))}
	for i, tm := range all.Time {
		if tm == 0 {
			continue
		}
		entry := 0.0
		if (i+1)%3 != 0 && tm >= 6 {
			entry = math.Floor(tm / 6)
		}
		d.Entry, d.Time, d.Cause = append(d.Entry, entry), append(d.Time, tm), append(d.Cause, all.Cause[i])
		for j := range d.X {
			d.X[j] = append(d.X[j], all.X[j][i])
		}
	}
	return d
}

// Without censorings at the time of an event cmprsk and this package follow
// one rule, so that the errors that allow for the weights can be compared
// too. Its errors leave out the factor 1 - dC/Y of the derivative of a
// product, which with this data's ties moves them by up to 8e-4; without
// that factor the two agree to 1e-5. TestFineGrayErrorsAreDerivatives has it.
func TestFineGrayWeightsError(t *testing.T) {
	d := mgusComplete(t)
	for i, c := range d.Cause {
		if c == 0 {
			d.Time[i] += 0.5
		}
	}
	for cause := 1; cause <= 2; cause++ {
		e := fineGrayExpected(t, fmt.Sprintf("crr_%d", cause))
		f := must(FitFineGray(d, cause, FineGrayOptions{Ties: Breslow}))(t)
		for j, want := range numbers(e["coef"]) {
			near(t, "coefficient", f.Coef[j], want, 1e-8)
			near(t, "std err", rootDiagonal(f.RobustWeights)[j], numbers(e["se"])[j], 1e-3)
		}
		ps := must(f.PredictIncidence([]float64{70, 1, 13, 1}, numbers(e["time"]), CurveOptions{}))(t)
		for k, p := range ps {
			near(t, "incidence", p.Estimate, numbers(e["incidence"])[k], 1e-7)
		}
	}
}

// simulated is lives with two causes, one column of two and one of many
// values, ties and weights.
func simulatedFineGray(n int, seed uint64, late bool) FineGrayData {
	r := rand.New(rand.NewPCG(seed, 5))
	d := FineGrayData{Names: []string{"a", "b"}, X: make([][]float64, 2)}
	for range n {
		a, b := float64(r.IntN(2)), r.NormFloat64()
		tm, c := r.ExpFloat64()*math.Exp(-0.4*a+0.2*b), 2.5*r.Float64()
		cause := 1 + r.IntN(2)
		if c < tm {
			tm, cause = c, 0
		}
		tm = math.Ceil(tm*20) / 20
		entry := 0.0
		if late && r.IntN(2) == 0 {
			entry = math.Floor(tm*10) / 30
		}
		d.Entry, d.Time, d.Cause = append(d.Entry, entry), append(d.Time, tm), append(d.Cause, cause)
		d.X[0], d.X[1] = append(d.X[0], a), append(d.X[1], b)
		d.Weight = append(d.Weight, 1)
	}
	return d
}

// The influence of a row is the derivative of the estimate by its weight.
// With the weights of those who linger worked out anew it must equal the
// score residual that allows for them, and so must the variance made of it.
func TestFineGrayErrorsAreDerivatives(t *testing.T) {
	d := simulatedFineGray(60, 3, false)
	o := FineGrayOptions{Ties: Breslow}
	f := must(FitFineGray(d, 1, o))(t)
	v := square(2)
	const h = 1e-5
	for i := range d.Time {
		d.Weight[i] = 1 + h
		up := must(FitFineGray(d, 1, o))(t)
		d.Weight[i] = 1 - h
		down := must(FitFineGray(d, 1, o))(t)
		d.Weight[i] = 1
		for a := range 2 {
			for b := range 2 {
				v[a][b] += (up.Coef[a] - down.Coef[a]) / (2 * h) * (up.Coef[b] - down.Coef[b]) / (2 * h)
			}
		}
	}
	for a := range 2 {
		for b := range 2 {
			near(t, "covariance", f.RobustWeights[a][b], v[a][b], 1e-6)
		}
	}
}

// Where nobody is censored the weights are 1 and the prediction's error is
// that of derivatives by the weights of rows, with Efron's ties apart.
func TestPredictIncidenceErrors(t *testing.T) {
	d := simulatedFineGray(80, 9, false)
	for i := range d.Cause {
		if d.Cause[i] == 0 {
			d.Cause[i] = 2
		}
	}
	o := FineGrayOptions{Ties: Breslow}
	x, times := []float64{1, 0.3}, []float64{0.2, 0.6, 1.1}
	ps := must(must(FitFineGray(d, 1, o))(t).PredictIncidence(x, times, CurveOptions{}))(t)
	sum := make([]float64, len(times))
	const h = 1e-5
	for i := range d.Time {
		d.Weight[i] = 1 + h
		up := must(must(FitFineGray(d, 1, o))(t).PredictIncidence(x, times, CurveOptions{}))(t)
		d.Weight[i] = 1 - h
		down := must(must(FitFineGray(d, 1, o))(t).PredictIncidence(x, times, CurveOptions{}))(t)
		d.Weight[i] = 1
		for k := range times {
			dp := (up[k].Estimate - down[k].Estimate) / (2 * h)
			sum[k] += dp * dp
		}
	}
	for k, p := range ps {
		near(t, "std err", p.StdErr, math.Sqrt(sum[k]), 1e-6)
		if !p.HasEstimate || !p.HasBounds || !(p.Low < p.Estimate && p.Estimate < p.High) {
			t.Errorf("%+v", p)
		}
	}
}

// With no competing cause the model is Cox's.
func TestFineGrayIsCoxWithoutCompetition(t *testing.T) {
	d := simulatedFineGray(150, 21, true)
	cd := CoxData{Entry: d.Entry, Time: d.Time, X: d.X, Names: d.Names, Cluster: order(150)}
	for i, c := range d.Cause {
		if c == 2 {
			d.Cause[i] = 0
		}
		cd.Event = append(cd.Event, c == 1)
	}
	for _, ties := range []Ties{Efron, Breslow} {
		f := must(FitFineGray(d, 1, FineGrayOptions{Ties: ties}))(t)
		c := must(FitCox(cd, CoxOptions{Ties: ties}))(t)
		p := must(c.Predict([]float64{1, 0}, 0, CurveOptions{}))(t)
		q := must(f.PredictIncidence([]float64{1, 0}, []float64{0.5}, CurveOptions{}))(t)
		at, _ := p.At(0.5)
		near(t, "incidence", q[0].Estimate, 1-at.Survival, 1e-12)
		for j := range 2 {
			near(t, "coefficient", f.Coef[j], c.Coef[j], 1e-12)
			near(t, "robust", f.Robust[j][j], c.Robust[j][j], 1e-12)
		}
	}
}

func TestFineGrayOrderAndWeights(t *testing.T) {
	d := simulatedFineGray(70, 2, true)
	var twice FineGrayData
	twice.Names, twice.X = d.Names, make([][]float64, 2)
	for i := range d.Time {
		k := len(d.Time) - 1 - i
		d.Weight[k] = float64(1 + k%2)
		for range 1 + k%2 {
			twice.Entry, twice.Time, twice.Cause = append(twice.Entry, d.Entry[k]), append(twice.Time, d.Time[k]), append(twice.Cause, d.Cause[k])
			for j := range 2 {
				twice.X[j] = append(twice.X[j], d.X[j][k])
			}
		}
	}
	for _, ties := range []Ties{Efron, Breslow} {
		a := must(FitFineGray(d, 1, FineGrayOptions{Ties: ties}))(t)
		b := must(FitFineGray(twice, 1, FineGrayOptions{Ties: ties}))(t)
		for j := range 2 {
			near(t, "coefficient", a.Coef[j], b.Coef[j], 1e-9)
			near(t, "std err", a.StdErr()[j], b.StdErr()[j], 1e-9)
		}
	}
}

// Lives from a known subdistribution: F(t|a) = 1 - (1 - p(1 - exp(-t)))^exp(b a)
// (Fine and Gray 1999, section 4), censored at random. 95 percent intervals
// cover 95 percent, of the ratio and of the predicted incidence.
func TestFineGrayCovers(t *testing.T) {
	const runs, n, p, beta, at = 400, 150, 0.6, 0.5, 0.8
	r := rand.New(rand.NewPCG(8, 1))
	covered, predicted := 0, 0
	truth := 1 - math.Pow(1-p*(1-math.Exp(-at)), math.Exp(beta))
	for range runs {
		d := FineGrayData{Names: []string{"a"}, X: make([][]float64, 1)}
		for i := range n {
			a := float64(i % 2)
			e := math.Exp(beta * a)
			ever := 1 - math.Pow(1-p, e)
			var tm float64
			cause := 1
			if u := r.Float64(); u < ever {
				tm = -math.Log(1 - (1-math.Pow(1-u, 1/e))/p)
			} else {
				tm, cause = r.ExpFloat64()*math.Exp(-a), 2
			}
			if c := 3 * r.Float64(); c < tm {
				tm, cause = c, 0
			}
			d.Time, d.Cause, d.X[0] = append(d.Time, tm), append(d.Cause, cause), append(d.X[0], a)
		}
		f := must(FitFineGray(d, 1, FineGrayOptions{}))(t)
		if math.Abs(f.Coef[0]-beta) < 1.959964*f.RobustStdErr()[0] {
			covered++
		}
		q := must(f.PredictIncidence([]float64{1}, []float64{at}, CurveOptions{}))(t)[0]
		if q.Low < truth && truth < q.High {
			predicted++
		}
	}
	// 380 of 400, give or take three and a half standard errors.
	for what, k := range map[string]int{"ratio": covered, "incidence": predicted} {
		if k < 365 || k > 395 {
			t.Errorf("the interval of the %s covered %d of %d times", what, k, runs)
		}
	}
}

func TestFineGrayDegenerate(t *testing.T) {
	ok := func() FineGrayData { return simulatedFineGray(40, 4, false) }
	var rows *RowError
	var sep *SeparationError
	var columns *ColumnsError
	var entry *EntryError
	cases := []struct {
		name  string
		cause int
		ties  Ties
		spoil func(*FineGrayData)
		want  func(error) bool
	}{
		{"no rows", 1, Efron, func(d *FineGrayData) { *d = FineGrayData{Names: []string{"a"}, X: [][]float64{nil}} }, func(e error) bool { return errors.Is(e, stats.ErrNoRows) }},
		{"no such cause", 3, Efron, func(*FineGrayData) {}, func(e error) bool { return errors.Is(e, stats.ErrNoEvents) }},
		{"cause 0", 0, Efron, func(*FineGrayData) {}, func(e error) bool { return e != nil }},
		{"discrete ties", 1, Discrete, func(*FineGrayData) {}, func(e error) bool { return errors.Is(e, ErrNotDiscrete) }},
		{"negative cause", 1, Efron, func(d *FineGrayData) { d.Cause[3] = -1 }, func(e error) bool { return errors.As(e, &rows) && rows.Row == 3 }},
		{"causes missing", 1, Efron, func(d *FineGrayData) { d.Cause = d.Cause[1:] }, func(e error) bool { return errors.As(e, &rows) }},
		{"constant column", 1, Efron, func(d *FineGrayData) { d.X[0] = make([]float64, 40) }, func(e error) bool { return errors.As(e, &columns) && columns.Constant }},
		{"one column twice", 1, Efron, func(d *FineGrayData) { d.X[0] = d.X[1] }, func(e error) bool { return errors.As(e, &columns) }},
		{"one group without the event", 1, Efron, func(d *FineGrayData) {
			for i, c := range d.Cause {
				if c == 1 {
					d.X[0][i] = 0
				}
			}
		}, func(e error) bool { return errors.As(e, &sep) && sep.Names[0] == "a" }},
		{"nobody followed on", 1, Efron, func(d *FineGrayData) {
			for i := range d.Time {
				d.Entry[i], d.Time[i] = 0, 1
				if i >= 10 {
					d.Entry[i], d.Time[i] = 2, float64(3+i)
				}
			}
			d.Cause[0], d.Cause[1] = 1, 2
		}, func(e error) bool { return errors.As(e, &entry) && entry.Time == 1 }},
	}
	for _, c := range cases {
		d := ok()
		c.spoil(&d)
		if _, err := FitFineGray(d, c.cause, FineGrayOptions{Ties: c.ties}); !c.want(err) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	f := must(FitFineGray(ok(), 1, FineGrayOptions{}))(t)
	if _, err := f.PredictIncidence([]float64{1}, []float64{1}, CurveOptions{}); err == nil {
		t.Error("a profile of one value: no error")
	}
	ps := must(f.PredictIncidence([]float64{1, 0}, []float64{0, -1, 1e9}, CurveOptions{}))(t)
	if !ps[0].HasEstimate || ps[0].Estimate != 0 || ps[1].HasEstimate || ps[2].HasEstimate {
		t.Errorf("%+v", ps)
	}
}

func TestFineGrayScoreDegenerate(t *testing.T) {
	d := simulatedFineGray(40, 4, false)
	for i, c := range d.Cause {
		if c == 1 {
			d.X[0][i] = 0
		}
	}
	s := must(FineGrayScore(d, 1, FineGrayOptions{}))(t)
	if !(s.Statistic > 0) || !finite(s.P) {
		t.Errorf("one group without the event: %+v", s)
	}
	d.Cluster = make([]int, 40)
	if _, err := FineGrayScore(d, 1, FineGrayOptions{}); !errors.Is(err, ErrFewClusters) {
		t.Errorf("one cluster: %v", err)
	}
	if _, err := FineGrayScore(d, 3, FineGrayOptions{}); !errors.Is(err, stats.ErrNoEvents) {
		t.Errorf("no event: %v", err)
	}
	d.X[0] = make([]float64, 40)
	var columns *ColumnsError
	if _, err := FineGrayScore(d, 1, FineGrayOptions{}); !errors.As(err, &columns) {
		t.Errorf("constant column: %v", err)
	}
}

// endedRows are benchRows in which every fifth ending is of another cause.
func endedRows(n int) FineGrayData {
	c, cluster := benchRows(n)
	d := FineGrayData{Time: c.Time, X: c.X, Names: c.Names, Cause: make([]int, n), Cluster: cluster}
	for i, e := range c.Event {
		if e {
			d.Cause[i] = 1 + i%5/4
		}
	}
	return d
}

func benchmarkFineGray(b *testing.B, d FineGrayData) {
	b.Helper()
	held := heldTimes(len(d.Time)*(8*len(d.X)+8+8+8*len(d.Cluster)/len(d.Time)), func() {
		if _, err := FitFineGray(d, 1, FineGrayOptions{}); err != nil {
			b.Fatal(err)
		}
	})
	b.ResetTimer()
	for range b.N {
		if _, err := FitFineGray(d, 1, FineGrayOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(d.Time)), "ns/row")
	if len(d.Time) > 50_000 { // of less the program itself is the most
		b.ReportMetric(held, "times-data-held")
	}
}

// The time grows with the rows, as the nanoseconds for each row show: go test
// -run - -bench FineGraySockets ./analysis/survival. It includes both robust
// covariances, by person. Measured on two cores: 530 to 570 ns a row at 100,000
// rows and 416 to 606 at a million.
func BenchmarkFineGraySockets100k(b *testing.B) { benchmarkFineGray(b, endedRows(100_000)) }
func BenchmarkFineGraySockets1M(b *testing.B)   { benchmarkFineGray(b, endedRows(1_000_000)) }

// The same with late entries, which are fitted row by row.
func BenchmarkFineGrayLate100k(b *testing.B) {
	benchmarkFineGray(b, simulatedFineGray(100_000, 1, true))
}
func BenchmarkFineGrayLate1M(b *testing.B) {
	benchmarkFineGray(b, simulatedFineGray(1_000_000, 1, true))
}

// BenchmarkFineGrayBesideR is at a size at which R's package cmprsk 2.2-11,
// whose time grows with the square of the rows, comes to an end.
func BenchmarkFineGrayBesideR(b *testing.B) {
	d := endedRows(4_000)
	d.Cluster = nil
	benchmarkFineGray(b, d)
	cause := make([]float64, len(d.Cause))
	for i, c := range d.Cause {
		cause[i] = float64(c)
	}
	against(b, append([][]float64{d.Time, cause}, d.X...), "cmprsk", "", "crr(m[, 1], m[, 2], m[, -(1:2)])")
}
