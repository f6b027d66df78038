package numbers

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"plybook/reports/answer"
)

func bars(counts ...int) answer.Answer {
	total := 0
	for _, n := range counts {
		total += n
	}
	t := answer.Table{Name: "bars", Columns: []answer.Column{{Name: "category", Type: answer.TypeText}, {Name: "count", Type: answer.TypeCount}, {Name: "percent", Type: answer.TypeNumber}, {Name: "cumulative_percent", Type: answer.TypeNumber}}}
	sum := 0
	for i, n := range counts {
		sum += n
		t.Rows = append(t.Rows, []any{fmt.Sprint("reason ", i), n, 100 * float64(n) / float64(total), 100 * float64(sum) / float64(total)})
	}
	return answer.Answer{ID: "a", Rows: total, Tables: []answer.Table{t}}
}

// columnText writes a column with a dot where a value is withheld.
func columnText(t answer.Table, name string) string {
	var out []string
	for _, r := range t.Rows {
		v := r[column(t, name)]
		if v == nil {
			out = append(out, ".")
			continue
		}
		out = append(out, fmt.Sprint(v))
	}
	return strings.Join(out, " ")
}

func TestHideSmallBars(t *testing.T) {
	for _, c := range []struct {
		name   string
		counts []int
		want   string
	}{
		{"none small", []int{50, 30, 0, 20}, "50 30 0 20"},
		{"two small", []int{50, 30, 4, 3}, "50 30 . ."},
		{"one small takes the next smallest", []int{50, 30, 20, 4}, "50 30 . ."},
		{"zero never serves", []int{50, 30, 0, 4}, "50 . 0 ."},
		{"ten is small, eleven is not", []int{11, 10, 9}, "11 . ."},
	} {
		given := bars(c.counts...)
		before := fmt.Sprint(given)
		got := HideSmall([]answer.Answer{given}, 11)[0]
		if fmt.Sprint(given) != before {
			t.Errorf("%s: the answer given was changed", c.name)
		}
		table := got.Tables[0]
		if s := columnText(table, "count"); s != c.want {
			t.Errorf("%s: counts %s", c.name, s)
		}
		for i, r := range table.Rows {
			if (r[1] == nil) != (r[2] == nil) {
				t.Errorf("%s: row %d shows one of count and percent: %v", c.name, i, r)
			}
		}
		if strings.Contains(c.want, ".") && strings.Trim(columnText(table, "cumulative_percent"), ". ") != "" {
			t.Errorf("%s: cumulative shares are shown: %s", c.name, columnText(table, "cumulative_percent"))
		}
		nils := 0
		for _, r := range table.Rows {
			for _, v := range r {
				if v == nil {
					nils++
				}
			}
		}
		if nils != len(got.Hidden) {
			t.Errorf("%s: %d withheld, %d named", c.name, nils, len(got.Hidden))
		}
		for _, h := range got.Hidden {
			if table.Rows[h.Row][column(table, h.Column)] != nil {
				t.Errorf("%s: %v is named and shown", c.name, h)
			}
		}
	}
}

func counts(name string, total bool, values ...int) answer.Answer {
	t := answer.Table{Name: name, Columns: []answer.Column{{Name: "year", Type: answer.TypeText}, {Name: "sockets", Type: answer.TypeCount}}}
	sum := 0
	for i, n := range values {
		t.Rows = append(t.Rows, []any{fmt.Sprint(2020 + i), n})
		sum += n
	}
	if total {
		t.Rows = append(t.Rows, []any{"total", sum})
	}
	return answer.Answer{ID: "a", Rows: 4321, Tables: []answer.Table{t}}
}

