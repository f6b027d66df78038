package regress

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// Discrimination says how well shares expected tell rows with the outcome
// from rows without.
type Discrimination struct {
	// C is the share of all pairs of a row with the outcome and one without in
	// which the former has the higher share expected, ties counting half: the
	// area under the curve of Points.
	C, SE     float64 // DeLong et al. 1988, Biometrics 44:837
	Low, High float64 // on the scale of log odds
	HasBounds bool
	Brier     float64 // mean squared difference of outcome and share
	Points    []ROCPoint
}

// ROCPoint is what a limit of the share tells: of the rows with the outcome,
// the part at or above it (Sensitivity); of those without, the part below
// (Specificity).
type ROCPoint struct{ Limit, Sensitivity, Specificity float64 }

// Discriminate works it out from shares and outcomes of 0 and 1. Clusters, if
// any, enter the error, which then is that of Obuchowski 1997, Biometrics
// 53:567. Weights (nil: 1 each) count rows.
func Discriminate(share, y, weight []float64, cluster []int, level float64) (*Discrimination, error) {
	n := len(y)
	if len(share) != n || weight != nil && len(weight) != n || cluster != nil && len(cluster) != n {
		return nil, fmt.Errorf("lengths differ: %w", ErrInput)
	}
	if !(level > 0 && level < 1) {
		return nil, fmt.Errorf("confidence level %g: %w", level, ErrInput)
	}
	of := func(i int) float64 {
		if weight == nil {
			return 1
		}
		return weight[i]
	}
	order := make([]int, n)
	with, without := 0.0, 0.0
	out := &Discrimination{}
	for i := range y {
		if !(share[i] >= 0 && share[i] <= 1) || y[i] != 0 && y[i] != 1 || !(of(i) > 0) {
			return nil, fmt.Errorf("row %d: %w", i, ErrInput)
		}
		order[i] = i
		out.Brier += of(i) * (y[i] - share[i]) * (y[i] - share[i])
		if y[i] == 1 {
			with += of(i)
		} else {
			without += of(i)
		}
	}
	if with == 0 || without == 0 {
		return nil, ErrConstantResponse
	}
	out.Brier /= with + without
	slices.SortFunc(order, func(a, b int) int {
		if c := cmp.Compare(share[b], share[a]); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	place := make([]float64, n) // of a row with the outcome: the part of those without that it beats
	out.Points = append(out.Points, ROCPoint{Limit: 1, Specificity: 1})
	up, down := 0.0, 0.0
	for lo := 0; lo < n; {
		hi := lo
		a, b := 0.0, 0.0
		// Shares of equal columns may differ by rounding.
		for hi < n && share[order[lo]]-share[order[hi]] <= 1e-12 {
			if y[order[hi]] == 1 {
				a += of(order[hi])
			} else {
				b += of(order[hi])
			}
			hi++
		}
		for _, i := range order[lo:hi] {
			if y[i] == 1 {
				place[i] = (without - down - b/2) / without
				out.C += of(i) * place[i] / with
			} else {
				place[i] = (up + a/2) / with
			}
		}
		up, down = up+a, down+b
		out.Points = append(out.Points, ROCPoint{share[order[hi-1]], up / with, 1 - down/without})
		lo = hi
	}
	out.bounds(place, y, of, cluster, with, without, level)
	return out, nil
}

// bounds fills the error from the placements of the rows.
func (d *Discrimination) bounds(place, y []float64, of func(int) float64, cluster []int, with, without, level float64) {
	variance := 0.0
	if cluster == nil {
		a, b := 0.0, 0.0
		for i, v := range place {
			if y[i] == 1 {
				a += of(i) * (v - d.C) * (v - d.C)
			} else {
				b += of(i) * (v - d.C) * (v - d.C)
			}
		}
		if with <= 1 || without <= 1 {
			return
		}
		variance = a/(with-1)/with + b/(without-1)/without
	} else {
		type sums struct{ with, without float64 }
		sum := map[int]*sums{}
		cases, controls := map[int]bool{}, map[int]bool{}
		var order []int
		for i, v := range place {
			c := cluster[i]
			if sum[c] == nil {
				order = append(order, c)
				sum[c] = &sums{}
			}
			if y[i] == 1 {
				sum[c].with += of(i) * (v - d.C) / with
				cases[c] = true
			} else {
				sum[c].without += of(i) * (v - d.C) / without
				controls[c] = true
			}
		}
		a, b, g := float64(len(cases)), float64(len(controls)), float64(len(order))
		if a < 2 || b < 2 {
			return
		}
		for _, c := range order {
			s := sum[c]
			variance += a/(a-1)*s.with*s.with + b/(b-1)*s.without*s.without + 2*g/(g-1)*s.with*s.without
		}
	}
	if !(variance > 0) || !(d.C > 0 && d.C < 1) {
		return
	}
	d.SE, d.HasBounds = math.Sqrt(variance), true
	half := stats.NormalQuantile(0.5+level/2) * d.SE / (d.C * (1 - d.C))
	odds := math.Log(d.C / (1 - d.C))
	d.Low, d.High = expit(odds-half), expit(odds+half)
}

// Bin is a group of rows of like shares expected.
type Bin struct {
	Rows, Events       float64 // sums of weights
	Expected, Observed float64 // mean share expected, share with the outcome
	Low, High          float64 // of Observed, by Wilson's method
}

// Calibrate parts the rows by their share expected into so many groups of like
// size (rows of one share stay together), and compares expected with observed.
func Calibrate(share, y, weight []float64, groups int, level float64) ([]Bin, error) {
	n := len(y)
	if len(share) != n || weight != nil && len(weight) != n || groups < 1 || !(level > 0 && level < 1) {
		return nil, fmt.Errorf("lengths or settings: %w", ErrInput)
	}
	of := func(i int) float64 {
		if weight == nil {
			return 1
		}
		return weight[i]
	}
	order := make([]int, n)
	total := 0.0
	for i := range order {
		order[i] = i
		total += of(i)
	}
	slices.SortFunc(order, func(a, b int) int {
		if c := cmp.Compare(share[a], share[b]); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	var out []Bin
	var bin Bin
	done := 0.0
	for k, i := range order {
		bin.Rows += of(i)
		bin.Events += of(i) * y[i]
		bin.Expected += of(i) * share[i]
		done += of(i)
		last := k == n-1
		if !last && (share[order[k+1]]-share[i] <= 1e-12 || done < total*float64(len(out)+1)/float64(groups)) {
			continue
		}
		bin.Expected /= bin.Rows
		bin.Observed = bin.Events / bin.Rows
		bin.Low, bin.High = Wilson(bin.Events, bin.Rows, level)
		out = append(out, bin)
		bin = Bin{}
	}
	return out, nil
}

// Wilson is the interval of a share k of n (Wilson 1927, J Am Stat Assoc
// 22:209).
func Wilson(k, n, level float64) (low, high float64) {
	z := stats.NormalQuantile(0.5 + level/2)
	p := k / n
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return math.Max(0, middle-half), math.Min(1, middle+half)
}
