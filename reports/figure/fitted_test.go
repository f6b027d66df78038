package figure

import (
	"math"
	"strings"
	"testing"
)

func smooth(until, scale, shape float64, band bool) []BandPoint {
	var out []BandPoint
	for k := 0; k <= 80; k++ {
		t := until * float64(k) / 80
		y := math.Exp(-math.Pow(t/scale, shape))
		p := BandPoint{t, y, math.NaN(), math.NaN()}
		if band {
			p.Low, p.High = math.Pow(y, 1.4), math.Pow(y, 0.7)
		}
		out = append(out, p)
	}
	return out
}

func sampleFitted() FittedSpec {
	return FittedSpec{ID: "predicted", ValueAxis: "Sockets not yet remade", TimeAxis: "Time since delivery", Known: 700, Landmarks: []float64{365.25},
		Shares: []float64{0.75, 0.5}, ShareWords: []string{"A quarter are remade by", "Half are remade by"},
		Curves: []FittedCurve{
			{"cast method hand, age 60", smooth(1100, 600, 1.2, true), []Mark{{212, 150, 300, "7.0 months (4.9 to 9.9)"}, {442, 330, 590, "14.5 months (10.8 to 19.4)"}}},
			{"cast method vacuum, age 60", smooth(1100, 1500, 1.2, true), []Mark{{531, 300, 940, "17.4 months (9.9 to 30.9)"}, {1105, 620, math.Inf(1), "3.0 years (from 1.7 years)"}}},
			{"cast method digital, age 60", smooth(1100, 900, 1.2, true), []Mark{{319, 200, 500, "10.5 months"}, {663, 400, 1090, "21.8 months"}}},
		}}
}

func sampleFittedOver() FittedSpec {
	return FittedSpec{ID: "over", ValueAxis: "Sockets not yet remade", TimeAxis: "Time since delivery", Seen: stepsOf(lives(120, 520, 1, 1), 0),
		Curves: []FittedCurve{
			{Name: "log-normal", Points: smooth(1000, 520, 1.1, false)}, {Name: "generalised gamma", Points: smooth(1000, 525, 1.05, false)},
			{Name: "Weibull", Points: smooth(1000, 530, 1, false)}, {Name: "log-logistic", Points: smooth(1000, 500, 0.9, false)},
			{Name: "exponential", Points: smooth(1000, 620, 1, false)}}}
}

func TestFitted(t *testing.T) {
	f := Fitted(sampleFitted())
	for _, s := range []string{"Smooth curves: sockets not yet remade by time since delivery, ending at: cast method hand, age 60 13% at"} {
		if !strings.Contains(f.Description, s) {
			t.Errorf("description lacks %q: %s", s, f.Description)
		}
	}
	for _, s := range []string{"Cast method vacuum, age 60: 83% at 12 months.", "Half are remade by: 3.0 years (from 1.7 years).", "Nothing is known after 23 months."} {
		if !strings.Contains(f.Long, s) {
			t.Errorf("long description lacks %q: %s", s, f.Long)
		}
	}
	if strings.Contains(f.Long, "Seen") {
		t.Errorf("nothing was seen: %s", f.Long)
	}
	over := Fitted(sampleFittedOver())
	if !strings.Contains(over.Description, "over the steps of what was seen") || !strings.Contains(over.Long, "Seen: ") || strings.Contains(over.Long, "known after") {
		t.Errorf("%s %s", over.Description, over.Long)
	}
	if over.Height <= 0 || f.Height <= over.Height {
		t.Errorf("heights %v and %v: strips take room", f.Height, over.Height)
	}
	// Values that are none are left out, and told.
	bad := Fitted(FittedSpec{Curves: []FittedCurve{{Name: "a", Points: []BandPoint{{X: 0, Y: 1}, {X: 5, Y: math.NaN()}, {X: 9, Y: 0.5}}}, {Name: "b", Points: []BandPoint{{X: 0, Y: 1}}}}})
	if !strings.Contains(bad.Long, "One point without a finite value") || strings.Contains(bad.Long, "B:") {
		t.Errorf("%s", bad.Long)
	}
	if e := Fitted(FittedSpec{}); !e.Empty {
		t.Error("nothing to draw")
	}
	// Where small counts are hidden the steps are thinned to quarters.
	public := sampleFittedOver()
	public.HideBelow = 11
	if p := Fitted(public); !strings.Contains(p.Long, "Seen: ") {
		t.Errorf("%s", p.Long)
	}
}
