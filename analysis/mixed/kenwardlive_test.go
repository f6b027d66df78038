package mixed

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// R's lme4 and pbkrtest, run here on 36 random designs of 6 to 25 groups with
// one to nine rows each, in some of which a variance comes out as none.
// PLYBOOK_NEED_R makes it a failure that they are not there.
func TestKenwardRogerAgainstR(t *testing.T) {
	if exec.Command("Rscript", "-e", "library(pbkrtest)").Run() != nil {
		if os.Getenv("PLYBOOK_NEED_R") != "" {
			t.Fatal("R's pbkrtest is not there")
		}
		t.Skip("R's pbkrtest is not there")
	}
	path := filepath.Join(t.TempDir(), "designs.csv")
	call := exec.Command("Rscript", "kenwardlive.R", path)
	call.Dir = "testdata"
	text, err := call.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]kenwardWant
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	c := columns(t, path)
	x := [][]float64{floatsOf(t, c["t"]), floatsOf(t, c["a2"]), floatsOf(t, c["a3"]), floatsOf(t, c["w"])}
	y := floatsOf(t, c["y"])
	group, _ := labelled(c["group"])
	by, _ := labelled(c["by"])
	singular := 0
	for name, w := range want {
		d := Data{X: make([][]float64, len(x)), Names: []string{"t", "second", "third", "w"}, Intercept: true, RandomIntercept: true}
		kind, measurer := "", []int(nil)
		for i, set := range c["set"] {
			if set != name {
				continue
			}
			kind = c["kind"][i]
			d.Y, d.Group, measurer = append(d.Y, y[i]), append(d.Group, group[i]), append(measurer, by[i])
			for j := range x {
				d.X[j] = append(d.X[j], x[j][i])
			}
		}
		switch kind {
		case "slope", "apart":
			d.Z, d.ZNames = d.X[:1], d.Names[:1]
		case "crossed":
			d.Crossed = []Level{{Name: "measurer", Labels: measurer}}
		}
		m, err := Fit(d, Options{Freedom: KenwardRoger, Uncorrelated: kind == "apart"})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if m.Singular {
			singular++
		}
		for j, b := range m.Coef {
			lsqtest.Close(t, name+" error of "+b.Name, b.SE, w.SE[j], 1e-6)
			lsqtest.Close(t, name+" degrees of freedom of "+b.Name, b.DF, w.DF[j], 1e-6)
		}
		for _, e := range w.Tests {
			rows := make([][]float64, len(e.At))
			for k, at := range e.At {
				rows[k] = make([]float64, len(m.Coef))
				rows[k][at] = 1
			}
			f, err := m.FTest(rows)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			lsqtest.Close(t, name+" F", f.Statistic, e.F, 2e-6)
			lsqtest.Close(t, name+" degrees of freedom of F", f.DF2, e.DDF, 1e-6)
			lsqtest.Close(t, name+" factor of F", f.Scale, e.Scale, 1e-6)
		}
	}
	if len(want) < 33 || singular < 3 {
		t.Errorf("%d designs, %d of them with a variance of none", len(want), singular)
	}
}
