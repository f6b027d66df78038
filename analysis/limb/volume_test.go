package limb

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// Complete elliptic integrals of the second kind from Abramowitz & Stegun
// 1964, table 17.1: E(m = 0.5) = 1.350643881, E(0.75) = 1.211056028. The
// ellipse of widths 2 to 1 has m = 0.75.
func TestRoundGirthOfEllipses(t *testing.T) {
	for _, c := range []struct{ ratio, e float64 }{{2, 1.211056028}, {0.5, 1.211056028}, {math.Sqrt2, 1.350643881}} {
		got, err := RoundGirth(c.ratio)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "share", got, math.Pi/(2*c.e*math.Sqrt(math.Max(c.ratio, 1/c.ratio))), 1e-9)
	}
	if got, _ := RoundGirth(1); got != 1 {
		t.Errorf("a circle: %g", got)
	}
	for _, bad := range []float64{0, -1, 6, 0.1, math.NaN(), math.Inf(1)} {
		if _, err := RoundGirth(bad); !errors.Is(err, ErrBadRatio) {
			t.Errorf("%g: %v, want ErrBadRatio", bad, err)
		}
	}
	// A cylinder of elliptical section 120 by 80 mm, 100 mm high, by its area.
	// Its girth is 4 x 60 E(5/9), here by the trapezoidal rule on the arc length,
	// which gains digits as fast as any on a function that repeats.
	girth := 0.0
	const parts = 400
	for k := range parts {
		u := 2 * math.Pi * (float64(k) + 0.5) / parts
		girth += math.Hypot(60*math.Sin(u), 40*math.Cos(u)) * 2 * math.Pi / parts
	}
	p := profile(t, Station{MM: 0, GirthMM: girth, Ratio: 1.5}, Station{MM: 100, GirthMM: girth, Ratio: 1 / 1.5})
	near(t, "elliptical cylinder", p.Volume(), math.Pi*60*40*100/1000, 1e-12)
	if s := p.Sections()[0]; math.Abs(s.GirthMM-girth) > 1e-9 || math.Abs(s.AreaMM2-math.Pi*2400) > 1e-6 {
		t.Errorf("section %+v", s)
	}
}

// R pracma 2.4.2, pchip(x, y, xi): the data of Fritsch & Carlson 1980 (RPN 14)
// with 1 added so that every girth is above 0, and girths that turn twice. The
// volumes are R's integrate over pchip(x, y, z)^2 / (4 pi), gap by gap, on the
// girths of virtual-102m of testdata/published/limb_shapes from 20 to 200 mm.
func TestCurvedSides(t *testing.T) {
	for _, c := range []struct{ x, y, at, want []float64 }{
		{[]float64{7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20},
			[]float64{1, 1.0000276429, 1.0437498, 1.169183, 1.469428, 1.943740, 1.998636, 1.999919, 1.999994},
			[]float64{8.0, 8.14, 8.5, 9, 9.5, 11, 13, 18},
			[]float64{1.00000027674339, 1.01769716737592, 1.11663257693928, 1.33753432684620, 1.68521794511090, 1.98604336253505, 1.99936182209228, 1.99998268384814}},
		{[]float64{0, 30, 70, 100, 150, 180}, []float64{300, 320, 318, 290, 292, 250}, []float64{10, 29, 50, 85, 101, 125, 160, 179},
			[]float64{309.513227513227, 319.966193121693, 319.495784148398, 303.628161888702, 290.002368, 291, 285.422222222222, 251.949711111111}},
	} {
		var s []Station
		for i := range c.x {
			s = append(s, Station{MM: c.x[i], GirthMM: c.y[i]})
		}
		p := profile(t, s...).Curved()
		for i, mm := range c.at {
			got, ok := p.Girth(mm)
			if !ok {
				t.Fatalf("no girth at %g", mm)
			}
			near(t, "girth at "+strconv.FormatFloat(mm, 'g', -1, 64), got, c.want[i], 1e-13)
		}
	}
	girths := []float64{187.81, 219.16, 233.12, 241.8, 251.52, 264.2, 283.24, 301.61, 308.56, 304.83}
	var s []Station
	for i, g := range girths {
		s = append(s, Station{MM: 20 + 20*float64(i), GirthMM: g})
	}
	p := profile(t, s...).Curved()
	near(t, "curved volume", p.Volume(), 996.483867237781, 1e-12)
	part, err := p.VolumeOver(Span{50, 135})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "part of it", part, 421.994835588645, 1e-12)
	a, _ := p.VolumeOver(Span{20, 77})
	b, _ := p.VolumeOver(Span{77, 200})
	near(t, "cut in two", a+b, p.Volume(), 1e-14)
	two := profile(t, s[0], s[1])
	near(t, "two stations", two.Curved().Volume(), two.Volume(), 1e-14)
}

