package quality

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/stats"
)

// Bar is a category of a Pareto chart.
type Bar struct {
	Category string
	Count    int // cases that name it
	// Percent is of all cases, the unknown included; where cases have weights,
	// of their sum.
	Percent float64
	// CumulativePercent is the share of cases that name this category or one
	// before it; where cases have weights, the running sum. The last is 100.
	CumulativePercent float64
	Weight            float64  // sum of weights; the count without
	Unknown           bool     // the category was not recorded: always last
	Pooled            []string // the categories that are pooled in it, in order of size
}

// ParetoChart is the count of each category, largest first.
type ParetoChart struct {
	Bars     []Bar
	Rows     int     // cases
	Unknown  int     // cases that name none
	Several  int     // cases that name more than one
	Named    int     // categories named, over all cases
	Total    float64 // sum of weights; the cases without
	Warnings []stats.Warning
}

// ParetoOptions are the choices of a Pareto chart.
type ParetoOptions struct {
	// Unknown are the labels that stand for a category not recorded, beside
	// the empty text. They are counted together.
	Unknown []string
	// UnknownLabel is what their bar is called; "" means "not known".
	UnknownLabel string
	// PoolBelow pools the categories of less than this share, where there are
	// at least two, into one bar before that of the unknown. 0: none.
	PoolBelow float64
	// PooledLabel is what that bar is called; "" means "all others".
	PooledLabel string
}

// ParetoCase is a case that names its categories.
type ParetoCase struct {
	Categories []string
	Weight     float64 // of a weighted chart: not below 0
}

// Pareto counts categories, one per row.
func Pareto(categories []string, o ParetoOptions) (*ParetoChart, error) {
	cases := make([]ParetoCase, len(categories))
	for i, c := range categories {
		cases[i] = ParetoCase{Categories: []string{c}, Weight: 1}
	}
	return ParetoOf(cases, false, o)
}

// ParetoOf counts the categories that cases name. Each counts once a case,
// however often it is named; a case that names several counts for each of
// them, and the cumulative percentage is of the cases that name one of the
// categories so far, so that it ends at 100 all the same. Where the cases are
// weighted, by minutes or money, the weight of a case is split evenly over
// what it names, so that the bars add up to the whole.
//
// Bars are sorted by count (by weight where there is one), then by name; what
// is not known is kept apart and last, whatever its size. No cases give
// stats.ErrNoRows, a weight below 0 ErrBadValue, weights that are all 0
// stats.ErrNoEvents.
func ParetoOf(cases []ParetoCase, weighted bool, o ParetoOptions) (*ParetoChart, error) {
	if len(cases) == 0 {
		return nil, fmt.Errorf("pareto: %w", stats.ErrNoRows)
	}
	if o.UnknownLabel == "" {
		o.UnknownLabel = "not known"
	}
	if o.PooledLabel == "" {
		o.PooledLabel = "all others"
	}
	unknown := map[string]bool{"": true, o.UnknownLabel: true}
	for _, u := range o.Unknown {
		unknown[u] = true
	}
	out := &ParetoChart{Rows: len(cases)}
	named := make([][]string, len(cases))
	count, weight := map[string]int{}, map[string]float64{}
	var lost float64
	for i, c := range cases {
		if !weighted {
			c.Weight = 1
		}
		if !(c.Weight >= 0) || math.IsInf(c.Weight, 0) {
			return nil, fmt.Errorf("pareto: a weight of %v: %w", c.Weight, ErrBadValue)
		}
		out.Total += c.Weight
		seen := map[string]bool{}
		for _, k := range c.Categories {
			if !unknown[k] && !seen[k] {
				seen[k] = true
				named[i] = append(named[i], k)
			}
		}
		if len(named[i]) == 0 {
			out.Unknown++
			lost += c.Weight
			continue
		}
		if len(named[i]) > 1 {
			out.Several++
		}
		for _, k := range named[i] {
			count[k]++
			out.Named++
			weight[k] += c.Weight / float64(len(named[i]))
		}
	}
	if !(out.Total > 0) {
		return nil, fmt.Errorf("pareto: the weights are all 0: %w", stats.ErrNoEvents)
	}
	for c, n := range count {
		b := Bar{Category: c, Count: n, Weight: float64(n)}
		if weighted {
			b.Weight = weight[c]
		}
		out.Bars = append(out.Bars, b)
	}
	sort.Slice(out.Bars, func(i, j int) bool {
		a, b := out.Bars[i], out.Bars[j]
		if a.Weight != b.Weight {
			return a.Weight > b.Weight
		}
		return a.Category < b.Category
	})
	place := out.pool(o, named, weighted)
	if out.Unknown > 0 {
		b := Bar{Category: o.UnknownLabel, Count: out.Unknown, Unknown: true, Weight: float64(out.Unknown)}
		if weighted {
			b.Weight = lost
		}
		out.Bars = append(out.Bars, b)
	}
	out.accumulate(named, place, weighted)
	switch {
	case out.Unknown == out.Rows:
		out.warn("all-unknown", "None of the %d rows says which it was.", out.Rows)
	case 10*out.Unknown > out.Rows:
		out.warn("many-unknown", "%d of %d rows do not say which it was, more than one in ten: the order of the bars may be another.", out.Unknown, out.Rows)
	}
	return out, nil
}

// pool puts small bars into one and says in which bar each category stands.
func (p *ParetoChart) pool(o ParetoOptions, named [][]string, weighted bool) map[string]int {
	keep := len(p.Bars)
	for keep > 0 && p.Bars[keep-1].Weight < o.PoolBelow*p.Total {
		keep--
	}
	place := map[string]int{}
	for i, b := range p.Bars {
		place[b.Category] = i
	}
	if len(p.Bars)-keep < 2 {
		return place
	}
	all := Bar{Category: o.PooledLabel}
	for _, b := range p.Bars[keep:] {
		all.Pooled = append(all.Pooled, b.Category)
		all.Weight += b.Weight
		place[b.Category] = keep
	}
	for _, names := range named {
		for _, k := range names {
			if place[k] == keep {
				all.Count++
				break
			}
		}
	}
	if !weighted {
		all.Weight = float64(all.Count)
	}
	p.Bars = append(p.Bars[:keep:keep], all)
	return place
}

// accumulate sets the percentages.
func (p *ParetoChart) accumulate(named [][]string, place map[string]int, weighted bool) {
	first := make([]int, len(p.Bars)) // cases whose first bar it is
	for _, names := range named {
		at := len(p.Bars) - 1 // the unknown
		for _, k := range names {
			at = min(at, place[k])
		}
		first[at]++
	}
	cum := 0.0
	for i := range p.Bars {
		b := &p.Bars[i]
		b.Percent = 100 * b.Weight / p.Total
		if weighted {
			cum += b.Weight
		} else {
			cum += float64(first[i])
		}
		b.CumulativePercent = 100 * cum / p.Total
	}
	// Sums of weights may end a hair off the whole.
	if n := len(p.Bars); n > 0 {
		p.Bars[n-1].CumulativePercent = 100
	}
}

func (p *ParetoChart) warn(code, format string, args ...any) {
	p.Warnings = append(p.Warnings, stats.Warning{Code: code, Text: fmt.Sprintf(format, args...)})
}
