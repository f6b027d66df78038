// Package limb works out the volume of a residual limb from girths measured
// with a tape at stations along it, and the change between two sets of
// girths over the stretch that both measured.
//
// Between neighbouring stations the limb is taken as a truncated cone of
// round section unless elliptical sections or curved sides are asked for, V = h (C1^2 + C1 C2 + C2^2) / (12 pi). A limb is not quite
// round: on the five transtibial surfaces in testdata/published/limb_shapes
// the method overstates the true volume by 2.1 to 4.6 percent, nearly the
// same share each time, so that changes are surer than volumes. Nothing is
// assumed beyond the first and last station.
package limb

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Station is one girth at a distance from the landmark.
type Station struct {
	MM      float64 // distance from the landmark in mm, positive distally
	GirthMM float64 // circumference in mm
	// Ratio is that of the two widths of the section, either way round, where
	// it is taken as an ellipse; 0 or 1 for a circle.
	Ratio float64
}

// Span is a stretch of limb, in mm from the landmark; From < To.
type Span struct{ From, To float64 }

// Length is the length of the span in mm.
func (s Span) Length() float64 { return s.To - s.From }

// Errors of this package; wrapped with the figures concerned.
var (
	// ErrTooFew reports fewer than two stations at different distances: no
	// stretch of limb lies between them.
	ErrTooFew = errors.New("a volume needs girths at two stations or more")
	// ErrBadStation reports a distance or a girth that is no number, a girth
	// of nothing or less, or either beyond 100 m.
	ErrBadStation = errors.New("not a usable station")
	// ErrOutside reports a span that reaches beyond the stations measured.
	ErrOutside = errors.New("the span reaches beyond the stations measured")
	// ErrNoCommonSpan reports two sets that measured no stretch in common.
	ErrNoCommonSpan = errors.New("the two sets measured no stretch of limb in common")
)

// longest is far beyond any limb and keeps every volume a finite number.
const longest = 1e5

// Profile is the girth of a limb along a stretch of it, straight between
// stations unless it was made Curved. It is made by NewProfile and never
// changes; the zero Profile has no stations.
type Profile struct {
	at    []float64
	girth []float64 // of a circle of the section's area
	share []float64 // of the girth measured; see RoundGirth
	times []int     // how often each was measured
	slope []float64 // of the curve at each station; nil where sides are straight
}

// NewProfile sorts stations by distance; girths at the same distance are
// repeats and are averaged, and so are their ratios. It does not keep or
// change the slice. Errors: ErrBadStation, ErrBadRatio, ErrTooFew.
func NewProfile(stations []Station) (Profile, error) {
	s := append([]Station(nil), stations...)
	for _, x := range s {
		// Written so that a NaN fails too.
		if !(math.Abs(x.MM) <= longest && x.GirthMM > 0 && x.GirthMM <= longest) {
			return Profile{}, fmt.Errorf("girth %g mm at %g mm: %w", x.GirthMM, x.MM, ErrBadStation)
		}
	}
	// Girth breaks ties so that the mean of repeats is summed in one order
	// whatever the order of the rows.
	sort.Slice(s, func(i, j int) bool {
		if s[i].MM != s[j].MM {
			return s[i].MM < s[j].MM
		}
		if s[i].GirthMM != s[j].GirthMM {
			return s[i].GirthMM < s[j].GirthMM
		}
		return s[i].Ratio < s[j].Ratio
	})
	var p Profile
	for i := 0; i < len(s); {
		j, sum, ratio := i, 0.0, 0.0
		for ; j < len(s) && s[j].MM == s[i].MM; j++ {
			sum += s[j].GirthMM
			r := s[j].Ratio
			if r == 0 {
				r = 1
			}
			ratio += r
		}
		share, err := RoundGirth(ratio / float64(j-i))
		if err != nil {
			return Profile{}, fmt.Errorf("at %g mm: %w", s[i].MM, err)
		}
		p.at = append(p.at, s[i].MM)
		p.girth = append(p.girth, share*sum/float64(j-i))
		p.share = append(p.share, share)
		p.times = append(p.times, j-i)
		i = j
	}
	if len(p.at) < 2 {
		return Profile{}, fmt.Errorf("%d at different distances: %w", len(p.at), ErrTooFew)
	}
	return p, nil
}

// Stations returns the stations from proximal to distal, repeats averaged,
// with the girths as measured.
func (p Profile) Stations() []Station {
	out := make([]Station, len(p.at))
	for i := range out {
		out[i] = Station{MM: p.at[i], GirthMM: p.girth[i] / p.share[i]}
	}
	return out
}

// Span is the stretch from the first to the last station; zero for the zero
// Profile.
func (p Profile) Span() Span {
	if len(p.at) == 0 {
		return Span{}
	}
	return Span{p.at[0], p.at[len(p.at)-1]}
}

