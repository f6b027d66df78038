package pdf

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"plybook/reports/document"
	"plybook/reports/internal/specimen"
)

// Nothing overtakes what does not fit, of whatever kind it is.
func TestOrderIsKept(t *testing.T) {
	b := func(name string, h float64) box { return box{chapter: name, h: h} }
	fig := func(name string, h float64, n int) box { return box{chapter: name, h: h, float: n} }
	row := func(name string, h float64, n int) box {
		return box{chapter: name, h: h, float: n, part: costShort}
	}
	more := func(name string, h float64, n int) box { // of a table whose head is repeated
		x := row(name, h, n)
		x.head = &box{chapter: "H", h: 10}
		return x
	}
	for name, c := range map[string]struct {
		boxes []box
		want  string
	}{
		"text behind a figure":   {[]box{b("a", 50), fig("F", 60, 1), b("b", 20), b("c", 20)}, "a|Fbc"},
		"a table behind one":     {[]box{b("a", 50), fig("F", 60, 1), row("t", 20, 2), row("u", 20, 2)}, "a|Ftu"},
		"a table moves whole":    {[]box{b("a", 70), row("t", 20, 1), row("u", 40, 1), b("b", 25)}, "a|tub"},
		"a long table is parted": {[]box{b("a", 20), row("t", 40, 1), row("u", 40, 1), row("v", 40, 1)}, "atu|v"},
		"the head comes again": {[]box{b("a", 60), fig("F", 50, 1), row("t", 20, 2), more("u", 20, 2), more("v", 20, 2), more("w", 20, 2),
			more("x", 20, 2), more("y", 20, 2)}, "a|Ftu|Hvwxy"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := names(paginate(c.boxes, 100)); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

// Figures are drawn smaller, as far as they may be, where that lets a page
// hold what belongs on it, and not otherwise.
func TestFiguresGiveWay(t *testing.T) {
	fig := func(name string, h, give float64) box {
		f := box{chapter: name, h: h, give: give}
		f.smaller = func(part float64) box { return box{chapter: name, h: h - part*give} }
		return f
	}
	text := func(name string, h, part float64) box { return box{chapter: name, h: h, part: part} }
	for name, c := range map[string]struct {
		boxes []box
		pages string
		high  []float64 // what takes up each page
	}{
		"both by half of it": {[]box{text("a", 25, costLead), fig("F", 40, 5), fig("G", 40, 5), text("b", 30, 0)}, "aFG|b", []float64{100, 30}},
		"too little to gain": {[]box{text("a", 25, costLead), fig("F", 90, 5), text("b", 30, 0)}, "a|F|b", []float64{25, 90, 30}},
		"no need":            {[]box{text("a", 25, costLead), fig("F", 60, 5), text("b", 30, 0)}, "aF|b", []float64{85, 30}},
	} {
		t.Run(name, func(t *testing.T) {
			pages := paginate(c.boxes, 100)
			if got := names(pages); got != c.pages {
				t.Fatalf("got %s, want %s", got, c.pages)
			}
			for n, h := range c.high {
				if math.Abs(pages[n].used-h) > 1e-9 {
					t.Errorf("page %d is %g high, want %g", n+1, pages[n].used, h)
				}
			}
		})
	}
}

// Every box is on a page, once, whatever is moved; a great many are dealt
// out in good time.
func TestNoBoxIsLost(t *testing.T) {
	var boxes []box
	for i := range 4000 {
		b := box{h: float64(8 + i*7%29), gap: float64(i % 5), part: float64(i % 3), chapter: strconv.Itoa(i) + " "}
		switch {
		case i%97 == 0:
			b.section, b.keep = true, true
		case i%31 < 2:
			b.float, b.h = 1000+i, 150
		}
		boxes = append(boxes, b)
	}
	seen := map[string]int{}
	for n, pg := range paginate(boxes, 400) {
		if pg.used > 400.02 {
			t.Errorf("page %d is %g high", n+1, pg.used)
		}
		for _, b := range pg.boxes {
			seen[b.chapter]++
		}
	}
	for i := range boxes {
		if seen[boxes[i].chapter] != 1 {
			t.Fatalf("box %d is set %d times", i, seen[boxes[i].chapter])
		}
	}
}

func TestLayout(t *testing.T) {
	pages, err := Layout(specimen.Report(), Options{Paper: Letter})
	if err != nil {
		t.Fatal(err)
	}
	chapters, parted := 0, 0
	for n, p := range pages {
		if p.Full <= 0 || p.Full > 1.0001 {
			t.Errorf("page %d is %g full", n+1, p.Full)
		}
		if p.Chapter {
			chapters++
		}
		if p.Parted > 0 {
			parted++
		}
	}
	if len(pages) < 5 || chapters == 0 || parted == 0 || pages[len(pages)-1].Chapter {
		t.Errorf("%d pages, %d before a chapter, %d with a parted table", len(pages), chapters, parted)
	}
	if _, err := Layout(nil, Options{}); err == nil || !strings.Contains(err.Error(), "no document") {
		t.Errorf("without a document: %v", err)
	}
	if _, err := Layout(specimen.Report(), Options{Paper: 9}); err == nil || !strings.Contains(err.Error(), "unknown paper") {
		t.Errorf("on unknown paper: %v", err)
	}
	if _, err := Layout(&document.Document{Blocks: []document.Block{document.Table{ID: "x"}}}, Options{}); err == nil || !strings.Contains(err.Error(), "no columns") {
		t.Errorf("with a faulty table: %v", err)
	}
}

func testMaker() *maker {
	return &maker{p: newPen(newFile(600, 800, time.Time{}), 800), full: fullWidth, measure: textWidth, height: 700, anchors: map[string]bool{}}
}

func TestCautionsAreCompact(t *testing.T) {
	height := func(n document.Note) float64 { return tall(testMaker().note(n), false) }
	doubt := document.Text("The limits rest on 6 periods only: take them as trial limits.")
	one := document.Note{Kind: "caution", Title: "Read with care", Paras: []document.Paragraph{doubt}}
	if h := height(one); h > cautionStyle.lead+10 {
		t.Errorf("one short doubt is %g points high", h)
	}
	four := one
	four.Paras = []document.Paragraph{doubt, doubt, doubt, doubt}
	if h := height(four); h > 5*cautionStyle.lead+16 {
		t.Errorf("four short doubts are %g points high", h)
	}
	four.Kind = "decision"
	if h := height(four); h < 5*noteStyle.lead {
		t.Errorf("a decision is set as small as a caution: %g points", h)
	}
}

func TestNarrowTablesAreFolded(t *testing.T) {
	table := document.Table{Caption: "Reasons", Columns: []document.TableColumn{{Head: "Reason"}, {Head: "Sockets", Align: document.Right}}}
	for i := range 20 {
		table.Rows = append(table.Rows, []string{"Reason number " + strconv.Itoa(i), strconv.Itoa(40 - i)})
	}
	height := func(table document.Table) float64 {
		out, err := testMaker().table(table)
		if err != nil {
			t.Fatal(err)
		}
		for k := range len(out) - 1 {
			if out[k].float == 0 || out[k].float != out[0].float {
				t.Errorf("box %d belongs to %d", k, out[k].float)
			}
		}
		return tall(out, false)
	}
	whole := height(table)
	if row := 9*tableLead + 2*rowPad; whole > 12.5*row+20 {
		t.Errorf("20 rows take %g points", whole)
	}
	for name, change := range map[string]func(document.Table) document.Table{
		"a total": func(t document.Table) document.Table {
			t.Rows = append(append([][]string(nil), t.Rows...), []string{"All", "610"})
			t.Strong = []int{20}
			return t
		},
		"wide":  func(t document.Table) document.Table { t.Columns[0].Head = strings.Repeat("W", 30); return t },
		"short": func(t document.Table) document.Table { t.Rows = t.Rows[:foldRows-1]; return t },
	} {
		u := table
		u.Columns = append([]document.TableColumn(nil), table.Columns...)
		u = change(u)
		if _, ok := testMaker().folded(u, "Table 1"); ok {
			t.Errorf("%s: the table is folded", name)
		}
	}
	// Groups are not torn apart.
	group := document.Table{Columns: table.Columns, Strong: []int{0, 5, 10}}
	for g := range 3 {
		group.Rows = append(group.Rows, []string{"Group " + strconv.Itoa(g), ""})
		for i := range 4 {
			group.Rows = append(group.Rows, []string{"  item " + strconv.Itoa(i), "1"})
		}
	}
	if cut := foldAt(group); cut != 5 && cut != 10 {
		t.Errorf("the right half starts with row %d", cut)
	}
	if _, ok := testMaker().folded(group, ""); !ok {
		t.Error("a table of groups is not folded")
	}
}

// A row that heads others stays with the first of them, and those below it
// stand in.
func TestGroupsOfRows(t *testing.T) {
	m := testMaker()
	table := document.Table{Columns: make([]document.TableColumn, 3), Strong: []int{0}, Rows: [][]string{{"Sex", "", "0.05"}, {"  male", "232", ""}, {"  female", "143", ""}}}
	rows := m.tableRows(nil, table, layout{index: []int{0, 1, 2}, w: []float64{90, 60, 60}, gap: 10, size: 9}, textStyle{size: 9, lead: 11}, 230)
	if !rows[0].keep || rows[1].keep || !rows[0].inside || !rows[1].inside || rows[2].inside {
		t.Errorf("kept %t %t, inside %t %t %t", rows[0].keep, rows[1].keep, rows[0].inside, rows[1].inside, rows[2].inside)
	}
	if indentOf(table.Rows[0]) != 0 || indentOf(table.Rows[1]) != indentStep || indentOf([]string{"  "}) != 0 || indentOf(nil) != 0 {
		t.Error("rows stand in where they should not, or not where they should")
	}
}

// A page that starts inside a group of rows says of which.
func TestGroupsAreNamedAgain(t *testing.T) {
	m := testMaker()
	cols := make([]document.TableColumn, 3)
	for name, c := range map[string]struct {
		t    document.Table
		want []string
	}{
		"first cells empty": {document.Table{Columns: cols, Rows: [][]string{{"Order to cast", "2023", "1"}, {"", "2024", "2"}, {"", "2025", "3"}, {"Cast to fitting", "2023", "1"}, {"", "2024", "2"}}},
			[]string{"", "Order to cast", "Order to cast", "", "Cast to fitting"}},
		"rows stand in": {document.Table{Columns: cols, Strong: []int{0}, Rows: [][]string{{"Sex", "", ""}, {"  male", "1", ""}, {"  female", "2", ""}, {"Age", "", ""}}},
			[]string{"", "Sex", "Sex", ""}},
		"no groups": {document.Table{Columns: cols, Rows: [][]string{{"a", "", ""}, {"b", "", ""}}}, []string{"", ""}},
	} {
		c.t.Caption = "Waits"
		boxes, err := m.table(c.t)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		plain := math.Inf(1)
		for _, b := range boxes {
			if b.head == nil {
				continue
			}
			got = append(got, b.group)
			plain = min(plain, b.head.h)
			if named := b.head.h > plain; named != (b.group != "") {
				t.Errorf("%s: in the group %q the repeated head is %g high, outside of groups %g", name, b.group, b.head.h, plain)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: groups %q, want %q", name, got, c.want)
		}
	}
}

func TestDepthOfContents(t *testing.T) {
	entries := func(levels ...int) *maker {
		m := testMaker()
		for _, l := range levels {
			m.numbers.Entries = append(m.numbers.Entries, document.Entry{Level: l})
		}
		return m
	}
	many := []int{1, 2, 2}
	for range contentsMost {
		many = append(many, 3)
	}
	for _, c := range []struct {
		m          *maker
		most, want int
	}{{entries(1, 2), contentsMost, 0}, {entries(1, 2, 2), contentsMost, 3}, {entries(1, 2, 3), contentsMost, 0}, {entries(1, 2, 2, 3), contentsMost, 3},
		{entries(many...), contentsMost, 2}, {entries(1, 2, 2, 3), contentsBehind, 3}, {entries(many...), contentsBehind, 2},
		{entries(slices.Repeat([]int{1, 2}, contentsBehind)...), contentsBehind, 1}} {
		if got := c.m.depth(c.most); got != c.want {
			t.Errorf("%d entries: down to level %d, want %d", len(c.m.numbers.Entries), got, c.want)
		}
	}
}
