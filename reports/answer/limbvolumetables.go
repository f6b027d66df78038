package answer

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"plybook/analysis/describe"
	"plybook/reports/document"
	"plybook/reports/words"
)

// limbsOfVolume is how many limbs are listed in print, those that changed most
// first.
const limbsOfVolume = 25

// dateOf is a day for the numbers, nil where no true day may be told.
func (v *volumes) dateOf(day float64) any {
	if v.ctx.Front.ShiftDates != 0 {
		return nil
	}
	return day
}

// told are the limbs whose single rows may be shown.
func (v *volumes) told() []*measuredLimb {
	switch {
	case !v.ctx.Names.Show:
		return nil
	case v.one != nil:
		return []*measuredLimb{v.one}
	}
	return v.limbs
}

// tables puts the numbers at full precision.
func (v *volumes) tables() {
	day := Column{Name: "date", Type: TypeDate}
	t := tableOf("volumes", text("limb"), day, number("days", "days"), text("landmark"), text("over"), integer("stations"), integer("runs"), number("from", "mm"), number("to", "mm"),
		number("volume", "ml"), number("std_error", "ml"), number("low", "ml"), number("high", "ml"))
	c := tableOf("changes", text("limb"), day, text("against"), number("days", "days"), integer("stations"), number("from", "mm"), number("to", "mm"), number("earlier", "ml"), number("later", "ml"),
		number("change_ml", "ml"), number("ml_low", "ml"), number("ml_high", "ml"), number("change", "%"), number("std_error", "%"), number("low", "%"), number("high", "%"), flag("other_measurer"))
	s := tableOf("sections", text("limb"), day, number("station", "mm"), number("girth", "mm"), number("area", "cm2"), number("gap", "mm"), number("taper", "mm in 10 mm"), number("slab", "ml"))
	for _, l := range v.told() {
		for _, d := range l.days {
			m, ok := d.volume, d.reaches
			t.row(l.name, v.dateOf(d.date), d.date-l.days[0].date, orNil(l.landmark), orNil(l.over), len(d.set.Profile.Stations()), d.set.Sets, l.span.From, l.span.To,
				when(ok, m.ML), when(ok, m.SE), when(ok, m.ML-v.z*m.SE), when(ok, m.ML+v.z*m.SE))
			for _, x := range d.set.Profile.Sections() {
				last := x.Gap == 0
				s.row(l.name, v.dateOf(d.date), x.MM, x.GirthMM, x.AreaMM2/100, when(!last, x.Gap), when(!last, x.Taper), when(!last, x.SlabML))
			}
		}
		for _, x := range l.changes {
			ok, diff := x.stations > 0, x.change
			c.row(l.name, v.dateOf(x.later.date), x.against, x.later.date-x.earlier.date, x.stations, when(ok, x.span.From), when(ok, x.span.To), when(ok, x.from.ML), when(ok, x.to.ML),
				when(ok, diff.ML), when(ok, diff.ML-v.z*diff.SE), when(ok, diff.ML+v.z*diff.SE), when(ok, diff.Percent), when(ok, diff.PercentSE), when(ok, x.low), when(ok, x.high), x.otherMeasurer)
		}
	}
	v.addTable(t)
	v.addTable(c)
	v.addTable(s)
	v.across()
	e := tableOf("measuring", text("source"), number("own", "mm"), number("shared", "mm"), number("smallest_change", "%"))
	g := v.error.source == errorGirth
	e.row(v.error.source, when(g, v.error.tape.Own), when(g, v.error.tape.Shared), when(!g, v.error.percent))
	v.addTable(e)
}

// lasts are the changes from the first day to the last, of the limbs that have
// one.
func (v *volumes) lasts() []volumeChange {
	var out []volumeChange
	for _, l := range v.limbs {
		if c, ok := l.last(); ok {
			out = append(out, c)
		}
	}
	return out
}

