package quality

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
)

// Errors of the cumulative sum.
var (
	// ErrOdds reports an odds ratio that is not above 0, or is 1.
	ErrOdds = errors.New("an odds ratio to be looked for is above 0 and not 1")
	// ErrRunLength reports an average run length that cannot be simulated.
	ErrRunLength = errors.New("no limit gives this run length")
	// ErrFirstStep reports that even the first step away from 0 comes more
	// rarely than the false alarms asked for, so that there is no limit.
	ErrFirstStep = errors.New("any step away from 0 is rarer than the run length")
)

// SumStep is what a case adds to a cumulative sum that looks for odds of the
// event that are odds times those expected: the log likelihood ratio
//
//	event:     log(odds) - log(1 + p (odds - 1))
//	no event:           - log(1 + p (odds - 1))
//
// with p the chance expected. For odds above 1 an event adds and every other
// case takes away.
//
// Source: Steiner SH, Cook RJ, Farewell VT, Treasure T. Monitoring surgical
// performance using risk-adjusted cumulative sum charts. Biostatistics
// 2000;1:441-452.
func SumStep(event bool, p, odds float64) float64 {
	w := -math.Log1p(p * (odds - 1))
	if event {
		w += math.Log(odds)
	}
	return w
}

// SumPoint is a case on a cumulative sum.
type SumPoint struct {
	Step   float64
	Sum    float64 // after the case, never below 0
	Signal bool    // the sum came to its limit; it starts again from 0
}

// CumulativeSum adds up the steps of cases in order: the sum is never below
// 0, and starts again after it has come to its limit. Chances lie between 0
// and 1. Errors: ErrOdds, ErrBadValue.
func CumulativeSum(events []bool, chance []float64, odds, limit float64) ([]SumPoint, error) {
	if err := checkSum(chance, odds); err != nil {
		return nil, err
	}
	if len(events) != len(chance) || !(limit > 0) {
		return nil, fmt.Errorf("cumulative sum: %d events, %d chances, limit %v: %w", len(events), len(chance), limit, ErrBadValue)
	}
	out := make([]SumPoint, len(events))
	s := 0.0
	for i, e := range events {
		w := SumStep(e, chance[i], odds)
		s = math.Max(0, s+w)
		out[i] = SumPoint{Step: w, Sum: s, Signal: s >= limit}
		if out[i].Signal {
			s = 0
		}
	}
	return out, nil
}

func checkSum(chance []float64, odds float64) error {
	if !(odds > 0) || odds == 1 || math.IsInf(odds, 0) {
		return fmt.Errorf("cumulative sum for odds of %v: %w", odds, ErrOdds)
	}
	if len(chance) == 0 {
		return fmt.Errorf("cumulative sum of no cases: %w", ErrBadValue)
	}
	for _, p := range chance {
		if !(p > 0) || !(p < 1) {
			return fmt.Errorf("cumulative sum: a chance of %v: %w", p, ErrBadValue)
		}
	}
	return nil
}

// sumPaths is how many runs of about so many cases are simulated: the standard
// error of their mean, as long as their standard deviation, is 1% of it, and
// up to 2.2% where runs are long.
func sumPaths(run float64) int {
	return int(math.Max(2000, math.Min(10000, 2e7/run)))
}

// longestRun bounds the run lengths that are simulated.
const longestRun = 20000

// leastLimit is below any step that a sum can take: bisection ends there
// where every height above 0 takes longer than was asked for.
const leastLimit = 1e-9

// SumLimit is the limit at which a cumulative sum signals after run cases on
// average though nothing has changed: cases drawn from those given, each with
// the event by its chance. It is simulated, from a seed. ErrFirstStep where no
// limit is low enough, ErrRunLength where none is high enough.
func SumLimit(chance []float64, odds, run float64, seed uint64) (float64, error) {
	if err := checkSum(chance, odds); err != nil {
		return 0, err
	}
	if !(run >= 2) || run > longestRun {
		return 0, fmt.Errorf("cumulative sum: a signal in %v cases: %w", run, ErrRunLength)
	}
	for top := 0.5; top <= 64; top += 0.5 {
		records := simulateSums(chance, odds, 1, top, run, seed)
		if runTo(records, top) < run {
			continue
		}
		lo, hi := 0.0, top
		for range 60 {
			mid := (lo + hi) / 2
			if runTo(records, mid) < run {
				lo = mid
			} else {
				hi = mid
			}
		}
		if hi < leastLimit {
			return 0, fmt.Errorf("cumulative sum: a signal in %v cases: %w", run, ErrFirstStep)
		}
		return hi, nil
	}
	return 0, fmt.Errorf("cumulative sum: a signal in %v cases: %w", run, ErrRunLength)
}

// SumRun is after how many cases on average a cumulative sum signals when the
// odds of the event are truth times those expected, simulated. Runs beyond 40
// times longest are cut there.
func SumRun(chance []float64, odds, limit, truth, longest float64, seed uint64) (float64, error) {
	if err := checkSum(chance, odds); err != nil {
		return 0, err
	}
	if !(limit > 0) || !(truth > 0) || !(longest >= 1) || longest > longestRun {
		return 0, fmt.Errorf("cumulative sum: limit %v, odds of %v: %w", limit, truth, ErrBadValue)
	}
	return runTo(simulateSums(chance, odds, truth, limit, longest, seed), limit), nil
}

// record is a height that a simulated sum came to for the first time.
type record struct{ height, time float64 }

// simulateSums runs sums until they have come to top, at most for 40 times run
// cases, and keeps the first time of each new height.
func simulateSums(chance []float64, odds, truth, top, run float64, seed uint64) [][]record {
	last := 40 * run
	r := rand.New(rand.NewPCG(seed, 20000)) // the year of the source, so that streams differ
	type kind struct{ p, up, down float64 }
	kinds := make([]kind, len(chance))
	for i, p := range chance {
		kinds[i] = kind{truth * p / (1 - p + truth*p), SumStep(true, p, odds), SumStep(false, p, odds)}
	}
	paths := make([][]record, sumPaths(run))
	for k := range paths {
		var best, s float64
		var rs []record
		for t := 1.0; t <= last && best < top; t++ {
			x := kinds[r.IntN(len(kinds))]
			if r.Float64() < x.p {
				s += x.up
			} else {
				s += x.down
			}
			if s < 0 {
				s = 0
			}
			if s > best {
				best = s
				rs = append(rs, record{s, t})
			}
		}
		if best < top {
			rs = append(rs, record{math.Inf(1), last})
		}
		paths[k] = rs
	}
	return paths
}

// runTo is the mean time to a height.
func runTo(paths [][]record, height float64) float64 {
	sum := 0.0
	for _, rs := range paths {
		i := sort.Search(len(rs), func(i int) bool { return rs[i].height >= height })
		if i < len(rs) {
			sum += rs[i].time
		}
	}
	return sum / float64(len(paths))
}
