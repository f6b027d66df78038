package convention

import (
	"testing"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/typeface"
)

// A question in short is written over but for what the lab wrote itself.
func TestRow(t *testing.T) {
	spans := func(texts ...string) (out []document.Span) {
		for _, s := range texts {
			out = append(out, document.Span{Text: s})
		}
		return out
	}
	cell := document.Cell{ID: "a", Question: "By 1.5 mm?", Figure: &figure.Figure{Description: "Up to 3.5."},
		Answer: []document.Paragraph{{Spans: spans("81.4% of 1,200.")}},
		Lines:  []document.Line{{Mark: 2, Spans: spans("1 July 2025.", " More than 5.5 mm apart.", " Since then: 46.1.")}}}
	given := document.Row{Cells: []document.Cell{cell}, Notes: []document.FootNote{{Number: 3, Text: "On average 4.4."}}}
	got := Style{Comma: true, Dates: YearFirst}.Blocks([]document.Block{given}, "More than 5.5 mm apart")[0].(document.Row)
	c := got.Cells[0]
	for _, x := range [][2]string{{c.Question, "By 1.5 mm?"}, {c.Answer[0].Spans[0].Text, "81,4% of 1\u00a0200."}, {c.Lines[0].Spans[0].Text, "2025-07-01."},
		{c.Lines[0].Spans[1].Text, " More than 5.5 mm apart."}, {c.Lines[0].Spans[2].Text, " Since then: 46,1."}, {got.Notes[0].Text, "On average 4,4."}, {c.Figure.Description, "Up to 3,5."}} {
		if x[0] != x[1] {
			t.Errorf("%q, want %q", x[0], x[1])
		}
	}
	if cell.Answer[0].Spans[0].Text != "81.4% of 1,200." || given.Notes[0].Text != "On average 4.4." || c.Lines[0].Mark != 2 {
		t.Error("the row given was changed")
	}
}

// ISO 80000-1:2022, 7.3.2: the decimal sign is a comma or a point on the
// line; groups of three digits may be set apart by a small space, never by a
// comma or a point.
func TestText(t *testing.T) {
	comma := Style{Comma: true}
	for _, c := range []struct {
		style Style
		text  string
		want  string
	}{
		{comma, "0.57 (95% interval 0.41 to 0.95)", "0,57 (95% interval 0,41 to 0,95)"},
		{comma, "14,035 rows, 1,234,567.5 ml, 3,5", "14\u00a0035 rows, 1\u00a0234\u00a0567,5 ml, 3,5"},
		{comma, "p = 0.03.", "p = 0,03."},
		{comma, "write `limit: 2.8` for 2.8%", "write `limit: 2.8` for 2,8%"},
		{comma, "1.5 ` 2.5", "1,5 ` 2,5"},
		{comma, "−4.2% and <0.001", "−4,2% and <0,001"},
		{comma, "plybook 0.1.0 and v2.77 and log/visits-2.1.xlsx", "plybook 0.1.0 and v2.77 and log/visits-2.1.xlsx"},
		{comma, "doi 10.1002/sim.1", "doi 10.1002/sim.1"},
		{comma, "2023,2024 and 1,23", "2023,2024 and 1,23"},
		{comma, "see 3.2.", "see 3,2."},
		{comma, "to 30 June 2026", "to 30 June 2026"},
		{Style{}, "0.57", "0.57"},
		{Style{Dates: DayFirst}, "1 July 2023", "1 July 2023"},
		{Style{Dates: MonthFirst}, "from 1 July 2023 to 30 June 2026", "from July 1, 2023 to June 30, 2026"},
		{Style{Dates: YearFirst}, "from 1 July 2023", "from 2023-07-01"},
		{Style{Comma: true, Dates: YearFirst}, "1 July 2023: 0.5", "2023-07-01: 0,5"},
	} {
		if got := c.style.Text(c.text); got != c.want {
			t.Errorf("%+v: %q becomes %q, want %q", c.style, c.text, got, c.want)
		}
	}
}

