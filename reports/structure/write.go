package structure

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
)

// file is a PDF taken apart into its numbered objects.
type file struct {
	head    []byte
	objects [][]byte // by number, from "N 0 obj" to "endobj"; 0 is empty
	root    int
	info    int
}

var (
	startOf = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
	rootOf  = regexp.MustCompile(`/Root (\d+) 0 R`)
	infoOf  = regexp.MustCompile(`/Info (\d+) 0 R`)
	kidsOf  = regexp.MustCompile(`/Kids \[([^\]]*)\]`)
	pagesOf = regexp.MustCompile(`/Pages (\d+) 0 R`)
)

// open takes a file apart. It reads what a plain writer makes: one table of
// cross-references, whose objects all have generation 0.
func open(pdf []byte) (*file, error) {
	m := startOf.FindSubmatch(pdf)
	if m == nil {
		return nil, errors.New("no cross-references at the end of the file")
	}
	at, err := strconv.Atoi(string(m[1]))
	if err != nil || at >= len(pdf) || !bytes.HasPrefix(pdf[at:], []byte("xref\n0 ")) {
		return nil, errors.New("the cross-references are not a single table")
	}
	table, trailer, ok := bytes.Cut(pdf[at+len("xref\n0 "):], []byte("trailer"))
	if !ok {
		return nil, errors.New("no trailer")
	}
	lines := strings.Split(strings.TrimSpace(string(table)), "\n")
	n, err := strconv.Atoi(strings.TrimSpace(lines[0]))
	if err != nil || n != len(lines)-1 {
		return nil, fmt.Errorf("a table of %q objects has %d lines", lines[0], len(lines)-1)
	}
	f := &file{objects: make([][]byte, n)}
	starts, bounds := make([]int, n), []int{at}
	for i := 1; i < n; i++ {
		fields := strings.Fields(lines[i+1])
		if len(fields) != 3 || fields[2] != "n" {
			return nil, fmt.Errorf("object %d is not in use", i)
		}
		off, err := strconv.Atoi(fields[0])
		if err != nil || off < 0 || off >= at || !bytes.HasPrefix(pdf[off:], fmt.Appendf(nil, "%d 0 obj", i)) {
			return nil, fmt.Errorf("object %d does not stand where the table says", i)
		}
		starts[i] = off
		bounds = append(bounds, off)
	}
	// An object ends where the next one in the file starts.
	slices.Sort(bounds)
	for i := 1; i < n; i++ {
		k, _ := slices.BinarySearch(bounds, starts[i]+1)
		f.objects[i] = pdf[starts[i]:bounds[k]:bounds[k]]
	}
	f.head = pdf[:bounds[0]]
	for _, v := range []struct {
		re *regexp.Regexp
		to *int
	}{{rootOf, &f.root}, {infoOf, &f.info}} {
		m := v.re.FindSubmatch(trailer)
		if m == nil {
			return nil, errors.New("the trailer names no catalogue or no information")
		}
		*v.to, _ = strconv.Atoi(string(m[1]))
		if *v.to <= 0 || *v.to >= n {
			return nil, fmt.Errorf("the trailer names object %d of %d", *v.to, n-1)
		}
	}
	return f, nil
}

// pages are the numbers of the objects of the pages, in order.
func (f *file) pages() ([]int, error) {
	m := pagesOf.FindSubmatch(f.objects[f.root])
	if m == nil {
		return nil, errors.New("the catalogue names no pages")
	}
	list, _ := strconv.Atoi(string(m[1]))
	if list <= 0 || list >= len(f.objects) {
		return nil, fmt.Errorf("the pages are object %d of %d", list, len(f.objects)-1)
	}
	if m = kidsOf.FindSubmatch(f.objects[list]); m == nil {
		return nil, errors.New("the pages are not listed")
	}
	var out []int
	for ref := range strings.SplitSeq(strings.TrimSpace(string(m[1])), " R") {
		if ref = strings.TrimSpace(ref); ref == "" {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSuffix(ref, " 0"))
		if err != nil || n <= 0 || n >= len(f.objects) {
			return nil, fmt.Errorf("the list of pages holds %q", ref)
		}
		out = append(out, n)
	}
	return out, nil
}

// set writes an entry into the dictionary that an object is. at is where
// dictionaries open.
func (f *file) set(n int, entry string) error {
	o := f.objects[n]
	at := bytes.Index(o, []byte("<<"))
	if at < 0 {
		return fmt.Errorf("object %d is no dictionary", n)
	}
	out := make([]byte, 0, len(o)+len(entry)+2)
	out = append(out, o[:at+2]...)
	out = append(out, entry...)
	out = append(out, '\n')
	f.objects[n] = append(out, o[at+2:]...)
	return nil
}

// add appends an object and returns its number.
func (f *file) add() int {
	f.objects = append(f.objects, nil)
	return len(f.objects) - 1
}

func (f *file) fill(n int, body string) {
	f.objects[n] = fmt.Appendf(nil, "%d 0 obj\n%s\nendobj\n", n, body)
}

