package pdf

import (
	"bytes"
	"compress/zlib"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"plybook/reports/document"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"
)

// file is a PDF taken apart as far as the tests need it: its objects by
// number, streams inflated.
type file struct {
	objects map[int]string
	pages   []int // object numbers of the page contents, in order
}

var (
	objectStart = regexp.MustCompile(`(?m)^(\d+) 0 obj\n`)
	contentsRef = regexp.MustCompile(`/Contents (\d+) 0 R`)
	kidsRef     = regexp.MustCompile(`/Kids \[([^\]]*)\]`)
	reference   = regexp.MustCompile(`(\d+) 0 R`)
)

func read(t testing.TB, raw []byte) file {
	t.Helper()
	f := file{objects: map[int]string{}}
	// Compressed streams may hold anything, so objects are found through the
	// table at the end of the file.
	at := bytes.LastIndex(raw, []byte("startxref\n"))
	if at < 0 {
		t.Fatal("the file has no startxref")
	}
	start, err := strconv.Atoi(strings.Fields(string(raw[at+10:]))[0])
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(raw[start:]), "\n")
	for i, l := range lines[3:] {
		if !strings.HasSuffix(l, " n ") {
			break
		}
		offset, err := strconv.Atoi(l[:10])
		if err != nil {
			t.Fatal(err)
		}
		f.objects[i+1] = object(t, raw[offset:])
	}
	kids := kidsRef.FindStringSubmatch(f.objects[1])
	if kids == nil {
		t.Fatal("the file has no pages")
	}
	for _, k := range reference.FindAllStringSubmatch(kids[1], -1) {
		n, _ := strconv.Atoi(k[1])
		c, _ := strconv.Atoi(contentsRef.FindStringSubmatch(f.objects[n])[1])
		f.pages = append(f.pages, c)
	}
	return f
}

func object(t testing.TB, raw []byte) string {
	if objectStart.FindIndex(raw[:min(30, len(raw))]) == nil {
		t.Fatalf("no object at %q", raw[:min(30, len(raw))])
	}
	end := bytes.Index(raw, []byte("endobj"))
	head, body, ok := bytes.Cut(raw, []byte(">>\nstream\n"))
	if !ok || len(head) > end {
		return string(raw[:end])
	}
	length := regexp.MustCompile(`/Length (\d+)`).FindSubmatch(head)
	n, err := strconv.Atoi(string(length[1]))
	if err != nil {
		t.Fatal(err)
	}
	body = body[:n]
	if bytes.Contains(head, []byte("/FlateDecode")) {
		z, err := zlib.NewReader(bytes.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if body, err = io.ReadAll(z); err != nil {
			t.Fatal(err)
		}
	}
	return string(head) + ">>\nstream\n" + string(body)
}

// all joins the objects that hold a word.
func (f file) all(word string) []string {
	var out []string
	for n := 1; n <= len(f.objects); n++ {
		if strings.Contains(f.objects[n], word) {
			out = append(out, f.objects[n])
		}
	}
	return out
}

func (f file) stream(page int) string {
	_, s, _ := strings.Cut(f.objects[f.pages[page]], ">>\nstream\n")
	return s
}

// text is what a page says, in the order it was written.
func (f file) text(page int) string {
	var b strings.Builder
	s := f.stream(page)
	for {
		i := strings.Index(s, " Td (")
		if i < 0 {
			return b.String()
		}
		s = s[i+5:]
		var raw []byte
		k := 0
		for ; s[k] != ')'; k++ {
			if s[k] == '\\' {
				k++
				if s[k] == 'r' {
					raw = append(raw, '\r')
					continue
				}
			}
			raw = append(raw, s[k])
		}
		s = s[k:]
		units := make([]uint16, 0, len(raw)/2)
		for j := 0; j+1 < len(raw); j += 2 {
			units = append(units, uint16(raw[j])<<8|uint16(raw[j+1]))
		}
		b.WriteString(string(utf16.Decode(units)))
	}
}

// poppler is what one of the poppler utilities says of a document in print.
// Where PLYBOOK_NEED_POPPLER is set the tool must be there; elsewhere its
// absence ends the test, and the others check the structure of the file.
func poppler(t *testing.T, doc *document.Document, name string, options ...string) (string, bool) {
	t.Helper()
	tool, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("PLYBOOK_NEED_POPPLER") != "" {
			t.Fatalf("%s is needed: install the poppler utilities", name)
		}
		t.Logf("%s is not installed; the structure of the file is checked by the other tests", name)
		return "", false
	}
	path := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(path, render(t, doc, Options{}), 0o600); err != nil {
		t.Fatal(err)
	}
	options = append(options, path)
	if name == "pdftotext" {
		options = append(options, "-")
	}
	out, err := exec.Command(tool, options...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return string(out), true
}
