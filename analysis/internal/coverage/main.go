// Command coverage draws small data sets from a known truth again and again
// and prints how often the 95% intervals of the methods hold it:
//
//	go run ./analysis/internal/coverage -replicates 2000
//
// The draws are of persons with several sockets each, whose lives go together,
// so that intervals which take sockets as independent can be seen to fail, and
// of few limbs seen several times.
package main

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"

	"plybook/analysis/stats"
)

func main() {
	replicates := flag.Int("replicates", 2000, "data sets to draw for each row")
	only := flag.String("only", "", "only rows whose name begins so")
	workers := flag.Int("workers", runtime.NumCPU(), "data sets worked on at a time")
	flag.Parse()
	fmt.Println("| interval | setting | truth | mean estimate | sd | mean se | coverage | above | below | none |")
	fmt.Println("|---|---|--:|--:|--:|--:|--:|--:|--:|--:|")
	for _, s := range scenarios() {
		if strings.HasPrefix(s.name, *only) {
			fmt.Println(s.run(*replicates, *workers).line())
		}
	}
}

// A scenario is one interval in one setting.
type scenario struct {
	name, setting string
	truth         float64
	// draw makes a data set and its interval; an error where the method
	// refuses it.
	draw func(rng *rand.Rand) (interval, error)
}

// interval is an estimate with its error, NaN where none is given, and its
// limits, infinite where a side is open.
type interval struct{ estimate, stdErr, low, high float64 }

// summary is what came of a scenario.
type summary struct {
	scenario
	held, above, below, none int // limits around the truth, wholly above it, wholly below it; refused
	mean, sd, meanErr        float64
}

// run draws data set k from stream k of a seed that hangs on the row alone.
func (s scenario) run(replicates, workers int) summary {
	out, errs := make([]interval, replicates), make([]error, replicates)
	next := make(chan int)
	var wait sync.WaitGroup
	seed := uint64(14695981039346656037)
	for _, b := range []byte(s.name + s.setting) {
		seed = (seed ^ uint64(b)) * 1099511628211
	}
	for range max(1, workers) {
		wait.Go(func() {
			for k := range next {
				out[k], errs[k] = s.draw(rand.New(rand.NewPCG(seed, uint64(k))))
			}
		})
	}
	for k := range replicates {
		next <- k
	}
	close(next)
	wait.Wait()
	r := summary{scenario: s}
	var estimates, stdErrs []float64
	for k, x := range out {
		switch {
		case errs[k] != nil:
			r.none++
			continue
		case x.low > s.truth:
			r.above++
		case x.high < s.truth:
			r.below++
		default:
			r.held++
		}
		if !math.IsNaN(x.estimate) {
			estimates = append(estimates, x.estimate)
		}
		stdErrs = append(stdErrs, x.stdErr)
	}
	r.mean, r.sd = moments(estimates)
	r.meanErr, _ = moments(stdErrs)
	return r
}

func moments(xs []float64) (mean, sd float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	for _, x := range xs {
		sd += (x - mean) * (x - mean) / float64(len(xs)-1)
	}
	return mean, math.Sqrt(sd)
}

// line is the row of the table. The error of the coverage is that of a share
// of the draws, at the coverage found.
func (r summary) line() string {
	n := float64(r.held + r.above + r.below)
	c := float64(r.held) / n
	se := "-"
	if !math.IsNaN(r.meanErr) {
		se = fmt.Sprintf("%.4g", r.meanErr)
	}
	return fmt.Sprintf("| %s | %s | %.4g | %.4g | %.4g | %s | %.1f ± %.1f%% | %.1f%% | %.1f%% | %d |",
		r.name, r.setting, r.truth, r.mean, r.sd, se, 100*c, 100*math.Sqrt(c*(1-c)/n), 100*float64(r.above)/n, 100*float64(r.below)/n, r.none)
}

// z975 is the normal quantile of a 95% interval.
var z975 = stats.NormalQuantile(0.975)
