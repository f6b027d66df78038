package mixed

import "math"

// folder takes the effects of groups and of the groups above out of a lot of
// blocks, in memory that it uses again: the criterion is worked out hundreds of
// times. Sums are made lot by lot and added in their order, so that they do not
// depend on how many lots are worked on at a time.
type folder struct {
	m        *layers
	from, to int         // blocks
	top      [][]float64 // what is left of them; lower triangle
	logK     float64
	ok       bool

	s, x, rl, kk scratchMatrix
	l, sl, w     scratchMatrix
}

// scratchMatrix is memory for a matrix whose size changes.
type scratchMatrix struct {
	flat []float64
	rows [][]float64
}

// of is a matrix of r rows and c columns, with whatever stood there.
func (s *scratchMatrix) of(r, c int) [][]float64 {
	if len(s.flat) < r*c {
		s.flat = make([]float64, 2*r*c)
	}
	if len(s.rows) < r {
		s.rows = make([][]float64, 2*r)
	}
	for j := range r {
		s.rows[j] = s.flat[j*c : (j+1)*c]
	}
	return s.rows[:r]
}

// folders are made once for a model: lots of some hundred blocks, but no more
// of them than keep their top matrices small.
func (m *layers) folders() []*folder {
	if m.fold == nil {
		const blocksInLot, mostNumbers = 128, 1 << 21
		n := m.first[len(m.first)-1] + m.f.P + 1
		lots := max(1, min((len(m.blocks)+blocksInLot-1)/blocksInLot, mostNumbers/(n*n)))
		for k := range lots {
			m.fold = append(m.fold, &folder{m: m, from: k * len(m.blocks) / lots, to: (k + 1) * len(m.blocks) / lots, top: square(n)})
		}
	}
	return m.fold
}

// run folds the blocks of the lot.
func (f *folder) run(red *reduced, inner, above [][]float64) {
	for j := range f.top {
		clear(f.top[j])
	}
	f.logK, f.ok = 0, true
	det := logProduct{v: 1}
	qa := len(above)
	for b := f.from; b < f.to; b++ {
		s, ok := f.groupsOut(&red.blocks[b], inner, &det)
		if !ok {
			f.ok = false
			return
		}
		place := f.m.blocks[b].place
		if qa > 0 {
			_, w, ok := f.eliminate(s, above, &det)
			if !ok {
				f.ok = false
				return
			}
			for j := range place {
				for k := range j + 1 {
					s[qa+j][qa+k] -= dot(w[j], w[k])
				}
			}
		}
		for j, pj := range place { // ascending, so that the lower triangle stays one
			to, from := f.top[pj], s[qa+j][qa:]
			for k := range j + 1 {
				to[place[k]] += from[k]
			}
		}
	}
	f.logK = det.log()
}

// logProduct is the logarithm of the square of a product of numbers not below 1.
// Logarithms cost more than all else: one for many factors.
type logProduct struct{ v, sum float64 }

func (p *logProduct) times(v float64) {
	if p.v *= v; p.v > 1e100 {
		p.sum += 2 * math.Log(p.v)
		p.v = 1
	}
}

func (p *logProduct) log() float64 { return p.sum + 2*math.Log(p.v) }

// groupsOut is the crossproduct of a block without the groups' own effects, in
// memory of the folder.
func (f *folder) groupsOut(b *reducedBlock, inner [][]float64, det *logProduct) ([][]float64, bool) {
	width, q := len(b.rest), len(inner)
	s := f.s.of(width, width)
	for j := range s {
		copy(s[j][:j+1], b.rest[j][:j+1])
	}
	for i := range b.parts {
		pt := &b.parts[i]
		k := pt.k
		rl, kk, x := f.rl.of(k, q), f.kk.of(k, k), f.x.of(k, width)
		for a := range k {
			clear(rl[a])
			for j := range q {
				add(rl[a][:j+1], pt.r[a*q+j], inner[j])
			}
			for d := range a + 1 {
				v := dot(rl[a], rl[d])
				if a == d {
					v++
				}
				kk[a][d] = v - dot(kk[a][:d], kk[d])
				if a > d {
					kk[a][d] /= kk[d][d]
				}
			}
			if !(kk[a][a] > 0) {
				return nil, false
			}
			kk[a][a] = math.Sqrt(kk[a][a])
			det.times(kk[a][a])
			row := x[a]
			copy(row, pt.lead[a*width:(a+1)*width])
			for d := range a {
				subtract(row, kk[a][d], x[d])
			}
			e := 1 / kk[a][a]
			for j := range row {
				row[j] *= e
			}
			for j, v := range row {
				if v != 0 {
					add(s[j][:j+1], v, row)
				}
			}
		}
	}
	return s, true
}

// eliminate factors I + Lambda'S Lambda = L L' for the leading columns of S,
// a lower triangle, and returns W = L^-1 Lambda' S for each further column, in
// memory of the folder.
func (f *folder) eliminate(s, lambda [][]float64, det *logProduct) (l, w [][]float64, ok bool) {
	q := len(lambda)
	l, sl := f.l.of(q, q), f.sl.of(q, q) // S Lambda, the leading part
	for j := range q {
		clear(sl[j])
		clear(l[j])
		for i := range q {
			add(sl[j][:i+1], s[max(i, j)][min(i, j)], lambda[i])
		}
	}
	for j := range q {
		for k := range j + 1 {
			for i := range q {
				l[j][k] += lambda[i][j] * sl[i][k]
			}
		}
		l[j][j]++
	}
	if !cholesky(l) {
		return nil, nil, false
	}
	for j := range l {
		det.times(l[j][j])
	}
	w = f.w.of(len(s)-q, q)
	for c := range w {
		clear(w[c])
		for i := range q {
			add(w[c][:i+1], s[q+c][i], lambda[i])
		}
		for i, v := range w[c] {
			w[c][i] = (v - dot(l[i][:i], w[c])) / l[i][i]
		}
	}
	return l, w, true
}
