package batch

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// answerBlocks is one answer in print, under a heading of a level. Its numbers
// stand on a sheet of the workbook.
func answerBlocks(a *answer.Answer, ask *notebook.Ask, level, hideBelow int, also answer.Withheld, sheet string) []document.Block {
	out := []document.Block{document.Heading{Level: level, Text: titleOf(a), ID: blockID(a, ask)}}
	if a.Error != nil {
		return append(out, document.Note{Kind: "error", Title: "Not answered", Paras: []document.Paragraph{
			document.Text(words.Capital(strings.TrimSuffix(a.Error.Text, ".")) + "."),
			document.Styled("small", fmt.Sprintf("%s, line %d, column %d.", filepath.Base(a.Error.File), a.Error.Line, a.Error.Column)),
		}})
	}
	out = append(out, document.Styled("lead", a.Reading))
	if a.Note != "" {
		out = append(out, document.Text(a.Note))
	}
	rows := counted(a, ask, hideBelow, also[a.ID])
	drawn := func(i int) document.Block {
		f := a.Figures[i]
		if f.Empty {
			return document.Styled("quiet", f.Title+". "+f.Description)
		}
		caption := f.Title
		if f.Caption != "" {
			caption += ", " + f.Caption
		}
		if i == 0 && rows != "" {
			caption += "; " + rows
		}
		return document.Figure{Figure: f, Caption: caption + ".", Sheet: sheet}
	}
	later := besideTables(a)
	for i := range a.Figures {
		if !slices.Contains(slices.Collect(maps.Values(later)), i) {
			out = append(out, drawn(i))
		}
	}
	for _, b := range a.Print {
		if t, ok := b.(document.Table); ok {
			if i, ok := later[t.ID]; ok {
				out = append(out, drawn(i))
			}
			t = telling(t)
			if rows != "" {
				t.Caption += "; " + rows
			}
			b = t
		}
		out = append(out, b)
	}
	if len(a.Cautions) > 0 {
		n := document.Note{Kind: "caution", Title: "Read with care"}
		for _, c := range a.Cautions {
			n.Paras = append(n.Paras, document.Text(c.Text))
		}
		out = append(out, n)
	}
	if a.Methods == "" {
		return out
	}
	return append(out, document.Paragraph{Style: "small", Spans: []document.Span{{Text: "Method. ", Bold: true}, {Text: a.Methods}}})
}

// titleOf is what an answer stands under.
func titleOf(a *answer.Answer) string {
	switch {
	case a.Question != "":
		return a.Question
	case a.ID != "":
		return a.ID
	}
	return "A question without an id"
}

// besideTables are the figures that stand before a table further down, by its
// ID: those but the first that bear the same, and not that of the first table.
func besideTables(a *answer.Answer) map[string]int {
	out := map[string]int{}
	first := true
	for _, b := range a.Print {
		t, ok := b.(document.Table)
		if !ok {
			continue
		}
		i := slices.IndexFunc(a.Figures, func(f *figure.Figure) bool { return f.ID == t.ID })
		if i > 0 && !first {
			out[t.ID] = i
		}
		first = false
	}
	return out
}

// hiddenWord is what an answer prints in place of a number withheld.
const hiddenWord = "hidden"

// telling leaves out the columns and rows of a table in which every number
// is withheld, and names them beneath, and the columns that are empty.
func telling(t document.Table) document.Table {
	strong := map[int]bool{}
	for _, r := range t.Strong {
		strong[r] = true
	}
	all := func(n int, cell func(i int) string) bool {
		seen := false
		for i := range n {
			switch cell(i) {
			case hiddenWord:
				seen = true
			case "":
			default:
				return false
			}
		}
		return seen
	}
	at := func(r, c int) string {
		if c < len(t.Rows[r]) {
			return t.Rows[r][c]
		}
		return ""
	}
	var gone []string
	out := t
	out.Columns, out.Rows, out.Strong = nil, nil, nil
	var keep []int
	empty := 0
	for c, col := range t.Columns {
		blank := c > 0 && len(t.Rows) > 0
		for r := range t.Rows {
			blank = blank && at(r, c) == ""
		}
		if blank {
			empty++
			continue
		}
		if c > 0 && all(len(t.Rows), func(r int) string { return at(r, c) }) {
			gone = append(gone, strings.ToLower(col.Head[:min(1, len(col.Head))])+col.Head[min(1, len(col.Head)):])
			continue
		}
		keep = append(keep, c)
		out.Columns = append(out.Columns, col)
	}
	if len(keep) < 2 {
		return t
	}
	for r := range t.Rows {
		if all(len(keep)-1, func(i int) string { return at(r, keep[i+1]) }) && !strong[r] {
			gone = append(gone, strings.ToLower(strings.TrimSpace(at(r, 0))))
			continue
		}
		row := make([]string, len(keep))
		for i, c := range keep {
			row[i] = at(r, c)
		}
		if strong[r] {
			out.Strong = append(out.Strong, len(out.Rows))
		}
		out.Rows = append(out.Rows, row)
	}
	if len(gone)+empty == 0 || len(out.Rows) == 0 {
		return t
	}
	if len(gone) == 0 {
		return out
	}
	out.Notes = append(append([]string(nil), t.Notes...), "Left out, since every number would be hidden: "+strings.Join(gone, "; ")+".")
	return out
}

// counted is what an answer rests on, as its captions say it: a caption is
// read without the text around it. Charts, bars and the flow say it
// themselves.
func counted(a *answer.Answer, ask *notebook.Ask, hideBelow int, also map[int]answer.How) string {
	switch a.Method {
	case "control-chart", "pareto", "flow", "summary":
		return ""
	}
	if a.Rows == 0 {
		return ""
	}
	count := func(n int, one, many string) string {
		return answer.Say(n, hideBelow, also[n], one, many)
	}
	of := countedRows(ask)
	out := count(a.Rows, strings.TrimSuffix(of, "s"), of)
	switch {
	case a.Method == "forming-log":
		out = count(a.Rows, "sheet", "sheets")
	case !strings.HasSuffix(of, "s"):
		out = count(a.Rows, "row", "rows")
	}
	if a.Method == "limb-volume" {
		out = count(a.Rows, "girth", "girths")
	}
	if a.HasEvents {
		out += ", " + count(a.Events, "event", "events")
	}
	return out
}

// blockID is the link target of an answer.
func blockID(a *answer.Answer, ask *notebook.Ask) string {
	if a.ID != "" && (a.Error == nil || a.Error.Code != notebook.CodeDuplicateID) {
		return a.ID
	}
	return fmt.Sprintf("ask-%d", ask.Pos.Line)
}
