package answer

import (
	"crypto/sha256"
	"encoding/binary"
	"math/bits"
	"slices"
)

// Set is a set of rows of one rows-table, a bit each.
type Set []uint64

// NewSet is the set of some of n rows.
func NewSet(n int, rows []int) Set {
	s := make(Set, (n+63)/64)
	for _, i := range rows {
		s[i/64] |= 1 << (i % 64)
	}
	return s
}

// Len is the number of rows in the set.
func (s Set) Len() int {
	n := 0
	for _, w := range s {
		n += bits.OnesCount64(w)
	}
	return n
}

func (s Set) bytes() []byte {
	var out []byte
	for _, w := range s {
		out = binary.LittleEndian.AppendUint64(out, w)
	}
	return out
}

// Key tells sets of rows of all tables apart.
func (s Set) Key(of string) string {
	h := sha256.New()
	h.Write([]byte(of))
	h.Write(s.bytes())
	return string(h.Sum(nil))
}

// And are the rows in both.
func (s Set) And(o Set) Set {
	out := slices.Clone(s)
	for i := range out {
		out[i] &= o[i]
	}
	return out
}

// Less are the rows of s that are not in o.
func (s Set) Less(o Set) Set {
	out := slices.Clone(s)
	for i := range out {
		out[i] &^= o[i]
	}
	return out
}

// Within says whether all rows of s are in o.
func (s Set) Within(o Set) bool {
	for i, w := range s {
		if w&^o[i] != 0 {
			return false
		}
	}
	return true
}
