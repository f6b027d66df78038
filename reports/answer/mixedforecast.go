package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/mixed"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// fewOfLimb is below how many of its own readings a limb is foretold mostly
// from the others.
const fewOfLimb = 3

// nextReadings is one limb in the making of its forecast.
type nextReadings struct {
	*mixedJob
	code       string
	group      int
	own        []int   // places among the rows used, in order of time
	last       int     // the place of its last row
	perUnit    float64 // days in one unit of the time column
	raw        *table.Column
	limit      float64 // longest time that any limb was seen at, in the unit of raw
	date       float64 // of its last row; NaN where days are not told
	low, high  float64 // that the outcome can have at all; infinite where it has none
	teller     *mixed.Foreteller
	crossed    []int // who takes the readings, by grouping; nil without
	kind       int   // of their scatter
	readings   []mixed.Foretold
	ahead      []notebook.Duration
	carried    []string // columns held as at the last row
	underLow   int
	overHigh   int
	beyond     []string // times asked for at which no limb was seen
	beyondDays float64  // days from its last row after which no limb was seen
}

// forecast foretells one limb after each of the times asked for, counted from
// its last row, with its own history.
func (j *mixedJob) forecast() error {
	if j.ask.Limb == "" {
		return nil
	}
	f := &nextReadings{mixedJob: j, code: j.ask.Limb, date: math.NaN(), low: math.Inf(-1), high: math.Inf(1)}
	if err := f.find(); err != nil {
		return err
	}
	if err := f.takers(); err != nil {
		return err
	}
	var err error
	if f.teller, err = j.fit.Foreteller(f.group); err != nil {
		return err
	}
	for _, a := range f.ahead {
		r, err := f.at(a.Days)
		if err != nil {
			return err
		}
		f.readings = append(f.readings, r)
	}
	f.tell()
	return f.draw()
}

// find finds the limb and its last row.
func (f *nextReadings) find() error {
	j := f.mixedJob
	if !j.ctx.Names.Show {
		return j.at("limb", f.code, "identifying", "one %s is not foretold here. %s", j.one, j.ctx.Names.Why)
	}
	f.raw = j.rawTime
	switch f.raw.Unit {
	case "days":
		f.perUnit = 1
	case "months":
		f.perUnit = table.DaysPerMonth
	default:
		return j.at("times", "", notebook.CodeImpossible, "times are lengths of days, months or years, but the unit of %s is not one of them", j.ask.Time)
	}
	if f.group = slices.Index(j.names, f.code); f.group < 0 {
		near := notebook.Nearest(f.code, j.names)
		text := fmt.Sprintf("no row used is of the %s %q", j.one, f.code)
		if near != "" {
			text += fmt.Sprintf("; did you mean %q?", near)
		}
		return &notebook.Error{Pos: j.ask.At("limb", f.code), Code: "unknown-limb", Text: text, Nearest: near}
	}
	f.limit = math.Inf(-1)
	least, most := math.Inf(1), math.Inf(-1)
	for k, i := range j.design.Rows {
		f.limit = math.Max(f.limit, f.raw.Num[i])
		least, most = math.Min(least, j.data.Y[k]), math.Max(most, j.data.Y[k])
		if j.data.Group[k] == f.group {
			f.own = append(f.own, k)
		}
	}
	clock := f.raw
	if j.clock.Kind == table.Date { // days since a delivery begin anew with each socket
		clock = j.clock
	}
	when := func(k int) float64 { return clock.Num[j.design.Rows[k]] }
	sort.SliceStable(f.own, func(a, b int) bool { return when(f.own[a]) < when(f.own[b]) })
	f.last = f.own[len(f.own)-1]
	if j.clock.Kind == table.Date && j.ctx.Front.ShiftDates == 0 {
		f.date = when(f.last)
	}
	// What is counted, scored or measured is not below 0; comfort is at most 10.
	if least >= 0 {
		f.low = 0
	}
	if j.y.Unit == "of 10" || strings.HasPrefix(j.y.Name, "comfort") && !j.y.Own && most <= 10 {
		f.high = 10
	}
	f.beyondDays = (f.limit - f.lastRaw()) * f.perUnit
	f.ahead = slices.Clone(j.ask.Times)
	sort.SliceStable(f.ahead, func(a, b int) bool { return f.ahead[a].Days < f.ahead[b].Days })
	for _, n := range j.design.TermNames {
		if n != j.timeName && !strings.Contains(n, " × ") {
			f.carried = append(f.carried, j.columnLabel(n))
		}
	}
	return nil
}

func (f *nextReadings) lastRaw() float64 { return f.raw.Num[f.design.Rows[f.last]] }

// scaled is a time on the scale of the model.
func (f *nextReadings) scaled(raw float64) float64 {
	switch f.ask.Scale {
	case "months":
		return raw * f.perUnit / table.DaysPerMonth
	case "log-weeks":
		return math.Log(raw * f.perUnit / 7)
	}
	return raw
}

