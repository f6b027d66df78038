package limb

import (
	"math"
	"sort"
)

// Curved is the profile with the same stations, between which the girth
// follows a smooth curve instead of straight lines: a cubic in each gap, whose
// slopes at the stations are weighted harmonic means of those of the gaps
// beside, and 0 where the girth turns, so that the curve bulges nowhere beyond
// the girths measured. The slopes at the ends are those of a parabola through
// three stations, kept within the same bounds. With two stations it is the
// straight line.
//
// Fritsch FN, Carlson RE. Monotone piecewise cubic interpolation. SIAM J Numer
// Anal 1980; 17: 238-246. Fritsch FN, Butland J. A method for constructing
// local monotone piecewise cubic interpolants. SIAM J Sci Stat Comput 1984; 5:
// 300-304.
func (p Profile) Curved() Profile {
	if len(p.at) < 2 {
		return p
	}
	p.slope = p.slopes()
	return p
}

// gaps are the lengths between stations and the slopes of the straight lines.
func (p Profile) gaps() (h, d []float64) {
	n := len(p.at) - 1
	h, d = make([]float64, n), make([]float64, n)
	for i := range h {
		h[i] = p.at[i+1] - p.at[i]
		d[i] = (p.girth[i+1] - p.girth[i]) / h[i]
	}
	return h, d
}

// slopes are those of the curve at the stations.
func (p Profile) slopes() []float64 {
	h, d := p.gaps()
	n := len(p.at)
	m := make([]float64, n)
	if n == 2 {
		m[0], m[1] = d[0], d[0]
		return m
	}
	for i := 1; i < n-1; i++ {
		if d[i-1]*d[i] > 0 {
			w1, w2 := 2*h[i]+h[i-1], h[i]+2*h[i-1]
			m[i] = (w1 + w2) / (w1/d[i-1] + w2/d[i])
		}
	}
	m[0], _, _ = endSlope(h[0], h[1], d[0], d[1])
	m[n-1], _, _ = endSlope(h[n-2], h[n-3], d[n-2], d[n-3])
	return m
}

// endSlope is the slope at an end from the two gaps next to it, the nearer
// first, and how it changes with the slope of each.
func endSlope(h0, h1, d0, d1 float64) (m, by0, by1 float64) {
	by0, by1 = (2*h0+h1)/(h0+h1), -h0/(h0+h1)
	m = by0*d0 + by1*d1
	switch {
	case m*d0 <= 0:
		return 0, 0, 0
	case d0*d1 <= 0 && math.Abs(m) > 3*math.Abs(d0):
		return 3 * d0, 3, 0
	}
	return m, by0, by1
}

// slopesBy is the change of the curve's slope at each station for each mm of
// girth at each station: slopesBy[i][j] is d slope i / d girth j. Each slope
// depends on three stations at most.
func (p Profile) slopesBy() [][]float64 {
	h, d := p.gaps()
	n := len(p.at)
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
	}
	// add takes in that slope i changes by v with the slope of gap k.
	add := func(i, k int, v float64) {
		out[i][k] -= v / h[k]
		out[i][k+1] += v / h[k]
	}
	if n == 2 {
		add(0, 0, 1)
		add(1, 0, 1)
		return out
	}
	for i := 1; i < n-1; i++ {
		if d[i-1]*d[i] > 0 {
			w1, w2 := 2*h[i]+h[i-1], h[i]+2*h[i-1]
			m := (w1 + w2) / (w1/d[i-1] + w2/d[i])
			add(i, i-1, m*m*w1/((w1+w2)*d[i-1]*d[i-1]))
			add(i, i, m*m*w2/((w1+w2)*d[i]*d[i]))
		}
	}
	_, a, b := endSlope(h[0], h[1], d[0], d[1])
	add(0, 0, a)
	add(0, 1, b)
	_, a, b = endSlope(h[n-2], h[n-3], d[n-2], d[n-3])
	add(n-1, n-2, a)
	add(n-1, n-3, b)
	return out
}

// bases are the weights at share t of a gap of length h of the girth at its
// start, the slope there, the girth at its end and the slope there.
func bases(t, h float64) (c0, m0, c1, m1 float64) {
	u := 1 - t
	return u * u * (1 + 2*t), h * t * u * u, t * t * (3 - 2*t), -h * t * t * u
}

// inGap is the girth of a curved profile in gap i at mm.
func (p Profile) inGap(i int, mm float64) float64 {
	h := p.at[i+1] - p.at[i]
	c0, m0, c1, m1 := bases((mm-p.at[i])/h, h)
	return c0*p.girth[i] + m0*p.slope[i] + c1*p.girth[i+1] + m1*p.slope[i+1]
}

// gauss holds the points and weights on 0 to 1 of the quadrature of Gauss with
// four points, exact for polynomials of degree 7: the square of a cubic is one
// of degree 6.
var gauss = [4][2]float64{
	{0.5 - 0.5*0.86113631159405257522, 0.5 * 0.34785484513745385737}, {0.5 - 0.5*0.33998104358485626480, 0.5 * 0.65214515486254614263},
	{0.5 + 0.5*0.33998104358485626480, 0.5 * 0.65214515486254614263}, {0.5 + 0.5*0.86113631159405257522, 0.5 * 0.34785484513745385737},
}

// pieces calls do for each part of a gap that lies in the span, whose ends lie
// within the stations.
func (p Profile) pieces(s Span, do func(gap int, from, to float64)) {
	for i := max(0, sort.SearchFloat64s(p.at, s.From)-1); i+1 < len(p.at) && p.at[i] < s.To; i++ {
		if from, to := math.Max(p.at[i], s.From), math.Min(p.at[i+1], s.To); from < to {
			do(i, from, to)
		}
	}
}

// curvedVolume is the volume in ml of a curved profile over a span within its
// stations.
func (p Profile) curvedVolume(s Span) float64 {
	v := 0.0
	p.pieces(s, func(i int, from, to float64) {
		for _, g := range gauss {
			c := p.inGap(i, from+(to-from)*g[0])
			v += g[1] * (to - from) * c * c
		}
	})
	return v / (4 * math.Pi) / 1000
}
