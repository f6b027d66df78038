package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// The bounds of a workbook beside maxUnzipped. A sheet of a million rows that
// are all alike shrinks to a fiftieth; what shrinks further than maxRatio and
// is large was made to do harm. maxPart bounds the parts that are read whole.
const (
	maxRatio      = 400
	maxRatioBelow = 64 << 20
	maxPart       = 64 << 20
	maxParts      = 20000
)

// bookParts gives access to the parts of a workbook that hold its cells and
// say what they are: order of sheets, epoch, formats, shared texts.
type bookParts struct {
	zip      *zip.ReadCloser
	parts    map[string]*zip.File // by name in lower case
	sheets   []sheetPart
	date1904 bool
	formats  []cellFormat // by style number
	texts    *textStore
	strings  string // part of the shared texts, empty without or once read
	shared   []sharedText
	notes    bookNotes
}

// bookNotes are what a workbook holds besides cells that its reader should
// know of.
type bookNotes struct {
	macros   bool // a programme; never run
	external int  // links to other files, databases or web pages; never followed
}

type sheetPart struct {
	name   string
	part   string
	hidden bool
}

func (b *bookParts) close() { b.zip.Close() }

func openParts(ctx context.Context, file string) (*bookParts, error) {
	z, err := zip.OpenReader(file)
	if err != nil {
		return nil, workbookError(err)
	}
	b := &bookParts{zip: z, parts: map[string]*zip.File{}, texts: newTextStore()}
	if err = b.checkParts(); err == nil {
		err = b.load()
	}
	if err != nil {
		z.Close()
		return nil, workbookError(err)
	}
	return b, ctx.Err()
}

