package quality

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

type sumWant struct {
	Runs []struct {
		Chance, Share, Steady, Changed []float64
		Odds, Limit                    float64
	}
	Events, Chances, Worse, Better []float64
}

// Sums by formula and average run lengths by a Markov chain, R 4.2.2.
func TestCumulativeSumAgainstR(t *testing.T) {
	var want sumWant
	expected(t, "cumulative_sum", &want)
	events := make([]bool, len(want.Events))
	for i, e := range want.Events {
		events[i] = e == 1
	}
	for odds, sums := range map[float64][]float64{2: want.Worse, 0.5: want.Better} {
		got, err := CumulativeSum(events, want.Chances, odds, 1e6)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range got {
			if math.Abs(p.Sum-sums[i]) > 1e-12 || p.Signal {
				t.Errorf("odds %g, case %d: %g, want %g", odds, i+1, p.Sum, sums[i])
			}
		}
	}
	for _, r := range want.Runs {
		var mix []float64
		for i, p := range r.Chance {
			for range int(math.Round(10 * r.Share[i])) {
				mix = append(mix, p)
			}
		}
		what := fmt.Sprintf("odds %g of %v", r.Odds, r.Chance)
		// 10,000 simulated runs: three standard errors are 3% of a run length
		// that is about as long as its standard deviation.
		steady, err := SumRun(mix, r.Odds, r.Limit, 1, r.Steady[0], 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, what+", steady", steady, r.Steady[0], 0.03)
		changed, err := SumRun(mix, r.Odds, r.Limit, r.Odds, r.Steady[0], 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, what+", changed", changed, r.Changed[0], 0.03)
		limit, err := SumLimit(mix, r.Odds, r.Steady[0], 2)
		if err != nil {
			t.Fatal(err)
		}
		// The run length grows nearly as exp(limit), in steps.
		near(t, what+", limit", limit, r.Limit, 0.03)
	}
}

// The case without the event takes away: with the other sign the sum would
// never come back.
func TestSumStepSigns(t *testing.T) {
	for _, p := range []float64{0.01, 0.1, 0.5, 0.9} {
		if SumStep(false, p, 2) >= 0 || SumStep(true, p, 2) <= 0 || SumStep(false, p, 0.5) <= 0 || SumStep(true, p, 0.5) >= 0 {
			t.Errorf("p = %g: %g %g %g %g", p, SumStep(false, p, 2), SumStep(true, p, 2), SumStep(false, p, 0.5), SumStep(true, p, 0.5))
		}
		// A step is the logarithm of the ratio of the two chances of what was
		// seen, and loses on average while nothing has changed.
		q := 2 * p / (1 + p)
		near(t, "event", SumStep(true, p, 2), math.Log(q/p), 1e-12)
		near(t, "no event", SumStep(false, p, 2), math.Log((1-q)/(1-p)), 1e-12)
		if mean := p*SumStep(true, p, 2) + (1-p)*SumStep(false, p, 2); mean >= 0 {
			t.Errorf("p = %g: a mean step of %g", p, mean)
		}
	}
}

func TestSumSignalsAndStartsAgain(t *testing.T) {
	got, err := CumulativeSum([]bool{true, true, false, true}, repeat(0.1, 4), 2, 1)
	if err != nil {
		t.Fatal(err)
	}
	up, down := math.Log(2)-math.Log(1.1), -math.Log(1.1)
	for i, want := range []float64{up, 2 * up, 0, up} {
		if math.Abs(got[i].Sum-want) > 1e-12 || got[i].Signal != (i == 1) {
			t.Errorf("case %d: %+v, want %g", i+1, got[i], want)
		}
	}
	near(t, "step", got[2].Step, down, 1e-12)
}

func TestSumRefusals(t *testing.T) {
	if _, err := CumulativeSum([]bool{true}, []float64{0.1}, 1, 2); !errors.Is(err, ErrOdds) {
		t.Error(err)
	}
	for _, err := range []error{second2(CumulativeSum([]bool{true}, []float64{0}, 2, 2)), second2(CumulativeSum([]bool{true}, []float64{0.1}, 2, 0)),
		second2(CumulativeSum(nil, nil, 2, 1)), second2(CumulativeSum([]bool{true, false}, []float64{0.1}, 2, 1)), second3(SumRun([]float64{0.1}, 2, 1, 0, 10, 1)), second3(SumRun([]float64{0.1}, 2, 1, 1, 1e6, 1))} {
		if !errors.Is(err, ErrBadValue) {
			t.Error(err)
		}
	}
	for _, run := range []float64{0, 1, math.NaN(), 1e6} {
		// An event is one in 1000: a limit that it passes at once is passed later.
		if _, err := SumLimit([]float64{0.001}, 2, 20, 1); !errors.Is(err, ErrFirstStep) {
			t.Errorf("the first step is rarer: %v", err)
		}
		if _, err := SumLimit([]float64{0.1}, 2, run, 1); !errors.Is(err, ErrRunLength) {
			t.Errorf("%v: %v", run, err)
		}
	}
}

func second2(_ []SumPoint, err error) error { return err }
func second3(_ float64, err error) error    { return err }
