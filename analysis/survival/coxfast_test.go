package survival

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// patternRows draws rows that collapse, or where apart is true do not, with
// ties, strata, weights, an offset and clusters.
func patternRows(r *rand.Rand, k, n int, apart bool) CoxData {
	d := CoxData{Names: []string{"a", "b", "c", "d", "e"}, X: make([][]float64, 5)}
	for range n {
		for j := range d.X {
			x := float64(r.IntN(2))
			if j == 0 {
				x = float64(r.IntN(3))
			}
			if apart && j == 0 {
				x = r.NormFloat64() // every row its own pattern
			}
			d.X[j] = append(d.X[j], x)
		}
		t := 20 * r.ExpFloat64()
		if k%3 < 2 {
			t = math.Ceil(t) / float64(1+k%2)
		}
		d.Time = append(d.Time, t)
		d.Event = append(d.Event, r.IntN(3) > 0)
		if k%6 > 0 {
			d.Cluster = append(d.Cluster, r.IntN(n)*(1+k%4*1_000_000))
		}
		if k%4 > 0 {
			d.Weight = append(d.Weight, 0.5*float64(1+r.IntN(5)))
		}
		if k%5 > 0 {
			d.Offset = append(d.Offset, float64(r.IntN(2)))
		}
		if k%2 > 0 {
			d.Strata = append(d.Strata, 7*r.IntN(3))
		}
	}
	d.Event[0] = true
	return d
}

// What is made by patterns of columns is what the sweep makes row by row.
func TestCoxByPatterns(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	for k := range 64 {
		n, apart := 5+r.IntN(120), k%3 == 0
		if k >= 60 { // as many as it takes for the two ways to part
			n, apart = 5000, k%2 == 0
		}
		d := patternRows(r, k, n, apart)
		m, err := newCoxModel(d, CoxOptions{Ties: Ties(k / 2 % 2), SamplingWeights: k%7 == 0})
		if err != nil {
			t.Fatal(err)
		}
		if m.fast == nil {
			t.Fatal("not by patterns")
		}
		if own := m.fast.patterns() == n; own != apart && n > 60 {
			t.Errorf("%d patterns of %d rows", m.fast.patterns(), n)
		}
		slow := *m
		slow.fast = nil
		betas := [][]float64{{0, 0, 0, 0, 0}, {0.3, -0.7, 1.1, -0.2, 0.5}}
		fastScores, errX := m.grouped(betas...)
		slowScores, errY := slow.grouped(betas...)
		if errX != nil || errY != nil {
			t.Fatal(errX, errY)
		}
		for at, beta := range betas {
			x, y := m.likelihood(beta), slow.likelihood(beta)
			if !x.ok || !y.ok {
				t.Fatal("no likelihood")
			}
			same(t, fmt.Sprint(k, " log likelihood"), x.loglik, y.loglik, 1)
			for i := range beta {
				same(t, fmt.Sprint(k, " score"), x.score[i], y.score[i], m.events)
				same(t, fmt.Sprint(k, " total"), fastScores[at].total[i], slowScores[at].total[i], m.events)
				for j := range beta {
					same(t, fmt.Sprint(k, " information"), x.info[i][j], y.info[i][j], m.events)
					same(t, fmt.Sprint(k, " meat"), fastScores[at].meat[i][j], slowScores[at].meat[i][j], m.events)
				}
			}
			c := Cox{Coef: beta, model: m}
			a, okA := m.fast.concordance(beta)
			compared := d
			if m.sampling && len(d.Cluster) == 0 {
				compared.Cluster = order(n)
			}
			b, okB := compare(compared, c.Predictor(), nil)
			if okA != okB {
				t.Fatalf("%d: concordance %v and %v", k, okA, okB)
			}
			same(t, fmt.Sprint(k, " concordance"), a.Estimate, b.Estimate, 1)
			same(t, fmt.Sprint(k, " its error"), a.StdErr, b.StdErr, 1)
			same(t, fmt.Sprint(k, " concordant"), a.Concordant, b.Concordant, 1)
			same(t, fmt.Sprint(k, " discordant"), a.Discordant, b.Discordant, 1)
			same(t, fmt.Sprint(k, " tied predictors"), a.TiedX, b.TiedX, 1)
			same(t, fmt.Sprint(k, " tied times"), a.TiedTime, b.TiedTime, 1)
			same(t, fmt.Sprint(k, " tied in both"), a.TiedBoth, b.TiedBoth, 1)
		}
		// Scales found from patterns are those of the rows.
		rows := *m
		rows.scale, rows.blocks = nil, make([]block, len(m.blocks))
		rows.scaleColumns()
		for j := range d.X {
			same(t, fmt.Sprint(k, " scale"), m.scale[j], rows.scale[j], 1)
			same(t, fmt.Sprint(k, " range"), m.span[j], rows.span[j], 1)
			for b := range m.blocks {
				same(t, fmt.Sprint(k, " mean"), m.blocks[b].mean[j], rows.blocks[b].mean[j], 1)
			}
		}
	}
}