// at foretells a reading so many days after the last row; below 0, what would
// have been foretold of then. Other columns are as in the last row.
func (f *nextReadings) at(days float64) (mixed.Foretold, error) {
	j := f.mixedJob
	t := f.scaled(f.lastRaw() + days/f.perUnit)
	x := make([]float64, len(j.design.X))
	for c := range x {
		x[c] = j.design.X[c][f.last]
	}
	j.design.SetNumber(x, j.timeName, t)
	if err := j.fillProducts(x, j.design); err != nil {
		return mixed.Foretold{}, err
	}
	column := func(names []string, values [][]float64) []float64 {
		var out []float64
		for c, n := range names {
			v := values[c][f.last]
			if n == j.timeName {
				v = t
			}
			out = append(out, v)
		}
		return out
	}
	r := mixed.Reading{X: append([]float64{1}, x...), Z: column(j.data.ZNames, j.data.Z), Crossed: f.crossed, Kind: f.kind}
	if a := j.data.Above; a != nil {
		r.Above = column(a.ZNames, a.Z)
	}
	if len(j.data.Time) > 0 {
		r.Time = j.data.Time[f.last] + days/f.perUnit
		if j.clock.Kind == table.Date {
			r.Time = j.data.Time[f.last] + days
		}
	}
	got, err := f.teller.At(r)
	if errors.Is(err, mixed.ErrInput) && f.ask.Scale == "log-weeks" {
		return mixed.Foretold{}, j.at("times", "", notebook.CodeImpossible, "%s on or before day 0 has no logarithm", label(f.raw))
	}
	return got, err
}

// day is the day so long after the last row; "" where days are not told.
func (f *nextReadings) day(days float64) string {
	if math.IsNaN(f.date) {
		return ""
	}
	return words.Date(math.Round(f.date + days))
}

// limits are those of a reading in print, kept within what it can be.
func (f *nextReadings) limits(r mixed.Foretold) (low, high float64) {
	return math.Max(r.Low, f.low), math.Min(r.High, f.high)
}

// tell puts the table, its print, the reading and the cautions.
func (f *nextReadings) tell() {
	j := f.mixedJob
	unit := j.y.Unit
	t := tableOf("forecast", text("group"), number("ahead", "days"), number("time", f.raw.Unit), Column{Name: "date", Type: TypeDate}, number("estimate", unit), number("std_error", unit), number("df", ""), number("low", unit), number("high", unit),
		number("line", unit), number("line_std_error", unit), number("line_df", ""), number("line_low", unit), number("line_high", unit), flag("extrapolated"), flag("outside"))
	p := document.Table{ID: j.ask.ID + "-forecast", Caption: fmt.Sprintf("The next %s of %s %s", label(j.y), j.one, f.code), Columns: []document.TableColumn{
		{Head: "After its last visit", Wide: true}, {Head: "On", Align: document.Right}, {Head: words.Capital(label(j.y)) + inUnit(unit), Align: document.Right},
		{Head: fmt.Sprintf("%s%% of next readings", words.AsWritten(100*j.ask.Confidence)), Align: document.Right}, {Head: "Its own line, " + j.confidenceWords(), Align: document.Right}}}
	if j.table.Name != "visits" {
		p.Columns[0].Head = "After its last row"
	}
	outside := false
	for k, r := range f.readings {
		days := f.ahead[k].Days
		at := f.lastRaw() + days/f.perUnit
		far, out := at > f.limit, r.Low < f.low || r.High > f.high
		if far {
			f.beyond = append(f.beyond, f.ahead[k].Words())
		}
		if r.Low < f.low {
			f.underLow++
		}
		if r.High > f.high {
			f.overHigh++
		}
		outside = outside || out
		date := any(nil)
		if !math.IsNaN(f.date) {
			date = math.Round(f.date + days)
		}
		t.row(f.code, days, at, date, r.Estimate, r.SE, r.DF, r.Low, r.High, r.Line, r.LineSE, r.LineDF, r.LineLow, r.LineHigh, far, out)
		low, high := f.limits(r)
		name, interval := f.ahead[k].Words(), words.Interval(low, high)
		if far {
			name += " *"
		}
		if out {
			interval += " †"
		}
		day := f.day(days)
		if day == "" {
			day = words.NotComputed
		}
		p.Rows = append(p.Rows, []string{name, day, words.Value(r.Estimate, low, high), interval, words.Interval(r.LineLow, r.LineHigh)})
	}
	p.Notes = []string{fmt.Sprintf("What a next reading would be, its own scatter included, if the %s goes on as it has and nothing happens to it. It is no instruction.", j.one)}
	if len(f.beyond) > 0 {
		p.Notes = append(p.Notes, fmt.Sprintf("* Later than any %s was seen: an extrapolation.", j.one))
	}
	if outside {
		p.Notes = append(p.Notes, "† Cut at what the number can be; the bell curve of the model goes beyond it. The limits as they came out are in the numbers.")
	}
	if text := f.takerWords(); text != "" {
		p.Notes = append(p.Notes, text)
	}
	j.addTable(t)
	j.print(p)
	j.Reading += " " + f.reading()
	j.Short, j.Shown = f.reading(), p.ID // the one limb is what was asked
	f.methods()
	f.doubts()
}

