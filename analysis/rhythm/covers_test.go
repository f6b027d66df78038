package rhythm_test

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"plybook/analysis/mixed"
	"plybook/analysis/rhythm"
)

// Limbs with levels (sd 2) and paces (sd 0.01 a day) of their own, seen six
// times each with an error of 1; a wave of amplitude 1 that is highest at 10:00.
// How often 95% intervals of a mixed model hold the truth, and how often a wave
// of amplitude 0 is told from none. PLYBOOK_DRAWS sets the number of drawings.
func TestMixedRhythmCovers(t *testing.T) {
	draws := 100
	if n, err := strconv.Atoi(os.Getenv("PLYBOOK_DRAWS")); err == nil {
		draws = n
	}
	for _, c := range []struct {
		name      string
		limbs     int
		from, to  float64
		amplitude float64
	}{
		{"round the clock, 10 limbs", 10, 0, 24, 1}, {"round the clock, 30 limbs", 30, 0, 24, 1},
		{"8 to 17, 30 limbs", 30, 8, 17, 1}, {"8 to 17, 100 limbs", 100, 8, 17, 1},
		{"no wave, 10 limbs", 10, 0, 24, 0}, {"no wave, 8 to 17, 30 limbs", 30, 8, 17, 0},
	} {
		r := rand.New(rand.NewPCG(11, 12))
		arc := rhythm.Arc{From: c.from, To: c.to, Whole: c.to-c.from == 24}
		change := 2.0
		if !arc.Whole {
			change = 1 - math.Cos(2*math.Pi*(c.to-10)/24)
		}
		told, amplitude, changed, timed, peaks := 0, 0, 0, 0, 0
		for range draws {
			m, curve, err := drawnFit(r, c.limbs, c.from, c.to, c.amplitude)
			if err != nil {
				t.Fatal(err)
			}
			f, err := m.FTest([][]float64{{0, 0, 1, 0}, {0, 0, 0, 1}})
			if err != nil {
				t.Fatal(err)
			}
			w, err := curve.Wave(1)
			if err != nil {
				t.Fatal(err)
			}
			e, err := curve.Extremes(arc)
			if err != nil {
				t.Fatal(err)
			}
			if w.Amplitude.Low <= c.amplitude && c.amplitude <= w.Amplitude.High {
				amplitude++
			}
			if e.Change.Low <= change && change <= e.Change.High {
				changed++
			}
			if f.P >= 0.05 {
				continue
			}
			told++
			if h := e.Highest; !h.Edge && !math.IsNaN(h.Time.Low) {
				timed++
				for _, turn := range []float64{-24, 0, 24} {
					if h.Time.Low <= 10+turn && 10+turn <= h.Time.High {
						peaks++
					}
				}
			}
		}
		n := float64(draws)
		t.Logf("%s: told %.1f%%, amplitude %.1f%%, change %.1f%%, time of the peak %.1f%% of %d told", c.name, 100*float64(told)/n, 100*float64(amplitude)/n, 100*float64(changed)/n, 100*float64(peaks)/float64(timed), timed)
		slack := 3 * math.Sqrt(0.05*0.95/n)
		if c.amplitude == 0 {
			if share := float64(told) / n; share > 0.05+slack+0.01 {
				t.Errorf("%s: told from none in %.3f", c.name, share)
			}
			continue
		}
		for what, share := range map[string]float64{"amplitude": float64(amplitude) / n, "change": float64(changed) / n, "peak": float64(peaks) / float64(timed)} {
			if share < 0.95-slack-0.03 {
				t.Errorf("%s: %s held in %.3f", c.name, what, share)
			}
		}
	}
}

// drawnFit draws visits and fits the model that an answer fits, limb means
// apart.
func drawnFit(r *rand.Rand, limbs int, from, to, amplitude float64) (*mixed.Model, rhythm.Curve, error) {
	var d mixed.Data
	var day, hour []float64
	for i := range limbs {
		level, pace := 2*r.NormFloat64(), 0.01*r.NormFloat64()
		for range 6 {
			x, h := 300*r.Float64(), from+(to-from)*r.Float64()
			day, hour, d.Group = append(day, x), append(hour, h), append(d.Group, i)
			d.Y = append(d.Y, level+pace*x+amplitude*math.Cos(2*math.Pi*(h-10)/24)+r.NormFloat64())
		}
	}
	waves := rhythm.Columns(hour, 24, 1)
	d.X, d.Names = append([][]float64{day}, waves...), []string{"day", "cosine", "sine"}
	d.Z, d.ZNames, d.Intercept, d.RandomIntercept = [][]float64{day}, []string{"day"}, true, true
	m, err := mixed.Fit(d, mixed.Options{})
	if err != nil {
		return nil, rhythm.Curve{}, err
	}
	c := rhythm.Curve{Period: 24, Coef: []float64{m.Coef[2].Estimate, m.Coef[3].Estimate}, Centre: []float64{0, 0},
		Sum: func(w []float64) (rhythm.Estimate, error) {
			e, err := m.Contrast([]float64{0, 0, w[0], w[1]})
			return rhythm.Estimate{Value: e.Estimate, SE: e.SE, Low: e.Low, High: e.High}, err
		}}
	return m, c, nil
}
