package limb

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Sock is the thickness of one sock worn over a limb that stands in a socket.
type Sock struct {
	Ply float64
	MM  float64
}

// The thickness of socks under the stress of walking that Sanders, Cagle and
// others 2012 (Prosthet Orthot Int 36: 77-86) measured.
var (
	oneMaterial      = []Sock{{1, 0.7}, {3, 1.2}, {5, 1.5}}
	severalMaterials = []Sock{{1, 0.4}, {3, 0.7}, {5, 0.8}}
)

// OneMaterial are socks knitted from a single material: 1, 3 and 5 ply are
// 0.7, 1.2 and 1.5 mm thick.
func OneMaterial() Thickness { return Thickness{oneMaterial} }

// SeveralMaterials are socks knitted from several materials: 1, 3 and 5 ply
// are 0.4, 0.7 and 0.8 mm thick.
func SeveralMaterials() Thickness { return Thickness{severalMaterials} }

// Thickness is how thick socks are by their ply. The zero Thickness knows of
// none.
type Thickness struct{ known []Sock }

// ErrBadSock reports a thickness of socks that cannot be.
var ErrBadSock = errors.New("not a usable thickness of socks")

// NewThickness is the thickness of a lab's own socks: at least one, of
// different ply, thicker with more ply, up to 20 mm. Errors: ErrBadSock.
func NewThickness(socks []Sock) (Thickness, error) {
	s := append([]Sock(nil), socks...)
	sort.Slice(s, func(i, j int) bool { return s[i].Ply < s[j].Ply })
	if len(s) == 0 {
		return Thickness{}, fmt.Errorf("none given: %w", ErrBadSock)
	}
	for i, x := range s {
		if !(x.Ply > 0 && x.Ply <= 40 && x.MM > 0 && x.MM <= 20) {
			return Thickness{}, fmt.Errorf("%g ply of %g mm: %w", x.Ply, x.MM, ErrBadSock)
		}
		if i > 0 && (x.Ply == s[i-1].Ply || x.MM < s[i-1].MM) {
			return Thickness{}, fmt.Errorf("%g ply of %g mm and %g ply of %g mm: %w", s[i-1].Ply, s[i-1].MM, x.Ply, x.MM, ErrBadSock)
		}
	}
	return Thickness{s}, nil
}

// Socks are those whose thickness is known, from thin to thick.
func (t Thickness) Socks() []Sock { return append([]Sock(nil), t.known...) }

// Known says whether any thickness is.
func (t Thickness) Known() bool { return len(t.known) > 0 }

// Of is the thickness in mm of one sock: that known of its ply, or read on
// the straight line between its neighbours (from 0 mm at 0 ply below the
// thinnest). Beyond the thickest known it goes on as between the last two,
// and beyond says so. NaN of a ply below 0 or where none is known.
func (t Thickness) Of(ply float64) (mm float64, beyond bool) {
	if !(ply >= 0) || len(t.known) == 0 {
		return math.NaN(), false
	}
	i := sort.Search(len(t.known), func(i int) bool { return t.known[i].Ply >= ply })
	lo, hi := Sock{}, t.known[min(i, len(t.known)-1)]
	switch {
	case i == len(t.known) && i > 1:
		lo = t.known[i-2]
	case i > 0 && i < len(t.known):
		lo = t.known[i-1]
	}
	return lo.MM + (hi.MM-lo.MM)*(ply-lo.Ply)/(hi.Ply-lo.Ply), i == len(t.known)
}

// OfAll is the thickness in mm of socks worn one over the other: the sum of
// theirs, which is more than that of one sock of the sum of their ply.
func (t Thickness) OfAll(socks []float64) (mm float64, beyond bool) {
	for _, ply := range socks {
		one, far := t.Of(ply)
		mm += one
		beyond = beyond || far
	}
	return mm, beyond
}

// Layer is the volume in ml that a layer of even thickness adds around the
// limb over a span: by Steiner's formula, girth times thickness plus pi times
// its square, along the span, whatever the shape of the sections as long as
// they bulge outwards everywhere. The end of the limb is not in it. Errors:
// ErrOutside.
func (p Profile) Layer(s Span, mm float64) (float64, error) {
	if _, err := p.VolumeOver(s); err != nil {
		return 0, err
	}
	v := 0.0
	p.pieces(s, func(i int, from, to float64) {
		for _, g := range gauss {
			at := from + (to-from)*g[0]
			girth, _ := p.Girth(at) // within the stations
			t := (at - p.at[i]) / (p.at[i+1] - p.at[i])
			girth /= p.share[i] + t*(p.share[i+1]-p.share[i])
			v += g[1] * (to - from) * (girth*mm + math.Pi*mm*mm)
		}
	})
	return v / 1000, nil
}

// ThicknessFor is the thickness in mm of an even layer that adds a volume in
// ml over a span; NaN of a volume below 0. Errors: ErrOutside.
func (p Profile) ThicknessFor(s Span, ml float64) (float64, error) {
	// The layer is a mm + b mm^2, with b known and a from a layer of 1 mm.
	one, err := p.Layer(s, 1)
	if err != nil {
		return 0, err
	}
	b := math.Pi * s.Length() / 1000
	a := one - b
	if !(ml >= 0) {
		return math.NaN(), nil
	}
	return 2 * ml / (a + math.Sqrt(a*a+4*b*ml)), nil
}
