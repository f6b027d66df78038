package pdf

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/internal/specimen"
)

func render(t testing.TB, doc *document.Document, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Render(&b, doc, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSameBytesEveryTime(t *testing.T) {
	first := render(t, specimen.Report(), Options{})
	var wait sync.WaitGroup
	for range 6 {
		wait.Go(func() {
			var b bytes.Buffer
			if err := Render(&b, specimen.Report(), Options{}); err != nil {
				t.Error(err)
			} else if !bytes.Equal(first, b.Bytes()) {
				t.Error("the same document gave other bytes")
			}
		})
	}
	wait.Wait()
}

func TestFontsAreEmbeddedWithTheirCharacters(t *testing.T) {
	f := read(t, render(t, specimen.Report(), Options{}))
	if core := f.all("/Subtype /Type1"); len(core) > 0 {
		t.Errorf("a font is not embedded: %s", core[0])
	}
	for word, want := range map[string]int{"/Subtype /Type0": 4, "/FontFile2": 4, "/ToUnicode": 4, "beginbfrange": 4} {
		if got := len(f.all(word)); got != want {
			t.Errorf("%d objects with %s, want %d: regular, bold, italic, mono", got, word, want)
		}
	}
}

func TestPagesSayWhichOfHowMany(t *testing.T) {
	doc := specimen.Report()
	for _, o := range []Options{{A4}, {Letter}} {
		f := read(t, render(t, doc, o))
		if len(f.pages) < 10 {
			t.Fatalf("%d pages, want 10 or more", len(f.pages))
		}
		for n := range f.pages {
			text := f.text(n)
			if want := fmt.Sprintf("Page %d of %d", n+1, len(f.pages)); !strings.Contains(text, want) {
				t.Errorf("page %d does not say %q", n+1, want)
			}
			if !strings.Contains(text, doc.Mark) || !strings.Contains(text, doc.Foot) {
				t.Errorf("page %d has no mark or no foot", n+1)
			}
			if running := strings.HasPrefix(text, doc.Title); running != (n > 0) {
				t.Errorf("page %d: running head %t", n+1, running)
			}
		}
	}
}

// The contents must name the pages on which the headings stand.
func TestContentsNameTheRightPages(t *testing.T) {
	doc := specimen.Report()
	f := read(t, render(t, doc, Options{}))
	contents := f.text(0)
	for _, e := range document.Number(doc.Blocks).Entries {
		if e.Level > 2 {
			continue
		}
		m := regexp.MustCompile(regexp.QuoteMeta(e.Number+e.Text) + `(\d+?)(?:\d\.|\d ?[A-Z]|$)`).FindStringSubmatch(contents)
		if m == nil {
			t.Errorf("%q is not in the contents", e.Text)
			continue
		}
		page, err := strconv.Atoi(m[1])
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(f.text(page-1), strings.TrimSpace(e.Number+" "+e.Text)) {
			t.Errorf("%q is not on page %d, where the contents send the reader", e.Text, page)
		}
	}
}

func TestTableHeadIsRepeated(t *testing.T) {
	f := read(t, render(t, specimen.Report(), Options{}))
	row := regexp.MustCompile(`visits\.xlsx:Visits!D\d+`)
	pages, heads := 0, 0
	for n := range f.pages {
		text := f.text(n)
		if !row.MatchString(text) {
			continue
		}
		pages++
		head := strings.Index(text, "What was expected")
		if head < 0 || head > row.FindStringIndex(text)[0] {
			t.Errorf("page %d has rows of the long table without its head above", n+1)
		}
		if strings.Contains(text, "Table 4, continued") {
			heads++
		}
	}
	if pages < 4 || heads != pages-1 {
		t.Errorf("the long table is on %d pages and continued on %d", pages, heads)
	}
	// Every row is there once.
	whole := ""
	for n := range f.pages {
		whole += f.text(n)
	}
	for i := range 96 {
		if got := strings.Count(whole, fmt.Sprintf("Visits!D%d%d,x", 17+i, i)); got != 1 {
			t.Errorf("row %d is printed %d times", i, got)
		}
	}
	if got := strings.Count(whole, "far more text than a row should hold"); got != 60 {
		t.Errorf("the long cell has %d of its 60 sentences", got)
	}
}

func TestOutlineAndLinks(t *testing.T) {
	doc := specimen.Report()
	f := read(t, render(t, doc, Options{}))
	entries := document.Number(doc.Blocks).Entries
	if got := len(f.all("/Count 0>>")); got != len(entries) {
		t.Errorf("%d bookmarks for %d headings", got, len(entries))
	}
	if len(f.all("/Type /Outlines")) != 1 || len(f.all("/PageMode /UseOutlines")) != 1 {
		t.Error("the file does not open its outline")
	}
	catalog := f.all("/Type /Catalog")
	if len(catalog) != 1 || !strings.Contains(catalog[0], "/Lang (en-GB)") {
		t.Errorf("catalog %q has no language", catalog)
	}
	links := strings.Join(f.all("/Subtype /Link"), "")
	if !strings.Contains(links, "/URI (https://example.org/method?a=1&b=2)") {
		t.Error("the link to the web is lost")
	}
	if strings.Contains(links, "javascript") {
		t.Error("a link runs a script")
	}
	// Nine in the contents, one in the text; none points at page 0.
	if got := strings.Count(links, "/Dest ["); got != 10 {
		t.Errorf("%d links inside the report, want 10", got)
	}
	if strings.Contains(links, "/Dest [1 0 R") {
		t.Error("a link leads nowhere")
	}
}

func TestCharacters(t *testing.T) {
	f := read(t, render(t, specimen.Report(), Options{}))
	whole := ""
	for n := range f.pages {
		whole += f.text(n)
	}
	for _, want := range []string{"café, Łódź, Ångström, α β γ Ω, ± × ≤ ≥ ≠ ≈ − – —", "½ m² H₂O", "ž š č, Привет",
		"[?][?], [?][?][?][?], [?], √", "−2.09", "“turnaround”", "Łódź ±²", "Text with <script>alert(1)</script> & \"quotes\" is text."} {
		if !strings.Contains(whole, want) {
			t.Errorf("%q is not in the pages", want)
		}
	}
}

var operators = regexp.MustCompile(`(?m)(?:^|\s)(q|Q|/GS\d+ gs|Tj)(?:\s|$)`)

// A figure must leave the page as it found it: states balanced, and no text
// of the report set in the opacity of a band.
func TestFiguresLeaveNoTrace(t *testing.T) {
	f := read(t, render(t, specimen.Report(), Options{}))
	opaque := map[string]bool{}
	solid := 0
	for i, gs := range f.all("/Type /ExtGState") {
		if strings.Contains(gs, "/ca 1.000") {
			opaque[fmt.Sprintf("/GS%d gs", i+1)] = true
		} else {
			solid++
		}
	}
	if solid == 0 {
		t.Fatal("no opacity in the file: the bands are not drawn as meant")
	}
	for n := range f.pages {
		depth, state := 0, ""
		// Strings may hold anything, so they go first.
		stream := regexp.MustCompile(`(?s)\((?:[^()\\]|\\.)*\)`).ReplaceAllString(f.stream(n), "()")
		for _, op := range operators.FindAllStringSubmatch(strings.ReplaceAll(stream, " ", "  "), -1) {
			switch op := strings.ReplaceAll(op[1], "  ", " "); op {
			case "q":
				depth++
			case "Q":
				depth--
			case "Tj":
				if depth == 0 && state != "" && !opaque[state] {
					t.Fatalf("page %d: text is set in %s", n+1, state)
				}
			default:
				if depth == 0 {
					state = op
				}
			}
			if depth < 0 {
				t.Fatalf("page %d: more states are restored than saved", n+1)
			}
		}
		if depth != 0 {
			t.Errorf("page %d: %d states are not restored", n+1, depth)
		}
	}
}

func TestTextCanBeTakenOutInOrder(t *testing.T) {
	out, ok := poppler(t, specimen.Report(), "pdftotext", "-enc", "UTF-8")
	if !ok {
		return
	}
	text := strings.Join(strings.Fields(out), " ")
	at := 0
	for _, want := range []string{"Fit review, third quarter", "Definitive transtibial sockets, both sites", "Contents",
		"Half of the sockets are remade within 21 months of delivery (95% interval 18 to 25).", "see the reasons behind the remakes and the published method for details",
		"Figure 1. Share of definitive sockets", "Table 1. Sockets not yet remade", "Caution: 12% of the open sockets", "Decision: 2 March 2026",
		"Table 2. Hazard of remake", "Safety: Skin breakdown", "Table 4. Rows and values set aside", "Table 4, continued", "method: kaplan-meier", "Notes without a number"} {
		i := strings.Index(strings.ToLower(text[at:]), strings.ToLower(want))
		if i < 0 {
			t.Fatalf("%q does not follow where it should", want)
		}
		at += i
	}
}

func TestErrors(t *testing.T) {
	with := func(b ...document.Block) *document.Document { return &document.Document{Title: "T", Blocks: b} }
	bad := func(f func(draw.Canvas)) document.Figure {
		return document.Figure{Figure: &figure.Figure{ID: "broken", Width: 100, Height: 100, Draw: f}}
	}
	nan := vg.Length(math.NaN())
	for name, c := range map[string]struct {
		doc  *document.Document
		o    Options
		want string
	}{
		"no document":     {nil, Options{}, "there is no document"},
		"paper":           {with(), Options{Paper: 7}, "unknown paper 7"},
		"date":            {&document.Document{Date: "30.09.2026"}, Options{}, `the date "30.09.2026"`},
		"no columns":      {with(document.Table{ID: "x"}), Options{}, `table "x" has no columns`},
		"too many cells":  {with(document.Table{ID: "x", Columns: []document.TableColumn{{}}, Rows: [][]string{{"1", "2"}}}), Options{}, "row 1 has 2 cells for 1 columns"},
		"no figure":       {with(document.Figure{}), Options{}, "nothing to draw"},
		"pointer":         {with(&document.Code{}), Options{}, "*document.Code"},
		"within":          {with(document.KeepTogether{Blocks: []document.Block{document.Table{ID: "y"}}}), Options{}, `table "y"`},
		"size":            {with(document.Figure{Figure: &figure.Figure{ID: "s", Width: nan, Height: 1, Draw: func(draw.Canvas) {}}}), Options{}, `figure "s": its size`},
		"line":            {with(bad(func(c draw.Canvas) { c.StrokeLine2(draw.LineStyle{Width: 1}, 0, 0, nan, 1) })), Options{}, `figure "broken": a point of a line`},
		"transformation":  {with(bad(func(c draw.Canvas) { c.Rotate(math.Inf(1)) })), Options{}, `figure "broken": a transformation`},
		"later than this": {with(document.PageBreak{}, document.Table{ID: "z"}), Options{}, `table "z"`},
	} {
		t.Run(name, func(t *testing.T) {
			err := Render(io.Discard, c.doc, c.o)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v does not say %q", err, c.want)
			}
		})
	}
}

// Documents at the edge print without error and inside the page.
func TestOddDocuments(t *testing.T) {
	wide := document.Table{Caption: "Wide", Columns: make([]document.TableColumn, 300), Rows: [][]string{make([]string, 300)}}
	for i := range wide.Columns {
		wide.Columns[i].Head = strconv.Itoa(i)
		wide.Rows[0][i] = strings.Repeat("9", i%30)
	}
	for name, doc := range map[string]*document.Document{
		"empty":           {},
		"breaks only":     {Blocks: []document.Block{document.PageBreak{}, document.PageBreak{}}},
		"empty blocks":    {Blocks: []document.Block{document.Paragraph{}, document.List{}, document.Code{}, document.Note{}, document.KeepTogether{}, document.Heading{}}},
		"deep first":      {Blocks: []document.Block{document.Heading{Level: 3, Text: "a"}, document.Heading{Level: 9, Text: "b"}, document.Heading{Level: 2, Text: "c"}, document.Heading{Level: -1, Text: "d"}}},
		"300 columns":     {Blocks: []document.Block{wide}},
		"long everything": {Title: strings.Repeat("Long title ", 60), Foot: strings.Repeat("foot ", 90), Mark: strings.Repeat("mark ", 90), Cover: []document.Pair{{Label: strings.Repeat("l", 200), Text: strings.Repeat("t", 999)}}},
		"bad text":        {Title: "a\xffb\x00c\U0001F600", Language: "en) /X (", Blocks: []document.Block{document.Heading{Level: 1, Text: "\xf0\x9f"}, document.Text("(\\) \r\n\u00ad \u200b")}},
		"one long chain":  {Blocks: []document.Block{document.KeepTogether{Blocks: many(document.Text("x"), 200)}}},
		"tall figure":     {Blocks: []document.Block{document.Figure{Caption: strings.Repeat("caption ", 40), Figure: &figure.Figure{Width: 10, Height: 9000, Draw: func(draw.Canvas) {}}}}},
	} {
		t.Run(name, func(t *testing.T) {
			f := read(t, render(t, doc, Options{}))
			if len(f.pages) == 0 {
				t.Error("no page")
			}
			place := regexp.MustCompile(`BT (-?[\d.]+) (-?[\d.]+) Td`)
			for n := range f.pages {
				for _, m := range place.FindAllStringSubmatch(f.stream(n), -1) {
					x, _ := strconv.ParseFloat(m[1], 64)
					y, _ := strconv.ParseFloat(m[2], 64)
					if x < 50 || x > 545 || y < 20 || y > 830 {
						t.Fatalf("page %d: text at %g, %g", n+1, x, y)
					}
				}
			}
		})
	}
}

func many(b document.Block, n int) []document.Block {
	out := make([]document.Block, n)
	for i := range out {
		out[i] = b
	}
	return out
}

func BenchmarkRender(b *testing.B) {
	doc := specimen.Report()
	for b.Loop() {
		if err := Render(io.Discard, doc, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
