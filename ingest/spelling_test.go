package ingest

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWordsOfTheLabsOwn(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	limbs := write("limbs.csv", "person,limb,side,level\nP1,P1-L,left,transtibial\n")
	sockets := write("sockets.csv", "socket,limb,kind,cast_method,site,delivered\n"+
		"S1,P1-L,definitive,vacuum,Ward 1,2024-01-01\n"+
		"S2,P1-L,definitive,Vacuum,Ward 2,2024-02-01\n"+
		"S3,P1-L,definitive,vacuum,Ward 1,2024-03-01\n"+
		"S4,P1-L,definitive,vaccum,Ward 2,2024-04-01\n"+
		"S5,P1-L,definitive,hand-cast,Ward 1,2024-05-01\n"+
		"S6,P1-L,definitive,Hand cast,Ward 1,2024-06-01\n"+
		"S7,P1-L,definitive,hand-cast,Ward 1,2024-07-01\n")
	log, err := Read(context.Background(), []string{limbs, sockets}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, s := range log.Sockets {
		got = append(got, s.CastMethod)
	}
	if want := "vacuum vacuum vacuum vaccum hand-cast hand-cast hand-cast"; strings.Join(got, " ") != want {
		t.Errorf("cast methods %q, want %q", got, want)
	}
	told := map[string]string{}
	for _, p := range log.Problems {
		if p.Code == CodeSpelling {
			told[p.Cell] = p.Text
			if p.Done != Kept {
				t.Errorf("%s: %v, want kept", p.Cell, p.Done)
			}
		}
	}
	for cell, words := range map[string]string{"D3": `"Vacuum" was read as "vacuum"`, "D5": `"vaccum" stands beside "vacuum"`, "D7": `"Hand cast" was read as "hand-cast"`} {
		if !strings.Contains(told[cell], words) {
			t.Errorf("%s: %q lacks %q", cell, told[cell], words)
		}
	}
	if len(told) != 3 {
		t.Errorf("wards told apart by a number must not be asked about: %v", told)
	}
}
