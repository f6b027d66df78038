package main

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
	"plybook/reports/example"
	"plybook/reports/notebook"
)

// commandsOf are the commands that the help lists.
func commandsOf(t *testing.T) []string {
	t.Helper()
	help := plybook(t, t.TempDir(), "--help").want(t, statusDone).out
	_, list, ok := strings.Cut(help, "Available Commands:\n")
	if !ok {
		t.Fatalf("no commands:\n%s", help)
	}
	list, _, _ = strings.Cut(list, "\n\n")
	var out []string
	for _, line := range strings.Split(list, "\n") {
		f := strings.Fields(line)
		if len(f) < 3 {
			t.Errorf("the command %q is not explained", line)
			continue
		}
		out = append(out, f[0])
	}
	return out
}

func TestHelpOfEachCommand(t *testing.T) {
	commands := commandsOf(t)
	for _, want := range []string{"blank", "example", "inspect", "manual", "run"} {
		if !slices.Contains(commands, want) {
			t.Errorf("there is no command %s", want)
		}
	}
	placeholder := regexp.MustCompile(`(?i)%!|\{\{|<no value>|\bTODO\b|\bFIXME\b|lorem|\bxxx\b|not implemented`)
	for _, args := range append([][]string{{}}, each(commands)...) {
		help := plybook(t, t.TempDir(), append(args, "--help")...).want(t, statusDone)
		name := "plybook " + strings.Join(args, " ")
		if help.err != "" {
			t.Errorf("%s --help writes to the error stream: %s", name, help.err)
		}
		if m := placeholder.FindString(help.out); m != "" {
			t.Errorf("%s --help holds %q", name, m)
		}
		says(t, name+" --help", help.out, "Usage:\n  plybook")
		for _, line := range strings.Split(help.out, "\n") {
			if len([]rune(line)) > 110 {
				t.Errorf("%s --help has a line of %d characters: %s", name, len([]rune(line)), line)
			}
		}
		own := len(args) == 1 && args[0] != "help" && args[0] != "completion"
		if own && !strings.Contains(help.out, "Examples:\n  plybook "+args[0]) {
			t.Errorf("%s --help gives no example", name)
		}
	}
	// `help run` and `run --help` are the same page.
	if a, b := plybook(t, t.TempDir(), "help", "run").out, plybook(t, t.TempDir(), "run", "--help").out; a != b {
		t.Errorf("two helps of run:\n%s\n%s", a, b)
	}
}

func each(words []string) [][]string {
	var out [][]string
	for _, w := range words {
		out = append(out, []string{w})
	}
	return out
}

// Every flag in the text of a help is a flag of that command, and every
// command named there is one.
func TestHelpNamesWhatThereIs(t *testing.T) {
	commands := commandsOf(t)
	call := regexp.MustCompile(`(?m)(?:^|\s)plybook ([a-z]+)`)
	flag := regexp.MustCompile(`--[a-z][a-z-]*`)
	for _, c := range append([]string{""}, commands...) {
		args := []string{"--help"}
		if c != "" {
			args = []string{c, "--help"}
		}
		text := plybook(t, t.TempDir(), args...).out
		for _, m := range call.FindAllStringSubmatch(text, -1) {
			if !slices.Contains(commands, m[1]) && m[1] != "reads" && m[1] != "for" {
				t.Errorf("the help of %q names plybook %s, which there is not", c, m[1])
			}
		}
		if c == "help" || c == "completion" {
			continue
		}
		_, flags, _ := strings.Cut(text, "\nFlags:\n")
		for _, f := range flag.FindAllString(text, -1) {
			if !strings.Contains(flags, f) {
				t.Errorf("the help of %q names %s, which is not among its flags", c, f)
			}
		}
	}
}

