package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// sheetTexts is a sheet as a person would see it: the stored text of each
// cell, read by the library and not by plybook.
func sheetTexts(t testing.TB, path, sheet string) [][]string {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// at is a cell of a row that may be shorter, and its name.
func at(rows [][]string, row int, header string) (text, name string) {
	for col, h := range rows[0] {
		if h == header {
			name, _ = excelize.CoordinatesToCellName(col+1, row+1)
			if col < len(rows[row]) {
				text = rows[row][col]
			}
		}
	}
	return text, name
}

// spaced makes runs of spaces one, since the list is in columns.
func spaced(s string) string { return regexp.MustCompile(` +`).ReplaceAllString(s, " ") }

func TestInspectWhy(t *testing.T) {
	dir, files := copyLog(t)
	why := func(code string) string {
		o := plybook(t, dir, append([]string{"inspect", "--why", code}, files...)...).want(t, statusDone)
		if o.err != "" {
			t.Errorf("error stream: %s", o.err)
		}
		return spaced(o.out)
	}
	limbs := sheetTexts(t, filepath.Join(dir, "log/limbs-and-sockets.xlsx"), "limbs")
	person, limb := "", ""
	for i := range limbs[1:] {
		row := i + 1
		cause, cell := at(limbs, row, "cause")
		phone, phoneCell := at(limbs, row, "Phone")
		if cause != "vasculer" || phone == "" {
			continue
		}
		person, _ = at(limbs, row, "person")
		limb, _ = at(limbs, row, "limb")
		out := why(person)
		says(t, person, out, "person "+person+", as the log has it",
			"cause vascular log/limbs-and-sockets.xlsx:limbs!"+cell+` "vasculer"`+"\n", `"vasculer" was read as "vascular" (one letter off; certainty 92%)`,
			"Phone (own) (not shown) log/limbs-and-sockets.xlsx:limbs!"+phoneCell+" not shown: looks like a name or a number of a person")
		if strings.Contains(out, phone) {
			t.Errorf("the telephone number %s is shown", phone)
		}
		break
	}
	if person == "" {
		t.Fatal("the example has no person with a misspelt cause and a telephone number")
	}
	girths, done := sheetTexts(t, filepath.Join(dir, "log/measurements-2023-2024.xlsx"), "stations"), false
	for i := range girths[1:] {
		row := i + 1
		text, cell := at(girths, row, "Limb (cm)")
		cm, err := strconv.ParseFloat(text, 64)
		of, _ := at(girths, row, "limb")
		if of != limb || err != nil {
			continue
		}
		done = true
		says(t, limb, why(limb), fmt.Sprintf("limb_mm %g mm log/measurements-2023-2024.xlsx:stations!%s %q\n", 10*cm, cell, text), fmt.Sprintf("%g cm, the unit of the header, are %g mm", cm, 10*cm), "joined to limb "+limb)
		break
	}
	if !done {
		t.Errorf("no girth of %s in cm", limb)
	}
	visits, done := sheetTexts(t, filepath.Join(dir, "log/visits-2023.xlsx"), "visits"), false
	for i := range visits[1:] {
		row := i + 1
		text, cell := at(visits, row, "ply")
		var lo, hi float64
		if n, _ := fmt.Sscanf(text, "%g-%g", &lo, &hi); n != 2 {
			continue
		}
		done = true
		socket, _ := at(visits, row, "socket")
		says(t, socket, why(socket), fmt.Sprintf("ply %g ply log/visits-2023.xlsx:visits!%s %q\n", (lo+hi)/2, cell, text), fmt.Sprintf("is a range; its middle, %g, is used", (lo+hi)/2), "joined to socket "+socket)
		visit, _ := at(visits, row, "visit")
		says(t, visit, why(visit), "visit "+visit+", as the log has it: ", cell)
		break
	}
	if !done {
		t.Error("no ply range in the example")
	}

	// No file was written, and after codes were made the code does as well.
	if entries, err := os.ReadDir(filepath.Join(dir, "log")); err != nil || len(entries) != len(files) {
		t.Errorf("%d files beside the log, want %d; %v", len(entries), len(files), err)
	}
	plybook(t, dir, append([]string{"inspect", "--no-marked-copy"}, files...)...).want(t, statusDone)
	codes, err := os.ReadFile(filepath.Join(dir, "log/codes.csv"))
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^person,` + person + `,(P-\w+)`).FindSubmatch(codes)
	if m == nil {
		t.Fatalf("no code for %s", person)
	}
	says(t, "by code", why(string(m[1])), "person "+person+", as reports call it")
	says(t, "limb by code", why(string(m[1])+"-"+limb[len(limb)-1:]), "limb "+limb+", as reports call it")
}

func TestInspectWhyOfNothing(t *testing.T) {
	dir, files := copyLog(t)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--why", "P01"}, `"P01"; near to it: "P001"`},
		{[]string{"--why", "zzzzzzzz"}, "no person, limb, socket or visit of the log is called so"},
		{[]string{"--why", ""}, "no person, limb, socket or visit of the log is called so"},
		{[]string{"--why", "P001", "--colour"}, "--why writes no marked copy"},
		{[]string{"--why", "P001", "--all"}, "--all says nothing beside it"},
	} {
		o := plybook(t, dir, append(append([]string{"inspect"}, c.args...), files...)...).want(t, statusNothing)
		says(t, strings.Join(c.args, " "), o.err, c.want)
		if o.out != "" {
			t.Errorf("%v: on the output stands %q", c.args, o.out)
		}
	}
	writeFile(t, filepath.Join(dir, "wide.csv"), "Name,Side,Level,Type,Fitted,Seen,Ply\nWenda Orrick,L,BK,def,2024-01-03,2024-02-03,3\n")
	writeFile(t, filepath.Join(dir, "intake.yaml"), `sheets:
  - sheet: wide
    header: 1
    limbs:
      person: {coded: Name}
      side: Side
      level: Level
    sockets:
      kind: Type
      delivered: Fitted
    visits:
      - date: Seen
        ply: Ply
`)
	o := plybook(t, dir, "inspect", "--intake", "intake.yaml", "--why", "Wenda Orrick", "wide.csv").want(t, statusNothing)
	says(t, "no codes yet", o.err, "there is no codes.csv yet")
	plybook(t, dir, "inspect", "--intake", "intake.yaml", "wide.csv").want(t, statusDone)
	codes, err := os.ReadFile(filepath.Join(dir, "codes.csv"))
	if err != nil {
		t.Fatal(err)
	}
	code := regexp.MustCompile(`P-\w+`).FindString(string(codes))
	o = plybook(t, dir, "inspect", "--intake", "intake.yaml", "--why", code, "wide.csv").want(t, statusDone)
	says(t, "by an intake", spaced(o.out), "person "+code+" wide.csv!A2 not shown: a random code stands for it", `ply 3 ply wide.csv!G2 "3", as it stands`, "socket "+code+"-L 2024-01-03\n made from limb and delivered")
	if strings.Contains(o.out, "Orrick") {
		t.Errorf("the name is shown:\n%s", o.out)
	}
}