// spread is the median and the quartiles of changes in percent; ok is false
// without any.
func spread(cs []volumeChange) (low, median, high float64, ok bool) {
	if len(cs) == 0 {
		return 0, 0, 0, false
	}
	xs := make([]float64, len(cs))
	for i, c := range cs {
		xs[i] = c.change.Percent
	}
	sort.Float64s(xs)
	return describe.Quantile(xs, 0.25), describe.Quantile(xs, 0.5), describe.Quantile(xs, 0.75), true
}

// across tells all limbs together.
func (v *volumes) across() {
	t := tableOf("across", count("limbs"), count("followed"), number("lower_quartile", "%"), number("median", "%"), number("upper_quartile", "%"), count("smaller"), count("larger"), count("within_error"))
	all := v.lasts()
	lo, mid, hi, ok := spread(all)
	if v.hiddenCount(len(all)) {
		ok = false
	}
	smaller, larger := v.beyond(all)
	t.row(len(v.limbs), len(all), when(ok, lo), when(ok, mid), when(ok, hi), smaller, larger, len(all)-smaller-larger)
	v.addTable(t)
}

// beyond counts the changes beyond what measuring again gives.
func (v *volumes) beyond(all []volumeChange) (smaller, larger int) {
	for _, c := range all {
		switch {
		case c.beyond() && c.change.Percent < 0:
			smaller++
		case c.beyond():
			larger++
		}
	}
	return smaller, larger
}

// prints adds the printed tables.
func (v *volumes) prints() {
	if v.one != nil {
		v.print(v.onePrint())
		v.print(v.taperPrint())
		return
	}
	if v.ctx.Names.Show {
		v.print(v.limbsPrint())
	}
}

