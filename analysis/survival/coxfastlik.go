package survival

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// tieSums is what the events of one time come to, whose terms divide by the
// risk of all less a share of that of the dead: the sum of their logarithms,
// and sums over terms of count/s0, the same times share, and of count/s0² times
// 1, share and share squared.
type tieSums struct{ log, a0, a1, b0, b1, b2 float64 }

// ties sums the terms of a bin with events; see riskSet.split. s0 is the risk
// of all and d0 that of the dead.
func (f *coxFast) ties(bin *coxBin, s0, d0 float64) tieSums {
	if bin.tied < 0 {
		a := bin.weight / s0
		return tieSums{log: bin.weight * math.Log(s0), a0: a, b0: a / s0}
	}
	number, each := bin.weight, 1.0
	if f.m.sampling {
		number = float64(bin.mid - bin.lo)
		each = bin.weight / number
	}
	var t tieSums
	product := 1.0 // of terms of equal count, so that few logarithms are taken
	step := 1 / number
	whole := math.Floor(number)
	for l := 0.0; l < whole; l++ {
		share := l * step
		s := s0 - share*d0
		if product *= s; product > 1e100 || product < 1e-100 {
			t.log += math.Log(product)
			product = 1
		}
		a := 1 / s
		b := a * a
		t.a0 += a
		t.a1 += a * share
		t.b0 += b
		b *= share
		t.b1 += b
		t.b2 += b * share
	}
	t.log += math.Log(product)
	t = tieSums{each * t.log, each * t.a0, each * t.a1, each * t.b0, each * t.b1, each * t.b2}
	if rest := number - whole; rest > 0 {
		share, count := whole*step, each*rest
		s := s0 - share*d0
		a, b := count/s, count/(s*s)
		t.log += count * math.Log(s)
		t = tieSums{t.log, t.a0 + a, t.a1 + a*share, t.b0 + b, t.b1 + b*share, t.b2 + b*share*share}
	}
	return t
}

// eachTime shows, on both cores, the bins with events: the sums over all rows
// at risk and over those with the event, p+1 numbers each, and what the events
// come to. dead is nil where the bin is not tied.
func (f *coxFast) eachTime(risk []float64, visit func(half, b int, all, dead []float64, t tieSums)) {
	p := f.m.p
	all, dead := f.binSums(risk)
	f.bothBins(func(half, lo, hi int) {
		for b := lo; b < hi; b++ {
			bin := &f.bins[b]
			if bin.mid == bin.lo {
				continue
			}
			s := all[b*(p+1) : (b+1)*(p+1)]
			var d []float64
			d0 := 0.0
			if bin.tied >= 0 {
				d = dead[int(bin.tied)*(p+1) : (int(bin.tied)+1)*(p+1)]
				d0 = d[0]
			}
			visit(half, b, s, d, f.ties(bin, s[0], d0))
		}
	})
}

// likelihood is as that of coxModel. The sums of products of columns are not
// carried along: a row of risk r that ends at t enters the information with
// r times the hazard up to t, so that they are made once, over patterns.
func (f *coxFast) likelihood(beta []float64) *coxLikelihood {
	p := f.m.p
	l := &coxLikelihood{score: append([]float64(nil), f.zEvents...), info: square(p)}
	risk, ok := f.risks(beta)
	defer f.done(risk)
	if !ok {
		return l
	}
	l.loglik = f.offsetEvents
	for j, x := range f.zEvents {
		l.loglik += beta[j] * x
	}
	hazard, spared := make([]float64, len(f.bins)), make([]float64, f.tied)
	type sums struct {
		log   float64
		score []float64
		info  [][]float64
	}
	var part [2]sums
	for half := range part {
		part[half] = sums{score: make([]float64, p), info: square(p)}
	}
	f.eachTime(risk, func(half, b int, all, dead []float64, t tieSums) {
		to := &part[half]
		to.log += t.log
		hazard[b] = t.a0
		if dead == nil {
			for i, x := range all[1:] {
				to.score[i] += t.a0 * x
				bx, row := t.b0*x, to.info[i][i:]
				for j, y := range all[1+i:] {
					row[j] -= bx * y
				}
			}
			return
		}
		spared[f.bins[b].tied] = t.a1
		for i, x := range all[1:] {
			y := dead[1+i]
			to.score[i] += t.a0*x - t.a1*y
			u, v := t.b1*y-t.b0*x, t.b1*x-t.b2*y
			row, s, d := to.info[i][i:], all[1+i:], dead[1+i:]
			for j := range row {
				row[j] += u*s[j] + v*d[j]
			}
		}
	})
	for half := range part {
		l.loglik -= part[half].log
		for i := range p {
			l.score[i] -= part[half].score[i]
			for j := i; j < p; j++ {
				l.info[i][j] += part[half].info[i][j]
			}
		}
	}
	var after []float64
	if f.stays != nil {
		after = f.tails(hazard, 1, 1)
		for b := range after {
			if f.bins[b].mid < f.bins[b].out {
				after[b] /= f.stays[b]
			}
		}
	}
	f.addProducts(risk, f.upTo(hazard), after, spared, l.info)
	for i := range l.info {
		for j := range i {
			l.info[i][j] = l.info[j][i]
		}
	}
	l.ok = finite(l.loglik)
	return l
}

