package survival

import (
	"math"
	"slices"
)

// discrete is the exact partial likelihood: at each time, the chance that
// just those d of the n at risk had the event, given that d did. The sum
// over all sets of d is made by the recursion of Gail, Lubin and Rubinstein
// 1981 (Biometrika 68:703), one row after another, with its derivatives.
//
// Risks are first multiplied by a common factor that makes d the expected
// number of events if each row had one with odds equal to its risk. The
// factor cancels. Divided by 1 + odds at each row, the sums are then the
// chances of 0, 1, ... d events and can neither overflow nor vanish.
func (m *coxModel) discrete(risk []float64, l *coxLikelihood) {
	d := m.data
	for b := range m.blocks {
		byTime := m.full().byTime[b]
		var rows []int // at risk, each as often as its weight says
		for k := 0; k < len(byTime); {
			at := d.Time[byTime[k]]
			rows = slices.DeleteFunc(rows, func(i int) bool { return m.from(i) >= at })
			events := 0
			for ; k < len(byTime) && d.Time[byTime[k]] == at; k++ {
				i := byTime[k]
				for range int(m.weight(i)) {
					rows = append(rows, i)
					if d.Event[i] {
						events++
						l.loglik += math.Log(risk[i])
						for j := range l.score {
							l.score[j] += m.full().z[i*m.p+j]
						}
					}
				}
			}
			if events > 0 && events < len(rows) {
				m.discreteTime(rows, risk, events, l)
			} else if events > 0 {
				// Everybody had it: only one set is possible.
				for _, i := range rows {
					l.loglik -= math.Log(risk[i])
					for j := range l.score {
						l.score[j] -= m.full().z[i*m.p+j]
					}
				}
			}
		}
	}
}

func (m *coxModel) discreteTime(rows []int, risk []float64, events int, l *coxLikelihood) {
	p := m.p
	q := p * (p + 1) / 2
	factor := oddsFactor(rows, risk, events)
	// For each number of events so far: the sum, its derivatives by column
	// and its second derivatives by pair of columns.
	width := 1 + p + q
	sums := make([]float64, (events+1)*width)
	sums[0] = 1
	scale := 0.0
	for n, i := range rows {
		o := factor * risk[i]
		z := m.full().z[i*p : (i+1)*p]
		norm := 1 / (1 + o)
		scale += math.Log1p(o)
		// Fewer than this many events by now could not become enough.
		least := max(0, events-(len(rows)-1-n))
		for k := min(events, n+1); k >= least; k-- {
			now := sums[k*width : (k+1)*width]
			if k > 0 {
				before := sums[(k-1)*width : k*width]
				v := before[0]
				now[0] += o * v
				h := 1 + p
				for a := range p {
					for b := a; b < p; b++ {
						now[h] += o * (before[h] + z[a]*before[1+b] + z[b]*before[1+a] + z[a]*z[b]*v)
						h++
					}
				}
				for a := range p {
					now[1+a] += o * (before[1+a] + z[a]*v)
				}
			}
			for h := range now {
				now[h] *= norm
			}
		}
	}
	end := sums[events*width:]
	l.loglik -= math.Log(end[0]) + scale - float64(events)*math.Log(factor)
	h := 1 + p
	for a := range p {
		l.score[a] -= end[1+a] / end[0]
		for b := a; b < p; b++ {
			l.info[a][b] += end[h]/end[0] - end[1+a]/end[0]*end[1+b]/end[0]
			h++
		}
	}
}

// oddsFactor is the factor for the risks at which the expected number of
// events is the number seen, by bisection on its logarithm.
func oddsFactor(rows []int, risk []float64, events int) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	share := float64(events) / float64(len(rows))
	odds := math.Log(share) - math.Log1p(-share)
	for _, i := range rows {
		v := odds - math.Log(risk[i])
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	for range 40 {
		mid := (lo + hi) / 2
		sum := 0.0
		for _, i := range rows {
			o := math.Exp(mid) * risk[i]
			sum += o / (1 + o)
		}
		if sum < float64(events) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp((lo + hi) / 2)
}
