package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"sort"
	"strings"

	"github.com/xuri/excelize/v2"
)

// SaveProblemBook writes the problems as a workbook readable by its owner
// alone: a sheet of kinds, a sheet that lists the problems worst first, and
// for each file of rowsOf, as given to Read, the rows that have a problem,
// with the problem cells bordered and the sentences in a further column.
// Whatever stands in a cell is written as text or number, never as a formula.
func SaveProblemBook(ctx context.Context, path string, log *Log, rowsOf []string) error {
	if err := saveProblemBook(ctx, path, log, rowsOf); err != nil {
		return fmt.Errorf("write the workbook of problems %s: %w", path, err)
	}
	return nil
}

type problemBook struct {
	book    *excelize.File
	head    int
	wrap    int
	borders [2]int
	names   map[string]bool
}

func saveProblemBook(ctx context.Context, path string, log *Log, rowsOf []string) error {
	b := problemBook{book: excelize.NewFile(), names: map[string]bool{"kinds": true, "history": true, ProblemSheet: true}}
	defer b.book.Close()
	if err := b.styles(); err != nil {
		return err
	}
	if err := b.book.SetSheetName("Sheet1", "kinds"); err != nil {
		return err
	}
	rows := [][]any{{"kind", "rows set aside", "values set aside", "kept", "what to do", "code"}}
	for _, k := range ProblemKinds(log) {
		rows = append(rows, []any{k.Name, k.Rows, k.Values, k.Kept, k.Fix, k.Code})
	}
	if err := b.table("kinds", rows, []float64{46, 12, 12, 12, 60, 24}); err != nil {
		return err
	}
	rows = [][]any{{"file", "sheet", "cell", "what was done", "problem", "expected", "found", "column", "kind"}}
	for _, p := range worstFirst(log.Problems) {
		if len(rows) == excelize.TotalRows {
			break // the list as text has them all
		}
		rows = append(rows, []any{p.File, p.Tab, p.Cell, p.Done.String(), clip(p.Text), clip(p.Want), clip(p.Found), p.Column, p.Code})
	}
	if _, err := b.book.NewSheet(ProblemSheet); err != nil {
		return err
	}
	if err := b.table(ProblemSheet, rows, []float64{24, 14, 8, 16, 60, 30, 20, 16, 20}); err != nil {
		return err
	}
	for _, file := range rowsOf {
		if err := b.rowsOf(ctx, log, file); err != nil {
			return err
		}
	}
	var book bytes.Buffer
	if err := b.book.Write(&book); err != nil {
		return err
	}
	return writeWhole(path, func(w io.Writer) error { return inOrder(w, book.Bytes()) })
}

// inOrder copies a workbook with its parts in the order of their names: those
// that are written as a stream come out in any order, and the same problems
// are to give the same bytes.
func inOrder(w io.Writer, book []byte) error {
	in, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	if err != nil {
		return err
	}
	sort.Slice(in.File, func(i, j int) bool { return in.File[i].Name < in.File[j].Name })
	out := zip.NewWriter(w)
	for _, part := range in.File {
		if err := out.Copy(part); err != nil {
			return err
		}
	}
	return out.Close()
}

func (b *problemBook) styles() error {
	top := &excelize.Alignment{Vertical: "top", WrapText: true}
	var err error
	if b.head, err = b.book.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: top}); err != nil {
		return err
	}
	if b.wrap, err = b.book.NewStyle(&excelize.Style{Alignment: top}); err != nil {
		return err
	}
	for i, colour := range []string{colourKept, colourAside} {
		var border []excelize.Border
		for _, side := range []string{"left", "right", "top", "bottom"} {
			border = append(border, excelize.Border{Type: side, Color: colour, Style: 5})
		}
		if b.borders[i], err = b.book.NewStyle(&excelize.Style{Border: border, Alignment: top}); err != nil {
			return err
		}
	}
	return nil
}

