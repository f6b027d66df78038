package html

import (
	"image/color"
	"maps"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/vector"
)

func (p *page) figure(b document.Figure) error {
	if err := vector.Check(b.Figure); err != nil {
		return err
	}
	id := p.id(b.Figure.ID, "figure")
	for _, part := range []string{"-title", "-desc", "-numbers"} {
		p.taken[id+part] = true
	}
	class := ""
	if b.Figure.Width <= figure.HalfWidth+0.5 {
		class = ` class="half"`
	}
	named := strings.TrimSpace(b.Caption) != ""
	label := "Figure"
	if named {
		label += " " + p.figures.Next(b.Further)
	}
	// On a narrow screen the drawing scrolls, and the keyboard must reach it.
	p.put("<figure", class, ` id="`, id, "\">\n", `<div class="paper" tabindex="0" role="group" aria-label="`, label, `">`)
	if err := vector.SVG(&p.b, b.Figure, vector.SVGOptions{Inline: true, Prefix: id, Colours: p.colours}); err != nil {
		return err
	}
	p.put("</div>\n")
	if named {
		p.put("<figcaption><strong>", label, ".</strong> ", text(b.Caption), "</figcaption>\n")
	}
	if long := join("\n", b.Figure.Description, b.Figure.Long); long != "" {
		p.put("<details><summary>The figure in words</summary>\n")
		for _, para := range strings.Split(long, "\n") {
			if strings.TrimSpace(para) != "" {
				p.put("<p>", text(para), "</p>\n")
			}
		}
		p.put("</details>\n")
	}
	p.values(b, id, label)
	p.put("</figure>\n")
	return nil
}

// dark is the style of figures on a screen whose reader wants a dark ground:
// each colour gives way to the one chosen for it. Print stays on white.
func (p *page) dark() string {
	if len(p.colours) == 0 {
		return ""
	}
	used := slices.SortedFunc(maps.Keys(p.colours), func(a, b color.NRGBA) int { return strings.Compare(vector.Hex(a), vector.Hex(b)) })
	var b strings.Builder
	b.WriteString("@media screen and (prefers-color-scheme:dark){.paper{background:" + vector.Hex(figure.DarkGround) + "}\n")
	for _, c := range used {
		was, now := vector.Hex(c), vector.Hex(figure.Dark(c))
		b.WriteString(`.paper [fill="` + was + `"]{fill:` + now + `}.paper [stroke="` + was + `"]{stroke:` + now + "}\n")
	}
	b.WriteString("}\n")
	return b.String()
}

// values writes what a figure shows as a table folded away, each row with its
// place in the drawing, from which the script names it under the pointer. A
// line leads there, and to the numbers at full precision.
func (p *page) values(b document.Figure, id, label string) {
	f := b.Figure
	book := ""
	if p.book != "" && b.Sheet != "" {
		book = `at full precision in <a href="` + text(p.book) + `">` + text(p.book) + "</a>, sheet " + text(b.Sheet)
	}
	if len(f.Values) == 0 {
		if book != "" {
			p.put(`<p class="to">The numbers: `, book, ".</p>\n")
		}
		return
	}
	p.put(`<p class="to">The numbers: <a href="#`, id, `-numbers">as a table beneath</a>`)
	if book != "" {
		p.put("; ", book)
	}
	p.put(".</p>\n")
	series := slices.ContainsFunc(f.Values, func(v figure.Value) bool { return v.Series != "" })
	place := slices.ContainsFunc(f.Values, func(v figure.Value) bool { return v.Where != "" })
	of := "Numbers of " + strings.ToLower(label)
	p.put(`<details class="numbers" id="`, id, `-numbers"><summary>`, of, "</summary>\n",
		`<div class="table" id="`, p.id(id+"-values", "values"), `"><div class="scroll" tabindex="0" role="region" aria-label="`, of, "\">\n",
		"<table data-sort>\n<caption><strong>", of, ".</strong></caption>\n<thead><tr>")
	head := func(s, otherwise string) {
		if s == "" {
			s = otherwise
		}
		p.put(`<th scope="col">`, text(s), "</th>")
	}
	if series {
		head(f.ValueHeads[0], "Series")
	}
	if place {
		head(f.ValueHeads[1], "Place")
	}
	head(f.ValueHeads[2], "Value")
	p.put("</tr></thead>\n<tbody>\n")
	for _, v := range f.Values {
		cells := []string{v.Series, v.Where, v.Text}
		if !place {
			cells = slices.Delete(cells, 1, 2)
		}
		if !series {
			cells = cells[1:]
		}
		p.put(`<tr data-at="`, points(v.At.X), " ", points(f.Height-v.At.Y), `">`)
		for i, c := range cells {
			if i == 0 && len(cells) > 1 && c != "" {
				p.put(`<th scope="row">`, text(c), "</th>")
			} else {
				p.put("<td>", text(c), "</td>")
			}
		}
		p.put("</tr>\n")
	}
	p.put("</tbody>\n</table></div>\n</div>\n</details>\n")
}

// points writes a length as the drawing counts, to a tenth.
func points(l vg.Length) string { return strconv.FormatFloat(l.Points(), 'f', 1, 64) }