// onePrint lists the measurements of one limb.
func (v *volumes) onePrint() document.Table {
	l := v.one
	t := document.Table{ID: v.ask.ID + "-volumes", Caption: fmt.Sprintf("Volume of limb %s, %s", l.name, v.stretch(l)), Columns: []document.TableColumn{
		{Head: "Measured", Wide: true}, {Head: "Stations", Align: document.Right}, {Head: "Volume, in ml", Align: document.Right}, {Head: words.Capital(v.confidenceWords()), Align: document.Right},
		{Head: "Since the first", Align: document.Right}, {Head: words.Capital(v.confidenceWords()), Align: document.Right}, {Head: "Since the last", Align: document.Right}}}
	star := false
	for k, d := range l.days {
		row := []string{v.when(l, d), words.Fixed(float64(len(d.set.Profile.Stations())), 0), words.NotComputed, words.NotComputed, "", "", ""}
		if m := d.volume; d.reaches {
			low, high := m.ML-v.z*m.SE, m.ML+v.z*m.SE
			row[2], row[3] = words.Rate(m.ML, low, high), words.RateRange(low, high)
		}
		for _, c := range l.changes {
			if c.later != d {
				continue
			}
			text, interval := words.NotComputed, words.NotComputed
			if c.stations > 0 {
				text, interval = percentText(c), words.Interval(c.low, c.high)+"%"
				if c.otherMeasurer {
					text, star = text+" *", true
				}
			}
			if c.against == "first" {
				row[4], row[5] = text, interval
				if k == 1 {
					row[6] = text
				}
			} else {
				row[6] = text
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"Changes are over the stations that both measurements have, so they need not be those of the volumes beside them to the last digit. Intervals hold the error of measuring alone: " + v.error.words() + "."}
	if star {
		t.Notes = append(t.Notes, "* Measured by another person than before.")
	}
	return t
}

func percentText(c volumeChange) string {
	text := words.Fixed(c.change.Percent, 1) + "%"
	if c.change.Percent > 0 {
		text = "+" + text
	}
	return text
}

// when is the day of a measurement, or how long after the first it was.
func (v *volumes) when(l *measuredLimb, d *measuredDay) string {
	if v.ctx.Front.ShiftDates == 0 {
		return words.Date(d.date)
	}
	if d == l.days[0] {
		return "first"
	}
	return words.Span(d.date-l.days[0].date) + " later"
}

// stretch says over what a limb's volumes are.
func (v *volumes) stretch(l *measuredLimb) string {
	text := fmt.Sprintf("%s to %s mm", words.Plain(l.span.From), words.Plain(l.span.To))
	if l.landmark != "" {
		text += " from " + l.landmark
	}
	if l.over != "" {
		text += ", over " + l.over
	}
	switch {
	case v.ask.Cap != "":
		text += ", with its end"
	}
	return text
}

// taperPrint lists the sections of the last measurement beside those of the
// first.
func (v *volumes) taperPrint() document.Table {
	l := v.one
	first, last := l.days[0], l.days[len(l.days)-1]
	t := document.Table{ID: v.ask.ID + "-sections", Caption: "Cross-sections and taper on " + v.when(l, last), Columns: []document.TableColumn{
		{Head: "Station, in mm", Align: document.Right}, {Head: "Girth, in mm", Align: document.Right}, {Head: "Area, in cm²", Align: document.Right},
		{Head: "Taper, in mm for each 10 mm", Align: document.Right}, {Head: "Volume to the next, in ml", Align: document.Right}}}
	if first != last {
		t.Columns = slices.Insert(t.Columns, 2, document.TableColumn{Head: "Since the first, in mm", Align: document.Right})
	}
	before := map[float64]float64{}
	for _, s := range first.set.Profile.Stations() {
		before[s.MM] = s.GirthMM
	}
	for _, s := range last.set.Profile.Sections() {
		row := []string{words.Plain(s.MM), words.Fixed(s.GirthMM, 0), words.Fixed(s.AreaMM2/100, 1), "", ""}
		if s.Gap > 0 {
			row[3], row[4] = words.Fixed(s.Taper, 1), words.Fixed(s.SlabML, 0)
		}
		if first != last {
			text := ""
			if b, ok := before[s.MM]; ok {
				text = words.Fixed(s.GirthMM-b, 0)
				if s.GirthMM-b >= 0.5 {
					text = "+" + text
				}
			}
			row = slices.Insert(row, 2, text)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []string{"Taper: by how much the girth falls towards the end, to the next station; below 0 the limb widens."}
	return t
}

// limbsPrint lists the limbs, those that changed most first.
func (v *volumes) limbsPrint() document.Table {
	t := document.Table{ID: v.ask.ID + "-limbs", Caption: "Volume of each limb, those that changed most first", Columns: []document.TableColumn{
		{Head: "Limb", Wide: true}, {Head: "Measured", Align: document.Right}, {Head: "Last", Align: document.Right}, {Head: "Volume then, in ml", Align: document.Right}, {Head: "Since the first", Align: document.Right},
		{Head: words.Capital(v.confidenceWords()), Align: document.Right}}}
	sorted := slices.Clone(v.limbs)
	size := func(l *measuredLimb) float64 {
		if c, ok := l.last(); ok {
			return math.Abs(c.change.Percent)
		}
		return -1
	}
	sort.SliceStable(sorted, func(a, b int) bool { return size(sorted[a]) > size(sorted[b]) })
	for k, l := range sorted {
		if k == limbsOfVolume {
			t.Notes = append(t.Notes, fmt.Sprintf("%d of %d limbs; all are in the numbers.", limbsOfVolume, len(sorted)))
			break
		}
		d := l.days[len(l.days)-1]
		row := []string{l.name, words.N(len(l.days), "time", "times"), v.when(l, d), words.NotComputed, "", ""}
		if d.reaches {
			row[3] = words.Fixed(d.volume.ML, 0)
		}
		if c, ok := l.last(); ok {
			row[4], row[5] = percentText(c), words.Interval(c.low, c.high)+"%"
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
