package rhythm

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// known is a curve whose coefficients have a known covariance; intervals are
// those of the normal distribution.
func known(period float64, coef, centre []float64, cov [][]float64) Curve {
	const z = 1.959963984540054
	return Curve{Period: period, Coef: coef, Centre: centre, Sum: func(w []float64) (Estimate, error) {
		v, s := 0.0, 0.0
		for i := range w {
			v += w[i] * coef[i]
			for j := range w {
				s += w[i] * w[j] * cov[i][j]
			}
		}
		se := math.Sqrt(s)
		return Estimate{v, se, v - z*se, v + z*se}, nil
	}}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// Errors of amplitude and acrophase by the delta method, written out (Bingham
// C, Arbogast B, Guillaume GC, Lee JK, Halberg F 1982, Chronobiologia 9:397,
// from memory): var A = (a^2 va + 2ab vab + b^2 vb) / A^2, var phi = (b^2 va -
// 2ab vab + a^2 vb) / A^4.
func TestOneWave(t *testing.T) {
	a, b, va, vb, vab := -1.2, 0.9, 0.04, 0.09, 0.02
	c := known(24, []float64{a, b}, []float64{0, 0}, [][]float64{{va, vab}, {vab, vb}})
	w, err := c.Wave(1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "amplitude", w.Amplitude.Value, 1.5, 1e-12)
	near(t, "its error", w.Amplitude.SE, math.Sqrt((a*a*va+2*a*b*vab+b*b*vb)/2.25), 1e-12)
	turn := 24 / (2 * math.Pi)
	near(t, "peak", w.Peak.Value, turn*(math.Pi-math.Atan(0.75)), 1e-12)
	se := turn * math.Sqrt((b*b*va-2*a*b*vab+a*a*vb)/(2.25*2.25))
	near(t, "its error", w.Peak.SE, se, 1e-12)
	// At the ends of Fieller's interval the slope over its error is the quantile
	// of the normal distribution.
	for _, end := range []float64{w.Peak.Low, w.Peak.High} {
		sin, cos := math.Sincos(end / turn)
		z := (b*cos - a*sin) / math.Sqrt(va*sin*sin-2*vab*sin*cos+vb*cos*cos)
		near(t, "slope at an end", math.Abs(z), 1.959963984540054, 1e-9)
	}
	if w.Peak.Low >= w.Peak.Value || w.Peak.High <= w.Peak.Value || w.Peak.High-w.Peak.Low > 4*se*1.2 {
		t.Errorf("peak %+v", w.Peak)
	}

	// Over the whole cycle the curve is highest there, lowest half a turn on, and
	// the way between is twice the amplitude.
	e, err := c.Extremes(Arc{0, 24, true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "highest", e.Highest.Time.Value, w.Peak.Value, 1e-9)
	near(t, "highest, error", e.Highest.Time.SE, se, 1e-9)
	near(t, "lowest", wrap(e.Lowest.Time.Value, 24), w.Peak.Value+12, 1e-9)
	near(t, "change", e.Change.Value, 3, 1e-12)
	near(t, "change, error", e.Change.SE, 2*w.Amplitude.SE, 1e-9)
	if e.Highest.Edge || e.Lowest.Edge {
		t.Error("a whole cycle has no edge")
	}
}

// Where little is known the interval of the peak would hold half the cycle or
// more: none is told. An amplitude of 0 has no peak.
func TestNoPeak(t *testing.T) {
	c := known(24, []float64{0.1, 0}, []float64{0, 0}, [][]float64{{1, 0}, {0, 1}})
	w, err := c.Wave(1)
	if err != nil || !math.IsNaN(w.Peak.Low) || !math.IsNaN(w.Peak.High) || w.Peak.Value != 0 || w.Amplitude.Low != 0 {
		t.Errorf("%+v, %v", w, err)
	}
	c = known(24, []float64{0, 0}, []float64{0, 0}, [][]float64{{1, 0}, {0, 1}})
	w, err = c.Wave(1)
	if err != nil || !math.IsNaN(w.Peak.Value) || w.Amplitude.Value != 0 {
		t.Errorf("%+v, %v", w, err)
	}
	e, err := c.Extremes(Arc{8, 17, false})
	if err != nil || e.Change.Value != 0 || !math.IsNaN(e.Change.SE) {
		t.Errorf("%+v, %v", e, err)
	}
}

// Over part of the cycle the curve may be highest or lowest at an edge, where
// its time has no error.
func TestEdges(t *testing.T) {
	c := known(24, []float64{1, 0}, []float64{0.2, 0.1}, [][]float64{{0.01, 0}, {0, 0.01}}) // highest at midnight
	e, err := c.Extremes(Arc{From: 8, To: 15})
	if err != nil {
		t.Fatal(err)
	}
	if !e.Highest.Edge || e.Highest.Time.Value != 8 || !math.IsNaN(e.Highest.Time.SE) {
		t.Errorf("highest %+v", e.Highest)
	}
	if e.Lowest.Edge || math.Abs(e.Lowest.Time.Value-12) > 1e-9 || math.IsNaN(e.Lowest.Time.Low) {
		t.Errorf("lowest %+v", e.Lowest)
	}
	near(t, "change", e.Change.Value, 1+math.Cos(2*math.Pi*8/24), 1e-12)
	// Across midnight.
	e, err = c.Extremes(Arc{From: 22, To: 30})
	if err != nil || e.Highest.Edge || math.Abs(e.Highest.Time.Value-24) > 1e-9 || !e.Lowest.Edge || e.Lowest.Time.Value != 30 {
		t.Errorf("%+v, %v", e, err)
	}
	at, err := c.At(0)
	near(t, "less the average row", at.Value, 1-0.2, 1e-12)
	if err != nil {
		t.Error(err)
	}
}

// Two waves: highest and lowest are those of a fine search, and the error of
// their times that of the times found anew on coefficients moved a little.
func TestTwoWaves(t *testing.T) {
	coef := []float64{1, 0.4, -0.5, 0.7}
	cov := [][]float64{{0.010, 0.002, 0, 0.001}, {0.002, 0.012, 0.001, 0}, {0, 0.001, 0.008, -0.002}, {0.001, 0, -0.002, 0.009}}
	c := known(12, coef, make([]float64, 4), cov)
	arc := Arc{0, 12, true}
	e, err := c.Extremes(arc)
	if err != nil {
		t.Fatal(err)
	}
	at, best := 0.0, math.Inf(-1)
	for x := 0.0; x < 12; x += 1e-5 {
		if v := c.value(x); v > best {
			at, best = x, v
		}
	}
	near(t, "highest", e.Highest.Time.Value, at, 2e-5)
	var gradient [4]float64
	const h = 1e-5
	for j := range coef {
		moved := func(by float64) float64 {
			m := append([]float64(nil), coef...)
			m[j] += by
			x, err := known(12, m, make([]float64, 4), cov).Extremes(arc)
			if err != nil {
				t.Fatal(err)
			}
			return x.Highest.Time.Value
		}
		gradient[j] = (moved(h) - moved(-h)) / (2 * h)
	}
	v := 0.0
	for i := range gradient {
		for j := range gradient {
			v += gradient[i] * gradient[j] * cov[i][j]
		}
	}
	near(t, "error of the highest time", e.Highest.Time.SE, math.Sqrt(v), 1e-6)
	w, err := c.Wave(2)
	near(t, "second amplitude", w.Amplitude.Value, math.Hypot(0.5, 0.7), 1e-12)
	near(t, "second peak", w.Peak.Value, 6/(2*math.Pi)*(math.Pi-math.Atan(0.7/0.5)), 1e-12)
	if err != nil {
		t.Error(err)
	}
}

func TestWrongCurve(t *testing.T) {
	ok := known(24, []float64{1, 1}, []float64{0, 0}, [][]float64{{1, 0}, {0, 1}})
	if _, err := ok.Wave(2); !errors.Is(err, ErrInput) {
		t.Errorf("a second wave of one: %v", err)
	}
	odd, none, short := ok, ok, ok
	odd.Coef, none.Sum, short.Centre = []float64{1}, nil, nil
	flat := ok
	flat.Period = 0
	for name, c := range map[string]Curve{"odd": odd, "no sum": none, "no centre": short, "no period": flat} {
		if _, err := c.Extremes(Arc{0, 24, true}); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := c.At(3); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// 4,000 drawings of 60 values with a wave told well and one told poorly from
// none: how often 95% intervals hold the truth.
func TestIntervalsCover(t *testing.T) {
	for _, c := range []struct{ amplitude, low, high float64 }{{1, 0.93, 0.965}, {0.6, 0.92, 0.975}} {
		r := rand.New(rand.NewPCG(1, 2))
		const draws, n, peak = 4000, 60, 23.5 // across midnight
		amplitude, time, told := 0, 0, 0
		for range draws {
			// Evenly spaced times make the columns orthogonal: coefficients by sums.
			a, b := 0.0, 0.0
			for i := range n {
				x := 24 * float64(i) / n
				sin, cos := math.Sincos(2 * math.Pi * x / 24)
				y := c.amplitude*math.Cos(2*math.Pi*(x-peak)/24) + r.NormFloat64()
				a, b = a+2*y*cos/n, b+2*y*sin/n
			}
			w, err := known(24, []float64{a, b}, []float64{0, 0}, [][]float64{{2. / n, 0}, {0, 2. / n}}).Wave(1)
			if err != nil {
				t.Fatal(err)
			}
			if w.Amplitude.Low <= c.amplitude && c.amplitude <= w.Amplitude.High {
				amplitude++
			}
			if !math.IsNaN(w.Peak.Low) {
				told++
			}
			for _, p := range []float64{peak, peak - 24, peak + 24} {
				if w.Peak.Low <= p && p <= w.Peak.High {
					time++
				}
			}
		}
		t.Logf("amplitude %g: %.3f and %.3f", c.amplitude, float64(amplitude)/draws, float64(time)/float64(told))
		for what, share := range map[string]float64{"amplitude": float64(amplitude) / draws, "peak": float64(time) / float64(told)} {
			if share < c.low || share > c.high {
				t.Errorf("amplitude %g: %s held in %.3f", c.amplitude, what, share)
			}
		}
	}
}
