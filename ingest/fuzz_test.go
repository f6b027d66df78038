package ingest

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"unicode/utf8"
)

func FuzzNumber(f *testing.F) {
	for _, s := range []string{"32,5 cm", `12 3/4"`, "~", ">15", "1.234,5", "7-8", "12st 4", "1e9", "-", "½"} {
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, s string, comma bool) {
		n, err := parseNumber(s, comma)
		if err == nil && (math.IsNaN(n.value) || math.IsInf(n.value, 0)) {
			t.Errorf("%q gave %g", s, n.value)
		}
		if v, _, err := parseScore(s, comma); err == nil && (v < 0 || v > 10) {
			t.Errorf("%q gave the score %g", s, v)
		}
		if v, _, err := parseWhole(s, comma); err == nil && v != math.Trunc(v) {
			t.Errorf("%q gave the whole number %g", s, v)
		}
	})
}

func FuzzPly(f *testing.F) {
	for _, s := range []string{"5+3", "1x5 1x3", "3-5", "am 3 / pm 8", "sheath + 3", "half sock", "(1) 5-ply, (2) 1-ply", "5 ply x2", "none"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, _, err := parsePly(s)
		if err != nil {
			return
		}
		sum := 0.0
		for _, x := range p.Socks {
			sum += x
		}
		if p.Total < 0 || p.Total > maxPly || math.IsNaN(p.Total) || len(p.Socks) > 0 && math.Abs(sum-p.Total) > 1e-9 {
			t.Errorf("%q gave %+v", s, p)
		}
	})
}

func FuzzDate(f *testing.F) {
	for _, s := range []string{"2024-03-05", "5/3/24", "5 Mar 2024", "Mar-24", "20240305", "5-Mar", "29.02.2023"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := readDate(s)
		if err == nil {
			for _, o := range []dateOrder{orderUnknown, orderDayFirst, orderMonthFirst, orderMixed} {
				if d, ok := r.resolve(o); ok {
					if y, m, day := d.Split(); y != r.year || m < 1 || m > 12 || day < 1 || day > 31 {
						t.Errorf("%q gave %v", s, d)
					}
				}
			}
		}
		pairFromText(s)
	})
}

func FuzzClock(f *testing.F) {
	f.Add("14:30", false)
	f.Add("0.6", true)
	f.Fuzz(func(t *testing.T, s string, isNumber bool) {
		if m, err := parseClock(s, isNumber); err == nil && (m < 0 || m >= 1440) {
			t.Errorf("%q gave %d", s, m)
		}
	})
}

func FuzzWords(f *testing.F) {
	f.Add("B/K")
	f.Add("heat relief + pad")
	f.Fuzz(func(t *testing.T, s string) {
		for _, v := range []Vocabulary{Levels(), EndReasons(), Actions(), RegionWords()} {
			ms, _, ok := v.LookupAll(s)
			for _, m := range ms {
				if ok && !v.Has(m.Code) {
					t.Errorf("%s: %q gave %q", v.Name(), s, m.Code)
				}
			}
		}
	})
}

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
		text, _ := decodeText(data)
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
