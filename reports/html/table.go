package html

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"plybook/reports/document"
)

// table writes a table whose first column heads its rows. A wide one scrolls
// in its own box, which the keyboard can reach.
func (p *page) table(t document.Table) error {
	if len(t.Columns) == 0 {
		return fmt.Errorf("table %q has no columns", t.ID)
	}
	id := p.id(t.ID, "table")
	named := strings.TrimSpace(t.Caption) != ""
	p.put(`<div class="table" id="`, id, `"><div class="scroll" tabindex="0" role="region" aria-label="`)
	caption := ""
	if named {
		label := "Table " + p.tables.Next(t.Further)
		caption = "<caption><strong>" + label + ".</strong> " + text(t.Caption) + "</caption>\n"
		p.put(label)
	} else {
		p.put("Table")
	}
	sort := ""
	if sortable(t) {
		sort = " data-sort"
	}
	p.put("\">\n<table", sort, ">\n", caption, "<thead><tr>")
	for _, c := range t.Columns {
		if strings.TrimSpace(c.Head) == "" { // an empty cell heads nothing
			p.put("<td", classOf(c), "></td>")
			continue
		}
		p.put(`<th scope="col"`, classOf(c), ">", lines(c.Head), "</th>")
	}
	p.put("</tr></thead>\n<tbody>\n")
	strong := make(map[int]bool, len(t.Strong))
	for _, r := range t.Strong {
		strong[r] = true
	}
	for r, row := range t.Rows {
		if len(row) > len(t.Columns) {
			return fmt.Errorf("table %q: row %d has %d cells for %d columns", t.ID, r+1, len(row), len(t.Columns))
		}
		if t.GroupHead(r) {
			p.put(`<tr class="strong"><th scope="colgroup" colspan="`, strconv.Itoa(len(t.Columns)), `">`, lines(row[0]), "</th></tr>\n")
			continue
		}
		if strong[r] {
			p.put(`<tr class="strong">`)
		} else {
			p.put("<tr>")
		}
		for c, col := range t.Columns {
			cell := ""
			if c < len(row) {
				cell = row[c]
			}
			// An empty cell heads nothing.
			if c == 0 && strings.TrimSpace(cell) != "" {
				var more []string
				if strings.HasPrefix(cell, " ") {
					more = append(more, "in") // it belongs to the row above that heads it
				}
				p.put(`<th scope="row"`, classOf(col, more...), ">")
				p.cell(t, r, c, strings.TrimSpace(cell))
				p.put("</th>")
			} else {
				p.put("<td", classOf(col), ">")
				p.cell(t, r, c, cell)
				p.put("</td>")
			}
		}
		p.put("</tr>\n")
	}
	if len(t.Rows) == 0 {
		p.put(`<tr><td colspan="`, strconv.Itoa(len(t.Columns)), "\"><em>No rows.</em></td></tr>\n")
	}
	p.put("</tbody>\n</table></div>\n")
	if len(t.Notes) > 0 {
		p.put("<div class=\"notes\">\n")
		for _, n := range t.Notes {
			p.put("<p>", text(n), "</p>\n")
		}
		p.put("</div>\n")
	}
	p.put("</div>\n")
	return nil
}

// sortable says whether the rows of a table may stand in any order: none heads
// or belongs to another, and totals stand at the end.
func sortable(t document.Table) bool {
	rows := len(t.Rows)
	for rows > 0 && slices.Contains(t.Strong, rows-1) && !t.GroupHead(rows-1) {
		rows--
	}
	for r := range rows {
		if slices.Contains(t.Strong, r) || len(t.Rows[r]) == 0 || strings.HasPrefix(t.Rows[r][0], " ") || strings.TrimSpace(t.Rows[r][0]) == "" {
			return false
		}
	}
	return rows > 2
}

// cell writes what a cell holds, with its links if it has any.
func (p *page) cell(t document.Table, row, col int, plain string) {
	if spans, ok := t.Spans[[2]int{row, col}]; ok {
		p.spans(spans)
		return
	}
	p.put(lines(plain))
}

func classOf(c document.TableColumn, class ...string) string {
	switch c.Align {
	case document.Right:
		class = append(class, "r")
	case document.Center:
		class = append(class, "c")
	}
	if c.Wide {
		class = append(class, "w")
	}
	if len(class) == 0 {
		return ""
	}
	return ` class="` + strings.Join(class, " ") + `"`
}

func lines(s string) string { return strings.ReplaceAll(text(s), "\n", "<br>") }
