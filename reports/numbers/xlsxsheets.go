package numbers

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"plybook/reports/answer"
)

const textWidth = 60.0

func contentsSheet(run Run, problems []ProblemRow, meta Meta, st styles, tabs []string, inputs, problemTab, self string) *grid {
	g := &grid{}
	title := meta.Title
	if title == "" {
		title = "Numbers"
	}
	g.set(0, 0, title, st.title)
	line := "Full precision; rounding is left to the reader. Data to " + meta.Date + ", plybook " + run.Release + "."
	if meta.Date == "" {
		line = "Full precision; rounding is left to the reader. plybook " + run.Release + "."
	}
	g.set(1, 0, line, st.quiet)
	row := 2
	if meta.Mark != "" {
		g.set(row, 0, meta.Mark, st.bold)
		row++
	}
	row++
	for j, h := range []string{"Answer", "Method", "Question", "Rows", "Events", "Cautions", "State", "Groups or terms", "Cautions by name", "Section"} {
		g.set(row, j, h, st.head)
	}
	g.frozen = row + 1
	for j, w := range []float64{28, 20, textWidth, 9, 9, 9, 14, 40, 40, 9} {
		g.widen(j, w)
	}
	for i, a := range run.Answers {
		row++
		g.link(row, 0, tabs[i], a.ID, st.link)
		g.set(row, 1, a.Method, st.text)
		g.set(row, 2, a.Question, st.wrap)
		g.wrapHeight(row, a.Question, textWidth)
		if i < len(run.Analyses) {
			l := run.Analyses[i]
			for col, text := range []string{l.GroupsOrTerms(), strings.Join(l.Cautions, ", "), l.Section} {
				if text != "" {
					g.set(row, 7+col, text, st.wrap)
				}
			}
			g.wrapHeight(row, l.GroupsOrTerms(), 40)
			g.wrapHeight(row, strings.Join(l.Cautions, ", "), 40)
		}
		if a.Error != nil {
			g.set(row, 6, "not answered", st.bold)
			continue
		}
		set := func(col int, name string, n int) {
			if withheld(a, name) {
				g.set(row, col, "withheld", st.withheld)
			} else {
				g.set(row, col, n, st.count)
			}
		}
		set(3, "rows", a.Rows)
		if a.HasEvents {
			set(4, "events", a.Events)
		}
		g.set(row, 5, len(a.Cautions), st.count)
		g.set(row, 6, "answered", st.text)
	}
	row += 2
	g.link(row, 0, inputs, inputs, st.link)
	g.set(row, 2, "what was read, used and set aside, sheet by sheet", st.text)
	row++
	g.link(row, 0, problemTab, problemTab, st.link)
	g.set(row, 2, fmt.Sprintf("problems found in the log: %d", len(problems)), st.text)
	return g
}

func inputsSheet(run Run, st styles, contents string) *grid {
	g := &grid{frozen: 3}
	g.set(0, 0, "What was read", st.title)
	g.link(1, 0, contents, "Contents", st.link)
	for j, h := range []string{"File", "Sheet", "Rows read", "Used", "Set aside", "Values set aside", "SHA-256"} {
		g.set(2, j, h, st.head)
	}
	for j, w := range []float64{36, 20, 11, 11, 11, 16, 68} {
		g.widen(j, w)
	}
	row := 3
	total := Input{}
	for _, in := range run.Inputs {
		g.set(row, 0, in.File, st.text)
		g.set(row, 1, in.Sheet, st.text)
		for k, n := range []int{in.Read, in.Used, in.SetAside, in.ValuesSetAside} {
			g.set(row, 2+k, n, st.count)
		}
		g.set(row, 6, in.SHA256, st.text)
		total.Read, total.Used = total.Read+in.Read, total.Used+in.Used
		total.SetAside, total.ValuesSetAside = total.SetAside+in.SetAside, total.ValuesSetAside+in.ValuesSetAside
		row++
	}
	if len(run.Inputs) > 0 {
		g.set(row, 0, "Together", st.bold)
		for k, n := range []int{total.Read, total.Used, total.SetAside, total.ValuesSetAside} {
			g.set(row, 2+k, n, st.countBold)
		}
	}
	return g
}

func problemsSheet(problems []ProblemRow, st styles, contents string) *grid {
	g := &grid{frozen: 3}
	g.set(0, 0, "Problems found in the log", st.title)
	g.link(1, 0, contents, "Contents", st.link)
	for j, h := range []string{"File", "Sheet", "Cell", "Column", "Found", "Expected", "What was done", "Remark"} {
		g.set(2, j, h, st.head)
	}
	for j, w := range []float64{28, 16, 8, 18, 24, 34, 16, textWidth} {
		g.widen(j, w)
	}
	for i, p := range problems {
		for j, t := range []string{p.File, p.Sheet, p.Cell, p.Column, p.Found, p.Want, p.Done, p.Text} {
			if t == "" {
				continue
			}
			style := st.text
			if j == 5 || j == 7 {
				style = st.wrap
			}
			g.set(3+i, j, t, style)
		}
		g.wrapHeight(3+i, p.Want, 34)
		g.wrapHeight(3+i, p.Text, textWidth)
	}
	if len(problems) == 0 {
		g.set(3, 0, "None.", st.text)
	}
	return g
}

