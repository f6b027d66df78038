package pdf

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"plybook/reports/document"
	"plybook/reports/internal/specimen"
)

var (
	annotsOf    = regexp.MustCompile(`/Annots \[([^\]]*)\]`)
	parentKey   = regexp.MustCompile(`/StructParent (\d+)>>`)
	objectsOf   = regexp.MustCompile(`/OBJR /Pg (\d+) 0 R /Obj (\d+) 0 R`)
	parentTree  = regexp.MustCompile(`/ParentTree (\d+) 0 R /ParentTreeNextKey (\d+)`)
	parentEntry = regexp.MustCompile(`(\d+) (\d+) 0 R`)
)

// linkElements checks both ways between links of the pages and the tree (ISO
// 32000-1:2008, 14.7.4.3 and 14.7.4.4), and gives the link elements.
func linkElements(t *testing.T, f file) []string {
	t.Helper()
	root := parentTree.FindStringSubmatch(f.all("/StructTreeRoot /K")[0])
	var at int
	fmt.Sscan(root[1], &at)
	owner, last := map[string]string{}, -1
	_, nums, _ := strings.Cut(f.objects[at], "/Nums [")
	for _, m := range parentEntry.FindAllStringSubmatch(nums, -1) {
		var key int
		fmt.Sscan(m[1], &key)
		if key <= last {
			t.Errorf("key %d of the parent tree follows %d", key, last)
		}
		owner[m[1]], last = m[2], key
	}
	if fmt.Sprint(last+1) != root[2] {
		t.Errorf("the last key is %d, the next one is said to be %s", last, root[2])
	}
	links, pointed := 0, map[string]bool{}
	kids := kidsRef.FindStringSubmatch(f.objects[1])
	for _, page := range reference.FindAllStringSubmatch(kids[1], -1) {
		var n int
		fmt.Sscan(page[1], &n)
		m := annotsOf.FindStringSubmatch(f.objects[n])
		if m == nil {
			continue
		}
		for _, ref := range reference.FindAllStringSubmatch(m[1], -1) {
			links++
			var n int
			fmt.Sscan(ref[1], &n)
			a := f.objects[n]
			if !strings.Contains(a, "/Subtype /Link") || !strings.Contains(a, "/Contents <FEFF") || !strings.Contains(a, "/P "+page[1]+" 0 R") {
				t.Errorf("not a link of its page with words: %.200s", a)
			}
			key := parentKey.FindStringSubmatch(a)
			if key == nil {
				t.Errorf("a link is outside of the tree: %.200s", a)
				continue
			}
			var e int
			fmt.Sscan(owner[key[1]], &e)
			back := false
			for _, o := range objectsOf.FindAllStringSubmatch(f.objects[e], -1) {
				back = back || o[1] == page[1] && o[2] == ref[1]
			}
			if !back || !strings.Contains(f.objects[e], "/S /Link") {
				t.Errorf("link %s leads to an element that does not hold it: %.200s", ref[1], f.objects[e])
			}
			pointed[owner[key[1]]] = true
		}
	}
	all := f.all("/S /Link ")
	if len(all) != len(pointed) {
		t.Errorf("%d links in the tree, %d of them clicked", len(all), len(pointed))
	}
	if links == 0 {
		t.Error("no links at all")
	}
	return all
}

func TestLinksAreInTheTree(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		if n := len(linkElements(t, read(t, render(t, specimen.Report(), Options{Paper: paper})))); n < 10 {
			t.Errorf("only %d links", n)
		}
	}
}

// A link that is broken at the ends of lines is one, with a place on each.
func TestBrokenLinkIsOne(t *testing.T) {
	doc := &document.Document{Title: "Links", Blocks: []document.Block{document.Paragraph{Spans: []document.Span{
		{Text: strings.Repeat("before it ", 8)},
		{Text: strings.Repeat("a link of many words ", 12), Link: "https://example.org/a(b)"},
		{Text: " and "}, {Text: "again", Link: "https://example.org/a(b)"},
	}}}}
	all := linkElements(t, read(t, render(t, doc, Options{})))
	if len(all) != 2 {
		t.Fatalf("%d links, want 2", len(all))
	}
	if first, second := len(objectsOf.FindAllString(all[0], -1)), len(objectsOf.FindAllString(all[1], -1)); first < 3 || second != 1 {
		t.Errorf("the broken one has %d places, the other %d", first, second)
	}
}
