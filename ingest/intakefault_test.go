package ingest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const soundIntake = `sheets:
  - sheet: wide
    header: 1
    limbs:
      person: Patient
      side: Side
      level: {is: transtibial}
    sockets:
      socket: {made: [limb, delivered]}
      kind: {is: definitive}
      delivered: Delivered
    visits:
      date: Seen
      ply: {column: Ply}
    findings:
      at:
        fibular head: FH
      marks:
        R: redness fading
        "-": no record
    own:
      visits: [Weather]
    left_out: [Remarks]
words:
  side:
    sinister: left
`

const soundSheet = `Patient,Side,Delivered,Seen,Ply,FH,Weather,Remarks
P1,sinister,2024-01-01,2024-02-01,1,R,wet,x
P1,L,2024-01-01,2024-03-01,2,-,dry,x
`

func readByIntake(t testing.TB, intake, sheet string) (*Log, error) {
	t.Helper()
	it, err := ParseIntake("intake.yaml", []byte(intake))
	if err != nil {
		return nil, err
	}
	return Read(context.Background(), []string{writeText(t, "wide.csv", sheet)}, Options{Intake: it, Codes: testCoder(t)})
}

func TestIntakeByHand(t *testing.T) {
	log, err := readByIntake(t, soundIntake, soundSheet)
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	want := `limb P1-L of P1: left transtibial
socket P1-L 2024-01-01 for P1-L: definitive delivered 2024-01-01
visit P1-L 2024-01-01 2024-02-01 about P1-L 2024-01-01 on 2024-02-01: ply 1
visit P1-L 2024-01-01 2024-03-01 about P1-L 2024-01-01 on 2024-03-01: ply 2
finding P1-L 2024-01-01 2024-02-01: fibular head redness fading
own column of visits: Weather
ledger : read 2 used 2 aside 0 values 0 (limbs, sockets, visits, findings)`
	if got := strings.Join(describeLog(log), "\n"); got != want {
		t.Errorf("read:\n%s", got)
	}
	if got := log.Own[TableVisits][0].Text; strings.Join(got, " ") != "wet dry" {
		t.Errorf("the own column holds %v", got)
	}
}

// TestIntakeFaults damages a sound intake, one line at a time.
func TestIntakeFaults(t *testing.T) {
	for _, c := range []struct{ old, with, at, nearest, text string }{
		{"    header: 1\n", "    haeder: 1\n", "3:5", "header", "no key"},
		{"    header: 1\n", "    header: first\n", "3:13", "", "takes a row"},
		{"      side: Side\n", "      sidee: Side\n", "6:7", "side", "no field"},
		{"      side: Side\n", "      side: Syde\n", "6:13", "Side", "no column"},
		{"      side: Side\n", "      side: Side\n      side: Side\n", "7:7", "", "already"},
		{"level: {is: transtibial}", "level: {is: transtibbbial}", "7:19", "transtibial", "cannot be"},
		{"level: {is: transtibial}", "level: {is: ?}", "7:19", "", "question"},
		{"level: {is: transtibial}", "level: ?", "7:14", "", "question"},
		{"level: {is: transtibial}", "level: {is: transtibial, column: Side}", "7:15", "", "exactly one"},
		{"level: {is: transtibial}", "level: {are: transtibial}", "7:15", "", "no key"},
		{"- sheet: wide", "- sheet: wyde", "2:12", "wide", "no sheet"},
		{"[limb, delivered]", "[limb, deliverd]", "9:29", "delivered", "cannot be made"},
		{"ply: {column: Ply}", "ply: {column: Plyy}", "14:21", "Ply", "no column"},
		{"ply: {column: Ply}", "ply: {column: Ply, unit: cm}", "14:32", "", "no unit"},
		{"        fibular head: FH", "        fibul headd: FH", "17:9", "fibular head", "no region"},
		{"        R: redness fading", "        R: rednes fading", "19:12", "redness fading", "no finding"},
		{"        R: redness fading", "        R: ?", "19:12", "", "question"},
		{"      visits: [Weather]", "      visitz: [Weather]", "22:7", "visits", "no table"},
		{"      visits: [Weather]", "      stations: [Weather]", "22:18", "", "feeds no stations"},
		{"left_out: [Remarks]", "left_out: [Remark]", "23:16", "Remarks", "no column"},
		{"    sinister: left", "    sinister: lift", "26:15", "left", "cannot be"},
		{"  side:\n    sinister", "  sides:\n    sinister", "25:3", "side", "no field"},
		{"      date: Seen\n", "", "13:7", "", "needs `date`"},
		{"    header: 1\n", "    header: 1\n    date_order: ?   # which?\n", "4:17", "", "day-first, month-first or year-first"},
		{"    header: 1\n", "\theader: 1\n", "3:1", "", "tab"},
		{"level: {is: transtibial}", "level: {is: [transtibial}", "", "", "bad YAML"},
	} {
		text := strings.Replace(soundIntake, c.old, c.with, 1)
		if text == soundIntake {
			t.Fatalf("%q is not part of the intake", c.old)
		}
		_, err := readByIntake(t, text, soundSheet)
		var faults IntakeErrors
		if !errors.As(err, &faults) || !errors.Is(err, ErrIntake) {
			t.Errorf("%q: %v", c.with, err)
			continue
		}
		first := faults[0]
		at := fmt.Sprintf("%d:%d", first.Line, first.Column)
		if c.at != "" && at != c.at || first.File != "intake.yaml" || first.Nearest != c.nearest || !strings.Contains(first.Text, c.text) {
			t.Errorf("%q:\n got %s (nearest %q)\nwant %s ... %s (nearest %q)", c.with, first, first.Nearest, c.at, c.text, c.nearest)
		}
	}
}

