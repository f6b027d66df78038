package limb

import (
	"errors"
	"math"
	"testing"
)

// Sanders, Cagle and others 2012, Prosthet Orthot Int 36: 77-86: thickness
// under walking stress by ply, socks of one material and of several.
func TestPublishedThickness(t *testing.T) {
	one, several := OneMaterial(), SeveralMaterials()
	for _, c := range []struct{ ply, one, several float64 }{{0, 0, 0}, {1, 0.7, 0.4}, {3, 1.2, 0.7}, {5, 1.5, 0.8}, {2, 0.95, 0.55}} {
		a, farA := one.Of(c.ply)
		b, farB := several.Of(c.ply)
		if math.Abs(a-c.one) > 1e-12 || math.Abs(b-c.several) > 1e-12 || farA || farB {
			t.Errorf("%g ply: %g and %g mm, want %g and %g", c.ply, a, b, c.one, c.several)
		}
	}
	if mm, far := one.Of(6); math.Abs(mm-1.65) > 1e-12 || !far {
		t.Errorf("6 ply: %g mm, beyond %v", mm, far)
	}
	// Ply does not add up: three of 1 ply are thicker than one of 3.
	thin, _ := one.OfAll([]float64{1, 1, 1})
	thick, far := one.OfAll([]float64{3})
	near(t, "1+1+1", thin, 2.1, 1e-12)
	near(t, "3", thick, 1.2, 1e-12)
	if far {
		t.Error("3 ply called beyond what is known")
	}
	if mm, _ := one.OfAll(nil); mm != 0 {
		t.Errorf("no socks: %g mm", mm)
	}
	for _, bad := range []float64{-1, math.NaN()} {
		if mm, _ := one.Of(bad); !math.IsNaN(mm) {
			t.Errorf("%g ply: %g mm", bad, mm)
		}
	}
	if mm, _ := (Thickness{}).Of(3); !math.IsNaN(mm) {
		t.Error("a thickness of socks that nobody knows")
	}
}

func TestOwnThickness(t *testing.T) {
	own, err := NewThickness([]Sock{{5, 2}, {2, 1}})
	if err != nil {
		t.Fatal(err)
	}
	for ply, want := range map[float64]float64{1: 0.5, 2: 1, 3.5: 1.5, 5: 2} {
		if mm, far := own.Of(ply); math.Abs(mm-want) > 1e-12 || far {
			t.Errorf("%g ply: %g mm, %v", ply, mm, far)
		}
	}
	single, _ := NewThickness([]Sock{{5, 2}})
	if mm, far := single.Of(10); mm != 4 || !far {
		t.Errorf("beyond the only one: %g mm, %v", mm, far)
	}
	for _, bad := range [][]Sock{nil, {{0, 1}}, {{1, 0}}, {{1, 1}, {1, 2}}, {{1, 2}, {3, 1}}, {{1, math.NaN()}}, {{41, 1}}, {{1, 21}}} {
		if _, err := NewThickness(bad); !errors.Is(err, ErrBadSock) {
			t.Errorf("%v: %v, want ErrBadSock", bad, err)
		}
	}
}

// Geometry of cylinders of radius 50 mm: layers of 0.4, 0.7, 0.8, 1.2 and
// 1.5 mm add (1 + t/50)^2 - 1 of the volume, 1.6, 2.8, 3.2, 4.9 and 6.1
// percent; and a cone with a layer is the cone whose girths are wider by
// 2 pi t.
func TestLayers(t *testing.T) {
	c := 2 * math.Pi * 50
	p := profile(t, Station{MM: 0, GirthMM: c}, Station{MM: 200, GirthMM: c})
	for mm, want := range map[float64]float64{0.4: 1.6, 0.7: 2.8, 0.8: 3.2, 1.2: 4.9, 1.5: 6.1} {
		v, err := p.Layer(p.Span(), mm)
		if err != nil {
			t.Fatal(err)
		}
		share := 100 * v / p.Volume()
		near(t, "cylinder", share, 100*(math.Pow(1+mm/50, 2)-1), 1e-12)
		if math.Abs(share-want) > 0.06 {
			t.Errorf("%g mm: %.2f percent, published as %g", mm, share, want)
		}
	}
	const mm = 1.5
	cone, wider := profile(t, every(50, 340, 310, 250)...), profile(t, every(50, 340+2*math.Pi*mm, 310+2*math.Pi*mm, 250+2*math.Pi*mm)...)
	span := Span{15, 88}
	v, _ := cone.Layer(span, mm)
	a, _ := cone.VolumeOver(span)
	b, _ := wider.VolumeOver(span)
	near(t, "cone", v, b-a, 1e-10)
	back, err := cone.ThicknessFor(span, v)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "and back", back, mm, 1e-12)
	if none, _ := cone.ThicknessFor(span, 0); none != 0 {
		t.Errorf("no volume: %g mm", none)
	}
	if x, _ := cone.ThicknessFor(span, -1); !math.IsNaN(x) {
		t.Errorf("less than no volume: %g mm", x)
	}
	// Around an ellipse the layer depends on its girth alone.
	oval := profile(t, Station{MM: 0, GirthMM: c, Ratio: 1.4}, Station{MM: 200, GirthMM: c, Ratio: 1.4})
	x, _ := oval.Layer(oval.Span(), mm)
	y, _ := p.Layer(p.Span(), mm)
	near(t, "ellipse", x, y, 1e-12)
	if _, err := cone.Layer(Span{-1, 20}, mm); !errors.Is(err, ErrOutside) {
		t.Errorf("outside: %v", err)
	}
	if _, err := cone.ThicknessFor(Span{-1, 20}, 5); !errors.Is(err, ErrOutside) {
		t.Errorf("outside: %v", err)
	}
}
