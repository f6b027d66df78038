package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Data holds times to an event, one entry per row.
type Data struct {
	Entry   []float64 // when the row came under observation; nil: all 0, nobody enters late
	Time    []float64 // when it ended; at least 0 and, if it entered late, after Entry
	Cause   []int     // why it ended: 0 censored, 1 to K the cause
	Weight  []float64 // how many rows it stands for, above 0; nil: all 1
	Cluster []int     // rows of one person share a number; nil: each row on its own
}

// RowError reports a row that cannot be used, and why.
type RowError struct {
	Row    int // from 0; -1 where no single row is at fault
	Reason string
}

func (e *RowError) Error() string {
	if e.Row < 0 {
		return e.Reason
	}
	return fmt.Sprintf("row %d: %s", e.Row+1, e.Reason)
}

// Validate reports the first thing in the data that no method could use: no
// rows (stats.ErrNoRows), slices of different lengths, times that are not
// finite, below 0 or not after a late entry, a negative cause, or a weight
// that is not above 0 (*RowError).
func (d Data) Validate() error {
	n := len(d.Time)
	if n == 0 {
		return stats.ErrNoRows
	}
	if len(d.Cause) != n {
		return &RowError{-1, fmt.Sprintf("%d times but %d causes", n, len(d.Cause))}
	}
	if err := checkLengths(n, len(d.Entry), len(d.Weight), len(d.Cluster)); err != nil {
		return err
	}
	var faults [2]*RowError
	both(n, func(half, lo, hi int) { faults[half] = d.fault(lo, hi) })
	for _, fault := range faults {
		if fault != nil {
			return fault
		}
	}
	return nil
}

// fault is the first of rows lo to hi.
func (d Data) fault(lo, hi int) *RowError {
	for i := lo; i < hi; i++ {
		if err := checkRow(i, d.entry(i), d.Time[i], d.weight(i)); err != nil {
			return err
		}
		if d.Cause[i] < 0 {
			return &RowError{i, fmt.Sprintf("cause %d is below 0", d.Cause[i])}
		}
	}
	return nil
}

func checkLengths(n, entries, weights, clusters int) error {
	for _, c := range []struct {
		what string
		n    int
	}{{"entries", entries}, {"weights", weights}, {"clusters", clusters}} {
		if c.n != 0 && c.n != n {
			return &RowError{-1, fmt.Sprintf("%d times but %d %s", n, c.n, c.what)}
		}
	}
	return nil
}

func checkRow(i int, entry, time, weight float64) *RowError {
	switch {
	case !finite(entry) || !finite(time):
		return &RowError{i, "the time is not a finite number"}
	case entry < 0 || time < 0:
		return &RowError{i, "the time is below 0"}
	case time < entry:
		return &RowError{i, "the row ends before it enters"}
	case time == entry && entry > 0:
		return &RowError{i, "the row ends at the moment it enters, so it was never at risk"}
	case !finite(weight) || weight <= 0:
		return &RowError{i, "the weight is not above 0"}
	}
	return nil
}

func (d Data) entry(i int) float64 {
	if len(d.Entry) == 0 {
		return 0
	}
	return d.Entry[i]
}

func (d Data) weight(i int) float64 {
	if len(d.Weight) == 0 {
		return 1
	}
	return d.Weight[i]
}

// from is the moment after which row i is at risk: below every time for a
// row that did not enter late.
func (d Data) from(i int) float64 { return riskFrom(d.entry(i)) }

func riskFrom(entry float64) float64 {
	if entry == 0 {
		return -1
	}
	return entry
}

// clusters numbers the clusters from 0 in order of appearance, and says
// whether any of them has more than one row.
func (d Data) clusters() (of []int32, count int, repeats bool) {
	return numberClusters(d.Cluster, len(d.Time))
}

func numberClusters(cluster []int, n int) (of []int32, count int, repeats bool) {
	of = make([]int32, n)
	if len(cluster) == 0 {
		for i := range of {
			of[i] = int32(i)
		}
		return of, n, false
	}
	lo, hi := cluster[0], cluster[0]
	for _, c := range cluster {
		lo, hi = min(lo, c), max(hi, c)
	}
	if span := hi - lo; span >= 0 && span < 4*n+1024 { // numbered as they usually are
		name := make([]int32, span+1)
		for i, c := range cluster {
			if name[c-lo] == 0 {
				count++
				name[c-lo] = int32(count)
			}
			of[i] = name[c-lo] - 1
		}
		return of, count, count < n
	}
	seen := make(map[int]int32, n)
	for i, c := range cluster {
		k, ok := seen[c]
		if !ok {
			k = int32(len(seen))
			seen[c] = k
		}
		of[i] = k
	}
	return of, len(seen), len(seen) < n
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
