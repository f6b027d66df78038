package survival

// grouped are the sums over clusters of the products of their scores, and the
// sums of their scores, at some coefficients. The score of each row is added
// to that of its cluster as soon as it is made, cluster by cluster, so that
// only the sums of one are kept.
func (f *coxFast) grouped(at []*lived, of []int32, clusters int) (out []groupedScore) {
	m, p := f.m, f.m.p
	first, members := byCluster(of, clusters)
	var meats, totals [2][]float64 // p*p and p numbers for each of betas
	both(clusters, func(half, lo, hi int) {
		u, sum, all := make([]float64, p*len(at)), make([]float64, p*p*len(at)), make([]float64, p*len(at))
		for c := lo; c < hi; c++ {
			clear(u)
			for _, i := range members[first[c]:first[c+1]] {
				where, w := f.where[i], m.weight(int(i))
				for k, g := range at {
					g.addScore(u[k*p:(k+1)*p], where, w)
				}
			}
			for k := range at {
				u := u[k*p : (k+1)*p]
				for i, x := range u {
					all[k*p+i] += x
					to := sum[(k*p+i)*p : (k*p+i+1)*p]
					for j := i; j < p; j++ {
						to[j] += x * u[j]
					}
				}
			}
		}
		meats[half], totals[half] = sum, all
	})
	for k := range at {
		g := groupedScore{square(p), make([]float64, p)}
		for i := range p {
			g.total[i] = (totals[0][k*p+i] + totals[1][k*p+i]) * m.scale[i]
			for j := i; j < p; j++ {
				c := (k*p+i)*p + j
				g.meat[i][j] = (meats[0][c] + meats[1][c]) * m.scale[i] * m.scale[j]
				g.meat[j][i] = g.meat[i][j]
			}
		}
		out = append(out, g)
	}
	return out
}

// lived is what the scores of rows are made of: for each bin the hazard up to
// it, then the same of the means of the columns, then the means that its events
// are held against; and for bins whose events are tied what these are spared
// of the hazard, and of the means.
type lived struct {
	f      *coxFast
	risk   []float64
	bins   []float64 // 1 + p + p numbers each
	spared []float64 // 1 + p numbers each
	// Where rows linger: the tails of the hazard and of the means; and, where
	// asked for, how far the estimate of the weights moves the score of a row of
	// each bin, of one censored last.
	tails []float64 // 1 + p numbers each
	moved []float64 // p + p numbers each
}

// It is false where risks overflow.
func (f *coxFast) lived(beta []float64) (*lived, bool) {
	p := f.m.p
	width := 1 + 2*p
	risk, ok := f.risks(beta)
	if !ok {
		return nil, false
	}
	g := &lived{f: f, risk: risk, bins: make([]float64, len(f.bins)*width), spared: make([]float64, f.tied*(1+p))}
	f.eachTime(risk, func(_, b int, all, dead []float64, t tieSums) {
		bin := &f.bins[b]
		x := g.bins[b*width : (b+1)*width]
		x[0] = t.a0
		if dead == nil {
			for j, s := range all[1:] {
				x[1+j], x[1+p+j] = t.b0*s, t.a0*s/bin.weight
			}
			return
		}
		less := g.spared[int(bin.tied)*(1+p) : (int(bin.tied)+1)*(1+p)]
		less[0] = t.a1
		for j, s := range all[1:] {
			d := dead[1+j]
			x[1+j], x[1+p+j] = t.b0*s-t.b1*d, (t.a0*s-t.a1*d)/bin.weight
			less[1+j] = t.b1*s - t.b2*d
		}
	})
	if f.stays != nil {
		g.tails = f.tails(g.bins, width, 1+p)
	}
	for b := len(f.bins) - 2; b >= 0; b-- {
		if f.bins[b].stratum != f.bins[b+1].stratum {
			continue
		}
		x, later := g.bins[b*width:b*width+1+p], g.bins[(b+1)*width:(b+1)*width+1+p]
		for j, v := range later {
			x[j] += v
		}
	}
	return g, true
}

// addScore adds the score of a row of weight w.
func (g *lived) addScore(to []float64, at rowPlace, w float64) {
	p := len(to)
	b, q := int(at.bin>>2), int(at.pattern)
	x := g.bins[b*(1+2*p) : (b+1)*(1+2*p)]
	z := g.f.z[q*p : (q+1)*p]
	r, hazard, mean := w*g.risk[q], x[0], x[1:1+p]
	switch at.bin & 3 {
	case endEvent:
		against := x[1+p:]
		for j := range to {
			to[j] += w * (z[j] - against[j])
		}
		if t := int(g.f.bins[b].tied); t >= 0 {
			less := g.spared[t*(1+p) : (t+1)*(1+p)]
			hazard -= less[0]
			for j, v := range less[1:] {
				to[j] -= r * v
			}
		}
	case endCompeting:
		tail, stays := g.tails[b*(1+p):(b+1)*(1+p)], g.f.stays[b]
		hazard += tail[0] / stays
		for j, v := range tail[1:] {
			to[j] += r * v / stays
		}
	}
	for j := range to {
		to[j] -= r * (z[j]*hazard - mean[j])
	}
	if g.moved != nil {
		moved := g.moved[b*2*p : (b+1)*2*p]
		if at.bin&3 == endOther {
			moved = moved[p:]
		}
		for j := range to {
			to[j] += w * moved[j]
		}
	}
}

// byCluster lists the rows of each cluster: those of cluster g are
// rows[first[g]:first[g+1]].
func byCluster(of []int32, clusters int) (first, rows []int32) {
	first, rows = make([]int32, clusters+2), make([]int32, len(of))
	for _, g := range of {
		first[g+2]++
	}
	for g := range clusters {
		first[g+2] += first[g+1]
	}
	for i, g := range of {
		rows[first[g+1]] = int32(i)
		first[g+1]++
	}
	return first, rows
}
