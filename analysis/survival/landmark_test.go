package survival

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strconv"
	"testing"

	"plybook/analysis/stats"
)

// liverRow is a line of the set of repeated measurements.
type liverRow map[string]float64 // missing: NaN

func liverRows(t testing.TB) []liverRow {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "pbcseq", "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []liverRow
	for _, r := range all[1:] {
		row := liverRow{}
		for j, v := range r {
			x, err := strconv.ParseFloat(v, 64)
			if err != nil {
				x = math.NaN()
			}
			row[all[0][j]] = x
		}
		row["logbili"] = math.Round(math.Log(row["bili"])*1e6) / 1e6
		out = append(out, row)
	}
	return out
}

// liverKnown is the last value of a column recorded up to a day.
func liverKnown(rows []liverRow, id float64, column string, day float64) float64 {
	v := math.NaN()
	for _, r := range rows { // in order of days
		if r["id"] == id && r["day"] <= day && !math.IsNaN(r[column]) {
			v = r[column]
		}
	}
	return v
}

func liverStack(rows []liverRow, step, ahead float64, varying ...string) LandmarkData {
	var first []liverRow
	seen := map[float64]bool{}
	for _, r := range rows {
		if !seen[r["id"]] {
			seen[r["id"]] = true
			first = append(first, r)
		}
	}
	d := LandmarkData{Names: append([]string{"age"}, varying...), X: make([][]float64, 1+len(varying))}
	for s := 0.0; s <= 5000; s += step {
		var in [][]float64
		var who []liverRow
		watched := 0
		for _, r := range first {
			if r["futime"] <= s {
				continue
			}
			x := []float64{r["age"]}
			whole := true
			for _, v := range varying {
				x = append(x, liverKnown(rows, r["id"], v, s))
				whole = whole && !math.IsNaN(x[len(x)-1])
			}
			if !whole {
				continue
			}
			in, who = append(in, x), append(who, r)
			if r["futime"] >= s+ahead {
				watched++
			}
		}
		if watched < 20 {
			continue
		}
		for k, r := range who {
			d.Landmark, d.Time = append(d.Landmark, s), append(d.Time, r["futime"])
			d.Cause = append(d.Cause, []int{0, 2, 1}[int(r["status"])])
			d.Life, d.Cluster = append(d.Life, int(r["id"])), append(d.Cluster, int(r["id"]))
			for j, v := range in[k] {
				d.X[j] = append(d.X[j], v)
			}
		}
	}
	return d
}

type liverExpected struct {
	Step, Ahead              float64
	Landmarks, Rows, Persons int
	Events, Competing        int
	C                        []float64 `json:"coef"`
	R                        []float64 `json:"robust_se"`
	CC                       []float64 `json:"competing_coef"`
	CR                       []float64 `json:"competing_robust_se"`
	StackRisk                []float64 `json:"stack_risk"`
	Now                      struct{ ID, Days, Risk []float64 }
	Measures                 map[string]float64
	SlopeSE                  float64 `json:"slope_se"`
	Curve                    struct{ At, Fit, SE []float64 }
	Groups                   []struct {
		Rows                    int
		Predicted, Observed, SE float64
	}
	Boot *struct {
		Draws           int
		Optimism, SD    map[string]float64
		ErrorOfOptimism map[string]float64 `json:"error_of_optimism"`
		Spread          []float64          `json:"risk_spread"`
	}
}

func liverWant(t testing.TB) map[string]liverExpected {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "published", "pbcseq", "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct{ Entries map[string]liverExpected }
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	return all.Entries
}

var measureNames = map[string]Measure{"observed": ObservedShare, "expected": ExpectedShare, "ratio": ObservedRatio, "intercept": CalibrationIntercept,
	"slope": CalibrationSlope, "c": CIndex, "brier": BrierScore, "brier_null": BrierNull, "scaled": ScaledBrier}

