package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"plybook/reports/typeface"
)

// placedText is a recorded text with the box its capitals take.
type placedText struct {
	text string
	box  rect
	size vg.Length
}

func (p placedText) centre() vg.Length { return (p.box.x0 + p.box.x1) / 2 }

// record draws a figure on a recording canvas and follows its translations;
// figures turn no text, and the test says so if one does.
func record(t *testing.T, f *Figure) ([]placedText, []recorder.Action) {
	t.Helper()
	var rec recorder.Canvas
	f.Draw(draw.NewCanvas(&rec, f.Width, f.Height))
	var out []placedText
	var at vg.Point
	var stack []vg.Point
	for _, a := range rec.Actions {
		switch a := a.(type) {
		case *recorder.Push:
			stack = append(stack, at)
		case *recorder.Pop:
			at, stack = stack[len(stack)-1], stack[:len(stack)-1]
		case *recorder.Translate:
			at.X, at.Y = at.X+a.Point.X, at.Y+a.Point.Y
		case *recorder.Rotate, *recorder.Scale:
			t.Fatalf("unexpected %s", a.Call())
		case *recorder.FillString:
			st := style{size: a.Size}
			w := typeface.Width(faces().Lookup(a.Font, a.Size), a.String)
			p := vg.Point{X: at.X + a.Point.X, Y: at.Y + a.Point.Y}
			out = append(out, placedText{a.String, rect{p.X, p.Y - st.descent(), p.X + w, p.Y + st.capHeight()}, a.Size})
		}
	}
	if len(stack) != 0 {
		t.Error("push and pop do not pair")
	}
	return out, rec.Actions
}

func sorted(m map[string]*Figure) []string {
	names := make([]string, 0, len(m))
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

func TestTextStaysOnThePageAndIsLegible(t *testing.T) {
	figs := all()
	for _, name := range sorted(figs) {
		f := figs[name]
		texts, _ := record(t, f)
		if len(texts) == 0 {
			t.Errorf("%s: no text", name)
		}
		for _, p := range texts {
			if p.box.x0 < -0.5 || p.box.y0 < -0.5 || p.box.x1 > f.Width+0.5 || p.box.y1 > f.Height+0.5 {
				t.Errorf("%s: %q at %.1f leaves the page of %.1f x %.1f", name, p.text, p.box, f.Width, f.Height)
			}
			if p.size < 8 {
				t.Errorf("%s: %q is set at %.1f points", name, p.text, p.size)
			}
		}
	}
}

func TestMarksStayOnThePage(t *testing.T) {
	figs := all()
	for _, name := range sorted(figs) {
		f := figs[name]
		_, actions := record(t, f)
		check := func(p vg.Path) {
			for _, c := range p {
				if !finite(float64(c.Pos.X)) || !finite(float64(c.Pos.Y)) {
					t.Errorf("%s: a mark at %v", name, c.Pos)
				}
				if c.Pos.X < -2 || c.Pos.Y < -2 || c.Pos.X > f.Width+2 || c.Pos.Y > f.Height+2 {
					t.Errorf("%s: a mark at %.1f leaves the page of %.1f x %.1f", name, c.Pos, f.Width, f.Height)
				}
			}
		}
		for _, a := range actions {
			switch a := a.(type) {
			case *recorder.Stroke:
				check(a.Path)
			case *recorder.Fill:
				check(a.Path)
			}
		}
	}
}

func TestNoTwoTextsOverlap(t *testing.T) {
	figs := all()
	for _, name := range sorted(figs) {
		texts, _ := record(t, figs[name])
		for i, a := range texts {
			for _, b := range texts[i+1:] {
				x := rect{a.box.x0 + 0.2, a.box.y0 + 0.9, a.box.x1 - 0.2, a.box.y1 - 0.2}
				if x.meets(rect{b.box.x0 + 0.2, b.box.y0 + 0.9, b.box.x1 - 0.2, b.box.y1 - 0.2}) {
					t.Errorf("%s: %q and %q overlap", name, a.text, b.text)
				}
			}
		}
	}
}

func TestDrawingTwiceGivesTheSameMarks(t *testing.T) {
	calls := func(f *Figure) []string {
		_, actions := record(t, f)
		out := make([]string, len(actions))
		for i, a := range actions {
			out[i] = a.Call()
		}
		return out
	}
	first, second := all(), all()
	for _, name := range sorted(first) {
		a := calls(first[name])
		if !slices.Equal(a, calls(first[name])) {
			t.Errorf("%s: drawn twice, the marks differ", name)
		}
		if !slices.Equal(a, calls(second[name])) {
			t.Errorf("%s: made twice, the marks differ", name)
		}
	}
}

func TestFigureSaysWhatItShows(t *testing.T) {
	figs := all()
	for _, name := range sorted(figs) {
		f := figs[name]
		if f.Title == "" || f.Description == "" || f.Long == "" {
			t.Errorf("%s: title %q, description %q, long %q", name, f.Title, f.Description, f.Long)
		}
		if strings.Count(f.Description, ". ") > 0 || !strings.HasSuffix(f.Description, ".") {
			t.Errorf("%s: the description is not one sentence: %q", name, f.Description)
		}
		for _, s := range []string{f.Description, f.Long} {
			if strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
				t.Errorf("%s: %q", name, s)
			}
		}
	}
}

