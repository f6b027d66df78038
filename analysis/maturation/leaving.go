package maturation

import (
	"math"
	"sort"

	"plybook/analysis/stats"
)

// Leaving tells whether limbs that were last measured early differ from those
// followed for long, which is the mark of informative drop-out: the rank
// correlation of each random effect with the time of the last measurement, and
// its p value by Student's distribution, multiplied by the number of effects
// looked at. The strongest is returned with its name; p is 1 with fewer than 10
// limbs or where nothing varies. That no such mark is seen proves nothing.
// (Spearman 1904, Am J Psychol 15:72; on patterns of leaving Little 1995, J Am
// Stat Assoc 90:1112.)
func (m *Model) Leaving() (effect string, correlation, p float64) {
	p = 1
	n := len(m.Limbs)
	if n < 10 {
		return "", 0, 1
	}
	last := make([]float64, n)
	for g, l := range m.Limbs {
		last[g] = l.Last
	}
	rl := ranks(last)
	for k, name := range m.RandomNames {
		v := make([]float64, n)
		for g, l := range m.Limbs {
			v[g] = l.Effect[k]
		}
		r := correlate(ranks(v), rl)
		if math.IsNaN(r) {
			continue
		}
		pv := 0.0
		if 1-r*r > 1e-15 {
			pv = stats.StudentP(r*math.Sqrt(float64(n-2)/(1-r*r)), float64(n-2))
		}
		if pv = math.Min(1, pv*float64(len(m.RandomNames))); pv < p || effect == "" {
			effect, correlation, p = name, r, pv
		}
	}
	return effect, correlation, p
}

// ranks are mid-ranks.
func ranks(v []float64) []float64 {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return v[order[a]] < v[order[b]] })
	out := make([]float64, len(v))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && v[order[j]] == v[order[i]] {
			j++
		}
		for k := i; k < j; k++ {
			out[order[k]] = float64(i+j+1) / 2
		}
		i = j
	}
	return out
}

func correlate(a, b []float64) float64 {
	n := float64(len(a))
	ma, mb := 0.0, 0.0
	for i := range a {
		ma, mb = ma+a[i]/n, mb+b[i]/n
	}
	var ab, aa, bb float64
	for i := range a {
		ab, aa, bb = ab+(a[i]-ma)*(b[i]-mb), aa+(a[i]-ma)*(a[i]-ma), bb+(b[i]-mb)*(b[i]-mb)
	}
	return ab / math.Sqrt(aa*bb)
}
