package survival

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// What is made by patterns of columns is what the sweep makes row by row:
// with rows that collapse and rows that do not, ties, strata, weights, an
// offset and clusters.
func TestCoxByPatterns(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	for k := range 60 {
		n := 5 + r.IntN(120)
		d := CoxData{Names: []string{"a", "b", "c"}, X: make([][]float64, 3)}
		for range n {
			for j := range d.X {
				x := float64(r.IntN(3))
				if k%3 == 0 && j == 0 {
					x = r.NormFloat64() // every row its own pattern
				}
				d.X[j] = append(d.X[j], x)
			}
			d.Time = append(d.Time, math.Ceil(20*r.ExpFloat64())/float64(1+k%2))
			d.Event = append(d.Event, r.IntN(3) > 0)
			d.Cluster = append(d.Cluster, r.IntN(n)*(1+k%4*1_000_000))
			if k%4 > 0 {
				d.Weight = append(d.Weight, 0.5*float64(1+r.IntN(5)))
			}
			if k%5 > 0 {
				d.Offset = append(d.Offset, float64(r.IntN(2)))
			}
			if k%2 > 0 {
				d.Strata = append(d.Strata, 7*r.IntN(3))
			}
		}
		d.Event[0] = true
		m, err := newCoxModel(d, CoxOptions{Ties: Ties(k / 2 % 2), SamplingWeights: k%7 == 0})
		if err != nil {
			t.Fatal(err)
		}
		if m.fast == nil {
			t.Fatal("not by patterns")
		}
		if own := m.fast.patterns() == n; own != (k%3 == 0) && n > 60 {
			t.Errorf("%d patterns of %d rows", m.fast.patterns(), n)
		}
		slow := *m
		slow.fast = nil
		of, clusters, _ := numberClusters(d.Cluster, n)
		for _, beta := range [][]float64{{0, 0, 0}, {0.3, -0.7, 1.1}} {
			x, y := m.likelihood(beta), slow.likelihood(beta)
			same(t, fmt.Sprint(k, " log likelihood"), x.loglik, y.loglik, 1)
			meatX, totalX, errX := m.grouped(beta, of, clusters)
			meatY, totalY, errY := slow.grouped(beta, of, clusters)
			if !x.ok || !y.ok || errX != nil || errY != nil {
				t.Fatal(errX, errY)
			}
			for i := range 3 {
				same(t, fmt.Sprint(k, " score"), x.score[i], y.score[i], m.events)
				same(t, fmt.Sprint(k, " total"), totalX[i], totalY[i], m.events)
				for j := range 3 {
					same(t, fmt.Sprint(k, " information"), x.info[i][j], y.info[i][j], m.events)
					same(t, fmt.Sprint(k, " meat"), meatX[i][j], meatY[i][j], m.events)
				}
			}
		}
	}
}

func same(t *testing.T, what string, a, b, size float64) {
	t.Helper()
	if d := math.Abs(a - b); !(d <= 1e-10*(size+math.Abs(b))) {
		t.Errorf("%s: %.15g and %.15g", what, a, b)
	}
}

func TestSortByTime(t *testing.T) {
	for _, time := range [][]float64{{3, 1, 2, 1, 3}, {0.5, 3, 0.5, 2}, {1e9, 5, 1e9, 0}, {4}, {}} {
		rows := order(len(time))
		sortByTime(rows, time)
		for k := 1; k < len(rows); k++ {
			a, b := rows[k-1], rows[k]
			if time[a] > time[b] || time[a] == time[b] && a > b {
				t.Errorf("%v sorted as %v", time, rows)
			}
		}
		reverseTies(rows, time)
		for k := 1; k < len(rows); k++ {
			a, b := rows[k-1], rows[k]
			if time[a] < time[b] || time[a] == time[b] && a > b {
				t.Errorf("%v sorted backwards as %v", time, rows)
			}
		}
	}
}
