package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// slope is a function to be made small of which only values are known. It
// must be smooth on the scale of size.
type slope struct {
	value func(t []float64) float64
	// size is the scale of coordinate j at t.
	size func(t []float64, j int) float64
}

// gradient by five points a coordinate, three thousandths of its scale apart:
// the error of the formula is about 1e-12 of what it gives, and stays small in
// a valley much narrower than that scale; that of rounding is 1e-9 on a
// criterion in the thousands.
func (o slope) gradient(t []float64) []float64 {
	g := make([]float64, len(t))
	at := append([]float64(nil), t...)
	for j := range t {
		w := 0.003 * o.size(t, j)
		g[j] = derivative(w, func(step float64) float64 {
			at[j] = t[j] + step
			return o.value(append([]float64(nil), at...))
		})
		at[j] = t[j]
	}
	return g
}

// curvature is the matrix of second derivatives. fine takes the differences at
// two widths and extrapolates.
func (o slope) curvature(t []float64, fine bool) [][]float64 {
	v0 := o.value(t)
	n := len(t)
	h := square(n)
	at := func(steps map[int]float64) float64 {
		x := append([]float64(nil), t...)
		for j, s := range steps {
			x[j] += s
		}
		return o.value(x)
	}
	second := func(j, k int, scale float64) float64 {
		a, b := scale*o.size(t, j), scale*o.size(t, k)
		if j == k {
			return (at(map[int]float64{j: a}) - 2*v0 + at(map[int]float64{j: -a})) / (a * a)
		}
		return (at(map[int]float64{j: a, k: b}) - at(map[int]float64{j: a, k: -b}) - at(map[int]float64{j: -a, k: b}) + at(map[int]float64{j: -a, k: -b})) / (4 * a * b)
	}
	for j := range n {
		for k := range j + 1 {
			v := second(j, k, 0.01)
			if fine {
				v += (v - second(j, k, 0.02)) / 3
			}
			h[j][k], h[k][j] = v, v
		}
	}
	return h
}

// descend goes down from t by Newton steps, negative curvature reversed, and
// returns where it settles and how many steps it took.
func (o slope) descend(t []float64) ([]float64, float64, int) {
	const limit = 60
	v := o.value(t)
	for step := range limit {
		if math.IsInf(v, 0) || len(t) == 0 {
			return t, v, step
		}
		g := o.gradient(t)
		d, sure := descent(o.curvature(t, false), g)
		if d == nil {
			return t, v, step
		}
		size, reach := 0.0, 0.0
		for j := range d {
			size = math.Max(size, math.Abs(d[j])/o.size(t, j))
			reach = math.Max(reach, math.Abs(d[j])/(2*(math.Abs(t[j])+o.size(t, j))))
		}
		if size < 1e-9 {
			return t, v, step
		}
		if reach > 1 {
			floats.Scale(1/reach, d)
		}
		next, w, ok := o.search(t, v, d, g, sure)
		if !ok {
			return t, v, step
		}
		t, v = next, w
	}
	return t, v, limit
}

// search shortens the step d until the value falls. Where the fall is within
// rounding a full step is taken if it makes the gradient smaller.
func (o slope) search(t []float64, v float64, d, g []float64, sure bool) ([]float64, float64, bool) {
	expected := floats.Dot(d, g)
	rounding := 1e-11 * (1 + math.Abs(v))
	for f := 1.0; f > 1e-10; f /= 2 {
		next := append([]float64(nil), t...)
		floats.AddScaled(next, f, d)
		w := o.value(next)
		if w < v+1e-4*f*expected && v-w > rounding {
			return next, w, true
		}
		if sure && f == 1 && math.Abs(w-v) <= rounding {
			return next, w, floats.Norm(o.gradient(next), 2) < 0.9*floats.Norm(g, 2)
		}
	}
	return t, v, false
}

// quick goes down from t by quasi-Newton steps (Broyden, Fletcher, Goldfarb and
// Shanno) to within reach of the bottom, where descend settles. It ends early
// where near says that the place is known.
func (o slope) quick(t []float64, near func(t []float64, v float64) bool) ([]float64, float64, int) {
	const limit = 150
	v := o.value(t)
	h := square(len(t)) // inverse curvature
	reset := func() {
		for j := range h {
			clear(h[j])
			h[j][j] = o.size(t, j) * o.size(t, j)
		}
	}
	reset()
	fresh := true
	g := o.rough(t)
	for step := range limit {
		if math.IsInf(v, 0) || len(t) == 0 || near(t, v) {
			return t, v, step
		}
		d := make([]float64, len(t))
		reach := 0.0
		for j := range d {
			d[j] = -floats.Dot(h[j], g)
			reach = math.Max(reach, math.Abs(d[j])/(2*(math.Abs(t[j])+o.size(t, j))))
		}
		if reach > 1 {
			floats.Scale(1/reach, d)
		}
		expected := floats.Dot(d, g)
		if -expected < 1e-7 {
			return t, v, step
		}
		moved := false
		for f := 1.0; f > 1e-6; f /= 4 {
			next := append([]float64(nil), t...)
			floats.AddScaled(next, f, d)
			w := o.value(next)
			if !(w < v+1e-4*f*expected) {
				continue
			}
			after := o.rough(next)
			floats.Scale(f, d)
			update(h, d, g, after)
			t, v, g, moved, fresh = next, w, after, true, false
			break
		}
		if !moved {
			if fresh {
				return t, v, step
			}
			reset()
			fresh = true
		}
	}
	return t, v, limit
}

// update is the step of Broyden, Fletcher, Goldfarb and Shanno for the inverse
// curvature h after a step of d from slope g to slope after.
func update(h [][]float64, d, g, after []float64) {
	n := len(d)
	y := make([]float64, n)
	floats.SubTo(y, after, g)
	sy := floats.Dot(d, y)
	if sy <= 1e-12*floats.Norm(d, 2)*floats.Norm(y, 2) {
		return
	}
	hy := make([]float64, n)
	for j := range hy {
		hy[j] = floats.Dot(h[j], y)
	}
	c := (1 + floats.Dot(y, hy)/sy) / sy
	for j := range h {
		for k := range h[j] {
			h[j][k] += c*d[j]*d[k] - (hy[j]*d[k]+d[j]*hy[k])/sy
		}
	}
}

// rough is a gradient good to about six digits, which is enough to steer by.
func (o slope) rough(t []float64) []float64 {
	g := make([]float64, len(t))
	at := append([]float64(nil), t...)
	for j := range t {
		w := 1e-3 * o.size(t, j)
		at[j] = t[j] + w
		g[j] = o.value(append([]float64(nil), at...))
		at[j] = t[j] - w
		g[j] = (g[j] - o.value(append([]float64(nil), at...))) / (2 * w)
		at[j] = t[j]
	}
	return g
}
