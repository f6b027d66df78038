package ingest

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestLooksLikeCode(t *testing.T) {
	for _, good := range [][]string{{"P001", "P002"}, {"007"}, {"A-12", "A-13"}, {"P014-L"}, {"limb 3"}, {"T1", "B"}, {"12.4"}, {"P-RMCYH", "P-GHJKM-L", "K-2F4GK"}} {
		if !LooksLikeCode(good) {
			t.Errorf("%q is no code", good)
		}
	}
	for _, bad := range [][]string{nil, {""}, {"P001", "Anna Berg"}, {"Berg"}, {"JB"}, {"Smith2"}, {"1234567"}, {"2024-0153777"}, {"a@b.org"}, {"P0000000000001"}, {"12/03/1950"}, {"P-Smith"}, {"P-RMCY"}, {"Q-RMCYH"}} {
		if LooksLikeCode(bad) {
			t.Errorf("%q is taken for codes", bad)
		}
	}
}

func TestCodesAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "codes.csv")
	first, err := loadOrMake(path, []string{"Test Person", "Other Body"}, []string{"JB"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info, err)
	}
	if len(first.Person) != 2 || len(first.Staff) != 1 || first.Person["Test Person"] == first.Person["Other Body"] || !strings.HasPrefix(first.Staff["JB"], "S-") {
		t.Errorf("%+v", first)
	}
	before, _ := os.ReadFile(path)
	again, err := loadOrMake(path, []string{"Other Body"}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(first, again); diff != "" {
		t.Error(diff)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the file was rewritten without need")
	}
	more, err := loadOrMake(path, []string{"Third One", "Test Person", "", "Third One"}, nil, nil)
	if err != nil || len(more.Person) != 3 || more.Person["Test Person"] != first.Person["Test Person"] {
		t.Errorf("%+v %v", more, err)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := loadOrMake(path, nil, nil, nil); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Error("the file stayed open to others")
	}
}

// The same values get other codes from other random bytes: nothing of the
// value is in the code.
func TestCodesComeFromRandomBytesAlone(t *testing.T) {
	stream := func(b byte) *bytes.Reader {
		data := make([]byte, 64)
		for i := range data {
			data[i] = b + byte(i)
		}
		return bytes.NewReader(data)
	}
	draw := func(values []string, b byte) map[string]string {
		codes, err := loadOrMake(filepath.Join(t.TempDir(), "codes.csv"), values, nil, stream(b))
		if err != nil {
			t.Fatal(err)
		}
		return codes.Person
	}
	a, b, c := draw([]string{"x"}, 0), draw([]string{"x"}, 9), draw([]string{"y"}, 0)
	if a["x"] == b["x"] || a["x"] != c["y"] {
		t.Errorf("%v %v %v", a, b, c)
	}
	if _, err := loadOrMake(filepath.Join(t.TempDir(), "codes.csv"), []string{"x"}, nil, bytes.NewReader(nil)); err == nil {
		t.Error("an exhausted source gives no error")
	}
}

func TestDamagedCodesAreLeftAlone(t *testing.T) {
	for _, text := range []string{"", "name,code\n", "kind,value,code\nperson,x\n", "kind,value,code\nrobot,x,P-1\n", "kind,value,code\nperson,x,P-1\nperson,y,P-1\n", "kind,value,code\nperson,,P-1\n"} {
		path := writeText(t, "codes.csv", text)
		if _, err := loadOrMake(path, []string{"z"}, nil, nil); err == nil {
			t.Errorf("%q was accepted", text)
		}
		if after, _ := os.ReadFile(path); string(after) != text {
			t.Errorf("%q was changed", text)
		}
	}
}

// loadOrMake reads a file of codes, adds codes for persons and staff who have
// none, and keeps it.
func loadOrMake(path string, persons, staff []string, random io.Reader) (Codes, error) {
	c, err := OpenCodes(path, random)
	if err != nil {
		return Codes{}, err
	}
	if err := c.Add(persons, staff); err != nil {
		return Codes{}, err
	}
	return *c.Codes(), c.Save(path)
}
