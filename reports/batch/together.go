package batch

import (
	"context"
	"fmt"

	"plybook/reports/answer"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
)

// mostRounds is how often answers are made anew for what others tell; what is
// withheld only grows, so that it ends well before.
const mostRounds = 20

// answerAll answers the asks, small counts withheld. Where counts of several
// answers would tell a small one together, some of them are withheld too, and
// the answers they stand in made anew, so that nothing in them tells it.
func answerAll(ctx context.Context, sc *answer.Context, asks []*notebook.Ask, progress func(string, int, int)) ([]answer.Answer, error) {
	raw := make([]answer.Answer, len(asks))
	one := func(i int) error {
		raw[i] = *answer.Run(ctx, sc, asks[i])
		return ctx.Err()
	}
	for i, ask := range asks {
		what := ask.ID
		if what == "" {
			what = fmt.Sprintf("line %d", ask.Pos.Line)
		}
		progress("answering "+what, i, len(asks))
		if err := one(i); err != nil {
			return nil, err
		}
	}
	below := sc.Front.HideBelow
	sc.Withheld = answer.Withheld{}
	for round := range mostRounds {
		hidden := numbers.Hide(raw, below, sc.Withheld)
		had := counts(sc.Withheld, asks)
		if !numbers.Together(raw, hidden, below, sc.Withheld) {
			return hidden, nil
		}
		progress("holding the counts of all answers against each other", round, mostRounds)
		for i, n := range counts(sc.Withheld, asks) {
			if n == had[i] {
				continue
			}
			if err := one(i); err != nil {
				return nil, err
			}
		}
	}
	return nil, fmt.Errorf("small counts: what to withhold was not settled in %d rounds", mostRounds)
}

// counts is how much is withheld from each ask for the sake of others.
func counts(w answer.Withheld, asks []*notebook.Ask) []int {
	out := make([]int, len(asks))
	for i, a := range asks {
		for _, how := range w[a.ID] {
			out[i] += int(how)
		}
	}
	return out
}
