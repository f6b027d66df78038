package batch

import (
	"slices"
	"strings"
	"testing"

	"plybook/reports/document"
	"plybook/reports/notebook"
)

func TestGlossaryHoldsWhatTheReportUses(t *testing.T) {
	blocks := []document.Block{
		document.Text("The hazard ratio is 1.3 (95% interval 1.0 to 1.7; p = 0.05)."),
		document.KeepTogether{Blocks: []document.Block{document.Table{Columns: []document.TableColumn{{Head: "Median"}}, Rows: [][]string{{"4"}}}}},
		document.Code{Text: "method: odds ratio"},
		document.Text("We supply plywood."), // no ply
	}
	words := func(a notebook.Audience) []string {
		r := report{nb: &notebook.Notebook{Front: notebook.Front{Audience: a}}}
		var out []string
		for _, b := range r.terms(blocks) {
			if t, ok := b.(document.Table); ok {
				for _, row := range t.Rows {
					out = append(out, row[0])
				}
			}
		}
		return out
	}
	want := []string{"hazard ratio", "interval", "median, quartiles", "p"}
	if got := words(notebook.Research); !slices.Equal(got, want) {
		t.Errorf("terms %q, want %q", got, want)
	}
	if got := words(notebook.Quality); got != nil {
		t.Errorf("the lab's own meeting is told %q", got)
	}
}

func TestGlossaryIsInOrder(t *testing.T) {
	for i, g := range glossary {
		if i > 0 && strings.ToLower(glossary[i-1].word) > strings.ToLower(g.word) {
			t.Errorf("%q stands before %q", glossary[i-1].word, g.word)
		}
		if !strings.HasSuffix(g.meaning, ".") || strings.Contains(strings.ToLower(g.meaning), "significan") {
			t.Errorf("%q: %q", g.word, g.meaning)
		}
	}
}
