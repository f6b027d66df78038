package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// elsewhere are the places under reports that write numbers by themselves,
// none of which is an estimate in print.
var elsewhere = map[string]string{
	"answer/groups.go":    "a group of a column of numbers bears the number itself",
	"answer/reduction.go": "a key of a map",
	"example":             "the invented log and its coverage",
	"export":              "a data set, for programs",
	"figure/limbkey.go":   "a mark of a key",
	"html/figure.go":      "a place on the page",
	"internal/specimen":   "a specimen of type",
	"manual/fill.go":      "a bound that the code has, as it has it",
	"notebook/forming.go": "a key of a map",
	"notebook/values.go":  "a value of the notebook",
	"numbers":             "full precision, for programs",
	"pdf":                 "a place on the page",
	"study/convert.go":    "plies as the log has them",
	"vector":              "a place on the page",
	"words":               "here",
}

// TestNoOtherRounding looks through the sources under reports: no other
// package makes decimals.
func TestNoOtherRounding(t *testing.T) {
	verb := regexp.MustCompile(`%[-+ 0-9]*(\.[0-9*]+)?[efgEFG]\b|%[-+ ]*[0-9]*\.[0-9*]+v`)
	used := map[string]bool{}
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		name := filepath.ToSlash(strings.TrimPrefix(path, ".."+string(filepath.Separator)))
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			what := ""
			switch n := n.(type) {
			case *ast.BasicLit:
				if n.Kind == token.STRING && verb.MatchString(n.Value) && !strings.Contains(n.Value, "(?") {
					what = n.Value
				}
			case *ast.SelectorExpr:
				if n.Sel.Name == "FormatFloat" || n.Sel.Name == "AppendFloat" {
					what = n.Sel.Name
				}
			}
			if what == "" {
				return true
			}
			for place := range elsewhere {
				if name == place || strings.HasPrefix(name, place+"/") {
					used[place] = true
					return true
				}
			}
			t.Errorf("%s: %s: numbers are made into print by package words alone", name, what)
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	var idle []string
	for place := range elsewhere {
		if !used[place] {
			idle = append(idle, place)
		}
	}
	slices.Sort(idle)
	for _, place := range idle {
		t.Errorf("%s makes no numbers into text: take it off the list", place)
	}
}
