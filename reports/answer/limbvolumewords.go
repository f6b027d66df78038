package answer

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

const (
	// wideGap is how far apart in mm stations may be: on legs, volumes from
	// girths 8 cm apart agreed with those 4 cm apart, 12 cm less well (Lymphat
	// Res Biol, doi 10.1089/lrb.2022.0032, 42 legs).
	wideGap = 80
	// swelling is by how many minutes two measurements may differ in the time
	// since the socket came off, where the shorter was under swollen minutes:
	// limbs swelled 2.4 to 10.9 percent in 35 minutes, most of it in the first 8
	// (Zachariah and others 2004, J Rehabil Res Dev 41(5): 683-694). The two
	// limits are common practice, no source.
	swelling = 5
	swollen  = 35
)

func (v *volumes) cautions() {
	v.caution("round-sections", "%s", biasText(v.ask.Axes != nil, v.ask.Sides == "curved"))
	limbs := v.limbs
	if v.one != nil {
		limbs = []*measuredLimb{v.one}
	}
	if v.error.source == errorCommon {
		v.caution("error-assumed", "The lab has stated no repeatability of its own, so intervals rest on what is common: %s. Measure some limbs twice, ask agreement of them, and set girth_repeatability or volume_repeatability in the head of the notebook.", v.error.words())
	}
	var n, other, swell, unlike, within, far int
	for _, l := range limbs {
		for _, d := range l.days {
			for _, s := range d.set.Profile.Sections() {
				if s.Gap > wideGap {
					far++
					break
				}
			}
		}
		for _, c := range l.changes {
			if c.against != "first" {
				continue
			}
			n++
			if c.stations == 0 {
				unlike++
				continue
			}
			if c.otherMeasurer {
				other++
			}
			if a, b := c.earlier.minutesOff, c.later.minutesOff; math.Abs(a-b) > swelling && math.Min(a, b) < swollen {
				swell++
			}
			if !c.beyond() {
				within++
			}
		}
	}
	if far > 0 {
		v.caution("wide-gaps", "In %s neighbouring stations are more than %d mm apart. What lies between them is then told poorly: on legs, girths 12 cm apart agreed less well with those 4 cm apart than girths 8 cm apart did.", v.n(far, "measurement", "measurements"), wideGap)
	}
	if other > 0 && v.error.source != errorCommon && v.error.tape.Measurer == 0 {
		v.caution("other-measurer", "In %s the two measurements are of different persons, while the error set is taken for that of one: those intervals are too short. State under girth_repeatability how far measurers differ.", v.of(other, n, "change", "changes"))
	}
	if swell > 0 {
		v.caution("time-off", "In %s the socket had been off for more than %d minutes longer at one measurement than at the other: residual limbs have swelled by 2.4%% to 10.9%% in 35 minutes, most of it in the first 8.", v.of(swell, n, "change", "changes"), swelling)
	}
	if unlike > 0 {
		v.caution("other-stations", "%s not told: the two measurements have fewer than two stations in common, or no end of the limb was recorded.", v.n(unlike, "change is", "changes are"))
	}
	if told := n - unlike; 2*within > told {
		v.caution("repeatability", "%s cannot be told from none: measuring an unchanged limb twice may give as much.", words.Capital(v.of(within, told, "change since the first measurement", "changes since the first measurement")))
	}
	if v.others > 0 && v.one == nil {
		v.caution("other-series", "%s not used: of each limb the landmark and layer measured on most days stand for it, and these were from another landmark or over another layer.", v.n(v.others, "measurement is", "measurements are"))
	}
	if v.noReach > 0 && v.one == nil {
		v.caution("short-measurements", "%s without a volume: the stations do not reach over the stretch that the limb's other measurements share, or no end of the limb was recorded.", v.n(v.noReach, "measurement is", "measurements are"))
	}
	if v.ask.Cap == notebook.HalfSphere {
		v.caution("end-assumed", "The end of the limb is taken for half a sphere on the last girth. That is a convention, not a measurement; where the end is blunt or pointed, state how far it lies from the landmark.")
	}
	if a := v.ask.Axes; a != nil && a.Ratio > 0 {
		v.caution("one-ratio", "One ratio of the two widths, %s, stands for every section of every limb (source: %s).", words.Plain(a.Ratio), a.Source)
	}
	if !v.ctx.Names.Show {
		v.caution("limbs-hidden", "%s", v.ctx.Names.Why)
	}
}

