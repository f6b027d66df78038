package main

import (
	"fmt"
	"io"
	"math"
	"strconv"

	"plybook/reports/example/estimand"
)

// moments are the sums over draws of one estimand.
type moments struct {
	n, failed   int
	sum, square float64 // of the estimate's distance from the truth
	errors      int     // with a standard error
	stdErr      float64
	intervals   int
	covered     int
	counted     int // with a count of events
	events      float64
}

// fewEvents is the number of events below which the answers themselves carry
// a caution, and intervals are not expected to hold their share.
const fewEvents = 10

// short says why an interval is not expected to hold its share; empty where it
// is.
func (m *moments) short(of estimand.Estimand) string {
	if m.counted > 0 && m.events/float64(m.counted) < fewEvents {
		return "fewer than 10 events"
	}
	return of.Short
}

func (m *moments) mean() float64 { return m.sum / float64(m.n) }

func (m *moments) sd() float64 {
	n := float64(m.n)
	return math.Sqrt(math.Max(0, m.square-m.sum*m.sum/n) / (n - 1))
}

func gather(of estimand.Estimand, results []result) moments {
	var m moments
	for _, r := range results {
		if r.err != nil {
			m.failed++
			continue
		}
		if r.HasInterval {
			m.intervals++
			if r.Covers(of) {
				m.covered++
			}
		}
		if !math.IsNaN(r.Events) {
			m.counted++
			m.events += r.Events
		}
		if math.IsNaN(r.Value) {
			continue
		}
		m.n++
		d := r.Value - of.Truth
		m.sum += d
		m.square += d * d
		if !math.IsNaN(r.StdErr) {
			m.errors++
			m.stdErr += r.StdErr
		}
	}
	return m
}

func cleanColumn(all []drawn, i int) []result {
	out := make([]result, len(all))
	for k, d := range all {
		out[k] = d.clean[i]
	}
	return out
}

// messyColumn leaves out the logs that were not made messy.
func messyColumn(all []drawn, i int) []result {
	var out []result
	for _, d := range all {
		if d.messy != nil {
			out = append(out, d.messy[i])
		}
	}
	return out
}

// printCoverage prints the estimands whose intervals should hold their share,
// then those from which that cannot be expected in a log of this size.
func printCoverage(w io.Writer, list []estimand.Estimand, all []drawn) {
	fmt.Fprintln(w, "| estimated | truth | mean estimate | bias | bias / its Monte Carlo error | mean standard error | sd of estimates | events | coverage of 95% interval | logs |")
	fmt.Fprintln(w, "|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|")
	t := printShare(w, list, all, false)
	fmt.Fprintf(w, "\nAll together: %s of %d intervals hold the truth; of %d rows %d lie outside 93%% to 97%% (*).\n", percent(t.moments), t.intervals, t.rows, t.outside)
	fmt.Fprintln(w, "\n| estimated | truth | mean estimate | bias | bias / its Monte Carlo error | mean standard error | sd of estimates | events | coverage of 95% interval | logs | why apart |")
	fmt.Fprintln(w, "|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|---|")
	t = printShare(w, list, all, true)
	fmt.Fprintf(w, "\nAll together: %s of %d intervals hold the truth.\n", percent(t.moments), t.intervals)
}

// totals of a table; the moments hold intervals alone.
type totals struct {
	moments
	rows, outside int
}

