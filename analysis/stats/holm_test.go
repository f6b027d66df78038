package stats

import (
	"math"
	"testing"
)

// R 4.2.2: p.adjust(c(0.01, 0.04, 0.03, NA, 0.005), "holm") and
// p.adjust(c(0.6, 0.5, 0.9), "holm").
func TestHolm(t *testing.T) {
	for _, c := range []struct{ p, want []float64 }{
		{[]float64{0.01, 0.04, 0.03, math.NaN(), 0.005}, []float64{0.03, 0.06, 0.06, math.NaN(), 0.02}},
		{[]float64{0.6, 0.5, 0.9}, []float64{1, 1, 1}},
		{nil, nil},
	} {
		got := Holm(c.p)
		if len(got) != len(c.want) {
			t.Fatalf("%v: %v", c.p, got)
		}
		for i := range got {
			if math.IsNaN(c.want[i]) != math.IsNaN(got[i]) || math.Abs(got[i]-c.want[i]) > 1e-15 {
				t.Errorf("%v: %v, want %v", c.p, got, c.want)
			}
		}
	}
}
