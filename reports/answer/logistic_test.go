package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// asked is one socket of a log of yes and no: its person, casting method,
// an own number and an own answer (empty: not recorded).
type asked struct {
	person int
	cast   string
	n      int
	ok     string
}

// yesLog tells them as a log.
func yesLog(rows []asked) sheets {
	limbs, sockets := [][]string{{"person", "side", "level"}}, [][]string{{"socket", "limb", "kind", "delivered", "cast_method", "n", "ok"}}
	seen := map[int]int{}
	for i, r := range rows {
		if seen[r.person] == 0 {
			limbs = append(limbs, []string{fmt.Sprint("P", r.person), "left", "transtibial"})
		}
		seen[r.person]++
		sockets = append(sockets, []string{fmt.Sprint("S", i+1), fmt.Sprintf("P%d-L", r.person), "definitive", fmt.Sprintf("202%d-03-%02d", seen[r.person], 1+i%28), r.cast, fmt.Sprint(r.n), r.ok})
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets)}
}

// counts are so many rows each, of persons of their own: cast, answer, number.
func counts(hand, handYes, vacuum, vacuumYes int) []asked {
	var out []asked
	add := func(cast string, n, yes int) {
		for i := range n {
			ok := "no"
			if i*yes/n != (i+1)*yes/n {
				ok = "yes"
			}
			out = append(out, asked{len(out) + 1, cast, (len(out) * 7) % 11, ok})
		}
	}
	add("hand", hand, handYes)
	add("vacuum", vacuum, vacuumYes)
	return out
}

const askOK = "method: logistic\nrows: sockets\noutcome: ok\nby: cast_method\nreference: {cast_method: hand}\n"

// Of one column the odds ratio and the shares are those of the table: 40 of
// 100 against 60 of 100, worked out by hand.
func TestLogisticOfATable(t *testing.T) {
	a := one(t, yesLog(counts(100, 40, 100, 60)), quality, askOK+"profiles: [{cast_method: vacuum}]")
	want(t, row(t, table(t, a, "terms"), "term", "cast_method"), "ratio", 2.25, "category", "vacuum", "reference", "hand")
	want(t, row(t, table(t, a, "shares"), "group", "hand"), "rows", 100, "events", 40, "estimate", 0.4)
	want(t, row(t, table(t, a, "shares"), "group", "all"), "rows", 200, "events", 100)
	want(t, row(t, table(t, a, "adjusted"), "group", "vacuum"), "estimate", 0.6)
	want(t, row(t, table(t, a, "adjusted"), "group", "vacuum - hand"), "estimate", 0.2)
	want(t, row(t, table(t, a, "adjusted"), "group", "vacuum / hand"), "estimate", 1.5)
	want(t, row(t, table(t, a, "predicted"), "profile", "cast method vacuum"), "estimate", 0.6)
	// 1.96 errors of the difference, each share's variance p(1-p)/100.
	if lo := row(t, table(t, a, "adjusted"), "group", "vacuum - hand")["low"].(float64); lo < 0.0642 || lo > 0.0643 {
		t.Errorf("low %g", lo)
	}
	for _, s := range []string{"Ok was yes in 100 of 200 sockets (50.0%)", "60% with vacuum", "The odds ratio for casting method vacuum against hand is 2.2", "yes comes more often"} {
		if !strings.Contains(a.Reading, s) {
			t.Errorf("reading lacks %q: %s", s, a.Reading)
		}
	}
	for _, s := range printed(a) {
		if strings.Contains(s, "times as likely") || strings.Contains(s, "as likely as") {
			t.Errorf("an odds ratio read as a ratio of chances: %s", s)
		}
	}
	if len(a.Figures) != 2 {
		t.Errorf("%d figures", len(a.Figures))
	}
	none := one(t, yesLog(counts(100, 40, 100, 60)), quality, askOK+"adjusted: no")
	for _, tab := range none.Tables {
		if tab.Name == "adjusted" {
			t.Error("shares are averaged although the question says no")
		}
	}
}

