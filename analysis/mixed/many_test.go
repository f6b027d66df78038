package mixed

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/internal/lsq/lsqtest"
)

// The analytic curvature of the unprofiled criterion is the derivative of its
// gradient, in theta and the log of the residual standard deviation.
func TestCurvature(t *testing.T) {
	for _, o := range []Options{{}, {ML: true}, {Uncorrelated: true}, {Uncorrelated: true, ML: true}} {
		r := rand.New(rand.NewPCG(2, 2))
		d := simulate(9, 15, 5, 1, 0.7, 0.5)
		w := make([]float64, len(d.Y))
		for i := range w {
			w[i] = r.NormFloat64()
		}
		d.X, d.Names = append(d.X[:1:1], w), append(d.Names[:1:1], "w")
		d.Z, d.ZNames = d.X, d.Names
		d.Y, d.Group = d.Y[:70], d.Group[:70] // three groups of two and one of one, with the two below
		d.X[0], d.X[1] = d.X[0][:70], d.X[1][:70]
		d.Group[69], d.Group[68], d.Group[67] = 40, 41, 41
		m, err := Fit(d, o)
		if err != nil {
			t.Fatal(err)
		}
		c := m.obj.criterion(0)
		at := make([]float64, c.parameters())
		for j := range at {
			at[j] = 0.7 - 0.2*float64(j)
		}
		s := c.at(at)
		h := c.curvature(s)
		tau := math.Log(s.rss/c.free) / 2
		k := len(at)
		for j := range k + 1 {
			const w = 1e-5
			gradient := func(by float64) []float64 {
				u, to := append([]float64(nil), at...), tau
				if j < k {
					u[j] += by
				} else {
					to += by
				}
				v, s2 := c.at(u), math.Exp(2*to)
				return append(c.gather(product(v.middle(s2), v.lambda, 2)), 2*c.free-2*v.rss/s2)
			}
			up, down := gradient(w), gradient(-w)
			for i := range up {
				want := (up[i] - down[i]) / (2 * w)
				if math.Abs(h[i][j]-want) > 1e-7*(1+math.Abs(want)) {
					t.Errorf("%+v: curvature in %d and %d is %.10g, by differences %.10g", o, i, j, h[i][j], want)
				}
			}
		}
	}
}

// Many limbs, for whom the search starts on a part of them and the factored
// design is not kept: the fit is that from all of them with the design kept,
// on one processor or several, whatever the order of the rows.
func TestManyLimbs(t *testing.T) {
	for _, o := range []Options{{}, {ML: true}} {
		d := visits(6000, true)
		if len(d.Y) < manyRows || 6000 < many {
			t.Fatal("not enough to be many")
		}
		m, err := Fit(d, o)
		if err != nil {
			t.Fatal(err)
		}
		if m.f.Q != nil {
			t.Error("the factored design is kept")
		}
		p, err := prepare(d, o)
		if err != nil {
			t.Fatal(err)
		}
		f, err := lsq.New(d.X, d.Names, len(d.Y), true, nil)
		if err != nil {
			t.Fatal(err)
		}
		ols, residual, err := f.Solve(d.Y)
		if err != nil {
			t.Fatal(err)
		}
		obj := newObjective(p, f, residual, 3, false)
		obj.few = true
		s, _, err := obj.minimise()
		if err != nil {
			t.Fatal(err)
		}
		lsqtest.Close(t, "log-likelihood", m.LogLikelihood, -s.value/2, 1e-12)
		for j := range m.beta {
			lsqtest.Close(t, "coefficient", m.beta[j], ols[j]+3*dot(f.L[j], s.gamma), 1e-10)
		}
		for j, v := range s.theta {
			lsqtest.Close(t, "theta", m.sat.(*satterthwaite).s.theta[j], v, 1e-7)
		}

		was := runtime.GOMAXPROCS(1)
		one, err := Fit(d, o)
		runtime.GOMAXPROCS(was)
		if err != nil {
			t.Fatal(err)
		}
		if one.LogLikelihood != m.LogLikelihood || one.Coef[1] != m.Coef[1] || one.Effects[17].Mode[1] != m.Effects[17].Mode[1] {
			t.Error("on one processor the numbers are others")
		}
		sorted, err := Fit(visits(6000, false), o)
		if err != nil {
			t.Fatal(err)
		}
		if sorted.p.order != nil || m.p.order == nil {
			t.Error("the rows of which one are sorted?")
		}
	}
}

// Rows group by group, the same rows in another order and under labels far
// apart have the same groups.
func TestGrouping(t *testing.T) {
	labels := []int{3, 3, 4, 9, 9, 9}
	a := newGrouping(labels)
	order := []int{4, 0, 2, 3, 1, 5}
	mixed, wide := make([]int, 6), make([]int, 6)
	for i, k := range order {
		mixed[i], wide[i] = labels[k], labels[k]*1_000_000_007-math.MaxInt64/2
	}
	b, c := newGrouping(mixed), newGrouping(wide)
	want := [][]int{{1, 4}, {2}, {0, 3, 5}}
	for k := range 3 {
		for _, g := range []grouping{b, c} {
			for i, row := range want[k] {
				if g.size(k) != len(want[k]) || g.row(g.start[k]+int32(i)) != row {
					t.Errorf("group %d of %d rows, its row %d is %d", k, g.size(k), i, g.row(g.start[k]+int32(i)))
				}
			}
		}
		if a.labels[k] != b.labels[k] || c.labels[k] != a.labels[k]*1_000_000_007-math.MaxInt64/2 || a.size(k) != b.size(k) {
			t.Errorf("labels %v %v %v", a.labels, b.labels, c.labels)
		}
	}
	if a.order != nil {
		t.Error("rows that stand group by group have a list of their order")
	}
	b.sort([]float64{5, 1, 0, 2, 0, 3})
	for i, row := range []int{4, 1, 2, 3, 5, 0} {
		if got := b.row(int32(i)); got != row {
			t.Errorf("sorted by value, place %d is row %d, want %d", i, got, row)
		}
	}
	a.sort([]float64{2, 1, 0, 1, 2, 3})
	if a.row(0) != 1 || a.row(1) != 0 || a.row(2) != 2 {
		t.Errorf("sorted by value: %v", a.order)
	}
}
