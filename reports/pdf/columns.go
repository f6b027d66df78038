package pdf

import (
	"math"
	"strings"
	"unicode"

	"plybook/reports/document"
	"plybook/reports/typeface"
)

// tableSizes are tried from large to small until the columns fit.
var tableSizes = []float64{9, 8.5, 8, 7.5, 7}

const (
	tableGap    = 13.0 // between columns
	tableGapMax = 30.0
	tableLead   = 1.28 // line height as a multiple of the size
)

// column is what the contents of a column ask for, in points.
type column struct {
	natural float64 // nothing wraps
	easy    float64 // short texts wrap once or twice
	least   float64 // only whole words
	fluid   bool    // free text: takes room before others do
}

// measureColumns asks every column of a table what room it wants at a size.
func (m *maker) measureColumns(t document.Table, size, full float64) []column {
	cols := make([]column, len(t.Columns))
	strong := strongRows(t)
	for c, tc := range t.Columns {
		var cells, words float64 // widest cell, widest word
		for r, row := range t.Rows {
			if c >= len(row) {
				continue
			}
			font := typeface.Pick(strong[r], false, false)
			for _, part := range strings.Split(row[c], "\n") {
				part = m.p.m.Fit(font, strings.TrimSpace(part))
				cells = max(cells, m.p.width(font, size, part))
				for _, w := range strings.FieldsFunc(part, func(r rune) bool { return r == ' ' }) {
					words = max(words, m.p.width(font, size, w))
				}
			}
		}
		head := m.p.m.Fit(typeface.Bold, tc.Head)
		headW := m.p.width(typeface.Bold, size, head)
		var headWord float64
		for _, w := range strings.FieldsFunc(head, unicode.IsSpace) {
			headWord = max(headWord, m.p.width(typeface.Bold, size, w))
		}
		// A head may take three lines, so it asks for no more than that.
		headW = max(headWord, min(headW, max(cells, headW/2.2)))

		col := column{natural: max(cells, headW), fluid: tc.Wide}
		limit := full * 0.24 // a word longer than this is parted
		switch {
		case tc.Wide:
			col.least = max(min(words, limit), min(cells, 60), min(headWord, limit))
			col.easy = max(col.least, min(cells, 120))
		case tc.Align == document.Left:
			col.least = max(min(words, limit), min(headWord, limit))
			col.easy = max(col.least, min(cells, max(cells/2, 70)))
		default: // numbers stay on one line
			col.least = max(min(cells, limit), min(headWord, limit))
			col.easy = col.least
		}
		col.natural = max(col.natural, col.least)
		// A little more than was measured, so that rounding wraps nothing.
		const slack = 0.2
		col.natural += slack
		col.easy += slack
		col.least += slack
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
	fill(func(c column) float64 { return c.natural }, func(c column) bool { return !c.fluid })
	fill(func(c column) float64 { return c.natural }, func(c column) bool { return c.fluid })
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
	room := m.full - tableGap*float64(n-1)
	for _, pick := range []func(column) float64{
		func(c column) float64 { return c.easy },
		func(c column) float64 { return c.least },
	} {
		for _, size := range tableSizes {
			cols := m.measureColumns(t, size, m.full)
			sum := 0.0
			for _, c := range cols {
				sum += pick(c)
			}
			if sum > room {
				continue
			}
			w, ok := share(cols, room)
			if !ok {
				continue
			}
			return []layout{m.spread(layout{all, w, tableGap, size})}
		}
	}
	return m.cut(t)
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

func (m *maker) cut(t document.Table) []layout {
	size := tableSizes[len(tableSizes)-2]
	cols := m.measureColumns(t, size, m.full)
	first := min(cols[0].easy, m.full*0.35)
	var parts []layout
	for c := 1; c < len(cols); {
		l := layout{index: []int{0}, w: []float64{first}, gap: tableGap, size: size}
		left := m.full - first
		for c < len(cols) {
			want := min(cols[c].easy, m.full-first-tableGap)
			if left < want+tableGap && len(l.index) > 1 {
				break
			}
			l.index = append(l.index, c)
			l.w = append(l.w, want)
			left -= want + tableGap
			c++
		}
		parts = append(parts, l)
	}
	if len(parts) == 0 {
		parts = []layout{{index: []int{0}, w: []float64{m.full}, size: size}}
	}
	return parts
}
