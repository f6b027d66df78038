package survival

// linger tells what those who stay at risk weigh at the time of each bin.
func (f *coxFast) linger(l *lingering) {
	f.stays = make([]float64, len(f.bins))
	for b := range f.bins {
		f.stays[b] = l.stays(f.time(b))
	}
}

func (f *coxFast) time(bin int) float64 { return f.m.data.Time[f.rows[f.bins[bin].lo]] }

// addLingering adds to the sums over the rows at risk those over the rows that
// had a competing ending before, by what they weigh. These grow from the first
// time to the last: nothing is ever subtracted.
func (f *coxFast) addLingering(all, risk []float64) {
	p := f.m.p
	run, here := make([]float64, p+1), make([]float64, p+1)
	for b := len(f.bins) - 1; b >= 0; b-- {
		bin := &f.bins[b]
		if bin.lo < bin.mid { // only times with events are looked at
			s := all[b*(p+1) : (b+1)*(p+1)]
			for j, x := range run {
				s[j] += f.stays[b] * x
			}
		}
		if bin.mid < bin.out {
			clear(here)
			f.addRows(here, risk, bin.mid, bin.out)
			for j, x := range here {
				run[j] += x / f.stays[b]
			}
		}
	}
}

// tails are, for each bin, the sums of numbers of later bins, width each, by
// what those who linger weigh then. Divided by what they weigh when they begin
// to linger they are what these meet afterwards.
func (f *coxFast) tails(numbers []float64, stride, width int) []float64 {
	out, run := make([]float64, len(f.bins)*width), make([]float64, width)
	for b := range f.bins {
		copy(out[b*width:], run)
		for j, v := range numbers[b*stride : b*stride+width] {
			run[j] += f.stays[b] * v
		}
	}
	return out
}

// moveWeights adds to the scores what estimating the weights does to them; see
// robustWeights.
func (g *lived) moveWeights(l *lingering) {
	f, p := g.f, g.f.m.p
	g.moved = make([]float64, len(f.bins)*2*p)
	begun, sum := make([]float64, 1+p), make([]float64, p) // P, and what is moved for certain
	k := 0
	for b := len(f.bins) - 1; b >= 0; b-- {
		bin := &f.bins[b]
		if bin.mid < bin.out {
			here := make([]float64, 1+p)
			f.addRows(here, g.risk, bin.mid, bin.out)
			for j, x := range here {
				begun[j] += x / f.stays[b]
			}
		}
		moved, censored := g.moved[b*2*p:b*2*p+p], g.moved[b*2*p+p:(b+1)*2*p]
		for j, x := range sum {
			moved[j] = -x // an event comes before a censoring at the same time
		}
		if bin.out == bin.hi {
			continue
		}
		if l.fall[k] < 1 {
			tail := g.tails[b*(1+p) : (b+1)*(1+p)]
			for j := range sum {
				x := (begun[1+j]*tail[0] - begun[0]*tail[1+j]) / (l.atRisk[k] * (1 - l.fall[k]))
				censored[j] = x
				sum[j] += x * l.fall[k]
			}
		}
		for j, x := range sum {
			censored[j] -= x
		}
		k++
	}
}
