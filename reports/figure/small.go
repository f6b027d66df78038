package figure

import "gonum.org/v1/plot/vg"

// smallPlot is the height of the plot of a small figure.
const smallPlot vg.Length = 77

// smallBars is how many bars a small figure has at most, besides those
// withheld or not known.
const smallBars = 8

// smallCurves is how many curves can be told apart in a small figure.
const smallCurves = 5

// smaller draws a figure anew from what it was drawn from, with some of it
// changed.
func smaller[S any](spec S, change func(*S), draw func(S) *Figure) func() *Figure {
	return func() *Figure {
		s := spec
		change(&s)
		return draw(s)
	}
}

// smallSides are the sides of the plot of a small chart: at least as far in as
// usual labels ask, so that charts above one another have their plots on one
// edge.
func smallSides(width, left, right vg.Length) (vg.Length, vg.Length) {
	return max(left, small.width("100")+tickGap+2), min(right, width-small.width("upper 100%")-10)
}

// firstBars are the first bars of those that are known, and the rest of those
// left out; a single one more is drawn.
func firstBars(bars []Bar) (out []Bar, undrawn int) {
	known := 0
	for _, b := range bars {
		if b.Hidden || b.Unknown {
			out = append(out, b)
			continue
		}
		if known++; known <= smallBars {
			out = append(out, b)
		} else {
			undrawn++
		}
	}
	if undrawn == 1 {
		return bars, 0
	}
	return out, undrawn
}
