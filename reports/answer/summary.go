package answer

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"plybook/analysis/describe"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// summary answers who or what is in the cohort.
func summary(w *work) error {
	for _, n := range w.ask.Columns {
		if _, err := w.column("columns", n); err != nil {
			return err
		}
	}
	if w.ask.By != "" {
		if _, err := w.column("by", w.ask.By); err != nil {
			return err
		}
	}
	if len(w.rows) == 0 {
		return stats.ErrNoRows
	}
	w.summaryRows()
	w.Answer.Rows = len(w.rows)
	if err := w.tooFew(len(w.rows)); err != nil {
		return err
	}
	b, err := describe.New(w.table.Pick(w.rows), w.ask.Columns, describe.Options{By: w.ask.By})
	if err != nil {
		if errors.Is(err, describe.ErrGroups) {
			return w.at("by", w.ask.By, notebook.CodeImpossible, "%s has more than %d values, too many for columns of a table", w.ask.By, describe.MaxGroups)
		}
		return err
	}
	w.summaryCautions(b)
	w.summaryTable(b)
	w.print(w.summaryPrint(b))
	w.summaryWords(b)
	return nil
}

// summaryRows leaves out, for a public audience, the groups that stand for
// few people, and the rows of no group: the counts of all would tell them.
func (w *work) summaryRows() {
	if !w.public() || w.ask.By == "" {
		return
	}
	c, _ := w.table.Col(w.ask.By)
	n := map[string]int{}
	for _, i := range w.rows {
		if !c.Missing[i] {
			n[valueText(c, i)]++
		}
	}
	var rows []int
	for _, i := range w.rows {
		if !c.Missing[i] && !w.smallCount(n[valueText(c, i)]) {
			rows = append(rows, i)
		}
	}
	if len(rows) < len(w.rows) {
		_, many := w.nouns()
		w.caution("groups-hidden", "This report hides counts below %d. The %s whose %s is not recorded, or that belong to a group that small, are left out of the whole table.", w.ctx.Front.HideBelow, many, label(c))
	}
	w.rows = rows
}

// summaryCautions says what the description itself found, in words and with
// counts withheld where need be.
func (w *work) summaryCautions(b *describe.Baseline) {
	one, many := w.nouns()
	for _, g := range b.Groups {
		if g.Rows < 5 {
			w.caution("small-group", "The group %s has only %s.", w.display(g.Name), w.n(g.Rows, one, many))
		}
	}
	if b.NoGroup > 0 {
		w.caution("no-group", "For %s the %s is not recorded: they stand under All and in no group.", w.of(b.NoGroup, b.Rows, one, many), w.columnLabel(b.By))
	}
	for _, x := range b.Warnings {
		switch x.Code {
		case "small-group", "no-group", "all-missing", "no-difference": // said here, or in the reading
		default:
			w.caution(x.Code, "%s", x.Text)
		}
	}
}

// levelMask says which counts of a text column are withheld: by level and
// then not recorded; by All and then the groups.
func (w *work) levelMask(v describe.Variable) [][]bool {
	all := append([]describe.Summary{v.Overall}, v.Groups...)
	grid := make([][]int, len(v.Overall.Levels)+1)
	for r := range grid {
		for _, s := range all {
			n := s.Missing
			if r < len(v.Overall.Levels) {
				n = s.Levels[r].Count
			}
			grid[r] = append(grid[r], n)
		}
	}
	return maskGrid(grid, w.ctx.Front.HideBelow)
}

// missingMask says of which groups it is withheld how many numbers are
// recorded and how many are not.
func (w *work) missingMask(v describe.Variable) []bool {
	all := append([]describe.Summary{v.Overall}, v.Groups...)
	grid := make([][]int, 2)
	for _, s := range all {
		grid[0], grid[1] = append(grid[0], s.N), append(grid[1], s.Missing)
	}
	return maskGrid(grid, w.ctx.Front.HideBelow)[1]
}

func (w *work) summaryTable(b *describe.Baseline) {
	t := tableOf("rows", text("column"), text("category"), text("unit"), text("group"), count("rows"), count("count"), number("percent", "%"), count("missing"),
		number("mean", ""), number("std_dev", ""), number("median", ""), number("lower_quartile", ""), number("upper_quartile", ""),
		number("minimum", ""), number("maximum", ""), number("standardised_difference", ""))
	for _, v := range b.Variables {
		diff := any(nil)
		if v.Difference != nil {
			diff = finite(v.Difference.Value)
		}
		apart := w.differenceHidden(v)
		for k := -1; k < len(b.Groups); k++ {
			s, name, rows := v.Overall, "all", b.Rows
			if k >= 0 {
				s, name, rows = v.Groups[k], b.Groups[k].Name, b.Groups[k].Rows
			}
			if v.Kind == table.Text {
				mask := w.levelMask(v)
				lost := len(s.Levels)
				for r, l := range s.Levels {
					percent := l.Percent
					if of := w.sharesOf(s, rows, mask, k+1); of != s.N {
						percent = 100 * float64(l.Count) / float64(of)
					}
					t.row(v.Column, l.Value, orNil(v.Unit), name, rows, l.Count, percent, s.Missing, nil, nil, nil, nil, nil, nil, nil, diff)
					if apart {
						w.drop(t, "standardised_difference")
					}
					if mask[r][k+1] {
						w.drop(t, "count", "percent")
					}
					if mask[lost][k+1] {
						w.drop(t, "missing")
					}
				}
				continue
			}
			ends := w.ctx.Front.HideBelow <= 1 // the least and the greatest are one person's
			t.row(v.Column, nil, orNil(v.Unit), name, rows, s.N, nil, s.Missing, when(s.HasValues, s.Mean), when(s.HasSD, s.SD),
				when(s.HasValues, s.Median), when(s.HasValues, s.Q1), when(s.HasValues, s.Q3), when(s.HasValues && ends, s.Min), when(s.HasValues && ends, s.Max), diff)
			if w.missingMask(v)[k+1] {
				// With those of the other groups the means would tell it.
				w.drop(t, "count", "missing", "mean", "std_dev")
			}
			if w.hiddenCount(s.N) {
				w.drop(t, "count", "mean", "std_dev", "median", "lower_quartile", "upper_quartile")
			}
		}
	}
	w.addTable(t)
}

