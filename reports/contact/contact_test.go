package contact

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func folder(t *testing.T, dir string, figures map[string]string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(dir, "figures"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, svg := range figures {
		if err := os.WriteFile(filepath.Join(dir, "figures", name), []byte(svg), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestSheetTellsWhatHasChanged(t *testing.T) {
	top := t.TempDir()
	now := folder(t, filepath.Join(top, "now", "q-report"), map[string]string{
		"a.svg": "<svg>1</svg>", "b.svg": "<svg>2</svg>", "c.svg": "<svg>3</svg>", "a.png": "not read"})
	folder(t, filepath.Join(top, "before", "q-report"), map[string]string{
		"a.svg": "<svg>1</svg>", "b.svg": "<svg>0</svg>", "d.svg": "<svg>4</svg>"})
	got, err := Collect([]string{now}, filepath.Join(top, "before"))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]Change{"a": Same, "b": Altered, "c": New, "d": Gone}
	if len(got) != len(want) {
		t.Fatalf("%d figures, want %d", len(got), len(want))
	}
	for _, f := range got {
		if f.Change != want[f.Name] {
			t.Errorf("%s: %s, want %s", f.Name, f.Change, want[f.Name])
		}
	}
	var b bytes.Buffer
	if err := Sheet(&b, got); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	if n := strings.Count(html, ";base64,"); n != 5 {
		t.Errorf("%d pictures, want 5: one each but two of what has changed", n)
	}
	for _, want := range []string{"1 changed, 1 new, 1 gone, 1 as before", "q-report · <b>b</b> · changed"} {
		if !strings.Contains(html, want) {
			t.Errorf("the sheet does not say %q", want)
		}
	}
	for _, not := range []string{"http", "<script"} {
		if strings.Contains(html, not) {
			t.Errorf("the sheet holds %q", not)
		}
	}
}

func TestFolderWithoutFigures(t *testing.T) {
	if _, err := Collect([]string{t.TempDir()}, ""); err == nil {
		t.Error("no error for a folder that no run has written")
	}
	got, err := Collect([]string{folder(t, filepath.Join(t.TempDir(), "q"), map[string]string{"a.svg": "<svg/>"})}, t.TempDir())
	if err != nil || len(got) != 1 || got[0].Change != New {
		t.Errorf("a report that was not there before: %v, %v", got, err)
	}
}
