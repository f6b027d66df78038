package survival

import "math"

// Limit is a time that may not have been reached.
type Limit struct {
	Value float64
	OK    bool // false: the curve, or its bound, does not go down that far
}

// Quantile is the time by which a share p of the rows had the event.
type Quantile struct {
	P         float64
	Estimate  Limit
	Low, High Limit // where the bounds of the curve cross 1-p (Brookmeyer and Crowley 1982, Biometrics 38:29)
}

// sameLevel is how close the curve must come to 1-p to count as lying
// exactly on it: the products of a curve carry rounding errors.
const sameLevel = 1e-8

// Quantile is the first time at which the curve is at or below 1-p. Where
// the curve runs flat exactly at 1-p it is the middle of that stretch. The
// limits invert the pointwise bounds of the curve by the same rule. For p
// outside (0, 1) nothing is reached.
func (c *Curve) Quantile(p float64) Quantile {
	q := Quantile{P: p}
	if !(p > 0 && p < 1) {
		return q
	}
	q.Estimate = crossing(c.Points, 1-p, func(x Point) (float64, bool) { return x.Estimate, true })
	q.Low = crossing(c.Points, 1-p, func(x Point) (float64, bool) { return x.Low, x.HasBounds })
	q.High = crossing(c.Points, 1-p, func(x Point) (float64, bool) { return x.High, x.HasBounds })
	return q
}

func crossing(points []Point, level float64, value func(Point) (float64, bool)) Limit {
	for k, x := range points {
		v, ok := value(x)
		if !ok || v > level+sameLevel {
			continue
		}
		if math.Abs(v-level) > sameLevel {
			return Limit{x.Time, true}
		}
		// Flat at the level: the stretch ends at the next fall, or where
		// observation ends.
		end := x.Time
		for _, y := range points[k+1:] {
			end = y.Time
			if w, ok := value(y); !ok || w < level-sameLevel {
				break
			}
		}
		return Limit{(x.Time + end) / 2, true}
	}
	return Limit{}
}
