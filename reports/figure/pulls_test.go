package figure

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

var noRange = [2]float64{math.NaN(), math.NaN()}

func samplePulls() PullsSpec {
	r := rand.New(rand.NewPCG(5, 9))
	s := PullsSpec{ID: "pulls", Results: []string{"Good", "Thin spot", "Webbing", "Bubbles", "Pulled again", "Result not recorded"}, Note: "In the tables alone: acrylic, 4 mm."}
	for k, name := range []string{"PETG, 12 mm", "Polypropylene, 6 mm"} {
		g := PullGroup{Name: name, Oven: [2]float64{160 + 20*float64(k), 172 + 20*float64(k)}, Minutes: noRange, Thinnest: noRange}
		if k == 0 {
			g.Minutes, g.Thinnest = [2]float64{math.NaN(), 16}, [2]float64{5, math.NaN()}
		}
		for i := range 90 {
			p := Pull{OvenC: math.Round(166 + 20*float64(k) + 4*r.NormFloat64()), Minutes: math.Round(15 + 1.5*r.NormFloat64()), ThinnestMM: 6.5 - 3*float64(k) + 0.6*r.NormFloat64()}
			if i%8 == 0 {
				p.Result = 1 + i/8%5
			}
			g.Pulls = append(g.Pulls, p)
		}
		s.Groups = append(s.Groups, g)
	}
	return s
}

func TestPullsSayTheirRange(t *testing.T) {
	s := samplePulls()
	s.Groups[1].Pulls[0].ThinnestMM = math.NaN()
	f := Pulls(s)
	for _, want := range []string{"the lab's range: oven 160 to 172 °C, minutes up to 16 min, thinnest wall from 5 mm", "Polypropylene, 6 mm: 89 sheets", "One sheet without a finite value"} {
		if !strings.Contains(f.Long, want) {
			t.Errorf("not said: %s\n%s", want, f.Long)
		}
	}
	if !strings.Contains(f.Description, "179 sheets of 2 kinds") {
		t.Error(f.Description)
	}
}
