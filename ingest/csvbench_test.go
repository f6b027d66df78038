package ingest

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// bigText writes a log as three CSV files, visits with all 16 fields, and
// returns their paths with that of the visits last.
func bigText(tb testing.TB, visits int) []string {
	tb.Helper()
	dir := tb.TempDir()
	write := func(name string, n int, head string, row func(i int) string) string {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		if err != nil {
			tb.Fatal(err)
		}
		w := bufio.NewWriterSize(f, 1<<20)
		fmt.Fprintln(w, head)
		for i := 1; i <= n; i++ {
			fmt.Fprintln(w, row(i))
		}
		if err := w.Flush(); err != nil {
			tb.Fatal(err)
		}
		if err := f.Close(); err != nil {
			tb.Fatal(err)
		}
		return path
	}
	sockets := max(1, visits/10)
	limbs := max(1, sockets/4)
	return []string{
		write("limbs.csv", limbs, "person,side,level", func(i int) string { return fmt.Sprintf("P%05d,L,BK", i) }),
		write("sockets.csv", sockets, "socket,limb,kind,delivered,ended,end_reason", func(i int) string {
			return fmt.Sprintf("S%06d,P%05d-L,definitive,%s,%s,volume loss", i, (i-1)%limbs+1, Date(17000+(i-1)/limbs*600), Date(17000+(i-1)/limbs*600+599))
		}),
		write("visits.csv", visits, "visit,socket,date,time,purpose,ply,comfort,ply_left,comfort_left,hours,mass_kg,accepted,skin_checked,action,minutes,seen_by", func(i int) string {
			s := (i-1)%sockets + 1
			return fmt.Sprintf("V%07d,S%06d,%s,%02d:%02d,follow-up,%s,%d,5,8,%g,%.1f,yes,yes,sock advice,%d,T%d", i, s, Date(17000+(s-1)/limbs*600+(i-1)/sockets*50),
				8+i%9, i*7%60, []string{"5", "5+3", "3", "1"}[i%4], i%11, 10+float64(i%7)/2, 60+float64(i%400)/10, 15+i%30, i%2+1)
		}),
	}
}

// BenchmarkRead1MVisits reads a million visits of 16 columns (87 MB), with
// their 100,000 sockets and 25,000 limbs, from CSV to typed records that are
// checked against each other. The bounds are 3 s and 600 MiB. Where R is
// there, the time that it takes for the visits' text alone is reported beside
// ours: its own read.csv, and the packages readr and data.table.
//
// Measured on two cores with little else running: 2.7 s, 577 MiB of heap and
// 593 MiB of the whole process; in the same runs read.csv took 2.8 s, readr
// 2.1.4 2.1 s and data.table 1.14.8 0.7 s. None of them makes plies or codes of
// the texts, or compares rows.
func BenchmarkRead1MVisits(b *testing.B) {
	const rows = 1_000_000
	paths := bigText(b, rows)
	runtime.GC()
	peak := 0.0
	for b.Loop() {
		runtime.GC()
		peak = max(peak, heapPeak(func() {
			log, err := Read(context.Background(), paths, Options{})
			if err != nil {
				b.Fatal(err)
			}
			if len(log.Visits) != rows || len(log.Problems) > 0 {
				b.Fatalf("%d visits, %d problems, first %+v", len(log.Visits), len(log.Problems), log.Problems[0])
			}
		}))
	}
	b.ReportMetric(peak, "peak-MiB")
	for _, peer := range []struct{ name, call string }{
		{"read.csv", "read.csv(f)"},
		{"readr", "readr::read_csv(f, show_col_types = FALSE, lazy = FALSE)"},
		{"fread", "data.table::fread(f)"},
	} {
		if seconds, mib, ok := readCSVOfR(paths[len(paths)-1], peer.call); ok {
			b.ReportMetric(seconds, "R-"+peer.name+"-s")
			if peer.name == "read.csv" { // what the others take lies outside R's own count
				b.ReportMetric(mib, "R-read.csv-MiB")
			}
		}
	}
}

// readCSVOfR has R 4.2.2 or later read a file f and returns its time and the
// most memory its garbage collector saw in use; ok is false where R or the
// package is not there.
func readCSVOfR(path, call string) (seconds, mib float64, ok bool) {
	out, err := exec.Command("Rscript", "-e", fmt.Sprintf("f <- %q; t <- system.time(x <- %s)[['elapsed']]; cat(t, sum(gc()[, 6]))", path, call)).Output()
	if err != nil {
		return 0, 0, false
	}
	fields := strings.Fields(string(out))
	if len(fields) != 2 {
		return 0, 0, false
	}
	seconds, err = strconv.ParseFloat(fields[0], 64)
	if err != nil {
		return 0, 0, false
	}
	mib, err = strconv.ParseFloat(fields[1], 64)
	return seconds, mib, err == nil
}

// TestReadOnAnyNumberOfCores reads a log large enough to be read in parts, and
// with faults all over, on one core and on several.
func TestReadOnAnyNumberOfCores(t *testing.T) {
	const rows = 4 * partRows
	paths := bigText(t, rows)
	last := paths[len(paths)-1]
	data, err := os.ReadFile(last)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(data), "\n")
	for i := 3; i < len(lines)-1; i += 97 {
		switch i % 7 {
		case 0:
			lines[i] = lines[i-1] // twice
		case 1:
			lines[i] = strings.Replace(lines[i], "follow-up", "folow up", 1)
		case 2:
			lines[i] = strings.Replace(lines[i], ",S", ",X", 1)
		case 3:
			lines[i] += ",too many"
		case 4:
			lines[i] = strings.Replace(lines[i], "-", "/", 1)
		case 5:
			lines[i] = strings.Replace(lines[i], ",5,8,", ",3-5,12,", 1)
		case 6:
			lines[i] = strings.Replace(lines[i], "V", "", 1) + "\n\n"
		}
	}
	if err := os.WriteFile(last, []byte(strings.Join(lines, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	one := read(t, Options{}, paths...)
	if len(one.Problems) < 300 || len(one.Visits) < rows-300 {
		t.Fatalf("%d problems, %d visits", len(one.Problems), len(one.Visits))
	}
	for _, cores := range []int{2, 3, 8} {
		runtime.GOMAXPROCS(cores)
		if !reflect.DeepEqual(read(t, Options{}, paths...), one) {
			t.Errorf("on %d cores the log is another", cores)
		}
	}
}
