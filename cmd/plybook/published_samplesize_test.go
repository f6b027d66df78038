package main

import (
	"math"
	"testing"
)

// Freireich et al. 1963, the group on 6-MP: the published curve stands at
// 0.753 from week 10 (survfit gives 0.752941176470588), so 24.7 percent have
// the event by then. From it Schoenfeld's formula (Biometrics 1983; 39:
// 499-503) is worked out here once more, with the quantiles 1.959963985
// (97.5 percent) and 0.841621234 (80 percent) of R 4.2.2, qnorm.
func TestPublishedSampleSize(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "freireich") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "cens")), serial: i,
			own: []any{"treat", r["treat"]}})
	}
	l, _ := tell(lives)
	plan := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: sample-size", "keep: {treat: 6-MP}", "ratios: [0.5]", "power: 0.8", "until: 10d"}, more...)...)
	}
	n := runLog(t, l, plainCSV, plan("plain")+plan("third", "share: 0.25", "lost: 0.2")+plan("entry", "accrual: 6d"), nil)

	const za, zb = 1.959963985, 0.841621234
	events := func(v float64) float64 { return (za + zb) * (za + zb) / (v * math.Ln2 * math.Ln2) }
	km := expected(t, "freireich").at("km_6mp_loglog", "km")
	at := func(time float64) float64 {
		s := 1.0
		for i, x := range km.at("time").list() {
			if x <= time {
				s = km.at("surv").list()[i]
			}
		}
		return s
	}
	check := func(id string, v, group, other, share, lost float64) {
		t.Helper()
		r := n.answer(t, id).row(t, "rows", "ratio", 0.5)
		near(t, id+" events", r["events"], events(v), 1e-8)
		near(t, id+" group", r["event_share_group"], group, closed)
		near(t, id+" other", r["event_share_other"], other, closed)
		near(t, id+" share", r["event_share"], share, closed)
		near(t, id+" sockets", r["sockets"], math.Ceil(math.Ceil(events(v))/(share*(1-lost))), 0)
	}
	s := at(10)
	g, o := 1-s, 1-math.Sqrt(s)
	check("plain", 0.25, g, o, (g+o)/2, 0)
	check("third", 0.75*0.25, g, o, 0.75*g+0.25*o, 0.2)
	simpson := func(f func(float64) float64) float64 { return (f(at(10)) + 4*f(at(13)) + f(at(16))) / 6 }
	g, o = simpson(func(s float64) float64 { return 1 - s }), simpson(func(s float64) float64 { return 1 - math.Sqrt(s) })
	check("entry", 0.25, g, o, (g+o)/2, 0)
}
