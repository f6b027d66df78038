package ingest

import (
	"archive/zip"
	"bufio"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
)

// bookParts gives access to the parts of a workbook that say what its cells
// are: order of sheets, epoch, formats, and each sheet's cell types.
type bookParts struct {
	zip      *zip.ReadCloser
	sheets   []sheetPart
	date1904 bool
	formats  []cellKind // by style number: cellNumber, cellDate, cellMonthYear or cellTime
}

type sheetPart struct {
	name   string
	part   string
	hidden bool
}

// rowLayout is what one row says about its cells.
type rowLayout struct {
	hidden bool
	kinds  []cellKind
}

type sheetLayout struct {
	rows       map[int]rowLayout
	merges     []merged
	hiddenCols []int
}

func (b *bookParts) close() { b.zip.Close() }

func openParts(file string) (*bookParts, error) {
	z, err := zip.OpenReader(file)
	if err != nil {
		return nil, workbookError(err)
	}
	b := &bookParts{zip: z}
	var total uint64
	for _, f := range z.File {
		total += f.UncompressedSize64
	}
	if total > maxUnzipped {
		z.Close()
		return nil, ErrTooLarge
	}
	if err := b.load(); err != nil {
		z.Close()
		return nil, err
	}
	return b, nil
}

func (b *bookParts) open(name string) (io.ReadCloser, error) {
	for _, f := range b.zip.File {
		if strings.EqualFold(strings.TrimPrefix(strings.ReplaceAll(f.Name, `\`, "/"), "/"), name) {
			return f.Open()
		}
	}
	return nil, fmt.Errorf("%w (no part %s)", ErrTruncated, name)
}

func (b *bookParts) decode(name string, into any) error {
	r, err := b.open(name)
	if err != nil {
		return err
	}
	defer r.Close()
	if err := xml.NewDecoder(bufio.NewReader(r)).Decode(into); err != nil {
		return fmt.Errorf("%w (part %s: %v)", ErrTruncated, name, err)
	}
	return nil
}

func (b *bookParts) load() error {
	bookName := "xl/workbook.xml"
	var top struct {
		Rel []struct {
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := b.decode("_rels/.rels", &top); err == nil {
		for _, r := range top.Rel {
			if strings.HasSuffix(r.Type, "/officeDocument") {
				bookName = strings.TrimPrefix(r.Target, "/")
			}
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
	b.date1904 = book.Pr.Date1904 == "1" || strings.EqualFold(book.Pr.Date1904, "true") || strings.EqualFold(book.Pr.Date1904, "on")
	dir, base := path.Split(bookName)
	var rels struct {
		Rel []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := b.decode(dir+"_rels/"+base+".rels", &rels); err != nil {
		return err
	}
	target := map[string]string{}
	for _, r := range rels.Rel {
		part := r.Target
		if rest, ok := strings.CutPrefix(part, "/"); ok {
			part = rest
		} else {
			part = path.Join(dir, part)
		}
		switch {
		case strings.HasSuffix(r.Type, "/worksheet"):
			target[r.ID] = part
		case strings.HasSuffix(r.Type, "/styles"):
			if err := b.loadStyles(part); err != nil {
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

func (b *bookParts) loadStyles(part string) error {
	var styles struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Cells []struct {
			ID int `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := b.decode(part, &styles); err != nil {
		return err
	}
	custom := map[int]string{}
	for _, f := range styles.Formats {
		custom[f.ID] = f.Code
	}
	for _, x := range styles.Cells {
		kind := builtinKind(x.ID)
		if code, ok := custom[x.ID]; ok {
			kind = formatKind(code)
		}
		b.formats = append(b.formats, kind)
	}
	return nil
}

// builtinKind knows the number formats that workbooks refer to by number
// alone (ECMA-376 part 1, 18.8.30).
func builtinKind(id int) cellKind {
	switch {
	case id == 17:
		return cellMonthYear
	case id >= 14 && id <= 16, id == 22, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 54, id >= 57 && id <= 58:
		return cellDate
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id >= 45 && id <= 47, id == 55, id == 56:
		return cellTime
	}
	return cellNumber
}

// formatKind reads a format code: quoted text, escaped characters, colours
// and conditions do not count.
func formatKind(code string) cellKind {
	var letters strings.Builder
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			if j := strings.IndexByte(code[i+1:], '"'); j >= 0 {
				i += j + 1
			}
		case '\\', '_', '*':
			i++
		case '[':
			j := strings.IndexByte(code[i:], ']')
			if j < 0 {
				continue
			}
			switch strings.ToLower(code[i+1 : i+j]) {
			case "h", "hh", "m", "mm", "s", "ss":
				letters.WriteByte('h')
			}
			i += j
		case ';':
			i = len(code)
		default:
			letters.WriteByte(c)
		}
	}
	s := strings.ToLower(letters.String())
	if strings.Contains(s, "general") || strings.ContainsAny(s, "0#?@") && !strings.ContainsAny(s, "ydhs") {
		return cellNumber
	}
	day, year, clock := strings.Contains(s, "d"), strings.Contains(s, "y"), strings.ContainsAny(s, "hs")
	switch {
	case day, year && clock:
		return cellDate
	case year:
		return cellMonthYear
	case clock:
		return cellTime
	case strings.Contains(s, "m"):
		return cellDate
	}
	return cellNumber
}

// layout streams a sheet part once and keeps what the values alone do not
// tell: formats, types, hidden rows and columns, merged ranges.
func (b *bookParts) layout(ctx context.Context, info sheetPart) (sheetLayout, error) {
	out := sheetLayout{rows: map[int]rowLayout{}}
	r, err := b.open(info.part)
	if err != nil {
		return out, err
	}
	defer r.Close()
	dec := xml.NewDecoder(bufio.NewReaderSize(r, 1<<16))
	n, col := 0, -1
	var row rowLayout
	var formula, value bool
	for count := 0; ; count++ {
		if count%20000 == 0 && ctx.Err() != nil {
			return out, ctx.Err()
		}
		tok, err := dec.RawToken()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return out, fmt.Errorf("%w (%v)", ErrTruncated, err)
		}
		switch t := tok.(type) {
		case xml.StartElement:
			switch t.Name.Local {
			case "row":
				n, col, row = n+1, -1, rowLayout{}
				for _, a := range t.Attr {
					switch a.Name.Local {
					case "r":
						if v, err := strconv.Atoi(a.Value); err == nil && v > 0 {
							n = v
						}
					case "hidden":
						row.hidden = a.Value == "1" || strings.EqualFold(a.Value, "true")
					}
				}
			case "c":
				col++
				kind := b.cellStart(t.Attr, &col)
				if col < 0 || col > 16383 {
					return out, fmt.Errorf("%w (a cell lies outside the sheet)", ErrTruncated)
				}
				for len(row.kinds) <= col {
					row.kinds = append(row.kinds, cellText)
				}
				row.kinds[col] = kind
				formula, value = false, false
			case "f":
				formula = true
			case "v", "is":
				value = true
			case "col":
				out.hiddenCols = append(out.hiddenCols, hiddenColumns(t.Attr)...)
			case "mergeCell":
				for _, a := range t.Attr {
					if m, ok := parseMerge(a.Value); ok && a.Name.Local == "ref" {
						out.merges = append(out.merges, m)
					}
				}
			}
		case xml.EndElement:
			switch t.Name.Local {
			case "c":
				if formula && !value && col >= 0 && col < len(row.kinds) {
					row.kinds[col] = cellNoValue
				}
			case "row":
				out.rows[n] = row
			}
		}
	}
}

func (b *bookParts) cellStart(attrs []xml.Attr, col *int) cellKind {
	kind, style := cellNumber, 0
	for _, a := range attrs {
		switch a.Name.Local {
		case "r":
			if c, _, ok := parseCellName(a.Value); ok {
				*col = c
			}
		case "s":
			style, _ = strconv.Atoi(a.Value)
		case "t":
			switch a.Value {
			case "s", "str", "inlineStr":
				kind = cellText
			case "b":
				kind = cellBool
			case "e":
				kind = cellError
			case "d":
				kind = cellISO
			}
		}
	}
	if kind == cellNumber && style > 0 && style < len(b.formats) {
		kind = b.formats[style]
	}
	return kind
}

func hiddenColumns(attrs []xml.Attr) []int {
	lo, hi, hidden := 0, -1, false
	for _, a := range attrs {
		switch a.Name.Local {
		case "min":
			lo, _ = strconv.Atoi(a.Value)
		case "max":
			hi, _ = strconv.Atoi(a.Value)
		case "hidden":
			hidden = a.Value == "1" || strings.EqualFold(a.Value, "true")
		}
	}
	if !hidden || lo < 1 || hi-lo > 200 { // the empty rest of a sheet is often hidden whole
		return nil
	}
	var out []int
	for c := lo; c <= hi; c++ {
		out = append(out, c-1)
	}
	return out
}

func parseMerge(ref string) (merged, bool) {
	a, b, ok := strings.Cut(ref, ":")
	if !ok {
		return merged{}, false
	}
	c1, r1, ok1 := parseCellName(a)
	c2, r2, ok2 := parseCellName(b)
	return merged{c1, r1, c2, r2}, ok1 && ok2 && r2 >= r1 && c2 >= c1 && r2-r1 < 1<<20
}
