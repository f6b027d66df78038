package survival

import "math"

// gammaLaw is the standard generalised gamma law with the shape q (Prentice
// 1974, Biometrika 61:539): with k = 1/q^2,
//
//	log f(z) = log|q| + k log k - log Gamma(k) + k (q z - exp(q z)),
//
// the smallest extreme value law at q = 1, its mirror image at q = -1, and
// the standard normal law in the limit q = 0. Written with Stirling's error d
// of log Gamma(k) and a function p that has no pole,
//
//	log f(z) = -log(2 pi)/2 - d(q^2) - z^2 p(q z),  p(x) = (exp x - 1 - x)/x^2,
//
// it is smooth in q through 0, and so worked out. The density is log-concave
// for every q: its logarithm has the second derivative -exp(q z).
//
// The mirror image of a law has the opposite q: f(z; q) = f(-z; -q).
//
// A law remembers the tails that it has worked out, and so is not for use by
// two at once.
type gammaLaw struct {
	q            float64
	c, c1, c2    float64 // -log(2 pi)/2 - d, and its derivatives by q
	upper, lower *tails  // beyond z >= 0, and of the mirror image
}

func newGammaLaw(q float64) *gammaLaw {
	d, d1, d2 := stirlingError(q)
	return &gammaLaw{q: q, c: -logRoot2Pi - d, c1: -d1, c2: -d2, upper: newTails(q), lower: newTails(-q)}
}

// mirror is the law of -W.
func (g *gammaLaw) mirror() *gammaLaw {
	return &gammaLaw{q: -g.q, c: g.c, c1: -g.c1, c2: g.c2, upper: g.lower, lower: g.upper}
}

// stirlingError is log Gamma(k) - (k-1/2) log k + k - log(2 pi)/2 at k =
// 1/q^2, and its first two derivatives by q. Small k are shifted up by the
// recurrence of the gamma function, to where the series of Stirling holds.
func stirlingError(q float64) (d, d1, d2 float64) {
	const enough = 16
	if x := q * q; x*enough <= 1 {
		// x/12 - x^3/360 + x^5/1260 - x^7/1680 + x^9/1188 - 691 x^11/360360
		var p, p1, p2 float64 // by x
		for j := len(stirling) - 1; j >= 0; j-- {
			e := float64(2*j + 1)
			p += stirling[j] * math.Pow(x, e)
			p1 += stirling[j] * e * math.Pow(x, e-1)
			if j > 0 {
				p2 += stirling[j] * e * (e - 1) * math.Pow(x, e-2)
			}
		}
		return p, 2 * q * p1, 2*p1 + 4*x*p2
	}
	k := 1 / (q * q)
	at := k
	var byK, byK1, byK2 float64
	for at < enough {
		m := at * (at + 1)
		byK += (at+0.5)*math.Log1p(1/at) - 1
		byK1 += math.Log1p(1/at) - (at+0.5)/m
		byK2 += (2*at+1)*(2*at+1)/(2*m*m) - 2/m
		at++
	}
	for j := len(stirling) - 1; j >= 0; j-- {
		e := float64(2*j + 1)
		byK += stirling[j] * math.Pow(at, -e)
		byK1 -= stirling[j] * e * math.Pow(at, -e-1)
		byK2 += stirling[j] * e * (e + 1) * math.Pow(at, -e-2)
	}
	k1, k2 := -2*k/q, 6*k/(q*q)
	return byK, byK1 * k1, byK2*k1*k1 + byK1*k2
}

var stirling = [...]float64{1.0 / 12, -1.0 / 360, 1.0 / 1260, -1.0 / 1680, 1.0 / 1188, -691.0 / 360360, 1.0 / 156}

// inverseFactorials holds 1/n!.
var inverseFactorials = func() [32]float64 {
	var out [32]float64
	v := 1.0
	for n := range out {
		if n > 0 {
			v /= float64(n)
		}
		out[n] = v
	}
	return out
}()

// curl is p(x) = (exp x - 1 - x)/x^2.
func curl(x float64) float64 {
	if math.Abs(x) < 0.5 {
		s := 0.0
		for n := 14; n >= 0; n-- {
			s = s*x + inverseFactorials[n+2]
		}
		return s
	}
	return (math.Expm1(x) - x) / (x * x)
}

// curlSlopes are the first two derivatives of curl.
func curlSlopes(x float64) (first, second float64) {
	if math.Abs(x) < 2 {
		for n := 26; n >= 0; n-- {
			f := float64(n)
			first = first*x + (f+1)*inverseFactorials[n+3]
			second = second*x + (f+2)*(f+1)*inverseFactorials[n+4]
		}
		return first, second
	}
	e := math.Expm1(x)
	return (e - 2*(e-x)/x) / (x * x), (e + 1 - 4*e/x + 6*(e-x)/(x*x)) / (x * x)
}