func TestVersion(t *testing.T) {
	got := plybook(t, t.TempDir(), "--version").want(t, statusDone)
	if !regexp.MustCompile(`^plybook \d+\.\d+\.\d+(\+\S+)?\n$`).MatchString(got.out) || got.err != "" {
		t.Errorf("version %q %q", got.out, got.err)
	}
}

func TestCompletion(t *testing.T) {
	dir := t.TempDir()
	script := plybook(t, dir, "completion", "bash").want(t, statusDone).out
	says(t, "the script", script, "# bash completion", "__start_plybook")
	writeFile(t, filepath.Join(dir, "plybook.bash"), script)
	if bash, err := exec.LookPath("bash"); err == nil {
		if out, err := exec.Command(bash, "-n", filepath.Join(dir, "plybook.bash")).CombinedOutput(); err != nil {
			t.Errorf("bash cannot read the script: %v\n%s", err, out)
		}
	}
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{""}, append(commandsOf(t), "")},
		{[]string{"manual", "co"}, []string{"columns", "control-chart", "cox"}},
		{[]string{"run", "--s"}, []string{"--strict"}},
		{[]string{"run", ""}, []string{"md"}}, // the ending of notebooks
		{[]string{"inspect", ""}, []string{"xlsx", "csv"}},
	} {
		got := plybook(t, dir, append([]string{"__complete"}, c.args...)...).want(t, statusDone)
		for _, w := range c.want {
			if !strings.Contains("\n"+got.out, "\n"+w) {
				t.Errorf("%q is not completed to %q:\n%s", c.args, w, got.out)
			}
		}
	}
}

// What is typed wrong is answered on the error stream with status 2, with
// nothing on the other stream.
func TestWrongUse(t *testing.T) {
	dir := t.TempDir()
	writeFile(t, filepath.Join(dir, "a.md"), "---\ntitle: T\nlog: [log.xlsx]\n---\n")
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"rnu"}, []string{`unknown command "rnu"`, "run"}},
		{[]string{"inspct", "log.xlsx"}, []string{"inspect"}},
		{[]string{"run"}, []string{"a notebook", "plybook run --help"}},
		{[]string{"inspect"}, []string{"log", "plybook inspect --help"}},
		{[]string{"blank"}, []string{"file", "plybook blank --help"}},
		{[]string{"example"}, []string{"folder", "plybook example --help"}},
		{[]string{"blank", "a.xlsx", "b.xlsx"}, []string{"one file"}},
		{[]string{"example", "a", "b"}, []string{"one folder"}},
		{[]string{"manual", "cox", "flow"}, []string{"one page"}},
		{[]string{"run", "--stict", "a.md"}, []string{"--stict", "--strict"}},
		{[]string{"run", "a.md", "a.md", "--out", "x"}, []string{"--out"}},
		{[]string{"run", "b.md"}, []string{"b.md"}},
		{[]string{"run", "a.md"}, []string{"log.xlsx"}},
		{[]string{"inspect", "none.xlsx"}, []string{"none.xlsx"}},
		{[]string{"inspect", "codes.csv"}, []string{"inspect itself wrote"}},
	} {
		got := plybook(t, dir, c.args...).want(t, statusNothing)
		if got.out != "" {
			t.Errorf("%q writes %q", c.args, got.out)
		}
		if !strings.HasPrefix(got.err, "plybook: ") {
			t.Errorf("%q: the error does not begin with the command: %s", c.args, got.err)
		}
		says(t, strings.Join(c.args, " "), got.err, c.want...)
	}
	if _, err := os.Stat(filepath.Join(dir, "a-report")); err == nil {
		t.Error("a report was begun all the same")
	}
}

