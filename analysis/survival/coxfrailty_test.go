package survival

import (
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"plybook/analysis/stats"
)

// checkFrailty compares a fit with testdata/frailty.json, which
// testdata/frailty.R makes: its penalised fits are checked there against
// survival 3.5-3 (R 4.2.2), its gamma variances against what that package
// finds by itself.
func checkFrailty(t *testing.T, name string, d CoxData, group []int, ties Ties, dist Frailty) *FrailtyCox {
	t.Helper()
	e := readJSON(t, "testdata/frailty.json")[name].(map[string]any)
	f := must(FitCoxFrailty(d, group, CoxOptions{Ties: ties}, FrailtyOptions{Distribution: dist}))(t)
	at := func(k string) float64 { return number(e[k]) }
	near(t, name+" variance", f.Variance, at("variance"), 1e-6)
	near(t, name+" low", f.Low, at("low"), 1e-6)
	near(t, name+" high", f.High, at("high"), 1e-6)
	near(t, name+" log likelihood", f.LogLik, at("loglik"), 1e-10)
	near(t, name+" log likelihood without", f.LogLikWithout, at("without"), 1e-10)
	near(t, name+" log likelihood null", f.LogLikNull, at("null"), 1e-9)
	x := 2 * (at("loglik") - at("without"))
	near(t, name+" test", f.Test.Statistic, x, 1e-6)
	near(t, name+" test p", f.Test.P, math.Erfc(math.Sqrt(x/2))/2, 1e-6)
	nears(t, name+" coefficients", f.Coef, numbers(e["coef"]), 1e-6)
	nears(t, name+" errors", f.StdErr(), numbers(e["se"]), 1e-6)
	for j, r := range matrix(e["cov"]) {
		nears(t, name+" covariance", f.Var[j], r, 1e-6)
	}
	for g, want := range numbers(e["effect"]) {
		x := f.Groups[g]
		near(t, name+" effect "+strconv.Itoa(g), x.Effect, want, 2e-6)
		near(t, name+" error of effect "+strconv.Itoa(g), x.StdErr, numbers(e["effect_se"])[g], 1e-6)
	}
	near(t, name+" effective df", f.DF, at("df"), 1e-6)
	near(t, name+" concordance", f.Concordance.Estimate, at("concordance"), 1e-9)
	ph := must(f.Proportionality(SurvivalTime))(t)
	near(t, name+" proportionality", ph.Global.Statistic, numbers(e["zph"])[0], 1e-6)
	return f
}

// frailData are rows with an event column, columns of numbers and groups.
func frailData(t *testing.T, s *set, time, event string, columns ...string) CoxData {
	d := CoxData{Time: s.num(time), Names: columns}
	for _, v := range s.num(event) {
		d.Event = append(d.Event, v == 1)
	}
	for _, c := range columns {
		d.X = append(d.X, s.num(c))
	}
	return d
}

func whole(v []float64, by int) []int {
	out := make([]int, len(v))
	for i, x := range v {
		out[i] = int(x) / by
	}
	return out
}

var distributions = map[string]Frailty{"gamma": GammaFrailty, "lognormal": LogNormalFrailty}

