package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/words"
)

// timeLostTable gives the mean time lost within the period and the ratios of
// it, with intervals made on the logarithm.
func (w *work) timeLostTable(fits []fitted, until float64) error {
	t := tableOf("time_lost", text("group"), number("until", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""), number("p", ""))
	defer func() { w.addTable(t) }()
	if until <= 0 {
		return nil
	}
	ok := make([]bool, len(fits))
	for k, f := range fits {
		if !w.meanTold(f, until) {
			w.withhold(t, 2, []any{f.name, until})
			continue
		}
		x, err := f.curve.TimeLost(until)
		if errors.Is(err, survival.ErrBeyondFollowUp) {
			continue // said of the mean already
		}
		if err != nil {
			return err
		}
		ok[k] = true
		t.row(f.name, until, x.Estimate, when(x.HasBounds, x.StdErr), when(x.HasBounds, x.Low), when(x.HasBounds, x.High), nil)
	}
	for a := range fits {
		for b := a + 1; b < len(fits); b++ {
			if !ok[a] || !ok[b] {
				continue
			}
			x, has, err := survival.TimeLostRatio(fits[a].curve, fits[b].curve, until, w.ask.Confidence)
			if err != nil {
				return err
			}
			if has {
				t.row(fits[b].name+" / "+fits[a].name, until, x.Estimate, when(x.HasBounds, x.StdErr), when(x.HasBounds, x.Low), when(x.HasBounds, x.High), when(x.HasBounds, x.P))
			}
		}
	}
	return nil
}

// hazardTable gives the cumulative hazard of each group.
func (w *work) hazardTable(fits []fitted, o survival.CurveOptions) error {
	t := tableOf("cumulative_hazard", append([]Column{text("group")}, curveColumns...)...)
	for _, f := range fits {
		h, err := survival.NelsonAalen(f.data, survival.CurveOptions{Level: o.Level, Jackknife: o.Jackknife})
		if err != nil {
			return fmt.Errorf("group %s: %w", f.name, err)
		}
		for _, p := range f.open.thin(h.Points) {
			t.row(append([]any{f.name}, pointValues(p)...)...)
		}
	}
	w.addTable(t)
	return nil
}

// watch is how long a group was watched, and how often the event came.
type watch struct {
	rate               survival.Rate      // per year
	clustered          survival.GroupRate // the same, with an interval that allows for rows of one person; no bounds where rows are independent or weighed
	median             survival.Quantile
	possible, complete float64 // years, and the share of them that was seen
	hasComplete        bool
	exact              bool // the interval of the rate is: events were counted, not weighed
	hidden             bool
}

// watchedTables are the tables of rates and of follow-up, and the printed
// table of both.
func (w *work) watchedTables(l *lives, fits []fitted, o survival.CurveOptions) (document.Table, error) {
	rates := tableOf("rates", text("group"), count("rows"), count("events"), number("years", "socket-years"), number("estimate", "per 100 socket-years"), number("low", ""), number("high", ""), number("clustered_low", ""), number("clustered_high", ""))
	follow := tableOf("follow_up", text("group"), count("rows"), number("median", "days"), number("low", "days"), number("high", "days"),
		number("observed_years", ""), number("possible_years", ""), number("completeness", ""))
	var all []watch
	for _, f := range fits {
		x, err := w.watched(l, f, o)
		if err != nil {
			return document.Table{}, fmt.Errorf("group %s: %w", f.name, err)
		}
		all = append(all, x)
		if x.hidden {
			w.withhold(rates, 2, []any{f.name, f.curve.Rows})
			w.withhold(follow, 2, []any{f.name, f.curve.Rows})
			continue
		}
		r := x.rate
		rates.row(f.name, f.curve.Rows, r.Events, r.Watched, when(r.HasRate, 100*r.Estimate), when(r.HasRate && x.exact, 100*r.Low), when(r.HasRate && x.exact, 100*r.High),
			when(x.clustered.HasBounds, 100*x.clustered.Low), when(x.clustered.HasBounds, 100*x.clustered.High))
		m := x.median
		follow.row(f.name, f.curve.Rows, when(m.Estimate.OK, m.Estimate.Value), when(m.Low.OK, m.Low.Value), when(m.High.OK, m.High.Value),
			r.Watched, when(x.hasComplete, x.possible), when(x.hasComplete, x.complete))
	}
	w.addTable(rates)
	w.addTable(follow)
	w.followedUnequally(fits, all)
	return w.watchedPrint(fits, all), nil
}

