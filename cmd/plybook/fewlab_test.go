package main

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"plybook/reports/notebook"
)

// fewLab writes the log of an invented lab that is small enough for many counts
// of its report to be, and returns the values of single rows by which they would
// be known: one far from all others in each measured column, and all others,
// no two of which are the same.
func fewLab(t *testing.T, dir string) (far map[string]float64, every map[string]bool) {
	t.Helper()
	r := rand.New(rand.NewPCG(5, 23))
	far, every = map[string]float64{}, map[string]bool{}
	// value is a number with decimals of its own; the first of a column is far
	// from the others.
	value := func(column string, low, high, outlier float64) string {
		if _, ok := far[column]; !ok && outlier > 0 {
			far[column] = outlier
			return fmt.Sprint(outlier)
		}
		for {
			s := fmt.Sprintf("%.3f", low+(high-low)*r.Float64())
			if !every[s] && !strings.HasSuffix(s, "0") {
				every[s] = true
				return s
			}
		}
	}
	day := func(n int) string {
		return time.Date(2022, 1, 3, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n).Format("2006-01-02")
	}
	pick := func(s ...string) string { return s[r.IntN(len(s))] }
	tables := map[string]*strings.Builder{}
	row := func(table string, cells ...string) {
		if tables[table] == nil {
			tables[table] = &strings.Builder{}
		}
		tables[table].WriteString(strings.Join(cells, ",") + "\n")
	}
	row("limbs", "person", "limb", "side", "level", "cause", "amputated", "born", "sex", "activity", "programme")
	row("sockets", "socket", "limb", "kind", "number", "use", "referred", "cast_on", "cast_method", "delivered", "ended", "end_reason", "replaces", "material", "load")
	row("visits", "visit", "socket", "date", "purpose", "ply", "comfort", "hours", "mass_kg", "minutes", "accepted", "skin_checked", "action")
	row("findings", "visit", "region", "finding", "severity", "size_mm")
	row("stations", "limb", "date", "landmark", "station_mm", "limb_mm", "model_mm", "over", "repeat", "socket")
	row("forming", "socket", "date", "sheet_material", "sheet_mm", "oven_c", "minutes", "thinnest_mm", "result")
	for i := range 90 {
		limb := fmt.Sprintf("P%02d-L", i)
		level := []string{"transtibial", "transtibial", "transfemoral"}[i%3]
		if i%15 == 7 {
			level = "knee disarticulation"
		}
		person := i
		if i%6 == 1 {
			person-- // with two limbs
		}
		row("limbs", fmt.Sprintf("P%02d", person), limb, []string{"left", "right"}[i%2], level, pick("vascular", "vascular", "trauma", "diabetes", "tumour"),
			day(-300-9*i), fmt.Sprint(1938+i%55), pick("male", "male", "female"), pick("K1", "K2", "K2", "K3"), pick("north", "south"))
		at := 11 * i
		for k := range 1 + i%3 {
			id := fmt.Sprintf("S%02d-%d", i, k)
			method := pick("hand", "hand", "vacuum")
			waited := 20 + r.IntN(40)
			if i == 40 && k == 0 {
				waited, far["days waited"] = 1234, 1234
			}
			life := 70 + r.IntN(400)
			ended, reason := day(at+life), pick("remake: volume loss", "remake: volume loss", "remake: pain or pressure", "remake: breakage or wear", "remake: shaping error", "remake: casting or measuring error", "died", "planned step", "not known")
			if at+life > 1300 || r.IntN(3) == 0 {
				ended, reason = "", ""
			}
			row("sockets", id+"-C", limb, "check", "", "", "", day(at-25), method, day(at-12), day(at), "planned step", "", "", "")
			row("visits", id+"-C1", id+"-C", day(at-12), "check fitting", "", "", "", "", "", pick("yes", "yes", "adjusted", "no"), "", "")
			row("sockets", id, limb, "definitive", fmt.Sprint(k+1), "everyday", day(at-waited), day(at-25), method, day(at), ended, reason, id+"-C", pick("carbon", "carbon", "nylon"), value("load", 100, 900, 98123.457))
			row("forming", id, day(at-14), pick("PETG", "PETG", "copolymer"), value("sheet_mm", 9, 13, 27.313), value("oven_c", 150, 180, 241.357), value("forming minutes", 8, 14, 61.737), value("thinnest_mm", 2, 5, 19.191), pick("good", "good", "thin at the end"))
			loss := 0.0
			for m, when := range []int{-25, 1, 60, 150} {
				for st := range 5 {
					girth := 330 - 14*float64(st) - loss
					model := ""
					if m == 0 {
						model = value("model_mm", girth-12, girth-6, 561.413)
					}
					row("stations", limb, day(at+when), "patella", fmt.Sprint(40*st), value("limb_mm", girth-2, girth+2, 577.731), model, "skin", "1", id)
					if m == 0 && i%2 == 0 {
						row("stations", limb, day(at+when), "patella", fmt.Sprint(40*st), value("limb_mm", girth-2, girth+2, 0), "", "skin", "2", id)
					}
				}
				loss += 3
			}
			for v, when := range []int{0, 30, 60, 75, 130, 150, 190} {
				if when > life {
					break
				}
				visit := fmt.Sprintf("%s-%d", id, v)
				ply := fmt.Sprint(1 + v + r.IntN(4))
				row("visits", visit, id, day(at+when), []string{"delivery", "follow-up", "walk-in"}[min(v, 1+r.IntN(2))], ply, fmt.Sprint(4+r.IntN(7)), value("hours", 4, 12, 21.577),
					value("mass_kg", 55, 98, 163.219), value("visit minutes", 10, 40, 447.717), "", pick("yes", "yes", "no"), pick("none", "pad added", "ground"))
				if r.IntN(4) == 0 {
					row("findings", visit, pick("fibular head", "tibial crest", "distal end"), pick("redness fading", "redness fading", "blister", "none"), fmt.Sprint(r.IntN(3)), value("size_mm", 3, 20, 288.717))
				}
			}
			at += life + 30
			if ended == "" {
				break
			}
		}
	}
	for name, b := range tables {
		writeFile(t, filepath.Join(dir, "log", name+".csv"), b.String())
	}
	if len(far) < 11 || len(every) < 3000 {
		t.Fatalf("%d values far from the others, %d others", len(far), len(every))
	}
	return far, every
}