func TestFrailtyPublishedSets(t *testing.T) {
	kidney := load(t, "kidney")
	k := frailData(t, kidney, "time", "status", "age", "sex")
	bladder := load(t, "bladder")
	b := frailData(t, bladder, "stop", "event", "rx", "number", "size")
	b.Entry = bladder.num("start")
	heart := load(t, "heart")
	h := frailData(t, heart, "stop", "event", "age", "surgery")
	h.Entry = heart.num("start")
	rats := &set{t: t, rows: readRows(t, "rats")}
	r := frailData(t, rats, "time", "status", "rx")
	var f CoxData
	var litters, all []int
	f.Names, f.X = r.Names, make([][]float64, 1)
	for i, row := range rats.rows {
		litter, _ := strconv.Atoi(row["litter"])
		all = append(all, litter)
		r.Strata = append(r.Strata, int(yes(row["sex"] == "f")))
		if row["sex"] == "f" {
			litters = append(litters, litter)
			f.Time, f.Event, f.X[0] = append(f.Time, r.Time[i]), append(f.Event, r.Event[i]), append(f.X[0], r.X[0][i])
		}
	}
	for name, dist := range distributions {
		checkFrailty(t, "kidney_"+name+"_efron", k, whole(kidney.num("id"), 1), Efron, dist)
		checkFrailty(t, "kidney_"+name+"_breslow", k, whole(kidney.num("id"), 1), Breslow, dist)
		checkFrailty(t, "rats_"+name, f, litters, Efron, dist)
		checkFrailty(t, "rats_sexes_"+name, r, all, Efron, dist)
		checkFrailty(t, "bladder_"+name, b, whole(bladder.num("id"), 1), Efron, dist)
		checkFrailty(t, "heart_"+name, h, whole(heart.num("id"), 3), Efron, dist)
	}
}

// clones are persons with several lives each, a column x that doubles the
// hazard and a frailty of the given distribution.
func clones(seed uint64, persons, each int, draw func(*rand.Rand) float64) (CoxData, []int) {
	r := rand.New(rand.NewPCG(seed, 7))
	d := CoxData{Names: []string{"x"}, X: make([][]float64, 1)}
	var group []int
	for p := range persons {
		v := draw(r)
		for range each {
			x := float64(r.IntN(2))
			t, c := r.ExpFloat64()/(v*math.Pow(2, x)), r.Float64()*3
			d.Time, d.Event = append(d.Time, math.Ceil(365*math.Min(t, c))), append(d.Event, t <= c)
			d.X[0] = append(d.X[0], x)
			group = append(group, p)
		}
	}
	return d, group
}

// gammaDraw is a gamma variate of mean 1 and variance 0.5: the mean of four
// exponentials has variance 1/4, that of two 1/2.
func gammaDraw(r *rand.Rand) float64 { return (r.ExpFloat64() + r.ExpFloat64()) / 2 }

// With variance and coefficient known beforehand, estimates lie around them.
func TestFrailtyRecoversTruth(t *testing.T) {
	const draws = 24
	for _, c := range []struct {
		dist     Frailty
		draw     func(*rand.Rand) float64
		variance float64
		slack    float64
	}{
		{GammaFrailty, gammaDraw, 0.5, 0.06},
		{LogNormalFrailty, func(r *rand.Rand) float64 { return math.Exp(0.7 * r.NormFloat64()) }, 0.49, 0.06},
	} {
		variance, beta, in, covered := 0.0, 0.0, 0, 0
		for k := range uint64(draws) {
			d, g := clones(k+1, 60, 5, c.draw)
			f := must(FitCoxFrailty(d, g, CoxOptions{}, FrailtyOptions{Distribution: c.dist}))(t)
			variance += f.Variance / draws
			beta += f.Coef[0] / draws
			in += int(yes(math.Abs(f.Coef[0]-math.Ln2) < 1.96*f.StdErr()[0]))
			covered += int(yes(f.Low <= c.variance && f.HasHigh && f.High >= c.variance))
		}
		if math.Abs(variance-c.variance) > c.slack || math.Abs(beta-math.Ln2) > 0.08 || in < 20 || covered < 20 {
			t.Errorf("%v: mean variance %.3f (true %g), mean coefficient %.3f (true %.3f), covered %d and %d of %d",
				c.dist, variance, c.variance, beta, math.Ln2, in, covered, draws)
		}
	}
}