func (w *work) watched(l *lives, f fitted, o survival.CurveOptions) (watch, error) {
	var x watch
	flipped, events, seen, days, possible := f.data, 0, 0.0, 0.0, 0.0
	flipped.Cause = make([]int, len(f.data.Cause))
	for i, j := range f.index {
		stands := 1.0
		if f.data.Weight != nil {
			stands = f.data.Weight[i]
		}
		days += stands * (f.data.Time[i] - f.data.Entry[i])
		possible += stands * (math.Max(f.data.Time[i], w.couldHave(l, j)) - f.data.Entry[i])
		if f.data.Cause[i] > 0 {
			events++
			seen += stands
		} else {
			flipped.Cause[i] = 1
		}
	}
	x.hidden = w.hiddenCount(events) || w.hiddenCount(len(f.index)-events)
	var err error
	if x.rate, err = survival.PoissonRate(seen, days/table.DaysPerYear, w.ask.Confidence); err != nil {
		return x, err
	}
	c, err := survival.KaplanMeier(flipped, o)
	if err != nil {
		return x, err
	}
	x.exact = !o.Jackknife
	if f.data.Cluster != nil && x.exact {
		if x.clustered, err = clusteredRate(f.data, w.ask.Confidence); err != nil {
			return x, err
		}
	}
	x.median = w.quantile(c, 0.5)
	if w.ask.Event.Condition == nil && w.ask.End == "" && possible > 0 {
		x.possible, x.complete, x.hasComplete = possible/table.DaysPerYear, days/possible, true
	}
	return x, nil
}

// clusteredRate is the rate of events of a group a year, with an interval by
// Poisson regression whose errors are summed within clusters.
func clusteredRate(d survival.Data, level float64) (survival.GroupRate, error) {
	n := len(d.Time)
	events, years := make([]float64, n), make([]float64, n)
	for i := range n {
		years[i] = (d.Time[i] - d.Entry[i]) / table.DaysPerYear
		if d.Cause[i] > 0 {
			events[i] = 1
		}
	}
	rates, err := survival.ClusteredRates(events, years, make([]int, n), d.Cluster, 1, level)
	if err != nil {
		return survival.GroupRate{}, err
	}
	return rates[0], nil
}

// couldHave is how long a life could have been watched: to its end if that is
// known, else to the data cut.
func (w *work) couldHave(l *lives, j int) float64 {
	gone := l.Cause[j] == 0 && l.EndReason[j] == ""
	for _, r := range w.ctx.Sets["untraced"] {
		gone = gone || l.Cause[j] == 0 && l.EndReason[j] == r && r != "unknown"
	}
	if !gone {
		return l.Time[j]
	}
	return l.Cut(j) - l.Start[j]
}

// followedUnequally warns where one group was followed less completely than
// another.
func (w *work) followedUnequally(fits []fitted, all []watch) {
	least, most := -1, -1
	for k, x := range all {
		if !x.hasComplete || x.hidden {
			continue
		}
		if least < 0 || x.complete < all[least].complete {
			least = k
		}
		if most < 0 || x.complete > all[most].complete {
			most = k
		}
	}
	if least < 0 || all[most].complete-all[least].complete <= 0.1 {
		return
	}
	say := func(k int) string { return words.Percent(all[k].complete, fits[k].curve.Rows) }
	w.caution("followed-unequally", "The groups were not followed equally well: of the time for which sockets could have been watched, %s was in the group %s and %s in the group %s. If those not seen fare better or worse than those seen, the groups differ by that too.",
		say(most), w.display(fits[most].name), say(least), w.display(fits[least].name))
}

