package pdf

import (
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/structure"
	"plybook/reports/vector"
)

// smallest is the part of its size to which a figure is drawn smaller to fit
// on a page: type of eight points is then seven high.
const smallest = 0.875

// figureRow is one figure, or two narrow ones side by side, each above its
// caption. Figures are drawn at their own size unless they are too wide or
// too tall for the page or a little less lets the page hold more.
func (m *maker) figureRow(list []document.Figure) ([]box, error) {
	type part struct {
		fig     *figure.Figure
		scale   float64
		caption []textLine
		x       float64
		elem    *structure.Element
		below   *structure.Element
	}
	var parts []part
	var anchors []string
	tall, under := 0.0, 0.0
	slot := m.full
	if len(list) == 2 {
		slot = (m.full - 17) / 2
	}
	st := captionStyle
	for i, f := range list {
		if err := vector.Check(f.Figure); err != nil {
			return nil, err
		}
		var caption []textLine
		if strings.TrimSpace(f.Caption) != "" {
			caption = m.p.setText(label("Figure\u00a0"+m.figures.Next(f.Further), f.Caption), st, min(slot, m.measure))
		}
		w, h := f.Figure.Width.Points(), f.Figure.Height.Points()
		room := m.height - 40 - 6 - float64(len(caption))*st.lead
		scale := min(1, slot/w, max(60, room)/h)
		if scale > 0.995 {
			scale = 1
		}
		tall = max(tall, h*scale)
		under = max(under, float64(len(caption))*st.lead)
		elem := m.element(structure.Figure)
		elem.Alt = alternative(f.Figure)
		parts = append(parts, part{f.Figure, scale, caption, float64(i) * (slot + 17), elem, m.element(structure.P)})
		anchors = append(anchors, m.target(f.Figure.ID))
	}
	m.floats++
	beneath := 4.0
	if under > 0 {
		beneath += 5 + under
	}
	// at is the row with its figures drawn at a part of the size that they
	// have.
	at := func(size float64) box {
		b := box{h: tall*size + beneath, gap: 12, part: costBlock, float: m.floats, anchors: anchors}
		b.draw = func(p *pen, x, y float64) {
			for _, part := range parts {
				p.tags.in = part.elem
				p.drawFigure(part.fig, x+part.x, y, part.scale*size)
				p.tags.in = part.below
				for k, l := range part.caption {
					p.drawLine(l, x+part.x, baseline(y+tall*size+5+float64(k)*st.lead, st), st)
				}
			}
		}
		return b
	}
	b := at(1)
	block := m.made + 1 - len(list)
	b.give = tall * (1 - smallest)
	b.smaller = func(part float64) box {
		c := at(1 - part*(1-smallest))
		c.block = block
		return c
	}
	return []box{b}, nil
}

// label is a caption with its number before it.
func label(name, caption string) []document.Span {
	return []document.Span{
		{Text: name + ".", Bold: true},
		{Text: " " + caption},
	}
}
