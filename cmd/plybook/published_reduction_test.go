package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// shapedLab is a log of models of sockets, measured at one station.
type shapedLab struct {
	lab
	persons map[string]bool
	n       int
}

func (l *shapedLab) socket(person string, kind string, limb float64, target any, model float64) (id string) {
	if l.persons == nil {
		l.persons = map[string]bool{}
	}
	if !l.persons[person] {
		l.persons[person] = true
		l.limbs.add("person", person, "limb", person+"-left", "side", "left", "level", "transtibial")
	}
	l.n++
	id = fmt.Sprintf("S%d", l.n)
	cast := ymd(2020, time.January, 6) + day(3*l.n)
	l.sockets.add("socket", id, "limb", person+"-left", "kind", kind, "cast_on", cast, "delivered", map[bool]any{true: cast + 2, false: nil}[kind == "definitive"])
	l.stations.add("limb", person+"-left", "date", cast, "landmark", "MTP", "station_mm", 50, "limb_mm", limb, "target_mm", target, "model_mm", model, "socket", id)
	return id
}

func (l *shapedLab) visit(socket string, after int, purpose string, cells ...any) {
	l.visits.add(append([]any{"visit", fmt.Sprintf("V%d", len(l.visits.rows)), "socket", socket, "date", ymd(2020, time.January, 6) + day(3*l.n+after), "purpose", purpose}, cells...)...)
}

// Reaction times of sleepstudy as models over a limb of 500 mm, as many of each
// person as makes them uneven. R 4.2.2: clubSandwich 0.5.8, conf_int(lm(red ~
// 1), vcov = "CR2", cluster = Subject, test = "Satterthwaite"), red = 100 (500 -
// Reaction) / 500.
func TestPublishedReductionMean(t *testing.T) {
	t.Parallel()
	l := &shapedLab{}
	seen := map[string]int{}
	for _, r := range readRecords(t, "sleepstudy") {
		s := r["Subject"]
		if _, ok := seen[s]; !ok {
			seen[s] = len(seen) + 1
		}
		if r.num(t, "Days") < float64(2+seen[s]%9) {
			l.socket("N"+s, "check", 500, nil, r.num(t, "Reaction"))
		}
	}
	n := runLog(t, &l.lab, plainCSV, ask("id: all", "method: reduction"), nil)
	r := n.answer(t, "all").row(t, "rows", "region", "all")
	for _, c := range []struct {
		column string
		want   float64
		near   float64
	}{{"sockets", 108, 0}, {"persons", 18, 0}, {"reduction", 42.987491851852, 1e-11}, {"low", 40.161547102632, 1e-7}, {"high", 45.813436601072, 1e-7}, {"std_dev", 8.8578339944188, 1e-11},
		{"model_mm", 285.06254074074, 1e-10}, {"limb_mm", 500, 0}, {"targets", 0, 0}} {
		near(t, c.column, r[c.column], c.want, c.near)
	}
	if r["target_mm"] != nil || r["lower_limit"] != nil {
		t.Errorf("a target that nobody wrote: %v", r)
	}
}

// Peak flow by two meters, twice each (Bland & Altman 1986), as target (the
// large meter) and model (the small one): limits with the variances between and
// within persons apart, from nlme, see the set's SOURCE.md.
func TestPublishedReductionLimits(t *testing.T) {
	t.Parallel()
	l := &shapedLab{}
	for i, r := range readRecords(t, "pefr") {
		for try := 1; try <= 2; try++ {
			l.socket(fmt.Sprintf("N%d", i+1), "check", 800, r.num(t, fmt.Sprint("wright", try)), r.num(t, fmt.Sprint("mini", try)))
		}
	}
	n := runLog(t, &l.lab, plainCSV, ask("id: all", "method: reduction"), nil)
	r := n.answer(t, "all").row(t, "rows", "station_mm", 50.0)
	sd := math.Hypot(28.0917613929, 25.0346818314)
	near(t, "bias", r["model_less_target"], 6.02941176471, 1e-10)
	near(t, "lower", r["lower_limit"], 6.02941176471-1.959963984540054*sd, 1e-8)
	near(t, "upper", r["upper_limit"], 6.02941176471+1.959963984540054*sd, 1e-8)
	near(t, "targets", r["targets"], 34, 0)
}

