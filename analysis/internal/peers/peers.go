// Package peers sets methods beside R on the same rows: what both make of
// them, how long it takes them, and how much memory. Only tests use it.
package peers

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"runtime"
	"runtime/metrics"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Against reports the time of a call of R's package pkg beside that of the
// benchmark, which must have ended: "s-in-R", and how many times as long that
// is, "times-R". The columns come to R as the matrix m, which before makes
// into what the call needs. Nothing is reported where the package is absent.
func Against(b *testing.B, columns [][]float64, pkg, before, call string) {
	b.Helper()
	mine := b.Elapsed().Seconds() / float64(b.N)
	if exec.Command("Rscript", "-e", "library("+pkg+")").Run() != nil {
		return
	}
	script := fmt.Sprintf(`suppressMessages(library(%s))
stdin <- file("stdin", "rb")
m <- matrix(readBin(stdin, "double", %d), ncol = %d)
%s
cat(system.time(%s)[["elapsed"]])`, pkg, len(columns)*len(columns[0]), len(columns), before, call)
	c := exec.Command("Rscript", "-e", script)
	rows, w := io.Pipe()
	c.Stdin = rows
	go func() {
		var err error
		buffered := bufio.NewWriterSize(w, 1<<20)
		for _, x := range columns {
			err = errors.Join(err, binary.Write(buffered, binary.LittleEndian, x))
		}
		w.CloseWithError(errors.Join(err, buffered.Flush()))
	}()
	out, err := c.Output()
	if err != nil {
		b.Fatal(err)
	}
	his, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(his, "s-in-R")
	b.ReportMetric(his/mine, "times-R")
}

// HeldTimes runs work and returns the most that the heap held meanwhile,
// garbage and what was there before included, as a multiple of size bytes.
func HeldTimes(size int, work func()) float64 {
	runtime.GC()
	stop, done := make(chan bool), make(chan uint64)
	go func() {
		var peak uint64
		in := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/unused:bytes"}}
		for {
			metrics.Read(in)
			peak = max(peak, in[0].Value.Uint64()+in[1].Value.Uint64())
			select {
			case <-stop:
				done <- peak
				return
			case <-time.After(2 * time.Millisecond):
			}
		}
	}()
	work()
	close(stop)
	return float64(<-done) / float64(size)
}
