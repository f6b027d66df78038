package batch

import (
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
)

// A figure that belongs to a table further down stands before that table, not
// with the first figure; one that belongs to no table stays where it was.
func TestFiguresStandBesideTheirTables(t *testing.T) {
	a := &answer.Answer{ID: "a", Question: "How?", Reading: "So.",
		Figures: []*figure.Figure{{ID: "a", Title: "ratios"}, {ID: "a-adjusted", Title: "shares"}, {ID: "a-shape", Title: "shape"}},
		Print: []document.Block{
			document.Table{ID: "a-terms", Caption: "terms", Columns: []document.TableColumn{{}}},
			document.Table{ID: "a-adjusted", Caption: "share of each", Columns: []document.TableColumn{{}}},
		}}
	var got []string
	for _, b := range answerBlocks(a, &notebook.Ask{ID: "a"}, 2, 0, nil, "") {
		switch b := b.(type) {
		case document.Figure:
			got = append(got, b.Caption)
		case document.Table:
			got = append(got, b.Caption)
		}
	}
	if s := strings.Join(got, " "); s != "ratios. shape. terms shares. share of each" {
		t.Error(s)
	}
}