// Repeated measurements of primary biliary cirrhosis (testdata/published/
// pbcseq): R 4.2.2, survival 3.5-3, geepack 1.3.9, by the calls of make.R.
func TestLandmarkPublished(t *testing.T) {
	rows := liverRows(t)
	for name, e := range liverWant(t) {
		varying := []string{"logbili"}
		if name == "overlap" {
			varying = append(varying, "albumin", "edema")
		}
		d := liverStack(rows, e.Step, e.Ahead, varying...)
		l, err := FitLandmark(d, LandmarkOptions{Ahead: e.Ahead})
		if err != nil {
			t.Fatal(err)
		}
		if l.Rows != e.Rows || len(l.Landmarks) != e.Landmarks || l.Clusters != e.Persons || l.Events != e.Events || l.Competed != e.Competing {
			t.Errorf("%s: %d rows, %d landmarks, %d persons, %d events, %d competing; want %+v", name, l.Rows, len(l.Landmarks), l.Clusters, l.Events, l.Competed, e)
		}
		close := func(what string, got, want, tol float64) {
			t.Helper()
			if math.Abs(got-want) > tol*math.Max(math.Abs(want), 1e-3) {
				t.Errorf("%s %s: %.12g, want %.12g", name, what, got, want)
			}
		}
		for j := range e.C {
			close("coefficient", l.Event.Coef[j], e.C[j], 1e-8)
			close("robust error", l.Event.RobustStdErr()[j], e.R[j], 1e-8)
		}
		if (l.Competing != nil) != (len(e.CC) > 0) {
			t.Fatalf("%s: competing model %v", name, l.Competing)
		}
		for j := range e.CC {
			close("competing", l.Competing.Coef[j], e.CC[j], 1e-8)
			close("competing error", l.Competing.RobustStdErr()[j], e.CR[j], 1e-8)
		}
		for k, p := range e.StackRisk {
			close("risk", l.Risks()[97*k], p, 1e-8)
		}
		for k, id := range e.Now.ID {
			x := []float64{math.NaN()}
			for _, r := range rows {
				if r["id"] == id {
					x[0] = r["age"]
				}
			}
			for _, v := range varying {
				x = append(x, liverKnown(rows, id, v, e.Now.Days[k]))
			}
			p, err := l.Risk(e.Now.Days[k], x)
			if errors.Is(err, ErrNoneThen) && e.Now.Risk[k] == 0 {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			close("risk now", p, e.Now.Risk[k], 1e-8)
		}
		s := l.Scores()
		for n, m := range measureNames {
			if !s.Has[m] {
				t.Errorf("%s: no %s", name, m)
			}
			close(m.String(), s.Value[m], e.Measures[n], 1e-7)
		}
		curve, err := l.Curve(e.Curve.At)
		if err != nil {
			t.Fatal(err)
		}
		for k, p := range curve {
			close("curve", p.Observed, e.Curve.Fit[k], 1e-6)
			close("curve error", p.StdErr, e.Curve.SE[k], 1e-6)
		}
		gs, err := l.Groups(5)
		if err != nil {
			t.Fatal(err)
		}
		if len(gs) != len(e.Groups) {
			t.Fatalf("%s: %d groups", name, len(gs))
		}
		for k, g := range gs {
			if g.Rows != e.Groups[k].Rows {
				t.Errorf("%s: group of %d rows, want %d", name, g.Rows, e.Groups[k].Rows)
			}
			close("group", g.Predicted, e.Groups[k].Predicted, 1e-8)
			close("group observed", g.Observed.Estimate, e.Groups[k].Observed, 1e-8)
			close("group error", g.Observed.StdErr, e.Groups[k].SE, 1e-6)
		}
		if e.Boot == nil {
			continue
		}
		// Another stream of random numbers: the differences are held to what
		// chance gives two sets of samples.
		var of []Subject
		for k := range e.Boot.Spread {
			x := []float64{math.NaN()}
			for _, r := range rows {
				if r["id"] == e.Now.ID[k] {
					x[0] = r["age"]
				}
			}
			for _, v := range varying {
				x = append(x, liverKnown(rows, e.Now.ID[k], v, e.Now.Days[k]))
			}
			of = append(of, Subject{e.Now.Days[k], x})
		}
		draws := 400
		if testing.Short() {
			draws = 100
		}
		b, err := l.Resample(context.Background(), draws, 1, of)
		if err != nil {
			t.Fatal(err)
		}
		for n, m := range measureNames {
			within := 4.5 * e.Boot.ErrorOfOptimism[n] * math.Sqrt(1+float64(e.Boot.Draws)/float64(draws))
			if math.Abs(b.Optimism.Value[m]-e.Boot.Optimism[n]) > within {
				t.Errorf("%s: optimism of %s %.4f, want %.4f within %.4f", name, m, b.Optimism.Value[m], e.Boot.Optimism[n], within)
			}
			if r := b.StdErr.Value[m] / e.Boot.SD[n]; r < 0.82 || r > 1.22 {
				t.Errorf("%s: error of %s %.4f, want %.4f", name, m, b.StdErr.Value[m], e.Boot.SD[n])
			}
		}
		for k, spread := range e.Boot.Spread {
			if r := b.RiskErr[k] * 1.349 / spread; r < 0.75 || r > 1.33 {
				t.Errorf("%s: spread of a risk %.4f, want %.4f", name, b.RiskErr[k]*1.349, spread)
			}
		}
	}
}

// simulateLandmarks draws persons with a value that wanders, a hazard that it
// raises, and a competing hazard; each has a row at each of some landmarks.
func simulateLandmarks(rng *rand.Rand, n int) LandmarkData {
	d := LandmarkData{Names: []string{"x"}, X: make([][]float64, 1)}
	for i := range n {
		x, t := rng.NormFloat64(), 0.0
		var path []float64
		cause := 0
		limit := 600 + 600*rng.Float64()
		for t < limit && cause == 0 {
			path = append(path, x)
			h1, h2 := 0.0008*math.Exp(0.8*x), 0.0003
			if step := rng.ExpFloat64() / (h1 + h2); step < 60 {
				t += step
				cause = 2
				if rng.Float64() < h1/(h1+h2) {
					cause = 1
				}
				break
			}
			t += 60
			x = 0.9*x + 0.4*rng.NormFloat64()
		}
		if cause == 0 || t > limit {
			t, cause = limit, 0
		}
		for k := 0; k < len(path) && k < 9; k++ {
			if s := 60 * float64(k); s < t {
				d.Landmark, d.Time, d.Cause = append(d.Landmark, s), append(d.Time, math.Ceil(t)), append(d.Cause, cause)
				d.X[0], d.Life, d.Cluster = append(d.X[0], path[k]), append(d.Life, i), append(d.Cluster, i)
			}
		}
	}
	return d
}

// The outcome hangs neither on the cores nor on the order of rows.
func TestLandmarkResampleIsDeterministic(t *testing.T) {
	d := simulateLandmarks(rand.New(rand.NewPCG(3, 3)), 200)
	l, err := FitLandmark(d, LandmarkOptions{Ahead: 180})
	if err != nil {
		t.Fatal(err)
	}
	of := []Subject{{100, []float64{0.5}}}
	one, err := l.Resample(context.Background(), 20, 7, of)
	if err != nil {
		t.Fatal(err)
	}
	was := runtime.GOMAXPROCS(1)
	again, err := l.Resample(context.Background(), 20, 7, of)
	runtime.GOMAXPROCS(was)
	if err != nil || !reflect.DeepEqual(one, again) {
		t.Errorf("one core says %+v, more say %+v (%v)", again, one, err)
	}
	other, err := l.Resample(context.Background(), 20, 8, of)
	if err != nil || reflect.DeepEqual(one, other) {
		t.Errorf("another seed says the same (%v)", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := l.Resample(ctx, 20, 7, of); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Models of columns that tell nothing look better than they are: what is
// taken off must bring the corrected measures near those of guessing.
func TestLandmarkOptimism(t *testing.T) {
	var apparent, corrected, slope float64
	const sets = 12
	for k := range sets {
		rng := rand.New(rand.NewPCG(11, uint64(k)))
		d := simulateLandmarks(rng, 170)
		d.X, d.Names = nil, nil
		for j := range 4 { // noise, one value a life
			x := make([]float64, len(d.Time))
			of := map[int]float64{}
			for i, who := range d.Life {
				if _, ok := of[who]; !ok {
					of[who] = rng.NormFloat64()
				}
				x[i] = of[who]
			}
			d.X, d.Names = append(d.X, x), append(d.Names, string(rune('a'+j)))
		}
		l, err := FitLandmark(d, LandmarkOptions{Ahead: 180})
		if err != nil {
			t.Fatal(err)
		}
		b, err := l.Resample(context.Background(), 60, 1, nil)
		if err != nil {
			t.Fatal(err)
		}
		apparent += l.Scores().Value[CIndex] / sets
		corrected += b.Corrected.Value[CIndex] / sets
		slope += b.Corrected.Value[CalibrationSlope] / sets
	}
	if apparent < 0.57 {
		t.Errorf("a model of noise looks no better than guessing (%.3f): the test says nothing", apparent)
	}
	if corrected > 0.55 || corrected < 0.45 || apparent-corrected < 0.04 {
		t.Errorf("C of noise is %.3f, corrected %.3f", apparent, corrected)
	}
	if slope > 0.65 {
		t.Errorf("slope of noise corrected %.3f", slope)
	}
}

func TestLandmarkRefusals(t *testing.T) {
	d := simulateLandmarks(rand.New(rand.NewPCG(5, 5)), 150)
	ok := LandmarkOptions{Ahead: 180}
	var few *FewEventsError
	if _, err := FitLandmark(LandmarkData{}, ok); !errors.Is(err, stats.ErrNoRows) {
		t.Errorf("no rows: %v", err)
	}
	small := simulateLandmarks(rand.New(rand.NewPCG(5, 5)), 20)
	if _, err := FitLandmark(small, ok); !errors.As(err, &few) || few.Columns != 3 {
		t.Errorf("few events: %v", err)
	}
	none := d
	none.Cause = make([]int, len(d.Cause))
	if _, err := FitLandmark(none, ok); !errors.Is(err, stats.ErrNoEvents) {
		t.Errorf("no events: %v", err)
	}
	same := d
	same.X = [][]float64{make([]float64, len(d.Time))}
	var col *ColumnsError
	if _, err := FitLandmark(same, ok); !errors.As(err, &col) || col.Columns[0] != 0 {
		t.Errorf("constant column: %v", err)
	}
	if _, err := FitLandmark(d, LandmarkOptions{}); err == nil {
		t.Error("nothing ahead was taken")
	}
	l, err := FitLandmark(d, ok)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Risk(1e5, []float64{0}); !errors.Is(err, ErrBeyond) {
		t.Errorf("far out: %v", err)
	}
	if _, err := l.Risk(60, []float64{math.NaN()}); err == nil {
		t.Error("a missing value was taken")
	}
	if _, err := l.Risk(60, nil); err == nil {
		t.Error("no values were taken")
	}
	// Without a competing ending the risk is 1 less exp of the hazard.
	alone := d
	alone.Cause = append([]int(nil), d.Cause...)
	for i, c := range alone.Cause {
		if c == 2 {
			alone.Cause[i] = 0
		}
	}
	l, err = FitLandmark(alone, ok)
	if err != nil {
		t.Fatal(err)
	}
	p, err := l.Risk(90, []float64{l.Event.model.blocks[0].mean[0]})
	if want := -math.Expm1(-l.Hazard(90)); err != nil || math.Abs(p-want) > 1e-12 {
		t.Errorf("risk %g, want %g (%v)", p, want, err)
	}
}

// Intervals of a risk hold the true one in about 95 of 100 draws. The truth is
// that of the same drawing with very many persons, from the same model: what
// the intervals are for.
func TestLandmarkRiskCovers(t *testing.T) {
	if testing.Short() {
		t.Skip("many fits")
	}
	big, err := FitLandmark(simulateLandmarks(rand.New(rand.NewPCG(1, 99)), 8000), LandmarkOptions{Ahead: 180})
	if err != nil {
		t.Fatal(err)
	}
	of := []Subject{{90, []float64{1}}, {250, []float64{-0.5}}, {400, []float64{0.3}}}
	covered, all := 0, 0
	for k := range 60 {
		l, err := FitLandmark(simulateLandmarks(rand.New(rand.NewPCG(2, uint64(k))), 200), LandmarkOptions{Ahead: 180})
		if err != nil {
			t.Fatal(err)
		}
		b, err := l.Resample(context.Background(), 60, 1, of)
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range of {
			truth, _ := big.Risk(s.At, s.X)
			p, err := l.Risk(s.At, s.X)
			if err != nil {
				t.Fatal(err)
			}
			lo, hi, ok := l.Bounds(p, b.RiskErr[i])
			all++
			if ok && lo <= truth && truth <= hi {
				covered++
			}
		}
	}
	if share := float64(covered) / float64(all); share < 0.89 || share > 0.985 {
		t.Errorf("%d of %d intervals hold the truth", covered, all)
	}
}