// ofEveryMethod asks of each method what a small lab's log can be asked, in
// such a way that single rows would show: groups of few, what varies by limb,
// diagnostics, profiles.
var ofEveryMethod = []string{
	"method: agreement\nrows: stations\noutcome: limb_mm\nways: repeat\nsame: [limb, date, landmark, station_mm]",
	"method: caseload",
	"method: caseload\nby: level",
	"method: completeness\nrows: visits\ncolumns: [comfort, ply, hours, minutes]\ngoal: 90%",
	"method: control-chart\nrows: visits\noutcome: mass_kg\nchart: xmr\nperiod: quarter",
	"method: control-chart\nrows: sockets\nkeep: {kind: definitive}\nnumerator: {first_fit: yes}\ndenominator: {first_fit: known}\nperiod: quarter",
	"method: cox\nkeep: {kind: definitive}\nevent: remake\nby: cast_method\nadjust: [level, cause, age]\ntimes: [180d, 1y]\nprofiles: [{cast_method: hand}]",
	"method: cox\nkeep: {kind: definitive}\nevent: remake\nby: cast_method\nfrailty: gamma",
	"method: cox\nkeep: {kind: definitive}\nevent: remake\nadjust: [age, own.load]\nvarying: [comfort, ply]",
	"method: cumulative-incidence\nkeep: {kind: definitive}\nevent: [limb-change, making]\nby: level\ntimes: [180d, 1y]",
	"method: cumulative-sum\nrows: sockets\nkeep: {kind: definitive}\nnumerator: {early_remake: yes}\ndenominator: {early_remake: known}\nexpected: 10%\nfalse_alarm: 90d",
	"method: exponential\nkeep: {kind: definitive}\nevent: remake\nby: level\ntimes: [1y]",
	"method: findings-map\nkeep: {level: [transtibial, transfemoral]}",
	"method: fine-gray\nkeep: {kind: definitive}\nevent: limb-change\nby: cast_method\nadjust: [age]\ntimes: [1y]\nprofiles: [{cast_method: hand}]",
	"method: flow\nkeep: {kind: definitive}\nevent: remake",
	"method: flow\nrows: visits\nkeep: {purpose: follow-up, comfort: 5..}",
	"method: follow-up\nkeep: {kind: definitive}\nby: level",
	"method: forecast\nrows: sockets\nkeep: {kind: definitive}\nby: level\nperiod: quarter",
	"method: forming-log",
	"method: funnel\nrows: sockets\nkeep: {kind: definitive}\nby: cast_method\nnumerator: {first_fit: yes}",
	"method: generalised-gamma\nevent: {comfort: ..5}\nby: cast_method\ntimes: [90d]",
	"method: kaplan-meier\nkeep: {kind: definitive}\nevent: remake\nby: level\ntimes: [90d, 180d, 1y, 2y]\nhazard: 60d",
	"method: limb-volume\nlimb: P10-L",
	"method: linear\nrows: visits\noutcome: mass_kg\nby: level\nadjust: [age, ply]\nprofiles: [{ply: 4}]",
	"method: linear\nrows: visits\noutcome: hours\nby: cause\nadjust: [comfort]",
	"method: log-logistic\nkeep: {kind: definitive}\nevent: {ply: 6..}\nby: cause\ntimes: [90d]",
	"method: log-normal\nkeep: {kind: definitive}\nevent: remake\nadjust: [age]\ntimes: [1y]",
	"method: logistic\nrows: sockets\nkeep: {kind: definitive}\noutcome: first_fit\nby: level\nadjust: [age]\ndiagnostics: yes",
	"method: maturation\nleft: 2%",
	"method: mean-cumulative\nrows: limbs\nevent: {purpose: walk-in}\nby: level\ntimes: [1y]",
	"method: mixed\nrows: visits\noutcome: mass_kg\ntime: days_since_delivery\nslopes: [days_since_delivery]\nby: level",
	"method: mixed\nrows: visits\noutcome: hours\ntime: days_since_delivery\nnested_in: person\ncrossed: [cast_method]",
	"method: mixed-logistic\nrows: visits\noutcome: {comfort: 7..}\ntime: days_since_delivery\nby: level\nadjust: [ply]\nprofiles: [{ply: 2}]",
	"method: mixed-ordinal\nrows: visits\noutcome: comfort\ntime: days_since_delivery\nadjust: [ply]\nprofiles: [{ply: 2}]",
	"method: mixed-poisson\nrows: sockets\nkeep: {kind: definitive}\nevent: {purpose: walk-in}\nby: cast_method\nwithin: person",
	"method: negative-binomial\nrows: limbs\nevent: {finding: [redness fading, blister]}\nby: level\ndiagnostics: yes",
	"method: ordinal\nrows: visits\noutcome: comfort\nby: level\nadjust: [ply]\nprofiles: [{ply: 2}]",
	"method: pareto\nrows: sockets\nkeep: {kind: definitive}\nby: end_reason\nevent: remake",
	"method: pareto\nrows: findings\nby: region",
	"method: poisson\nrows: limbs\nevent: {purpose: walk-in}\nby: level\nadjust: [age]\ndiagnostics: yes",
	"method: reduction\nby: cast_method",
	"method: rhythm\noutcome: comfort\ncycle: day",
	"method: sample-size\nkeep: {kind: definitive}\nevent: remake\nratios: [0.5]\nuntil: 180d\naccrual: 180d",
	"method: segmented\nrows: visits\noutcome: hours\nchange: 2023-06-01\nperiod: month",
	"method: sock-volume",
	"method: summary\nkeep: {kind: definitive}\ncolumns: [age, level, cause, own.load, turnaround_days, material]\nby: cast_method",
	"method: summary\nrows: visits\ncolumns: [mass_kg, hours, minutes, ply, comfort]\nby: level",
	"method: summary\nrows: stations\ncolumns: [limb_mm, model_mm]",
	"method: turnaround",
	"method: turnaround\nby: level",
	"method: turnbull\nkeep: {kind: definitive}\nevent: {ply: 6..}\nby: level\ntimes: [90d]",
	"method: watch\nkeep: {kind: definitive}\nevent: remake\nahead: 90d\nadjust: [cast_method]\nresamples: 100",
	"method: weibull\nkeep: {kind: definitive}\nevent: remake\nby: cast_method\ncompare: all\ntimes: [1y]",
}

// fewNotebook is a public notebook of every method.
func fewNotebook(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	asked := map[string]bool{}
	var short []string
	for i, a := range ofEveryMethod {
		method, _, _ := strings.Cut(strings.TrimPrefix(a, "method: "), "\n")
		if !asked[method] && slices.Contains([]string{"kaplan-meier", "caseload", "findings-map", "forecast", "summary", "turnaround"}, method) {
			short = append(short, fmt.Sprintf("q%02d-%s", i, method))
		}
		asked[method] = true
		fmt.Fprintf(&b, "```ask\nid: q%02d-%s\nquestion: What is told of number %d, %s?\n%s\n```\n\n", i, method, i, method, a)
	}
	for _, m := range notebook.Methods() {
		if !asked[m] {
			t.Errorf("%s is not attacked: add a question to ofEveryMethod", m)
		}
	}
	return fmt.Sprintf("---\ntitle: Every question\naudience: research\nlog: [log/*.csv]\nto: 2025-09-30\nin_short: [%s]\nitem_map: [strobe, record]\n---\nFor all.\n\n%s", strings.Join(short, ", "), b.String())
}