// Low birth weight by the mother's weight (Hosmer & Lemeshow) as first-time fit
// by reduction, a pound a tenth of a percent, and the child's weight in units of
// 500 g as comfort. R 4.2.2: glm with binomial, lm with sandwich's vcovHC of
// type HC3, binom.test in five stretches that hold equal reductions together.
// Hosmer and Lemeshow print -0.014 a pound.
func TestPublishedReductionAndFit(t *testing.T) {
	t.Parallel()
	l := &shapedLab{}
	for i, r := range readRecords(t, "birthwt") {
		id := l.socket(fmt.Sprintf("N%d", i+1), "definitive", 1000, nil, 1000-r.num(t, "lwt"))
		l.visit(id, 1, "check fitting", "accepted", []string{"no", "yes"}[r.whole(t, "low")], "action", "none")
		l.visit(id, 30, "follow-up", "comfort", math.Floor(r.num(t, "bwt")/500))
	}
	a := runLog(t, &l.lab, plainCSV, ask("id: all", "method: reduction"), nil).answer(t, "all")
	f := a.row(t, "terms", "outcome", "first_fit")
	c := a.row(t, "terms", "outcome", "comfort")
	for _, x := range []struct {
		name string
		got  any
		want float64
		near float64
	}{
		{"log odds", f["estimate"], -0.14058261161465, 1e-8}, {"error", f["std_error"], 0.061695880184056, 1e-6}, {"ratio", f["ratio"], 0.86885188471079, 1e-8},
		{"low", f["low"], 0.76989255350796, 1e-6}, {"high", f["high"], 0.98053110674448, 1e-6}, {"p", f["p"], 0.022688559745923, 1e-6}, {"bend", f["bend_p"], 0.45886768764985, 1e-6},
		{"slope", c["estimate"], 0.086702791073956, 1e-10}, {"slope's error", c["std_error"], 0.032028321544457, 1e-10}, {"slope, low", c["low"], 0.023519527215207, 1e-9},
		{"slope, high", c["high"], 0.1498860549327, 1e-9}, {"slope, p", c["p"], 0.0074168734045782, 1e-9}, {"slope, bend", c["bend_p"], 0.13496642277017, 1e-9},
	} {
		near(t, x.name, x.got, x.want, x.near)
	}
	want := [][6]float64{{8, 10.5, 20, 37, 0.36921957010654, 0.70512687177136}, {10.7, 11.9, 9, 38, 0.11444170482253, 0.40241236057149}, {12, 13, 16, 48, 0.203959735581, 0.48410832044617},
		{13.1, 15, 7, 30, 0.09933786495802, 0.42283652297822}, {15.3, 25, 7, 36, 0.081943639765209, 0.36024801617503}}
	rows := a.table(t, "shares")
	if len(rows) != len(want) {
		t.Fatalf("%d stretches", len(rows))
	}
	for k, w := range want {
		for i, column := range []string{"from", "to", "first_fit", "sockets", "low", "high"} {
			v := w[i]
			if i > 3 {
				v *= 100
			}
			near(t, column, rows[k][column], v, 1e-9)
		}
	}
	// R: t.test of the reductions of each.
	yes, no := a.row(t, "answers", "answer", "as it was"), a.row(t, "answers", "answer", "not accepted")
	near(t, "mean of those accepted", yes["reduction"], 12.213559322034, 1e-11)
	near(t, "low", yes["low"], 11.521420844825, 1e-7)
	near(t, "high", yes["high"], 12.905697799243, 1e-7)
	near(t, "mean of the others", no["reduction"], 13.33, 1e-11)
	near(t, "sd of the others", no["std_dev"], 3.1724015797099, 1e-11)
	near(t, "not accepted", no["sockets"], 130, 0)
}

// Wheeze of children of Ohio at some of their visits as first-time fits of one
// reduction. The limits by Korn and Graubard's formula in R 4.2.2, the error
// from clubSandwich, vcov = "CR2" with Satterthwaite's degrees of freedom.
func TestPublishedReductionSharesOfPersons(t *testing.T) {
	t.Parallel()
	l := &shapedLab{}
	for _, r := range readRecords(t, "ohio") {
		id := r.whole(t, "id")
		if id < 300 || id >= 520 || r.whole(t, "age")+2 > id%4 {
			continue
		}
		s := l.socket(fmt.Sprintf("N%d", id), "check", 300, 290, 291)
		l.visit(s, 1, "check fitting", "accepted", []string{"no", "adjusted"}[r.whole(t, "resp")])
	}
	a := runLog(t, &l.lab, plainCSV, ask("id: all", "method: reduction"), nil).answer(t, "all")
	r := a.row(t, "shares")
	near(t, "sockets", r["sockets"], 550, 0)
	near(t, "share", r["percent"], 23.636363636364, 1e-11)
	near(t, "as many as", r["effective"], 333.77619229135, 1e-7)
	near(t, "low", r["low"], 19.180518421737, 1e-7)
	near(t, "high", r["high"], 28.566903109515, 1e-7)
	near(t, "adjusted", a.row(t, "answers", "answer", "adjusted")["sockets"], 130, 0)
}
