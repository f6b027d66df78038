package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// visited is a log of sockets seen at visits. Each socket is given as its
// cast method and its visits, day:ply, day:ply; a ply of - was not recorded.
func visited(sockets ...string) sheets {
	var limbs, socks, visits strings.Builder
	limbs.WriteString("person,side,level\n")
	socks.WriteString("socket,limb,kind,delivered,cast_method\n")
	visits.WriteString("socket,date,purpose,ply\n")
	for i, s := range sockets {
		f := strings.Fields(s)
		fmt.Fprintf(&limbs, "P%d,left,transtibial\n", i+1)
		fmt.Fprintf(&socks, "S%d,P%d-L,definitive,2024-01-01,%s\n", i+1, i+1, f[0])
		for _, v := range f[1:] {
			var day int
			var ply string
			fmt.Sscanf(strings.Replace(v, ":", " ", 1), "%d %s", &day, &ply)
			fmt.Fprintf(&visits, "S%d,%s,follow-up,%s\n", i+1, after2024(day), strings.Replace(ply, "-", "", 1))
		}
	}
	return sheets{"limbs": limbs.String(), "sockets": socks.String(), "visits": visits.String()}
}

// after2024 is a day so many days after 1 January 2024.
func after2024(day int) string {
	months := []int{31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}
	m := 0
	for m < 11 && day >= months[m] {
		day -= months[m]
		m++
	}
	return fmt.Sprintf("2024-%02d-%02d", m+1, day+1)
}

const loose = "method: turnbull\nevent: {ply: 10..}\n"