// upTo turns the hazards of bins into those up to and including each, in
// place.
func (f *coxFast) upTo(hazard []float64) []float64 {
	for b := len(hazard) - 2; b >= 0; b-- {
		if f.bins[b].stratum == f.bins[b+1].stratum {
			hazard[b] += hazard[b+1]
		}
	}
	return hazard
}

// addProducts adds the products of columns of all patterns, each with its
// risk times the hazards that its rows lived through.
func (f *coxFast) addProducts(risk, hazard, after, spared []float64, info [][]float64) {
	m, p, n := f.m, f.m.p, f.patterns()
	weights := [2][]float64{f.list(), nil}
	defer f.done(weights[0])
	clear(weights[0])
	weights[1] = weights[0] // no row of one half shares a pattern with the other
	if n < m.n {
		weights[1] = f.list()
		defer f.done(weights[1])
		clear(weights[1])
	}
	f.bothBins(func(half, lo, hi int) {
		to := weights[half]
		for b := lo; b < hi; b++ {
			bin := &f.bins[b]
			less := hazard[b]
			if bin.tied >= 0 {
				less -= spared[bin.tied]
			}
			f.addHazard(to, less, bin.lo, bin.mid)
			from := bin.mid
			if after != nil {
				f.addHazard(to, hazard[b]+after[b], bin.mid, bin.out)
				from = bin.out
			}
			f.addHazard(to, hazard[b], from, bin.hi)
		}
	})
	var part [2][]float64
	both(n, func(half, lo, hi int) {
		// Some patterns at a time, column by column, so that the sums of products
		// are inner products of two short lists.
		const chunk = 256
		sum := make([]float64, p*(p+1)/2)
		columns, weighted, c := make([]float64, p*chunk), make([]float64, chunk), make([]float64, chunk)
		for from := lo; from < hi; from += chunk {
			size := min(chunk, hi-from)
			for k := range size {
				w := weights[0][from+k]
				if n < m.n {
					w += weights[1][from+k]
				}
				c[k] = w * risk[from+k]
				for j, x := range f.z[(from+k)*p : (from+k+1)*p] {
					columns[j*chunk+k] = x
				}
			}
			at := 0
			for i := range p {
				for k, x := range columns[i*chunk : i*chunk+size] {
					weighted[k] = c[k] * x
				}
				for j := i; j < p; j++ {
					sum[at] += floats.Dot(weighted[:size], columns[j*chunk:j*chunk+size])
					at++
				}
			}
		}
		part[half] = sum
	})
	at := 0
	for i := range p {
		for j := i; j < p; j++ {
			info[i][j] += part[0][at] + part[1][at]
			at++
		}
	}
}

func (f *coxFast) addHazard(to []float64, hazard float64, lo, hi int32) {
	if f.w == nil {
		for _, q := range f.code[lo:hi] {
			to[q] += hazard
		}
		return
	}
	for k := lo; k < hi; k++ {
		to[f.code[k]] += f.w[k] * hazard
	}
}
