package answer_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plybook/reports/words"
)

// proneLives are sockets of persons, some of whom need remakes much sooner
// than others: each socket is delivered a while after the one before, and all
// are remade. several says how many sockets person k has.
func proneLives(persons int, spread float64, several func(k int) int) []life {
	r := rand.New(rand.NewPCG(5, 21))
	var out []life
	for k := range persons {
		rate := math.Exp(spread * (float64(k%7) - 3) / 3)
		for i := range several(k) {
			group := []string{"hand", "vacuum"}[r.IntN(2)]
			days := 1 + 150*r.ExpFloat64()/rate
			if group == "vacuum" {
				days *= 1.5
			}
			out = append(out, life{k + 1, 400*i + k%5, int(days), "remake: growth", group})
		}
	}
	return out
}

func three(int) int { return 3 }

const frailAsk = "method: cox\nby: cast_method\nreference: {cast_method: hand}\nfrailty: "

func TestFrailtyOfPersons(t *testing.T) {
	s := lifeLog(proneLives(42, 1.2, three))
	for _, dist := range []string{"gamma", "log-normal"} {
		a := one(t, s, quality, frailAsk+dist)
		v := row(t, table(t, a, "frailty"))
		want(t, v, "shared_by", "person", "distribution", dist, "groups", 42, "groups_with_several", 42)
		if !(v["variance"].(float64) > 0.2) || !(v["low"].(float64) > 0) || !(v["p"].(float64) < 0.01) || !(v["median_ratio_low"].(float64) > 1) {
			t.Errorf("%s: %v", dist, v)
		}
		// The score equations of the penalty: gamma frailties have mean 1, the
		// logarithms of log-normal ones mean 0.
		ratio, effect := 0.0, 0.0
		people := table(t, a, "frailties")
		for _, r := range people.Rows {
			ratio += r[5].(float64) / 42
			effect += r[3].(float64) / 42
		}
		if mean := map[string]float64{"gamma": ratio - 1, "log-normal": effect}[dist]; len(people.Rows) != 42 || math.Abs(mean) > 1e-8 {
			t.Errorf("%s: %d persons, mean off by %g", dist, len(people.Rows), mean)
		}
		first, seventh := row(t, people, "group", "P1"), row(t, people, "group", "P7")
		want(t, first, "rows", 3, "events", 3)
		if !(first["ratio"].(float64) < 1) || !(seventh["ratio"].(float64) > first["ratio"].(float64)) {
			t.Errorf("%s: P1 %v, P7 %v", dist, first, seventh)
		}
		fit := row(t, table(t, a, "fit"))
		want(t, fit, "penalty", "none", "clusters", nil, "score", nil, "concordance_std_error", nil, "penalty_size", nil)
		if x := 2 * (fit["log_likelihood"].(float64) - v["log_likelihood_without"].(float64)); math.Abs(x-v["statistic"].(float64)) > 1e-9 {
			t.Errorf("%s: statistic %v, want %g", dist, v["statistic"], x)
		}
		for _, phrase := range []string{"126 sockets of 42 persons", "and persons equally prone.", "Beyond these columns the persons differ: in half of all pairs of persons alike in all of them, the one's rate is at least ", "the columns alone name"} {
			if !strings.Contains(a.Reading, phrase) {
				t.Errorf("%s: reading lacks %q: %s", dist, phrase, a.Reading)
			}
		}
		if strings.Contains(a.Reading, "may be no difference") {
			t.Errorf("%s: %s", dist, a.Reading)
		}
		for _, phrase := range []string{"All sockets of one person shared a " + dist + " frailty", "halves the p value", "the frailties held at their estimates"} {
			if !strings.Contains(a.Methods, phrase) {
				t.Errorf("%s: methods lack %q: %s", dist, phrase, a.Methods)
			}
		}
		if strings.Contains(a.Methods, "score residuals") {
			t.Errorf("robust errors are told of: %s", a.Methods)
		}
		refs := strings.Join(a.References, "\n")
		if strings.Contains(refs, "Ripatti") != (dist == "log-normal") || strings.Contains(refs, "Therneau TM, Grambsch") != (dist == "gamma") || !strings.Contains(refs, "Self SG") {
			t.Errorf("%s: references %s", dist, refs)
		}
		for _, code := range []string{"few-groups", "few-shared", "few-clusters", "no-frailty", "late-frailty", "uneven-groups", "groups-hidden", "not-clustered", "laplace"} {
			if text := caution(a, code); text != "" {
				t.Errorf("%s: %s: %s", dist, code, text)
			}
		}
		if len(a.Figures) != 2 || a.Figures[1].ID != "q-frailty" || !strings.Contains(a.Figures[1].Description, "42 persons") {
			t.Errorf("%s: figures %v", dist, a.Figures)
		}
	}
	// Without a frailty nothing of it is told.
	plain := one(t, s, quality, "method: cox\nby: cast_method")
	for _, tab := range plain.Tables {
		if strings.HasPrefix(tab.Name, "frail") {
			t.Errorf("a table %s", tab.Name)
		}
	}
	if strings.Contains(plain.Reading, "prone") {
		t.Error(plain.Reading)
	}
}

