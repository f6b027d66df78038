package example

import "math"

// otherRate is the hazard a day of all endings that are no remake, death
// among them.
func (t Truth) otherRate(cause string) float64 {
	rate := t.DeathsPerYear[cause]
	for _, e := range t.OtherEnds {
		rate += e.Value
	}
	return rate / daysPerYear
}

// InUse is the probability that a definitive socket has not ended by day
// days, remakes, other endings and death taken together.
func (t Truth) InUse(castMethod, cause string, first bool, days float64) float64 {
	return math.Exp(-t.cumulative(castMethod, cause, first, days) - t.otherRate(cause)*days)
}

// Died is the probability that a definitive socket has ended by the death of
// its wearer by day days, remakes and other endings competing: what
// cumulative-incidence estimates for death among sockets with these
// covariates.
func (t Truth) Died(castMethod, cause string, first bool, days float64) float64 {
	return t.ended(castMethod, cause, first, days, t.DeathsPerYear[cause])
}

// EndedOtherwise is the probability that a definitive socket has ended by
// one of OtherEnds by day days, remakes and death competing.
func (t Truth) EndedOtherwise(castMethod, cause string, first bool, days float64) float64 {
	total := 0.0
	for _, e := range t.OtherEnds {
		total += e.Value
	}
	return t.ended(castMethod, cause, first, days, total)
}

// ended integrates the probability of an ending with a constant hazard a
// year by Simpson's rule over w = (t/days)^(1/2), in which the integrand is
// smooth enough at 0; the error is below 1e-9.
func (t Truth) ended(castMethod, cause string, first bool, days, perYear float64) float64 {
	return days * perYear / daysPerYear * simpson(func(w float64) float64 {
		return 2 * w * t.InUse(castMethod, cause, first, days*w*w)
	})
}

// simpson integrates a function over 0 to 1.
func simpson(f func(float64) float64) float64 {
	const steps = 2000
	sum := f(0) + f(1)
	for i := 1; i < steps; i++ {
		weight := 2.0
		if i%2 == 1 {
			weight = 4
		}
		sum += weight * f(float64(i)/steps)
	}
	return sum / (3 * steps)
}

// MeanInUse is the mean number of days, up to days, before a definitive
// socket would be remade if nothing else could end it: what the mean within a
// period of kaplan-meier estimates. Lives are rounded up to whole days, so
// it is a sum and not an integral.
func (t Truth) MeanInUse(castMethod, cause string, first bool, days int) float64 {
	sum := 0.0
	for k := range days {
		sum += t.Survival(castMethod, cause, first, float64(k))
	}
	return sum
}

// Lasting is the day by which a share of definitive sockets would have been
// remade if nothing else could end them.
func (t Truth) Lasting(castMethod, cause string, first bool, share float64) float64 {
	hr := math.Exp(t.LogHR(castMethod, cause, first))
	return math.Ceil(t.ScaleDays * math.Pow(-math.Log1p(-share)/hr, 1/t.Shape))
}

// How the making of a socket is drawn, in days.
const (
	orderMin, orderSpan     = 2, 8  // from the decision to the order of a later socket
	castMin                 = 4     // from the order to the cast, and an exponential time more
	castMean, castMost      = 8, 45 // its mean, and the most it can be
	fittingMin, fittingSpan = 5, 6  // from a cast to the check fitting
	recastMin, recastSpan   = 2, 8  // from a check fitting that failed to the next cast
)

// Turnaround is the mean number of days from referral to delivery of a later
// definitive socket, where a check socket is accepted with chance accepted.
// Sockets that a death or loss of touch left unfinished are as if they had
// been finished: their share is too small to matter.
func (t Truth) Turnaround(accepted float64) float64 {
	toOrder := orderMin + float64(orderSpan-1)/2
	toCast := float64(castMin)
	for k := 1; k <= castMost; k++ { // whole days of the exponential time
		toCast += math.Exp(-float64(k) / castMean)
	}
	again := float64(fittingMin+recastMin) + float64(fittingSpan-1+recastSpan-1)/2
	making := 0.0
	for f := fittingMin; f < fittingMin+fittingSpan; f++ {
		making += float64(f+1) / fittingSpan // at least the day after the fitting
		for k := f + 2; k < 1000; k++ {
			z := (math.Log(float64(k)-0.5) - t.MakeLogMean) / t.MakeLogSD
			making += math.Erfc(z/math.Sqrt2) / 2 / fittingSpan
		}
	}
	return toOrder + toCast + (1-accepted)/accepted*again + making
}
