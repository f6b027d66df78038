package ingest

import (
	"bytes"
	"fmt"
	"slices"
	"sort"
	"strconv"
)

// marks of a sheet: row and 0-based column to kept (0) or set aside (1).
type markGrid map[int]map[int]int

// markCells gives the cells of a sheet's part their new formats, and adds the
// cells that are blank and have none. Nothing else in the part changes.
func markCells(data []byte, marks markGrid, styles *markStyles) ([]byte, error) {
	body, ok := findTag(data, 0, "sheetData")
	if !ok || styles == nil {
		return data, nil
	}
	inner, after, ok := endOf(data, body)
	if !ok {
		return nil, fmt.Errorf("%w (a sheet ends early)", ErrTruncated)
	}
	p := prefixOf(data)
	cols := columnStyles(data[:body.start])
	there := map[int]bool{}
	last := 0
	for at := body.end; at < inner; {
		t, ok := nextTag(data, at)
		if !ok || t.start >= inner {
			break
		}
		if !t.close && t.name == "row" {
			last = attrNumber(data[t.start:t.end], "r", last+1)
			there[last] = true
		}
		at = t.end
	}
	var missing []int // rows that the sheet does not have
	for row := range marks {
		if !there[row] {
			missing = append(missing, row)
		}
	}
	sort.Ints(missing)
	var out bytes.Buffer
	out.Grow(len(data) + 64*len(marks))
	out.Write(data[:body.start])
	if body.single {
		out.WriteString("<" + p + "sheetData>")
	} else {
		out.Write(data[body.start:body.end])
	}
	newRow := func(row int) {
		fmt.Fprintf(&out, `<%srow r="%d">`, p, row)
		for _, col := range sortedKeys(marks[row]) {
			fmt.Fprintf(&out, `<%sc r="%s" s="%d"/>`, p, cellName(col, row), styles.marked(cols.of(col), marks[row][col]))
		}
		fmt.Fprintf(&out, `</%srow>`, p)
	}
	at, last := body.end, 0
	for at < inner {
		t, ok := nextTag(data, at)
		if !ok || t.start >= inner {
			break
		}
		if t.close || t.name != "row" {
			out.Write(data[at:t.end])
			at = t.end
			continue
		}
		tag := data[t.start:t.end]
		last = attrNumber(tag, "r", last+1)
		for len(missing) > 0 && missing[0] < last {
			newRow(missing[0])
			missing = missing[1:]
		}
		out.Write(data[at:t.start])
		rowInner, rowAfter, ok := endOf(data, t)
		if !ok {
			return nil, fmt.Errorf("%w (row %d ends early)", ErrTruncated, last)
		}
		if len(marks[last]) == 0 && len(styles.ours) == 0 {
			out.Write(data[t.start:rowAfter])
		} else {
			base := -1
			if on, _ := attrText(tag, "customFormat"); isTrue(on) {
				base = attrNumber(tag, "s", -1)
			}
			if t.single {
				if len(marks[last]) > 0 {
					out.Write(bytes.TrimSuffix(tag, []byte("/>")))
					out.WriteString(">")
					markRow(&out, nil, p, last, base, cols, marks[last], styles)
					out.WriteString("</" + p + "row>")
				} else {
					out.Write(tag)
				}
			} else {
				out.Write(tag)
				markRow(&out, data[t.end:rowInner], p, last, base, cols, marks[last], styles)
				out.Write(data[rowInner:rowAfter])
			}
		}
		at = rowAfter
	}
	for _, row := range missing {
		newRow(row)
	}
	if body.single {
		out.WriteString("</" + p + "sheetData>")
		out.Write(data[after:])
	} else {
		out.Write(data[at:])
	}
	return out.Bytes(), nil
}

