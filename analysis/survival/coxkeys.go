package survival

import "math"

// maxKeys bounds the table of all combinations of the columns' values, and
// maxDigits how many values a column may have to be in it.
const (
	maxKeys   = 1 << 22
	maxDigits = 1 << 10
)

// keyer makes one number of what a row holds in all columns, as if it were
// written with a digit for each column.
type keyer struct {
	columns [][]float64
	digits  []digitTable
	keys    int // how many numbers there are
}

// digitTable holds the values of a column. It is a table with open addresses,
// at most half full.
type digitTable struct {
	slots  []digitSlot
	shift  int // that leaves of a hash as many bits as slots need
	values []float64
	unit   int32 // what a digit counts for
}

type digitSlot struct {
	value float64 // not a number: free
	key   int32   // the digit times the unit
}

func newDigitTable(bits int) digitTable {
	t := digitTable{slots: make([]digitSlot, 1<<bits), shift: 64 - bits}
	t.fill()
	return t
}

// slot is where a value is kept, or would be.
func (t *digitTable) slot(v float64) *digitSlot {
	s := math.Float64bits(v+0) * 0x9e3779b97f4a7c15 >> t.shift // -0 is 0
	for {
		x := &t.slots[s]
		if x.value == v || x.value != x.value {
			return x
		}
		s = (s + 1) & uint64(len(t.slots)-1)
	}
}

// learn adds values not met before; it is false once there are too many.
func (t *digitTable) learn(values []float64) bool {
	for _, v := range values {
		s := t.slot(v)
		if s.value == v {
			continue
		}
		if len(t.values) == maxDigits {
			return false
		}
		s.value = v
		if t.values = append(t.values, v); 2*len(t.values) > len(t.slots) {
			t.slots, t.shift = make([]digitSlot, 2*len(t.slots)), t.shift-1
			t.fill()
		}
	}
	return true
}

// fill writes the values into the slots anew.
func (t *digitTable) fill() {
	for s := range t.slots {
		t.slots[s].value = math.NaN()
	}
	for d, v := range t.values {
		*t.slot(v) = digitSlot{v, int32(d) * t.unit}
	}
}

// newKeyer learns the values of the columns from the rows that stand first; it
// is nil where they have too many combinations.
func newKeyer(columns [][]float64, n int) *keyer {
	const enough = 1 << 15
	k := &keyer{columns: columns}
	for _, x := range columns {
		t := newDigitTable(4)
		if !t.learn(x[:min(n, enough)]) {
			return nil
		}
		k.digits = append(k.digits, t)
	}
	if !k.setUnits(n) {
		return nil
	}
	return k
}

func (k *keyer) setUnits(n int) bool {
	k.keys = 1
	for j := range k.digits {
		t := &k.digits[j]
		t.unit = int32(k.keys)
		if k.keys *= len(t.values); k.keys > min(maxKeys, 4*n+1024) {
			return false
		}
		t.fill()
	}
	return true
}

// number numbers the patterns in order of their keys, and says in of which each
// row has; nil where values met on the way made the combinations too many.
func (k *keyer) number(of []int32) *patternTable {
	var first [2][]int32 // by key: a row that has it, from 1
	for {
		var unknown [2][][]float64
		both(len(of), func(half, lo, hi int) { first[half], unknown[half] = k.keysOf(of, lo, hi) })
		if unknown[0] == nil && unknown[1] == nil {
			break
		}
		for _, u := range unknown {
			for j, values := range u {
				if !k.digits[j].learn(values) {
					return nil
				}
			}
		}
		if !k.setUnits(len(of)) {
			return nil
		}
	}
	t := &patternTable{width: len(k.columns)}
	name := first[0]
	for key := range name {
		row := max(first[0][key], first[1][key]) - 1
		if row < 0 {
			continue
		}
		name[key] = int32(len(t.first))
		t.first = append(t.first, row)
		for _, x := range k.columns {
			t.values = append(t.values, x[row])
		}
	}
	both(len(of), func(_, lo, hi int) {
		for i, key := range of[lo:hi] {
			of[lo+i] = name[key]
		}
	})
	return t
}

// keysOf makes the keys of rows lo to hi, and notes a row for each. Values that
// are not known are given back, by column; the keys are then of no use.
func (k *keyer) keysOf(of []int32, lo, hi int) (first []int32, unknown [][]float64) {
	const chunk = 512
	first = make([]int32, k.keys)
	for from := lo; from < hi; from += chunk {
		n := min(chunk, hi-from)
		keys := of[from : from+n]
		clear(keys)
		for j, x := range k.columns {
			t := &k.digits[j]
			slots, shift, mask := t.slots, t.shift, uint64(len(t.slots)-1)
			for i, v := range x[from : from+n] {
				s := math.Float64bits(v+0) * 0x9e3779b97f4a7c15 >> shift
				for slots[s&mask].value != v {
					if w := slots[s&mask].value; w != w {
						if unknown == nil {
							unknown = make([][]float64, len(k.columns))
						}
						unknown[j] = append(unknown[j], v)
						break
					}
					s++
				}
				keys[i] += slots[s&mask].key
			}
		}
		if unknown != nil {
			continue
		}
		for i, key := range keys {
			first[key] = int32(from+i) + 1
		}
	}
	return first, unknown
}
