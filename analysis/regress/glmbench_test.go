package regress

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// register are sockets as a large register would hold them: fitted at the
// first check fitting or not, with nine columns known at the cast (age in
// years, seven that stand for categories, year). fine spreads the ages, so
// that no two rows are alike. cluster numbers persons, seven for ten sockets.
func register(n int, fine bool) (d GLMData, cluster []int) {
	r := rand.New(rand.NewPCG(5, 11))
	d = GLMData{Y: make([]float64, n), Names: []string{"age", "vacuum", "scan", "femoral", "vascular", "diabetes", "female", "pin", "year"}}
	d.X = make([][]float64, len(d.Names))
	for j := range d.X {
		d.X[j] = make([]float64, n)
	}
	cluster = make([]int, n)
	share := []float64{0, 0.4, 0.2, 0.3, 0.35, 0.25, 0.4, 0.3}
	b := []float64{-0.01, 0.6, 0.3, -0.4, -0.2, -0.3, 0.1, 0.15, 0.02}
	for i := range n {
		eta := 0.8
		for j := range d.X {
			x := 0.0
			switch {
			case j == 0 && fine:
				x = 20 + 65*r.Float64()
			case j == 0:
				x = math.Round(20 + 65*r.Float64())
			case j == 8:
				x = float64(r.IntN(10))
			case r.Float64() < share[j]:
				x = 1
			}
			d.X[j][i] = x
			eta += b[j] * x
		}
		if r.Float64() < expit(eta) {
			d.Y[i] = 1
		}
		cluster[i] = r.IntN(7*n/10 + 1)
	}
	return d, cluster
}

func benchmarkLogistic(b *testing.B, fine, clustered bool) {
	d, cluster := register(1_000_000, fine)
	if clustered {
		d.Cluster = cluster
	}
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		if _, err := FitGLM(Logistic, d, GLMOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
	mine := b.Elapsed().Seconds() / float64(b.N)
	if !clustered {
		if his, ok := secondsOfR(b, d); ok {
			b.ReportMetric(his, "s-in-R")
			b.ReportMetric(his/mine, "times-R")
		}
	}
}

// secondsOfR is the time of the same fit by R 4.2.2, glm(y ~ x, binomial),
// where R is present.
func secondsOfR(b *testing.B, d GLMData) (float64, bool) {
	if exec.Command("Rscript", "-e", "1").Run() != nil {
		return 0, false
	}
	all := append([]float64(nil), d.Y...)
	for _, x := range d.X {
		all = append(all, x...)
	}
	path := filepath.Join(b.TempDir(), "rows")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	if err := errors.Join(binary.Write(f, binary.LittleEndian, all), f.Close()); err != nil {
		b.Fatal(err)
	}
	script := fmt.Sprintf(`m <- matrix(readBin(%q, "double", %d), ncol = %d)
d <- data.frame(y = m[, 1], m[, -1]); rm(m)
cat(system.time(glm(y ~ ., binomial, d))[["elapsed"]])`, path, len(all), len(d.X)+1)
	out, err := exec.Command("Rscript", "-e", script).Output()
	if err != nil {
		b.Fatal(err)
	}
	s, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
	if err != nil {
		b.Fatal(err)
	}
	return s, true
}

// The size of the largest registers, with R's time for the same rows beside
// it: go test -run - -bench Logistic1M ./analysis/regress
func BenchmarkLogistic1M(b *testing.B)          { benchmarkLogistic(b, false, false) }
func BenchmarkLogistic1MApart(b *testing.B)     { benchmarkLogistic(b, true, false) }
func BenchmarkLogistic1MClustered(b *testing.B) { benchmarkLogistic(b, false, true) }

// Started from a part of very many rows, the fit is that of all.
func TestForetaste(t *testing.T) {
	d, _ := register(1<<17+501, true)
	m := glm(t, Logistic, d, GLMOptions{})
	if m.Patterns != m.Rows || m.Iterations > 4 {
		t.Errorf("%d patterns, %d iterations", m.Patterns, m.Iterations)
	}
	g := m.model
	it := 0
	plain, err := g.climb(g.likelihood(make([]float64, g.p)), everything, &it)
	if err != nil || it <= m.Iterations {
		t.Fatal(err, it)
	}
	for j, b := range g.unscaled(plain.beta) {
		if math.Abs(b-m.Coef[j].Estimate) > 1e-10*(1+math.Abs(b)) {
			t.Errorf("coefficient %d is %.15g, from the start %.15g", j, m.Coef[j].Estimate, b)
		}
	}
}
