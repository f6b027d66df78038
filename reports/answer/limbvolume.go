package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/limb"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// measuredDay is what was measured of a limb on one day from one landmark and
// over one layer.
type measuredDay struct {
	date       float64
	set        limb.Set
	cap        limb.Cap
	measurers  string // who measured, in order, "" where not told
	minutesOff float64
	girths     int           // rows
	volume     limb.Measured // over the limb's usual stretch
	reaches    bool          // whether it has that volume
}

// measuredLimb is the history of one limb.
type measuredLimb struct {
	name           string
	landmark, over string
	span           limb.Span // over which its volumes are
	days           []*measuredDay
	changes        []volumeChange
}

// volumeChange is the change between two days over the stations of both.
type volumeChange struct {
	earlier, later *measuredDay
	against        string // "first" or "previous"
	span           limb.Span
	stations       int // 0: fewer than two in common, and nothing else is told
	from, to       limb.Measured
	change         limb.Difference
	low, high      float64 // of the change in percent
	otherMeasurer  bool
}

// beyond says whether the change is beyond what measuring again gives.
func (c volumeChange) beyond() bool { return c.stations > 0 && (c.low > 0 || c.high < 0) }

// volumes is an answer of limb-volume in the making.
type volumes struct {
	*work
	limbs   []*measuredLimb
	error   tapeError
	z       float64
	girths  int // rows used
	noReach int // days whose stations do not reach over the limb's stretch
	few     int // days with fewer than two stations
	others  int // days measured from another landmark or over another layer
	one     *measuredLimb
}

// limbVolume answers how large limbs are and how they changed.
func limbVolume(w *work) error {
	v := &volumes{work: w, error: w.tapeError(), z: stats.NormalQuantile((1 + w.ask.Confidence) / 2)}
	if err := v.read(); err != nil {
		return err
	}
	if err := w.tooFew(len(v.limbs)); err != nil {
		return err
	}
	w.Answer.Rows = v.girths
	if err := v.measureAll(); err != nil {
		return err
	}
	if err := v.pick(); err != nil {
		return err
	}
	if v.one != nil {
		w.Answer.Rows = 0
		for _, d := range v.one.days {
			w.Answer.Rows += d.girths
		}
	}
	v.tables()
	v.cautions()
	v.figures()
	v.prints()
	v.words()
	return nil
}

// stationColumns are the columns that limb-volume reads; those that a log may
// lack are nil.
type stationColumns struct {
	limb, date, mm, girth                *table.Column
	landmark, over, repeat, by, off, tip *table.Column
	widths                               [2]*table.Column
}

func (v *volumes) columns() (c stationColumns, err error) {
	get := func(key, name string) *table.Column {
		if err != nil {
			return nil
		}
		var col *table.Column
		if col, err = v.column(key, name); err == nil && col.Kind != table.Number {
			err = v.at(key, name, notebook.CodeImpossible, "%s must be numbers of mm, but %s is %s", key, name, kindWords(col.Kind))
		}
		return col
	}
	if v.ask.Cap != "" && v.ask.Cap != notebook.HalfSphere {
		c.tip = get("cap", v.ask.Cap)
	}
	if a := v.ask.Axes; a != nil && a.Ratio == 0 {
		c.widths = [2]*table.Column{get("axes", a.Widths[0]), get("axes", a.Widths[1])}
	}
	if err != nil {
		return c, err
	}
	if c.tip != nil && !slices.ContainsFunc(v.rows, func(i int) bool { return !c.tip.Missing[i] }) {
		return c, v.at("cap", v.ask.Cap, "no-end", "no row says in %s where the limb ends", v.ask.Cap)
	}
	for name, to := range map[string]**table.Column{"limb": &c.limb, "date": &c.date, "station_mm": &c.mm, "limb_mm": &c.girth,
		"landmark": &c.landmark, "over": &c.over, "repeat": &c.repeat, "measured_by": &c.by, "minutes_off": &c.off} {
		if col, ok := v.table.Col(name); ok {
			*to = col
		}
	}
	if c.limb == nil || c.date == nil || c.mm == nil || c.girth == nil {
		return c, stats.ErrNoRows
	}
	return c, nil
}

// word is the text of a column that a log may lack.
func wordIn(c *table.Column, i int) string {
	if c == nil || c.Missing[i] {
		return ""
	}
	return valueText(c, i)
}

// seriesKey is what may be compared: one limb, landmark and layer.
type seriesKey struct{ limb, landmark, over string }

