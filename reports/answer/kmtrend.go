package answer

import (
	"fmt"
	"strings"

	"plybook/reports/notebook"
	"plybook/reports/words"
)

// trendScores are the scores of the groups where a trend is asked for; nil
// where none is.
func (w *work) trendScores(l *lives, fits []fitted, out *compared) ([]float64, error) {
	if w.ask.Trend == nil {
		return nil, nil
	}
	var scores []float64
	if w.ask.Trend.Order == nil {
		for _, f := range fits {
			x, err := parseNumber(f.name)
			if err != nil {
				return nil, &notebook.Error{Pos: w.ask.Trend.Pos, Code: notebook.CodeImpossible,
					Text: fmt.Sprintf("the groups of %s are not numbers, so their order is not known; list them in their order: trend: [%s]", w.ask.By, strings.Join(groupNames(fits), ", "))}
			}
			scores, out.order = append(scores, x), append(out.order, f.name)
		}
		return scores, nil
	}
	at := map[string]int{}
	for k, name := range w.ask.Trend.Order {
		at[strings.ToLower(name)] = k + 1
	}
	ordered := make([]string, len(w.ask.Trend.Order))
	for _, f := range fits {
		k, ok := at[strings.ToLower(f.name)]
		if !ok {
			return nil, &notebook.Error{Pos: w.ask.Trend.Pos, Code: notebook.CodeImpossible,
				Text: fmt.Sprintf("`trend` does not say where the group %q of %s stands; list every group in its order", f.name, w.ask.By)}
		}
		scores = append(scores, float64(k))
		ordered[k-1] = f.name
	}
	known := map[string]bool{}
	c, err := w.lifeColumn(l, "by", w.ask.By)
	if err != nil {
		return nil, err
	}
	for j := range l.Row {
		if !c.Missing[j] {
			known[strings.ToLower(valueText(c, j))] = true
		}
	}
	for _, name := range w.ask.Trend.Order {
		if !known[strings.ToLower(name)] {
			near := notebook.Nearest(name, groupNames(fits))
			hint := "the groups are " + words.List(groupNames(fits))
			if near != "" {
				hint = fmt.Sprintf("did you mean %q?", near)
			}
			return nil, &notebook.Error{Pos: w.ask.At("trend", name), Code: notebook.CodeImpossible, Nearest: near,
				Text: fmt.Sprintf("`trend` names %q, which is no group of %s; %s", name, w.ask.By, hint)}
		}
	}
	for _, name := range ordered {
		if name != "" {
			out.order = append(out.order, name)
		}
	}
	return scores, nil
}

func groupNames(fits []fitted) []string {
	var out []string
	for _, f := range fits {
		out = append(out, f.name)
	}
	return out
}