func (f *nextReadings) reading() string {
	j, r := f.mixedJob, f.readings[0]
	low, high := f.limits(r)
	seen := ""
	if d := f.day(0); d != "" {
		seen = " on " + d
	}
	text := fmt.Sprintf("%s %s was last seen%s with %s%s (%s); %s on, %s%s is expected, and %s of 100 such readings lie between %s.", words.Capital(j.one), f.code, seen, words.Plain(j.data.Y[f.last]), unitWords(j.y.Unit), label(j.y),
		f.ahead[0].Words(), words.Value(r.Estimate, low, high), unitWords(j.y.Unit), words.AsWritten(100*j.ask.Confidence), strings.Replace(words.Interval(low, high), " to ", " and ", 1))
	return text + " " + f.until()
}

// until says from when on it is an extrapolation.
func (f *nextReadings) until() string {
	after := "its last row"
	if d := f.day(0); d != "" {
		after = d
	}
	text := fmt.Sprintf("All after %s lies beyond what was seen of this %s; ", after, f.one)
	switch day := f.day(f.beyondDays); {
	case f.beyondDays <= 0:
		return text + fmt.Sprintf("no other %s was seen at a later time (%s), so that it is an extrapolation from there on.", f.one, label(f.raw))
	case day != "":
		return text + fmt.Sprintf("after %s it lies beyond every %s seen (%s), and is an extrapolation.", day, f.one, label(f.raw))
	}
	return text + fmt.Sprintf("%s later it lies beyond every %s seen (%s), and is an extrapolation.", words.Span(f.beyondDays), f.one, label(f.raw))
}

func (f *nextReadings) doubts() {
	j := f.mixedJob
	if len(f.beyond) > 0 {
		j.caution("extrapolation", "No %s was seen as late as %s on: what is foretold of then rests on the line of the model being carried on beyond what was seen.", j.one, words.List(f.beyond))
	}
	if n := len(f.own); n < fewOfLimb {
		j.caution("few-readings", "%s %s has %s only: what is foretold of it is mostly what the others do.", words.Capital(j.one), f.code, words.N(n, "reading", "readings"))
	}
	if f.readings[0].Known {
		j.caution("forecast-as-known", "The limits of next readings take for known how far %ss differ, since the data tell too little of how far off that is: they are too narrow.", j.one)
	}
	if f.underLow > 0 || f.overHigh > 0 {
		bound, way := f.low, "below"
		if f.underLow == 0 {
			bound, way = f.high, "above"
		}
		j.caution("outside", "Limits of next readings reach %s %s, which %s cannot: the model takes readings to scatter alike on both sides of the line. They are cut there in print; the numbers have them as they came out.", way, words.Plain(bound), label(j.y))
	}
	if len(f.carried) > 0 {
		j.caution("held-columns", "The forecast holds %s as at the last row of this %s; where that will change, so will what is expected.", words.List(f.carried), j.one)
	}
}

// shown are the own rows that lie on one clock: those of its present socket,
// where time begins anew with each.
func (f *nextReadings) shown() []int {
	c, ok := f.table.Col("socket")
	if f.raw.Name != usualTime || !ok || c.Missing[f.design.Rows[f.last]] {
		return f.own
	}
	var out []int
	for _, k := range f.own {
		if i := f.design.Rows[k]; !c.Missing[i] && c.Text[i] == c.Text[f.design.Rows[f.last]] {
			out = append(out, k)
		}
	}
	return out
}

// draw draws the limb's own readings and the band in which next ones are
// expected.
func (f *nextReadings) draw() error {
	j := f.mixedJob
	spec := figure.FitSpec{ID: j.ask.ID + "-forecast", Title: fmt.Sprintf("%s of %s %s: seen, and foretold", words.Capital(label(j.y)), j.one, f.code), XAxis: words.Capital(label(f.raw)), XUnit: f.raw.Unit, XDays: f.raw.Unit == "days",
		YAxis: words.Capital(label(j.y)), YUnit: j.y.Unit, LineName: "foretold", Confidence: j.ask.Confidence, BandName: "in which a next reading is expected", Known: f.lastRaw(), KnownName: "last seen"}
	first := f.lastRaw()
	for _, k := range f.shown() {
		x := f.raw.Num[j.design.Rows[k]]
		first = math.Min(first, x)
		spec.Points = append(spec.Points, figure.XY{X: x, Y: j.data.Y[k]})
	}
	if j.fit.Range > 0 { // between correlated readings a line through them all would be drawn
		first = f.lastRaw()
	}
	from, to := (first-f.lastRaw())*f.perUnit, f.ahead[len(f.ahead)-1].Days
	const grid = 80
	for k := 0; k <= grid; k++ {
		days := from + (to-from)*float64(k)/grid
		if j.fit.Range > 0 && k == 0 {
			continue // at the last reading itself nothing is left to foretell
		}
		r, err := f.at(days)
		if err != nil {
			return err
		}
		low, high := f.limits(r)
		spec.Line = append(spec.Line, figure.BandPoint{X: f.lastRaw() + days/f.perUnit, Y: r.Estimate, Low: low, High: high})
	}
	j.Figures = append(j.Figures, figure.Fit(spec))
	return nil
}
