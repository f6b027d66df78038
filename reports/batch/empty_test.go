package batch

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plybook/ingest"
)

// book writes a notebook beside a log of text tables and returns its path.
func book(t *testing.T, notebook string, log map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "log"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range log {
		if err := os.WriteFile(filepath.Join(dir, "log", name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dir, "n.md")
	if err := os.WriteFile(path, []byte(notebook), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

var headsOnly = map[string]string{"limbs.csv": "person,limb,side,level\n", "sockets.csv": "socket,limb,kind,delivered\n"}

func TestALogWithoutRows(t *testing.T) {
	path := book(t, "---\ntitle: Empty\nlog: [log/*.csv]\n---\n\n```ask\nid: lives\nmethod: kaplan-meier\n```\n\n```ask\nid: rows\nmethod: flow\n```\n", headsOnly)
	res, err := Run(context.Background(), Options{Notebook: path, Release: "test"})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Failed) != 1 || res.Failed[0].ID != "lives" || res.Failed[0].Error.Code != "no-rows" {
		t.Errorf("failed: %+v", res.Failed)
	}
	doc, _ := reportOf(t, path)
	text := documentText(doc)
	if strings.Contains(text, "1970") || !strings.Contains(text, "nothing in the log is dated") {
		t.Errorf("the data cut of a log without dates: %s", text)
	}
	var rec struct {
		Settings struct{ Today *string }
	}
	b, err := os.ReadFile(filepath.Join(res.Folder, "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &rec); err != nil || rec.Settings.Today != nil {
		t.Errorf("today in run.json: %v %v", rec.Settings.Today, err)
	}
}

func TestTheSameInputsGiveTheSameBytes(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "log"), 0o700); err != nil {
		t.Fatal(err)
	}
	namedLog(t, filepath.Join(dir, "log"))
	path := filepath.Join(dir, "report.md")
	if err := os.WriteFile(path, []byte(pryingNotebook("annual")), 0o600); err != nil {
		t.Fatal(err)
	}
	var folders []string
	for _, out := range []string{"one", "two"} {
		res, err := Run(context.Background(), Options{Notebook: path, Out: filepath.Join(dir, out), Release: "test"})
		if err != nil {
			t.Fatal(err)
		}
		folders = append(folders, res.Folder)
	}
	for _, name := range []string{"report.pdf", "report.html", "numbers.json", "numbers.xlsx", "run.json"} {
		a, err1 := os.ReadFile(filepath.Join(folders[0], name))
		b, err2 := os.ReadFile(filepath.Join(folders[1], name))
		if err1 != nil || err2 != nil || !bytes.Equal(a, b) {
			t.Errorf("%s differs from run to run (%v, %v)", name, err1, err2)
		}
	}
}

func TestNothingIsWrittenWhereNothingCanBe(t *testing.T) {
	log := map[string]string{"limbs.csv": "person,limb,side,level\nP1,P1L,left,TT\n", "sockets.csv": "socket,limb,kind,delivered\nS1,P1L,definitive,2024-01-01\n"}
	codes := "kind,value,code\nperson,P9,P-22222\n"
	for _, c := range []struct {
		name, notebook string
		log            map[string]string
		want           error
	}{
		{"no front matter", "Prose.\n", log, ErrNotebook},
		{"no log named", "---\ntitle: t\n---\n", log, ErrNotebook},
		{"no file there", "---\nlog: [lag/*.csv]\n---\n", log, ErrLog},
		{"no table there", "---\nlog: [log/*.csv]\n---\n", map[string]string{"other.csv": "a,b\n1,2\n"}, ErrLog},
		{"codes that lack somebody", "---\nlog: [log/*.csv]\n---\n", with(log, ingest.CodesFile, codes), ErrLog},
		{"codes that are none", "---\nlog: [log/*.csv]\n---\n", with(log, ingest.CodesFile, "who\n"), ErrLog},
	} {
		path := book(t, c.notebook, c.log)
		if _, err := Run(context.Background(), Options{Notebook: path, Release: "test"}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
		left, err := os.ReadDir(filepath.Dir(path))
		if err != nil || len(left) != 2 {
			t.Errorf("%s: %d entries beside the notebook (%v)", c.name, len(left), err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	path := book(t, "---\nlog: [log/*.csv]\n---\n", log)
	if _, err := Run(ctx, Options{Notebook: path, Release: "test"}); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
}

func with(log map[string]string, name, text string) map[string]string {
	out := map[string]string{name: text}
	for k, v := range log {
		out[k] = v
	}
	return out
}
