package cohort

import (
	"math"
	"testing"

	"plybook/analysis/limb"
)

// A limb that is a cylinder of radius 50 mm when cast, 49 mm at delivery and
// 48 mm later, seen in one socket.
func sockLog(t *testing.T) Tables {
	return Tables{
		Limbs:   tab(t, Limbs, "person | limb\nP1 | L1\nP2 | L2"),
		Sockets: tab(t, Sockets, "socket | limb | kind | cast_on | delivered | liner_mm\nA | L1 | definitive | 2022-01-01 | 2022-02-01 | 6\nB | L2 | definitive | 2022-01-01 | 2022-02-01 | -"),
		Visits: tab(t, Visits, "visit | socket | date | purpose | ply | sock_list | sock_list_left\n"+
			"V0 | A | 2022-02-01 | delivery | - | - | 3\nV1 | A | 2022-03-01 | follow-up | 4 | 3+1 | -\nV2 | A | 2022-04-10 | follow-up | 9 | - | -\n"+
			"V3 | A | 2022-05-01 | follow-up | 1 | half sock+1 | -\nV4 | A | 2023-06-01 | follow-up | 5 | 5 | -\nV5 | A | 2022-03-03 | follow-up | 0 | 0 | -\n"+
			"V6 | B | 2022-03-01 | follow-up | 3 | 3 | -\nV7 | A | 2022-02-12 | follow-up | 1 | sheath+1 | -"),
		Stations: tab(t, Stations, "limb | date | landmark | over | measured_by | station_mm | limb_mm\n"+
			girthsOn("2021-12-28", 50)+girthsOn("2022-02-03", 49)+girthsOn("2022-03-05", 48)),
	}
}

func girthsOn(day string, radius float64) string {
	out := ""
	for _, mm := range []string{"0", "200"} {
		out += "L1 | " + day + " | MPT | skin | T1 | " + mm + " | " + number(2*math.Pi*radius) + "\n"
	}
	return out
}

// Thicknesses of Sanders and others 2012 (1 ply 0.7, 3 ply 1.2, 5 ply 1.5 mm);
// what a layer takes of a cylinder is (1 + mm/radius)^2 - 1.
func TestSocksWorn(t *testing.T) {
	c := build(t, sockLog(t), Settings{})
	v := rowsOf(t, c, Visits)
	want(t, "list", show(t, v, SockList), "- 3+1 - half sock+1 5 0 3 sheath+1")
	want(t, "left", show(t, v, SockListLeft), "3 - - - - - - -")
	want(t, "thickness", show(t, v, "sock_mm"), "- 1.9 - - 1.5 0 1.2 0.7")
	share := func(mm, radius float64) string { return number(100 * (math.Pow(1+mm/radius, 2) - 1)) }
	// V4 is more than 180 days from any measurement, and the other limb was
	// never measured; V7 lies nearest to the delivery's.
	want(t, "share", show(t, v, "sock_volume_pct"), "- "+share(1.9, 48)+" - - - 0 - "+share(0.7, 49))
	thin, err := limb.NewThickness([]limb.Sock{{Ply: 1, MM: 0.2}, {Ply: 3, MM: 0.5}})
	if err != nil {
		t.Fatal(err)
	}
	want(t, "the lab's own", show(t, rowsOf(t, build(t, sockLog(t), Settings{Socks: thin}), Visits), "sock_mm"), "- 0.7 - - 0.8 0 0.5 0.2")
}

func TestSockChange(t *testing.T) {
	c := build(t, sockLog(t), Settings{})
	x, gap := c.SockChange("V1")
	if gap != "" {
		t.Fatal(gap)
	}
	if x.Limb != "L1" || x.Socket != "A" || x.Days != 28 || x.Then.Words() != "3" || x.Now.Words() != "3+1" || x.AtCast || x.LinerMM != 6 || x.Over != "skin" || x.EarlierBy != "T1" || x.Beyond {
		t.Errorf("%+v", x)
	}
	if math.Abs(x.ThenMM-1.2) > 1e-12 || math.Abs(x.NowMM-1.9) > 1e-12 || x.Span != (limb.Span{From: 0, To: 200}) {
		t.Errorf("%g and %g mm over %v", x.ThenMM, x.NowMM, x.Span)
	}
	a, _ := x.Earlier.Profile.VolumeOver(x.Span)
	b, _ := x.Later.Profile.VolumeOver(x.Span)
	if math.Abs(b/a-math.Pow(48./49, 2)) > 1e-6 { // girths are written with four digits
		t.Errorf("volumes %g and %g", a, b)
	}
	for visit, wantGap := range map[string]SockGap{"V0": SockNotAfter, "V2": SockNoList, "V3": SockHalf, "V4": SockNoVolume, "V5": "", "V6": SockNoListBefore, "V7": SockSameMeasure, "V9": SockNoSocket} {
		if _, gap := c.SockChange(visit); gap != wantGap {
			t.Errorf("%s: %q, want %q", visit, gap, wantGap)
		}
	}
	// Without a measurement near the delivery that of the cast stands for it.
	in := sockLog(t)
	in.Stations = tab(t, Stations, "limb | date | landmark | over | measured_by | station_mm | limb_mm\n"+girthsOn("2021-12-28", 50)+girthsOn("2022-03-05", 48))
	if x, gap := build(t, in, Settings{}).SockChange("V1"); gap != "" || !x.AtCast {
		t.Errorf("%q %+v", gap, x)
	}
	in.Stations = tab(t, Stations, "limb | date | landmark | over | measured_by | station_mm | limb_mm\n"+girthsOn("2022-03-05", 48))
	if _, gap := build(t, in, Settings{}).SockChange("V1"); gap != SockNoBase {
		t.Errorf("%q, want %q", gap, SockNoBase)
	}
}

func TestHourAndMonth(t *testing.T) {
	in := Tables{
		Limbs:    tab(t, Limbs, "person | limb\nP1 | L1"),
		Sockets:  tab(t, Sockets, "socket | limb | kind | delivered\nA | L1 | definitive | 2022-02-01"),
		Visits:   tab(t, Visits, "visit | socket | date | time\nV1 | A | 2022-03-31 | 870\nV2 | A | 2022-12-01 | -\nV3 | A | 2023-01-01 | 0"),
		Stations: tab(t, Stations, "limb | date | station_mm | limb_mm\nL1 | 2022-07-09 | 0 | 300"),
	}
	v := rowsOf(t, build(t, in, Settings{}), Visits)
	want(t, "hour", show(t, v, HourOfDay), "14.5 - 0")
	want(t, "month", show(t, v, MonthOfYear), "3 12 1")
	want(t, "month of a measurement", show(t, rowsOf(t, build(t, in, Settings{}), Stations), MonthOfYear), "7")
	// Where no time was recorded at all, none is made up.
	in.Visits = tab(t, Visits, "visit | socket | date\nV1 | A | 2022-03-31")
	want(t, "no hour", show(t, rowsOf(t, build(t, in, Settings{}), Visits), HourOfDay), "-")
	moved := rowsOf(t, build(t, in, Settings{Shift: map[string]float64{"P1": 14}}), Visits)
	want(t, "no month", show(t, moved, MonthOfYear), "-")
}
