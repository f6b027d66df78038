package ingest

import (
	"bytes"
	"hash/maphash"
	"iter"
	"sort"
	"strconv"
	"strings"
)

// sameKeys finds items that are alike among many: their keys, which are made
// on all cores, lie in one table, and items are compared where keys agree.
type sameKeys struct {
	keys  []uint64
	slots []int32 // place of an item, from 1
	alike func(i, j int) bool
}

func newSameKeys(keys []uint64, alike func(i, j int) bool) *sameKeys {
	size := 16
	for size < 2*len(keys) {
		size *= 2
	}
	return &sameKeys{keys, make([]int32, size), alike}
}

// first is the first earlier item like this one; -1 for a new one, which is
// remembered.
func (s *sameKeys) first(i int) int {
	mask := uint64(len(s.slots) - 1)
	for at := s.keys[i] & mask; ; at = (at + 1) & mask {
		j := int(s.slots[at]) - 1
		if j < 0 {
			s.slots[at] = int32(i) + 1
			return -1
		}
		if s.keys[j] == s.keys[i] && s.alike(i, j) {
			return j
		}
	}
}

// keysOf makes the keys of n items.
func keysOf(n int, key func(i int) uint64) []uint64 {
	keys := make([]uint64, n)
	inParts(n, func(_, from, to int) {
		for i := from; i < to; i++ {
			keys[i] = key(i)
		}
	})
	return keys
}

// priors gives each record that is identical in every field, from the one
// given on, to an earlier one: its place in the list, and the first that it is
// identical to; in order.
func (r *reader) priors(recs []*record, from int) iter.Seq2[int, *record] {
	k := newIdentityKeys(append(r.stores, r.values))
	keys := keysOf(len(recs), func(i int) uint64 { return k.key(recs[i], from) })
	var a, b []byte
	same := newSameKeys(keys, func(i, j int) bool {
		a, b = recs[i].identity(a[:0], from), recs[j].identity(b[:0], from)
		return bytes.Equal(a, b)
	})
	return func(yield func(int, *record) bool) {
		for i := range recs {
			if at := same.first(i); at >= 0 && !yield(i, recs[at]) {
				return
			}
		}
	}
}

// identity spells a row out, from a field on, so that equal rows spell alike
// however their cells are stored. It is written behind what buf holds.
func (rec *record) identity(buf []byte, from int) []byte {
	for f := from; f < len(rec.vals); f++ {
		switch v := rec.val(f); {
		case rec.vals[f] == blankCell:
		case !v.ok && rec.sheet.cols[f] >= 0:
			buf = append(buf, rec.text(f)...)
		default:
			buf = v.spell(buf)
		}
		buf = append(buf, 0x1f)
	}
	return rec.ownIdentity(buf)
}

func (rec *record) ownIdentity(buf []byte) []byte {
	if len(rec.sheet.own) == 0 {
		return buf
	}
	var own []string
	for _, o := range rec.sheet.own {
		if text := strings.TrimSpace(rec.raw.cell(o.col).text); text != "" {
			own = append(own, o.key+"="+text)
		}
	}
	sort.Strings(own)
	for _, text := range own {
		buf = append(append(buf, text...), 0x1f)
	}
	return buf
}

// spell writes a value so that equal ones are written alike.
func (v value) spell(buf []byte) []byte {
	switch {
	case v.ply != nil:
		return append(buf, wordKey(v.ply.Text)...)
	case v.code != "":
		for _, w := range v.more {
			buf = append(append(buf, w.Code...), '+')
		}
		buf = append(buf, v.code...)
		if v.code == "other" {
			buf = append(buf, wordKey(v.text)...)
		}
	case v.text != "":
		buf = append(buf, v.text...)
	case v.ok:
		buf = strconv.AppendFloat(buf, v.num, 'g', -1, 64)
	}
	return buf
}

// identityKeys makes a number of what identity spells. What the stores keep
// is spelled once.
type identityKeys struct {
	seed  maphash.Seed
	blank uint64
	kept  map[*valueStore][]uint64
}

func newIdentityKeys(stores []*valueStore) *identityKeys {
	k := &identityKeys{seed: maphash.MakeSeed(), kept: map[*valueStore][]uint64{}}
	k.blank = maphash.Bytes(k.seed, nil)
	var buf []byte
	for _, s := range stores {
		keys := make([]uint64, s.kept.n)
		for i := range keys {
			buf = s.value(place(i)).spell(buf[:0])
			keys[i] = maphash.Bytes(k.seed, buf)
		}
		k.kept[s] = keys
	}
	return k
}

func (k *identityKeys) key(rec *record, from int) uint64 {
	kept := k.kept[rec.store]
	var out uint64
	for f := from; f < len(rec.vals); f++ {
		h, p := k.blank, rec.vals[f]
		switch {
		case p == blankCell:
		case p&textAlone != 0:
			h = maphash.String(k.seed, rec.store.texts.at(uint32(p&^textAlone)))
		case rec.store.kept.at(uint32(p)).state&storedOK == 0 && rec.sheet.cols[f] >= 0:
			h = maphash.String(k.seed, rec.text(f))
		default:
			h = kept[p]
		}
		out = (out<<7|out>>57)*0x9e3779b97f4a7c15 ^ h
	}
	if len(rec.sheet.own) > 0 {
		for _, o := range rec.sheet.own { // in whatever order the sheet has them
			if text := strings.TrimSpace(rec.raw.cell(o.col).text); text != "" {
				out += (maphash.String(k.seed, o.key) ^ maphash.String(k.seed, text)) * 0x9e3779b97f4a7c15
			}
		}
	}
	return out * 0x9e3779b97f4a7c15 >> 1
}