// Laplace's approximation beside the very integral, over three groups, worked
// out on a grid.
func TestFrailtyLaplace(t *testing.T) {
	d, g := clones(3, 3, 20, func(r *rand.Rand) float64 { return math.Exp(0.8 * r.NormFloat64()) })
	s := must(newShared(d, g, CoxOptions{}, FrailtyOptions{Distribution: LogNormalFrailty}))(t)
	for _, v := range []float64{0.1, 0.5, 1} {
		p, _, err := s.climb(make([]float64, 4), v)
		if err != nil {
			t.Fatal(err)
		}
		laplace := must(s.marginal(p, v))(t)
		// The trapezium rule over eight standard deviations either way: exact to rounding
		// for what falls off as the normal density does.
		const n = 25
		top, sum := laplace, 0.0
		for a := range n {
			for b := range n {
				for c := range n {
					x := append([]float64(nil), p.x...)
					q := 0.0
					for k, i := range []int{a, b, c} {
						u := 16*float64(i)/(n-1) - 8
						x[1+k] = u * math.Sqrt(v)
						q += u * u / 2
					}
					each, ok := s.e.at(s.predictor(x))
					if !ok {
						t.Fatal("overflow")
					}
					sum += math.Exp(each.loglik - q - top)
				}
			}
		}
		exact := top + math.Log(sum*math.Pow(16.0/(n-1)/math.Sqrt(2*math.Pi), 3))
		if math.Abs(exact-laplace) > 0.02 {
			t.Errorf("variance %g: Laplace %.4f, integral %.4f", v, laplace, exact)
		}
	}
}

// Order and units of rows, the names of groups, and rows cut in two change
// nothing.
func TestFrailtyProperties(t *testing.T) {
	for _, dist := range distributions {
		d, g := clones(11, 30, 3, gammaDraw)
		o := FrailtyOptions{Distribution: dist}
		a := must(FitCoxFrailty(d, g, CoxOptions{}, o))(t)
		other := CoxData{Names: d.Names, X: make([][]float64, 1)}
		var group []int
		for i := len(g) - 1; i >= 0; i-- {
			half := math.Floor(d.Time[i] / 2)
			for k, from := range []float64{0, half} {
				if from == half && half == 0 {
					continue
				}
				to := d.Time[i]
				if k == 0 && half > 0 {
					to = half
				}
				other.Entry, other.Time = append(other.Entry, from), append(other.Time, to)
				other.Event = append(other.Event, d.Event[i] && to == d.Time[i])
				other.X[0] = append(other.X[0], 5-100*d.X[0][i])
				group = append(group, 1000-g[i])
			}
		}
		b := must(FitCoxFrailty(other, group, CoxOptions{}, o))(t)
		near(t, "variance", b.Variance, a.Variance, 1e-7)
		near(t, "coefficient", b.Coef[0], -a.Coef[0]/100, 1e-8)
		near(t, "std err", b.StdErr()[0], a.StdErr()[0]/100, 1e-8)
		near(t, "log likelihood", b.LogLik, a.LogLik, 1e-11)
		near(t, "effect", b.Groups[len(b.Groups)-1].Effect, a.Groups[0].Effect, 1e-7)
	}
}