// markRow writes the cells of one row.
func markRow(out *bytes.Buffer, data []byte, p string, row, base int, cols columnFormats, marks map[int]int, styles *markStyles) {
	todo := sortedKeys(marks)
	newCell := func(col int) {
		style := base
		if style < 0 {
			style = cols.of(col)
		}
		fmt.Fprintf(out, `<%sc r="%s" s="%d"/>`, p, cellName(col, row), styles.marked(style, marks[col]))
	}
	col, at := -1, 0
	for {
		t, ok := nextTag(data, at)
		if !ok {
			break
		}
		if t.close || t.name != "c" {
			out.Write(data[at:t.end])
			at = t.end
			continue
		}
		tag := data[t.start:t.end]
		col++
		if ref, ok := attrText(tag, "r"); ok {
			if c, _, ok := parseCellName(ref); ok {
				col = c
			}
		}
		for len(todo) > 0 && todo[0] < col {
			newCell(todo[0])
			todo = todo[1:]
		}
		out.Write(data[at:t.start])
		old := attrNumber(tag, "s", 0)
		which, marked := marks[col]
		switch {
		case marked:
			out.Write(withAttr(bytes.Clone(tag), "s", strconv.Itoa(styles.marked(old, which))))
			todo = slices.DeleteFunc(todo, func(c int) bool { return c == col })
		case styles.wasMarked(old):
			out.Write(withAttr(bytes.Clone(tag), "s", strconv.Itoa(styles.marked(old, -1))))
		default:
			out.Write(tag)
		}
		at = t.end
		if !t.single {
			_, after, ok := endOf(data, t)
			if !ok {
				break
			}
			out.Write(data[at:after])
			at = after
		}
	}
	for _, col := range todo {
		newCell(col)
	}
	out.Write(data[at:])
}

func sortedKeys[V any](m map[int]V) []int {
	keys := make([]int, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Ints(keys)
	return keys
}

// columnFormats are the formats that whole columns have.
type columnFormats []struct{ from, to, style int }

func (c columnFormats) of(col int) int {
	for _, r := range c {
		if col+1 >= r.from && col+1 <= r.to {
			return r.style
		}
	}
	return 0
}

func columnStyles(head []byte) columnFormats {
	var out columnFormats
	for at := 0; ; {
		t, ok := findTag(head, at, "col")
		if !ok {
			return out
		}
		tag := head[t.start:t.end]
		if s := attrNumber(tag, "style", 0); s > 0 {
			out = append(out, struct{ from, to, style int }{attrNumber(tag, "min", 0), attrNumber(tag, "max", 0), s})
		}
		at = t.end
	}
}

// beforeNotes are the elements of a sheet that stand before the drawing of
// its comments (ECMA-376 part 1, 18.3.1.99).
var beforeNotes = map[string]bool{"sheetPr": true, "dimension": true, "sheetViews": true, "sheetFormatPr": true, "cols": true, "sheetData": true, "sheetCalcPr": true,
	"sheetProtection": true, "protectedRanges": true, "scenarios": true, "autoFilter": true, "sortState": true, "dataConsolidate": true, "customSheetViews": true,
	"mergeCells": true, "phoneticPr": true, "conditionalFormatting": true, "dataValidations": true, "hyperlinks": true, "printOptions": true, "pageMargins": true,
	"pageSetup": true, "headerFooter": true, "rowBreaks": true, "colBreaks": true, "customProperties": true, "cellWatches": true, "ignoredErrors": true, "smartTags": true, "drawing": true}

// notesDrawing finds the identifier of the drawing of comments, and the place
// where it would stand.
func notesDrawing(data []byte) (id string, place int, err error) {
	root, ok := nextTag(data, 0)
	if !ok || root.single {
		return "", 0, fmt.Errorf("%w (a sheet is empty)", ErrTruncated)
	}
	place = root.end
	for at := root.end; ; {
		t, ok := nextTag(data, at)
		if !ok {
			return "", 0, fmt.Errorf("%w (a sheet ends early)", ErrTruncated)
		}
		if t.close {
			return "", place, nil
		}
		_, after, ok := endOf(data, t)
		if !ok {
			return "", 0, fmt.Errorf("%w (a sheet ends early)", ErrTruncated)
		}
		if t.name == "legacyDrawing" {
			id, _ := attrText(data[t.start:t.end], "id")
			return id, place, nil
		}
		if beforeNotes[t.name] {
			place = after
		}
		at = after
	}
}

// unselect takes a sheet out of the selection, so that the list of problems
// alone is shown and no two sheets are changed at once.
func unselect(data []byte) []byte {
	end, ok := findTag(data, 0, "sheetData")
	if !ok {
		return data
	}
	for at := 0; ; {
		t, ok := findTag(data, at, "sheetView")
		if !ok || t.start > end.start {
			return data
		}
		if on, _ := attrText(data[t.start:t.end], "tabSelected"); isTrue(on) {
			tag := withAttr(bytes.Clone(data[t.start:t.end]), "tabSelected", "0")
			data = splice(data, t.start, t.end, string(tag))
		}
		at = t.end
	}
}
