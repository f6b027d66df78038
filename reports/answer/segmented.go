package answer

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"plybook/analysis/quality"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// segmentedJob is a series with a change in it, in the making.
type segmentedJob struct {
	*chartJob
	change   float64 // day
	decision *notebook.Decision
	data     quality.SegmentedData
	used     []int // by row of data: the period
	leftOut  []bool
	firstNew int // index of the first period of the new state
	fit      *quality.SegmentedFit
	lines    *quality.SegmentedLines // under the errors asked for
	errors   string                  // and what those are
}

// segmented answers whether a number changed with a decision, in level and
// in slope.
func segmented(w *work) error {
	j := &segmentedJob{chartJob: &chartJob{work: w, made: w.followed(), stated: true}}
	if err := j.prepare(); err != nil {
		return err
	}
	if err := j.changeDay(); err != nil {
		return err
	}
	switch {
	case j.expo != nil:
		j.kind = quality.KindU
	case j.y != nil:
		j.kind = quality.KindXmR
	case w.ask.Numerator.All:
		j.kind = quality.KindC
	default:
		j.kind = quality.KindP
	}
	var err error
	if j.s, err = j.series(j.kind); err != nil {
		return err
	}
	j.settle()
	if err := j.tooFewToShow(); err != nil {
		return err
	}
	if err := j.split(); err != nil {
		return err
	}
	if j.fit, err = quality.Segmented(j.data); err != nil {
		return j.fault(err)
	}
	j.lines, j.errors = j.fit.AR1, "autoregressive"
	if w.ask.Errors == "newey-west" {
		j.lines, j.errors = j.fit.NeweyWest, "newey-west"
	}
	if j.lines == nil {
		j.lines, j.errors = j.fit.NeweyWest, "newey-west"
		w.caution("errors-not-settled", "How far each %s leans on the one before could not be worked out, so the errors are those of Newey and West, whose intervals are too narrow in short series.", w.ask.Period)
	}
	j.segmentedCautions()
	j.segmentedTables()
	j.segmentedFigure()
	j.segmentedReading()
	j.attendChange()
	j.segmentedPrint()
	j.segmentedMethods()
	return nil
}

// changeDay is the day of the change: the one given, or that of the only
// decision that follows this question.
func (j *segmentedJob) changeDay() error {
	if d := j.ask.Change; d != nil {
		j.change = *d
		for _, m := range j.made {
			if m.On == *d {
				j.decision = m
			}
		}
		return nil
	}
	switch len(j.made) {
	case 0:
		return &notebook.Error{Pos: j.ask.Pos, Code: notebook.CodeMissingKey, Text: "segmented needs the day of the change: write it under change, or a decision that follows this question"}
	case 1:
		j.decision = j.made[0]
		j.change = j.decision.On
		return nil
	}
	var on []string
	for _, d := range j.made {
		on = append(on, words.ISODate(d.On))
	}
	return &notebook.Error{Pos: j.ask.Pos, Code: notebook.CodeMissingKey, Text: fmt.Sprintf("%d decisions follow this question (%s); write under change which one is measured", len(on), strings.Join(on, ", "))}
}

// perYear is the number of periods in a year.
func (j *segmentedJob) perYear() int {
	return map[string]int{"month": 12, "quarter": 4, "year": 1}[j.ask.Period]
}

// number counts a period from the year 0, so that the season follows from it.
func (j *segmentedJob) number(p period) int {
	t := time.Unix(int64(p.start)*86400, 0).UTC()
	n := j.perYear()
	return t.Year()*n + (int(t.Month())-1)*n/12
}

// split says of each period on which side of the change it lies, and which
// are left out: those in which the change came about, the time of transition
// after it, and those whose rows may still come in.
func (j *segmentedJob) split() error {
	s := j.s
	settledBy := j.change
	if t := j.ask.Transition; t != nil {
		settledBy += t.Days
	}
	j.leftOut = make([]bool, len(s.periods))
	j.firstNew = len(s.periods)
	for k, p := range s.periods {
		switch {
		case p.start >= settledBy && j.firstNew == len(s.periods):
			j.firstNew = k
		case p.end > j.change && p.start < settledBy:
			j.leftOut[k] = true
		}
		if k >= len(s.periods)-s.provisional {
			j.leftOut[k] = true
		}
	}
	d := quality.SegmentedData{Cycle: j.perYear()}
	if j.firstNew < len(s.periods) {
		d.Start = j.number(s.periods[j.firstNew])
	} else if n := len(s.periods); n > 0 {
		d.Start = j.number(s.periods[n-1]) + 1
	}
	for k, p := range s.periods {
		if j.leftOut[k] || !(s.den[k] > 0) {
			continue
		}
		v := s.values[k]
		if j.kind == quality.KindP || j.kind == quality.KindU {
			v = s.num[k] / s.den[k]
		}
		d.Value, d.Index = append(d.Value, v), append(d.Index, j.number(p))
		if j.kind != quality.KindC {
			d.Weight = append(d.Weight, s.den[k])
		}
		j.used = append(j.used, k)
	}
	years := 0.0
	if n := len(d.Index); n > 0 {
		years = float64(d.Index[n-1]-d.Index[0]+1) / float64(d.Cycle)
	}
	d.Season = d.Cycle > 1 && years >= quality.SeasonYears
	if told := j.ask.Seasonal; told != nil {
		if d.Season = *told; *told && years < 2 {
			return j.at("seasonal", "", notebook.CodeImpossible, "a season of the year takes at least 2 years of %ss to be told from anything else; there are %s", j.ask.Period, words.N(len(d.Index), j.ask.Period, j.ask.Period+"s"))
		}
	}
	j.data = d
	return nil
}

