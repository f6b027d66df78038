package main

import (
	"fmt"
	"testing"
	"time"
)

// Sheets of which as many came out good as in the shares of Newcombe RG. Stat
// Med 1998; 17: 857-872 (81 of 263, 15 of 148, 0 of 20, 1 of 29), with the
// exact limits of R 4.2.2, binom.test. The first are half an inch at 400 F for
// 15 minutes, turned half-way: common practice, no source. The minutes of
// another sheet are the distances of orthodont, their quartiles those of R,
// quantile(x).
func TestPublishedForming(t *testing.T) {
	t.Parallel()
	l := &lab{}
	l.limbs.add("person", "P1", "limb", "P1-left", "side", "left", "level", "transtibial")
	l.limbs.add("person", "P2", "limb", "P2-left", "side", "left", "level", "transtibial")
	k := 0
	pull := func(cells ...any) {
		k++
		socket := fmt.Sprintf("S%d", k)
		l.sockets.add("socket", socket, "limb", fmt.Sprintf("P%d-left", 1+k%2), "kind", "definitive")
		l.forming.add(append([]any{"socket", socket, "date", ymd(2024, time.March, 4) + day(k)}, cells...)...)
	}
	shares := []struct {
		material, sheet    string
		good, n            int
		percent, low, high float64
	}{
		{"copolymer", `1/2"`, 81, 263, 30.7984790874525, 25.2736745585271, 36.7621922601351},
		{"copolymer", "6 mm", 15, 148, 10.1351351351351, 5.78440100834486, 16.1650490349479},
		{"PETG", "12 mm", 0, 20, 0, 0, 16.8433470983085},
		{"PETG", "9 mm", 1, 29, 3.44827586206897, 0.0872646883579923, 17.7644295488723},
	}
	for _, s := range shares {
		for i := range s.n {
			result := "good"
			if i >= s.good {
				result = "thin spot"
			}
			pull("sheet_material", s.material, "sheet", s.sheet, "Oven (F)", "400", "minutes", 15, "flipped_at_min", 7.5, "thinnest_mm", 3+float64(i%5)/10, "result", result)
		}
	}
	for _, r := range readRecords(t, "orthodont") {
		pull("sheet_material", "distance", "sheet", "5 mm", "minutes", r.num(t, "distance"), "result", "good")
	}
	n := runLog(t, l, oneWorkbook, ask("id: log", "method: forming-log", "ranges:",
		"  - {material: copolymer, oven_c: 203..206, flipped: 50%..50%, source: a sheet}",
		"  - {material: distance, minutes: ..25, source: another sheet}"), nil)
	a := n.answer(t, "log")
	for i, mm := range []float64{12.7, 6, 12, 9} {
		s := shares[i]
		r := a.row(t, "rows", "material", s.material, "sheet_mm", mm)
		near(t, s.sheet+" sheets", r["sheets"], float64(s.n), 0)
		near(t, s.sheet+" good", r["good"], float64(s.good), 0)
		near(t, s.sheet+" share", r["good_percent"], s.percent, closed)
		near(t, s.sheet+" low", r["low"], s.low, closed)
		near(t, s.sheet+" high", r["high"], s.high, closed)
		near(t, s.sheet+" oven", a.row(t, "measures", "material", s.material, "sheet_mm", mm, "measure", "oven_c")["median"], 5*(400.0-32)/9, closed)
		near(t, s.sheet+" turned", a.row(t, "measures", "material", s.material, "sheet_mm", mm, "measure", "flipped_percent")["median"], 50, closed)
	}
	near(t, "within", a.row(t, "ranges", "material", "copolymer", "sheet_mm", 12.7, "settings", "within")["sheets"], 263, 0)
	m := a.row(t, "measures", "material", "distance", "measure", "minutes")
	for _, q := range []struct {
		column string
		want   float64
	}{{"minimum", 16.5}, {"lower_quartile", 22}, {"median", 23.75}, {"upper_quartile", 26}, {"maximum", 31.5}, {"recorded", 108}} {
		near(t, q.column, m[q.column], q.want, closed)
	}
	above := 0
	for _, r := range readRecords(t, "orthodont") {
		if r.num(t, "distance") > 25 {
			above++
		}
	}
	near(t, "above", m["above"], float64(above), 0)
}
