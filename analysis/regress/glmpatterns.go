package regress

import (
	"fmt"
	"math"
	"math/bits"
	"sync"
)

// chunk is the number of patterns worked through at a time, small enough that
// their numbers stay in the nearest cache.
const chunk = 512

// maxPatterns limits the table in which patterns are looked up.
const maxPatterns = 1 << 22

// both runs work on the two halves of 0 to n. The halves do not depend on
// how many cores there are, so that sums come out the same everywhere.
func both(n int, work func(half, lo, hi int)) {
	var wait sync.WaitGroup
	wait.Add(1)
	go func() {
		defer wait.Done()
		work(1, n/2, n)
	}()
	work(0, 0, n/2)
	wait.Wait()
}

// collapse finds the rows that are alike in every column, where columns have
// so few values that a table of all their combinations is worth its room.
// Without that each row is a pattern of its own.
func (g *glmModel) collapse() error {
	n := len(g.data.Y)
	columns := g.data.X
	if g.data.Offset != nil {
		columns = append(append([][]float64(nil), columns...), g.data.Offset)
	}
	codes, counts := make([][]int32, len(columns)), make([]int, len(columns))
	errs := make([]error, len(columns))
	most := min(maxPatterns, 4*n+64)
	both(len(columns), func(_, lo, hi int) {
		for j := lo; j < hi; j++ {
			var bad int
			if codes[j], counts[j], bad = coded(columns[j], most); bad >= 0 && j < len(g.data.X) {
				errs[j] = fmt.Errorf("column %s holds a value that is not a number: %w", g.data.Names[j], ErrInput)
			}
		}
	})
	size := 1
	for j := range columns {
		if errs[j] != nil {
			return errs[j]
		}
		if codes[j] == nil || size > most {
			size = most + 1
			continue
		}
		size *= counts[j]
	}
	g.of = make([]int32, n)
	if size > most {
		for i := range g.of {
			g.of[i] = int32(i)
		}
		g.size = n
	} else {
		g.name(codes, counts, size)
	}
	g.gather()
	return nil
}

// name numbers the combinations of codes in order of appearance.
func (g *glmModel) name(codes [][]int32, counts []int, size int) {
	both(len(g.of), func(_, lo, hi int) {
		at := g.of[lo:hi]
		width := int32(1)
		for j, c := range codes {
			for i, v := range c[lo:hi] {
				at[i] += v * width
			}
			width *= int32(counts[j])
		}
	})
	number := make([]int32, size)
	for i, c := range g.of {
		if number[c] == 0 {
			g.size++
			number[c] = int32(g.size)
		}
		g.of[i] = number[c] - 1
	}
}

// gather sums the rows by pattern and keeps the columns of each once.
func (g *glmModel) gather() {
	g.n, g.s, g.q = make([]float64, g.size), make([]float64, g.size), make([]float64, g.size)
	g.offset = make([]float64, g.size)
	first := make([]int32, g.size)
	for i, k := range g.of {
		w, y := g.weight(i), g.data.Y[i]
		if g.n[k] == 0 {
			first[k] = int32(i)
		}
		g.n[k] += w
		g.s[k] += w * y
		g.q[k] += w * y * y
	}
	g.z = make([][]float64, len(g.data.X))
	both(len(g.data.X)+1, func(_, lo, hi int) {
		for j := lo; j < hi; j++ {
			from, to := g.data.Offset, g.offset
			if j < len(g.data.X) {
				from, to = g.data.X[j], make([]float64, g.size)
				g.z[j] = to
			}
			if from == nil {
				continue
			}
			for k, i := range first {
				to[k] = from[i]
			}
		}
	})
}

// coded gives the values of a column numbers in order of appearance. The codes
// are nil where there are more values than most, or where nearly every one of
// the first rows has its own; bad is a row without a finite number, or -1.
func coded(x []float64, most int) (code []int32, n, bad int) {
	const early = 4096
	d := newDictionary()
	code = make([]int32, len(x))
	last, lastCode := math.NaN(), int32(0)
	for i, v := range x {
		if v != last {
			if v-v != 0 {
				return nil, 0, i
			}
			last, lastCode = v, d.code(v)
			if d.n > most || i == early && d.n > early*9/10 {
				return nil, 0, notFinite(x, i)
			}
		}
		code[i] = lastCode
	}
	return code, d.n, -1
}

func notFinite(x []float64, from int) int {
	for i, v := range x[from:] {
		if v-v != 0 {
			return from + i
		}
	}
	return -1
}

// dictionary numbers values in order of appearance.
type dictionary struct {
	key   []uint64
	value []int32 // number and 1; 0: free
	n     int
}

func newDictionary() *dictionary {
	return &dictionary{key: make([]uint64, 64), value: make([]int32, 64)}
}

func (d *dictionary) code(v float64) int32 {
	b := math.Float64bits(v + 0) // -0 is 0
	if 2*d.n >= len(d.key) {
		d.grow()
	}
	k := d.place(b)
	if d.value[k] == 0 {
		d.n++
		d.key[k], d.value[k] = b, int32(d.n)
	}
	return d.value[k] - 1
}

func (d *dictionary) place(b uint64) int {
	mask := len(d.key) - 1
	k := int(b * 0x9e3779b97f4a7c15 >> (64 - bits.Len(uint(mask))))
	for d.value[k] != 0 && d.key[k] != b {
		k = (k + 1) & mask
	}
	return k
}

func (d *dictionary) grow() {
	old := *d
	d.key, d.value = make([]uint64, 2*len(old.key)), make([]int32, 2*len(old.key))
	for i, v := range old.value {
		if v != 0 {
			k := d.place(old.key[i])
			d.key[k], d.value[k] = old.key[i], v
		}
	}
}
