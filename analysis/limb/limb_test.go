package limb

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g (relative tolerance %g)", what, got, want, rel)
	}
}

func profile(t testing.TB, s ...Station) Profile {
	t.Helper()
	p, err := NewProfile(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func every(mm float64, girths ...float64) []Station {
	out := make([]Station, len(girths))
	for i, g := range girths {
		out[i] = Station{MM: mm * float64(i), GirthMM: g}
	}
	return out
}

func TestExactSolids(t *testing.T) {
	cylinder := math.Pi * 50 * 50 * 200 / 1000 // radius 50 mm, height 200 mm
	c := 2 * math.Pi * 50
	for _, tc := range []struct {
		name string
		at   []Station
		want float64
		rel  float64
	}{
		{"cylinder, two stations", []Station{{MM: 0, GirthMM: c}, {MM: 200, GirthMM: c}}, cylinder, 1e-14},
		{"cylinder, unequal gaps out of order", []Station{{MM: 200, GirthMM: c}, {MM: 30, GirthMM: c}, {MM: 0, GirthMM: c}, {MM: 31, GirthMM: c}}, cylinder, 1e-14},
		// h (R^2 + R r + r^2) pi / 3 with R = 60 mm, r = 40 mm, h = 90 mm.
		{"frustum by its radii", []Station{{MM: 0, GirthMM: 120 * math.Pi}, {MM: 90, GirthMM: 80 * math.Pi}}, math.Pi * 90 * (3600 + 2400 + 1600) / 3 / 1000, 1e-14},
		{"40 to 36 cm over 10 cm", every(100, 400, 360), 1150.16, 5e-6},
		{"six girths 3 cm apart", every(30, 340, 330, 315, 290, 260, 220), 1053.41, 5e-6},
		{"repeats are averaged", []Station{{MM: 0, GirthMM: c - 4}, {MM: 0, GirthMM: c + 4}, {MM: 200, GirthMM: c}}, cylinder, 1e-14},
		{"proximal to the landmark", []Station{{MM: -100, GirthMM: c}, {MM: 100, GirthMM: c}}, cylinder, 1e-14},
	} {
		near(t, tc.name, profile(t, tc.at...).Volume(), tc.want, tc.rel)
	}
}

// The limb shapes of testdata/published/limb_shapes; its SOURCE.md names the
// data and the closed form.
func TestPublishedLimbShapes(t *testing.T) {
	const dir = "../../testdata/published/limb_shapes/"
	f, err := os.Open(dir + "data.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	shapes := map[string][]Station{}
	for _, r := range rows[1:] {
		at, err1 := strconv.ParseFloat(r[1], 64)
		girth, err2 := strconv.ParseFloat(r[2], 64)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		shapes[r[0]] = append(shapes[r[0]], Station{MM: at, GirthMM: girth})
	}
	b, err := os.ReadFile(dir + "expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Entries struct {
			Volumes struct {
				RelTol float64 `json:"rel_tol"`
				R      map[string]struct {
					Span [2]float64 `json:"span_mm"`
					ML   float64    `json:"frusta_ml_every_20mm"`
					Wide struct {
						Span [2]float64 `json:"span_mm"`
						ML   float64    `json:"ml"`
					} `json:"frusta_ml_every_40mm_over_its_own_span"`
					True float64 `json:"true_volume_ml"`
					Over float64 `json:"frusta_over_true"`
				} `json:"r"`
			} `json:"volumes"`
		} `json:"entries"`
	}
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	if len(want.Entries.Volumes.R) != 5 || len(shapes) != 5 {
		t.Fatalf("%d shapes expected, %d read", len(want.Entries.Volumes.R), len(shapes))
	}
	tol := want.Entries.Volumes.RelTol
	for name, w := range want.Entries.Volumes.R {
		p := profile(t, shapes[name]...)
		if s := p.Span(); s != (Span{w.Span[0], w.Span[1]}) {
			t.Errorf("%s: span %v, want %v", name, s, w.Span)
		}
		near(t, name+" every 20 mm", p.Volume(), w.ML, tol)
		near(t, name+" over the true volume", p.Volume()/w.True, w.Over, tol)
		var wide []Station
		for i, s := range shapes[name] {
			if i%2 == 0 {
				wide = append(wide, s)
			}
		}
		q := profile(t, wide...)
		if s := q.Span(); s != (Span{w.Wide.Span[0], w.Wide.Span[1]}) {
			t.Errorf("%s: wide span %v, want %v", name, s, w.Wide.Span)
		}
		near(t, name+" every 40 mm", q.Volume(), w.Wide.ML, tol)
	}
}

func TestVolumeOverASpan(t *testing.T) {
	p := profile(t, every(100, 400, 360)...)
	whole, err := p.VolumeOver(Span{0, 100})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "whole span", whole, p.Volume(), 1e-15)
	part, err := p.VolumeOver(Span{25, 75}) // girths 390 and 370 mm
	if err != nil {
		t.Fatal(err)
	}
	near(t, "middle", part, 50*(390*390+390*370+370*370)/(12*math.Pi)/1000, 1e-14)
	for _, s := range []Span{{-1, 50}, {50, 101}, {60, 60}, {70, 30}, {math.NaN(), 50}, {0, math.Inf(1)}} {
		if v, err := p.VolumeOver(s); !errors.Is(err, ErrOutside) {
			t.Errorf("span %v: %v, %v, want ErrOutside", s, v, err)
		}
	}
}

func TestCuttingASpanChangesNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var s []Station
		at := 0.0
		for range 2 + r.IntN(8) {
			s = append(s, Station{MM: at, GirthMM: 150 + 300*r.Float64()})
			at += 5 + 40*r.Float64()
		}
		p := profile(t, s...)
		r.Shuffle(len(s), func(i, j int) { s[i], s[j] = s[j], s[i] })
		if q := profile(t, s...); q.Volume() != p.Volume() {
			t.Fatalf("order of stations changed the volume: %v, %v", p.Volume(), q.Volume())
		}
		span := p.Span()
		cut := span.From + span.Length()*(0.05+0.9*r.Float64())
		a, err1 := p.VolumeOver(Span{span.From, cut})
		b, err2 := p.VolumeOver(Span{cut, span.To})
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		near(t, "two parts", a+b, p.Volume(), 1e-12)
	}
}

