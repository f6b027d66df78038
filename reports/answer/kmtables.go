package answer

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

var curveColumns = []Column{number("time", "days"), count("at_risk"), count("events"), count("censored"),
	number("estimate", ""), number("std_error", ""), number("low", ""), number("high", "")}

func pointValues(p survival.Point) []any {
	return []any{p.Time, p.AtRisk, p.Events, p.Censored, p.Estimate,
		when(p.HasBounds, p.StdErr), when(p.HasBounds, p.Low), when(p.HasBounds, p.High)}
}

func (w *work) curveTable(fits []fitted) {
	t := tableOf("curve", append([]Column{text("group")}, curveColumns...)...)
	for _, f := range fits {
		for _, p := range f.open.thin(f.curve.Points) {
			t.row(append([]any{f.name}, pointValues(p)...)...)
		}
	}
	w.addTable(t)
}

func (w *work) quantileTable(fits []fitted) {
	qs := w.ask.Quantiles
	if len(qs) == 0 {
		qs = []float64{0.25, 0.5, 0.75}
	}
	t := tableOf("quantiles", text("group"), number("quantile", ""), number("estimate", "days"), number("low", "days"), number("high", "days"))
	for _, f := range fits {
		for _, p := range qs {
			if !w.tellsTimes(f.counted()) {
				w.withhold(t, 2, []any{f.name, p})
				continue
			}
			q := w.quantile(f.curve, p)
			t.row(f.name, p, when(q.Estimate.OK, q.Estimate.Value), when(q.Low.OK, q.Low.Value), when(q.High.OK, q.High.Value))
		}
	}
	w.addTable(t)
}

func (w *work) atTimesTable(fits []fitted) {
	t := tableOf("at_times", append([]Column{text("group")}, curveColumns...)...)
	withheld := false
	for _, f := range fits {
		for _, at := range sortedTimes(w.ask.Times) {
			p, ok := f.curve.At(at.Days)
			switch {
			case !ok:
				w.caution("beyond-follow-up", "%s: nobody was still at risk at %s, so nothing can be said of that time.", w.groupName(f.name), words.At(at.Days))
				t.row(f.name, at.Days, 0, nil, nil, nil, nil, nil, nil)
			case f.open.allow(at.Days, p.AtRisk):
				f.shown[at.Days] = true
				t.row(append([]any{f.name}, pointValues(p)...)...)
			default:
				withheld = true
				w.withhold(t, 2, []any{f.name, at.Days})
			}
		}
	}
	if withheld {
		w.caution("times-hidden", "%s", w.timesHidden())
	}
	w.addTable(t)
}

// timesHidden says why a share at a time is not given.
func (w *work) timesHidden() string {
	return fmt.Sprintf("Shares are hidden at times up to which, or since the time shown before, fewer than %d sockets ended one way or fewer than that were left: the share would tell the count.", w.ctx.Front.HideBelow)
}

// sortedTimes are the times asked for, in order.
func sortedTimes(in []notebook.Duration) []notebook.Duration {
	out := slices.Clone(in)
	slices.SortStableFunc(out, func(a, b notebook.Duration) int { return cmp.Compare(a.Days, b.Days) })
	return out
}

// withhold appends a row of which only the first cells are shown; the rest
// count as hidden.
func (w *work) withhold(t *Table, from int, cells []any) {
	for j := from; j < len(t.Columns); j++ {
		cells = append(cells, nil)
		w.Hidden = append(w.Hidden, HiddenCell{t.Name, len(t.Rows), t.Columns[j].Name})
	}
	t.Rows = append(t.Rows, cells)
}

func (w *work) rmstTable(fits []fitted, until float64) ([]survival.Difference, error) {
	t := tableOf("rmst", text("group"), number("until", "days"), number("estimate", "days"), number("std_error", "days"),
		number("low", "days"), number("high", "days"), number("p", ""))
	z := stats.NormalQuantile(1 - (1-w.ask.Confidence)/2)
	var diffs []survival.Difference
	ok := make([]bool, len(fits))
	for k, f := range fits {
		if until <= 0 {
			t.row(f.name, until, nil, nil, nil, nil, nil)
			continue
		}
		if !w.meanTold(f, until) {
			w.withhold(t, 2, []any{f.name, until})
			continue
		}
		e, se, err := f.curve.RMST(until)
		if errors.Is(err, survival.ErrBeyondFollowUp) {
			w.caution("beyond-follow-up", "%s: nobody was at risk up to %s, so the mean time in use within it is not given.", w.groupName(f.name), words.At(until))
			t.row(f.name, until, nil, nil, nil, nil, nil)
			continue
		}
		if err != nil {
			return nil, err
		}
		ok[k] = true
		if se > 0 {
			t.row(f.name, until, e, se, math.Max(0, e-z*se), math.Min(until, e+z*se), nil)
		} else {
			t.row(f.name, until, e, nil, nil, nil, nil)
		}
	}
	for a := range fits {
		for b := a + 1; b < len(fits); b++ {
			if !ok[a] || !ok[b] {
				continue
			}
			d, err := survival.RMSTDifference(fits[a].curve, fits[b].curve, until, w.ask.Confidence)
			if err != nil {
				return nil, err
			}
			diffs = append(diffs, d)
			t.row(fits[b].name+" - "+fits[a].name, until, d.Estimate, when(d.HasTest, d.StdErr), when(d.HasTest, d.Low), when(d.HasTest, d.High), when(d.HasTest, d.P))
		}
	}
	w.addTable(t)
	return diffs, nil
}
