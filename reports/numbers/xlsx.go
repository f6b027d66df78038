package numbers

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
	"plybook/reports/answer"
)

// ProblemRow is a line of the sheet of problems.
type ProblemRow struct {
	File, Sheet, Cell, Column string
	Found, Want, Done, Text   string
}

// Problems makes the lines of the sheet of problems, in the order given.
// Name gives the name under which a file is shown; nil shows it as given.
func Problems(ps []ingest.Problem, name func(path string) string) []ProblemRow {
	out := make([]ProblemRow, len(ps))
	for i, p := range ps {
		out[i] = ProblemRow{p.File, p.Tab, p.Cell, p.Column, p.Found, p.Want, p.Done.String(), p.Text}
		if name != nil {
			out[i].File = name(p.File)
		}
	}
	return out
}

// Meta is what the workbook says of itself.
type Meta struct {
	Title  string
	Author string
	Date   string // ISO date of the data cut: the only date the file bears
	Mark   string // "For internal review, not for release" or empty
}

// The limits of a sheet.
const (
	maxRows = 1 << 20
	maxCols = 1 << 14
	maxText = 32767
)

// WriteXLSX writes numbers.xlsx: a sheet of contents with links, a sheet per
// answer with its tables under one another and its cautions beside them, the
// ledger of inputs and the problems found. Numbers and dates are real ones
// at full precision, under a format that shows less. The same run gives the
// same bytes.
func WriteXLSX(w io.Writer, run Run, problems []ProblemRow, meta Meta) error {
	if err := checkAll(run); err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	data, exact, err := workbook(run, problems, meta)
	if err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	if data, err = settleZip(data, exact); err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	if _, err := w.Write(data); err != nil {
		return fmt.Errorf("writing numbers.xlsx: %w", err)
	}
	return nil
}

// workbook makes the file, and the numbers that it holds only to fifteen
// digits: by part of the archive, then by cell, as they should be written.
func workbook(run Run, problems []ProblemRow, meta Meta) (data []byte, exact map[string]map[string]string, err error) {
	f := excelize.NewFile()
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	st, err := newStyles(f)
	if err != nil {
		return nil, nil, err
	}
	exact = map[string]map[string]string{}
	names := newSheetNames()
	contents := names.take("Contents")
	if err := f.SetSheetName("Sheet1", contents); err != nil {
		return nil, nil, err
	}
	tabs := make([]string, len(run.Answers))
	for i, a := range run.Answers {
		tabs[i] = names.take(a.ID)
	}
	inputs, problemTab := names.take("Inputs"), names.take("Problems")
	if err := contentsSheet(run, problems, meta, st, tabs, inputs, problemTab, contents).write(f, contents); err != nil {
		return nil, nil, err
	}
	for i, a := range run.Answers {
		g := answerSheet(a, st, contents)
		if err := g.write(f, tabs[i]); err != nil {
			return nil, nil, fmt.Errorf("answer %s: %w", a.ID, err)
		}
		// Sheets are numbered as they are made, the contents being the first.
		exact[fmt.Sprintf("xl/worksheets/sheet%d.xml", i+2)] = g.exact()
	}
	if err := inputsSheet(run, st, contents).write(f, inputs); err != nil {
		return nil, nil, fmt.Errorf("ledger of inputs: %w", err)
	}
	if err := problemsSheet(problems, st, contents).write(f, problemTab); err != nil {
		return nil, nil, fmt.Errorf("problems: %w", err)
	}
	stamp := "1980-01-01T00:00:00Z"
	if _, err := time.Parse(dateLayout, meta.Date); err == nil {
		stamp = meta.Date + "T00:00:00Z"
	}
	author := meta.Author
	if author == "" {
		author = "plybook"
	}
	if err := f.SetDocProps(&excelize.DocProperties{Title: meta.Title, Creator: author, LastModifiedBy: author, Created: stamp, Modified: stamp, Description: meta.Mark, Language: "en-GB"}); err != nil {
		return nil, nil, err
	}
	f.SetActiveSheet(0)
	var b bytes.Buffer
	if _, err := f.WriteTo(&b); err != nil {
		return nil, nil, err
	}
	return b.Bytes(), exact, nil
}

// grid is a sheet being laid out: cells by row, and widths.
type grid struct {
	rows   [][]excelize.Cell
	tall   map[int]float64 // heights of rows with wrapped text
	widths []float64
	frozen int // rows held at the top
}

func (g *grid) set(row, col int, v any, style int) {
	for len(g.rows) <= row {
		g.rows = append(g.rows, nil)
	}
	for len(g.rows[row]) <= col {
		g.rows[row] = append(g.rows[row], excelize.Cell{})
	}
	if s, ok := v.(string); ok {
		v = cellText(s)
	}
	g.rows[row][col] = excelize.Cell{Value: v, StyleID: style}
}

