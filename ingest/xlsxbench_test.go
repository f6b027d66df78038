package ingest

import (
	"context"
	"fmt"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// bigBook writes a log whose sheet of visits has rows x 20 cells: the 16
// fields, true dates among them, and four columns of the lab's own.
func bigBook(tb testing.TB, rows int) string {
	tb.Helper()
	f := excelize.NewFile()
	defer f.Close()
	day, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		tb.Fatal(err)
	}
	write := func(sheet string, n int, row func(i int) []any) {
		if _, err := f.NewSheet(sheet); err != nil {
			tb.Fatal(err)
		}
		w, err := f.NewStreamWriter(sheet)
		if err != nil {
			tb.Fatal(err)
		}
		for i := range n + 1 {
			if err := w.SetRow(cellName(0, i+1), row(i)); err != nil {
				tb.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			tb.Fatal(err)
		}
	}
	write("limbs", 1000, func(i int) []any {
		if i == 0 {
			return []any{"person", "side", "level"}
		}
		return []any{fmt.Sprintf("P%04d", i), "L", "BK"}
	})
	write("sockets", 5000, func(i int) []any {
		if i == 0 {
			return []any{"socket", "limb", "kind", "delivered", "ended", "end_reason"}
		}
		return []any{fmt.Sprintf("S%05d", i), fmt.Sprintf("P%04d-L", (i-1)%1000+1), "definitive", Date(18000 + i/5).String(), Date(19500).String(), "volume loss"}
	})
	write("visits", rows, func(i int) []any {
		if i == 0 {
			return []any{"visit", "socket", "date", "time", "purpose", "ply", "comfort", "ply_left", "comfort_left", "hours", "mass_kg", "accepted", "skin_checked", "action", "minutes", "seen_by",
				"weather", "temp", "sleeve", "checked on"}
		}
		on := 19010 + i%480 + 25569 // counted from 1900
		return []any{fmt.Sprintf("V%06d", i), fmt.Sprintf("S%05d", (i-1)%5000+1), excelize.Cell{StyleID: day, Value: on}, fmt.Sprintf("%02d:%02d", 8+i%9, i*7%60), "follow-up", []string{"5", "5+3", "3", "1"}[i%4],
			i % 11, "5", 8, 10 + float64(i%7)/2, 60 + float64(i%400)/10, "yes", "yes", "sock advice", 15 + i%30, []string{"T1", "T2"}[i%2],
			[]string{"dry", "wet"}[i%2], 15 + float64(i%90)/10, "gel", excelize.Cell{StyleID: day, Value: on + 1}}
	})
	f.DeleteSheet("Sheet1")
	path := filepath.Join(tb.TempDir(), "big.xlsx")
	if err := f.SaveAs(path); err != nil {
		tb.Fatal(err)
	}
	return path
}

// heapPeak watches the heap while work runs and returns the most that it held
// in MiB, garbage not yet collected included.
func heapPeak(work func()) float64 {
	stop, done := make(chan bool), make(chan uint64)
	go func() {
		var peak uint64
		in := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/unused:bytes"}}
		for {
			metrics.Read(in) // which does not stop the work, as runtime.ReadMemStats does
			peak = max(peak, in[0].Value.Uint64()+in[1].Value.Uint64())
			select {
			case <-stop:
				done <- peak
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	work()
	close(stop)
	return float64(<-done) / (1 << 20)
}

// BenchmarkRead200kRows reads 200,000 rows of 20 cells to typed records. Where
// R with the package readxl is there, its time for the sheet of visits of the
// same file is reported beside ours. The bounds are that time and 300 MiB.
//
// Measured on two cores with little else running, thrice: 1.25 s and 161 to
// 179 MiB of heap beside 2.9 to 3.0 s of readxl, 2.3 to 2.4 times as long.
func BenchmarkRead200kRows(b *testing.B) {
	const rows = 200000
	path := bigBook(b, rows)
	peak := 0.0
	for b.Loop() {
		b.StopTimer()
		runtime.GC() // what an earlier round left is none of this one's
		b.StartTimer()
		peak = max(peak, heapPeak(func() {
			log, err := Read(context.Background(), []string{path}, Options{})
			if err != nil {
				b.Fatal(err)
			}
			if len(log.Visits) != rows || len(log.Problems) > 0 {
				b.Fatalf("%d visits, %d problems, first %+v", len(log.Visits), len(log.Problems), log.Problems[0])
			}
		}))
	}
	b.ReportMetric(peak, "peak-MiB")
	if seconds, ok := readxlSeconds(path, "visits"); ok {
		b.ReportMetric(seconds, "readxl-s")
	}
}

// readxlSeconds has R 4.2.2 or later with readxl read one sheet:
// system.time(read_excel(path, sheet)).
func readxlSeconds(path, sheet string) (float64, bool) {
	out, err := exec.Command("Rscript", "-e", fmt.Sprintf("library(readxl); cat(system.time(read_excel(%q, %q))[['elapsed']])", path, sheet)).Output()
	if err != nil {
		return 0, false
	}
	s, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
	return s, err == nil
}

// emptyRows writes a workbook of 25 visits below which a million rows have a
// format in ten cells each and nothing else.
func emptyRows(tb testing.TB) string {
	tb.Helper()
	return archive(tb, "empty.xlsx", bookOf(func() string {
		var rows strings.Builder
		rows.WriteString(oneLimb)
		for i := 3; i <= 26; i++ {
			fmt.Fprintf(&rows, `<row r="%d"><c r="A%d" t="inlineStr"><is><t>P%d</t></is></c><c r="B%d" t="inlineStr"><is><t>L</t></is></c><c r="C%d" t="inlineStr"><is><t>BK</t></is></c></row>`, i, i, i, i, i)
		}
		for i := 27; i <= 1000026; i++ {
			fmt.Fprintf(&rows, `<row r="%d" spans="1:10" s="1" customFormat="1">`, i)
			for c := range 10 {
				fmt.Fprintf(&rows, `<c r="%s%d" s="1"/>`, columnName(c), i)
			}
			rows.WriteString(`</row>`)
		}
		return rows.String()
	}()))
}

// BenchmarkReadMillionEmptyRows opens a workbook of 25 rows with a million
// formatted empty rows below them.
func BenchmarkReadMillionEmptyRows(b *testing.B) {
	path := emptyRows(b)
	peak := 0.0
	for b.Loop() {
		b.StopTimer()
		runtime.GC() // what an earlier round left is none of this one's
		b.StartTimer()
		peak = max(peak, heapPeak(func() {
			log, err := Read(context.Background(), []string{path}, Options{})
			if err != nil {
				b.Fatal(err)
			}
			if len(log.Limbs) != 25 {
				b.Fatalf("%d limbs", len(log.Limbs))
			}
		}))
	}
	b.ReportMetric(peak, "peak-MiB")
}
