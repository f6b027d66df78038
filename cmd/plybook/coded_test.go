package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// clinicNames are invented; the list that bears them is typed in a hurry.
var clinicNames = []string{"Ossian Thrupp", "Hesper Gannet", "Bran Ockle", "Idony Wraxall", "Lowen Pasco", "Merryn Yelland", "Tamsin Quick", "Digory Venn", "Elowen Spargo", "Jago Trebell"}

// clinicList writes a workbook in a lab's own form: people by name, a
// telephone number and a referrer beside each, and cells that go wrong.
func clinicList(t testing.TB, path string, more ...string) (secrets []string) {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	row := 1
	put := func(cells ...any) {
		t.Helper()
		if err := f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", row), &cells); err != nil {
			t.Fatal(err)
		}
		row++
	}
	put("Clinic list")
	put("Patient name", "DOB", "Mobile", "Referred by", "Side", "Level", "Type", "Cast method", "Supplied", "Replaced on", "Why replaced", "Seen", "Socks", "SCS", "Clinician")
	day := func(k int) string { return fmt.Sprintf("2024-%02d-%02d", 1+k/28, 1+k%28) }
	for i, name := range append(append([]string(nil), clinicNames...), more...) {
		_, last, _ := strings.Cut(name, " ")
		birth, phone := fmt.Sprintf("19%02d-07-%02d", 40+i, 11+i), fmt.Sprintf("07700 90%04d", 7*i+12)
		secrets = append(secrets, name, last, strings.ToUpper(name), birth, phone)
		ended, why := any(nil), any(nil)
		if i%3 == 0 {
			ended, why = day(150+9*i), "volume loss"
		}
		for k := range 3 {
			written := name
			if k == 1 {
				written = strings.ToUpper(name) + " "
			}
			put(written, birth, phone, []string{"Dr Senara Pengelly", "Dr Petroc Nance"}[i%2], "L", "BK", "def", []string{"hand", "vacuum"}[i%2], day(10+i), ended, why, day(20+i+30*k), 1+k+i%2, 9-k-i%3, []string{"Kerensa Bolitho", "Cador Rosewarne"}[(i+k)%2])
		}
	}
	put("Osian Thrupp", "1940-07-11", "", "", "L", "BK", "def", "hand", day(12), nil, nil, day(40), "lots", 77, "Kerensa Bolitho")
	put("Idony Wraxall", "1943-07-14", "", "", "L", "AK", "def", "hand", "31.31.2024", nil, nil, day(40), 2, 7, "Kerensa Bolitho")
	put("", "", "", "", "L", "BK", "def", "hand", day(12), nil, nil, day(40), 2, 7, "Kerensa Bolitho")
	if err := f.SaveAs(path); err != nil {
		t.Fatal(err)
	}
	return append(secrets, "Osian", "Senara", "Pengelly", "Petroc", "Nance", "Kerensa", "Bolitho", "Cador", "Rosewarne")
}

const clinicAsks = "```ask\nid: lasting\nquestion: How long do they last?\nmethod: kaplan-meier\nby: cast_method\ntimes: [90d]\n```\n\n" +
	"```ask\nid: hazard\nquestion: What shortens a life?\nmethod: cox\nadjust: [cast_method, age]\n```\n\n" +
	"```ask\nid: ply\nquestion: How does ply rise?\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\n```\n\n" +
	"```ask\nid: from\nquestion: Who sends them?\nmethod: pareto\nrows: sockets\nby: own.Referred by\n```\n"

// codesBeside reads the file of codes: value -> code by kind, and the shifts.
func codesBeside(t testing.TB, dir string) (codes map[string]map[string]string, shifts map[string]string) {
	t.Helper()
	path := filepath.Join(dir, "codes.csv")
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%s: %v (%v)", path, info.Mode(), err)
	}
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	codes, shifts = map[string]map[string]string{}, map[string]string{}
	for _, row := range rows[1:] {
		if codes[row[0]] == nil {
			codes[row[0]] = map[string]string{}
		}
		codes[row[0]][row[1]] = row[2]
		if len(row) > 3 {
			shifts[row[2]] = strings.TrimPrefix(row[3], "'") // written so that it is no formula
		}
	}
	return codes, shifts
}

// notIn fails where a text of a report folder, or of the terminal, holds one
// of the secrets, whatever its case.
func notIn(t testing.TB, when, folder, terminal string, secrets []string) {
	t.Helper()
	texts := everythingIn(t, folder)
	texts["the terminal"] = terminal
	for name, text := range texts {
		low := strings.ToLower(text)
		for _, s := range secrets {
			if strings.Contains(low, strings.ToLower(s)) {
				t.Errorf("%s: %s holds %q", when, name, s)
			}
		}
	}
}