func TestFigureKeepsItsPlaceOnTheCanvas(t *testing.T) {
	f := Flow(sampleFlow())
	var rec recorder.Canvas
	c := draw.NewCanvas(&rec, f.Width*2, f.Height*2)
	c.Min = vg.Point{X: 30, Y: 40}
	c.Max = vg.Point{X: 30 + f.Width/2, Y: 40 + f.Height/2}
	f.Draw(c)
	if a, ok := rec.Actions[len(slices.Collect(before(rec.Actions, "Push")))+1].(*recorder.Translate); !ok || a.Point != c.Min {
		t.Errorf("the drawing does not start at the canvas's corner")
	}
	found := false
	for _, a := range rec.Actions {
		if s, ok := a.(*recorder.Scale); ok {
			found = math.Abs(s.X-0.5) < 1e-9 && s.X == s.Y
		}
	}
	if !found {
		t.Error("a canvas of half the size does not halve the drawing")
	}
}

// before yields the actions up to the first of a kind.
func before(actions []recorder.Action, kind string) func(func(recorder.Action) bool) {
	return func(yield func(recorder.Action) bool) {
		for _, a := range actions {
			if strings.HasPrefix(a.Call(), kind) || !yield(a) {
				return
			}
		}
	}
}

func TestNumbersAtRiskStandUnderTheirTicks(t *testing.T) {
	for name, spec := range map[string]CurvesSpec{"groups": sampleCurves(), "causes": sampleCauses(), "many": manyGroups()} {
		f := Curves(spec)
		texts, _ := record(t, f)
		// Rows of figures: texts that are whole numbers, by baseline.
		rows := map[int][]placedText{}
		for _, p := range texts {
			if _, err := strconv.Atoi(strings.ReplaceAll(p.text, ",", "")); err == nil {
				rows[int(math.Round(float64(p.box.y0)*10))] = append(rows[int(math.Round(float64(p.box.y0)*10))], p)
			}
		}
		var levels []int
		for y, r := range rows {
			if len(r) > 1 {
				levels = append(levels, y)
			}
		}
		slices.Sort(levels)
		slices.Reverse(levels)
		ticks := rows[levels[0]]
		if len(levels) < 4 || len(ticks) < 4 {
			t.Fatalf("%s: %d rows of %d ticks", name, len(levels), len(ticks))
		}
		for _, y := range levels[1:] {
			if len(rows[y]) != len(ticks) {
				t.Errorf("%s: %d numbers under %d ticks", name, len(rows[y]), len(ticks))
				continue
			}
			for k, p := range rows[y] {
				if d := abs(p.centre() - ticks[k].centre()); d > 0.01 {
					t.Errorf("%s: %q stands %.2f points off its tick %q", name, p.text, d, ticks[k].text)
				}
			}
		}
	}
}