// checkParts looks at the archive's list before anything is unpacked. Nothing
// is ever written from it, yet a name that leads out of the archive, or one
// that stands in it twice, is no spreadsheet program's doing.
func (b *bookParts) checkParts() error {
	if len(b.zip.File) > maxParts {
		return fmt.Errorf("%w (more than %d parts)", ErrTooLarge, maxParts)
	}
	var total uint64
	for _, f := range b.zip.File {
		slashed := strings.ReplaceAll(f.Name, `\`, "/")
		name := strings.ToLower(strings.TrimPrefix(slashed, "/"))
		for _, step := range strings.Split(name, "/") {
			if step == ".." || strings.HasSuffix(step, ":") {
				return fmt.Errorf("%w: a part of it is named %q, which leads out of the file", ErrUnsafe, shorten(f.Name))
			}
		}
		if b.parts[name] != nil {
			return fmt.Errorf("%w: the part %q stands in it twice", ErrUnsafe, shorten(f.Name))
		}
		b.parts[name] = f
		total += f.UncompressedSize64
		if f.UncompressedSize64 > maxUnzipped || total > maxUnzipped {
			return fmt.Errorf("%w (more than %d GB)", ErrTooLarge, maxUnzipped>>30)
		}
		if f.UncompressedSize64 > maxRatioBelow && f.UncompressedSize64/maxRatio > f.CompressedSize64 {
			return fmt.Errorf("%w (the part %s unpacks to more than %d times its size)", ErrTooLarge, shorten(f.Name), maxRatio)
		}
		switch {
		case strings.HasPrefix(name, "xl/externallinks/externallink"), name == "xl/connections.xml":
			b.notes.external++
		case strings.HasSuffix(name, "vbaproject.bin"):
			b.notes.macros = true
		}
	}
	switch {
	case b.parts["xl/workbook.bin"] != nil:
		return errBinary
	case b.parts["content.xml"] != nil && b.parts["mimetype"] != nil:
		return errOpenDocument
	case b.parts["_rels/.rels"] == nil && b.parts["xl/workbook.xml"] == nil:
		return fmt.Errorf("%w: it is an archive without a workbook in it", ErrWrongKind)
	case b.parts["word/document.xml"] != nil, b.parts["ppt/presentation.xml"] != nil:
		return fmt.Errorf("%w: it is a text document or a presentation; copy its tables into a workbook", ErrWrongKind)
	}
	return nil
}

func (b *bookParts) open(name string) (io.ReadCloser, error) {
	f := b.parts[strings.ToLower(name)]
	if f == nil {
		return nil, fmt.Errorf("%w (no part %s)", ErrTruncated, name)
	}
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	// What the archive's list says of the size is believed above, so no more
	// than that is unpacked.
	return &boundedPart{ReadCloser: r, left: int64(f.UncompressedSize64)}, nil
}

type boundedPart struct {
	io.ReadCloser
	left int64
}

func (p *boundedPart) Read(b []byte) (int, error) {
	n, err := p.ReadCloser.Read(b)
	if p.left -= int64(n); p.left < 0 {
		return 0, fmt.Errorf("%w (a part is larger than its archive says)", ErrUnsafe)
	}
	return n, err
}

// decode reads one of the small parts. A document type is refused, so that no
// entity can be declared.
func (b *bookParts) decode(name string, into any) error {
	r, err := b.open(name)
	if err != nil {
		return err
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, maxPart+1))
	if err != nil {
		return err
	}
	if len(data) > maxPart {
		return fmt.Errorf("%w (part %s: more than %d MB)", ErrTooLarge, name, maxPart>>20)
	}
	if data, err = toUTF8(data); err != nil {
		return err
	}
	if bytes.Contains(data, []byte("<!DOCTYPE")) || bytes.Contains(data, []byte("<!ENTITY")) {
		return fmt.Errorf("%w: the part %s has a document type, which no spreadsheet program writes", ErrUnsafe, name)
	}
	dec := xml.NewDecoder(bytes.NewReader(data))
	dec.CharsetReader = func(charset string, in io.Reader) (io.Reader, error) {
		if strings.HasPrefix(strings.ToLower(charset), "utf-16") { // it is UTF-8 by now
			return in, nil
		}
		return nil, fmt.Errorf("written in %s", charset)
	}
	if err := dec.Decode(into); err != nil {
		return fmt.Errorf("%w (part %s: %v)", ErrTruncated, name, err)
	}
	return nil
}

// relations are what a part refers to: identifier to part, by kind.
type relation struct{ id, kind, part string }

func (b *bookParts) relations(of string) ([]relation, error) {
	dir, base := path.Split(of)
	name := dir + "_rels/" + base + ".rels"
	if b.parts[strings.ToLower(name)] == nil {
		return nil, nil
	}
	var rels struct {
		Rel []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
			Mode   string `xml:"TargetMode,attr"`
		} `xml:"Relationship"`
	}
	if err := b.decode(name, &rels); err != nil {
		return nil, err
	}
	var out []relation
	for _, r := range rels.Rel {
		if strings.EqualFold(r.Mode, "External") { // a web page, or a file elsewhere
			continue
		}
		part, whole := strings.CutPrefix(r.Target, "/")
		if !whole {
			part = path.Join(dir, part)
		}
		out = append(out, relation{r.ID, r.Type[strings.LastIndexByte(r.Type, '/')+1:], part})
	}
	return out, nil
}

func (b *bookParts) load() error {
	bookName := "xl/workbook.xml"
	top, err := b.relations("")
	if err != nil {
		return err
	}
	for _, r := range top {
		if r.kind == "officeDocument" {
			bookName = r.part
		}
	}
	var book struct {
		Pr struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Sheets []struct {
			Name  string     `xml:"name,attr"`
			State string     `xml:"state,attr"`
			Attrs []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	if err := b.decode(bookName, &book); err != nil {
		return err
	}
	b.date1904 = isTrue(book.Pr.Date1904)
	rels, err := b.relations(bookName)
	if err != nil {
		return err
	}
	target := map[string]string{}
	for _, r := range rels {
		switch r.kind {
		case "worksheet":
			target[r.id] = r.part
		case "sharedStrings":
			b.strings = r.part
		case "styles":
			if err := b.loadStyles(r.part); err != nil {
				return err
			}
		}
	}
	for _, s := range book.Sheets {
		for _, a := range s.Attrs {
			if a.Name.Local == "id" && target[a.Value] != "" {
				b.sheets = append(b.sheets, sheetPart{name: s.Name, part: target[a.Value], hidden: s.State != "" && s.State != "visible"})
			}
		}
	}
	if len(b.sheets) == 0 {
		return fmt.Errorf("%w (it has no sheet)", ErrTruncated)
	}
	return nil
}

// loadTexts reads the shared texts once, and only if a sheet is read.
func (b *bookParts) loadTexts(ctx context.Context) error {
	part := b.strings
	if b.strings = ""; part == "" || b.parts[strings.ToLower(part)] == nil {
		return nil
	}
	if err := b.loadShared(ctx, part); err != nil {
		return workbookError(err)
	}
	return nil
}

// sheetNotes reads the filters of a sheet's tables, which stand in parts of
// their own.
func (b *bookParts) sheetNotes(info sheetPart, s *rawSheet) error {
	rels, err := b.relations(info.part)
	if err != nil {
		return err
	}
	for _, r := range rels {
		if r.kind != "table" {
			continue
		}
		var table struct {
			Filter struct {
				Ref     string     `xml:"ref,attr"`
				Columns []struct{} `xml:"filterColumn"`
			} `xml:"autoFilter"`
		}
		if err := b.decode(r.part, &table); err != nil && !errors.Is(err, ErrTruncated) {
			return err
		}
		if m, ok := parseMerge(table.Filter.Ref); ok && len(table.Filter.Columns) > 0 {
			s.filters = append(s.filters, m)
		}
	}
	return nil
}