func TestHideSmallTotals(t *testing.T) {
	for _, c := range []struct {
		name string
		a    answer.Answer
		want string
	}{
		{"no total known", counts("rows", false, 40, 30, 5), "40 30 ."},
		{"a total row", counts("rows", true, 40, 30, 5), "40 . . 75"},
		{"nothing but zeros beside", counts("rows", true, 0, 0, 5), "0 0 . ."},
		{"a total that is small", counts("rows", true, 0, 5), "0 . ."},
	} {
		if got := columnText(HideSmall([]answer.Answer{c.a}, 11)[0].Tables[0], "sockets"); got != c.want {
			t.Errorf("%s: %s", c.name, got)
		}
	}
	same := counts("rows", false, 40, 30, 5)
	same.Rows = 75
	if got := columnText(HideSmall([]answer.Answer{same}, 11)[0].Tables[0], "sockets"); got != "40 . ." {
		t.Errorf("the answer's own number of rows is the total: %s", got)
	}
}

func TestHideSmallOff(t *testing.T) {
	a := bars(50, 3)
	for _, below := range []int{0, 1} {
		if got := HideSmall([]answer.Answer{a}, below)[0]; !reflect.DeepEqual(got, a) {
			t.Errorf("below %d: %v", below, got)
		}
	}
}

func TestHideSmallOwnCounts(t *testing.T) {
	a := HideSmall([]answer.Answer{{ID: "a", Rows: 80, Events: 4, HasEvents: true}}, 11)[0]
	if !withheld(a, "events") || withheld(a, "rows") {
		t.Errorf("%v", a.Hidden)
	}
	var b strings.Builder
	if err := WriteJSON(&b, Run{Answers: []answer.Answer{a}}); err != nil || !strings.Contains(b.String(), `"rows":80,"events":null`) {
		t.Errorf("%v: %s", err, b.String())
	}
}

func TestHideSmallFit(t *testing.T) {
	a := answer.Answer{ID: "a", Rows: 80, Tables: []answer.Table{{Name: "fit", Columns: []answer.Column{{Name: "rows", Type: answer.TypeCount}, {Name: "events", Type: answer.TypeCount}, {Name: "log_likelihood", Type: answer.TypeNumber}, {Name: "log_likelihood_null", Type: answer.TypeNumber}},
		Rows: [][]any{{80, 6, -20.0, -22.0}}}}}
	if got := fmt.Sprint(HideSmall([]answer.Answer{a}, 11)[0].Tables[0].Rows[0]); got != "[80 <nil> -20 <nil>]" {
		t.Error(got)
	}
}

func TestHideSmallSteps(t *testing.T) {
	a := answer.Answer{ID: "a", Rows: 219, Tables: []answer.Table{{Name: "steps", Columns: []answer.Column{{Name: "step", Type: answer.TypeText}, {Name: "rows", Type: answer.TypeCount}, {Name: "excluded", Type: answer.TypeCount}, {Name: "reason", Type: answer.TypeText}},
		Rows: [][]any{{"read", 412, 0, nil}, {"life", 405, 7, "negative"}, {"kind", 231, 174, "check"}, {"at risk", 219, 12, "before"}}}}}
	got := HideSmall([]answer.Answer{a}, 11)[0].Tables[0]
	if s := columnText(got, "excluded"); s != "0 . . 12" {
		t.Errorf("excluded: %s", s)
	}
	if s := columnText(got, "rows"); s != "412 . 231 219" {
		t.Errorf("rows: %s", s)
	}
}

