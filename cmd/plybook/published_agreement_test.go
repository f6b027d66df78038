package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// measuredAgain is a log of readings of numbers that are not girths, in own
// columns of the measurements.
type measuredAgain struct{ lab }

func (l *measuredAgain) person(id string) { l.limbs.add("person", id, "side", "left", "level", "TT") }

func (l *measuredAgain) reading(person string, days int, own ...any) {
	l.stations.add(append([]any{"Limb", person + "-L", "date", ymd(2024, time.March, 4) + day(days), "landmark", "MTP", "Station", "50 mm", "Limb (cm)", 27.5}, own...)...)
}

// Peak flow by two meters, each twice (Bland & Altman 1986): the first
// readings, both with the person's variance apart, and each meter by itself.
func TestPublishedPeakFlow(t *testing.T) {
	t.Parallel()
	l := &measuredAgain{}
	for i, r := range readRecords(t, "pefr") {
		id := fmt.Sprintf("N%d", i+1)
		l.person(id)
		for try := 1; try <= 2; try++ {
			for _, meter := range []string{"wright", "mini"} {
				l.reading(id, 7*try, "meter", "m: "+meter, "try", try, "flow", r.num(t, fmt.Sprint(meter, try)))
			}
		}
	}
	common := []string{"method: agreement", "outcome: flow"}
	block := func(id string, more ...string) string {
		return ask(append(append([]string{"id: " + id}, common...), more...)...)
	}
	n := runLog(t, &l.lab, plainCSV, block("first", "ways: meter", "keep: {try: 1}")+block("both", "ways: meter")+
		block("wright", "ways: try", "same: limb", `keep: {meter: "m: wright"}`)+block("mini", "ways: try", "same: limb", `keep: {meter: "m: mini"}`)+
		block("percent", "ways: meter", "keep: {try: 1}", "percent: yes"), nil)
	want := expected(t, "pefr")
	first := want.at("first_readings", "r")
	f := n.answer(t, "first").row(t, "fit")
	near(t, "readings", f["readings"], 34, 0)
	// The ways stand in the order of the alphabet: mini less wright.
	near(t, "bias", f["bias"], -first.at("mean_diff").num(), closed)
	near(t, "bias, low", f["bias_low"], -first.at("mean_ci").list()[1], closed)
	near(t, "bias, high", f["bias_high"], -first.at("mean_ci").list()[0], closed)
	sd := first.at("sd_diff").num()
	near(t, "sd", f["sd_of_differences"], sd, closed)
	near(t, "lower", f["lower_limit"], -first.at("mean_diff").num()-1.959963984540054*sd, closed)
	near(t, "upper", f["upper_limit"], -first.at("mean_diff").num()+1.959963984540054*sd, closed)

	// nlme's components, see the set's SOURCE.md.
	b := n.answer(t, "both").row(t, "fit")
	near(t, "bias of both", b["bias"], 6.02941176471, 1e-11)
	near(t, "sd of both", b["sd_of_differences"], math.Hypot(28.0917613929, 25.0346818314), 1e-9)
	near(t, "slope of both", b["slope"], -0.0514702190651, 1e-11)
	near(t, "p of the slope", b["slope_p"], 0.6280703208251, 1e-9)
	near(t, "persons", b["clusters"], 17, 0)

	for _, meter := range []string{"wright", "mini"} {
		r := n.answer(t, meter).row(t, "fit")
		w := want.at("repeatability", meter)
		near(t, meter, r["error"], w.at("rms_within_sd").num(), closed)
		near(t, meter+" change", r["smallest_change"], w.at("repeatability_1.96root2").num(), closed)
	}
	c := n.answer(t, "wright").row(t, "correlations", "form", "one-way", "readings", "one")
	near(t, "correlation", c["estimate"], 0.983164996468, 1e-7)

	// Differences in percent of the mean of the two, by hand from the table.
	sum := 0.0
	for _, r := range readRecords(t, "pefr") {
		m, w := r.num(t, "mini1"), r.num(t, "wright1")
		sum += 200 * (m - w) / (m + w) / 17
	}
	near(t, "percent", n.answer(t, "percent").row(t, "fit")["bias"], sum, closed)
}

