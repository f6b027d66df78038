package figure

import (
	"math"
	"slices"
)

// MaskExclusions settles which exclusions of a flow are withheld so that no
// count of 1 to below-1 can be worked out. Excluded holds the counts in
// order; shown has one more, for the numbers left before, between and after
// them that are to be printed. An exclusion that stands for few is withheld
// together with others between the same two printed numbers until those
// withheld come to at least below; where they do not, a printed number
// between is withheld too and the stretches are joined. It returns the
// exclusions to hide and the numbers that may still be printed.
func MaskExclusions(excluded []int, shown []bool, below int) (hide, keep []bool) {
	hide, keep = make([]bool, len(excluded)), slices.Clone(shown)
	for len(keep) < len(excluded)+1 {
		keep = append(keep, false)
	}
	if below <= 1 {
		return hide, keep
	}
	for i, e := range excluded {
		hide[i] = e > 0 && e < below
	}
	for {
		settled := true
		for a := 0; a < len(excluded); {
			b := a + 1
			for b < len(excluded) && !keep[b] {
				b++
			}
			if !settleStretch(excluded, hide, keep, a, b, below) {
				settled = false
				break
			}
			a = b
		}
		if settled {
			return hide, keep
		}
	}
}

// settleStretch looks at the exclusions a to b-1 between two printed
// numbers. It reports false where it joined the stretch with a neighbour.
func settleStretch(excluded []int, hide, keep []bool, a, b, below int) bool {
	for {
		n, sum := 0, 0
		for i := a; i < b; i++ {
			if hide[i] {
				n, sum = n+1, sum+excluded[i]
			}
		}
		if n == 0 || n > 1 && sum >= below || !keep[a] || !keep[b] {
			return true
		}
		next := -1
		for i := a; i < b; i++ {
			if !hide[i] && excluded[i] > 0 && (next < 0 || excluded[i] < excluded[next]) {
				next = i
			}
		}
		switch {
		case next >= 0:
			hide[next] = true
		case b < len(excluded):
			keep[b] = false
			return false
		case a > 0:
			keep[a] = false
			return false
		default:
			keep[b] = false
			return false
		}
	}
}

// publicSteps thins a curve for a public audience: each step of a full curve
// is one person's day. The state at each quarter of a year is kept, as long
// as enough are at risk after it. Thinning twice changes nothing.
func publicSteps(steps []Step, below int) []Step {
	if below <= 1 || len(steps) == 0 {
		return steps
	}
	const quarter = daysPerYear / 4
	out := []Step{steps[0]}
	k := 0
	for q := 1; ; q++ {
		s := Step{Time: float64(q) * quarter}
		if s.Time > steps[len(steps)-1].Time {
			return out
		}
		for k+1 < len(steps) && steps[k+1].Time <= s.Time {
			k++
			s.Events += steps[k].Events
			s.Censored += steps[k].Censored
		}
		left := steps[k].AtRisk
		if k+1 < len(steps) {
			left = steps[k+1].AtRisk
		}
		if left < below {
			return out
		}
		s.AtRisk, s.Estimate, s.Low, s.High = steps[k].AtRisk, steps[k].Estimate, steps[k].Low, steps[k].High
		if steps[k].Time != s.Time {
			s.AtRisk = left
		}
		if math.IsNaN(s.Estimate) {
			return out
		}
		out = append(out, s)
	}
}

// maskedCounts settles for each tick whether a group's counts are printed.
// A single count of 1 to below-1 is withheld; a whole column is withheld
// where, against the last one printed, any count moved by so few that the
// difference would tell. Of sparse curves nothing is known between their
// steps.
func maskedCounts(b riskBlock, ticks []tick, below int, sparse bool) [][]string {
	out := make([][]string, len(b.rows))
	for k := range out {
		out[k] = make([]string, len(ticks))
	}
	var last []int
	for i, t := range ticks {
		now := make([]int, len(b.rows))
		open := !sparse || b.known(t.value)
		for k, r := range b.rows {
			now[k] = r.counts(t.value)
			if last != nil {
				d := now[k] - last[k]
				open = open && !(d != 0 && d > -below && d < below)
			}
			open = open && !(now[k] > 0 && now[k] < below)
		}
		if below <= 1 || open {
			last = now
		}
		for k, n := range now {
			out[k][i] = "–"
			if below <= 1 || open {
				out[k][i] = count(n)
			}
		}
	}
	return out
}
