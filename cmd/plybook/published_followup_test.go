package main

import (
	"testing"
	"time"
)

// Two sockets of each of 59 persons that begin on one day; the first ended with
// a remake, the second with the person lost. R 4.2.2, testdata/published/visits/check.R:
// glm(poisson, offset(log(years))) with sandwich's vcovCL by person, pyears, and
// survfit with clusters for the events and censorings exchanged.
func TestPublishedFollowUp(t *testing.T) {
	t.Parallel()
	l := &lab{}
	begin := ymd(2021, time.March, 1)
	for _, r := range readRecords(t, "visits") {
		id, days, n := r["subject"], r.whole(t, "days"), r.whole(t, "visits")
		side, end := "left", "remake: growth"
		if r["half"] == "2" {
			side, end = "right", "lost to follow-up"
		}
		socket := "S" + id + side
		l.limbs.add("person", "P"+id, "limb", "P"+id+side, "side", side, "level", "transtibial")
		l.sockets.add("socket", socket, "limb", "P"+id+side, "kind", "definitive", "delivered", begin, "ended", begin+day(days), "end_reason", end, "arm", r["trt"])
		for k := range n {
			l.visits.add("visit", socket+"-"+string(rune('a'+k%26))+string(rune('a'+k/26)), "socket", socket, "date", begin+day(1+k*(days-1)/n), "purpose", "follow-up", "minutes", 1+k)
		}
	}
	n := runLog(t, l, plainCSV, ask("id: seen", "method: follow-up", "by: arm"), nil)
	a := n.answer(t, "seen")
	for _, c := range []struct {
		table, group               string
		watched, count, rate       float64
		low, high                  float64
		ratio, rlow, rhigh, ratioP float64
	}{
		{"visits", "placebo", 7.78097193703, 961, 123.506421534, 84.7250094519, 180.039356252, 0, 0, 0, 0},
		{"visits", "progabide", 16.1259411362, 987, 61.2057300509, 33.7638991432, 110.951089363, 0.495567188254, 0.246502931624, 0.996283640342, 0.0487909505436},
		{"seen", "placebo", 4.52292950034, 671, 148.355175545, 111.451694181, 197.478004015, 0, 0, 0, 0},
		{"seen", "progabide", 10.0150581793, 735, 73.3894887917, 50.0130988687, 107.692128401, 0.494687755396, 0.307833921144, 0.794961044026, 0.00363696352148},
	} {
		r := a.row(t, c.table, "group", c.group)
		years, counted := "person_years", "days_seen"
		if c.table == "visits" {
			years, counted = "socket_years", "visits"
		}
		what := c.table + " " + c.group + " "
		near(t, what+years, r[years], c.watched, 1e-10)
		near(t, what+counted, r[counted], c.count, 0)
		near(t, what+"rate", r["estimate"], c.rate, 1e-10)
		near(t, what+"low", r["low"], c.low, 1e-8)
		near(t, what+"high", r["high"], c.high, 1e-8)
		if c.ratio > 0 {
			near(t, what+"ratio", r["ratio"], c.ratio, 1e-10)
			near(t, what+"ratio low", r["ratio_low"], c.rlow, 1e-8)
			near(t, what+"ratio high", r["ratio_high"], c.rhigh, 1e-8)
			near(t, what+"p", r["p"], c.ratioP, 1e-8)
		} else if r["ratio"] != nil {
			t.Errorf("%s: the first group has a ratio: %v", what, r)
		}
	}
	// The rate of remakes, a socket of each person: glm and vcovCL as above of
	// half == 1, and poisson.test.
	for group, w := range map[string][5]float64{
		"placebo":   {359.852216749, 328.8618126, 393.763012116, 239.119184678, 520.086645611},
		"progabide": {192.236842105, 182.763369281, 202.20136895, 130.615607494, 272.864852548},
	} {
		r := a.row(t, "rates", "group", group)
		for k, col := range []string{"estimate", "clustered_low", "clustered_high", "low", "high"} {
			near(t, group+" rate of remakes "+col, r[col], w[k], 1e-8)
		}
	}
	for group, w := range map[string][8]float64{"placebo": {64, 54, 72, 893, 1, 1, 3, 7}, "progabide": {118, 106, 128, 888, 1, 3, 7, 11}} {
		r := a.row(t, "follow_up", "group", group)
		for k, col := range []string{"median", "low", "high"} {
			near(t, group+" follow-up "+col, r[col], w[k], 0)
		}
		r = a.row(t, "gaps", "group", group)
		for k, col := range []string{"gaps", "lower_quartile", "median", "upper_quartile", "percentile_90"} {
			near(t, group+" "+col, r[col], w[3+k], 1e-12)
		}
	}
	if !a.caution("seen-unequally") {
		t.Error("nothing is said of one group seen half as often")
	}
}
