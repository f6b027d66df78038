package limb

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// ErrBadRatio reports a ratio of the two widths of a section that no limb
// has.
var ErrBadRatio = errors.New("not a usable ratio of the widths of a section")

// widest is the largest ratio of widths that is taken: beyond it the two
// numbers were hardly the widths of one section.
const widest = 5

// RoundGirth is the share of an ellipse's girth that a circle of the same
// area has, given the ratio of the ellipse's widths (either way round): 1 for
// a circle, 0.9963 for 1.2. A profile of girths times this share encloses
// what elliptical sections of the girths measured do.
//
// An ellipse of widths 2a and 2b, a >= b, has the girth 4 a E(m) with the
// parameter m = 1 - (b/a)^2 of the complete elliptic integral of the second
// kind, and the area pi a b; a circle of that area has the girth
// 2 pi sqrt(a b). Abramowitz & Stegun 1964, chapter 17. Errors: ErrBadRatio
// outside 0.2 to 5.
func RoundGirth(ratio float64) (float64, error) {
	if ratio < 1 {
		ratio = 1 / ratio
	}
	// Written so that a NaN fails too.
	if !(ratio >= 1 && ratio <= widest) {
		return 0, fmt.Errorf("%g: %w", ratio, ErrBadRatio)
	}
	if ratio == 1 {
		return 1, nil // exactly, so that round sections come out to the last digit
	}
	return math.Pi / (2 * mathext.CompleteE(1-1/(ratio*ratio)) * math.Sqrt(ratio)), nil
}

// Bias is by how many percent volumes come out too large, the least and the
// most of several surfaces.
type Bias struct{ Low, High float64 }

// KnownBias is what the assumptions cost on the five transtibial surfaces of
// testdata/published/limb_shapes with a station every 20 mm; the tests of this
// package work it out. With elliptical sections the ellipse has the girth and
// the area that the section truly has, which a lab's two widths tell only
// roughly.
func KnownBias(elliptical, curved bool) Bias {
	switch {
	case elliptical && curved:
		return Bias{-0.1, 0}
	case elliptical:
		return Bias{-0.7, -0.1}
	case curved:
		return Bias{2.3, 5.2}
	}
	return Bias{2.1, 4.6}
}

// Cap closes the limb beyond the last station of a span. The zero Cap adds
// nothing.
type Cap struct {
	Kind  CapKind
	TipMM float64 // of SphereCap: where the limb ends, from the landmark
}

// CapKind is how the end of a limb is told.
type CapKind int

// The kinds of Cap.
const (
	// NoCap ends the limb at its last station.
	NoCap CapKind = iota
	// HalfSphere adds half a sphere of the last girth.
	HalfSphere
	// SphereCap adds the part of a sphere that has the last girth at its base
	// and the end of the limb at its top. Idea: Jarl 2003, truncated cones
	// and part of a sphere.
	SphereCap
)

// ErrTip reports an end of the limb that does not lie beyond the last
// station of the span.
var ErrTip = errors.New("the end of the limb does not lie beyond the last station")

// volume is what the cap adds in ml beyond a section of the given girth at
// to, and the change of it for each mm of that girth.
func (c Cap) volume(girth, to float64) (ml, slope float64, err error) {
	switch c.Kind {
	case HalfSphere:
		return girth * girth * girth / (12 * math.Pi * math.Pi) / 1000, girth * girth / (4 * math.Pi * math.Pi) / 1000, nil
	case SphereCap:
		t := c.TipMM - to
		if !(t > 0) || t > longest {
			return 0, 0, fmt.Errorf("%g mm, the last station at %g mm: %w", c.TipMM, to, ErrTip)
		}
		r := girth / (2 * math.Pi)
		return math.Pi * t / 6 * (3*r*r + t*t) / 1000, t * r / 2 / 1000, nil
	}
	return 0, 0, nil
}
