package answer

import (
	"fmt"
	"math"
	"slices"
	"time"

	"plybook/analysis/cohort"
	"plybook/analysis/mixed"
	"plybook/analysis/rhythm"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

const (
	// fewRhythm is how many rows a pattern stands on at least, and fewAtTwo how
	// many limbs must have been seen at two times of the cycle: only they tell a
	// pattern from what differs between limbs. Common practice, no source.
	fewRhythm = 30
	fewAtTwo  = 5
	// partsOfDay and partsOfYear are in how many twelfths of the cycle rows must
	// lie for one wave, partsForTwo for two. Common practice, no source: one wave
	// over a quarter of the day is already hardly told from a bend.
	partsOfDay  = 3
	partsOfYear = 6
	partsForTwo = 6
	// mostSeen is from how many twelfths on the cycle counts as seen.
	mostSeen = 9
)

// pattern is an answer of rhythm in the making.
type pattern struct {
	*mixedJob
	cycle   figure.Cycle
	places  []float64 // of the rows used, within the arc's turn
	dates   []float64 // of the rows used; nil for a day
	seen    rhythm.Seen
	first   int // place of the first wave's cosine among the coefficients
	curve   rhythm.Curve
	ends    rhythm.Extremes
	test    mixed.FTest   // of the whole pattern
	each    []mixed.FTest // of each wave
	between *mixed.FTest  // that the pattern between limbs is nothing of its own; nil: not told
	noPace  bool          // limbs have a level of their own and no pace
	parts   []cyclePart
}

// rhythmOf answers how a number goes up and down over the day or the year,
// limb by limb.
func rhythmOf(w *work) error {
	p := &pattern{mixedJob: &mixedJob{work: w, within: w.ask.Within, one: nounOf(w.ask.Within)}, cycle: figure.Day}
	if w.ask.Cycle == "year" {
		p.cycle = figure.Year
	}
	if err := p.timed(); err != nil {
		return err
	}
	if err := p.prepare(); err != nil {
		return err
	}
	if err := p.enough(); err != nil {
		return err
	}
	if err := p.estimate(); err != nil {
		return err
	}
	p.tables()
	p.cautions()
	p.figures()
	p.prints()
	p.words()
	return nil
}

// timed leaves the rows whose place in the cycle is known.
func (p *pattern) timed() error {
	w := p.work
	name := p.placeColumn()
	c, ok := w.table.Col(name)
	if !ok {
		return w.at("cycle", w.ask.Cycle, notebook.CodeImpossible, "%s have no time of the %s", w.table.Name, w.ask.Cycle)
	}
	all := len(w.rows)
	w.rows = slices.DeleteFunc(slices.Clone(w.rows), func(i int) bool { return c.Missing[i] })
	lost := all - len(w.rows)
	if lost == 0 {
		return nil
	}
	one, many := w.nouns()
	what := "the time of the visit is not recorded"
	if p.cycle == figure.Year {
		what = "the date is not recorded"
	}
	w.steps = append(w.steps, cohort.Step{Step: "with a time of the " + w.ask.Cycle, Rows: len(w.rows), Excluded: lost, Reason: what})
	w.rests(w.rows, append(w.keepColumns(), name)...)
	if len(w.rows) == 0 {
		return w.at("cycle", w.ask.Cycle, "no-times", "of none of the %s chosen %s, so that nothing shows a pattern over the %s; the column is `time` on the sheet of visits", many, map[figure.Cycle]string{figure.Day: "the time of the day is recorded", figure.Year: "the date is recorded"}[p.cycle], w.ask.Cycle)
	}
	if 5*lost > all {
		w.caution("untimed", "%s no time of the %s and are left out: if the time is written down on some occasions more than on others, the pattern is that of those occasions.", words.Capital(w.of(lost, all, one, many))+" "+plural(all, "has", "have"), w.ask.Cycle)
	}
	return nil
}

func (p *pattern) placeColumn() string {
	if p.cycle == figure.Year {
		return "date"
	}
	return cohort.HourOfDay
}

// yearPlace is where in the year a day lies, from 0 up to 12: twelve times the
// share of the year that has gone by, each year by its own length.
func yearPlace(day float64) float64 {
	d := time.Unix(int64(day)*86400, 0).UTC()
	first := time.Date(d.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	return 12 * float64(d.YearDay()-1) / (first.AddDate(1, 0, 0).Sub(first).Hours() / 24)
}

// enough finds the places and refuses what can show no pattern.
func (p *pattern) enough() error {
	w, period := p.work, p.cycle.Length()
	one, many := w.nouns()
	refuse := func(code, format string, args ...any) error {
		return &notebook.Error{Pos: w.ask.At("cycle", w.ask.Cycle), Code: code, Text: fmt.Sprintf(format, args...)}
	}
	c, _ := w.table.Col(p.placeColumn())
	for _, i := range p.design.Rows {
		v := c.Num[i]
		if c.Kind == table.Date {
			p.dates = append(p.dates, v)
			v = yearPlace(v)
		}
		p.places = append(p.places, v)
	}
	p.seen = rhythm.SeenOf(p.places, period)
	if n := len(p.places); n < fewRhythm {
		return refuse("few-rows", "%s the values and a time of the %s: a pattern needs %d at least", words.Capital(w.n(n, one+" has", many+" have")), w.ask.Cycle, fewRhythm)
	}
	if p.cycle == figure.Year {
		span := slices.Max(p.dates) - slices.Min(p.dates)
		if span < table.DaysPerYear-1 {
			return refuse("under-a-year", "the %s span %s: a season cannot be told from any other change over time before each part of the year has come round once", many, words.Span(span))
		}
	}
	switch need, d := 2*w.ask.Waves+2, p.seen.Distinct; {
	case d == 1:
		return refuse("one-time", "all %s are of one time of the %s (%s), so that nothing shows how other times differ", many, w.ask.Cycle, p.cycle.Words(p.places[0]))
	case d < need:
		return refuse("few-times", "the %s are of %s of the %s: %s %d different ones, since a wave passes through fewer whatever they are", many, words.N(d, "time", "times"), w.ask.Cycle, p.waveWords(), need)
	}
	need := map[figure.Cycle]int{figure.Day: partsOfDay, figure.Year: partsOfYear}[p.cycle]
	if w.ask.Waves > 1 {
		need = max(need, partsForTwo)
	}
	if p.seen.Count < need {
		return refuse("part-of-cycle", "the %s cover too little of the %s: they lie in %d of its 12 parts (%s each), and %s %d at least", many, w.ask.Cycle, p.seen.Count,
			map[figure.Cycle]string{figure.Day: "two hours", figure.Year: "a month"}[p.cycle], p.waveWords(), need)
	}
	if size := period / rhythm.Parts; w.ctx.Front.HideBelow > 1 && !p.seen.Arc.Whole {
		// The first and the last time are those of single rows.
		p.seen.Arc.From = size * math.Floor(p.seen.Arc.From/size)
		p.seen.Arc.To = size * math.Ceil(p.seen.Arc.To/size)
	}
	for k, v := range p.places {
		p.places[k] = p.seen.Arc.In(v, period)
	}
	first, two := map[int]float64{}, map[int]bool{}
	for k, g := range p.data.Group {
		if f, ok := first[g]; !ok {
			first[g] = p.places[k]
		} else if f != p.places[k] {
			two[g] = true
		}
	}
	if len(two) < fewAtTwo {
		return refuse("few-limbs", "fewer than %d %ss were seen at two times of the %s or more: nothing tells a pattern from what differs between %ss", fewAtTwo, p.one, w.ask.Cycle, p.one)
	}
	return nil
}

func (p *pattern) waveWords() string {
	if p.ask.Waves == 1 {
		return "one wave takes"
	}
	return "two waves take"
}
