package figure

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func sampleGirths(groups int) GirthsSpec {
	s := GirthsSpec{ID: "girths", Landmark: "mid-patellar tendon", Note: "Stations that fewer than half of the sockets have are in the table alone."}
	for k := range groups {
		s.Lines = append(s.Lines, GirthLine{Name: map[bool]string{true: "model", false: fmt.Sprintf("Shaped by T%d", k+1)}[groups == 1]})
	}
	for i := range 6 {
		limb := 320 + 40*math.Sin(float64(i)/2) - 18*float64(i)
		r := 4 - 0.4*float64(i)
		s.Stations = append(s.Stations, GirthStation{MM: 30 * float64(i), Limb: limb, Target: limb * (1 - r/100), Model: limb*(1-r/100) + 1, TargetReduction: r})
		for k := range s.Lines {
			v := r + 0.5*float64(k) - 0.2
			s.Lines[k].Points = append(s.Lines[k].Points, BandPoint{30 * float64(i), v, v - 0.3, v + 0.3})
		}
	}
	return s
}

func sampleShareBands() ShareBandsSpec {
	s := ShareBandsSpec{ID: "fit", XAxis: "Mean reduction of the socket", XUnit: "%", YAxis: "First-time fit", WithName: "fitted the first time", NoneName: "did not"}
	for k := range 4 {
		from := 2 + 0.5*float64(k)
		p := 0.6 + 0.08*float64(k)
		s.Bands = append(s.Bands, ShareBand{from, from + 0.45, from + 0.2, p, p - 0.15, p + 0.12, "24 of 40"})
	}
	for i := range 41 {
		x := 2 + 2*float64(i)/40
		p := 1 / (1 + math.Exp(0.6-0.5*x))
		s.Curve = append(s.Curve, BandPoint{x, p, p - 0.1, p + 0.1})
		s.With = append(s.With, x)
		if i%3 == 0 {
			s.None = append(s.None, x+0.02)
		}
	}
	return s
}

func TestGirthsAndShareBandsSayWhatTheyShow(t *testing.T) {
	s := sampleGirths(1)
	s.Stations[5].Model = math.NaN()
	f := Girths(s)
	for _, want := range []string{"0 mm: limb 320, target 307, model 308 mm.", "Reduction, model: 3.80% at 0 mm (3.50 to 4.10)", "One station without a finite value"} {
		if !strings.Contains(f.Long, want) {
			t.Errorf("not said: %s\n%s", want, f.Long)
		}
	}
	if !strings.Contains(f.Description, "at 5 places from 0 to 120 mm from the landmark (mid-patellar tendon)") {
		t.Error(f.Description)
	}
	b := ShareBands(sampleShareBands())
	if !strings.Contains(b.Long, "60% at 2 to 2.45% (45% to 72%, 24 of 40)") || !strings.Contains(b.Description, "from 60% in the lowest to 84% in the highest") {
		t.Errorf("%s\n%s", b.Description, b.Long)
	}
}
