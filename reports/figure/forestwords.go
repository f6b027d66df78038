package figure

import "math"

// size prints an estimate; a ratio has no smaller or larger size worth
// telling than a thousandth and a million.
func (d *forestDrawing) size(v float64, show func(float64) string) string {
	switch {
	case d.spec.Linear:
	case v < 0.001:
		return "<0.001"
	case v > 1e6:
		return ">1,000,000"
	}
	return show(v)
}

func (d *forestDrawing) numbers(r ForestRow) string {
	// Enough decimals that the interval's width shows two figures.
	show := brief
	if width := r.High - r.Low; finite(width) && width > 0 && width < 1e6 {
		need := min(max(int(math.Ceil(1-math.Log10(width))), 0), 5)
		if d.spec.Linear || need > 2 {
			show = func(v float64) string { return decimal(v, need) }
		}
	}
	if !d.spec.Linear {
		exact := show
		show = func(v float64) string { return d.size(v, exact) }
	}
	t := show(r.Estimate)
	if finite(r.Low) || finite(r.High) {
		low, high := show(r.Low), show(r.High)
		if !finite(r.High) {
			high = "no limit"
		}
		if !finite(r.Low) {
			low = "no limit"
		}
		t += " (" + low + " to " + high + ")"
	}
	return t
}