// An outcome may be a condition; what lacks a value has none.
func TestLogisticOfACondition(t *testing.T) {
	rows := counts(60, 20, 60, 30)
	for i := range rows {
		rows[i].ok = ""
	}
	log := yesLog(rows)
	a := one(t, log, quality, "method: logistic\nrows: sockets\noutcome: {n: 6..}\nby: cast_method")
	yes := 0
	for _, r := range rows {
		if r.n >= 6 {
			yes++
		}
	}
	if a.Events != yes || a.Rows != 120 {
		t.Errorf("%d of %d, want %d of 120", a.Events, a.Rows, yes)
	}
	if !strings.Contains(a.Reading, "had n of 6 or more") {
		t.Errorf("reading %s", a.Reading)
	}
	wantError(t, one(t, log, quality, "method: logistic\nrows: sockets\noutcome: ok\nby: cast_method"), "no-rows")
	b := one(t, log, quality, "method: logistic\nrows: sockets\noutcome: {cast_method: [vacuum]}\nadjust: [n]")
	if b.Events != 60 {
		t.Errorf("%d events", b.Events)
	}
}

func TestLogisticFaults(t *testing.T) {
	log := yesLog(counts(60, 20, 60, 30))
	for name, c := range map[string]struct{ ask, code, says string }{
		"a number":            {"outcome: n\nby: cast_method", "impossible", "n is a number; write as outcome which values are a yes"},
		"other words":         {"outcome: cast_method\nadjust: [n]", "impossible", "its values are hand and vacuum"},
		"a date":              {"outcome: delivered\nby: cast_method", "impossible", "delivered is a date"},
		"unknown column":      {"outcome: okay\nby: cast_method", "unknown-column", "okay"},
		"its own outcome":     {"outcome: ok\nby: ok", "impossible", "cannot explain itself"},
		"part of it":          {"outcome: {n: 5..}\nadjust: [n]", "impossible", "part of the outcome"},
		"nothing to explain":  {"outcome: ok", "missing-key", "needs `by` or `adjust`"},
		"text as offset":      {"outcome: ok\nby: cast_method\noffset: kind", "impossible", "holds no numbers"},
		"text as weights":     {"outcome: ok\nby: cast_method\nweights: kind", "impossible", "holds no numbers"},
		"weights of 0":        {"outcome: ok\nby: cast_method\nweights: n", "impossible", "a whole number from 1"},
		"constant":            {"outcome: ok\nby: kind", "bad-term", "definitive"},
		"average of numbers":  {"outcome: ok\nby: n\nadjusted: yes", "impossible", "n is a number"},
		"clusters, profiled":  {"outcome: ok\nby: cast_method\nintervals: profile\ncluster: person", "impossible", "cannot allow for `cluster`"},
		"twice profiled":      {"outcome: ok\nby: cast_method\nintervals: profile\npenalty: firth", "impossible", "leave out `intervals`"},
		"condition elsewhere": {"outcome: {n: 5..}\nby: cast_method\nmethod: linear", "wrong-type", "`outcome` of linear is a column"},
	} {
		method := "method: logistic\n"
		if strings.Contains(c.ask, "method:") {
			method = ""
		}
		a := answersOnce(t, readLog(t, log), nil, quality, "id: q\nrows: sockets\n"+method+c.ask)["q"]
		wantError(t, a, c.code, c.says)
		if t.Failed() {
			t.Fatal(name)
		}
	}
}

