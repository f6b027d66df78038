package ingest

import (
	"fmt"
	"slices"
	"strings"
)

// checkUnits looks at each column of measurements as a whole: whether its
// cells agree on the unit, and whether one of them is possible as it stands
// yet would sit among the others in another unit. It reports and changes
// nothing.
func (r *reader) checkUnits() {
	for _, table := range Tables() {
		recs := r.used(table)
		for f, field := range schema[table] {
			if field.Kind != KindNumber || field.Unit == "" {
				continue
			}
			for _, s := range r.sheetsOf(recs) {
				mixed := !s.named[f] && (s.noUnits == nil || !s.noUnits[f]) // of a header with a unit, other cells are clashes of their own
				suspect := field.Unit == "mm" && field.Low >= 60
				if s.cols[f] < 0 || !mixed && !suspect {
					continue
				}
				var column []*record
				for _, rec := range recs {
					if rec.sheet == s && rec.known(f) {
						column = append(column, rec)
					}
				}
				if mixed {
					r.mixedUnits(s, f, column)
				}
				if suspect {
					r.suspectUnits(s, f, column)
				}
			}
		}
	}
}

// sheetsOf are the sheets of records, in their order.
func (r *reader) sheetsOf(recs []*record) []*sheetData {
	var out []*sheetData
	seen := map[*sheetData]bool{}
	var last *sheetData
	for _, rec := range recs {
		if rec.sheet == last {
			continue
		}
		if last = rec.sheet; !seen[last] {
			seen[last] = true
			out = append(out, last)
		}
	}
	return out
}

// mixedUnits reports a column without a unit in its header of which some
// cells name one and others do not.
func (r *reader) mixedUnits(s *sheetData, f int, recs []*record) {
	var first *record
	named, bare := map[string]int{}, 0
	for _, rec := range recs {
		text := rec.text(f)
		if last := text[max(0, len(text)-1):]; last >= "0" && last <= "9" {
			bare++
			if first == nil {
				first = rec
			}
			continue
		}
		if n, err := parseNumber(text, s.raw.commas); err == nil && n.unit != "" && !sameUnit(n.unit, s.units[f]) {
			named[n.unit]++
		}
	}
	if first == nil || len(named) == 0 {
		return
	}
	var units []string
	total := 0
	for u, n := range named {
		units = append(units, unitPhrase(u))
		total += n
	}
	slices.Sort(units)
	r.keep(first, f, CodeMixedUnits, "a unit in the header, or in every cell", fmt.Sprintf("the column names a unit in some cells (%s in %s) and none in %s; those without were taken for %s",
		strings.Join(units, ", "), cells(total), cells(bare), unitPhrase(s.units[f])))
}

func cells(n int) string {
	if n == 1 {
		return "1 cell"
	}
	return fmt.Sprintf("%d cells", n)
}

// sameUnit knows that m means minutes where times are stored.
func sameUnit(a, b string) bool { return a == b || a == "m" && b == "min" }

// suspectUnits reports girths that are possible but less than a quarter of
// their column's median, and within half and double of it in another unit:
// 65 among girths of 400 mm is rather 65 cm.
func (r *reader) suspectUnits(s *sheetData, f int, recs []*record) {
	field := &s.fields[f]
	if len(recs) < 5 {
		return
	}
	all := make([]float64, len(recs))
	for i, rec := range recs {
		all[i] = rec.storedNum(f)
	}
	slices.Sort(all)
	median := all[len(all)/2]
	for _, rec := range recs {
		v := rec.storedNum(f)
		if v >= median/4 {
			continue
		}
		for _, u := range []string{"cm", "in"} {
			if w, _ := toUnit(v, u, "mm"); w >= median/2 && w <= median*2 && w <= field.High {
				r.keep(rec, f, CodeUnitSuspected, "a value in "+unitPhrase(s.units[f]), fmt.Sprintf("%s is far below the rest of the column, about %s mm; it was read as %s mm, but is it in %s?", r.quote(rec, f), plain(median), plain(v), unitPhrase(u)))
				break
			}
		}
	}
}