// TestRecordSetAside checks that a row with a visit that cannot be read is
// used for what else it says.
func TestRecordSetAside(t *testing.T) {
	log, err := readByIntake(t, soundIntake, "Patient,Side,Delivered,Seen,Ply,FH,Weather,Remarks\nP1,L,2024-01-01,some day,1,,,\nP1,L,2024-01-01,,,,,only a remark\n,,,,,,,a note\nP1,L,,2024-05-01,3,,,\n")
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	var got []string
	for _, p := range log.Problems {
		got = append(got, p.Cell+" "+p.Done.String()+": "+p.Text)
	}
	want := []string{
		`D2 record set aside: "some day" is not a date; this record of visits was set aside, the rest of the row was used.`,
		`D5 row set aside: the row gives no socket that this could belong to; the row was set aside.`,
	}
	for _, w := range want {
		if !strings.Contains(strings.Join(got, "\n"), w) {
			t.Errorf("no problem says %q:\n%s", w, strings.Join(got, "\n"))
		}
	}
	if s := log.Sheets[0]; s.Read != 3 {
		t.Errorf("a row with a remark alone was read: %+v", s)
	}
}

// TestConflictNamesBothCells checks that a limb stated twice is one limb and
// that a difference is a problem with both cells.
func TestConflictNamesBothCells(t *testing.T) {
	log, err := readByIntake(t, strings.Replace(soundIntake, "{is: transtibial}", "Weather", 1), "Patient,Side,Delivered,Seen,Ply,FH,Weather,Remarks\nP1,L,2024-01-01,2024-02-01,1,,,\nP1,L,2024-01-01,2024-03-01,1,,BK,\np1,left,2024-01-01,2024-04-01,1,,AK,\n")
	if err != nil {
		t.Fatal(err)
	}
	if len(log.Limbs) != 1 || log.Limbs[0].Level.Code != "transtibial" || len(log.Visits) != 3 {
		t.Fatalf("%+v", log.Limbs)
	}
	for _, p := range log.Problems {
		if p.Code == CodeConflict && p.Cell == "G4" && strings.Contains(p.Text, "differs from G3") && p.Done == ValueSetAside && p.Found == "AK" {
			return
		}
	}
	t.Errorf("no problem names both cells: %v", found(log))
}

// TestProposalShowsNobody checks that no value of an identifying column
// stands in a proposal.
func TestProposalShowsNobody(t *testing.T) {
	path := writeText(t, "wide.csv", "Name,Hospital no,Side,Level,DOB,Delivered,Seen,Ply,SCS,Prosthetist,Phone,Next of kin,Remarks,Type\n"+
		"Zelda Quux,7654321,L,BK,12/03/1951,13/01/2024,14/02/2024,1,7,Jo Smithers,0161 496 0999,Abel Quux,Zelda says hello to all of us,def\n"+
		"Yoric Quint,7654322,R,AK,13/03/1952,15/01/2024,16/02/2024,2,8,Kim Waters,0161 496 0998,Babs Quint,seen with sister Babs at the clinic,def\n"+
		"Xenia Prow,7654323,R,AK,14/03/1953,16/01/2024,17/02/2024,2,8,Kim Waters,0161 496 0997,Cole Prow,all well with Xenia and her leg,Yoric Quint\n")
	p, err := ProposeIntake(context.Background(), []string{path})
	if err != nil {
		t.Fatal(err)
	}
	for _, secret := range []string{"Zelda", "Quux", "7654321", "1951", "Smithers", "0999", "Abel", "Yoric", "1952", "Waters", "Babs", "Xenia"} {
		if strings.Contains(p.Text(), secret) {
			t.Errorf("%q stands in the proposal:\n%s", secret, p.Text())
		}
	}
	if strings.Count(p.Text(), notShown) < 5 {
		t.Errorf("the proposal does not say what it hides:\n%s", p.Text())
	}
}

