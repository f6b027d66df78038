// Command coverage draws many logs from the example's truth, asks each the
// questions of the estimand notebook, and prints how the answers compare
// with the truth: bias, standard errors, and how many of the 95% intervals
// hold it. Run it from the root of the project:
//
//	go run ./reports/example/coverage -seeds 500
//
// The log that was drawn goes straight to the answers. With -messy some of
// the logs are also written as the messy workbooks of the example, read back,
// and answered a second time; what the mess changed is printed in a second
// table.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"sync"

	"plybook/reports/example"
	"plybook/reports/example/estimand"
)

func main() {
	seeds := flag.Int("seeds", 500, "logs to draw")
	messy := flag.Int("messy", 40, "logs also written as messy workbooks and read back")
	first := flag.Uint64("first", 1, "seed of the first log; the others follow")
	persons := flag.Int("persons", 0, "size of the lab in persons (default: as in the example); only for clean logs")
	workers := flag.Int("workers", runtime.NumCPU(), "logs answered at a time")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, settings{seeds: *seeds, messy: *messy, first: *first, persons: *persons, workers: *workers})
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "coverage:", err)
		os.Exit(1)
	}
}

type settings struct {
	seeds, messy, persons, workers int
	first                          uint64
}

// drawn holds the estimates of one log; an estimate that could not be had is
// an error in its place.
type drawn struct {
	clean, messy []result
}

type result struct {
	estimand.Estimate
	err error
}

func run(ctx context.Context, s settings) error {
	if s.seeds < 2 || s.messy < 0 || s.messy > s.seeds || s.workers < 1 {
		return fmt.Errorf("%d seeds, %d of them messy, %d workers: need at least 2 seeds, no more messy ones than seeds, and a worker", s.seeds, s.messy, s.workers)
	}
	truth := example.Known()
	if s.persons > 0 {
		truth.BothSided = truth.BothSided * s.persons / truth.Persons
		truth.Persons = s.persons
		s.messy = 0
	}
	list := estimand.All()
	if s.persons > 0 {
		for i := range list {
			list[i].Short = "" // said of the example's size alone
		}
	}
	all := make([]drawn, s.seeds)
	next := make(chan int)
	errs := make(chan error, s.workers)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var group sync.WaitGroup
	for range s.workers {
		group.Go(func() {
			for i := range next {
				d, err := answerSeed(ctx, truth, list, s.first+uint64(i), i < s.messy)
				if err != nil {
					errs <- fmt.Errorf("seed %d: %w", s.first+uint64(i), err)
					cancel()
					return
				}
				all[i] = d
			}
		})
	}
	for i := range s.seeds {
		select {
		case next <- i:
		case <-ctx.Done():
		}
		if ctx.Err() != nil {
			break
		}
		if (i+1)%50 == 0 {
			fmt.Fprintf(os.Stderr, "%d of %d\n", i+1, s.seeds)
		}
	}
	close(next)
	group.Wait()
	select {
	case err := <-errs:
		return err
	default:
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	printCoverage(os.Stdout, list, all)
	if s.messy > 1 {
		printMess(os.Stdout, list, all[:s.messy])
	}
	printFailures(os.Stdout, list, all)
	return nil
}
