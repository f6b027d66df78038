package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// tapeLab is a small lab's tape: limbs measured on some days at some stations.
type tapeLab struct {
	limbs int
	rows  []string // of stations: limb, day, station, girth, and what follows
	head  string   // further columns of stations
}

func (l *tapeLab) log() sheets {
	limbs := [][]string{{"person", "limb", "side", "level", "amputated"}}
	for i := 1; i <= l.limbs; i++ {
		limbs = append(limbs, []string{fmt.Sprintf("P%d", i), fmt.Sprintf("P%d-L", i), "left", "TT", day(0)})
	}
	return sheets{"limbs": csvText(limbs), "stations": "limb,date,landmark,station_mm,limb_mm,over,minutes_off,repeat,measured_by" + l.head + "\n" + strings.Join(l.rows, "\n")}
}

// run adds the girths of one run of the tape, a station every 50 mm.
func (l *tapeLab) run(limb, on int, by, more string, girths ...float64) {
	for k, g := range girths {
		l.rows = append(l.rows, fmt.Sprintf("P%d-L,%s,MPT,%d,%g,skin,10,1,%s%s", limb, day(on), 50*k, g, by, more))
	}
}

// cone is the volume in ml of a truncated cone 50 mm high.
func cone(a, b float64) float64 { return 50 * (a*a + a*b + b*b) / (12 * math.Pi) / 1000 }

func tapes() *tapeLab {
	l := &tapeLab{limbs: 2}
	l.run(1, 100, "T1", "", 320, 310, 280)
	l.run(1, 130, "T1", "", 310, 300, 270)
	l.run(1, 190, "T1", "", 308, 298, 268)
	l.run(2, 100, "T1", "", 350, 340)
	return l
}

const girthFront = "audience: quality\ngirth_repeatability: {own: 2, shared: 1, source: our repeats}"