func TestNumbersAtRiskAddUp(t *testing.T) {
	d := newCurvesDrawing(sampleCurves())
	for g, block := range d.groups {
		total := d.curves[g].Steps[0].AtRisk
		for _, day := range []float64{0, 0.5, 1, 91, 92, 365.25, 800, 1e6} {
			sum := 0
			for _, r := range block.rows {
				sum += r.counts(day)
			}
			if sum != total {
				t.Errorf("%s at %v days: the rows come to %d of %d", block.name, day, sum, total)
			}
		}
		if n := block.rows[0].counts(0); n != total {
			t.Errorf("%s: %d at risk at the start of %d", block.name, n, total)
		}
	}
	causes := newCurvesDrawing(sampleCauses()).groups
	if len(causes) != 1 || len(causes[0].rows) != 5 {
		t.Fatalf("causes of one group: %d blocks", len(causes))
	}
	for _, day := range []float64{0, 200, 500, 1e6} {
		sum := 0
		for _, r := range causes[0].rows {
			sum += r.counts(day)
		}
		if sum != 180 {
			t.Errorf("causes at %v days come to %d of 180", day, sum)
		}
	}
}

// Ten sockets, one event at 50 days, five that came under observation at 100
// days, one event at 150: the rows that entered are counted beside.
func TestNumbersAtRiskWithDelayedEntry(t *testing.T) {
	blocks := riskBlocks([]Curve{{Group: "a", Steps: []Step{
		{Time: 0, Estimate: 1, AtRisk: 10}, {Time: 50, Estimate: 0.9, AtRisk: 10, Events: 1}, {Time: 150, Estimate: 0.8, AtRisk: 14, Events: 1}, {Time: 200, Estimate: 0.8, AtRisk: 13, Censored: 13}}}}, "events")
	rows := blocks[0].rows
	if last := rows[len(rows)-1]; last.name != "entered" || last.counts(0) != 10 || last.counts(150) != 15 || last.counts(300) != 15 {
		t.Errorf("entered: %q %d %d %d", last.name, last.counts(0), last.counts(150), last.counts(300))
	}
	if got := rows[0].counts(300); got != 0 {
		t.Errorf("at risk after the last row: %d", got)
	}
}

func TestShortenedNamesAreGivenInFull(t *testing.T) {
	f := Curves(manyGroups())
	if !strings.Contains(f.Long, "Names shortened in the drawing: Total contact, elevated vacuum with seal-in liner and a long distal umbrella") {
		t.Errorf("long description: %s", f.Long)
	}
}

func TestDropsWhatIsNotFinite(t *testing.T) {
	nan := math.NaN()
	f := Fit(FitSpec{Points: []XY{{1, 2}, {nan, 2}, {3, math.Inf(1)}}})
	if !strings.Contains(f.Long, "2 values without a finite value were left out") {
		t.Errorf("long description: %s", f.Long)
	}
	c := Curves(CurvesSpec{Curves: []Curve{{Steps: []Step{{Time: 0, Estimate: 1, AtRisk: 3}, {Time: nan, Estimate: 0.5}, {Time: 10, Estimate: 0.5, Low: nan, High: nan, AtRisk: 3, Events: 1}}}}})
	if !strings.Contains(c.Long, "One step without a finite value was left out") {
		t.Errorf("long description: %s", c.Long)
	}
	if k := Control(ControlSpec{Points: []ControlPoint{{Value: nan}}}); !strings.Contains(k.Description, "No period") {
		t.Errorf("description: %s", k.Description)
	}
}

