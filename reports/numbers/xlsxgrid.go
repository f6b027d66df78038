package numbers

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// grid is a sheet being laid out: cells by row, and widths.
type grid struct {
	rows   [][]excelize.Cell
	tall   map[int]float64 // heights of rows with wrapped text
	widths []float64
	frozen int // rows held at the top
	tables []tableArea
	charts []plotted
}

// tableArea is a table on a sheet: a row of heads and rows below it.
type tableArea struct {
	name     string
	row, col int
	rows     int
	heads    []string
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
	if err := g.furnish(f, name); err != nil {
		return err
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
