package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// middles are columns that hold a value of a row as the middle or a quarter of
// many, which is told.
var middles = []string{"median", "lower_quartile", "upper_quartile"}

// quotients are columns of which the second is a part of the first.
var quotients = [][2]string{{"rows", "events"}, {"denominator", "numerator"}, {"sockets", "over"}, {"rows", "observed"}, {"sockets", "events"}, {"denominator", "observed"}}

// A public report of every method, from a log in which many counts are small:
// no small count is recovered from all that its files tell, no single row can
// be seen in any of them, and what a curve tells is told of many.
func TestSmallLabTellsOfNobody(t *testing.T) {
	if os.Getenv("PLYBOOK_ATTACK") == "" {
		t.Skip("in the nightly run: it takes minutes")
	}
	t.Parallel()
	dir := t.TempDir()
	far, every := fewLab(t, dir)
	r := attacked(t, dir, "every", fewNotebook(t), 11)
	k := r.k.again(-1)
	k.programmed(t)
	for _, w := range k.won() {
		t.Errorf("recovered: %s", w)
	}
	answered, withheld := 0, 0
	for _, u := range k.unknowns {
		if !u.known && len(u.places) > 0 {
			withheld++
		}
	}
	told := map[string]bool{}
	for _, a := range r.seen.Answers {
		if a.Error != nil {
			t.Logf("%s: %s", a.ID, a.Error.Code)
			continue
		}
		answered++
		for name, rows := range a.Tables {
			if _, curve := column(rows, "at_risk"); curve {
				curveOfMany(t, a.ID+" "+name, rows)
			}
			for _, row := range rows {
				for c, v := range row {
					x, ok := v.(float64)
					switch s := strconv.FormatFloat(x, 'f', -1, 64); {
					case !ok || !every[s]:
					case slices.Contains(middles, c):
						told[s] = true
					default:
						t.Errorf("%s, table %s: %s is %s, the value of one row", a.ID, name, c, s)
					}
				}
				for _, q := range quotients {
					whole, ok := row[q[0]].(float64)
					part, ok2 := row[q[1]].(float64)
					if ok && ok2 && whole > part && whole-part < 11 {
						t.Errorf("%s, table %s: %s %g and %s %g leave few", a.ID, name, q[0], whole, q[1], part)
					}
				}
				_, wait := row["step"]
				for _, c := range []string{"estimate", "low", "high", "left", "right"} {
					days, ok := row[c].(float64)
					_, between := row["left"]
					half := days / (365.25 / 24)
					if ok && name == "quantiles" && row["group"] != nil && !wait && !(between && c == "estimate") && math.Abs(half-math.Round(half)) > 1e-9 {
						t.Errorf("%s: %s of %v is %g days, the day of one life", a.ID, c, row["quantile"], days)
					}
				}
			}
		}
	}
	if answered < 44 || withheld < 100 || k.failed > 0 {
		t.Errorf("%d questions answered, %d counts withheld, %d programs failed: too little is tried", answered, withheld, k.failed)
	}
	files := map[string]bool{}
	for _, f := range everyText(t, filepath.Join(dir, "every-shut-report")) {
		files[filepath.Ext(strings.SplitN(f.name, "/xl/", 2)[0])] = true
		farOnes, others := f.tells(far, every)
		for _, s := range farOnes {
			t.Errorf("the value of one row: %s", s)
		}
		for _, s := range others {
			if number := strings.Fields(s)[1]; !told[strings.TrimSuffix(number, ":")] {
				t.Errorf("the value of one row: %s", s)
			}
		}
	}
	if want := []string{".html", ".json", ".svg", ".xlsx"}; slices.ContainsFunc(want, func(e string) bool { return !files[e] }) {
		t.Errorf("files read: %v", files)
	}
	// The reader sees rows where they are told.
	seen := 0
	for _, f := range everyText(t, filepath.Join(dir, "every-open-report")) {
		if !strings.Contains(f.name, "/") { // the numbers and the page will do
			farOnes, others := f.tells(far, every)
			seen += len(farOnes) + len(others)
		}
	}
	if seen < 100 {
		t.Errorf("%d values of rows are seen in a report that hides nothing", seen)
	}
	falls(t, r)
}

