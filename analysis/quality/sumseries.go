package quality

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
)

// SumSeries is a series of cases in order that two cumulative sums follow, one
// for odds of the event above those expected and one for odds below. The
// chances may be given, or learnt from the first cases of the series itself.
type SumSeries struct {
	Chance []float64 // expected of each case, between 0 and 1
	Learnt int       // how many first cases the chances were learnt from; 0: they are given
	Strata []int     // of each case, numbered from 0, whose shares were learnt; nil: a model was
}

// SumAlarms are the chances that sums come to their limits within a series in
// which nothing has changed.
type SumAlarms struct{ More, Fewer, Either float64 }

// seriesPaths is how many series of so many cases are simulated: the standard
// error of a chance of 5% is 0.15 points, up to 0.35 in long ones.
func seriesPaths(cases int) int { return max(4000, min(20000, 6_000_000/max(1, cases))) }

// check reports a series that sums cannot follow.
func (s SumSeries) check(odds float64) error {
	if err := checkSum(s.Chance, odds); err != nil {
		return err
	}
	if odds < 1 || s.Learnt < 0 || s.Learnt > len(s.Chance) || s.Strata != nil && len(s.Strata) != len(s.Chance) {
		return fmt.Errorf("cumulative sums of %d cases, %d learnt from, %d strata, odds of %v: %w", len(s.Chance), s.Learnt, len(s.Strata), odds, ErrBadValue)
	}
	return nil
}

// Limits are the limits, of the sum for more events (odds times those
// expected) and of that for fewer (1/odds times), at which an unchanged series
// of these very cases brings either sum to its limit with a chance of at most
// share, both sums alike. Series are simulated from a seed, each case an event
// by its chance; where chances were learnt from the first cases they are learnt
// anew from those of each series, so that what is not known of them counts. A
// sum that no series leads so far has a limit above all. Errors: ErrOdds,
// ErrBadValue.
func (s SumSeries) Limits(odds, share float64, seed uint64) ([2]float64, error) {
	if err := s.check(odds); err != nil {
		return [2]float64{}, err
	}
	if !(share > 0) || !(share < 1) {
		return [2]float64{}, fmt.Errorf("cumulative sums: an alarm in a share of %v: %w", share, ErrBadValue)
	}
	tops := s.simulate(odds, seed)
	n := float64(len(tops))
	var sorted [2][]float64
	for k := range sorted {
		for _, top := range tops {
			sorted[k] = append(sorted[k], top[k])
		}
		sort.Float64s(sorted[k])
	}
	// The share of series that come as high as a value, or higher.
	reach := func(k int, v float64) float64 {
		return (n - float64(sort.SearchFloat64s(sorted[k], v))) / n
	}
	rarest := make([]float64, len(tops)) // of each series: how rare its rarer height is
	for i, top := range tops {
		rarest[i] = math.Min(reach(0, top[0]), reach(1, top[1]))
	}
	sort.Float64s(rarest)
	each := 0.0
	for i, r := range rarest {
		if float64(i+1) > share*n {
			break
		}
		if i+1 == len(rarest) || rarest[i+1] > r {
			each = r
		}
	}
	var out [2]float64
	for k, tops := range sorted {
		i := sort.Search(len(tops), func(i int) bool { return reach(k, tops[i]) <= each })
		if i == len(tops) {
			out[k] = 1.02*tops[i-1] + 0.01
			continue
		}
		out[k] = (tops[i-1] + tops[i]) / 2 // between what comes too often and what does not
	}
	return out, nil
}

// Alarms are the chances that sums come to given limits within an unchanged
// series of these cases, simulated as for Limits.
func (s SumSeries) Alarms(odds float64, limits [2]float64, seed uint64) (SumAlarms, error) {
	if err := s.check(odds); err != nil {
		return SumAlarms{}, err
	}
	var a SumAlarms
	tops := s.simulate(odds, seed)
	for _, top := range tops {
		more, fewer := top[0] >= limits[0], top[1] >= limits[1]
		if more {
			a.More++
		}
		if fewer {
			a.Fewer++
		}
		if more || fewer {
			a.Either++
		}
	}
	n := float64(len(tops))
	return SumAlarms{a.More / n, a.Fewer / n, a.Either / n}, nil
}

// Highest is how high the two sums would come if every case, or none, were an
// event: a limit above it cannot be reached in this series.
func (s SumSeries) Highest(odds float64) [2]float64 {
	var out [2]float64
	for _, p := range s.Chance {
		out[0] += SumStep(true, p, odds)
		out[1] += SumStep(false, p, 1/odds)
	}
	return out
}

