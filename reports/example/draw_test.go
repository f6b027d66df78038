package example

import "testing"

func TestCounts(t *testing.T) {
	for seed := uint64(1); seed < 6; seed++ {
		l := Draw(seed)
		kinds := map[string]int{}
		for _, s := range l.Sockets {
			kinds[s.Kind.Code]++
			if s.RemakeDecided.OK {
				kinds["decided"]++
			}
		}
		persons := map[string]bool{}
		for _, x := range l.Limbs {
			persons[x.Person] = true
		}
		t.Log(len(persons), len(l.Limbs), len(l.Sockets), kinds, len(l.Stations), len(l.Visits), len(l.Findings), len(l.Forming))
	}
}

func BenchmarkDraw(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		Draw(uint64(i))
	}
}
