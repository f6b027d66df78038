package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/words"
)

// incidenceLost gives the mean time lost to each cause within a period, and
// that in use, which add up to it. The printed table has rows only where the
// period was asked for.
func (w *work) incidenceLost(l *lives, fits []incidence) (document.Table, error) {
	t := tableOf("time_lost", text("group"), text("cause"), number("until", "days"), number("estimate", "days"), number("std_error", "days"), number("low", "days"), number("high", "days"))
	defer func() { w.addTable(t) }()
	until := math.Inf(1)
	for _, f := range fits {
		until = math.Min(until, f.fit.LastTime)
	}
	if until = w.wholeQuarters(until); w.ask.Until != nil {
		until = w.ask.Until.Days
	}
	print := document.Table{ID: w.ask.ID + "-lost", Caption: "Mean time in use and lost within " + words.Span(until) + byWords(w.ask.By),
		Columns: []document.TableColumn{{Head: "Reason", Wide: true}, {Head: "Mean time, days", Align: document.Right}},
		Notes:   []string{"In brackets: " + w.confidenceWords() + fmt.Sprintf(". Of %s after the start, each socket spends so many days in use and loses so many to each reason; the lines of a group add up.", words.Span(until))}}
	if until <= 0 {
		return print, nil
	}
	for _, f := range fits {
		// An area up to a time tells what the curve does there.
		if _, free, ok := f.fit.At(until); ok && !f.open.allow(until, free.AtRisk) {
			for k := range len(l.causes) + 1 {
				w.withhold(t, 3, []any{f.name, lostTo(l, k), until})
			}
			continue
		}
		if len(fits) > 1 {
			print.Strong = append(print.Strong, len(print.Rows))
			print.Rows = append(print.Rows, []string{w.groupName(f.name)})
		}
		for k := range len(l.causes) + 1 {
			x, err := f.fit.TimeLost(k, until)
			if errors.Is(err, survival.ErrBeyondFollowUp) {
				w.caution("beyond-follow-up", "%s: nobody was at risk up to %s, so the time lost within it is not given.", w.groupName(f.name), words.At(until))
				break
			}
			if err != nil {
				return print, err
			}
			t.row(f.name, lostTo(l, k), until, x.Estimate, when(x.HasBounds, x.StdErr), when(x.HasBounds, x.Low), when(x.HasBounds, x.High))
			name, cell := "Still in use", words.Fixed(x.Estimate, 0)
			if k > 0 {
				name = words.Capital(causeLabel(l.causes[k-1].name))
			}
			if x.HasBounds {
				cell = words.Rate(x.Estimate, x.Low, x.High) + " (" + words.RateRange(x.Low, x.High) + ")"
			}
			if len(fits) > 1 {
				name = "  " + name
			}
			print.Rows = append(print.Rows, []string{name, cell})
		}
	}
	if w.ask.Until == nil {
		print.Rows = nil
	}
	return print, nil
}

// lostTo names what time is lost to; 0 is the time in use.
func lostTo(l *lives, k int) string {
	if k == 0 {
		return eventFree
	}
	return l.causes[k-1].name
}