// figures draws one limb's volumes and profiles, or the changes of all limbs.
func (v *volumes) figures() {
	if v.one != nil {
		v.oneFigures()
		return
	}
	spec := figure.TrajectoriesSpec{ID: v.ask.ID, Title: "Change in limb volume since the first measurement", XAxis: "Time since the first measurement", XDays: true, YAxis: "Change in volume", YUnit: "%",
		Each: "limb", LineName: "median limb", Confidence: v.ask.Confidence}
	var steps [len(since) + 1][]float64
	for _, l := range v.limbs {
		path := figure.Path{Points: []figure.XY{{X: 0, Y: 0}}}
		seen := map[int]bool{}
		for k := len(l.changes) - 1; k >= 0; k-- {
			c := l.changes[k]
			if c.against != "first" || c.stations == 0 {
				continue
			}
			days := c.later.date - c.earlier.date
			path.Points = append(path.Points, figure.XY{X: days, Y: c.change.Percent})
			// The last change within each length of time stands for the limb.
			if p := sort.SearchFloat64s(since[:], days); !seen[p] {
				seen[p] = true
				steps[p] = append(steps[p], c.change.Percent)
			}
		}
		if len(path.Points) > 1 && v.ctx.Front.HideBelow <= 1 {
			sort.SliceStable(path.Points, func(a, b int) bool { return path.Points[a].X < path.Points[b].X })
			spec.Paths = append(spec.Paths, path)
		}
	}
	from := 0.0
	line := []figure.BandPoint{{X: 0, Y: 0, Low: math.NaN(), High: math.NaN()}}
	for p, xs := range steps {
		if p < len(since) {
			if len(xs) >= fewForMedian && !v.hiddenCount(len(xs)) {
				sort.Float64s(xs)
				line = append(line, figure.BandPoint{X: (from + since[p]) / 2, Y: median(xs), Low: math.NaN(), High: math.NaN()})
			}
			from = since[p]
		}
	}
	if len(line) > 1 {
		spec.Line = line
	}
	v.Figures = append(v.Figures, figure.Trajectories(spec))
}

// since are the lengths of time, in days, within each of which one change of a
// limb counts for the median that is drawn in its middle.
var since = [...]float64{table.DaysPerMonth, 3 * table.DaysPerMonth, 6 * table.DaysPerMonth, table.DaysPerYear, 2 * table.DaysPerYear, 3 * table.DaysPerYear, 5 * table.DaysPerYear}

// fewForMedian is how many limbs a median that is drawn stands on.
const fewForMedian = 5

// oneFigures draws the volumes of one limb with their errors, and its girths
// along it.
func (v *volumes) oneFigures() {
	l := v.one
	spec := figure.FitSpec{ID: v.ask.ID, Title: fmt.Sprintf("Volume of limb %s", l.name), XAxis: "Time since the first measurement", XDays: true, YAxis: "Volume, " + v.stretch(l), YUnit: "ml",
		LineName: "limb " + l.name, BandName: "of measuring", Confidence: v.ask.Confidence}
	for _, d := range l.days {
		if d.reaches {
			spec.Bars = append(spec.Bars, figure.BandPoint{X: d.date - l.days[0].date, Y: d.volume.ML, Low: d.volume.ML - v.z*d.volume.SE, High: d.volume.ML + v.z*d.volume.SE})
		}
	}
	v.Figures = append(v.Figures, figure.Fit(spec))
	p := figure.TrajectoriesSpec{ID: v.ask.ID + "-girths", Title: fmt.Sprintf("Girths along limb %s", l.name), XAxis: "Distance from " + orWord(l.landmark, "the landmark"), XUnit: "mm", YAxis: "Girth", YUnit: "mm", Each: "measurement"}
	for k, d := range l.days {
		own := d.set.Profile.Span()
		var pts []figure.BandPoint
		var thin []figure.XY
		add := func(mm, girth float64) {
			pts = append(pts, figure.BandPoint{X: mm, Y: girth, Low: math.NaN(), High: math.NaN()})
			thin = append(thin, figure.XY{X: mm, Y: girth})
		}
		if v.ask.Sides == "curved" && v.ask.Axes == nil {
			const grid = 80
			for j := 0; j <= grid; j++ {
				mm := own.From + own.Length()*float64(j)/grid
				if g, ok := d.set.Profile.Girth(mm); ok {
					add(mm, g)
				}
			}
		} else {
			for _, s := range d.set.Profile.Stations() {
				add(s.MM, s.GirthMM)
			}
		}
		switch k {
		case 0:
			p.Groups = append(p.Groups, figure.GroupLine{Name: v.when(l, d), Line: pts})
		case len(l.days) - 1:
			p.Groups = append(p.Groups, figure.GroupLine{Name: v.when(l, d), Line: pts})
		default:
			p.Paths = append(p.Paths, figure.Path{Points: thin})
		}
	}
	v.Figures = append(v.Figures, figure.Trajectories(p))
}

