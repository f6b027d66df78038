package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Small logs of which every number can be worked out on paper.

const limbsHead = "person,limb,side,level,last_seen,died\n"
const socketsHead = "socket,limb,kind,delivered,remake_decided,ended,end_reason,replaces,cast_method\n"

// plainLimbs are persons P1 to Pn with a left limb each.
func plainLimbs(n int) string {
	var b strings.Builder
	b.WriteString(limbsHead)
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, "P%d,P%dL,left,TT,,\n", i, i)
	}
	return b.String()
}

// life is a socket of limb PiL delivered on day 0 (2023-01-01) that ends
// after some days, or was last seen then where there is no reason.
type life struct {
	person, start, days int
	reason, group       string
}

// lifeLog is the log of some lives. Open sockets have a visit on their last
// day.
func lifeLog(lives []life) sheets {
	persons := 0
	var s, v strings.Builder
	s.WriteString(socketsHead)
	v.WriteString("visit,socket,date,purpose,comfort\n")
	for i, l := range lives {
		persons = max(persons, l.person)
		ended := ""
		if l.reason != "" {
			ended = day(l.start + l.days)
		} else {
			fmt.Fprintf(&v, "V%d,S%d,%s,follow-up,\n", i+1, i+1, day(l.start+l.days))
		}
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,,%s,%s,,%s\n", i+1, l.person, day(l.start), ended, l.reason, l.group)
	}
	return sheets{"limbs": plainLimbs(persons), "sockets": s.String(), "visits": v.String()}
}

func TestKaplanMeierWithDelayedEntry(t *testing.T) {
	s := sheets{
		"limbs": limbsHead + "P1,P1L,left,TT,,\nP2,P2L,left,TT,,\nP3,P3L,left,TT,2024-11-17,\nP4,P4L,left,TT,,\nP5,P5L,left,TT,,\n",
		"sockets": socketsHead +
			"S1,P1L,definitive,2023-07-05,,2024-03-01,remake: volume loss,,\n" + // enters at 180, event at 240
			"S2,P2L,definitive,2024-01-11,,2024-04-20,remake: volume loss,,\n" + // event at 100
			"S3,P3L,definitive,2024-02-01,,,,,\n" + // last seen at 290
			"S4,P4L,definitive,2024-03-01,,2024-09-17,remake: growth,,\n" + // event at 200
			"S5,P5L,definitive,2023-01-01,,2023-06-01,remake: growth,,\n", // ended before the log was kept
	}
	a := one(t, s, "log_since: 2024-01-01\nto: 2025-12-31", "method: kaplan-meier\ntimes: [150d]")
	if a.Rows != 4 || a.Events != 3 {
		t.Errorf("%d rows and %d events, want 4 and 3", a.Rows, a.Events)
	}
	curve := table(t, a, "curve")
	want(t, row(t, curve, "time", 100), "at_risk", 3, "events", 1, "censored", 0, "estimate", 2.0/3)
	want(t, row(t, curve, "time", 200), "at_risk", 3, "events", 1, "estimate", 4.0/9)
	want(t, row(t, curve, "time", 240), "at_risk", 2, "events", 1, "estimate", 2.0/9)
	want(t, row(t, curve, "time", 290), "at_risk", 1, "events", 0, "censored", 1, "estimate", 2.0/9)
	// Greenwood at 150 days: S^2 d/(n(n-d)) = (4/9)(1/6).
	want(t, row(t, table(t, a, "at_times"), "time", 150), "estimate", 2.0/3, "std_error", math.Sqrt(4.0/9/6))
	// The mean time within 240 days, say: 100 + 100*2/3 + 40*4/9.
	b := one(t, s, "log_since: 2024-01-01\nto: 2025-12-31", "method: kaplan-meier\nuntil: 240d")
	want(t, row(t, table(t, b, "rmst"), "group", "all"), "estimate", 100+200.0/3+160.0/9)
	if !strings.Contains(a.Methods, "delayed entry") {
		t.Errorf("the methods sentence lacks the delayed entry: %s", a.Methods)
	}
	f := one(t, s, "log_since: 2024-01-01\nto: 2025-12-31", "method: flow\nevent: remake")
	steps := table(t, f, "steps")
	want(t, row(t, steps, "step", "under observation"), "rows", 4, "excluded", 1)
	if !strings.Contains(f.Reading, "4 of 5 sockets are analysed") || !strings.Contains(f.Reading, "3 had the event") {
		t.Errorf("reading: %s", f.Reading)
	}
}

