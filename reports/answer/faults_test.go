package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// at holds an error to its line in the notebook: the nth line of the ask.
func wantAt(t *testing.T, a answer.Answer, line, column int) {
	t.Helper()
	// Front matter of three lines and its end, prose, a blank line, the fence.
	if a.Error != nil && (a.Error.Line != line || a.Error.Column != column) {
		t.Errorf("%s: at %d:%d, want %d:%d (%s)", a.ID, a.Error.Line, a.Error.Column, line, column, a.Error.Text)
	}
}

// firstLine is the line of the first key of a notebook's first ask.
const firstLine = 9

func TestFaultsNameTheirPlaceAndTheNearestWord(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 30}))
	for k, c := range []struct {
		ask, code    string
		line, column int // of the ask
		phrases      []string
	}{
		{"method: kaplan-meier\nby: cast_methd", "unknown-column", 3, 5, []string{`no column "cast_methd"`, `did you mean "cast_method"?`}},
		{"method: kaplan-meier\nkeep: {levle: TT}", "unknown-column", 3, 8, []string{`"levle"`, `did you mean "level"?`}},
		{"method: kaplan-meier\nkeep: {age: old}", "bad-condition", 3, 8, []string{"age", `"old" is not a number`}},
		{"method: kaplan-meier\nkeep: {level: transtibal}", "no-rows", 1, 1, []string{`level of amputation "transtibal"`, `"transtibial"`}},
		{"method: kaplan-meier\nevent: remak", "bad-value", 3, 8, []string{`"remak"`, `"remake"`}},
		{"method: kaplan-meier\nevent: [remake, volum loss]", "bad-value", 3, 17, []string{`"volum loss"`, `volume loss`}},
		{"method: kaplan-meier\nby: died", "known-later", 3, 5, []string{"follows from the end"}},
		{"method: kaplan-meier\nby: volume_change_pct", "known-later", 3, 5, []string{"landmark: 90d"}},
		{"method: kaplan-meier\nby: comfort", "known-later", 3, 5, []string{"landmark"}},
		{"method: cox\nadjust: [age, ply]", "known-later", 3, 15, []string{"ply is known only after delivery", "landmark"}},
		{"method: cox\nadjust: [age]\nstrata: [ended]", "known-later", 4, 10, []string{"ended"}},
		{"method: cox\nby: cause\nreference: {cause: traumatic}", "bad-term", 4, 20, []string{`"traumatic"`, `"trauma"`}},
		{"method: cox\nby: level\nprofiles: [{level: transtibal}]", "bad-value", 4, 12, []string{`"transtibal"`, `did you mean "transtibial"?`}},
		{"method: cox\nby: delivered", "bad-term", 3, 5, []string{"is a date"}},
		{"method: kaplan-meier\nstart: level", "impossible", 3, 8, []string{"no dates"}},
		{"method: kaplan-meier\nevent: [early-remake, died]", "impossible", 3, 8, []string{"ask for it alone"}},
		{"method: cumulative-incidence\nevent: [remake, \"remake: volume loss\"]", "impossible", 3, 8, []string{"one cause"}},
		{"method: cumulative-incidence\nevent: [making]\ncompeting: [remake]", "impossible", 4, 12, []string{"both event", "competing"}},
		{"method: linear\nrows: visits\noutcome: comfrt\nadjust: [ply]", "unknown-column", 4, 10, []string{`"comfort"`}},
		{"method: linear\nrows: visits\noutcome: purpose\nadjust: [ply]", "impossible", 4, 10, []string{"purpose is text"}},
		{"method: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\ncluster: persn", "unknown-column", 6, 10, []string{`"person"`}},
		{"method: mixed\nrows: visits\noutcome: comfort\ntime: date", "impossible", 5, 7, []string{"date is a date"}},
		{"method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery\nwithin: limbb", "unknown-column", 6, 9, []string{`"limb"`}},
		{"method: pareto\nrows: sockets\nby: age", "impossible", 4, 5, []string{"a number"}},
		{"method: summary\ncolumns: [age, levl]", "unknown-column", 3, 16, []string{`"level"`}},
		{"method: summary\ncolumns: [age]\nby: delivered", "impossible", 4, 5, []string{"too many"}},
		{"method: control-chart\nrows: sockets\nnumerator: {first_fitt: yes}", "unknown-column", 4, 13, []string{`"first_fit"`}},
		{"method: control-chart\nrows: sockets\nnumerator: {first_fit: yes}\ndated: level", "impossible", 5, 8, []string{"not a date"}},
		{"method: control-chart\nrows: persons\nnumerator: {sex: male}", "missing-key", 0, 0, []string{"name a date column under dated"}},
		{"method: kaplan-meier\nlandmark: 9000d", "no-rows", 1, 1, []string{"within 9000 days of the start"}},
		{"method: cox\nadjust: [liner_mm]", "no-rows", 1, 1, []string{"liner thickness"}},
	} {
		a := answersOnce(t, log, nil, quality, fmt.Sprintf("id: c%d\n%s", k, c.ask))[fmt.Sprintf("c%d", k)]
		a.ID = strings.ReplaceAll(c.ask, "\n", "; ")
		wantError(t, a, c.code, c.phrases...)
		switch c.line {
		case 0:
		case 1: // the fence
			wantAt(t, a, firstLine-1, c.column)
		default:
			wantAt(t, a, firstLine+c.line-1, c.column)
		}
	}
}

