package batch

import (
	"context"
	"fmt"
	"path/filepath"

	"plybook/reports/answer"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
)

// earlier reads the numbers of the earlier editions that the notebook names,
// none where it names none.
func earlier(nb *notebook.Notebook, o Options) ([]*numbers.Before, error) {
	var asks [][2]string
	for _, a := range nb.Asks() {
		asks = append(asks, [2]string{a.ID, a.Method})
	}
	var out []*numbers.Before
	for _, name := range nb.Front.HiddenBefore {
		path := filepath.FromSlash(name)
		if !filepath.IsAbs(path) {
			path = filepath.Join(filepath.Dir(o.Notebook), path)
		}
		b, err := numbers.ReadBefore(path, nb.Front.HideBelow, asks)
		if err != nil {
			return nil, fmt.Errorf("%w: `hidden_before` on line %d: %w", ErrNotebook, nb.Front.Pos["hidden_before"].Line, err)
		}
		out = append(out, b)
	}
	return out, nil
}

// mostRounds is how often answers are made anew for what others tell; what is
// withheld only grows, so that it ends well before.
const mostRounds = 20

// answerAll answers the asks, small counts withheld. Where counts of several
// answers would tell a small one together, some of them are withheld too, and
// the answers they stand in made anew, so that nothing in them tells it.
func answerAll(ctx context.Context, sc *answer.Context, asks []*notebook.Ask, before []*numbers.Before, progress func(string, int, int)) ([]answer.Answer, error) {
	raw := make([]answer.Answer, len(asks))
	one := func(i int) error {
		raw[i] = *answer.Run(ctx, sc, asks[i])
		return ctx.Err()
	}
	begin := func(i int) {
		what := asks[i].ID
		if what == "" {
			what = fmt.Sprintf("line %d", asks[i].Pos.Line)
		}
		progress("answering "+what, i, len(asks))
	}
	if err := each(ctx, len(asks), begin, one); err != nil {
		return nil, err
	}
	below := sc.Front.HideBelow
	sc.Withheld = answer.Withheld{}
	for round := range mostRounds {
		hidden := numbers.Hide(raw, below, sc.Withheld)
		had := counts(sc.Withheld, asks)
		if !numbers.Together(raw, hidden, below, sc.Withheld, before) {
			return hidden, nil
		}
		progress("holding the counts of all answers against each other", round, mostRounds)
		var anew []int
		for i, n := range counts(sc.Withheld, asks) {
			if n != had[i] {
				anew = append(anew, i)
			}
		}
		if err := each(ctx, len(anew), func(int) {}, func(k int) error { return one(anew[k]) }); err != nil {
			return nil, err
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
