package ingest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strings"
)

// Why a file cannot be read. Errors returned by Read wrap one of these, or
// the operating system's own.
var (
	ErrEmpty     = errors.New("the file is empty")
	ErrTruncated = errors.New("the workbook is damaged or cut short; copy it again, or open it in a spreadsheet program and save it anew")
	ErrPassword  = errors.New("the workbook is protected by a password; save a copy without one")
	ErrOldFormat = errors.New("the workbook is in the old .xls format; open it in a spreadsheet program and save it as .xlsx")
	ErrWrongKind = errors.New("the file is not what its name says")
	ErrTooLarge  = errors.New("the file is too large; split it, by year say")
	ErrUnsafe    = errors.New("the workbook is made in a way that could do harm, so it was not read; ask where it comes from, or save it anew in a spreadsheet program")
	ErrBadCSV    = errors.New("the text is not a table")
)

// cellKind is what a workbook says about a cell besides its text.
type cellKind uint8

const (
	cellText      cellKind = iota
	cellNumber             // number without a date format
	cellDate               // number shown as a date
	cellMonthYear          // number shown as month and year only
	cellTime               // number shown as a time of day
	cellBool               // text is TRUE or FALSE
	cellError              // formula error such as #N/A
	cellNoValue            // formula without a stored value
	cellISO                // date stored as ISO text
)

type cell struct {
	text string
	kind cellKind
}

// rawRow is a row of a sheet. Its cells lie in the lines of a text table or
// are its own; cell, all and width read both. Of a text table of a million
// rows the rows themselves, 32 bytes each, are a third of what is held.
type rawRow struct {
	n        int // row of the sheet, from 1
	at       uint32
	hidden   bool
	filtered bool       // hidden by a filter
	lines    *textLines // in which the row begins at at; nil for cells of its own
	own      *rowCells
}

// rowCells are the cells of a row: texts, or packed (a workbook's).
type rowCells struct {
	cells  []cell
	packed []packed
	texts  *textStore
}

func (r *rawRow) cell(col int) cell {
	if r.own != nil {
		if uint(col) < uint(len(r.own.packed)) {
			p := r.own.packed[col]
			return cell{r.own.texts.text(p), p.kind()}
		}
		if uint(col) < uint(len(r.own.cells)) {
			return r.own.cells[col]
		}
		return cell{}
	}
	if r.lines != nil && col >= 0 {
		return r.lines.cell(int(r.at), col)
	}
	return cell{}
}

// width is the number of cells up to the last.
func (r *rawRow) width() int {
	if r.lines != nil {
		return r.lines.width(int(r.at))
	}
	if r.own == nil {
		return 0
	}
	return max(len(r.own.cells), len(r.own.packed))
}

// all are the row's cells by column.
func (r *rawRow) all() iter.Seq2[int, cell] {
	if r.lines != nil {
		return r.lines.cells(int(r.at))
	}
	return func(yield func(int, cell) bool) {
		for i := range r.width() {
			if !yield(i, r.cell(i)) {
				return
			}
		}
	}
}

// unpacked is the row with its cells as texts, which can be changed without
// changing the sheet.
func (r rawRow) unpacked() rawRow {
	cells := make([]cell, 0, r.width())
	for _, c := range r.all() {
		cells = append(cells, c)
	}
	r.own, r.lines = &rowCells{cells: cells}, nil
	return r
}

// struckCell is a cell that is struck through, 0-based column; -1 stands for
// all that the row holds.
type struckCell struct{ row, col int }

// merged is a range of merged cells, 0-based columns and 1-based rows.
type merged struct{ col1, row1, col2, row2 int }

type rawSheet struct {
	name       string // empty for CSV
	table      string // one of the six or empty; rows are read only for a table
	hidden     bool
	date1904   bool
	commas     bool // decimal comma
	recoded    bool // CSV not in UTF-8
	text       bool // CSV, in which a separator too many shifts the rest of its row
	rows       []rawRow
	merges     []merged
	hiddenCols []int
	filters    []merged // ranges with a filter at work
	struck     []struckCell
}

type rawFile struct {
	path   string
	sha    string
	sheets []rawSheet
	notes  bookNotes
}

// errOpenDocument is of workbooks in the OpenDocument format. No kept library
// for them is to be had, and a reader that gets dates wrong is worse than none.
var errOpenDocument = fmt.Errorf("%w: it is an OpenDocument file (.ods), which is not read; open it and save it as .xlsx", ErrWrongKind)

var errBinary = fmt.Errorf("%w: it is a binary workbook (.xlsb), which is not read; open it and save it as .xlsx", ErrWrongKind)

// maxFile bounds a file as it lies on the disk.
const maxFile = 4 << 30

// maxUnzipped bounds a workbook's unpacked size; a sheet of 200,000 rows and
// 20 columns takes 190 MB.
const maxUnzipped = 2 << 30

