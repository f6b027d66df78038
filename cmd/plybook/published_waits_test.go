package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// The times of the VA lung cancer trial told as waits from referral to
// delivery; those censored are sockets whose person died on the day. R 4.2:
// quantile(x, p, type = 2) and sort(x)[qbinom(c(.025, .975), n, p) + c(0, 1)]
// where all waits are over; quantile(survfit(Surv(time, status) ~ 1,
// conf.type = "log-log"), p) where some are open.
func TestPublishedWaits(t *testing.T) {
	t.Parallel()
	l := &lab{}
	for i, r := range readRecords(t, "veteran") {
		begin := ymd(2015, time.January, 5) + day(i%40)
		end := begin + day(r.whole(t, "time"))
		limb := []any{"person", fmt.Sprintf("P%d", i), "side", "left", "level", "transtibial", "last_seen", end}
		socket := []any{"socket", fmt.Sprintf("S%d", i), "limb", fmt.Sprintf("P%d-left", i), "kind", "definitive", "arm", []string{"", "old", "new"}[r.whole(t, "trt")], "status", r.whole(t, "status"), "referred", begin}
		if r.whole(t, "status") == 1 {
			socket = append(socket, "delivered", end)
		} else {
			limb = append(limb, "died", end)
		}
		limb = append(limb, "limb", fmt.Sprintf("P%d-left", i))
		l.limbs.add(limb...)
		l.sockets.add(socket...)
	}
	n := runLog(t, l, oneWorkbook,
		ask("id: all", "method: turnaround")+
			ask("id: over", "method: turnaround", "keep: {status: 1}", "steps: [referred, delivered]")+
			ask("id: arms", "method: turnaround", "by: arm")+
			ask("id: arms-over", "method: turnaround", "by: arm", "keep: {status: 1}"), nil)
	for _, c := range []struct {
		id, group, limits string
		over, open        float64
		quantiles         [4][3]float64
	}{
		{"all", "all", "kaplan-meier", 128, 9, [4][3]float64{{25, 18, 33}, {80, 52, 100}, {162, 132, 231}, {340, 250, 411}}},
		{"over", "all", "order-statistics", 128, 0, [4][3]float64{{23, 18, 31}, {62, 51, 95}, {147.5, 117, 201}, {314, 228, 392}}},
		{"arms", "old", "kaplan-meier", 64, 5, [4][3]float64{{27, 12, 54}, {103, 54, 126}, {162, 132, 250}, {287, 216, 411}}},
		{"arms", "new", "kaplan-meier", 64, 4, [4][3]float64{{24.5, 15, 33}, {52.5, 43, 90}, {140, 99, 283}, {378, 231, 991}}},
		{"arms-over", "old", "order-statistics", 64, 0, [4][3]float64{{21.5, 12, 52}, {93.5, 52, 122}, {154.5, 122, 250}, {278, 200, 411}}},
		{"arms-over", "new", "order-statistics", 64, 0, [4][3]float64{{24, 15, 33}, {51.5, 33, 87}, {122.5, 87, 283}, {357, 201, 991}}},
	} {
		a := n.answer(t, c.id)
		r := a.row(t, "rows", "group", c.group)
		near(t, c.id+" over", r["over"], c.over, 0)
		near(t, c.id+" open", r["open"], c.open, 0)
		near(t, c.id+" sockets", r["sockets"], c.over+c.open, 0)
		if r["limits"] != c.limits || r["step"] != "referral to delivery" {
			t.Errorf("%s: %v", c.id, r)
		}
		for k, p := range []float64{0.25, 0.5, 0.75, 0.9} {
			q := a.row(t, "quantiles", "group", c.group, "quantile", p)
			for i, col := range []string{"estimate", "low", "high"} {
				near(t, fmt.Sprintf("%s %s %g %s", c.id, c.group, p, col), q[col], c.quantiles[k][i], 1e-12)
			}
		}
	}
	if near := math.Abs(n.answer(t, "all").row(t, "quantiles", "quantile", 0.5)["estimate"].(float64) - 62); near == 0 {
		t.Error("open waits were dropped")
	}
}
