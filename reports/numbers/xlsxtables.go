package numbers

import (
	"cmp"
	"fmt"
	"slices"
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

// aside holds the parts of the archive that are tables, but for the one made
// last: the library reads all it finds again for each further one, to learn
// which numbers and names are taken. The last has the highest number, and
// names are given once by tableNames.
type aside map[string][]byte

// take puts the tables of a workbook aside, but for the one of the highest
// number.
func (a aside) take(f *excelize.File) {
	var found []string
	f.Pkg.Range(func(name, _ any) bool {
		if n, ok := name.(string); ok && strings.HasPrefix(n, "xl/tables/table") {
			found = append(found, n)
		}
		return true
	})
	// table10.xml comes after table9.xml.
	slices.SortFunc(found, func(x, y string) int { return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y)) })
	for i, n := range found {
		if part, ok := f.Pkg.Load(n); ok && i+1 < len(found) {
			if b, ok := part.([]byte); ok {
				a[n] = b
				f.Pkg.Delete(n)
			}
		}
	}
}

// giveBack puts them into the workbook again.
func (a aside) giveBack(f *excelize.File) {
	for n, b := range a {
		f.Pkg.Store(n, b)
	}
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