func TestEndsOfSockets(t *testing.T) {
	s := sheets{
		"limbs": limbsHead + "P1,P1L,left,TT,,2023-04-11\nP2,P2L,left,TT,,\nP3,P3L,left,TT,2023-12-31,\nP4,P4L,left,TT,,\nP5,P5L,left,TT,2023-12-31,\n",
		"sockets": socketsHead +
			"S1,P1L,definitive,2023-01-01,,,,,\n" + // open at death: died at 100
			"S2,P2L,definitive,2023-01-01,2023-03-02,2023-04-11,remake: growth,,\n" + // decided at 60, ended at 100
			"S3,P3L,definitive,2023-01-01,,,,,\n" + // replaced at 150, reason not known
			"S4,P3L,definitive,2023-05-31,,,,S3,\n" + // open, 214 days
			"S5,P4L,definitive,2023-01-01,,2023-07-20,lost to follow-up,,\n" + // at 200
			"S6,P5L,definitive,2023-01-01,,,,,\n", // open although a later one exists: 364 days
	}
	const front = "to: 2023-12-31"
	a := one(t, s, front, "method: kaplan-meier\ntimes: [300d]")
	curve := table(t, a, "curve")
	want(t, row(t, curve, "time", 60), "at_risk", 6, "events", 1, "estimate", 5.0/6)
	want(t, row(t, curve, "time", 100), "at_risk", 5, "events", 0, "censored", 1)
	want(t, row(t, curve, "time", 150), "at_risk", 4, "events", 0, "censored", 1)
	want(t, row(t, curve, "time", 200), "at_risk", 3, "censored", 1)
	want(t, row(t, curve, "time", 214), "at_risk", 2, "censored", 1)
	want(t, row(t, curve, "time", 364), "at_risk", 1, "censored", 1)
	// Were the replaced socket remade, then at 300 days: 5/6 (at 60) * 3/4 (at 150).
	wantCaution(t, a, "reason-unknown", "1 socket", "62% would not have been by 300 days")
	wantCaution(t, a, "competing", "1 socket ended for another reason (died 1)", "common")
	wantCaution(t, a, "lost", "1 socket was lost from sight (lost to follow-up 1)", "more than one in ten")
	wantCaution(t, a, "few-events", "Only 1 socket was remade")
	for _, part := range []string{"remake decided 1", "ended 1", "replacement delivered 1", "person died 1"} {
		if !strings.Contains(a.Methods, part) {
			t.Errorf("the methods sentence lacks %q: %s", part, a.Methods)
		}
	}
	b := one(t, s, front, "method: cumulative-incidence\nevent: [remake]\ntimes: [120d, 300d]")
	at := table(t, b, "at_times")
	want(t, row(t, at, "cause", "remake", "time", 120), "estimate", 1.0/6)
	want(t, row(t, at, "cause", "died", "time", 120), "estimate", 5.0/6/5)
	want(t, row(t, at, "cause", "still in use", "time", 300), "estimate", 5.0/6*4/5)
	wantCaution(t, b, "reason-unknown", "1 socket")
}

func TestNotSeenForAYear(t *testing.T) {
	// Of ten sockets six end in a remake at 100 to 600 days; two were last
	// seen at 50 days, long before the data cut at 1,000; two at 990.
	lives := []life{{1, 0, 50, "", ""}, {2, 0, 50, "", ""}, {3, 0, 990, "", ""}, {4, 0, 990, "", ""}}
	for k := 1; k <= 6; k++ {
		lives = append(lives, life{4 + k, 0, 100 * k, "remake: growth", ""})
	}
	a := one(t, lifeLog(lives), "to: "+day(1000), "method: kaplan-meier\ntimes: [250d]")
	// Censored at 50 days: 7/8 * 6/7 = 6/8. Followed to 1,000: 9/10 * 8/9.
	want(t, row(t, table(t, a, "at_times"), "time", 250), "estimate", 0.75)
	wantCaution(t, a, "not-seen", "2 of 4 sockets (50%) still open")
	wantCaution(t, a, "not-seen-twice", "At 250 days, 75% had not", "80% if all")
	b := one(t, lifeLog(lives), "to: "+day(1000), "method: cumulative-incidence\nevent: remake\ntimes: [250d]")
	wantCaution(t, b, "not-seen-twice", "By 250 days, 25% had been remade", "20% if all")
}