// A hemisphere on a girth of 22 cm holds 2/3 pi (C / 2 pi)^3 = 89.91 ml, and a
// cap as high as the radius is that hemisphere; a sphere's own cap by the
// closed form pi h^2 (3 R - h) / 3.
func TestCaps(t *testing.T) {
	s := Set{Profile: profile(t, every(30, 340, 330, 315, 290, 260, 220)...)}
	own := s.Profile.Span()
	bare, err := s.Measure(own, Cap{}, Tape{})
	if err != nil {
		t.Fatal(err)
	}
	half, _ := s.Measure(own, Cap{Kind: HalfSphere}, Tape{})
	near(t, "half sphere", half.ML-bare.ML, 89.91, 5e-5)
	r := 220 / (2 * math.Pi)
	same, _ := s.Measure(own, Cap{Kind: SphereCap, TipMM: own.To + r}, Tape{})
	near(t, "cap of the radius", same.ML, half.ML, 1e-14)
	h := 20.0
	sphere := (r*r + h*h) / (2 * h)
	low, _ := s.Measure(own, Cap{Kind: SphereCap, TipMM: own.To + h}, Tape{})
	near(t, "flat cap", low.ML-bare.ML, math.Pi*h*h*(3*sphere-h)/3000, 1e-11)
	for _, tip := range []float64{own.To, 0, math.NaN()} {
		if _, err := s.Measure(own, Cap{Kind: SphereCap, TipMM: tip}, Tape{}); !errors.Is(err, ErrTip) {
			t.Errorf("tip at %g: %v, want ErrTip", tip, err)
		}
	}
	if _, err := s.Measure(Span{-5, 30}, Cap{}, Tape{}); !errors.Is(err, ErrOutside) {
		t.Errorf("outside: %v", err)
	}
}

// forms are profiles of every kind with a cap, over a span that cuts gaps.
func forms(t *testing.T, girths []float64) map[string]func(g []float64) Set {
	t.Helper()
	make := func(ratio float64, curved bool) func(g []float64) Set {
		return func(g []float64) Set {
			var s []Station
			for i, x := range g {
				s = append(s, Station{MM: 25 * float64(i), GirthMM: x, Ratio: ratio + 0.02*float64(i)*(ratio-1)})
			}
			p := profile(t, s...)
			if curved {
				p = p.Curved()
			}
			return Set{Profile: p}
		}
	}
	return map[string]func(g []float64) Set{"straight": make(1, false), "elliptical": make(1.3, false), "curved": make(1, true), "curved, elliptical": make(1.3, true)}
}

// Derivatives against differences of the volume itself.
func TestDerivatives(t *testing.T) {
	girths := []float64{330, 341, 338, 330, 300, 262, 215}
	span := Span{10, 141}
	for name, form := range forms(t, girths) {
		for _, c := range []Cap{{}, {Kind: HalfSphere}, {Kind: SphereCap, TipMM: 170}} {
			_, by, err := form(girths).Profile.derivatives(span, c)
			if err != nil {
				t.Fatal(err)
			}
			for j := range girths {
				const d = 1e-3
				up, down := append([]float64(nil), girths...), append([]float64(nil), girths...)
				up[j] += d
				down[j] -= d
				hi, _ := form(up).Measure(span, c, Tape{})
				lo, _ := form(down).Measure(span, c, Tape{})
				if got, want := by[j], (hi.ML-lo.ML)/(2*d); math.Abs(got-want) > 1e-6 {
					t.Errorf("%s, cap %d, girth %d: %g, differences give %g", name, c.Kind, j, got, want)
				}
			}
		}
	}
}

