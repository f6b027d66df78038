package batch

import (
	"slices"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/convention"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
	"plybook/reports/words"
)

// The research report has its main part first and loses nothing: every table,
// figure and sentence on methods is there once, every caution in full once.
func TestMainFirstKeepsAll(t *testing.T) {
	r, doc := exampleReport(t, "research.md")
	if r.nb.Front.Print != notebook.MainFirst {
		t.Fatalf("the example prints %q", r.nb.Front.Print)
	}
	captions := func(d *document.Document) (main, further []string) {
		put := func(f bool, kind, caption string) {
			caption, _, _ = strings.Cut(caption, "; question ") // behind, the same caption may stand elsewhere first
			if f {
				further = append(further, kind+strings.TrimSuffix(caption, "."))
			} else {
				main = append(main, kind+strings.TrimSuffix(caption, "."))
			}
		}
		document.Walk(d.Blocks, func(b document.Block) {
			switch b := b.(type) {
			case document.Table:
				put(b.Further, "table ", b.Caption)
			case document.Figure:
				put(b.Further, "figure ", b.Caption)
			}
		})
		return main, further
	}
	main, further := captions(doc)
	r.nb.Front.Print = notebook.Full
	all, none := captions(assemble(r))
	r.nb.Front.Print = notebook.MainFirst
	got := append(slices.Clone(main), further...)
	slices.Sort(got)
	slices.Sort(all)
	if len(none) > 0 || !slices.Equal(got, all) {
		t.Errorf("main and further, %d and %d, are not the %d of the whole report (%d further there)", len(main), len(further), len(all), len(none))
	}
	if len(further) < 15 {
		t.Errorf("only %d tables and figures are behind", len(further))
	}
	heads, place := sections(doc.Blocks), map[string]int{}
	text, full := "", map[string]int{}
	var named []string
	var tables, figures document.Counter
	for i, b := range doc.Blocks {
		switch b := b.(type) {
		case document.Heading:
			place[b.ID] = i
		case document.Paragraph:
			text += plain(b.Spans) + "\n"
			if isMethod(b) {
				t.Errorf("a sentence on methods is in the main part: %s", plain(b.Spans))
			}
			if len(b.Spans) == 3 && b.Spans[0].Text == "Further: " {
				named = append(named, b.Spans[1].Text)
				if !slices.ContainsFunc(doc.Blocks, func(x document.Block) bool {
					h, ok := x.(document.Heading)
					return ok && "#"+h.ID == b.Spans[1].Link && strings.HasPrefix(h.Text, "To "+heads[strings.TrimSuffix(h.ID, "-further")]+". ")
				}) {
					t.Errorf("nothing bears the target %s", b.Spans[1].Link)
				}
			}
		case document.Table:
			if b.Caption != "" {
				tables.Next(b.Further)
			}
		case document.Figure:
			figures.Next(b.Further)
		case document.Note:
			for _, p := range b.Paras {
				full[plain(p.Spans)]++
			}
		}
	}
	last := named[len(named)-1]
	next := tables.Next(true)
	if want := "S" + decrement(next); !strings.Contains(strings.Join(named, "; "), want) || strings.Contains(last, next) {
		t.Errorf("the last further table %s is not named: %s", want, last)
	}
	supplement := slices.IndexFunc(doc.Blocks, func(b document.Block) bool {
		h, ok := b.(document.Heading)
		return ok && h.Text == "Supplement: sensitivity"
	})
	if supplement < 0 || place["further"] < supplement || place["further"] > place["data-used"] {
		t.Errorf("the supplement stands at %d, the further tables at %d, the data used at %d", supplement, place["further"], place["data-used"])
	}
	for _, a := range r.answers {
		for _, s := range words.Sentences(a.Methods) {
			if strings.Count(text, s) == 0 {
				t.Errorf("%s: no sentence on methods %q", a.ID, s)
			}
		}
		for _, c := range a.Cautions {
			if n := full[c.Text]; n != 1 && len(strings.Fields(c.Text)) > 2*opening {
				t.Errorf("%s: the caution %q is printed in full %d times", a.ID, c.Text, n)
			}
		}
	}
	// The paper itself can be read at a sitting: contents, text, and the main
	// tables and figures.
	paper := *doc
	paper.Blocks = doc.Blocks[:supplement]
	for name, o := range papers {
		pages, err := pdf.Layout(&paper, o)
		if err != nil {
			t.Fatal(err)
		}
		if len(pages) > 24 {
			t.Errorf("%s: the main part has %d pages", name, len(pages))
		}
	}
}

// decrement is the number before that of a further table.
func decrement(s string) string {
	n := 0
	for _, d := range strings.TrimPrefix(s, "S") {
		n = 10*n + int(d-'0')
	}
	return words.Fixed(float64(n-1), 0)
}

