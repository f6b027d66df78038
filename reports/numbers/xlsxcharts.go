package numbers

import (
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/xuri/excelize/v2"

	"plybook/reports/answer"
)

// chartsName is the sheet that holds what charts are drawn from.
const chartsName = "Chart data"

// The size of a chart in pixels, and of the room left beneath it in rows.
const (
	chartWide, chartTall = 640, 340
	chartRows            = 19
)

// mostCharted is how many curves or bars a chart shows: more would be told
// apart by nobody.
const mostCharted = 40

// plotted is a chart to be: its lines as columns of the sheet of chart data.
type plotted struct {
	kind   excelize.ChartType
	title  string
	x, y   string // titles of the axes
	share  bool   // values are shares of one
	series []plottedSeries
	at     [2]int // column and row on the answer's sheet
}

// plottedSeries is one line. X holds float64 or, along categories, string.
type plottedSeries struct {
	name string
	x    []any
	y    []float64
	thin bool // a limit or a centre: thin and broken
	at   [2]int
}

// charts are the charts of an answer. They are made from its tables as those
// are written, so that what is withheld there is in no chart.
func charts(a answer.Answer) []plotted {
	var out []plotted
	for _, t := range a.Tables {
		switch t.Name {
		case "curve":
			out = append(out, curveChart(a, t)...)
		case "points":
			out = append(out, pointsCharts(a, t)...)
		case "bars":
			out = append(out, barsChart(a, t)...)
		}
	}
	return out
}

// number reads a cell as a finite number.
func number(t answer.Table, row []any, col int) (float64, bool) {
	if col < 0 {
		return 0, false
	}
	v, _ := plain(t.Columns[col], row[col])
	switch x := v.(type) {
	case float64:
		return x, true
	case int:
		return float64(x), true
	}
	return 0, false
}

// word reads a cell as text; a date is ISO text.
func word(t answer.Table, row []any, col int) string {
	if col < 0 {
		return ""
	}
	switch v, _ := plain(t.Columns[col], row[col]); x := v.(type) {
	case string:
		return x
	case time.Time:
		return x.Format(dateLayout)
	}
	return ""
}

// curveChart draws the curves of a table: in steps, or straight from one
// known time to the next where rows between are withheld.
func curveChart(a answer.Answer, t answer.Table) []plotted {
	group, cause, time, estimate := column(t, "group"), column(t, "cause"), column(t, "time"), column(t, "estimate")
	if time < 0 || estimate < 0 {
		return nil
	}
	p := plotted{kind: excelize.Scatter, title: a.Question, x: "Time (days)", share: a.Method != "mean-cumulative"}
	at := map[string]int{}
	atRisk, events, censored := column(t, "at_risk"), column(t, "events"), column(t, "censored")
	whole := len(a.Hidden) == 0 && !slices.ContainsFunc(a.Cautions, func(c answer.Caution) bool { return c.Code == "times-hidden" })
	for _, r := range t.Rows {
		name := word(t, r, group)
		if c := word(t, r, cause); c != "" {
			if name = name + ", " + c; word(t, r, group) == "all" {
				name = c
			}
		}
		// More ended than were left: the row stands for a stretch of time.
		n, _ := number(t, r, atRisk)
		e, _ := number(t, r, events)
		c, _ := number(t, r, censored)
		whole = whole && (atRisk < 0 || e+c <= n)
		x, ok := number(t, r, time)
		y, known := number(t, r, estimate)
		if !ok || !known {
			whole = false
			continue
		}
		k, seen := at[name]
		if !seen {
			k = len(p.series)
			at[name] = k
			p.series = append(p.series, plottedSeries{name: name})
		}
		p.series[k].x, p.series[k].y = append(p.series[k].x, x), append(p.series[k].y, y)
		p.share = p.share && y >= 0 && y <= 1
	}
	for k := range p.series {
		if whole {
			p.series[k].steps()
		}
	}
	if p.y = "Share"; !p.share {
		p.y = "Mean number"
	}
	return p.sound()
}