// The error of a volume and of a change against 40,000 drawings of girths:
// within 2.5 percent, four times what chance leaves of a standard deviation.
func TestErrorsByDrawing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	early, late := []float64{330, 341, 338, 330, 300, 262, 215}, []float64{318, 330, 329, 318, 287, 250, 206}
	span, tape, c := Span{10, 141}, Tape{Own: 2.5, Shared: 1.5}, Cap{Kind: HalfSphere}
	const draws = 40000
	for name, form := range forms(t, early) {
		a, err := form(early).Measure(span, c, tape)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := form(late).Measure(span, c, tape)
		change := b.Less(a)
		draw := func(g []float64) float64 {
			out := make([]float64, len(g))
			shared := tape.Shared * rng.NormFloat64()
			for j := range g {
				out[j] = g[j] + shared + tape.Own*rng.NormFloat64()
			}
			v, _ := form(out).Measure(span, c, Tape{})
			return v.ML
		}
		var vol, ml, percent moments
		for range draws {
			x, y := draw(early), draw(late)
			vol.add(x)
			ml.add(y - x)
			percent.add(100 * (y - x) / x)
		}
		near(t, name+", volume", vol.sd(), a.SE, 0.025)
		near(t, name+", change in ml", ml.sd(), change.SE, 0.025)
		near(t, name+", change in percent", percent.sd(), change.PercentSE, 0.025)
	}
}

// moments are those of numbers added one by one.
type moments struct{ n, mean, squares float64 }

func (m *moments) add(x float64) {
	m.n++
	d := x - m.mean
	m.mean += d / m.n
	m.squares += d * (x - m.mean)
}

func (m *moments) sd() float64 { return math.Sqrt(m.squares / (m.n - 1)) }

// Cylinders by hand: volume C^2 h / 4 pi, so that an error shared by all girths
// carries over with C h / 2 pi, and own ones of two stations with half of that
// each; runs of the tape count as means.
func TestErrorOfACylinder(t *testing.T) {
	c, h := 300.0, 200.0
	one := Set{Profile: profile(t, Station{MM: 0, GirthMM: c}, Station{MM: h, GirthMM: c})}
	slope := c * h / (2 * math.Pi) / 1000
	span := one.Profile.Span()
	m, _ := one.Measure(span, Cap{}, Tape{Shared: 2})
	near(t, "shared", m.SE, 2*slope, 1e-12)
	m, _ = one.Measure(span, Cap{}, Tape{Own: 2})
	near(t, "own", m.SE, 2*slope/math.Sqrt2, 1e-12)
	twice := Set{Sets: 2, Profile: profile(t, Station{MM: 0, GirthMM: c - 1}, Station{MM: 0, GirthMM: c + 1}, Station{MM: h, GirthMM: c}, Station{MM: h, GirthMM: c})}
	m, _ = twice.Measure(span, Cap{}, Tape{Own: 2, Shared: 2})
	near(t, "two runs", m.SE, math.Hypot(2*slope, 2*slope/math.Sqrt2)/math.Sqrt2, 1e-12)
	m, _ = Set{Profile: one.Profile, Sets: 3, Measurers: 2}.Measure(span, Cap{}, Tape{Measurer: 2})
	near(t, "two measurers", m.SE, 2*slope/math.Sqrt2, 1e-12)
	if m, _ = one.Measure(span, Cap{}, Tape{}); m.SE != 0 {
		t.Errorf("no error stated, but %g", m.SE)
	}
}

