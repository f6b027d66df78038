package ingest

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"
)

// Every code of a problem has words for what it is and what to do.
func TestEveryKindHasWords(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "problem.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	ast.Inspect(file, func(node ast.Node) bool {
		spec, ok := node.(*ast.ValueSpec)
		if !ok || len(spec.Values) != 1 || !strings.HasPrefix(spec.Names[0].Name, "Code") {
			return true
		}
		lit, ok := spec.Values[0].(*ast.BasicLit)
		if !ok {
			return true
		}
		code, err := strconv.Unquote(lit.Value)
		if err != nil {
			t.Fatal(err)
		}
		n++
		if w := kindWords[code]; w[0] == "" || !strings.HasSuffix(w[1], ".") {
			t.Errorf("%s has no words in kindWords: %q", code, w)
		}
		return true
	})
	if n != len(kindWords) {
		t.Errorf("%d codes, words for %d", n, len(kindWords))
	}
}

// One socket set aside takes its visits with it: mending it gives them all
// back, and a row that stands twice gives nothing.
func TestWins(t *testing.T) {
	limbs := writeText(t, "limbs.csv", "person,limb,side,level\nP1,L1,L,BK\nP2,L2,R,BK\nP2,L2,R,BK\n")
	sockets := writeText(t, "sockets.csv", "socket,limb,kind,delivered,ended\nS1,L1,definitive,2024-02-01,2024-01-01\nS2,L2,definitive,2024-02-01,\n")
	visits := writeText(t, "visits.csv", "socket,date,comfort\nS1,2024-03-01,7\nS1,2024-04-01,7\nS2,nonsense,7\nS9,nonsense,7\nS2,2024-03-01,7\n")
	log := read(t, Options{}, limbs, sockets, visits)
	wins := Wins(log)
	var got []string
	for _, w := range wins {
		got = append(got, w.Table+"."+w.Column+" "+w.Code+" "+strconv.Itoa(w.Rows))
	}
	// S9 is not looked at once its date cannot be read.
	want := "sockets.ended ended-before-delivered 3; visits.date bad-date 2"
	if strings.Join(got, "; ") != want {
		t.Errorf("got %q, want %q", got, want)
	}
	kinds := ProblemKinds(log)
	if kinds[0].Code != CodeBadDate && kinds[0].Code != CodeReferenceAside || kinds[0].Rows != 2 {
		t.Errorf("worst: %+v", kinds[0])
	}
	for i, k := range kinds {
		if k.Code == CodeDuplicateRow && i == 0 {
			t.Error("a repeated row is not the worst")
		}
	}
}
