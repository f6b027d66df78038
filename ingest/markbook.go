package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"path"
	"sort"
	"strconv"
	"strings"
)

const xmlHead = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"

// ProblemSheet is the name of the first sheet of a marked copy. A sheet of
// that name is never read as data.
const ProblemSheet = "plybook problems"

// IsProblemSheet says whether a sheet is the first of a marked copy, by name.
func IsProblemSheet(name string) bool { return strings.HasPrefix(name, ProblemSheet) }

// bookPatch is a workbook on its way to a marked copy: the parts that change,
// and those that are added.
type bookPatch struct {
	parts   *bookParts
	changed map[string][]byte // by name as in the archive
	added   []string          // names of added parts, in order
	space   string            // namespace of sheets
	rel     string            // namespace of relations
	book    string
	styles  *markStyles
}

func (b *bookPatch) has(name string) bool {
	_, ok := b.changed[name]
	return ok || b.parts.parts[strings.ToLower(name)] != nil
}

// get is a part as it stands now.
func (b *bookPatch) get(name string) ([]byte, error) {
	if f := b.parts.parts[strings.ToLower(name)]; f != nil {
		name = f.Name
	}
	if data, ok := b.changed[name]; ok {
		return data, nil
	}
	r, err := b.parts.open(name)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	if data, err = toUTF8(data); err != nil {
		return nil, err
	}
	if i := bytes.Index(data, []byte("?>")); i > 0 && bytes.HasPrefix(data, []byte("<?xml")) && bytes.Contains(bytes.ToLower(data[:i]), []byte("utf-16")) {
		data = append([]byte(xmlHead), data[i+2:]...)
	}
	return data, nil
}

func (b *bookPatch) set(name string, data []byte) {
	if f := b.parts.parts[strings.ToLower(name)]; f != nil {
		name = f.Name
	} else if _, ok := b.changed[name]; !ok {
		b.added = append(b.added, name)
	}
	b.changed[name] = data
}

// free is the first of numbered names that no part has, and its number.
func (b *bookPatch) free(pattern string) (string, int) {
	for i := 1; ; i++ {
		if name := fmt.Sprintf(pattern, i); !b.has(name) {
			return name, i
		}
	}
}