// Worked out by hand: two of four are found between days 30 and 60, where
// both stretches meet, one is found on day 180 after day 90, one never.
func TestTurnbullByHand(t *testing.T) {
	a := one(t, visited("hand 30:5 60:12", "hand 20:4 60:11", "hand 90:5 180:12", "hand 60:3 200:4"), quality,
		loose+"times: [40d, 90d]\nquantiles: [0.5, 0.75, 0.9]")
	in := table(t, a, "intervals")
	if len(in.Rows) != 3 {
		t.Fatalf("%v", in.Rows)
	}
	want(t, row(t, in, "left", 30), "group", "all", "right", 60, "mass", 0.5, "estimate", 0.5)
	want(t, row(t, in, "left", 90), "right", 180, "mass", 0.25, "estimate", 0.25)
	want(t, row(t, in, "left", 200), "right", nil, "mass", 0.25, "estimate", nil)
	at := table(t, a, "at_times")
	want(t, row(t, at, "time", 40), "at_risk", 4, "lowest", 0.5, "highest", 1.0)
	want(t, row(t, at, "time", 90), "at_risk", 2, "lowest", 0.5, "highest", 0.5)
	q := table(t, a, "quantiles")
	// Flat at one half from day 60 to 90.
	want(t, row(t, q, "quantile", 0.5), "left", 60, "right", 90, "estimate", 75)
	want(t, row(t, q, "quantile", 0.9), "left", nil, "right", nil, "estimate", nil, "low", nil, "high", nil)
	if a.Rows != 4 || a.Events != 3 {
		t.Errorf("%d rows, %d events", a.Rows, a.Events)
	}
	wantCaution(t, a, "few-events", "Only 3 sockets were found with ply of 10 or more")
	for _, code := range []string{"visit-gaps", "not-looked-at", "small-group", "zero-days", "skin", "competing", "tail", "no-events"} {
		if caution(a, code) != "" {
			t.Errorf("caution %s: %s", code, caution(a, code))
		}
	}
	for _, phrase := range []string{"Of 4 sockets looked at during visits, 3 were found with ply of 10 or more.", "between 60 and 90 days", "at 90 days, 50% had not", "the log cannot say"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	for _, phrase := range []string{"Turnbull", "500 bootstrap samples drawn by socket (seed 1)"} {
		if !strings.Contains(a.Methods, phrase) {
			t.Errorf("the methods sentence lacks %q: %s", phrase, a.Methods)
		}
	}
}

// groupsSeen has one group seen every 30 days, the other every so many.
func groupsSeen(gap int) sheets {
	var s []string
	for i := range 14 {
		s = append(s, fmt.Sprintf("hand 30:%d 60:%d 90:%d 120:12", 3+i%2, 4+8*(i%3/2), 5+i%2*6),
			fmt.Sprintf("digital %d:%d %d:%d %d:5", gap, 3+9*(i%7/6), 2*gap, 4+8*(i%2), 3*gap))
	}
	return visited(s...)
}

func TestTurnbullCautions(t *testing.T) {
	a := one(t, groupsSeen(60), quality, loose+"by: cast_method\ntimes: [100d, 300d]")
	wantCaution(t, a, "visit-gaps", "30 days in the group hand", "60 days in the group digital")
	wantCaution(t, a, "beyond-follow-up", "300 days")
	wantCaution(t, a, "tail")
	if caution(a, "few-events") != "" {
		t.Error(caution(a, "few-events"))
	}
	a = one(t, groupsSeen(31), quality, loose+"by: cast_method")
	if c := caution(a, "visit-gaps"); c != "" {
		t.Error(c)
	}

	a = one(t, visited("hand 0:12", "hand 30:4 60:4", "hand 30:- 60:-", "digital 30:5 40:10"), quality, loose+"by: cast_method")
	wantCaution(t, a, "small-group", "digital")
	wantCaution(t, a, "zero-days", "1 socket was found so on the very day")
	wantCaution(t, a, "not-looked-at", "1 socket was left out")

	none := one(t, visited("hand 30:4 60:4", "hand 30:5 90:5"), quality, loose)
	wantCaution(t, none, "no-events", "100%")
	want(t, row(t, table(t, none, "intervals"), "group", "all"), "left", 90, "right", nil, "mass", 1.0)

	s := visited("hand 30:4 60:4", "hand 30:5 90:5", "hand 20:3")
	s = s.with("visits", strings.Replace(s["visits"], "socket,date", "visit,skin_checked,socket,date", 1))
	lines := strings.Split(strings.TrimSpace(s["visits"]), "\n")
	for i := range lines[1:] {
		lines[i+1] = fmt.Sprintf("V%d,yes,%s", i+1, lines[i+1])
	}
	s = s.with("visits", strings.Join(lines, "\n")).with("findings", "visit,region,finding\nV4,fibular head,ulcer\nV1,fibular head,none\n")
	a = one(t, s, quality, "method: turnbull\nevent: {finding: ulcer}")
	wantCaution(t, a, "skin", "Refer")
	if !strings.Contains(a.Reading, "found with ulcer") || a.Events != 1 {
		t.Errorf("%d events: %s", a.Events, a.Reading)
	}

	s = visited("hand 30:4 60:4", "hand 30:5 90:5", "hand 30:3 80:12")
	s = s.with("sockets", strings.Replace(strings.Replace(s["sockets"], "cast_method", "cast_method,ended,end_reason", 1), "2024-01-01,hand\n", "2024-01-01,hand,2024-05-01,remake: breakage or wear\n", 1))
	wantCaution(t, one(t, s, quality, loose), "competing", "breakage or wear 1")
}

// Sockets that came under observation late count from the first look at
// which they were without it.
func TestTurnbullLateEntry(t *testing.T) {
	s := visited("hand 30:4 60:4 120:12", "hand 90:12 100:12", "hand 30:5 60:5 200:5", "hand 60:5 70:12")
	a := one(t, s, quality+"\nlog_since: 2024-02-20", loose)
	// The second had it at its first look, the first counts from day 60.
	if a.Rows != 3 || a.Events != 2 {
		t.Errorf("%d rows, %d events", a.Rows, a.Events)
	}
	want(t, row(t, table(t, a, "intervals"), "left", 60), "right", 70, "mass", 2.0/3)
	wantCaution(t, a, "not-looked-at")
	if !strings.Contains(a.Methods, "delayed entry") {
		t.Error(a.Methods)
	}
}

func TestTurnbullRefuses(t *testing.T) {
	s := visited("hand 30:4 60:12", "digital 30:5 90:5")
	wantError(t, one(t, s, quality, "method: turnbull\nevent: remake"), "impossible", "kaplan-meier")
	wantError(t, one(t, s, quality, "method: turnbull\nevent: {plyy: 10..}"), "unknown-column", "plyy")
	wantError(t, one(t, s, quality, loose+"start: kind"), "impossible", "holds no dates")
	wantError(t, one(t, s, quality, loose+"by: end_reason"), "known-later")
	wantError(t, one(t, s, quality, loose+"rows: visits"), "impossible", "about sockets")
	wantError(t, one(t, s, quality, loose+"keep: {level: transfemoral}"), "no-rows")
	wantError(t, one(t, visited("hand 30:- 60:-"), quality, loose), "no-rows")
	wantError(t, one(t, s, "audience: annual", loose), "too-few-to-show")
	wantError(t, one(t, s, "audience: annual", "method: turnbull\nevent: {seen_by: A}"), "staff-hidden")
}

// A public report shows no day of a single person.
func TestTurnbullPublic(t *testing.T) {
	var sockets []string
	for i := range 120 {
		sockets = append(sockets, fmt.Sprintf("hand %d:3 %d:%d %d:12", 20+i%37, 90+i, 3+i%3*4, 220+i))
	}
	a := one(t, visited(sockets...), "audience: annual", loose+"times: [60d, 180d, 300d]")
	for _, r := range table(t, a, "intervals").Rows {
		for _, v := range r[1:3] {
			if x, ok := v.(float64); ok && x != 0 && x != 60 && x != 180 && x != 300 && x*4/365.25 != float64(int(x*4/365.25)) {
				t.Errorf("a public report tells day %g: %v", x, r)
			}
		}
	}
	if n := len(table(t, a, "intervals").Rows); n < 2 {
		t.Errorf("%d stretches are left", n)
	}
	exact := 0
	for _, r := range table(t, one(t, visited(sockets...), quality, loose), "intervals").Rows {
		if x, ok := r[1].(float64); ok && x*4/365.25 != float64(int(x*4/365.25)) {
			exact++
		}
	}
	if exact == 0 {
		t.Error("the report for the lab tells no day")
	}
}
