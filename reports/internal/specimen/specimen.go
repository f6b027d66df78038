// Package specimen holds an invented report with every kind of block, long
// tables, long words and several figures. The tests of the writers set it;
// the program does not import it.
package specimen

import (
	"fmt"
	"math"
	"strings"

	"plybook/reports/document"
)

// Report is the specimen. Every call gives an equal document.
func Report() *document.Document {
	doc := &document.Document{
		Title:    "Fit review, third quarter",
		Subtitle: "Definitive transtibial sockets, both sites",
		Author:   "Prosthetics lab, quality meeting",
		Language: "en-GB",
		Date:     "2026-09-30",
		Foot:     "Data to 2026-09-30 · plybook 0.1.0",
		Mark:     "For internal review, not for release",
		Cover: []document.Pair{
			{Label: "Log", Text: "4 workbooks, 12,418 rows read, 12,377 used, 41 set aside"},
			{Label: "Sockets at risk", Text: "1 January 2024 to 30 September 2026"},
			{Label: "Cohort", Text: "612 sockets of 401 limbs of 371 persons"},
			{Label: "Small cells", Text: "Shown; this report is for the lab's own meeting and has persons by code only. Do not pass it on outside the lab."},
		},
	}
	doc.Blocks = append(doc.Blocks, answers()...)
	doc.Blocks = append(doc.Blocks, regression()...)
	doc.Blocks = append(doc.Blocks, notes()...)
	doc.Blocks = append(doc.Blocks, appendix()...)
	return doc
}

func span(s string) document.Span { return document.Span{Text: s} }

func answers() []document.Block {
	return []document.Block{
		document.Heading{Level: 1, Text: "How long do definitive sockets last?", ID: "longevity"},
		document.Styled("lead", "Half of the sockets are remade within 21 months of delivery (95% interval 18 to 25). "+
			"Sockets over a cast taken under suction were remade less often in the first year, 24% against 33%."),
		document.Paragraph{Spans: []document.Span{
			span("Of "), {Text: "612 sockets", Bold: true}, span(" delivered in the window, "), {Text: "248 were remade", Bold: true},
			span(" and 31 ended for another reason; the rest are "), {Text: "still worn or were last seen earlier", Italic: true},
			span(". The event is any remake, as in "), {Text: "event: remake", Code: true},
			span("; a reline or a refit is an action and not a remake. The curve is drawn faint where fewer than ten sockets are at risk. See "),
			{Text: "the reasons behind the remakes", Link: "#reasons"}, span(" and the "),
			{Text: "published method", Link: "https://example.org/method?a=1&b=2"}, span(" for details.")}},
		document.Figure{Figure: Survival("curve"), Caption: "Share of definitive sockets not yet remade, by casting method, with pointwise 95% bands and the number at risk below. Sockets last seen earlier are censored then."},
		document.Table{ID: "at-times", Caption: "Sockets not yet remade at chosen times",
			Columns: []document.TableColumn{{Head: "Casting"}, {Head: "Months", Align: document.Right}, {Head: "At risk", Align: document.Right},
				{Head: "Remade so far", Align: document.Right}, {Head: "Not yet remade", Align: document.Right}, {Head: "95% interval", Align: document.Right}},
			Rows: [][]string{
				{"By hand", "3", "288", "21", "93%", "90 to 96%"}, {"", "12", "171", "94", "67%", "61 to 72%"}, {"", "24", "62", "142", "43%", "37 to 49%"},
				{"Under suction", "3", "271", "11", "96%", "93 to 98%"}, {"", "12", "188", "66", "76%", "71 to 81%"}, {"", "24", "71", "106", "55%", "48 to 61%"},
				{"All", "12", "359", "160", "71%", "68 to 75%"},
			}, Strong: []int{6},
			Notes: []string{"Kaplan-Meier estimate; intervals on the log-log scale, grouped by person (infinitesimal jackknife). Differences of ≥ 5 points matter to the lab."}},
		document.Note{Kind: "caution", Title: "12% of the open sockets were not seen in the last 12 months", Paras: []document.Paragraph{
			document.Text("The first-year figure is 71% when they are censored where they were last seen, and 74% when they are followed to 30 September 2026 unless moved, lost or dead."),
			document.Styled("small", "Open sockets not seen for a year: by hand 15%, under suction 9%.")}},
		document.Heading{Level: 2, Text: "Reasons behind the remakes", ID: "reasons"},
		document.Text("Three reasons make up two thirds of all remakes. Volume loss leads in the first year, breakage or wear after the second."),
		document.Figure{Figure: Bars("reasons-bars"), Caption: "Remakes by reason."},
		document.Figure{Figure: Bars("regions-bars"), Caption: "Pressure spots by region, in visits with the skin checked."},
		document.Heading{Level: 3, Text: "What the meeting resolved", ID: "resolved"},
		document.Note{Kind: "decision", Title: "2 March 2026", Paras: []document.Paragraph{
			document.Text("Measure the limb again on the day of delivery. Lead prosthetist. To be reviewed on 1 October 2026. Since then: 14 of 61 sockets (23%) needed a new check socket, against 31% before; within the limits of the chart.")}},
		document.List{Items: [][]document.Span{
			{span("Casts are taken with the same sock that the person arrives in.")},
			{span("A reduction of "), {Text: "more than 4%", Bold: true}, span(" at mid-length is signed off by a second prosthetist, and the reason is written on the card, so that the next meeting can tell a choice from a slip.")},
			{span("Circumferences are in mm².")}}},
		document.List{Ordered: true, Items: [][]document.Span{{span("Look at the list of open sockets.")}, {span("Call those not seen for a year.")}}},
	}
}

