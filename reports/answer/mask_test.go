package answer

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"plybook/analysis/survival"
	"plybook/reports/notebook"
)

func TestMaskGridLeavesNothingToWorkOut(t *testing.T) {
	for _, c := range []struct {
		name   string
		counts [][]int
		want   string
	}{
		{"nothing small", [][]int{{40}, {20}, {0}}, "[[false] [false] [false]]"},
		{"one small, the next goes too", [][]int{{40}, {5}, {20}}, "[[false] [true] [true]]"},
		{"two small, few together", [][]int{{40}, {3}, {4}, {15}}, "[[false] [true] [true] [true]]"},
		{"two small, enough together", [][]int{{40}, {6}, {7}}, "[[false] [true] [true]]"},
		{"a small part of a row", [][]int{{50, 45, 5}, {50, 20, 30}}, "[[false true true] [false true true]]"},
		{"a zero hides nothing and is shown", [][]int{{30, 30, 0}, {40, 20, 20}}, "[[false false false] [false false false]]"},
	} {
		if got := fmt.Sprint(maskGrid(c.counts, 11)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	// Whatever the counts: no line of known sum has one withheld cell, or
	// withheld cells that are few together, beside one that could go too.
	rng := rand.New(rand.NewPCG(3, 5))
	for range 2000 {
		rows, cols := 1+rng.IntN(4), 1+rng.IntN(4)
		grid := make([][]int, rows)
		for r := range grid {
			grid[r] = make([]int, cols)
			for c := range grid[r] {
				if c > 0 || cols == 1 {
					grid[r][c] = rng.IntN(40) * rng.IntN(2)
				}
			}
			for c := 1; c < cols; c++ {
				grid[r][0] += grid[r][c]
			}
		}
		hide := maskGrid(grid, 11)
		check := func(what string, line [][2]int) {
			n, sum, free := 0, 0, 0
			for _, p := range line {
				x := grid[p[0]][p[1]]
				switch {
				case hide[p[0]][p[1]]:
					n, sum = n+1, sum+x
				case x > 0 && x < 11:
					t.Fatalf("%v: %d is shown", grid, x)
				case x > 0:
					free++
				}
			}
			if n > 0 && free > 0 && (n == 1 || sum < 11) {
				t.Fatalf("%v: %s gives a cell away: %v", grid, what, hide)
			}
		}
		for c := range cols {
			var line [][2]int
			for r := range rows {
				line = append(line, [2]int{r, c})
			}
			check("a column", line)
		}
		for r := range rows {
			if cols > 1 && !hide[r][0] {
				var line [][2]int
				for c := 1; c < cols; c++ {
					line = append(line, [2]int{r, c})
				}
				check("a row", line)
			}
		}
	}
}

// TestDisclosureShowsNoStepOfFew: between two times shown each kind of
// ending happened never or often enough.
func TestDisclosureShowsNoStepOfFew(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 4))
	for range 200 {
		n := 20 + rng.IntN(300)
		var d survival.Data
		for range n {
			d.Entry, d.Time = append(d.Entry, 0), append(d.Time, float64(1+rng.IntN(900)))
			d.Cause = append(d.Cause, rng.IntN(3))
		}
		fit, err := survival.CumulativeIncidence(d, 2, survival.CurveOptions{})
		if err != nil {
			t.Fatal(err)
		}
		w := &work{Answer: &Answer{}, ctx: &Context{Front: notebook.Front{HideBelow: 11}}, ask: &notebook.Ask{}}
		open := w.disclose(fit.Causes...)
		for range 4 {
			at := float64(rng.IntN(1000))
			if _, free, ok := fit.At(at); ok {
				open.allow(at, free.AtRisk)
			}
		}
		thin := [][]survival.Point{open.thin(fit.Causes[0]), open.thin(fit.Causes[1])}
		for k := 1; k < len(thin[0]); k++ {
			for _, x := range []float64{thin[0][k].Events, thin[1][k].Events, thin[0][k].Censored} {
				if x > 0 && x < 11 {
					t.Fatalf("%g between %g and %g days", x, thin[0][k-1].Time, thin[0][k].Time)
				}
			}
			if thin[0][k].AtRisk < 11 {
				t.Fatalf("%g at risk at %g days", thin[0][k].AtRisk, thin[0][k].Time)
			}
		}
	}
	// For the lab itself everything stands.
	w := &work{Answer: &Answer{}, ctx: &Context{}, ask: &notebook.Ask{}}
	c, err := survival.KaplanMeier(survival.Data{Entry: []float64{0, 0}, Time: []float64{1, 2}, Cause: []int{1, 1}}, survival.CurveOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if open := w.disclose(c.Points); !open.allow(1, 2) || len(open.thin(c.Points)) != len(c.Points) {
		t.Error("something is withheld where nothing is to be")
	}
}

func TestGroupsAreSortedAlikeInAnyOrder(t *testing.T) {
	names := []string{"10", "2", "1a", "9"}
	for range 24 {
		in := append([]string(nil), names...)
		rand.Shuffle(len(in), func(a, b int) { in[a], in[b] = in[b], in[a] })
		sortGroups(in)
		if got := fmt.Sprint(in); got != "[10 1a 2 9]" {
			t.Fatalf("text among numbers: %s", got)
		}
	}
	in := []string{"10", "2", "-3", "9.5"}
	sortGroups(in)
	if got := fmt.Sprint(in); got != "[-3 2 9.5 10]" {
		t.Errorf("numbers: %s", got)
	}
}
