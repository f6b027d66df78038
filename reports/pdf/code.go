package pdf

import (
	"strings"

	"plybook/reports/document"
	"plybook/reports/structure"
	"plybook/reports/typeface"
)

// code is preformatted: its lines are kept, longer ones go on in the next
// line behind a mark.
func (m *maker) code(b document.Code) []box {
	st := codeStyle
	const pad = 8.0
	char := m.p.width(typeface.Mono, st.size, "0")
	room := max(1, int((m.full-2*pad)/char))
	var rows []string
	for _, l := range strings.Split(strings.TrimRight(strings.ReplaceAll(b.Text, "\t", "    "), "\r\n "), "\n") {
		runes := []rune(m.p.m.Fit(typeface.Mono, strings.TrimRight(l, "\r ")))
		for first := true; ; first = false {
			lead, n := "", room
			if !first {
				lead, n = "  › ", room-4
			}
			n = max(1, n)
			if len(runes) <= n {
				rows = append(rows, lead+string(runes))
				break
			}
			// Break behind a space near the end, if there is one.
			for k := n; k > n-24 && k > 1; k-- {
				if runes[k-1] == ' ' {
					n = k
					break
				}
			}
			rows = append(rows, lead+string(runes[:n]))
			runes = runes[n:]
		}
	}
	elem := m.element(structure.P)
	out := make([]box, len(rows))
	for i, text := range rows {
		top, bottom := 0.0, 0.0
		if i == 0 {
			top = 5
		}
		if i == len(rows)-1 {
			bottom = 5
		}
		h := st.lead + top + bottom
		out[i] = box{h: h, keep: i < len(rows)-1 && (i == 0 || i == len(rows)-2), draw: func(p *pen, x, y float64) {
			p.rect(x, y, m.full, h+0.2, panel)
			p.tags.in = elem
			p.text(x+pad, baseline(y+top, st), typeface.Mono, st.size, st.colour, text)
		}}
	}
	out[0].gap = 8
	return out
}