// TestHeaderThatMoved reads next quarter's sheet, which has another title
// row and a further column, by the same intake.
func TestHeaderThatMoved(t *testing.T) {
	log, err := readByIntake(t, soundIntake, "Quarter 2,,,,,,,\n,,,,,,,\nPatient,Side,Delivered,Seen,Ply,FH,Weather,Remarks,Shoe\nP1,L,2024-01-01,2024-02-01,1,R,wet,x,42\n")
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if len(log.Visits) != 1 {
		t.Errorf("%d visits", len(log.Visits))
	}
	if got := strings.Join(found(log), "\n"); !strings.Contains(got, CodeHeaderMoved) || !strings.Contains(got, "!I3 "+CodeNotMapped) {
		t.Errorf("problems: %s", got)
	}
}

func TestRowsBelowTheEnd(t *testing.T) {
	log, err := readByIntake(t, strings.Replace(soundIntake, "header: 1", "header: 1\n    ends: Total", 1), soundSheet+"Total,2,,,3,,,\nP2,L,2024-01-01,2024-02-01,1,R,wet,x\n")
	if err != nil {
		t.Fatal(err)
	}
	if len(log.Visits) != 2 || !strings.Contains(strings.Join(found(log), "\n"), "!A5 "+CodeRowsBelowEnd) {
		t.Errorf("%d visits, problems %v", len(log.Visits), found(log))
	}
}

func TestNothingToPropose(t *testing.T) {
	_, err := ProposeIntake(context.Background(), []string{writeText(t, "shop.csv", "Supplier,Telephone\nPlastics,555 0100\n")})
	if !errors.Is(err, ErrNothingFound) {
		t.Errorf("%v", err)
	}
	p, err := ProposeIntake(context.Background(), []string{writeBook(t, smallLog(), nil)})
	if err != nil || len(p.Intake.Sheets) != 0 || len(p.Plain) != 6 {
		t.Errorf("a log in the plain layout: %+v, %v", p, err)
	}
}

// FuzzIntake parses any text as an intake; what parses means the same when
// it is written and parsed again, and reads a sheet without a panic.
func FuzzIntake(f *testing.F) {
	f.Add([]byte(soundIntake))
	for _, c := range append(cases(f, "../testdata/intake"), cases(f, messyFolder)...) {
		if !c.Intake {
			continue
		}
		text, _ := proposeAndRead(f, c, written(f, c))
		f.Add([]byte(text))
	}
	f.Add([]byte(strings.Replace(soundIntake, "person: Patient", "person: {coded: [Patient, Delivered]}", 1)))
	sheet := filepath.Join(f.TempDir(), "wide.csv")
	if err := os.WriteFile(sheet, []byte(soundSheet), 0o600); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		it, err := ParseIntake("intake.yaml", data)
		if err != nil {
			if !errors.Is(err, ErrIntake) {
				t.Errorf("%v", err)
			}
			return
		}
		text := it.Text()
		again, err := ParseIntake("intake.yaml", []byte(text))
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if again.Text() != text {
			t.Errorf("written:\n%s\nand again:\n%s", text, again.Text())
		}
		if log, err := Read(context.Background(), []string{sheet}, Options{Intake: it, Codes: testCoder(t)}); err == nil {
			checkIntakeLedger(t, log)
		}
	})
}

// FuzzPropose proposes an intake for any text table: what is proposed can be
// parsed, and means the same.
func FuzzPropose(f *testing.F) {
	f.Add([]byte(soundSheet))
	f.Add([]byte("Surname,First name,Side,Level,Type,Delivered,Date,Ply,SCS\nThrupp,Ossian,L,BK,def,2024-01-01,2024-02-01,1,7\nThrupp,Ossain,L,BK,def,2024-01-01,2024-03-01,1,7\n"))
	f.Add([]byte("Patient,Date 1,Ply 1,Date 2,Ply 2\nA1,2024-01-01,1,2024-02-01,3\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), "wide.csv")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		p, err := ProposeIntake(context.Background(), []string{path})
		if err != nil || len(p.Intake.Sheets) == 0 {
			return
		}
		it, err := ParseIntake("intake.yaml", []byte(p.Text()))
		if err != nil {
			t.Fatalf("%v\n%s", err, p.Text())
		}
		if a, b := uncommented(it.Text()), uncommented(p.Text()); !strings.Contains(string(data), "#") && a != b {
			t.Errorf("parsed and written again:\n%s\nproposed:\n%s", a, b)
		}
		it.Questions = nil
		if log, err := Read(context.Background(), []string{path}, Options{Intake: it, Codes: testCoder(t)}); err == nil {
			checkIntakeLedger(t, log)
		}
	})
}

