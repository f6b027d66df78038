package main

import (
	"math"
	"testing"
	"time"
)

// Thicknesses of socks of one material under the load of walking, 1 ply 0.7, 3
// ply 1.2 and 5 ply 1.5 mm (Sanders, Cagle and others 2012, Prosthet Orthot Int
// 36: 77-86), around a limb that is a cylinder of radius 50 mm: geometry gives
// (1 + t/50)^2 - 1, 2.8, 4.9 and 6.1 percent. Two socks are more than one of
// their total ply.
func TestPublishedSocks(t *testing.T) {
	t.Parallel()
	l := &lab{}
	l.limbs.add("Person", "N1", "Side", "L", "Level", "BK")
	l.sockets.add("Socket", "J1", "Limb", "N1-L", "Kind", "def", "Cast", ymd(2024, time.January, 8), "Delivered", ymd(2024, time.February, 5))
	l.visits.add("Socket", "J1", "Date", ymd(2024, time.February, 5), "Purpose", "delivery", "Ply", "0")
	worn := []string{"1", "3", "5", "3+1+1"}
	for k := 0; k <= len(worn); k++ {
		on := ymd(2024, time.February, 5) + day(40*k)
		for mm := 0; mm <= 200; mm += 50 {
			l.stations.add("Limb", "N1-L", "date", on, "landmark", "MTP", "Station", mm, "Limb (mm)", 2*math.Pi*50)
		}
		if k > 0 {
			l.visits.add("Socket", "J1", "Date", on, "Purpose", "F/U", "Ply", worn[k-1])
		}
	}
	n := runLog(t, l, plainCSV, ask("id: socks", "method: sock-volume")+ask("id: thick", "method: summary", "rows: visits", "columns: [sock_mm, sock_volume_pct]"), nil)
	a := n.answer(t, "socks")
	for list, mm := range map[string]float64{"1": 0.7, "3": 1.2, "5": 1.5, "3+1+1": 2.6} {
		share := 100 * (math.Pow(1+mm/50, 2) - 1)
		v := a.row(t, "visits", "socks", list)
		near(t, list+", thickness", v["mm"], mm, closed)
		near(t, list+", of the volume", v["worn"], share, closed)
		near(t, list+", added", v["added"], share, closed)
		near(t, list+", on the middle limb", a.row(t, "socks", "socks", list)["median"], share, closed)
		if f := v["fallen"].(float64); math.Abs(f) > 1e-9 {
			t.Errorf("%s: a limb of one size lost %g%%", list, f)
		}
		if told, ok := map[string]float64{"1": 2.8, "3": 4.9, "5": 6.1}[list]; ok && math.Abs(v["worn"].(float64)-told) > 0.05 {
			t.Errorf("%s ply: %g%%, by geometry %g%%", list, v["worn"], told)
		}
	}
	if two, oneSock := a.row(t, "visits", "socks", "3+1+1")["mm"].(float64), a.row(t, "visits", "socks", "5")["mm"].(float64); two <= oneSock {
		t.Errorf("three socks of 5 ply together are %g mm, one of 5 ply %g mm", two, oneSock)
	}
	near(t, "mean thickness", n.answer(t, "thick").row(t, "rows", "column", "sock_mm")["mean"], (0+0.7+1.2+1.5+2.6)/5, closed)
}
