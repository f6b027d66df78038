package answer_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/figure"
	"plybook/reports/vector"
)

// checkShort holds an answer in short to ending as a sentence does.
func checkShort(t testing.TB, a answer.Answer) {
	t.Helper()
	if end := a.Short[max(0, len(a.Short)-1):]; !strings.Contains(".!?", end) {
		t.Errorf("%s: in short it does not end: %q", a.ID, a.Short)
	}
}

// checkSmall draws a figure small, where it can be.
func checkSmall(t testing.TB, a answer.Answer, f *figure.Figure) {
	t.Helper()
	if f.Small == nil {
		return
	}
	var svg bytes.Buffer
	if err := vector.SVG(&svg, f.Small(), vector.SVGOptions{}); err != nil || strings.Contains(svg.String(), "NaN") || strings.Contains(svg.String(), "Inf\"") {
		t.Errorf("%s: svg of %s, small: %v, or it holds a number that is none", a.ID, f.ID, err)
	}
}

// lowLog is 24 months of 20 visits, of which some have a low comfort: two or
// three at first, as many as says later from the 19th month on.
func lowLog(later int) sheets {
	low := make([]int, 24)
	for m := range low {
		if low[m] = 2 + m%2; m >= 18 {
			low[m] = later
		}
	}
	return chartLog(20, low)
}

// A chart says in short where its level is and what is more than noise, and
// asks for a decision where a signal is on the worse side or a goal is missed.
func TestChartInShort(t *testing.T) {
	const chart = lowByMonth + "\nchart: p\nbaseline_points: 12\nkeep: {purpose: follow-up}"
	for _, c := range []struct {
		name      string
		later     int
		keys      string
		short     []string
		attention string
	}{
		{"calm", 2, "\nbetter: lower", []string{"Comfort on arrival up to 5: the centre line is at 12.5%, from the first 12 periods.", "Nothing on the chart is more than noise."}, ""},
		{"worse", 14, "\nbetter: lower", []string{"the centre line is at 12.5%", "More than noise: ", "the worse side"}, "the worse side; 5 further signals on that side"},
		{"better", 14, "\nbetter: higher", []string{"More than noise: ", "the better side"}, ""},
		{"no direction", 14, "", []string{"More than noise: "}, ""},
		{"goal missed", 2, "\nbetter: lower\ngoal: 5%", []string{"The goal of 5.0% is not reached by the centre line."}, "The goal of 5.0% is not reached by the centre line"},
		{"goal met", 2, "\nbetter: lower\ngoal: 20%", []string{"The goal of 20.0% is reached by the centre line."}, ""},
	} {
		a := one(t, lowLog(c.later), "to: 2023-12-31", chart+c.keys)
		if a.Error != nil {
			t.Errorf("%s: %s", c.name, a.Error.Text)
			continue
		}
		for _, want := range c.short {
			if !strings.Contains(a.Short, want) {
				t.Errorf("%s: in short it lacks %q: %s", c.name, want, a.Short)
			}
		}
		if (c.attention == "") != (a.Attention == "") || !strings.Contains(a.Attention, c.attention) {
			t.Errorf("%s: asks for a decision: %q, want %q", c.name, a.Attention, c.attention)
		}
	}
}

// Signals of a phase that has ended ask for nothing.
func TestEndedPhaseAsksForNothing(t *testing.T) {
	low := make([]int, 24)
	for m := range low {
		if low[m] = 2 + m%2; m == 13 {
			low[m] = 16
		}
	}
	const chart = lowByMonth + "\nchart: p\nbaseline_points: 6\nbetter: lower"
	with := answersOf(t, readLog(t, chartLog(20, low)), nil, "to: 2023-12-31", "id: q\n"+chart, "on: 2023-04-01\nwhat: Padded.\nfollows: q\nnew_phase: true")["q"]
	if with.Error != nil || with.Attention != "" || !strings.Contains(with.Short, "More than noise") {
		t.Errorf("%+v %q %q", with.Error, with.Attention, with.Short)
	}
	if a := one(t, chartLog(20, low), "to: 2023-12-31", chart); !strings.Contains(a.Attention, "2023-02 lies above the limits, the worse side") {
		t.Errorf("%q", a.Attention)
	}
}

// Curves of groups stand side by side in short, at the last time that all
// reach, with the difference behind.
func TestCurvesInShort(t *testing.T) {
	// Group a is remade on day 100 + 10 i, group b half as early again.
	var s strings.Builder
	s.WriteString(socketsHead)
	limbs := plainLimbs(40)
	for i := range 40 {
		group, day := "hand", 100+10*(i/2)
		if i%2 == 1 {
			group, day = "vacuum", day*2
		}
		fmt.Fprintf(&s, "S%d,P%dL,definitive,2022-01-01,,%s,remake: volume loss,,%s\n", i+1, i+1, isoDay(day), group)
	}
	log := sheets{"limbs": limbs, "sockets": s.String()}
	const ask = "method: kaplan-meier\nby: cast_method\ntimes: [100d, 200d]"
	a := one(t, log, "to: 2023-12-31", ask)
	if a.Error != nil {
		t.Fatal(a.Error.Text)
	}
	// Of 20 by hand those of days 100 to 200, 11, are remade by then; by
	// vacuum the one of day 200.
	if !strings.HasPrefix(a.Short, "At 200 days, 45% in the group hand and 95% in the group vacuum had not been remade. Within ") || !strings.Contains(a.Short, " lasted ") {
		t.Errorf("%q", a.Short)
	}
	if a := one(t, log, "to: 2023-12-31", "method: kaplan-meier"); !strings.HasPrefix(a.Short, "Half of the sockets had been remade by ") || !strings.HasSuffix(a.Short, " Of 40 sockets, 40 were remade.") {
		t.Errorf("one curve: %q", a.Short)
	}
	if a := one(t, log, "to: 2023-12-31", "method: kaplan-meier\nby: cast_method"); !strings.HasPrefix(a.Short, "In the group hand, half had been remade by ") {
		t.Errorf("no time is asked for: %q", a.Short)
	}
}
