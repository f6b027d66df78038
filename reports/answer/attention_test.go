package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// wantAttention checks what asks for a decision; no words: nothing does.
func wantAttention(t *testing.T, name string, a answer.Answer, u answer.Urgency, phrases ...string) {
	t.Helper()
	if a.Error != nil {
		t.Fatalf("%s: %s", name, a.Error.Text)
	}
	if len(phrases) == 0 {
		if a.Attention != "" || a.Urgency != 0 {
			t.Errorf("%s: asks for a decision (%d): %s", name, a.Urgency, a.Attention)
		}
		return
	}
	if a.Urgency != u {
		t.Errorf("%s: urgency %d, want %d: %s", name, a.Urgency, u, a.Attention)
	}
	for _, p := range phrases {
		if !strings.Contains(a.Attention, p) {
			t.Errorf("%s: %q is not in %q", name, p, a.Attention)
		}
	}
}

func TestUnitsOutsideAskForADecision(t *testing.T) {
	five := unitLog(unitRows{"a", "transtibial", 12, 60}, unitRows{"b", "transtibial", 14, 60}, unitRows{"c", "transtibial", 34, 60}, unitRows{"d", "transtibial", 22, 60}, unitRows{"e", "transtibial", 6, 60})
	a := one(t, five, quality, lowBySite+"\nbetter: lower")
	wantAttention(t, "act", a, answer.Act, "Outside the 99.8% limits: c (34, where 17.6 were expected, above); look at case-mix and records first")
	if strings.Contains(a.Attention, "e (") {
		t.Errorf("a unit on the better side: %s", a.Attention)
	}
	wantAttention(t, "no better side", one(t, five, quality, lowBySite), answer.Act, "c (34", "e (6, where 17.6 were expected, below)")
	var many []unitRows
	for k := range 9 {
		many = append(many, unitRows{fmt.Sprintf("u%d", k), "transtibial", 17 + k%3, 60})
	}
	wantAttention(t, "watch", one(t, unitLog(append(many, unitRows{"x", "transtibial", 28, 60})...), quality, lowBySite+"\nbetter: lower"), answer.Missed,
		"To be watched, outside the 95% limits: x (28", "look at case-mix and records first")
	wantAttention(t, "watch, better side", one(t, unitLog(append(many, unitRows{"x", "transtibial", 28, 60})...), quality, lowBySite+"\nbetter: higher"), 0)
	wantAttention(t, "alike", one(t, unitLog(many...), quality, lowBySite), 0)
	// A unit of which a count is small is not named, however far it lies out.
	few := one(t, unitLog(unitRows{"a", "transtibial", 30, 60}, unitRows{"b", "transtibial", 32, 60}, unitRows{"c", "transtibial", 31, 60}, unitRows{"e", "transtibial", 5, 60}), "hide_below: 11", lowBySite)
	if strings.Contains(few.Attention, "e (") {
		t.Errorf("a small count is told: %s", few.Attention)
	}
}

func TestSumsAskForADecision(t *testing.T) {
	s := eventLog(400, lowDays()...)
	const ask = lowSum + "\nbaseline_points: 300\nfalse_alarm: 1y"
	wantAttention(t, "worse", one(t, s, quality, ask+"\nbetter: lower"), answer.Act, "The sum for more comfort on arrival up to 5 came to its limit on ", "2023", ", the worse side: look at case-mix and records first")
	wantAttention(t, "better", one(t, s, quality, ask+"\nbetter: higher"), 0)
	wantAttention(t, "no direction", one(t, s, quality, ask), answer.Act, "came to its limit on ")
	wantAttention(t, "calm", one(t, eventLog(300, lowDays()[:30]...), quality, lowSum+"\nexpected: 10%\nbetter: lower"), 0)
	// A decision made since is an answer to the signals before it.
	decided := answersOf(t, readLog(t, s), nil, quality, "id: q\n"+ask+"\nbetter: lower", "on: "+isoDay(399)+"\nwhat: Padded.\nfollows: q")["q"]
	wantAttention(t, "decided since", decided, 0)
}

func TestChangesForTheWorseAskForADecision(t *testing.T) {
	const ask = lowSegmented + "change: 2024-01-01\nseasonal: no\n"
	log := chartLog(20, steps(48))
	wantAttention(t, "worse", one(t, log, "to: 2025-12-31", ask+"better: higher"), answer.Worse, "Since the change, in ", "from where the old one would have led (95% interval ", ", the worse side")
	wantAttention(t, "better", one(t, log, "to: 2025-12-31", ask+"better: lower"), 0)
	wantAttention(t, "no direction", one(t, log, "to: 2025-12-31", ask), 0)
	flat := make([]int, 48)
	for m := range flat {
		flat[m] = 10 + (m*7)%3
	}
	wantAttention(t, "no change", one(t, chartLog(20, flat), "to: 2025-12-31", ask+"better: lower"), 0)
}

func TestLargestKnownBarIsTold(t *testing.T) {
	var acts []string
	acts = append(append(append(acts, repeatText("", 14)...), repeatText("ground", 10)...), repeatText("reline", 7)...)
	wantAttention(t, "largest", one(t, actionLog(acts...), quality, "method: pareto\nrows: visits\nby: action"), answer.Known, "Of 31 visits, ground (10, 32%)")
	wantAttention(t, "nothing known", one(t, actionLog(repeatText("", 12)...), quality, "method: pareto\nrows: visits\nby: action"), 0)
	wantAttention(t, "small", one(t, actionLog(acts...), "hide_below: 11", "method: pareto\nrows: visits\nby: action"), 0)
}

func TestFieldsMissingTooOftenAskForADecision(t *testing.T) {
	const front = "from: 2021-01-01\nto: 2022-12-31"
	wantAttention(t, "few", one(t, filledLog([2]int{40, 40}, [2]int{30, 40}), front, strip), answer.Data, "In 2022 recorded too seldom to decide by: comfort on arrival (75%)")
	wantAttention(t, "mended", one(t, filledLog([2]int{30, 40}, [2]int{38, 40}), front, strip), 0)
	wantAttention(t, "under the goal", one(t, filledLog([2]int{40, 40}, [2]int{34, 40}), front, strip+"goal: 90%"), answer.Missed, "In 2022 under the goal of 90%: comfort on arrival (85%)")
	wantAttention(t, "goal met", one(t, filledLog([2]int{40, 40}, [2]int{38, 40}), front, strip+"goal: 90%"), 0)
	wantAttention(t, "small", one(t, filledLog([2]int{40, 40}, [2]int{4, 40}), front+"\nhide_below: 11", strip), 0)
}
