package survival

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"plybook/analysis/stats"
)

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

// The series of small hazards is that of the function.
func TestEndedBy(t *testing.T) {
	for _, h := range []float64{1e-300, 1e-9, 0.001, 0.00999, 0.01, 0.0101, 0.5, 40} {
		if got, want := endedBy(h), -math.Expm1(-h); math.Abs(got-want) > 4e-16*want {
			t.Errorf("%g: %.17g, want %.17g", h, got, want)
		}
	}
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
