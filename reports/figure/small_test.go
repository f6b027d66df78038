package figure

import (
	"fmt"
	"strings"
	"testing"
)

// said is the text of a figure, each run between bars.
func said(t *testing.T, f *Figure) string {
	texts, _ := record(t, f)
	out := "|"
	for _, r := range texts {
		out += r.text + "|"
	}
	return out
}

// A small figure is half a page wide, and nothing of it is set below seven
// points: it is drawn at that width, not made smaller.
func TestSmallFigures(t *testing.T) {
	seen := 0
	for name, f := range all() {
		if f.Small == nil {
			continue
		}
		seen++
		s := f.Small()
		if s.Width > HalfWidth || s.Height <= 0 {
			t.Errorf("%s: %g by %g points", name, s.Width.Points(), s.Height.Points())
		}
		if s.ID != f.ID || s.Title != f.Title || s.Description != f.Description || s.Empty != f.Empty {
			t.Errorf("%s: the small figure is called %q, %q: %q", name, s.ID, s.Title, s.Description)
		}
		if again := f.Small(); again.Height != s.Height {
			t.Errorf("%s: drawn twice it is %g and %g high", name, s.Height, again.Height)
		}
		texts, _ := record(t, s)
		for _, r := range texts {
			if r.size < 7 {
				t.Errorf("%s: %q is set at %.1f points", name, r.text, r.size)
			}
		}
	}
	if seen < 20 {
		t.Errorf("%d figures can be small", seen)
	}
}

// Decisions are told beside a small chart: their numbers stand on it, their
// words do not, and the plots of two charts are on one level.
func TestSmallChart(t *testing.T) {
	spec := sampleControl()
	full := said(t, Control(spec))
	small := Control(spec).Small()
	text := said(t, small)
	for i, d := range spec.Decisions {
		if word := strings.Fields(d.Text)[0]; !strings.Contains(full, word) || strings.Contains(text, word) {
			t.Errorf("decision %d: %q", i+1, text)
		}
		if !strings.Contains(text, fmt.Sprintf("|%d|", i+1)) {
			t.Errorf("the number of decision %d does not stand on the small chart: %q", i+1, text)
		}
	}
	if len(spec.Decisions) == 0 {
		t.Fatal("the sample has no decisions")
	}
}

func TestFirstBars(t *testing.T) {
	var bars []Bar
	for i := range 12 {
		bars = append(bars, Bar{Name: string(rune('a' + i)), Count: 40 - i})
	}
	bars = append(bars, Bar{Name: "2 others", Hidden: true}, Bar{Name: "not known", Count: 3, Unknown: true})
	got, undrawn := firstBars(bars)
	if undrawn != 4 || len(got) != smallBars+2 || got[7].Name != "h" || got[8].Name != "2 others" || got[9].Name != "not known" {
		t.Errorf("%d left out of %+v", undrawn, got)
	}
	if got, undrawn = firstBars(bars[:9]); undrawn != 0 || len(got) != 9 {
		t.Errorf("one bar more than %d is left out: %d", smallBars, undrawn)
	}
	f := Bars(BarsSpec{CountAxis: "Remakes", Bars: bars})
	if text := said(t, f.Small()); !strings.Contains(text, "4 smaller are not drawn.") || strings.Contains(text, "|i|") {
		t.Errorf("%q", text)
	}
	if text := said(t, f); strings.Contains(text, "not drawn") || !strings.Contains(text, "|i|") {
		t.Errorf("%q", text)
	}
}

// Many curves cannot be told apart in a small figure.
func TestSmallCurves(t *testing.T) {
	if Curves(manyGroups()).Small != nil {
		t.Error("twelve curves are drawn small")
	}
	spec := sampleCurves()
	text := said(t, Curves(spec).Small())
	if strings.Contains(text, "censored ·") || !strings.Contains(text, "at risk") {
		t.Errorf("the table of a small figure: %q", text)
	}
}
