package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
	"gonum.org/v1/plot/vg"
)

// Residual is one row's fitted value and its standardized residual.
type Residual struct{ Fitted, Residual float64 }

// ResidualsSpec says what to draw.
type ResidualsSpec struct {
	ID        string
	Title     string // default "How well the model fits"
	Unit      string // of the fitted values
	Residuals []Residual
	Width     vg.Length
}

// Residuals draws two panels: residuals against fitted values, and the
// ordered residuals against those a normal distribution would give
// (quantiles at (i-0.5)/n).
func Residuals(spec ResidualsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = "How well the model fits"
	}
	var pts []XY
	var res []float64
	dropped := 0
	for _, r := range spec.Residuals {
		if !finite(r.Fitted) || !finite(r.Residual) {
			dropped++
			continue
		}
		pts = append(pts, XY{r.Fitted, r.Residual})
		res = append(res, r.Residual)
	}
	if len(pts) == 0 {
		return nothing(fig, spec.Width, "There are no residuals to draw.")
	}
	sortFloats(res)
	normal := make([]XY, len(res))
	beyond := 0
	for i, r := range res {
		normal[i] = XY{distuv.UnitNormal.Quantile((float64(i) + 0.5) / float64(len(res))), r}
		if math.Abs(r) > 2 {
			beyond++
		}
	}
	width := widthOr(spec.Width)
	gap := vg.Length(18)
	left := xyDrawing{width0: (width - gap) / 2, xTitle: "Fitted value", xUnit: spec.Unit, yTitle: "Standardized residual"}
	right := xyDrawing{width0: (width - gap) / 2, xTitle: "Expected if normal", yTitle: "Standardized residual"}
	left.keep(pts)
	left.axes(6, nil, 150)
	right.keep(normal)
	right.axes(6, nil, 150)
	zero := []BandPoint{{X: left.x.lo}, {X: left.x.hi}}
	if left.y.holds(0) {
		left.curve(zero, 0.9, quiet, nil)
	}
	lo, hi := math.Max(right.x.lo, right.y.lo), math.Min(right.x.hi, right.y.hi)
	if lo < hi {
		right.curve([]BandPoint{{X: lo, Y: lo}, {X: hi, Y: hi}}, 0.9, quiet, []vg.Length{4, 2})
	}
	said := left.scatter(pts)
	right.scatter(normal)
	// The second panel is moved beside the first.
	both := &frame{scene: &scene{width: width}}
	both.marks = append(both.marks, left.marks...)
	right.shift((width+gap)/2, 0)
	both.marks = append(both.marks, right.marks...)
	both.below = min(left.below, right.below)
	both.notes(strings.TrimSpace("Line at the left: no residual; broken line at the right: normal. " + said))
	fig.Description = fmt.Sprintf("Residuals against fitted values and against a normal distribution: %s, %d beyond 2 standard deviations.", plural(len(pts), "value", "values"), beyond)
	fig.Long = fmt.Sprintf("Residuals run from %s to %s, the middle one is %s.", brief(res[0]), brief(res[len(res)-1]), brief(res[len(res)/2])) + droppedNote(dropped, "value")
	return both.finish(fig)
}