func TestCompetingIsSaidAboveOneInTen(t *testing.T) {
	make := func(died int) sheets {
		var lives []life
		for k := 1; k <= 20; k++ {
			l := life{k, 0, 10 * k, "remake: growth", ""}
			if k <= died {
				l.reason = "stopped wearing"
			}
			lives = append(lives, l)
		}
		return lifeLog(lives)
	}
	if a := one(t, make(2), quality, "method: kaplan-meier"); caution(a, "competing") != "" || caution(a, "ended-otherwise") == "" {
		t.Errorf("two of twenty: %v", a.Cautions)
	}
	wantCaution(t, one(t, make(3), quality, "method: kaplan-meier"), "competing", "3 sockets ended for another reason (stopped wearing 3)", "use cumulative-incidence")
	// The event cannot be forecast so where it is seen at visits.
	s := make(3).with("visits", "visit,socket,date,purpose,comfort\nA,S9,"+day(40)+",follow-up,3\nB,S10,"+day(40)+",follow-up,8\nC,S11,"+day(40)+",follow-up,8\n")
	a := one(t, s, quality, "method: kaplan-meier\nevent: {comfort: ..5}\nseen_as_exact: true")
	for _, c := range a.Cautions {
		if strings.Contains(c.Text, "cumulative-incidence") {
			t.Errorf("a method that does not take the event: %s", c.Text)
		}
	}
	wantCaution(t, a, "seen-as-exact", "too long")
}

func TestCumulativeIncidenceByHand(t *testing.T) {
	s := lifeLog([]life{{1, 0, 50, "remake: volume loss", ""}, {2, 0, 100, "died", ""}, {3, 0, 150, "remake: shaping error", ""}, {4, 0, 200, "", ""}, {5, 0, 250, "", ""}})
	a := one(t, s, quality, "method: cumulative-incidence\nevent: [limb-change, making]\ntimes: [160d]")
	for _, cause := range []string{"limb-change", "making", "died"} {
		want(t, row(t, table(t, a, "at_times"), "cause", cause), "estimate", 0.2)
	}
	want(t, row(t, table(t, a, "at_times"), "cause", "still in use"), "estimate", 0.4)
	if !strings.Contains(a.Reading, "Of 5 sockets, by 160 days 20% had been remade because the limb changed") || !strings.Contains(a.Reading, "40% were still in use") {
		t.Errorf("reading: %s", a.Reading)
	}
}

func TestEarlyRemakeLeavesLaterOnesToCompete(t *testing.T) {
	s := lifeLog([]life{{1, 0, 50, "remake: growth", ""}, {2, 0, 100, "remake: growth", ""}, {3, 0, 150, "died", ""}, {4, 0, 300, "", ""}})
	a := one(t, s, "early_remake: 60d", "method: cumulative-incidence\nevent: early-remake\ntimes: [200d]")
	at := table(t, a, "at_times")
	want(t, row(t, at, "cause", "early-remake"), "estimate", 0.25)
	want(t, row(t, at, "cause", "later remake"), "estimate", 0.25)
	want(t, row(t, at, "cause", "died"), "estimate", 0.25)
	want(t, row(t, at, "cause", "still in use"), "estimate", 0.25)
	b := one(t, s, "early_remake: 60d", "method: kaplan-meier\nevent: early-remake\ntimes: [60d]")
	want(t, row(t, table(t, b, "at_times"), "time", 60), "estimate", 0.75)
	wantCaution(t, b, "ended-later", "1 socket was remade more than 60 days after delivery")
	// An ending of unknown reason after the limit could not be early.
	s = lifeLog([]life{{1, 0, 50, "remake: growth", ""}, {2, 0, 100, "unknown", ""}, {3, 0, 40, "unknown", ""}, {4, 0, 300, "", ""}})
	c := one(t, s, "early_remake: 60d", "method: kaplan-meier\nevent: early-remake\ntimes: [60d]")
	wantCaution(t, c, "reason-unknown", "1 socket.", "50% would not have been by 60 days")
}

