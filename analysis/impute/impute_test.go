package impute

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"testing"

	"plybook/analysis/survival"
)

const published = "../../testdata/published/imputed"

// trial is the lung cancer trial with values taken away.
type trial struct {
	time  []float64
	event []bool
	cols  []Column // age, sex, ecog, meal, loss, event, hazard
}

var (
	sexes = []string{"female", "male"}
	ecogs = []string{"0", "1", "2+"}
)

func readTrial(t testing.TB) trial {
	t.Helper()
	f, err := os.Open(filepath.Join(published, "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		if s == "" {
			return math.NaN()
		}
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	var out trial
	c := []Column{{Name: "age"}, {Name: "sex", Kind: Category, Cats: 2}, {Name: "ecog", Kind: Category, Cats: 3}, {Name: "meal"}, {Name: "loss"},
		{Name: "event", Kind: Category, Cats: 2}, {Name: "hazard"}}
	for _, r := range all[1:] {
		out.time, out.event = append(out.time, number(r[0])), append(out.event, r[1] == "1")
		c[0].Num = append(c[0].Num, number(r[2]))
		c[1].Cat, c[2].Cat = append(c[1].Cat, slices.Index(sexes, r[3])), append(c[2].Cat, slices.Index(ecogs, r[4]))
		c[3].Num, c[4].Num = append(c[3].Num, number(r[5])), append(c[4].Num, number(r[6]))
		c[5].Cat = append(c[5].Cat, int(number(r[1])))
	}
	d := survival.Data{Time: out.time}
	for _, e := range out.event {
		d.Cause = append(d.Cause, map[bool]int{true: 1}[e])
	}
	h, err := survival.NelsonAalen(d, survival.CurveOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range out.time {
		k := 0
		for k+1 < len(h.Points) && h.Points[k+1].Time <= at {
			k++
		}
		c[6].Num = append(c[6].Num, h.Points[k].Estimate)
	}
	out.cols = c
	return out
}

// fit is Cox's regression of a completed trial: age, sex (against male), ecog
// (against 1), meal, loss.
func (x trial) fit(t testing.TB, cols []Column) *survival.Cox {
	t.Helper()
	d := survival.CoxData{Time: x.time, Event: x.event, Names: []string{"age", "female", "0", "2+", "meal", "loss"}}
	is := func(c Column, v int) []float64 {
		out := make([]float64, len(c.Cat))
		for i := range out {
			if c.Cat[i] == v {
				out[i] = 1
			}
		}
		return out
	}
	d.X = [][]float64{cols[0].Num, is(cols[1], 0), is(cols[2], 0), is(cols[2], 2), cols[3].Num, cols[4].Num}
	f, err := survival.FitCox(d, survival.CoxOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func (x trial) pool(t testing.TB, sets [][]Column) []Pooled {
	t.Helper()
	var est, v [6][]float64
	events := 0.0
	for _, cols := range sets {
		f := x.fit(t, cols)
		events = f.Events
		for j := range est {
			est[j], v[j] = append(est[j], f.Coef[j]), append(v[j], f.Var[j][j])
		}
	}
	var out []Pooled
	for j := range est {
		p, err := Pool(est[j], v[j], events-6)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

type pooledWant struct {
	Estimate, SE, DF, Between, Within, Riv, Lambda, Fmi []float64
}

func wanted(t testing.TB) (mice, rules pooledWant) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(published, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Entries struct{ Mice, Rules pooledWant }
	}
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	return all.Entries.Mice, all.Entries.Rules
}

// The five tables stored beside the data are those of seed 1; R 4.2.2, mice
// 3.15.0, pool of coxph (survival 3.5-3) puts their fits together. To store
// them anew after a change of the drawing: PLYBOOK_COMPLETED=FILE.
func TestPoolPublished(t *testing.T) {
	x := readTrial(t)
	got, err := Complete(context.Background(), x.cols, Options{Sets: 5, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	rows = append(rows, []string{"set", "time", "event", "age", "sex", "ecog", "meal", "loss"})
	for m, s := range got.Sets {
		for i := range x.time {
			rows = append(rows, []string{fmt.Sprint(m + 1), fmt.Sprint(x.time[i]), fmt.Sprint(x.cols[5].Cat[i]), fmt.Sprint(s[0].Num[i]), sexes[s[1].Cat[i]], ecogs[s[2].Cat[i]],
				fmt.Sprint(s[3].Num[i]), fmt.Sprint(s[4].Num[i])})
		}
	}
	if path := os.Getenv("PLYBOOK_COMPLETED"); path != "" {
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		w := csv.NewWriter(f)
		if err := errors.Join(w.WriteAll(rows), f.Close()); err != nil {
			t.Fatal(err)
		}
	}
	f, err := os.Open(filepath.Join(published, "completed.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	stored, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(stored, rows) {
		t.Fatal("the tables are not those stored")
	}
	_, want := wanted(t)
	for j, p := range x.pool(t, got.Sets) {
		for what, c := range map[string][2]float64{"estimate": {p.Estimate, want.Estimate[j]}, "error": {p.StdErr, want.SE[j]}, "df": {p.DF, want.DF[j]},
			"between": {p.Between, want.Between[j]}, "within": {p.Within, want.Within[j]}, "increase": {p.Increase, want.Riv[j]},
			"share": {p.Share, want.Lambda[j]}, "information": {p.Information, want.Fmi[j]}} {
			if math.Abs(c[0]-c[1]) > 1e-7*math.Abs(c[1]) {
				t.Errorf("%d %s: %.12g, want %.12g", j, what, c[0], c[1])
			}
		}
	}
}

// Another program's chained equations, with its own random numbers: 300
// tables each. The means differ by chance: by the errors that the number of
// tables leaves in both.
func TestCompleteLikeMice(t *testing.T) {
	x := readTrial(t)
	const sets = 300
	got, err := Complete(context.Background(), x.cols, Options{Sets: sets, Seed: 2})
	if err != nil {
		t.Fatal(err)
	}
	want, _ := wanted(t)
	for j, p := range x.pool(t, got.Sets) {
		within := 4 * math.Sqrt(want.Between[j]*2/sets)
		if math.Abs(p.Estimate-want.Estimate[j]) > within+0.03*want.SE[j] {
			t.Errorf("%d: estimate %.4f, want %.4f within %.4f", j, p.Estimate, want.Estimate[j], within)
		}
		if r := p.StdErr / want.SE[j]; r < 0.96 || r > 1.04 {
			t.Errorf("%d: error %.4f, want %.4f", j, p.StdErr, want.SE[j])
		}
		if math.Abs(p.Information-want.Fmi[j]) > 0.07 {
			t.Errorf("%d: missing information %.3f, want %.3f", j, p.Information, want.Fmi[j])
		}
	}
}

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
