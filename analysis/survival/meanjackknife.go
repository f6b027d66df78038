package survival

import (
	"math"
	"sort"
)

// meanJackknife follows how much each subject moves the mean, and the share
// alive, per unit of weight.
//
// With Y at risk, dN events and dD deaths at a time, S the share alive just
// before and i at risk, subject i moves the share alive from S to
//
//	dS(i) (1 - dD/Y) - S (dD(i) - dD/Y) / Y
//
// and adds dS(i) dN/Y + S (dN(i) - dN/Y) / Y to what it moves the mean by.
type meanJackknife struct {
	data  RecurrentData
	tally *meanTally
	mean  []float64 // by subject, times its weight
	alive []float64
	first []int // of each subject, the first and the last step at which it is watched
	last  []int
	next  []int // of each subject, the next of its events
	order [][]float64
}

func newMeanJackknife(d RecurrentData, t *meanTally) *meanJackknife {
	n := len(d.Exit)
	j := &meanJackknife{data: d, tally: t, mean: make([]float64, n), alive: make([]float64, n),
		first: make([]int, n), last: make([]int, n), next: make([]int, n), order: make([][]float64, n)}
	for i := range d.Exit {
		j.first[i] = sort.Search(len(t.steps), func(k int) bool { return t.steps[k].time > riskFrom(d.entry(i)) })
		j.last[i] = sort.Search(len(t.steps), func(k int) bool { return t.steps[k].time >= d.Exit[i] })
		j.order[i] = append([]float64(nil), d.Events[i]...)
		sort.Float64s(j.order[i])
	}
	return j
}

// step moves on to step k. moved, if not nil, takes for each subject what the
// step adds to what it moves the mean by.
func (j *meanJackknife) step(k int, moved []float64) {
	s := &j.tally.steps[k]
	rate, dying := s.rate(), s.dying()
	for i := range j.mean {
		add := j.alive[i] * rate
		watched := j.first[i] <= k && k <= j.last[i]
		fall := j.alive[i] * dying
		if watched {
			w := j.data.weight(i)
			own := 0.0
			for ; j.next[i] < len(j.order[i]) && j.order[i][j.next[i]] == s.time; j.next[i]++ {
				own++
			}
			add += w * s.alive * (own - rate) / s.atRisk
			dead := 0.0
			if k == j.last[i] && j.data.died(i) {
				dead = 1
			}
			if s.deaths > 0 {
				fall += w * s.alive * (dead - dying) / s.atRisk
			}
		}
		j.alive[i] -= fall
		j.mean[i] += add
		if moved != nil {
			moved[i] = add
		}
	}
}

// error is the error of the mean, grouped by cluster.
func (j *meanJackknife) error(of []int32, sums []float64) float64 {
	clear(sums)
	for i, m := range j.mean {
		sums[of[i]] += m
	}
	v := 0.0
	for _, s := range sums {
		v += s * s
	}
	return math.Sqrt(v)
}
