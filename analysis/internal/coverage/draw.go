package main

import (
	"math"
	"math/rand/v2"
)

// tie is how much lives of one person go together: the power of the Laplace
// transform exp(-s^tie) of their common factor. 1 is independence; Kendall's
// tau of two lives is 1 - tie.
const tie = 0.7

// factor draws a positive stable factor (Kanter 1975, Ann Probab 3:697). With
// it hazards that are proportional within a person stay so over all persons,
// with the log ratio times tie (Hougaard 1986, Biometrika 73:387), so that what
// a marginal regression estimates is known.
func factor(rng *rand.Rand) float64 {
	u, e := math.Pi*(1-rng.Float64()), rng.ExpFloat64()
	return math.Sin(tie*u) / math.Pow(math.Sin(u), 1/tie) * math.Pow(math.Sin((1-tie)*u)/e, (1-tie)/tie)
}

// socket is a drawn life.
type socket struct {
	person int
	second bool // of the second group; within persons
	other  bool // of a kind of persons
	time   float64
	cause  int // 0 censored
}

// Truth of the lives, over all persons: the share alive at t days of a socket
// is exp(-(t/scale)^tie), times exp of its log ratios in the exponent. A third
// of the endings are of cause 2.
const (
	scale     = 500.0
	logSecond = 0.5  // log hazard ratio of the second group
	logOther  = -0.4 // log hazard ratio of the kind of persons
	causeOne  = 2.0 / 3
	horizon   = 365.0
)

// alive is the share of sockets without an end at t.
func alive(t, logRatio float64) float64 {
	return math.Exp(-math.Pow(t/scale, tie) * math.Exp(logRatio))
}

// lives draws persons with one to four sockets each, watched for 180 to 1,460
// days. Ends fall on the days they come about; they are not rounded.
func lives(rng *rand.Rand, persons int, second, other bool) []socket {
	var out []socket
	for p := range persons {
		f, kind := factor(rng), rng.IntN(2) == 1
		for range 1 + rng.IntN(4) {
			s := socket{person: p, second: rng.IntN(2) == 1, other: kind}
			log := 0.0
			if second && s.second {
				log += logSecond / tie
			}
			if other && s.other {
				log += logOther / tie
			}
			t := scale * rng.ExpFloat64() / (f * math.Exp(log))
			c := 180 + 1280*rng.Float64()
			s.time = math.Min(t, c)
			if t <= c {
				s.cause = 1
				if rng.Float64() > causeOne {
					s.cause = 2
				}
			}
			out = append(out, s)
		}
	}
	return out
}

// integral of f from 0 to b, by Simpson's rule.
func integral(f func(float64) float64, b float64) float64 {
	const n = 20000
	h, sum := b/n, f(0)+f(b)
	for k := 1; k < n; k++ {
		w := 4.0
		if k%2 == 0 {
			w = 2
		}
		sum += w * f(float64(k)*h)
	}
	return sum * h / 3
}

// Truth of the repeated events: a person's rate is eventRate times a gamma
// factor of mean 1 and variance 0.5, the same for its limbs; it dies at
// deathRate.
const (
	eventRate = 2.0 / 365
	deathRate = 0.3 / 365
)

// gamma draws a gamma variable of mean 1 and variance 1/shape, shape being
// whole: a mean of exponentials.
func gamma(rng *rand.Rand, shape int) float64 {
	sum := 0.0
	for range shape {
		sum += rng.ExpFloat64()
	}
	return sum / float64(shape)
}
