package figure

import (
	"image"
	"image/color"
	"image/png"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// all is every figure of the contact sheet by name: usual and degenerate.
func all() map[string]*Figure {
	half := sampleForest()
	half.Width = HalfWidth
	halfBars := sampleBars()
	halfBars.Width = HalfWidth
	hidden := sampleBars()
	hidden.Bars[5].Hidden, hidden.Bars[6].Hidden = true, true
	hidden.Bars[5].Count, hidden.Bars[6].Count = 0, 0
	groups := sampleTrajectories(40)
	groups.Groups = []GroupLine{{"Vascular", groups.Line}, {"Trauma", lowered(groups.Line, 3)}, {"Tumour", lowered(groups.Line, 3.4)}}
	public, publicFlow := sampleCurves(), sampleFlow()
	public.HideBelow, publicFlow.HideBelow = 11, 11
	narrow, big, order := sampleCurves(), sampleCurves(), sampleControl()
	narrow.Width = HalfWidth
	for i := range big.Curves {
		for k := range big.Curves[i].Steps {
			s := &big.Curves[i].Steps[k]
			s.AtRisk, s.Events, s.Censored = s.AtRisk*12345, s.Events*12345, s.Censored*12345
		}
	}
	order.Width = HalfWidth
	for i := range order.Points {
		order.Points[i].Signals = []string{"beyond the limits", "8 on one side"}[i%2 : i%2+1]
	}
	weighed := sampleBars()
	weighed.CountAxis, weighed.Weighted, weighed.Unit, weighed.Given, weighed.Note = "Length of visit", true, "min", true, "In all of 120 visits."
	for i := range weighed.Bars {
		b := &weighed.Bars[i]
		b.Value, b.Cumulative, b.Pooled = 31.5*float64(b.Count), math.Min(1, 0.4+0.1*float64(i)), i == 4
	}
	late, between := sampleControl(), sampleControl()
	for i := len(late.Points) - 3; i < len(late.Points); i++ {
		late.Points[i].Provisional = true
	}
	between.ByOrder, between.OrderAxis, between.Percent, between.Unit, between.Goal, between.Pending = true, "Events in order, by date", false, "days", nil, nil
	between.CentreWord = "median"
	for i := range between.Points {
		p := &between.Points[i]
		p.Value, p.Centre, p.Upper, p.Lower = float64(10+(i*37)%90), 42, 310, math.NaN()
	}
	out := map[string]*Figure{
		"pairs":              Pairs(samplePairs()),
		"pairs-one":          Pairs(PairsSpec{Width: HalfWidth, Bars: []PairBar{{Name: "A name that is rather long for half the width", BeforeText: "0", SinceText: "0"}}}),
		"pairs-empty":        Pairs(PairsSpec{}),
		"bars-weighed":       Bars(weighed),
		"sum":                Sum(sampleSum()),
		"sum-one":            Sum(SumSpec{LimitMore: 2, LimitFewer: 2, Points: []SumPoint{{Day: 20454, More: 0.5}}, Width: HalfWidth}),
		"sum-empty":          Sum(SumSpec{}),
		"segmented":          Segmented(sampleSegmented()),
		"segmented-one":      Segmented(SegmentedSpec{Points: []SegmentedPoint{{Label: "2026-01", Day: 20454, Value: 3}}, Width: HalfWidth}),
		"segmented-empty":    Segmented(SegmentedSpec{}),
		"tiles":              Tiles(sampleTiles()),
		"tiles-empty":        Tiles(TilesSpec{}),
		"foretold":           ForetoldYears(sampleForetold()),
		"foretold-half":      ForetoldYears(ForetoldYearsSpec{Width: HalfWidth, ValueAxis: "Definitive sockets", Years: sampleForetold().Years}),
		"foretold-empty":     ForetoldYears(ForetoldYearsSpec{}),
		"foretold-periods":   ForetoldPeriods(sampleForetoldPeriods()),
		"foretold-none":      ForetoldPeriods(ForetoldPeriodsSpec{}),
		"control-late":       Control(late),
		"control-between":    Control(between),
		"curves-narrow":      Curves(narrow),
		"curves-big":         Curves(big),
		"control-half":       Control(order),
		"curves-public":      Curves(public),
		"residuals":          Residuals(sampleResiduals(120)),
		"residuals-one":      Residuals(sampleResiduals(1)),
		"funnel":             Funnel(sampleFunnel()),
		"funnel-bare":        Funnel(FunnelSpec{Centre: 0.2, Percent: true, Units: []FunnelUnit{{"A", 10, 0.3, 0}}}),
		"columns":            Columns(sampleColumns()),
		"spans":              Spans(sampleSpans()),
		"spans-none":         Spans(SpansSpec{Rows: []SpanRow{{Name: "a", Median: math.NaN()}}}),
		"columns-one":        Columns(ColumnsSpec{Periods: []string{"2026"}, Parts: []ColumnPart{{"all", []float64{0}}}}),
		"flow-public":        Flow(publicFlow),
		"stacked":            Stacked(sampleStacked()),
		"stacked-one":        Stacked(StackedSpec{Layers: []Layer{{"Died", []Step{{Time: 0}, {Time: 40, Estimate: 0.5}}}}}),
		"stacked-empty":      Stacked(StackedSpec{}),
		"forest":             Forest(sampleForest()),
		"forest-half":        Forest(half),
		"forest-empty":       Forest(ForestSpec{Terms: []ForestTerm{{"a", []ForestRow{{Reference: true}}}}}),
		"prone":              Prone(sampleProne(38, true)),
		"prone-many":         Prone(sampleProne(900, true)),
		"prone-public":       Prone(sampleProne(0, false)),
		"prone-one":          Prone(ProneSpec{Units: []ProneUnit{{"P1", 1, math.NaN(), math.NaN()}}}),
		"prone-empty":        Prone(ProneSpec{}),
		"prone-uneven":       Prone(ProneSpec{Each: "site", Units: []ProneUnit{{"North", 0.001, 1e-6, 0.5}, {"South", 40, 10, 1e5}}, Curve: []XY{{0.025, 1e-9}, {0.5, 0.2}, {0.975, 9}}}),
		"forest-one":         Forest(ForestSpec{Terms: []ForestTerm{{"Age", []ForestRow{{Estimate: 1, Low: 1, High: 1}}}}}),
		"means":              Means(sampleMeans()),
		"ranked":             Ranked(sampleRanked(20)),
		"ranked-one":         Ranked(RankedSpec{Rows: []RankedRow{{Name: "S1", Value: 0.002, Low: math.NaN(), High: math.NaN()}}}),
		"ranked-long":        Ranked(RankedSpec{MeanName: "mean", Mean: 0.5, DetailHead: "Worn", Rows: []RankedRow{{Name: "A socket with a code that goes on and on", Detail: "101.5 months", Value: 1, Low: 0.99, High: 1, Marked: true}}}),
		"ranked-empty":       Ranked(RankedSpec{}),
		"risks":              RiskCheck(sampleRisks()),
		"risks-bare":         RiskCheck(RiskCheckSpec{Groups: []BandPoint{{X: 0.1, Y: 0, Low: math.NaN(), High: math.NaN()}}}),
		"risks-high":         RiskCheck(RiskCheckSpec{Groups: []BandPoint{{X: 0.03, Y: 0.05, Low: 0.001, High: 0.9}, {X: 0.06, Y: 0.1, Low: 0.02, High: 0.3}}}),
		"risks-empty":        RiskCheck(RiskCheckSpec{}),
		"control":            Control(sampleControl()),
		"control-order":      Control(sampleOrder()),
		"control-one":        Control(ControlSpec{Points: []ControlPoint{{Label: "2026-01", Day: 20454, Value: 3, Centre: 3, Lower: 3, Upper: 3}}}),
		"control-empty":      Control(ControlSpec{}),
		"bars":               Bars(sampleBars()),
		"bars-half":          Bars(halfBars),
		"bars-hidden":        Bars(hidden),
		"bars-zero":          Bars(BarsSpec{Bars: []Bar{{Name: "none"}}}),
		"fit":                Fit(sampleFit(150)),
		"fit-many":           Fit(sampleFit(20000)),
		"fit-guides":         Fit(sampleAgreement()),
		"fit-constant":       Fit(FitSpec{Points: []XY{{3, 3}, {3, 3}}}),
		"fit-bars":           Fit(sampleBarsFit()),
		"rhythm":             Rhythm(sampleRhythm(Day, false)),
		"rhythm-limbs":       Rhythm(sampleRhythm(Year, true)),
		"rhythm-half":        Rhythm(sampleRhythm(Year, false)).Small(),
		"rhythm-one":         Rhythm(RhythmSpec{Points: []XY{{9, 1}}, Parts: []BandPoint{{9, 1, math.NaN(), math.NaN()}}}),
		"rhythm-empty":       Rhythm(RhythmSpec{}),
		"paths":              Trajectories(sampleTrajectories(60)),
		"paths-many":         Trajectories(sampleTrajectories(4000)),
		"paths-groups":       Trajectories(groups),
		"caterpillar":        Caterpillar(sampleCaterpillar(140, false)),
		"caterpillar-many":   Caterpillar(sampleCaterpillar(3000, false)),
		"caterpillar-named":  Caterpillar(sampleCaterpillar(18, true)),
		"caterpillar-one":    Caterpillar(CaterpillarSpec{Rows: []CaterpillarRow{{"", 0, 0, 0}}, Width: HalfWidth}),
		"caterpillar-empty":  Caterpillar(CaterpillarSpec{}),
		"paths-point":        Trajectories(TrajectoriesSpec{Paths: []Path{{Points: []XY{{0, 1}}}}}),
		"fitted":             Fitted(sampleFitted()),
		"fitted-over":        Fitted(sampleFittedOver()),
		"fitted-one":         Fitted(FittedSpec{Curves: []FittedCurve{{Points: []BandPoint{{X: 0, Y: 1}, {X: 10, Y: 0.4}}}}}),
		"fitted-empty":       Fitted(FittedSpec{}),
		"calibration":        Calibration(sampleCalibration()),
		"calibration-one":    Calibration(CalibrationSpec{Outcome: "first-time fit", Groups: []CalibrationGroup{{0.5, 0.5, math.NaN(), math.NaN()}}}),
		"calibration-narrow": Calibration(CalibrationSpec{Outcome: "first-time fit", Groups: []CalibrationGroup{{0.97, 1, 0.85, 1}, {0.98, 0.96, 0.8, 0.99}}}),
		"levels":             Levels(LevelsSpec{Axis: "Comfort on arrival", Levels: []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10"}, DetailHead: "mean", Rows: []LevelRow{{"Transtibial", []float64{0.01, 0.01, 0.02, 0.03, 0.06, 0.1, 0.17, 0.25, 0.2, 0.1, 0.05}, "6.9"}, {"Transfemoral, of a name that is long", []float64{0.02, 0.03, 0.05, 0.08, 0.12, 0.15, 0.2, 0.18, 0.1, 0.05, 0.02}, "5.6"}}}),
		"levels-two":         Levels(LevelsSpec{Levels: []string{"no", "yes"}, Rows: []LevelRow{{"all", []float64{1, 0}, ""}}, Width: HalfWidth}),
		"pulls":              Pulls(samplePulls()),
		"pulls-half":         Pulls(PullsSpec{Width: HalfWidth, Results: []string{"Good", "A result with a name that goes on for longer than there is room"}, Groups: []PullGroup{{Name: "A material of a very long name that cannot stand here whole, 12 mm", Pulls: []Pull{{160, math.NaN(), 5, 0}, {171, math.NaN(), 6, 1}}, Oven: [2]float64{150, math.NaN()}, Minutes: noRange, Thinnest: noRange}}}),
		"pulls-one":          Pulls(PullsSpec{Results: []string{"Good"}, Groups: []PullGroup{{Name: "PETG, 12 mm", Pulls: []Pull{{160, 15, 5, 0}}, Oven: noRange, Minutes: noRange, Thinnest: noRange}}}),
		"pulls-empty":        Pulls(PullsSpec{}),
		"girths":             Girths(sampleGirths(1)),
		"girths-groups":      Girths(sampleGirths(4)),
		"girths-one":         Girths(GirthsSpec{Landmark: "olecranon", Width: HalfWidth, Stations: []GirthStation{{0, 280, math.NaN(), 285, math.NaN()}}, Lines: []GirthLine{{"A shaper of a name that goes on for long", []BandPoint{{0, -1.8, math.NaN(), math.NaN()}}}}}),
		"girths-empty":       Girths(GirthsSpec{}),
		"shares-bands":       ShareBands(sampleShareBands()),
		"shares-bands-one":   ShareBands(ShareBandsSpec{Bands: []ShareBand{{2, 2, 2, 1, math.NaN(), math.NaN(), ""}}, Width: HalfWidth}),
		"shares-bands-empty": ShareBands(ShareBandsSpec{}),
		"levels-empty":       Levels(LevelsSpec{}),
		"calibration-empty":  Calibration(CalibrationSpec{}),
		"counts":             Counts(sampleCounts()),
		"counts-withheld":    Counts(CountsSpec{Axis: "Visits with pain of a limb", Rows: "Limbs", Bins: []CountBin{{0, 0, 40, 37.2}, {1, 1, math.NaN(), 9.1}, {2, -1, 0, 2.4}}}),
		"counts-one":         Counts(CountsSpec{Bins: []CountBin{{3, 3, 1, 0.2}}}),
		"counts-empty":       Counts(CountsSpec{}),
		"flow":               Flow(sampleFlow()),
		"curves":             Curves(sampleCurves()),
		"curves-causes":      Curves(sampleCauses()),
		"curves-many":        Curves(manyGroups()),
		"curves-single":      Curves(CurvesSpec{Curves: []Curve{{Group: "all", Steps: stepsOf(lives(40, 60, 1, 9), 0)}}, Until: 100, Width: HalfWidth}),
		"curves-empty":       Curves(CurvesSpec{}),
		"curves-open":        Curves(sampleOpen()),
		"curves-mean":        Curves(sampleMean()),
		"curves-point":       Curves(CurvesSpec{Curves: []Curve{{Steps: []Step{{Time: 0, Estimate: 1, Low: 1, High: 1, AtRisk: 1}}}}}),
		"curves-calm":        Curves(CurvesSpec{Direction: Up, Curves: []Curve{{Group: "all", Steps: []Step{{Time: 0, AtRisk: 5}, {Time: 400, AtRisk: 5, Censored: 5}}}}}),
	}
	maps.Copy(out, sampleLimbs())
	for _, name := range slices.Sorted(maps.Keys(out)) {
		if f := out[name]; f.Small != nil {
			out[name+"-small"] = f.Small()
		}
	}
	return out
}

// TestContactSheet writes every figure as a picture, in colour, in grey, as
// without the pigment for green and on a dark ground, into the folder named by
// PLYBOOK_SHEET; without it the figures are drawn on a small picture each, to
// see that drawing on pixels does not fail.
func TestContactSheet(t *testing.T) {
	dir := os.Getenv("PLYBOOK_SHEET")
	for name, f := range all() {
		dpi := 40
		if dir != "" {
			dpi = 130
		}
		paint := func(ground color.Color, on func(vg.Canvas) vg.Canvas) image.Image {
			c := vgimg.NewWith(vgimg.UseWH(f.Width, f.Height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(ground))
			f.Draw(draw.NewCanvas(on(c), f.Width, f.Height))
			return c.Image()
		}
		img := paint(color.White, func(c vg.Canvas) vg.Canvas { return c })
		if blank(img) {
			t.Errorf("%s: nothing was drawn", name)
		}
		if dir == "" {
			continue
		}
		for suffix, im := range map[string]image.Image{
			"":        img,
			"-grey":   seen(img, func(c color.Color) color.Color { return color.GrayModel.Convert(c) }),
			"-deutan": seen(img, withoutGreen),
			"-dark":   paint(DarkGround, func(c vg.Canvas) vg.Canvas { return darkCanvas{c} }),
		} {
			w, err := os.Create(filepath.Join(dir, name+suffix+".png"))
			if err != nil {
				t.Fatal(err)
			}
			if err := png.Encode(w, im); err != nil {
				t.Fatal(err)
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// darkCanvas draws in the colours for a dark ground.
type darkCanvas struct{ vg.Canvas }

func (c darkCanvas) SetColor(to color.Color) {
	c.Canvas.SetColor(Dark(color.NRGBAModel.Convert(to).(color.NRGBA)))
}

// seen is a picture with its colours seen otherwise.
func seen(img image.Image, as func(color.Color) color.Color) image.Image {
	out := image.NewRGBA(img.Bounds())
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			out.Set(x, y, as(img.At(x, y)))
		}
	}
	return out
}

// withoutGreen is a colour as somebody without the pigment for green sees it,
// by the matrix that the contact sheet of reports uses and names.
func withoutGreen(c color.Color) color.Color {
	n := color.NRGBAModel.Convert(c).(color.NRGBA)
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	shown := func(x float64) uint8 {
		x = min(max(x, 0), 1)
		if x <= 0.0031308 {
			return uint8(255*12.92*x + 0.5)
		}
		return uint8(255*(1.055*math.Pow(x, 1/2.4)-0.055) + 0.5)
	}
	r, g, b := linear(n.R), linear(n.G), linear(n.B)
	return color.NRGBA{
		R: shown(0.367322*r + 0.860646*g - 0.227968*b),
		G: shown(0.280085*r + 0.672501*g + 0.047413*b),
		B: shown(-0.011820*r + 0.042940*g + 0.968881*b),
		A: n.A,
	}
}

func blank(img image.Image) bool {
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, g, bl, _ := img.At(x, y).RGBA(); r != 0xffff || g != 0xffff || bl != 0xffff {
				return false
			}
		}
	}
	return true
}

func lowered(line []BandPoint, by float64) []BandPoint {
	out := make([]BandPoint, len(line))
	for i, p := range line {
		out[i] = BandPoint{p.X, p.Y - by*p.X/700, p.Low - by*p.X/700, p.High - by*p.X/700}
	}
	return out
}
