package figure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"time"
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

func sampleStacked() StackedSpec {
	ls := lives(260, 420, 5, 15)
	s := StackedSpec{ID: "ends", ValueAxis: "What became of the sockets", TimeAxis: "Time since delivery"}
	for k, name := range []string{"Remade for volume loss", "Remade for pain or pressure", "Breakage or wear", "Died", "Not known"} {
		s.Layers = append(s.Layers, Layer{name, stepsOf(ls, k+1)})
	}
	return s
}

func sampleForest() ForestSpec {
	nan := math.NaN()
	return ForestSpec{ID: "cox", Measure: "Hazard ratio", LowHint: "lasts longer", HighHint: "remade sooner", DetailHead: "Remakes",
		Terms: []ForestTerm{
			{"Cast method", []ForestRow{{Label: "Plaster by hand", Reference: true, Detail: "57 of 84"}, {Label: "Pressure cast", Estimate: 0.71, Low: 0.46, High: 1.08, Detail: "35 of 61"}, {Label: "Laser scan, rectified from a library shape", Estimate: 0.93, Low: 0.55, High: 1.55, Detail: "22 of 37"}}},
			{"Age, per 10 years", []ForestRow{{Estimate: 0.94, Low: 0.86, High: 1.03}}},
			{"Cause", []ForestRow{{Label: "Vascular", Reference: true}, {Label: "Trauma", Estimate: 1.42, Low: 1.02, High: 1.97}, {Label: "Tumour", Estimate: 3.2, Low: 0.3, High: 41}, {Label: "Congenital", Estimate: nan, Low: nan, High: nan}}},
			{"Months since amputation", []ForestRow{{Estimate: 0.985, Low: 0.978, High: 0.992}}},
		}}
}

func sampleMeans() MeansSpec {
	return MeansSpec{ID: "ply", Measure: "Adjusted mean", Unit: "ply", By: "cast method", Rows: "Visits",
		Means: []Mean{{"Plaster by hand", 4.2, 3.6, 4.8, 84}, {"Pressure cast", 3.1, 2.2, 4.0, 61}, {"Laser scan", 5.05, 3.9, 6.2, 37}}}
}

// samplePairs is bars before a change and since.
func samplePairs() PairsSpec {
	return PairsSpec{ID: "pairs", Axis: "Remakes a year", BeforeName: "before 2025-01-13", SinceName: "since", Note: "In brackets: share of all remakes of the time.",
		Bars: []PairBar{{Name: "Volume loss", Before: 22.4, Since: 19.1, BeforeText: "22.4 (31%)", SinceText: "19.1 (34%)"}, {Name: "Casting or measuring error", Before: 14, Since: 3.2, BeforeText: "14.0 (20%)", SinceText: "3.2 (6%)"},
			{Name: "Pain or pressure", Before: 9, BeforeText: "9.0 (13%)", SinceHidden: true}, {Name: "Not known", Before: 4, Since: 6, BeforeText: "4.0 (6%)", SinceText: "6.0 (11%)", Unknown: true}}}
}

// sampleSum is 160 cases of which more have the event from the ninetieth on.
func sampleSum() SumSpec {
	r := rand.New(rand.NewPCG(6, 6))
	s := SumSpec{ID: "sum", ValueAxis: "Evidence: remade early", LimitMore: 2.6, LimitFewer: 2.3, Better: BetterLower, Decisions: []Decision{{19940, "Measure the limb again on the day of delivery."}}}
	more, fewer := 0.0, 0.0
	for i := range 160 {
		p := 0.12
		if i > 90 {
			p = 0.3
		}
		event := r.Float64() < p
		up, down := -math.Log1p(0.12), -math.Log1p(-0.06)
		if event {
			up, down = up+math.Ln2, down-math.Ln2
		}
		more, fewer = max(0, more+up), max(0, fewer+down)
		pt := SumPoint{Day: 19800 + 3*i, More: more, Fewer: fewer, SignalMore: more >= s.LimitMore, SignalFewer: fewer >= s.LimitFewer, Baseline: i < 60}
		if pt.SignalMore {
			more = 0
		}
		if pt.SignalFewer {
			fewer = 0
		}
		s.Points = append(s.Points, pt)
	}
	return s
}

