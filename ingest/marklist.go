package ingest

import (
	"fmt"
	"strings"
)

// maxListed bounds the list in a marked copy: a sheet holds 65,530 links.
const maxListed = 60_000

// listSheet is the part of the first sheet of a marked copy: the problems,
// worst first, with links to their cells.
func (b *bookPatch) listSheet(file string, ps []Problem, kept []string) []byte {
	var head, link, wrap int
	if b.styles != nil {
		head, link, wrap = b.styles.head, b.styles.link, b.styles.wrap
	}
	var rows, links strings.Builder
	n := 0
	row := func(style, first int, cells ...string) {
		n++
		fmt.Fprintf(&rows, `<row r="%d">`, n)
		for i, text := range cells {
			s := style
			if i == 0 {
				s = first
			}
			if text = clip(text); text != "" {
				fmt.Fprintf(&rows, `<c r="%s" s="%d" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, cellName(i, n), s, escaped(text))
			}
		}
		rows.WriteString("</row>")
	}
	wide := func(style int, text string) { row(style, style, text) }
	wide(head, "Problems found in "+file)
	wide(0, "Problem cells have a comment and a border: orange where a value or a row was set aside, blue where the value was read but should be looked at again.")
	wide(0, "Mend the log and inspect it again. In a mended copy this sheet is not read.")
	for _, k := range kept {
		wide(0, k)
	}
	if len(ps) == 0 {
		wide(head, "No problem was found.")
	} else {
		row(head, head, "cell", "what was done", "problem", "expected", "found", "column", "kind")
	}
	top := n
	for i, p := range ps {
		if i == maxListed {
			wide(head, fmt.Sprintf("%d more are in %s.", len(ps)-i, ProblemsFile))
			break
		}
		at := p.Cell
		if at == "" {
			at = "A1"
		}
		row(wrap, link, p.Tab+"!"+at, p.Done.String(), p.Text, p.Want, p.Found, p.Column, p.Code)
		fmt.Fprintf(&links, `<hyperlink ref="A%d" location="%s" display="%s"/>`, n, escaped(quoteSheet(p.Tab)+"!"+at), escaped(p.Tab+"!"+at))
	}
	var out strings.Builder
	out.WriteString(xmlHead + `<worksheet xmlns="` + b.space + `"><sheetViews><sheetView tabSelected="1" workbookViewId="0">`)
	fmt.Fprintf(&out, `<pane ySplit="%d" topLeftCell="A%d" activePane="bottomLeft" state="frozen"/>`, top, top+1)
	out.WriteString(`</sheetView></sheetViews><cols><col min="1" max="1" width="18" customWidth="1"/><col min="2" max="2" width="16" customWidth="1"/><col min="3" max="3" width="70" customWidth="1"/><col min="4" max="4" width="34" customWidth="1"/><col min="5" max="7" width="20" customWidth="1"/></cols><sheetData>`)
	out.WriteString(rows.String() + "</sheetData>")
	if links.Len() > 0 {
		out.WriteString("<hyperlinks>" + links.String() + "</hyperlinks>")
	}
	out.WriteString(`<pageSetup orientation="landscape"/></worksheet>`)
	return []byte(out.String())
}

// clip keeps a text within what a cell can hold.
func clip(s string) string {
	if r := []rune(s); len(r) > 32000 {
		return string(r[:32000]) + "..."
	}
	return s
}

func quoteSheet(name string) string { return "'" + strings.ReplaceAll(name, "'", "''") + "'" }
