package ingest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"plybook/ingest/ingesttest"
)

// tracedLines writes a trace in lines: a value as "column = value < cell text:
// what was done".
func tracedLines(tr *Trace, dir string) []string {
	var out []string
	for _, m := range tr.Matches {
		out = append(out, fmt.Sprintf("%s %s, %s", m.Kind, m.Name, m.How))
		for _, r := range m.Rows {
			state := "used"
			if r.Aside {
				state = "aside"
			}
			out = append(out, fmt.Sprintf("%s %s %s", r.Table, r.At, state))
			for _, s := range r.Why {
				out = append(out, "! "+s)
			}
			for _, v := range r.Values {
				text := fmt.Sprintf("%q", v.Text)
				if v.Hidden != "" {
					text = "not shown: " + v.Hidden
				}
				out = append(out, fmt.Sprintf("%s = %s < %s %s: %s", v.Column, v.Value, v.At, text, strings.Join(v.Done, "; ")))
			}
			for _, s := range r.Joined {
				out = append(out, "-> "+s)
			}
		}
	}
	for i := range out {
		out[i] = strings.ReplaceAll(out[i], dir+string(filepath.Separator), "")
	}
	return out
}

// readBy writes the files of a case and says how they are read: by the intake
// proposed for it where it needs one.
func readBy(t testing.TB, c ingesttest.Case) ([]string, Options) {
	t.Helper()
	paths, opts := written(t, c), Options{}
	if c.Intake {
		p, err := ProposeIntake(context.Background(), paths)
		if err != nil {
			t.Fatal(err)
		}
		text, err := c.Edit(p.Text())
		if err != nil {
			t.Fatal(err)
		}
		if opts.Intake, err = ParseIntake("intake.yaml", []byte(text)); err != nil {
			t.Fatal(err)
		}
		opts.Codes = testCoder(t)
	}
	return paths, opts
}

