package notebook

import (
	"fmt"
	"os"
	"reflect"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plybook/analysis/table"
	"plybook/reports/document"
)

const head = "---\ntitle: T\n---\n"

// one parses a notebook of one ask.
func one(t *testing.T, body string) *Ask {
	t.Helper()
	nb, err := Parse("lab.md", []byte(head+"```ask\n"+body+"```\n"))
	if err != nil {
		t.Fatal(err)
	}
	return nb.Asks()[0]
}

func TestDuplicateID(t *testing.T) {
	nb, err := Parse("lab.md", []byte(head+"```ask\nid: a\nmethod: flow\n```\n```ask\nid:   A\nmethod: flow\n```\n```ask\nid: b\nmethod: flow\n```\n"))
	if err != nil {
		t.Fatal(err)
	}
	asks := nb.Asks()
	if asks[0].Err != nil || asks[2].Err != nil {
		t.Errorf("%v, %v", asks[0].Err, asks[2].Err)
	}
	if got, want := fmt.Sprint(asks[1].Err), `lab.md:9:7: the id "A" is taken by the ask on line 4`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func TestAllFaultsOfAnAskAreKept(t *testing.T) {
	a := one(t, "id: a b\nmethod: cox\nadjust: [age]\nties: efrn\nbyy: x\ntimes: [9]\n")
	got := []string{a.Err.Code}
	for _, e := range a.More {
		got = append(got, e.Code)
	}
	want := []string{CodeBadID, CodeBadValue, CodeUnknownKey, CodeBadDuration}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestFront(t *testing.T) {
	nb, err := Parse("dir/third quarter.md", []byte("---\nsubtitle: 007\nauthor: no\naudience: annual\nlog: [log/*.xlsx, 'b.csv']\nfrom: 1970-01-02\n"+
		"to: 2026-09-30\nlog_since: \"1970-01-31\"\nyear_begins: july\nearly_remake: 2w\npaper: letter\nlanguage: en-GB\n...\n"))
	if err != nil {
		t.Fatal(err)
	}
	f := nb.Front
	day := func(p *float64) float64 {
		if p == nil {
			return -1
		}
		return *p
	}
	if f.Title != "third quarter" || f.Subtitle != "007" || f.Author != "no" || f.Audience != Annual || f.HideBelow != 11 || f.EarlyRemakeDays != 14 ||
		f.Paper != "letter" || f.YearBegins != 7 || f.Language != "en-GB" || day(f.From) != 1 || day(f.To) != 20726 || day(f.LogSince) != 30 ||
		!reflect.DeepEqual(f.Log, []string{"log/*.xlsx", "b.csv"}) {
		t.Errorf("%+v", f)
	}
	if f.Pos["to"] != (Pos{"dir/third quarter.md", 7, 1}) || f.Pos[""].Line != 1 {
		t.Errorf("%v", f.Pos)
	}

	nb, err = Parse("a.md", []byte("---\n---"))
	if err != nil {
		t.Fatal(err)
	}
	f = nb.Front
	if f.Title != "a" || f.Audience != Quality || f.HideBelow != 0 || f.EarlyRemakeDays != 90 || f.Paper != "a4" || f.Language != "en" ||
		f.From != nil || f.To != nil || f.LogSince != nil || f.Log != nil {
		t.Errorf("defaults %+v", f)
	}
	for audience, want := range map[string]int{"quality": 0, "research": 11, "annual": 11, "annual\nhide_below: 0": 0, "quality\nhide_below: 5": 5} {
		nb, err := Parse("a.md", []byte("---\naudience: "+audience+"\n---\n"))
		if err != nil || nb.Front.HideBelow != want {
			t.Errorf("%q: %+v %v, want %d", audience, nb, err, want)
		}
	}
}

func TestDefaults(t *testing.T) {
	a := one(t, "id: a\nmethod: kaplan-meier\n")
	if a.Err != nil {
		t.Fatal(a.Err)
	}
	if a.Rows != "sockets" || a.Confidence != 0.95 || a.Bounds != "complementary-log-log" || a.Ties != "" || a.Within != "" || a.Period != "" ||
		!a.Event.Default || len(a.Event.Causes) != 1 || a.Event.Causes[0].Name != "remake" || !a.Event.Causes[0].Set {
		t.Errorf("%+v", a)
	}
	a = one(t, "id: a\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\n")
	if a.Err != nil || a.Within != "limb" || a.Estimate != "reml" || a.Scale != "days" || a.Event != nil || a.Bounds != "" {
		t.Errorf("%+v", a)
	}
	a = one(t, "id: a\nmethod: control-chart\nrows: sockets\nnumerator: {first_fit: no}\n")
	if a.Err != nil || a.Chart != "" || a.Period != "month" || a.Denominator == nil || !a.Denominator.All || a.Confidence != 0 {
		t.Errorf("%+v", a)
	}
	a = one(t, "id: a\nmethod: control-chart\nrows: visits\noutcome: comfort\n")
	if a.Err != nil || a.Chart != "" || a.Denominator != nil {
		t.Errorf("%+v", a)
	}
	a = one(t, "id: a\nmethod: pareto\nrows: findings\nby: region\n")
	if a.Err != nil || a.Event != nil {
		t.Errorf("%+v", a)
	}
}

// Every key of every method reaches its field.
func TestEveryKeyIsRead(t *testing.T) {
	src := map[string]string{
		"id": "a", "question": "Why?", "rows": "visits", "keep": "{level: transtibial}", "note": "x",
		"by": "level", "adjust": "[age, side, liner_mm]", "columns": "[age]", "factors": "[age]", "reference": "{level: transtibial}", "strata": "sex", "interact": "[[age, side]]", "weights": "n", "offset": "shift",
		"cluster": "none", "start": "cast_on", "end": "ended", "entry": "ordered", "landmark": "90d", "event": "early remake",
		"competing": "died", "seen_as_exact": "no", "times": "[90d, 1y]", "until": "2y", "quantiles": "[0.25, 0.5]",
		"confidence": "0.9", "bounds": "logit", "seed": "7", "ties": "breslow", "penalty": "none", "outcome": "ply", "time": "days_since_delivery", "within": "person",
		"slopes": "[days_since_delivery]", "estimate": "ml", "scale": "log-weeks", "period": "quarter", "dated": "delivered",
		"chart": "p", "numerator": "{first_fit: no}", "denominator": "{first_fit: known}", "baseline_points": "12", "overdispersed": "no", "change": "2024-01-01", "transition": "60d", "seasonal": "no", "errors": "newey-west", "separator": "';'", "pool_below": "5%", "expected": "8%", "odds_ratio": "1.5", "false_alarm": "3y", "late_entry": "30d", "goal": "80%", "better": "higher",
		"profiles": "[{level: transtibial, age: 50}]", "spline": "{liner_mm: 4}", "adjusted": "yes", "diagnostics": "yes",
		"contrasts": "[{level: [transtibial, transfemoral], age: 50}, {side: every pair}]", "adjust_p": "holm",
		"plan": "cox", "ratios": "[0.5, 0.7]", "power": "0.9", "sockets": "300", "share": "0.4", "explained": "0.1", "within_person": "0.05",
		"lost": "0.1", "accrual": "1y",
		"unequal": "[level]", "intervals": "profile", "exposure": "hours", "tests": "[log-rank, tarone-ware]", "trend": "[low, middle, high]", "hazard": "6m",
		"ahead": "180d", "every": "2w", "resamples": "150", "listed": "10", "varying": "[ply, comfort]",
		"ways": "seen_by", "same": "[socket, date]", "percent": "yes", "weighting": "linear", "order": "[a, b]",
		"compare": "[weibull, exponential, log-normal]",
		"vary":    "[plateau, rate]", "initial": "volume", "left": "2%", "settled": "{change: 3%, over: 60d, source: our own protocol}", "limb": "P1-L", "cycle": "year", "waves": "2",
		"steps": "[referred, delivered]", "course": "trend",
		"random_effects": "uncorrelated", "test_random": "yes", "correlation": "ar1", "freedom": "kenward-roger",
		"sides": "curved", "axes": "{ratio: 1.2, source: our own callipers}", "cap": "half-sphere",
		"region": "tissue", "ranges": "[{material: PETG, sheet_mm: 12, oven_c: 160..175, flipped: 45%..55%, source: the maker's sheet}]", "good": "[good, fair]",
		"nested_in": "hospital", "nested_slopes": "[days_since_delivery]", "crossed": "[seen_by]", "scatter_by": "seen_by", "taken_by": "{seen_by: A1}",
	}
	// Those that do not go with other keys are read in an ask of their own.
	counted := []string{"rows: limbs\nby: level\nevent: {finding: ulcer}\n"}
	alike := "rows: visits\noutcome: ply\nby: level\ncorrelation: ar1\n"
	apart := map[string][]string{"mixed": {"rows: visits\noutcome: ply\nby: level\nfreedom: kenward-roger\n"}, "poisson": append(counted, alike), "logistic": {alike}, "negative-binomial": counted, "mixed-poisson": counted, "cox": {"repeats: gap-time\nvarying: [ply, comfort]\nfrailty: log-normal\nshared_by: site\n", "varying: [ply]\npenalty: ridge\npenalty_size: 2.5\n", "by: level\nmissing: impute\nimputations: 30\nseed: 7\n", "by: level\nsplit: {level: [90d, 1y]}\n"},
		"linear":         {"rows: visits\noutcome: ply\nby: level\nmissing: impute\nimputations: 30\nseed: 7\n", "rows: visits\noutcome: ply\nby: level\nerrors: newey-west\ndated: delivered\n"},
		"cumulative-sum": {"rows: visits\nnumerator: {a: b}\nexpected: 8%\n", "rows: visits\nnumerator: {a: b}\nstrata: sex\n"},
		"funnel":         {"rows: visits\nby: level\nnumerator: {a: b}\nexposure: socket-months\nstrata: sex\n"},
		"segmented":      {"rows: visits\noutcome: ply\nexposure: minutes\n"},
		"turnaround":     {"rows: sockets\nperiod: quarter\n"},
		"control-chart":  {"rows: visits\nchart: u\noutcome: ply\nexposure: minutes\n", "rows: visits\nchart: g\nnumerator: {accepted: no}\nbetween: days\n"}}
	field := map[string]string{"late_entry": "LateEntry", "odds_ratio": "OddsRatio", "pool_below": "PoolBelow", "random_effects": "RandomEffects", "test_random": "TestRandom", "nested_in": "NestedIn", "nested_slopes": "NestedSlopes", "scatter_by": "ScatterBy", "taken_by": "TakenBy", "false_alarm": "FalseAlarm", "id": "ID", "within_person": "WithinPerson", "seen_as_exact": "SeenAsExact", "baseline_points": "BaselinePoints", "adjust_p": "AdjustP", "penalty_size": "PenaltySize", "shared_by": "SharedBy"}
	for _, m := range Methods() {
		t.Run(m, func(t *testing.T) {
			var b strings.Builder
			fmt.Fprintf(&b, "method: %s\n", m)
			for _, k := range AcceptedKeys(m) {
				v, ok := src[k]
				if k == "method" || k != "rows" && k != "by" && (k != "outcome" || m != "mixed" && m != "linear" && m != "logistic" && m != "poisson") && k != "chart" && k != "numerator" && slices.ContainsFunc(apart[m], func(ask string) bool { return strings.Contains("\n"+ask, "\n"+k+": ") }) {
					continue
				}
				if !ok {
					t.Fatalf("no value for %s", k)
				}
				if k == "seen_as_exact" {
					v = "true"
				}
				if k == "reference" && !takes(m, "by") {
					v = "{side: left}"
				}
				if k == "event" && (takes(m, "seen_as_exact") || m == "turnbull") {
					v = "{ply: 10..}"
				}
				fmt.Fprintf(&b, "%s: %s\n", k, v)
			}
			a := one(t, b.String())
			if a.Err != nil {
				t.Fatal(a.Err)
			}
			rest := map[string]*Ask{}
			for _, text := range apart[m] {
				ask := one(t, "id: a\nmethod: "+m+"\n"+text)
				if ask.Err != nil {
					t.Fatal(ask.Err)
				}
				for k := range ask.KeyPos {
					rest[k] = ask
				}
			}
			for _, k := range AcceptedKeys(m) {
				a := a
				if _, ok := a.KeyPos[k]; !ok && rest[k] != nil {
					a = rest[k]
				}
				name := field[k]
				if name == "" {
					name = strings.ToUpper(k[:1]) + k[1:]
				}
				f := reflect.ValueOf(a).Elem().FieldByName(name)
				if !f.IsValid() || f.IsZero() {
					t.Errorf("%s did not reach the field %s", k, name)
				}
				if _, ok := a.KeyPos[k]; !ok {
					t.Errorf("%s has no place", k)
				}
			}
		})
	}
	known := (&askReader{ask: &Ask{}}).readers()
	var keys []string
	for k := range known {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	if d := cmp.Diff(allKeys(), keys); d != "" {
		t.Errorf("keys taken by a method and keys that can be read differ: %s", d)
	}
}

func TestAskValues(t *testing.T) {
	a := one(t, "id: 007\nmethod: cumulative-incidence\nevent: [remake, volume  loss, Limb_change]\ncompeting: [died, 'moved away']\ntimes: [90d, 2w, 6 m, 1.5y]\nconfidence: '0.9'\nnote: >\n  one\n  two\n")
	if a.Err != nil {
		t.Fatal(a.Err)
	}
	if a.ID != "007" || a.Note != "one two" || a.Confidence != 0.9 {
		t.Errorf("%+v", a)
	}
	var causes []string
	for _, c := range append(a.Event.Causes, a.Competing.Causes...) {
		causes = append(causes, fmt.Sprint(c.Name, " ", c.Set, " ", c.Pos.Line, ":", c.Pos.Column))
	}
	want := []string{"remake true 7:9", "volume loss false 7:17", "limb-change true 7:31", "died false 8:13", "moved away false 8:19"}
	if d := cmp.Diff(want, causes); d != "" {
		t.Error(d)
	}
	for i, w := range []struct {
		days float64
		text string
		said string
	}{{90, "90d", "90 days"}, {14, "2w", "2 weeks"}, {6 * 30.4375, "6m", "6 months"}, {1.5 * 365.25, "1.5y", "1.5 years"}} {
		if d := a.Times[i]; d.Days != w.days || d.Text != w.text || d.Words() != w.said {
			t.Errorf("%+v %q, want %+v", d, d.Words(), w)
		}
	}
	if (Duration{365.25, "1y"}).Words() != "1 year" {
		t.Error("1 year")
	}

	a = one(t, "id: p\nmethod: cox\nby: level\nadjust: age\nfactors: age\nreference: {level: 007}\nprofiles:\n  - {age: 50, level: no}\n  - level: yes\n")
	if a.Err != nil {
		t.Fatal(a.Err)
	}
	if a.Reference["level"] != "007" || len(a.Profiles) != 2 || !reflect.DeepEqual(a.Profiles[0].Columns, []string{"age", "level"}) ||
		a.Profiles[0].Values["level"] != "no" || a.Profiles[1].Values["level"] != "yes" || a.Profiles[1].Pos.Line != 13 {
		t.Errorf("%+v", a)
	}
	if a.At("adjust", "age") != (Pos{"lab.md", 8, 9}) || a.At("adjust", "none") != (Pos{"lab.md", 8, 1}) || a.At("ties", "x") != (Pos{"lab.md", 4, 1}) {
		t.Error("At")
	}
	if !strings.HasPrefix(a.Src, "id: p\nmethod: cox\n") {
		t.Errorf("source %q", a.Src)
	}
	a = one(t, "id: i\nmethod: cox\nadjust: [age, side, level]\ninteract: [age, side]\n")
	if a.Err != nil || !reflect.DeepEqual(a.Interact, [][2]string{{"age", "side"}}) {
		t.Errorf("%v %v", a.Interact, a.Err)
	}
	a = one(t, "id: g\nmethod: control-chart\nrows: sockets\nnumerator: {a: b}\ngoal: 80 %\n")
	if a.Err != nil || *a.Goal != 0.8 {
		t.Errorf("goal %v %v", a.Goal, a.Err)
	}
}

// The source text counts, not what YAML makes of it.
func TestKeep(t *testing.T) {
	type C = table.Clause
	for _, c := range []struct {
		src  string
		want table.Condition
	}{
		{"{kind: definitive}", table.Condition{Clauses: []C{{Column: "kind", Values: []string{"definitive"}}}}},
		{"{first_fit: no}", table.Condition{Clauses: []C{{Column: "first_fit", Values: []string{"no"}}}}},
		{"{first_fit: true}", table.Condition{Clauses: []C{{Column: "first_fit", Values: []string{"true"}}}}},
		{"{socket: 007}", table.Condition{Clauses: []C{{Column: "socket", Values: []string{"007"}}}}},
		{"{n: 0x1F}", table.Condition{Clauses: []C{{Column: "n", Values: []string{"0x1F"}}}}},
		{"{n: 1_000}", table.Condition{Clauses: []C{{Column: "n", Values: []string{"1_000"}}}}},
		{"{n: 1.50}", table.Condition{Clauses: []C{{Column: "n", Values: []string{"1.50"}}}}},
		{"{n: 12:30}", table.Condition{Clauses: []C{{Column: "n", Values: []string{"12:30"}}}}},
		{"{delivered: 2024-01-31}", table.Condition{Clauses: []C{{Column: "delivered", Values: []string{"2024-01-31"}}}}},
		{"{activity: [K1, K2]}", table.Condition{Clauses: []C{{Column: "activity", Values: []string{"K1", "K2"}}}}},
		{"{ply: 0..5}", table.Condition{Clauses: []C{{Column: "ply", Test: table.Between, Low: "0", High: "5"}}}},
		{"{ply: -1.5..+2}", table.Condition{Clauses: []C{{Column: "ply", Test: table.Between, Low: "-1.5", High: "+2"}}}},
		{"{ply: '0..5'}", table.Condition{Clauses: []C{{Column: "ply", Test: table.Between, Low: "0", High: "5"}}}},
		{"{ply: 10..}", table.Condition{Clauses: []C{{Column: "ply", Test: table.Between, Low: "10"}}}},
		{"{ply: ..5}", table.Condition{Clauses: []C{{Column: "ply", Test: table.Between, High: "5"}}}},
		{"{ply: 18 .. 65}", table.Condition{Clauses: []C{{Column: "ply", Test: table.Between, Low: "18", High: "65"}}}},
		{"{on: 2024-01-01..2024-12-31}", table.Condition{Clauses: []C{{Column: "on", Test: table.Between, Low: "2024-01-01", High: "2024-12-31"}}}},
		{"{on: 2024-01-01..}", table.Condition{Clauses: []C{{Column: "on", Test: table.Between, Low: "2024-01-01"}}}},
		{"{cause: missing}", table.Condition{Clauses: []C{{Column: "cause", Test: table.IsMissing}}}},
		{"{cause: known}", table.Condition{Clauses: []C{{Column: "cause", Test: table.IsKnown}}}},
		{"{cause: 'missing'}", table.Condition{Clauses: []C{{Column: "cause", Values: []string{"missing"}}}}},
		{"{note: 'a..b'}", table.Condition{Clauses: []C{{Column: "note", Values: []string{"a..b"}}}}},
		{"{note: \"> 5\"}", table.Condition{Clauses: []C{{Column: "note", Values: []string{"> 5"}}}}},
		{"{own.age: 5..}", table.Condition{Clauses: []C{{Column: "own.age", Test: table.Between, Low: "5"}}}},
		{"{Größe (cm): 5..}", table.Condition{Clauses: []C{{Column: "Größe (cm)", Test: table.Between, Low: "5"}}}},
		{"{kind: check, any: [{cause: vascular}, {age: 65.., any: [{side: left}]}]}", table.Condition{
			Clauses: []C{{Column: "kind", Values: []string{"check"}}},
			Any: []table.Condition{
				{Clauses: []C{{Column: "cause", Values: []string{"vascular"}}}},
				{Clauses: []C{{Column: "age", Test: table.Between, Low: "65"}}, Any: []table.Condition{{Clauses: []C{{Column: "side", Values: []string{"left"}}}}}},
			}}},
	} {
		a := one(t, "id: a\nmethod: flow\nkeep: "+c.src+"\n")
		if a.Err != nil {
			t.Errorf("%s: %v", c.src, a.Err)
			continue
		}
		if len(a.Keep.Clauses) > 0 && (a.Keep.Clauses[0].Line != 7 || a.Keep.Clauses[0].Col != 8) {
			t.Errorf("%s: place %d:%d", c.src, a.Keep.Clauses[0].Line, a.Keep.Clauses[0].Col)
		}
		if d := cmp.Diff(c.want, unplaced(a.Keep)); d != "" {
			t.Errorf("%s: %s", c.src, d)
		}
	}
	a := one(t, "id: a\nmethod: flow\nkeep:\n  any:\n    - kind: check\n      side: left\n")
	if c := a.Keep.Any[0].Clauses[1]; c.Line != 10 || c.Col != 7 {
		t.Errorf("place %d:%d", c.Line, c.Col)
	}
}

func unplaced(c table.Condition) table.Condition {
	var out table.Condition
	for _, x := range c.Clauses {
		x.Line, x.Col = 0, 0
		out.Clauses = append(out.Clauses, x)
	}
	for _, x := range c.Any {
		out.Any = append(out.Any, unplaced(x))
	}
	return out
}

// What nobody writes must not take the run down.
func TestLongBlocks(t *testing.T) {
	for _, deep := range []string{"[", "{a: ", "- ", "? "} {
		a := one(t, "id: a\nmethod: flow\nkeep:\n  "+strings.Repeat(deep, maxBlock/len(deep)-20)+"\n")
		if a.Err == nil {
			t.Errorf("%q many times is no fault", deep)
		}
	}
	a := one(t, "id: a\nmethod: flow\nnote: "+strings.Repeat("word ", maxBlock/5)+"\n")
	if a.Err == nil || a.ID != "a" || !strings.Contains(a.Err.Text, "longer than") {
		t.Errorf("%v", a.Err)
	}
}

func TestDecision(t *testing.T) {
	nb, err := Parse("lab.md", []byte(head+"```ask\nid: first-fit\nmethod: control-chart\nrows: sockets\nnumerator: {first_fit: no}\n```\n"+
		"```decision\non: 2026-03-02\nwhat: Measure the limb again: yes.\nwho: lead prosthetist\nreview: 2026-10-01\nfollows: first-fit\nnew_phase: true\n```\n"))
	if err != nil {
		t.Fatal(err)
	}
	d := nb.Decisions()[0]
	// A colon before a word is the one thing in plain text that YAML minds.
	if d.Err == nil || d.Err.Pos.String() != "lab.md:12:29" {
		t.Fatalf("%v", d.Err)
	}
	nb, err = Parse("lab.md", []byte(head+"```decision\non: 2026-03-02\nwhat: Measure the limb again.\nwho: lead prosthetist\nreview: 2026-10-01\n```\n"))
	if err != nil {
		t.Fatal(err)
	}
	d = nb.Decisions()[0]
	if d.Err != nil || d.On != 20514 || *d.Review != 20727 || d.Who != "lead prosthetist" || d.NewPhase || d.Pos.Line != 4 || d.KeyPos["who"].Line != 7 {
		t.Errorf("%+v", d)
	}
}

func TestReviewNotebook(t *testing.T) {
	src, err := os.ReadFile("testdata/review.md")
	if err != nil {
		t.Fatal(err)
	}
	nb, err := Parse("review.md", src)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range nb.Parts {
		switch p := p.(type) {
		case Prose:
			got = append(got, fmt.Sprintf("prose %d", len(p.Blocks)))
		case *Ask:
			got = append(got, fmt.Sprintf("ask %s %s %v", p.ID, p.Method, p.Err))
		case *Decision:
			got = append(got, fmt.Sprintf("decision %s %v", p.Follows, p.Err))
		}
	}
	want := []string{"prose 2", "ask longevity kaplan-meier <nil>", "ask first-fit control-chart <nil>", "decision first-fit <nil>", "prose 1",
		"ask volume mixed <nil>", "ask reasons pareto <nil>", "ask cohort summary <nil>", "ask why cox <nil>", "ask causes cumulative-incidence <nil>",
		"ask turnaround linear <nil>", "ask counted flow <nil>"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for _, w := range nb.Warnings {
		t.Errorf("warning %v", &w)
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct{ word, want string }{
		{"kaplan meier", "kaplan-meier"}, {"Kaplan-Meyer", "kaplan-meier"}, {"kaplan", "kaplan-meier"}, {"cocks", ""}, {"cos", "cox"},
		{"paretto", "pareto"}, {"control_chart", "control-chart"}, {"", ""}, {"x", ""}, {"sumary", "summary"}, {"wolf", ""},
	} {
		if got := Nearest(c.word, Methods()); got != c.want {
			t.Errorf("%q: %q, want %q", c.word, got, c.want)
		}
	}
	if got := Nearest("ab", []string{"ac", "aa"}); got != "aa" {
		t.Errorf("ties: %q", got)
	}
}

func TestAcceptedKeys(t *testing.T) {
	if AcceptedKeys("sorcery") != nil {
		t.Error("keys of a method that is none")
	}
	keys := AcceptedKeys("flow")
	keys[0] = "changed"
	if AcceptedKeys("flow")[0] != "id" {
		t.Error("the caller can change the list")
	}
}

func ExampleParse() {
	src := "---\ntitle: Fit review\nlog: log.xlsx\n---\nText.\n\n```ask\nid: longevity\nmethod: kaplan-meier\nkeep: {kind: definitive}\nbye: level\n```\n"
	nb, err := Parse("review.md", []byte(src))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range nb.Parts {
		switch p := p.(type) {
		case Prose:
			fmt.Println(p.Blocks[0].(document.Paragraph).Spans[0].Text)
		case *Ask:
			fmt.Println(p.ID, p.Method)
			fmt.Println(p.Err)
		}
	}
	// Output:
	// Text.
	// longevity kaplan-meier
	// review.md:11:1: there is no key "bye"; did you mean "by"?
}