// What cannot be answered gives a sentence.
func TestLogisticOfTooLittle(t *testing.T) {
	for name, c := range map[string]struct {
		rows []asked
		code string
		says string
	}{
		"all yes":    {counts(20, 20, 20, 20), "no-variation", "ok is yes in every socket used (40 sockets)"},
		"all no":     {counts(20, 0, 20, 0), "no-variation", "ok is no in every socket"},
		"one row":    {counts(1, 1, 0, 0), "bad-term", "so can explain nothing"},
		"two rows":   {[]asked{{1, "hand", 1, "yes"}, {2, "vacuum", 2, "no"}}, "", ""},
		"no answers": {[]asked{{1, "hand", 1, ""}, {2, "vacuum", 2, ""}}, "no-rows", ""},
	} {
		a := one(t, yesLog(c.rows), quality, askOK)
		if c.code == "" {
			if a.Error != nil {
				t.Errorf("%s: %+v", name, a.Error)
			}
			continue
		}
		wantError(t, a, c.code, c.says)
	}
	// One person alone: the errors cannot allow for repeats, and it is said.
	rows := counts(20, 8, 20, 12)
	for i := range rows {
		rows[i].person = 1
	}
	wantCaution(t, one(t, yesLog(rows[:9]), quality, "method: logistic\nrows: sockets\noutcome: ok\nadjust: [n]"), "one-cluster", "All rows are of one person")
	// Three columns, three rows.
	few := []asked{{1, "hand", 1, "yes"}, {2, "vacuum", 2, "no"}}
	wantError(t, one(t, yesLog(few), quality, askOK+"adjust: [n]"), "few-rows", "2 rows with all values known")
}

// repeated gives every person so many sockets.
func repeated(rows []asked, each int) []asked {
	for i := range rows {
		rows[i].person = 1 + i/each
	}
	return rows
}

// Each caution stands where its reason is, and not where it is not.
func TestLogisticCautions(t *testing.T) {
	many := yesLog(counts(100, 40, 100, 60))
	rare := yesLog(counts(150, 6, 150, 8))
	separated := yesLog(counts(40, 0, 60, 30))
	twice := yesLog(repeated(counts(100, 40, 100, 60), 2))
	five := yesLog(repeated(counts(50, 20, 50, 30), 5))
	small := yesLog(counts(100, 40, 4, 2))
	other := repeated(counts(100, 50, 100, 50), 2) // of two sockets of a person one fits
	for i := range other {
		other[i].ok = map[bool]string{true: "yes", false: "no"}[i%2 == 0]
	}
	apart := yesLog(other)
	missing := counts(100, 40, 100, 60)
	missing[3].ok = ""
	for _, c := range []struct {
		code    string
		on, off answer.Answer
	}{
		{"few-events", one(t, rare, quality, askOK+"adjust: [n]"), one(t, many, quality, askOK+"adjust: [n]")},
		{"odds-ratio", one(t, many, quality, askOK), one(t, rare, quality, askOK)},
		{"separation", one(t, separated, quality, askOK), one(t, many, quality, askOK+"penalty: firth")},
		{"penalised-errors", one(t, separated, quality, askOK+"adjusted: yes"), one(t, separated, quality, askOK)},
		{"not-clustered", one(t, twice, quality, askOK+"cluster: none"), one(t, twice, quality, askOK)},
		{"not-clustered", one(t, twice, quality, askOK+"intervals: profile"), one(t, many, quality, askOK+"intervals: profile")},
		{"not-clustered", one(t, twice, quality, askOK+"penalty: firth"), one(t, many, quality, askOK+"penalty: firth")},
		{"no-repeats", one(t, many, quality, askOK+"correlation: ar1"), one(t, twice, quality, askOK+"correlation: ar1")},
		{"correlation-bound", one(t, apart, quality, askOK+"correlation: exchangeable"), one(t, twice, quality, askOK+"correlation: exchangeable")},
		{"few-clusters", one(t, five, quality, askOK), one(t, twice, quality, askOK)},
		{"small-group", one(t, small, quality, askOK), one(t, many, quality, askOK)},
		{"missing", one(t, yesLog(missing), quality, askOK), one(t, many, quality, askOK)},
		{"own-rows", one(t, many, quality, askOK+"diagnostics: yes"), one(t, many, quality, askOK)},
		{"extrapolation", one(t, many, quality, askOK+"adjust: [n]\ncontrasts: {n: [90, 5]}"), one(t, many, quality, askOK+"adjust: [n]\ncontrasts: {n: [9, 5]}")},
		{"many-comparisons", one(t, many, quality, askOK+"adjust: [n]\nfactors: [n]"), one(t, many, quality, askOK)},
		{"interaction", one(t, many, quality, askOK+"adjust: [n]\ninteract: [[cast_method, n]]"), one(t, many, quality, askOK+"adjust: [n]")},
		{"rows-hidden", one(t, many, "audience: research", askOK+"diagnostics: yes"), one(t, many, quality, askOK+"diagnostics: yes")},
	} {
		wantCaution(t, c.on, c.code)
		if c.off.Error != nil || caution(c.off, c.code) != "" {
			t.Errorf("%s: raised without reason, or %+v", c.code, c.off.Error)
		}
	}
}