func TestCompare(t *testing.T) {
	cast := profile(t, every(30, 340, 330, 315, 290, 260)...)                                                         // 0 to 120 mm
	later := profile(t, Station{MM: 30, GirthMM: 320}, Station{MM: 75, GirthMM: 300}, Station{MM: 150, GirthMM: 220}) // 30 to 150 mm
	got, err := Compare(cast, later)
	if err != nil {
		t.Fatal(err)
	}
	if got.Span != (Span{30, 120}) {
		t.Errorf("span %v", got.Span)
	}
	a := frustum(30, 330, 315) + frustum(30, 315, 290) + frustum(30, 290, 260)
	b := frustum(45, 320, 300) + frustum(45, 300, 252) // 252 mm is read between 300 and 220
	near(t, "earlier", got.EarlierML, a, 1e-14)
	near(t, "later", got.LaterML, b, 1e-14)
	near(t, "percent", got.Percent, 100*(b-a)/a, 1e-12)
	if got.Percent >= 0 {
		t.Errorf("a limb that shrank changed by %v percent", got.Percent)
	}
	// A girth 5 percent smaller everywhere is a volume 9.75 percent smaller.
	small := make([]Station, 0, 5)
	for _, s := range cast.Stations() {
		small = append(small, Station{MM: s.MM, GirthMM: 0.95 * s.GirthMM})
	}
	same, err := Compare(cast, profile(t, small...))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "5 percent of girth", same.Percent, -9.75, 1e-12)
	if _, err := CompareOver(cast, later, Span{0, 120}); !errors.Is(err, ErrOutside) {
		t.Errorf("span not measured by both: %v", err)
	}
}

func TestRefusals(t *testing.T) {
	for name, tc := range map[string]struct {
		at   []Station
		want error
	}{
		"nothing":                 {nil, ErrTooFew},
		"one station":             {every(30, 340), ErrTooFew},
		"one station twice":       {[]Station{{MM: 30, GirthMM: 340}, {MM: 30, GirthMM: 342}}, ErrTooFew},
		"girth of nothing":        {every(30, 340, 0), ErrBadStation},
		"girth below nothing":     {every(30, 340, -5), ErrBadStation},
		"girth not a number":      {every(30, 340, math.NaN()), ErrBadStation},
		"girth in the wrong unit": {every(30, 340, 1e7), ErrBadStation},
		"distance infinite":       {[]Station{{MM: 0, GirthMM: 340}, {MM: math.Inf(1), GirthMM: 330}}, ErrBadStation},
	} {
		if p, err := NewProfile(tc.at); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, %v, want %v", name, p, err, tc.want)
		}
	}
	a, b := profile(t, Station{MM: 0, GirthMM: 340}, Station{MM: 60, GirthMM: 330}), profile(t, Station{MM: 60, GirthMM: 330}, Station{MM: 120, GirthMM: 300})
	if _, err := Compare(a, b); !errors.Is(err, ErrNoCommonSpan) {
		t.Errorf("sets that only touch: %v", err)
	}
	if _, err := Compare(a, Profile{}); !errors.Is(err, ErrTooFew) {
		t.Errorf("zero profile: %v", err)
	}
	if _, err := CommonSpan(); !errors.Is(err, ErrTooFew) {
		t.Errorf("no profiles: %v", err)
	}
	if (Profile{}).Volume() != 0 || (Profile{}).Span() != (Span{}) {
		t.Error("the zero profile has a volume")
	}
}

func FuzzProfile(f *testing.F) {
	f.Add(0.0, 340.0, 30.0, 330.0, 10.0, 20.0)
	f.Add(1e300, 1e300, -1e300, 1e300, 0.0, 1.0)
	f.Fuzz(func(t *testing.T, a, ga, b, gb, from, to float64) {
		p, err := NewProfile([]Station{{MM: a, GirthMM: ga}, {MM: b, GirthMM: gb}})
		if err != nil {
			return
		}
		if v, err := p.VolumeOver(Span{from, to}); err == nil && !(v >= 0 && v < math.Inf(1)) {
			t.Fatalf("volume %v", v)
		}
	})
}

func ExampleCompare() {
	cast, err := NewProfile([]Station{{MM: 0, GirthMM: 340}, {MM: 30, GirthMM: 330}, {MM: 60, GirthMM: 315}, {MM: 90, GirthMM: 290}})
	if err != nil {
		fmt.Println(err)
	}
	today, err := NewProfile([]Station{{MM: 30, GirthMM: 318}, {MM: 60, GirthMM: 304}, {MM: 90, GirthMM: 281}})
	if err != nil {
		fmt.Println(err)
	}
	c, err := Compare(cast, today)
	fmt.Printf("from %g to %g mm: %.0f ml then, %.0f ml now, %+.1f percent (%v)\n", c.Span.From, c.Span.To, c.EarlierML, c.LaterML, c.Percent, err)
	// Output: from 30 to 90 mm: 467 ml then, 435 ml now, -6.8 percent (<nil>)
}
