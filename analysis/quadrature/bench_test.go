package quadrature

import (
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/internal/peers"
)

// visits are comfort at 11 levels on limbs seen about ten times.
func visits(n int) Data {
	r := rand.New(rand.NewPCG(5, 5))
	d := Data{Levels: 11, X: make([][]float64, 5), Names: []string{"time", "kind", "sex", "age", "cause"}}
	for limb := 0; len(d.Y) < n; limb++ {
		u := 1.3 * r.NormFloat64()
		x := []float64{0, float64(r.IntN(2)), float64(r.IntN(2)), 40 + 40*r.Float64(), float64(r.IntN(2))}
		for range 1 + r.IntN(19) {
			x[0] = math.Floor(730 * r.Float64())
			eta := 0.002*x[0] + 0.5*x[1] - 0.3*x[2] + 0.01*(x[3]-60) + 0.4*x[4] + u + math.Log(1/r.Float64()-1)
			y := 0.0
			for k := range 10 {
				if eta > -4+0.8*float64(k) {
					y++
				}
			}
			d.Y = append(d.Y, y)
			d.Group = append(d.Group, limb)
			for j, v := range x {
				d.X[j] = append(d.X[j], v)
			}
		}
	}
	return d
}

// 50,000 visits on about 5,000 limbs, 11 levels, 5 columns; in R by clmm of
// ordinal, with Laplace's approximation, the quickest that it has: minutes.
func BenchmarkOrdinal50000(b *testing.B) {
	d := visits(50000)
	for b.Loop() {
		if _, err := Fit(Ordinal, d, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	limb := make([]float64, len(d.Group))
	for i, g := range d.Group {
		limb[i] = float64(g)
	}
	peers.Against(b, append([][]float64{d.Y, limb}, d.X...), "ordinal",
		"d <- data.frame(y = ordered(m[, 1]), limb = factor(m[, 2]), scale(m[, 3:7]))\nnames(d)[3:7] <- paste0('x', 1:5)",
		"clmm(y ~ x1 + x2 + x3 + x4 + x5 + (1 | limb), data = d)")
}
