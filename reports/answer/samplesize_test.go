package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// worn is a log of sockets: each life is the number of the person, the days
// from delivery, and + for a remake or - for still worn then.
func worn(lives ...string) sheets {
	var limbs, socks, visits strings.Builder
	limbs.WriteString("person,side,level,born\n")
	socks.WriteString("socket,limb,kind,delivered,remake_decided,ended,end_reason\n")
	visits.WriteString("socket,date,purpose\n")
	seen := map[int]bool{}
	for i, l := range lives {
		var person, days int
		var how string
		fmt.Sscanf(l, "%d %d%s", &person, &days, &how)
		if !seen[person] {
			fmt.Fprintf(&limbs, "P%d,left,transtibial,%d\n", person, 1950+person%40)
			seen[person] = true
		}
		end := ",,"
		if how == "+" {
			end = after2024(days) + "," + after2024(days) + ",remake: volume loss"
		}
		fmt.Fprintf(&socks, "S%d,P%d-L,definitive,2024-01-01,%s\n", i+1, person, end)
		fmt.Fprintf(&visits, "S%d,%s,follow-up\n", i+1, after2024(days))
	}
	return sheets{"limbs": limbs.String(), "sockets": socks.String(), "visits": visits.String()}
}

// twenty lives of as many persons, 12 of them remade.
func twenty() []string {
	var out []string
	for i := range 20 {
		how := "+"
		if i >= 12 {
			how = "-"
		}
		out = append(out, fmt.Sprintf("%d %d%s", i+1, 100+10*i, how))
	}
	return out
}

const planOne = "method: sample-size\nratios: [0.5]\npower: 0.8\n"

