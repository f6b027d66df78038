package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"plybook/ingest"
)

// partsOf are all files of a folder, workbooks unpacked, but for what a
// workbook says of the program that made it.
func partsOf(t *testing.T, folder string) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files in %s: %v", folder, err)
	}
	out := map[string]string{}
	for _, f := range files {
		info, err := os.Stat(f)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s can be read by others: %v", f, info.Mode())
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if filepath.Ext(f) != ".xlsx" {
			out[filepath.Base(f)] = string(b)
			continue
		}
		z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range z.File {
			r, err := part.Open()
			if err != nil {
				t.Fatal(err)
			}
			text, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.HasPrefix(part.Name, "docProps") {
				out[filepath.Base(f)+" "+part.Name] = cellName.ReplaceAllString(string(text), "") // which may look like a code
			}
		}
	}
	return out
}

// exported reads a table of a data set by the names of its columns.
func exported(t *testing.T, folder, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(folder, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func exampleLog(t *testing.T, dir string) *ingest.Log {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(dir, "demo", "log", "*.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	log, err := ingest.Read(context.Background(), paths, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return log
}

var (
	dayForm    = regexp.MustCompile(`\d{4}-\d\d-\d\d`)
	numberCell = regexp.MustCompile(`<v>(\d{5})(?:\.0+)?</v>`)
	cellName   = regexp.MustCompile(` r="[A-Z]+\d+"`)
	wordForm   = regexp.MustCompile(`[A-Za-z0-9_.\-]+`)
)

// No byte of a data set holds an identifier, a code, a member of staff, a
// date or a column of the log that names people; before and after codes were
// made of it.
func TestExportTellsNobody(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, statusDone)
	log := exampleLog(t, dir)
	secret, days := map[string]bool{}, map[string]bool{}
	serial := map[string]bool{}
	day := func(list ...ingest.Opt[ingest.Date]) {
		for _, d := range list {
			if d.OK {
				y, m, n := d.Value.Split()
				days[fmt.Sprintf("%04d-%02d-%02d", y, m, n)] = true
				if y > 2010 { // earlier ones are days of the calendar of log.xlsx as well
					serial[strconv.Itoa(int(d.Value)+25569)] = true
				}
			}
		}
	}
	add := func(list ...string) {
		for _, s := range list {
			if len(s) > 2 {
				secret[strings.ToLower(s)] = true
			}
		}
	}
	for _, l := range log.Limbs {
		add(l.Person, l.Limb)
		day(l.Amputated, l.LastSeen, l.Died)
	}
	for _, s := range log.Sockets {
		add(s.Socket, s.CastBy, s.ShapedBy)
		day(s.Referred, s.Ordered, s.CastOn, s.Delivered, s.RemakeDecided, s.Ended)
	}
	for _, v := range log.Visits {
		add(v.Visit, v.SeenBy)
		day(ingest.Some(v.Date))
	}
	if len(secret) < 500 || len(days) < 500 || len(serial) < 500 {
		t.Fatalf("%d identifiers, %d days", len(secret), len(days))
	}
	for _, codes := range []bool{false, true} {
		if codes {
			plybook(t, dir, "inspect", "demo/log/*.xlsx").want(t, statusDone)
			b, err := os.ReadFile(filepath.Join(dir, "demo", "log", "codes.csv"))
			if err != nil {
				t.Fatal(err)
			}
			for _, line := range strings.Split(string(b), "\n")[1:] {
				if cells := strings.Split(line, ","); len(cells) > 2 {
					add(cells[1], cells[2])
				}
			}
		}
		plybook(t, dir, "export", "demo/research.md", "--k", "5", "--replace").want(t, statusDone)
		folder := filepath.Join(dir, "demo", "research-export")
		for name, text := range partsOf(t, folder) {
			for _, w := range wordForm.FindAllString(text, -1) {
				if secret[strings.ToLower(w)] {
					t.Errorf("%s (codes %v) holds the identifier %q", name, codes, w)
					break
				}
			}
			for _, d := range dayForm.FindAllString(text, -1) {
				if days[d] {
					t.Errorf("%s holds the day %s", name, d)
					break
				}
			}
			for _, d := range numberCell.FindAllStringSubmatch(text, -1) {
				if serial[d[1]] {
					t.Errorf("%s holds the day of the serial number %s", name, d[1])
					break
				}
			}
			for _, o := range []string{"first_definitive", "Umberfold", "limbs-and-sockets"} {
				if strings.Contains(text, o) && name != "changes.csv" && !strings.HasPrefix(name, "about") && !strings.HasPrefix(name, "data.xlsx") {
					t.Errorf("%s holds %q", name, o)
				}
			}
		}
		info, err := os.Stat(folder)
		if err != nil || info.Mode().Perm() != 0o700 {
			t.Errorf("the folder: %v %v", info.Mode(), err)
		}
	}
}

// Every combination of what an outsider may know is shared by k persons, and
// every column is in the dictionary with the number of its empty cells.
func TestExportIsShared(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, statusDone)
	for _, k := range []int{3, 5, 11} {
		out := filepath.Join(dir, fmt.Sprintf("k%d", k))
		plybook(t, dir, "export", "demo/research.md", "--k", fmt.Sprint(k), "--out", out, "--own", "first_definitive").want(t, statusDone)
		persons, of := map[string]string{}, map[string][]string{}
		site := map[string]map[string]bool{}
		for _, s := range exported(t, out, "sockets") {
			if site[s["person"]] == nil {
				site[s["person"]] = map[string]bool{}
			}
			site[s["person"]][s["site"]] = true
		}
		for _, l := range exported(t, out, "limbs") {
			var at []string
			for s := range site[l["person"]] {
				if s != "" {
					at = append(at, s)
				}
			}
			slices.Sort(at)
			persons[l["person"]] = fmt.Sprint(l["age_band"], l["sex"], l["first_delivery_year"], l["programme"], at)
			of[l["person"]] = append(of[l["person"]], fmt.Sprint(l["level"], l["cause"], l["side"], l["activity"]))
		}
		count := map[string]int{}
		for p, what := range persons {
			slices.Sort(of[p])
			count[what+fmt.Sprint(of[p])]++
		}
		fine := 0
		for what, n := range count {
			if n < k {
				t.Errorf("k %d: %d persons of %s", k, n, what)
			}
			if !strings.Contains(what, "withheldwithheld") {
				fine++
			}
		}
		if len(count) < 4 {
			t.Errorf("k %d: only %d combinations are told", k, len(count))
		}
		var record struct {
			SharedBy int `json:"shared_by"`
			Persons  int
			Smallest int `json:"smallest_combination"`
			Rows     map[string]int
		}
		readJSON(t, filepath.Join(out, "export.json"), &record)
		if record.SharedBy != k || record.Persons != len(persons) || record.Smallest < k || record.Rows["limbs"] != len(exported(t, out, "limbs")) {
			t.Errorf("k %d: %+v, %d persons", k, record, len(persons))
		}
		told := map[string]bool{}
		for _, e := range exported(t, out, "dictionary") {
			rows := exported(t, out, e["table"])
			missing := 0
			for _, r := range rows {
				v, ok := r[e["column"]]
				if !ok {
					t.Fatalf("the dictionary has %s.%s, the table has not", e["table"], e["column"])
				}
				if v == "" {
					missing++
				}
			}
			if e["missing"] != fmt.Sprint(missing) || e["rows"] != fmt.Sprint(len(rows)) || e["meaning"] == "" || e["type"] == "" || e["how it was made"] == "" {
				t.Errorf("%v: %d of %d missing", e, missing, len(rows))
			}
			told[e["table"]+"."+e["column"]] = true
		}
		for _, name := range ingest.Tables() {
			for h := range exported(t, out, name)[0] {
				if !told[name+"."+h] {
					t.Errorf("%s.%s is not in the dictionary", name, h)
				}
			}
		}
		if !told["sockets.own.first_definitive"] || told["sockets.cast_by"] || told["visits.time"] {
			t.Error("the columns are not those wanted")
		}
	}
}

// Read again as a log, the data set gives the same curves, counts and models.
func TestExportIsALog(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, statusDone)
	plybook(t, dir, "export", "demo/research.md").want(t, statusDone)
	asks := "```ask\nid: km\nmethod: kaplan-meier\nkeep: {kind: definitive}\nby: cast_method\ntimes: [1y]\n%s```\n\n" +
		"```ask\nid: ci\nmethod: cumulative-incidence\nkeep: {kind: definitive}\ntimes: [1y]\n%[1]s```\n\n" +
		"```ask\nid: comfort\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply, days_since_delivery]\n```\n\n" +
		"```ask\nid: fit\nmethod: summary\nrows: sockets\ncolumns: [first_fit, volume_ml, ply_at_delivery]\n```\n"
	write := func(name, front, entry string) numbersFile {
		text := "---\ntitle: A\n" + front + "---\n\n" + fmt.Sprintf(asks, entry)
		if err := os.WriteFile(filepath.Join(dir, name+".md"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		plybook(t, dir, "run", name+".md").want(t, statusDone)
		var n numbersFile
		readJSON(t, filepath.Join(dir, name+"-report", "numbers.json"), &n)
		return n
	}
	first := write("first", "log: [demo/log/*.xlsx]\nto: 2026-06-30\nlog_since: 2023-07-01\n", "")
	again := write("again", "log: [demo/research-export/log.xlsx]\n", "entry: enters_after_days\n")
	for i, a := range first.Answers {
		b := again.Answers[i]
		if *a.Rows != *b.Rows || *a.Rows < 300 || (a.Events == nil) != (b.Events == nil) || a.Events != nil && *a.Events != *b.Events {
			t.Errorf("%s: %d rows, then %d", a.ID, *a.Rows, *b.Rows)
		}
		for name, rows := range a.Tables {
			if name == "follow_up" { // goes by the day of the data cut, which nobody's is
				continue
			}
			if len(rows) != len(b.Tables[name]) {
				t.Errorf("%s %s: %d rows, then %d", a.ID, name, len(rows), len(b.Tables[name]))
				continue
			}
			for j, row := range rows {
				for column, x := range row {
					y := b.Tables[name][j][column]
					p, ok1 := x.(float64)
					q, ok2 := y.(float64)
					if ok1 && ok2 {
						if diff := p - q; diff > 1e-9*max(1, p, -p) || -diff > 1e-9*max(1, p, -p) {
							t.Errorf("%s %s row %d %s: %v, then %v", a.ID, name, j, column, x, y)
						}
					} else if x != y {
						t.Errorf("%s %s row %d %s: %v, then %v", a.ID, name, j, column, x, y)
					}
				}
			}
		}
	}
}

func TestExportKeysAndRefusals(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, statusDone)
	key := filepath.Join(dir, "key.csv")
	plybook(t, dir, "export", "demo/research.md", "--keep-key", key).want(t, statusDone)
	folder := filepath.Join(dir, "demo", "research-export")
	first := exported(t, folder, "limbs")
	info, err := os.Stat(key)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v %v", info, err)
	}
	// The key leads back to the log.
	ofLimb := map[string]ingest.Limb{}
	for _, l := range exampleLog(t, dir).Limbs {
		ofLimb[l.Limb] = l
	}
	back := map[string]string{}
	for _, r := range exported(t, dir, "key") {
		back[r["code"]] = r["in the log"]
	}
	for _, l := range first {
		was := ofLimb[back[l["limb"]]]
		if was.Person == "" || was.Person != back[l["person"]] {
			t.Errorf("limb %s of %s: in the log %+v", l["limb"], l["person"], was)
		}
	}
	// Another export draws other codes.
	plybook(t, dir, "export", "demo/research.md", "--replace").want(t, statusDone)
	codes := map[string]bool{}
	for _, l := range first {
		codes[l["person"]], codes[l["limb"]] = true, true
	}
	same := 0
	for _, l := range exported(t, folder, "limbs") {
		if codes[l["person"]] || codes[l["limb"]] {
			same++
		}
	}
	if same > 2 { // of eight million codes hardly one comes twice
		t.Errorf("%d codes were drawn again", same)
	}
	before, err := os.ReadFile(filepath.Join(folder, "export.json"))
	if err != nil || !json.Valid(before) {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "mine"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "mine", "a.txt"), []byte("a"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		say  string
	}{
		{nil, "--replace writes over"},
		{[]string{"--replace", "--k", "1"}, "--k takes 2 or more"},
		{[]string{"--replace", "--keep-key", key}, "a key is never replaced"},
		{[]string{"--replace", "--keep-key", filepath.Join(folder, "key.csv")}, "must not stand in the folder"},
		{[]string{"--replace", "--own", "first_definitiv"}, "did you mean first_definitive"},
		{[]string{"--replace", "--leave-out", "sied"}, "did you mean side"},
		{[]string{"--replace", "--out", "mine"}, "files that are not"},
		{[]string{"--replace", "--log", "none.xlsx"}, "no file matches"},
		{[]string{"--replace", "--k", "1000"}, "nothing is left to export"},
	} {
		o := plybook(t, dir, append([]string{"export", "demo/research.md"}, c.args...)...).want(t, statusNothing)
		says(t, fmt.Sprint(c.args), o.err, c.say)
	}
	if after, err := os.ReadFile(filepath.Join(folder, "export.json")); err != nil || !bytes.Equal(before, after) {
		t.Errorf("a refused export changed the earlier one (%v)", err)
	}
	left, err := filepath.Glob(filepath.Join(dir, "demo", ".research-export*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
	// What is asked to be left out is nowhere, and the data set is still a log.
	plybook(t, dir, "export", "demo/research.md", "--out", "less", "--leave-out", "level", "--leave-out", "mass_kg", "--leave-out", "died_day").want(t, statusDone)
	if l := exported(t, filepath.Join(dir, "less"), "limbs")[0]; l["level"] != "withheld" || l["died_day"] != "" {
		t.Errorf("%v", l)
	}
	says(t, "inspect", plybook(t, dir, "inspect", "less/log.xlsx").want(t, statusDone).out, "limbs: 230 rows read, 230 used")
}
