package survival

// grouped is as that of coxModel: the score of each row is added to that of
// its cluster as soon as it is made.
func (f *coxFast) grouped(beta []float64, of []int, clusters int) (meat [][]float64, total []float64, ok bool) {
	m, p := f.m, f.m.p
	risk, ok := f.risks(beta)
	if !ok {
		return nil, nil, false
	}
	hazard, mean := make([]float64, len(f.bins)), make([]float64, len(f.bins)*p)
	average := make([]float64, len(f.bins)*p) // what an event's columns are held against
	spared, sparedMean := make([]float64, f.tied), make([]float64, f.tied*p)
	f.sweep(risk, func(b int, r *riskSet) {
		t := int(f.bins[b].tied)
		for _, x := range r.pieces {
			h := x.count / x.s0
			hazard[b] += h
			if t >= 0 {
				spared[t] += h * x.share
			}
			for j := range p {
				v := r.mean(x, j)
				mean[b*p+j] += h * v
				average[b*p+j] += x.count / r.weight * v
				if t >= 0 {
					sparedMean[t*p+j] += h * x.share * v
				}
			}
		}
	})
	f.upTo(hazard)
	for b := len(f.bins) - 2; b >= 0; b-- {
		if f.bins[b].stratum == f.bins[b+1].stratum {
			for j := range p {
				mean[b*p+j] += mean[(b+1)*p+j]
			}
		}
	}
	// Cluster by cluster, so that only the sums of one are kept.
	first, members := byCluster(of, clusters, f.rows)
	bin := make([]int32, m.n)
	for b, x := range f.bins {
		for k := x.lo; k < x.hi; k++ {
			bin[k] = int32(b)
		}
	}
	var meats [2][]float64
	var totals [2][]float64
	both(clusters, func(half, lo, hi int) {
		u, sum, all := make([]float64, p), make([]float64, p*p), make([]float64, p)
		for g := lo; g < hi; g++ {
			clear(u)
			for _, k := range members[first[g]:first[g+1]] {
				b, q := int(bin[k]), int(f.pattern[k])
				z := f.z[q*p : (q+1)*p]
				w := 1.0
				if f.w != nil {
					w = f.w[k]
				}
				r, h, to := w*risk[q], hazard[b], u[:len(z)]
				if f.event[k] {
					avg := average[b*p : (b+1)*p]
					for j, x := range z {
						to[j] += w * (x - avg[j])
					}
					if t := int(f.bins[b].tied); t >= 0 {
						h -= spared[t]
						for j, v := range sparedMean[t*p : (t+1)*p] {
							to[j] -= r * v
						}
					}
				}
				up := mean[b*p : b*p+len(z)]
				for j, x := range z {
					to[j] -= r * (x*h - up[j])
				}
			}
			for i, x := range u {
				all[i] += x
				to := sum[i*p : (i+1)*p]
				for j := i; j < p; j++ {
					to[j] += x * u[j]
				}
			}
		}
		meats[half], totals[half] = sum, all
	})
	meat, total = square(p), make([]float64, p)
	for i := range p {
		total[i] = totals[0][i] + totals[1][i]
		for j := range p {
			meat[i][j] = meats[0][i*p+j] + meats[1][i*p+j]
		}
	}
	for i := range p {
		total[i] *= m.scale[i]
		for j := i; j < p; j++ {
			meat[i][j] *= m.scale[i] * m.scale[j]
			meat[j][i] = meat[i][j]
		}
	}
	return meat, total, true
}

// byCluster lists the places of the rows of each cluster: those of cluster g
// are places[first[g]:first[g+1]].
func byCluster(of []int, clusters int, rows []int32) (first, places []int32) {
	first, places = make([]int32, clusters+1), make([]int32, len(rows))
	for _, g := range of {
		first[g+1]++
	}
	for g := range clusters {
		first[g+1] += first[g]
	}
	next := append([]int32(nil), first[:clusters]...)
	for k, i := range rows {
		g := of[i]
		places[next[g]] = int32(k)
		next[g]++
	}
	return first, places
}
