package notebook

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plybook/reports/document"
)

// outline writes blocks so that a test can show them on a page.
func outline(blocks []document.Block) string {
	var b strings.Builder
	span := func(spans []document.Span) string {
		var out []string
		for _, s := range spans {
			m := ""
			if s.Bold {
				m += "b"
			}
			if s.Italic {
				m += "i"
			}
			if s.Code {
				m += "c"
			}
			if s.Link != "" {
				m += "<" + s.Link + ">"
			}
			if m != "" {
				m += ":"
			}
			out = append(out, fmt.Sprintf("%s%q", m, s.Text))
		}
		return strings.Join(out, " ")
	}
	for _, x := range blocks {
		switch x := x.(type) {
		case document.Heading:
			fmt.Fprintf(&b, "h%d %s #%s\n", x.Level, x.Text, x.ID)
		case document.Paragraph:
			fmt.Fprintf(&b, "p %s\n", span(x.Spans))
		case document.List:
			fmt.Fprintf(&b, "list %v\n", x.Ordered)
			for _, it := range x.Items {
				fmt.Fprintf(&b, "- %s\n", span(it))
			}
		case document.Table:
			for _, c := range x.Columns {
				fmt.Fprintf(&b, "col %s %d\n", c.Head, c.Align)
			}
			for _, r := range x.Rows {
				fmt.Fprintf(&b, "row %q\n", r)
			}
		case document.Code:
			fmt.Fprintf(&b, "code %q\n", x.Text)
		case document.Note:
			fmt.Fprintf(&b, "note %s\n", x.Kind)
			for _, q := range x.Paras {
				fmt.Fprintf(&b, "| %s\n", span(q.Spans))
			}
		default:
			fmt.Fprintf(&b, "%T\n", x)
		}
	}
	return b.String()
}

func TestProse(t *testing.T) {
	for _, c := range []struct{ name, src, want string }{
		{"headings", "# One\n\nTwo\n---\n\n## One\n\n### *Größe* `x`\n\n# !\n",
			"h1 One #s-one\nh2 Two #s-two\nh2 One #s-one-2\nh3 Größe x #s-größe-x\nh1 ! #s-section\n"},
		{"styles", "a *b* **c *d*** `e f`\ng\n",
			`p "a " i:"b" " " b:"c " bi:"d" " " c:"e f" " g"` + "\n"},
		{"escapes", `5 \* 3 &lt; 20 &amp; \&amp; 1 < 2 &copy; "q" &#x2014;` + "\n",
			`p "5 * 3 < 20 & &amp; 1 < 2 © \"q\" —"` + "\n"},
		{"links", "[web](https://example.org/a?b=c&d) <https://example.org> <me@example.org> [see *it*](#one) [r][ref]\n\n# One\n\n[ref]: http://example.org/r\n",
			`p <https://example.org/a?b=c&d>:"web" " " <https://example.org>:"https://example.org" " " <mailto:me@example.org>:"me@example.org" " " ` +
				`<#s-one>:"see " i<#s-one>:"it" " " <http://example.org/r>:"r"` + "\nh1 One #s-one\n"},
		{"lists", "- a\n- b **c**\n  - d\n    - e\n- f\n\n  g\n\n1. x\n2. y\n",
			"list false\n- \"a\"\n- \"b \" b:\"c\"\n- \"– d\"\n- \"– – e\"\n- \"f g\"\nlist true\n- \"x\"\n- \"y\"\n"},
		{"table", "| A | B | C |\n|:--|--:|:-:|\n| 1 | *2* | a\\|b |\n| 3 |\n",
			"col A 0\ncol B 1\ncol C 2\nrow [\"1\" \"2\" \"a|b\"]\nrow [\"3\" \"\" \"\"]\n"},
		{"code", "```text\na\n  b\n```\n\n    c\n", "code \"a\\n  b\"\ncode \"c\"\n"},
		{"breaks", "a  \nb\\\nc\n", "p \"a\"\np \"b\"\np \"c\"\n"},
		{"quotation", "> a *b*\n>\n> - c\n", "note info\n| \"a \" i:\"b\"\n| \"• \" \"c\"\n"},
		{"comments are quiet", "a <!-- b --> c\n\n<!-- d -->\n", "p \"a  c\"\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			nb, err := Parse("lab.md", []byte(head+c.src))
			if err != nil {
				t.Fatal(err)
			}
			var got string
			for _, p := range nb.Parts {
				got += outline(p.(Prose).Blocks)
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
			for i := range nb.Warnings {
				t.Errorf("warning %v", &nb.Warnings[i])
			}
		})
	}
}

