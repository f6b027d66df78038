package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// rated is one socket with a mark from 0 up, and the same in words.
type rated struct {
	person int
	cast   string
	mark   int
}

var markWords = []string{"poor", "fair", "good", "very good"}

// ratedLog tells them as a log.
func ratedLog(rows []rated) sheets {
	limbs, sockets := [][]string{{"person", "side", "level"}}, [][]string{{"socket", "limb", "kind", "delivered", "cast_method", "mark", "fit", "n"}}
	seen := map[int]int{}
	for i, r := range rows {
		if seen[r.person] == 0 {
			limbs = append(limbs, []string{fmt.Sprint("P", r.person), "left", "transtibial"})
		}
		seen[r.person]++
		sockets = append(sockets, []string{fmt.Sprint("S", i+1), fmt.Sprintf("P%d-L", r.person), "definitive", fmt.Sprintf("202%d-03-%02d", seen[r.person], 1+i%28), r.cast,
			fmt.Sprint(r.mark), markWords[min(r.mark, 3)], fmt.Sprint((i*7)%11 + 1)})
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets)}
}

// marks are so many rows of each mark, by hand and by vacuum.
func marks(hand, vacuum []int) []rated {
	var out []rated
	for k, counts := range [][]int{hand, vacuum} {
		for mark, n := range counts {
			for range n {
				out = append(out, rated{len(out) + 1, []string{"hand", "vacuum"}[k], mark})
			}
		}
	}
	return out
}

const askMark = "method: ordinal\nrows: sockets\noutcome: mark\nby: cast_method\nreference: {cast_method: hand}\n"

// Counts whose odds differ by the same ratio at both cuts are fitted exactly.
func TestOrdinalOfATable(t *testing.T) {
	// Above 0: 20 of 60 and 40 of 60, odds 1/2 and 2; above 1: 12 of 60 and 30
	// of 60, odds 1/4 and 1. Both ratios are 4.
	log := ratedLog(marks([]int{40, 8, 12}, []int{20, 10, 30}))
	a := one(t, log, quality, askMark+"profiles: [{cast_method: vacuum}]")
	r := row(t, table(t, a, "terms"), "term", "cast_method")
	want(t, r, "ratio", 4, "category", "vacuum", "cut", nil)
	want(t, row(t, table(t, a, "thresholds"), "cut", "above 0"), "estimate", math.Log(2))
	want(t, row(t, table(t, a, "thresholds"), "cut", "above 1"), "estimate", math.Log(4))
	want(t, row(t, table(t, a, "levels"), "level", "2"), "rows", 42, "estimate", 0.35)
	want(t, row(t, table(t, a, "adjusted_levels"), "group", "vacuum", "level", "1"), "estimate", 1.0/6, "at_or_above", 2.0/3)
	want(t, row(t, table(t, a, "adjusted"), "group", "hand"), "estimate", 32.0/60)
	want(t, row(t, table(t, a, "adjusted"), "group", "vacuum - hand"), "estimate", 38.0/60)
	want(t, row(t, table(t, a, "predicted"), "profile", "cast method vacuum"), "estimate", 70.0/60)
	want(t, row(t, table(t, a, "predicted_levels"), "level", "0"), "estimate", 1.0/3)
	if s := row(t, table(t, a, "equal_ratios"), "term", "global")["statistic"].(float64); s > 1e-9 {
		t.Errorf("the ratios are alike, but the test says %g", s)
	}
	for _, s := range []string{"Mark was at one of 3 levels, from 0 to 2, in 120 sockets", "the mean would be 0.53 with hand", "is 4.0 (", "levels are higher"} {
		if !strings.Contains(a.Reading, s) {
			t.Errorf("reading lacks %q: %s", s, a.Reading)
		}
	}
	if len(a.Figures) != 2 || caution(a, "unequal") != "" {
		t.Errorf("%d figures, cautions %v", len(a.Figures), a.Cautions)
	}
	// The same in words, whose mean means nothing.
	b := one(t, log, quality, "method: ordinal\nrows: sockets\noutcome: fit\norder: [poor, fair, good]\nby: cast_method\nreference: {cast_method: hand}")
	want(t, row(t, table(t, b, "terms"), "term", "cast_method"), "ratio", 4)
	if !strings.Contains(b.Reading, "the share at good would be 20% with hand") {
		t.Error(b.Reading)
	}
	for _, tab := range b.Tables {
		if tab.Name == "adjusted" {
			t.Error("a mean of words")
		}
	}
}