func TestMainPartOfAnAnswer(t *testing.T) {
	fig := func(id string, told bool) *figure.Figure { return &figure.Figure{ID: id, Told: told} }
	tab := func(id string) document.Table { return document.Table{ID: id, Caption: id} }
	for name, c := range map[string]struct {
		a    answer.Answer
		ask  notebook.Ask
		want string
	}{
		"curve":    {answer.Answer{Figures: []*figure.Figure{fig("a", false), fig("a-2", false)}, Print: []document.Block{tab("a-t"), tab("a-u")}}, notebook.Ask{}, "a a-t"},
		"told":     {answer.Answer{Figures: []*figure.Figure{fig("a", true)}, Print: []document.Block{tab("a-t")}}, notebook.Ask{}, "a"},
		"table":    {answer.Answer{Print: []document.Block{tab("a-t"), tab("a-u")}}, notebook.Ask{}, "a-t"},
		"named":    {answer.Answer{Main: []string{"a-u"}, Figures: []*figure.Figure{fig("a", false)}, Print: []document.Block{tab("a-t"), tab("a-u")}}, notebook.Ask{}, "a-u"},
		"profiles": {answer.Answer{Figures: []*figure.Figure{fig("a", true)}, Print: []document.Block{tab("a-t"), tab("a-predicted")}}, notebook.Ask{Profiles: make([]notebook.Profile, 1)}, "a-predicted"},
		"no table": {answer.Answer{Figures: []*figure.Figure{fig("a", true)}, Print: []document.Block{tab("a-t")}}, notebook.Ask{Profiles: make([]notebook.Profile, 1)}, "a"},
	} {
		c.a.ID, c.ask.ID, c.a.Methods = "a", "a", "It was so. It was done."
		var b behind
		var main []string
		made := answerBlocks(&c.a, &c.ask, 2, 0, nil, "a")
		for _, x := range b.part(&c.a, &c.ask, made) {
			switch x := x.(type) {
			case document.Figure:
				main = append(main, x.Figure.ID)
			case document.Table:
				main = append(main, x.ID)
			}
		}
		if got := strings.Join(main, " "); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		if n := len(c.a.Figures) + len(c.a.Print) - len(main); n > 0 != (len(b.further) > 1) || n > 0 && len(b.further) != n+1 {
			t.Errorf("%s: %d are left, %d blocks behind", name, n, len(b.further))
		}
		if len(b.of) != 1 || b.of[0].methods != c.a.Methods {
			t.Errorf("%s: methods %+v", name, b.of)
		}
	}
}

func TestMethodsAreSaidOnce(t *testing.T) {
	b := behind{of: []worked{{"a", "One was done (p = 0.5). Both were so."}, {"b", "Another was done. Both were so."}, {"c", "Both were so."}, {"d", "Another was done. One was done (p = 0.5)."}}}
	var got []string
	for _, x := range b.methods(map[string]string{"a": "1.1", "b": "1.2", "c": "2.1", "d": "2.2"}, convention.Style{Comma: true}.Text) {
		got = append(got, plain(x.(document.Paragraph).Spans))
	}
	if want := "1.1 One was done (p = 0,5). Both were so.|1.2 Another was done. The rest as under 1.1.|2.1 As under 1.1.|2.2 As under 1.1 and 1.2."; strings.Join(got, "|") != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A caution that was said is not said again but named, with a link; one with
// other numbers, a short one, and the first, stand in full.
func TestCautionsAreSaidOnce(t *testing.T) {
	long := "52 sockets ended for another reason and are followed up to then, as if still in use but out of sight."
	other := strings.Replace(long, "52", "51", 1)
	note := func(texts ...string) document.Note {
		n := document.Note{Kind: "caution"}
		for _, s := range texts {
			n.Paras = append(n.Paras, document.Text(s))
		}
		return n
	}
	blocks := []document.Block{document.Heading{Level: 1, Text: "One", ID: "one"}, document.Heading{Level: 2, Text: "A", ID: "a"}, note(long, "Few."),
		document.Heading{Level: 2, Text: "B", ID: "b"}, note("Few.", long, other), document.Heading{Level: 2, Text: "C", ID: "c"}, document.Note{Kind: "info", Paras: []document.Paragraph{document.Text(long)}}}
	out := once(blocks)
	texts := func(b document.Block) (s []string) {
		for _, p := range b.(document.Note).Paras {
			s = append(s, plain(p.Spans))
		}
		return s
	}
	if got := texts(out[2]); !slices.Equal(got, []string{long, "Few."}) {
		t.Errorf("the first became %q", got)
	}
	want := []string{"Few.", other, "As said in full before: “52 sockets ended for another reason and …” (1.1)."}
	if got := texts(out[4]); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if link := out[4].(document.Note).Paras[2].Spans[2]; link.Link != "#a" {
		t.Errorf("the link leads to %q", link.Link)
	}
	if got := texts(out[6]); !slices.Equal(got, []string{long}) {
		t.Errorf("a note that is no caution became %q", got)
	}
	if got := texts(blocks[4]); len(got) != 3 || got[1] != long {
		t.Errorf("the blocks given were changed: %q", got)
	}
}
