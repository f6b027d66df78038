package study_test

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/ingest"
	"plybook/reports/notebook"
	"plybook/reports/study"
)

// namedLog is a log in which people are called by name.
func namedLog() *ingest.Log {
	day := func(n int) ingest.Opt[ingest.Date] { return ingest.Some(ingest.Date(19000 + n)) }
	code := func(s string) ingest.Coded { return ingest.Coded{Code: s, Text: s} }
	return &ingest.Log{
		Limbs: []ingest.Limb{
			{Person: "Ada Brook", Limb: "Ada Brook left leg", Side: code("left"), Level: code("transtibial")},
			{Person: "Ada Brook", Limb: "Ada Brook right leg", Side: code("right"), Level: code("transtibial")},
			{Person: "Ben Crane", Limb: "Ben Crane leg", Side: code("left"), Level: code("transfemoral")},
			{Person: "Ben Crane", Limb: "Ben Crane leg, old", Side: code("left"), Level: code("transfemoral")},
		},
		Sockets: []ingest.Socket{
			{Socket: "Brook 1", Limb: "Ada Brook left leg", Kind: code("definitive"), Delivered: day(0), CastBy: "Cleo Dunn", ShapedBy: "Cleo Dunn", Ended: day(100), EndReason: code("remake: growth")},
			{Socket: "Brook 2", Limb: "Ada Brook left leg", Kind: code("definitive"), Delivered: day(100), Replaces: "Brook 1"},
			{Socket: "Crane 1", Limb: "Ben Crane leg", Kind: code("definitive"), Delivered: day(10)},
		},
		Visits: []ingest.Visit{
			{Visit: "Brook 1 first", Socket: "Brook 1", Date: 19020, Comfort: ingest.Some(7.0), SeenBy: "Eve Finch"},
			{Visit: "Crane 1 first", Socket: "Crane 1", Date: 19030, Comfort: ingest.Some(5.0)},
		},
		Findings: []ingest.Finding{{Visit: "Brook 1 first", Region: code("fibular head"), Finding: code("blister")}},
		Stations: []ingest.Station{{Limb: "Ada Brook left leg", Date: 19000, Landmark: "patella", StationMM: 40, LimbMM: 300, Socket: "Brook 1", MeasuredBy: "Eve Finch"}},
		Forming:  []ingest.Forming{{Socket: "Brook 1", Date: 18990, FormedBy: "Gus Hale"}},
		Own: map[string][]ingest.OwnColumn{
			"limbs":   {{Name: "phone", Kind: ingest.OwnText, Text: []string{"1", "2", "3", "4"}, OK: []bool{true, true, true, true}, Identifying: true}},
			"sockets": {{Name: "foam", Kind: ingest.OwnText, Text: []string{"soft", "", "hard"}, OK: []bool{true, false, true}}, {Name: "weight", Kind: ingest.OwnNumber, Num: []float64{1, 2, 3}, OK: []bool{true, true, false}}},
		},
	}
}

func codesFor(log *ingest.Log) *ingest.Codes {
	c := &ingest.Codes{Person: map[string]string{}, Staff: map[string]string{}}
	for i, p := range study.Persons(log) {
		c.Person[p] = fmt.Sprintf("P-%d", i+7)
	}
	for i, s := range study.Staff(log) {
		c.Staff[s] = fmt.Sprintf("S-%d", i+3)
	}
	return c
}

func parse(t *testing.T, front string) *notebook.Notebook {
	t.Helper()
	nb, err := notebook.Parse("n.md", []byte("---\ntitle: t\n"+front+"\n---\n"))
	if err != nil {
		t.Fatal(err)
	}
	return nb
}