func (f *file) bytes() []byte {
	var b bytes.Buffer
	b.Write(f.head)
	at := make([]int, len(f.objects))
	for i := 1; i < len(f.objects); i++ {
		at[i] = b.Len()
		b.Write(f.objects[i])
		if !bytes.HasSuffix(f.objects[i], []byte("\n")) {
			b.WriteByte('\n')
		}
	}
	start := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(f.objects))
	for _, off := range at[1:] {
		fmt.Fprintf(&b, "%010d 00000 n \n", off)
	}
	fmt.Fprintf(&b, "trailer\n<<\n/Size %d\n/Root %d 0 R\n/Info %d 0 R\n>>\nstartxref\n%d\n%%%%EOF\n",
		len(f.objects), f.root, f.info, start)
	return b.Bytes()
}

// Write returns the file with the tree in it. Equal files and trees give
// equal bytes. A file that is not built as expected is an error, and so is a
// tree with marks on a page that the file does not have.
func (t *Tree) Write(pdf []byte) ([]byte, error) {
	f, err := open(pdf)
	if err != nil {
		return nil, fmt.Errorf("giving a file its structure: %w", err)
	}
	pages, err := f.pages()
	if err != nil {
		return nil, fmt.Errorf("giving a file its structure: %w", err)
	}
	if n := max(len(t.pages), len(t.places)); n > len(pages) {
		return nil, fmt.Errorf("giving a file its structure: marks on page %d of %d", n, len(pages))
	}
	t.Root().prune()
	root, parents := f.add(), f.add()
	f.number(t.Root())
	next, clicked, err := t.link(f, pages)
	if err != nil {
		return nil, fmt.Errorf("giving a file its structure: %w", err)
	}
	t.elements(f, t.Root(), root, pages)

	var nums strings.Builder
	for i := range pages {
		var owners []*Element
		if i < len(t.pages) {
			owners = t.pages[i]
		}
		list := f.add()
		var b strings.Builder
		for _, e := range owners {
			if e.at == 0 {
				return nil, fmt.Errorf("giving a file its structure: page %d shows a %s that hangs on nothing", i+1, e.Role)
			}
			fmt.Fprintf(&b, " %d 0 R", e.at)
		}
		f.fill(list, "["+strings.TrimSpace(b.String())+"]")
		fmt.Fprintf(&nums, " %d %d 0 R", i, list)
		if err := f.set(pages[i], fmt.Sprintf("/StructParents %d /Tabs /S", i)); err != nil {
			return nil, fmt.Errorf("giving a file its structure: %w", err)
		}
	}
	f.fill(parents, "<</Nums ["+strings.TrimSpace(nums.String()+clicked)+"]>>")
	f.fill(root, fmt.Sprintf("<</Type /StructTreeRoot /K [%d 0 R] /ParentTree %d 0 R /ParentTreeNextKey %d>>", t.root.at, parents, next))
	err = f.set(f.root, fmt.Sprintf("/StructTreeRoot %d 0 R /MarkInfo <</Marked true>> /ViewerPreferences <</DisplayDocTitle true>>", root))
	if err != nil {
		return nil, fmt.Errorf("giving a file its structure: %w", err)
	}
	return f.bytes(), nil
}

// number gives every element an object.
func (f *file) number(e *Element) {
	e.at = f.add()
	for _, k := range e.kids {
		if k.element != nil {
			f.number(k.element)
		}
	}
}

func (t *Tree) elements(f *file, e *Element, parent int, pages []int) {
	var b strings.Builder
	fmt.Fprintf(&b, "<</Type /StructElem /S /%s /P %d 0 R", e.Role, parent)
	if e.Alt != "" {
		b.WriteString(" /Alt " + hexText(e.Alt))
	}
	if e.Scope != "" || e.Columns > 1 {
		b.WriteString(" /A <</O /Table")
		if e.Scope != "" {
			fmt.Fprintf(&b, " /Scope /%s", e.Scope)
		}
		if e.Columns > 1 {
			fmt.Fprintf(&b, " /ColSpan %d", e.Columns)
		}
		b.WriteString(">>")
	}
	// Marks are numbers where all of them stand on one page.
	own := 0
	for _, k := range e.kids {
		if k.element == nil && !k.place {
			own = k.page
			break
		}
	}
	if own > 0 {
		fmt.Fprintf(&b, " /Pg %d 0 R", pages[own-1])
	}
	b.WriteString(" /K [")
	for i, k := range e.kids {
		if i > 0 {
			b.WriteByte(' ')
		}
		switch {
		case k.element != nil:
			fmt.Fprintf(&b, "%d 0 R", k.element.at)
		case k.place:
			fmt.Fprintf(&b, "<</Type /OBJR /Pg %d 0 R /Obj %d 0 R>>", pages[k.page-1], t.places[k.page-1][k.mark].at)
		case k.page == own:
			b.WriteString(strconv.Itoa(k.mark))
		default:
			fmt.Fprintf(&b, "<</Type /MCR /Pg %d 0 R /MCID %d>>", pages[k.page-1], k.mark)
		}
	}
	b.WriteString("]>>")
	f.fill(e.at, b.String())
	for _, k := range e.kids {
		if k.element != nil {
			t.elements(f, k.element, e.at, pages)
		}
	}
}

// hexText writes a text string in UTF-16.
func hexText(s string) string {
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	b.WriteString(">")
	return b.String()
}