// relate adds a relation and gives its identifier.
func (b *bookPatch) relate(of, kind, to string) (string, error) {
	dir, base := path.Split(of)
	name := dir + "_rels/" + base + ".rels"
	data := []byte(xmlHead + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"></Relationships>`)
	if b.has(name) {
		var err error
		if data, err = b.get(name); err != nil {
			return "", err
		}
	}
	id := ""
	for i := 1; id == "" || bytes.Contains(data, []byte(`"`+id+`"`)); i++ {
		id = "rIdPly" + strconv.Itoa(i)
	}
	target, ok := strings.CutPrefix(to, dir)
	if !ok { // both lie in folders beside each other
		target = "../" + strings.TrimPrefix(to, path.Dir(path.Clean(dir))+"/")
	}
	data, ok = appendTo(data, "Relationships", fmt.Sprintf(`<%[1]sRelationship Id="%[2]s" Type="%[3]s/%[4]s" Target="%[5]s"/>`, prefixOf(data), id, b.rel, kind, escaped(target)), 1)
	if !ok {
		return "", fmt.Errorf("%w (no relations in %s)", ErrTruncated, name)
	}
	b.set(name, data)
	return id, nil
}

func (b *bookPatch) related(of, kind string) (string, error) {
	rels, err := b.parts.relations(of)
	if err != nil {
		return "", err
	}
	for _, r := range rels {
		if r.kind == kind && b.parts.parts[strings.ToLower(r.part)] != nil {
			return r.part, nil
		}
	}
	return "", nil
}

const contentTypes = "[Content_Types].xml"

// declare says of which type an added part is.
func (b *bookPatch) declare(name, kind string) error {
	data, err := b.get(contentTypes)
	if err != nil {
		return err
	}
	p := prefixOf(data)
	line := fmt.Sprintf(`<%sOverride PartName="/%s" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.%s+xml"/>`, p, escaped(name), kind)
	if strings.HasSuffix(name, ".vml") {
		if bytes.Contains(bytes.ToLower(data), []byte(`extension="vml"`)) {
			return nil
		}
		line = "<" + p + `Default Extension="vml" ContentType="application/vnd.openxmlformats-officedocument.vmlDrawing"/>`
	}
	data, ok := appendTo(data, "Types", line, 1)
	if !ok {
		return fmt.Errorf("%w (no list of types)", ErrTruncated)
	}
	b.set(contentTypes, data)
	return nil
}

// openPatch opens a workbook to be marked.
func openPatch(ctx context.Context, file string, colour bool) (*bookPatch, error) {
	parts, err := openParts(ctx, file)
	if err != nil {
		return nil, err
	}
	b := &bookPatch{parts: parts, changed: map[string][]byte{}, book: "xl/workbook.xml",
		space: "http://schemas.openxmlformats.org/spreadsheetml/2006/main", rel: "http://schemas.openxmlformats.org/officeDocument/2006/relationships"}
	if top, err := parts.relations(""); err == nil {
		for _, r := range top {
			if r.kind == "officeDocument" {
				b.book = r.part
			}
		}
	}
	book, err := b.get(b.book)
	if err != nil {
		parts.close()
		return nil, err
	}
	if bytes.Contains(book, []byte("http://purl.oclc.org/ooxml/spreadsheetml/main")) { // the strict form of the standard
		b.space, b.rel = "http://purl.oclc.org/ooxml/spreadsheetml/main", "http://purl.oclc.org/ooxml/officeDocument/relationships"
	}
	name, err := b.related(b.book, "styles")
	if err != nil {
		parts.close()
		return nil, err
	}
	if name != "" {
		data, err := b.get(name)
		if err != nil {
			parts.close()
			return nil, err
		}
		b.styles = newMarkStyles(data, colour)
	}
	return b, nil
}

// write writes the workbook: parts that did not change are copied as they
// lie in the archive.
func (b *bookPatch) write(w io.Writer) error {
	z := zip.NewWriter(w)
	for _, f := range b.parts.zip.File {
		data, ok := b.changed[f.Name]
		if !ok {
			if err := z.Copy(f); err != nil {
				return err
			}
			continue
		}
		if err := addPart(z, f.Name, data); err != nil {
			return err
		}
	}
	for _, name := range b.added {
		if err := addPart(z, name, b.changed[name]); err != nil {
			return err
		}
	}
	return z.Close()
}

func addPart(z *zip.Writer, name string, data []byte) error {
	w, err := z.Create(name)
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

// inFront puts a new sheet before all others and shows it.
func (b *bookPatch) inFront(name string, sheet []byte) error {
	dir := path.Dir(b.book)
	part, _ := b.free(dir + "/worksheets/sheet%d.xml")
	b.set(part, sheet)
	if err := b.declare(part, "worksheet"); err != nil {
		return err
	}
	id, err := b.relate(b.book, "worksheet", part)
	if err != nil {
		return err
	}
	data, err := b.get(b.book)
	if err != nil {
		return err
	}
	list, ok := findTag(data, 0, "sheets")
	if !ok {
		return fmt.Errorf("%w (it has no list of sheets)", ErrTruncated)
	}
	sheets, _ := childrenOf(data, "sheets")
	number := 0
	for _, s := range sheets {
		t, _ := nextTag(s, 0)
		number = max(number, attrNumber(s[:t.end], "sheetId", 0))
	}
	data = splice(data, list.end, list.end, fmt.Sprintf(`<%ssheet name="%s" sheetId="%d"%s/>`, prefixOf(data), escaped(name), number+1, b.relAttr(data, id)))
	for _, change := range []struct {
		tag, attr string
		to        func(int) int
	}{
		{"definedName", "localSheetId", func(n int) int { return n + 1 }},
		{"workbookView", "activeTab", func(int) int { return 0 }},
		{"workbookView", "firstSheet", func(int) int { return 0 }},
	} {
		for at := 0; ; {
			t, ok := findTag(data, at, change.tag)
			if !ok {
				break
			}
			at = t.end
			tag := data[t.start:t.end]
			if n := attrNumber(tag, change.attr, -1); n >= 0 {
				tag = withAttr(bytes.Clone(tag), change.attr, strconv.Itoa(change.to(n)))
				data = splice(data, t.start, t.end, string(tag))
				at = t.start + len(tag)
			}
		}
	}
	b.set(b.book, data)
	for _, s := range b.parts.sheets {
		old, err := b.get(s.part)
		if err != nil {
			return err
		}
		if bytes.Contains(old, []byte("tabSelected")) {
			b.set(s.part, unselect(old))
		}
	}
	return nil
}

// keeps says what of a workbook will not be in its marked copy as it was.
func (b *bookPatch) keeps() []string {
	has := map[string]bool{}
	for name := range b.parts.parts {
		for _, k := range []string{"_xmlsignatures/", "xl/threadedcomments/", "xl/revisions/", "vbaproject.bin"} {
			if strings.Contains(name, k) {
				has[k] = true
			}
		}
	}
	var out []string
	for k, sentence := range map[string]string{
		"_xmlsignatures/":      "The digital signature no longer holds for the copy.",
		"xl/threadedcomments/": "Conversations on cells are kept as they are; where a problem cell has one, the remark stands in the first sheet alone.",
		"xl/revisions/":        "The workbook is shared and keeps a history of changes; the marks are not part of that history.",
		"vbaproject.bin":       "The macros are kept as they are and were not run; one that counts sheets by number will find the list of problems first.",
	} {
		if has[k] {
			out = append(out, sentence)
		}
	}
	if b.styles == nil {
		out = append(out, "The cell formats are not stored as usual, so problem cells have a comment but no border.")
	}
	sort.Strings(out)
	return out
}