// table writes a sheet with a header that stays in view.
func (b *problemBook) table(sheet string, rows [][]any, widths []float64) error {
	w, err := b.book.NewStreamWriter(sheet)
	if err != nil {
		return err
	}
	for i, width := range widths {
		if err := w.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	if err := w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	for i, row := range rows {
		style := b.wrap
		if i == 0 {
			style = b.head
		}
		cells := make([]any, len(row))
		for j, v := range row {
			if c, ok := v.(excelize.Cell); ok {
				cells[j] = c
				continue
			}
			cells[j] = excelize.Cell{StyleID: style, Value: v}
		}
		if err := w.SetRow(cellName(0, i+1), cells); err != nil {
			return err
		}
	}
	return w.Flush()
}

// rowsOf writes, for each sheet of a file, the rows with a problem.
func (b *problemBook) rowsOf(ctx context.Context, log *Log, file string) error {
	bySheet := map[string][]Problem{}
	for _, p := range log.Problems {
		if p.File == file && p.Sheet >= 0 {
			bySheet[p.Tab] = append(bySheet[p.Tab], p)
		}
	}
	if len(bySheet) == 0 {
		return nil
	}
	base := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
	raw, err := readFile(ctx, file, func(sheet string) bool {
		return len(bySheet[sheet]) > 0 || len(bySheet[""]) > 0 && sheet == base
	})
	if err != nil {
		return err
	}
	for i := range raw.sheets {
		s := &raw.sheets[i]
		if ps := bySheet[s.name]; len(ps) > 0 {
			if err := b.concerned(b.name(base, s.name), s, log.Sheets[ps[0].Sheet].HeaderRow, ps); err != nil {
				return err
			}
		}
	}
	return nil
}

// concerned writes the rows of one sheet that have a problem, below the
// header that was found in headerRow, 0 where none was.
func (b *problemBook) concerned(name string, s *rawSheet, headerRow int, ps []Problem) error {
	notes, grid := remarks(ps)
	said := map[int][]string{}
	for _, n := range notes {
		said[n.row] = append(said[n.row], cellName(n.col, n.row)+": "+strings.ReplaceAll(n.text, remarkStart, ""))
	}
	header, width := -1, 0
	for i := range s.rows {
		width = max(width, s.rows[i].width())
		if s.rows[i].n == headerRow {
			header = i
		}
	}
	width = min(width, 200) // a stray cell far to the right is no table
	head := make([]any, 0, width+2)
	head = append(head, "row")
	for c := range width {
		text := ""
		if header >= 0 {
			text = clip(strings.TrimSpace(s.rows[header].cell(c).text))
		}
		head = append(head, text)
	}
	rows := [][]any{append(head, "problems")}
	for i := range s.rows {
		r := &s.rows[i]
		if len(said[r.n]) == 0 || len(rows) == excelize.TotalRows {
			continue
		}
		row := append(make([]any, 0, width+2), r.n)
		for c := range width {
			value := s.shown(r.cell(c))
			if which, ok := grid[r.n][c]; ok {
				row = append(row, excelize.Cell{StyleID: b.borders[which], Value: value})
			} else {
				row = append(row, value)
			}
		}
		rows = append(rows, append(row, clip(strings.Join(said[r.n], "\n"))))
	}
	if _, err := b.book.NewSheet(name); err != nil {
		return err
	}
	widths := make([]float64, width+2)
	for i := range widths {
		widths[i] = 14
	}
	widths[0], widths[width+1] = 8, 70
	return b.table(name, rows, widths)
}

// shown is a cell as text; dates stand as dates.
func (s *rawSheet) shown(c cell) string {
	if c.kind == cellDate || c.kind == cellMonthYear {
		if v, _, err := readDigits(c.text, false); err == nil {
			if d, _, ok := serialDate(v, s.date1904); ok {
				return d.String()
			}
		}
	}
	return clip(c.text)
}

// name is a name for a sheet that no other has.
func (b *problemBook) name(file, sheet string) string {
	name := strings.Trim(strings.TrimSpace(file+" "+sheet), "'")
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]`, r) {
			return '-'
		}
		return r
	}, name)
	cut := func(s string, n int) string {
		if r := []rune(s); len(r) > n {
			return string(r[:n])
		}
		return s
	}
	out := cut(name, 31)
	for i := 2; b.names[strings.ToLower(out)]; i++ {
		out = cut(name, 27) + fmt.Sprintf(" (%d)", i)
	}
	b.names[strings.ToLower(out)] = true
	return out
}
