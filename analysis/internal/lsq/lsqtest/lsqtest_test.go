package lsqtest

import (
	"math"
	"testing"
)

func TestDistance(t *testing.T) {
	for _, c := range []struct{ got, want, d float64 }{
		{1, 1, 0},
		{1.1, 1, 0.1},
		{-1, 1, 2},
		{1e-9, 0, 0.1},
		{math.NaN(), 1, math.Inf(1)},
		{1, math.NaN(), math.Inf(1)},
		{math.Inf(1), math.Inf(1), 0},
	} {
		if d := Distance(c.got, c.want); !(math.Abs(d-c.d) < 1e-12 || d == c.d) {
			t.Errorf("Distance(%v, %v) = %v, want %v", c.got, c.want, d, c.d)
		}
	}
}
