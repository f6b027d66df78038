package survival

import (
	"errors"
	"math"
	"testing"
)

// One row to each person is a Poisson count with robust errors, worked
// out by hand: counts 2, 4 in 1 year each, rate 3, scores -1 and 1, variance of
// the logarithm 2/36 times 2/(2-1).
func TestClusteredRatesByHand(t *testing.T) {
	r, err := ClusteredRates([]float64{2, 4, 0, 0}, []float64{1, 1, 2, 2}, []int{0, 0, 1, 1}, []int{1, 2, 3, 4}, 2, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := r[0].LogStdErr, 1.0/3; math.Abs(got-want) > 1e-15 || r[0].Estimate != 3 || r[0].Clusters != 2 || !r[0].HasBounds {
		t.Errorf("%+v", r[0])
	}
	if got, want := r[0].High, 3*math.Exp(1.959963984540054/3); math.Abs(got-want) > 1e-12 {
		t.Errorf("upper limit %v, want %v", got, want)
	}
	// No event: exact Poisson, -log(0.025)/4 years; no ratio.
	if got, want := r[1].High, -math.Log(0.025)/4; !r[1].Exact || r[1].Low != 0 || math.Abs(got-want) > 1e-9 || r[1].HasRatio {
		t.Errorf("%+v, want a limit of %v", r[1], want)
	}
}

func TestClusteredRatesWithoutAnswer(t *testing.T) {
	// One person has a rate and no interval; nobody watched has none.
	r, err := ClusteredRates([]float64{3, 1}, []float64{1, 1}, []int{0, 0}, []int{7, 7}, 2, 0.95)
	if err != nil || !r[0].HasRate || r[0].HasBounds || r[1].HasRate || r[1].HasRatio {
		t.Errorf("%v %+v", err, r)
	}
	// Every person seen alike: no error, and so no interval of the ratio.
	r, err = ClusteredRates([]float64{2, 2, 4, 4}, []float64{1, 1, 1, 1}, []int{0, 0, 1, 1}, []int{1, 2, 3, 4}, 2, 0.95)
	if err != nil || r[1].Ratio != 2 || r[1].HasRatioBounds {
		t.Errorf("%v %+v", err, r)
	}
	if _, err = ClusteredRates([]float64{1}, []float64{1}, []int{0}, nil, 1, 0.95); !errors.Is(err, ErrRateRows) {
		t.Errorf("rows that do not go together: %v", err)
	}
	var row *RowError
	if _, err = ClusteredRates([]float64{1, math.NaN()}, []float64{1, 1}, []int{0, 0}, []int{0, 1}, 1, 0.95); !errors.As(err, &row) {
		t.Errorf("a count that is none: %v", err)
	}
}
