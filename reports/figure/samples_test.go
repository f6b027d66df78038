package figure

import (
	"math"
	"math/rand/v2"
	"sort"
)

// life is one simulated row: when it ended and how (0 censored).
type life struct {
	time float64
	kind int
}

func lives(n int, scale float64, kinds int, seed uint64) []life {
	r := rand.New(rand.NewPCG(seed, 7))
	out := make([]life, n)
	for i := range out {
		t := math.Ceil(-scale * math.Log(r.Float64()))
		c := math.Ceil(200 + 900*r.Float64())
		if t < c {
			out[i] = life{t, 1 + r.IntN(kinds)}
		} else {
			out[i] = life{c, 0}
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].time < out[j].time })
	return out
}

// stepsOf makes the product-limit curve of simulated lives, or with kind > 0
// the cumulative incidence of that kind; intervals are rough, for drawing.
func stepsOf(ls []life, kind int) []Step {
	n, s, f := len(ls), 1.0, 0.0
	start := 1.0
	if kind > 0 {
		start = 0
	}
	steps := []Step{{Estimate: start, Low: start, High: start, AtRisk: n}}
	for i := 0; i < len(ls); {
		j, ev, mine, cens := i, 0, 0, 0
		for ; j < len(ls) && ls[j].time == ls[i].time; j++ {
			switch {
			case ls[j].kind == 0:
				cens++
			default:
				ev++
				if ls[j].kind == kind {
					mine++
				}
			}
		}
		at := n - i
		f += s * float64(mine) / float64(at)
		s *= 1 - float64(ev)/float64(at)
		est, events := s, ev
		if kind > 0 {
			est, events = f, mine
		}
		half := 1.96 * math.Sqrt(est*(1-est)/float64(at))
		steps = append(steps, Step{Time: ls[i].time, Estimate: est, Low: max(est-half, 0), High: min(est+half, 1), AtRisk: at, Events: events, Censored: cens})
		i = j
	}
	return steps
}

func sampleCurves() CurvesSpec {
	return CurvesSpec{
		ID: "longevity", ValueAxis: "Sockets still in use", TimeAxis: "Time since delivery", Rows: "sockets", EventWord: "remakes",
		Curves: []Curve{
			{Group: "Plaster by hand", Steps: stepsOf(lives(84, 520, 1, 1), 0)},
			{Group: "Pressure cast", Steps: stepsOf(lives(61, 800, 1, 2), 0)},
			{Group: "Laser scan", Steps: stepsOf(lives(37, 600, 1, 3), 0)},
		},
		Landmarks: []float64{90, 365.25, 730.5},
	}
}

func sampleCauses() CurvesSpec {
	ls := lives(180, 500, 3, 5)
	s := CurvesSpec{ID: "reasons", Direction: Up, ValueAxis: "Sockets ended", TimeAxis: "Time since delivery", Rows: "sockets"}
	for k, name := range []string{"Volume loss", "Breakage or wear", "Died"} {
		s.Curves = append(s.Curves, Curve{Cause: name, Steps: stepsOf(ls, k+1)})
	}
	return s
}

func manyGroups() CurvesSpec {
	s := sampleCurves()
	s.Curves = nil
	s.Landmarks = nil
	names := []string{"Total contact, elevated vacuum with seal-in liner and a long distal umbrella", "Patellar tendon bearing", "Ischial containment", "Quadrilateral", "Sub-ischial",
		"Symes", "Knee disarticulation with a removable medial plate", "Hybrid", "Donaudampfschifffahrtsgesellschaftskapitänsmützenschaft", "Other", "Not known", "Osseointegration"}
	for i, n := range names {
		s.Curves = append(s.Curves, Curve{Group: n, Steps: stepsOf(lives(20+9*i, 300+60*float64(i), 1, uint64(20+i)), 0)})
	}
	return s
}