// TestTwoEntriesOfOneSheet reads a limb with two sockets on its row by two
// entries: each row counts once.
func TestTwoEntriesOfOneSheet(t *testing.T) {
	entry := func(col string) string {
		return "  - sheet: wide\n    limbs: {person: Patient, side: Side, level: {is: BK}}\n    sockets: {socket: {made: [limb, delivered]}, kind: {is: def}, delivered: " + col + "}\n"
	}
	log, err := readByIntake(t, "sheets:\n"+entry("First")+entry("Second"), "Patient,Side,First,Second\nP1,L,2024-01-01,2024-08-01\nP2,R,2024-02-01,\n")
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if s := log.Sheets[0]; len(log.Limbs) != 2 || len(log.Sockets) != 3 || s.Read != 2 || s.Used != 2 {
		t.Errorf("%d limbs, %d sockets, %+v", len(log.Limbs), len(log.Sockets), s)
	}
	for _, p := range log.Problems {
		if p.Code == CodeNotMapped {
			t.Errorf("%s", p)
		}
	}
}

// TestFillDownStopsAtAnotherPerson checks that a person's first row takes
// nothing from the person above.
func TestFillDownStopsAtAnotherPerson(t *testing.T) {
	text := strings.Replace(soundIntake, "    header: 1\n", "    header: 1\n    fill_down: [Patient, Side, Delivered]\n", 1)
	log, err := readByIntake(t, text, "Patient,Side,Delivered,Seen,Ply,FH,Weather,Remarks\nP1,L,2024-01-01,2024-02-01,1,,,\n,,,2024-03-01,2,,,\nP2,,2024-01-05,2024-02-06,1,,,\n")
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if len(log.Visits) != 2 || len(log.Limbs) != 1 || log.Sheets[0].SetAside != 1 {
		t.Errorf("%d visits, %d limbs, %+v", len(log.Visits), len(log.Limbs), log.Sheets[0])
	}
}

// TestDuplicateVisitRow checks that a visit row typed twice is set aside as
// in the plain layout, although the facts of its limb repeat lawfully.
func TestDuplicateVisitRow(t *testing.T) {
	row := "P1,L,2024-01-01,2024-02-01,1,R,wet,x\n"
	log, err := readByIntake(t, soundIntake, "Patient,Side,Delivered,Seen,Ply,FH,Weather,Remarks\n"+row+row)
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if len(log.Visits) != 1 || len(log.Findings) != 1 || log.Sheets[0].SetAside != 1 || len(problemsOf(log, CodeDuplicateRow)) == 0 {
		t.Errorf("%d visits, %d findings, %v", len(log.Visits), len(log.Findings), found(log))
	}
}

// TestPatternLeavesPlainSheetsAlone reads sheets in the plain layout beside
// those of a pattern.
func TestPatternLeavesPlainSheetsAlone(t *testing.T) {
	sheets := smallLog()
	sheets["Room 1"] = sheetRows{{"Job", "Seen", "Socks"}, {"S2", "2024-09-01", "2"}}
	sheets["Prices"] = sheetRows{{"Item", "Price"}, {"Sheet", 12}}
	it, err := ParseIntake("intake.yaml", []byte("sheets:\n  - sheet: \"*\"\n    visits: {socket: Job, date: Seen, ply: Socks}\n"))
	if err != nil {
		t.Fatal(err)
	}
	log, err := Read(context.Background(), []string{writeBook(t, sheets, nil)}, Options{Intake: it})
	if err != nil {
		t.Fatal(err)
	}
	checkIntakeLedger(t, log)
	if len(log.Visits) != 4 || len(log.Sockets) != 3 {
		t.Errorf("%d visits, %d sockets", len(log.Visits), len(log.Sockets))
	}
	for _, s := range log.Sheets {
		if s.Sheet == "Prices" && s.Table != "" || s.Sheet == "Room 1" && s.Table != TableVisits {
			t.Errorf("%+v", s)
		}
	}
}
