package numbers

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// furnish gives a sheet what is not in its cells: how it is printed, its
// tables and its charts. It comes before the cells, which are written in one
// stream over whatever stood there.
func (g *grid) furnish(f *excelize.File, sheet string) error {
	yes, a4, sideways, wide, tall := true, 9, "landscape", 1, 0
	if err := f.SetSheetProps(sheet, &excelize.SheetPropsOptions{FitToPage: &yes}); err != nil {
		return err
	}
	if err := f.SetPageLayout(sheet, &excelize.PageLayoutOptions{Size: &a4, Orientation: &sideways, FitToWidth: &wide, FitToHeight: &tall}); err != nil {
		return err
	}
	for i, w := range g.widths { // a chart is as many columns wide as it takes
		name, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(sheet, name, name, min(w, 80)); err != nil {
			return err
		}
	}
	stripes := false
	for _, t := range g.tables {
		for i, h := range t.heads { // from which the table takes the names of its columns
			cell, err := excelize.CoordinatesToCellName(t.col+i+1, t.row+1)
			if err != nil {
				return err
			}
			if err := f.SetCellStr(sheet, cell, h); err != nil {
				return err
			}
		}
		from, err := excelize.CoordinatesToCellName(t.col+1, t.row+1)
		if err != nil {
			return err
		}
		to, err := excelize.CoordinatesToCellName(t.col+len(t.heads), t.row+1+t.rows)
		if err != nil {
			return err
		}
		if err := f.AddTable(sheet, &excelize.Table{Range: from + ":" + to, Name: t.name, StyleName: "TableStyleLight1", ShowRowStripes: &stripes}); err != nil {
			return fmt.Errorf("table %s: %w", t.name, err)
		}
	}
	for _, p := range g.charts {
		cell, err := excelize.CoordinatesToCellName(p.at[0]+1, p.at[1]+1)
		if err != nil {
			return err
		}
		if err := f.AddChart(sheet, cell, p.chart(chartsName)); err != nil {
			return fmt.Errorf("chart: %w", err)
		}
	}
	return nil
}

// tableNames gives each table of the workbook a name that is legal, taken
// once and never read as a cell.
type tableNames map[string]bool

func (n tableNames) take(answer, table string) string {
	name := strings.Map(func(r rune) rune {
		if r < 0x80 && (r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z') {
			return r
		}
		return '_'
	}, answer+"_"+table)
	if name[0] >= '0' && name[0] <= '9' {
		name = "_" + name
	}
	name = name[:min(len(name), 200)]
	for k, try := 2, name; ; k++ {
		if key := strings.ToLower(try); !n[key] {
			n[key] = true
			return try
		}
		try = fmt.Sprintf("%s_%d", name, k)
	}
}

// distinct says whether heads may name the columns of a table: none is empty,
// none the same as another.
func distinct(heads []string) bool {
	seen := map[string]bool{}
	for _, h := range heads {
		key := strings.ToLower(h)
		if strings.TrimSpace(h) == "" || seen[key] {
			return false
		}
		seen[key] = true
	}
	return len(heads) > 0
}