func TestFrailtyDegenerate(t *testing.T) {
	d, g := clones(5, 20, 2, func(*rand.Rand) float64 { return 1 })
	gamma := FrailtyOptions{}
	for name, dist := range distributions {
		// Without any difference between persons the variance is often 0.
		zero := 0
		for k := range uint64(20) {
			d, g := clones(k+40, 20, 2, func(*rand.Rand) float64 { return 1 })
			f := must(FitCoxFrailty(d, g, CoxOptions{}, FrailtyOptions{Distribution: dist}))(t)
			if f.Variance == 0 {
				zero++
				plain := must(FitCox(d, CoxOptions{}))(t)
				near(t, "coefficient without frailty", f.Coef[0], plain.Coef[0], 1e-12)
				if f.Test.P != 1 || f.DF != 0 || f.Low != 0 || !f.HasHigh || f.Groups[3].Effect != 0 {
					t.Errorf("%s at variance 0: %+v", name, f)
				}
			}
		}
		if zero < 5 || zero > 18 {
			t.Errorf("%s: variance 0 in %d of 20 draws without any", name, zero)
		}
	}
	if _, err := FitCoxFrailty(d, make([]int, len(g)), CoxOptions{}, gamma); !errors.Is(err, ErrOneGroup) {
		t.Errorf("one group: %v", err)
	}
	if _, err := FitCoxFrailty(d, g, CoxOptions{Ties: Discrete}, gamma); !errors.Is(err, ErrNotDiscrete) {
		t.Errorf("discrete ties: %v", err)
	}
	if _, err := FitCoxFrailty(d, g[1:], CoxOptions{}, gamma); err == nil {
		t.Error("a group too few: no error")
	}
	if _, err := FitCoxFrailty(d, g, CoxOptions{}, FrailtyOptions{Distribution: 7}); err == nil {
		t.Error("unknown distribution: no error")
	}
	weighted := d
	weighted.Weight = d.Time
	if _, err := FitCoxFrailty(weighted, g, CoxOptions{}, gamma); err == nil {
		t.Error("weights: no error")
	}
	none := d
	none.Event = make([]bool, len(g))
	if _, err := FitCoxFrailty(none, g, CoxOptions{}, gamma); !errors.Is(err, stats.ErrNoEvents) {
		t.Errorf("no events: %v", err)
	}
	var columns *ColumnsError
	flat := d
	flat.X = [][]float64{make([]float64, len(g))}
	if _, err := FitCoxFrailty(flat, g, CoxOptions{}, gamma); !errors.As(err, &columns) || !columns.Constant {
		t.Errorf("constant column: %v", err)
	}
	apart := d
	apart.X = [][]float64{nil}
	for _, e := range d.Event {
		apart.X[0] = append(apart.X[0], yes(e))
	}
	var separation *SeparationError
	if _, err := FitCoxFrailty(apart, g, CoxOptions{}, gamma); !errors.As(err, &separation) {
		t.Errorf("separation: %v", err)
	}
	// All of one group first, the other never: as unlike as can be. Under a
	// gamma frailty the likelihood still has a maximum, under a log-normal one
	// it grows with the variance.
	var worlds CoxData
	var of []int
	worlds.Names, worlds.X = []string{"x"}, make([][]float64, 1)
	for i := range 120 {
		worlds.Time = append(worlds.Time, []float64{float64(1 + i), 5000}[i%2])
		worlds.Event = append(worlds.Event, i%2 == 0)
		worlds.X[0] = append(worlds.X[0], float64(i*7/2%5))
		of = append(of, i%2)
	}
	if f := must(FitCoxFrailty(worlds, of, CoxOptions{}, gamma))(t); !(f.Variance > 1) || !finite(f.Coef[0]) || !finite(f.StdErr()[0]) {
		t.Errorf("groups apart: %+v", f)
	}
	if _, err := FitCoxFrailty(worlds, of, CoxOptions{}, FrailtyOptions{Distribution: LogNormalFrailty}); !errors.Is(err, ErrUnboundFrailty) {
		t.Errorf("groups apart: %v", err)
	}
	if _, err := newSharedOf(MaxFrailtyGroups+1, LogNormalFrailty); !errors.Is(err, ErrManyGroups) {
		t.Errorf("many groups: %v", err)
	}
}

func newSharedOf(groups int, dist Frailty) (*sharedCox, error) {
	d, g := clones(1, groups, 1, gammaDraw)
	return newShared(d, g, CoxOptions{}, FrailtyOptions{Distribution: dist})
}

func BenchmarkFrailty(b *testing.B) {
	for name, dist := range distributions {
		for _, persons := range []int{300, 1500, 20000} {
			if dist == LogNormalFrailty && persons > MaxFrailtyGroups {
				continue
			}
			d, g := clones(9, persons, 2, gammaDraw)
			b.Run(name+" "+strconv.Itoa(persons), func(b *testing.B) {
				for b.Loop() {
					must(FitCoxFrailty(d, g, CoxOptions{}, FrailtyOptions{Distribution: dist}))(b)
				}
			})
		}
	}
}