// Girth is the circumference in mm at a distance, read between the
// neighbouring stations, of a circle of the section's area: the girth measured
// where sections are round. ok is false beyond the stations measured.
func (p Profile) Girth(mm float64) (girth float64, ok bool) {
	i := sort.SearchFloat64s(p.at, mm)
	switch {
	case i < len(p.at) && p.at[i] == mm:
		return p.girth[i], true
	case i == 0 || i == len(p.at):
		return 0, false
	}
	if p.slope != nil {
		return p.inGap(i-1, mm), true
	}
	share := (mm - p.at[i-1]) / (p.at[i] - p.at[i-1])
	return p.girth[i-1] + share*(p.girth[i]-p.girth[i-1]), true
}

// Volume is the volume in ml from the first to the last station; 0 for the
// zero Profile.
func (p Profile) Volume() float64 {
	if p.slope != nil {
		return p.curvedVolume(p.Span())
	}
	v := 0.0
	for i := 1; i < len(p.at); i++ {
		v += frustum(p.at[i]-p.at[i-1], p.girth[i-1], p.girth[i])
	}
	return v
}

// VolumeOver is the volume in ml over a span, with the girth at its ends read
// between the neighbouring stations. A girth on a straight line is a cone,
// so cutting a span in two changes nothing. Errors: ErrOutside, also for a
// span that does not run from proximal to distal.
func (p Profile) VolumeOver(s Span) (float64, error) {
	from, okFrom := p.Girth(s.From)
	to, okTo := p.Girth(s.To)
	if !okFrom || !okTo || !(s.From < s.To) {
		own := p.Span()
		return 0, fmt.Errorf("%g to %g mm asked, %g to %g mm measured: %w", s.From, s.To, own.From, own.To, ErrOutside)
	}
	if p.slope != nil {
		return p.curvedVolume(s), nil
	}
	v, at, girth := 0.0, s.From, from
	for i := sort.SearchFloat64s(p.at, s.From); i < len(p.at) && p.at[i] < s.To; i++ {
		v += frustum(p.at[i]-at, girth, p.girth[i])
		at, girth = p.at[i], p.girth[i]
	}
	return v + frustum(s.To-at, girth, to), nil
}

// frustum is the volume in ml of a truncated cone of height h and girths c1
// and c2, all in mm.
func frustum(h, c1, c2 float64) float64 {
	return h * (c1*c1 + c1*c2 + c2*c2) / (12 * math.Pi) / 1000
}

// CommonSpan is the stretch that every profile measured. Errors:
// ErrNoCommonSpan, ErrTooFew where a profile is the zero Profile or none is
// given.
func CommonSpan(profiles ...Profile) (Span, error) {
	s := Span{math.Inf(-1), math.Inf(1)}
	for _, p := range profiles {
		if len(p.at) == 0 {
			return Span{}, ErrTooFew
		}
		own := p.Span()
		if own.From >= s.To || own.To <= s.From {
			return Span{}, fmt.Errorf("%g to %g mm against %g to %g mm: %w", s.From, s.To, own.From, own.To, ErrNoCommonSpan)
		}
		s = Span{max(s.From, own.From), min(s.To, own.To)}
	}
	if len(profiles) == 0 {
		return Span{}, ErrTooFew
	}
	return s, nil
}

// UsualSpan is the stretch of limb over which the volumes of a series can be
// compared: what its profiles, given in order of time, have in common, leaving
// out those that are, or would leave, shorter than half of the median length.
// ok is false where there is none.
func UsualSpan(profiles []Profile) (span Span, ok bool) {
	lengths := make([]float64, len(profiles))
	for i, p := range profiles {
		lengths[i] = p.Span().Length()
	}
	sort.Float64s(lengths)
	if len(lengths) == 0 {
		return Span{}, false
	}
	least := (lengths[(len(lengths)-1)/2] + lengths[len(lengths)/2]) / 4
	for _, p := range profiles {
		own := p.Span()
		if ok {
			own = Span{From: max(own.From, span.From), To: min(own.To, span.To)}
		}
		if own.Length() >= least {
			span, ok = own, true
		}
	}
	return span, ok
}

// Change is the change in volume between two sets over the same span.
type Change struct {
	Span      Span
	EarlierML float64
	LaterML   float64
	Percent   float64 // 100 (later - earlier) / earlier; negative: shrunk
}

// Compare works out the change from earlier to later over their common
// span. The caller answers for both being taken from the same landmark and
// over the same layer. Errors: as CommonSpan.
func Compare(earlier, later Profile) (Change, error) {
	s, err := CommonSpan(earlier, later)
	if err != nil {
		return Change{}, fmt.Errorf("change in volume: %w", err)
	}
	return CompareOver(earlier, later, s)
}

// CompareOver works out the change from earlier to later over a stated span.
// Errors: ErrOutside.
func CompareOver(earlier, later Profile, s Span) (Change, error) {
	a, err := earlier.VolumeOver(s)
	if err != nil {
		return Change{}, fmt.Errorf("change in volume, earlier set: %w", err)
	}
	b, err := later.VolumeOver(s)
	if err != nil {
		return Change{}, fmt.Errorf("change in volume, later set: %w", err)
	}
	return Change{Span: s, EarlierML: a, LaterML: b, Percent: 100 * (b - a) / a}, nil
}
