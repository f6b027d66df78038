package survival

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

// benchRows are sockets as a large register would hold them: days to the
// remake or the last record, and nine columns known at delivery (age in
// years, month of delivery, and seven that stand for categories). cluster
// numbers persons, seven for ten sockets.
func benchRows(n int) (d CoxData, cluster []int) {
	r := rand.New(rand.NewPCG(3, 9))
	d = CoxData{Time: make([]float64, n), Event: make([]bool, n), Names: []string{"age", "vacuum", "scan", "femoral", "vascular", "diabetes", "female", "pin", "year"}}
	d.X = make([][]float64, len(d.Names))
	for j := range d.X {
		d.X[j] = make([]float64, n)
	}
	cluster = make([]int, n)
	share := []float64{0, 0.4, 0.2, 0.3, 0.35, 0.25, 0.4, 0.3}
	b := []float64{-0.01, -0.4, 0.1, 0.1, 0.4, 0.2, -0.1, 0.15, 0.02}
	for i := range n {
		eta := 0.0
		for j := range d.X {
			x := 0.0
			switch {
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
		t, c := r.ExpFloat64()*700/math.Exp(eta+0.5), 3000*r.Float64()
		d.Time[i], d.Event[i] = math.Ceil(math.Min(t, c)), t <= c
		cluster[i] = r.IntN(7*n/10 + 1)
	}
	return d, cluster
}

func benchmarkSockets(b *testing.B, n int, clustered bool) {
	d, cluster := benchRows(n)
	if clustered {
		d.Cluster = cluster
	}
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		if _, err := FitCox(d, CoxOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
	mine := b.Elapsed().Seconds() / float64(b.N)
	if !clustered { // with so many clusters R does not come to an end
		if his, ok := secondsOfR(b, d); ok {
			b.ReportMetric(his, "s-in-R")
			b.ReportMetric(his/mine, "times-R")
		}
	}
}

// secondsOfR is the time of the same fit by R 4.2.2, survival 3.5-3,
// coxph(Surv(time, event) ~ x, ties = "efron"), where R is present.
func secondsOfR(b *testing.B, d CoxData) (float64, bool) {
	if exec.Command("Rscript", "-e", "library(survival)").Run() != nil {
		return 0, false
	}
	var all []float64
	for i, t := range d.Time {
		e := 0.0
		if d.Event[i] {
			e = 1
		}
		all = append(all, t, e)
		for _, x := range d.X {
			all = append(all, x[i])
		}
	}
	path := filepath.Join(b.TempDir(), "rows")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	if err := errors.Join(binary.Write(f, binary.LittleEndian, all), f.Close()); err != nil {
		b.Fatal(err)
	}
	script := fmt.Sprintf(`suppressMessages(library(survival))
m <- matrix(readBin(%q, "double", %d), ncol = %d, byrow = TRUE)
d <- list(time = m[, 1], event = m[, 2], x = m[, -(1:2)])
cat(system.time(coxph(Surv(time, event) ~ x, d, ties = "efron"))[["elapsed"]])`, path, len(all), len(d.X)+2)
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

// The sizes of the largest registers, with R's time for the same rows beside
// it: go test -run - -bench CoxSockets ./analysis/survival
func BenchmarkCoxSockets1M(b *testing.B)          { benchmarkSockets(b, 1_000_000, false) }
func BenchmarkCoxSocketsClustered1M(b *testing.B) { benchmarkSockets(b, 1_000_000, true) }