func regression() []document.Block {
	wide := document.Table{ID: "terms", Caption: "Hazard of remake: terms of the model, 248 remakes of 612 sockets, 371 persons as clusters",
		Columns: []document.TableColumn{{Head: "Term"}, {Head: "Level"}, {Head: "Reference"}, {Head: "Estimate", Align: document.Right}, {Head: "Standard error", Align: document.Right},
			{Head: "Robust standard error", Align: document.Right}, {Head: "Hazard ratio", Align: document.Right}, {Head: "95% interval", Align: document.Right},
			{Head: "z", Align: document.Right}, {Head: "p", Align: document.Right}, {Head: "Events", Align: document.Right}}}
	for i, t := range []string{"Casting method", "Cause of amputation", "Age at delivery", "Months since amputation", "Liner thickness", "Site", "Sequence of the socket on the limb"} {
		e := 0.31 - 0.1*float64(i)
		wide.Rows = append(wide.Rows, []string{t, "under suction", "by hand", fmt.Sprintf("%.3f", e), "0.131", "0.148", fmt.Sprintf("%.2f", math.Exp(e)), "0.72 to 0.98", "−2.09", "0.037", fmt.Sprint(90 + 31*i)})
	}
	wide.Rows = append([][]string{{"Made in the lab: what the prosthetist decides on the day of the cast"}}, wide.Rows...)
	wide.Rows = append(wide.Rows[:2], append([][]string{{"Known before, and so adjusted for"}}, wide.Rows[2:]...)...)
	wide.Strong = []int{0, 2}
	many := document.Table{ID: "wide", Caption: "Sockets delivered, by month and site"}
	many.Columns = append(many.Columns, document.TableColumn{Head: "Site"})
	for i := range 24 {
		many.Columns = append(many.Columns, document.TableColumn{Head: fmt.Sprintf("%d-%02d", 2024+i/12, i%12+1), Align: document.Right})
	}
	for _, s := range []string{"North site", "South site", "Both"} {
		row := []string{s}
		for i := range 24 {
			row = append(row, fmt.Sprint(1017+(i*7)%40))
		}
		many.Rows = append(many.Rows, row)
	}
	many.Strong = []int{2}
	return []document.Block{
		document.Heading{Level: 1, Text: "What shortens the life of a socket?", ID: "hazard"},
		document.Styled("lead", "Sockets cast under suction were remade at 0.76 times the rate of those cast by hand (95% interval 0.60 to 0.97), age, cause and months since amputation being equal."),
		wide,
		document.Styled("small", "Cox regression, Efron's handling of ties, standard errors grouped by person. Cox DR. Regression models and life-tables. J R Stat Soc B 1972;34:187–220."),
		document.Heading{Level: 2, Text: "Caseload", ID: "caseload"},
		many,
	}
}

