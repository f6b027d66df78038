package ingest

import (
	"hash/maphash"
	"strings"
)

// packed is a cell of a workbook in eight bytes without a pointer: kind in
// four bits, length of its text in 20, place of the text in 40. A sheet of
// 200,000 rows and 20 columns would take 96 MB as texts and takes 32 so.
type packed uint64

const (
	kindBits   = 4
	lengthBits = 20
	chunkBits  = 16
	maxText    = 1<<lengthBits - 1
)

func (p packed) kind() cellKind { return cellKind(p & (1<<kindBits - 1)) }

func (p packed) length() int { return int(p>>kindBits) & maxText }

func (p packed) place() uint64 { return uint64(p >> (kindBits + lengthBits)) }

func (p packed) as(kind cellKind) packed { return p&^(1<<kindBits-1) | packed(kind) }

// textStore keeps the texts of a workbook's cells end to end in chunks. Texts
// that come again soon are kept once.
type textStore struct {
	full   []string
	open   strings.Builder
	seed   maphash.Seed
	recent [1 << 13]packed
}

func newTextStore() *textStore { return &textStore{seed: maphash.MakeSeed()} }

// add keeps a text of at most maxText bytes.
func (t *textStore) add(text []byte) packed {
	if len(text) == 0 {
		return 0
	}
	slot := &t.recent[0]
	if len(text) <= 64 {
		slot = &t.recent[maphash.Bytes(t.seed, text)%uint64(len(t.recent))]
		if slot.length() == len(text) && t.text(*slot) == string(text) {
			return *slot
		}
	}
	if t.open.Cap() == 0 || t.open.Len()+len(text) > t.open.Cap() {
		if t.open.Cap() > 0 {
			t.full = append(t.full, t.open.String())
		}
		t.open = strings.Builder{}
		t.open.Grow(max(1<<chunkBits, len(text)))
	}
	at := uint64(len(t.full))<<lengthBits | uint64(t.open.Len())
	t.open.Write(text)
	p := packed(at<<(kindBits+lengthBits) | uint64(len(text))<<kindBits)
	if len(text) <= 64 {
		*slot = p
	}
	return p
}

// text is the text of a cell of this store.
func (t *textStore) text(p packed) string {
	n := p.length()
	if n == 0 {
		return ""
	}
	at := p.place()
	chunk, from := int(at>>lengthBits), int(at&maxText)
	if chunk < len(t.full) {
		return t.full[chunk][from : from+n]
	}
	return t.open.String()[from : from+n]
}