func TestMillionsDrawFewMarks(t *testing.T) {
	steps := make([]Step, 1_000_000)
	pts := make([]XY, len(steps))
	for i := range steps {
		e := 1 - 0.9*float64(i)/float64(len(steps))
		steps[i] = Step{Time: float64(i) / 1000, Estimate: e, Low: e - 0.01, High: e + 0.01, AtRisk: len(steps) - i, Events: 1}
		pts[i] = XY{float64(i % 1000), float64(i % 777)}
	}
	for name, f := range map[string]*Figure{
		"curves":  Curves(CurvesSpec{Curves: []Curve{{Steps: steps}}}),
		"stacked": Stacked(StackedSpec{Layers: []Layer{{"a", rising(steps[:200_000])}}}),
		"fit":     Fit(FitSpec{Points: pts}),
	} {
		_, actions := record(t, f)
		points := 0
		for _, a := range actions {
			switch a := a.(type) {
			case *recorder.Stroke:
				points += len(a.Path)
			case *recorder.Fill:
				points += len(a.Path)
			}
		}
		if points > 80_000 {
			t.Errorf("%s: %d points drawn", name, points)
		}
	}
}

func rising(steps []Step) []Step {
	out := make([]Step, len(steps))
	for i, s := range steps {
		out[i] = Step{Time: s.Time, Estimate: 1 - s.Estimate}
	}
	return out
}

func TestApart(t *testing.T) {
	for name, c := range map[string]struct {
		want   []vg.Length
		lo, hi vg.Length
		fits   bool
	}{
		"free":      {[]vg.Length{20, 50, 80}, 0, 100, true},
		"same":      {[]vg.Length{50, 50, 50, 50}, 0, 100, true},
		"at an end": {[]vg.Length{1, 2, 3}, 0, 100, true},
		"chain":     {[]vg.Length{40, 44, 57, 61, 90}, 0, 100, true},
		"too many":  {[]vg.Length{1, 2, 3}, 0, 20, false},
	} {
		slots := make([]slot, len(c.want))
		for i, w := range c.want {
			slots[i] = slot{want: w, height: 10}
		}
		if got := apart(slots, c.lo, c.hi); got != c.fits {
			t.Errorf("%s: fits %v", name, got)
		}
		for i, a := range slots {
			for _, b := range slots[i+1:] {
				if abs(a.at-b.at) < 10-1e-9 {
					t.Errorf("%s: %v and %v overlap", name, a.at, b.at)
				}
			}
			if c.fits && (a.at < c.lo+5-1e-9 || a.at > c.hi-5+1e-9) {
				t.Errorf("%s: %v leaves the room", name, a.at)
			}
			if name == "free" && a.at != c.want[i] {
				t.Errorf("free: moved from %v to %v", c.want[i], a.at)
			}
		}
	}
}

func TestTicks(t *testing.T) {
	texts := func(ts []tick) string { return strings.Join(labels(ts), " ") }
	for _, c := range []struct{ name, got, want string }{
		{"months", texts(timeTicks(731, unitFor(731), 9)), "0 3 6 9 12 15 18 21 24"},
		{"years", texts(timeTicks(3653, unitFor(3653), 6)), "0 2 4 6 8 10"},
		{"days", texts(timeTicks(90, unitFor(90), 9)), "0 10 20 30 40 50 60 70 80 90"},
		{"quarters", texts(dateTicks(dayOfMonth(2025, 1), dayOfMonth(2026, 3), 6)), "Jan 2025 Apr Jul Oct Jan 2026"},
		{"years of dates", texts(dateTicks(dayOfMonth(2015, 3), dayOfMonth(2026, 3), 12)), "2016 2017 2018 2019 2020 2021 2022 2023 2024 2025 2026"},
		{"ratios", texts(logTicks(0.2, 11, 6)), "0.2 0.5 1 2 5 10"},
		{"far ratios", texts(logTicks(1e-6, 1e5, 6)), "0.000001 0.0001 0.01 1 100 10,000"},
		{"signed", texts(linearTicks(-1, 1, 4)), "−1.0 −0.5 0 0.5 1.0"},
		{"thousands", decimal(-1234567.5, 1), "−1,234,567.5"},
		{"no negative zero", decimal(-0.04, 1), "0.0"},
		{"year", duration(365.25), "1 year"},
		{"days of landmark", duration(90), "90 days"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, not %q", c.name, c.got, c.want)
		}
	}
}