// steps turns points into the corners of steps, without those that change
// nothing to be seen.
func (s *plottedSeries) steps() {
	if len(s.y) == 0 {
		return
	}
	lo, hi := s.y[0], s.y[0]
	for _, v := range s.y {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	x, y := []any{s.x[0]}, []float64{s.y[0]}
	for i := 1; i < len(s.y); i++ {
		last := y[len(y)-1]
		if math.Abs(s.y[i]-last) <= (hi-lo)/2000 && i+1 < len(s.y) {
			continue
		}
		x, y = append(x, s.x[i]), append(y, last)
		if s.y[i] != last {
			x, y = append(x, s.x[i]), append(y, s.y[i])
		}
	}
	s.x, s.y = x, y
}

// pointsCharts draws charts over time, one a series, with centre and limits.
func pointsCharts(a answer.Answer, t answer.Table) []plotted {
	series, period := column(t, "series"), column(t, "period")
	if period < 0 {
		return nil
	}
	names := []string{"value", "centre", "lower", "upper"}
	var out []plotted
	at := map[string]int{}
	for _, r := range t.Rows {
		if _, ok := number(t, r, column(t, "value")); !ok {
			continue
		}
		name := word(t, r, series)
		k, seen := at[name]
		if !seen {
			k = len(out)
			at[name] = k
			p := plotted{kind: excelize.Line, title: a.Question, x: "Period", y: name}
			if name == "all" || name == "" {
				p.y = "Value"
			}
			for i, n := range names {
				p.series = append(p.series, plottedSeries{name: n, thin: i > 0})
			}
			out = append(out, p)
		}
		for i, n := range names {
			v, ok := number(t, r, column(t, n))
			if !ok {
				v = math.NaN() // an empty cell: the line breaks there
			}
			s := &out[k].series[i]
			s.x, s.y = append(s.x, word(t, r, period)), append(s.y, v)
		}
	}
	var sound []plotted
	for _, p := range out {
		sound = append(sound, p.sound()...)
	}
	return sound
}

// barsChart draws counts, or weights where every bar has one, as bars.
func barsChart(a answer.Answer, t answer.Table) []plotted {
	category, value := column(t, "category"), "weight"
	for _, r := range t.Rows {
		if _, ok := number(t, r, column(t, "weight")); !ok {
			value = "count"
		}
	}
	if category < 0 {
		return nil
	}
	s := plottedSeries{name: value}
	for _, r := range t.Rows {
		if v, ok := number(t, r, column(t, value)); ok {
			s.x, s.y = append(s.x, word(t, r, category)), append(s.y, v)
		}
	}
	return plotted{kind: excelize.Bar, title: a.Question, y: map[string]string{"weight": "Weight", "count": "Count"}[value], series: []plottedSeries{s}}.sound()
}

// sound gives the chart with the lines that have anything to draw, or none.
func (p plotted) sound() []plotted {
	var kept []plottedSeries
	for _, s := range p.series {
		n := 0
		for _, v := range s.y {
			if !math.IsNaN(v) {
				n++
			}
		}
		if n > 1 || n == 1 && p.kind == excelize.Bar {
			kept = append(kept, s)
		}
	}
	if p.series = kept; len(kept) == 0 || len(kept) > mostCharted || p.kind == excelize.Bar && len(kept[0].y) > mostCharted {
		return nil
	}
	return []plotted{p}
}

// chartsSheet lays the lines of all charts side by side, and notes where each
// stands. It is nil where no answer has a chart.
func chartsSheet(all [][]plotted, answers []answer.Answer, st styles, contents string) *grid {
	g := &grid{frozen: 4}
	g.set(0, 0, "What the charts are drawn from", st.title)
	g.link(1, 0, contents, contentsName, st.link)
	g.set(1, 1, "Steps are written by their corners; what is withheld is not here.", st.quiet)
	col := 0
	for i, list := range all {
		for c := range list {
			for k := range list[c].series {
				s := &list[c].series[k]
				s.at = [2]int{col, 4}
				g.set(2, col, answers[i].ID, st.bold)
				head := "time"
				if list[c].kind != excelize.Scatter {
					head = map[excelize.ChartType]string{excelize.Line: "period", excelize.Bar: "category"}[list[c].kind]
				}
				g.set(3, col, head, st.head)
				g.set(3, col+1, s.name, st.headRight)
				g.widen(col, 14)
				g.widen(col+1, math.Min(float64(len(s.name))+3, 30))
				for r, v := range s.y {
					style := st.text
					if _, ok := s.x[r].(float64); ok {
						style = st.of(answer.Column{Name: "time"}, s.x[r])
					}
					g.set(4+r, col, s.x[r], style)
					if !math.IsNaN(v) {
						g.set(4+r, col+1, v, st.of(answer.Column{}, v))
					}
				}
				col += 3
			}
		}
	}
	if col == 0 {
		return nil
	}
	return g
}

// The colours and dashes of lines, as the report's figures have them.
var (
	lineColours = []string{"0072B2", "D55E00", "000000", "009E73", "CC79A7", "56B4E9", "E69F00"}
	lineDashes  = []excelize.LineDashType{excelize.LineDashSolid, excelize.LineDashDash, excelize.LineDashSysDot, excelize.LineDashLgDashDot, excelize.LineDashSysDash, excelize.LineDashLgDashDotDot}
)

// chart makes the chart of what is plotted, its data on a sheet.
func (p plotted) chart(sheet string) *excelize.Chart {
	span := func(col, row, n int) string {
		from, _ := excelize.CoordinatesToCellName(col+1, row+1, true)
		to, _ := excelize.CoordinatesToCellName(col+1, row+n, true)
		return fmt.Sprintf("'%s'!%s:%s", sheet, from, to)
	}
	font := excelize.Font{Family: "Liberation Sans", Size: 9, Color: "555555"}
	words := func(t string, size float64) excelize.ChartTitle {
		if t == "" {
			return excelize.ChartTitle{}
		}
		f := font
		f.Size, f.Color, f.Bold = size, "222222", true
		return excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: shortText(cellText(t), 160), Font: &f}}}
	}
	c := &excelize.Chart{Type: p.kind, Title: words(p.title, 11), Dimension: excelize.ChartDimension{Width: chartWide, Height: chartTall},
		Legend: excelize.ChartLegend{Position: "bottom", Font: &font}, ShowBlanksAs: "gap",
		Format: excelize.GraphicOptions{Positioning: "oneCell", AltText: p.words()},
		XAxis:  excelize.ChartAxis{Font: font, Title: words(p.x, 9)}, YAxis: excelize.ChartAxis{Font: font, Title: words(p.y, 9), MajorGridLines: true}}
	if len(p.series) == 1 {
		c.Legend.Position = "none"
	}
	zero := 0.0
	c.YAxis.Minimum = &zero
	for _, s := range p.series {
		for _, v := range s.y {
			if v < 0 {
				c.YAxis.Minimum = nil
			}
		}
	}
	if p.share {
		c.YAxis.NumFmt = excelize.ChartNumFmt{CustomNumFmt: "0%"}
		for _, s := range p.series {
			if one := 1.0; slices.Max(s.y) > 0.5 {
				c.YAxis.Maximum = &one
			}
		}
	}
	switch p.kind {
	case excelize.Scatter:
		c.XAxis.Minimum = &zero
	case excelize.Bar: // the first at the top, as in the table
		c.XAxis.ReverseOrder = true
		gap := uint(45)
		c.GapWidth = &gap
	}
	solid := func(colour string) excelize.Fill {
		return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{colour}}
	}
	for k, s := range p.series {
		name, _ := excelize.CoordinatesToCellName(s.at[0]+2, s.at[1], true)
		colour := lineColours[k%len(lineColours)]
		line := excelize.LineOptions{Type: excelize.LineSolid, Width: 1.75, Dash: lineDashes[k%len(lineDashes)]}
		marker := excelize.ChartMarker{Symbol: "none"}
		if s.thin {
			line.Width, line.Dash = 1, map[bool]excelize.LineDashType{true: excelize.LineDashSolid, false: excelize.LineDashDash}[s.name == "centre"]
		} else if p.kind == excelize.Line {
			marker = excelize.ChartMarker{Symbol: "circle", Size: 6, Fill: solid(colour)}
		}
		if p.kind == excelize.Bar {
			line = excelize.LineOptions{}
		}
		fill := solid(colour) // from which a line has its colour too
		if s.thin {
			fill = solid("555555")
		}
		c.Series = append(c.Series, excelize.ChartSeries{Name: fmt.Sprintf("'%s'!%s", sheet, name), Categories: span(s.at[0], s.at[1], len(s.y)), Values: span(s.at[0]+1, s.at[1], len(s.y)), Fill: fill, Line: line, Marker: marker})
	}
	return c
}

// words describe a chart for those who do not see it.
func (p plotted) words() string {
	kind := map[excelize.ChartType]string{excelize.Scatter: "Curves by time", excelize.Line: "Chart over time", excelize.Bar: "Bars"}[p.kind]
	if p.kind == excelize.Bar {
		return fmt.Sprintf("%s: %s, %d categories; the numbers stand in the table beside it.", kind, p.title, len(p.series[0].y))
	}
	return fmt.Sprintf("%s: %s; the numbers stand in the table beside it.", kind, p.title)
}