func TestConditionSeenAtVisits(t *testing.T) {
	s := sheets{
		"limbs":   plainLimbs(4),
		"sockets": socketsHead + "S1,P1L,definitive,2023-01-01,,,,,\nS2,P2L,definitive,2023-01-01,,,,,\nS3,P3L,definitive,2023-01-01,,,,,\nS4,P4L,definitive,2022-01-01,,,,,\n",
		"visits": "visit,socket,date,purpose,comfort\n" +
			"A,S1,2023-02-01,follow-up,8\nB,S1,2023-03-02,follow-up,4\n" + // found at 60
			"C,S2,2023-04-11,follow-up,9\n" + // last looked at 100
			"D,S3,2023-01-31,follow-up,9\nE,S3,2023-08-01,follow-up,\n" + // last told at 30; the later visit tells nothing
			"F,S4,2022-06-01,follow-up,3\nG,S4,2023-06-01,follow-up,3\n", // had it before coming under observation
	}
	a := one(t, s, "log_since: 2023-01-01", "method: kaplan-meier\nevent: {comfort: ..5}\nseen_as_exact: true")
	if a.Rows != 3 || a.Events != 1 {
		t.Errorf("%d rows, %d events, want 3 and 1", a.Rows, a.Events)
	}
	curve := table(t, a, "curve")
	want(t, row(t, curve, "time", 30), "at_risk", 3, "censored", 1)
	want(t, row(t, curve, "time", 60), "at_risk", 2, "events", 1, "estimate", 0.5)
	want(t, row(t, curve, "time", 100), "at_risk", 1, "censored", 1)
	if !strings.Contains(a.Reading, "Of 3 sockets, 1 was found with") {
		t.Errorf("reading: %s", a.Reading)
	}
	f := one(t, s, "log_since: 2023-01-01", "method: flow\nevent: {comfort: ..5}")
	if !strings.Contains(f.Reading, "3 of 4 sockets are analysed, of 3 limbs and 3 persons. Of the sockets, 1 had the event.") {
		t.Errorf("reading: %s", f.Reading)
	}
	wantError(t, one(t, s, quality, "method: kaplan-meier\nevent: {comfort: ..5}"), "impossible", "seen_as_exact: true")
	wantError(t, one(t, s, quality, "method: kaplan-meier\nevent: {comfort: ..5}\nseen_as_exact: true\nend: ended"), "impossible", "no other end")
}

func TestCoxByHand(t *testing.T) {
	// No ties, one column: the score is a sum that a bisection solves.
	days, x := []int{10, 20, 30, 40, 50, 60}, []float64{1, 0, 1, 1, 0, 0}
	var lives []life
	for i := range days {
		lives = append(lives, life{i + 1, 0, days[i], "remake: growth", map[float64]string{0: "hand", 1: "vacuum"}[x[i]]})
	}
	score := func(b float64) float64 {
		u := 0.0
		for i := range x {
			sum, weighted := 0.0, 0.0
			for j := i; j < len(x); j++ {
				sum, weighted = sum+math.Exp(b*x[j]), weighted+x[j]*math.Exp(b*x[j])
			}
			u += x[i] - weighted/sum
		}
		return u
	}
	lo, hi := -10.0, 10.0
	for range 200 {
		if m := (lo + hi) / 2; score(m) > 0 {
			lo = m
		} else {
			hi = m
		}
	}
	a := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method\nreference: {cast_method: hand}")
	r := row(t, table(t, a, "terms"), "term", "cast_method", "category", "vacuum", "reference", "hand")
	if e := r["estimate"].(float64); math.Abs(e-lo) > 1e-7 {
		t.Errorf("estimate %g, want %g", e, lo)
	}
	if e := r["ratio"].(float64); math.Abs(e-math.Exp(lo)) > 1e-6 {
		t.Errorf("ratio %g, want %g", e, math.Exp(lo))
	}
	wantCaution(t, a, "few-events", "6 events for 1 term")
	if !strings.Contains(a.Reading, " of 6 sockets with 6 events, all terms taken together") {
		t.Errorf("reading: %s", a.Reading)
	}
}

