package ingest

import (
	"hash/maphash"
	"math"
	"strings"
)

// place says where a valueStore keeps a value. 0 is nothing. Texts without
// more to them, such as identifiers, have the place of the text and textAlone.
type place uint32

const textAlone place = 1 << 31

// blankCell is the place of a cell without text, so that nobody need look at
// the cell again. As a value it is missing, as at place 0.
const blankCell place = 1

// stored is a value in sixteen bytes without a pointer.
type stored struct {
	num   float64 // the number, or the place of the ply or of the further words
	text  uint32
	code  uint16
	state storedState
}

type storedState uint8

const (
	storedOK storedState = 1 << iota
	storedPly
	storedMore
)

// valueStore keeps values and the texts, codes, plies and lists of words that
// they refer to, each once or nearly so: a log of a million visits has sixteen
// million values, and few of them differ. Texts are copied, so that a store
// holds nothing of the file. Place 0 is nothing.
type valueStore struct {
	seed     maphash.Seed
	kept     chunked[stored]
	lastKept [1 << 13]place // values met last, by hash
	texts    chunked[string]
	lastText []uint32 // texts met last, by hash; as many as there are texts, up to a bound
	open     strings.Builder
	codes    []string
	codeAt   map[string]uint16
	plies    []*Ply
	plyAt    map[plyKey]uint32
	mores    [][]Coded
	moreAt   map[string]uint32
}

// chunked is a list that grows without being copied.
type chunked[T any] struct {
	full [][]T
	n    int
}

const chunkLog = 12

func (c *chunked[T]) add(v T) uint32 {
	if c.n>>chunkLog == len(c.full) {
		c.full = append(c.full, make([]T, 0, 1<<chunkLog))
	}
	last := &c.full[c.n>>chunkLog]
	*last = append(*last, v)
	c.n++
	return uint32(c.n - 1)
}

func (c *chunked[T]) at(i uint32) T { return c.full[i>>chunkLog][i&(1<<chunkLog-1)] }

// plyKey tells plies apart: a text is read in one way, but for a text that
// was a date, which has no socks.
type plyKey struct {
	text  string
	total float64
	socks int
}

func newValueStore() *valueStore {
	s := &valueStore{seed: maphash.MakeSeed(), lastText: make([]uint32, 1<<12), codes: []string{""}, codeAt: map[string]uint16{"": 0}, plyAt: map[plyKey]uint32{}, moreAt: map[string]uint32{}}
	s.kept.add(stored{})
	s.kept.add(stored{}) // blankCell
	s.texts.add("")
	return s
}

func (s *valueStore) keepText(text string) uint32 {
	if text == "" {
		return 0
	}
	if s.texts.n > len(s.lastText) && len(s.lastText) < maxLastText {
		s.growLastText()
	}
	slot := &s.lastText[maphash.String(s.seed, text)%uint64(len(s.lastText))]
	if s.texts.at(*slot) != text {
		*slot = s.texts.add(s.copied(text))
	}
	return *slot
}

// maxLastText bounds the texts that can be met again: a log of a million
// visits about 100,000 sockets names each socket ten times, far apart.
const maxLastText = 1 << 18

func (s *valueStore) growLastText() {
	old := s.lastText
	s.lastText = make([]uint32, min(maxLastText, 4*len(old)))
	for _, at := range old {
		if at > 0 {
			s.lastText[maphash.String(s.seed, s.texts.at(at))%uint64(len(s.lastText))] = at
		}
	}
}

// keepAlone keeps a text that is not expected again, such as the identifier
// of the row itself.
func (s *valueStore) keepAlone(text string) place {
	return textAlone | place(s.texts.add(s.copied(text)))
}

// copied is a copy of a text in a chunk shared with others.
func (s *valueStore) copied(text string) string {
	const chunk = 1 << 16
	if len(text) > chunk/16 {
		return strings.Clone(text)
	}
	if s.open.Len()+len(text) > s.open.Cap() {
		s.open = strings.Builder{}
		s.open.Grow(chunk)
	}
	from := s.open.Len()
	s.open.WriteString(text)
	return s.open.String()[from:]
}

