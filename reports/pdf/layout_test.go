package pdf

import (
	"math"
	"strings"
	"testing"
	"time"
	"unicode"

	"plybook/reports/document"
	"plybook/reports/internal/specimen"
)

func testPen() *pen { return newPen(newFile(600, 800, time.Time{}), 800) }

func lineText(l textLine) string {
	var b strings.Builder
	for _, r := range l.runs {
		b.WriteString(r.text)
	}
	return b.String()
}

func TestBreakLines(t *testing.T) {
	p := testPen()
	st := textStyle{size: 10, lead: 14}
	for name, c := range map[string]struct {
		text    string
		measure float64
		want    []string
	}{
		"one line":           {"a short line", 200, []string{"a short line"}},
		"even lines":         {"one two three four five six", 52, []string{"one two", "three four", "five six"}},
		"spaces in a row":    {"  a   b  ", 200, []string{"a b"}},
		"line feeds":         {"a\nb\n\nc", 200, []string{"a", "b", "", "c"}},
		"no-break space":     {"wait 90\u00a0days", 40, []string{"wait", "90 days"}},
		"sign and number":    {"points ≥ 5", 42, []string{"points", "≥ 5"}},
		"unit and number":    {"worn for +0.053 h", 50, []string{"worn for", "+0.053 h"}},
		"letter and sign":    {"grouped (p = 0.915)", 52, []string{"grouped", "(p = 0.915)"}},
		"word and sign":      {"number = 5", 44, []string{"number", "= 5"}},
		"hyphen":             {"first-time fit", 38, []string{"first-", "time fit"}},
		"no break at minus":  {"z -2.09", 27, []string{"z", "-2.09"}},
		"soft hyphen broken": {"circum\u00adference", 45, []string{"circum-", "ference"}},
		"soft hyphen whole":  {"circum\u00adference", 100, []string{"circumference"}},
		"long word":          {"aaaaaaaaaa", 28, []string{"aaaaa", "aaaaa"}},
		"empty":              {"", 100, nil},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, l := range p.plainText(c.text, st, c.measure) {
				got = append(got, strings.TrimSuffix(lineText(l), " ")) // it parts words for readers
			}
			if strings.Join(got, "|") != strings.Join(c.want, "|") || len(got) != len(c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestSpansKeepTheirStyle(t *testing.T) {
	p := testPen()
	lines := p.setText([]document.Span{{Text: "un"}, {Text: "break", Bold: true}, {Text: "able, "}, {Text: "code", Code: true, Link: "#x"}}, bodyStyle, 500)
	if len(lines) != 1 || len(lines[0].runs) != 4 {
		t.Fatalf("lines %+v", lines)
	}
	x := 0.0
	for i, want := range []string{"un", "break", "able, ", "code"} {
		r := lines[0].runs[i]
		if r.text != want || math.Abs(r.x-x) > 1e-9 {
			t.Errorf("run %d is %q at %g, want %q at %g", i, r.text, r.x, want, x)
		}
		x += r.w
	}
	if r := lines[0].runs[3]; r.font != 4 || r.link != "#x" {
		t.Errorf("the code is set in %s and links to %q", r.font, r.link)
	}
	// A word of several styles is not parted between them.
	if lines = p.setText([]document.Span{{Text: "a un"}, {Text: "break", Bold: true}, {Text: "able"}}, bodyStyle, 62); lineText(lines[len(lines)-1]) != "unbreakable" {
		t.Errorf("the word was parted: %+v", lines)
	}
}

func FuzzBreakLines(f *testing.F) {
	for _, s := range []string{"a b", "first-time fit \u00ad\u00ad x", "≥ ≥ ≥", "a/b/c_d—e", "\n\n", "\xff 中文 🙂", strings.Repeat("w", 300), "x\u00ad"} {
		f.Add(s, 60.0)
	}
	f.Fuzz(func(t *testing.T, s string, measure float64) {
		if math.IsNaN(measure) || measure < 20 || measure > 2000 || len(s) > 2000 {
			return
		}
		p := testPen()
		letters := func(s string) string {
			return strings.Map(func(r rune) rune {
				if unicode.IsSpace(r) || r == '-' {
					return -1
				}
				return r
			}, s)
		}
		got := ""
		for _, l := range p.plainText(s, bodyStyle, measure) {
			if l.w > measure+0.01 {
				t.Errorf("line %q is %g wide, the measure is %g", lineText(l), l.w, measure)
			}
			got += lineText(l)
		}
		if want := letters(p.m.Fit(0, s)); letters(got) != want {
			t.Errorf("set %q, want %q", letters(got), want)
		}
	})
}

func names(pages []page) string {
	var out []string
	for _, pg := range pages {
		s := ""
		for _, b := range pg.boxes {
			s += b.chapter
		}
		out = append(out, s)
	}
	return strings.Join(out, "|")
}

func TestPaginate(t *testing.T) {
	b := func(name string, h float64) box { return box{chapter: name, h: h} }
	keep := func(b box) box { b.keep = true; return b }
	like := func(b box) box { b.part = 2; return b }
	turn := func(b box) box { b.turn = true; return b }
	gap := func(b box, g float64) box { b.gap = g; return b }
	head := func(b box) box { b.head = &box{chapter: "H", h: 10}; return b }
	for name, c := range map[string]struct {
		boxes []box
		want  string
	}{
		"fits exactly":            {[]box{b("a", 50), b("b", 50)}, "ab"},
		"one too many":            {[]box{b("a", 50), b("b", 50), b("c", 1)}, "ab|c"},
		"gap counts":              {[]box{b("a", 50), gap(b("b", 50), 1)}, "a|b"},
		"gap dropped on top":      {[]box{b("a", 90), gap(b("b", 100), 20)}, "a|b"},
		"heading goes along":      {[]box{b("a", 80), keep(b("h", 10)), b("b", 20)}, "a|hb"},
		"page break":              {[]box{b("a", 10), turn(b("b", 10))}, "a|b"},
		"page break first":        {[]box{turn(b("a", 10))}, "a"},
		"head repeated":           {[]box{b("a", 50), head(b("r", 50)), head(b("s", 50)), head(b("t", 50))}, "ar|Hs|Ht"},
		"chain longer than page":  {[]box{b("a", 50), keep(b("b", 60)), keep(b("c", 30)), b("d", 30)}, "a|bc|d"},
		"would better be whole":   {[]box{b("a", 80), like(b("b", 10)), b("c", 30)}, "a|bc"},
		"not at the price of gap": {[]box{b("a", 30), like(b("b", 60)), b("c", 30)}, "ab|c"},
		"taller than a page":      {[]box{b("a", 10), b("b", 150), b("c", 10)}, "a|b|c"},
		"nothing":                 {nil, ""},
	} {
		t.Run(name, func(t *testing.T) {
			if got := names(paginate(c.boxes, 100)); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

func TestShare(t *testing.T) {
	for name, c := range map[string]struct {
		cols []column
		room float64
		want []float64
		ok   bool
	}{
		"all fit":              {[]column{{natural: 10, usual: 10, easy: 5, least: 5}, {natural: 20, usual: 20, easy: 5, least: 5}}, 40, []float64{10, 20}, true},
		"nothing fits":         {[]column{{natural: 90, usual: 90, easy: 60, least: 60}, {natural: 90, usual: 90, easy: 60, least: 60}}, 100, nil, false},
		"free text comes last": {[]column{{natural: 30, usual: 30, easy: 20, least: 10}, {natural: 500, usual: 500, easy: 40, least: 20, fluid: true}}, 100, []float64{30, 70}, true},
		"small wants first":    {[]column{{natural: 30, usual: 30, easy: 10, least: 10}, {natural: 500, usual: 500, easy: 10, least: 10}}, 100, []float64{30, 70}, true},
	} {
		t.Run(name, func(t *testing.T) {
			w, ok := share(c.cols, c.room)
			if ok != c.ok {
				t.Fatalf("ok %t, want %t", ok, c.ok)
			}
			for i := range c.want {
				if math.Abs(w[i]-c.want[i]) > 1e-6 {
					t.Errorf("widths %v, want %v", w, c.want)
				}
			}
		})
	}
}

// Whatever a table holds, its parts fit the page and every column is shown.
func TestPlanFitsThePage(t *testing.T) {
	m := &maker{p: testPen(), full: fullWidth, measure: textWidth, height: 700}
	for n := 1; n < 60; n += 3 {
		table := document.Table{}
		row := []string{}
		for c := range n {
			table.Columns = append(table.Columns, document.TableColumn{Head: "Head of column " + strings.Repeat("x", c%17), Align: document.Align(c % 3), Wide: c%7 == 6})
			row = append(row, strings.Repeat("word ", c%9)+strings.Repeat("8", (c*c)%40))
		}
		table.Rows = [][]string{row}
		shown := map[int]bool{}
		for _, l := range m.plan(table) {
			if l.width() > fullWidth+0.01 {
				t.Errorf("%d columns: a part is %g wide, the page has %g", n, l.width(), float64(fullWidth))
			}
			for _, c := range l.index {
				shown[c] = true
			}
		}
		if len(shown) != n {
			t.Errorf("%d of %d columns are shown", len(shown), n)
		}
	}
}

func TestBoxesStayOnTheirPage(t *testing.T) {
	for _, height := range []float64{792, 841.89} {
		r := &sheet{doc: specimen.Report(), p: newPen(newFile(600, height, time.Time{}), height), left: 50, width: 600, height: height}
		if err := r.layOut(); err != nil {
			t.Fatal(err)
		}
		for n, pg := range r.pages {
			if len(pg.boxes) == 0 {
				t.Errorf("page %d of %d is empty", n+1, len(r.pages))
				continue
			}
			end := 0.0
			for _, b := range pg.boxes {
				if b.y < end-0.01 || b.y+b.h > r.m.height+0.02 {
					t.Errorf("page %d: a box from %g to %g, the one before ends at %g, the page at %g", n+1, b.y, b.y+b.h, end, r.m.height)
				}
				end = b.y + b.h
			}
			if last := pg.boxes[len(pg.boxes)-1]; last.heading != nil {
				t.Errorf("page %d ends with the heading %q", n+1, last.heading.Text)
			}
		}
	}
}
