package regress

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// NeweyWestLag is how many rows apart two may lean on one another: the whole
// part of 4 (n/100)^(2/9) (Newey WK, West KD. Review of Economic Studies 1994;
// 61: 631-653).
func NeweyWestLag(n int) int {
	return int(math.Floor(4 * math.Pow(float64(n)/100, 2.0/9)))
}

// neweyWest is the middle matrix in the coordinates of Q: the products of the
// scores of rows up to lag apart, weighted by Bartlett's kernel, all times
// correct (Newey WK, West KD. Econometrica 1987; 55: 703-708).
func (k *kernel) neweyWest(correct float64) (middle [][]float64, lag int) {
	n, p := k.f.N, k.f.P
	lag = min(NeweyWestLag(n), n-1)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	at := func(i int) float64 { return k.p.data.Order[k.p.used[i]] }
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case at(a) < at(b):
			return -1
		case at(a) > at(b):
			return 1
		}
		return 0
	})
	scores := make([][]float64, n)
	for t, i := range order {
		scores[t] = make([]float64, p)
		k.f.Row(i, scores[t])
		floats.Scale(k.residual[i], scores[t])
	}
	middle = square(p)
	for t, u := range scores {
		addOuter(middle, correct, u)
		for l := 1; l <= lag && l <= t; l++ {
			weight := correct * (1 - float64(l)/float64(lag+1))
			v := scores[t-l]
			for j := range u {
				floats.AddScaled(middle[j], weight*u[j], v)
				floats.AddScaled(middle[j], weight*v[j], u)
			}
		}
	}
	return middle, lag
}