// A public report shows how persons are spread, and no person.
func TestFrailtyInPublic(t *testing.T) {
	a := one(t, lifeLog(proneLives(42, 1.2, three)), "audience: annual", frailAsk+"gamma")
	if n := len(table(t, a, "frailties").Rows); n != 0 {
		t.Errorf("%d persons are listed", n)
	}
	wantCaution(t, a, "groups-hidden", "Single persons are not listed")
	if len(a.Figures) != 2 || strings.Contains(a.Figures[1].Description, "42") || !strings.Contains(a.Figures[1].Long, "of persons are thought to lie below") {
		t.Errorf("%+v", a.Figures)
	}
	// How many have one socket alone would follow from those with several.
	b := one(t, lifeLog(proneLives(60, 1.2, func(k int) int { return 1 + min(k, 2) })), "audience: annual", frailAsk+"gamma")
	want(t, row(t, table(t, b, "frailty")), "groups", 60, "groups_with_several", nil)
}

func TestFrailtyCautions(t *testing.T) {
	alike := proneLives(30, 0, three)
	for i := range alike { // every person has the same three lives
		alike[i].days = []int{100, 200, 300}[i%3] + i/3
		alike[i].group = []string{"hand", "vacuum"}[i/2%2]
	}
	a := one(t, lifeLog(alike), quality, frailAsk+"gamma")
	wantCaution(t, a, "no-frailty", "No difference between persons shows")
	v := row(t, table(t, a, "frailty"))
	want(t, v, "variance", 0, "low", 0, "median_ratio", 1, "statistic", 0, "p", 1, "effective_df", 0)
	if len(a.Figures) != 1 || len(table(t, a, "frailties").Rows) != 0 || !strings.Contains(a.Reading, "Beyond these columns no difference between persons shows; the 95% interval still allows") {
		t.Errorf("%d figures; %s", len(a.Figures), a.Reading)
	}
	plain := one(t, lifeLog(alike), quality, "method: cox\nby: cast_method\nreference: {cast_method: hand}\ncluster: none")
	want(t, row(t, table(t, a, "terms")), "estimate", row(t, table(t, plain, "terms"))["estimate"])

	few := one(t, lifeLog(proneLives(6, 1.5, three)), quality, frailAsk+"gamma")
	wantCaution(t, few, "few-groups", "Only 6 persons")
	wantCaution(t, few, "few-shared", "6 of 6 persons have more than one socket")

	lone := one(t, lifeLog(proneLives(60, 1.2, func(k int) int { return 1 + min(k/50, 1) })), quality, frailAsk+"gamma")
	wantCaution(t, lone, "few-shared", "10 of 60 persons have")
	if caution(lone, "few-groups") != "" {
		t.Error("60 persons are few")
	}

	// The more prone have more sockets: k%7 says how prone.
	uneven := one(t, lifeLog(proneLives(42, 1.2, func(k int) int { return 1 + k%7/2 })), quality, frailAsk+"gamma")
	wantCaution(t, uneven, "uneven-groups", "The persons with more sockets here are more prone")

	pairs := lifeLog(proneLives(42, 1.2, func(int) int { return 2 }))
	wantCaution(t, one(t, pairs, quality, frailAsk+"log-normal"), "laplace", "only 2.0 events for each person")
	if a := one(t, pairs, quality, frailAsk+"gamma"); caution(a, "laplace") != "" {
		t.Error("a gamma frailty needs no approximation")
	}

	late := one(t, lifeLog(proneLives(42, 1.2, three)), "log_since: 2023-02-01", frailAsk+"gamma")
	wantCaution(t, late, "late-frailty", "came under observation only some time after delivery")
}

