package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// lifeRows are sockets of one person each, delivered on the first day of the
// log, with how many days they lasted and whether they were remade.
type lifeRow struct {
	days   int
	remade bool
	method string
}

func livesLog(rows []lifeRow) sheets {
	limbs := [][]string{{"person", "limb", "side", "level", "born", "amputated"}}
	sockets := [][]string{{"socket", "limb", "kind", "cast_method", "delivered", "ended", "end_reason", "once", "twice"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "ply"}}
	for i, r := range rows {
		p := fmt.Sprintf("P%d", i+1)
		limbs = append(limbs, []string{p, p + "-L", "left", "TT", fmt.Sprint(1940 + i%30), day(-500)})
		s := []string{fmt.Sprintf("S%d", i+1), p + "-L", "definitive", r.method, day(0), "", "", fmt.Sprint(i * i), fmt.Sprint(2 * i * i)}
		if r.remade {
			s[5], s[6] = day(r.days), "remake: volume loss"
		} else {
			visits = append(visits, []string{fmt.Sprintf("V%d", i+1), s[0], day(r.days), "follow-up", "3"})
		}
		sockets = append(sockets, s)
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
}

// spread are lives whose logarithms lie evenly, those of the second method
// twice as long, every fourth still watched.
func spread(n int) []lifeRow {
	var out []lifeRow
	for i := range n {
		m, f := "hand", 1.0
		if i%2 == 1 {
			m, f = "vacuum", 2
		}
		out = append(out, lifeRow{int(math.Round(f * 100 * math.Exp(1.5*float64(i/2)/float64(n/2)))), i%4 != 3 || i%8 == 3, m})
	}
	return out
}

var parametricMethods = []string{"weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma"}

// Four lives of 10, 20, 30 and 40 days, two of them remade: the exponential
// mean is 100/2 days, its logarithm's error 1/root 2.
func TestExponentialByHand(t *testing.T) {
	s := livesLog([]lifeRow{{10, true, "hand"}, {20, false, "hand"}, {30, true, "hand"}, {40, false, "hand"}})
	a := one(t, s, quality, "method: exponential\ntimes: [25d]")
	want(t, row(t, table(t, a, "terms"), "term", "intercept"), "estimate", math.Log(50), "std_error", 1/math.Sqrt2, "ratio", nil, "df", nil)
	want(t, row(t, table(t, a, "quantiles"), "quantile", 0.5), "profile", "all", "estimate", 50*math.Ln2, "std_error", 50*math.Ln2/math.Sqrt2)
	want(t, row(t, table(t, a, "predicted"), "time", 25.0), "profile", "all", "estimate", math.Exp(-0.5))
	fit := table(t, a, "fit")
	if len(fit.Rows) != 5 || fit.Rows[0][0] != "exponential" {
		t.Errorf("fit is %v", fit.Rows)
	}
	want(t, row(t, fit, "distribution", "exponential"), "rows", 4, "events", 2, "clusters", nil, "parameters", 1, "scale", 1.0,
		"log_likelihood", -2*math.Log(50)-2, "aic", 2+4*math.Log(50)+4, "likelihood_ratio", nil, "likelihood_ratio_df", nil)
	if len(table(t, a, "terms").Rows) != 1 {
		t.Error("an exponential curve has no scale to estimate")
	}
	if !strings.HasPrefix(a.Reading, "Of 4 sockets, 2 were remade. By the exponential curve, half of them are remade by 1.1 months (95% interval 0.3 to 4.6 months). Of the four curves") {
		t.Errorf("reading: %s", a.Reading)
	}
	wantCaution(t, a, "few-events", "2 events")
}

func TestParametricRatioOfTimes(t *testing.T) {
	s := livesLog(spread(80))
	for _, m := range parametricMethods {
		a := one(t, s, quality, "method: "+m+"\nby: cast_method\nreference: {cast_method: hand}\ntimes: [90d, 1y]")
		r := row(t, table(t, a, "terms"), "term", "cast_method")
		ratio := r["ratio"].(float64)
		if r["category"] != "vacuum" || r["reference"] != "hand" || math.Abs(ratio-2) > 0.7 || r["low"].(float64) >= ratio || r["high"].(float64) <= ratio {
			t.Errorf("%s: %v", m, r)
		}
		if !strings.Contains(a.Reading, "Sockets with casting method vacuum last") || !strings.Contains(a.Reading, "times as long before being remade as those with hand (95% interval") {
			t.Errorf("%s: reading: %s", m, a.Reading)
		}
		if len(a.Figures) != 2 {
			t.Errorf("%s: %d figures", m, len(a.Figures))
		}
		_, scale := find(a, "terms", "term", "log_scale")
		if scale == (m == "exponential") {
			t.Errorf("%s: a row for log scale: %v", m, scale)
		}
		hr, proportional := find(a, "hazard_ratios", "term", "cast_method")
		if proportional != (m == "weibull" || m == "exponential") {
			t.Errorf("%s: hazard ratios: %v", m, proportional)
		}
		if proportional {
			s := row(t, table(t, a, "fit"), "distribution", map[string]string{"weibull": "Weibull", "exponential": "exponential"}[m])["scale"].(float64)
			want(t, hr, "ratio", math.Pow(ratio, -1/s))
		}
		for _, p := range []string{"cast method hand", "cast method vacuum"} {
			half := row(t, table(t, a, "quantiles"), "profile", p, "quantile", 0.5)["estimate"].(float64)
			at := row(t, table(t, a, "predicted"), "profile", p, "time", 90.0)["estimate"].(float64)
			if (half > 90) != (at > 0.5) {
				t.Errorf("%s: %s: half by %g, at 90 days %g", m, p, half, at)
			}
		}
		least := math.Inf(1)
		for _, r := range table(t, a, "fit").Rows {
			if r[10] != nil {
				least = math.Min(least, r[10].(float64))
			}
		}
		if least != 0 {
			t.Errorf("%s: the least AIC is %g above itself", m, least)
		}
	}
}

func find(a answer.Answer, name string, cells ...any) (map[string]any, bool) {
	for _, tab := range a.Tables {
		if tab.Name != name {
			continue
		}
		for _, r := range tab.Rows {
			m, ok := map[string]any{}, true
			for j, c := range tab.Columns {
				m[c.Name] = r[j]
			}
			for k := 0; k < len(cells); k += 2 {
				ok = ok && same(m[cells[k].(string)], cells[k+1])
			}
			if ok {
				return m, true
			}
		}
	}
	return nil, false
}

// Each caution once raised and once not.
func TestParametricCautions(t *testing.T) {
	calm := one(t, livesLog(spread(80)), quality, "method: log-normal\nby: cast_method\ntimes: [90d]")
	for _, code := range []string{"zero-days", "few-events", "extrapolated", "poor-fit", "aic-not-clustered", "small-group", "not-clustered", "misfit", "interaction", "missing", "one-cluster"} {
		if c := caution(calm, code); c != "" {
			t.Errorf("%s is raised without cause: %s", code, c)
		}
	}
	zero := spread(80)
	zero[0].days, zero[1].days = 0, 0
	zero[0].remade, zero[1].remade = true, true
	wantCaution(t, one(t, livesLog(zero), quality, "method: log-logistic"), "zero-days", "2 sockets ended on the day of delivery", "half a day")
	if a := one(t, livesLog(zero), quality, "method: log-logistic"); !strings.Contains(a.Methods, "Lives of 0 days entered as half a day") {
		t.Errorf("methods: %s", a.Methods)
	}

	few := livesLog(spread(12))
	wantCaution(t, one(t, few, quality, "method: weibull\nby: cast_method"), "few-events", "fewer than 10 events per term")
	wantCaution(t, one(t, livesLog(spread(80)), quality, "method: weibull\ntimes: [90d, 20y]"), "extrapolated", "20 years")
	var rare []lifeRow
	for i := range 60 {
		rare = append(rare, lifeRow{100 + i, i%10 == 0, "hand"})
	}
	a := one(t, livesLog(rare), quality, "method: log-normal\ntimes: [100d]")
	wantCaution(t, a, "extrapolated", "the time by which half are remade")
	if !strings.Contains(a.Reading, "not yet remade at 100 days") || !strings.Contains(a.Reading, "beyond the log only") {
		t.Errorf("reading: %s", a.Reading)
	}
	// Lives that all end at nearly the same age are nothing like a steady
	// hazard.
	var alike []lifeRow
	for i := range 60 {
		alike = append(alike, lifeRow{300 + i, true, "hand"})
	}
	b := one(t, livesLog(alike), quality, "method: exponential")
	wantCaution(t, b, "poor-fit", "much worse")
	wantCaution(t, b, "misfit", "the fitted curve says", "the sockets seen say")
	if !strings.Contains(b.Reading, "clear reason to prefer it") {
		t.Errorf("reading: %s", b.Reading)
	}
	small := spread(80)
	for i := range small {
		if small[i].method == "vacuum" && i > 6 {
			small[i].method = "hand"
		}
	}
	wantCaution(t, one(t, livesLog(small), quality, "method: weibull\nby: cast_method"), "small-group", "vacuum")

	several := lab(labOptions{persons: 60})
	c := one(t, several, quality, "method: weibull\nby: cast_method\ninteract: [[cast_method, age]]\nadjust: [age]")
	wantCaution(t, c, "aic-not-clustered", "one person")
	wantCaution(t, c, "interaction")
	if !strings.Contains(c.Methods, "grouped by person without a small-sample factor") {
		t.Errorf("methods: %s", c.Methods)
	}
	if r := table(t, c, "terms").Rows[0]; len(r) != 12 {
		t.Errorf("a clustered row of terms has %d cells", len(r))
	}
	e := one(t, lab(labOptions{persons: 30, onePer: true}), quality, "method: weibull")
	wantCaution(t, e, "one-cluster", "of one person", "none that would have to is given")
	want(t, row(t, table(t, e, "quantiles"), "quantile", 0.5), "low", nil, "high", nil, "std_error", nil)
	d := one(t, several, quality, "method: weibull\nby: cast_method\ncluster: none")
	wantCaution(t, d, "not-clustered")
	if caution(d, "aic-not-clustered") != "" {
		t.Error("nothing is clustered")
	}
}

// What is seen at visits: the stretch between the last visit without it and
// the first with it is used.
func TestParametricSeenAtVisits(t *testing.T) {
	limbs := [][]string{{"person", "limb", "side", "level"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "ply"}}
	for i := range 40 {
		p := fmt.Sprintf("P%d", i+1)
		limbs = append(limbs, []string{p, p + "-L", "left", "TT"})
		sockets = append(sockets, []string{"S" + p, p + "-L", "definitive", day(0)})
		met := 50 + 10*i
		for k, at := 0, 30+i%7; at < 420; k, at = k+1, at+60+i%11 {
			ply := "3"
			if at >= met {
				ply = "8"
			}
			visits = append(visits, []string{fmt.Sprintf("V%s-%d", p, k), "S" + p, day(at), "follow-up", ply})
		}
	}
	s := sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
	for _, m := range parametricMethods {
		a := one(t, s, quality, "method: "+m+"\nevent: {ply: 6..}\ntimes: [180d]")
		if a.Error != nil {
			t.Fatalf("%s: %s", m, a.Error.Text)
		}
		if !strings.Contains(a.Methods, "that interval was used") || caution(a, "seen-as-exact") != "" || !strings.Contains(a.Reading, "found with") {
			t.Errorf("%s: %s %s", m, a.Reading, a.Methods)
		}
		half := row(t, table(t, a, "quantiles"), "quantile", 0.5)["estimate"].(float64)
		if half < 180 || half > 300 {
			t.Errorf("%s: half by %g days, the visits say about 245", m, half)
		}
		if c := caution(a, "zero-days"); c != "" {
			t.Errorf("%s: nothing was found on the first day: %s", m, c)
		}
		wantError(t, one(t, s, quality, "method: "+m+"\nevent: {ply: 6..}\nseen_as_exact: true"), "key-not-taken")
		wantError(t, one(t, s, quality, "method: "+m+"\nevent: {ply: 6..}\nlandmark: 90d"), "impossible", "landmark")
		wantError(t, one(t, s, quality, "method: "+m+"\nevent: {ply: 20..}"), "no-events")
		wantError(t, one(t, s, quality, "method: "+m+"\nevent: {plyy: 6..}"), "unknown-column", "ply")
	}
}

// What is found on the first day enters as half a day; broken skin is for a
// clinician; a curve that leaves what the visits saw is told.
func TestParametricSeenCautions(t *testing.T) {
	limbs := [][]string{{"person", "limb", "side", "level"}}
	sockets := [][]string{{"socket", "limb", "kind", "delivered"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "skin_checked"}}
	findings := [][]string{{"visit", "region", "finding"}}
	for i := range 60 {
		p := fmt.Sprintf("P%d", i+1)
		limbs = append(limbs, []string{p, p + "-L", "left", "TT"})
		sockets = append(sockets, []string{"S" + p, p + "-L", "definitive", day(0)})
		met := 300 + i%20 // all at nearly one age
		if i < 2 {
			met = 0
		}
		for at := 0; at <= 330 && at <= met+9; at += 10 {
			v := fmt.Sprintf("V%s-%d", p, at)
			visits = append(visits, []string{v, "S" + p, day(at), "follow-up", "yes"})
			if at >= met {
				findings = append(findings, []string{v, "fibular head", "blister"})
			}
		}
	}
	s := sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits), "findings": csvText(findings)}
	a := one(t, s, quality, "method: exponential\nevent: {finding: blister}")
	wantCaution(t, a, "zero-days", "2 sockets were found so", "half a day")
	wantCaution(t, a, "skin", "Refer")
	wantCaution(t, a, "misfit", "turnbull")
	if b := one(t, s, quality, "method: exponential\nevent: {finding: redness fading}"); b.Error == nil {
		t.Errorf("nothing was found: %s", b.Reading)
	}
}

// Logs that hold too little are refused in words.
func TestParametricRefuses(t *testing.T) {
	for _, c := range []struct {
		name, code string
		rows       []lifeRow
		ask        string
	}{
		{"one event", "no-spread", []lifeRow{{90, true, "hand"}, {80, false, "hand"}}, "method: weibull\nkeep: {socket: S1}"},
		{"one day", "no-spread", []lifeRow{{90, true, "hand"}, {90, true, "hand"}}, "method: log-normal"},
		{"no events", "no-events", []lifeRow{{90, false, "hand"}, {80, false, "hand"}}, "method: log-logistic"},
		{"a group without events", "separation", append(spread(40), lifeRow{90, false, "digital"}, lifeRow{120, false, "digital"}), "method: weibull\nby: cast_method"},
		{"a constant column", "bad-term", spread(40), "method: weibull\nadjust: [months_since_amputation]"},
		{"a repeated column", "singular", spread(40), "method: weibull\nadjust: [once, twice]"},
	} {
		wantError(t, one(t, livesLog(c.rows), quality, c.ask), c.code)
	}
}
