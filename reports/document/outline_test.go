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
		{Number: "1.2", Level: 2, Text: "still one"}, {Number: "1.2.1", Level: 3, Text: "small"}, {Number: "2", Level: 1, Text: "two"}}
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

func TestGroupHead(t *testing.T) {
	table := Table{Columns: make([]TableColumn, 2), Rows: [][]string{{"Site", ""}, {"North", "1"}, {"South"}, {"", ""}, {}, {"All", "3"}, {"Site", " "}}, Strong: []int{0, 2, 3, 4, 5, 99}}
	for row, want := range []bool{true, false, true, false, false, false, false, false} {
		if got := table.GroupHead(row); got != want {
			t.Errorf("row %d: %t, want %t", row, got, want)
		}
	}
	if (Table{Columns: make([]TableColumn, 1), Rows: [][]string{{"x"}}, Strong: []int{0}}).GroupHead(0) {
		t.Error("a table of one column has no group heads")
	}
}

func TestCounter(t *testing.T) {
	var c Counter
	got := ""
	for _, further := range []bool{false, true, false, true, true} {
		got += c.Next(further) + " "
	}
	if got != "1 S1 2 S2 S3 " {
		t.Error(got)
	}
}
