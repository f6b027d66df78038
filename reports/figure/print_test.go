package figure

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
)

// Each group has one line of numbers at risk and, beneath it, those censored
// and those with the event; each stands under its tick, and the three add up
// to the rows of the group.
func TestNumbersAtRiskInPairs(t *testing.T) {
	spec := sampleCurves()
	texts, _ := record(t, Curves(spec))
	centre := func(p placedText) float64 { return float64(p.box.x0+p.box.x1) / 2 }
	total := map[string]int{}
	for _, c := range spec.Curves {
		total[c.Group] = c.Steps[0].AtRisk
	}
	groups := 0
	for i, p := range texts {
		n, ok := total[p.text]
		if !ok || p.size != sizeSmall {
			continue // the label at the end of the line is larger
		}
		groups++
		var risk, pair []placedText
		for _, q := range texts[i+1:] {
			switch {
			case math.Abs(float64(q.box.y0-p.box.y0)) < 0.1:
				risk = append(risk, q)
			case q.text == "censored · remakes":
			case q.box.y0 < p.box.y0 && float64(p.box.y0-q.box.y0) < float64(small.line())+0.5:
				pair = append(pair, q)
			}
		}
		if len(risk) < 3 || len(risk) != len(pair) {
			t.Fatalf("%s: %d numbers at risk, %d beneath", p.text, len(risk), len(pair))
		}
		for k := range risk {
			if math.Abs(centre(risk[k])-centre(pair[k])) > 0.2 {
				t.Errorf("%s: %q and %q do not stand under one tick", p.text, risk[k].text, pair[k].text)
			}
			atRisk, err := strconv.Atoi(risk[k].text)
			if err != nil {
				t.Fatal(err)
			}
			var censored, events int
			if _, err := fmt.Sscanf(pair[k].text, "%d · %d", &censored, &events); err != nil {
				t.Fatalf("%q: %v", pair[k].text, err)
			}
			if atRisk+censored+events != n {
				t.Errorf("%s: %d at risk, %d censored and %d events of %d", p.text, atRisk, censored, events, n)
			}
		}
	}
	if groups != len(spec.Curves) {
		t.Errorf("%d groups beneath the figure, want %d", groups, len(spec.Curves))
	}
}

// Of sparse curves nothing is shown but the times given.
func TestSparseCurves(t *testing.T) {
	year := daysPerYear
	steps := []Step{{Estimate: 1, Low: 1, High: 1, AtRisk: 114}, {Time: year, Estimate: 0.7, Low: 0.6, High: 0.78, AtRisk: 68, Events: 30}, {Time: 2 * year, Estimate: 0.48, Low: 0.37, High: 0.57, AtRisk: 48, Events: 22}}
	spec := CurvesSpec{Curves: []Curve{{Group: "hand", Steps: steps}, {Group: "vacuum", Steps: steps[:1]}}, HideBelow: 11, Sparse: true, Rows: "sockets"}
	texts, _ := record(t, Curves(spec))
	shown := map[string]int{}
	for _, p := range texts {
		shown[p.text]++
	}
	if shown["68"] != 1 || shown["48"] != 1 || shown["–"] == 0 {
		t.Errorf("numbers at risk: %v", shown)
	}
	if f := Curves(spec); !strings.Contains(fmt.Sprint(texts), "Not drawn") || f.Empty {
		t.Error("the curve that is not drawn is not spoken of")
	}
	spec.Curves = spec.Curves[1:]
	if f := Curves(spec); !f.Empty || !strings.Contains(f.Description, "too few sockets") {
		t.Errorf("a figure of nothing: %q", f.Description)
	}
	stacked := StackedSpec{Layers: []Layer{{"a", steps[:1]}}, HideBelow: 11, Sparse: true}
	if f := Stacked(stacked); !f.Empty {
		t.Errorf("a stack of nothing: %q", f.Description)
	}
}