func TestForestLabelsAndArrow(t *testing.T) {
	f := Forest(sampleForest())
	texts, actions := record(t, f)
	for _, want := range []string{"0.71 (0.46 to 1.08)", "0.985 (0.978 to 0.992)", "reference", "not estimated", "3.20 (0.30 to 41.0)"} {
		if !slices.ContainsFunc(texts, func(p placedText) bool { return p.text == want }) {
			t.Errorf("no %q", want)
		}
	}
	arrows := 0
	for _, a := range actions {
		if p, ok := a.(*recorder.Fill); ok && len(p.Path) == 4 { // three corners and the close
			arrows++
		}
	}
	if arrows != 3 { // one interval off the axis, two hints
		t.Errorf("%d arrow heads", arrows)
	}
}

func TestControlNamesSignals(t *testing.T) {
	texts, _ := record(t, Control(sampleControl()))
	for _, want := range []string{"beyond the upper limit", "8 on one side", "baseline", "phase 2", "goal 15%", "1", "2", "3", "lower is better"} {
		if !slices.ContainsFunc(texts, func(p placedText) bool { return p.text == want }) {
			t.Errorf("no %q", want)
		}
	}
}

func TestUnknownBarIsLastAndHatched(t *testing.T) {
	spec := BarsSpec{Bars: []Bar{{Name: "Not known", Count: 40, Unknown: true}, {Name: "Volume loss", Count: 30}, {Name: "Growth", Count: 0}}}
	texts, _ := record(t, Bars(spec))
	at := map[string]vg.Length{}
	for _, p := range texts {
		at[p.text] = p.box.y0
	}
	if !(at["Volume loss"] > at["Growth"] && at["Growth"] > at["Not known"]) {
		t.Errorf("order from the top: %v", at)
	}
	if _, ok := at["40 (57%)"]; !ok {
		t.Errorf("no count with its share: %v", at)
	}
}

func TestBarsDoNotGiveAwayWhatIsWithheld(t *testing.T) {
	f := Bars(BarsSpec{Bars: []Bar{{Name: "Volume loss", Count: 90}, {Name: "Growth", Count: 4, Hidden: true}, {Name: "Died", Count: 12}}})
	texts, _ := record(t, f)
	said := f.Long + f.Description
	for _, p := range texts {
		said += " " + p.text
	}
	for _, leak := range []string{"%)", "12", "106", "in all", ": 4", " 4 "} {
		if strings.Contains(said, leak) {
			t.Errorf("%q is shown: %s", leak, said)
		}
	}
}

func TestHatchIsCutByThePolygon(t *testing.T) {
	s := &scene{}
	s.hatched([]vg.Point{{X: 0, Y: 0}, {X: 40, Y: 0}, {X: 0, Y: 30}}, hatches[1], ink)
	if len(s.marks) == 0 {
		t.Fatal("no line")
	}
	for _, m := range s.marks {
		for _, c := range m.(stroke).path {
			if c.Pos.X < -1e-9 || c.Pos.Y < -1e-9 || c.Pos.X/40+c.Pos.Y/30 > 1+1e-9 {
				t.Errorf("a line ends at %v, outside the triangle", c.Pos)
			}
		}
	}
}

