package impute

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
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
