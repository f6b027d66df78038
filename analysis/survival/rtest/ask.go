package rtest

import (
	"bytes"
	"testing"

	"plybook/analysis/internal/peers"
)

// Answers are what R made of some sets, Answer is some numbers or why there
// are none.
type (
	Answers = peers.Answers
	Answer  = peers.Answer
)

// Ask has R answer for sets, all in one process that runs script, which is
// where compare.R lies. Where R or one of its packages is not installed ok is
// false, unless need says that they must be.
func Ask(t testing.TB, need bool, script string, sets []*Set) (a Answers, ok bool) {
	t.Helper()
	var in bytes.Buffer
	if err := Write(&in, sets); err != nil {
		t.Fatal(err)
	}
	var names []int
	for _, s := range sets {
		names = append(names, s.Index)
	}
	return peers.Ask(t, need, []string{"survival", "cmprsk"}, script, names, &in)
}
