// Package rhythm describes a number that goes up and down with a cycle of known
// length, the day or the year, as a sum of cosine waves that turn once, twice
// and so on in a cycle (Halberg, Tong & Johnson 1967; Nelson, Tong, Lee &
// Halberg 1979, Chronobiologia 6:305). The waves are columns of whatever model
// explains the number; what is told of the curve are weighted sums of their
// coefficients, whose errors the model knows.
package rhythm

import (
	"errors"
	"fmt"
	"math"
)

// ErrInput reports a period, a number of waves or coefficients that make no
// curve. Test with errors.Is.
var ErrInput = errors.New("no curve over a cycle")

// Columns are the columns of a model for places x of a cycle: cosine and sine
// of the first wave, then of the second, and so on, 2*waves columns as long as
// x. Places and period have one unit.
func Columns(x []float64, period float64, waves int) [][]float64 {
	out := make([][]float64, 2*waves)
	for j := range out {
		out[j] = make([]float64, len(x))
	}
	for i, v := range x {
		for j, c := range columnsAt(v, period, waves, 0) {
			out[j][i] = c
		}
	}
	return out
}

// columnsAt is one row of Columns, or its first or second derivative by the
// place.
func columnsAt(x, period float64, waves, derivative int) []float64 {
	out := make([]float64, 0, 2*waves)
	for k := 1; k <= waves; k++ {
		turn := 2 * math.Pi * float64(k) / period
		sin, cos := math.Sincos(turn * x)
		switch derivative {
		case 0:
			out = append(out, cos, sin)
		case 1:
			out = append(out, -turn*sin, turn*cos)
		default:
			out = append(out, -turn*turn*cos, -turn*turn*sin)
		}
	}
	return out
}

// Estimate is a weighted sum of coefficients with its standard error and the
// ends of its interval.
type Estimate struct{ Value, SE, Low, High float64 }

// Curve is what a model made of the columns. Coef are their coefficients, Centre
// the means of the columns over the rows, so that values of the curve are
// differences from the average row; Sum works out a weighted sum of the
// coefficients.
type Curve struct {
	Period float64
	Coef   []float64
	Centre []float64
	Sum    func(weights []float64) (Estimate, error)
}

func (c Curve) waves() int { return len(c.Coef) / 2 }

func (c Curve) check() error {
	if n := len(c.Coef); !(c.Period > 0) || n == 0 || n%2 != 0 || len(c.Centre) != n || c.Sum == nil {
		return fmt.Errorf("period %g, %d coefficients, %d centres: %w", c.Period, n, len(c.Centre), ErrInput)
	}
	return nil
}

// weights of the curve at x, less the average row.
func (c Curve) weights(x float64) []float64 {
	out := columnsAt(x, c.Period, c.waves(), 0)
	for j := range out {
		out[j] -= c.Centre[j]
	}
	return out
}

func (c Curve) dot(w []float64) float64 {
	s := 0.0
	for j, v := range w {
		s += v * c.Coef[j]
	}
	return s
}

// At is the curve at a place, as a difference from the average row.
func (c Curve) At(x float64) (Estimate, error) {
	if err := c.check(); err != nil {
		return Estimate{}, err
	}
	return c.Sum(c.weights(x))
}

// value is At without its error.
func (c Curve) value(x float64) float64 { return c.dot(c.weights(x)) }

// Wave is one cosine wave: Amplitude times the cosine of the angle since Peak.
type Wave struct {
	Amplitude Estimate // half the way from trough to peak; Low is not below 0
	// Peak is the first time of the peak from 0 up to Period over the number of
	// the wave, NaN where the amplitude is 0, with its error by the delta method.
	// Low and High hold the times near it at which the slope of the wave is not
	// told from 0, and may lie one turn outside; that they are NaN says that they
	// reach a quarter of a turn to one side, so that no time is told.
	Peak Estimate
}

// Wave is wave k, from 1. Both errors are those of weighted sums of the two
// coefficients at the angle of the peak: of the amplitude its derivative by
// them, of the angle the derivative across it over the amplitude. The interval
// of the angle is that of Fieller 1954, J R Stat Soc B 16:175.
func (c Curve) Wave(k int) (Wave, error) {
	if err := c.check(); err != nil {
		return Wave{}, err
	}
	if k < 1 || k > c.waves() {
		return Wave{}, fmt.Errorf("wave %d of %d: %w", k, c.waves(), ErrInput)
	}
	a, b := c.Coef[2*k-2], c.Coef[2*k-1]
	size := math.Hypot(a, b)
	nan := math.NaN()
	if size == 0 {
		return Wave{Amplitude: Estimate{0, nan, nan, nan}, Peak: Estimate{nan, nan, nan, nan}}, nil
	}
	along, across := make([]float64, len(c.Coef)), make([]float64, len(c.Coef))
	along[2*k-2], along[2*k-1] = a/size, b/size
	across[2*k-2], across[2*k-1] = -b/size, a/size
	var w Wave
	var err error
	if w.Amplitude, err = c.Sum(along); err != nil {
		return Wave{}, err
	}
	w.Amplitude.Low = math.Max(0, w.Amplitude.Low)
	turn, length := c.Period/(2*math.Pi*float64(k)), c.Period/float64(k)
	side, err := c.Sum(across)
	if err != nil {
		return Wave{}, err
	}
	w.Peak = Estimate{Value: wrap(turn*math.Atan2(b, a), length), SE: turn / size * side.SE}
	slope := func(x float64) []float64 {
		full := columnsAt(x, c.Period, c.waves(), 1)
		for j := range full {
			if j/2 != k-1 {
				full[j] = 0
			}
		}
		return full
	}
	w.Peak.Low, w.Peak.High, err = c.around(w.Peak.Value, 1, length/4, slope)
	return w, err
}

// around are the ends of the times near a turn at which the slope is not told
// from 0: the nearest at which its interval leaves 0 out, on either side. NaN
// where one of them is as far off as reach. sign is 1 at a peak, -1 at a trough.
func (c Curve) around(at, sign, reach float64, slope func(x float64) []float64) (low, high float64, err error) {
	told := func(x, side float64) (bool, error) {
		e, err := c.Sum(slope(x))
		if sign*side < 0 { // before a peak the curve rises
			return e.Low > 0, err
		}
		return e.High < 0, err
	}
	var ends [2]float64
	for k, side := range []float64{-1, 1} {
		const steps = 60
		in, out := 0.0, math.NaN()
		for s := 1; s <= steps && math.IsNaN(out); s++ {
			d := reach * float64(s) / steps
			ok, err := told(at+side*d, side)
			switch {
			case err != nil:
				return 0, 0, err
			case ok:
				out = d
			default:
				in = d
			}
		}
		if math.IsNaN(out) {
			return math.NaN(), math.NaN(), nil
		}
		for range 45 {
			mid := (in + out) / 2
			ok, err := told(at+side*mid, side)
			if err != nil {
				return 0, 0, err
			}
			if ok {
				out = mid
			} else {
				in = mid
			}
		}
		ends[k] = at + side*(in+out)/2
	}
	return ends[0], ends[1], nil
}

// wrap brings a place into 0 up to period.
func wrap(x, period float64) float64 {
	x = math.Mod(x, period)
	if x < 0 {
		x += period
	}
	if x >= period {
		x = 0
	}
	return x
}
