package words

import (
	"slices"
	"testing"
)

func TestFirstSentences(t *testing.T) {
	for _, c := range []struct {
		text string
		n    int
		want string
	}{
		{"Of 55 sockets, 19 (35%) were remade. Together they make up 67%. More.", 2, "Of 55 sockets, 19 (35%) were remade. Together they make up 67%."},
		{"Of 55 sockets, 19 were remade. Together they make up 67%.", 1, "Of 55 sockets, 19 were remade."},
		{"Half by 1.9 years (95% interval 1.6 to 2.3 years); at 2 years, 47.5% had not. 12 were lost.", 1, "Half by 1.9 years (95% interval 1.6 to 2.3 years); at 2 years, 47.5% had not."},
		{"The group St. Anne vs. Dr. Bloggs differs. Not more.", 1, "The group St. Anne vs. Dr. Bloggs differs."},
		{"A remark (so he said. He was right.) goes on. Next.", 1, "A remark (so he said. He was right.) goes on."},
		{"One sentence alone, approx. 5 of them", 2, "One sentence alone, approx. 5 of them"},
		{"It is so. and it goes on", 1, "It is so. and it goes on"},
		{"Is it? Yes! It is.", 2, "Is it? Yes!"},
		{"  ", 2, ""},
		{"Something. Else.", 0, ""},
		{"An open bracket :) here. Next.", 1, "An open bracket :) here."},
	} {
		if got := FirstSentences(c.text, c.n); got != c.want {
			t.Errorf("%d of %q: %q, want %q", c.n, c.text, got, c.want)
		}
	}
}

func TestSentences(t *testing.T) {
	for text, want := range map[string][]string{
		"": nil, "  ": nil, "One": {"One"}, "One. Two? 3 is (two. Three). Last.": {"One.", "Two?", "3 is (two. Three).", "Last."},
		"By approx. Five. no capital": {"By approx. Five. no capital"},
	} {
		if got := Sentences(text); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
