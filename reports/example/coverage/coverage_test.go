package main

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"plybook/reports/example"
	"plybook/reports/example/estimand"
)

// TestFewLogs runs the whole path on a handful of logs: every truth is
// estimated from each, no estimate is far off on average, and the spread that
// stands for a missing standard error is of the right size.
func TestFewLogs(t *testing.T) {
	list := estimand.All()
	const logs = 8
	all := make([]drawn, logs)
	for i := range all {
		d, err := answerSeed(context.Background(), example.Known(), list, uint64(7000+i), i == 0)
		if err != nil {
			t.Fatal(err)
		}
		all[i] = d
	}
	covered, intervals := 0, 0
	for i, of := range list {
		m := gather(of, cleanColumn(all, i))
		if m.failed > 0 || m.n < logs/2 { // a quarter is not always remade
			t.Errorf("%s: %d failed, %d estimated", of.Name, m.failed, m.n)
			continue
		}
		covered, intervals = covered+m.covered, intervals+m.intervals
		sd := of.Spread
		if m.errors > 0 {
			sd = math.Max(sd, m.stdErr/float64(m.errors))
		}
		// Standard errors of single logs are rough: 5 of them, not 3.
		if off := math.Abs(m.mean()) / (sd / math.Sqrt(float64(m.n))); !(off < 5) {
			t.Errorf("%s: %v on average, the truth is %v", of.Name, of.Truth+m.mean(), of.Truth)
		}
		if of.Spread > 0 && (m.sd() < of.Spread/3 || m.sd() > of.Spread*3) {
			t.Errorf("%s: estimates spread by %v, not by %v", of.Name, m.sd(), of.Spread)
		}
		if r := all[0].messy[i]; r.err != nil {
			t.Errorf("%s, messy: %v", of.Name, r.err)
		}
	}
	if share := float64(covered) / float64(intervals); share < 0.9 {
		t.Errorf("only %.0f%% of %d intervals hold the truth", 100*share, intervals)
	}
	var out strings.Builder
	printCoverage(&out, list, all)
	printMess(&out, list, all[:1])
	for _, m := range list {
		if !strings.Contains(out.String(), "| "+m.Name+" |") {
			t.Errorf("%s is not printed", m.Name)
		}
	}
	printFailures(&out, list, all)
	if strings.Contains(out.String(), "Not estimated") {
		t.Errorf("some could not be estimated:\n%s", out.String())
	}
	if strings.Contains(out.String(), "NaN") {
		t.Errorf("NaN is printed:\n%s", out.String())
	}
}

func TestPrintFailures(t *testing.T) {
	list := []estimand.Estimand{{Name: "first"}, {Name: "second"}}
	all := []drawn{{clean: []result{{}, {err: errors.New("no rows")}}, messy: []result{{}, {err: errors.New("no file")}}}, {clean: []result{{}, {}}}}
	var out strings.Builder
	printFailures(&out, list, all)
	if got, want := out.String(), "\nNot estimated 2 times: second. The first reason: no rows.\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestGather counts by hand.
func TestGather(t *testing.T) {
	of := estimand.Estimand{Truth: 10}
	at := func(v, se, low, high float64) result {
		return result{Estimate: estimand.Estimate{Value: v, StdErr: se, Low: low, High: high, HasInterval: !math.IsNaN(low), Events: 4}}
	}
	m := gather(of, []result{at(9, 2, 7, 11), at(13, 1, 11, 15), at(11, math.NaN(), math.NaN(), math.NaN()), {err: errors.New("not estimated")}})
	if m.n != 3 || m.failed != 1 || m.errors != 2 || m.intervals != 2 || m.covered != 1 {
		t.Errorf("counts: %+v", m)
	}
	if m.mean() != 1 || math.Abs(m.sd()-2) > 1e-12 || m.stdErr != 3 {
		t.Errorf("mean %v, sd %v, errors %v", m.mean(), m.sd(), m.stdErr)
	}
	if m.short(of) != "fewer than 10 events" {
		t.Errorf("4 events are enough: %q", m.short(of))
	}
}

func TestShort(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{{0, "0"}, {1150.4, "1150"}, {-0.43078, "-0.4308"}, {52.178, "52.18"}, {0.0025, "0.00250"}, {-4e-5, "-4e-05"}} {
		if got := short(c.x); got != c.want {
			t.Errorf("short(%v) is %q, want %q", c.x, got, c.want)
		}
	}
}

func TestRunRefuses(t *testing.T) {
	for _, s := range []settings{{seeds: 1, workers: 1}, {seeds: 5, messy: 6, workers: 1}, {seeds: 5, workers: 0}} {
		if err := run(context.Background(), s); err == nil {
			t.Errorf("%+v was taken", s)
		}
	}
}