// A column of the socket can share the frailty; where it is not known, the
// socket is left out and counted.
func TestFrailtySharedBySite(t *testing.T) {
	lives := proneLives(63, 1.2, three)
	s := lifeLog(lives)
	lines := strings.Split(strings.TrimSpace(s["sockets"]), "\n")
	for i := range lines {
		switch {
		case i == 0:
			lines[i] += ",bench"
		case i == 5:
			lines[i] += ","
		default:
			lines[i] += fmt.Sprintf(",bench %d", lives[i-1].person%7)
		}
	}
	s["sockets"] = strings.Join(lines, "\n")
	a := one(t, s, quality, frailAsk+"log-normal\nshared_by: bench")
	want(t, row(t, table(t, a, "frailty")), "shared_by", "bench", "groups", 7)
	wantCaution(t, a, "missing", "bench 1")
	wantCaution(t, a, "few-groups", "Only 7 benches")
	if a.Rows != 188 || !strings.Contains(a.Methods, "All sockets of one bench shared") {
		t.Errorf("%d rows; %s", a.Rows, a.Methods)
	}
	row(t, table(t, a, "frailties"), "group", "bench 3")
	wantError(t, one(t, s, quality, frailAsk+"gamma\nshared_by: benhc"), "unknown-column", "benhc")
	wantError(t, one(t, s, quality, frailAsk+"gamma\nshared_by: level"), "one-group", "all sockets here are of one level")
}

func TestFrailtyRefusals(t *testing.T) {
	wantError(t, one(t, lifeLog(separatedLives()), quality, frailAsk+"gamma"), "not-shared", "no person has more than one socket", "leave out `frailty`")
	single := proneLives(1, 0, func(int) int { return 12 })
	wantError(t, one(t, lifeLog(single), quality, frailAsk+"gamma"), "one-group", "of one person")
	lives := proneLives(30, 1, three)
	none := append([]life(nil), lives...)
	for i := range none {
		none[i].reason = ""
	}
	wantError(t, one(t, lifeLog(none), quality, frailAsk+"gamma"), "no-events")
	apart := append([]life(nil), lives...)
	for i := range apart {
		if apart[i].group == "vacuum" {
			apart[i].reason = ""
		}
	}
	wantError(t, one(t, lifeLog(apart), quality, frailAsk+"log-normal"), "separation", "casting method vacuum against hand", "without `frailty` the estimates are penalised")
	wantError(t, one(t, lifeLog(lives), quality, "method: cox\nby: level\nfrailty: gamma"), "bad-term", "level")
	var worlds []life // all of P1 remade within 60 days, none of P2 in ten years
	for i := range 120 {
		l := life{1 + i%2, 0, 1 + i/2, "remake: growth", []string{"hand", "vacuum"}[i*7/2%5%2]}
		if i%2 == 1 {
			l.days, l.reason = 3600, ""
		}
		worlds = append(worlds, l)
	}
	wantError(t, one(t, lifeLog(worlds), quality, frailAsk+"log-normal"), "unbounded", "no largest size that fits", "person under `strata`")
	many := answersOnce(t, readLog(t, lifeLog(proneLives(1501, 1, func(int) int { return 2 }))), nil, quality, "id: q\n"+frailAsk+"log-normal")["q"]
	wantError(t, many, "too-many-groups", "for 1500 persons at most", "1501 persons", "`frailty: gamma`")
}

