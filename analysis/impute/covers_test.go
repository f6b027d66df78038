package impute

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"plybook/analysis/survival"
)

// Values of x are missing where an event was seen of those with a high z, which
// is known: those complete tell wrong ratios, above all of z, the completed
// tables the right ones, and their intervals hold the truth as often as they
// say.
func TestImputedCovers(t *testing.T) {
	const sets, n = 120, 300
	truth := [2]float64{0.5, 0.7}
	var covered [2]int
	var all, whole [2]float64
	for k := range sets {
		rng := rand.New(rand.NewPCG(77, uint64(k)))
		x := trial{}
		c := []Column{{Name: "z"}, {Name: "x", Kind: Category, Cats: 2}, {Name: "event", Kind: Category, Cats: 2}, {Name: "hazard"}}
		d := survival.Data{}
		for range n {
			z := rng.NormFloat64()
			v := 0
			if rng.Float64() < 1/(1+math.Exp(-0.8*z)) {
				v = 1
			}
			time, limit := rng.ExpFloat64()/math.Exp(truth[0]*z+truth[1]*float64(v)), 0.2+1.5*rng.Float64()
			e := time < limit
			time = math.Ceil(1000 * min(time, limit))
			p := 0.1
			if e && z > 0 {
				p = 0.75
			}
			if rng.Float64() < p {
				v = -1
			}
			x.time, x.event = append(x.time, time), append(x.event, e)
			c[0].Num, c[1].Cat, c[2].Cat = append(c[0].Num, z), append(c[1].Cat, v), append(c[2].Cat, map[bool]int{true: 1}[e])
			d.Time, d.Cause = append(d.Time, time), append(d.Cause, map[bool]int{true: 1}[e])
		}
		h, err := survival.NelsonAalen(d, survival.CurveOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range x.time {
			k := 0
			for k+1 < len(h.Points) && h.Points[k+1].Time <= at {
				k++
			}
			c[3].Num = append(c[3].Num, h.Points[k].Estimate)
		}
		fit := func(cols []Column, keep func(i int) bool) *survival.Cox {
			d := survival.CoxData{Names: []string{"z", "x"}, X: make([][]float64, 2)}
			for i := range x.time {
				if keep(i) {
					d.Time, d.Event = append(d.Time, x.time[i]), append(d.Event, x.event[i])
					d.X[0], d.X[1] = append(d.X[0], cols[0].Num[i]), append(d.X[1], float64(cols[1].Cat[i]))
				}
			}
			f, err := survival.FitCox(d, survival.CoxOptions{})
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		complete := fit(c, func(i int) bool { return c[1].Cat[i] >= 0 })
		got, err := Complete(context.Background(), c, Options{Sets: 10, Seed: uint64(k)})
		if err != nil {
			t.Fatal(err)
		}
		var est, v [2][]float64
		for _, s := range got.Sets {
			f := fit(s, func(int) bool { return true })
			for j := range est {
				est[j], v[j] = append(est[j], f.Coef[j]), append(v[j], f.Var[j][j])
			}
		}
		for j := range est {
			whole[j] += complete.Coef[j] / sets
			p, err := Pool(est[j], v[j], math.Inf(1))
			if err != nil {
				t.Fatal(err)
			}
			all[j] += p.Estimate / sets
			if lo, hi, _, _, ok := p.Interval(0.95); ok && lo <= truth[j] && truth[j] <= hi {
				covered[j]++
			}
		}
	}
	if math.Abs(whole[0]-truth[0]) < 0.15 {
		t.Errorf("complete rows say %.3f of z, which is near %.1f: the test says nothing", whole[0], truth[0])
	}
	for j := range truth {
		if math.Abs(all[j]-truth[j]) > 0.05 {
			t.Errorf("completed tables say %.3f, the truth is %.1f", all[j], truth[j])
		}
		if share := float64(covered[j]) / sets; share < 0.9 {
			t.Errorf("%d of %d intervals hold the truth", covered[j], sets)
		}
	}
	t.Logf("complete %.3f and %.3f, completed %.3f and %.3f, covered %d and %d of %d", whole[0], whole[1], all[0], all[1], covered[0], covered[1], sets)
}

func TestCompleteIsDeterministic(t *testing.T) {
	x := readTrial(t)
	a, err := Complete(context.Background(), x.cols, Options{Sets: 4, Cycles: 3, Seed: 9})
	if err != nil {
		t.Fatal(err)
	}
	was := runtime.GOMAXPROCS(1)
	b, err := Complete(context.Background(), x.cols, Options{Sets: 4, Cycles: 3, Seed: 9})
	runtime.GOMAXPROCS(was)
	if err != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("the number of cores changes the tables (%v)", err)
	}
	for _, s := range a.Sets {
		for j, c := range s {
			for i := range c.len() {
				if c.missing(i) {
					t.Fatalf("%s is still missing in row %d", c.Name, i)
				}
				if !x.cols[j].missing(i) && (c.Kind == Number && c.Num[i] != x.cols[j].Num[i] || c.Kind == Category && c.Cat[i] != x.cols[j].Cat[i]) {
					t.Fatalf("%s was changed in row %d", c.Name, i)
				}
			}
		}
	}
	if a.Missing[1] != 48 || a.Missing[2] != 51 || a.Missing[0] != 0 {
		t.Errorf("missing %v", a.Missing)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Complete(ctx, x.cols, Options{Sets: 4}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestCompleteDegenerate(t *testing.T) {
	nan := math.NaN()
	run := func(cols ...Column) (*Completed, error) {
		return Complete(context.Background(), cols, Options{Sets: 2, Seed: 1})
	}
	if _, err := run(Column{Name: "a", Num: []float64{nan, nan}}, Column{Name: "b", Num: []float64{1, 2}}); !errors.Is(err, ErrNothingKnown) {
		t.Errorf("nothing known: %v", err)
	}
	if _, err := run(Column{Name: "a", Num: []float64{1}}, Column{Name: "b", Num: []float64{1, 2}}); err == nil {
		t.Error("columns of two lengths")
	}
	if _, err := run(Column{Name: "a", Num: []float64{math.Inf(1)}}); err == nil {
		t.Error("an infinite value")
	}
	for name, cols := range map[string][]Column{
		"one value known":   {{Name: "a", Num: []float64{7, nan, nan, nan}}, {Name: "b", Num: []float64{1, 2, 3, 4}}},
		"constant":          {{Name: "a", Num: []float64{7, 7, nan, 7}}, {Name: "b", Num: []float64{1, 1, 1, 1}}},
		"repeated":          {{Name: "a", Num: []float64{1, 2, nan, 4, 5}}, {Name: "b", Num: []float64{1, 2, 3, 4, 5}}, {Name: "c", Num: []float64{2, 4, 6, 8, 10}}},
		"separated":         {{Name: "a", Kind: Category, Cats: 2, Cat: []int{0, 0, 0, 1, 1, 1, -1}}, {Name: "b", Num: []float64{1, 2, 3, 4, 5, 6, 7}}},
		"one category":      {{Name: "a", Kind: Category, Cats: 1, Cat: []int{0, 0, -1}}, {Name: "b", Num: []float64{1, 2, 3}}},
		"a category is one": {{Name: "a", Kind: Category, Cats: 3, Cat: []int{0, 1, 2, 0, 1, 0, 1, -1}}, {Name: "b", Num: []float64{1, 2, 3, 4, nan, 6, 7, 8}}},
	} {
		got, err := run(cols...)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, s := range got.Sets {
			for _, c := range s {
				for i := range c.len() {
					if c.missing(i) {
						t.Errorf("%s: %s is missing in row %d", name, c.Name, i)
					}
				}
			}
		}
	}
	if got, err := run(); err != nil || len(got.Sets) != 2 {
		t.Errorf("no columns: %v", err)
	}
}

// By hand: estimates 1, 2, 3 with variances 0.5 each: within 0.5, between 1,
// total 0.5 + 4/3, share (4/3)/(11/6) = 8/11.
func TestPoolByHand(t *testing.T) {
	p, err := Pool([]float64{1, 2, 3}, []float64{0.5, 0.5, 0.5}, math.Inf(1))
	if err != nil {
		t.Fatal(err)
	}
	df := 2 / ((8.0 / 11) * (8.0 / 11))
	r := (4.0 / 3) / 0.5
	for what, c := range map[string][2]float64{"estimate": {p.Estimate, 2}, "error": {p.StdErr, math.Sqrt(11.0 / 6)}, "df": {p.DF, df}, "increase": {p.Increase, r},
		"share": {p.Share, 8.0 / 11}, "information": {p.Information, (r + 2/(df+3)) / (1 + r)}, "chance": {p.MonteCarlo, math.Sqrt(1.0 / 3)}} {
		if math.Abs(c[0]-c[1]) > 1e-12 {
			t.Errorf("%s: %g, want %g", what, c[0], c[1])
		}
	}
	if p, err = Pool([]float64{2, 2}, []float64{1, 1}, math.Inf(1)); err != nil || !math.IsInf(p.DF, 1) || p.Information != 0 {
		t.Errorf("nothing missing: %+v, %v", p, err)
	}
	if _, err := Pool([]float64{2}, []float64{1}, 10); !errors.Is(err, ErrFewSets) {
		t.Errorf("one table: %v", err)
	}
	if _, _, _, _, ok := (Pooled{}).Interval(0.95); ok {
		t.Error("an interval of nothing")
	}
}
