package survival

import (
	"math"
	"math/rand/v2"
	"testing"
)

// benchRows are sockets as a large register would hold them: days to the
// remake or the last record, and nine columns known at delivery (age in
// years, month of delivery, and seven that stand for categories). cluster
// numbers persons, seven for ten sockets.
func benchRows(n int) (d CoxData, cluster []int) {
	r := rand.New(rand.NewPCG(3, 9))
	d = CoxData{Time: make([]float64, n), Event: make([]bool, n), Names: []string{"age", "vacuum", "scan", "femoral", "vascular", "diabetes", "female", "pin", "year"}}
	d.X = make([][]float64, len(d.Names))
	for j := range d.X {
		d.X[j] = make([]float64, n)
	}
	cluster = make([]int, n)
	share := []float64{0, 0.4, 0.2, 0.3, 0.35, 0.25, 0.4, 0.3}
	b := []float64{-0.01, -0.4, 0.1, 0.1, 0.4, 0.2, -0.1, 0.15, 0.02}
	for i := range n {
		eta := 0.0
		for j := range d.X {
			x := 0.0
			switch {
			case j == 0:
				x = math.Round(20 + 65*r.Float64())
			case j == 8:
				x = float64(r.IntN(10))
			case r.Float64() < share[j]:
				x = 1
			}
			d.X[j][i] = x
			eta += b[j] * x
		}
		t, c := r.ExpFloat64()*700/math.Exp(eta+0.5), 3000*r.Float64()
		d.Time[i], d.Event[i] = math.Ceil(math.Min(t, c)), t <= c
		cluster[i] = r.IntN(7*n/10 + 1)
	}
	return d, cluster
}

func benchmarkSockets(b *testing.B, n int, clustered bool) {
	d, cluster := benchRows(n)
	if clustered {
		d.Cluster = cluster
	}
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		if _, err := FitCox(d, CoxOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCoxSockets1M(b *testing.B)          { benchmarkSockets(b, 1_000_000, false) }
func BenchmarkCoxSocketsClustered1M(b *testing.B) { benchmarkSockets(b, 1_000_000, true) }
