package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// sockLab is a log of limbs that are cylinders of 200 mm, cast on day 100,
// delivered on day 130.
type sockLab struct {
	limbs, sockets, visits, stations []string
}

func (l *sockLab) limb(i int, liner string) {
	l.limbs = append(l.limbs, fmt.Sprintf("P%d,P%d-L,left,TT,%s", i, i, day(0)))
	l.sockets = append(l.sockets, fmt.Sprintf("S%d,P%d-L,definitive,%s,%s,%s", i, i, day(100), day(130), liner))
}

func (l *sockLab) visit(i, on int, purpose, ply string) {
	l.visits = append(l.visits, fmt.Sprintf("S%d,%s,%s,%s", i, day(on), purpose, ply))
}

func (l *sockLab) girths(i, on int, by string, radius float64) {
	for _, mm := range []int{0, 100, 200} {
		l.stations = append(l.stations, fmt.Sprintf("P%d-L,%s,MPT,%d,%g,skin,10,1,%s", i, day(on), mm, 2*math.Pi*radius, by))
	}
}

func (l *sockLab) log() sheets {
	return sheets{"limbs": "person,limb,side,level,amputated\n" + strings.Join(l.limbs, "\n"), "sockets": "socket,limb,kind,cast_on,delivered,liner_mm\n" + strings.Join(l.sockets, "\n"),
		"visits":   "socket,date,purpose,ply\n" + strings.Join(l.visits, "\n"),
		"stations": "limb,date,landmark,station_mm,limb_mm,over,minutes_off,repeat,measured_by\n" + strings.Join(l.stations, "\n")}
}

func twoCylinders() *sockLab {
	l := &sockLab{}
	l.limb(1, "")
	l.limb(2, "")
	for i, r := range []float64{50, 60} {
		l.visit(i+1, 130, "delivery", "3")
		l.girths(i+1, 130, "T1", r)
		l.girths(i+1, 200, "T1", r-1)
	}
	l.visit(1, 200, "follow-up", "3+1")
	l.visit(2, 200, "follow-up", "5")
	return l
}

