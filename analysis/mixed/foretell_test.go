package mixed

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// R 4.2.2 (testdata/foretell.R): lme4's predict and pbkrtest's covariances where
// they fit the model; value, errors and degrees of freedom from dense matrices.
func TestForetellAgainstR(t *testing.T) {
	raw, err := os.ReadFile("testdata/foretell.json")
	if err != nil {
		t.Fatal(err)
	}
	type told struct {
		Of, By               int
		Time, Line, Estimate []float64
		LineKnownSE          []float64 `json:"line_known_se"`
		LineSE               []float64 `json:"line_se"`
		LineDF               []float64 `json:"line_df"`
		KnownSE              []float64 `json:"known_se"`
		SE, DF               []float64
		Variance             []float64
		VarianceDF           []float64 `json:"variance_df"`
	}
	var want map[string]told
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	sleepers, labels := sleep(t)
	c := columns(t, "testdata/layers.csv")
	limbs := Data{Y: lsqtest.Numbers(t, c["y"]), X: [][]float64{lsqtest.Numbers(t, c["t"]), lsqtest.Numbers(t, c["g"])}, Names: []string{"t", "g"}, Intercept: true,
		Group: lsqtest.Groups(c["limb"]), RandomIntercept: true}
	person := &Level{Name: "person", Labels: lsqtest.Groups(c["person"])}
	by := Level{Name: "measurer"}
	for _, v := range lsqtest.Numbers(t, c["by"]) {
		by.Labels = append(by.Labels, int(v)) // in the order of R
	}
	slope := func(d *Data) { d.Z, d.ZNames = d.X[:1], []string{"t"} }
	for name, w := range want {
		// What R finds with a covariance linear in its parameters is closed;
		// elsewhere both sides take differences.
		d, o, of, tol := sleepers, Options{}, labels, 1e-6
		if !strings.Contains("slope uncorrelated ml ar1", name) {
			d, of = limbs, c["limb"]
		}
		kind, _, _ := strings.Cut(name, "_")
		switch kind {
		case "uncorrelated":
			o.Uncorrelated = true
		case "ml":
			o.ML = true
		case "ar1":
			d.Z, d.ZNames, d.Time, o.Correlation, tol = nil, nil, d.X[0], ContinuousAR1, 1e-4
		case "nested":
			d.Above = person
			if name == "nested" {
				slope(&d)
				break
			}
			up := *person
			up.Z, up.ZNames = d.X[:1], []string{"t"}
			d.Above = &up
		case "crossed":
			d.Crossed, tol = []Level{by}, 1e-4
		case "all", "measured":
			d.Above, d.Crossed, tol = person, []Level{by}, 1e-4
			slope(&d)
		case "spread":
			d.Spread, tol = by.Labels, 1e-4
		case "serial":
			d.Time, o.Correlation, tol = d.X[0], ContinuousAR1, 1e-4
			if strings.Contains(name, "spread") {
				d.Spread = by.Labels
			} else {
				d.Crossed = []Level{by}
			}
		}
		m, err := Fit(d, o)
		if err != nil {
			t.Fatal(name, err)
		}
		label := func(of []string, groups []int, v int) int {
			for i, x := range of {
				if x == strconv.Itoa(v) {
					return groups[i]
				}
			}
			return Unknown
		}
		if len(w.Variance) > 0 {
			at := 0
			for k, l := range m.VarianceLimits() {
				if v := m.Variance[k]; v.With == "" {
					lsqtest.Close(t, name+" variance", v.Variance, w.Variance[at], 1e-5)
					lsqtest.Close(t, name+" degrees of freedom of a variance", l.DF, w.VarianceDF[at], 1e-4)
					at++
				} else if l.DF != 0 {
					t.Errorf("%s: limits of a covariance: %v", name, l)
				}
			}
			if at != len(w.Variance) {
				t.Errorf("%s: %d variances", name, at)
			}
		}
		if name == "measured" {
			continue // its forecast takes differences, which R did not here
		}
		f, err := m.Foreteller(label(of, d.Group, w.Of))
		if err != nil {
			t.Fatal(name, err)
		}
		for k, at := range w.Time {
			r := Reading{X: []float64{1, at}, Z: repeat(at, len(d.Z)), Time: at, Kind: label(c["by"], by.Labels, w.By)}
			if len(d.X) == 2 {
				r.X = append(r.X, 0)
			}
			if d.Above != nil {
				r.Above = repeat(at, len(d.Above.Z))
			}
			if len(d.Crossed) > 0 {
				r.Crossed = []int{r.Kind}
			}
			got, err := f.At(r)
			if err != nil {
				t.Fatal(name, err)
			}
			_, line := f.at.predict(r, false)
			_, reading := f.at.predict(r, true)
			s2 := f.at.scatter()
			for _, v := range []struct {
				what      string
				got, want float64
				tol       float64
			}{{"line", got.Line, w.Line[k], 1e-6}, {"estimate", got.Estimate, w.Estimate[k], 1e-6},
				{"error of the line, variances known", math.Sqrt(line * s2), w.LineKnownSE[k], 1e-5}, {"error of a reading, variances known", math.Sqrt(reading * s2), w.KnownSE[k], 1e-5},
				{"error of the line", got.LineSE, w.LineSE[k], tol}, {"error of a reading", got.SE, w.SE[k], tol},
				{"degrees of freedom of the line", got.LineDF, w.LineDF[k], 10 * tol}, {"degrees of freedom of a reading", got.DF, w.DF[k], 10 * tol}} {
				if !(math.Abs(v.got-v.want) <= v.tol*math.Abs(v.want)) {
					t.Errorf("%s, %s at %g: %.12g, want %.12g", name, v.what, at, v.got, v.want)
				}
			}
			if math.Abs((got.Low+got.High)/2-got.Estimate) > 1e-9*math.Abs(got.Estimate) || got.Known {
				t.Errorf("%s: %+v", name, got)
			}
		}
	}
	if len(want) != 16 {
		t.Errorf("%d cases", len(want))
	}
}

