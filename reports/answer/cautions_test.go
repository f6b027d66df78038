package answer_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"sort"
	"strings"
	"testing"
)

// Every caution of the survival methods stands here with an ask that must
// raise it and one that must not; a caution that the code can raise and that
// is missing here is a failure.

// question is an ask of a log.
type question struct {
	log        sheets
	front, ask string
}

func askOf(log sheets, ask string) question { return question{log, quality, ask} }

func askIn(log sheets, front, ask string) question { return question{log, quality + "\n" + front, ask} }

func askPublic(log sheets, ask string) question { return question{log, "audience: annual", ask} }

// raised is a caution, when it must stand and when it must not.
type raised struct {
	group, code string
	on, off     question
}

// survivalFiles says of which group the cautions of a file are, by the
// beginning of its name.
var survivalFiles = []struct{ prefix, group string }{
	{"kaplanmeier", "kaplan-meier"}, {"km", "kaplan-meier"},
	{"incidence", "cumulative-incidence"}, {"gray", "cumulative-incidence"},
	{"meancumulative", "mean-cumulative"}, {"turnbull", "turnbull"},
	{"cox", "cox"}, {"finegray", "fine-gray"}, {"parametric", "parametric"},
	{"samplesize", "sample-size"}, {"watch", "watch"}, {"followup", "follow-up"},
	{"lives", "lives"}, {"livecautions", "lives"}, {"groups", "lives"}, {"condition", "lives"}, {"public", "lives"},
	{"model", "models"}, {"contrasts", "models"}, {"adjusted", "models"}, {"curves", "models"}, {"safety", "safety"},
	{"lineardiagnostics", "linear"}, // the same cautions as cox has
}

// notSurvival are cautions in shared files that no survival method raises.
var notSurvival = map[string]string{
	"safety shop": "about the rows of the table forming",
}

// outOfReach are cautions against what has not been seen to happen.
var outOfReach = map[string]string{
	"kaplan-meier no-trend": "groups at risk together differ in rank, so that a trend can be tested wherever the groups can be compared",
}

// cautionsInCode are the codes that the code can raise, by group.
func cautionsInCode(t *testing.T) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	each := func(pattern string, see func(file string, call *ast.CallExpr), lit func(file string, c *ast.CompositeLit)) {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, f := range files {
			if strings.HasSuffix(f, "_test.go") {
				continue
			}
			tree, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(tree, func(n ast.Node) bool {
				switch x := n.(type) {
				case *ast.CallExpr:
					see(filepath.Base(f), x)
				case *ast.CompositeLit:
					lit(filepath.Base(f), x)
				}
				return true
			})
		}
	}
	text := func(e ast.Expr) string {
		if l, ok := e.(*ast.BasicLit); ok && l.Kind == token.STRING {
			return strings.Trim(l.Value, `"`)
		}
		return ""
	}
	group := func(file string) string {
		for _, g := range survivalFiles {
			if strings.HasPrefix(file, g.prefix) {
				return g.group
			}
		}
		return ""
	}
	each("*.go", func(file string, c *ast.CallExpr) {
		s, ok := c.Fun.(*ast.SelectorExpr)
		g := group(file)
		switch {
		case !ok || g == "":
		case s.Sel.Name == "tailCaution":
			out[g+" tail"] = true
		case s.Sel.Name == "caution" && text(c.Args[0]) != "":
			out[g+" "+text(c.Args[0])] = true
		}
	}, func(string, *ast.CompositeLit) {})
	// The mathematics warn too, and the answers pass it on.
	each("../../analysis/survival/*.go", func(string, *ast.CallExpr) {}, func(_ string, c *ast.CompositeLit) {
		s, ok := c.Type.(*ast.SelectorExpr)
		if !ok || s.Sel.Name != "Warning" {
			return
		}
		for _, e := range c.Elts {
			if kv, ok := e.(*ast.KeyValueExpr); ok && text(kv.Value) != "" {
				if k, ok := kv.Key.(*ast.Ident); ok && k.Name == "Code" {
					out["mathematics "+text(kv.Value)] = true
				}
			}
		}
	})
	// One whose code is chosen before it is raised.
	out["kaplan-meier competing"], out["kaplan-meier ended-otherwise"] = true, true
	return out
}

func allRaised() []raised {
	var out []raised
	for _, part := range [][]raised{curveCautions(), lookedCautions(), lifeCautionPairs(), coxCautions(), modelCautionPairs(), planCautionPairs(), followUpCautions()} {
		out = append(out, part...)
	}
	return out
}

func TestEverySurvivalCautionStandsInTheTable(t *testing.T) {
	have := map[string]bool{}
	for _, r := range allRaised() {
		key := r.group + " " + r.code
		if have[key] {
			t.Errorf("%s stands twice", key)
		}
		have[key] = true
	}
	code := cautionsInCode(t)
	var missing []string
	for key := range code {
		if !have[key] && notSurvival[key] == "" && outOfReach[key] == "" {
			missing = append(missing, key)
		}
	}
	sort.Strings(missing)
	if len(missing) > 0 {
		t.Errorf("%d cautions have no pair of asks: %s", len(missing), strings.Join(missing, ", "))
	}
	for _, m := range []map[string]bool{have, keysOf(notSurvival), keysOf(outOfReach)} {
		for key := range m {
			if !code[key] {
				t.Errorf("%s is no caution that the code can raise", key)
			}
		}
	}
	if len(code) < 100 {
		t.Errorf("only %d cautions were found in the code", len(code))
	}
}

func keysOf(m map[string]string) map[string]bool {
	out := map[string]bool{}
	for k := range m {
		out[k] = true
	}
	return out
}

func TestSurvivalCautionsStandWhereTheyShould(t *testing.T) {
	if testing.Short() {
		t.Skip("asks some 200 questions")
	}
	for _, r := range allRaised() {
		t.Run(r.group+" "+r.code, func(t *testing.T) {
			t.Parallel()
			for _, c := range []struct {
				question
				stands bool
			}{{r.on, true}, {r.off, false}} {
				a := answersOnce(t, readLog(t, c.log), nil, c.front, "id: q\n"+c.ask)["q"]
				if a.Error != nil {
					t.Fatalf("%s\n%s", a.Error.Text, c.ask)
				}
				if text := caution(a, r.code); (text != "") != c.stands {
					t.Errorf("stands is %v; must be %v: %s\n%s\n%v", text != "", c.stands, text, c.ask, a.Cautions)
				}
			}
		})
	}
}

// lines changes the lines of a table, each with its number from 0, the
// header being line -1.
func (s sheets) lines(table string, change func(i int, line string) string) sheets {
	out := strings.Split(strings.TrimSpace(s[table]), "\n")
	for i, l := range out {
		out[i] = change(i-1, l)
	}
	return s.with(table, strings.Join(out, "\n"))
}