// Only stations that both sets have enter a change.
func TestCommonStations(t *testing.T) {
	a := Set{Profile: profile(t, every(20, 300, 290, 280, 260, 240)...)}
	b := Set{Profile: profile(t, every(40, 295, 270, 230, 180)...), Sets: 2}
	both, err := Common(a, b)
	if err != nil {
		t.Fatal(err)
	}
	for k, s := range both {
		if got := s.Profile.Stations(); len(got) != 3 || got[2].MM != 80 {
			t.Errorf("set %d: %v", k, got)
		}
	}
	if both[1].Sets != 2 {
		t.Error("how often the tape was run is lost")
	}
	if _, err := Common(a, Set{Profile: profile(t, Station{MM: 10, GirthMM: 300}, Station{MM: 40, GirthMM: 290})}); !errors.Is(err, ErrNoCommonSpan) {
		t.Errorf("one station in common: %v", err)
	}
}

// What the two assumptions cost on the five surfaces of
// testdata/published/limb_shapes: sections taken as round, and sides taken as
// straight between stations. Reports quote these figures.
func TestBiasOnFiveSurfaces(t *testing.T) {
	f, err := os.Open("../../testdata/published/limb_shapes/data.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	type surface struct {
		at   []Station // girths as measured, and the ratio of an ellipse of that girth and area
		true float64
		// from 20 to 100 mm
		to100 float64
	}
	shapes := map[string]*surface{}
	for _, r := range rows[1:] {
		var v [5]float64
		for k := range v {
			if v[k], err = strconv.ParseFloat(r[k+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		if shapes[r[0]] == nil {
			shapes[r[0]] = &surface{}
		}
		s := shapes[r[0]]
		s.at = append(s.at, Station{MM: v[0], GirthMM: v[1], Ratio: ratioOf(t, v[1], v[2])})
		s.true = v[4]
		if v[0] == 100 {
			s.to100 = v[4]
		}
	}
	low, high := map[string]float64{}, map[string]float64{}
	small, large := math.Inf(1), 0.0 // of the truth from 20 to 100 mm, which all five have
	for _, s := range shapes {
		small, large = math.Min(small, s.to100), math.Max(large, s.to100)
		round := append([]Station(nil), s.at...)
		wide := []Station(nil)
		for i := range round {
			round[i].Ratio = 0
			if i%2 == 0 || len(round)%2 == 0 && i == len(round)-1 {
				wide = append(wide, round[i])
			}
		}
		for name, p := range map[string]Profile{"round, straight": profile(t, round...), "round, curved": profile(t, round...).Curved(),
			"round, straight, 40 mm": profile(t, wide...), "round, curved, 40 mm": profile(t, wide...).Curved(), "elliptical, straight": profile(t, s.at...), "elliptical, curved": profile(t, s.at...).Curved()} {
			bias := 100 * (p.Volume()/s.true - 1)
			if _, ok := low[name]; !ok {
				low[name], high[name] = bias, bias
			}
			low[name], high[name] = math.Min(low[name], bias), math.Max(high[name], bias)
		}
	}
	if large < 2*small {
		t.Errorf("the five differ from %g to %g ml only", small, large)
	}
	for name, b := range map[string]Bias{"round, straight": KnownBias(false, false), "round, curved": KnownBias(false, true),
		"elliptical, straight": KnownBias(true, false), "elliptical, curved": KnownBias(true, true)} {
		if math.Abs(low[name]-b.Low) > 0.05 || math.Abs(high[name]-b.High) > 0.05 {
			t.Errorf("%s: %.2f to %.2f percent, told as %g to %g", name, low[name], high[name], b.Low, b.High)
		}
	}
}

// ratioOf is the ratio of the widths of the ellipse of a girth and an area, by
// halving.
func ratioOf(t *testing.T, girth, area float64) float64 {
	t.Helper()
	want := math.Sqrt(4*math.Pi*area) / girth
	lo, hi := 1.0, 4.0
	for range 60 {
		mid := (lo + hi) / 2
		if s, err := RoundGirth(mid); err != nil {
			t.Fatal(err)
		} else if s > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
