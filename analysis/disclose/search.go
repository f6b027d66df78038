package disclose

import (
	"encoding/binary"
	"math"
	"slices"
	"sort"
)

func weightOf(c Column) float64 {
	if c.Weight == 0 {
		return 1
	}
	return c.Weight
}

// search finds the versions of the columns that lose least. Ways that lose as
// much are taken in the order of the columns' versions.
func (p *protector) search() []int {
	ids := p.numbered()
	versions := make([]int, len(p.cols)) // that each column has, withheld too
	loss := make([][]float64, len(p.cols))
	total := 1
	for c, col := range p.cols {
		versions[c] = len(col.Values) + 1
		loss[c] = losses(col, ids[c])
		total *= versions[c]
	}
	nodes := make([][]int, 0, total)
	lost := make([]float64, 0, total)
	node := make([]int, len(p.cols))
	for {
		sum := 0.0
		for c, v := range node {
			sum += loss[c][v]
		}
		nodes, lost = append(nodes, slices.Clone(node)), append(lost, sum)
		c := len(node) - 1
		for ; c >= 0; c-- {
			if node[c]++; node[c] < versions[c] {
				break
			}
			node[c] = 0
		}
		if c < 0 {
			break
		}
	}
	order := make([]int, len(nodes))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return lost[order[a]] < lost[order[b]] })
	whole := 0.0
	for _, l := range loss {
		whole += l[len(l)-1]
	}
	if whole == 0 {
		return make([]int, len(p.cols))
	}
	// Who is rare is told nothing of.
	objective := func(lost float64, rare int) float64 { return lost + float64(rare)/float64(p.n)*(whole-lost) }
	best, least := len(nodes)-1, whole
	type floor struct {
		node []int
		rare int
	}
	var floors []floor // whatever is finer leaves as many in rare combinations at least
	for _, i := range order {
		if lost[i] >= least {
			break
		}
		if slices.ContainsFunc(floors, func(f floor) bool { return objective(lost[i], f.rare) >= least && finer(nodes[i], f.node) }) {
			continue
		}
		rare := p.rareIn(ids, nodes[i])
		if x := objective(lost[i], rare); x < least {
			best, least = i, x
			continue
		}
		// The coarsest way that leaves as many rules out most.
		top := slices.Clone(nodes[i])
		for c := range top {
			for top[c]+1 < versions[c] {
				top[c]++
				if n := p.rareIn(ids, top); 20*n < 19*rare {
					top[c]--
					break
				} else {
					rare = n
				}
			}
		}
		floors = append(floors, floor{top, rare})
	}
	return nodes[best]
}

// finer says whether no column is coarser in a than in b.
func finer(a, b []int) bool {
	for c := range a {
		if a[c] > b[c] {
			return false
		}
	}
	return true
}

// numbered are the values as numbers: by column, version, person and unit.
func (p *protector) numbered() [][][][]uint32 {
	out := make([][][][]uint32, len(p.cols))
	for c, col := range p.cols {
		for _, version := range col.Values {
			number := map[string]uint32{}
			persons := make([][]uint32, p.n)
			for i, units := range version {
				for _, x := range units {
					id, ok := number[x]
					if !ok {
						id = uint32(len(number)) + 1
						number[x] = id
					}
					persons[i] = append(persons[i], id)
				}
			}
			out[c] = append(out[c], persons)
		}
	}
	return out
}

// losses is the share of what a column tells that each version loses, times
// its weight: 1 - H(version) / H(as it stands), with H the entropy of the
// values over units.
func losses(col Column, ids [][][]uint32) []float64 {
	entropy := func(version [][]uint32) float64 {
		count, n := map[uint32]int{}, 0
		for _, units := range version {
			for _, id := range units {
				count[id]++
				n++
			}
		}
		var each []int
		for _, k := range count {
			each = append(each, k)
		}
		slices.Sort(each) // sums in one order
		h := 0.0
		for _, k := range each {
			share := float64(k) / float64(n)
			h -= share * math.Log(share)
		}
		return h
	}
	out := make([]float64, len(ids)+1)
	whole := 0.0
	if len(ids) > 0 {
		whole = entropy(ids[0])
	}
	for v := range out {
		switch {
		case whole == 0:
		case v == len(ids):
			out[v] = weightOf(col)
		default:
			out[v] = weightOf(col) * (1 - entropy(ids[v])/whole)
		}
	}
	return out
}

// rareIn counts the persons in rare combinations under the versions given.
func (p *protector) rareIn(ids [][][][]uint32, node []int) int {
	count := make(map[string]int, p.n)
	var key []byte
	var units []string
	for i := range p.n {
		key = key[:0]
		for c, col := range p.cols {
			if v := node[c]; !col.PerUnit && v < len(ids[c]) {
				key = binary.BigEndian.AppendUint32(key, ids[c][v][i][0])
			}
		}
		units = units[:0]
		for u := range p.units[i] {
			var unit []byte
			for c, col := range p.cols {
				if v := node[c]; col.PerUnit && v < len(ids[c]) {
					unit = binary.BigEndian.AppendUint32(unit, ids[c][v][i][u])
				}
			}
			units = append(units, string(unit))
		}
		slices.Sort(units)
		for _, u := range units {
			key = append(append(key, u...), 0xff) // so that the number of units tells
		}
		count[string(key)]++
	}
	rare := 0
	for _, n := range count {
		if n < p.o.K {
			rare += n
		}
	}
	return rare
}
