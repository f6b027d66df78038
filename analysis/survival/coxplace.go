package survival

// place puts the rows in the order of the sweep, and makes its bins. of is the
// pattern of each row; nil: each place is its own. Whole
// times that span little more than there are rows, as days do, are counted
// into their places; others are sorted.
func (f *coxFast) place(of []int32) {
	m := f.m
	f.where, f.rows, f.code = make([]rowPlace, m.n), make([]int32, m.n), make([]int32, m.n)
	bin, bins := f.binOfWhole()
	if bin == nil {
		bin, bins = f.binOfAny()
	}
	// Rows of each bin by ending, of each half of the data.
	var counts [2][]int32
	both(m.n, func(half, lo, hi int) {
		c := make([]int32, endings*bins)
		for i := lo; i < hi; i++ {
			c[endings*bin[i]+f.ending(i)]++
		}
		counts[half] = c
	})
	number := make([]uint32, bins) // of the bins that hold rows
	at := int32(0)
	for b := range bins {
		var ends [endings]int32 // the places behind those of each ending
		first := at
		for e := range ends {
			k := endings*b + e
			counts[0][k], counts[1][k], at = at, at+counts[0][k], at+counts[0][k]+counts[1][k]
			ends[e] = at
		}
		if at > first {
			number[b] = uint32(len(f.bins))
			f.bins = append(f.bins, coxBin{lo: first, mid: ends[endEvent], out: ends[endCompeting], hi: at, tied: -1})
		}
	}
	if len(m.data.Weight) > 0 {
		f.w = make([]float64, m.n)
	}
	both(m.n, func(half, lo, hi int) {
		next := counts[half]
		for i := lo; i < hi; i++ {
			b, ending := bin[i], f.ending(i)
			c := endings*b + ending
			k := next[c]
			next[c]++
			q := k
			if of != nil {
				q = of[i]
			}
			f.rows[k], f.code[k] = int32(i), q
			f.where[i] = rowPlace{q, 4*number[b] + uint32(ending)}
			if f.w != nil {
				f.w[k] = m.data.Weight[i]
			}
		}
	})
	if m.stratum != nil {
		for b := range f.bins {
			f.bins[b].stratum = m.stratum[f.rows[f.bins[b].lo]]
		}
	}
}

func (f *coxFast) ending(i int) int32 {
	switch {
	case f.m.data.Event[i]:
		return endEvent
	case f.m.data.competing != nil && f.m.data.competing[i]:
		return endCompeting
	}
	return endOther
}

// binOfWhole numbers bins by stratum, latest time first, some of them empty;
// nil where the times are not whole or span too much.
func (f *coxFast) binOfWhole() (bin []int32, bins int) {
	m := f.m
	first, last, whole := wholeSpan(m.data.Time)
	if !whole || (last-first+1)*float64(len(m.blocks)) > float64(2*m.n+1024) {
		return nil, 0
	}
	bin = make([]int32, m.n)
	width := int32(last - first + 1)
	both(m.n, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			bin[i] = int32(last - m.data.Time[i])
			if m.stratum != nil {
				bin[i] += m.stratum[i] * width
			}
		}
	})
	return bin, int(width) * len(m.blocks)
}

// binOfAny numbers bins by stratum, latest time first.
func (f *coxFast) binOfAny() (bin []int32, bins int) {
	m := f.m
	by := sortedPlaces(m.n, func(i int) float64 { return -m.data.Time[i] })
	if m.stratum != nil {
		next := make([]int32, len(m.blocks)+1)
		for _, s := range m.stratum {
			next[s+1]++
		}
		for s := range m.blocks {
			next[s+1] += next[s]
		}
		sorted := make([]int32, m.n)
		for _, i := range by {
			s := m.stratum[i]
			sorted[next[s]] = i
			next[s]++
		}
		by = sorted
	}
	bin = make([]int32, m.n)
	for k, i := range by {
		if k > 0 && (m.data.Time[i] != m.data.Time[by[k-1]] || m.blockOf(int(i)) != m.blockOf(int(by[k-1]))) {
			bins++
		}
		bin[i] = int32(bins)
	}
	return bin, bins + 1
}
