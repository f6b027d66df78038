package document

import (
	"slices"
	"testing"
)

func TestTexts(t *testing.T) {
	got := Texts([]Block{
		Heading{Text: "a"},
		KeepTogether{Blocks: []Block{Paragraph{Spans: []Span{{Text: "b"}, {Text: "c", Bold: true}}}}},
		List{Items: [][]Span{{{Text: "d"}}}},
		Table{Caption: "e", Columns: []TableColumn{{Head: "f"}, {}}, Rows: [][]string{{"g", ""}}, Notes: []string{"h"}},
		Figure{Caption: "i"},
		Note{Title: "j", Paras: []Paragraph{Text("k")}},
		Row{Cells: []Cell{{Question: "l", Answer: []Paragraph{Text("m")}, Lines: []Line{{Spans: []Span{{Text: "n"}}}}}}, Notes: []FootNote{{Text: "o"}}},
		Code{Text: "not said"},
		PageBreak{},
	})
	if want := []string{"a", "bc", "d", "e", "f", "g", "h", "i", "j", "k", "l", "m", "n", "o"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