// A link may lead to an ask or to prose beyond it, and be defined there.
func TestLinksAcrossAsks(t *testing.T) {
	nb, err := Parse("lab.md", []byte(head+"[a](#longevity) [b](#the-end) [c][r]\n\n```ask\nid: longevity\nmethod: flow\n```\n\n# Longevity\n\n# The end\n\n[r]: https://example.org\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := "p <#longevity>:\"a\" \" \" <#s-the-end>:\"b\" \" \" <https://example.org>:\"c\"\n"
	if got := outline(nb.Parts[0].(Prose).Blocks); got != want {
		t.Errorf("got %s want %s", got, want)
	}
	if got := outline(nb.Parts[2].(Prose).Blocks); got != "h1 Longevity #s-longevity\nh1 The end #s-the-end\n" {
		t.Errorf("got %s", got)
	}
	if len(nb.Warnings) != 0 {
		t.Errorf("%v", nb.Warnings)
	}
}

func TestWarnings(t *testing.T) {
	for _, c := range []struct {
		name, src, code, near string
		parts                 int
	}{
		{"HTML block", "Text\n\n¦<div>\nx\n</div>\n", CodeDropped, "", 1},
		{"HTML in a line", "Größe ¦<b>x\n", CodeDropped, "", 1},
		{"script", "¦<script>alert(1)</script>\n", CodeDropped, "", 0},
		{"picture", "Text\n\n  see ![¦limb](limb.png)\n", CodeDropped, "", 1},
		{"link of another kind", "[¦x](javascript:alert%281%29)\n", CodeDropped, "", 1},
		{"link to a file", "[¦x](../log.xlsx)\n", CodeDropped, "", 1},
		{"link to nothing", "# First fit\n\n[¦x](#first-fits)\n", CodeUnknownID, "first-fit", 1},
		{"misspelt ask", "Text\n\n¦```aks\nid: a\n```\n", CodeNotRun, "ask", 1},
		{"ask in a quotation", "> Text\n>\n> ```¦ask\n> id: a\n> ```\n", CodeNotRun, "", 1},
		{"code never closed", "¦```text\nText\n\n```ask\nid: a\nmethod: flow\n```\n", CodeUnterminated, "", 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			src, want := unmark(t, head+c.src)
			nb, err := Parse("lab.md", []byte(src))
			if err != nil {
				t.Fatal(err)
			}
			if len(nb.Warnings) == 0 {
				t.Fatal("no warning")
			}
			w := nb.Warnings[0]
			if w.Pos.String() != want || w.Code != c.code || w.Nearest != c.near {
				t.Errorf("got %v [%s] %q, want %s [%s] %q", &w, w.Code, w.Nearest, want, c.code, c.near)
			}
			if len(nb.Parts) != c.parts {
				t.Errorf("%d parts, want %d", len(nb.Parts), c.parts)
			}
			for _, p := range nb.Parts {
				if q, ok := p.(Prose); ok {
					if s := outline(q.Blocks); strings.Contains(s, "<div>") || strings.Contains(s, "javascript") || strings.Contains(s, "alert") {
						t.Errorf("kept: %s", s)
					}
				}
			}
		})
	}
}

// An ask shown as an example within a longer fence is not run.
func TestFencesWithin(t *testing.T) {
	nb, err := Parse("lab.md", []byte(head+"````md\n```ask\nid: a\n```\n````\n\n```ask\nid: b\nmethod: flow\n```\n"))
	if err != nil {
		t.Fatal(err)
	}
	if len(nb.Parts) != 2 || len(nb.Asks()) != 1 || nb.Asks()[0].ID != "b" || len(nb.Warnings) != 0 {
		t.Errorf("%+v", nb)
	}
	if got := outline(nb.Parts[0].(Prose).Blocks); got != "code \"```ask\\nid: a\\n```\"\n" {
		t.Error(got)
	}
}

func TestPartsInOrder(t *testing.T) {
	nb, err := Parse("lab.md", []byte(head+"a\n```ask\nid: a\nmethod: flow\n```\nb\n```decision\non: 2026-01-01\nwhat: x\n```\n\n\n```ask\nid: c\nmethod: flow\n```"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range nb.Parts {
		got = append(got, fmt.Sprintf("%T", p))
	}
	want := []string{"notebook.Prose", "*notebook.Ask", "notebook.Prose", "*notebook.Decision", "*notebook.Ask"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}