func orWord(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// words is the reading and the methods sentence.
func (v *volumes) words() {
	if v.one != nil {
		v.Reading = v.oneReading()
	} else {
		v.Reading = v.allReading()
	}
	v.methods()
}

func (v *volumes) oneReading() string {
	l := v.one
	var of []*measuredDay
	for _, d := range l.days {
		if d.reaches {
			of = append(of, d)
		}
	}
	if len(of) == 0 {
		return fmt.Sprintf("No measurement of limb %s has a volume, %s.", l.name, v.stretch(l))
	}
	d := of[len(of)-1]
	low, high := d.volume.ML-v.z*d.volume.SE, d.volume.ML+v.z*d.volume.SE
	text := fmt.Sprintf("Limb %s, %s, was last measured %s: %s ml (%s %s, the error of measuring alone).", l.name, v.stretch(l), v.on(l, d), words.Rate(d.volume.ML, low, high), v.confidenceWords(), words.RateRange(low, high))
	c, ok := l.last()
	if !ok {
		if len(l.days) == 1 {
			return text + " It was measured on one day only, so that no change is known."
		}
		return text + " The first and the last measurement have too few stations in common for a change to be told."
	}
	way := "smaller than"
	if c.change.Percent > 0 {
		way = "larger than"
	}
	if c.change.Percent == 0 {
		way = "different from"
	}
	text += fmt.Sprintf(" Over the %d stations of both it is %s%% %s at the first measurement, %s earlier (change %s%%)", c.stations, words.Value(math.Abs(c.change.Percent), c.low, c.high), way, words.Span(c.later.date-c.earlier.date), words.Interval(c.low, c.high))
	if !c.beyond() {
		return text + ", which measuring an unchanged limb twice may give."
	}
	return text + ", which is more than measuring alone would give."
}

func (v *volumes) on(l *measuredLimb, d *measuredDay) string {
	if v.ctx.Front.ShiftDates == 0 {
		return "on " + words.Date(d.date)
	}
	if d == l.days[0] {
		return "once"
	}
	return words.Span(d.date-l.days[0].date) + " after the first time"
}

func (v *volumes) allReading() string {
	all := v.lasts()
	text := fmt.Sprintf("%s measured, %s on two days or more with stations in common.", words.Capital(v.n(len(v.limbs), "limb was", "limbs were")), v.n(len(all), "of them", "of them"))
	lo, mid, hi, ok := spread(all)
	if !ok || v.hiddenCount(len(all)) {
		return text
	}
	smaller, larger := v.beyond(all)
	sign := func(x float64) string { return words.Fixed(x, 1) + "%" }
	return text + fmt.Sprintf(" From the first to the last measurement the volume of the middle one changed by %s (half of them between %s and %s). By more than measuring alone would give: %s.",
		sign(mid), sign(lo), sign(hi), v.parts([]string{"smaller", "larger", "neither"}, []int{smaller, larger, len(all) - smaller - larger}))
}

func (v *volumes) methods() {
	sections, sides := "round sections", "truncated cones between stations"
	if a := v.ask.Axes; a != nil && a.Ratio > 0 {
		sections = fmt.Sprintf("elliptical sections with one ratio of widths (%s; %s)", words.Plain(a.Ratio), a.Source)
	} else if a != nil {
		sections = fmt.Sprintf("elliptical sections whose shape is that of the two widths and whose size is that of the girth (%s, %s)", plainName(a.Widths[0]), plainName(a.Widths[1]))
	}
	if v.ask.Sides == "curved" {
		sides = "the area of sections whose girth follows a monotone cubic between stations, integrated"
		v.References = append(v.References, "Fritsch FN, Carlson RE. Monotone piecewise cubic interpolation. SIAM J Numer Anal 1980; 17: 238-246.",
			"Fritsch FN, Butland J. A method for constructing local monotone piecewise cubic interpolants. SIAM J Sci Stat Comput 1984; 5: 300-304.")
	}
	end := ""
	switch v.ask.Cap {
	case "":
	case notebook.HalfSphere:
		end = ", closed by half a sphere on the last girth"
	default:
		end = fmt.Sprintf(", closed by the part of a sphere from the last girth to the end of the limb (%s)", plainName(v.ask.Cap))
	}
	v.Methods = fmt.Sprintf("Limb volumes were worked out from girths with %s and %s%s, over the stretch that a limb's measurements from one landmark and over one layer share; repeats were averaged. Changes are over the stations that both measurements have. Errors of volumes and changes were propagated by the delta method: %s; measurements of different days were taken to err independently. The bias of the method was looked at on five limb surfaces.",
		sections, sides, end, v.error.words())
	v.References = append(v.References, "Sunderland J and others. OpenLimbTT, a transtibial residual limb shape model. medRxiv 2024; 2024.11.27.24317622.")
}
