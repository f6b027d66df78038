package survival

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// The rules by which tails are integrated. Where the density falls off as an
// exponential at last (q < 0), the double exponential rule on the half line,
// v = exp(t - exp(-t)): it is as fine near 0 as the integrand may need and
// reaches to where exponentials have died away (Takahasi and Mori 1974, Publ
// RIMS Kyoto 9:721). Where it falls off faster (q >= 0), Gauss and Legendre's
// on three panels up to where nothing is left. Both are within rounding of
// the incomplete gamma function, as the tests show.
var (
	halfLine  = doubleExponential()
	threefold = panels(3)
)

// rule holds nodes and weights, on (0, infinity) or (0, 1).
type rule struct{ at, weight []float64 }

func doubleExponential() rule {
	const step = 0.09
	var r rule
	for j := -39; j <= 46; j++ {
		t := step * float64(j)
		x := math.Exp(t - math.Exp(-t))
		r.at, r.weight = append(r.at, x), append(r.weight, step*x*(1+math.Exp(-t)))
	}
	return r
}

func panels(n int) rule {
	const points = 16
	at, weight := make([]float64, points), make([]float64, points)
	var r rule
	for k := range n {
		quad.Legendre{}.FixedLocations(at, weight, float64(k)/float64(n), float64(k+1)/float64(n))
		r.at, r.weight = append(r.at, at...), append(r.weight, weight...)
	}
	return r
}

// fall is how far the log density falls from z >= 0 to z + v: h v + a v^2
// p(q v), with h its steepness at z and a = exp(q z).
type fall struct{ q, h, a float64 }

func (g *gammaLaw) fallFrom(z float64) fall {
	r, _ := rise(g.q * z)
	return fall{q: g.q, h: z * r, a: math.Exp(g.q * z)}
}

// by is the fall, and how much steeper the log density is at v than at 0.
func (f fall) by(v float64) (fallen, steeper float64) {
	c := curl(f.q * v)
	return f.h*v + f.a*v*v*c, f.a * v * (1 + f.q*v*c)
}

// negligible: exp(-46) of a density is below rounding.
const negligible = 46

// reach is about the v by which the log density has fallen by much: Newton's
// method for the logarithm of the fall, from where it would be if the fall
// were no more than quadratic.
func (f fall) reach(much float64) float64 {
	v := 2 * much / (f.h + math.Sqrt(f.h*f.h+2*f.a*much))
	for range 8 {
		d, steeper := f.by(v)
		next := v - d/(f.h+steeper)*math.Log(d/much)
		if !(next > 0) || !finite(next) {
			break
		}
		done := math.Abs(next-v) < 1e-3*v
		if v = next; done {
			break
		}
	}
	return v
}

// over calls add with the nodes v and weights of a rule that integrates
// exp(-fall) beyond z, together with the fall at v.
func (f fall) over(add func(v, weight, steeper float64)) {
	r, s := &threefold, 0.0
	if f.q < 0 {
		r, s = &halfLine, f.reach(1)
	} else {
		s = f.reach(negligible)
	}
	for j, x := range r.at {
		v := s * x
		d, steeper := f.by(v)
		if d > negligible {
			break
		}
		add(v, s*r.weight[j]*math.Exp(-d), steeper)
	}
}

// tailMass is P(W>z) over the density at z >= 0, and the mean over what lies
// beyond z of how much steeper the log density is there. The integral starts
// from the density at z, so that it keeps its digits however small it is.
func (g *gammaLaw) tailMass(z float64) (mass, bend float64) {
	g.fallFrom(z).over(func(_, p, steeper float64) {
		mass += p
		bend += p * steeper
	})
	return mass, bend / mass
}

// tailMeans has the derivatives of log P(W>z) by q for z >= 0: the mean of
// that of the log density beyond z, and so on.
func (g *gammaLaw) tailMeans(z float64) (first, second float64) {
	var sum float64
	g.fallFrom(z).over(func(v, p, _ float64) {
		b := g.densityByShape(z + v)
		sum += p
		first += p * b.q
		second += p * (b.qq + b.q*b.q)
	})
	first /= sum
	return first, second/sum - first*first
}

// tails holds what integrals over the tails of a law came to, as polynomials
// on stretches of z that are made when they are first asked for: a fit asks
// for them many times for each row. What is kept does not depend on the order
// in which it is asked for. On a stretch a tail changes so little that the
// polynomial is within rounding of the integral.
type tails struct {
	width    float64
	stretch  []*[2]polynomial // mass and bend; nil: not yet asked for
	stretchQ []*[2]polynomial // by the shape, first and second
}

const (
	polynomialTerms = 14
	mostStretches   = 2000
)

// polynomial holds Chebyshev's coefficients on (-1, 1).
type polynomial [polynomialTerms]float64

func newTails(q float64) *tails { return &tails{width: 0.5 / math.Max(1, math.Abs(q))} }

// at is tailMass.
func (t *tails) at(g *gammaLaw, z float64) (mass, bend float64) {
	return t.look(&t.stretch, z, g.tailMass)
}

// byShapeAt is tailMeans.
func (t *tails) byShapeAt(g *gammaLaw, z float64) (first, second float64) {
	return t.look(&t.stretchQ, z, g.tailMeans)
}

func (t *tails) look(kept *[]*[2]polynomial, z float64, integral func(float64) (float64, float64)) (float64, float64) {
	if !(z < t.width*mostStretches) {
		return integral(z)
	}
	k := int(z / t.width)
	for len(*kept) <= k {
		*kept = append(*kept, nil)
	}
	if (*kept)[k] == nil {
		(*kept)[k] = t.fit(k, integral)
	}
	p := (*kept)[k]
	x := 2*(z/t.width-float64(k)) - 1
	return p[0].at(x), p[1].at(x)
}

// fit finds the polynomials through the integrals at Chebyshev's points of a
// stretch.
func (t *tails) fit(k int, integral func(float64) (float64, float64)) *[2]polynomial {
	var out [2]polynomial
	for j := range polynomialTerms {
		angle := math.Pi * (float64(j) + 0.5) / polynomialTerms
		a, b := integral(t.width * (float64(k) + 0.5*(1+math.Cos(angle))))
		for i := range polynomialTerms {
			c := 2.0 / polynomialTerms * math.Cos(float64(i)*angle)
			out[0][i] += c * a
			out[1][i] += c * b
		}
	}
	return &out
}

// at is Clenshaw's sum.
func (p *polynomial) at(x float64) float64 {
	var b1, b2 float64
	for i := polynomialTerms - 1; i > 0; i-- {
		b1, b2 = 2*x*b1-b2+p[i], b1
	}
	return x*b1 - b2 + p[0]/2
}
