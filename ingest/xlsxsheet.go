package ingest

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// The bounds of a sheet. maxCells bounds what is kept of one: the cells up to
// the last filled one of each filled row.
const (
	maxRows    = 1 << 20
	maxColumns = 1 << 14
	maxCells   = 64 << 20
)

// sheetReader streams the part of one sheet into rows. It reads what the
// values alone do not tell as it goes: formats, hidden and struck-through
// rows, merged ranges, filters.
type sheetReader struct {
	x     *xmlStream
	book  *bookParts
	s     *rawSheet
	texts *textStore

	cells []packed // of the row being read
	used  int      // up to the last filled cell
	total int
	row   rawRow
	slab  []rowCells // to give out

	col    int
	kind   cellKind
	shared bool
	style  int
	value  []byte
}

func (b *bookParts) readSheet(ctx context.Context, info sheetPart, s *rawSheet) error {
	part, err := b.stream(info.part)
	if err != nil {
		return err
	}
	defer part.close()
	r := &sheetReader{x: newXMLStream(part), book: b, s: s, texts: b.texts}
	if err := r.read(ctx); err != nil {
		return err
	}
	if err := b.sheetNotes(info, s); err != nil {
		return err
	}
	s.markFiltered()
	return fillMerged(s)
}

func (r *sheetReader) read(ctx context.Context) error {
	var filter merged
	var filterOK, filterMode bool
	for {
		kind, err := r.x.next()
		if err != nil {
			return err
		}
		switch kind {
		case xmlEOF:
			return errCutShort
		case xmlEnd:
			if string(r.x.name) != "worksheet" {
				continue
			}
			if filterMode && len(r.s.filters) == 0 { // filtered by a range of conditions that stands elsewhere
				r.s.filters = append(r.s.filters, merged{0, 0, maxColumns, maxRows})
			}
			return nil
		case xmlStart:
			switch string(r.x.name) {
			case "sheetData":
				if err := r.rows(ctx); err != nil {
					return err
				}
			case "col":
				r.s.hiddenCols = append(r.s.hiddenCols, r.hiddenColumns()...)
			case "mergeCell":
				if m, ok := parseMerge(r.attrOf("ref")); ok {
					r.s.merges = append(r.s.merges, m)
				}
			case "sheetPr":
				filterMode = isTrue(r.attrOf("filterMode"))
			case "autoFilter":
				filter, filterOK = parseMerge(r.attrOf("ref"))
			case "filterColumn":
				if filterOK {
					r.s.filters, filterOK = append(r.s.filters, filter), false
				}
			}
		}
	}
}

// attrOf is the value of one attribute of the tag just read.
func (r *sheetReader) attrOf(name string) string {
	for n, v, ok := r.x.attr(); ok; n, v, ok = r.x.attr() {
		if string(n) == name {
			return string(v)
		}
	}
	return ""
}

func isTrue(v string) bool {
	return v == "1" || strings.EqualFold(v, "true") || strings.EqualFold(v, "on")
}

// rows reads all rows of the sheet.
func (r *sheetReader) rows(ctx context.Context) error {
	last, sorted := 0, true
	for count := 1; ; count++ {
		if count%1000 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		kind, err := r.x.next()
		switch {
		case err != nil:
			return err
		case kind == xmlEOF:
			return errCutShort
		case kind == xmlEnd && string(r.x.name) == "sheetData":
			if !sorted {
				return r.inOrder()
			}
			return nil
		case kind != xmlStart || string(r.x.name) != "row":
			continue
		}
		r.row = rawRow{n: last + 1}
		for n, v, ok := r.x.attr(); ok; n, v, ok = r.x.attr() {
			switch string(n) {
			case "r":
				if k, err := strconv.Atoi(string(v)); err == nil && k > 0 {
					r.row.n = k
				}
			case "hidden":
				r.row.hidden = isTrue(string(v))
			}
		}
		if r.row.n > maxRows {
			return fmt.Errorf("%w (row %d lies outside the sheet)", ErrTruncated, r.row.n)
		}
		sorted = sorted && r.row.n > last
		last = r.row.n
		if err := r.readRow(); err != nil {
			return err
		}
	}
}