func TestBlank(t *testing.T) {
	dir := t.TempDir()
	plybook(t, dir, "blank", "my-log.xlsx").want(t, statusDone)
	path := filepath.Join(dir, "my-log.xlsx")
	before := sumOf(t, path)
	again := plybook(t, dir, "blank", "my-log.xlsx").want(t, statusNothing)
	says(t, "the error", again.err, "my-log.xlsx", "exists")
	if sumOf(t, path) != before {
		t.Error("the file was written over")
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("%d files, %v", len(entries), err)
	}
	// It is a log: empty, and without a problem.
	seen := plybook(t, dir, "inspect", "--no-marked-copy", "--no-codes", "my-log.xlsx").want(t, statusDone)
	for _, table := range ingest.Tables() {
		says(t, "inspect", seen.out, "my-log.xlsx:"+table+": 0 rows read, 0 used, 0 set aside")
	}
	if strings.Contains(seen.out, "!") {
		t.Errorf("an empty log has problems:\n%s", seen.out)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("inspect wrote what it was told not to: %d files, %v", len(entries), err)
	}
}

// A blank log of some tables, and one started from the example's log: both
// read back without a problem.
func TestBlankOptions(t *testing.T) {
	dir, files := copyLog(t)
	plybook(t, dir, "blank", "--tables", "findings,visits", "some.xlsx").want(t, statusDone)
	seen := plybook(t, dir, "inspect", "--no-marked-copy", "--no-codes", "some.xlsx").want(t, statusDone)
	says(t, "inspect", seen.out, "some.xlsx:visits: 0 rows read", "some.xlsx:findings: 0 rows read")
	if strings.Contains(seen.out, "sockets") || strings.Contains(seen.out, "!") {
		t.Errorf("more than was asked for:\n%s", seen.out)
	}
	got := plybook(t, dir, "blank", "--from", strings.Join(files, ","), "next.xlsx").want(t, statusDone)
	says(t, "blank", got.out, "filled in")
	info, err := os.Stat(filepath.Join(dir, "next.xlsx"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info, err)
	}
	seen = plybook(t, dir, "inspect", "--no-marked-copy", "--no-codes", "next.xlsx").want(t, statusDone)
	m := regexp.MustCompile(`next.xlsx:sockets: (\d+) rows read, (\d+) used, 0 set aside; 0 values`).FindStringSubmatch(seen.out)
	if m == nil || m[1] != m[2] || m[1] == "0" || strings.Contains(seen.out, "!") {
		t.Errorf("the log that was started reads so:\n%s", seen.out)
	}
	bad := plybook(t, dir, "blank", "--tables", "visit", "x.xlsx").want(t, statusNothing)
	says(t, "the error", bad.err, `no table "visit"`, `"visits"`)
	bad = plybook(t, dir, "blank", "--tables", "sockets", "--from", files[0], "x.xlsx").want(t, statusNothing)
	says(t, "the error", bad.err, "limbs")
	writeFile(t, filepath.Join(dir, "limbs.csv"), "person,side,level\nAnna Berg,left,BK\n")
	bad = plybook(t, dir, "blank", "--from", "limbs.csv", "x.xlsx").want(t, statusNothing)
	says(t, "the error", bad.err, "codes only")
	if _, err := os.Stat(filepath.Join(dir, "x.xlsx")); err == nil {
		t.Error("a file was written all the same")
	}
}

func sumOf(t testing.TB, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%x", sha256.Sum256(b))
}

// copyLog copies the example's log, so that inspect may write beside it.
func copyLog(t testing.TB) (dir string, files []string) {
	t.Helper()
	dir = t.TempDir()
	from, err := filepath.Glob(filepath.Join(exampleLab(t), "log", "*.xlsx"))
	if err != nil || len(from) == 0 {
		t.Fatal(len(from), err)
	}
	for _, f := range from {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		name := "log/" + filepath.Base(f)
		writeFile(t, filepath.Join(dir, name), string(b))
		files = append(files, name)
	}
	return dir, files
}