func TestSeparationAndCollinearColumns(t *testing.T) {
	var lives []life
	for k := 1; k <= 12; k++ {
		l := life{k, 0, 10 * k, "remake: growth", "hand"}
		if k%2 == 0 {
			l = life{k, 0, 10 * k, "", "vacuum"} // none of these has the event
		}
		lives = append(lives, l)
	}
	a := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method\npenalty: none")
	wantError(t, a, "separation", "no finite estimate fits casting method vacuum against hand", "without `penalty: none`")
	s := lab(labOptions{persons: 24})
	b := one(t, s, quality, "method: cox\nby: cast_method\nadjust: [level]")
	wantError(t, b, "singular", "level", "cast_method")
	c := one(t, s, quality, "method: linear\nrows: sockets\noutcome: turnaround_days\nby: cast_method\nadjust: [level]")
	wantError(t, c, "singular", "level", "cast_method")
}

func TestSeveralSocketsOfOnePerson(t *testing.T) {
	var lives []life
	for k := range 24 {
		lives = append(lives, life{k/2 + 1, 30 * (k % 2), 20 + 7*k%90, "remake: growth", []string{"hand", "vacuum"}[k/12]})
	}
	a := one(t, lifeLog(lives), quality, "method: kaplan-meier\nby: cast_method")
	if !strings.Contains(a.Methods, "infinitesimal jackknife grouped by person") {
		t.Errorf("methods: %s", a.Methods)
	}
	wantCaution(t, a, "few-clusters", "Only 12 persons stand behind these 24 sockets")
	wantCaution(t, a, "test-not-clustered")
	row(t, table(t, a, "tests"), "test", "score test grouped by person")
	b := one(t, lifeLog(lives), quality, "method: kaplan-meier\nby: cast_method\ncluster: none")
	wantCaution(t, b, "not-clustered", "taken as independent")
	if !strings.Contains(b.Methods, "Greenwood") {
		t.Errorf("methods: %s", b.Methods)
	}
	c := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method")
	if r := row(t, table(t, c, "terms"), "term", "cast_method"); r["robust_std_error"] == nil {
		t.Errorf("no robust error: %v", r)
	}
	want(t, row(t, table(t, c, "fit")), "clusters", 12)
	d := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method\ncluster: none")
	wantCaution(t, d, "not-clustered")
}

func TestSmallGroupsMissingValuesAndTails(t *testing.T) {
	var lives []life
	for k := 1; k <= 30; k++ {
		l := life{k, 0, 10 * k, "remake: growth", "hand"}
		switch {
		case k%12 == 5:
			l.group = "scan"
		case k%6 == 0:
			l.group = ""
		}
		lives = append(lives, l)
	}
	a := one(t, lifeLog(lives), quality, "method: kaplan-meier\nby: cast_method")
	wantCaution(t, a, "small-group", "The group scan has only 3 sockets")
	wantCaution(t, a, "missing", "5 sockets were left out because casting method is not recorded")
	wantCaution(t, a, "tail", "fewer than 10 sockets")
	if a.Rows != 25 || a.Events != 25 {
		t.Errorf("%d rows, %d events, want 25 and 25", a.Rows, a.Events)
	}
	b := one(t, lifeLog(lives), quality, "method: cox\nby: cast_method")
	wantCaution(t, b, "missing", "5 of 30 sockets were left out", "casting method 5")
}

