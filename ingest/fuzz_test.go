package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"unicode/utf8"
)

func FuzzHeader(f *testing.F) {
	f.Add("Limb (cm)")
	f.Add("station_mm")
	f.Fuzz(func(t *testing.T, s string) {
		for _, table := range Tables() {
			if m := matchHeader(table, s); m.field >= len(schema[table]) {
				t.Errorf("%q gave field %d", s, m.field)
			}
		}
		formatKind(s)
		parseMerge(s)
		tableOf(s)
	})
}

func FuzzCSV(f *testing.F) {
	f.Add([]byte("a,b\n\"x\",1\n"))
	f.Add([]byte("\xff\xfea\x00"))
	f.Add([]byte("sep=;\na;1,5"))
	f.Fuzz(func(t *testing.T, data []byte) {
		text, _, err := decodeText(string(data))
		if err != nil {
			return
		}
		if !utf8.ValidString(text) {
			t.Error("the text is not UTF-8")
		}
		splitCSV(text, sniffDelimiter(text))
	})
}

// FuzzRead reads any text as a table of visits beside a sound log, and any
// bytes as a workbook: errors are fine, panics and a ledger that does not add
// up are not.
func FuzzRead(f *testing.F) {
	f.Add([]byte("socket,date,ply\nS1,2024-01-01,5+3\nS1,2024-01-01,5+3\n"))
	f.Add([]byte("socket;date;own\nS1;03/04/2024;x\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		dir := t.TempDir()
		var paths []string
		for name, text := range map[string][]byte{"limbs.csv": []byte("person,side,level\nP1,L,BK\n"), "sockets.csv": []byte("socket,limb,kind\nS1,P1-L,def\n"), "visits.csv": data} {
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, text, 0o600); err != nil {
				t.Fatal(err)
			}
			paths = append(paths, path)
		}
		if log, err := Read(context.Background(), paths, Options{}); err == nil {
			checkLedger(t, log)
		}
		book := filepath.Join(dir, "log.xlsx")
		if err := os.WriteFile(book, append([]byte("PK\x03\x04"), data...), 0o600); err != nil {
			t.Fatal(err)
		}
		if log, err := Read(context.Background(), []string{book}, Options{}); err == nil {
			checkLedger(t, log)
		}
	})
}

// FuzzWorkbook damages one part of a sound workbook: text is put in, or a
// stretch taken out, at any place.
func FuzzWorkbook(f *testing.F) {
	z, err := zip.OpenReader(writeBook(f, smallLog(), nil))
	if err != nil {
		f.Fatal(err)
	}
	defer z.Close()
	parts := make([][]byte, len(z.File))
	for i, part := range z.File {
		r, err := part.Open()
		if err != nil {
			f.Fatal(err)
		}
		if parts[i], err = io.ReadAll(r); err != nil {
			f.Fatal(err)
		}
		r.Close()
	}
	for i := range uint16(40) {
		f.Add(i, i*97, i%7*5, "99999")
	}
	f.Fuzz(func(t *testing.T, which, at, cut uint16, put string) {
		var buf bytes.Buffer
		w := zip.NewWriter(&buf)
		for i, part := range z.File {
			data := parts[i]
			if i == int(which)%len(parts) {
				from := int(at) % (len(data) + 1)
				to := min(len(data), from+int(cut))
				data = append(append(append([]byte(nil), data[:from]...), put...), data[to:]...)
			}
			out, err := w.Create(part.Name)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := out.Write(data); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "log.xlsx")
		if err := os.WriteFile(path, buf.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if log, err := Read(context.Background(), []string{path}, Options{}); err == nil {
			checkLedger(t, log)
		}
	})
}
