package ingest

import (
	"fmt"
	"sort"
)

// freeWords are the columns without a vocabulary whose words are compared
// with one another as they stand: a lab has its own words there, but types
// them in more than one way.
var freeWords = []struct{ table, field string }{
	{TableLimbs, "programme"},
	{TableSockets, "cast_method"}, {TableSockets, "shape_style"}, {TableSockets, "material"},
	{TableSockets, "suspension"}, {TableSockets, "site"},
	{TableStations, "landmark"},
	{TableForming, "sheet_material"}, {TableForming, "result"},
}

// unifyWords takes spellings that differ only in case, spaces or punctuation
// for one word, the most frequent of them, and asks about words a letter
// apart. Each is reported once, with the number of further cells.
func (r *reader) unifyWords() {
	for _, w := range freeWords {
		r.unifyColumn(w.table, w.field)
	}
}

// spelling is one way in which a word of a column is written.
type spelling struct {
	text string
	recs []*record
}

func (r *reader) unifyColumn(table, field string) {
	words := map[string]map[string]*spelling{}
	f := -1
	for _, rec := range r.used(table) {
		f = rec.index(field)
		v := rec.val(f)
		if !v.ok {
			continue
		}
		key := wordKey(v.text)
		if l := landmarkCalled(v.text); l != "" && table == TableStations {
			key = wordKey(l) // "MPT" and "mid-patellar tendon" are one point
		}
		if words[key] == nil {
			words[key] = map[string]*spelling{}
		}
		s := words[key][v.text]
		if s == nil {
			s = &spelling{text: v.text}
			words[key][v.text] = s
		}
		s.recs = append(s.recs, rec)
	}
	keys := make([]string, 0, len(words))
	for k := range words {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	chosen, count := map[string]*spelling{}, map[string]int{}
	for _, k := range keys {
		var all []*spelling
		for _, s := range words[k] {
			all = append(all, s)
			count[k] += len(s.recs)
		}
		sort.Slice(all, func(a, b int) bool {
			if len(all[a].recs) != len(all[b].recs) {
				return len(all[a].recs) > len(all[b].recs)
			}
			return all[a].text < all[b].text
		})
		chosen[k] = all[0]
		for _, s := range all[1:] {
			for _, rec := range s.recs {
				rec.setText(f, all[0].text)
			}
			r.keep(s.recs[0], f, CodeSpelling, "one spelling for each word",
				fmt.Sprintf("%q was read as %q%s", shorten(s.text), shorten(all[0].text), further(len(s.recs)-1)))
		}
	}
	r.askNearWords(f, keys, chosen, count)
}

// askNearWords asks whether a rare word is a slip for a frequent one that is a
// letter away; it decides nothing.
func (r *reader) askNearWords(f int, keys []string, chosen map[string]*spelling, count map[string]int) {
	const longEnough, most = 5, 200
	if len(keys) > most {
		return
	}
	for _, a := range keys {
		for _, b := range keys {
			if len(a) < longEnough || len(b) < longEnough || !within1(a, b) || endsDiffer(a, b) || count[a] > count[b] || count[a] == count[b] && a <= b {
				continue
			}
			s := chosen[a]
			r.keep(s.recs[0], f, CodeSpelling, "one spelling for each word",
				fmt.Sprintf("%q stands beside %q: if they are the same, correct it; they were kept apart%s", shorten(s.text), shorten(chosen[b].text), further(count[a]-1)))
			break
		}
	}
}

// endsDiffer says whether two words differ only at their end, as names of
// sites and wards do that are told apart by a letter or number.
func endsDiffer(a, b string) bool {
	x, y := []rune(a), []rune(b)
	n := min(len(x), len(y))
	if len(x) == len(y) {
		n--
	}
	return string(x[:n]) == string(y[:n])
}

// further says in how many more cells the same was found.
func further(n int) string {
	switch {
	case n <= 0:
		return ""
	case n == 1:
		return ", also in 1 further cell"
	}
	return fmt.Sprintf(", also in %d further cells", n)
}
