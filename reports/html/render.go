// Package html writes a report as one self-contained page: its style, its
// figures and its one small script are in the file, and nothing is fetched. It
// is the accessible form of the report: headings in order, tables with heads
// and captions, figures with a name, a description, a long description and
// their values. All of it can be read without the script, which sorts tables,
// saves them as CSV and names the values of figures under the pointer.
package html

import (
	"bytes"
	"crypto/sha256"
	_ "embed" // the script of the page
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"image/color"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"plybook/reports/document"
)

// Options set the page. The zero value is the report as it stands.
type Options struct {
	// NoContents leaves out the list of contents, which otherwise stands
	// below the cover if the report has two headings or more.
	NoContents bool
	// Book is the name of the workbook beside the page that holds the numbers
	// at full precision. Empty: there is none.
	Book string
}

// script is the whole script of the page.
//
//go:embed page.js
var script string

// policy lets the page do nothing but show itself and run that very script.
func policy() string {
	sum := sha256.Sum256([]byte(script))
	return "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// Render writes a document as a page. The same document gives the same
// bytes.
func Render(w io.Writer, doc *document.Document, o Options) error {
	if doc == nil {
		return errors.New("writing a report as HTML: there is no document")
	}
	p := &page{book: o.Book, numbers: document.Number(doc.Blocks), taken: map[string]bool{"main": true, "contents": true}, targets: map[string]bool{}, colours: map[color.NRGBA]bool{}}
	document.Walk(doc.Blocks, func(b document.Block) {
		for _, id := range document.Targets(b) {
			if id = slug(id); id != "" {
				p.targets[id] = true
			}
		}
	})
	p.open(doc)
	if !o.NoContents {
		p.contents()
	}
	p.put(`<main id="main">` + "\n")
	if err := p.blocks(doc.Blocks); err != nil {
		return fmt.Errorf("writing a report as HTML: %w", err)
	}
	p.closeSections(1)
	p.put("</main>\n")
	if foot := join(" · ", doc.Foot, doc.Mark); foot != "" {
		p.put("<footer>", text(foot), "</footer>\n")
	}
	p.put("</div>\n<script>", script, "</script>\n</body>\n</html>\n")
	page := p.b.Bytes()
	page = slices.Concat(page[:p.styled], []byte(p.dark()), page[p.styled:])
	if _, err := w.Write(page); err != nil {
		return fmt.Errorf("writing a report as HTML: %w", err)
	}
	return nil
}

type page struct {
	b        bytes.Buffer
	book     string
	numbers  document.Numbering
	taken    map[string]bool // ids given out
	targets  map[string]bool // ids that links may name
	sections []int           // levels of the open sections
	heads    int
	figures  document.Counter
	tables   document.Counter
	turn     bool // a page break is due in print
	styled   int  // where the style of the page ends
	colours  map[color.NRGBA]bool
}

// put writes markup; whatever comes from the document passes text or attr
// first.
func (p *page) put(parts ...string) {
	for _, s := range parts {
		p.b.WriteString(s)
	}
}

// text escapes text for an element or a quoted attribute, and drops what
// HTML may not hold.
func text(s string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r >= 0x7f && r < 0xa0 {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD")))
}

func join(sep string, parts ...string) string {
	var kept []string
	for _, s := range parts {
		if strings.TrimSpace(s) != "" {
			kept = append(kept, s)
		}
	}
	return strings.Join(kept, sep)
}

// slug keeps of an id what is safe in an attribute and in an address.
func slug(id string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), r == '-', r == '_', r == '.':
			return r
		case unicode.IsSpace(r):
			return '-'
		}
		return -1
	}, id)
}

// id gives an id out: the first to ask for a name has it, later ones have it
// with a number, those without a name have one made from the kind.
func (p *page) id(want, kind string) string {
	base := slug(want)
	if base == "" {
		base = kind
	}
	id := base
	for n := 2; p.taken[id]; n++ {
		id = base + "-" + strconv.Itoa(n)
	}
	p.taken[id] = true
	return id
}

// language keeps what a language tag may hold.
func language(tag string) string {
	tag = strings.Map(func(r rune) rune {
		if r == '-' || r < 0x80 && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			return r
		}
		return -1
	}, tag)
	if tag == "" {
		return "en-GB"
	}
	return tag
}

func (p *page) open(doc *document.Document) {
	numbers := ""
	if doc.Comma {
		numbers = ` data-numbers="comma"`
	}
	p.put("<!DOCTYPE html>\n<html lang=\"", language(doc.Language), "\"", numbers, ">\n<head>\n<meta charset=\"utf-8\">\n",
		`<meta name="viewport" content="width=device-width,initial-scale=1">`, "\n",
		`<meta http-equiv="Content-Security-Policy" content="`, policy(), `">`, "\n",
		`<meta name="referrer" content="no-referrer">`, "\n", `<meta name="generator" content="plybook">`, "\n")
	if doc.Author != "" {
		p.put(`<meta name="author" content="`, text(doc.Author), "\">\n")
	}
	if doc.Date != "" {
		p.put(`<meta name="date" content="`, text(doc.Date), "\">\n")
	}
	title := doc.Title
	if strings.TrimSpace(title) == "" {
		title = "Report"
	}
	p.put("<title>", text(title), "</title>\n<style>", style)
	p.styled = p.b.Len()
	p.put("</style>\n</head>\n<body>\n",
		`<a class="skip" href="#main">Skip to the report</a>`, "\n<div class=\"page\">\n<header class=\"cover\">\n")
	if doc.Mark != "" {
		p.put(`<p class="mark">`, text(doc.Mark), "</p>\n")
	}
	p.put("<h1>", text(title), "</h1>\n")
	if doc.Subtitle != "" {
		p.put(`<p class="subtitle">`, text(doc.Subtitle), "</p>\n")
	}
	if doc.Author != "" {
		p.put(`<p class="author">`, text(doc.Author), "</p>\n")
	}
	if len(doc.Cover) > 0 {
		p.put("<dl class=\"facts\">\n")
		for _, c := range doc.Cover {
			p.put("<dt>", text(c.Label), "</dt><dd>", text(c.Text), "</dd>\n")
		}
		p.put("</dl>\n")
	}
	p.put("</header>\n")
}

// contents lists chapters and sections, sections inside their chapter.
func (p *page) contents() {
	var shown []document.Entry
	for _, e := range p.numbers.Entries {
		if e.Level <= 3 {
			shown = append(shown, e)
		}
	}
	if len(shown) < 2 {
		return
	}
	p.put("<nav id=\"contents\" aria-labelledby=\"contents-head\">\n<h2 id=\"contents-head\">Contents</h2>\n")
	p.taken["contents-head"] = true
	p.entries(shown)
	p.put("</nav>\n")
}

// entries is a list of entries, each with those below it inside.
func (p *page) entries(list []document.Entry) {
	p.put("<ol>\n")
	for i := 0; i < len(list); {
		e := list[i]
		j := i + 1
		for j < len(list) && list[j].Level > e.Level {
			j++
		}
		p.put("<li>")
		body := text(e.Text)
		if e.Number != "" {
			body = `<span class="n">` + e.Number + "</span> " + body
		}
		if id := slug(e.ID); id != "" {
			p.put(`<a href="#`, id, `">`, body, "</a>")
		} else {
			p.put(body)
		}
		if j > i+1 {
			p.put("\n")
			p.entries(list[i+1 : j])
		}
		p.put("</li>\n")
		i = j
	}
	p.put("</ol>\n")
}