func FuzzWrap(f *testing.F) {
	f.Add("Total contact socket", 40.0, 2)
	f.Add("", 0.0, 0)
	f.Add("\x00\u202e漢字 x", 3.0, 1)
	f.Fuzz(func(t *testing.T, text string, width float64, most int) {
		if !finite(width) || width > 1e4 || len(text) > 300 {
			return
		}
		lines, _ := plain.wrap(text, vg.Length(width), most%5)
		for _, l := range lines {
			if len([]rune(l)) > 1 && plain.width(l) > max(vg.Length(width), plain.width("…"))+1e-6 && l != ellipsis {
				t.Errorf("%q is wider than %v", l, width)
			}
		}
		if most%5 > 0 && len(lines) > most%5 {
			t.Errorf("%d lines of %d", len(lines), most%5)
		}
	})
}

func BenchmarkCurves(b *testing.B) {
	spec := sampleCurves()
	for b.Loop() {
		f := Curves(spec)
		var rec recorder.Canvas
		f.Draw(draw.NewCanvas(&rec, f.Width, f.Height))
	}
}

func ExampleCurves() {
	f := Curves(CurvesSpec{
		ID: "longevity", ValueAxis: "Sockets still in use", TimeAxis: "Time since delivery", Rows: "sockets", EventWord: "remakes",
		Curves: []Curve{{Group: "all", Steps: []Step{
			{Time: 0, Estimate: 1, Low: 1, High: 1, AtRisk: 4},
			{Time: 120, Estimate: 0.75, Low: 0.13, High: 0.96, AtRisk: 4, Events: 1},
			{Time: 300, Estimate: 0.75, Low: 0.13, High: 0.96, AtRisk: 3, Censored: 3},
		}}},
	})
	fmt.Println(f.Description)
	fmt.Println(f.Long)
	// Output:
	// Step curves: sockets still in use by time since delivery, ending at: 75% at 9.86 months.
	// All: 4 sockets at the start, 1 remake, 3 censored; 100% at 2 months, 75% at 4 months, 75% at 6 months, 75% at 8 months, 75% at 9.86 months, where the curve ends.
}

func ExampleStacked() {
	f := Stacked(StackedSpec{TimeAxis: "Time since delivery", Layers: []Layer{
		{"Remade", []Step{{Time: 0}, {Time: 100, Estimate: 0.25}, {Time: 200, Estimate: 0.4}}},
		{"Died", []Step{{Time: 0}, {Time: 150, Estimate: 0.1}, {Time: 200, Estimate: 0.1}}},
	}})
	fmt.Println(f.Description)
	// Output: Stacked shares by time since delivery; at 6.57 months: Remade 40%, Died 10%, still in use 50%.
}

func ExampleForest() {
	f := Forest(ForestSpec{Measure: "Hazard ratio", Terms: []ForestTerm{
		{"Cast method", []ForestRow{{Label: "Plaster", Reference: true}, {Label: "Pressure cast", Estimate: 0.71, Low: 0.46, High: 1.08}}},
	}})
	fmt.Println(f.Long)
	// Output: Cast method Plaster: reference. Cast method Pressure cast: 0.71 (0.46 to 1.08).
}

func ExampleMeans() {
	f := Means(sampleMeans())
	fmt.Println(f.Title)
	// Output: Adjusted mean by cast method
}

func ExampleControl() {
	f := Control(ControlSpec{ValueAxis: "First-time fits", Percent: true, Better: BetterHigher, Points: []ControlPoint{
		{Label: "2026-01", Day: 20454, Value: 0.6, Centre: 0.62, Lower: 0.31, Upper: 0.93, Phase: 1, Baseline: true},
		{Label: "2026-02", Day: 20485, Value: 0.25, Centre: 0.62, Lower: 0.35, Upper: 0.89, Phase: 1, Signals: []string{"beyond the lower limit"}},
	}})
	fmt.Println(f.Description)
	// Output: Control chart: first-time fits, 2 points from 2026-01 to 2026-02, 1 point with a signal; the last is 25%.
}

func ExampleBars() {
	f := Bars(sampleBars())
	fmt.Println(f.Description)
	// Output: Bars: remakes in 8 categories; the first is Volume loss with 48.
}

