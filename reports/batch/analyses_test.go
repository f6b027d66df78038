package batch

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"plybook/reports/document"
)

// fewSockets is a log of n persons, one socket each, every third remade.
func fewSockets(n int) map[string]string {
	limbs, sockets := "person,limb,side,level,cause,last_seen\n", "socket,limb,kind,cast_method,delivered,ended,end_reason\n"
	for i := range n {
		ended, reason := "", ""
		if i%3 == 0 {
			ended, reason = fmt.Sprintf("2024-%02d-10", 2+i%10), "volume loss"
		}
		limbs += fmt.Sprintf("P%02d,L%02d,left,TT,%s,2024-12-20\n", i, i, []string{"trauma", "vascular"}[i%2])
		sockets += fmt.Sprintf("S%02d,L%02d,definitive,%s,2023-%02d-05,%s,%s\n", i, i, []string{"hand", "vacuum"}[i/2%2], 1+i%12, ended, reason)
	}
	return map[string]string{"limbs.csv": limbs, "sockets.csv": sockets}
}

func TestListOfAnalyses(t *testing.T) {
	const asks = "# Lives\n\n```ask\nid: lasts\nquestion: How long?\nmethod: kaplan-meier\nby: cast_method\n```\n\n" +
		"```ask\nid: speeds\nquestion: What shortens it?\nmethod: cox\nby: cast_method\nadjust: [cause]\n```\n\n" +
		"```ask\nid: fails\nmethod: kaplan-meier\nby: cast_methd\n```\n"
	for _, audience := range []string{"research", "quality"} {
		path := book(t, "---\ntitle: A\naudience: "+audience+"\nlog: [log/*.csv]\n---\n\n"+asks, fewSockets(30))
		res, err := Run(context.Background(), Options{Notebook: path, Release: "test"})
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(filepath.Join(res.Folder, "numbers.json"))
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			Analyses []struct {
				ID, Question, Method, Section string
				RowsOf                        string `json:"rows_of"`
				Rows, Events, Groups          *int
				By                            string
				Terms, Cautions               []string
				Answered                      bool
			}
		}
		if err := json.Unmarshal(b, &got); err != nil {
			t.Fatal(err)
		}
		if len(got.Analyses) != 3 {
			t.Fatalf("%s: %d analyses listed, want 3: one that fails is one of them", audience, len(got.Analyses))
		}
		km, cox, failed := got.Analyses[0], got.Analyses[1], got.Analyses[2]
		if km.ID != "lasts" || km.RowsOf != "sockets" || km.Section != "1.1" || km.By != "cast_method" || !km.Answered || *km.Rows != 30 || km.Groups == nil || *km.Groups != 2 {
			t.Errorf("%s: %+v rows %d groups %v", audience, km, *km.Rows, km.Groups)
		}
		// Ten of 30 sockets were remade, which a report that hides counts below 11 does not say.
		if hidden := km.Events == nil; hidden != (audience == "research") || !hidden && *km.Events != 10 {
			t.Errorf("%s: events %v", audience, km.Events)
		}
		if !slices.Equal(cox.Terms, []string{"cast_method", "cause"}) || cox.Groups != nil || cox.Section != "1.2" || !slices.Contains(cox.Cautions, "few-events") {
			t.Errorf("%s: %+v", audience, cox)
		}
		if failed.Answered || failed.Rows != nil || failed.Section != "1.3" {
			t.Errorf("%s: %+v", audience, failed)
		}

		doc, _ := reportOf(t, path)
		var printed *document.Table
		document.Walk(doc.Blocks, func(b document.Block) {
			if x, ok := b.(document.Table); ok && x.ID == "analyses-table" {
				printed = &x
			}
		})
		if (printed != nil) != (audience == "research") {
			t.Fatalf("%s: the list is printed: %v", audience, printed != nil)
		}
		if printed == nil {
			continue
		}
		if spans := printed.Spans[[2]int{1, 0}]; len(spans) != 2 || spans[0].Link != "#speeds" || spans[0].Text != "1.2" || !strings.Contains(printed.Rows[1][0], "What shortens it?") {
			t.Errorf("%+v", spans)
		}
		if printed.Rows[0][1] != "kaplan-meier\n30 sockets, events: hidden" || printed.Rows[2][3] != "not answered" || printed.Rows[1][2] != "cast method, cause" {
			t.Errorf("%q", printed.Rows)
		}
		page, err := os.ReadFile(filepath.Join(res.Folder, "report.html"))
		if err != nil || !strings.Contains(string(page), `<a href="#speeds">1.2</a>`) {
			t.Errorf("the page on screen has no link to the answer (%v)", err)
		}
	}
}
