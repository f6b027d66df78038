package survival

import (
	"testing"

	"plybook/analysis/internal/peers"
)

func against(b *testing.B, columns [][]float64, pkg, before, call string) {
	b.Helper()
	peers.Against(b, columns, pkg, before, call)
}

func heldTimes(size int, work func()) float64 { return peers.HeldTimes(size, work) }

// asNumbers turns yes and no into 1 and 0.
func asNumbers(x []bool) []float64 {
	out := make([]float64, len(x))
	for i, yes := range x {
		if yes {
			out[i] = 1
		}
	}
	return out
}
