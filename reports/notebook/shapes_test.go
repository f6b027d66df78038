package notebook

import (
	"slices"
	"strings"
	"testing"
)

func TestCompare(t *testing.T) {
	a := one(t, "id: a\nmethod: weibull\ncompare: [log-normal, exponential]\n")
	if a.Err != nil || !slices.Equal(a.Compare, []string{"log-normal", "exponential"}) {
		t.Errorf("%v %v", a.Compare, a.Err)
	}
	if a = one(t, "id: a\nmethod: weibull\ncompare: all\n"); a.Err != nil || !slices.Equal(a.Compare, ParametricMethods()) {
		t.Errorf("%v %v", a.Compare, a.Err)
	}
	if a = one(t, "id: a\nmethod: weibull\ncompare: log-normal\n"); a.Err != nil || len(a.Compare) != 1 {
		t.Errorf("%v %v", a.Compare, a.Err)
	}
	for text, want := range map[string]string{
		"method: weibull\ncompare: [log-norml]":                "did you mean \"log-normal\"?",
		"method: weibull\ncompare: [cox]":                      "cannot be \"cox\"",
		"method: weibull\ncompare: [weibull]":                  "nothing but the method itself",
		"method: weibull\ncompare: []":                         "is empty",
		"method: weibull\ncompare: [log-normal, log-normal]":   "twice",
		"method: cox\nby: level\ncompare: [weibull]":           "cox does not take `compare`",
		"method: log-normal\ncompare: {weibull: yes}":          "list",
		"method: log-normal\nby: level\ncompare: [alle]":       "cannot be \"alle\"",
		"method: log-normal\ncompare: [weibull, all]":          "cannot be \"all\"",
		"method: generalised-gamma\ncompare: lognormal, gamma": "did you mean [",
	} {
		a := one(t, "id: a\n"+text+"\n")
		if a.Err == nil || !strings.Contains(a.Err.Text, want) {
			t.Errorf("%q: %v, want %q", text, a.Err, want)
		}
	}
}