// rise is (exp x - 1)/x and its derivative.
func rise(x float64) (value, first float64) {
	if math.Abs(x) < 1 {
		for n := 20; n >= 0; n-- {
			value = value*x + inverseFactorials[n+1]
			first = first*x + float64(n+1)*inverseFactorials[n+2]
		}
		return value, first
	}
	e := math.Expm1(x)
	return e / x, (x*(e+1) - e) / (x * x)
}

func (g *gammaLaw) density(z float64) (log, first, second float64) {
	x := g.q * z
	r, _ := rise(x)
	return g.c - z*z*curl(x), -z * r, -math.Exp(x)
}

// densityByShape has the derivatives of the log density by q, by q and z,
// and by q twice.
func (g *gammaLaw) densityByShape(z float64) shapeSlopes {
	x := g.q * z
	p1, p2 := curlSlopes(x)
	_, r1 := rise(x)
	return shapeSlopes{q: g.c1 - z*z*z*p1, qz: -z * z * r1, qq: g.c2 - z*z*z*z*p2}
}

// shapeSlopes are derivatives by the shape q, by q and z, and by q twice.
type shapeSlopes struct{ q, qz, qq float64 }

// tail is log P(W>z) for z >= 0, the hazard there, and how far the hazard
// lies above the steepness of the log density, which is next to nothing far
// out and would be lost in the difference.
func (g *gammaLaw) tail(z float64) (log, hazard, above float64) {
	mass, bend := g.upper.at(g, z)
	density, _, _ := g.density(z)
	return density + math.Log(mass), 1 / mass, bend
}

// tailByShape has the derivatives of log P(W>z) by q for z >= 0. qz is left
// to the caller.
func (g *gammaLaw) tailByShape(z float64) shapeSlopes {
	first, second := g.upper.byShapeAt(g, z)
	return shapeSlopes{q: first, qq: second}
}

func (g *gammaLaw) survival(z float64) (log, hazard, first float64) {
	if z >= 0 {
		log, h, above := g.tail(z)
		return log, h, h * above
	}
	under, reversed, _ := g.mirror().tail(-z)
	p := math.Exp(under)
	h := p * reversed / (1 - p)
	_, f1, _ := g.density(z)
	return math.Log1p(-p), h, h * (h + f1)
}

func (g *gammaLaw) below(z float64) (log, reversed, first float64) {
	log, h, h1 := g.mirror().survival(-z)
	return log, h, -h1
}

// survivalByShape has the derivatives of log P(W>z).
func (g *gammaLaw) survivalByShape(z float64) shapeSlopes {
	var out shapeSlopes
	if z >= 0 {
		out = g.tailByShape(z)
	} else {
		m := g.mirror()
		under, _, _ := m.tail(-z)
		p := math.Exp(under)
		b := m.tailByShape(-z) // by -q
		out.q = p * b.q / (1 - p)
		out.qq = -p*(b.qq+b.q*b.q)/(1-p) - out.q*out.q
	}
	_, h, _ := g.survival(z)
	out.qz = -h * (g.densityByShape(z).q - out.q)
	return out
}

// belowByShape has the derivatives of log P(W<=z).
func (g *gammaLaw) belowByShape(z float64) shapeSlopes {
	b := g.mirror().survivalByShape(-z)
	return shapeSlopes{q: -b.q, qz: b.qz, qq: b.qq}
}

// shift is how far z must move for P(W>z) to stay as it is, by q.
func (g *gammaLaw) shift(z float64) float64 {
	if z >= 0 {
		_, h, _ := g.tail(z)
		return g.tailByShape(z).q / h
	}
	// The mirror image moves the other way, and by -q.
	return g.mirror().shift(-z)
}

func (g *gammaLaw) quantile(p float64) float64 {
	over, _, _ := g.survival(0)
	if math.Log1p(-p) > over {
		return -g.mirror().upperQuantile(math.Log(p))
	}
	return g.upperQuantile(math.Log1p(-p))
}

// upperQuantile is the z >= 0 with log P(W>z) = log. That logarithm is
// concave in z, so that Newton's steps come down on z from above.
func (g *gammaLaw) upperQuantile(log float64) float64 {
	z := 0.0
	for range 200 {
		at, h, _ := g.tail(z)
		if !finite(at) || !finite(h) {
			z /= 2
			continue
		}
		step := (at - log) / h
		z = math.Max(0, z+step)
		if math.Abs(step) <= 1e-14*(1+z) {
			break
		}
	}
	return z
}
