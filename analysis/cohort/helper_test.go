package cohort

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"plybook/analysis/table"
)

// dateColumns and numberColumns type the columns of the logs below.
var (
	dateColumns = setOf([]string{"amputated", "last_seen", "died", "referred", "ordered", "cast_on", "delivered",
		"remake_decided", "ended", "date", "own.cracked"})
	numberColumns = setOf([]string{"born", "number", "liner_mm", "station_mm", "limb_mm", "minutes_off", "target_mm", "model_mm",
		"ply", "ply_left", "socks", "time", "comfort", "mass_kg", "minutes", "severity", "own.age", "own.delay", "own.shade"})
)

// tab reads a table written as lines: column names, then rows of fields
// separated by |, with - for a missing value.
func tab(t testing.TB, name, text string) *table.Table {
	t.Helper()
	var lines [][]string
	for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
		var fields []string
		for _, f := range strings.Split(line, "|") {
			fields = append(fields, strings.TrimSpace(f))
		}
		lines = append(lines, fields)
	}
	out := table.New(name, len(lines)-1)
	for k, col := range lines[0] {
		var c *table.Column
		switch {
		case dateColumns[col]:
			c = table.NewDate(col, len(lines)-1)
		case numberColumns[col]:
			c = table.NewNumber(col, "", len(lines)-1)
		default:
			c = table.NewText(col, len(lines)-1)
		}
		c.Own = strings.HasPrefix(col, table.OwnPrefix)
		for i, row := range lines[1:] {
			if len(row) != len(lines[0]) {
				t.Fatalf("%s row %d has %d fields, not %d", name, i, len(row), len(lines[0]))
			}
			out.Origin[i] = table.Origin{Sheet: 1, Row: i + 2}
			switch v := row[k]; {
			case v == "-":
			case c.Kind == table.Text:
				c.SetText(i, v)
			case c.Kind == table.Date:
				c.SetNum(i, day(t, v))
			default:
				x, err := strconv.ParseFloat(v, 64)
				if err != nil {
					t.Fatal(err)
				}
				c.SetNum(i, x)
			}
		}
		if err := out.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func day(t testing.TB, s string) float64 {
	t.Helper()
	d, err := table.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func on(t testing.TB, s string) *float64 {
	d := day(t, s)
	return &d
}

// reasons are the settings that the tests hand over.
func reasons(set Settings) Settings {
	set.Remake = []string{"remake: volume loss", "remake: pain or pressure", "remake: fabrication error"}
	set.Making = []string{"remake: fabrication error"}
	set.LimbChange = []string{"remake: volume loss"}
	set.Untraced = []string{"moved away", "lost to follow-up"}
	set.BonyRegions = map[string]bool{"fibular head": true, "posterior compartment": false}
	return set
}

func build(t testing.TB, in Tables, set Settings) *Cohort {
	t.Helper()
	c, err := Build(in, reasons(set))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func rowsOf(t testing.TB, c *Cohort, name string) *table.Table {
	t.Helper()
	rows, err := c.Rows(name)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// show writes a column as text, - for missing, numbers with four digits.
func show(t testing.TB, rows *table.Table, name string) string {
	t.Helper()
	col, ok := rows.Col(name)
	if !ok {
		t.Fatalf("no column %s in %s", name, rows.Name)
	}
	return showColumn(col)
}

func showColumn(col *table.Column) string {
	var out []string
	for i := range col.Len() {
		switch {
		case col.Missing[i]:
			out = append(out, "-")
		case col.Kind == table.Text:
			out = append(out, col.Text[i])
		case col.Kind == table.Date:
			out = append(out, table.FormatDate(col.Num[i]))
		default:
			out = append(out, number(col.Num[i]))
		}
	}
	return strings.Join(out, " ")
}

func number(x float64) string {
	if math.IsNaN(x) {
		return "NaN"
	}
	return strconv.FormatFloat(math.Round(x*1e4)/1e4, 'f', -1, 64)
}

func numbers(xs []float64) string {
	out := make([]string, len(xs))
	for i, x := range xs {
		out[i] = number(x)
	}
	return strings.Join(out, " ")
}

func want(t testing.TB, what, got, want string) {
	t.Helper()
	if got == want {
		return
	}
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			t.Errorf("%s, line %d:\n got %s\nwant %s", what, i, g[i], w[i])
			return
		}
	}
	t.Errorf("%s: %d lines, want %d", what, len(g), len(w))
}

// flat writes the flow as "rows left (-excluded)" for each step.
func flat(steps []Step) string {
	var out []string
	for _, s := range steps {
		x := strconv.Itoa(s.Rows)
		if s.Excluded > 0 {
			x += "(-" + strconv.Itoa(s.Excluded) + ")"
		}
		out = append(out, x)
	}
	return strings.Join(out, " ")
}
