package rtest

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// Answers are what R made of some sets.
type Answers map[int]map[string]Answer

// An Answer is some numbers, NaN where R has none, or why the call failed.
type Answer struct {
	Values  []float64
	Refused string
}

// Ask has R answer for sets, all in one process that runs script, which is
// where compare.R lies. Where R or one of its packages is not installed ok is
// false, unless need says that they must be.
func Ask(t testing.TB, need bool, script string, sets []*Set) (a Answers, ok bool) {
	t.Helper()
	missing := func(why string) (Answers, bool) {
		t.Helper()
		if need {
			t.Fatal(why + ": install r-base-core, r-cran-survival and r-cran-cmprsk")
		}
		t.Log(why + "; nothing is compared with R")
		return nil, false
	}
	tool, err := exec.LookPath("Rscript")
	if err != nil {
		return missing("Rscript is not installed")
	}
	ctx := context.Background()
	if exec.CommandContext(ctx, tool, "-e", "stopifnot(requireNamespace('survival'), requireNamespace('cmprsk'))").Run() != nil {
		return missing("R lacks survival or cmprsk")
	}
	var in, out, complaints bytes.Buffer
	if err := Write(&in, sets); err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(ctx, tool, "--vanilla", script)
	c.Stdin, c.Stdout, c.Stderr = &in, &out, &complaints
	if err := c.Run(); err != nil {
		t.Fatalf("R: %v\n%s", err, complaints.String())
	}
	if a, err = read(&out); err != nil {
		t.Fatal(err)
	}
	for _, s := range sets {
		if len(a[s.Index]) == 0 {
			t.Fatalf("R has no answer for set %d", s.Index)
		}
		if why := a[s.Index]["failed"].Refused; why != "" {
			t.Fatalf("R: set %d: %s", s.Index, why)
		}
	}
	return a, true
}

func read(out *bytes.Buffer) (Answers, error) {
	a := Answers{}
	lines := bufio.NewScanner(out)
	lines.Buffer(nil, 1<<24)
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		if len(f) < 2 {
			return nil, fmt.Errorf("the answer of R has the line %q", lines.Text())
		}
		set, err := strconv.Atoi(f[0])
		if err != nil {
			return nil, fmt.Errorf("the answer of R has the line %q", lines.Text())
		}
		if a[set] == nil {
			a[set] = map[string]Answer{}
		}
		if len(f) > 2 && f[2] == "!" {
			a[set][f[1]] = Answer{Refused: strings.Join(f[3:], " ")}
			continue
		}
		values := make([]float64, len(f)-2)
		for k, x := range f[2:] {
			values[k] = math.NaN()
			if x == "NA" {
				continue
			}
			if values[k], err = strconv.ParseFloat(x, 64); err != nil {
				return nil, fmt.Errorf("the answer of R has the line %q", lines.Text())
			}
		}
		a[set][f[1]] = Answer{Values: values}
	}
	return a, lines.Err()
}
