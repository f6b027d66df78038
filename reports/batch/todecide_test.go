package batch

import (
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
)

// toldToDecide is the list of what is to be decided, a line a point.
func toldToDecide(r *report) []string {
	var out []string
	for _, b := range r.toDecide() {
		switch b := b.(type) {
		case document.Paragraph:
			out = append(out, plain(b.Spans))
		case document.List:
			for _, it := range b.Items {
				out = append(out, "- "+plain(it))
			}
		}
	}
	return out
}

// Nothing is to be decided, and the report says so.
func TestNothingToDecide(t *testing.T) {
	r := &report{nb: &notebook.Notebook{Front: notebook.Front{Print: notebook.Short}}, answers: []*answer.Answer{{ID: "a", Method: "control-chart"}}}
	if got := toldToDecide(r); len(got) != 1 || !strings.Contains(got[0], "no review is due") {
		t.Errorf("%q", got)
	}
	for _, method := range []string{"cumulative-sum", "segmented", "funnel"} {
		r.answers[0].Method = method
		if got := toldToDecide(r); len(got) != 1 || !strings.Contains(got[0], "lies outside its limits") {
			t.Errorf("%s: %q", method, got)
		}
	}
	r.answers[0].Method = "flow"
	if got := r.toDecide(); got != nil {
		t.Errorf("without charts and decisions: %+v", got)
	}
}

// What asks for a decision stands in the order of its urgency, whatever the
// order of the questions; the largest known parts come after, in one line.
func TestToDecideIsOrderedByUrgency(t *testing.T) {
	on := func(s string) float64 { return 20000 + float64(len(s)) }
	due, open := on("due"), 21000.0
	decisions := []notebook.Part{
		&notebook.Decision{On: 19000, What: "Cast twice.", Follows: "chart", Review: &due},
		&notebook.Decision{On: 19500, What: "Look again.", Follows: "goal", Review: &open},
	}
	r := &report{today: 20100, nb: &notebook.Notebook{Front: notebook.Front{Print: notebook.Short}, Parts: decisions}, answers: []*answer.Answer{
		{ID: "reasons", Method: "pareto", Attention: "Of 55 sockets, volume loss (19, 35%)", Urgency: answer.Known},
		{ID: "strip", Method: "completeness", Attention: "Recorded too seldom to decide by: ply (40%)", Urgency: answer.Data},
		{ID: "goal", Method: "control-chart", Attention: "The goal of 95% is not reached by the centre line", Urgency: answer.Missed},
		{ID: "places", Method: "pareto", Attention: "Of 90 findings, shin (30, 33%)", Urgency: answer.Known},
		{ID: "chart", Method: "control-chart", Attention: "Q2 lies above the limits, the worse side", Urgency: answer.Worse},
		{ID: "failed", Method: "funnel", Attention: "Outside", Urgency: answer.Act, Error: &answer.Error{}},
		{ID: "units", Method: "funnel", Attention: "Outside the 99.8% limits: c (34, where 17.6 were expected, above); look at case-mix and records first", Urgency: answer.Act},
	}}
	got := toldToDecide(r)
	want := []string{
		"- units Outside the 99.8% limits: c (34, where 17.6 were expected, above); look at case-mix and records first. No open decision follows this question.",
		"- chart Q2 lies above the limits, the worse side. No open decision follows this chart.",
		"- Review was due on ",
		"- goal The goal of 95% is not reached by the centre line. Decided on ",
		"- strip Recorded too seldom to decide by: ply (40%).",
		"Largest known. Of 55 sockets, volume loss (19, 35%); of 90 findings, shin (30, 33%).",
		"Reviews ahead. On ",
	}
	if len(got) != len(want) {
		t.Fatalf("%d lines, want %d:\n%s", len(got), len(want), strings.Join(got, "\n"))
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("line %d: %q, want %q", i+1, got[i], want[i])
		}
	}
	if strings.Contains(got[4], "decision") {
		t.Errorf("a decision is looked for: %q", got[4])
	}
	// What is largest alone is no reason to decide, but it is told.
	r.answers, r.nb.Parts = r.answers[:1], nil
	if got := toldToDecide(r); len(got) != 2 || !strings.Contains(got[0], "no review is due") || !strings.HasPrefix(got[1], "Largest known. Of 55") {
		t.Errorf("%q", got)
	}
}
