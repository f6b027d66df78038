package mixed

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
)

// Small, lopsided and noisy sets, where components are often zero: every fit
// is finite, and no search from any of twenty other starts ends lower.
func TestNoOtherStartEndsLower(t *testing.T) {
	singular := 0
	for set := range 100 {
		r := rand.New(rand.NewPCG(uint64(set), 18))
		slopes := set % 3
		d := Data{X: make([][]float64, 2), Names: []string{"x", "w"}, Intercept: true, RandomIntercept: true}
		sd := []float64{math.Exp(2 * r.NormFloat64()), math.Exp(r.NormFloat64() - 1), math.Exp(r.NormFloat64() - 1)}
		for g := range 4 + r.IntN(8) {
			b := []float64{sd[0] * r.NormFloat64(), sd[1] * r.NormFloat64(), sd[2] * r.NormFloat64()}
			for range 2 + slopes + r.IntN(6) {
				x, w := 50+3*r.NormFloat64(), r.NormFloat64()
				d.X[0], d.X[1] = append(d.X[0], x), append(d.X[1], w)
				y := b[0] + r.NormFloat64() + 0.3*x
				if slopes > 0 {
					y += b[1] * (x - 48)
				}
				if slopes > 1 {
					y += b[2] * w
				}
				d.Y, d.Group = append(d.Y, y), append(d.Group, g)
			}
		}
		d.Z, d.ZNames = d.X[:slopes], d.Names[:slopes]
		o := Options{ML: set%2 == 0, Uncorrelated: set%5 == 0}
		m, err := Fit(d, o)
		if err != nil {
			t.Errorf("set %d: %v", set, err)
			continue
		}
		finite(t, "model", reflect.ValueOf(m))
		if m.Singular {
			singular++
		}
		best := -2 * m.LogLikelihood
		for range 20 {
			at := make([]float64, len(m.sat.(*satterthwaite).s.theta))
			for j := range at {
				at[j] = 2 * r.NormFloat64()
			}
			if s, _ := m.obj.newton(m.obj.at(at)); s.value < best-1e-6 {
				t.Errorf("set %d: the criterion is %.9f, another start ends at %.9f", set, best, s.value)
				break
			}
		}
	}
	if singular < 20 {
		t.Errorf("only %d of the sets have a component of zero: the sets test too little", singular)
	}
}
