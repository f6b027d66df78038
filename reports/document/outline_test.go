package document

import "testing"

func TestNumber(t *testing.T) {
	n := Number([]Block{
		Heading{Level: 2, Text: "before any chapter"},
		Heading{Level: 1, Text: "one"},
		KeepTogether{Blocks: []Block{Heading{Level: 2, Text: "in"}, Table{Caption: "t"}, KeepTogether{Blocks: []Block{Figure{Caption: "f"}}}}},
		Heading{Level: 1, Text: "hidden", Quiet: true},
		Heading{Level: 2, Text: "still one"},
		Heading{Level: 3, Text: "small"},
		Heading{Level: 1, Text: " "},
		Heading{Level: 0, Text: "two"},
		Table{}, Figure{},
	})
	want := []Entry{{Level: 2, Text: "before any chapter"}, {Number: "1", Level: 1, Text: "one"}, {Number: "1.1", Level: 2, Text: "in"},
		{Number: "1.2", Level: 2, Text: "still one"}, {Level: 3, Text: "small"}, {Number: "2", Level: 1, Text: "two"}}
	if len(n.Entries) != len(want) {
		t.Fatalf("%d entries, want %d", len(n.Entries), len(want))
	}
	for i := range want {
		if n.Entries[i] != want[i] {
			t.Errorf("entry %d is %+v, want %+v", i, n.Entries[i], want[i])
		}
	}
	if n.Headings[3] != "" || n.Headings[4] != "1.2" || n.Headings[7] != "2" {
		t.Errorf("numbers %v", n.Headings)
	}
	if n.Tables != 1 || n.Figures != 1 {
		t.Errorf("%d tables and %d figures bear a caption", n.Tables, n.Figures)
	}
}