func TestSampleSizeByHand(t *testing.T) {
	// 6 of 20 are remade by day 150, nobody is censored before: with the ratio
	// 1 - sqrt(0.7), 23.17 percent together; 4 (1.96+0.84)^2/log(2)^2 = 65.3
	// events, and 66/0.2317 = 284.9 sockets.
	a := one(t, worn(twenty()...), quality, planOne+"until: 150d\nsockets: 100")
	rows := table(t, a, "rows")
	want(t, row(t, rows, "solved", "sockets"), "event_share_group", 0.3, "power", 0.8, "design_effect", 1.0)
	want(t, row(t, rows, "solved", "power"), "sockets", 100)
	for _, phrase := range []string{"To see a hazard ratio of 0.5 with a chance of 80% takes 285 sockets, each followed for 150 days, 66 events among them", "With 100 sockets the chance is",
		"30% of such sockets are remade by 150 days", "says nothing on whether there is a difference"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	for _, code := range []string{"few-events", "not-clustered", "few-planned"} {
		if c := caution(a, code); c != "" {
			t.Errorf("caution %s: %s", code, c)
		}
	}
}

func TestSampleSizeCautions(t *testing.T) {
	few := twenty()[8:] // 4 remakes
	wantCaution(t, one(t, worn(few...), quality, planOne+"until: 200d"), "few-events", "Only 4 events in the log")
	both := append(twenty(), "1 90+", "2 95+")
	wantCaution(t, one(t, worn(both...), quality, planOne+"until: 150d"), "not-clustered", "within_person")
	a := one(t, worn(both...), quality, planOne+"until: 150d\nwithin_person: 0.1")
	if caution(a, "not-clustered") != "" {
		t.Error("allowed for, and still cautioned")
	}
	// Two of the 20 persons have two sockets: m = (18+8)/22.
	want(t, row(t, table(t, a, "rows"), "ratio", 0.5), "design_effect", 1+(26.0/22-1)*0.1)
	wantCaution(t, one(t, worn(twenty()...), quality, "method: sample-size\nratios: [0.2]\npower: 0.8\nuntil: 150d"), "few-planned", "fewer than 20 events")
	old := one(t, worn(twenty()...), quality+"\nto: 2024-12-31", planOne+"until: 150d")
	wantCaution(t, old, "long", "more than 10 years")
	if a := one(t, worn(twenty()...), quality, "method: sample-size\nratios: [0.2]\npower: 0.8\nuntil: 150d"); caution(a, "long") != "" {
		t.Error("a short plan is called long")
	}
}

func TestSampleSizeDegenerate(t *testing.T) {
	log := worn(twenty()...)
	none := worn("1 100-", "2 200-", "3 300-")
	same := log.with("limbs", strings.NewReplacer("1951", "1950", "1952", "1950").Replace("person,side,level,born\nP1,left,transtibial,1950\nP2,left,transtibial,1950\nP3,left,transtibial,1950\n")).
		with("sockets", "socket,limb,kind,delivered,remake_decided,ended,end_reason\nS1,P1-L,definitive,2024-01-01,2024-03-01,2024-03-01,remake: volume loss\nS2,P2-L,definitive,2024-01-01,,,\nS3,P3-L,definitive,2024-01-01,,,\n").
		with("visits", "socket,date,purpose\nS2,2024-06-01,follow-up\nS3,2024-06-01,follow-up\n")
	for name, c := range map[string]struct {
		log    sheets
		ask    string
		code   string
		phrase string
	}{
		"beyond the log":        {log, planOne + "until: 2y", "impossible", "does not follow enough of these sockets for 2 years"},
		"entry beyond the log":  {log, planOne + "until: 100d\naccrual: 1y", "impossible", "100 days and 1 year"},
		"no event":              {none, planOne + "until: 100d", "impossible", "none of these sockets was remade within 100 days"},
		"before the first":      {log, planOne + "until: 50d", "impossible", "none of these sockets was remade"},
		"no rows":               {log, planOne + "until: 100d\nkeep: {kind: check}", "no-rows", ""},
		"a column of words":     {log, planOne + "until: 100d\nplan: cox\nby: level", "impossible", "give the `share` of the second"},
		"a column and a share":  {log, planOne + "until: 100d\nplan: cox\nby: age\nshare: 0.3", "impossible", "taken from the log"},
		"a column that rests":   {same, planOne + "until: 100d\nplan: cox\nby: age", "impossible", "never varies"},
		"known later":           {log, planOne + "until: 100d\nplan: cox\nby: follow_up_days", "known-later", ""},
		"competing elsewhere":   {log, planOne + "until: 100d\ncompeting: died", "impossible", "for `plan: cumulative-incidence`"},
		"a condition":           {log, planOne + "until: 100d\nevent: {ply: 10..}", "impossible", "not a condition"},
		"by without a model":    {log, planOne + "until: 100d\nby: age", "impossible", "`plan: cox`"},
		"ratio of 1":            {log, "method: sample-size\nratios: [1]\nuntil: 100d", "bad-value", "other than 1"},
		"a ratio too near to 1": {log, "method: sample-size\nratios: [1.0000001]\nuntil: 150d", "bad-value", "so near 1"},
		"power below a half":    {log, "method: sample-size\nratios: [0.5]\npower: 0.3\nuntil: 150d", "bad-value", "miss more often than not"},
	} {
		t.Run(name, func(t *testing.T) {
			wantError(t, one(t, c.log, quality, c.ask), c.code, c.phrase)
		})
	}
}

// The variance of a column of numbers is taken from the log.
func TestSampleSizeOfANumber(t *testing.T) {
	a := one(t, worn(twenty()...), quality, "method: sample-size\nplan: cox\nby: age\nratios: 1.05\npower: 0.8\nuntil: 150d\nexplained: 0.2")
	r := row(t, table(t, a, "rows"), "solved", "sockets")
	want(t, r, "event_share_group", nil, "event_share_other", nil, "event_share", 0.3)
	if !strings.Contains(a.Reading, "a hazard ratio of 1.05 for each year of age") {
		t.Error(a.Reading)
	}
	// Ages 1 year apart, 20 of them: variance 35.
	const z = 1.959963985 + 0.841621234
	if got, ok := r["events"].(float64); !ok || got < 0.99*z*z/(35*0.8*0.04879*0.04879) || got > 1.01*z*z/(35*0.8*0.04879*0.04879) {
		t.Errorf("%v events", r["events"])
	}
}

func TestSampleSizeOfAShare(t *testing.T) {
	a := one(t, worn(twenty()...), quality, planOne+"plan: cumulative-incidence\nuntil: 150d")
	want(t, row(t, table(t, a, "rows"), "solved", "sockets"), "event_share_group", 0.3)
	if !strings.Contains(a.Reading, "a subdistribution ratio of 0.5") || strings.Contains(a.Reading, "risk") {
		t.Error(a.Reading)
	}
}
