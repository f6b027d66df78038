package ingest

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"sort"
	"strings"

	"github.com/xuri/excelize/v2"
)

// WriteMarked writes a copy of one of the log's files in which the problems
// stand in place. In a workbook each cell with a problem has a coloured
// border (orange where a value or row was set aside, blue where it was kept)
// and a comment with the sentences; values, formats and fills stay as they
// are. A text table gets a further column named problem; its cells keep their
// text, in UTF-8, with quotes where needed. The copy is readable by its owner
// alone and appears whole or not at all. file is a path as given to Read.
func WriteMarked(log *Log, file, outPath string) error {
	if same, err := sameFile(file, outPath); err != nil || same {
		if err == nil {
			err = fmt.Errorf("it is the file itself")
		}
		return fmt.Errorf("write the marked copy %s: %w", outPath, err)
	}
	marks := map[string]map[string][]Problem{} // sheet -> cell -> problems
	known, header := false, 0
	for _, s := range log.Sheets {
		if s.File == file {
			known, header = true, s.HeaderRow
		}
	}
	if !known {
		return fmt.Errorf("write the marked copy of %s: the file is not part of the log", file)
	}
	for _, p := range log.Problems {
		if p.File != file || p.Sheet < 0 {
			continue
		}
		cell := p.Cell
		if cell == "" {
			cell = "A1"
		}
		if marks[p.Tab] == nil {
			marks[p.Tab] = map[string][]Problem{}
		}
		marks[p.Tab][cell] = append(marks[p.Tab][cell], p)
	}
	kind, err := sniffKind(file)
	if err != nil {
		return fmt.Errorf("mark %s: %w", file, err)
	}
	if kind == kindWorkbook {
		err = markWorkbook(file, outPath, marks)
	} else {
		err = markCSV(file, outPath, header, marks[""])
	}
	if err != nil {
		return fmt.Errorf("write the marked copy %s: %w", outPath, err)
	}
	return nil
}

func sameFile(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	y, err := os.Stat(b)
	if err != nil {
		return false, nil // the copy does not exist yet
	}
	return os.SameFile(x, y), nil
}

// The colours of the borders: told apart by people who see red and green
// alike.
const (
	colourAside = "D55E00"
	colourKept  = "0072B2"
)

func markWorkbook(file, outPath string, marks map[string]map[string][]Problem) error {
	book, err := excelize.OpenFile(file, excelize.Options{UnzipSizeLimit: maxUnzipped})
	if err != nil {
		return workbookError(err)
	}
	defer book.Close()
	m := marker{book: book, styles: map[[2]int]int{}}
	if m.borders[0], err = m.border(colourKept); err != nil {
		return err
	}
	if m.borders[1], err = m.border(colourAside); err != nil {
		return err
	}
	tabs := make([]string, 0, len(marks))
	for tab := range marks {
		tabs = append(tabs, tab)
	}
	sort.Strings(tabs)
	for _, tab := range tabs {
		if err := m.sheet(tab, marks[tab]); err != nil {
			return fmt.Errorf("sheet %q: %w", tab, err)
		}
	}
	return writeWhole(outPath, func(w io.Writer) error { return book.Write(w) })
}

type marker struct {
	book    *excelize.File
	borders [2]int // style numbers that carry the borders: kept, set aside
	styles  map[[2]int]int
}

func (m *marker) border(colour string) (int, error) {
	var b []excelize.Border
	for _, side := range []string{"left", "right", "top", "bottom"} {
		b = append(b, excelize.Border{Type: side, Color: colour, Style: 5})
	}
	return m.book.NewStyle(&excelize.Style{Border: b})
}

// style is the cell's own format with nothing but the border changed. The
// record is copied by its numbers, since a format taken apart and put
// together again may lose theme colours.
func (m *marker) style(old, which int) (int, error) {
	if id, ok := m.styles[[2]int{old, which}]; ok {
		return id, nil
	}
	xfs := m.book.Styles.CellXfs
	if old < 0 || old >= len(xfs.Xf) {
		return m.borders[which], nil
	}
	xf := xfs.Xf[old]
	yes := true
	xf.BorderID, xf.ApplyBorder = xfs.Xf[m.borders[which]].BorderID, &yes
	xfs.Xf = append(xfs.Xf, xf)
	xfs.Count = len(xfs.Xf)
	id := len(xfs.Xf) - 1
	m.styles[[2]int{old, which}] = id
	return id, nil
}

