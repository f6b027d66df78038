package main

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// yearly are the limbs of each level in a lab at the end of a year.
type yearly map[string]int

func (y yearly) log() string {
	var b strings.Builder
	b.WriteString("person,side,level\n")
	for i, level := range slices.Sorted(maps.Keys(y)) {
		for k := range y[level] {
			fmt.Fprintf(&b, "P%d%03d,%s,%s\n", i, k, []string{"left", "right"}[k%2], level)
		}
	}
	return b.String()
}

// overYears attacks several editions of a report by everything that they tell:
// in each the levels add up to all, and between any two there are newcomers, or
// limbs that were taken out.
func overYears(t *testing.T, dir string, names []string, truth []yearly) *attacker {
	t.Helper()
	k := &attacker{below: 11, byName: map[string]int{}}
	of := func(e int, level string, n int, told *int) int {
		i := k.of(names[e]+" "+level, n)
		u := &k.unknowns[i]
		u.places["levels"] = true
		switch {
		case told != nil:
			u.tell("in the numbers")
		case n < k.below:
			u.low, u.high = 1, k.below-1
		default:
			u.low = k.below
		}
		return i
	}
	var at []map[string]int
	for e, y := range truth {
		shown, all := levelCounts(t, dir, names[e])
		here, sum := map[string]int{}, 0
		var parts []int
		for _, level := range slices.Sorted(maps.Keys(y)) {
			n := y[level]
			var told *int
			if v, ok := shown[level]; ok {
				told = &v
			}
			here[level] = of(e, level, n, told)
			parts, sum = append(parts, here[level]), sum+n
		}
		here["all"] = of(e, "all", sum, all)
		if !k.sum(here["all"], parts...) {
			t.Fatal("the levels do not add up")
		}
		at = append(at, here)
	}
	last := len(truth) - 1
	for e := range last {
		sets := [][]string{{"all"}}
		levels := slices.Sorted(maps.Keys(truth[e]))
		for i, a := range levels {
			sets = append(sets, []string{a})
			for _, b := range levels[i+1:] {
				sets = append(sets, []string{a, b})
			}
		}
		for _, set := range sets {
			together := func(e int) int {
				if len(set) == 1 {
					return at[e][set[0]]
				}
				a, b := at[e][set[0]], at[e][set[1]]
				u := k.of(names[e]+" "+strings.Join(set, " and "), k.unknowns[a].truth+k.unknowns[b].truth)
				k.sum(u, a, b)
				return u
			}
			now, then := together(last), together(e)
			d := k.unknowns[now].truth - k.unknowns[then].truth
			switch {
			case d > 0:
				k.sum(now, then, k.of(fmt.Sprintf("come since %s: %v", names[e], set), d))
			case d < 0:
				k.sum(then, now, k.of(fmt.Sprintf("gone since %s: %v", names[e], set), -d))
			}
		}
	}
	return k
}

// A report is held against each of several earlier editions, and against all
// of them together: what naming one of them leaves to be worked out from the
// others is not left when all are named.
func TestSeveralEditionsResistSubtraction(t *testing.T) {
	t.Parallel()
	names := []string{"one", "two", "three", "four"}
	truth := []yearly{
		{"transtibial": 60, "transfemoral": 52, "knee disarticulation": 20, "transradial": 14},
		{"transtibial": 75, "transfemoral": 40, "knee disarticulation": 8, "transradial": 25}, // some were taken out
		{"transtibial": 93, "transfemoral": 70, "knee disarticulation": 33, "transradial": 40},
		{"transtibial": 78, "transfemoral": 55, "knee disarticulation": 35, "transradial": 41},
	}
	dir := t.TempDir()
	fronts := []string{""}
	for e, n := range names {
		writeFile(t, filepath.Join(dir, n, "limbs.csv"), truth[e].log())
		if e < 3 {
			fronts = append(fronts, "hidden_before: "+n+"-report/numbers.json\n")
			edition(t, dir, n, n, "").want(t, statusDone)
		}
	}
	all := "hidden_before: [one-report/numbers.json, two-report/numbers.json, three-report/numbers.json]\n"
	for _, front := range append(fronts, all) {
		edition(t, dir, "four", "four", front).want(t, statusDone)
		won := overYears(t, dir, names, truth).again(-1).won()
		// What the earlier ones tell of each other was told before this one.
		won = slices.DeleteFunc(won, func(s string) bool { return !strings.Contains(s, "since") })
		switch {
		case front == all && len(won) > 0:
			t.Errorf("with all named:\n%s", strings.Join(won, "\n"))
		case front != all && len(won) == 0:
			t.Errorf("with %q nothing is worked out: all need not be named", front)
		}
		t.Logf("%q: %d worked out", front, len(won))
	}
	shown, total := levelCounts(t, dir, "four")
	if len(shown) == 0 && total == nil {
		t.Error("nothing is shown any more")
	}
	page := readText(t, filepath.Join(dir, "four-report", "report.html"))
	says(t, "the page", page, "counts that would tell one by their difference from earlier editions")
	if n := strings.Count(readText(t, filepath.Join(dir, "four-report", "run.json")), "-report/numbers.json"); n != 3 {
		t.Errorf("run.json names %d editions", n)
	}
	// One that does not serve stops the run.
	o := edition(t, dir, "fifth", "four", "hidden_before: [one-report/numbers.json, none.json]\n")
	if o.status == statusDone || !strings.Contains(o.err, "none.json") {
		t.Errorf("status %d, said %s", o.status, o.err)
	}
}