// Six targets rated by four judges (Shrout & Fleiss 1979), and 100 persons
// diagnosed by two raters (Fleiss 1981, section 13.1; from memory).
func TestPublishedRatings(t *testing.T) {
	t.Parallel()
	l := &measuredAgain{}
	for i, r := range readRecords(t, "shrout-fleiss") {
		id := fmt.Sprintf("N%d", i+1)
		l.person(id)
		for j := 1; j <= 4; j++ {
			l.reading(id, 7, "judge", j, "rating", r.num(t, fmt.Sprint("judge", j)))
		}
	}
	n := runLog(t, &l.lab, plainCSV, ask("id: judges", "method: agreement", "outcome: rating", "ways: judge"), nil)
	r := expected(t, "shrout-fleiss").at("icc", "r")
	for _, x := range []struct{ form, readings, value, ci string }{
		{"one-way", "one", "icc_1_1", "ci_1_1"}, {"agreement", "one", "icc_2_1", "ci_2_1"}, {"consistency", "one", "icc_3_1", "ci_3_1"},
		{"one-way", "all", "icc_1_k", ""}, {"agreement", "all", "icc_2_k", ""}, {"consistency", "all", "icc_3_k", ""}} {
		row := n.answer(t, "judges").row(t, "correlations", "form", x.form, "readings", x.readings)
		near(t, x.value, row["estimate"], r.at(x.value).num(), closed)
		if x.ci != "" {
			near(t, x.ci, row["low"], r.at(x.ci).list()[0], 1e-8)
			near(t, x.ci, row["high"], r.at(x.ci).list()[1], 1e-8)
		}
	}
	near(t, "error", n.answer(t, "judges").row(t, "fit")["error"], math.Sqrt(r.at("WMS").num()), closed)

	l = &measuredAgain{}
	names := []string{"psychosis", "neurosis", "organic"}
	k := 0
	for i, row := range [][]int{{75, 1, 4}, {5, 4, 1}, {0, 0, 10}} {
		for j, count := range row {
			for range count {
				k++
				id := fmt.Sprintf("N%d", k)
				l.person(id)
				l.reading(id, 7, "rater", "rater A", "found", names[i])
				l.reading(id, 7, "rater", "rater B", "found", names[j])
			}
		}
	}
	n = runLog(t, &l.lab, plainCSV, ask("id: plain", "method: agreement", "outcome: found", "ways: rater")+
		ask("id: steps", "method: agreement", "outcome: found", "ways: rater", "weighting: linear", "order: [psychosis, neurosis, organic]"), nil)
	f := n.answer(t, "plain").row(t, "kappa")
	near(t, "observed", f["observed"], 0.89, closed)
	near(t, "expected", f["by_chance"], 0.66, closed)
	// R 4.2.2, by the formula of that section: 0.67647059 and 0.08770295; the
	// book prints 0.68 and 0.087.
	near(t, "kappa", f["kappa"], 0.67647059, 1e-7)
	near(t, "error", f["std_error"], 0.08770295, 1e-6)
	// By steps, worked by hand: observed 1 - (6/2 + 1/2 + 4)/100 = 0.925;
	// by chance with margins .80 .10 .10 and .80 .05 .15.
	chance := 0.80*(0.80+0.05/2) + 0.10*(0.80/2+0.05+0.15/2) + 0.10*(0.05/2+0.15)
	s := n.answer(t, "steps").row(t, "kappa")
	near(t, "observed by steps", s["observed"], 0.925, closed)
	near(t, "kappa by steps", s["kappa"], (0.925-chance)/(1-chance), closed)
}