func TestBlocksLeaveWhatTheLabWrote(t *testing.T) {
	fig := &figure.Figure{ID: "a", Description: "from 0.1", Values: []figure.Value{{Series: "0.2", Where: "1.5 years", Text: "78.5%"}}, Width: 100, Height: 100, Draw: func(c draw.Canvas) {
		c.FillString(font.DefaultCache.Lookup(typeface.Regular.Plot(10), 10), vg.Point{}, "0.5")
	}}
	in := []document.Block{
		document.Heading{Text: "Above 3,500?"},
		document.Text("3,500 mm or so"),
		document.Text("3,500 mm"),
		document.Paragraph{Spans: []document.Span{{Text: "limit: 0.5", Code: true}, {Text: "0.5"}}},
		document.Table{Columns: []document.TableColumn{{Head: "p"}}, Rows: [][]string{{"0.5"}}, Notes: []string{"0.6"}},
		document.KeepTogether{Blocks: []document.Block{document.Note{Paras: []document.Paragraph{document.Text("0.7")}}}},
		document.List{Items: [][]document.Span{{{Text: "0.8"}}}},
		document.Figure{Figure: fig, Caption: "0.9"},
		document.Code{Text: "0.5"},
	}
	out := Style{Comma: true}.Blocks(in, "3,500 mm or so")
	span := func(i, k int) string { return out[i].(document.Paragraph).Spans[k].Text }
	drawn := &recorder.Canvas{}
	f := out[7].(document.Figure)
	f.Figure.Draw(draw.NewCanvas(drawn, 100, 100))
	said := ""
	for _, a := range drawn.Actions {
		if s, ok := a.(*recorder.FillString); ok {
			said = s.String
		}
	}
	for i, pair := range [][2]string{
		{out[0].(document.Heading).Text, "Above 3,500?"},
		{span(1, 0), "3,500 mm or so"},
		{span(2, 0), "3\u00a0500 mm"},
		{span(3, 0), "limit: 0.5"},
		{span(3, 1), "0,5"},
		{out[4].(document.Table).Rows[0][0], "0,5"},
		{out[4].(document.Table).Notes[0], "0,6"},
		{out[5].(document.KeepTogether).Blocks[0].(document.Note).Paras[0].Spans[0].Text, "0,7"},
		{out[6].(document.List).Items[0][0].Text, "0,8"},
		{f.Caption, "0,9"},
		{f.Figure.Description, "from 0,1"},
		{f.Figure.Values[0].Series + " " + f.Figure.Values[0].Where + " " + f.Figure.Values[0].Text, "0,2 1,5 years 78,5%"},
		{said, "0,5"},
		{out[8].(document.Code).Text, "0.5"},
		{in[4].(document.Table).Rows[0][0], "0.5"},
		{fig.Description, "from 0.1"},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%d: %q, want %q", i, pair[0], pair[1])
		}
	}
}

// A drawn number keeps its width, or labels would run into each other.
func TestDrawnNumbersKeepTheirWidth(t *testing.T) {
	m := typeface.NewMeasurer()
	for _, text := range []string{"1,234,567.5", "0.5"} {
		was, is := m.Width(typeface.Regular, text, 10), m.Width(typeface.Regular, Style{Comma: true}.Text(text), 10)
		if d := was - is; d > 0.2 || d < -0.2 {
			t.Errorf("%q is %.2f pt wide, by the convention %.2f", text, was, is)
		}
	}
}

// The number of a section is no decimal, in a link to it or in the text of a
// cell that holds the link; what stands beside it is.
func TestSectionNumbersStay(t *testing.T) {
	in := document.Table{Columns: []document.TableColumn{{Head: ""}}, Rows: [][]string{{""}}}
	in.Link(0, 0, []document.Span{{Text: "see "}, {Text: "6.2", Link: "#fit"}, {Text: ": mean 1.21"}})
	out := Style{Comma: true}.Blocks([]document.Block{in})[0].(document.Table)
	if out.Rows[0][0] != "see 6.2: mean 1,21" || out.Spans[[2]int{0, 0}][1].Text != "6.2" || in.Rows[0][0] != "see 6.2: mean 1.21" {
		t.Errorf("%q, %v", out.Rows, out.Spans)
	}
}