func repeat(v float64, n int) []float64 {
	var out []float64
	for range n {
		out = append(out, v)
	}
	return out
}

func TestForetellRefuses(t *testing.T) {
	d, _ := sleep(t)
	m, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.Foreteller(-7); !errors.Is(err, ErrInput) {
		t.Errorf("a group that there is not: %v", err)
	}
	f, err := m.Foreteller(d.Group[0])
	if err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]Reading{
		"too few columns":         {X: []float64{1}, Z: []float64{10}},
		"no slope":                {X: []float64{1, 10}},
		"no number":               {X: []float64{1, math.NaN()}, Z: []float64{10}},
		"a level of no grouping":  {X: []float64{1, 10}, Z: []float64{10}, Crossed: []int{1}},
		"a slope of nobody above": {X: []float64{1, 10}, Z: []float64{10}, Above: []float64{1}},
	} {
		if _, err := f.At(r); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := f.At(Reading{X: []float64{1, 10}, Z: []float64{10}}); err != nil {
		t.Error(err)
	}
}

// Readings to come of limbs of their own level and pace: level 5 with sd 2,
// 0.1 a month with sd 0.08, readings with sd 1, at irregular months. How often
// the 95% limits hold the next reading and the line, by the number of limbs.
func TestForetellCovers(t *testing.T) {
	draws := 120
	if v, err := strconv.Atoi(os.Getenv("PLYBOOK_DRAWS")); err == nil {
		draws = v
	}
	for _, limbs := range []int{8, 20, 60} {
		r := rand.New(rand.NewPCG(uint64(limbs), 11))
		var reading, line, all float64
		for range draws {
			d := Data{Intercept: true, RandomIntercept: true, X: [][]float64{nil}, Names: []string{"month"}, ZNames: []string{"month"}}
			level, pace, last := make([]float64, limbs), make([]float64, limbs), make([]float64, limbs)
			for g := range limbs {
				level[g], pace[g] = 5+2*r.NormFloat64(), 0.1+0.08*r.NormFloat64()
				at := 0.0
				for range 4 + g%4 {
					at += 1 + 4*r.Float64()
					d.X[0], d.Group = append(d.X[0], at), append(d.Group, g)
					d.Y = append(d.Y, level[g]+pace[g]*at+r.NormFloat64())
				}
				last[g] = at
			}
			d.Z = d.X
			m, err := Fit(d, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for g := range limbs {
				at := last[g] + 6
				fore, err := m.Foreteller(g)
				if err != nil {
					t.Fatal(err)
				}
				f, err := fore.At(Reading{X: []float64{1, at}, Z: []float64{at}})
				if err != nil {
					t.Fatal(err)
				}
				truth := level[g] + pace[g]*at
				all++
				if y := truth + r.NormFloat64(); f.Low <= y && y <= f.High {
					reading++
				}
				if f.LineLow <= truth && truth <= f.LineHigh {
					line++
				}
			}
		}
		t.Logf("%d limbs, %d draws: next reading %.1f%%, line %.1f%%", limbs, draws, 100*reading/all, 100*line/all)
		for what, share := range map[string]float64{"next readings": reading / all, "lines": line / all} {
			if share < 0.935 || share > 0.985 {
				t.Errorf("%d limbs: %.1f%% of %s lie within their 95%% limits", limbs, 100*share, what)
			}
		}
	}
}
