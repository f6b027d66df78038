package rhythm

import "math"

// Turn is the highest or the lowest place of a curve. At an edge of what was
// seen the curve goes on beyond it, and Time has no error.
type Turn struct {
	Time Estimate // within the arc; see Wave.Peak of Low and High
	Edge bool
}

// Extremes are the highest and the lowest place of a curve within an arc, and
// the difference of the two, whose Low is not below 0.
type Extremes struct {
	Highest, Lowest Turn
	Change          Estimate
}

// grid is in how many steps an arc is searched; between two of them a curve of
// a few waves turns once at most.
const grid = 720

// Extremes searches the arc. The error of the difference is that of the curve
// between two fixed places, since at a turn the curve does not move with its
// time; that of the time of a turn is the error of the slope there over the
// bend (delta method), and its interval holds the times at which the slope is
// not told from 0.
func (c Curve) Extremes(arc Arc) (Extremes, error) {
	if err := c.check(); err != nil {
		return Extremes{}, err
	}
	var out Extremes
	var err error
	if out.Highest, err = c.turn(arc, 1); err != nil {
		return Extremes{}, err
	}
	if out.Lowest, err = c.turn(arc, -1); err != nil {
		return Extremes{}, err
	}
	w, low := c.weights(out.Highest.Time.Value), c.weights(out.Lowest.Time.Value)
	same := true
	for j := range w {
		w[j] -= low[j]
		same = same && w[j] == 0
	}
	if same { // a curve without any height
		out.Change = Estimate{0, math.NaN(), math.NaN(), math.NaN()}
		return out, nil
	}
	if out.Change, err = c.Sum(w); err != nil {
		return Extremes{}, err
	}
	out.Change.Low = math.Max(0, out.Change.Low)
	return out, nil
}

// turn finds where sign times the curve is highest.
func (c Curve) turn(arc Arc, sign float64) (Turn, error) {
	step := (arc.To - arc.From) / grid
	best, at := math.Inf(-1), 0
	for k := 0; k <= grid; k++ {
		if v := sign * c.value(arc.From+step*float64(k)); v > best {
			best, at = v, k
		}
	}
	x := arc.From + step*float64(at)
	lo, hi := x-step, x+step
	if !arc.Whole && (at == 0 || at == grid) {
		lo, hi = math.Max(lo, arc.From), math.Min(hi, arc.To)
	}
	slope := func(x float64) float64 { return sign * c.dot(columnsAt(x, c.Period, c.waves(), 1)) }
	nan := math.NaN()
	if slope(lo) <= 0 || slope(hi) >= 0 {
		return Turn{Time: Estimate{x, nan, nan, nan}, Edge: !arc.Whole && (at == 0 || at == grid)}, nil
	}
	for range 60 {
		if mid := (lo + hi) / 2; slope(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	x = (lo + hi) / 2
	bend := math.Abs(c.dot(columnsAt(x, c.Period, c.waves(), 2)))
	if bend == 0 {
		return Turn{Time: Estimate{x, nan, nan, nan}}, nil
	}
	along := func(x float64) []float64 { return columnsAt(x, c.Period, c.waves(), 1) }
	side, err := c.Sum(along(x))
	if err != nil {
		return Turn{}, err
	}
	t := Turn{Time: Estimate{Value: x, SE: side.SE / bend}}
	t.Time.Low, t.Time.High, err = c.around(x, sign, c.Period/4, along)
	return t, err
}
