package ingest

import (
	"fmt"
	"slices"
	"strings"
)

// readRows makes records of the rows of a sheet, on all cores: what a row says
// depends on the row and its columns alone. Records and problems stand in the
// order of the rows however the rows were parted.
func (r *reader) readRows(s *sheetData) {
	rows := s.below()
	type made struct {
		recs     []*record
		problems []pending
		units    []bool
	}
	out := make([]made, parts(len(rows)))
	for len(r.stores) < len(out) {
		r.stores = append(r.stores, newValueStore())
	}
	inParts(len(rows), func(part, from, to int) {
		w := r.worker(s, r.stores[part])
		recs := make([]*record, 0, to-from)
		for i := from; i < to; i++ {
			if s.block == nil && blankRow(rows[i]) {
				continue
			}
			recs = append(recs, w.readRow(s, &rows[i]))
		}
		out[part] = made{recs, w.problems, w.unitCells}
	})
	all := r.recs[s.table]
	s.noUnits = slices.Repeat([]bool{true}, len(s.fields))
	for _, m := range out {
		all = append(slices.Grow(all, len(m.recs)), m.recs...)
		r.log.Sheets[s.index].Read += len(m.recs)
		r.problems = append(r.problems, m.problems...)
		for f, named := range m.units {
			s.noUnits[f] = s.noUnits[f] && !named
		}
	}
	r.recs[s.table] = all
}

// worker is a reader for some of the rows of a sheet: it knows what r knows,
// and has problems and values of its own.
func (r *reader) worker(s *sheetData, values *valueStore) *reader {
	return &reader{opts: r.opts, identifying: r.identifying, span: r.span, values: values, memos: make([]*memo, len(s.fields)), unitCells: make([]bool, len(s.fields))}
}

func (r *reader) readRow(s *sheetData, row *rawRow) *record {
	rec := r.newRecord(s, row)
	if s.ragged > 0 && strings.TrimSpace(row.cell(s.ragged).text) != "" {
		r.dropRagged(rec)
		return rec
	}
	if row.lines != nil { // its cells side by side, rather than each sought from the start of the line
		if r.line.own == nil {
			r.line.own = &rowCells{}
		}
		r.line.n, r.line.own.cells = row.n, row.lines.appendCells(r.line.own.cells[:0], int(row.at))
		rec.raw = &r.line
	}
	before := len(r.problems)
	for f := range s.fields {
		if s.cols[f] >= 0 {
			r.parseCell(rec, f)
		}
	}
	r.fillDefaults(rec)
	if !rec.aside {
		r.requireValues(rec)
	}
	rec.raw = row
	if rec.aside {
		r.sayTotals(rec, before)
	}
	return rec
}

// sayTotals says of a row that cannot be used and begins as sums do that it
// is one, in the place of what is wrong with its cells.
func (r *reader) sayTotals(rec *record, before int) {
	for col, c := range rec.raw.all() {
		text := strings.TrimSpace(c.text)
		if text == "" {
			continue
		}
		if word := totalWord(text); word != "" {
			r.problems = r.problems[:before]
			s := rec.sheet
			column := ""
			if col < len(s.headers) {
				column = s.headers[col]
			}
			r.onSheet(s, col, rec.row(), CodeTotals, column, "", "rows of data alone", RowSetAside, fmt.Sprintf("the row begins with %q and sums up others", word))
		}
		return
	}
}

// totalWord is the word with which a text begins as rows of sums do, or
// nothing.
func totalWord(text string) string {
	best := ""
	for _, w := range totalWords {
		if len(text) >= len(w) && strings.EqualFold(text[:len(w)], w) && (len(text) == len(w) || !isWordRune(text[len(w):])) && len(w) > len(best) {
			best = w
		}
	}
	return best
}