// inOrder sorts rows that are not written from the top down. A row written
// twice is a workbook that programs would read differently.
func (r *sheetReader) inOrder() error {
	slices.SortStableFunc(r.s.rows, func(a, b rawRow) int { return a.n - b.n })
	for i, row := range r.s.rows {
		if i > 0 && r.s.rows[i-1].n == row.n {
			return fmt.Errorf("%w (row %d stands in it twice)", ErrTruncated, row.n)
		}
	}
	return nil
}

// readRow reads the cells of a row and keeps it if one is filled: a workbook
// may hold a million rows with a format and nothing else.
func (r *sheetReader) readRow() error {
	r.cells, r.used, r.col = r.cells[:0], 0, -1
	struck, filled := len(r.s.struck), 0
	for {
		kind, err := r.x.next()
		if err != nil {
			return err
		}
		if kind == xmlEOF {
			return errCutShort
		}
		if kind == xmlEnd && string(r.x.name) == "row" {
			break
		}
		if kind != xmlStart || string(r.x.name) != "c" {
			continue
		}
		if r.x.closing { // a format and nothing else
			r.passCell()
			continue
		}
		if err := r.startCell(); err != nil {
			return err
		}
		p, line, err := r.readCell()
		if err != nil {
			return err
		}
		if p == 0 {
			continue
		}
		for len(r.cells) <= r.col {
			r.cells = append(r.cells, 0)
		}
		r.cells[r.col] = p
		if p.kind() == cellNoValue || strings.TrimSpace(r.texts.text(p)) != "" {
			r.used = max(r.used, r.col+1)
			filled++
			if line || r.book.isStruck(r.style) {
				r.s.struck = append(r.s.struck, struckCell{r.row.n, r.col})
			}
		}
	}
	if r.used == 0 {
		return nil
	}
	if r.total += r.used; r.total > maxCells {
		return fmt.Errorf("%w (more than %d cells)", ErrTooLarge, maxCells)
	}
	if n := len(r.s.struck) - struck; n > 0 && n == filled {
		r.s.struck = append(r.s.struck[:struck], struckCell{r.row.n, -1})
	}
	if len(r.slab) == 0 {
		r.slab = make([]rowCells, 64)
	}
	r.row.own, r.slab = &r.slab[0], r.slab[1:]
	r.row.own.packed, r.row.own.texts = slices.Clone(r.cells[:r.used]), r.texts
	r.s.rows = append(r.s.rows, r.row)
	return nil
}

// hiddenColumns are the columns that the tag just read hides.
func (r *sheetReader) hiddenColumns() []int {
	lo, hi, hidden := 0, -1, false
	for n, v, ok := r.x.attr(); ok; n, v, ok = r.x.attr() {
		switch string(n) {
		case "min":
			lo, _ = strconv.Atoi(string(v))
		case "max":
			hi, _ = strconv.Atoi(string(v))
		case "hidden":
			hidden = isTrue(string(v))
		}
	}
	if !hidden || lo < 1 || hi-lo > 200 { // the empty rest of a sheet is often hidden whole
		return nil
	}
	var out []int
	for c := lo; c <= hi; c++ {
		out = append(out, c-1)
	}
	return out
}

func parseMerge(ref string) (merged, bool) {
	a, b, ok := strings.Cut(strings.ReplaceAll(ref, "$", ""), ":")
	if !ok {
		return merged{}, false
	}
	c1, r1, ok1 := parseCellName(a)
	c2, r2, ok2 := parseCellName(b)
	return merged{c1, r1, c2, r2}, ok1 && ok2 && r2 >= r1 && c2 >= c1 && r2-r1 < maxRows
}
