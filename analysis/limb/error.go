package limb

import (
	"fmt"
	"math"
)

// Tape is how far girths measured again by the same person differ, as
// standard deviations in mm. Each girth of a set is off by a part of its own
// and by a part that all girths of the set share (how tight the tape was
// held, where the landmark was taken to be); sets are independent of one
// another. The true parts are taken to be the same at every station.
type Tape struct {
	Own    float64 // of one girth, by itself
	Shared float64 // of all girths of one set together
	// Measurer is of all girths by one person against another's, by itself: a
	// part that those of one person share on every day. It counts where two
	// sets that are compared were measured by different persons.
	Measurer float64
}

// Measured is a volume with its error of measuring.
type Measured struct {
	ML float64
	SE float64 // standard deviation in ml; 0 where no error is stated
}

// Set is what was measured of a limb on one day.
type Set struct {
	Profile Profile
	Sets    int // how many times the tape was run down the limb; 0 is 1
	// Measurers is how many persons did; 0 is 1.
	Measurers int
}

// Measure is the volume over a span, closed by the cap, with the error that
// the tape's carries over: the derivative of the volume by each girth, times
// the error of that girth (delta method). Girths measured several times at a
// station have an own error smaller by the square root of their number, the
// shared part by that of the sets, that of measurers by theirs. Errors: ErrOutside, ErrTip.
func (s Set) Measure(over Span, c Cap, t Tape) (Measured, error) {
	v, by, err := s.Profile.derivatives(over, c)
	if err != nil {
		return Measured{}, err
	}
	own, sum := 0.0, 0.0
	for j, b := range by {
		own += b * b / float64(s.Profile.times[j])
		sum += b
	}
	variance := t.Own*t.Own*own + sum*sum*(t.Shared*t.Shared/float64(max(s.Sets, 1))+t.Measurer*t.Measurer/float64(max(s.Measurers, 1)))
	return Measured{v, math.Sqrt(variance)}, nil
}

// Difference is the change from an earlier volume to a later one, measured
// apart from one another.
type Difference struct {
	ML, SE             float64
	Percent, PercentSE float64 // of the earlier volume
}

// Less is the change from the earlier volume to this one, errors by the delta
// method. The earlier one is above 0.
func (later Measured) Less(earlier Measured) Difference {
	r := later.ML / earlier.ML
	return Difference{ML: later.ML - earlier.ML, SE: math.Hypot(later.SE, earlier.SE),
		Percent: 100 * (r - 1), PercentSE: 100 * math.Hypot(later.SE, r*earlier.SE) / earlier.ML}
}

// derivatives is the volume over a span with its cap, and the change of it in
// ml for each mm of each girth as measured (before the share that RoundGirth
// gave it).
func (p Profile) derivatives(s Span, c Cap) (ml float64, by []float64, err error) {
	if ml, err = p.VolumeOver(s); err != nil {
		return 0, nil, err
	}
	by = make([]float64, len(p.at))
	var turn [][]float64
	if p.slope != nil {
		turn = p.slopesBy()
	}
	// at adds weight times the change of the girth at a place in a gap.
	at := func(i int, mm, weight float64) {
		h := p.at[i+1] - p.at[i]
		t := (mm - p.at[i]) / h
		if turn == nil {
			by[i] += weight * (1 - t)
			by[i+1] += weight * t
			return
		}
		c0, m0, c1, m1 := bases(t, h)
		by[i] += weight * c0
		by[i+1] += weight * c1
		for j := range by {
			by[j] += weight * (m0*turn[i][j] + m1*turn[i+1][j])
		}
	}
	last := 0
	p.pieces(s, func(i int, from, to float64) {
		last = i
		for _, g := range gauss {
			mm := from + (to-from)*g[0]
			girth, _ := p.Girth(mm) // within the stations
			at(i, mm, g[1]*(to-from)*girth/(2*math.Pi)/1000)
		}
	})
	end, _ := p.Girth(s.To)
	add, slope, err := c.volume(end, s.To)
	if err != nil {
		return 0, nil, fmt.Errorf("volume: %w", err)
	}
	at(last, s.To, slope)
	for j := range by {
		by[j] *= p.share[j]
	}
	return ml + add, by, nil
}

// Section is a cross-section at a station and the stretch to the next.
type Section struct {
	MM      float64 // from the landmark
	GirthMM float64 // as measured
	AreaMM2 float64
	Gap     float64 // mm to the next station; 0 at the last
	Taper   float64 // fall of the girth in mm for each 10 mm on to the next station
	SlabML  float64 // volume on to the next station
}

// Sections are the cross-sections of a profile, from proximal to distal.
func (p Profile) Sections() []Section {
	out := make([]Section, len(p.at))
	for i := range out {
		out[i] = Section{MM: p.at[i], GirthMM: p.girth[i] / p.share[i], AreaMM2: p.girth[i] * p.girth[i] / (4 * math.Pi)}
		if i+1 == len(p.at) {
			break
		}
		out[i].Gap = p.at[i+1] - p.at[i]
		out[i].Taper = 10 * (out[i].GirthMM - p.girth[i+1]/p.share[i+1]) / out[i].Gap
		out[i].SlabML, _ = p.VolumeOver(Span{p.at[i], p.at[i+1]}) // within the stations
	}
	return out
}

// Common is each profile with the stations that all of them have alone, so
// that a change is no matter of where the tape was laid. Errors:
// ErrNoCommonSpan where fewer than two are shared.
func Common(sets ...Set) ([]Set, error) {
	out := make([]Set, len(sets))
	for k, s := range sets {
		var q Profile
		for i, mm := range s.Profile.at {
			shared := true
			for _, o := range sets {
				shared = shared && o.Profile.has(mm)
			}
			if shared {
				q.at, q.girth = append(q.at, mm), append(q.girth, s.Profile.girth[i])
				q.share, q.times = append(q.share, s.Profile.share[i]), append(q.times, s.Profile.times[i])
			}
		}
		if len(q.at) < 2 {
			return nil, fmt.Errorf("%d stations in common: %w", len(q.at), ErrNoCommonSpan)
		}
		if s.Profile.slope != nil {
			q = q.Curved()
		}
		out[k] = Set{q, s.Sets, s.Measurers}
	}
	return out, nil
}

// sameStation is how near in mm two distances are one station: less than a
// tape can tell.
const sameStation = 0.5

func (p Profile) has(mm float64) bool {
	for _, x := range p.at {
		if math.Abs(x-mm) <= sameStation {
			return true
		}
	}
	return false
}