func notes() []document.Block {
	return []document.Block{
		document.Heading{Level: 1, Text: "Safety and remarks", ID: "safety"},
		document.Note{Kind: "safety", Title: "Skin breakdown", Paras: []document.Paragraph{document.Text("Three open sockets have an ulcer or a blister recorded at the last visit. Refer according to local practice. For review by licensed clinicians; not a diagnosis.")}},
		document.Note{Kind: "error", Title: "The ask “turnaround” failed", Paras: []document.Paragraph{{Spans: []document.Span{{Text: "quarter.md:41:7: ", Code: true}, span("there is no column “refered” on sockets; the nearest is “referred”.")}}}},
		document.Note{Kind: "info", Title: "How to read the bands", Paras: []document.Paragraph{document.Text("If the same lab's work were repeated many times, 95 of 100 such bands would hold the true share at a given month.")}},
		document.Note{Kind: "caution"},
		document.Styled("quiet", "Characters of other scripts: café, Łódź, Ångström, α β γ Ω, ± × ≤ ≥ ≠ ≈ − – — “quoted” ‘so’ … • ½ m² H₂O → ← √ ∞, ž š č, Привет, and what the fonts lack: 中文, שלום, 🙂, ✓."),
		document.Text("A word longer than the line: " + strings.Repeat("circumference", 12) + " and a path such as log/2026/third-quarter/north-site/transtibial/visits_and_findings_of_the_whole_year.xlsx in running text, wrapped."),
	}
}

func appendix() []document.Block {
	long := document.Table{ID: "set-aside", Caption: "Rows and values set aside",
		Columns: []document.TableColumn{{Head: "Cell"}, {Head: "Found"}, {Head: "What was expected", Wide: true}, {Head: "Rows", Align: document.Right}}}
	for i := range 96 {
		long.Rows = append(long.Rows, []string{
			fmt.Sprintf("visits.xlsx:Visits!D%d", 17+i), fmt.Sprintf("%d,x", i),
			[]string{"a time such as 14:30; the value is set aside", "a comfort score between 0 and 10; the value is set aside and the visit is kept, since its other columns are sound",
				"a date not decades outside the log; the row is set aside"}[i%3], fmt.Sprint(1 + i%4)})
	}
	long.Rows = append(long.Rows, []string{"visits.xlsx:Remarks!AA1048576", "an-identifier-without-any-break-0123456789-abcdefghijklmnopqrstuvwxyz", strings.Repeat("A cell with far more text than a row should hold. ", 60), "1"})
	long.Rows = append(long.Rows, []string{"All", "", "", "241"})
	long.Strong = []int{len(long.Rows) - 1}
	return []document.Block{
		document.PageBreak{},
		document.Heading{Level: 1, Text: "Appendix: data used and set aside", ID: "data"},
		document.Text("Every row read is either used or set aside, and the counts add up."),
		long,
		document.Table{ID: "none", Caption: "Problems in identifying columns", Columns: []document.TableColumn{{Head: "Cell"}, {Head: "What was done"}}},
		document.Heading{Level: 2, Text: "The questions as asked", ID: "asked"},
		document.Code{Text: "id: longevity\nquestion: How long do definitive transtibial sockets last?\nmethod: kaplan-meier\nrows: sockets\nkeep: {kind: definitive, level: transtibial}\nevent: remake\nby: cast_method\ntimes: [90d, 1y, 2y]\nnote: " + strings.Repeat("a long remark that does not fit in one line ", 5)},
		document.KeepTogether{Blocks: []document.Block{
			document.Heading{Level: 2, Text: "Methods <em>&amp; references</em>", ID: "methods"},
			document.Text("Text with <script>alert(1)</script> & \"quotes\" is text."),
			document.Paragraph{Spans: []document.Span{{Text: "A link that is not one", Link: "javascript:alert(1)"}, span(" and one to nowhere, "), {Text: "here", Link: "#nowhere"}, span(".")}},
		}},
		document.Heading{Level: 1, Text: "Notes without a number", ID: "quiet", Quiet: true},
		document.Text("Quiet heads are in neither contents nor outline."),
	}
}