func ExampleFit() {
	f := Fit(FitSpec{XAxis: "Age", XUnit: "years", YAxis: "Ply", Points: []XY{{40, 3}, {60, 5}},
		Line: []BandPoint{{40, 3, 2, 4}, {60, 5, 4, 6}}})
	fmt.Println(f.Description)
	// Output: Ply against age: 2 values and a fitted line from 3.00 at 40 years to 5.00 at 60 years.
}

func ExampleTrajectories() {
	f := Trajectories(TrajectoriesSpec{XAxis: "Time since cast", XDays: true, YAxis: "Volume change", YUnit: "%",
		Paths: []Path{{Points: []XY{{0, 0}, {365.25, -9}}}}})
	fmt.Println(f.Description)
	// Output: Volume change by time since cast: 2 values of 1 limb.
}

func ExampleFlow() {
	fmt.Println(Flow(sampleFlow()).Description)
	// Output: Flow from 412 sockets (rows in the log) to 219 sockets (at risk in the period, and analysed) in 4 steps.
}

func TestMaskExclusions(t *testing.T) {
	all := func(n int) []bool { return slices.Repeat([]bool{true}, n) }
	for _, c := range []struct {
		name       string
		excluded   []int
		hide, keep []bool
	}{
		{"none small", []int{20, 0, 30}, []bool{false, false, false}, all(4)},
		{"joined with the next", []int{20, 4, 30, 40}, []bool{false, true, true, false}, []bool{true, true, false, true, true}},
		{"the last joins the one before", []int{20, 30, 4}, []bool{false, true, true}, []bool{true, true, false, true}},
		{"two small are not enough", []int{3, 4, 50}, []bool{true, true, true}, []bool{true, false, false, true}},
		{"over a step of none", []int{4, 0, 50}, []bool{true, false, true}, []bool{true, false, false, true}},
		{"alone", []int{4}, []bool{true}, []bool{true, false}},
	} {
		hide, keep := MaskExclusions(c.excluded, all(len(c.excluded)+1), 11)
		if !slices.Equal(hide, c.hide) || !slices.Equal(keep, c.keep) {
			t.Errorf("%s: hide %v keep %v", c.name, hide, keep)
		}
	}
}

func TestPublicFigures(t *testing.T) {
	spec := sampleCurves()
	spec.HideBelow = 11
	texts, _ := record(t, Curves(spec))
	for _, p := range texts {
		if n, err := strconv.Atoi(p.text); err == nil && n > 0 && n < 11 && p.box.y0 < 150 && !slices.Contains([]string{"3", "6", "9"}, p.text) {
			t.Errorf("%q is printed", p.text)
		}
	}
	once := publicSteps(spec.Curves[0].Steps, 11)
	if twice := publicSteps(once, 11); !slices.EqualFunc(once, twice, func(a, b Step) bool { return a.Time == b.Time && a.Estimate == b.Estimate && a.Events == b.Events }) {
		t.Errorf("thinned twice: %d and %d steps", len(once), len(twice))
	}
	flow := sampleFlow()
	flow.HideBelow = 11
	f := Flow(flow)
	for _, leak := range []string{"4 excluded", "3 excluded", "405"} {
		if strings.Contains(f.Long, leak) {
			t.Errorf("%q is said: %s", leak, f.Long)
		}
	}
}

func ExampleResiduals() {
	f := Residuals(ResidualsSpec{Residuals: []Residual{{3, -0.4}, {4, 2.6}, {5, 0.1}}})
	fmt.Println(f.Description)
	// Output: Residuals against fitted values and against a normal distribution: 3 values, 1 beyond 2 standard deviations.
}

func ExampleFunnel() {
	fmt.Println(Funnel(sampleFunnel()).Description)
	// Output: Funnel of 6 units: remakes observed against expected by remakes expected; outside the 99.8% limits: M3, M6.
}

func ExampleColumns() {
	fmt.Println(Columns(sampleColumns()).Description)
	// Output: Columns: sockets delivered by period, 112 in 2021 to 147 in 2026.
}