func printShare(w io.Writer, list []estimand.Estimand, all []drawn, apart bool) totals {
	var t totals
	for i, of := range list {
		m := gather(of, cleanColumn(all, i))
		why := m.short(of)
		if apart != (why != "") {
			continue
		}
		if m.n < 2 {
			fmt.Fprintf(w, "| %s | %s | not estimated * | | | | | | | %d |\n", of.Name, short(of.Truth), m.n)
			t.rows++
			t.outside++
			continue
		}
		sd, se, events, cover, logs := m.sd(), "none", "", "no interval", strconv.Itoa(m.n)
		if m.errors > 0 {
			se = short(m.stdErr / float64(m.errors))
		}
		if m.counted > 0 {
			events = fmt.Sprintf("%.0f", m.events/float64(m.counted))
		}
		if m.intervals > 0 {
			t.rows++
			c := float64(m.covered) / float64(m.intervals)
			cover = fmt.Sprintf("%.1f%% ± %.1f", 100*c, 196*math.Sqrt(c*(1-c)/float64(m.intervals)))
			t.intervals, t.covered = t.intervals+m.intervals, t.covered+m.covered
			// In whole intervals, so that 93% itself lies inside.
			if 100*m.covered < 93*m.intervals || 100*m.covered > 97*m.intervals {
				t.outside++
				cover += " *"
			}
			if m.intervals != m.n {
				logs = fmt.Sprintf("%d, %d with an interval", m.n, m.intervals)
			}
		}
		fmt.Fprintf(w, "| %s | %s | %s | %s | %.1f | %s | %s | %s | %s | %s |", of.Name, short(of.Truth), short(of.Truth+m.mean()), short(m.mean()),
			m.mean()/(sd/math.Sqrt(float64(m.n))), se, short(sd), events, cover, logs)
		if apart {
			fmt.Fprintf(w, " %s |", why)
		}
		fmt.Fprintln(w)
	}
	return t
}

// printMess compares the answers from the messy workbooks with those from the
// log that they were made from.
func printMess(w io.Writer, list []estimand.Estimand, all []drawn) {
	fmt.Fprintln(w, "\n| estimated | mean change by the mess | in sd of the estimates | change / its Monte Carlo error | coverage, messy | coverage, clean | logs |")
	fmt.Fprintln(w, "|---|--:|--:|--:|--:|--:|--:|")
	var cleanAll, messyAll moments
	most := 0.0
	for i, of := range list {
		clean, messy := cleanColumn(all, i), messyColumn(all, i)
		var d moments
		for k := range clean {
			if clean[k].err == nil && messy[k].err == nil && !math.IsNaN(clean[k].Value+messy[k].Value) {
				x := messy[k].Value - clean[k].Value
				d.n++
				d.sum += x
				d.square += x * x
			}
		}
		if d.n < 2 {
			continue
		}
		a, b := gather(of, messy), gather(of, clean)
		if !(b.sd() > 0) {
			continue
		}
		most = math.Max(most, math.Abs(d.mean()/b.sd()))
		ratio := "0.0"
		if d.sd() > 0 {
			ratio = fmt.Sprintf("%.1f", d.mean()/(d.sd()/math.Sqrt(float64(d.n))))
		}
		fmt.Fprintf(w, "| %s | %s | %.3f | %s | %s | %s | %d |\n", of.Name, short(d.mean()), d.mean()/b.sd(), ratio, percent(a), percent(b), d.n)
		cleanAll.intervals, cleanAll.covered = cleanAll.intervals+b.intervals, cleanAll.covered+b.covered
		messyAll.intervals, messyAll.covered = messyAll.intervals+a.intervals, messyAll.covered+a.covered
	}
	fmt.Fprintf(w, "\nAll together: %s of the intervals hold the truth with the mess, %s without. The largest mean change is %.3f sd.\n", percent(messyAll), percent(cleanAll), most)
}

func percent(m moments) string {
	if m.intervals == 0 {
		return "no interval"
	}
	return fmt.Sprintf("%.1f%%", 100*float64(m.covered)/float64(m.intervals))
}

// short is a number to four figures.
func short(x float64) string {
	if x == 0 {
		return "0"
	}
	if math.Abs(x) < 1e-4 {
		return strconv.FormatFloat(x, 'g', 2, 64)
	}
	digits := 3 - int(math.Floor(math.Log10(math.Abs(x))))
	return strconv.FormatFloat(x, 'f', min(max(digits, 0), 5), 64)
}

// printFailures says which estimates could not be had, with the first reason
// of each.
func printFailures(w io.Writer, list []estimand.Estimand, all []drawn) {
	for i, of := range list {
		var first error
		n := 0
		for _, r := range append(cleanColumn(all, i), messyColumn(all, i)...) {
			if r.err != nil {
				n++
				if first == nil {
					first = r.err
				}
			}
		}
		if n > 0 {
			fmt.Fprintf(w, "\nNot estimated %d times: %s. The first reason: %v.\n", n, of.Name, first)
		}
	}
}