func TestLinearByHand(t *testing.T) {
	// Two visits of each of six persons; comfort falls by a half for each ply.
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,ply,comfort\n")
	var xs, ys []float64
	for i := range 12 {
		x, y := float64(i%5), 8-0.5*float64(i%5)
		if i%3 == 0 {
			y++
		}
		xs, ys = append(xs, x), append(ys, y)
		fmt.Fprintf(&v, "V%d,S%d,%s,follow-up,%g,%g\n", i+1, i/2+1, day(10*i+1), x, y)
	}
	var s strings.Builder
	s.WriteString(socketsHead)
	for i := 1; i <= 6; i++ {
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,,,,,\n", i, i, day(0))
	}
	log := sheets{"limbs": plainLimbs(6), "sockets": s.String(), "visits": v.String()}
	a := one(t, log, quality, "method: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\nprofiles: [{ply: 2}]")
	mx, my, sxy, sxx := 0.0, 0.0, 0.0, 0.0
	for i := range xs {
		mx, my = mx+xs[i]/12, my+ys[i]/12
	}
	for i := range xs {
		sxy, sxx = sxy+(xs[i]-mx)*(ys[i]-my), sxx+(xs[i]-mx)*(xs[i]-mx)
	}
	slope := sxy / sxx
	want(t, row(t, table(t, a, "terms"), "term", "ply"), "estimate", slope)
	want(t, row(t, table(t, a, "terms"), "term", "intercept"), "estimate", my-slope*mx)
	want(t, row(t, table(t, a, "predicted")), "estimate", my+slope*(2-mx))
	want(t, row(t, table(t, a, "fit")), "rows", 12, "clusters", 6)
	wantCaution(t, a, "few-clusters", "Only 6 persons")
	wantCaution(t, a, "few-rows", "12 rows for 1 term")
	if !strings.Contains(a.Reading, " of 12 visits of 6 persons, all terms taken together") {
		t.Errorf("reading: %s", a.Reading)
	}
}

func TestMixedByHand(t *testing.T) {
	// Balanced: five limbs measured on the same four days. Then the slope is
	// that of least squares within limbs, the residual variance that of the
	// within-limb line, and the variance between limbs follows from the means.
	days := []float64{10, 40, 70, 100}
	level := []float64{0, 3, -2, 5, 1}
	noise := [][]float64{{0.2, -0.1, 0.3, 0}, {-0.2, 0.1, 0, 0.3}, {0, 0.2, -0.3, 0.1}, {0.1, 0.1, -0.2, -0.1}, {0.3, -0.3, 0.1, 0.2}}
	var v, s strings.Builder
	v.WriteString("visit,socket,date,purpose,mass_kg\n")
	s.WriteString(socketsHead)
	y := make([][]float64, 5)
	for i := range level {
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,,,,,\n", i+1, i+1, day(0))
		for j, d := range days {
			y[i] = append(y[i], 70+level[i]+0.02*d+noise[i][j])
			fmt.Fprintf(&v, "V%d%d,S%d,%s,follow-up,%.6f\n", i, j, i+1, day(int(d)), y[i][j])
		}
	}
	log := sheets{"limbs": plainLimbs(5), "sockets": s.String(), "visits": v.String()}
	a := one(t, log, quality, "method: mixed\nrows: visits\noutcome: mass_kg\ntime: days_since_delivery\nprofiles: [{days_since_delivery: 55}]")
	mt, sxx, sxy, grand := 55.0, 0.0, 0.0, 0.0
	means := make([]float64, 5)
	for i := range y {
		for j := range days {
			means[i] += y[i][j] / 4
		}
		grand += means[i] / 5
	}
	for i := range y {
		for j, d := range days {
			sxx, sxy = sxx+(d-mt)*(d-mt), sxy+(d-mt)*(y[i][j]-means[i])
		}
	}
	slope, rss, between := sxy/sxx, 0.0, 0.0
	for i := range y {
		between += (means[i] - grand) * (means[i] - grand) / 4
		for j, d := range days {
			e := y[i][j] - means[i] - slope*(d-mt)
			rss += e * e
		}
	}
	residual := rss / (20 - 5 - 1)
	near := func(name string, got any, want float64) {
		t.Helper()
		if x, ok := got.(float64); !ok || math.Abs(x-want) > 1e-6*math.Abs(want) {
			t.Errorf("%s is %v, want %g", name, got, want)
		}
	}
	r := row(t, table(t, a, "terms"), "term", "days_since_delivery")
	near("slope", r["estimate"], slope)
	near("its error", r["std_error"], math.Sqrt(residual/sxx))
	near("its degrees of freedom", r["df"], 14)
	near("residual variance", row(t, table(t, a, "variance"), "group", "residual")["variance"], residual)
	near("variance between limbs", row(t, table(t, a, "variance"), "group", "limb")["variance"], between-residual/4)
	near("mean at 55 days", row(t, table(t, a, "predicted"))["estimate"], grand)
	wantCaution(t, a, "few-groups", "Only 5 limbs")
}

