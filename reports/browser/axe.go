package browser

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha512"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The rules that pages are held to: axe-core, as the registry of npm has it,
// with its sum of SHA-512 there. It is fetched when the tests run, kept in the
// user's cache folder, and no part of what is built.
const (
	axeVersion = "4.14.1"
	axeSum     = "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ=="
)

// Rules gives the script of axe-core. Where PLYBOOK_NEED_BROWSER is set, it
// fails the test that they cannot be had; elsewhere it skips it.
func Rules(t *testing.T) string {
	t.Helper()
	script, err := rules(t.TempDir())
	if err != nil {
		if os.Getenv("PLYBOOK_NEED_BROWSER") != "" {
			t.Fatalf("axe-core is needed: %v", err)
		}
		t.Skipf("axe-core cannot be had; the pages are not held to its rules: %v", err)
	}
	return script
}

func rules(temp string) (string, error) {
	name := "axe-core-" + axeVersion + ".tgz"
	cache, err := os.UserCacheDir()
	if err != nil {
		cache = temp
	}
	kept := filepath.Join(cache, "plybook", name)
	pack, err := os.ReadFile(kept)
	if err != nil || sum(pack) != axeSum {
		cmd := exec.Command("npm", "pack", "--silent", "--ignore-scripts", "--pack-destination", temp, "axe-core@"+axeVersion)
		cmd.Dir = temp
		if out, err := cmd.CombinedOutput(); err != nil {
			return "", fmt.Errorf("npm pack: %w\n%s", err, out)
		}
		if pack, err = os.ReadFile(filepath.Join(temp, name)); err != nil {
			return "", err
		}
		if got := sum(pack); got != axeSum {
			return "", fmt.Errorf("%s has the sum %s, want %s", name, got, axeSum)
		}
		// Keeping it saves the next fetch; the test goes on without.
		if os.MkdirAll(filepath.Dir(kept), 0o700) == nil {
			_ = os.WriteFile(kept, pack, 0o600)
		}
	}
	z, err := gzip.NewReader(bytes.NewReader(pack))
	if err != nil {
		return "", err
	}
	r := tar.NewReader(z)
	for {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return "", fmt.Errorf("%s holds no axe.min.js", name)
		}
		if err != nil {
			return "", err
		}
		if h.Name == "package/axe.min.js" {
			script, err := io.ReadAll(r)
			return string(script), err
		}
	}
}

func sum(data []byte) string {
	s := sha512.Sum512(data)
	return base64.StdEncoding.EncodeToString(s[:])
}

// Violation is a rule that a page breaks, and where.
type Violation struct {
	ID     string
	Impact string
	Help   string
	Nodes  []struct {
		HTML    string
		Summary string `json:"failureSummary"`
	}
}

func (v Violation) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s): %s, %d places", v.ID, v.Impact, v.Help, len(v.Nodes))
	for i, n := range v.Nodes {
		if i == 3 {
			break
		}
		fmt.Fprintf(&b, "\n  %.200s\n  %s", n.HTML, n.Summary)
	}
	return b.String()
}

// Violations holds an open page to the rules and returns those it breaks. It
// says in how many places rules were met, so that a run that looked at
// nothing is no praise.
func (p *Page) Violations(t *testing.T, rules string) (broken []Violation, met int) {
	t.Helper()
	p.Run(t, rules+"\n;0", nil)
	var out string
	p.Run(t, `axe.run(document,{resultTypes:["violations","passes"]}).then(r=>JSON.stringify({violations:r.violations,met:r.passes.reduce((n,x)=>n+x.nodes.length,0)}))`, &out)
	var got struct {
		Violations []Violation
		Met        int
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	return got.Violations, got.Met
}
