package main

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"plybook/analysis/cohort"
	"plybook/ingest"
	"plybook/reports/manual"
	"plybook/reports/notebook"
)

// exampleOnce writes the example lab once for all tests of this package. The
// folder goes with the binary's own.
var exampleOnce = sync.OnceValues(func() (string, error) {
	dir := filepath.Join(filepath.Dir(binary), "lab")
	if out, err := exec.Command(binary, "example", dir).CombinedOutput(); err != nil {
		return "", fmt.Errorf("example: %w\n%s", err, out)
	}
	return dir, nil
})

// exampleLab is the folder of the example lab. Tests may put notebooks into
// it, but leave its log as it is.
func exampleLab(t testing.TB) string {
	t.Helper()
	dir, err := exampleOnce()
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// manualPage is a page that must be there.
func manualPage(t testing.TB, topic string) string {
	t.Helper()
	page, err := manual.Page(topic)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

func manualTopics(t testing.TB) []string {
	t.Helper()
	topics, err := manual.Topics()
	if err != nil {
		t.Fatal(err)
	}
	return topics
}

// fencesOf are the fenced blocks of a page with that word after the fence,
// fences included.
func fencesOf(page string, words ...string) []string {
	var out []string
	var block []string
	word := ""
	for _, line := range strings.Split(page, "\n") {
		switch {
		case word == "" && strings.HasPrefix(line, "```"):
			word, block = strings.TrimPrefix(line, "```"), []string{line}
		case word != "":
			block = append(block, line)
			if line == "```" {
				if slices.Contains(words, word) {
					out = append(out, strings.Join(block, "\n"))
				}
				word = ""
			}
		}
	}
	return out
}

func TestEveryMethodHasAPage(t *testing.T) {
	topics := manualTopics(t)
	for _, m := range notebook.Methods() {
		if !slices.Contains(topics, m) {
			t.Errorf("the manual has no page for %s", m)
			continue
		}
		page := manualPage(t, m)
		if asks := fencesOf(page, "ask"); !slices.ContainsFunc(asks, func(a string) bool { return strings.Contains(a, "\nmethod: "+m+"\n") }) {
			t.Errorf("the page of %s has no question of its own", m)
		}
		for _, k := range notebook.AcceptedKeys(m) {
			if !strings.Contains(page, "`"+k+"`") {
				t.Errorf("the page of %s does not say what `%s` is", m, k)
			}
		}
		for _, head := range []string{"\n## Reading it\n", "\n## What it takes for granted\n", "\n## Keys\n", "\n## References\n"} {
			if !strings.Contains(page, head) {
				t.Errorf("the page of %s has no heading %q", m, strings.TrimSpace(head))
			}
		}
	}
}

// Every question of the manual is answered from the example lab's log: one
// notebook for each page.
func TestQuestionsOfTheManual(t *testing.T) {
	lab := exampleLab(t)
	for _, topic := range manualTopics(t) {
		blocks := fencesOf(manualPage(t, topic), "ask", "decision")
		if len(blocks) == 0 {
			continue
		}
		t.Run(topic, func(t *testing.T) {
			t.Parallel()
			name := "manual-" + topic
			writeFile(t, filepath.Join(lab, name+".md"), "---\ntitle: The page "+topic+"\nlog: [log/*.xlsx]\nlog_since: 2023-07-01\n---\n\n"+strings.Join(blocks, "\n\n")+"\n")
			plybook(t, lab, "run", name+".md").want(t, statusDone)
			asks := fencesOf(strings.Join(blocks, "\n"), "ask")
			n := readNumbers(t, filepath.Join(lab, name+"-report"))
			if len(n.Answers) != len(asks) {
				t.Fatalf("%d questions, %d answers", len(asks), len(n.Answers))
			}
			for _, a := range n.Answers {
				switch {
				case a.Error != nil:
					t.Errorf("%s: %s", a.ID, a.Error.Text)
				case strings.TrimSpace(a.Reading) == "":
					t.Errorf("%s has no reading", a.ID)
				case a.Rows == nil || *a.Rows < 20:
					t.Errorf("%s rests on hardly any row; a better example is wanted", a.ID)
				case a.Question == "":
					t.Errorf("%s has no question in words", a.ID)
				}
			}
		})
	}
}

var (
	inlineCode = regexp.MustCompile("`[^`]+`")
	inBrackets = regexp.MustCompile(`\([^()]*\)`)
	keyOfCode  = regexp.MustCompile(`^\{?([a-z_]+):`)
)

// bulletHeads are the words in code before the colon of each item of a list.
func bulletHeads(text string) []string {
	var out []string
	items := strings.Split("\n"+text, "\n- ")
	for _, item := range items[1:] {
		head, _, _ := strings.Cut(inBrackets.ReplaceAllString(item, ""), ": ")
		for _, c := range inlineCode.FindAllString(head, -1) {
			out = append(out, strings.Trim(c, "`"))
		}
	}
	return out
}

// section is the text of a page under a heading of the second level.
func section(page, head string) string {
	_, text, _ := strings.Cut(page, "\n## "+head+"\n")
	text, _, _ = strings.Cut(text, "\n## ")
	return text
}

// faultOf is what the notebook says of a front matter or decision.
func faultOf(front, decision string) string {
	nb, err := notebook.Parse("x.md", []byte("---\ntitle: T\n"+front+"---\n\n"+decision))
	if err != nil {
		return err.Error()
	}
	for _, d := range nb.Decisions() {
		if d.Err != nil {
			return d.Err.Error()
		}
	}
	return ""
}

func isFrontKey(key string) bool {
	return !strings.Contains(faultOf(key+": x\n", ""), "has no key")
}

func isDecisionKey(key string) bool {
	return !strings.Contains(faultOf("", "```decision\non: 2026-03-02\nwhat: Measure again.\n"+key+": x\n```\n"), "has no key")
}

func TestManualUsesKeysThatExist(t *testing.T) {
	if isFrontKey("sorcery") || isDecisionKey("sorcery") || !isFrontKey("paper") || !isDecisionKey("who") {
		t.Fatal("this test cannot tell keys from other words")
	}
	known := map[string]bool{"any": true}
	for _, m := range notebook.Methods() {
		for _, k := range notebook.AcceptedKeys(m) {
			known[k] = true
		}
	}
	for _, table := range ingest.Tables() {
		for _, f := range ingest.Fields(table) {
			known[f.Name] = true
		}
	}
	for _, d := range cohort.Derived() {
		known[d.Name] = true
	}
	for _, topic := range manualTopics(t) {
		page := manualPage(t, topic)
		if keys := notebook.AcceptedKeys(topic); keys != nil {
			heads := bulletHeads(section(page, "Keys"))
			for _, h := range heads {
				if !slices.Contains(keys, h) {
					t.Errorf("the page of %s lists the key `%s`, which it does not take", topic, h)
				}
			}
			for _, k := range keys {
				if !slices.Contains(heads, k) {
					t.Errorf("the page of %s does not list the key `%s` under Keys", topic, k)
				}
			}
		}
		if topic == "words" {
			continue // its code is words of the log, some with colons
		}
		for _, c := range inlineCode.FindAllString(page, -1) {
			m := keyOfCode.FindStringSubmatch(strings.Trim(c, "`"))
			if m != nil && !known[m[1]] && !isFrontKey(m[1]) && !isDecisionKey(m[1]) && m[1] != "remake" {
				t.Errorf("%s: %s has a key that there is not", topic, c)
			}
		}
	}
	page := manualPage(t, "notebook")
	for _, part := range []struct {
		head string
		is   func(string) bool
		all  string // the fault that lists every key
	}{
		{"Front matter", isFrontKey, faultOf("sorcery: x\n", "")},
		{"Decisions", isDecisionKey, faultOf("", "```decision\non: 2026-03-02\nwhat: Measure again.\nsorcery: x\n```\n")},
	} {
		heads := bulletHeads(section(page, part.head))
		for _, h := range heads {
			if !part.is(h) {
				t.Errorf("%s of the page notebook lists `%s`, which is no key", part.head, h)
			}
		}
		_, list, ok := strings.Cut(part.all, "; ")
		if !ok {
			t.Fatalf("%q lists no keys", part.all)
		}
		for _, w := range regexp.MustCompile(`[a-z_]+`).FindAllString(list, -1) {
			if part.is(w) && !slices.Contains(heads, w) {
				t.Errorf("%s of the page notebook does not list `%s`", part.head, w)
			}
		}
	}
	// The front matter shown is one that can be used.
	for _, y := range fencesOf(page, "yaml") {
		text := strings.TrimSuffix(strings.TrimPrefix(y, "```yaml\n"), "```")
		if _, err := notebook.Parse("x.md", []byte(text)); err != nil {
			t.Error(err)
		}
	}
}

func TestManualCommand(t *testing.T) {
	list := plybook(t, t.TempDir(), "manual").want(t, statusDone)
	for _, topic := range manualTopics(t) {
		about, err := manual.About(topic)
		if err != nil {
			t.Error(err)
		}
		says(t, "the list of pages", list.out, topic, about)
	}
	one := plybook(t, t.TempDir(), "manual", "cox").want(t, statusDone)
	if one.out != manualPage(t, "cox") || one.err != "" {
		t.Errorf("the page printed is not the page:\n%s%s", one.out, one.err)
	}
	wrong := plybook(t, t.TempDir(), "manual", "coxs").want(t, statusNothing)
	says(t, "the error", wrong.err, `did you mean "cox"?`)
}