func (w *work) watchedPrint(fits []fitted, all []watch) document.Table {
	cells := [][]string{{"", "Time watched, socket-years", "Events per 100 socket-years", "Its interval with sockets of one person taken together", "Half were followed for at least", "Of the time that could have been watched"}}
	complete, clustered := false, false
	like := 0.0
	for _, x := range all {
		like = math.Max(like, x.median.Estimate.Value)
	}
	for k, f := range fits {
		x := all[k]
		row := []string{w.groupName(f.name), "hidden", "hidden", "hidden", "hidden", "hidden"}
		if !x.hidden {
			row = []string{row[0], words.Plain(x.rate.Watched), words.NotComputed, words.NotComputed, quantileText(x.median, like), words.NotComputed}
			if x.rate.HasRate && !x.exact {
				row[2] = words.Plain(100 * x.rate.Estimate)
			} else if x.rate.HasRate {
				lo, hi := 100*x.rate.Low, 100*x.rate.High
				row[2] = words.Rate(100*x.rate.Estimate, lo, hi) + " (" + words.RateRange(lo, hi) + ")"
			}
			if c := x.clustered; c.HasBounds {
				clustered = true
				row[3] = words.RateRange(100*c.Low, 100*c.High)
			}
			if x.hasComplete {
				complete = true
				row[5] = words.Percent(x.complete, f.curve.Rows)
			}
		}
		cells = append(cells, row)
	}
	if !complete {
		for i := range cells {
			cells[i] = cells[i][:5]
		}
	}
	if !clustered {
		for i := range cells {
			cells[i] = slices.Delete(cells[i], 3, 4)
		}
	}
	if len(fits) <= 3 {
		cells = transposed(cells)
	}
	t := document.Table{ID: w.ask.ID + "-watched", Caption: "How long the sockets were watched" + byWords(w.ask.By)}
	t.Columns, t.Rows = headed(cells)
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". The rate is one number for the whole of a socket's life: it says how often, the curve says when."}
	if clustered {
		t.Notes = append(t.Notes, "The interval beside the rate takes every socket by itself; where sockets of one person fail alike, read the other.")
	}
	return t
}

func (w *work) watchedMethods(cluster string) string {
	var s strings.Builder
	s.WriteString(" The interval of the mean time in use within a period was made on the logarithm of the time lost. Rates have exact Poisson intervals")
	if cluster != "" {
		s.WriteString(", which take sockets of one person as independent, and beside them intervals by Poisson regression with errors summed by " + cluster)
	}
	s.WriteString("; follow-up is the median of the curve with events and censorings exchanged")
	if w.ask.Event.Condition == nil && w.ask.End == "" {
		s.WriteString(", and its completeness the time watched over the time that could have been, had everyone without a known end been followed to the data cut")
	}
	s.WriteString(".")
	if w.ask.Hazard != nil {
		fmt.Fprintf(&s, " The rate by time in use was smoothed over %s to either side, with boundary kernels.", words.At(w.ask.Hazard.Days))
	}
	return s.String()
}

func (w *work) watchedReferences() []string {
	out := []string{
		"Schemper M, Smith TL. A note on quantifying follow-up in studies of failure time. Control Clin Trials 1996; 17: 343-346.",
	}
	if w.ask.Event.Condition == nil && w.ask.End == "" {
		out = append(out, "Clark TG, Altman DG, De Stavola BL. Quantification of the completeness of follow-up. Lancet 2002; 359: 1309-1310.")
	}
	if w.ask.Hazard != nil {
		out = append(out, "Ramlau-Hansen H. Smoothing counting process intensities by means of kernel functions. Ann Stat 1983; 11: 453-466.")
	}
	return out
}
