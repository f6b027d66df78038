package batch

import (
	"slices"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
)

// itemsOf are the rows of the map of items of a notebook, by number, as the
// report would print them; broken are the ids of asks that fail.
func itemsOf(t *testing.T, name, text string, broken ...string) map[string][]string {
	t.Helper()
	nb, err := notebook.Parse("n.md", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	r := &report{nb: nb, log: &ingest.Log{}, today: 20000}
	for _, a := range nb.Asks() {
		x := &answer.Answer{ID: a.ID, Method: a.Method, Question: a.Question, Methods: "Counted.", References: []string{"A. B 2000."}}
		if slices.Contains(broken, a.ID) {
			x.Error = &answer.Error{Code: "no-rows", Text: "nothing"}
		}
		r.answers = append(r.answers, x)
	}
	out := map[string][]string{}
	targets := map[string]bool{}
	blocks := assemble(r).Blocks
	document.Walk(blocks, func(b document.Block) {
		if h, ok := b.(document.Heading); ok {
			targets["#"+h.ID] = true
		}
	})
	document.Walk(blocks, func(b document.Block) {
		tb, ok := b.(document.Table)
		if !ok || tb.ID != "items-"+name {
			return
		}
		for i, row := range tb.Rows {
			out[row[0]] = row
			for _, s := range tb.Spans[[2]int{i, 2}] {
				if s.Link != "" && !targets[s.Link] {
					t.Errorf("item %s leads to %s, which is not there", row[0], s.Link)
				}
			}
		}
	})
	return out
}

const cohortBook = "---\ntitle: A cohort of sockets\naudience: research\nitem_map: [strobe, record]\nto: 2024-12-31\nfrom: 2023-01-01\n---\n\n**Design.** A cohort.\n\n# Limits\n\nMany.\n\n# Results\n\n"

const improvementBook = "---\ntitle: Better fits\naudience: quality\nitem_map: squire\n---\n\n# Aim\n\nMore.\n\n"

func block(lines ...string) string { return "```ask\n" + strings.Join(lines, "\n") + "\n```\n\n" }

var cohortAsks = map[string]string{
	"flow":    block("id: flow", "method: flow"),
	"who":     block("id: who", "method: summary", "by: cast_method"),
	"watched": block("id: watched", "method: follow-up"),
	"curve":   block("id: curve", "method: kaplan-meier", "by: cast_method"),
	"model":   block("id: model", "method: cox", "by: cast_method", "adjust: [age]", "interact: [[cast_method, age]]"),
	"filled":  block("id: filled", "method: cox", "by: cast_method", "missing: impute"),
	"plan":    block("id: plan", "method: sample-size", "ratios: 0.6", "until: 1y"),
	"causes":  block("id: causes", "method: cumulative-incidence"),
}

func cohortWithout(id string) string {
	out := cohortBook
	for _, k := range []string{"flow", "who", "watched", "curve", "model", "filled", "plan", "causes"} {
		if k != id {
			out += cohortAsks[k]
		}
	}
	return out
}

const allOfIt = "all of it"

// Where a question is taken out of the notebook, or fails, the items that it
// alone answered remain for the authors.
func TestItemsFollowTheQuestions(t *testing.T) {
	whole := itemsOf(t, "strobe", cohortWithout(""))
	if len(whole) != 34 {
		t.Errorf("%d items of STROBE, want 34 with their parts", len(whole))
	}
	for id, items := range map[string][]string{"flow": {"13a", "13b", "13c"}, "who": {"14a", "14b"}, "plan": {"10"}, "model": {"12b"}, "filled": {"12e"}, "watched": {"9"}} {
		for _, n := range items {
			if whole[n][3] == allOfIt || whole[n][2] == "not found" {
				t.Errorf("item %s is not found though `%s` answers it: %q", n, id, whole[n])
			}
			if got := itemsOf(t, "strobe", cohortWithout(id))[n]; got[2] != "not found" || got[3] != allOfIt {
				t.Errorf("without `%s` item %s: %q", id, n, got)
			}
			if got := itemsOf(t, "strobe", cohortWithout(""), id)[n]; got[3] != allOfIt {
				t.Errorf("where `%s` fails item %s: %q", id, n, got)
			}
		}
	}
	crude := whole["16a"][2]
	if got := itemsOf(t, "strobe", cohortWithout("model"))["16a"][2]; got == crude || strings.Count(got, ",") != strings.Count(crude, ",")-1 {
		t.Errorf("16a without the adjusted model: %q, with it %q", got, crude)
	}
	if got := itemsOf(t, "record", cohortWithout("flow")); len(got) != 13 || got["13.1"][3] != allOfIt || got["22.1"][3] != allOfIt {
		t.Errorf("RECORD: %d items, 13.1 %q", len(got), got["13.1"])
	}
}

func TestItemsFollowWhatTheAuthorsWrite(t *testing.T) {
	whole := itemsOf(t, "strobe", cohortWithout(""))
	for n, want := range map[string]string{"1a": "title", "4": "“Design”", "19": "“Limits”", "5": "period"} {
		if !strings.Contains(whole[n][2], want) {
			t.Errorf("item %s: %q, want %s", n, whole[n], want)
		}
	}
	for n, gone := range map[string]string{"4": "**Design.** ", "19": "# Limits\n\n", "5": "from: 2023-01-01\n"} {
		if got := itemsOf(t, "strobe", strings.Replace(cohortWithout(""), gone, "", 1))[n]; got[3] != allOfIt {
			t.Errorf("without %q item %s: %q", gone, n, got)
		}
	}
	for _, n := range []string{"18", "20", "22", "6b"} {
		if whole[n][3] != allOfIt {
			t.Errorf("item %s is said to be answered: %q", n, whole[n])
		}
	}
	// What is still to be written, in square brackets, answers nothing.
	for text, want := range map[string]bool{"**Funding.** [By whom.]": false, "**Funding.** [By whom.] None.": true, "**Funding.** None.": true, "**Funding.** [By whom], [and how much].": false} {
		if got := itemsOf(t, "strobe", cohortBook+text+"\n")["22"]; (got[3] != allOfIt) != want {
			t.Errorf("%s: %q", text, got)
		}
	}
	dated := strings.Replace(strings.Replace(cohortWithout(""), "from: 2023-01-01\n", "", 1), "title: A cohort of sockets", "title: Sockets of 2023 to 2025", 1)
	if got := itemsOf(t, "record", dated)["1.2"]; got[2] != "title" {
		t.Errorf("years in the title: %q", got)
	}
	// Words within others are no such words: "limbs" has no limits, "maimed" no aim.
	if got := itemsOf(t, "strobe", cohortBook+"# Claims of the maimed\n\nText.\n")["3"]; got[3] != allOfIt {
		t.Errorf("item 3 found in part of a word: %q", got)
	}
}

func TestItemsOfWorkOnQuality(t *testing.T) {
	chart := block("id: fits", "method: control-chart", "rows: sockets", "numerator: {first_fit: yes}", "denominator: {first_fit: known}")
	decision := "```decision\non: 2024-01-01\nwhat: Measure twice.\nfollows: fits\n```\n\n"
	whole := itemsOf(t, "squire", improvementBook+chart+decision)
	if len(whole) != 18 {
		t.Errorf("%d items of SQUIRE 2.0, want 18", len(whole))
	}
	for _, n := range []string{"6", "8", "11", "13"} {
		if whole[n][3] == allOfIt {
			t.Errorf("item %s: %q", n, whole[n])
		}
	}
	less := itemsOf(t, "squire", improvementBook)
	for _, n := range []string{"8", "13"} {
		if less[n][3] != allOfIt {
			t.Errorf("without chart and decision item %s: %q", n, less[n])
		}
	}
	if got := itemsOf(t, "squire", strings.Replace(improvementBook+chart, "item_map: squire\n", "", 1)); len(got) != 0 {
		t.Errorf("%d items without being asked for", len(got))
	}
}
