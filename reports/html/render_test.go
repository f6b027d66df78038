package html

import (
	"bytes"
	"io"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/internal/specimen"
)

func render(t testing.TB, doc *document.Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := Render(&b, doc, Options{}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// element is an element of the page with its attributes.
type element struct {
	*html.Node
	attr map[string]string
}

// parse returns every element in order, and checks that ids are unique, that
// links inside the page lead somewhere and that what names an element by id
// exists.
func parse(t *testing.T, s string) []element {
	t.Helper()
	root, err := html.Parse(strings.NewReader(s))
	if err != nil {
		t.Fatal(err)
	}
	var all []element
	ids := map[string]bool{}
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode {
			e := element{n, map[string]string{}}
			for _, a := range n.Attr {
				e.attr[a.Key] = a.Val
			}
			if id, ok := e.attr["id"]; ok {
				if id == "" || ids[id] {
					t.Errorf("the id %q is empty or used twice", id)
				}
				ids[id] = true
			}
			all = append(all, e)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	for _, e := range all {
		if href, ok := strings.CutPrefix(e.attr["href"], "#"); ok && !ids[href] {
			t.Errorf("a link leads to %q, which is not there", href)
		}
		for _, id := range strings.Fields(e.attr["aria-labelledby"]) {
			if !ids[id] {
				t.Errorf("<%s> is named by %q, which is not there", e.Data, id)
			}
		}
	}
	return all
}

func content(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	s := ""
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		s += content(c)
	}
	return s
}

func TestStructure(t *testing.T) {
	s := render(t, specimen.Report())
	if s != render(t, specimen.Report()) {
		t.Error("the same document gave other bytes")
	}
	count := map[string]int{}
	level := 0
	for _, e := range parse(t, s) {
		count[e.Data]++
		switch e.Data {
		case "html":
			if e.attr["lang"] != "en-GB" {
				t.Errorf("language %q", e.attr["lang"])
			}
		case "h1", "h2", "h3", "h4":
			next := int(e.Data[1] - '0')
			if next > level+1 {
				t.Errorf("%q is a heading of level %d under one of level %d", content(e.Node), next, level)
			}
			level = next
		case "th":
			if e.attr["scope"] == "" {
				t.Errorf("the head %q has no scope", content(e.Node))
			}
		case "svg":
			if e.attr["role"] != "img" || e.FirstChild.NextSibling.Data != "title" {
				t.Error("a figure has no name")
			}
		case "script":
			if content(e.Node) != script || len(e.attr) > 0 {
				t.Error("the page has a script that is not its own")
			}
		case "link", "iframe", "object", "img":
			t.Errorf("the page has a <%s>", e.Data)
		}
		for k, v := range e.attr {
			if strings.HasPrefix(k, "on") || k == "src" || k == "href" && !strings.HasPrefix(v, "#") && v != "https://example.org/method?a=1&b=2" {
				t.Errorf(`<%s %s=%q> reaches out of the page`, e.Data, k, v)
			}
		}
	}
	for tag, want := range map[string]int{"main": 1, "nav": 1, "h1": 1, "figure": 3, "figcaption": 3, "svg": 3, "details": 3, "table": 5, "caption": 5, "aside": 0, "script": 1, "section": 10, "footer": 1} {
		if count[tag] != want {
			t.Errorf("%d <%s>, want %d", count[tag], tag, want)
		}
	}
	for _, word := range []string{"http://", "url(", "@import"} {
		if i := strings.Index(s, word); i >= 0 {
			t.Errorf("the page may fetch something: %.60q", s[i:])
		}
	}
}

func TestEverythingIsEscaped(t *testing.T) {
	const bad = `"'><script>x</script><img src=x onerror=y>&amp;`
	spans := []document.Span{{Text: bad, Bold: true, Link: "https://x/" + bad}, {Text: bad, Code: true, Link: "#" + bad}}
	fig := &figure.Figure{ID: bad, Title: bad, Description: bad, Long: bad, Width: 10, Height: 10, Draw: func(draw.Canvas) {}}
	doc := &document.Document{Title: bad, Subtitle: bad, Author: bad, Language: bad, Date: bad, Foot: bad, Mark: bad, Cover: []document.Pair{{Label: bad, Text: bad}},
		Blocks: []document.Block{
			document.Heading{Level: 1, Text: bad, ID: bad}, document.Heading{Level: 2, Text: bad, ID: bad},
			document.Paragraph{Spans: spans, Style: bad}, document.List{Items: [][]document.Span{spans}},
			document.Table{ID: bad, Caption: bad, Columns: []document.TableColumn{{Head: bad}, {Head: bad}}, Rows: [][]string{{bad, bad}}, Notes: []string{bad}},
			document.Figure{Figure: fig, Caption: bad}, document.Note{Kind: bad, Title: bad, Paras: []document.Paragraph{{Spans: spans}}}, document.Code{Text: bad},
		}}
	shown := 0
	for _, e := range parse(t, render(t, doc)) {
		if e.Data == "script" && content(e.Node) != script || e.Data == "img" {
			t.Errorf("<%s> got into the page", e.Data)
		}
		for k := range e.attr {
			if strings.HasPrefix(k, "on") {
				t.Errorf("the attribute %s got into <%s>", k, e.Data)
			}
		}
		for c := e.FirstChild; c != nil; c = c.NextSibling {
			if c.Type == html.TextNode && strings.Contains(c.Data, bad) {
				shown++
			}
		}
	}
	// Title twice, subtitle, author, mark, cover 2, headings 2 and contents 2,
	// spans 6, table 6 (its caption, heads, cells and note), figure 5 (title,
	// caption, description twice, long description), note title, code, foot.
	if shown != 31 {
		t.Errorf("the text is shown %d times, want 31", shown)
	}
}

func TestLinks(t *testing.T) {
	p := &page{targets: map[string]bool{"a": true}}
	for in, want := range map[string]string{"#a": "#a", "#b": "", "": "", "https://x?a&b": "https://x?a&amp;b", "HTTP://x": "HTTP://x", "mailto:a@b": "mailto:a@b",
		"javascript:x": "", " javascript:x": "", "data:text/html,x": "", "file:///x": "", "//x": "", "https://": ""} {
		if got := p.link(in); got != want {
			t.Errorf("link(%q) is %q, want %q", in, got, want)
		}
	}
}

func TestOddDocuments(t *testing.T) {
	same := document.Heading{Level: 2, Text: "Same", ID: "main"}
	for name, doc := range map[string]*document.Document{
		"empty":          {},
		"same ids":       {Blocks: []document.Block{same, same, document.Table{ID: "main", Columns: make([]document.TableColumn, 1)}, same}},
		"levels":         {Blocks: []document.Block{document.Heading{Level: 3, Text: "a"}, document.Heading{Level: 9, Text: "b"}, document.Heading{Level: 1, Text: "c"}, document.Heading{Level: 3, Text: "d"}, document.Heading{}}},
		"sections first": {Blocks: []document.Block{document.Heading{Level: 2, Text: "a", ID: "a"}, document.Heading{Level: 2, Text: "b", ID: "b"}, document.Heading{Level: 1, Text: "c", ID: "c"}, document.Heading{Level: 2, Text: "d", ID: "d"}, document.Heading{Level: 1, Text: "e", ID: "e"}}},
		"no ids":         {Blocks: []document.Block{document.Heading{Level: 1, Text: "a"}, document.Heading{Level: 2, Text: "b"}}},
		"nested":         {Blocks: []document.Block{document.KeepTogether{Blocks: []document.Block{document.Heading{Level: 1, Text: "a", ID: "a"}, document.PageBreak{}, document.KeepTogether{}}}, document.Text("x")}},
	} {
		t.Run(name, func(t *testing.T) {
			s := render(t, doc)
			parse(t, s)
			if open, shut := strings.Count(s, "<section"), strings.Count(s, "</section>"); open != shut {
				t.Errorf("%d sections open, %d close", open, shut)
			}
			nested(t, s)
		})
	}
}

func TestPageIsWellNested(t *testing.T) { nested(t, render(t, specimen.Report())) }

// nested checks that every element that opens closes in order; the parser
// alone would mend a page where one does not.
func nested(t *testing.T, s string) {
	t.Helper()
	empty := map[string]bool{"meta": true, "br": true, "!DOCTYPE": true}
	var open []string
	for _, tag := range []string{"style", "script"} {
		s = s[:strings.Index(s, "<"+tag+">")] + s[strings.Index(s, "</"+tag+">")+len(tag)+3:]
	}
	for _, m := range regexp.MustCompile(`<(/?)([!A-Za-z0-9]+)[^>]*?(/?)>`).FindAllStringSubmatch(s, -1) {
		switch {
		case empty[m[2]] || m[3] == "/":
		case m[1] == "":
			open = append(open, m[2])
		case len(open) == 0 || open[len(open)-1] != m[2]:
			t.Fatalf("</%s> closes %v", m[2], open)
		default:
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		t.Errorf("%v stay open", open)
	}
}

func TestErrors(t *testing.T) {
	for want, doc := range map[string]*document.Document{
		"there is no document":               nil,
		`table "x" has no columns`:           {Blocks: []document.Block{document.Table{ID: "x"}}},
		"row 1 has 2 cells for 1 columns":    {Blocks: []document.Block{document.Table{Columns: make([]document.TableColumn, 1), Rows: [][]string{{"", ""}}}}},
		"nothing to draw":                    {Blocks: []document.Block{document.KeepTogether{Blocks: []document.Block{document.Figure{}}}}},
		"a block of a kind that cannot be w": {Blocks: []document.Block{&document.Code{}}},
	} {
		if err := Render(io.Discard, doc, Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v does not say %q", err, want)
		}
	}
}

func TestNoContents(t *testing.T) {
	var b bytes.Buffer
	if err := Render(&b, specimen.Report(), Options{NoContents: true}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "<nav") {
		t.Error("the contents are there")
	}
}

func BenchmarkRender(b *testing.B) {
	doc := specimen.Report()
	for b.Loop() {
		if err := Render(io.Discard, doc, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
