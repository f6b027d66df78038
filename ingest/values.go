package ingest

import (
	"bytes"
	"hash/maphash"
	"slices"
	"strings"
)

// stored is a value in sixteen bytes without a pointer. Texts, codes, plies
// and lists of words are kept once in a valueStore: a log of 200,000 visits
// has three million values, and few of them differ.
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

// valueStore keeps what stored values refer to. Place 0 is nothing.
type valueStore struct {
	seed   maphash.Seed
	texts  []string
	recent [1 << 13]uint32 // texts met last, by hash
	codes  []string
	codeAt map[string]uint16
	plies  []*Ply
	plyAt  map[plyKey]uint32
	mores  [][]Coded
	moreAt map[string]uint32
}

// plyKey tells plies apart: a text is read in one way, but for a text that
// was a date, which has no socks.
type plyKey struct {
	text  string
	total float64
	socks int
}

func newValueStore() *valueStore {
	return &valueStore{seed: maphash.MakeSeed(), texts: []string{""}, codes: []string{""}, codeAt: map[string]uint16{"": 0}, plyAt: map[plyKey]uint32{}, moreAt: map[string]uint32{}}
}

func (s *valueStore) keepText(text string) uint32 {
	if text == "" {
		return 0
	}
	slot := &s.recent[maphash.String(s.seed, text)%uint64(len(s.recent))]
	if s.texts[*slot] != text {
		*slot = uint32(len(s.texts))
		s.texts = append(s.texts, text)
	}
	return *slot
}

func (s *valueStore) keep(v value) stored {
	out := stored{num: v.num, text: s.keepText(v.text)}
	if v.ok {
		out.state = storedOK
	}
	code, known := s.codeAt[v.code]
	if !known {
		code = uint16(len(s.codes))
		s.codes, s.codeAt[v.code] = append(s.codes, v.code), code
	}
	out.code = code
	switch {
	case v.ply != nil:
		key := plyKey{v.ply.Text, v.ply.Total, len(v.ply.Socks)}
		at, known := s.plyAt[key]
		if !known {
			at = uint32(len(s.plies))
			s.plies, s.plyAt[key] = append(s.plies, v.ply), at
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
			s.mores, s.moreAt[key.String()] = append(s.mores, v.more), at
		}
		out.num, out.state = float64(at), out.state|storedMore
	}
	return out
}

func (s *valueStore) value(v stored) value {
	out := value{ok: v.state&storedOK != 0, num: v.num, text: s.texts[v.text], code: s.codes[v.code]}
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
	return &record{sheet: s, row: row.n, raw: row, vals: make([]stored, len(schema[s.table])), store: r.values}
}

// val is the value of a field. It is a copy: set puts a changed one back.
func (rec *record) val(f int) value { return rec.store.value(rec.vals[f]) }

func (rec *record) set(f int, v value) { rec.vals[f] = rec.store.keep(v) }

// setText changes the text of a value and nothing else.
func (rec *record) setText(f int, text string) { rec.vals[f].text = rec.store.keepText(text) }

// sameRows finds rows that spell alike. It keeps a number for each row in
// place of its spelling.
type sameRows struct {
	spell      func(rec *record, buf []byte) []byte
	seed       maphash.Seed
	first      map[uint64][]*record
	buf, other []byte
}

func newSameRows(spell func(rec *record, buf []byte) []byte) *sameRows {
	return &sameRows{spell: spell, seed: maphash.MakeSeed(), first: map[uint64][]*record{}}
}

// prior is the first row that spells like this one; nil for a new spelling,
// which is remembered.
func (s *sameRows) prior(rec *record) *record {
	s.buf = s.spell(rec, s.buf[:0])
	key := maphash.Bytes(s.seed, s.buf)
	at := slices.IndexFunc(s.first[key], func(p *record) bool {
		s.other = s.spell(p, s.other[:0])
		return bytes.Equal(s.buf, s.other)
	})
	if at >= 0 {
		return s.first[key][at]
	}
	s.first[key] = append(s.first[key], rec)
	return nil
}

// memo remembers how the cells of a column were read last, since cells
// repeat: only those that were read without a problem, and so depend on
// nothing but the cell and its column.
type memo struct {
	slots [1 << 9]struct {
		cell cell
		read stored
	}
}

// parseCell reads a cell, or remembers how it was read.
func (r *reader) parseCell(rec *record, f int) {
	c := rec.cell(f)
	if c.text == "" && c.kind != cellNoValue || len(c.text) > 64 {
		r.parse(rec, f)
		return
	}
	s := rec.sheet
	if s.memos == nil {
		s.memos = make([]*memo, len(s.cols))
	}
	if s.memos[f] == nil {
		s.memos[f] = &memo{}
	}
	slot := &s.memos[f].slots[maphash.String(r.values.seed, c.text)%uint64(len(s.memos[f].slots))]
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
