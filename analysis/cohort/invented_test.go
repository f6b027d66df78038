package cohort

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"plybook/analysis/table"
)

// invented makes a log of so many persons: two limbs each, five sockets a
// limb with a check socket before each, visits and girths.
func invented(persons int, seed uint64) Tables {
	r := rand.New(rand.NewPCG(seed, 5))
	nl := 2 * persons
	ns := nl * 10
	nv := ns * 5
	nm := nl * 12
	limbs, sockets, visits, stations := table.New(Limbs, nl), table.New(Sockets, ns), table.New(Visits, nv), table.New(Stations, nm)
	findings, forming := table.New(Findings, nv/4), table.New(Forming, ns/2)
	text := func(t *table.Table, name string, f func(i int) string) {
		c := table.NewText(name, t.Rows())
		for i := range t.Rows() {
			c.SetText(i, f(i))
		}
		c.Own = len(name) > 4 && name[:4] == table.OwnPrefix
		if err := t.Add(c); err != nil {
			panic(err) // lengths agree by construction
		}
	}
	num := func(t *table.Table, name string, date bool, f func(i int) (float64, bool)) {
		c := table.NewNumber(name, "", t.Rows())
		if date {
			c = table.NewDate(name, t.Rows())
		}
		for i := range t.Rows() {
			if v, ok := f(i); ok {
				c.SetNum(i, v)
			}
		}
		if err := t.Add(c); err != nil {
			panic(err)
		}
	}
	const epoch = 18262 // 2020-01-01
	text(limbs, "person", func(i int) string { return fmt.Sprintf("P%d", i/2) })
	text(limbs, "limb", func(i int) string { return fmt.Sprintf("L%d", i) })
	text(limbs, "level", func(i int) string { return [...]string{"transtibial", "transfemoral"}[r.IntN(2)] })
	num(limbs, "born", false, func(i int) (float64, bool) { return float64(1940 + r.IntN(60)), r.IntN(9) > 0 })
	num(limbs, "amputated", true, func(i int) (float64, bool) { return epoch + float64(r.IntN(200)), r.IntN(9) > 0 })
	num(limbs, "died", true, func(i int) (float64, bool) { return epoch + 1500 + float64(r.IntN(200)), r.IntN(9) == 0 })
	text(sockets, "socket", func(i int) string { return fmt.Sprintf("S%d", i) })
	text(sockets, "limb", func(i int) string { return fmt.Sprintf("L%d", i/10) })
	text(sockets, "kind", func(i int) string { return [...]string{KindCheck, KindDefinitive}[i%2] })
	text(sockets, "replaces", func(i int) string {
		if i%2 == 1 && r.IntN(3) > 0 || i%10 > 1 && r.IntN(6) == 0 {
			return fmt.Sprintf("S%d", i-1)
		}
		return ""
	})
	text(sockets, "own.foam", func(i int) string { return [...]string{"soft", "firm", ""}[r.IntN(3)] })
	begin := func(i int) float64 { return epoch + 220 + float64(i%10/2)*300 + float64(i/10%40) }
	num(sockets, "cast_on", true, func(i int) (float64, bool) { return begin(i) - 20, true })
	num(sockets, "delivered", true, func(i int) (float64, bool) { return begin(i) + 20, i%2 == 1 })
	num(sockets, "ended", true, func(i int) (float64, bool) { return begin(i) + 20 + float64(r.IntN(400)), i%2 == 1 && r.IntN(3) == 0 })
	text(sockets, "end_reason", func(i int) string {
		return [...]string{"", "remake: volume loss", "preference", "moved away"}[r.IntN(4)]
	})
	text(visits, "visit", func(i int) string { return fmt.Sprintf("V%d", i) })
	text(visits, "socket", func(i int) string { return fmt.Sprintf("S%d", i/5) })
	num(visits, "date", true, func(i int) (float64, bool) { return begin(i/5) + float64(i%5*25) - 5, true })
	text(visits, "purpose", func(i int) string {
		return [...]string{PurposeCheckFitting, PurposeDelivery, "follow-up", "walk-in"}[r.IntN(4)]
	})
	text(visits, "accepted", func(i int) string { return [...]string{"yes", "adjusted", "no", ""}[r.IntN(4)] })
	num(visits, "ply", false, func(i int) (float64, bool) { return float64(r.IntN(12)), r.IntN(5) > 0 })
	text(visits, SockList, func(i int) string { return [...]string{"5+3", "sheath+3", "0", "half sock+1", "", "6"}[r.IntN(6)] })
	text(visits, SockListLeft, func(i int) string { return [...]string{"3", "", "1+1"}[r.IntN(3)] })
	num(visits, "comfort", false, func(i int) (float64, bool) { return float64(r.IntN(11)), r.IntN(5) > 0 })
	text(findings, "visit", func(i int) string { return fmt.Sprintf("V%d", r.IntN(nv)) })
	text(findings, "region", func(i int) string { return [...]string{"fibular head", "brim"}[r.IntN(2)] })
	text(findings, "finding", func(i int) string { return [...]string{"none", "pain", "ulcer"}[r.IntN(3)] })
	text(forming, "socket", func(i int) string { return fmt.Sprintf("S%d", r.IntN(ns)) })
	num(forming, "date", true, func(i int) (float64, bool) { return epoch + float64(r.IntN(1500)), true })
	// Four stations on each of three days.
	text(stations, "limb", func(i int) string { return fmt.Sprintf("L%d", i/12) })
	num(stations, "date", true, func(i int) (float64, bool) { return epoch + 200 + float64(i/4%3)*80 + float64(i/12%40), true })
	text(stations, "landmark", func(i int) string { return "mid-patellar tendon" })
	text(stations, "over", func(i int) string { return [...]string{"skin", "liner"}[i/12%2] })
	num(stations, "station_mm", false, func(i int) (float64, bool) { return float64(i % 4 * 40), true })
	num(stations, "limb_mm", false, func(i int) (float64, bool) { return 320 - float64(i%4*10) - float64(i/4%3*5) + r.Float64(), true })
	num(stations, "model_mm", false, func(i int) (float64, bool) { return 300 - float64(i%4*10) + r.Float64(), i/4%3 == 0 })
	text(stations, "socket", func(i int) string {
		if i/4%3 == 0 {
			return fmt.Sprintf("S%d", i/12*10+1)
		}
		return ""
	})
	return Tables{Limbs: limbs, Sockets: sockets, Stations: stations, Visits: visits, Findings: findings, Forming: forming}
}

// 100,000 sockets and 500,000 visits.
func BenchmarkBuild(b *testing.B) {
	in := invented(5000, 1)
	set := reasons(Settings{})
	b.ResetTimer()
	for range b.N {
		if _, err := Build(in, set); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRows(b *testing.B) {
	c, err := Build(invented(5000, 1), reasons(Settings{}))
	if err != nil {
		b.Fatal(err)
	}
	for _, name := range []string{Sockets, Visits} {
		b.Run(name, func(b *testing.B) {
			for range b.N {
				clear(c.tables) // tables are kept once made
				if _, err := c.Rows(name); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkLives(b *testing.B) {
	c, err := Build(invented(5000, 1), reasons(Settings{}))
	if err != nil {
		b.Fatal(err)
	}
	rows, err := c.Rows(Sockets)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		if _, err := c.Lives(rows, LifeSpec{}); err != nil {
			b.Fatal(err)
		}
	}
}