// So it is where those with a competing ending stay at risk.
func TestFineGrayByPatterns(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 9))
	for k := range 40 {
		n := 8 + r.IntN(120)
		c := patternRows(r, k, n, k%3 == 0)
		d := FineGrayData{Time: c.Time, X: c.X, Names: c.Names, Cluster: c.Cluster, Weight: c.Weight, Cause: make([]int, n)}
		for i := range d.Cause {
			d.Cause[i] = r.IntN(3)
		}
		d.Cause[0], d.Cause[1] = 1, 0
		m, err := newFineGrayModel(d, 1, CoxOptions{Ties: Ties(k / 2 % 2)})
		if err != nil {
			t.Fatal(err)
		}
		if m.fast == nil {
			t.Fatal("not by patterns")
		}
		slow := *m
		slow.fast = nil
		same(t, fmt.Sprint(k, " largest weight"), m.largestWeight(), slow.largestWeight(), 1)
		for _, beta := range [][]float64{{0, 0, 0, 0, 0}, {0.3, -0.7, 1.1, -0.2, 0.5}} {
			x, y := m.likelihood(beta), slow.likelihood(beta)
			a, errA := m.grouped(beta)
			b, errB := slow.grouped(beta)
			v := square(5)
			for i := range v {
				v[i][i] = 1 + float64(i)
			}
			fast, plain := &Cox{model: m, beta: beta, Var: v}, &Cox{model: &slow, beta: beta, Var: v}
			p, errP := fast.robustWeights(d.Cause)
			q, errQ := plain.robustWeights(d.Cause)
			if !x.ok || !y.ok || errA != nil || errB != nil || errP != nil || errQ != nil {
				t.Fatal(errA, errB, errP, errQ)
			}
			same(t, fmt.Sprint(k, " log likelihood"), x.loglik, y.loglik, 1)
			for i := range beta {
				same(t, fmt.Sprint(k, " score"), x.score[i], y.score[i], m.events)
				same(t, fmt.Sprint(k, " total"), a[0].total[i], b[0].total[i], m.events)
				for j := range beta {
					same(t, fmt.Sprint(k, " information"), x.info[i][j], y.info[i][j], m.events)
					same(t, fmt.Sprint(k, " meat"), a[0].meat[i][j], b[0].meat[i][j], m.events)
					same(t, fmt.Sprint(k, " covariance with weights estimated"), p[i][j], q[i][j], m.events)
				}
			}
		}
	}
}