// curveAnswer simulates a curve of n with two causes and its asked times.
func curveAnswer(n int, seed uint64) answer.Answer {
	r := rand.New(rand.NewPCG(seed, 1))
	columns := []answer.Column{{Name: "group", Type: answer.TypeText}, {Name: "cause", Type: answer.TypeText}, {Name: "time", Type: answer.TypeNumber}, {Name: "at_risk", Type: answer.TypeCount}, {Name: "events", Type: answer.TypeCount}, {Name: "censored", Type: answer.TypeCount}, {Name: "estimate", Type: answer.TypeNumber}}
	curve, asked := answer.Table{Name: "curve", Columns: columns}, answer.Table{Name: "at_times", Columns: columns}
	total := 0
	for _, g := range []string{"hand", "scan"} {
		left, free := n, 1.0
		est := []float64{0, 0}
		add := func(t *answer.Table, time float64, e []int, c int) {
			for k, cause := range []string{"remake", "died"} {
				t.Rows = append(t.Rows, []any{g, cause, time, left, e[k], c, est[k]})
			}
		}
		add(&curve, 0, []int{0, 0}, 0)
		for time := 1.0; left > 0 && time < 400; time++ {
			e := []int{min(r.IntN(3), left), 0}
			e[1] = min(r.IntN(2), left-e[0])
			c := min(r.IntN(2), left-e[0]-e[1])
			if time == 180 {
				add(&asked, time, []int{1, 0}, 1)
			}
			for k := range est {
				est[k] += free * float64(e[k]) / float64(left)
			}
			free *= 1 - float64(e[0]+e[1])/float64(left)
			if e[0]+e[1]+c > 0 {
				add(&curve, time, e, c)
			}
			left -= e[0] + e[1] + c
			total += e[0]
		}
	}
	return answer.Answer{ID: "a", Rows: 2 * n, Events: total, HasEvents: true, Tables: []answer.Table{curve, asked}}
}

// Between any two shown times of a group, of either table, each kind of
// ending did not happen or happened at least eleven times; at risk is never
// small, and neither is any count shown.
func TestHideSmallCurves(t *testing.T) {
	shown := 0
	for seed := range uint64(20) {
		a := curveAnswer(300, seed)
		history := histories(a.Tables[0])
		got := HideSmall([]answer.Answer{a}, 11)[0]
		open := map[string][]moment{}
		for _, table := range got.Tables {
			for _, r := range table.Rows {
				if r[6] == nil {
					if r[3] != nil || r[4] != nil || r[5] != nil {
						t.Fatalf("a row is half shown: %v", r)
					}
					continue
				}
				shown++
				for _, j := range []int{3, 4, 5} {
					if n, ok := countOf(r[j]); ok && n > 0 && n < 11 {
						t.Errorf("a small count is shown: %v", r)
					}
				}
				past := history[r[0].(string)]
				time := r[2].(float64)
				k := 0
				for k+1 < len(past) && past[k+1].time <= time {
					k++
				}
				n, _ := countOf(r[3])
				open[r[0].(string)] = append(open[r[0].(string)], moment{time, n, past[k].so})
			}
		}
		h := hider{below: 11}
		for g, ms := range open {
			slices.SortStableFunc(ms, func(a, b moment) int { return int(a.time - b.time) })
			for i := 1; i < len(ms); i++ {
				if !h.apartEnough(ms[i-1], ms[i]) {
					t.Errorf("seed %d, %s: between %v and %v", seed, g, ms[i-1], ms[i])
				}
			}
		}
	}
	if shown < 20*2*2*3 {
		t.Errorf("only %d rows are shown: the rule hides all", shown)
	}
}

// What is left can be worked out only where it is no longer small: in any
// column with a known sum, none or at least two are withheld.
func TestHideSmallLeavesNoSingle(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 300 {
		n := make([]int, 2+r.IntN(6))
		for i := range n {
			n[i] = r.IntN(40)
		}
		n[0] += 11
		got := HideSmall([]answer.Answer{bars(n...)}, 11)[0].Tables[0]
		gone, positive := 0, 0
		for i := range n {
			if n[i] > 0 {
				positive++
			}
			if got.Rows[i][1] == nil {
				gone++
			} else if n[i] > 0 && n[i] < 11 {
				t.Errorf("%v: %d is shown", n, n[i])
			}
		}
		if gone == 1 && positive > 1 {
			t.Errorf("%v: one alone is withheld: %s", n, columnText(got, "count"))
		}
	}
}

func ExampleHideSmall() {
	a := HideSmall([]answer.Answer{bars(48, 27, 12, 3)}, 11)[0]
	fmt.Println(columnText(a.Tables[0], "count"))
	fmt.Println(len(a.Hidden), "values withheld")
	// Output:
	// 48 27 . .
	// 8 values withheld
}