// Volumes, changes and their errors worked out by hand from closed forms.
func TestLimbVolumeOfOneLimb(t *testing.T) {
	a := one(t, tapes().log(), girthFront, "method: limb-volume\nlimb: P1-L")
	v1, v3 := cone(320, 310)+cone(310, 280), cone(308, 298)+cone(298, 268)
	// The derivative of a cone by its first girth is h (2 a + b) / 12 pi.
	by := func(a, b float64) float64 { return 50 * (2*a + b) / (12 * math.Pi) / 1000 }
	se := func(a, b, c float64) float64 {
		d := []float64{by(a, b), by(b, a) + by(b, c), by(c, b)}
		sum := d[0] + d[1] + d[2]
		return math.Sqrt(4*(d[0]*d[0]+d[1]*d[1]+d[2]*d[2]) + sum*sum)
	}
	s1, s3 := se(320, 310, 280), se(308, 298, 268)
	const z = 1.959963984540054
	vols := table(t, a, "volumes")
	want(t, row(t, vols, "days", 0), "limb", "P1-L", "days", 0, "stations", 3, "runs", 1, "from", 0, "to", 100, "volume", v1, "std_error", s1, "low", v1-z*s1, "high", v1+z*s1)
	change := 100 * (v3/v1 - 1)
	sc := 100 * math.Hypot(s3, v3/v1*s1) / v1
	want(t, row(t, table(t, a, "changes"), "days", 90, "against", "first"), "stations", 3, "earlier", v1, "later", v3, "change_ml", v3-v1, "ml_low", v3-v1-z*math.Hypot(s1, s3),
		"change", change, "std_error", sc, "low", change-z*sc, "high", change+z*sc, "other_measurer", false)
	want(t, row(t, table(t, a, "changes"), "days", 60, "against", "previous"), "stations", 3)
	want(t, row(t, table(t, a, "sections"), "station", 50, "girth", 310), "area", 310*310/(4*math.Pi)/100, "gap", 50, "taper", 6, "slab", cone(310, 280))
	want(t, row(t, table(t, a, "sections"), "station", 100), "gap", nil, "taper", nil, "slab", nil)
	want(t, row(t, table(t, a, "measuring")), "source", "girth", "own", 2, "shared", 1, "smallest_change", nil)
	want(t, row(t, table(t, a, "across")), "limbs", 2, "followed", 1, "smaller", 1, "larger", 0, "within_error", 0)
	if a.Rows != 9 || !strings.Contains(a.Reading, "7.7% smaller than at the first measurement") || !strings.Contains(a.Reading, "more than measuring alone") {
		t.Errorf("%d rows: %s", a.Rows, a.Reading)
	}
	wantCaution(t, a, "round-sections", "2.1% to 4.6%", "2.5 points")
	for _, code := range []string{"error-assumed", "other-measurer", "time-off", "wide-gaps", "other-stations", "repeatability", "other-series", "short-measurements", "end-assumed", "one-ratio", "limbs-hidden", "no-widths"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
	if len(a.Figures) != 2 {
		t.Errorf("%d figures", len(a.Figures))
	}
}

func TestLimbVolumeOfAll(t *testing.T) {
	a := one(t, tapes().log(), girthFront, "method: limb-volume")
	if a.Rows != 11 || !strings.Contains(a.Reading, "2 limbs were measured, 1 of them") || len(table(t, a, "volumes").Rows) != 4 {
		t.Errorf("%d rows: %s", a.Rows, a.Reading)
	}
	// What is common where the lab has stated nothing: 5 percent between two
	// volumes, so 5 / (1.96 sqrt 2) percent of one.
	b := one(t, tapes().log(), quality, "method: limb-volume")
	v := row(t, table(t, b, "volumes"), "limb", "P1-L", "days", 0)
	want(t, v, "std_error", v["volume"].(float64)*0.05/(1.959963984540054*math.Sqrt2))
	wantCaution(t, b, "error-assumed", "girth_repeatability")
	c := one(t, tapes().log(), "volume_repeatability: 3", "method: limb-volume")
	want(t, row(t, table(t, c, "volumes"), "limb", "P1-L", "days", 0), "std_error", v["std_error"].(float64)*3/5)
	want(t, row(t, table(t, c, "measuring")), "source", "volume", "smallest_change", 3)
}

// Each caution where it belongs; that none of them stands elsewhere is seen
// above.
func TestLimbVolumeCautions(t *testing.T) {
	ask := "method: limb-volume"
	who := tapes()
	who.run(2, 150, "T2", "", 348, 338)
	a := one(t, who.log(), girthFront, ask)
	wantCaution(t, a, "other-measurer", "1 of 3 changes")
	told := one(t, who.log(), strings.Replace(girthFront, "shared: 1", "shared: 1, measurer: 3", 1), ask)
	if caution(told, "other-measurer") != "" {
		t.Error("the error of measurers is told, and still warned of")
	}
	x, y := row(t, table(t, a, "changes"), "limb", "P2-L"), row(t, table(t, told, "changes"), "limb", "P2-L")
	if x["other_measurer"] != true || y["std_error"].(float64) <= x["std_error"].(float64) {
		t.Errorf("the error of measurers adds nothing: %v, %v", x, y)
	}
	p := row(t, table(t, told, "changes"), "limb", "P1-L", "against", "first", "days", 90)
	want(t, row(t, table(t, a, "changes"), "limb", "P1-L", "against", "first", "days", 90), "std_error", p["std_error"])

	off := tapes()
	off.run(2, 150, "T1", "", 348, 338)
	off.rows[len(off.rows)-1] = strings.Replace(off.rows[len(off.rows)-1], "skin,10", "skin,30", 1)
	off.rows[len(off.rows)-2] = strings.Replace(off.rows[len(off.rows)-2], "skin,10", "skin,30", 1)
	wantCaution(t, one(t, off.log(), girthFront, ask), "time-off", "1 of 3 changes", "2.4% to 10.9%")

	gaps := tapes()
	for _, s := range []string{"0,300", "120,280"} {
		gaps.rows = append(gaps.rows, fmt.Sprintf("P2-L,%s,MPT,%s,skin,10,1,T1", day(150), s))
	}
	b := one(t, gaps.log(), girthFront, ask)
	wantCaution(t, b, "wide-gaps", "1 measurement", "80 mm")
	wantCaution(t, b, "other-stations", "1 change is not told")
	want(t, row(t, table(t, b, "changes"), "limb", "P2-L"), "stations", 0, "change", nil)

	// Another layer, and a day that covers too little of the limb.
	more := tapes()
	more.rows = append(more.rows, fmt.Sprintf("P1-L,%s,MPT,0,340,liner,10,1,T1", day(220)), fmt.Sprintf("P1-L,%s,MPT,50,330,liner,10,1,T1", day(220)))
	more.rows = append(more.rows, fmt.Sprintf("P1-L,%s,MPT,0,300,skin,10,1,T1", day(230)), fmt.Sprintf("P1-L,%s,MPT,20,298,skin,10,1,T1", day(230)))
	c := one(t, more.log(), girthFront, ask)
	wantCaution(t, c, "other-series", "1 measurement is not used")
	wantCaution(t, c, "short-measurements", "1 measurement is without a volume")

	still := tapes()
	still.run(2, 150, "T1", "", 350, 339)
	still.run(2, 160, "T1", "", 350, 341)
	still.run(2, 170, "T1", "", 350, 341)
	wantCaution(t, one(t, still.log(), girthFront, ask), "repeatability", "3 of 5 changes")
}

// Shapes of sections, sides and ends, against closed forms.
func TestLimbVolumeShapes(t *testing.T) {
	l := &tapeLab{limbs: 1, head: ",ml_mm,ap_mm,tip_mm"}
	l.run(1, 100, "T1", ",108,90,130", 320, 320, 320)
	l.run(1, 130, "T1", ",108,90,130", 310, 310, 310)
	round := 100 * 320 * 320 / (4 * math.Pi) / 1000
	vol := func(more string) (float64, func(code string, phrases ...string)) {
		a := one(t, l.log(), girthFront, "method: limb-volume\nlimb: P1-L\n"+more)
		return row(t, table(t, a, "volumes"), "days", 0)["volume"].(float64), func(code string, phrases ...string) { wantCaution(t, a, code, phrases...) }
	}
	same := func(what string, got, want float64) {
		if math.Abs(got-want) > 1e-9*want {
			t.Errorf("%s: %g ml, want %g", what, got, want)
		}
	}
	v, _ := vol("sides: straight")
	same("round", v, round)
	v, has := vol("sides: curved")
	same("a cylinder, curved", v, round)
	has("round-sections", "curved sides", "2.3% to 5.2%")
	v, has = vol("cap: half-sphere")
	same("half a sphere", v-round, 2*math.Pi/3*math.Pow(320/(2*math.Pi), 3)/1000)
	has("end-assumed", "half a sphere")
	v, _ = vol("cap: tip_mm")
	r := 320 / (2 * math.Pi)
	same("part of a sphere", v-round, math.Pi*30/6*(3*r*r+900)/1000)
	// The girth of an ellipse of widths 1.2 to 1 by the trapezoidal rule; its
	// area for a girth of 320.
	g := 0.0
	for k := range 400 {
		u := 2 * math.Pi * (float64(k) + 0.5) / 400
		g += math.Hypot(0.6*math.Sin(u), 0.5*math.Cos(u)) * 2 * math.Pi / 400
	}
	oval := 100 * math.Pi * 0.6 * 0.5 * (320 / g) * (320 / g) / 1000
	v, has = vol("axes: {ratio: 1.2, source: our callipers}")
	same("one ratio", v, oval)
	has("one-ratio", "1.2", "our callipers")
	has("round-sections", "elliptical")
	v, _ = vol("axes: {widths: [ml_mm, ap_mm]}")
	same("two widths", v, oval)
	l.rows[0] = strings.Replace(l.rows[0], ",108,90,", ",,90,", 1)
	_, has = vol("axes: {widths: [ml_mm, ap_mm]}")
	has("no-widths", "1 girth was left out")
}

// What cannot be answered says so.
func TestLimbVolumeDegenerate(t *testing.T) {
	ask := "method: limb-volume"
	l := &tapeLab{limbs: 1}
	l.rows = []string{fmt.Sprintf("P1-L,%s,MPT,0,300,skin,10,1,T1", day(100))}
	wantError(t, one(t, l.log(), quality, ask), "few-stations", "two stations")
	l.rows = append(l.rows, fmt.Sprintf("P1-L,%s,MPT,50,290,skin,10,1,T1", day(100)))
	single := one(t, l.log(), quality, ask+"\nlimb: P1-L")
	if single.Error != nil || !strings.Contains(single.Reading, "one day only") {
		t.Errorf("one day: %v %s", single.Error, single.Reading)
	}
	if a := one(t, l.log(), quality, ask); a.Error != nil {
		t.Error(a.Error)
	}
	wantError(t, one(t, tapes().log(), quality, ask+"\nlimb: P9-L"), "unknown-limb", "P9-L")
	wantError(t, one(t, tapes().log(), quality, ask+"\nkeep: {limb_mm: 900..}"), "no-rows")
	wantError(t, one(t, tapes().log(), quality, ask+"\ncap: end_mm"), "unknown-column", "end_mm")
	wantError(t, one(t, tapes().log(), quality, ask+"\ncap: over"), "impossible", "numbers of mm")
	wantError(t, one(t, tapes().log(), quality, ask+"\nrows: visits"), "impossible", "stations")
	bad := &tapeLab{limbs: 1, head: ",ml_mm,ap_mm"}
	bad.run(1, 100, "T1", ",108,9", 320, 310)
	wantError(t, one(t, bad.log(), quality, ask+"\naxes: {widths: [ml_mm, ap_mm]}"), "bad-widths", "fivefold")
	none := &tapeLab{limbs: 2, head: ",tip_mm"}
	none.run(1, 100, "T1", ",", 320, 310)
	none.run(2, 100, "T1", ",90", 320, 310)
	wantError(t, one(t, none.log(), quality, ask+"\ncap: tip_mm\nkeep: {limb: P1-L}"), "no-end")
}

// A public report shows no limb, and no figure with their lines.
func TestLimbVolumeForThePublic(t *testing.T) {
	l := &tapeLab{limbs: 30}
	for i := 1; i <= 30; i++ {
		l.run(i, 100, "T1", "", 320, 310, 280)
		l.run(i, 160, "T1", "", 310-float64(i%3), 300, 270)
	}
	a := one(t, l.log(), "audience: annual", "method: limb-volume")
	wantCaution(t, a, "limbs-hidden")
	if n := len(table(t, a, "volumes").Rows) + len(table(t, a, "changes").Rows) + len(table(t, a, "sections").Rows); n > 0 {
		t.Errorf("%d rows of single limbs", n)
	}
	want(t, row(t, table(t, a, "across")), "limbs", 30, "followed", 30, "smaller", 30)
	for _, p := range printed(a) {
		if strings.Contains(p, "P1-L") {
			t.Errorf("a limb is named: %s", p)
		}
	}
	wantError(t, one(t, l.log(), "audience: annual", "method: limb-volume\nlimb: P1-L"), "identifying")
	few := &tapeLab{limbs: 3}
	for i := 1; i <= 3; i++ {
		few.run(i, 100, "T1", "", 320, 310, 280)
	}
	wantError(t, one(t, few.log(), "audience: annual", "method: limb-volume"), "too-few-to-show")
}

// Volumes in ml carry their bias in whatever answer prints them.
func TestVolumesTellTheirBias(t *testing.T) {
	l := &tapeLab{limbs: 6}
	for i := 1; i <= 6; i++ {
		for k := range 3 {
			l.run(i, 100+30*k, "T1", "", 320+3*float64(i)-2*float64(k*i%4), 310, 280)
		}
	}
	wantCaution(t, one(t, l.log(), quality, "method: summary\nrows: stations\ncolumns: [volume_ml]"), "round-sections", "2.1% to 4.6%")
	wantCaution(t, one(t, l.log(), quality, "method: mixed\nrows: stations\noutcome: volume_ml\ntime: months_since_amputation"), "round-sections")
	if c := caution(one(t, l.log(), quality, "method: summary\nrows: stations\ncolumns: [limb_mm]"), "round-sections"); c != "" {
		t.Errorf("girths carry the bias of volumes: %s", c)
	}
}
