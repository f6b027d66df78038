package pdf

import (
	"math"
	"slices"
	"strings"

	"plybook/reports/document"
)

// tableSizes are tried from large to small until the columns fit.
var tableSizes = []float64{9, 8.5, 8, 7.5, 7}

const (
	tableGapMax = 46.0 // between columns
	tableLead   = 1.28 // line height as a multiple of the size
)

// gapFor is the room between columns: the more columns, the less.
func gapFor(columns int) float64 {
	switch {
	case columns <= 6:
		return 13
	case columns <= 9:
		return 10
	}
	return 8
}

// column is what the contents of a column ask for.
type column struct {
	natural float64 // nothing wraps
	usual   float64 // nine cells of ten do not wrap
	easy    float64 // most texts wrap once at most
	least   float64 // only whole words
	fluid   bool    // free text: what is left over is for it
}

// extent is what a column holds, measured at size one.
type extent struct {
	widest, usual  float64 // cells: the widest, and nine of ten
	word           float64 // widest part that should not be broken
	head, headWord float64
}

// measureColumns measures the cells of every column once; widths grow in
// proportion to the size.
func (m *maker) measureColumns(t document.Table) []extent {
	out := make([]extent, len(t.Columns))
	strong := strongRows(t)
	for c, tc := range t.Columns {
		var widths []float64
		for r, row := range t.Rows {
			if c >= len(row) || t.GroupHead(r) {
				continue
			}
			w, word := m.extentOf(row[c], textStyle{size: 1, bold: strong[r]})
			if c == 0 && indentOf(row) > 0 {
				const in = indentStep / 7 // at the smallest size
				w, word = w+in, word+in
			}
			widths = append(widths, w)
			out[c].word = max(out[c].word, word)
		}
		slices.Sort(widths)
		if n := len(widths); n > 0 {
			out[c].widest = widths[n-1]
			out[c].usual = widths[((n-1)*9+9)/10]
		}
		out[c].head, out[c].headWord = m.extentOf(tc.Head, textStyle{size: 1, bold: true})
	}
	return out
}

// extentOf is the width of a cell set without wrapping, and of its widest
// unbreakable part.
func (m *maker) extentOf(text string, st textStyle) (line, part float64) {
	var cur float64
	for _, w := range m.p.words([]document.Span{{Text: strings.TrimSpace(text)}}, st) {
		cur += w.w
		line = max(line, cur)
		part = max(part, w.w)
		cur += w.space.w
		if w.end {
			cur = 0
		}
	}
	return line, part
}

// wants turns what columns hold into widths at a size.
func wants(t document.Table, ext []extent, size, full float64) []column {
	cols := make([]column, len(ext))
	free := 0 // columns of free text
	for _, c := range t.Columns {
		if c.Wide {
			free++
		}
	}
	limit := full * 0.22 // a word longer than this is parted
	for c, e := range ext {
		// A head may take three lines if room is short.
		head := max(e.headWord, e.head/2.4) * size
		widest, usual := e.widest*size, e.usual*size
		var col column
		switch t.Columns[c].Align {
		case document.Left:
			col.least = max(min(e.word*size, limit), min(e.headWord*size, limit))
			col.easy = max(col.least, min(head, limit), min(usual, max(usual*0.55, 72)))
		default: // numbers stay on one line
			col.least = max(min(widest, limit), min(e.headWord*size, limit))
			col.easy = max(col.least, min(head, limit))
			usual = widest
		}
		if t.Columns[c].Wide {
			col.fluid = true
			col.easy = max(col.least, min(widest, full*0.34/float64(max(free, 1))))
		}
		col.usual = max(col.easy, usual, min(e.head*size, 110))
		col.natural = max(col.usual, widest, min(e.head*size, 160))
		// A little more than was measured, so that rounding wraps nothing.
		const slack = 0.2
		col.least += slack
		col.easy += slack
		col.usual += slack
		col.natural += slack
		cols[c] = col
	}
	return cols
}

func strongRows(t document.Table) map[int]bool {
	strong := make(map[int]bool, len(t.Strong))
	for _, r := range t.Strong {
		strong[r] = true
	}
	return strong
}