// sentences are how inspect words each kind of fault planted in the example.
var sentences = map[example.Defect]string{
	example.UnknownSocket: "is not in the table sockets", example.UnknownVisit: "is not in the table visits", example.BadDate: "is not a date",
	example.FarDate: "lies decades outside the log", example.BadComfort: "is outside 0 to 10", example.BadGirth: "cannot be",
	example.BadPly: "turned the ply into a date", example.EndedEarly: "before it was delivered", example.BeforeBirth: "before the year of birth",
	example.TwoEveryday: "are both worn?", example.DiedOpen: "ends at death", example.UnknownReason: "is not a known reason for the end",
	example.DuplicateRow: "identical in every field", example.DuplicateID: "with other values", example.UnknownWord: "is not a known cause",
	example.IdentifyingEntry: "never used or printed",
}

func TestInspect(t *testing.T) {
	dir, files := copyLog(t)
	before := map[string]string{}
	for _, f := range files {
		before[f] = sumOf(t, filepath.Join(dir, f))
	}
	first := plybook(t, dir, append([]string{"inspect"}, files...)...).want(t, statusDone)
	if first.err != "" {
		t.Errorf("error stream: %s", first.err)
	}
	for _, f := range files {
		if sumOf(t, filepath.Join(dir, f)) != before[f] {
			t.Errorf("%s was changed", f)
		}
	}
	made := []string{"log/codes.csv", "log/problems-found.csv", "log/problems-found.xlsx"}
	list, err := os.ReadFile(filepath.Join(dir, "log", "problems-found.csv"))
	if err != nil {
		t.Fatal(err)
	}
	comments := map[string]string{} // file:sheet!cell -> comment
	for _, f := range files {
		copied := strings.TrimSuffix(f, ".xlsx") + "-marked.xlsx"
		made = append(made, copied)
		for where, text := range commentsOf(t, filepath.Join(dir, copied)) {
			comments[f+":"+where] = text
		}
	}
	for _, f := range made {
		info, err := os.Stat(filepath.Join(dir, f))
		if err != nil {
			t.Error(err)
			continue
		}
		if runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s can be read by others: %v", f, info.Mode())
		}
		says(t, "inspect", first.out, f+": the ")
	}
	if all := reportFiles(t, filepath.Join(dir, "log")); len(all) != len(files)+len(made) {
		t.Errorf("%d files beside the log, want %d", len(all), len(files)+len(made))
	}
	kinds := map[example.Defect]bool{}
	for _, p := range example.Plant(example.Seed) {
		kinds[p.What] = true
		row := p.Row
		if p.What == example.IdentifyingEntry {
			row = 1 // the column as a whole is flagged, at its header
		}
		where := "log/" + p.File + ":" + p.Sheet + "!" + cellAt(t, p.Col, row)
		if p.What == example.TwoEveryday {
			// The question is asked at one of the two and names the other.
			named := regexp.MustCompile(fmt.Sprintf(`(?m)^log/%s:%s!([A-Z]+\d+): .*\([A-Z]+%d\) .*are both worn\?`, regexp.QuoteMeta(p.File), p.Sheet, p.Row))
			m := named.FindStringSubmatch(first.out)
			if m == nil && !regexp.MustCompile(fmt.Sprintf(`![A-Z]+%d: .*are both worn\?`, p.Row)).MatchString(first.out) {
				t.Errorf("%s at %s is not asked about", p.What, where)
			}
			if m == nil {
				continue
			}
			where = "log/" + p.File + ":" + p.Sheet + "!" + m[1]
		}
		if !regexp.MustCompile("(?m)^" + regexp.QuoteMeta(where+": ") + ".*" + regexp.QuoteMeta(sentences[p.What])).MatchString(first.out) {
			t.Errorf("%s is not listed at %s with %q", p.What, where, sentences[p.What])
		}
		if !strings.Contains(string(list), sentences[p.What]) {
			t.Errorf("%s is not in the list that was written", p.What)
		}
		if !strings.Contains(comments[where], sentences[p.What]) {
			t.Errorf("%s: the comment at %s is %q", p.What, where, comments[where])
		}
	}
	if len(kinds) != len(sentences) {
		t.Errorf("%d kinds of fault were planted, %d are known here", len(kinds), len(sentences))
	}
	if m := regexp.MustCompile(`555-01\d\d`).FindString(first.out); m != "" {
		t.Errorf("the telephone number %s is shown", m)
	}
	if regexp.MustCompile(`set aside \((?:row|value)`).MatchString(first.out) {
		t.Error("a line says twice what was done")
	}

	// Once more, with everything that now lies beside the log.
	sums := map[string]string{}
	for _, f := range made {
		sums[f] = sumOf(t, filepath.Join(dir, f))
	}
	second := plybook(t, dir, append([]string{"inspect"}, append(append([]string(nil), files...), made...)...)...).want(t, statusDone)
	if second.out != first.out {
		t.Error("a second look says something else")
	}
	for _, f := range made {
		if sumOf(t, filepath.Join(dir, f)) != sums[f] {
			t.Errorf("a second look changed %s", f)
		}
	}
	if all := reportFiles(t, filepath.Join(dir, "log")); len(all) != len(files)+len(made) {
		t.Errorf("%d files after the second look, want %d", len(all), len(files)+len(made))
	}
}