// everyText is every text of every table of a cohort.
func everyText(t *testing.T, c *cohort.Cohort) string {
	t.Helper()
	var b strings.Builder
	for _, name := range cohort.Names() {
		rows, err := c.Rows(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range rows.Names() {
			col, _ := rows.Col(n)
			if col.Kind == table.Text {
				fmt.Fprintln(&b, n, col.Text)
			}
		}
	}
	return b.String()
}

func TestWithCodesTheCohortHoldsCodesOnly(t *testing.T) {
	log := namedLog()
	before := fmt.Sprintf("%+v", log)
	sc, err := study.New(parse(t, "audience: quality"), log, codesFor(log))
	if err != nil {
		t.Fatal(err)
	}
	text := everyText(t, sc.Cohort)
	for _, name := range []string{"Ada", "Brook", "Ben", "Crane", "Cleo", "Dunn", "Eve", "Finch", "Gus", "Hale"} {
		if strings.Contains(text, name) {
			t.Errorf("the cohort tells %s", name)
		}
	}
	if strings.Contains(text, "phone") {
		t.Error("an identifying column of the lab's own is in the cohort")
	}
	if !sc.Names.Show || !sc.Names.Staff || sc.Names.Public {
		t.Errorf("names: %+v", sc.Names)
	}
	if fmt.Sprintf("%+v", log) != before {
		t.Error("the log itself was changed")
	}
	limbs, err := sc.Cohort.Rows("limbs")
	if err != nil {
		t.Fatal(err)
	}
	col, _ := limbs.Col("limb")
	if want := []string{"P-7-L", "P-7-R", "P-8-L", "P-8-L-2"}; !reflect.DeepEqual(col.Text, want) {
		t.Errorf("limbs are called %v, want %v", col.Text, want)
	}
	// What the codes stand for hangs together as before.
	for _, codes := range []*ingest.Codes{nil, codesFor(log)} {
		sc, err := study.New(parse(t, "audience: quality"), namedLog(), codes)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := sc.Cohort.Rows("sockets")
		if err != nil {
			t.Fatal(err)
		}
		lives, err := sc.Cohort.Lives(rows, cohort.LifeSpec{})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(lives.Time, lives.Cause, lives.Person); got != "[100 0 20] [1 0 0] [0 0 1]" {
			t.Errorf("codes %v: lives %s", codes != nil, got)
		}
		found, err := sc.Cohort.Rows("findings")
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := found.Col("bony"); !ok || c.Text[0] != "yes" {
			t.Errorf("codes %v: the finding has lost its visit or region", codes != nil)
		}
	}
}

func TestWhoMayBeNamed(t *testing.T) {
	plain := func() *ingest.Log {
		l := namedLog()
		for i := range l.Limbs {
			l.Limbs[i].Person = fmt.Sprintf("P%d", i/2+1)
			l.Limbs[i].Limb = fmt.Sprintf("P%d-%d", i/2+1, i)
		}
		l.Sockets[0].Limb, l.Sockets[1].Limb, l.Sockets[2].Limb, l.Stations[0].Limb = "P1-0", "P1-0", "P2-2", "P1-0"
		return l
	}
	staffCodes := func() *ingest.Log {
		l := plain()
		l.Sockets[0].CastBy, l.Sockets[0].ShapedBy, l.Visits[0].SeenBy, l.Stations[0].MeasuredBy, l.Forming[0].FormedBy = "T1", "T2", "T1", "T1", "T2"
		return l
	}
	for _, c := range []struct {
		name                string
		log                 *ingest.Log
		codes               bool
		front               string
		show, staff, public bool
	}{
		{"names, no codes", namedLog(), false, "audience: quality", false, false, false},
		{"names and codes", namedLog(), true, "audience: quality", true, true, false},
		{"codes in the log", plain(), false, "audience: quality", true, false, false},
		{"codes of staff in the log", staffCodes(), false, "audience: quality", true, true, false},
		{"small counts hidden", staffCodes(), true, "audience: quality\nhide_below: 5", false, true, true},
		{"research", staffCodes(), true, "audience: research", false, false, true},
		{"research with counts shown", staffCodes(), false, "audience: research\nhide_below: 0", false, false, false},
		{"research with counts shown and codes", staffCodes(), true, "audience: research\nhide_below: 0", true, false, false},
		{"annual", plain(), false, "audience: annual", false, false, true},
	} {
		var codes *ingest.Codes
		if c.codes {
			codes = codesFor(c.log)
		}
		sc, err := study.New(parse(t, c.front), c.log, codes)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		n := sc.Names
		if n.Show != c.show || n.Staff != c.staff || n.Public != c.public {
			t.Errorf("%s: %+v", c.name, n)
		}
		if n.Show == (n.Why != "") {
			t.Errorf("%s: a reason beside what may be shown, or none beside what may not: %+v", c.name, n)
		}
	}
}

func TestOwnColumnsKeepTheirKindAndGaps(t *testing.T) {
	in, err := study.Tables(namedLog())
	if err != nil {
		t.Fatal(err)
	}
	foam, ok := in.Sockets.Col("own.foam")
	if !ok || foam.Kind != table.Text || !reflect.DeepEqual(foam.Missing, []bool{false, true, false}) {
		t.Errorf("own.foam: %+v", foam)
	}
	weight, ok := in.Sockets.Col("own.weight")
	if !ok || weight.Kind != table.Number || weight.Num[1] != 2 || !weight.Missing[2] {
		t.Errorf("own.weight: %+v", weight)
	}
	if in.Limbs.Has("own.phone") {
		t.Error("a column that identifies people went through")
	}
	for _, name := range []string{"remake_decided", "ended", "end_reason"} {
		if c, _ := in.Sockets.Col(name); c.Known != table.Later {
			t.Errorf("%s is not known later", name)
		}
	}
}

func TestCodesCoverEverybody(t *testing.T) {
	log := namedLog()
	codes := codesFor(log)
	if !study.Covers(codes, log) {
		t.Error("made for this log, and yet somebody has none")
	}
	log.Visits[0].SeenBy = "Ivy Jarvis"
	if study.Covers(codes, log) {
		t.Error("a new member of staff has no code")
	}
	log = namedLog()
	log.Limbs[0].Person = "Kit Lowe"
	if study.Covers(codes, log) {
		t.Error("a new person has no code")
	}
	if got := study.Persons(namedLog()); !reflect.DeepEqual(got, []string{"Ada Brook", "Ben Crane"}) {
		t.Errorf("persons: %v", got)
	}
	if got := study.Staff(namedLog()); !reflect.DeepEqual(got, []string{"Cleo Dunn", "Eve Finch", "Gus Hale"}) {
		t.Errorf("staff: %v", got)
	}
}

func TestFactsAreHandedOver(t *testing.T) {
	sc, err := study.New(parse(t, "audience: quality\nto: 2022-06-01"), namedLog(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, set := range []string{"remake", "making", "limb-change", "untraced", "early-remake"} {
		if len(sc.Sets[set]) == 0 {
			t.Errorf("the set %s is empty", set)
		}
	}
	if len(sc.Sets["remake"]) != 13 || len(sc.Sets["making"]) != 3 {
		t.Errorf("%d reasons of a remake, %d errors in the making", len(sc.Sets["remake"]), len(sc.Sets["making"]))
	}
	if got := table.FormatDate(sc.Today); got != "2022-06-01" {
		t.Errorf("the data cut is %s", got)
	}
	sc, err = study.New(parse(t, "audience: quality"), namedLog(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if sc.Today != 19100 {
		t.Errorf("the data cut is day %g, want the latest of the log, 19100", sc.Today)
	}
	if _, err := study.New(parse(t, "audience: quality"), &ingest.Log{}, nil); err != nil {
		t.Errorf("an empty log: %v", err)
	}
}