// simulate draws series and keeps how high the sums came in each.
func (s SumSeries) simulate(odds float64, seed uint64) [][2]float64 {
	r := rand.New(rand.NewPCG(seed, 20001))
	tops := make([][2]float64, seriesPaths(len(s.Chance)))
	events := make([]bool, len(s.Chance))
	chance := s.Chance
	given := make([]float64, len(s.Chance)) // log odds, for chances of a model
	for i, p := range s.Chance {
		given[i] = math.Log(p / (1 - p))
	}
	steps := stepsOf(chance, odds)
	for k := range tops {
		for i, p := range s.Chance {
			events[i] = r.Float64() < p
			// What can be learnt has both kinds of cases: draw it again.
			if i+1 == s.Learnt && s.Learnt > 1 && oneKind(events[:s.Learnt]) {
				s.redraw(r, events[:s.Learnt])
			}
		}
		if s.Learnt > 0 {
			if s.Strata != nil {
				chance = LearntShares(events, s.Strata, s.Learnt)
			} else {
				chance = learntShift(events[:s.Learnt], given)
			}
			steps = stepsOf(chance, odds)
		}
		var sum, top [2]float64
		for i, e := range events {
			for side := range sum {
				step := steps[i][side][1]
				if e {
					step = steps[i][side][0]
				}
				sum[side] = math.Max(0, sum[side]+step)
				top[side] = math.Max(top[side], sum[side])
			}
		}
		tops[k] = top
	}
	return tops
}

// redraw draws the first cases until they are of both kinds; at most a
// thousand times, where chances leave hardly any.
func (s SumSeries) redraw(r *rand.Rand, events []bool) {
	for range 1000 {
		for i := range events {
			events[i] = r.Float64() < s.Chance[i]
		}
		if !oneKind(events) {
			return
		}
	}
}

func oneKind(events []bool) bool {
	for _, e := range events {
		if e != events[0] {
			return false
		}
	}
	return true
}

// stepsOf are the steps of each case for the sum for more and for fewer
// events, each of an event and of none. Chances that repeat are worked out
// once.
func stepsOf(chance []float64, odds float64) [][2][2]float64 {
	out := make([][2][2]float64, len(chance))
	known := map[float64][2][2]float64{}
	for i, p := range chance {
		x, ok := known[p]
		if !ok {
			x = [2][2]float64{{SumStep(true, p, odds), SumStep(false, p, odds)}, {SumStep(true, p, 1/odds), SumStep(false, p, 1/odds)}}
			if len(known) < 64 {
				known[p] = x
			}
		}
		out[i] = x
	}
	return out
}

// LearntShares are the chances of cases learnt from the first of them: the
// share of events in the stratum; where none or all of a stratum are events
// there, or it has none there, one case of the overall share is added to it.
// Strata are numbered from 0.
func LearntShares(events []bool, strata []int, first int) []float64 {
	kinds := 0
	for _, s := range strata {
		kinds = max(kinds, s+1)
	}
	hits, all := make([]float64, kinds), make([]float64, kinds)
	var h, n float64
	for i, e := range events[:first] {
		all[strata[i]]++
		n++
		if e {
			hits[strata[i]]++
			h++
		}
	}
	share := make([]float64, kinds)
	for s := range share {
		p := hits[s] / all[s]
		if !(p > 0) || !(p < 1) {
			p = (hits[s] + h/n) / (all[s] + 1)
		}
		share[s] = math.Min(math.Max(p, 1e-9), 1-1e-9)
	}
	out := make([]float64, len(strata))
	for i, s := range strata {
		out[i] = share[s]
	}
	return out
}

// learntShift are the chances of log odds moved so that those of the first
// cases come to the events there, by Newton's method.
func learntShift(events []bool, given []float64) []float64 {
	total := 0.0
	for _, e := range events {
		if e {
			total++
		}
	}
	shift := 0.0
	for range 20 {
		sum, slope := 0.0, 0.0
		for i := range events {
			p := 1 / (1 + math.Exp(-given[i]-shift))
			sum, slope = sum+p, slope+p*(1-p)
		}
		move := (total - sum) / math.Max(slope, 1e-9)
		move = math.Max(-2, math.Min(2, move))
		shift += move
		if math.Abs(move) < 1e-6 {
			break
		}
	}
	out := make([]float64, len(given))
	for i, x := range given {
		out[i] = math.Min(math.Max(1/(1+math.Exp(-x-shift)), 1e-9), 1-1e-9)
	}
	return out
}