func TestRidge(t *testing.T) {
	s := lifeLog(proneLives(80, 0, three))
	ask := "method: cox\nby: cast_method\nreference: {cast_method: hand}\npenalty: ridge"
	a := one(t, s, quality, ask+"\nprofiles: [{cast_method: vacuum}]\ntimes: [60d]")
	plain := one(t, s, quality, "method: cox\nby: cast_method\nreference: {cast_method: hand}\nprofiles: [{cast_method: vacuum}]\ntimes: [60d]")
	told := row(t, table(t, plain, "predicted"))
	share := words.PercentWithin(told["estimate"].(float64), told["low"].(float64), told["high"].(float64))
	if lead := "Predicted not to be remade by 60 days: " + share + " of those with cast method vacuum"; !strings.Contains(plain.Reading, lead) {
		t.Errorf("the reading lacks %q: %s", lead, plain.Reading)
	}
	r, q := row(t, table(t, a, "terms")), row(t, table(t, plain, "terms"))
	want(t, r, "z", nil, "p", nil)
	if x, y := r["estimate"].(float64), q["estimate"].(float64); !(x < 0) || !(x > y) {
		t.Errorf("a ridge draws %g to %g", y, x)
	}
	fit := row(t, table(t, a, "fit"))
	want(t, fit, "penalty", "ridge", "aic", nil, "wald", nil, "score", nil, "likelihood_ratio", nil, "clusters", nil)
	if d := fit["effective_df"].(float64); !(d > 0) || !(d < 1) {
		t.Errorf("effective df %g", d)
	}
	p := row(t, table(t, a, "predicted"))
	want(t, p, "low", nil, "high", nil, "std_error", nil)
	if p["estimate"] == nil {
		t.Error("nothing predicted")
	}
	wantCaution(t, a, "ridge", "no confidence intervals")
	wantCaution(t, a, "proportionality", "not tested")
	wantCaution(t, a, "not-clustered", "several sockets of one person")
	for _, phrase := range []string{"sooner", "go longer", "either way"} {
		if strings.Contains(a.Reading, phrase) {
			t.Errorf("a way is told of a ridge: %s", a.Reading)
		}
	}
	if !strings.Contains(a.Reading, "drawn toward 1 by a ridge") || !strings.Contains(a.Methods, "maximises the marginal likelihood") || !strings.Contains(strings.Join(a.References, " "), "Verweij") {
		t.Errorf("%s\n%s", a.Reading, a.Methods)
	}
	if caution(plain, "ridge") != "" {
		t.Error("a caution about a ridge that was not asked for")
	}
	given := one(t, s, quality, ask+"\npenalty_size: 1000")
	want(t, row(t, table(t, given, "fit")), "penalty_size", 1000)
	if x := row(t, table(t, given, "terms"))["estimate"].(float64); !(x < 0) || !(x > r["estimate"].(float64)) || !strings.Contains(given.Methods, "as set beforehand") {
		t.Errorf("size 1000: %g; %s", x, given.Methods)
	}
	// Separation needs no other penalty; a column that says nothing is refused.
	sep := one(t, lifeLog(separatedLives()), quality, ask)
	if sep.Error != nil || caution(sep, "separation") != "" || caution(sep, "not-clustered") != "" {
		t.Errorf("%v %v", sep.Error, sep.Cautions)
	}
	var idle []life
	for k := range 60 {
		idle = append(idle, life{k + 1, 0, 10 + k/2, "remake: growth", []string{"hand", "vacuum"}[k%2]})
	}
	wantError(t, one(t, lifeLog(idle), quality, ask), "nothing-left", "give `penalty_size`")
	if a := one(t, lifeLog(idle), quality, ask+"\npenalty_size: 2"); a.Error != nil {
		t.Error(a.Error)
	}
	for i := range idle {
		idle[i].reason = ""
	}
	wantError(t, one(t, lifeLog(idle), quality, ask), "no-events")
}
