package ingest

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// The colours of the borders: told apart by people who see red and green
// alike. The fills, only on request, are the same hues made pale.
const (
	colourAside = "D55E00"
	colourKept  = "0072B2"
	fillAside   = "F8DCC8"
	fillKept    = "CFE3F1"
)

// markStyles adds formats to a workbook's part of formats: for each format of
// a marked cell the same one with another border.
type markStyles struct {
	data   []byte
	xfs    [][]byte // as written, in order
	border [2]int   // kept, set aside
	fill   [2]int   // -1 where fills stay
	added  []string
	ids    map[[2]int]int
	head   int // formats of the list of problems
	link   int
	wrap   int
	ours   map[int]bool // borders of an earlier marked copy
}

// newMarkStyles is nil where the part is not made as expected; the marks are
// then comments alone.
func newMarkStyles(data []byte, colour bool) *markStyles {
	m := &markStyles{data: data, ids: map[[2]int]int{}, fill: [2]int{-1, -1}, ours: map[int]bool{}}
	p := prefixOf(data)
	var ok bool
	side := func(name, colour string) string {
		return fmt.Sprintf(`<%[1]s%[2]s style="thick"><%[1]scolor rgb="FF%[3]s"/></%[1]s%[2]s>`, p, name, colour)
	}
	border := func(colour string) string {
		return "<" + p + "border>" + side("left", colour) + side("right", colour) + side("top", colour) + side("bottom", colour) + "<" + p + "diagonal/></" + p + "border>"
	}
	elements, ok := childrenOf(m.data, "borders")
	if !ok {
		return nil
	}
	for i, b := range elements {
		for _, c := range []string{colourKept, colourAside} {
			if bytes.Count(b, []byte("FF"+c)) == 4 {
				m.ours[i] = true
			}
		}
	}
	m.border = [2]int{len(elements), len(elements) + 1}
	if m.data, ok = appendTo(m.data, "borders", border(colourKept)+border(colourAside), 2); !ok {
		return nil
	}
	if colour {
		elements, ok = childrenOf(m.data, "fills")
		if !ok {
			return nil
		}
		fill := func(c string) string {
			return fmt.Sprintf(`<%[1]sfill><%[1]spatternFill patternType="solid"><%[1]sfgColor rgb="FF%[2]s"/><%[1]sbgColor indexed="64"/></%[1]spatternFill></%[1]sfill>`, p, c)
		}
		m.fill = [2]int{len(elements), len(elements) + 1}
		if m.data, ok = appendTo(m.data, "fills", fill(fillKept)+fill(fillAside), 2); !ok {
			return nil
		}
	}
	fonts, ok := childrenOf(m.data, "fonts")
	if !ok {
		return nil
	}
	name := ""
	if len(fonts) > 0 { // the workbook's own face
		if t, ok := findTag(fonts[0], 0, "name"); ok {
			if _, after, ok := endOf(fonts[0], t); ok {
				name = string(fonts[0][t.start:after])
			}
		}
	}
	head := fmt.Sprintf(`<%[1]sfont><%[1]sb/><%[1]ssz val="11"/>%[2]s</%[1]sfont>`, p, name)
	link := fmt.Sprintf(`<%[1]sfont><%[1]su/><%[1]ssz val="11"/><%[1]scolor rgb="FF%[3]s"/>%[2]s</%[1]sfont>`, p, name, colourKept)
	if m.data, ok = appendTo(m.data, "fonts", head+link, 2); !ok {
		return nil
	}
	if m.xfs, ok = childrenOf(m.data, "cellXfs"); !ok || len(m.xfs) == 0 {
		return nil
	}
	align := fmt.Sprintf(`<%salignment vertical="top" wrapText="1"/>`, p)
	xf := func(fontID int) int {
		return m.add(fmt.Sprintf(`<%[1]sxf numFmtId="0" fontId="%[2]d" fillId="0" borderId="0" xfId="0" applyFont="1" applyAlignment="1">%[3]s</%[1]sxf>`, p, fontID, align))
	}
	m.head, m.link, m.wrap = xf(len(fonts)), xf(len(fonts)+1), xf(0)
	return m
}

// childrenOf are the elements directly under the first element of a name.
func childrenOf(data []byte, name string) ([][]byte, bool) {
	t, ok := findTag(data, 0, name)
	if !ok {
		return nil, false
	}
	var out [][]byte
	if t.single {
		return out, true
	}
	at := t.end
	for {
		n, ok := nextTag(data, at)
		if !ok {
			return nil, false
		}
		if n.close {
			return out, true
		}
		_, after, ok := endOf(data, n)
		if !ok {
			return nil, false
		}
		out = append(out, data[n.start:after])
		at = after
	}
}

func (m *markStyles) add(xf string) int {
	m.added = append(m.added, xf)
	return len(m.xfs) + len(m.added) - 1
}

// marked is a cell's own format with the border of a mark: kept (0) or set
// aside (1), or with none (-1).
func (m *markStyles) marked(old, which int) int {
	if m == nil {
		return old
	}
	if old < 0 || old >= len(m.xfs) {
		old = 0
	}
	if id, ok := m.ids[[2]int{old, which}]; ok {
		return id
	}
	xf := m.xfs[old]
	t, _ := nextTag(xf, 0)
	tag := append([]byte(nil), xf[:t.end]...)
	if which < 0 {
		tag = withAttr(tag, "borderId", "0")
	} else {
		tag = withAttr(withAttr(tag, "borderId", strconv.Itoa(m.border[which])), "applyBorder", "1")
		if m.fill[which] >= 0 {
			tag = withAttr(withAttr(tag, "fillId", strconv.Itoa(m.fill[which])), "applyFill", "1")
		}
	}
	id := m.add(string(tag) + string(xf[t.end:]))
	m.ids[[2]int{old, which}] = id
	return id
}

// wasMarked says whether a format carries the border of an earlier copy.
func (m *markStyles) wasMarked(style int) bool {
	if m == nil || len(m.ours) == 0 || style < 0 || style >= len(m.xfs) {
		return false
	}
	t, _ := nextTag(m.xfs[style], 0)
	return m.ours[attrNumber(m.xfs[style][:t.end], "borderId", -1)]
}

func (m *markStyles) part() []byte {
	data, _ := appendTo(m.data, "cellXfs", strings.Join(m.added, ""), len(m.added))
	return data
}
