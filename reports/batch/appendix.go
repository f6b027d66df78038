package batch

import (
	"fmt"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"plybook/ingest"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// decisions lists the decisions not yet reviewed by the data cut, and those
// whose day of review has come, with what the chart says since.
// sections are the numbers of the answers.
func (r report) decisions(sections map[string]string) []document.Block {
	out := r.decisionTable("open-decisions", "Open decisions", "Decisions still open, with what the chart has shown since", true, sections)
	return append(out, r.decisionTable("reviewed-decisions", "What became of earlier decisions", "Decisions whose day of review has come, with what the chart has shown since", false, sections)...)
}

func (r report) decisionTable(id, head, caption string, open bool, sections map[string]string) []document.Block {
	var links [][]document.Span // before what was seen since, where a question follows
	t := document.Table{ID: id, Caption: caption,
		Columns: []document.TableColumn{{Head: "Decided on"}, {Head: "What", Wide: true}, {Head: "Who"}, {Head: "Review"}, {Head: "Since then", Wide: true}}}
	for _, d := range r.nb.Decisions() {
		if d.Err != nil || open == (d.Review != nil && *d.Review <= r.today) {
			continue
		}
		review, since := "not set", "no chart follows it"
		if d.Review != nil {
			review = words.Date(*d.Review)
		}
		if s := r.since(d); s != "" {
			since = s
		}
		t.Rows = append(t.Rows, []string{words.Date(d.On), d.What, d.Who, review, since})
		var link []document.Span
		if at := sections[d.Follows]; at != "" && d.Follows != "" {
			link = []document.Span{{Text: "see "}, {Text: at, Link: "#" + d.Follows}, {Text: ": " + since}}
		}
		links = append(links, link)
	}
	if len(t.Rows) == 0 {
		return nil
	}
	if !slices.ContainsFunc(t.Rows, func(row []string) bool { return row[2] != "" }) {
		t.Columns = slices.Delete(t.Columns, 2, 3)
		for k := range t.Rows {
			t.Rows[k] = slices.Delete(t.Rows[k], 2, 3)
		}
	}
	for k, l := range links {
		if l != nil {
			t.Link(k, len(t.Columns)-1, l)
		}
	}
	return []document.Block{document.Heading{Level: 1, Text: head, ID: id + "-list"}, t}
}

// since is what the chart that a decision follows has shown since; empty where
// none follows it.
func (r report) since(d *notebook.Decision) string {
	if d.Follows == "" {
		return ""
	}
	for _, a := range r.answers {
		if s, ok := a.Since[d.Pos.Line]; ok && a.ID == d.Follows {
			return s
		}
	}
	return "the chart could not be drawn"
}

// appendix is what every report ends with; gathered says that the sentences on
// methods stand there and not with the answers.
func (r report) appendix(gathered bool) []document.Block {
	out := []document.Block{
		document.Heading{Level: 1, Text: "Appendix: data used", ID: "data-used"},
		document.Text("Every row read was either used or set aside, and the counts of each sheet add up. Values set aside are single cells that could not be used in rows that were."),
		r.ledger(),
	}
	if r.shifted() {
		out = append(out, document.Text(fmt.Sprintf("All dates of a person were moved together before anything was worked out, by a number of whole weeks that was drawn at random for the person, up to %d days to either side; the day of the data cut was moved along. Times between the dates of one person, and ages, are as in the log. What needs days of the calendar is not answered, and no day of the log stands in this report.", r.nb.Front.ShiftDates)))
	}
	if t, ok := r.problems(); ok {
		out = append(out, document.Heading{Level: 2, Text: "What was set aside or questioned", ID: "set-aside"}, t,
			document.Styled("small", "Each problem, with its file, sheet and cell, is in numbers.xlsx. plybook inspect writes a marked copy of the workbook with the same remarks in place."))
	}
	out = append(out, r.definitions()...)
	out = append(out, r.analysesList(r.listed)...)
	if blocks := r.methods(gathered); len(blocks) > 0 {
		out = append(out, document.Heading{Level: 1, Text: "Appendix: methods", ID: "methods"})
		out = append(out, blocks...)
	}
	return out
}

func (r report) ledger() document.Table {
	t := document.Table{ID: "ledger", Caption: "Rows read, used and set aside, by sheet", Columns: []document.TableColumn{
		{Head: "File", Wide: true}, {Head: "Sheet"}, {Head: "Read", Align: document.Right}, {Head: "Used", Align: document.Right},
		{Head: "Set aside", Align: document.Right}, {Head: "Values set aside", Align: document.Right}}}
	var sum [4]int
	for _, s := range r.log.Sheets {
		sheet := s.Sheet
		if s.Table == "" {
			sheet += " (not part of the log)"
		}
		t.Rows = append(t.Rows, []string{filepath.Base(s.File), strings.TrimSpace(sheet), words.Fixed(float64(s.Read), 0),
			words.Fixed(float64(s.Used), 0), words.Fixed(float64(s.SetAside), 0), words.Fixed(float64(s.ValuesSetAside), 0)})
		for i, n := range []int{s.Read, s.Used, s.SetAside, s.ValuesSetAside} {
			sum[i] += n
		}
	}
	if noSheets(r.log.Sheets) {
		// CSV files have no sheets to name.
		t.Columns = append(t.Columns[:1], t.Columns[2:]...)
		for i, row := range t.Rows {
			t.Rows[i] = append(row[:1], row[2:]...)
		}
	}
	total := []string{"All", ""}[:len(t.Columns)-4]
	for _, n := range sum {
		total = append(total, words.Fixed(float64(n), 0))
	}
	t.Strong = []int{len(t.Rows)}
	t.Rows = append(t.Rows, total)
	return t
}

func noSheets(sheets []ingest.Sheet) bool {
	for _, s := range sheets {
		if s.Sheet != "" || s.Table == "" {
			return false
		}
	}
	return true
}

// problems counts the problems by kind and by what was done.
func (r report) problems() (document.Table, bool) {
	kinds := r.kinds
	t := document.Table{ID: "problems", Caption: "Problems in the log, by kind", Columns: []document.TableColumn{
		{Head: "Problem", Wide: true}, {Head: "What was done"}, {Head: "Times", Align: document.Right}}}
	for _, k := range kinds {
		t.Rows = append(t.Rows, []string{words.Capital(strings.ReplaceAll(k.Code, "-", " ")), k.Done, words.Fixed(float64(k.Count), 0)})
	}
	return t, len(kinds) > 0
}

// methods gathers the references of all answers, each once, and says where the
// sentences on methods stand.
func (r report) methods(gathered bool) []document.Block {
	var refs []string
	seen := map[string]bool{}
	for _, a := range r.answers {
		for _, ref := range a.References {
			if !seen[ref] {
				seen[ref] = true
				refs = append(refs, ref)
			}
		}
	}
	where := "The sentence under each answer says how it was worked out and can be taken into a paper."
	if gathered {
		where = "How each answer was worked out, by its number, to be taken into a paper. A sentence that holds for several questions stands with the first."
	}
	out := []document.Block{document.Text(where + " All computations were made with plybook " + r.release + ".")}
	if len(refs) > 0 {
		sort.Strings(refs)
		l := document.List{}
		for _, ref := range refs {
			l.Items = append(l.Items, []document.Span{{Text: ref}})
		}
		out = append(out, document.Heading{Level: 2, Text: "References", ID: "references"}, l)
	}
	return out
}