// sampleSegmented is a series of 36 months with a step, a season and a
// transition.
func sampleSegmented() SegmentedSpec {
	r := rand.New(rand.NewPCG(5, 5))
	s := SegmentedSpec{ID: "seg", ValueAxis: "First-time fit", Percent: true, Better: BetterHigher, Changes: []Decision{{20089, "Measure the limb again on the day of delivery."}, {20363, "Another decision, of which the lines know nothing."}}}
	for i := range 36 {
		day := dayOfMonth(2024+i/12, i%12+1)
		season := 0.05 * math.Cos(float64(i)/6*math.Pi)
		level := 0.55 + 0.002*float64(i)
		since := i >= 13
		old := level
		if since {
			level += 0.2
		}
		p := SegmentedPoint{Label: monthName(day), Day: day, Value: min(1, level+season+r.NormFloat64()*0.06), LeftOut: i == 12, Hidden: i == 20}
		if p.Hidden {
			p.Value = math.NaN()
		}
		s.Points = append(s.Points, p)
		if i == 12 {
			continue
		}
		if since {
			s.Since, s.Counter = append(s.Since, DayValue{day, level}), append(s.Counter, DayValue{day, old})
		} else {
			s.Before = append(s.Before, DayValue{day, level})
		}
		s.Season = append(s.Season, DayValue{day, level + season})
	}
	return s
}

// monthly makes points from January 2024 on a proportion chart with a frozen
// baseline of twelve, a shift, and a second phase.
func sampleControl() ControlSpec {
	r := rand.New(rand.NewPCG(4, 4))
	goal := 0.15
	s := ControlSpec{ID: "first-fit", ValueAxis: "Definitive sockets remade within 90 days", Percent: true, Goal: &goal, Better: BetterLower,
		Decisions: []Decision{{20089, "Measure the limb again on the day of delivery."}, {20120, "Two people check the target circumferences before the plaster is cut."}, {20363, "New phase: pressure casting is the rule for short limbs; the lead prosthetist reviews each exception with the maker within a week of the fitting."}},
		Pending:   []string{"2026-08", "2026-09"}}
	for i := range 30 {
		m := i % 12
		day := dayOfMonth(2024+i/12, m+1)
		n := 18 + r.IntN(14)
		p := 0.30
		if i > 16 {
			p = 0.16
		}
		k := 0
		for range n {
			if r.Float64() < p {
				k++
			}
		}
		c, phase := 0.295, 1
		if i >= 22 {
			c, phase = 0.17, 2
		}
		half := 3 * math.Sqrt(c*(1-c)/float64(n))
		pt := ControlPoint{Label: monthName(day), Day: day, Value: float64(k) / float64(n), Centre: c, Lower: max(0, c-half), Upper: c + half, Phase: phase, Baseline: i < 12}
		if i == 7 {
			pt.Value, pt.Signals = 0.62, []string{"beyond the upper limit"}
		}
		if i >= 18 && i < 22 {
			pt.Signals = []string{"8 on one side"}
		}
		s.Points = append(s.Points, pt)
	}
	s.Old = []OldLimits{{FromDay: dayOfMonth(2025, 11), ToDay: dayOfMonth(2026, 6), Centre: 0.295, Lower: 0.03, Upper: 0.56}}
	return s
}

func dayOfMonth(year, month int) int {
	return dayOf(time.Date(year, time.Month(month), 1, 0, 0, 0, 0, time.UTC))
}

func monthName(day int) string { return dateOf(day).Format("2006-01") }

func sampleOrder() ControlSpec {
	nan := math.NaN()
	s := ControlSpec{ID: "gaps", ValueAxis: "Sockets between remakes for making errors", Unit: "sockets", ByOrder: true, OrderAxis: "Remake", CentreWord: "median", Better: BetterHigher, TrialLimits: true}
	for i, v := range []float64{3, 7, 1, 0, 12, 5, 9, 2, 31, 14, 6, 22} {
		p := ControlPoint{Label: string(rune('A' + i)), Value: v, Centre: 6.5, Lower: nan, Upper: 29}
		if v > 29 {
			p.Signals = []string{"beyond the upper limit"}
		}
		s.Points = append(s.Points, p)
	}
	return s
}

