package example

import (
	"math"
	"testing"
)

// TestExpectedClosedForms holds the numbers worked out from the truth against
// cases that have closed forms: constant hazards a (remake) and b (death).
func TestExpectedClosedForms(t *testing.T) {
	truth := Known()
	truth.OtherEnds = nil
	truth.Shape, truth.ScaleDays = 1, 500
	truth.DeathsPerYear = map[string]float64{"trauma": 0.4}
	a, b := 1.0/500, 0.4/daysPerYear
	sum := 0.0 // of a geometric series
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"died", truth.Died(castHand, "trauma", false, 365), b / (a + b) * (1 - math.Exp(-(a+b)*365))},
		{"in use", truth.InUse(castHand, "trauma", false, 365), math.Exp(-(a + b) * 365)},
		{"ended otherwise", truth.EndedOtherwise(castHand, "trauma", false, 365), 0},
		{"mean in use", truth.MeanInUse(castHand, "trauma", false, 365), (1 - math.Exp(-a*365)) / (1 - math.Exp(-a))},
		{"lasting", truth.Lasting(castHand, "trauma", false, 0.5), math.Ceil(500 * math.Ln2)},
	} {
		if math.Abs(c.got-c.want) > 1e-8*math.Max(1, c.want) {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
		sum += c.got
	}
	// Every socket has been remade, has ended otherwise, or is in use.
	truth = Known()
	for _, cause := range []string{"trauma", "vascular"} {
		sum = truth.Incidence(castVacuum, cause, true, 730, truth.Reasons()...) + truth.Died(castVacuum, cause, true, 730) +
			truth.EndedOtherwise(castVacuum, cause, true, 730) + truth.InUse(castVacuum, cause, true, 730)
		if math.Abs(sum-1) > 1e-8 {
			t.Errorf("%s: all endings and none add up to %v", cause, sum)
		}
	}
	if s := truth.Survival(castHand, "trauma", false, truth.Lasting(castHand, "trauma", false, 0.25)); s > 0.75 || s < 0.749 {
		t.Errorf("share left on the day by which a quarter is remade: %v", s)
	}
}

// TestTurnaround compares the expected days from referral to delivery with
// those of sockets ordered so long before the close that nearly all were
// delivered.
func TestTurnaround(t *testing.T) {
	truth := Known()
	days := [2][]float64{}
	for _, log := range draws() {
		for _, s := range log.Sockets {
			if s.Kind.Code != kindDefinitive || s.Use.Code != "everyday" || s.Number.Value < 2 || !s.Referred.OK || !s.Delivered.OK {
				continue
			}
			at := s.Ordered.Value
			switch {
			case at < truth.PracticeChange-75:
				days[0] = append(days[0], float64(s.Delivered.Value-s.Referred.Value))
			case at >= truth.PracticeChange && at < truth.Closes-150:
				days[1] = append(days[1], float64(s.Delivered.Value-s.Referred.Value))
			}
		}
	}
	for i, p := range []float64{truth.FirstFitBefore, truth.FirstFitAfter} {
		sum, square, n := 0.0, 0.0, float64(len(days[i]))
		for _, x := range days[i] {
			sum, square = sum+x, square+x*x
		}
		mean := sum / n
		within4(t, "days from referral to delivery", mean, truth.Turnaround(p), math.Sqrt((square/n-mean*mean)/n))
	}
}
