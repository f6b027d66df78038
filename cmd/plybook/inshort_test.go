package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plybook/reports/words"
)

// meetingAnswers are the answers of a report as numbers.json has them.
type meetingAnswers struct {
	Answers []struct {
		ID, Question, Method, Reading string
		Cautions                      []struct{ Text string }
	}
}

// inBrief are the parts of a reading that the printed report in short must
// have: of a chart where its line is, of curves of groups how they differ, of
// models the first difference, of others the first two sentences.
func inBrief(method, reading string) []string {
	switch {
	case method == "control-chart":
		_, level, _ := strings.Cut(reading, "centre line ") // "is at", or "its centre line at"
		level = "the centre line is " + words.FirstSentences(strings.TrimPrefix(level, "is "), 1)
		_, noise, _ := strings.Cut(reading, "More than noise: ")
		return []string{level, noise}
	case method == "kaplan-meier" && strings.Contains(reading, "In the group "):
		return []string{words.FirstSentences(reading[strings.LastIndex(reading, "Within "):], 1)}
	case method == "cox", method == "fine-gray", method == "linear", method == "mixed": // then what they rest on
		return []string{words.FirstSentences(reading, 1)}
	}
	return []string{words.FirstSentences(reading, 2)}
}

var pagesOf = regexp.MustCompile(`Pages:\s+(\d)\n`)

// The report for the meeting is short on either paper: at most four pages,
// with every question, its answer, its cautions and what was decided.
func TestMeetingReport(t *testing.T) {
	t.Parallel()
	text, ok := popplerTool(t, "pdftotext")
	if !ok {
		return
	}
	info, ok := popplerTool(t, "pdfinfo")
	if !ok {
		return
	}
	lab := exampleLab(t)
	src, err := os.ReadFile(filepath.Join(lab, "quality.md"))
	if err != nil {
		t.Fatal(err)
	}
	for paper, size := range map[string]string{"a4": "595.28 x 841.89", "letter": "612 x 792"} {
		dir := t.TempDir()
		nb := filepath.Join(dir, "meeting.md")
		head := strings.Replace(string(src), "log: [log/*.xlsx]", "paper: "+paper+"\nlog: ["+filepath.ToSlash(lab)+"/log/*.xlsx]", 1)
		if err := os.WriteFile(nb, []byte(head), 0o600); err != nil {
			t.Fatal(err)
		}
		plybook(t, dir, "run", nb).want(t, statusDone)
		report := filepath.Join(dir, "meeting-report", "report.pdf")
		about, err := exec.Command(info, report).Output()
		if err != nil {
			t.Fatal(err)
		}
		n := pagesOf.FindSubmatch(about)
		if n == nil || n[1][0] > '4' || !strings.Contains(string(about), size) {
			t.Errorf("on %s, at most four pages of %s are wanted:\n%s", paper, size, about)
		}
		got, err := exec.Command(text, "-enc", "UTF-8", report, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		// Columns are read one after another, whatever a line holds: words are
		// sought by questions, answers by their letters.
		printed := letters(string(got))
		var doc meetingAnswers
		b, err := os.ReadFile(filepath.Join(dir, "meeting-report", "numbers.json"))
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &doc); err != nil {
			t.Fatal(err)
		}
		if len(doc.Answers) < 8 {
			t.Fatalf("%d answers", len(doc.Answers))
		}
		for _, a := range doc.Answers {
			for _, want := range append(inBrief(a.Method, a.Reading), a.Question) {
				if !strings.Contains(printed, letters(want)) {
					t.Errorf("on %s the report lacks of %s: %q", paper, a.ID, want)
				}
			}
			for _, c := range a.Cautions {
				if !strings.Contains(printed, letters(c.Text)) {
					t.Errorf("on %s the report lacks of %s the caution %q", paper, a.ID, c.Text)
				}
			}
		}
		for _, want := range []string{"To decide", "Since then: ", "In full. report.html has", "numbers.xlsx has", "not a diagnosis"} {
			if !strings.Contains(printed, letters(want)) {
				t.Errorf("on %s the report lacks %q", paper, want)
			}
		}
		page, err := os.ReadFile(filepath.Join(dir, "meeting-report", "report.html"))
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range doc.Answers {
			if !strings.Contains(letters(string(page)), letters(strings.NewReplacer("&", "&amp;", "'", "&#39;").Replace(a.Reading))) {
				t.Errorf("the page for the screen lacks the reading of %s", a.ID)
			}
		}
		first, err := os.ReadFile(report)
		if err != nil {
			t.Fatal(err)
		}
		plybook(t, dir, "run", nb).want(t, statusDone)
		if again, err := os.ReadFile(report); err != nil || !bytes.Equal(first, again) {
			t.Errorf("on %s two runs gave other bytes (%v)", paper, err)
		}
	}
}

// The form of print is refused by name where it is none, and both forms can
// be asked of any audience.
func TestPrintIsChosen(t *testing.T) {
	t.Parallel()
	info, ok := popplerTool(t, "pdfinfo")
	if !ok {
		return
	}
	lab := exampleLab(t)
	src, err := os.ReadFile(filepath.Join(lab, "quality.md"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	run := func(print string) outcome {
		t.Helper()
		head := strings.Replace(string(src), "log: [log/*.xlsx]", print+"log: ["+filepath.ToSlash(lab)+"/log/*.xlsx]", 1)
		if err := os.WriteFile(filepath.Join(dir, "chosen.md"), []byte(head), 0o600); err != nil {
			t.Fatal(err)
		}
		return plybook(t, dir, "run", "chosen.md")
	}
	o := run("print: brief\n").want(t, statusNothing)
	if !strings.Contains(o.err, "chosen.md:5:8") || !strings.Contains(o.err, "`print` cannot be \"brief\"") || !strings.Contains(o.err, "short") {
		t.Errorf("%q", o.err)
	}
	run("print: full\n").want(t, statusDone)
	about, err := exec.Command(info, filepath.Join(dir, "chosen-report", "report.pdf")).Output()
	if err != nil {
		t.Fatal(err)
	}
	if !regexp.MustCompile(`Pages:\s+1\d\n`).Match(about) {
		t.Errorf("printed in full:\n%s", about)
	}
	b, err := os.ReadFile(filepath.Join(dir, "chosen-report", "run.json"))
	if err != nil || !bytes.Contains(b, []byte(`"print": "full"`)) {
		t.Errorf("run.json does not say how the report was printed (%v)", err)
	}
}