func (m *marker) sheet(tab string, marks map[string][]Problem) error {
	cells := make([]string, 0, len(marks))
	for c := range marks {
		cells = append(cells, c)
	}
	sort.Slice(cells, func(i, j int) bool {
		c1, r1, _ := parseCellName(cells[i])
		c2, r2, _ := parseCellName(cells[j])
		return r1 < r2 || r1 == r2 && c1 < c2
	})
	old, err := m.book.GetComments(tab)
	if err != nil {
		return err
	}
	comments := map[string]string{}
	for _, c := range old {
		text := c.Text
		for _, p := range c.Paragraph {
			text += p.Text
		}
		comments[c.Cell] = text
	}
	for _, cell := range cells {
		which := 0
		var lines []string
		for _, p := range marks[cell] {
			if p.Done != Kept {
				which = 1
			}
			line := strings.TrimSpace(p.Text)
			if p.Want != "" && p.Done != Kept {
				line += " Expected: " + p.Want + "."
			}
			lines = append(lines, capital(line))
		}
		style, err := m.book.GetCellStyle(tab, cell)
		if err != nil {
			return err
		}
		id, err := m.style(style, which)
		if err != nil {
			return err
		}
		if err := m.book.SetCellStyle(tab, cell, cell, id); err != nil {
			return err
		}
		text := strings.Join(lines, "\n")
		if prior, ok := comments[cell]; ok {
			if err := m.book.DeleteComment(tab, cell); err != nil {
				return err
			}
			text = prior + "\n" + text
		}
		if r := []rune(text); len(r) > 2000 {
			text = string(r[:2000]) + "..."
		}
		if err := m.book.AddComment(tab, excelize.Comment{Cell: cell, Author: "plybook", Text: text, Width: 320, Height: uint(60 + 18*len(text)/40)}); err != nil {
			return err
		}
	}
	return nil
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// markCSV adds a column, headed where the table is: titles may stand above.
func markCSV(file, outPath string, headerRow int, marks map[string][]Problem) error {
	records, form, err := loadCSV(file)
	if err != nil {
		return err
	}
	byRow := map[int][]string{}
	cells := make([]string, 0, len(marks))
	for c := range marks {
		cells = append(cells, c)
	}
	sort.Slice(cells, func(i, j int) bool {
		c1, r1, _ := parseCellName(cells[i])
		c2, r2, _ := parseCellName(cells[j])
		return r1 < r2 || r1 == r2 && c1 < c2
	})
	for _, cell := range cells {
		_, row, _ := parseCellName(cell)
		for _, p := range marks[cell] {
			byRow[row] = append(byRow[row], cell+": "+p.Text)
		}
	}
	width, header := 0, headerRow-1-form.skip
	for i, rec := range records {
		width = max(width, len(rec))
		if header < 0 && strings.TrimSpace(strings.Join(rec, "")) != "" {
			header = i
		}
	}
	return writeWhole(outPath, func(w io.Writer) error {
		if form.bom {
			if _, err := io.WriteString(w, "\ufeff"); err != nil {
				return err
			}
		}
		if form.skip > 0 {
			if _, err := fmt.Fprintf(w, "sep=%c\n", form.comma); err != nil {
				return err
			}
		}
		out := csv.NewWriter(w)
		out.Comma = rune(form.comma)
		for i, rec := range records {
			row := make([]string, width+1)
			copy(row, rec)
			row[width] = strings.Join(byRow[i+1+form.skip], " ")
			if i == header {
				row[width] = strings.TrimSpace("problem " + row[width])
			}
			if err := out.Write(row); err != nil {
				return err
			}
		}
		out.Flush()
		return out.Error()
	})
}