// TestOwnColumnOfADerivedName: DESIGN of the log: the bare name of such a
// column is an error that says so, own.NAME is the lab's.
func TestOwnColumnOfADerivedName(t *testing.T) {
	s := lab(labOptions{persons: 30, own: func(i int) string { return evenWords[i%2] }})
	s = s.with("sockets", strings.Replace(s["sockets"], ",thing\n", ",first_fit\n", 1))
	log := readLog(t, s)
	got := answersOnce(t, log, nil, quality,
		"id: bare\nmethod: kaplan-meier\nby: first_fit",
		"id: own\nmethod: kaplan-meier\nby: own.first_fit",
		"id: cox\nmethod: cox\nby: first_fit",
		"id: keep\nmethod: kaplan-meier\nkeep: {first_fit: yes}",
		"id: linear\nmethod: linear\nrows: sockets\noutcome: turnaround_days\nby: first_fit",
		"id: bars\nmethod: pareto\nrows: sockets\nby: first_fit",
		"id: chart\nmethod: control-chart\nrows: sockets\nnumerator: {first_fit: yes}\nperiod: quarter")
	for _, id := range []string{"bare", "cox", "keep", "linear", "bars", "chart"} {
		a := got[id]
		wantError(t, a, "ambiguous-column", "own.first_fit")
	}
	if a := got["own"]; a.Error != nil || !strings.Contains(a.Methods, "own columns of sockets are taken as known at delivery") {
		t.Errorf("own.first_fit: %v %s", a.Error, a.Methods)
	}
}

func TestOneFaultStopsNoOtherAsk(t *testing.T) {
	got := answersOnce(t, readLog(t, lab(labOptions{persons: 30})), nil, quality,
		"id: bad\nmethod: kaplan-meier\nby: nothing", "id: good\nmethod: kaplan-meier", "id: worse\nmethod: [", "id: fine\nmethod: flow")
	if got["bad"].Error == nil || got["worse"].Error == nil || got["good"].Error != nil || got["fine"].Error != nil {
		t.Errorf("errors: %v %v %v %v", got["bad"].Error, got["worse"].Error, got["good"].Error, got["fine"].Error)
	}
}

func TestAValueNobodyHasRaisesACaution(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 30}))
	got := answersOnce(t, log, nil, quality,
		"id: a\nmethod: kaplan-meier\nkeep: {cast_method: [hand, vacum]}",
		"id: b\nmethod: control-chart\nrows: visits\nnumerator: {purpose: walkin}\nchart: xmr\nperiod: quarter")
	wantCaution(t, got["a"], "unseen-value", `casting method "vacum"`, `"vacuum"`)
	if a := got["b"]; a.Error == nil && caution(a, "unseen-value") == "" || a.Error != nil && !strings.Contains(a.Error.Text, "walk-in") {
		t.Errorf("walkin: %+v %v", a.Error, a.Cautions)
	}
}

func TestWhatNeverVariesIsNotExplained(t *testing.T) {
	constant := lab(labOptions{persons: 30, constant: true})
	for _, ask := range []string{"method: linear\nrows: visits\noutcome: comfort\nadjust: [days_since_delivery]", "method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery"} {
		wantError(t, one(t, constant, quality, ask), "no-variation", "comfort on arrival is 7 of 10 in every visit used")
	}
	wantError(t, one(t, lab(labOptions{persons: 30, onePer: true}), quality, "method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery"), "one-group", "all rows are of one limb", "use linear")
}

func TestFewRowsInPublicSayNoNumber(t *testing.T) {
	s := lab(labOptions{persons: 4})
	a := one(t, s, "audience: annual", "method: flow\nkeep: {level: transtibial}")
	if !strings.Contains(a.Reading, "Fewer than 11 sockets are in the log") {
		t.Errorf("reading: %s", a.Reading)
	}
	for _, ask := range []string{"method: kaplan-meier", "method: summary\ncolumns: [age]", "method: cumulative-incidence\nevent: died", "method: pareto\nrows: sockets\nby: level",
		"method: linear\nrows: sockets\noutcome: turnaround_days\nadjust: [age]"} {
		wantError(t, one(t, s, "audience: annual", ask), "too-few-to-show", "hides counts below 11")
	}
}

func TestAnUnknownReasonAsTheEventIsNotMissed(t *testing.T) {
	s := lifeLog([]life{{1, 0, 50, "unknown", ""}, {2, 0, 100, "died", ""}, {3, 0, 150, "unknown", ""}, {4, 0, 200, "", ""}})
	a := one(t, s, quality, "method: cumulative-incidence\nevent: unknown\ntimes: [160d]")
	if caution(a, "reason-unknown") != "" {
		t.Errorf("cautions: %v", a.Cautions)
	}
	want(t, row(t, table(t, a, "at_times"), "cause", "unknown"), "estimate", 0.5)
	if !strings.Contains(a.Reading, "50% had been ended for a reason not known") {
		t.Errorf("reading: %s", a.Reading)
	}
}
