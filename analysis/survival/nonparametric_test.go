package survival

import (
	"errors"
	"math"
	"path/filepath"
	"testing"

	"plybook/analysis/stats"
)

const closedForm = 1e-8

// reference are the values of testdata/published/nonparametric.
func reference(t *testing.T, path ...string) any {
	t.Helper()
	return get(readJSON(t, filepath.Join("..", "..", "testdata", "published", "nonparametric", "expected.json"))["entries"], path...)
}

// lungs are the lung cancer times, status 2 the event.
func lungs(t *testing.T, keep func(r map[string]string) bool) (Data, []map[string]string) {
	s := load(t, "lung").keep(keep)
	d := s.data("time", "status")
	for i := range d.Cause {
		d.Cause[i]--
	}
	return d, s.rows
}

func sexIs(v string) func(map[string]string) bool {
	return func(r map[string]string) bool { return r["sex"] == v }
}

func TestLogRankFamilyLung(t *testing.T) {
	m, _ := lungs(t, sexIs("1"))
	f, _ := lungs(t, sexIs("2"))
	for key, w := range map[string]Weighting{"peto": PetoPeto, "gehan": GehanBreslow, "tarone": TaroneWare, "late": LateWeights, "middle": MiddleWeights} {
		r := must(LogRank([]Data{f, m}, []string{"f", "m"}, LogRankOptions{Weighting: w}))(t)
		near(t, key, r.Statistic, number(reference(t, "lung_sex", key, "stat")), closedForm)
		near(t, key+" p", r.P, number(reference(t, "lung_sex", key, "p")), 1e-7)
	}
	var data []Data
	var strata [][]int
	for _, sex := range []string{"1", "2"} {
		d, rows := lungs(t, func(r map[string]string) bool { return r["sex"] == sex && r["ph.ecog"] != "" })
		var s []int
		for _, r := range rows {
			s = append(s, int(r["ph.ecog"][0]-'0'))
		}
		data, strata = append(data, d), append(strata, s)
	}
	for key, w := range map[string]Weighting{"logrank": EqualWeights, "peto": PetoPeto, "late": LateWeights} {
		r := must(LogRank(data, []string{"m", "f"}, LogRankOptions{Weighting: w, Strata: strata}))(t)
		near(t, "stratified "+key, r.Statistic, number(reference(t, "lung_stratified", key, "stat")), closedForm)
	}
}