// traceCase traces a code in a messy log.
func traceCase(t testing.TB, name, code string) []string {
	t.Helper()
	c, err := ingesttest.Read(messyFolder + "/" + name + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	paths, opts := readBy(t, c)
	tr, err := ReadTrace(context.Background(), paths, opts, code)
	if err != nil {
		t.Fatal(err)
	}
	return tracedLines(tr, filepath.Dir(paths[0]))
}

// TestTraceOfMessyLogs says by hand, from the sheets of each case, where
// values come from and what becomes of them.
func TestTraceOfMessyLogs(t *testing.T) {
	for _, c := range []struct {
		name, code string
		want       []string
	}{
		{"wide-girths-and-marks", "Y1", []string{
			`limb_mm = 325 mm < wide-girths-and-marks.xlsx:Visits!G3 "32,5": the comma is a decimal comma; 32.5 cm, the unit of the header, are 325 mm`,
			`station_mm = 50 mm <  "5 cm": the intake gives "5 cm" for the column "Circ 5 (cm)"; 5 cm, the unit in the cell, are 50 mm`,
			`finding = blister < wide-girths-and-marks.xlsx:Visits!L4 "B": the intake says that "B" means "blister"`,
			`finding = none < wide-girths-and-marks.xlsx:Visits!J3 "-": the intake says that "-" means "none"`,
			`limb = Y1-R <  "": the default: the person and L or R`,
			`socket = Y1-R 2024-02-01 <  "": made from limb and delivered, as the intake says or by default`,
			`! the same limb stands in wide-girths-and-marks.xlsx:Visits row 4; the rows were put together`,
			`-> joined to limb Y1-R (wide-girths-and-marks.xlsx:Visits row 3) of person Y1`,
		}},
		{"limb-facts-conflict", "L1", []string{
			`! limb-facts-conflict.xlsx:Visits!C3: level differs from C2, where the same limb stands; the first is used; the value was set aside`,
			`level = transtibial < limb-facts-conflict.xlsx:Visits!C2 "BK": the intake says that "BK" means "transtibial"`,
		}},
		{"ply-as-written", "S1", []string{
			`ply = 8 ply < ply-as-written.xlsx:visits!C4 "5+3": socks of 5 and 3 ply, together 8`,
			`ply = 4 ply < ply-as-written.xlsx:visits!C6 "3-5": "3-5" is a range; its middle, 4, is used`,
			`ply = 3 ply < ply-as-written.xlsx:visits!C8 "sheath + 3": a sheath, which counts no ply`,
			`ply = 0 ply < ply-as-written.xlsx:visits!C2 "none": read as 0 ply`,
			`-> visits joined to it: 8`,
		}},
		{"calendar-of-1904", "S2", []string{
			`delivered = 2024-03-04 < calendar-of-1904.xlsx:sockets!D3 "43893": a date of the workbook, stored as day 43893 counted from 1904`,
			`date = 2024-06-04 < calendar-of-1904.xlsx:visits!B3 "43985": a day number counted from 1904; "43985" is a bare day number; it was read as 2024-06-04`,
		}},
		{"typos-in-words", "A4", []string{
			`limbs typos-in-words.xlsx:limbs row 5 aside`,
			`side =  < typos-in-words.xlsx:limbs!C5 "rechts?": "rechts?" is not a known side; the row was set aside`,
			`limb =  < typos-in-words.xlsx:sockets!B5 "A4-R": limb "A4-R" was itself set aside (limbs!A5); the row was set aside`,
			`end_reason = remake: volume loss < typos-in-words.xlsx:sockets!F5 "too loose": "too loose" was read as "remake: volume loss" but could mean something else; please write the code`,
		}},
		{"typos-in-words", "A1", []string{
			`level = transtibial < typos-in-words.xlsx:limbs!D2 "transtibal": "transtibal" was read as "transtibial" (one letter off; certainty 94%)`,
			`side = left < typos-in-words.xlsx:limbs!C2 "lft": "lft" is a word for "left"`,
			`action =  < typos-in-words.xlsx:visits!E2 "releif of heat": "releif of heat" is not a known action; the value was set aside`,
		}},
		{"dates-in-many-forms", "A1", []string{
			`date = 2024-03-12 < dates-in-many-forms.xlsx:visits!B2 "12.3.24": day first, as its column is; the century was added to a year of two digits`,
			`date = 2024-04-02 < dates-in-many-forms.xlsx:visits!B3 "2 April 2024": read as 2024-04-02`,
		}},
		{"csv-ragged-rows", "A2", []string{
			`delivered = 2024-03-04 < sockets.csv!D3 "2024-03-04": as it stands`,
			`visits visits.csv row 5 aside`,
			`socket =  < visits.csv!A5 "S2": not used`,
		}},
		{"units-in-cells", "A1", []string{
			`limb_mm = 325 mm < units-in-cells.xlsx:stations!E2 "32.5 cm": 32.5 cm, the unit in the cell, are 325 mm; the header says mm but the cell says "32.5 cm"; the cell was believed`,
			`limb_mm =  < units-in-cells.xlsx:stations!E6 "325 kg": "325 kg" has a unit of another quantity; the row was set aside`,
			`mass_kg = 82 kg < units-in-cells.xlsx:visits!D2 "82 kg": kg, the unit in the cell`,
		}},
		{"identifying-columns", "A1", []string{
			`Surname =  < identifying-columns.xlsx:limbs!E2 not shown: looks like a name or a number of a person: the column may tell who the person is; it is never used or printed`,
			`born = 1951 < identifying-columns.xlsx:limbs!D2 not shown: tells when the person was born: only the year is kept`,
			`Shoe size = 43 < identifying-columns.xlsx:limbs!J2 "43": as it stands`,
		}},
		{"names-in-two-columns", "P-NTWHQ", []string{
			`person = P-NTWHQ < names-in-two-columns.xlsx:Clinic!A2 not shown: a random code stands for it: the random code that stands for the cells of "Surname" and "First name" together`,
		}},
		{"same-socket-in-two-files", "S1", []string{
			`sockets 2025.xlsx:sockets row 2 aside`,
			`socket = S1 < 2025.xlsx:sockets!A2 "S1": the row is identical in every field to 2024.xlsx sockets!A2; the row was set aside`,
		}},
	} {
		t.Run(c.name+" "+c.code, func(t *testing.T) {
			got := traceCase(t, c.name, c.code)
			for _, want := range c.want {
				if !slices.Contains(got, want) {
					t.Errorf("lacks %s\n%s", want, strings.Join(got, "\n"))
				}
			}
		})
	}
}

// TestTraceTellsAllThatIsStored compares the traces of every person of every
// messy log with what the log has: as many rows of each table, the same girths
// and plies. Every socket and visit is traced too.
func TestTraceTellsAllThatIsStored(t *testing.T) {
	for _, c := range append(cases(t, messyFolder), cases(t, "../testdata/intake")...) {
		t.Run(c.Name, func(t *testing.T) {
			paths, opts := readBy(t, c)
			log, err := Read(context.Background(), paths, opts)
			if err != nil {
				t.Fatal(err)
			}
			// tally counts the rows in use and adds up girths and plies.
			tally := func(kind, code string, rows map[string]int, sums map[string]float64) {
				tr, err := ReadTrace(context.Background(), paths, opts, code)
				if err != nil {
					t.Errorf("%s %q: %v", kind, code, err)
					return
				}
				for _, m := range tr.Matches {
					if m.Kind != kind {
						continue
					}
					for _, r := range m.Rows {
						if r.Aside {
							continue
						}
						rows[r.Table]++
						for _, v := range r.Values {
							var x float64
							if !v.Own && (v.Column == "limb_mm" || v.Column == "ply") {
								fmt.Sscan(v.Value, &x)
								sums[v.Column] += x
							}
							if len(v.Done) == 0 {
								t.Errorf("%s %s: nothing is said of %s", kind, r.At, v.Column)
							}
						}
					}
				}
			}
			got, sums, wantSums := map[string]int{}, map[string]float64{}, map[string]float64{}
			seen := map[string]bool{}
			for _, l := range log.Limbs {
				if !seen[l.Person] {
					seen[l.Person] = true
					tally("person", l.Person, got, sums)
				}
			}
			for _, s := range log.Stations {
				wantSums["limb_mm"] += s.LimbMM
			}
			visitsOf := map[string]int{}
			for _, v := range log.Visits {
				visitsOf[v.Socket]++
				if v.Ply.OK {
					wantSums["ply"] += v.Ply.Value.Total
				}
			}
			for table, n := range map[string]int{TableLimbs: len(log.Limbs), TableSockets: len(log.Sockets), TableStations: len(log.Stations), TableVisits: len(log.Visits), TableFindings: len(log.Findings), TableForming: len(log.Forming)} {
				if got[table] != n {
					t.Errorf("%d rows of %s in the traces, %d in the log", got[table], table, n)
				}
			}
			for _, column := range []string{"limb_mm", "ply"} {
				if d := sums[column] - wantSums[column]; d > 0.01 || d < -0.01 {
					t.Errorf("%s adds up to %v in the traces, to %v in the log", column, sums[column], wantSums[column])
				}
			}
			for _, s := range log.Sockets {
				rows := map[string]int{}
				if tally("socket", s.Socket, rows, map[string]float64{}); rows[TableSockets] != 1 || rows[TableVisits] != visitsOf[s.Socket] {
					t.Errorf("socket %s: %v, %d visits in the log", s.Socket, rows, visitsOf[s.Socket])
				}
			}
			if len(log.Visits) > 0 {
				rows, v := map[string]int{}, log.Visits[len(log.Visits)-1]
				if tally("visit", v.Visit, rows, map[string]float64{}); rows[TableVisits] != 1 {
					t.Errorf("visit %s: %v", v.Visit, rows)
				}
			}
		})
	}
}

// A log whose persons go by names: what is shown is codes alone.
func TestTraceShowsNobody(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"limbs.csv":   "person,side,level,born,Remarks\nWenda Orrick,left,transtibial,12/03/1950,likes Tolly\nTolly Marsk,right,BK,1960,\n",
		"sockets.csv": "socket,limb,kind,delivered\nOrrick 1,Wenda Orrick,definitive,2024-01-03\nMarsk 1,Tolly Marsk,def,2024-01-04\n",
		"visits.csv":  "socket,date,ply,comfort,seen_by\nOrrick 1,2024-02-03,3-5,7,Ildred Pask\nOrrick 9,2024-03-03,3,7,Ildred Pask\nMarsk 1,2024-09-09,3,12,Corin Wether\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	paths := []string{filepath.Join(dir, "limbs.csv"), filepath.Join(dir, "sockets.csv"), filepath.Join(dir, "visits.csv")}
	coder := testCoder(t)
	if err := coder.Add([]string{"Wenda Orrick", "Tolly Marsk"}, []string{"Ildred Pask", "Corin Wether"}); err != nil {
		t.Fatal(err)
	}
	code := coder.Codes().Persons()("Wenda Orrick")
	trace := func(opts Options, code string) []string {
		tr, err := ReadTrace(context.Background(), paths, opts, code)
		if err != nil {
			t.Fatal(err)
		}
		return tracedLines(tr, dir)
	}
	all := [][]string{trace(Options{}, "Wenda Orrick"), trace(Options{}, "wenda  orrick"), trace(Options{}, "Orrick 9"), trace(Options{Codes: coder}, code),
		trace(Options{Codes: coder}, code+"-L"), trace(Options{Codes: coder}, "S2"), trace(Options{Codes: coder}, "V1")}
	for i, lines := range all {
		for _, secret := range []string{"Wenda", "Orrick", "Tolly", "Marsk", "Ildred", "Pask", "Corin", "Wether", "12/03", "likes"} {
			if strings.Contains(strings.Join(lines, "\n"), secret) {
				t.Errorf("%d: %q is shown:\n%s", i, secret, strings.Join(lines, "\n"))
			}
		}
	}
	for _, want := range []string{"person " + code + ", as reports call it", "-> joined to limb " + code + "-L (limbs.csv row 2) of person " + code,
		"person = " + code + " < limbs.csv!A2 not shown: looks like a name or a number of a person: shown by its code or number in reports"} {
		if !slices.Contains(all[3], want) {
			t.Errorf("lacks %s\n%s", want, strings.Join(all[3], "\n"))
		}
	}
	if got := all[5][0]; got != "socket S2, as reports call it" {
		t.Errorf("S2 is %s", got)
	}
	_, err := ReadTrace(context.Background(), paths, Options{Codes: coder}, code+"X")
	if !errors.Is(err, ErrNotInLog) || !strings.Contains(err.Error(), fmt.Sprintf("near to it: %q", code)) || strings.Contains(err.Error(), "Orrick") {
		t.Errorf("an unknown code: %v", err)
	}
	if _, err = ReadTrace(context.Background(), paths, Options{}, "Wenda Orrik"); !errors.Is(err, ErrNotInLog) || strings.Contains(err.Error(), "Orrick") {
		t.Errorf("an unknown name: %v", err)
	}
}

// What stands in one of several rows, and what two kinds of thing are called.
func TestTraceOfSharedNames(t *testing.T) {
	log := smallLog()
	log["limbs"] = append(log["limbs"], []any{"S1", "S1-R", "right", "BK", "", "F", ""}, []any{"P1", "P1-R", "right", "BK", "", "", ""})
	path := writeBook(t, log, nil)
	tr, err := ReadTrace(context.Background(), []string{path}, Options{}, "S1")
	if err != nil {
		t.Fatal(err)
	}
	if len(tr.Matches) != 2 || tr.Matches[0].Kind != "person" || tr.Matches[1].Kind != "socket" {
		t.Errorf("S1 names %+v", tr.Matches)
	}
	tr, err = ReadTrace(context.Background(), []string{path}, Options{}, "P1")
	if err != nil {
		t.Fatal(err)
	}
	lines := tracedLines(tr, filepath.Dir(path))
	for _, want := range []string{
		`born = 1960 < log.xlsx:limbs!E5 not shown: tells when the person was born: taken from another limb of the same person, log.xlsx:limbs!E2`,
		`sex = male < log.xlsx:limbs!F5 "": taken from another limb of the same person, log.xlsx:limbs!F2`,
		`-> its place was taken by socket S2 (log.xlsx:sockets row 3)`,
		`-> takes the place of socket S1 (log.xlsx:sockets row 2)`,
	} {
		if !slices.Contains(lines, want) {
			t.Errorf("lacks %s\n%s", want, strings.Join(lines, "\n"))
		}
	}
}
