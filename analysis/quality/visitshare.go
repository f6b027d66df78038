package quality

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"plybook/analysis/stats"
)

// PersonVisits are the visits of one person, and how many of them had what
// is counted.
type PersonVisits struct{ With, Visits int }

// VisitShare is a share of visits, with limits that allow for persons who
// were seen several times.
type VisitShare struct {
	With, Visits, Persons int
	Estimate              float64
	StdErr                float64 // NaN where all visits had it, or none, or there is one person
	Effective             float64 // visits of persons seen once each that would tell as much
	Low, High             float64 // NaN where HasBounds is false
	HasBounds             bool
	Exact                 bool // visits were taken as independent: nobody was seen twice, or none or all had it
}

// ErrVisits reports more visits with something than there were visits.
var ErrVisits = errors.New("more visits with a finding than visits")

// ShareOfVisits is the share of all visits that had something. Its variance
// comes from sums over persons, G/(G-1) times the sum of squares of
// (with - share * visits) / all visits. The limits are the beta quantiles of
// Clopper and Pearson, at the number of independent visits that would have
// that variance, corrected for the degrees of freedom and never above the
// real number. Where nobody was seen twice, or none or all of the visits had
// it, they are the exact limits of independent visits. The visits of a single
// person have no limits unless none or all had it. Persons without visits
// count for nothing. Errors: stats.ErrNoRows, ErrVisits.
//
// Source: Korn EL, Graubard BI. Confidence intervals for proportions with
// small expected number of positive counts estimated from survey data. Survey
// Methodology 1998; 24: 193-201.
func ShareOfVisits(persons []PersonVisits, confidence float64) (*VisitShare, error) {
	s := &VisitShare{StdErr: math.NaN(), Low: math.NaN(), High: math.NaN()}
	for _, p := range persons {
		if p.With < 0 || p.With > p.Visits {
			return nil, ErrVisits
		}
		s.With += p.With
		s.Visits += p.Visits
		if p.Visits > 0 {
			s.Persons++
		}
	}
	if s.Visits == 0 {
		return nil, stats.ErrNoRows
	}
	n, g := float64(s.Visits), float64(s.Persons)
	s.Estimate = float64(s.With) / n
	s.Effective = n
	s.Exact = s.Persons == s.Visits || s.With == 0 || s.With == s.Visits
	if s.With > 0 && s.With < s.Visits && s.Persons > 1 {
		v := 0.0
		for _, p := range persons {
			e := (float64(p.With) - s.Estimate*float64(p.Visits)) / n
			v += e * e
		}
		v *= g / (g - 1)
		s.StdErr = math.Sqrt(v)
		if !s.Exact {
			t := stats.StudentQuantile(0.5+confidence/2, n-1) / stats.StudentQuantile(0.5+confidence/2, g-1)
			if v > 0 { // else the persons agree wholly, and nothing widens
				s.Effective = math.Min(n, s.Estimate*(1-s.Estimate)/v*t*t)
			} else {
				s.Effective = math.Min(n, n*t*t)
			}
		}
	}
	if s.HasBounds = s.Exact || s.Persons > 1; s.HasBounds {
		s.Low, s.High = ExactShare(s.Effective*s.Estimate, s.Effective, confidence)
	}
	return s, nil
}

// ExactShare are the exact limits of a share k of n; neither need be whole.
//
// Source: Clopper CJ, Pearson ES. The use of confidence or fiducial limits
// illustrated in the case of the binomial. Biometrika 1934; 26: 404-413.
func ExactShare(k, n, confidence float64) (low, high float64) {
	a := (1 - confidence) / 2
	low, high = 0, 1
	if k > 0 {
		low = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(a)
	}
	if k < n {
		high = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(1 - a)
	}
	return low, high
}

// VisitChange is the difference of two shares of visits, since less before.
type VisitChange struct {
	Before, Since *VisitShare
	Correlation   float64 // of the two shares, through persons seen in both times
	Difference    float64
	Low, High     float64 // NaN where either share has no limits
}

// ChangeOfVisits compares the visits of two times; the two slices name the
// same persons in the same order. The limits of the difference are made from
// those of the shares. Errors: as ShareOfVisits, and where the slices differ
// in length.
//
// Source: Zou GY, Donner A. Construction of confidence limits about effect
// measures: a general approach. Statistics in Medicine 2008; 27: 1693-1702.
func ChangeOfVisits(before, since []PersonVisits, confidence float64) (*VisitChange, error) {
	if len(before) != len(since) {
		return nil, errors.New("the visits of two times are not of the same persons")
	}
	b, err := ShareOfVisits(before, confidence)
	if err != nil {
		return nil, err
	}
	s, err := ShareOfVisits(since, confidence)
	if err != nil {
		return nil, err
	}
	c := &VisitChange{Before: b, Since: s, Difference: s.Estimate - b.Estimate, Low: math.NaN(), High: math.NaN()}
	var bb, ss, bs float64
	for i := range before {
		x := (float64(before[i].With) - b.Estimate*float64(before[i].Visits)) / float64(b.Visits)
		y := (float64(since[i].With) - s.Estimate*float64(since[i].Visits)) / float64(s.Visits)
		bb, ss, bs = bb+x*x, ss+y*y, bs+x*y
	}
	if bb > 0 && ss > 0 {
		c.Correlation = bs / math.Sqrt(bb*ss)
	}
	if b.HasBounds && s.HasBounds {
		join := func(u, v float64) float64 { return math.Sqrt(math.Max(0, u*u+v*v-2*c.Correlation*u*v)) }
		c.Low = c.Difference - join(s.Estimate-s.Low, b.High-b.Estimate)
		c.High = c.Difference + join(s.High-s.Estimate, b.Estimate-b.Low)
	}
	return c, nil
}
