package main

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// The factor is what it is said to be: its Laplace transform is exp(-s^tie),
// and so the share of sockets alive is that of alive.
func TestFactor(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	const n = 40000
	for _, s := range []float64{0.2, 1, 3} {
		sum := 0.0
		for range n {
			sum += math.Exp(-s * factor(rng))
		}
		if got, want := sum/n, math.Exp(-math.Pow(s, tie)); math.Abs(got-want) > 4*0.5/math.Sqrt(n) {
			t.Errorf("at %g the transform is %g, not %g", s, got, want)
		}
	}
}

// Every row runs, settles near its truth and covers it often, or, where a row
// is there to show what an interval misses that leaves something out of account,
// not so often; what covers how often is a matter of thousands of draws, and
// stands in DEVELOPERS.md.
func TestScenarios(t *testing.T) {
	for _, s := range scenarios() {
		n := 24
		if strings.Contains(s.setting, "samples") && !strings.HasPrefix(s.setting, "30 ") {
			continue // the bootstrap takes its time
		}
		if strings.HasPrefix(s.name, "settling") {
			if !strings.HasPrefix(s.setting, "8 ") {
				continue // so do many settling limbs
			}
			n = 12
		}
		r := s.run(n, 2)
		if a, b := s.run(5, 2), s.run(5, 1); a.line() != b.line() {
			t.Errorf("%s, %s: %s, then %s", s.name, s.setting, a.line(), b.line())
		}
		short := strings.Contains(s.name, "left out of account") || strings.Contains(s.name, "taken to be the same")
		if r.none > n/4 || !short && r.held < n*2/3 || short && r.held == n {
			t.Errorf("%s, %s: %d of %d held, %d without an interval", s.name, s.setting, r.held, n, r.none)
		}
		if d := math.Abs(r.mean - s.truth); !(d <= 5*r.sd/math.Sqrt(float64(n))+0.1*math.Abs(s.truth)) {
			t.Errorf("%s, %s: estimates about %g, the truth is %g", s.name, s.setting, r.mean, s.truth)
		}
	}
}
