package answer_test

import (
	"math"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// separatedLives are lives of which only those cast by hand have the event.
func separatedLives() []life {
	var lives []life
	for k := 1; k <= 24; k++ {
		l := life{k, 0, 10 * k, "remake: growth", "hand"}
		if k%2 == 0 {
			l = life{k, 0, 10 * k, "", "vacuum"}
		}
		lives = append(lives, l)
	}
	return lives
}

// penalised is l(b) + log(I(b))/2 of one column of 0 and 1, with no ties, from
// its definition.
func penalised(days []int, event []bool, x []float64, b float64) float64 {
	l, info := 0.0, 0.0
	for i := range days {
		if !event[i] {
			continue
		}
		ones, all := 0.0, 0.0
		for j := range days {
			if days[j] >= days[i] {
				r := math.Exp(b * x[j])
				all += r
				ones += x[j] * r
			}
		}
		l += b*x[i] - math.Log(all)
		info += ones / all * (1 - ones/all)
	}
	return l + math.Log(info)/2
}

// crossing is where f, positive at from and negative at to, is 0.
func crossing(f func(float64) float64, from, to float64) float64 {
	for range 200 {
		if m := (from + to) / 2; f(m) > 0 {
			from = m
		} else {
			to = m
		}
	}
	return from
}

func TestPenalisedCoxByHand(t *testing.T) {
	lives := separatedLives()
	var days []int
	var event []bool
	var x []float64
	for _, l := range lives {
		days, event = append(days, l.days), append(event, l.reason != "")
		x = append(x, map[string]float64{"hand": 0, "vacuum": 1}[l.group])
	}
	at := func(b float64) float64 { return penalised(days, event, x, b) }
	const h = 1e-5
	top := crossing(func(b float64) float64 { return at(b+h) - at(b-h) }, -20, 5)
	fall := func(b float64) float64 { return at(b) - at(top) + 1.9207294103470296 } // half of the 95% point of chi-square of 1
	low, high := crossing(fall, top, -40), crossing(fall, top, 20)
	test := 2 * (at(top) - at(0))

	ask := "method: cox\nby: cast_method\nreference: {cast_method: hand}"
	a := one(t, lifeLog(lives), quality, ask)
	r := row(t, table(t, a, "terms"), "term", "cast_method", "category", "vacuum", "reference", "hand")
	for name, v := range map[string]float64{"estimate": top, "ratio": math.Exp(top), "low": math.Exp(low), "high": math.Exp(high),
		"z": -math.Sqrt(test), "p": math.Erfc(math.Sqrt(test / 2))} {
		if got, ok := r[name].(float64); !ok || math.Abs(got-v) > 2e-6*math.Abs(v) {
			t.Errorf("%s is %v, want %.12g", name, r[name], v)
		}
	}
	if _, has := r["robust_std_error"]; has {
		t.Error("a robust error")
	}
	fit := row(t, table(t, a, "fit"))
	want(t, fit, "penalty", "firth", "log_likelihood_null", at(0), "aic", nil, "score", nil, "score_df", nil, "score_p", nil, "clusters", nil)
	for name, v := range map[string]float64{"log_likelihood": at(top), "likelihood_ratio": test} {
		if got := fit[name].(float64); math.Abs(got-v) > 1e-8*math.Abs(v) {
			t.Errorf("%s is %v, want %.12g", name, got, v)
		}
	}
	if n := len(table(t, a, "proportionality").Rows) + len(table(t, a, "predicted").Rows); n != 0 {
		t.Errorf("%d rows of tests and predictions", n)
	}
	// The first event: 24 at risk, 12 of each kind.
	base := table(t, a, "baseline")
	want(t, row(t, base, "time", 10), "cumulative_hazard", 1/(12+12*math.Exp(r["estimate"].(float64))))
	wantCaution(t, a, "separation", "No finite hazard ratio fits casting method vacuum against hand", "penalised (Firth's method)", "read its interval")
	wantCaution(t, a, "proportionality", "not tested")
	if !strings.Contains(a.Reading, "These ratios are penalised") || !strings.Contains(a.Methods, "since no finite estimate fits casting method vacuum against hand otherwise") ||
		strings.Contains(a.Methods, "were tested") {
		t.Errorf("%s\n%s", a.Reading, a.Methods)
	}
	refs := strings.Join(a.References, "\n")
	if !strings.Contains(refs, "Firth D.") || !strings.Contains(refs, "Heinze G") || strings.Contains(refs, "Grambsch") {
		t.Errorf("references: %s", refs)
	}
	if caution(a, "not-clustered") != "" {
		t.Error("nobody has two sockets")
	}
	// Asked for, it is the same, and the confidence asked for is used.
	b := one(t, lifeLog(lives), quality, ask+"\npenalty: firth\nconfidence: 0.8")
	q := row(t, table(t, b, "terms"))
	if q["estimate"] != r["estimate"] || q["low"].(float64) <= r["low"].(float64) || q["high"].(float64) >= r["high"].(float64) {
		t.Errorf("%v and %v", q, r)
	}
	wantCaution(t, b, "separation")
}

func TestPenaltyAskedFor(t *testing.T) {
	s := endings(60, lifeDays, remakesAndDeaths, half)
	plain, asked := one(t, s, quality, "method: cox\nby: g"), one(t, s, quality, "method: cox\nby: g\npenalty: firth")
	for _, a := range []answer.Answer{plain, asked} {
		if caution(a, "separation") != "" {
			t.Errorf("nothing separates: %v", a.Cautions)
		}
	}
	want(t, row(t, table(t, plain, "fit")), "penalty", "none")
	want(t, row(t, table(t, asked, "fit")), "penalty", "firth")
	if len(table(t, plain, "proportionality").Rows) == 0 || caution(plain, "proportionality") != "" || strings.Contains(plain.Methods, "Firth") {
		t.Errorf("the plain fit is taken for a penalised one: %s", plain.Methods)
	}
	p, q := row(t, table(t, plain, "terms"))["estimate"].(float64), row(t, table(t, asked, "terms"))["estimate"].(float64)
	if p == q || math.Abs(p-q) > 0.1 {
		t.Errorf("the penalty moves %g to %g", p, q)
	}
	if strings.Contains(asked.Methods, "since no finite") || !strings.Contains(asked.Methods, "penalised by Firth's method;") {
		t.Errorf("methods: %s", asked.Methods)
	}
	// No penalty is written down and none is needed.
	same := one(t, s, quality, "method: cox\nby: g\npenalty: none")
	want(t, row(t, table(t, same, "terms")), "estimate", p)
}

func TestPenalisedPersonsWithSeveralSockets(t *testing.T) {
	var lives []life
	for _, l := range separatedLives() {
		twin := l
		twin.start, twin.days = 300, l.days+1
		lives = append(lives, l, twin)
	}
	a := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method")
	wantCaution(t, a, "not-clustered", "several sockets of one person")
	if caution(a, "few-clusters") != "" || strings.Contains(a.Methods, "score residuals") {
		t.Errorf("%v\n%s", a.Cautions, a.Methods)
	}
	for _, c := range table(t, a, "terms").Columns {
		if c.Name == "robust_std_error" {
			t.Error("a robust error of penalised estimates")
		}
	}
	b := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method\ncluster: none")
	n := 0
	for _, c := range b.Cautions {
		if c.Code == "not-clustered" {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d cautions about persons: %v", n, b.Cautions)
	}
	// Without a penalty the errors allow for the person.
	c := one(t, lab(labOptions{persons: 60}), quality, "method: cox\nby: cast_method")
	if caution(c, "not-clustered") != "" || caution(c, "separation") != "" {
		t.Errorf("%v", c.Cautions)
	}
}

func TestPenaltyRefusals(t *testing.T) {
	s := lifeLog(separatedLives())
	a := one(t, s, quality, "method: cox\nby: cast_method\nprofiles: [{cast_method: hand}]")
	wantError(t, a, "impossible", "profiles cannot be predicted", "casting method vacuum against hand")
	if a.Error != nil && !strings.HasPrefix(strings.Split(strings.ReplaceAll(notebookText(quality, "id: q\nmethod: cox\nby: cast_method\nprofiles: [{cast_method: hand}]"), "\r", ""), "\n")[a.Error.Line-1], "profiles:") {
		t.Errorf("line %d", a.Error.Line)
	}
	wantError(t, one(t, s, quality, "method: cox\nby: cast_method\nties: discrete"), "separation", "with efron or breslow as ties the estimates can be penalised")
	wantError(t, one(t, s, quality, "method: cox\nby: cast_method\npenalty: none"), "separation", "casting method vacuum")
	wantError(t, one(t, s, quality, "method: cox\nby: level\npenalty: firth"), "bad-term", "level")
	none := separatedLives()
	for i := range none {
		none[i].reason = ""
	}
	wantError(t, one(t, lifeLog(none), quality, "method: cox\nby: cast_method\npenalty: firth"), "no-events")
}

func TestFewClustersOnce(t *testing.T) {
	a := one(t, lab(labOptions{persons: 24}), quality, "method: linear\nrows: sockets\noutcome: turnaround_days\nby: cast_method\ncluster: person")
	n := 0
	for _, c := range a.Cautions {
		if c.Code == "few-clusters" {
			n++
		}
	}
	if n != 1 {
		t.Errorf("few-clusters stands %d times: %v", n, a.Cautions)
	}
}
