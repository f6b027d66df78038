package figure

import (
	"maps"
	"slices"
	"strings"
	"testing"
)

// Every figure whose numbers a reader would point at has them, within its
// ground and in words; the kinds without draw single rows or nothing but text.
func TestFiguresHaveValues(t *testing.T) {
	figures := all()
	for _, name := range slices.Sorted(maps.Keys(figures)) {
		f := figures[name]
		if len(f.Values) == 0 {
			if !f.Empty && !withoutValues[name] {
				t.Errorf("%s has no values", name)
			}
			continue
		}
		if withoutValues[name] {
			t.Errorf("%s is listed as having no values", name)
		}
		series := false
		for _, v := range f.Values {
			series = series || v.Series != ""
			if v.At.X < -0.5 || v.At.Y < -0.5 || v.At.X > f.Width+0.5 || v.At.Y > f.Height+0.5 {
				t.Errorf("%s: %q lies outside, at %v of %g by %g", name, v.Text, v.At, f.Width, f.Height)
			}
			if v.Text == "" || strings.Contains(v.Text, "NaN") || v.Series+v.Where == "" {
				t.Errorf("%s: %+v says nothing", name, v)
			}
		}
		if f.ValueHeads[2] == "" || series && f.ValueHeads[0] == "" {
			t.Errorf("%s: the columns are called %q", name, f.ValueHeads)
		}
	}
}

// withoutValues are the samples that have none.
var withoutValues = map[string]bool{
	"caterpillar": true, "caterpillar-many": true, "caterpillar-one": true, "pulls": true, "pulls-half": true, "pulls-one": true, // limbs and sheets one by one
	"residuals": true, "residuals-one": true, "fit-constant": true, "paths-point": true, "prone-one": true,
	"flow": true, "flow-public": true, "limb-bare": true, // texts, and a limb with nothing found
}

// What is withheld in the drawing is withheld in its values.
func TestValuesKeepWhatIsWithheld(t *testing.T) {
	spec := sampleControl()
	spec.Points[3].Hidden = true
	for _, v := range Control(spec).Values {
		if v.Where == spec.Points[3].Label {
			t.Errorf("a point withheld is told: %+v", v)
		}
	}
	bars := Bars(BarsSpec{CountAxis: "Remakes", Bars: []Bar{{Name: "a", Count: 31}, {Name: "b", Count: 4, Hidden: true}, {Name: "c", Count: 12}, {Name: "d", Count: 40}}})
	for _, v := range bars.Values {
		if v.Where == "b" || v.Where == "c" || v.Where == "2 others" && v.Text != "withheld" {
			t.Errorf("bars: %+v", v)
		}
	}
	public := sampleCurves()
	public.HideBelow = 11
	few := Curves(public)
	all := Curves(sampleCurves())
	if len(few.Values) == 0 || len(few.Values) >= len(all.Values) {
		t.Errorf("%d values of thinned curves, %d of whole ones", len(few.Values), len(all.Values))
	}
	pairs := Pairs(PairsSpec{Bars: []PairBar{{Name: "a", Before: 3, BeforeText: "3", BeforeHidden: true, Since: 40, SinceText: "40"}}})
	if got := pairs.Values[0].Text + " " + pairs.Values[1].Text; got != "withheld 40" {
		t.Errorf("pairs: %q", got)
	}
}
