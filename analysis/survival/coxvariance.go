package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// variancePeak is where a log likelihood is highest over a variance, and the
// limits at which it has fallen by a given amount.
type variancePeak struct {
	at, value       float64
	low, high       float64
	hasLow, hasHigh bool
}

// Variances are looked for between these two, apart from 0.
const (
	leastVariance = 1e-5
	mostVariance  = 1e3
)

// errUnbounded reports a likelihood that keeps growing with the variance.
var errUnbounded = fmt.Errorf("the likelihood grows with the variance beyond all bounds: %w", stats.ErrConvergence)

// peakOfVariance looks for the variance above 0 at which f is highest, first
// roughly along the powers of 10, then closely in the logarithm of it. zero is
// the value of f at 0; where no variance is above it, the peak is at 0.
func peakOfVariance(zero float64, close bool, f func(float64) (float64, error)) (variancePeak, error) {
	best, at := math.Inf(-1), 0.0
	for v := 0.01; v < 2*mostVariance; v *= 10 {
		x, err := f(v)
		if err != nil {
			return variancePeak{}, err
		}
		if x > best {
			best, at = x, v
		} else if v > 1 && best-x > 3 {
			break
		}
	}
	if at > mostVariance/2 {
		return variancePeak{}, errUnbounded
	}
	lo, hi := math.Log(at/10), math.Log(at*10)
	if at < 0.02 {
		lo = math.Log(leastVariance)
	}
	g := func(x float64) (float64, error) { return f(math.Exp(x)) }
	x, best, err := highest(lo, hi, math.Log(at), best, g)
	if err != nil {
		return variancePeak{}, err
	}
	if best <= zero+1e-9*(1+math.Abs(zero)) {
		return variancePeak{value: zero}, nil
	}
	if close {
		if x, best, err = polish(x, best, g); err != nil {
			return variancePeak{}, err
		}
	}
	return variancePeak{at: math.Exp(x), value: best}, nil
}

// highest is the place of the maximum of f between lo and hi, to about a
// thousandth, by Brent's method (parabolas, else golden sections; Brent 1973,
// chapter 5), from a place between them.
func highest(lo, hi, x, fx float64, f func(float64) (float64, error)) (float64, float64, error) {
	const golden, near = 0.3819660112501051, 1e-3
	w, v, fw, fv := x, x, fx, fx
	d, e := 0.0, 0.0
	for range 100 {
		mid := (lo + hi) / 2
		if math.Abs(x-mid) <= 2*near-(hi-lo)/2 {
			break
		}
		section := true
		if math.Abs(e) > near {
			r, q := (x-w)*(fv-fx), (x-v)*(fw-fx)
			p := (x-v)*q - (x-w)*r
			if q = 2 * (q - r); q > 0 {
				p = -p
			} else {
				q = -q
			}
			if math.Abs(p) < math.Abs(q*e/2) && p > q*(lo-x) && p < q*(hi-x) {
				e, d, section = d, p/q, false
				if u := x + d; u-lo < 2*near || hi-u < 2*near {
					d = math.Copysign(near, mid-x)
				}
			}
		}
		if section {
			if e = hi - x; x >= mid {
				e = lo - x
			}
			d = golden * e
		}
		u := x + d
		if math.Abs(d) < near {
			u = x + math.Copysign(near, d)
		}
		fu, err := f(u)
		if err != nil {
			return 0, 0, err
		}
		switch {
		case fu >= fx:
			if u >= x {
				lo = x
			} else {
				hi = x
			}
			v, w, x, fv, fw, fx = w, x, u, fw, fx, fu
		default:
			if u < x {
				lo = u
			} else {
				hi = u
			}
			if fu >= fw || w == x {
				v, w, fv, fw = w, u, fw, fu
			} else if fu >= fv || v == x || v == w {
				v, fv = u, fu
			}
		}
	}
	return x, fx, nil
}

// polish makes a maximum exact: Newton's method with differences over five
// places, whose error is of the fourth power of their distance.
func polish(x, best float64, f func(float64) (float64, error)) (float64, float64, error) {
	const h = 0.01
	for range 6 {
		var y [5]float64
		for k := range y {
			var err error
			if y[k], err = f(x + float64(k-2)*h); err != nil {
				return 0, 0, err
			}
		}
		best = y[2]
		slope := (y[0] - 8*y[1] + 8*y[3] - y[4]) / (12 * h)
		bend := (-y[0] + 16*y[1] - 30*y[2] + 16*y[3] - y[4]) / (12 * h * h)
		if !(bend < 0) {
			return x, best, nil // flat: no place is better than this one
		}
		step := -slope / bend
		if math.Abs(step) > 0.1 {
			step = math.Copysign(0.1, step)
		}
		x += step
		if math.Abs(step) < 1e-9 {
			break
		}
	}
	return x, best, nil
}

// addLimits finds the variances below and above the peak at which f has
// fallen by fall.
func (p *variancePeak) addLimits(fall, zero float64, f func(float64) (float64, error)) error {
	// False position, the end that stays counting half (Illinois), with a
	// halving in between so that the bracket is sure to shrink.
	cross := func(inside, outside, above, below float64) (float64, error) {
		moved := 0 // the end that moved last
		for k := 1; math.Abs(outside-inside) > 1e-10; k++ {
			x := (inside + outside) / 2
			if k%4 != 0 {
				x = inside + (outside-inside)*above/(above-below)
			}
			y, err := f(math.Exp(x))
			if err != nil {
				return 0, err
			}
			switch y -= p.value - fall; {
			case math.Abs(y) < 1e-11*(1+math.Abs(p.value)):
				return math.Exp(x), nil
			case y > 0:
				inside, above = x, y
				if moved == 1 {
					below /= 2
				}
				moved = 1
			default:
				outside, below = x, y
				if moved == -1 {
					above /= 2
				}
				moved = -1
			}
		}
		return math.Exp(inside), nil
	}
	start, above := math.Log(p.at), fall
	if p.at == 0 {
		start = math.Log(leastVariance)
	}
	for inside := start; inside < math.Log(1e6); {
		outside := inside + 1
		y, err := f(math.Exp(outside))
		if err != nil {
			return err
		}
		if y -= p.value - fall; y < 0 {
			p.high, err = cross(inside, outside, above, y)
			if err != nil {
				return err
			}
			p.hasHigh = true
			break
		}
		inside, above = outside, y
	}
	p.hasLow = true
	if zero >= p.value-fall {
		return nil // 0 is among them
	}
	above = fall
	for inside := start; ; {
		outside := inside - 1
		y, err := f(math.Exp(outside))
		if err != nil {
			return err
		}
		if y -= p.value - fall; y < 0 {
			p.low, err = cross(inside, outside, above, y)
			return err
		}
		if inside, above = outside, y; inside < math.Log(1e-9) {
			return nil
		}
	}
}