// TestNamesAreCodedAtTheDoor goes the whole way of a lab that knows people by
// name alone: intake proposes codes, inspect makes them, reports show nothing
// else, and next quarter's codes are the same.
func TestNamesAreCodedAtTheDoor(t *testing.T) {
	dir := t.TempDir()
	secrets := clinicList(t, filepath.Join(dir, "list.xlsx"))
	o := plybook(t, dir, "intake", "list.xlsx").want(t, statusDone)
	b, err := os.ReadFile(filepath.Join(dir, "intake.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	says(t, "the proposal", text, "person: {coded: Patient name}", "{coded: Mobile} random codes stand for it, kept in codes.csv", "{coded: Clinician} random codes stand for it")
	for _, s := range secrets {
		if strings.Contains(text+o.out+o.err, s) {
			t.Errorf("the proposal shows %q", s)
		}
	}
	// One column kept by code, which the proposal has as an own column or not
	// at all.
	text = strings.Replace(text, "      - Referred by", "      #", 1)
	text = strings.Replace(text, "    left_out:", "    own:\n      sockets: [{coded: Referred by}]\n    left_out:", 1)
	text = strings.Replace(text, "seen_by: Clinician", "seen_by: {coded: Clinician}", 1)
	writeFile(t, filepath.Join(dir, "intake.yaml"), text)
	book := func(audience, more string) string {
		name := audience + ".md"
		writeFile(t, filepath.Join(dir, name), "---\ntitle: Clinic\naudience: "+audience+"\nlog: [list.xlsx]\nintake: intake.yaml\n"+more+"---\n\n"+clinicAsks)
		return name
	}
	quality := book("quality", "")
	o = plybook(t, dir, "run", quality).want(t, statusNothing)
	says(t, "a run without codes", o.err, "no codes.csv", "plybook inspect --intake intake.yaml")

	o = plybook(t, dir, "inspect", "--intake", "intake.yaml", "list.xlsx").want(t, statusDone)
	says(t, "inspect", o.out, "A33: the value is nearly that of A3: one letter differs")
	for _, s := range secrets {
		if strings.Contains(strings.ToLower(o.out+o.err), strings.ToLower(s)) {
			t.Errorf("inspect shows %q:\n%s", s, o.out)
		}
	}
	for at, comment := range commentsOf(t, filepath.Join(dir, "list-marked.xlsx")) {
		for _, s := range secrets {
			if strings.Contains(comment, s) {
				t.Errorf("the remark at %s of the marked copy shows %q", at, s)
			}
		}
	}
	codes, _ := codesBeside(t, dir)
	if len(codes["person"]) != 11 || len(codes["staff"]) != 2 || len(codes["own Referred by"]) != 2 {
		t.Errorf("codes were made for %d persons, %d staff, %d referrers", len(codes["person"]), len(codes["staff"]), len(codes["own Referred by"]))
	}
	for _, s := range []string{"audience", "quality", "research", "annual"} {
		if s == "audience" {
			continue
		}
		hide := ""
		if s != "quality" {
			hide = "hide_below: 0\n"
		}
		o = plybook(t, dir, "run", book(s, hide))
		folder := filepath.Join(dir, s+"-report")
		notIn(t, s, folder, o.out+o.err, secrets)
		n := readNumbers(t, folder)
		from := n.answer(t, "from")
		if s == "quality" {
			o.want(t, statusDone)
			if len(from.Tables["bars"]) != 3 || // two, and one row without
				len(n.answer(t, "ply").Tables["limbs"]) < 10 {
				t.Errorf("the lab's own report counts %v and lists %d limbs", from.Tables["bars"], len(n.answer(t, "ply").Tables["limbs"]))
			}
			continue
		}
		o.want(t, statusAskFailed)
		if from.Error == nil || from.Error.Code != "identifying" || len(everythingIn(t, folder)) == 0 {
			t.Errorf("%s: referrers are counted: %+v", s, from)
		}
		for name, text := range everythingIn(t, folder) {
			for _, code := range codes["own Referred by"] {
				if strings.Contains(text, code) {
					t.Errorf("%s: %s holds the code of a referrer", s, name)
				}
			}
		}
	}
	// A log of the next years starts from the codes and goes on with them.
	plybook(t, dir, "blank", "--from", "list.xlsx", "--intake", "intake.yaml", "next.xlsx").want(t, statusDone)
	people := map[string]bool{}
	for _, row := range sheetOf(t, filepath.Join(dir, "next.xlsx"), "limbs") {
		if len(row) > 0 && strings.HasPrefix(row[0], "P-") {
			people[row[0]] = true
		}
	}
	for _, code := range codes["person"] {
		if !people[code] {
			t.Errorf("the next log lacks %s", code)
		}
	}
	writeFile(t, filepath.Join(dir, "next.md"), "---\ntitle: Next\nlog: [next.xlsx]\n---\n\n```ask\nid: who\nquestion: Who?\nmethod: summary\nrows: limbs\ncolumns: [level]\n```\n")
	plybook(t, dir, "run", "next.md").want(t, statusDone)

	one := reportFiles(t, filepath.Join(dir, "quality-report"))
	plybook(t, dir, "run", quality, "--out", "again").want(t, statusDone)
	two := reportFiles(t, filepath.Join(dir, "again"))
	for name := range one {
		if string(one[name]) != string(two[name]) {
			t.Errorf("%s differs from run to run", name)
		}
	}

	// Somebody new: a run makes no codes, inspect makes one and keeps the rest.
	clinicList(t, filepath.Join(dir, "list.xlsx"), "Wella Carbis")
	o = plybook(t, dir, "blank", "--from", "list.xlsx", "--intake", "intake.yaml", "later.xlsx").want(t, statusNothing)
	says(t, "blank", o.err, "plybook inspect --intake intake.yaml")
	o = plybook(t, dir, "run", quality).want(t, statusNothing)
	says(t, "the refusal", o.err, "lacks codes for people or staff who have come since", "--intake intake.yaml")
	if strings.Contains(o.err, "Carbis") {
		t.Errorf("the refusal shows a name: %s", o.err)
	}
	plybook(t, dir, "inspect", "--intake", "intake.yaml", "list.xlsx", "--no-marked-copy").want(t, statusDone)
	after, _ := codesBeside(t, dir)
	for kind, m := range codes {
		for value, code := range m {
			if after[kind][value] != code {
				t.Errorf("%s: the code %s became %s", kind, code, after[kind][value])
			}
		}
	}
	if len(after["person"]) != 12 {
		t.Errorf("%d persons have codes, want 12", len(after["person"]))
	}
	plybook(t, dir, "run", quality).want(t, statusDone)
}

// shiftAsks are questions whose answers rest on times between dates of one
// person.
const shiftAsks = "```ask\nid: km\nquestion: How long do they last?\nmethod: kaplan-meier\nby: cast_method\ntimes: [30d, 90d]\n```\n\n" +
	"```ask\nid: cox\nquestion: What shortens a life?\nmethod: cox\nadjust: [cast_method, age]\n```\n\n" +
	"```ask\nid: reasons\nquestion: What ends them?\nmethod: cumulative-incidence\ntimes: [90d]\n```\n\n" +
	"```ask\nid: ply\nquestion: How does ply rise?\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\n```\n\n" +
	"```ask\nid: who\nquestion: Who?\nmethod: summary\ncolumns: [age, follow_up_days]\n```\n"

// dayInText is a day of the calendar as reports write it, or as files do.
var dayInText = regexp.MustCompile(`\b20\d\d-\d\d-\d\d\b|\b\d{1,2} (?:January|February|March|April|May|June|July|August|September|October|November|December) 20\d\d\b|D:20\d{6}`)

// TestDatesAreShifted runs the same notebook with and without a shift of
// dates: the numbers are the same to the last digit, no day of the log is
// written, the shifts are kept with the codes, and a second run is the same.
func TestDatesAreShifted(t *testing.T) {
	dir := t.TempDir()
	clinicList(t, filepath.Join(dir, "list.xlsx"))
	plybook(t, dir, "intake", "list.xlsx").want(t, statusDone)
	book := func(name, front, asks string) string {
		writeFile(t, filepath.Join(dir, name+".md"), "---\ntitle: Clinic\nlog: [list.xlsx]\nintake: intake.yaml\n"+front+"---\n\n"+asks)
		return name + ".md"
	}
	moved := book("moved", "shift_dates: 180d\n", shiftAsks)
	o := plybook(t, dir, "run", moved).want(t, statusNothing)
	says(t, "a run without codes", o.err, "plybook inspect")
	plybook(t, dir, "inspect", "--intake", "intake.yaml", "list.xlsx", "--no-marked-copy").want(t, statusDone)
	plybook(t, dir, "run", book("plain", "", shiftAsks)).want(t, statusDone)
	if _, shifts := codesBeside(t, dir); len(shifts) > 0 {
		t.Errorf("a run without shift_dates drew shifts: %v", shifts)
	}
	plybook(t, dir, "run", moved).want(t, statusDone)
	codes, shifts := codesBeside(t, dir)
	drawn := map[string]bool{}
	for _, code := range codes["person"] {
		days, err := strconv.Atoi(shifts[code])
		if err != nil || days == 0 || days%7 != 0 || days < -180 || days > 180 {
			t.Errorf("the dates of %s are moved by %q", code, shifts[code])
		}
		drawn[shifts[code]] = true
	}
	if len(codes["person"]) != 11 || len(drawn) < 3 { // 11 draws from 50 values
		t.Errorf("%d persons, shifts %v", len(codes["person"]), drawn)
	}

	a, b := readNumbers(t, filepath.Join(dir, "plain-report")), readNumbers(t, filepath.Join(dir, "moved-report"))
	for _, id := range []string{"km", "cox", "reasons", "ply", "who"} {
		x, y := a.answer(t, id), b.answer(t, id)
		if x.Error != nil || len(x.Tables) == 0 || !reflect.DeepEqual(x.Tables, y.Tables) || !reflect.DeepEqual(x.Rows, y.Rows) || x.Reading != y.Reading {
			t.Errorf("%s differs with a shift of dates:\n%+v\n%+v", id, x, y)
		}
	}
	for name, text := range everythingIn(t, filepath.Join(dir, "moved-report")) {
		if strings.HasSuffix(name, ".png") {
			continue // packed pixels
		}
		if found := dayInText.FindString(text); found != "" {
			t.Errorf("%s holds the day %s", name, found)
		}
	}
	seen := false
	for _, text := range everythingIn(t, filepath.Join(dir, "plain-report")) {
		seen = seen || dayInText.MatchString(text)
	}
	if !seen {
		t.Error("a report without a shift holds no day either, so that nothing was looked for")
	}
	text := everythingIn(t, filepath.Join(dir, "moved-report"))["report.html"]
	says(t, "the report", text, "moved by up to 180 days", "Dates moved person by person")
	says(t, "run.json", everythingIn(t, filepath.Join(dir, "moved-report"))["run.json"], `"shift_dates_days": 180`, `"today": null`)

	one := reportFiles(t, filepath.Join(dir, "moved-report"))
	plybook(t, dir, "run", moved, "--out", "again").want(t, statusDone)
	for name, two := range reportFiles(t, filepath.Join(dir, "again")) {
		if string(one[name]) != string(two) {
			t.Errorf("%s differs from run to run", name)
		}
	}
	if _, after := codesBeside(t, dir); !reflect.DeepEqual(after, shifts) {
		t.Errorf("the shifts changed: %v, then %v", shifts, after)
	}
	// inspect keeps what a run has drawn.
	plybook(t, dir, "inspect", "--intake", "intake.yaml", "list.xlsx", "--no-marked-copy").want(t, statusDone)
	if _, after := codesBeside(t, dir); !reflect.DeepEqual(after, shifts) {
		t.Errorf("inspect changed the shifts: %v, then %v", shifts, after)
	}

	o = plybook(t, dir, "run", book("short", "shift_dates: 14d\n", shiftAsks))
	most := 0
	for _, s := range shifts {
		if days, err := strconv.Atoi(s); err == nil {
			most = max(most, days, -days)
		}
	}
	if most > 14 {
		says(t, "a shorter shift", o.want(t, statusNothing).err, "by more than the 14 days", "empty the column shift_days")
	}
	o = plybook(t, dir, "run", book("cut", "shift_dates: 180d\nto: 2024-06-30\n", shiftAsks)).want(t, statusNothing)
	says(t, "a day of the calendar", o.err, "cut.md:6:1", "`to` is a day of the calendar", "leave one of the two out")
	o = plybook(t, dir, "run", book("chart", "shift_dates: 180d\n", "```ask\nid: chart\nmethod: control-chart\nrows: visits\nnumerator: {comfort: ..7}\nperiod: month\n```\n")).want(t, statusAskFailed)
	says(t, "a chart", o.err, "with shift_dates no true day is known")
}

// sheetOf is the rows of a sheet of a workbook.
func sheetOf(t testing.TB, path, sheet string) [][]string {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}
