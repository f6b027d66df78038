package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plybook/reports/words/wordstest"
)

// popplerTool finds one of the poppler utilities. Where PLYBOOK_NEED_POPPLER
// is set, as on the machine that judges a change, it must be there; elsewhere
// its absence ends the test, and the structural tests of the writer stand in.
func popplerTool(t testing.TB, name string) (string, bool) {
	t.Helper()
	tool, err := exec.LookPath(name)
	if err == nil {
		return tool, true
	}
	if os.Getenv("PLYBOOK_NEED_POPPLER") != "" {
		t.Fatalf("%s is needed: install the poppler utilities", name)
	}
	t.Logf("%s is not installed; the printed pages are not read back", name)
	return "", false
}

// quotedKeys are keys of a question that a caution quotes.
var quotedKeys = regexp.MustCompile("`[^`]*`")

// What is printed can be read back: every reading and every caution stands in
// the text of the PDF, has no fault of language, and every font is embedded.
func TestPrintedReportReadsBack(t *testing.T) {
	t.Parallel()
	text, ok := popplerTool(t, "pdftotext")
	if !ok {
		return
	}
	fonts, ok := popplerTool(t, "pdffonts")
	if !ok {
		return
	}
	lab := exampleLab(t)
	for _, name := range []string{"workshop", "research", "annual"} {
		out := filepath.Join(t.TempDir(), name)
		plybook(t, lab, "run", name+".md", "--out", out).want(t, statusDone)
		got, err := exec.Command(text, "-enc", "UTF-8", filepath.Join(out, "report.pdf"), "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		printed := letters(string(got))
		b, err := os.ReadFile(filepath.Join(out, "numbers.json"))
		if err != nil {
			t.Fatal(err)
		}
		var doc struct {
			Answers []struct {
				ID, Reading string
				Cautions    []struct{ Text string }
			}
		}
		if err := json.Unmarshal(b, &doc); err != nil {
			t.Fatal(err)
		}
		if len(doc.Answers) == 0 {
			t.Fatalf("%s has no answers", name)
		}
		for _, a := range doc.Answers {
			for _, fault := range wordstest.ProseFaults(a.Reading) {
				t.Errorf("%s %s, reading: %s: %s", name, a.ID, fault, a.Reading)
			}
			for _, c := range a.Cautions {
				for _, fault := range wordstest.ProseFaults(quotedKeys.ReplaceAllString(c.Text, "Q")) {
					t.Errorf("%s %s, caution: %s: %s", name, a.ID, fault, c.Text)
				}
			}
			// A page may end within a reading: its sentences are sought one by one.
			for _, s := range strings.SplitAfter(a.Reading, ". ") {
				if !printsAcross(printed, letters(s)) {
					t.Errorf("%s %s: the PDF lacks the sentence %q", name, a.ID, s)
				}
			}
			for _, c := range a.Cautions {
				if first, _, _ := strings.Cut(c.Text, ". "); !strings.Contains(printed, letters(first)) {
					t.Errorf("%s %s: the PDF lacks the caution %q", name, a.ID, first)
				}
			}
		}
		listed, err := exec.Command(fonts, filepath.Join(out, "report.pdf")).Output()
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSpace(string(listed)), "\n")
		if len(lines) < 4 {
			t.Errorf("%s: pdffonts lists too few fonts:\n%s", name, listed)
		}
		for _, l := range lines[2:] {
			f := strings.Fields(l)
			// From the end: emb, sub, uni, object, generation.
			if len(f) < 6 || f[len(f)-5] != "yes" || f[len(f)-3] != "yes" {
				t.Errorf("%s: a font is not embedded or has no characters: %s", name, l)
			}
		}
	}
}

// letters is a text without its spaces, line ends and soft hyphens.
// printsAcross says whether a sentence is printed, in one piece or parted once
// by the end of a page.
func printsAcross(printed, sentence string) bool {
	if strings.Contains(printed, sentence) {
		return true
	}
	for k := range sentence {
		if k > 0 && strings.Contains(printed, sentence[k:]) {
			at := strings.Index(printed, sentence[k:])
			before := strings.LastIndex(printed[:at], sentence[:k])
			return before >= 0 && at-before < k+400 // the foot of one page and the head of the next
		}
	}
	return false
}

func letters(s string) string {
	return strings.NewReplacer("\u00ad", "", "\u00a0", "", "\u202f", "").Replace(strings.Join(strings.Fields(s), ""))
}
