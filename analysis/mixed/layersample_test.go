package mixed

import (
	"math"
	"runtime"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// Many persons, for whom the search starts on some of them: it ends where a
// search of all from the start ends, on one processor or several.
func TestManyPersons(t *testing.T) {
	alike := pairs(manyBlocks+200, false, false) // clinicians who do not differ
	labels := make([]int, len(alike.Y))
	for i := range labels {
		labels[i] = i % 7
	}
	alike.Crossed = []Level{{Name: "clinician", Labels: labels}}
	for name, d := range map[string]Data{"alike": alike, "nested": pairs(manyBlocks+200, false, false), "crossed": pairs(manyBlocks+200, true, false), "spread": pairs(manyBlocks+200, false, true)} {
		m := mustFit(t, d, Options{})
		l := m.layers
		if l.sample() == nil {
			t.Fatal("no sample is taken")
		}
		o, best, value := l.slope(), []float64(nil), math.Inf(1)
		for _, start := range l.starts() {
			at, _, _ := o.quick(start, func([]float64, float64) bool { return false })
			if at, v, _ := o.descend(at); v < value {
				best, value = upright(at, l.diagonal()), v
			}
		}
		s := l.at(best)
		lsqtest.Close(t, name+" log-likelihood", m.LogLikelihood, -value/2, 1e-12)
		lsqtest.Close(t, name+" residual sum of squares", m.sat.(*layerFreedom).s.rss, s.rss, 1e-7)
		for j, v := range m.sat.(*layerFreedom).s.point {
			if math.Abs(v-best[j]) > 1e-6*(0.1+math.Abs(v)) {
				t.Errorf("%s: coordinate %d is %.12g, searched from the start %.12g", name, j, v, best[j])
			}
		}
		was := runtime.GOMAXPROCS(1)
		one := mustFit(t, d, Options{})
		runtime.GOMAXPROCS(was)
		if one.LogLikelihood != m.LogLikelihood || one.Coef[1] != m.Coef[1] || one.Effects[17].Mode[1] != m.Effects[17].Mode[1] {
			t.Errorf("%s: on one processor the numbers are others", name)
		}
	}
}

// A sample that would lack a kind of rows is not taken.
func TestSampleLacksAKind(t *testing.T) {
	d := pairs(manyBlocks+200, false, true)
	for i := range d.Spread {
		d.Spread[i] = 0
		if i < 30 {
			d.Spread[i] = 1
		}
	}
	m := mustFit(t, d, Options{})
	if m.layers.sample() != nil {
		t.Error("a sample is taken")
	}
}
