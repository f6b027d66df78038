package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// part is a member of an archive.
type part struct{ name, text string }

// bookOf is the least workbook with one sheet, limbs, and further parts; a
// part given takes the place of the usual one of that name.
func bookOf(cells string, more ...part) []part {
	parts := []part{
		{"_rels/.rels", `<Relationships><Relationship Id="r1" Type="http://x/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns:r="r"><sheets><sheet name="limbs" sheetId="1" r:id="r1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="r1" Type="http://x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="http://x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`},
		{"xl/worksheets/sheet1.xml", `<worksheet><sheetData>` + cells + `</sheetData></worksheet>`},
	}
	for _, m := range more {
		replaced := false
		for i := range parts {
			if parts[i].name == m.name {
				parts[i], replaced = m, true
			}
		}
		if !replaced {
			parts = append(parts, m)
		}
	}
	return parts
}

// oneLimb is a header and a row in inline texts.
const oneLimb = `<row r="1"><c r="A1" t="inlineStr"><is><t>person</t></is></c><c r="B1" t="inlineStr"><is><t>side</t></is></c><c r="C1" t="inlineStr"><is><t>level</t></is></c></row>` +
	`<row r="2"><c r="A2" t="inlineStr"><is><t>P1</t></is></c><c r="B2" t="inlineStr"><is><t>L</t></is></c><c r="C2" t="inlineStr"><is><t>BK</t></is></c></row>`