// read gathers the girths by limb and day.
func (v *volumes) read() error {
	c, err := v.columns()
	if err != nil {
		return err
	}
	rows := map[seriesKey]map[float64][]int{}
	used, noWidths := 0, 0
	for _, i := range v.rows {
		if c.limb.Missing[i] || c.date.Missing[i] || c.mm.Missing[i] || c.girth.Missing[i] || !(c.girth.Num[i] > 0) {
			continue
		}
		if _, ok := v.ratio(c, i); !ok {
			noWidths++
			continue
		}
		used++
		k := seriesKey{valueText(c.limb, i), wordIn(c.landmark, i), wordIn(c.over, i)}
		if rows[k] == nil {
			rows[k] = map[float64][]int{}
		}
		rows[k][c.date.Num[i]] = append(rows[k][c.date.Num[i]], i)
	}
	if n := len(v.rows) - used - noWidths; n > 0 {
		v.steps = append(v.steps, cohort.Step{Step: "with a girth", Rows: used + noWidths, Excluded: n, Reason: "no girth, station, date or limb"})
	}
	if noWidths > 0 {
		v.steps = append(v.steps, cohort.Step{Step: "with both widths", Rows: used, Excluded: noWidths, Reason: "no two widths of the section"})
		v.caution("no-widths", "%s left out: the row does not hold both widths of the section, so that its shape is not known.", v.n(noWidths, "girth was", "girths were"))
	}
	if used == 0 {
		return stats.ErrNoRows
	}
	of := map[string][]seriesKey{}
	for k := range rows {
		of[k.limb] = append(of[k.limb], k)
	}
	names := sortedNames(of)
	for _, name := range names {
		keys := of[name]
		// The landmark and layer measured on most days stands for the limb.
		sort.Slice(keys, func(a, b int) bool {
			if x, y := len(rows[keys[a]]), len(rows[keys[b]]); x != y {
				return x > y
			}
			return keys[a].landmark+"\x00"+keys[a].over < keys[b].landmark+"\x00"+keys[b].over
		})
		for _, k := range keys[1:] {
			v.others += len(rows[k])
		}
		l := &measuredLimb{name: name, landmark: keys[0].landmark, over: keys[0].over}
		for date, of := range rows[keys[0]] {
			d, err := v.day(c, date, of)
			if err != nil {
				return err
			}
			if d != nil {
				l.days = append(l.days, d)
			}
		}
		if len(l.days) == 0 {
			continue
		}
		sort.Slice(l.days, func(a, b int) bool { return l.days[a].date < l.days[b].date })
		for _, d := range l.days {
			v.girths += d.girths
		}
		v.limbs = append(v.limbs, l)
	}
	if len(v.limbs) == 0 {
		return &notebook.Error{Pos: v.ask.Pos, Code: "few-stations", Text: "no limb was measured at two stations or more on one day, from one landmark and over one layer: no stretch of limb is enclosed, so there is no volume"}
	}
	return nil
}

func sortedNames[T any](m map[string]T) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.SortFunc(out, byNumber)
	return out
}

// ratio is that of the two widths at a row, 0 where sections are round.
func (v *volumes) ratio(c stationColumns, i int) (ratio float64, ok bool) {
	switch a := v.ask.Axes; {
	case a == nil:
		return 0, true
	case a.Ratio > 0:
		return a.Ratio, true
	}
	x, y := c.widths[0], c.widths[1]
	if x.Missing[i] || y.Missing[i] || !(x.Num[i] > 0) || !(y.Num[i] > 0) {
		return 0, false
	}
	return x.Num[i] / y.Num[i], true
}

// day puts the girths of one day together; nil where they are of fewer than
// two stations.
func (v *volumes) day(c stationColumns, date float64, rows []int) (*measuredDay, error) {
	d := &measuredDay{date: date, girths: len(rows), minutesOff: math.NaN()}
	runs, by := map[string]bool{}, map[string]bool{}
	var at []limb.Station
	off, offs, tip, tips := 0.0, 0, 0.0, 0
	for _, i := range rows {
		r, _ := v.ratio(c, i)
		at = append(at, limb.Station{MM: c.mm.Num[i], GirthMM: c.girth.Num[i], Ratio: r})
		runs[wordIn(c.by, i)+"\x00"+wordIn(c.repeat, i)] = true
		if who := wordIn(c.by, i); who != "" {
			by[who] = true
		}
		if c.off != nil && !c.off.Missing[i] {
			off, offs = off+c.off.Num[i], offs+1
		}
		if c.tip != nil && !c.tip.Missing[i] {
			tip, tips = tip+c.tip.Num[i], tips+1
		}
	}
	p, err := limb.NewProfile(at)
	switch {
	case errors.Is(err, limb.ErrTooFew):
		v.few++
		return nil, nil
	case errors.Is(err, limb.ErrBadRatio):
		return nil, v.at("axes", "", "bad-widths", "the two widths of a section differ more than fivefold on %s, so they are not the widths of one section", v.dayWords(date))
	case err != nil:
		return nil, fmt.Errorf("girths of one day: %w", err)
	}
	if v.ask.Sides == "curved" {
		p = p.Curved()
	}
	switch {
	case v.ask.Cap == notebook.HalfSphere:
		d.cap = limb.Cap{Kind: limb.HalfSphere}
	case c.tip != nil:
		d.cap = limb.Cap{Kind: limb.SphereCap, TipMM: math.NaN()}
		if tips > 0 {
			d.cap.TipMM = tip / float64(tips)
		}
	}
	if offs > 0 {
		d.minutesOff = off / float64(offs)
	}
	d.set = limb.Set{Profile: p, Sets: len(runs), Measurers: len(by)}
	d.measurers = strings.Join(sortedNames(by), "\x00")
	return d, nil
}

// dayWords is a day in words, where days may be told.
func (v *volumes) dayWords(day float64) string {
	if v.ctx.Front.ShiftDates != 0 || !v.ctx.Names.Show {
		return "one day"
	}
	return words.Date(day)
}

// pick finds the limb that is asked for.
func (v *volumes) pick() error {
	code := v.ask.Limb
	if code == "" {
		return nil
	}
	if !v.ctx.Names.Show {
		return v.at("limb", code, "identifying", "one limb is not told of here. %s", v.ctx.Names.Why)
	}
	var names []string
	for _, l := range v.limbs {
		if l.name == code {
			v.one = l
		}
		names = append(names, l.name)
	}
	if v.one == nil {
		near := notebook.Nearest(code, names)
		text := fmt.Sprintf("no measurement used is of the limb %q", code)
		if near != "" {
			text += fmt.Sprintf("; did you mean %q?", near)
		}
		return &notebook.Error{Pos: v.ask.At("limb", code), Code: "unknown-limb", Text: text, Nearest: near}
	}
	return nil
}