func TestChartsByHand(t *testing.T) {
	// Twelve months, ten visits in each; 2, 3, 4, 2, 3, 4 ... of them low.
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort\n")
	total, moving, last := 0, 0.0, 0
	for m := range 12 {
		low := 2 + m%3
		total += low
		if m > 0 {
			moving += math.Abs(float64(low-last)) / 11
		}
		last = low
		for k := range 10 {
			c := 9
			if k < low {
				c = 3
			}
			fmt.Fprintf(&v, "V%d-%d,S1,2023-%02d-%02d,follow-up,%d\n", m, k, m+1, k+2, c)
		}
	}
	log := sheets{"limbs": plainLimbs(1), "sockets": socketsHead + "S1,P1L,definitive,2022-12-01,,,,,\n", "visits": v.String()}
	a := one(t, log, "to: 2023-12-31", "method: control-chart\nrows: visits\nnumerator: {comfort: ..5}\nperiod: month")
	p := float64(total) / 120
	points := table(t, a, "points")
	if len(points.Rows) != 12 || a.Events != total || a.Rows != 120 {
		t.Fatalf("%d points, %d of %d; want 12, %d of 120", len(points.Rows), a.Events, a.Rows, total)
	}
	want(t, row(t, points, "period", "2023-05"), "numerator", 3, "denominator", 10, "value", 0.3, "centre", p,
		"lower", math.Max(0, p-3*math.Sqrt(p*(1-p)/10)), "upper", p+3*math.Sqrt(p*(1-p)/10))
	if !strings.Contains(a.Reading, "Across 12 months, 30.0% of 120 visits") {
		t.Errorf("reading: %s", a.Reading)
	}
	wantCaution(t, a, "few-expected", "3.0 rows that count")
	b := one(t, log, "to: 2023-12-31", "method: control-chart\nrows: visits\nchart: xmr\nnumerator: {comfort: ..5}\nperiod: month")
	mean := float64(total) / 12
	want(t, row(t, table(t, b, "points"), "period", "2023-02"), "value", 3, "centre", mean, "lower", math.Max(0, mean-3*moving*math.Sqrt(math.Pi)/2), "upper", mean+3*moving*math.Sqrt(math.Pi)/2)
	// A month that has not ended is not drawn.
	c := one(t, log, "to: 2023-12-15", "method: control-chart\nrows: visits\nnumerator: {comfort: ..5}\nperiod: month")
	if n := len(table(t, c, "points").Rows); n != 11 {
		t.Errorf("%d points, want 11", n)
	}
	wantCaution(t, c, "incomplete-periods", "2023-12")
}