func (j *segmentedJob) fault(err error) error {
	switch {
	case errors.Is(err, quality.ErrFewSegment):
		before := 0
		for _, k := range j.data.Index {
			if k < j.data.Start {
				before++
			}
		}
		shorter := ""
		if s := map[string]string{"quarter": "month", "year": "quarter"}[j.ask.Period]; s != "" {
			shorter = ", choose period: " + s
		}
		return &notebook.Error{Pos: j.ask.Pos, Code: "few-points", Text: fmt.Sprintf("%s before the change and %s since can be used, and a level and a slope need at least %d on each side; use control-chart, whose rules hold for short series%s, or wait",
			words.N(before, j.ask.Period, j.ask.Period+"s"), words.N(len(j.data.Index)-before, j.ask.Period, j.ask.Period+"s"), quality.MinSegment, shorter)}
	case errors.Is(err, quality.ErrNoVariation):
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-variation", Text: "the values never change from one period to the next, so there is nothing to explain"}
	case errors.Is(err, quality.ErrExact):
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-variation", Text: "the values lie on a line before and a line since exactly, so there is no noise to hold the change against; the points themselves say it"}
	}
	return err
}

// atEnd is the number of the last period used.
func (j *segmentedJob) atEnd() int { return j.data.Index[len(j.data.Index)-1] }

// moments are the periods for which the effect is told: those asked for
// that the series reaches, else half a year and a year after the change, and
// the last.
func (j *segmentedJob) moments() []int {
	var out []int
	last := j.atEnd()
	add := func(days float64) {
		k := j.data.Start + int(math.Floor(days*float64(j.perYear())/365.25+1e-9))
		if k < last && k >= j.data.Start && (len(out) == 0 || out[len(out)-1] < k) {
			out = append(out, k)
		}
	}
	if len(j.ask.Times) > 0 {
		for _, t := range j.ask.Times {
			add(t.Days)
		}
	} else {
		add(365.25 / 2)
		add(365.25)
	}
	return append(out, last)
}

// nameOf is the period of a number.
func (j *segmentedJob) nameOf(k int) string {
	first := j.number(j.s.periods[0])
	return j.s.periods[k-first].name
}

// beyond says whether the lines run out of what the values can be.
func (j *segmentedJob) beyondScale() bool {
	for _, k := range []int{j.data.Index[0], j.data.Start - 1, j.data.Start, j.atEnd()} {
		for _, changed := range []bool{false, true} {
			if changed && k < j.data.Start {
				continue
			}
			v := j.lines.Level(k, changed)
			if j.y == nil && v < 0 || j.kind == quality.KindP && v > 1 {
				return true
			}
		}
	}
	return false
}

func (j *segmentedJob) segmentedCautions() {
	w := j.work
	j.cautions()
	f := j.fit
	if f.Before < quality.TrialPoints || f.After < quality.TrialPoints {
		w.caution("short-series", "There are %s before the change and %s since, fewer than %d on a side: only a large change could be told from noise, and the slopes least of all.",
			words.N(f.Before, w.ask.Period, w.ask.Period+"s"), words.N(f.After, w.ask.Period, w.ask.Period+"s"), quality.TrialPoints)
	}
	sum := 0.0
	for _, k := range j.used {
		sum += j.s.den[k]
	}
	if mean := sum / float64(len(j.used)); (j.kind == quality.KindP || j.kind == quality.KindXmR) && mean < 10 {
		one, many := w.nouns()
		of := words.Count(mean, one, many)
		if w.smallCount(int(math.Ceil(mean))) {
			of = w.n(1, one, many)
		}
		w.caution("small-periods", "A %s has %s on average, so that the values jump about by chance and a change is hard to see. A longer period would serve better where there are enough of them.", w.ask.Period, of)
	}
	if !j.data.Season && j.data.Cycle > 1 && w.ask.Seasonal == nil {
		w.caution("no-season", "With less than %d years no season of the year could be worked out. If winters differ from summers here, that may pass for the change.", quality.SeasonYears)
	}
	var also []string
	for _, d := range j.made {
		if d != j.decision && d.On != j.change {
			also = append(also, words.ISODate(d.On))
		}
	}
	if len(also) > 0 {
		w.caution("other-changes", "Something else was decided on %s. The lines cannot tell one change from another.", words.List(also))
	}
	if j.beyondScale() {
		w.caution("beyond-scale", "A line runs out of what the values can be (below 0%s): straight lines do not fit here for long, and the distance between them is too large at that end.",
			map[bool]string{true: ", or above 100%"}[j.kind == quality.KindP])
	}
	if f.AR1 != nil {
		clear := func(l *quality.SegmentedLines) bool {
			lo, hi := l.Effect(j.atEnd()).Interval(w.ask.Confidence)
			return lo > 0 || hi < 0
		}
		if clear(f.AR1) != clear(f.NeweyWest) {
			w.caution("errors-disagree", "Whether the difference at the end is more than chance depends on how neighbouring %ss are allowed for: the two ways in the table do not agree.", w.ask.Period)
		}
	}
}