func sampleBars() BarsSpec {
	return BarsSpec{ID: "reasons", CountAxis: "Remakes", Bars: []Bar{{Name: "Volume loss", Count: 48}, {Name: "Pain or pressure", Count: 27}, {Name: "Breakage or wear", Count: 19},
		{Name: "Shaping error", Count: 11}, {Name: "Skin breakdown, with an ulcer over the fibular head", Count: 6}, {Name: "Growth", Count: 3}, {Name: "Alignment or length", Count: 1}, {Name: "Not known", Count: 14, Unknown: true}}}
}

func sampleFit(n int) FitSpec {
	r := rand.New(rand.NewPCG(8, 1))
	s := FitSpec{ID: "ply-age", XAxis: "Months since amputation", XUnit: "months", YAxis: "Ply at 90 days", YUnit: "ply", LineName: "fitted, at mean age"}
	for range n {
		x := 60 * r.Float64()
		s.Points = append(s.Points, XY{x, max(0, 8*math.Exp(-x/25)+1.5*r.NormFloat64())})
	}
	for x := 0.0; x <= 60; x++ {
		y := 8 * math.Exp(-x/25)
		s.Line = append(s.Line, BandPoint{x, y, y - 0.3 - math.Abs(x-30)/40, y + 0.3 + math.Abs(x-30)/40})
	}
	return s
}

func sampleAgreement() FitSpec {
	r := rand.New(rand.NewPCG(8, 2))
	s := FitSpec{ID: "agree", XAxis: "Mean of the two measurements", XUnit: "mm", YAxis: "Difference between measurers", YUnit: "mm"}
	for range 60 {
		s.Points = append(s.Points, XY{250 + 100*r.Float64(), 1 + 3*r.NormFloat64()})
	}
	for name, v := range map[string]float64{"mean 1.0 mm": 1, "upper limit 6.9 mm": 6.9, "lower limit −4.9 mm": -4.9} {
		s.Guides = append(s.Guides, Guide{name, []XY{{250, v}, {350, v}}})
	}
	sort.Slice(s.Guides, func(i, j int) bool { return s.Guides[i].Name < s.Guides[j].Name })
	return s
}

func sampleTrajectories(n int) TrajectoriesSpec {
	r := rand.New(rand.NewPCG(8, 3))
	s := TrajectoriesSpec{ID: "volume", XAxis: "Time since cast", XDays: true, YAxis: "Volume change", YUnit: "%"}
	for range n {
		a, k := -12+4*r.NormFloat64(), 150*(0.6+0.8*r.Float64())
		var p Path
		for d := 0.0; d < 700; d += 40 + 60*r.Float64() {
			p.Points = append(p.Points, XY{d, a*(1-math.Exp(-d/k)) + 0.8*r.NormFloat64()})
		}
		s.Paths = append(s.Paths, p)
	}
	for d := 0.0; d <= 700; d += 10 {
		y := -12 * (1 - math.Exp(-d/150))
		s.Line = append(s.Line, BandPoint{d, y, y - 0.2 - d/700, y + 0.2 + d/700})
	}
	return s
}

