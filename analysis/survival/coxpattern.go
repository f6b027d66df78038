package survival

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// patternTable numbers what rows hold in some columns: rows alike in all of
// them share a number. It is a table with open addresses.
type patternTable struct {
	width  int
	slots  []uint64  // number of a pattern, from 1, below its hash; 0: free
	hashes []uint32  // of each pattern
	values []float64 // of each pattern, one after the other
	first  []int32   // a row of each pattern
}

// fewAlike is from how many rows on patterns must be worth it: no more than
// half as many as there are rows.
const fewAlike = 4096

// number gives rows lo to hi their numbers in of. It gives up where few rows
// are alike: when of so many rows one after the other all but 1 in 1000 are new
// patterns, or nine in ten although a quarter of the rows is past.
func (t *patternTable) number(columns [][]float64, of []int32, lo, hi int) bool {
	const chunk = 256
	var hash [chunk]uint64
	rows := make([]float64, chunk*t.width) // the columns row by row
	before := 0
	for from := lo; from < hi; from += chunk {
		n := min(chunk, hi-from)
		clear(hash[:n])
		for j, x := range columns {
			for k, v := range x[from : from+n] {
				h := (hash[k] ^ math.Float64bits(v+0)) * 0x9e3779b97f4a7c15 // -0 is 0
				hash[k] = h ^ h>>32
				rows[k*t.width+j] = v
			}
		}
		for k, h := range hash[:n] {
			of[from+k] = t.find(uint32(h), rows[k*t.width:(k+1)*t.width], from+k)
		}
		if seen := from + n - lo; seen%fewAlike == 0 {
			fresh := len(t.first) - before
			if 1000*fresh > 999*fewAlike || 10*fresh > 9*fewAlike && 4*seen > hi-lo {
				return false
			}
			before = len(t.first)
		}
	}
	return true
}

// find is the number of the pattern that holds some values, a new one where
// none does.
func (t *patternTable) find(hash uint32, values []float64, row int) int32 {
	mask := uint32(len(t.slots) - 1)
probe:
	for s := hash & mask; ; s = (s + 1) & mask {
		x := t.slots[s]
		if x == 0 {
			t.slots[s] = uint64(hash)<<32 | uint64(len(t.first)+1)
			break
		}
		if uint32(x>>32) != hash {
			continue
		}
		q := int(uint32(x)) - 1
		known := t.values[q*t.width : (q+1)*t.width]
		for j, v := range values {
			if known[j] != v {
				continue probe
			}
		}
		return int32(q)
	}
	t.first, t.hashes = append(t.first, int32(row)), append(t.hashes, hash)
	t.values = append(t.values, values...)
	if 2*len(t.first) > len(t.slots) {
		t.grow()
	}
	return int32(len(t.first) - 1)
}

func (t *patternTable) grow() {
	t.slots = make([]uint64, 4*len(t.slots))
	mask := uint32(len(t.slots) - 1)
	for q, h := range t.hashes {
		s := h & mask
		for t.slots[s] != 0 {
			s = (s + 1) & mask
		}
		t.slots[s] = uint64(h)<<32 | uint64(q+1)
	}
}

// patternsOf numbers the patterns of n rows, and says which each row has; nil
// where few rows are alike.
func patternsOf(columns [][]float64, n int) (of []int32, t *patternTable) {
	of = make([]int32, n)
	if k := newKeyer(columns, n); k != nil {
		t = k.number(of)
	} else {
		t = numberByHash(columns, of)
	}
	if t == nil || n >= fewAlike && 2*len(t.first) > n {
		return nil, nil
	}
	return of, t
}

// numberByHash numbers those of the first half of the rows first.
func numberByHash(columns [][]float64, of []int32) *patternTable {
	n := len(of)
	var tables [2]patternTable
	var fine [2]bool
	both(n, func(half, lo, hi int) {
		tables[half] = patternTable{width: len(columns), slots: make([]uint64, 1<<12)}
		fine[half] = tables[half].number(columns, of, lo, hi)
	})
	if !fine[0] || !fine[1] {
		return nil
	}
	t := &tables[0]
	name := make([]int32, len(tables[1].first))
	for q, row := range tables[1].first {
		name[q] = t.find(tables[1].hashes[q], tables[1].values[q*t.width:(q+1)*t.width], int(row))
	}
	both(n-n/2, func(_, lo, hi int) {
		rows := of[n/2:]
		for i := lo; i < hi; i++ {
			rows[i] = name[rows[i]]
		}
	})
	t.slots, t.hashes = nil, nil
	return t
}

// codes numbers the distinct values, the least first, and says which each row
// has. Without values, or with one only, there is one and of is nil.
func codes(values []int) (of []int32, distinct []int) {
	if len(values) == 0 {
		return nil, []int{0}
	}
	of = make([]int32, len(values))
	seen := map[int]int32{}
	last, lastCode := 0, int32(-1)
	for i, v := range values {
		if v != last || lastCode < 0 {
			c, ok := seen[v]
			if !ok {
				c = int32(len(distinct))
				seen[v] = c
				distinct = append(distinct, v)
			}
			last, lastCode = v, c
		}
		of[i] = lastCode
	}
	if len(distinct) == 1 {
		return nil, distinct
	}
	by := order(len(distinct))
	slices.SortFunc(by, func(a, b int) int { return cmp.Compare(distinct[a], distinct[b]) })
	rank, sorted := make([]int32, len(by)), make([]int, len(by))
	for r, c := range by {
		rank[c], sorted[r] = int32(r), distinct[c]
	}
	for i, c := range of {
		of[i] = rank[c]
	}
	return of, sorted
}

// sortedPlaces puts n numbers in ascending order, equal ones in the order in
// which they stand: place k of the order holds the number at[k]. They are
// sorted digit by digit of 11 bits, from the last; digits alike in all are
// passed over.
func sortedPlaces(n int, number func(k int) float64) (at []int32) {
	keys, spare := make([]uint64, n), make([]uint64, n)
	at, spareAt := make([]int32, n), make([]int32, n)
	all, some := ^uint64(0), uint64(0)
	for k := range keys {
		b := math.Float64bits(number(k) + 0)
		b ^= uint64(int64(b)>>63) | 1<<63 // ascending also below 0
		keys[k], at[k] = b, int32(k)
		all &= b
		some |= b
	}
	const digit = 11
	varies := all ^ some
	for shift := bits.TrailingZeros64(varies); shift < 64 && varies>>shift != 0; shift += digit {
		if varies>>shift&(1<<digit-1) == 0 {
			continue
		}
		var from [1 << digit]int32
		for _, x := range keys {
			from[x>>shift&(1<<digit-1)]++
		}
		sum := int32(0)
		for d, c := range from {
			from[d], sum = sum, sum+c
		}
		for k, x := range keys {
			to := &from[x>>shift&(1<<digit-1)]
			spare[*to], spareAt[*to] = x, at[k]
			*to++
		}
		keys, spare, at, spareAt = spare, keys, spareAt, at
	}
	return at
}