func TestDecisionStartsAPhaseAndIsFollowed(t *testing.T) {
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort\n")
	for m := range 24 {
		low := 6
		if m >= 12 {
			low = 2
		}
		for k := range 20 {
			c := 9
			if k < low+m%2 {
				c = 3
			}
			fmt.Fprintf(&v, "V%d-%d,S1,%d-%02d-%02d,follow-up,%d\n", m, k, 2022+m/12, m%12+1, k+2, c)
		}
	}
	log := sheets{"limbs": plainLimbs(1), "sockets": socketsHead + "S1,P1L,definitive,2021-12-01,,,,,\n", "visits": v.String()}
	got := answersOf(t, readLog(t, log), nil, "to: 2023-12-31",
		"id: q\nmethod: control-chart\nrows: visits\nnumerator: {comfort: ..5}\nperiod: month",
		"on: 2022-12-20\nwhat: Measure again.\nfollows: q\nnew_phase: true",
		"on: 2023-12-30\nwhat: Too late to tell.\nfollows: q")
	a := got["q"]
	phases := table(t, a, "phases")
	if len(phases.Rows) != 2 {
		t.Fatalf("phases: %v", phases.Rows)
	}
	want(t, row(t, phases, "phase", 1), "from", "2022-01", "to", "2022-12", "centre", 78.0/240)
	want(t, row(t, phases, "phase", 2), "from", "2023-01", "to", "2023-12", "centre", 30.0/240)
	var since []string
	for _, s := range a.Since {
		since = append(since, s)
	}
	if len(since) != 2 {
		t.Fatalf("since: %v", since)
	}
	all := strings.Join(since, " / ")
	if !strings.Contains(all, "12.5% of 240; before 32.3% of 220 (12 months)") || !strings.Contains(all, "no complete period since") {
		t.Errorf("since: %s", all)
	}
}

func TestRepeatabilityProductsAndManyEstimates(t *testing.T) {
	s := lab(labOptions{persons: 60})
	wantCaution(t, one(t, s, quality, "method: linear\nrows: sockets\noutcome: volume_change_pct\nby: cause"), "repeatability", "less than 5%")
	wantCaution(t, one(t, s, quality, "method: linear\nrows: sockets\noutcome: turnaround_days\nadjust: [age, volume_change_pct]"), "repeatability", "less than 5%")
	wantCaution(t, one(t, s, quality, "method: cox\nby: level\nadjust: [age]\ninteract: [[level, age]]"), "interaction", "level of amputation and age")
	wantCaution(t, one(t, s, quality, "method: linear\nrows: sockets\noutcome: turnaround_days\nadjust: [age, level, cause, sex, number, reduction_pct]"), "many-comparisons", "7 estimates")
	wantCaution(t, one(t, s, quality, "method: kaplan-meier\nby: cause"), "many-comparisons", "3 groups", "3 differences")
}

func TestNonProportionalHazards(t *testing.T) {
	// One group is remade early, the other late and all at once.
	var lives []life
	for k := range 60 {
		l := life{k + 1, 0, 20 + 3*k, "remake: growth", "early"}
		if k%2 == 1 {
			l = life{k + 1, 0, 150 + k/4, "remake: growth", "late"}
		}
		lives = append(lives, l)
	}
	wantCaution(t, one(t, lifeLog(lives), quality, "method: cox\nby: cast_method"), "non-proportional", "casting method", "average over the time watched")
}

func TestBarsOfReasonsLeaveOutWhatIsInUse(t *testing.T) {
	s := lifeLog([]life{{1, 0, 50, "remake: growth", ""}, {2, 0, 60, "remake: growth", ""}, {3, 0, 70, "unknown", ""}, {4, 0, 80, "", ""}, {5, 0, 90, "", ""}})
	a := one(t, s, quality, "method: pareto\nrows: sockets\nby: end_reason")
	if a.Rows != 3 || !strings.Contains(a.Methods, "still in use are not counted") {
		t.Errorf("%d rows: %s", a.Rows, a.Methods)
	}
	want(t, row(t, table(t, a, "bars"), "category", "remake: growth"), "count", 2, "percent", 200.0/3)
	wantCaution(t, a, "unknown", "For 1 of 3 sockets", "more than one in ten")
}

func TestChartsOfWhatTimeBringsWarnOfIt(t *testing.T) {
	s := lab(labOptions{persons: 60})
	wantCaution(t, one(t, s, quality, "method: control-chart\nrows: sockets\nnumerator: {end_reason: known}\nperiod: quarter"), "uneven-follow-up", "Reason for the end", "early_remake")
	for _, ask := range []string{"numerator: {early_remake: yes}", "numerator: {first_fit: yes}", "numerator: {end_reason: known}\nchart: xmr\ndated: ended"} {
		if a := one(t, s, quality, "method: control-chart\nrows: sockets\nperiod: quarter\n"+ask); caution(a, "uneven-follow-up") != "" {
			t.Errorf("%s: %v", ask, a.Cautions)
		}
	}
}
