package quality

import (
	"fmt"
	"sort"

	"plybook/analysis/stats"
)

// Bar is a category of a Pareto chart.
type Bar struct {
	Category          string
	Count             int
	Percent           float64 // of all rows, the unknown included
	CumulativePercent float64
	Unknown           bool // the category was not recorded: always last
}

// ParetoChart is the count of each category, largest first.
type ParetoChart struct {
	Bars     []Bar
	Rows     int
	Unknown  int
	Warnings []stats.Warning
}

// ParetoOptions are the choices of a Pareto chart.
type ParetoOptions struct {
	// Unknown are the labels that stand for a category not recorded, beside
	// the empty text. They are counted together.
	Unknown []string
	// UnknownLabel is what their bar is called; "" means "not known".
	UnknownLabel string
}

// Pareto counts categories, one per row. Bars are sorted by count, then by
// name; what is not known is kept apart and last, whatever its size.
// Percentages are of all rows, and the last cumulative percentage is 100.
// No rows give stats.ErrNoRows.
func Pareto(categories []string, o ParetoOptions) (*ParetoChart, error) {
	if len(categories) == 0 {
		return nil, fmt.Errorf("pareto: %w", stats.ErrNoRows)
	}
	if o.UnknownLabel == "" {
		o.UnknownLabel = "not known"
	}
	unknown := map[string]bool{"": true, o.UnknownLabel: true}
	for _, u := range o.Unknown {
		unknown[u] = true
	}
	out := &ParetoChart{Rows: len(categories)}
	count := map[string]int{}
	for _, c := range categories {
		if unknown[c] {
			out.Unknown++
			continue
		}
		count[c]++
	}
	for c, n := range count {
		out.Bars = append(out.Bars, Bar{Category: c, Count: n})
	}
	sort.Slice(out.Bars, func(i, j int) bool {
		a, b := out.Bars[i], out.Bars[j]
		if a.Count != b.Count {
			return a.Count > b.Count
		}
		return a.Category < b.Category
	})
	if out.Unknown > 0 {
		out.Bars = append(out.Bars, Bar{Category: o.UnknownLabel, Count: out.Unknown, Unknown: true})
	}
	cum := 0
	for i := range out.Bars {
		b := &out.Bars[i]
		cum += b.Count
		b.Percent = 100 * float64(b.Count) / float64(out.Rows)
		b.CumulativePercent = 100 * float64(cum) / float64(out.Rows)
	}
	switch {
	case out.Unknown == out.Rows:
		out.warn("all-unknown", "None of the %d rows says which it was.", out.Rows)
	case 10*out.Unknown > out.Rows:
		out.warn("many-unknown", "%d of %d rows do not say which it was, more than one in ten: the order of the bars may be another.", out.Unknown, out.Rows)
	}
	return out, nil
}

func (p *ParetoChart) warn(code, format string, args ...any) {
	p.Warnings = append(p.Warnings, stats.Warning{Code: code, Text: fmt.Sprintf(format, args...)})
}