// link sets a cell that leads to another sheet.
func (g *grid) link(row, col int, sheet, text string, style int) {
	g.set(row, col, text, style)
	quoted := strings.ReplaceAll(strings.ReplaceAll(sheet, "'", "''"), `"`, `""`)
	text = strings.ReplaceAll(shortText(cellText(text), 200), `"`, `""`)
	g.rows[row][col].Formula = fmt.Sprintf(`HYPERLINK("#'%s'!A1","%s")`, quoted, text)
}

func (g *grid) widen(col int, width float64) {
	for len(g.widths) <= col {
		g.widths = append(g.widths, 9)
	}
	g.widths[col] = max(g.widths[col], width)
}

// wrapHeight makes a row high enough for wrapped text in a column so wide.
func (g *grid) wrapHeight(row int, text string, width float64) {
	lines := 0
	for _, part := range strings.Split(text, "\n") {
		lines += max(1, int(math.Ceil(float64(utf8.RuneCountInString(part))*1.08/width)))
	}
	if lines > 1 {
		if g.tall == nil {
			g.tall = map[int]float64{}
		}
		g.tall[row] = max(g.tall[row], math.Min(15*float64(lines), 400))
	}
}

func (g *grid) write(f *excelize.File, name string) error {
	if len(g.rows) > maxRows {
		return fmt.Errorf("%d rows are more than a sheet holds (%d)", len(g.rows), maxRows)
	}
	if len(g.widths) > maxCols {
		return fmt.Errorf("%d columns are more than a sheet holds (%d)", len(g.widths), maxCols)
	}
	if i, err := f.GetSheetIndex(name); err != nil {
		return err
	} else if i < 0 {
		if _, err := f.NewSheet(name); err != nil {
			return err
		}
	}
	s, err := f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	// From the last to the first: they come out in rising order.
	for i := len(g.widths) - 1; i >= 0; i-- {
		if err := s.SetColWidth(i+1, i+1, math.Min(g.widths[i], 80)); err != nil {
			return err
		}
	}
	if g.frozen > 0 {
		if err := s.SetPanes(&excelize.Panes{Freeze: true, YSplit: g.frozen, TopLeftCell: fmt.Sprintf("A%d", g.frozen+1), ActivePane: "bottomLeft"}); err != nil {
			return err
		}
	}
	for i, r := range g.rows {
		if len(r) == 0 {
			continue
		}
		values := make([]any, len(r))
		for j, c := range r {
			if c.Value != nil || c.StyleID != 0 {
				values[j] = c
			}
		}
		var opts []excelize.RowOpts
		if h, ok := g.tall[i]; ok {
			opts = append(opts, excelize.RowOpts{Height: h})
		}
		if err := s.SetRow(fmt.Sprintf("A%d", i+1), values, opts...); err != nil {
			return err
		}
	}
	return s.Flush()
}

// exact gives the numbers that need more than fifteen digits, by cell.
func (g *grid) exact() map[string]string {
	out := map[string]string{}
	for i, r := range g.rows {
		for j, c := range r {
			v, ok := c.Value.(float64)
			if !ok {
				continue
			}
			short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64)
			if err == nil && short == v && math.Abs(v) >= 1e-15 && math.Abs(v) < 1e15 {
				continue
			}
			if name, err := excelize.CoordinatesToCellName(j+1, i+1); err == nil {
				out[name] = strconv.FormatFloat(v, 'g', -1, 64)
			}
		}
	}
	return out
}

// cellText makes text fit for a cell: no control characters that the format
// forbids, no more than a cell holds.
func cellText(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case r < 0x20 || r == 0xfffe || r == 0xffff:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "�"))
	return shortText(s, maxText)
}

// shortText cuts text to so many units of UTF-16, which is how cells count.
func shortText(s string, most int) string {
	n := 0
	for i, r := range s {
		n++
		if r > 0xffff {
			n++
		}
		if n > most-1 && i+utf8.RuneLen(r) < len(s) {
			return s[:i] + "…"
		}
	}
	return s
}

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
	for j, h := range []string{"Answer", "Method", "Question", "Rows", "Events", "Cautions", "State"} {
		g.set(row, j, h, st.head)
	}
	g.frozen = row + 1
	for j, w := range []float64{28, 20, textWidth, 9, 9, 9, 14} {
		g.widen(j, w)
	}
	for i, a := range run.Answers {
		row++
		g.link(row, 0, tabs[i], a.ID, st.link)
		g.set(row, 1, a.Method, st.text)
		g.set(row, 2, a.Question, st.wrap)
		g.wrapHeight(row, a.Question, textWidth)
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

func answerSheet(a answer.Answer, st styles, contents string) *grid {
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
		g.set(row, 0, a.Reading, st.text)
		row++
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
			g.widen(j, float64(utf8.RuneCountInString(label))+2)
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
	beside(g, a, st, first, wide+1)
	return g
}

// beside sets cautions, and how it was done, right of the tables.
func beside(g *grid, a answer.Answer, st styles, row, col int) {
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