// One row far from all others moves the estimates: it is said, and listed.
func TestLogisticInfluence(t *testing.T) {
	rows := counts(30, 12, 30, 18)
	for i := range rows {
		rows[i].n = i % 3
	}
	rows[4].n, rows[4].ok = 40, "no"
	for i := range rows { // the others rise with n
		if i != 4 {
			rows[i].ok = map[bool]string{true: "yes", false: "no"}[rows[i].n == 2 || rows[i].n == 1 && i%2 == 0]
		}
	}
	rows[7].ok, rows[8].ok = "no", "no"
	a := one(t, yesLog(rows), quality, "method: logistic\nrows: sockets\noutcome: ok\nadjust: [n]\ndiagnostics: yes")
	wantCaution(t, a, "influence", "Look whether what is recorded of it is right")
	if r := table(t, a, "influence").Rows[0]; r[0] != "S5" {
		t.Errorf("most influential is %v", r[0])
	}
	b := one(t, yesLog(counts(100, 40, 100, 60)), quality, askOK+"diagnostics: yes")
	if caution(b, "influence") != "" {
		t.Error("influence said where no row stands out")
	}
	if n := len(table(t, b, "calibration").Rows); n != 2 { // two shares only
		t.Errorf("%d groups of like shares", n)
	}
}

// Where small counts are hidden, no share tells one.
func TestLogisticWhereCountsAreHidden(t *testing.T) {
	a := one(t, yesLog(counts(60, 4, 60, 30)), "audience: research", askOK+"diagnostics: yes")
	r := row(t, table(t, a, "shares"), "group", "hand")
	if r["events"] != nil || r["estimate"] != nil {
		t.Errorf("4 of 60 are told: %v", r)
	}
	if len(table(t, a, "roc").Rows) != 0 {
		t.Error("a curve with a step a row")
	}
	wantError(t, one(t, yesLog(counts(60, 4, 60, 30)), "audience: research", askOK+"weights: n"), "impossible", "weights would pass for counts")
}

// A row of weight 3 is three rows.
func TestLogisticWeights(t *testing.T) {
	rows := counts(40, 16, 40, 24)
	var three []asked
	for i := range rows {
		rows[i].n = 1 + i%3
		for range rows[i].n {
			three = append(three, asked{len(three) + 1, rows[i].cast, rows[i].n, rows[i].ok})
		}
	}
	a, b := one(t, yesLog(rows), quality, askOK+"weights: n"), one(t, yesLog(three), quality, askOK)
	for _, tab := range []string{"terms", "adjusted", "shares", "fit"} {
		x, y := table(t, a, tab), table(t, b, tab)
		for i := range x.Rows {
			for j := range x.Rows[i] {
				if !same(x.Rows[i][j], y.Rows[i][j]) {
					t.Errorf("%s row %d %s: %v and %v", tab, i, x.Columns[j].Name, x.Rows[i][j], y.Rows[i][j])
				}
			}
		}
	}
}
