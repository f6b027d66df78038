package peers

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
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

// Ask has R answer for sets: one process runs script with what in holds on
// its standard input, and prints lines of a set, a name and numbers, or "!" and
// why there are none. Where R or one of the packages is not installed ok is
// false, unless need says that they must be; a set that has no answer, or whose
// name "failed" tells why, ends the test.
func Ask(t testing.TB, need bool, packages []string, script string, sets []int, in io.Reader) (a Answers, ok bool) {
	t.Helper()
	missing := func(why string) (Answers, bool) {
		t.Helper()
		if need {
			t.Fatalf("%s: install r-base-core with the packages %s", why, strings.Join(packages, ", "))
		}
		t.Log(why + "; nothing is compared with R")
		return nil, false
	}
	tool, err := exec.LookPath("Rscript")
	if err != nil {
		return missing("Rscript is not installed")
	}
	lacking, err := exec.CommandContext(t.Context(), tool, append([]string{"--vanilla", "-e", "p <- commandArgs(TRUE); cat(p[!vapply(p, requireNamespace, TRUE, quietly = TRUE)])"}, packages...)...).Output()
	if err != nil {
		t.Fatalf("R does not tell which packages it has: %v", err)
	}
	if len(lacking) > 0 {
		return missing("R lacks " + string(lacking))
	}
	var out, complaints bytes.Buffer
	c := exec.CommandContext(t.Context(), tool, "--vanilla", script)
	// Threads cost small matrices more than they save.
	c.Env = append(c.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
	c.Stdin, c.Stdout, c.Stderr = in, &out, &complaints
	if err := c.Run(); err != nil {
		t.Fatalf("R: %v\n%s", err, complaints.String())
	}
	if complaints.Len() > 0 {
		t.Logf("R: %s", complaints.String())
	}
	if a, err = read(&out); err != nil {
		t.Fatal(err)
	}
	for _, s := range sets {
		if len(a[s]) == 0 {
			t.Fatalf("R has no answer for set %d", s)
		}
		if why := a[s]["failed"].Refused; why != "" {
			t.Fatalf("R: set %d: %s", s, why)
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
