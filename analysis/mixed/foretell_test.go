package mixed

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// R 4.2.2, lme4 1.1-31 and nlme 3.1-162, predict for the value and the error
// from dense matrices (testdata/foretell.R). nlme stops a little short of the
// optimum.
func TestForetellAgainstR(t *testing.T) {
	raw, err := os.ReadFile("testdata/foretell.json")
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]struct {
		Of             string
		Time, Estimate []float64
		LineSE         []float64 `json:"line_se"`
		SE             []float64
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	sleepers, labels := sleep(t)
	c := columns(t, "testdata/layers.csv")
	limbs := Data{Y: lsqtest.Numbers(t, c["y"]), X: [][]float64{lsqtest.Numbers(t, c["t"]), lsqtest.Numbers(t, c["g"])}, Names: []string{"t", "g"}, Intercept: true,
		Group: lsqtest.Groups(c["limb"]), RandomIntercept: true, Above: &Level{Name: "person", Labels: lsqtest.Groups(c["person"])}}
	for name, w := range want {
		d, o, of, tol := sleepers, Options{}, labels, 1e-6
		switch name {
		case "uncorrelated":
			o.Uncorrelated = true
		case "ml":
			o.ML = true
		case "ar1":
			d.Z, d.ZNames, d.Time, o.Correlation, tol = nil, nil, d.X[0], ContinuousAR1, 1e-4
		case "nested":
			d, of = limbs, c["limb"]
			d.Z, d.ZNames = d.X[:1], []string{"t"}
		case "nested_slopes":
			d, of = limbs, c["limb"]
			up := *d.Above
			up.Z, up.ZNames = d.X[:1], []string{"t"}
			d.Above = &up
		}
		m, err := Fit(d, o)
		if err != nil {
			t.Fatal(name, err)
		}
		label := -1
		for i, v := range of {
			if v == w.Of {
				label = d.Group[i]
			}
		}
		var x, z, above [][]float64
		for _, at := range w.Time {
			row := []float64{1, at}
			if d.Above != nil {
				row = append(row, 0)
			}
			x = append(x, row)
			z, above = append(z, repeat(at, len(d.Z))), append(above, nil)
			if d.Above != nil {
				above[len(above)-1] = repeat(at, len(d.Above.Z))
			}
		}
		got, err := m.Foretell(label, x, z, above, w.Time)
		if err != nil {
			t.Fatal(name, err)
		}
		for k, f := range got {
			for what, pair := range map[string][2]float64{"estimate": {f.Estimate, w.Estimate[k]}, "error of the line": {f.LineSE, w.LineSE[k]}, "error of a reading": {f.SE, w.SE[k]}} {
				if math.Abs(pair[0]-pair[1]) > tol*math.Abs(pair[1]) {
					t.Errorf("%s, %s at %g: %.12g, want %.12g", name, what, w.Time[k], pair[0], pair[1])
				}
			}
			if name != "ar1" && !(f.Low < f.LineLow && f.LineHigh < f.High) || math.Abs((f.Low+f.High)/2-f.Estimate) > 1e-9*math.Abs(f.Estimate) {
				t.Errorf("%s: limits %+v", name, f)
			}
		}
	}
	if len(want) != 6 {
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
	one := [][]float64{{1, 10}}
	for name, call := range map[string]func() error{
		"a group that there is not": func() error { _, err := m.Foretell(-7, one, [][]float64{{10}}, nil, nil); return err },
		"too few columns": func() error {
			_, err := m.Foretell(d.Group[0], [][]float64{{1}}, [][]float64{{10}}, nil, nil)
			return err
		},
		"no slope": func() error { _, err := m.Foretell(d.Group[0], one, nil, nil, nil); return err },
		"no number": func() error {
			_, err := m.Foretell(d.Group[0], [][]float64{{1, math.NaN()}}, [][]float64{{10}}, nil, nil)
			return err
		},
	} {
		if err := call(); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	d.Z, d.ZNames, d.Time = nil, nil, d.X[0]
	serial, err := Fit(d, Options{Correlation: ContinuousAR1})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := serial.Foretell(d.Group[0], one, nil, nil, nil); !errors.Is(err, ErrInput) {
		t.Errorf("no time: %v", err)
	}
	d.Spread = make([]int, len(d.Y))
	for i := range d.Spread {
		d.Spread[i] = i % 2
	}
	kinds, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := kinds.Foretell(d.Group[0], one, nil, nil, nil); !errors.Is(err, ErrNotForetold) {
		t.Errorf("residuals of two sizes: %v", err)
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
				f, err := m.Foretell(g, [][]float64{{1, at}}, [][]float64{{at}}, nil, nil)
				if err != nil {
					t.Fatal(err)
				}
				truth := level[g] + pace[g]*at
				all++
				if y := truth + r.NormFloat64(); f[0].Low <= y && y <= f[0].High {
					reading++
				}
				if f[0].LineLow <= truth && truth <= f[0].LineHigh {
					line++
				}
			}
		}
		t.Logf("%d limbs, %d draws: next reading %.1f%%, line %.1f%%", limbs, draws, 100*reading/all, 100*line/all)
		if least := map[int]float64{8: 0.915, 20: 0.93, 60: 0.935}[limbs]; reading/all < least || reading/all > 0.965 {
			t.Errorf("%d limbs: %.1f%% of next readings lie within their 95%% limits", limbs, 100*reading/all)
		}
	}
}