func TestTrendLung(t *testing.T) {
	var data []Data
	for _, e := range []string{"0", "1", "2", "3"} {
		d, _ := lungs(t, func(r map[string]string) bool { return r["ph.ecog"] == e })
		data = append(data, d)
	}
	r := must(LogRank(data, []string{"0", "1", "2", "3"}, LogRankOptions{}))(t)
	for key, scores := range map[string][]float64{"lung_trend": {0, 1, 2, 3}, "lung_trend_uneven": {1e6, 1e6 + 1, 1e6 + 2, 1e6 + 10}} {
		x := must(r.Trend(scores))(t)
		near(t, key, x.Statistic, number(reference(t, key, "stat")), closedForm)
		near(t, key+" p", x.P, number(reference(t, key, "p")), 1e-7)
		if !x.Rises || x.DF != 1 || x.Name != "log-rank test for trend" {
			t.Errorf("%s: %+v", key, x)
		}
	}
	if x := must(r.Trend([]float64{3, 2, 1, 0}))(t); x.Rises {
		t.Error("the trend rises in the reversed order too")
	}
	for name, scores := range map[string][]float64{"too few": {1, 2}, "one score": {1, 1, 1, 1}, "not a number": {1, 2, 3, math.NaN()}} {
		if _, err := r.Trend(scores); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	// Only one group was ever at risk at an event.
	one := &LogRankResult{Groups: make([]GroupCount, 2), Variance: square(2)}
	if _, err := one.Trend([]float64{1, 2}); !errors.Is(err, ErrNoComparison) {
		t.Errorf("no comparison: %v", err)
	}
	v := load(t, "veteran")
	cells := []string{"squamous", "adeno", "large", "smallcell"}
	r = must(LogRank(v.split("celltype", "time", "status", cells...), cells, LogRankOptions{}))(t)
	near(t, "veteran", must(r.Trend([]float64{1, 2, 3, 4}))(t).Statistic, number(reference(t, "veteran_trend", "stat")), closedForm)
}

func checkHazard(t *testing.T, h *Hazard, want any) {
	t.Helper()
	p := h.Points[1:]
	for k, x := range numbers(get(want, "hazard")) {
		near(t, "time", p[k].Time, numbers(get(want, "time"))[k], 0)
		near(t, "hazard", p[k].Estimate, x, closedForm)
		se := numbers(get(want, "se"))[k]
		if p[k].HasBounds {
			near(t, "error of the hazard", p[k].StdErr, se, closedForm)
			near(t, "low", p[k].Low, x*math.Exp(-stats.NormalQuantile(0.975)*se/x), closedForm)
		} else if x > 0 {
			t.Errorf("no bounds at %g", p[k].Time)
		}
	}
}

func TestCumulativeHazardPublished(t *testing.T) {
	for g, sex := range map[string]string{"male": "1", "female": "2"} {
		d, _ := lungs(t, sexIs(sex))
		checkHazard(t, must(NelsonAalen(d, CurveOptions{}))(t), reference(t, "lung_hazard", g))
	}
	s := load(t, "kidney")
	d := s.data("time", "status")
	d.Cluster = s.ints("id")
	h := must(NelsonAalen(d, CurveOptions{}))(t)
	checkHazard(t, h, reference(t, "kidney_hazard"))
	near(t, "smoothed", must(h.Smooth([]float64{100}, 60))(t)[0].Estimate, number(reference(t, "kidney_smooth", "estimate")), closedForm)
	// The reference takes a derivative by differences.
	near(t, "its error", must(h.Smooth([]float64{100}, 60))(t)[0].StdErr, number(reference(t, "kidney_smooth", "se")), 1e-6)

	if _, err := NelsonAalen(d, CurveOptions{Bounds: Logit}); err == nil {
		t.Error("a hazard has limits on the logit")
	}
	d.Cluster = make([]int, len(d.Time))
	if p := must(NelsonAalen(d, CurveOptions{}))(t).Points; p[len(p)-1].HasBounds {
		t.Error("one person alone has an error")
	}
	flat := must(NelsonAalen(Data{Time: []float64{3, 4}, Cause: []int{0, 0}}, CurveOptions{}))(t)
	if p := flat.Points[2]; p.Estimate != 0 || p.HasBounds {
		t.Errorf("no events: %+v", p)
	}
	if p := must(flat.Smooth([]float64{1}, 1))(t)[0]; p.Estimate != 0 || p.HasBounds {
		t.Errorf("no events, smoothed: %+v", p)
	}
}

func TestSmoothedHazardLung(t *testing.T) {
	d, _ := lungs(t, sexIs("2"))
	h := must(NelsonAalen(d, CurveOptions{}))(t)
	for k, p := range must(h.Smooth(numbers(reference(t, "lung_smooth", "at")), 100))(t) {
		want := matrix(reference(t, "lung_smooth", "rows"))[k]
		if !(want[0] > 0) { // no event, or below 0 at the end
			if p.HasBounds || p.Estimate != 0 {
				t.Errorf("at %g: %+v", p.Time, p)
			}
			continue
		}
		nears(t, "smoothed hazard", []float64{p.Estimate, p.StdErr, p.Low, p.High}, want, closedForm)
	}
	var e *BandwidthError
	for _, b := range []float64{0, -1, math.NaN(), h.LastTime/2 + 1} {
		if _, err := h.Smooth([]float64{10}, b); !errors.As(err, &e) {
			t.Errorf("bandwidth %g: %v", b, err)
		}
	}
	for _, at := range []float64{-1, h.LastTime + 1, math.NaN()} {
		if _, err := h.Smooth([]float64{at}, 50); err == nil {
			t.Errorf("at %g: no error", at)
		}
	}
}

// A boundary kernel has area 1 and no first moment, so that a straight
// hazard is not bent.
func TestBoundaryKernel(t *testing.T) {
	for _, q := range []float64{0, 0.3, 0.8, 1} {
		area, moment, n := 0.0, 0.0, 20000
		for i := range n {
			x := -1 + (1+q)*(float64(i)+0.5)/float64(n)
			area += boundaryKernel(q, x) * (1 + q) / float64(n)
			moment += x * boundaryKernel(q, x) * (1 + q) / float64(n)
		}
		if math.Abs(area-1) > 1e-6 || math.Abs(moment) > 1e-6 {
			t.Errorf("q %g: area %g, first moment %g", q, area, moment)
		}
	}
}

func TestTimeLostFreireich(t *testing.T) {
	s := load(t, "freireich")
	var curves []*Curve
	for _, g := range []string{"6-MP", "control"} {
		d := s.keep(func(r map[string]string) bool { return r["treat"] == g }).data("time", "cens")
		c := must(KaplanMeier(d, CurveOptions{}))(t)
		x := must(c.TimeLost(20))(t)
		nears(t, g, []float64{x.Estimate, x.StdErr, x.Low, x.High}, numbers(reference(t, "freireich_lost", g)), closedForm)
		curves = append(curves, c)
	}
	x, ok, err := TimeLostRatio(curves[0], curves[1], 20, 0)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	nears(t, "ratio", []float64{x.Estimate, x.StdErr, x.Low, x.High, x.P}, numbers(reference(t, "freireich_lost", "ratio")), closedForm)
	if _, err := curves[0].TimeLost(1000); !errors.Is(err, ErrBeyondFollowUp) {
		t.Errorf("beyond: %v", err)
	}
	none := must(KaplanMeier(Data{Time: []float64{30, 30}, Cause: []int{0, 0}}, CurveOptions{}))(t)
	if x := must(none.TimeLost(20))(t); x.Estimate != 0 || x.HasBounds {
		t.Errorf("no events: %+v", x)
	}
	if _, ok, err := TimeLostRatio(none, curves[1], 20, 0); ok || err != nil {
		t.Errorf("ratio to none lost: %v %v", ok, err)
	}
}

func TestTimeLostByCauseMgus2(t *testing.T) {
	s := load(t, "mgus2")
	for key, grouped := range map[string]bool{"se": false, "se_grouped": true} {
		d := s.data("etime", "event")
		if grouped {
			for i := range d.Time {
				d.Cluster = append(d.Cluster, i/3)
			}
		}
		r := must(CumulativeIncidence(d, 2, CurveOptions{}))(t)
		sum := 0.0
		for k := range 3 {
			x := must(r.TimeLost(k, 240))(t)
			near(t, "mean", x.Estimate, numbers(reference(t, "mgus2_lost", "mean"))[k], closedForm)
			near(t, key, x.StdErr, numbers(reference(t, "mgus2_lost", key))[k], closedForm)
			if !(x.Low < x.Estimate && x.Estimate < x.High) {
				t.Errorf("cause %d: %+v", k, x)
			}
			sum += x.Estimate
		}
		near(t, "all together", sum, 240, 1e-12)
	}
	r := must(CumulativeIncidence(Data{Time: []float64{5, 9}, Cause: []int{0, 0}, Cluster: []int{1, 1}}, 1, CurveOptions{}))(t)
	if x := must(r.TimeLost(0, 6))(t); x.Estimate != 6 || x.HasBounds || x.High != 0 {
		t.Errorf("no endings: %+v", x)
	}
	for _, c := range []struct {
		cause int
		until float64
	}{{2, 6}, {-1, 6}, {1, 0}, {1, math.NaN()}, {1, 10}} {
		if _, err := r.TimeLost(c.cause, c.until); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
}

// Late entry, ties and clusters: leaving a little of each cluster out moves
// the areas as their jackknife says.
func TestTimeLostByCauseLateEntry(t *testing.T) {
	d := Data{Time: []float64{3, 5, 5, 8, 9, 12, 4, 7}, Entry: []float64{0, 0, 2, 1, 0, 6, 0, 5}, Cause: []int{1, 2, 1, 0, 1, 2, 2, 1}, Cluster: []int{1, 1, 2, 3, 2, 4, 5, 5}}
	fit := func(scaled int, f float64) *Incidence {
		x := d
		x.Weight = nil
		for _, c := range d.Cluster {
			w := 1.0
			if c == scaled {
				w = f
			}
			x.Weight = append(x.Weight, w)
		}
		return must(CumulativeIncidence(x, 2, CurveOptions{}))(t)
	}
	r := must(CumulativeIncidence(d, 2, CurveOptions{}))(t)
	for k := range 3 {
		sum := 0.0
		for c := 1; c <= 5; c++ {
			const h = 1e-5
			u := (must(fit(c, 1+h).TimeLost(k, 10))(t).Estimate - must(fit(c, 1-h).TimeLost(k, 10))(t).Estimate) / (2 * h)
			sum += u * u
		}
		near(t, "error", must(r.TimeLost(k, 10))(t).StdErr, math.Sqrt(sum), 1e-6)
	}
}

func TestWeightsFreireich(t *testing.T) {
	s := load(t, "freireich")
	for i, r := range s.rows {
		r["w"] = []string{"1", "2", "3"}[(i+1)%3]
		r["f"] = []string{"0.5", "0.75", "1", "1.25"}[(i+1)%4]
	}
	check := func(entry string, c *Curve) {
		for k, x := range numbers(reference(t, entry, "surv")) {
			p := c.Points[k+1]
			near(t, entry, p.Estimate, x, closedForm)
			near(t, entry+" error", p.StdErr, numbers(reference(t, entry, "se"))[k], closedForm)
			near(t, entry+" at risk", p.AtRisk, numbers(reference(t, entry, "at_risk"))[k], closedForm)
		}
	}
	six := s.keep(func(r map[string]string) bool { return r["treat"] == "6-MP" })
	d := six.data("time", "cens")
	d.Weight = six.num("w")
	check("freireich_weights", must(KaplanMeier(d, CurveOptions{}))(t))
	d.Weight = six.num("f")
	shares := must(KaplanMeier(d, CurveOptions{Jackknife: true}))(t)
	check("freireich_shares", shares)
	// Shares need the jackknife in means and ratios too: their size is not
	// theirs to set.
	a := d
	a.Weight = scaleBy(d.Weight, 10)
	tenfold := must(KaplanMeier(a, CurveOptions{Jackknife: true}))(t)
	for name, of := range map[string]func(c *Curve) float64{
		"mean":       func(c *Curve) float64 { _, se, _ := c.RMST(20); return se },
		"difference": func(c *Curve) float64 { return must(RMSTDifference(c, c, 20, 0))(t).StdErr },
	} {
		near(t, name, of(tenfold), of(shares), closedForm)
	}
	both := s.split("treat", "time", "cens", "6-MP", "control")
	for k, g := range []string{"6-MP", "control"} {
		both[k].Weight = s.keep(func(r map[string]string) bool { return r["treat"] == g }).num("w")
	}
	near(t, "test", must(LogRank(both, []string{"6-MP", "control"}, LogRankOptions{}))(t).Statistic, number(reference(t, "freireich_weights_test", "stat")), closedForm)
}
