package answer_test

import (
	"math"
	"strings"
	"testing"

	"plybook/reports/document"
)

// Person 1 had two sockets remade, after 100 days and after 50; person 2 has one
// watched for 200 days. The rate is 2 in 350 days; the scores summed by person
// are 8/7 and -8/7, the variance of its logarithm 2 (8/7)^2 / 2^2 times 2/(2-1).
func TestRateOfSocketsOfOnePersonByHand(t *testing.T) {
	s := lifeLog([]life{{1, 0, 100, "remake: growth", "hand"}, {1, 150, 50, "remake: growth", "hand"}, {2, 0, 200, "", "hand"}})
	rate, se := 100*2*365.25/350, 8.0/7
	interval := "Its interval with sockets of one person taken together"
	for _, method := range []string{"kaplan-meier", "follow-up"} {
		a := one(t, s, "audience: quality\nto: "+day(200), "method: "+method)
		r := row(t, table(t, a, "rates"))
		want(t, r, "events", 2, "estimate", rate, "clustered_low", rate*math.Exp(-1.959963984540054*se), "clustered_high", rate*math.Exp(1.959963984540054*se))
		if r["low"].(float64) <= 0 || r["high"].(float64) <= rate {
			t.Errorf("%s: exact limits %v and %v", method, r["low"], r["high"])
		}
		if text := strings.Join(document.Texts(a.Print), "\n"); !strings.Contains(text, interval) || !strings.Contains(text, "fail alike") || !strings.Contains(a.Methods, "errors summed by person") {
			t.Errorf("%s: %s\n%s", method, text, a.Methods)
		}
	}
	a := one(t, s, "audience: quality\nto: "+day(200), "method: kaplan-meier\ncluster: none")
	want(t, row(t, table(t, a, "rates")), "estimate", rate, "clustered_low", nil, "clustered_high", nil)
	if text := strings.Join(document.Texts(a.Print), "\n"); strings.Contains(text, interval) || strings.Contains(text, "fail alike") || strings.Contains(a.Methods, "errors summed by") {
		t.Errorf("without clusters: %s\n%s", text, a.Methods)
	}
}