// What a layer takes of a cylinder is ((r + t)^2 - r^2) / r^2, thicknesses
// those of Sanders and others 2012: 1 ply 0.7, 3 ply 1.2, 5 ply 1.5 mm.
func TestSockVolume(t *testing.T) {
	a := one(t, twoCylinders().log(), girthFront, "method: sock-volume")
	layer := func(mm, r float64) float64 { return (r+mm)*(r+mm) - r*r }
	r1 := row(t, table(t, a, "visits"), "limb", "P1-L")
	added, fallen := 100*(layer(1.9, 49)-layer(1.2, 49))/2500, 100*(1-49.*49/2500)
	// A girth at a station of a cylinder with three: derivative of the volume
	// 50, 100 and 50 mm times girth / 2 pi; own error 2 mm, shared 1 mm.
	se := func(r float64) float64 { return r * math.Sqrt(4*(50*50+100*100+50*50)+200*200) / 1000 }
	v0, v1 := math.Pi*2500*200/1000, math.Pi*49*49*200/1000
	sd := 100 * math.Hypot(se(49), v1/v0*se(50)) / v0
	const z = 1.959963984540054
	want(t, r1, "days", 70, "socks_at_delivery", "3", "socks", "3+1", "mm_at_delivery", 1.2, "mm", 1.9, "worn", 100*layer(1.9, 49)/(49*49), "added", added, "fallen", fallen,
		"std_error", sd, "difference", added-fallen, "low", added-fallen-z*sd, "high", added-fallen+z*sd, "base_at_cast", false, "other_measurer", false)
	added2, fallen2 := 100*(layer(1.5, 59)-layer(1.2, 59))/3600, 100*(1-59.*59/3600)
	d1, d2 := added-fallen, added2-fallen2
	across := row(t, table(t, a, "across"))
	// The mean of two persons: error half their distance, one degree of freedom.
	want(t, across, "sockets", 2, "persons", 2, "difference", (d1+d2)/2, "std_error", math.Abs(d1-d2)/2, "df", 1, "added_median", (added+added2)/2, "fallen_median", (fallen+fallen2)/2)
	want(t, row(t, table(t, a, "socks"), "socks", "3"), "mm", 1.2, "median", 50*(layer(1.2, 49)/(49*49)+layer(1.2, 59)/(59*59)), "visits", 2, "beyond_known", false)
	want(t, row(t, table(t, a, "socks"), "socks", "3+1"), "visits", 1)
	// Several materials: 1.1 for 1.9 mm and 0.8 for 1.5 mm, 0.56 in the middle.
	// A fall of 4 percent leaves r: it was r / sqrt(0.96).
	back := (49 + 59) / 2. * (1/math.Sqrt(0.96) - 1)
	want(t, row(t, table(t, a, "falls"), "fall", 4), "median", back)
	if a.Rows != 2 || len(a.Figures) != 1 || !strings.Contains(a.Reading, "one sock of 3 ply takes 4.5% of the volume") || !strings.Contains(a.Reading, "made up for by a layer of 1.1 mm") || !strings.Contains(a.Reading, "points less than was lost") {
		t.Errorf("%d rows, %d figures: %s", a.Rows, len(a.Figures), a.Reading)
	}
	wantCaution(t, a, "no-instruction", "no instruction to add socks")
	wantCaution(t, a, "ply-not-additive", "1 of 4 visits", "2.1 mm here and one of 3 ply 1.2 mm")
	wantCaution(t, a, "published-thickness", "several materials", "0.56 times", "10.4%")
	wantCaution(t, a, "few-persons", "2 persons")
	for _, code := range []string{"own-thickness", "one-number", "beyond-known", "base-at-cast", "error-assumed", "other-measurer", "repeatability", "over-liner", "limbs-hidden"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
}

func TestSockVolumeOfOneLimb(t *testing.T) {
	a := one(t, twoCylinders().log(), girthFront, "method: sock-volume\nlimb: P2-L")
	if a.Rows != 1 || len(a.Figures) != 1 || !strings.Contains(a.Reading, "Limb P2-L") || !strings.Contains(a.Reading, "which has fallen by 3.3%") || !strings.Contains(a.Reading, "less than what was lost, by more than the error") {
		t.Errorf("%d rows, %d figures: %s", a.Rows, len(a.Figures), a.Reading)
	}
	if len(table(t, a, "visits").Rows) != 1 || caution(a, "ply-not-additive") != "" || caution(a, "few-persons") != "" {
		t.Errorf("what other limbs wore is told of this one: %v", a.Cautions)
	}
	wantError(t, one(t, twoCylinders().log(), girthFront, "method: sock-volume\nlimb: P2L"), "unknown-limb", "P2-L")
	wantError(t, one(t, twoCylinders().log(), "audience: annual\nhide_below: 0", "method: sock-volume\nlimb: P2-L"), "identifying")
	grown := twoCylinders()
	grown.girths(2, 300, "T1", 61)
	grown.visit(2, 300, "follow-up", "3")
	b := one(t, grown.log(), girthFront, "method: sock-volume\nlimb: P2-L")
	if !strings.Contains(b.Reading, "which has risen by 3.4%") || !strings.Contains(b.Reading, "more than what was lost") {
		t.Error(b.Reading)
	}
}

// Each caution where it belongs; that none of them stands elsewhere is seen
// above.
func TestSockVolumeCautions(t *testing.T) {
	ask := "method: sock-volume"
	wantCaution(t, one(t, twoCylinders().log(), quality, ask), "error-assumed", "girth_repeatability")
	own := one(t, twoCylinders().log(), girthFront+"\nsock_thickness: {1: 0.5, 5: 2, source: our caliper}", ask)
	wantCaution(t, own, "own-thickness", "our caliper")
	if caution(own, "published-thickness") != "" {
		t.Error("the lab's own thicknesses are called published")
	}
	want(t, row(t, table(t, own, "socks"), "socks", "3+1"), "mm", 1.75)
	several := one(t, twoCylinders().log(), girthFront+"\nsock_thickness: several-materials", ask)
	want(t, row(t, table(t, several, "socks"), "socks", "3+1"), "mm", 1.1)
	wantCaution(t, several, "published-thickness", "one material")

	l := twoCylinders()
	l.limb(3, "6")
	l.visit(3, 130, "delivery", "3")
	l.visit(3, 200, "follow-up", "4")
	l.visit(3, 201, "follow-up", "6")
	l.girths(3, 100, "T1", 50)
	l.girths(3, 200, "T2", 50)
	a := one(t, l.log(), girthFront, ask)
	wantCaution(t, a, "one-number", "1 of 7 visits")
	wantCaution(t, a, "beyond-known", "1 of 3 sockets")
	wantCaution(t, a, "base-at-cast", "1 of 3 sockets")
	wantCaution(t, a, "other-measurer", "1 of 3 sockets")
	wantCaution(t, a, "over-liner", "1 of 3 sockets", "12% more")
	m := twoCylinders()
	m.girths(1, 260, "T1", 50.1)
	m.visit(1, 260, "follow-up", "1")
	m.girths(2, 260, "T1", 60.1)
	m.visit(2, 260, "follow-up", "3")
	wantCaution(t, one(t, m.log(), girthFront, ask), "repeatability", "2 of 2 sockets")
	wantCaution(t, one(t, twoCylinders().log(), "audience: research\nhide_below: 0", ask), "limbs-hidden")
}

// Where nothing can be held against anything, a sentence says what is needed.
func TestSockVolumeOfNothing(t *testing.T) {
	l := &sockLab{}
	l.limb(1, "")
	l.visit(1, 130, "delivery", "3")
	l.visit(1, 200, "follow-up", "9")
	l.girths(1, 130, "T1", 50)
	wantError(t, one(t, l.log(), quality, "method: sock-volume"), "no-pairs", "list of socks", "no list of socks at the visit")
	l.visit(1, 210, "follow-up", "half sock + 3")
	wantError(t, one(t, l.log(), quality, "method: sock-volume"), "no-pairs")
	if a := one(t, twoCylinders().log(), "audience: annual", "method: sock-volume"); a.Error == nil {
		t.Error("two limbs were told of in public")
	}
}
