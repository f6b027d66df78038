package pdf

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"plybook/reports/document"
	"plybook/reports/internal/specimen"
	"plybook/reports/typeface"
)

var markOf = regexp.MustCompile(`^/([A-Z][A-Za-z0-9]*) <</MCID (\d+)>> BDC$`)

// Every text of a page stands in marked content or in an artifact (ISO
// 32000-1:2008, 14.7.4 and 14.8.2.2), sequences do not nest, marks count
// from 0 on every page, and the tree owns each of them once.
func TestAllTextIsTagged(t *testing.T) {
	f := read(t, render(t, specimen.Report(), Options{}))
	owned := map[string]int{}
	for _, o := range f.all("/S /") {
		if !strings.Contains(o, "/Type /StructElem") {
			continue
		}
		role := regexp.MustCompile(`/S /(\w+)`).FindStringSubmatch(o)[1]
		_, kids, _ := strings.Cut(o, "/K [")
		if pg := regexp.MustCompile(`/Pg (\d+) 0 R /K`).FindStringSubmatch(o); pg != nil {
			bare := regexp.MustCompile(`<<[^>]*>>|\d+ 0 R|[\]>]`).ReplaceAllString(kids, " ")
			for _, m := range strings.Fields(bare) {
				if _, err := strconv.Atoi(m); err == nil {
					owned[pg[1]+":"+m+":"+role]++
				}
			}
		}
		for _, m := range regexp.MustCompile(`/MCR /Pg (\d+) 0 R /MCID (\d+)`).FindAllStringSubmatch(kids, -1) {
			owned[m[1]+":"+m[2]+":"+role]++
		}
	}
	kids := kidsRef.FindStringSubmatch(f.objects[1])
	marks := 0
	for n, ref := range reference.FindAllStringSubmatch(kids[1], -1) {
		open, next := "", 0
		for _, l := range strings.Split(f.stream(n), "\n") {
			if m := markOf.FindStringSubmatch(l); m != nil {
				if open != "" {
					t.Fatalf("page %d: %s opens inside %s", n+1, l, open)
				}
				if m[2] != strconv.Itoa(next) {
					t.Fatalf("page %d: mark %s, want %d", n+1, m[2], next)
				}
				if key := ref[1] + ":" + m[2] + ":" + m[1]; owned[key] != 1 {
					t.Fatalf("page %d: mark %s of a %s is owned %d times", n+1, m[2], m[1], owned[key])
				}
				open = l
				next++
				marks++
				continue
			}
			switch {
			case l == "/Artifact BMC":
				if open != "" {
					t.Fatalf("page %d: an artifact opens inside %s", n+1, open)
				}
				open = l
			case l == "EMC":
				if open == "" {
					t.Fatalf("page %d: an end without a start", n+1)
				}
				open = ""
			case strings.Contains(l, " Tj"), strings.HasSuffix(l, " f"), strings.HasSuffix(l, " S"):
				if open == "" {
					t.Fatalf("page %d: drawn outside of marked content: %.80q", n+1, l)
				}
			}
		}
		if open != "" {
			t.Fatalf("page %d ends inside %s", n+1, open)
		}
	}
	if marks != len(owned) || marks < 100 {
		t.Errorf("%d marks on the pages, %d in the tree", marks, len(owned))
	}
}

// What a screen reader is given holds every word of the page but those of
// running heads, feet and heads that come again, and of figures their words.
// The poppler utilities read the tree independently of the code that wrote it.
func TestTreeSaysWhatThePageSays(t *testing.T) {
	doc := specimen.Report()
	out, ok := poppler(t, doc, "pdfinfo", "-struct-text")
	if !ok {
		return
	}
	tree := out
	for _, problem := range []string{"Error", "Warning"} {
		if strings.Contains(tree, "Syntax "+problem) {
			t.Errorf("the tree cannot be read without fault: %.300s", tree)
		}
	}
	for _, role := range []string{"H1 (block)", "H2 (block)", "H3 (block)", "Caption", "THead", "TH", "TD", "L (block)", "LBody", "Figure", "TOCI", "Reference", "Link (inline)", "Object "} {
		if !strings.Contains(tree, role) {
			t.Errorf("the tree has no %s", role)
		}
	}
	other := regexp.MustCompile(`[^\pL\pN]+`)
	squeeze := func(s string) string { return other.ReplaceAllString(s, "") }
	measurer := typeface.NewMeasurer() // shows what the fonts lack as boxes
	flat := squeeze(regexp.MustCompile(`(?m)^\s*(?:[A-Z][A-Za-z0-9]*(?: \((?:block|inline)\))?:?|/.*|Object \d+ \d+)$`).ReplaceAllString(tree, ""))
	words := 0
	for _, text := range document.Texts(doc.Blocks) {
		text = strings.ReplaceAll(text, "\u00ad", "")
		words++
		if !strings.Contains(flat, squeeze(measurer.Fit(typeface.Regular, text))) {
			t.Errorf("the tree does not say %q", text)
		}
	}
	for _, run := range regexp.MustCompile(`(?m)^ *"(.*)"$`).FindAllStringSubmatch(tree, -1) {
		for _, b := range doc.Blocks {
			p, ok := b.(document.Paragraph)
			if !ok || len(p.Spans) != 1 || len(p.Spans[0].Text) < 100 || !strings.HasPrefix(run[1], p.Spans[0].Text[:20]) {
				continue
			}
			// Lines end between words, or at hyphens that the text has itself.
			plain := strings.NewReplacer("\u00ad", "", "\u00a0", " ")
			if got, want := strings.Fields(plain.Replace(run[1])), strings.Fields(plain.Replace(p.Spans[0].Text)); len(got) < len(want) {
				t.Errorf("words run together where lines end: %q", run[1])
			}
		}
	}
	if words < 50 {
		t.Fatalf("only %d texts were looked for", words)
	}
}