func cellAt(t testing.TB, col, row int) string {
	t.Helper()
	cell, err := excelize.CoordinatesToCellName(col, row)
	if err != nil {
		t.Fatal(err)
	}
	return cell
}

// commentsOf are the comments of a workbook by sheet!cell.
func commentsOf(t testing.TB, path string) map[string]string {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out := map[string]string{}
	for _, s := range f.GetSheetList() {
		list, err := f.GetComments(s)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range list {
			text := c.Text
			for _, p := range c.Paragraph {
				text += p.Text
			}
			out[s+"!"+c.Cell] += text
		}
	}
	return out
}

// namedLog writes a log whose persons, sockets and staff go by names. All are
// invented.
func namedLog(t testing.TB, dir string) (names []string) {
	t.Helper()
	people := []string{"Wenda Orrick", "Tolly Marsk", "Fenna Quibell", "Osgood Lunt", "Prisk Hathery", "Dorrit Vael", "Ambry Scole", "Jessop Thrale"}
	staff := []string{"Ildred Pask", "Corin Wether"}
	limbs, sockets, visits := "person,side,level\n", "socket,limb,kind,delivered\n", "socket,date,purpose,ply,comfort,seen_by\n"
	for i, p := range people {
		_, last, _ := strings.Cut(p, " ")
		names = append(names, p, last)
		limbs += p + ",left,transtibial\n"
		sockets += fmt.Sprintf("%s 1,%s,definitive,2024-01-%02d\n", last, p, 3+i)
		for k := range 5 {
			visits += fmt.Sprintf("%s 1,2024-%02d-%02d,follow-up,%d,%d,%s\n", last, 2+k, 4+i, 1+k+(i*k+i)%3, 9-(i+k)%4, staff[(i+k)%2])
		}
	}
	for _, s := range staff {
		_, last, _ := strings.Cut(s, " ")
		names = append(names, s, last)
	}
	visits += "Orrick 9,2024-03-03,follow-up,3,7," + staff[0] + "\nMarsk 1,2024-09-09,follow-up,3,12," + staff[1] + "\n"
	writeFile(t, filepath.Join(dir, "log", "limbs.csv"), limbs)
	writeFile(t, filepath.Join(dir, "log", "sockets.csv"), sockets)
	writeFile(t, filepath.Join(dir, "log", "visits.csv"), visits)
	return names
}

