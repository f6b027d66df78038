package batch

import (
	"fmt"
	"sort"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"

	"plybook/ingest"
)

// Small tables that are grouped and sorted the way people think of tables are
// gota frames. gota guesses types, orders groups by chance and panics on a
// column it does not have, so all of that stays in this file: types are
// stated, results sorted, and nothing but plain values leaves it.

// problemKind is how often one kind of problem met one end.
type problemKind struct {
	Code  string
	Done  string
	Count int
}

// problemKinds counts problems by kind and by what was done, most frequent
// first.
func problemKinds(ps []ingest.Problem) ([]problemKind, error) {
	if len(ps) == 0 {
		return nil, nil
	}
	code, done := make([]string, len(ps)), make([]string, len(ps))
	one := make([]int, len(ps))
	for i, p := range ps {
		code[i], done[i], one[i] = p.Code, p.Done.String(), 1
	}
	f := dataframe.New(
		series.New(code, series.String, "code"),
		series.New(done, series.String, "done"),
		series.New(one, series.Int, "n"),
	)
	counted := f.GroupBy("code", "done").Aggregation([]dataframe.AggregationType{dataframe.Aggregation_SUM}, []string{"n"})
	if counted.Err != nil {
		return nil, fmt.Errorf("count the problems by kind: %w", counted.Err)
	}
	codes, dones, counts := counted.Col("code").Records(), counted.Col("done").Records(), counted.Col("n_SUM").Float()
	out := make([]problemKind, len(codes))
	for i := range codes {
		out[i] = problemKind{codes[i], dones[i], int(counts[i])}
	}
	sort.Slice(out, func(a, b int) bool {
		x, y := out[a], out[b]
		switch {
		case x.Count != y.Count:
			return x.Count > y.Count
		case x.Code != y.Code:
			return x.Code < y.Code
		}
		return x.Done < y.Done
	})
	return out, nil
}
