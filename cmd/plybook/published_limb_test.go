package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// Five limb surfaces whose girths, section areas and volume are known
// (testdata/published/limb_shapes), told as limbs that were measured once:
// volumes by truncated cones as published, and what an ellipse of the girth and
// area that each section has makes of them. The areas are there for the ratio of
// its widths, so that the answer's areas must be those published.
func TestPublishedLimbSurfaces(t *testing.T) {
	t.Parallel()
	l := &lab{}
	ids, seen := map[string]string{}, []string{}
	areas := map[string]map[string]float64{}
	for _, r := range readRecords(t, "limb_shapes") {
		id, ok := ids[r["shape"]]
		if !ok {
			id = fmt.Sprintf("N%d", len(ids)+1)
			ids[r["shape"]] = id
			seen = append(seen, r["shape"])
			areas[id] = map[string]float64{}
			l.limbs.add("Person", id, "Side", "L", "Level", "BK")
		}
		areas[id][r["station_mm"]] = r.num(t, "section_mm2")
		a, b := widthsOf(r.num(t, "girth_mm"), r.num(t, "section_mm2"))
		l.stations.add("Limb", id+"-L", "date", ymd(2024, time.March, 4), "landmark", "MTP", "Station", r["station_mm"]+" mm", "Limb (cm)", r.num(t, "girth_mm")/10, "ml_mm", a, "ap_mm", b)
	}
	n := runLog(t, l, plainCSV, ask("id: cones", "method: limb-volume")+ask("id: curved", "method: limb-volume", "sides: curved")+
		ask("id: ovals", "method: limb-volume", "sides: curved", "axes: {widths: [ml_mm, ap_mm]}")+ask("id: one", "method: limb-volume", "limb: N1-L"), nil)
	want := expected(t, "limb_shapes")
	if len(seen) != 5 {
		t.Fatalf("%d surfaces", len(seen))
	}
	for _, shape := range seen {
		w, id := want.at("volumes", "r", shape), ids[shape]+"-L"
		cones := n.answer(t, "cones").row(t, "volumes", "limb", id)
		near(t, shape+", cones", cones["volume"], w.at("frusta_ml_every_20mm").num(), closed)
		truth := w.at("true_volume_ml").num()
		near(t, shape+", cones over the truth", cones["volume"].(float64)/truth, w.at("frusta_over_true").num(), closed)
		for way, share := range map[string][2]float64{"curved": {1.0225, 1.0525}, "ovals": {0.9985, 1.0005}} {
			if v := n.answer(t, way).row(t, "volumes", "limb", id)["volume"].(float64) / truth; v < share[0] || v > share[1] {
				t.Errorf("%s, %s: %g of the truth", shape, way, v)
			}
		}
		for _, r := range n.answer(t, "ovals").table(t, "sections") {
			if r["limb"] == id {
				near(t, shape+", area", r["area"], areas[ids[shape]][fmt.Sprint(r["station"])]/100, 1e-9)
			}
		}
	}
}

// widthsOf are the two widths in mm of the ellipse of a girth and an area, by
// halving, its girth by the trapezoidal rule on the arc.
func widthsOf(girth, area float64) (a, b float64) {
	ofRatio := func(r float64) (a, b, girth float64) {
		a, b = 2*math.Sqrt(area*r/math.Pi), 2*math.Sqrt(area/(r*math.Pi))
		for k := range 400 {
			u := 2 * math.Pi * (float64(k) + 0.5) / 400
			girth += math.Hypot(a/2*math.Sin(u), b/2*math.Cos(u)) * 2 * math.Pi / 400
		}
		return a, b, girth
	}
	lo, hi := 1.0, 4.0
	for range 60 {
		mid := (lo + hi) / 2
		if _, _, g := ofRatio(mid); g < girth {
			lo = mid
		} else {
			hi = mid
		}
	}
	a, b, _ = ofRatio(lo)
	return a, b
}