// Rows share a pattern where they are alike in every column, and only there,
// whether all combinations of values have a place or are too many for that;
// values met late, and zeros of either sign, are no others.
func TestPatterns(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 1))
	for k, c := range []struct {
		n, columns, distinct, people int
		keyed, alike                 bool
	}{
		{n: 1, columns: 2, distinct: 3, people: 1, keyed: true, alike: true},
		{n: 7, columns: 1, distinct: 3, people: 7, keyed: true, alike: true},
		{n: 3000, columns: 3, distinct: 4, people: 3000, keyed: true, alike: true},
		{n: 40000, columns: 3, distinct: 5, people: 40000, keyed: true, alike: true},
		{n: 90000, columns: 4, distinct: 900, people: 300, alike: true},
		{n: 20000, columns: 30, distinct: 2, people: 500, alike: true},
		{n: 20000, columns: 2, distinct: 5000, people: 20000},
		{n: 20000, columns: 30, distinct: 2, people: 20000},
	} {
		people := make([][]float64, c.columns)
		for j := range people {
			for range c.people {
				people[j] = append(people[j], float64(r.IntN(c.distinct)-1)/2)
			}
		}
		columns := make([][]float64, c.columns)
		for i := range c.n {
			who := r.IntN(c.people)
			for j := range columns {
				x := people[j][who]
				if x == 0 && r.IntN(2) == 0 {
					x = math.Copysign(0, -1)
				}
				if i > c.n-5 && j == 0 && i%2 == 0 {
					x = 1000 + float64(i%4) // met at the very end
				}
				columns[j] = append(columns[j], x)
			}
		}
		if got := newKeyer(columns, c.n) != nil; got != c.keyed && c.n > 10 {
			t.Errorf("case %d: all combinations have a place: %v", k, got)
		}
		of, table := patternsOf(columns, c.n)
		if (of != nil) != c.alike {
			t.Fatalf("case %d: rows are alike: %v", k, of != nil)
		}
		if of == nil {
			continue
		}
		seen, held := map[string]int32{}, map[int32]bool{}
		for i, q := range of {
			var key string
			for j, x := range columns {
				key += fmt.Sprint(x[i]+0, " ")
				if table.values[int(q)*c.columns+j] != x[i] || columns[j][table.first[q]] != x[i] {
					t.Fatalf("case %d: row %d is not what its pattern says", k, i)
				}
			}
			if was, ok := seen[key]; ok && was != q {
				t.Fatalf("case %d: rows alike have patterns %d and %d", k, was, q)
			}
			seen[key], held[q] = q, true
		}
		if len(held) != len(table.first) {
			t.Errorf("case %d: %d patterns of %d are held by a row", k, len(held), len(table.first))
		}
	}
}

// Numbers in any order, with ties, zeros of both signs, below 0 and far apart.
func TestSortedPlaces(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for k := range 50 {
		x := make([]float64, r.IntN(300))
		for i := range x {
			switch k % 5 {
			case 0:
				x[i] = float64(r.IntN(40) - 20)
			case 1:
				x[i] = r.NormFloat64() * math.Exp(40*r.NormFloat64())
			case 2:
				x[i] = math.Copysign(0, r.NormFloat64())
			case 3:
				x[i] = r.Float64()
			case 4:
				x[i] = 7.5
			}
		}
		at := sortedPlaces(len(x), func(i int) float64 { return x[i] })
		seen := make([]bool, len(x))
		for p, i := range at {
			seen[i] = true
			if p > 0 && (x[at[p-1]] > x[i] || x[at[p-1]] == x[i] && at[p-1] > i) {
				t.Fatalf("%v sorted as %v", x, at)
			}
		}
		if slices.Contains(seen, false) || len(at) != len(x) {
			t.Fatalf("%v of %d numbers", at, len(x))
		}
	}
}

func same(t *testing.T, what string, a, b, size float64) {
	t.Helper()
	if d := math.Abs(a - b); !(d <= 1e-10*(size+math.Abs(b))) {
		t.Errorf("%s: %.15g and %.15g", what, a, b)
	}
}

func TestSortByTime(t *testing.T) {
	for _, time := range [][]float64{{3, 1, 2, 1, 3}, {0.5, 3, 0.5, 2}, {1e9, 5, 1e9, 0}, {4}, {}} {
		rows := order(len(time))
		sortByTime(rows, time)
		for k := 1; k < len(rows); k++ {
			a, b := rows[k-1], rows[k]
			if time[a] > time[b] || time[a] == time[b] && a > b {
				t.Errorf("%v sorted as %v", time, rows)
			}
		}
		reverseTies(rows, time)
		for k := 1; k < len(rows); k++ {
			a, b := rows[k-1], rows[k]
			if time[a] < time[b] || time[a] == time[b] && a > b {
				t.Errorf("%v sorted backwards as %v", time, rows)
			}
		}
	}
}