// share gives each column its width out of the room that is left when the
// gaps are taken off. ok is false if even whole words do not fit.
func share(cols []column, room float64) (w []float64, ok bool) {
	w = make([]float64, len(cols))
	var least, natural float64
	for i, c := range cols {
		w[i] = c.least
		least += c.least
		natural += c.natural
	}
	if least > room+1e-9 {
		return w, false
	}
	if natural <= room {
		for i, c := range cols {
			w[i] = c.natural
		}
		return w, true
	}
	// Small wants are met first: each column in want gets an equal part of
	// what is left, and no more than it wants. Free text comes second.
	extra := room - least
	fill := func(want func(column) float64, take func(column) bool) {
		for extra > 1e-6 {
			n := 0
			for i, c := range cols {
				if take(c) && want(c) > w[i]+1e-9 {
					n++
				}
			}
			if n == 0 {
				return
			}
			part := extra / float64(n)
			for i, c := range cols {
				if take(c) && want(c) > w[i]+1e-9 {
					d := math.Min(part, want(c)-w[i])
					w[i] += d
					extra -= d
				}
			}
		}
	}
	fill(func(c column) float64 { return c.easy }, func(column) bool { return true })
	fill(func(c column) float64 { return c.usual }, func(c column) bool { return !c.fluid })
	fill(func(c column) float64 { return c.natural }, func(c column) bool { return c.fluid })
	fill(func(c column) float64 { return c.natural }, func(column) bool { return true })
	return w, true
}

// layout is a part of a table as it is set: which columns, how wide, at what
// size.
type layout struct {
	index []int
	w     []float64
	gap   float64
	size  float64
}

func (l layout) width() float64 {
	w := l.gap * float64(len(l.w)-1)
	for _, v := range l.w {
		w += v
	}
	return w
}

// plan sets a table at the largest size at which its columns fit well, else
// at the smallest at which they fit at all. A table that does not fit even
// then is cut into parts, each with the first column.
func (m *maker) plan(t document.Table) []layout {
	n := len(t.Columns)
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	gap := gapFor(n)
	room := m.full - gap*float64(n-1)
	if t.ByHand && n > 1 { // the first column takes half of the width
		w := []float64{room / 2}
		for range n - 1 {
			w = append(w, room/2/float64(n-1))
		}
		return []layout{{all, w, gap, tableSizes[0]}}
	}
	ext := m.measureColumns(t)
	for _, try := range []struct {
		sizes []float64
		want  func(column) float64
	}{
		{tableSizes, func(c column) float64 { return c.easy }},
		{tableSizes[len(tableSizes)-2:], func(c column) float64 { return c.least }},
	} {
		for _, size := range try.sizes {
			cols := wants(t, ext, size, m.full)
			sum := 0.0
			for _, c := range cols {
				sum += try.want(c)
			}
			if sum > room {
				continue
			}
			if w, ok := share(cols, room); ok {
				return []layout{m.spread(layout{all, w, gap, size})}
			}
		}
	}
	return m.cut(t, ext)
}

// spread opens the gaps of a table that nearly fills the width, so that it
// does; a small table stays small, because far columns are hard to read
// across.
func (m *maker) spread(l layout) layout {
	if len(l.w) < 2 {
		return l
	}
	left := m.full - l.width()
	if left <= 0 || l.width() < 0.55*m.full {
		l.gap += min(max(0, left)/float64(len(l.w)-1), 9)
		return l
	}
	l.gap = min(tableGapMax, l.gap+left/float64(len(l.w)-1))
	return l
}

// cut deals the columns out to parts of about the same number of columns,
// each behind the first column.
func (m *maker) cut(t document.Table, ext []extent) []layout {
	size := tableSizes[len(tableSizes)-2]
	cols := wants(t, ext, size, m.full)
	first := min(cols[0].usual, m.full*0.35)
	gap := gapFor(len(cols))
	deal := func(most int) []layout {
		var parts []layout
		for c := 1; c < len(cols); {
			l := layout{index: []int{0}, w: []float64{first}, gap: gap, size: size}
			left := m.full - first
			for c < len(cols) && len(l.index) <= most {
				want := min(cols[c].easy, m.full-first-gap)
				if left < want+gap-1e-9 && len(l.index) > 1 {
					break
				}
				l.index = append(l.index, c)
				l.w = append(l.w, want)
				left -= want + gap
				c++
			}
			parts = append(parts, l)
		}
		return parts
	}
	if len(cols) < 2 {
		return []layout{{index: []int{0}, w: []float64{m.full}, size: size}}
	}
	parts := deal(len(cols))
	if even := deal((len(cols) - 2 + len(parts)) / len(parts)); len(even) == len(parts) {
		parts = even
	}
	for i := range parts {
		parts[i] = m.spread(parts[i])
	}
	return parts
}