func TestOrdinalFaults(t *testing.T) {
	log := ratedLog(marks([]int{20, 8, 12}, []int{10, 10, 20}))
	for name, c := range map[string]struct{ ask, code, says string }{
		"no order":           {"outcome: fit\nby: cast_method", "missing-key", "give `order`, the lowest first"},
		"order of numbers":   {"outcome: mark\norder: [a, b]\nby: cast_method", "impossible", "its order is that of its size"},
		"order lacks one":    {"outcome: fit\norder: [poor, fair]\nby: cast_method", "bad-value", `"good" is among the values of fit`},
		"order has too many": {"outcome: fit\norder: [poor, fair, good, superb]\nby: cast_method", "bad-value", `no row used has fit "superb"`},
		"a date":             {"outcome: delivered\nby: cast_method", "impossible", "is a date"},
		"itself":             {"outcome: mark\nby: cast_method\nadjust: [mark]", "impossible", "cannot explain itself"},
		"nothing":            {"outcome: mark", "missing-key", "needs `by` or `adjust`"},
		"unequal elsewhere":  {"outcome: mark\nby: cast_method\nunequal: [n]", "impossible", "not in `by` or `adjust`"},
		"unequal and bent":   {"outcome: mark\nby: cast_method\nadjust: [n]\nspline: {n: 3}\nunequal: [n]", "impossible", "cannot differ from level to level"},
		"unequal product":    {"outcome: mark\nby: cast_method\nadjust: [n]\ninteract: [[cast_method, n]]\nunequal: [n]", "impossible", "the ratio of a product"},
		"contrast of those":  {"outcome: mark\nby: cast_method\nadjust: [n]\nunequal: [n]\ncontrasts: {n: [5, 2]}", "contrast", "differs from level to level"},
		"two levels":         {"outcome: mark\nkeep: {mark: 1..}\nby: cast_method\nunequal: [cast_method]", "impossible", "with two levels there is one cut"},
		"one level":          {"outcome: mark\nkeep: {mark: 2}\nby: cast_method", "no-variation", "mark is 2 in every socket used"},
		"condition":          {"outcome: {mark: 1..}\nby: cast_method", "wrong-type", "is for logistic"},
	} {
		wantError(t, answersOnce(t, readLog(t, log), nil, quality, "id: q\nmethod: ordinal\nrows: sockets\n"+c.ask)["q"], c.code, c.says)
		if t.Failed() {
			t.Fatal(name)
		}
	}
	sep := one(t, ratedLog(marks([]int{30, 0, 0}, []int{0, 10, 20})), quality, askMark)
	wantError(t, sep, "separation", "every row lies at one end of the levels")
	many := marks(nil, nil)
	for i := range 30 {
		many = append(many, rated{i + 1, []string{"hand", "vacuum"}[i%2], i})
	}
	wantError(t, one(t, ratedLog(many), quality, askMark), "impossible", "takes 30 different values, too many for levels")
	wantError(t, one(t, ratedLog([]rated{{1, "hand", 0}, {2, "vacuum", 1}, {3, "hand", 2}}), quality, askMark+"adjust: [n]"), "few-rows", "3 rows with all values known")
}

// Each caution stands where its reason is, and not where it is not.
func TestOrdinalCautions(t *testing.T) {
	even := ratedLog(marks([]int{40, 8, 12}, []int{20, 10, 30}))
	uneven := ratedLog(marks([]int{40, 8, 12}, []int{5, 50, 5}))
	gap := ratedLog(marks([]int{40, 8, 0, 12}, []int{20, 10, 30, 0}))
	pairs := marks([]int{40, 8, 12}, []int{20, 10, 30})
	for i := range pairs {
		pairs[i].person = 1 + i/2
	}
	groups := marks([]int{40, 8, 12}, []int{20, 10, 30})
	for i := range groups {
		groups[i].person = 1 + i/10
	}
	few := ratedLog(marks([]int{4, 3, 2}, []int{2, 3, 4}))
	for _, c := range []struct {
		code    string
		on, off answer.Answer
	}{
		{"unequal", one(t, uneven, quality, askMark), one(t, even, quality, askMark)},
		{"unequal", one(t, uneven, quality, askMark), one(t, uneven, quality, askMark+"unequal: [cast_method]")},
		{"unequal-not-tested", one(t, gap, quality, askMark), one(t, even, quality, askMark)},
		{"few-rows", one(t, few, quality, askMark+"adjust: [n]"), one(t, even, quality, askMark+"adjust: [n]")},
		{"not-clustered", one(t, ratedLog(pairs), quality, askMark+"cluster: none"), one(t, ratedLog(pairs), quality, askMark)},
		{"few-clusters", one(t, ratedLog(groups), quality, askMark), one(t, ratedLog(pairs), quality, askMark)},
	} {
		wantCaution(t, c.on, c.code)
		if c.off.Error != nil || caution(c.off, c.code) != "" {
			t.Errorf("%s: raised without reason, or %+v", c.code, c.off.Error)
		}
	}
	// Where small counts are hidden, no level tells one.
	a := one(t, ratedLog(marks([]int{40, 3, 30}, []int{20, 2, 30})), "audience: research", askMark)
	for _, r := range table(t, a, "levels").Rows {
		if r[2] != nil {
			t.Errorf("5 of 125 follow from the shares: %v", r)
		}
	}
}