func column(rows []map[string]any, name string) (any, bool) {
	if len(rows) == 0 {
		return nil, false
	}
	v, ok := rows[0][name]
	return v, ok
}

// curveOfMany checks what a curve's table shows of each group: counts that are
// not small, and between two times shown no small change.
func curveOfMany(t *testing.T, name string, rows []map[string]any) {
	t.Helper()
	few := func(x float64) bool { return x != 0 && math.Abs(x) < 11 }
	before := map[string]float64{}
	for _, row := range rows {
		for _, c := range []string{"at_risk", "events", "censored"} {
			if n, ok := row[c].(float64); ok && few(n) {
				t.Errorf("%s: %s is %g at %v", name, c, n, row["time"])
			}
		}
		n, ok := row["at_risk"].(float64)
		if !ok || n == 0 {
			continue
		}
		key := fmt.Sprint(row["group"], row["cause"])
		if was, have := before[key]; have && few(was-n) {
			t.Errorf("%s: %g at risk and then %g", name, was, n)
		}
		before[key] = n
	}
}

// The bounds that the library of linear programs finds are those found by trying
// every value, in tables with margins.
func TestProgrammedBoundsAreThoseOfEveryValue(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	narrowed := 0
	for range 60 {
		const rows, cols, below = 2, 3, 5
		k := &attacker{below: below, byName: map[string]int{}}
		var grid [rows][cols]int
		for r := range rows {
			for c := range cols {
				grid[r][c] = k.of(fmt.Sprint(r, c), 1+rng.IntN(4))
				u := &k.unknowns[grid[r][c]]
				u.low, u.high = 1, below-1
			}
		}
		margin := func(parts ...int) {
			n := 0
			for _, i := range parts {
				n += k.unknowns[i].truth
			}
			whole := k.of(fmt.Sprint("all of ", parts), n)
			k.unknowns[whole].known = true
			k.sum(whole, parts...)
		}
		for r := range rows {
			margin(grid[r][0], grid[r][1], grid[r][2])
		}
		for c := range cols {
			margin(grid[0][c], grid[1][c])
		}
		low, high := map[int]int{}, map[int]int{}
		var x [rows][cols]int
		var try func(n int)
		try = func(n int) {
			if n < rows*cols {
				for v := 1; v < below; v++ {
					x[n/cols][n%cols] = v
					try(n + 1)
				}
				return
			}
			for _, s := range k.sums {
				sum := 0
				for i, c := range s.coef {
					if k.unknowns[i].known {
						sum += c * k.unknowns[i].truth
					}
				}
				for r := range rows {
					for c := range cols {
						sum += s.coef[grid[r][c]] * x[r][c]
					}
				}
				if sum != 0 {
					return
				}
			}
			for r := range rows {
				for c := range cols {
					i, v := grid[r][c], x[r][c]
					if l, ok := low[i]; !ok || v < l {
						low[i] = v
					}
					high[i] = max(high[i], v)
				}
			}
		}
		try(0)
		k.programmed(t)
		if k.failed > 0 {
			t.Fatalf("%d of %d programs failed", k.failed, k.solved)
		}
		for i := range low {
			u := k.unknowns[i]
			if u.low != low[i] || u.high != high[i] {
				t.Fatalf("%s: %d to %d, and every value tried gives %d to %d", u.name, u.low, u.high, low[i], high[i])
			}
			if u.low > 1 || u.high < below-1 {
				narrowed++
			}
		}
	}
	if narrowed < 50 {
		t.Errorf("%d bounds are drawn in", narrowed)
	}
}