// everythingIn is all text of a report folder, by file: the members of
// workbooks unpacked, the PDF read where pdftotext is installed.
func everythingIn(t testing.TB, folder string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for name, b := range reportFiles(t, folder) {
		out[name] = string(b)
		switch filepath.Ext(name) {
		case ".xlsx":
			z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range z.File {
				r, err := m.Open()
				if err != nil {
					t.Fatal(err)
				}
				text, err := io.ReadAll(r)
				if err != nil {
					t.Fatal(err)
				}
				out[name+"/"+m.Name] = string(text)
			}
		case ".pdf":
			if tool, ok := popplerTool(t, "pdftotext"); ok {
				text, err := exec.Command(tool, filepath.Join(folder, filepath.FromSlash(name)), "-").Output()
				if err != nil {
					t.Fatal(err)
				}
				out[name+"/text"] = string(text)
			}
		}
	}
	return out
}

const askOfLimbs = "---\ntitle: Ply of each limb\naudience: quality\nlog: [log/*.csv]\n---\n\n" +
	"```ask\nid: ply\nquestion: How does ply rise?\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\n```\n\n" +
	"```ask\nid: staff\nquestion: Who saw whom?\nmethod: pareto\nrows: visits\nby: seen_by\n```\n"

func TestCodesTakeThePlaceOfNames(t *testing.T) {
	dir := t.TempDir()
	names := namedLog(t, dir)
	writeFile(t, filepath.Join(dir, "a.md"), askOfLimbs)
	absent := func(when, out string) {
		t.Helper()
		for file, text := range everythingIn(t, filepath.Join(dir, "a-report")) {
			for _, n := range names {
				if strings.Contains(text, n) {
					t.Errorf("%s: %s holds the name %q", when, file, n)
				}
			}
		}
		for _, n := range names {
			if strings.Contains(out, n) {
				t.Errorf("%s: the terminal shows the name %q:\n%s", when, n, out)
			}
		}
	}

	// Without codes nobody is listed, and staff cannot be asked about.
	got := plybook(t, dir, "run", "a.md").want(t, statusAskFailed)
	absent("before inspect", got.out+got.err)
	n := readNumbers(t, filepath.Join(dir, "a-report"))
	ply := n.answer(t, "ply")
	if ply.Error != nil || len(ply.Tables["limbs"]) != 0 || !ply.caution("limbs-hidden") {
		t.Errorf("limbs are listed under their names: %+v", ply)
	}
	if e := n.answer(t, "staff").Error; e == nil || e.Code != "staff-hidden" {
		t.Errorf("staff are counted by name: %+v", e)
	}

	seen := plybook(t, dir, "inspect", "log/limbs.csv", "log/sockets.csv", "log/visits.csv").want(t, statusDone)
	for _, name := range names {
		if strings.Contains(seen.out+seen.err, name) {
			t.Errorf("inspect shows the name %q on the terminal:\n%s", name, seen.out)
		}
	}
	file, err := os.Open(filepath.Join(dir, "log", "codes.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	key, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	codes := map[string]string{}
	for _, row := range key[1:] {
		codes[row[2]] = row[0]
	}

	got = plybook(t, dir, "run", "a.md").want(t, statusDone)
	absent("with codes", got.out+got.err)
	n = readNumbers(t, filepath.Join(dir, "a-report"))
	ply = n.answer(t, "ply")
	listed := map[string]bool{}
	for _, row := range ply.Tables["limbs"] {
		code, _ := row["group"].(string)
		listed[code] = true
		if codes[strings.TrimSuffix(code, "-L")] != "person" {
			t.Errorf("the limb %q is not called by a code of codes.csv", code)
		}
	}
	if len(listed) != 8 || ply.caution("limbs-hidden") {
		t.Errorf("%d limbs are listed, want 8", len(listed))
	}
	bars := n.answer(t, "staff").Tables["bars"]
	if len(bars) != 2 {
		t.Errorf("%d members of staff, want 2", len(bars))
	}
	for _, row := range bars {
		if code, _ := row["category"].(string); codes[code] != "staff" {
			t.Errorf("the staff member %q is not called by a code of codes.csv", code)
		}
	}

	// Somebody new has no code yet: nothing is written until inspect has run.
	f, err := os.OpenFile(filepath.Join(dir, "log", "limbs.csv"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString("Bevis Ankerly,right,transtibial\n"); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	got = plybook(t, dir, "run", "a.md").want(t, statusNothing)
	says(t, "the error", got.err, "inspect")
	if strings.Contains(got.err, "Ankerly") {
		t.Errorf("the error shows a name: %s", got.err)
	}
}

// codeBlocks are the indented blocks of a page, without their indentation.
func codeBlocks(page string) []string {
	var out []string
	var block []string
	for _, line := range append(strings.Split(page, "\n"), "") {
		switch {
		case strings.HasPrefix(line, "    "):
			block = append(block, strings.TrimPrefix(line, "    "))
		case line == "" && len(block) > 0 && block[0] == "---":
			block = append(block, "") // a notebook has blank lines
		case len(block) > 0:
			out = append(out, strings.TrimSpace(strings.Join(block, "\n"))+"\n")
			block = nil
		}
	}
	if len(block) > 0 {
		out = append(out, strings.TrimSpace(strings.Join(block, "\n"))+"\n")
	}
	return out
}

func readme(t testing.TB) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The first command of the README does what the README says.
func TestReadmeTryIt(t *testing.T) {
	_, text, ok := strings.Cut(readme(t), "\n## Try it\n")
	if !ok {
		t.Fatal("the README has no Try it")
	}
	blocks := codeBlocks(text)
	dir := t.TempDir()
	ran := 0
	for _, command := range strings.Split(strings.TrimSpace(blocks[0]), " && ") {
		args, ok := strings.CutPrefix(command, "go run ./cmd/plybook ")
		if !ok {
			t.Fatalf("%q is not a call of the command", command)
		}
		plybook(t, dir, strings.Fields(args)...).want(t, statusDone)
		ran++
	}
	if ran != 2 {
		t.Errorf("%d commands, want 2", ran)
	}
	report := reportFiles(t, filepath.Join(dir, "demo", "quality-report"))
	for _, row := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\| ").FindAllStringSubmatch(section(readme(t), "What comes out"), -1) {
		name := row[1]
		found := false
		for f := range report {
			found = found || f == name || strings.HasSuffix(name, "/") && strings.HasPrefix(f, name)
		}
		if !found {
			t.Errorf("the README promises %s, which the run did not write", name)
		}
	}
	for _, m := range regexp.MustCompile("`demo/([a-z]+\\.md)`").FindAllStringSubmatch(text, -1) {
		if _, err := os.Stat(filepath.Join(dir, "demo", m[1])); err != nil {
			t.Errorf("the README names demo/%s: %v", m[1], err)
		}
	}
}

// The README's notebook can be read, its commands exist, and its table lists
// the methods there are.
func TestReadmeIsTrue(t *testing.T) {
	page := readme(t)
	commands := commandsOf(t)
	for _, m := range regexp.MustCompile("(?:`|    )plybook ([a-z]+)").FindAllStringSubmatch(page, -1) {
		if !slices.Contains(commands, m[1]) {
			t.Errorf("the README names plybook %s, which there is not", m[1])
		}
	}
	books := 0
	for _, b := range codeBlocks(page) {
		if !strings.HasPrefix(b, "---\n") {
			continue
		}
		books++
		nb, err := notebook.Parse("readme.md", []byte(b))
		if err != nil {
			t.Fatal(err)
		}
		if len(nb.Asks()) == 0 || len(nb.Decisions()) == 0 {
			t.Error("the notebook of the README has no question or no decision")
		}
		for _, a := range nb.Asks() {
			if a.Err != nil {
				t.Error(a.Err)
			}
		}
		for _, d := range nb.Decisions() {
			if d.Err != nil {
				t.Error(d.Err)
			}
		}
	}
	if books != 1 {
		t.Errorf("%d notebooks in the README, want 1", books)
	}
	var listed []string
	for _, row := range regexp.MustCompile("(?m)^\\| (`[^|]+`) \\| ").FindAllStringSubmatch(section(page, "A notebook"), -1) {
		for _, m := range inlineCode.FindAllString(row[1], -1) {
			listed = append(listed, strings.Trim(m, "`"))
		}
	}
	for _, m := range notebook.Methods() {
		if !slices.Contains(listed, m) {
			t.Errorf("the README does not list the method %s", m)
		}
	}
	for _, m := range listed {
		if notebook.AcceptedKeys(m) == nil {
			t.Errorf("the README lists the method %s, which there is not", m)
		}
	}
	for _, m := range regexp.MustCompile(`\]\(([^)]+)\)`).FindAllStringSubmatch(page, -1) {
		if strings.Contains(m[1], "://") {
			continue
		}
		if _, err := os.Stat(filepath.Join("..", "..", filepath.FromSlash(m[1]))); err != nil {
			t.Errorf("the README leads to %s: %v", m[1], err)
		}
	}
}

// A flow with any key of a socket's life shows the steps of the lives; with
// other rows such a key is refused and not passed over.
func TestFlowReadsTheKeysOfLives(t *testing.T) {
	keys := []string{"event: remake", "event: [died]", "event: {ply: 10..}\nseen_as_exact: yes", "start: delivered", "end: ended", "entry: delivered", "landmark: 30d"}
	text := "---\ntitle: Flow\nlog: [log/*.xlsx]\n---\n\n" + ask("id: plain", "method: flow") + ask("id: visits", "method: flow", "rows: visits")
	for i, k := range keys {
		text += ask(fmt.Sprintf("id: sockets-%d", i), "method: flow", k) + ask(fmt.Sprintf("id: visits-%d", i), "method: flow", "rows: visits", k)
	}
	lab := exampleLab(t)
	writeFile(t, filepath.Join(lab, "flows.md"), text)
	plybook(t, lab, "run", "flows.md").want(t, statusAskFailed)
	n := readNumbers(t, filepath.Join(lab, "flows-report"))
	if e := n.answer(t, "visits").Error; e != nil {
		t.Errorf("visits: %s", e.Text)
	}
	plain := n.answer(t, "plain").table(t, "steps")
	for i, k := range keys {
		got := n.answer(t, fmt.Sprintf("sockets-%d", i))
		if got.Error != nil || len(got.table(t, "steps")) <= len(plain) {
			t.Errorf("%s adds no step: %+v", k, got)
		}
		name, _, _ := strings.Cut(k, ":")
		if e := n.answer(t, fmt.Sprintf("visits-%d", i)).Error; e == nil || !strings.Contains(e.Text, "`"+name+"` belongs to the lives of sockets") || e.Line == 0 {
			t.Errorf("visits with %s: %+v", k, e)
		}
	}
}

// The reading of a chart names the level since the decision that started a
// new phase and the one before, and claims no quiet where runs could not be
// judged.
func TestChartReadingNamesBothPhases(t *testing.T) {
	lab := exampleLab(t)
	text := "---\ntitle: Phases\nlog: [log/*.xlsx]\nlog_since: 2023-07-01\n---\n\n" + strings.Join(fencesOf(manualPage(t, "control-chart"), "ask", "decision")[:2], "\n\n") + "\n"
	writeFile(t, filepath.Join(lab, "phases.md"), text)
	plybook(t, lab, "run", "phases.md").want(t, statusDone)
	a := readNumbers(t, filepath.Join(lab, "phases-report")).answer(t, "first-fit")
	phases := a.table(t, "phases")
	if len(phases) != 2 {
		t.Fatalf("%d phases, want 2", len(phases))
	}
	says(t, "the reading", a.Reading, fmt.Sprintf("since %v, and was at ", phases[1]["from"]), "too few points to judge runs")
	for _, p := range phases {
		says(t, "the reading", a.Reading, fmt.Sprintf("%.1f%%", 100*p["centre"].(float64)))
	}
}
