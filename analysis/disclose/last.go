package disclose

import (
	"slices"
	"sort"
	"strings"
)

// join hides who is rare though nothing is told among others with as many
// limbs: of the smallest combination of these nothing is told any more either,
// and of the next, until enough are alike.
func (p *protector) join() {
	rest := p.rare()
	alike := map[int][]int{}
	for _, i := range rest {
		alike[p.units[i]] = append(alike[p.units[i]], i)
	}
	var sizes []int
	for n := range alike {
		sizes = append(sizes, n)
	}
	slices.Sort(sizes)
	for _, n := range sizes {
		have := len(alike[n])
		if have >= p.o.K {
			continue
		}
		classes := map[string][]int{}
		for _, i := range p.everybody() {
			if p.units[i] == n && !slices.Contains(rest, i) {
				k := p.key(i)
				classes[k] = append(classes[k], i)
			}
		}
		var keys []string
		for k := range classes {
			keys = append(keys, k)
		}
		sort.Slice(keys, func(a, b int) bool {
			if x, y := len(classes[keys[a]]), len(classes[keys[b]]); x != y {
				return x < y
			}
			return keys[a] < keys[b]
		})
		before, moved := have, 0
		for _, k := range keys {
			if have >= p.o.K {
				break
			}
			for _, i := range classes[k] {
				for c := range p.cols {
					p.r.Withheld[c][i] = true
				}
			}
			have, moved = have+len(classes[k]), moved+len(classes[k])
		}
		if moved > 0 {
			after := len(p.rare())
			p.r.Steps = append(p.r.Steps, Step{What: "everything withheld, to be alike those of whom nothing is told and who have as many limbs", Persons: moved, RareBefore: before, RareAfter: after})
		}
	}
}

// remove leaves out who is rare even so: persons with more limbs than others
// have.
func (p *protector) remove() {
	for rest := p.rare(); len(rest) > 0; rest = p.rare() {
		for _, i := range rest {
			p.r.Removed[i] = true
		}
		p.r.Steps = append(p.r.Steps, Step{What: "left out, with all rows of theirs: too few others have as many limbs", Persons: len(rest), RareBefore: len(rest)})
	}
}

// Pool says which values of a column are told by fewer than k persons and go
// into one of their own, which k persons share: by value, the persons who have
// it. Where that cannot be, every value is pooled.
func Pool(persons map[string][]int, k int) []string {
	var names []string
	for v := range persons {
		names = append(names, v)
	}
	slices.SortFunc(names, func(a, b string) int {
		if d := len(persons[a]) - len(persons[b]); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	in := map[int]bool{}
	var out []string
	for _, v := range names {
		if len(persons[v]) >= k && (len(out) == 0 || len(in) >= k) {
			break
		}
		out = append(out, v)
		for _, i := range persons[v] {
			in[i] = true
		}
	}
	sort.Strings(out)
	return out
}