func (s *valueStore) keep(v value) place {
	out := stored{num: v.num, text: s.keepText(v.text)}
	if v.ok {
		out.state = storedOK
	}
	if v.code != "" {
		code, known := s.codeAt[v.code]
		if !known {
			code = uint16(len(s.codes))
			s.codes, s.codeAt[v.code] = append(s.codes, v.code), code
		}
		out.code = code
	}
	switch {
	case v.ply != nil:
		key := plyKey{v.ply.Text, v.ply.Total, len(v.ply.Socks)}
		at, known := s.plyAt[key]
		if !known {
			at = uint32(len(s.plies))
			own := *v.ply
			own.Text = strings.Clone(own.Text)
			key.text = own.Text
			s.plies, s.plyAt[key] = append(s.plies, &own), at
		}
		out.num, out.state = float64(at), out.state|storedPly
	case len(v.more) > 0:
		var key strings.Builder
		for _, m := range v.more {
			key.WriteString(m.Code + "\x1f" + m.Text + "\x1f")
		}
		at, known := s.moreAt[key.String()]
		if !known {
			at = uint32(len(s.mores))
			own := make([]Coded, len(v.more))
			for i, m := range v.more {
				own[i] = Coded{Code: m.Code, Text: strings.Clone(m.Text)}
			}
			s.mores, s.moreAt[key.String()] = append(s.mores, own), at
		}
		out.num, out.state = float64(at), out.state|storedMore
	}
	return s.place(out)
}

func (s *valueStore) place(v stored) place {
	switch {
	case v == (stored{}):
		return 0
	case v == (stored{text: v.text, state: storedOK}) && v.text != 0:
		return textAlone | place(v.text)
	}
	h := (math.Float64bits(v.num) ^ uint64(v.text)<<32 ^ uint64(v.code)<<8 ^ uint64(v.state)) * 0x9e3779b97f4a7c15
	slot := &s.lastKept[h>>51] // the upper 13 bits
	if s.kept.at(uint32(*slot)) != v {
		*slot = place(s.kept.add(v))
	}
	return *slot
}

func (s *valueStore) stored(p place) stored {
	if p&textAlone != 0 {
		return stored{text: uint32(p &^ textAlone), state: storedOK}
	}
	return s.kept.at(uint32(p))
}

func (s *valueStore) value(p place) value {
	if p <= blankCell {
		return value{}
	}
	v := s.stored(p)
	out := value{ok: v.state&storedOK != 0, num: v.num, text: s.texts.at(v.text), code: s.codes[v.code]}
	switch {
	case v.state&storedPly != 0:
		out.num, out.ply = 0, s.plies[int(v.num)]
	case v.state&storedMore != 0:
		out.num, out.more = 0, s.mores[int(v.num)]
	}
	return out
}

// newRecord is a record without values yet.
func (r *reader) newRecord(s *sheetData, row *rawRow) *record {
	if len(r.slab) == 0 {
		r.slab = make([]record, 256)
	}
	rec := &r.slab[0]
	r.slab = r.slab[1:]
	n := len(s.fields)
	if len(r.places) < n {
		r.places = make([]place, 256*16)
	}
	*rec = record{sheet: s, line: uint32(row.n), raw: row, vals: r.places[:n:n], store: r.values}
	r.places = r.places[n:]
	return rec
}

// val is the value of a field. It is a copy: set puts a changed one back.
func (rec *record) val(f int) value { return rec.store.value(rec.vals[f]) }

func (rec *record) set(f int, v value) { rec.vals[f] = rec.store.keep(v) }

// known says whether a field has a value, storedText and storedNum give its
// text and number: what most checks ask, for less than all of it.
func (rec *record) known(f int) bool { return rec.store.stored(rec.vals[f]).state&storedOK != 0 }

func (rec *record) storedText(f int) string {
	return rec.store.texts.at(rec.store.stored(rec.vals[f]).text)
}

func (rec *record) storedNum(f int) float64 { return rec.store.stored(rec.vals[f]).num }

// setText changes the text of a value and nothing else.
func (rec *record) setText(f int, text string) {
	v := rec.store.stored(rec.vals[f])
	v.text = rec.store.keepText(text)
	rec.vals[f] = rec.store.place(v)
}

// memo remembers how the cells of a column were read last, since cells
// repeat: only those that were read without a problem, and so depend on
// nothing but the cell and its column.
type memo struct {
	slots [1 << 9]struct {
		cell cell
		read place
	}
}

// parseCell reads a cell, or remembers how it was read.
func (r *reader) parseCell(rec *record, f int) {
	c := rec.cell(f)
	if c.text == "" && c.kind != cellNoValue {
		rec.vals[f] = blankCell
		return
	}
	if len(c.text) > 64 || rec.sheet.fields[f].Kind == KindID {
		r.parse(rec, f)
		return
	}
	if r.memos[f] == nil {
		r.memos[f] = &memo{}
	}
	slot := &r.memos[f].slots[maphash.String(r.values.seed, c.text)%uint64(len(r.memos[f].slots))]
	if slot.cell == c && slot.cell.text != "" {
		rec.vals[f] = slot.read
		return
	}
	before := len(r.problems)
	r.parse(rec, f)
	if len(r.problems) == before && !rec.aside {
		slot.cell, slot.read = c, rec.vals[f]
	}
}
