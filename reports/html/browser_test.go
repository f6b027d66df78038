package html

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"plybook/reports/browser"
	"plybook/reports/document"
)

// opened is a document as a page in a browser.
func opened(t *testing.T, doc *document.Document, o browser.Options) *browser.Page {
	t.Helper()
	b := browser.Start(t)
	file := filepath.Join(t.TempDir(), "page.html")
	if err := os.WriteFile(file, []byte(render(t, doc)), 0o600); err != nil {
		t.Fatal(err)
	}
	return b.Open(t, file, o)
}

func columns(heads ...string) []document.TableColumn {
	out := make([]document.TableColumn, len(heads))
	for i, h := range heads {
		out[i].Head = h
	}
	return out
}

// A table is sorted from its head, by mouse and by keyboard: upwards,
// downwards, and back; what is hidden or missing and totals stay last.
func TestTablesSort(t *testing.T) {
	doc := &document.Document{Title: "Sorting", Blocks: []document.Block{
		document.Table{ID: "sorted", Caption: "Sockets", Columns: columns("Method", "Sockets", "Change", "Since"), Strong: []int{6}, Rows: [][]string{
			{"vacuum", "1,204 (61%)", "−0.4", "3 March 2026"},
			{"hand", "97", "0.2", "28 February 2026"},
			{"digital", "< 11", "", "12 May 2025"},
			{"other", "hidden", "−1.5", "1 December 2025"},
			{"method 10", "0", "3", "2 May 2025"},
			{"method 9", "about 370", "0.15", "1 January 2026"},
			{"all", "1,700", "0", "1 January 2020"},
		}},
		document.Table{ID: "grouped", Caption: "By site", Columns: columns("Site", "Sockets"), Strong: []int{0}, Rows: [][]string{{"North", ""}, {" vacuum", "2"}, {" hand", "1"}, {"South", "9"}}},
	}}
	p := opened(t, doc, browser.Options{})
	order := func() string {
		var s string
		p.Run(t, `[...document.querySelectorAll("#sorted tbody tr")].map(r=>r.cells[0].textContent).join(" ")`, &s)
		return s
	}
	sorts := func() string {
		var s string
		p.Run(t, `[...document.querySelectorAll("#sorted thead th")].map(h=>h.getAttribute("aria-sort")||"-").join(" ")`, &s)
		return s
	}
	asPrinted := order()
	click := func(column int) {
		t.Helper()
		p.Run(t, `document.querySelectorAll("#sorted thead button")[`+string(rune('0'+column))+`].click()`, nil)
	}
	for _, c := range []struct {
		column     int
		want, said string
	}{
		{0, "digital hand method 9 method 10 other vacuum all", "ascending - - -"},
		{1, "method 10 digital hand method 9 vacuum other all", "- ascending - -"},
		{1, "vacuum method 9 hand digital method 10 other all", "- descending - -"},
		{1, asPrinted, "- - - -"},
		{2, "other vacuum method 9 hand method 10 digital all", "- - ascending -"},
		{3, "method 10 digital other method 9 hand vacuum all", "- - - ascending"},
	} {
		click(c.column)
		if got := order(); got != c.want || sorts() != c.said {
			t.Errorf("column %d: %q and %q, want %q and %q", c.column, got, sorts(), c.want, c.said)
		}
	}
	p.Run(t, `document.querySelectorAll("#sorted thead button")[0].focus()`, nil)
	p.Press(t, "Enter")
	p.Press(t, " ")
	if got := order(); got != "vacuum other method 10 method 9 hand digital all" {
		t.Errorf("by keyboard: %q", got)
	}
	var buttons int
	p.Run(t, `document.querySelectorAll("#grouped thead button").length`, &buttons)
	if buttons != 0 {
		t.Error("a table whose rows belong to others can be sorted")
	}
}

// kept keeps what a page saves.
const kept = `window.kept=[];const make=URL.createObjectURL;URL.createObjectURL=b=>{window.kept.push(b);return make.call(URL,b)};`

// A table is saved as it is printed: a spreadsheet cannot take a cell for a
// formula, and what is hidden is not in it.
// https://owasp.org/www-community/attacks/CSV_Injection names the signs.
func TestTablesAreSavedInert(t *testing.T) {
	rows := [][]string{
		{"=1+1", "−0.43", "5"},
		{"+cmd", "-1,200.5", "< 11"},
		{"@sum", "−0.4 (−1 to 2)", "hidden"},
		{" \u00a0=x", "＝x", "a, \"b\"\nc"},
		{"'=x", "-", "61%"},
		{"Site", "", ""},
		{"plain", "-x", "x=1"},
	}
	doc := &document.Document{Title: "Saving", Blocks: []document.Block{
		document.Table{ID: "saved", Caption: "Sockets", Columns: columns("=Head", "b", "c"), Rows: rows, Strong: []int{5}}}}
	p := opened(t, doc, browser.Options{Before: kept})
	p.Run(t, `document.querySelector("#saved .tool").click()`, nil)
	var text string
	p.Run(t, `window.kept[0].arrayBuffer().then(b=>new TextDecoder("utf-8",{ignoreBOM:true}).decode(b))`, &text)
	text, marked := strings.CutPrefix(text, "\ufeff")
	if !marked {
		t.Error("the file does not begin with the mark by which a spreadsheet knows its encoding")
	}
	got, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	want := [][]string{
		{"'=Head", "b", "c"},
		{"'=1+1", "-0.43", "5"},
		{"'+cmd", "-1,200.5", "< 11"},
		{"'@sum", "−0.4 (−1 to 2)", "hidden"},
		{"'=x", "'＝x", `a, "b" c`},
		{"''=x", "'-", "61%"},
		{"Site", "", ""},
		{"plain", "'-x", "x=1"},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("saved\n%q\nwant\n%q", got, want)
	}
	if said := p.Console(); len(said) > 0 {
		t.Errorf("on the console: %v", said)
	}
}

// Without scripts everything is there to read, and nothing that would do
// nothing.
func TestPageWithoutScripts(t *testing.T) {
	doc := &document.Document{Title: "Still", Blocks: []document.Block{
		document.Table{ID: "t", Caption: "Sockets", Columns: columns("a", "b"), Rows: [][]string{{"x", "1"}, {"y", "2"}, {"z", "3"}}}}}
	with, without := opened(t, doc, browser.Options{}), opened(t, doc, browser.Options{NoScripts: true})
	var a, b int
	with.Run(t, `document.querySelectorAll("button").length`, &a)
	without.Run(t, `document.querySelectorAll("button").length`, &b)
	if a != 3 || b != 0 {
		t.Errorf("%d buttons with scripts and %d without, want 3 and 0", a, b)
	}
}