// drop withholds cells of the last row of a table.
func (w *work) drop(t *Table, columns ...string) {
	r := len(t.Rows) - 1
	for j, c := range t.Columns {
		for _, name := range columns {
			if c.Name == name && t.Rows[r][j] != nil {
				w.mask(t, r, j)
				t.Rows[r][j] = nil
				w.Hidden = append(w.Hidden, HiddenCell{t.Name, r, name})
			}
		}
	}
}

func (w *work) summaryPrint(b *describe.Baseline) document.Block {
	_, many := w.nouns()
	t := document.Table{ID: w.ask.ID + "-summary", Caption: words.Capital(many) + " described", Columns: []document.TableColumn{{Head: "", Wide: true}}}
	head := func(name string, n int) string { return name + " (n = " + w.cell(n) + ")" }
	t.Columns = append(t.Columns, document.TableColumn{Head: head("All", b.Rows), Align: document.Right})
	for _, g := range b.Groups {
		t.Columns = append(t.Columns, document.TableColumn{Head: head(words.Capital(w.display(g.Name)), g.Rows), Align: document.Right})
	}
	if len(b.Groups) > 1 {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Std. difference", Align: document.Right})
	}
	for _, v := range b.Variables {
		name := w.variable(v)
		diff := ""
		if v.Difference != nil {
			diff = words.Fixed(v.Difference.Value, 2)
			if w.differenceHidden(v) {
				diff = "hidden"
			}
		}
		all := append([]describe.Summary{v.Overall}, v.Groups...)
		missing := false
		for _, s := range all {
			missing = missing || s.Missing > 0
		}
		mask := [][]bool{nil}
		if v.Kind == table.Text {
			mask = w.levelMask(v)
			t.Strong = append(t.Strong, len(t.Rows))
			t.Rows = append(t.Rows, w.summaryRow(words.Capital(name), diff, len(b.Groups), all, func(int, describe.Summary) string { return "" }))
			for k, l := range v.Overall.Levels {
				t.Rows = append(t.Rows, w.summaryRow("  "+l.Value, "", len(b.Groups), all, func(g int, s describe.Summary) string {
					x := s.Levels[k]
					if mask[k][g] {
						return w.hiddenCell(x.Count)
					}
					if share := w.share(x.Count, w.sharesOf(s, s.N+s.Missing, mask, g)); share != "hidden" {
						return w.cell(x.Count) + " (" + share + ")"
					}
					return w.cell(x.Count)
				}))
			}
		} else {
			mask[0] = w.missingMask(v)
			unit := ""
			if v.Unit != "" {
				unit = ", " + v.Unit
			}
			d := quartileDecimals(all)
			if v.Unit != "" && strings.Contains(strings.ToLower(name), strings.ToLower(v.Unit)) {
				unit = "" // "months since amputation" says it
			}
			t.Rows = append(t.Rows, w.summaryRow(words.Capital(name)+unit+": median (quartiles)", diff, len(b.Groups), all, func(_ int, s describe.Summary) string {
				switch {
				case !s.HasValues:
					return "no value"
				case w.hiddenCount(s.N):
					return "hidden"
				case v.Kind == table.Date:
					return words.ISODate(s.Median)
				}
				return words.Fixed(s.Median, d) + " (" + words.Fixed(s.Q1, d) + " to " + words.Fixed(s.Q3, d) + ")"
			}))
		}
		if missing {
			t.Rows = append(t.Rows, w.summaryRow("  not recorded", "", len(b.Groups), all, func(g int, s describe.Summary) string {
				if mask[len(mask)-1][g] {
					return w.hiddenCell(s.Missing)
				}
				return w.cell(s.Missing)
			}))
		}
	}
	t.Notes = []string{"Shares are of the rows with a value."}
	if below := w.ctx.Front.HideBelow; below > 1 {
		t.Notes[0] += fmt.Sprintf(" Counts from 1 to %d, and shares that would tell them, are not given.", below-1)
		if w.sharesOfAll(b) {
			t.Notes[0] += " Where the number not recorded is not given, shares are of all rows."
		}
	}
	if len(b.Groups) > 1 {
		t.Notes = append(t.Notes, "Standardised difference: the difference between groups in units of their standard deviation; the largest between any two groups. Values above 0.1 are often taken as worth a look.")
	}
	return t
}

// quartileDecimals are the decimals that the quartiles of all groups are
// printed with: those that the spread of all rows carries, none where all are whole.
func quartileDecimals(all []describe.Summary) int {
	d, whole := 0, true
	for i, s := range all {
		if !s.HasValues {
			continue
		}
		if i == 0 { // all together
			d = words.DecimalsFor(s.Q3-s.Q1, 2)
		}
		for _, x := range []float64{s.Median, s.Q1, s.Q3} {
			whole = whole && x == math.Trunc(x)
		}
	}
	if whole {
		return 0
	}
	return d
}

func (w *work) summaryRow(name, diff string, groups int, all []describe.Summary, cell func(group int, s describe.Summary) string) []string {
	row := []string{name}
	for g, s := range all {
		row = append(row, cell(g, s))
	}
	if groups > 1 {
		row = append(row, diff)
	}
	return row
}
