package ingest

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/xuri/excelize/v2"
)

// BenchmarkRead50kVisits reads a workbook with 50,000 visits of 16 columns.
func BenchmarkRead50kVisits(b *testing.B) {
	const rows = 50000
	f := excelize.NewFile()
	defer f.Close()
	write := func(sheet string, n int, row func(i int) []any) {
		if _, err := f.NewSheet(sheet); err != nil {
			b.Fatal(err)
		}
		w, err := f.NewStreamWriter(sheet)
		if err != nil {
			b.Fatal(err)
		}
		for i := range n + 1 {
			if err := w.SetRow(cellName(0, i+1), row(i)); err != nil {
				b.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			b.Fatal(err)
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
			return []any{"visit", "socket", "date", "time", "purpose", "ply", "comfort", "ply_left", "comfort_left", "hours", "mass_kg", "accepted", "skin_checked", "action", "minutes", "seen_by"}
		}
		return []any{i, fmt.Sprintf("S%05d", (i-1)%5000+1), Date(19010 + i%480).String(), "10:30", "follow-up", "5+3", i % 11, "5", 8, 10, 80.5, "", "yes", "sock advice", 20, "T1"}
	})
	f.DeleteSheet("Sheet1")
	path := filepath.Join(b.TempDir(), "big.xlsx")
	if err := f.SaveAs(path); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		log, err := Read(context.Background(), []string{path}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if len(log.Visits) != rows {
			b.Fatalf("%d visits, first problem %+v", len(log.Visits), log.Problems[0])
		}
	}
}
