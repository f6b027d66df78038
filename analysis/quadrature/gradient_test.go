package quadrature

import (
	"math"
	"math/rand/v2"
	"testing"
)

// drawn are rows of a truth, for a family.
func drawn(family Family, seed uint64, groups, each int, sd float64) Data {
	r := rand.New(rand.NewPCG(seed, 7))
	d := Data{Levels: 4, X: make([][]float64, 2), Names: []string{"time", "kind"}}
	for i := range groups {
		u := sd * r.NormFloat64()
		kind := float64(i % 2)
		for range 1 + r.IntN(2*each-1) {
			time := 3 * r.Float64()
			eta := -0.4 + 0.5*time - 0.7*kind + u
			d.Group = append(d.Group, i)
			d.X[0], d.X[1] = append(d.X[0], time), append(d.X[1], kind)
			noise := math.Log(1/r.Float64() - 1)
			y := 0.0
			switch family {
			case Logistic:
				if eta+noise > 0 {
					y = 1
				}
			case Ordinal:
				for _, cut := range []float64{-1, 0.3, 1.8} {
					if eta+noise > cut {
						y++
					}
				}
			default:
				o := math.Log(0.5 + r.Float64())
				d.Offset = append(d.Offset, o)
				for t := r.ExpFloat64(); t < math.Exp(o+eta); t += r.ExpFloat64() {
					y++
				}
			}
			d.Y = append(d.Y, y)
		}
	}
	return d
}

// The gradient is that of the value at any number of nodes, by differences.
func TestGradient(t *testing.T) {
	for _, family := range []Family{Logistic, Poisson, Ordinal} {
		for _, nodes := range []int{1, 3, 31} {
			g := prepare(family, drawn(family, 3, 25, 4, 1.2))
			theta := make([]float64, g.dim)
			for j := range theta {
				theta[j] = 0.3 - 0.4*float64(j)
			}
			theta[g.dim-1] = 0.9
			r := hermite(nodes)
			at := g.likelihood(theta, r)
			if !at.ok {
				t.Fatal("no likelihood")
			}
			for j := range theta {
				const h = 1e-5
				up, down := append([]float64(nil), theta...), append([]float64(nil), theta...)
				up[j] += h
				down[j] -= h
				a, b := g.likelihood(up, r), g.likelihood(down, r)
				same(t, family.String()+" gradient", at.grad[j], (a.ll-b.ll)/(2*h), 1e-7)
				if nodes == 31 {
					for k := range theta {
						same(t, family.String()+" information", at.info[j][k], -(a.grad[k]-b.grad[k])/(2*h), 1e-5)
					}
				}
			}
		}
	}
}
