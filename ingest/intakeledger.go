package ingest

import (
	"fmt"
	"slices"
	"strings"
)

// emptyRows sets aside rows of which nothing was made.
func (n *intakeReader) emptyRows() {
	for _, b := range n.blocks {
		for _, row := range b.rows {
			if st := n.rows[[2]int{b.index, row.n}]; len(st.recs)+len(st.merged) > 0 {
				continue
			}
			s := b.views[0].sheetData
			col := b.firstCol(s)
			for _, c := range b.mapped {
				if strings.TrimSpace(row.cell(c).text) != "" {
					col = c
					break
				}
			}
			n.r.onSheet(s, col, row.n, CodeNoRecord, s.headers[col], "", "a person, socket, visit or measurement", RowSetAside, "the row gives no record of any table")
		}
	}
}

// closeLedger counts each row once, and says of records set aside on rows
// that are used that the rest was used.
func (n *intakeReader) closeLedger() {
	if n == nil {
		return
	}
	used := map[[2]int]bool{}
	for key, st := range n.rows {
		sheet := &n.r.log.Sheets[key[0]]
		sheet.Read++
		live := func(rec *record) bool { return !rec.aside }
		if slices.ContainsFunc(st.recs, live) || len(st.recs) == 0 && slices.ContainsFunc(st.merged, live) {
			used[key] = true
			sheet.Used++
		} else {
			sheet.SetAside++
		}
	}
	var out []pending
	seen := map[pending]bool{}
	for _, p := range n.r.problems {
		key := [2]int{p.Sheet, p.Row}
		if _, ours := n.rows[key]; ours && p.Done == RowSetAside && used[key] {
			p.Done = RecordSetAside
			p.Text = strings.TrimSuffix(p.Text, rowAside) + fmt.Sprintf("; this record of %s was set aside, the rest of the row was used.", p.table)
		}
		same := p
		same.table, same.Want = "", ""
		if p.Sheet >= 0 && seen[same] {
			continue
		}
		seen[same] = true
		out = append(out, p)
	}
	n.r.problems = out
	// A row whose records all repeat rows that were set aside has no problem
	// of its own yet.
	named := map[[2]int]bool{}
	for _, p := range out {
		if p.Done == RowSetAside {
			named[[2]int{p.Sheet, p.Row}] = true
		}
	}
	for _, b := range n.blocks {
		for _, row := range b.rows {
			key := [2]int{b.index, row.n}
			if used[key] || named[key] {
				continue
			}
			named[key] = true
			s := b.views[0].sheetData
			at := ""
			for _, rec := range append(slices.Clone(n.rows[key].merged), n.rows[key].recs...) {
				at = placeName(rec.sheet, s, cellName(b.firstCol(rec.sheet), rec.row()))
				break
			}
			n.r.onSheet(s, b.firstCol(s), row.n, CodeReferenceAside, s.headers[b.firstCol(s)], "", "rows of a limb or socket that is used", RowSetAside,
				fmt.Sprintf("all that the row says belongs to a limb or socket that was set aside (%s)", at))
		}
	}
}