func sampleCaterpillar(n int, named bool) CaterpillarSpec {
	r := rand.New(rand.NewPCG(4, 9))
	s := CaterpillarSpec{ID: "limbs", Measure: "Difference in ply from the average limb, at time 0", Unit: "ply"}
	for i := range n {
		e, w := 1.4*r.NormFloat64(), 0.8+r.Float64()
		row := CaterpillarRow{Estimate: e, Low: e - w, High: e + w}
		if named {
			row.Name = fmt.Sprintf("P%03d-L", i+1)
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

func sampleFlow() FlowSpec {
	return FlowSpec{ID: "flow", Rows: "sockets", Steps: []FlowStep{
		{Label: "Rows in the log", Rows: 412},
		{Label: "Rows that could be read", Rows: 405, Excluded: []FlowExclusion{{Rows: 4, Reason: "a negative life"}, {Rows: 3, Reason: "a second row with the same identifier and other values"}}},
		{Label: "Definitive transtibial sockets", Rows: 231, Excluded: []FlowExclusion{{Rows: 174, Reason: "not definitive, or another level"}}},
		{Label: "At risk in the period, and analysed", Rows: 219, Excluded: []FlowExclusion{{Rows: 12, Reason: "ended before every socket in use was recorded (1 June 2021), so that their lives would be known only for those that lasted"}}},
	}}
}

func sampleResiduals(n int) ResidualsSpec {
	r := rand.New(rand.NewPCG(8, 9))
	s := ResidualsSpec{ID: "ply-fit", Unit: "ply"}
	for range n {
		s.Residuals = append(s.Residuals, Residual{2 + 6*r.Float64(), r.NormFloat64()})
	}
	return s
}

func sampleFunnel() FunnelSpec {
	s := FunnelSpec{ID: "makers", SizeAxis: "Remakes expected", ValueAxis: "Remakes observed against expected", Centre: 1,
		Units: []FunnelUnit{{"M1", 12, 1.2, 0}, {"M2", 30, 0.9, 0}, {"M3", 45, 1.6, 2}, {"M4", 8, 0.4, 0}, {"M5", 22, 1.47, 1}, {"M6", 60, 0.55, 2}}}
	for x := 5.0; x <= 65; x++ {
		w, a := 1.96/math.Sqrt(x), 3.09/math.Sqrt(x)
		s.Limits = append(s.Limits, FunnelLimit{x, max(0, 1-w), 1 + w, max(0, 1-a), 1 + a})
	}
	return s
}

func sampleColumns() ColumnsSpec {
	return ColumnsSpec{ID: "caseload", Axis: "Sockets delivered", Periods: []string{"2021", "2022", "2023", "2024", "2025", "2026"},
		Parts:    []ColumnPart{{"Definitive", []float64{60, 88, 94, 101, 97, 70}}, {"Check", []float64{40, 61, 77, 90, 92, 66}}, {"Preparatory", []float64{12, 20, 22, 19, math.NaN(), 11}}},
		LastPart: "2026: to 30 September"}
}

// sampleOpen is two curves whose falls are known only to lie between visits.
func sampleOpen() CurvesSpec {
	spec := CurvesSpec{ID: "open", ValueAxis: "Sockets not yet seen with an ulcer", TimeAxis: "Time since delivery", Rows: "sockets", EventWord: "seen with it"}
	for g, name := range []string{"Hand cast", "Pressure cast"} {
		c := Curve{Group: name, Steps: []Step{{Estimate: 1, Low: 1, High: 1, AtRisk: 60}}}
		for k := 1; k <= 7; k++ {
			to, at := float64(k*90-10*g), 1-0.1*float64(k)+0.03*float64(g*k)
			if k%3 != 0 {
				c.Open = append(c.Open, Stretch{to - 50, to})
			}
			c.Steps = append(c.Steps, Step{Time: to - 20, Estimate: at + 0.1, Low: at - 0.05, High: at + 0.2, AtRisk: 62 - 8*k, Censored: 3},
				Step{Time: to, Estimate: at, Low: at - 0.1, High: at + 0.1, AtRisk: 59 - 8*k, Events: 5})
		}
		spec.Curves = append(spec.Curves, c)
	}
	return spec
}

// sampleMean is a mean number of events that goes on rising.
func sampleMean() CurvesSpec {
	spec := CurvesSpec{ID: "mean", Direction: Up, Plain: true, Repeated: true, ValueAxis: "Mean number of walk-in visits", Unit: "a limb", TimeAxis: "Time since the first delivery", Rows: "limbs"}
	for g, name := range []string{"Transfemoral", "Transtibial"} {
		c := Curve{Group: name, Steps: []Step{{AtRisk: 80}}}
		for k := 1; k <= 40; k++ {
			at := 0.05*float64(k) + 0.02*float64(g*k)
			c.Steps = append(c.Steps, Step{Time: float64(k * 21), Estimate: at, Low: at * 0.8, High: at * 1.25, AtRisk: 80 - k, Events: 4, Censored: 1})
		}
		spec.Curves = append(spec.Curves, c)
	}
	return spec
}

// sampleProne is n persons with a gamma frailty, drawn toward 1 as estimates
// are.
func sampleProne(n int, named bool) ProneSpec {
	r := rand.New(rand.NewPCG(4, 9))
	s := ProneSpec{ID: "persons", YAxis: "Remakes against the average person", HighHint: "remade more often", LowHint: "remade less often"}
	for i := range n {
		v := math.Pow((r.ExpFloat64()+r.ExpFloat64())/2, 0.6)
		half := 0.3 + 0.5*r.Float64()
		u := ProneUnit{Ratio: v, Low: v * math.Exp(-half), High: v * math.Exp(half)}
		if named {
			u.Name = "P" + string(rune('A'+i%26)) + string(rune('0'+i%10))
		}
		s.Units = append(s.Units, u)
	}
	for k := 1; k < 40; k++ {
		p := float64(k) / 40
		s.Curve = append(s.Curve, XY{p, math.Exp(0.7 * math.Log(p/(1-p)) / 1.7)})
	}
	return s
}

func sampleRanked(n int) RankedSpec {
	s := RankedSpec{ID: "list", Measure: "Risk of a remake within 180 days", DetailHead: "Worn", Mark: "broken skin at the last visit: see first", Mean: 0.16, MeanName: "mean of those ranked"}
	for i := range n {
		p := 0.52 * math.Exp(-float64(i)/9)
		s.Rows = append(s.Rows, RankedRow{Name: "P" + count(100+37*i%90) + "L-2", Detail: decimal(3+float64(i*7%23), 1) + " months", Value: p, Low: p * 0.6, High: min(1, p*1.7), Marked: i == 3 || i == 11})
	}
	return s
}

func sampleRisks() RiskCheckSpec {
	s := RiskCheckSpec{ID: "risks", XAxis: "Predicted risk", YAxis: "Observed share, remade within 180 days"}
	r := rand.New(rand.NewPCG(9, 2))
	for range 900 {
		s.Risks = append(s.Risks, min(0.6, 0.05+0.09*r.ExpFloat64()))
	}
	for k := range 8 {
		p := 0.06 + 0.045*float64(k)
		s.Groups = append(s.Groups, BandPoint{X: p, Y: 0.8*p + 0.03, Low: 0.8*p - 0.02, High: 0.8*p + 0.09})
	}
	for k := range 40 {
		p := 0.04 + 0.01*float64(k)
		s.Curve = append(s.Curve, BandPoint{X: p, Y: 0.8*p + 0.028, Low: 0.7 * p, High: 0.9*p + 0.07})
	}
	return s
}

func sampleCalibration() CalibrationSpec {
	s := CalibrationSpec{Outcome: "first-time fit", C: 0.71}
	for i := range 10 {
		e := 0.2 + 0.07*float64(i)
		o := e + 0.08*math.Sin(3*float64(i))
		s.Groups = append(s.Groups, CalibrationGroup{e, o, math.Max(0, o-0.17), math.Min(1, o+0.15)})
	}
	for i := 0; i <= 40; i++ {
		x := float64(i) / 40
		s.Curve = append(s.Curve, XY{x, math.Pow(x, 0.45)})
	}
	return s
}

func sampleCounts() CountsSpec {
	s := CountsSpec{Axis: "Walk-in visits of a limb", Rows: "Limbs", Bins: []CountBin{{0, 0, 92, 71.3}}}
	for lo := 1; lo < 40; lo += 3 {
		e := 120 * math.Exp(-0.15*float64(lo))
		s.Bins = append(s.Bins, CountBin{lo, lo + 2, math.Round(e * (1 + 0.3*math.Sin(float64(lo)))), e})
	}
	s.Bins = append(s.Bins, CountBin{40, -1, 0, 0.6})
	return s
}

func sampleSpans() SpansSpec {
	s := SpansSpec{Axis: "Wait", Unit: "days", DetailHead: "Waits", Note: "Faint: fewer than 10 waits."}
	for k, step := range []string{"Referral to cast", "Cast to the first check fitting of a socket with a very long name", "Check fitting to delivery"} {
		for i, year := range []string{"2024", "2025", "2026"} {
			m := float64(12 + 9*k + 3*i)
			s.Rows = append(s.Rows, SpanRow{Group: step, Name: year, Detail: count(104 - 48*i), Lower: m - 5, Median: m + 0.5, Upper: m + 14, Tail: m + 41, Few: i == 2})
		}
	}
	s.Rows[8].Upper, s.Rows[8].Tail = math.NaN(), math.NaN()
	return s
}

// sampleBarsFit is one limb's volumes with their intervals.
func sampleBarsFit() FitSpec {
	s := FitSpec{ID: "limb", XAxis: "Time since the first measurement", XDays: true, YAxis: "Volume", YUnit: "ml", BandName: "of measuring"}
	for i := range 8 {
		v := 1150 + 240*math.Exp(-float64(i)/2)
		s.Bars = append(s.Bars, BandPoint{X: 31 * float64(i), Y: v, Low: v - 21, High: v + 21})
	}
	return s
}