// answerSheet lays out an answer: its tables under one another, cautions,
// methods and charts right of them. Names of tables are taken as they come.
func answerSheet(a answer.Answer, st styles, contents string, drawn []plotted, names tableNames) *grid {
	g := &grid{frozen: 2}
	title := a.Question
	if title == "" {
		title = a.ID
	}
	g.set(0, 0, title, st.title)
	g.link(1, 0, contents, "Contents", st.link)
	g.set(1, 1, a.Method, st.quiet)
	if a.Error != nil {
		g.set(3, 0, "Not answered: "+a.Error.Text, st.bold)
		place := a.Error.File
		if a.Error.Line > 0 {
			place = fmt.Sprintf("%s, line %d, column %d", a.Error.File, a.Error.Line, a.Error.Column)
		}
		g.set(4, 0, place, st.quiet)
		g.widen(0, 28)
		return g
	}
	row := 2
	if a.Reading != "" {
		for _, line := range breakText(a.Reading, 110) {
			g.set(row, 0, line, st.text)
			row++
		}
	}
	row++
	first := row
	hidden := map[[2]any]bool{}
	for _, h := range a.Hidden {
		hidden[[2]any{fmt.Sprint(h.Table, "\x00", h.Column), h.Row}] = true
	}
	wide := 0
	for _, t := range a.Tables {
		wide = max(wide, len(t.Columns))
		g.set(row, 0, t.Name, st.bold)
		row++
		area := tableArea{row: row, rows: len(t.Rows)}
		for j, c := range t.Columns {
			label := c.Name
			if c.Unit != "" {
				label += " (" + c.Unit + ")"
			}
			style := st.headRight
			if c.Type == answer.TypeText {
				style = st.head
			}
			g.set(row, j, label, style)
			g.widen(j, float64(utf8.RuneCountInString(label))+4)
			area.heads = append(area.heads, label)
		}
		if area.rows > 0 && distinct(area.heads) {
			area.name = names.take(a.ID, t.Name)
			g.tables = append(g.tables, area)
		}
		row++
		if len(t.Rows) == 0 {
			g.set(row, 0, "no rows", st.quiet)
			row++
		}
		for i, r := range t.Rows {
			for j, c := range t.Columns {
				v, _ := plain(c, r[j])
				if v == nil {
					if hidden[[2]any{fmt.Sprint(t.Name, "\x00", c.Name), i}] {
						g.set(row, j, "withheld", st.withheld)
					}
					continue
				}
				g.set(row, j, v, st.of(c, v))
				if s, ok := v.(string); ok {
					g.widen(j, math.Min(float64(utf8.RuneCountInString(s))+2, 44))
				} else {
					g.widen(j, 12)
				}
			}
			row++
		}
		row++
	}
	if len(a.Tables) == 1 {
		g.frozen = first + 2 // the only table's head stays in sight
	}
	row = beside(g, a, st, first, wide+1)
	for _, p := range drawn {
		p.at = [2]int{wide + 1, row}
		g.charts = append(g.charts, p)
		row += chartRows
	}
	return g
}

// beside sets cautions, and how it was done, right of the tables, and returns
// the row below.
func beside(g *grid, a answer.Answer, st styles, row, col int) int {
	put := func(head string, texts []string) {
		if len(texts) == 0 {
			return
		}
		g.set(row, col, head, st.head)
		row++
		for _, t := range texts {
			g.set(row, col, t, st.text)
			row++
		}
		row++
	}
	var cautions []string
	for _, c := range a.Cautions {
		cautions = append(cautions, breakText(c.Text, 96)...)
	}
	put("Cautions", cautions)
	put("Methods", breakText(a.Methods, 96))
	var refs []string
	for _, r := range a.References {
		refs = append(refs, breakText(r, 96)...)
	}
	put("References", refs)
	if len(a.Hidden) > 0 {
		put("Withheld", breakText(fmt.Sprintf("Values withheld: %d. They stand for few people, or such a value could be worked out from them.", len(a.Hidden)), 96))
	}
	if len(cautions)+len(a.Methods)+len(refs) > 0 {
		g.widen(col, 80)
	}
	return row
}

// breakText breaks a text into lines for cells under one another: a wrapped
// cell would stretch the table's rows beside it. Later lines are indented.
func breakText(s string, most int) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(s) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > most {
			out = append(out, line)
			line = "   " + w
			continue
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}
