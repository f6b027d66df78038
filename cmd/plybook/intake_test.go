package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// ownSheet is a sheet in a lab's own form: a title, one row for each visit,
// marks for the skin, a row of totals.
const ownSheet = `Fit-check list,,,,,,,,,
,,,,,,,,,
Pt no,Side,Amp level,Socket type,Supplied,Seen,Socks,SCS,FH,Remade on
A1,L,BK,def,05/01/2024,05/01/2024,1,8,-,01/07/2024
A1,L,BK,def,05/01/2024,09/04/2024,5,5,R,01/07/2024
A1,L,BK,def,01/07/2024,01/07/2024,0,9,-,
A2,R,BK,def,02/02/2024,02/02/2024,1,8,-,
A2,R,BK,def,02/02/2024,06/06/2024,2,7,-,
A3,R,BK,def,03/03/2024,03/03/2024,0,9,,
A3,R,BK,def,03/03/2024,03/05/2024,99 socks,7,,
Total,3,,,,,,,,
`

const ownNotebook = "---\ntitle: Own\nlog: [list.csv]\nintake: intake.yaml\n---\n```ask\nid: who\nquestion: Who?\nmethod: summary\nrows: visits\ncolumns: [ply, comfort]\n```\n"

// TestIntakeThroughTheFrontDoor goes the whole way of a lab with its own
// sheet: propose, refuse the questions, answer them, inspect, run.
func TestIntakeThroughTheFrontDoor(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("list.csv", ownSheet)
	o := plybook(t, dir, "intake", "list.csv").want(t, 0)
	says(t, "the output of intake", o.out, "intake.yaml: how 1 table", "`date_order` is left as a question", "`R` is left as a question", "2 questions to answer")
	b, err := os.ReadFile(filepath.Join(dir, "intake.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	says(t, "the proposal", string(b), "header: 3", "person: Pt no", notShownText, "ply: Socks", "fibular head: FH", "ends: Total")
	plybook(t, dir, "intake", "list.csv").want(t, 2) // it is not overwritten

	o = plybook(t, dir, "inspect", "--intake", "intake.yaml", "list.csv").want(t, 2)
	says(t, "the refusal", o.err, "intake.yaml:", "day-first, month-first or year-first")
	put("own.md", ownNotebook)
	o = plybook(t, dir, "run", "own.md").want(t, 2)
	says(t, "the refusal", o.err, "intake.yaml:", "day-first, month-first or year-first")

	text := strings.Replace(string(b), "date_order: ?", "date_order: day-first", 1)
	text = strings.Replace(text, "R: ?", "R: redness fading", 1)
	put("intake.yaml", text)
	o = plybook(t, dir, "inspect", "--intake", "intake.yaml", "list.csv").want(t, 0)
	says(t, "inspect", o.out, "7 rows read, 7 used, 0 set aside; 1 value set aside", `!G10: "99 socks"`)
	o = plybook(t, dir, "run", "own.md").want(t, 0)
	says(t, "run", o.out, "1 question answered", "7 rows read, 0 set aside, 1 single value set aside")
	b, err = os.ReadFile(filepath.Join(dir, "own-report", "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	says(t, "run.json", string(b), `"intake": {`, `"file": "intake.yaml"`)

	put("intake.yaml", strings.Replace(text, "ply: Socks", "ply: Sokcs", 1))
	o = plybook(t, dir, "run", "own.md").want(t, 2)
	says(t, "the fault", o.err, `no column of list is headed "Sokcs"; did you mean "Socks"?`, "intake.yaml:")
	put("own.md", strings.Replace(ownNotebook, "intake: intake.yaml", "intake: not-there.yaml", 1))
	plybook(t, dir, "run", "own.md").want(t, 2)
}

const notShownText = "(identifying: not shown)"
