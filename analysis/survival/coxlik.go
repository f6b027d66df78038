package survival

import "math"

// likelihood is the log partial likelihood, its score and its information
// for the scaled columns. It is not ok where numbers overflow.
type coxLikelihood struct {
	ok     bool
	loglik float64
	score  []float64
	info   [][]float64
}

func (m *coxModel) likelihood(beta []float64) *coxLikelihood {
	if m.fast != nil && !m.third {
		return m.fast.likelihood(beta)
	}
	l := &coxLikelihood{score: make([]float64, m.p), info: square(m.p)}
	risk, ok := m.risks(beta)
	if !ok {
		return l
	}
	if m.ties == Discrete {
		m.discrete(risk, l)
	} else {
		m.sweep(risk, func(r *riskSet) {
			l.loglik += m.scoreAt(r, risk, l.score)
			m.informationAt(r, func(i, j int, v float64) { l.info[i][j] += v })
		})
	}
	for i := range l.info {
		for j := range i {
			l.info[i][j] = l.info[j][i]
		}
	}
	l.ok = finite(l.loglik)
	return l
}

// scoreAt adds what one time contributes to the score and returns what it
// contributes to the log likelihood.
func (m *coxModel) scoreAt(r *riskSet, risk, score []float64) (loglik float64) {
	for _, i := range r.events {
		loglik += m.weight(i) * math.Log(risk[i])
		for j := range score {
			score[j] += m.weight(i) * m.full().z[i*m.p+j]
		}
	}
	for _, x := range r.pieces {
		loglik -= x.count * math.Log(x.s0)
		for j := range score {
			score[j] -= x.count * r.mean(x, j)
		}
	}
	return loglik
}

// informationAt adds up what one time contributes to the information, entry
// by entry of the upper triangle. The sums over pieces are of numbers only,
// so that many ties cost little.
func (m *coxModel) informationAt(r *riskSet, add func(i, j int, v float64)) {
	var a0, a1, b0, b1, b2 float64
	for _, x := range r.pieces {
		c := x.count / x.s0
		a0 += c
		a1 += c * x.share
		c /= x.s0
		b0 += c
		b1 += c * x.share
		b2 += c * x.share * x.share
	}
	k := 0
	for i := range m.p {
		for j := i; j < m.p; j++ {
			v := a0*r.all.s2[k] - b0*r.all.s1[i]*r.all.s1[j]
			if a1 != 0 {
				v += b1*(r.all.s1[i]*r.dead.s1[j]+r.dead.s1[i]*r.all.s1[j]) -
					a1*r.dead.s2[k] - b2*r.dead.s1[i]*r.dead.s1[j]
			}
			add(i, j, v)
			k++
		}
	}
}