func archive(t testing.TB, name string, parts []part) string {
	t.Helper()
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	for _, p := range parts {
		out, err := w.Create(p.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(out, p.text); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, buf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// zeros writes an archive whose part unpacks to n bytes that are all alike.
func zeros(t testing.TB, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bomb.xlsx")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := zip.NewWriter(f)
	for _, p := range bookOf(oneLimb) {
		out, err := w.Create(p.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(out, p.text); err != nil {
			t.Fatal(err)
		}
	}
	out, err := w.Create("xl/media/image1.xml")
	if err != nil {
		t.Fatal(err)
	}
	block := bytes.Repeat([]byte{'0'}, 1<<20)
	for ; n > 0; n -= len(block) {
		if _, err := out.Write(block); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

const laughs = `<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>`

func TestHostileFiles(t *testing.T) {
	sheet := func(text string) []part { return bookOf("", part{"xl/worksheets/sheet1.xml", text}) }
	shared := func(text string) []part {
		return bookOf(`<row r="1"><c r="A1" t="s"><v>0</v></c></row>`, part{"xl/sharedStrings.xml", text})
	}
	giant := filepath.Join(t.TempDir(), "giant.xlsx")
	if err := os.WriteFile(giant, []byte("PK\x03\x04"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(giant, maxFile+1); err != nil { // sparse: it takes no room
		t.Fatal(err)
	}
	ole := "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + strings.Repeat("\x00", 600)
	tests := []struct {
		name string
		path string
		want error
		says string
	}{
		{"zip bomb", zeros(t, 300<<20), ErrTooLarge, "400 times its size"},
		{"entities in the sheet", archive(t, "log.xlsx", sheet(laughs+`<worksheet><sheetData><row><c t="inlineStr"><is><t>&c;</t></is></c></row></sheetData></worksheet>`)), ErrUnsafe, "document type"},
		{"entities in the shared texts", archive(t, "log.xlsx", shared(laughs+`<sst><si><t>&c;</t></si></sst>`)), ErrUnsafe, "document type"},
		{"entities in the workbook part", archive(t, "log.xlsx", bookOf(oneLimb, part{"xl/workbook.xml", laughs + `<workbook/>`})), ErrUnsafe, "document type"},
		{"outside entity", archive(t, "log.xlsx", sheet(`<!DOCTYPE a SYSTEM "file:///etc/passwd"><worksheet/>`)), ErrUnsafe, "document type"},
		{"unknown entity", archive(t, "log.xlsx", sheet(`<worksheet><sheetData><row><c t="inlineStr"><is><t>&zz;</t></is></c></row></sheetData></worksheet>`)), ErrTruncated, "entity"},
		{"path that leads out", archive(t, "log.xlsx", bookOf(oneLimb, part{"../../etc/cron.d/x", "x"})), ErrUnsafe, "leads out"},
		{"path with backslashes", archive(t, "log.xlsx", bookOf(oneLimb, part{`xl\..\..\x`, "x"})), ErrUnsafe, "leads out"},
		{"path with a drive", archive(t, "log.xlsx", bookOf(oneLimb, part{`C:\x`, "x"})), ErrUnsafe, "leads out"},
		{"part twice", archive(t, "log.xlsx", append(bookOf(oneLimb), part{"XL/worksheets/sheet1.xml", "<worksheet/>"})), ErrUnsafe, "twice"},
		{"row far below", archive(t, "log.xlsx", bookOf(`<row r="99999999"><c><v>1</v></c></row>`)), ErrTruncated, "outside the sheet"},
		{"cell far to the right", archive(t, "log.xlsx", bookOf(`<row r="1"><c r="ZZZ1"><v>1</v></c></row>`)), ErrTruncated, "outside the sheet"},
		{"row twice", archive(t, "log.xlsx", bookOf(oneLimb+`<row r="2"><c><v>1</v></c></row>`)), ErrTruncated, "twice"},
		{"text that is not there", archive(t, "log.xlsx", bookOf(`<row r="1"><c r="A1" t="s"><v>7</v></c></row>`)), ErrTruncated, "A1 refers to a text"},
		{"endless tag", archive(t, "log.xlsx", sheet(`<worksheet><sheetData><row r="`+strings.Repeat("1", 3<<20))), ErrTruncated, "a tag or text"},
		{"cut in the middle of a sheet", archive(t, "log.xlsx", sheet(`<worksheet><sheetData>`+oneLimb)), ErrTruncated, "cut short"},
		{"many rows to the far right", archive(t, "log.xlsx", bookOf(farRight(5000))), ErrTooLarge, "cells"},
		{"password", writeText(t, "log.xlsx", ole+"E\x00n\x00c\x00r\x00y\x00p\x00t\x00e\x00d\x00P\x00a\x00c\x00k\x00a\x00g\x00e\x00"), ErrPassword, "save a copy without one"},
		{"old workbook renamed", writeText(t, "log.xlsx", ole), ErrOldFormat, "save it as .xlsx"},
		{"CSV renamed", writeText(t, "limbs.xlsx", "person,side\nP1,L\n"), ErrWrongKind, "rename it to .csv"},
		{"OpenDocument", archive(t, "log.ods", []part{{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}, {"content.xml", "<x/>"}}), ErrWrongKind, "save it as .xlsx"},
		{"OpenDocument renamed", archive(t, "log.xlsx", []part{{"content.xml", "<x/>"}, {"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}}), ErrWrongKind, "save it as .xlsx"},
		{"text document renamed", archive(t, "log.xlsx", []part{{"_rels/.rels", "<Relationships/>"}, {"word/document.xml", "<x/>"}}), ErrWrongKind, "text document"},
		{"binary workbook renamed", archive(t, "log.xlsx", []part{{"_rels/.rels", "<Relationships/>"}, {"xl/workbook.bin", "x"}}), ErrWrongKind, ".xlsb"},
		{"archive renamed", archive(t, "log.xlsx", []part{{"holiday.jpg", "x"}}), ErrWrongKind, "archive"},
		{"web page renamed", writeText(t, "log.xlsx", "<html><table></table></html>"), ErrWrongKind, "web page"},
		{"empty", writeText(t, "log.xlsx", ""), ErrEmpty, "empty"},
		{"giant", giant, ErrTooLarge, "split it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			log, err := Read(context.Background(), []string{tt.path}, Options{})
			if !errors.Is(err, tt.want) || log != nil {
				t.Fatalf("got %v, want %v", err, tt.want)
			}
			for _, says := range []string{tt.says, filepath.Base(tt.path)} {
				if !strings.Contains(err.Error(), says) {
					t.Errorf("%q does not say %q", err, says)
				}
			}
		})
	}
}

func farRight(rows int) string {
	var b strings.Builder
	for i := range rows {
		fmt.Fprintf(&b, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i+1, i+1)
	}
	return b.String()
}

// An archive whose list understates a part must not be believed for the
// limits and then unpacked beyond them.
func TestArchiveThatLiesAboutSize(t *testing.T) {
	path := archive(t, "log.xlsx", bookOf(oneLimb))
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	size := []byte{byte(len(bookOf(oneLimb)[3].text)), byte(len(bookOf(oneLimb)[3].text) >> 8), 0, 0}
	at := bytes.LastIndex(data, size) // in the list at the end
	data[at], data[at+1] = 10, 0
	log, err := Read(context.Background(), []string{writeText(t, "log.xlsx", string(data))}, Options{})
	if log != nil || !errors.Is(err, ErrUnsafe) && !errors.Is(err, ErrTruncated) {
		t.Errorf("got %v", err)
	}
}

// Cutting a workbook anywhere gives an error that names the file, and never a
// log.
func TestTruncatedAnywhere(t *testing.T) {
	whole, err := os.ReadFile(writeBook(t, smallLog(), nil))
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n < len(whole); n += len(whole) / 60 {
		log, err := Read(context.Background(), []string{writeText(t, "cut.xlsx", string(whole[:n]))}, Options{})
		if err == nil || log != nil || !strings.Contains(err.Error(), "cut.xlsx") {
			t.Fatalf("cut to %d of %d bytes: %v", n, len(whole), err)
		}
	}
}

func TestMacrosAndLinksAreReported(t *testing.T) {
	path := archive(t, "log.xlsm", bookOf(oneLimb, part{"xl/vbaProject.bin", "\x00\x01"}, part{"xl/externalLinks/externalLink1.xml", "<x/>"}, part{"xl/connections.xml", "<x/>"}))
	log := read(t, Options{}, path)
	if len(log.Limbs) != 1 {
		t.Fatalf("limbs: %+v", log.Limbs)
	}
	for code, says := range map[string]string{CodeMacros: "not run", CodeExternalLinks: "linked to 2 other files"} {
		ps := problemsOf(log, code)
		if len(ps) != 1 || ps[0].File != path || ps[0].Done != Kept || !strings.Contains(ps[0].Text, says) {
			t.Errorf("%s: %+v", code, ps)
		}
	}
	plain := read(t, Options{}, writeBook(t, smallLog(), func(f *excelize.File) {
		if err := f.SetCellHyperLink("limbs", "A2", "https://example.org/", "External"); err != nil {
			t.Fatal(err)
		}
	}))
	if got := found(plain); len(got) > 0 {
		t.Errorf("a web address in a cell is no link to another file: %v", got)
	}
}