// readFile reads one file whatever its kind. Of sheets that are not named
// after a table only those that want accepts are read; want may be nil.
func readFile(ctx context.Context, path string, want func(sheet string) bool) (rawFile, error) {
	f := rawFile{path: path}
	info, err := os.Stat(path)
	if err != nil {
		return f, fmt.Errorf("read %s: %w", path, err)
	}
	if info.IsDir() {
		return f, fmt.Errorf("read %s: it is a folder, not a file", path)
	}
	if info.Size() == 0 {
		return f, fmt.Errorf("read %s: %w", path, ErrEmpty)
	}
	if info.Size() > maxFile {
		return f, fmt.Errorf("read %s: %w (more than %d GB)", path, ErrTooLarge, maxFile>>30)
	}
	if f.sha, err = fileSHA(path); err != nil {
		return f, fmt.Errorf("read %s: %w", path, err)
	}
	kind, err := sniffKind(path)
	if err != nil {
		return f, fmt.Errorf("read %s: %w", path, err)
	}
	switch kind {
	case kindWorkbook:
		f.sheets, f.notes, err = readWorkbook(ctx, path, want)
	default:
		var s rawSheet
		s, err = readCSV(ctx, path, want)
		f.sheets = []rawSheet{s}
	}
	if err != nil {
		return f, fmt.Errorf("read %s: %w", path, err)
	}
	return f, nil
}

func fileSHA(path string) (string, error) {
	r, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer r.Close()
	h := sha256.New()
	if _, err := io.Copy(h, r); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

type fileKind int

const (
	kindWorkbook fileKind = iota
	kindCSV
)

// sniffKind compares what the file holds with what its name says.
func sniffKind(path string) (fileKind, error) {
	r, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer r.Close()
	head := make([]byte, 64<<10)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return 0, err
	}
	head = head[:n]
	ext := strings.ToLower(filepath.Ext(path))
	workbookName := ext == ".xlsx" || ext == ".xlsm" || ext == ".xltx" || ext == ".xltm"
	textName := ext == ".csv" || ext == ".tsv" || ext == ".txt"
	switch {
	case strings.HasPrefix(string(head), "PK\x03\x04"):
		if ext == ".ods" || ext == ".ots" || strings.Contains(string(head), "mimetypeapplication/vnd.oasis.opendocument") {
			return 0, errOpenDocument
		}
		if ext == ".xlsb" {
			return 0, errBinary
		}
		if !workbookName {
			return 0, fmt.Errorf("%w: it is a workbook or an archive; rename it to .xlsx if it is a workbook", ErrWrongKind)
		}
		return kindWorkbook, nil
	case strings.HasPrefix(string(head), "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
		return 0, oleError(path)
	case strings.HasPrefix(string(head), "%PDF"):
		return 0, fmt.Errorf("%w: it is a PDF document", ErrWrongKind)
	case strings.HasPrefix(strings.ToLower(strings.TrimSpace(string(head[:min(n, 200)]))), "<html"), strings.HasPrefix(strings.ToLower(strings.TrimSpace(string(head[:min(n, 200)]))), "<!doctype html"):
		return 0, fmt.Errorf("%w: it is a web page; open it in a spreadsheet and save it as .xlsx", ErrWrongKind)
	case workbookName && looksLikeText(head):
		return 0, fmt.Errorf("%w: it holds text, not a workbook; rename it to .csv if it is a table", ErrWrongKind)
	case workbookName:
		return 0, ErrTruncated
	case !textName:
		return 0, fmt.Errorf("%w: only .xlsx, .xlsm, .csv, .tsv and .txt are read", ErrWrongKind)
	case !looksLikeText(head):
		return 0, fmt.Errorf("%w: it holds no text", ErrWrongKind)
	}
	return kindCSV, nil
}

// looksLikeText accepts text in UTF-16, and text in which zero bytes are rare
// enough to be damage, of which the reader of text names the line.
func looksLikeText(head []byte) bool {
	if order, _ := wideOrder(string(head)); order != nil {
		return true
	}
	zeros := bytes.Count(head, []byte{0})
	return zeros == 0 || 1000*zeros <= max(len(head), 1000) && head[0] != 0
}

// oleError tells a protected workbook from an old one: the protected one is
// a container with a stream named EncryptedPackage.
func oleError(path string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	wide := make([]byte, 0, 32)
	for _, c := range []byte("EncryptedPackage") {
		wide = append(wide, c, 0)
	}
	if strings.Contains(string(data), string(wide)) {
		return ErrPassword
	}
	return ErrOldFormat
}

// columnName turns a 0-based column into its letters.
func columnName(col int) string {
	name := ""
	for col++; col > 0; col = (col - 1) / 26 {
		name = string(rune('A'+(col-1)%26)) + name
	}
	return name
}

// cellName is the address of a cell: 0-based column, 1-based row.
func cellName(col, row int) string { return fmt.Sprintf("%s%d", columnName(col), row) }

// parseCellName is the inverse of cellName; ok is false for another text.
func parseCellName(s string) (col, row int, ok bool) {
	i := 0
	for i < len(s) && s[i] >= 'A' && s[i] <= 'Z' {
		col = col*26 + int(s[i]-'A') + 1
		if i++; i > 3 {
			return 0, 0, false
		}
	}
	row = num(s[i:])
	return col - 1, row, i > 0 && row > 0
}

// tableOf names the table that a sheet or file is called after, or nothing.
// Case, spaces, punctuation and digits do not matter, nor does a missing
// plural: "Visits 2024" and "visit" are visits.
func tableOf(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		if r >= 'a' && r <= 'z' {
			b.WriteRune(r)
		}
	}
	for _, t := range Tables() {
		if s := b.String(); s == t || s == strings.TrimSuffix(t, "s") {
			return t
		}
	}
	return ""
}