func TestWithheldPointsAreGaps(t *testing.T) {
	spec := ControlSpec{ValueAxis: "Wait", Unit: "days"}
	for i := range 6 {
		spec.Points = append(spec.Points, ControlPoint{Label: "p" + strconv.Itoa(i), Day: 20000 + 90*i, Value: 40 + float64(i), Centre: 42, Lower: 30, Upper: 54, Phase: 1, Hidden: i == 0 || i == 3})
	}
	f := Control(spec)
	texts, _ := record(t, f)
	if said := fmt.Sprint(texts); !strings.Contains(said, "2 points withheld") {
		t.Errorf("the gaps are not spoken of: %s", said)
	}
	if strings.Contains(f.Long, "p0") || strings.Contains(f.Long, "p3") || f.Caption != "p1 to p5" {
		t.Errorf("caption %q, long %q", f.Caption, f.Long)
	}
	for i := range spec.Points {
		spec.Points[i].Hidden = true
	}
	if f := Control(spec); !f.Empty || !strings.Contains(f.Description, "few people") {
		t.Errorf("all withheld: %q", f.Description)
	}
}

// The lines of a chart are named to the same decimals.
func TestEndsToTheSameDecimals(t *testing.T) {
	for _, c := range []struct {
		lower, centre, upper float64
		want                 []string
	}{
		{41, 52.8, 64.6, []string{"lower 41.0", "mean 52.8", "upper 64.6"}},
		{63.6, 103.2, 143, []string{"lower 64", "mean 103", "upper 143"}},
		{2, 4.125, 6, []string{"lower 2.0", "mean 4.1", "upper 6.0"}},
	} {
		texts, _ := record(t, Control(ControlSpec{Points: []ControlPoint{{Label: "a", Day: 1, Value: c.centre, Centre: c.centre, Lower: c.lower, Upper: c.upper, Phase: 1}}}))
		said := fmt.Sprint(texts)
		for _, w := range c.want {
			if !strings.Contains(said, "{"+w+" ") {
				t.Errorf("%q is not among %s", w, said)
			}
		}
	}
}

func TestWithheldBarsAreOne(t *testing.T) {
	bars := []Bar{{Name: "Volume loss", Count: 90}, {Name: "Suspension", Count: 9, Hidden: true}, {Name: "Growth", Count: 4, Hidden: true}, {Name: "Not known", Count: 12, Unknown: true}}
	f := Bars(BarsSpec{Bars: bars})
	texts, _ := record(t, f)
	at := map[string]float64{}
	for _, p := range texts {
		at[p.text] = float64(p.box.y0)
	}
	if !(at["Volume loss"] > at["2 others"] && at["2 others"] > at["Not known"] && at["Not known"] > 0) {
		t.Errorf("order from the top: %v", at)
	}
	said := fmt.Sprint(texts)
	if g, s := strings.Index(said, "Growth"), strings.Index(said, "Suspension"); g < 0 || s < g {
		t.Errorf("the names are not given in the order of the alphabet: %s", said)
	}
	if strings.Count(said, "withheld") != 1 {
		t.Errorf("several bars are withheld one by one: %s", said)
	}
}

// Names that there is room for are not broken, bold ones included.
func TestForestNamesAreNotBroken(t *testing.T) {
	texts, _ := record(t, Forest(ForestSpec{Measure: "Hazard ratio", Terms: []ForestTerm{
		{"Cause of amputation", []ForestRow{{Label: "trauma", Reference: true}, {Label: "vascular", Estimate: 1.2, Low: 0.7, High: 2.2}}},
		{"Level", []ForestRow{{Label: "transtibial", Reference: true}, {Label: "knee disarticulation", Estimate: 0.0001, Low: 0.00001, High: 1.6}}},
	}}))
	said := fmt.Sprint(texts)
	for _, w := range []string{"{Cause of amputation ", "{knee disarticulation ", "{<0.001 (<0.001 to 1.60) "} {
		if !strings.Contains(said, w) {
			t.Errorf("%q is not among %s", w, said)
		}
	}
}
