package answer

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"plybook/analysis/agreement"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// kappaWeightings are the weightings of ratings by their names.
var kappaWeightings = map[string]agreement.Weighting{"": agreement.Unweighted, "none": agreement.Unweighted, "linear": agreement.Linear, "quadratic": agreement.Quadratic}

// ratings answers how far two raters put the same into the same category.
func (w *work) ratings(y *table.Column, m *remeasured) error {
	if w.ask.Percent {
		return w.at("percent", "yes", notebook.CodeImpossible, "`percent` is of numbers measured, not of ratings")
	}
	if len(m.levels) != 2 {
		return w.at("ways", w.ask.Ways, notebook.CodeImpossible, "kappa compares two, and %s has %d among what was rated twice; keep two of them with `keep`", w.ask.Ways, len(m.levels))
	}
	cats, err := w.categories(y, m)
	if err != nil {
		return err
	}
	how := kappaWeightings[w.ask.Weighting]
	at := map[string]int{}
	for k, c := range cats {
		at[c] = k
	}
	counted := func(things []int) [][]int {
		counts := make([][]int, len(cats))
		for i := range counts {
			counts[i] = make([]int, len(cats))
		}
		for _, k := range things {
			t := m.things[k]
			counts[at[valueText(y, t[0].row)]][at[valueText(y, t[1].row)]]++
		}
		return counts
	}
	all := make([]int, len(m.things))
	for k := range all {
		all[k] = k
	}
	kappa, err := agreement.FitKappa(counted(all), how, w.ask.Confidence)
	if err != nil {
		return w.agreementError(err, y)
	}
	w.resampled(m, &kappa.Kappa, all, func(things []int) float64 {
		k, err := agreement.FitKappa(counted(things), how, w.ask.Confidence)
		if err != nil {
			return math.NaN()
		}
		return k.Kappa.Value
	})
	if m.persons != nil { // both take every pair for a person of its own
		kappa.SE, kappa.P = math.NaN(), math.NaN()
	}
	w.ratingTables(y, m, cats, kappa)
	w.ratingWords(y, m, kappa)
	return nil
}

// categories are the ratings in their order.
func (w *work) categories(y *table.Column, m *remeasured) ([]string, error) {
	var cats []string
	seen := map[string]bool{}
	for _, t := range m.things {
		for _, r := range t {
			if v := valueText(y, r.row); !seen[v] {
				seen[v] = true
				cats = append(cats, v)
			}
		}
	}
	if y.Kind == table.Number {
		if len(w.ask.Order) > 0 {
			return nil, w.at("order", w.ask.Order[0], notebook.CodeImpossible, "%s is a number, and its order is that of its size", label(y))
		}
		slices.SortFunc(cats, func(a, b string) int {
			x, _ := strconv.ParseFloat(a, 64)
			z, _ := strconv.ParseFloat(b, 64)
			switch {
			case x < z:
				return -1
			case x > z:
				return 1
			}
			return 0
		})
		return cats, nil
	}
	if len(w.ask.Order) == 0 {
		if kappaWeightings[w.ask.Weighting] != agreement.Unweighted {
			return nil, w.at("weighting", w.ask.Weighting, notebook.CodeMissingKey, "`weighting` counts the steps between ratings: give their order with `order`, from one end to the other")
		}
		slices.Sort(cats)
		return cats, nil
	}
	listed := map[string]bool{}
	for _, o := range w.ask.Order {
		listed[o] = true
	}
	slices.Sort(cats)
	for _, c := range cats {
		if !listed[c] {
			return nil, w.at("order", w.ask.Order[0], notebook.CodeBadValue, "%q is among the ratings and not in `order`", c)
		}
	}
	return w.ask.Order, nil
}

// ratingTables puts and prints the counts and the kappa.
func (w *work) ratingTables(y *table.Column, m *remeasured, cats []string, k *agreement.Kappa) {
	fit := tableOf("kappa", count("cases"), count("clusters"), integer("categories"), text("weighting"), number("same", ""), number("observed", ""), number("by_chance", ""),
		number("kappa", ""), number("std_error", ""), number("low", ""), number("high", ""), number("p", ""))
	name := w.ask.Weighting
	if name == "" {
		name = "none"
	}
	fit.row(k.N, when(m.persons != nil, float64(m.many)), len(cats), name, k.Exact, k.Observed, k.Expected, k.Kappa.Value, k.SE, k.Kappa.Low, k.Kappa.High, k.P)
	w.addTable(fit)
	ratings := tableOf("ratings", text("first"), text("second"), count("count"))
	apart := make([]int, len(cats))
	few := false
	for i, r := range k.Table {
		for j, n := range r {
			few = few || w.hiddenCount(n)
			apart[max(i-j, j-i)] += n
		}
	}
	if few { // a hidden cell would follow from the others and their sum
		w.caution("rows-hidden", "How often each rating met each other is not given: some stand for few.")
	}
	for i, r := range k.Table {
		for j, n := range r {
			if !few {
				ratings.row(cats[i], cats[j], n)
			}
		}
	}
	w.addTable(ratings)

	out := document.Table{ID: w.ask.ID + "-ratings", Caption: fmt.Sprintf("%s by %s (down) and %s (across)", words.Capital(label(y)), m.wayName(0), m.wayName(1)), Columns: []document.TableColumn{{Head: words.Capital(label(y)), Wide: true}}}
	for _, c := range cats {
		out.Columns = append(out.Columns, document.TableColumn{Head: c, Align: document.Right})
	}
	for i, r := range k.Table {
		row := []string{cats[i]}
		for _, n := range r {
			row = append(row, w.cell(n))
		}
		out.Rows = append(out.Rows, row)
	}
	if len(cats) <= 12 && !few {
		w.print(out)
	}
	steps := y.Kind == table.Number || len(w.ask.Order) > 0
	if !steps || few {
		steps = false
		apart = []int{apart[0], k.N - apart[0]}
		if w.hiddenCount(apart[0]) || w.hiddenCount(apart[1]) {
			return
		}
	}
	spec := figure.BarsSpec{ID: w.ask.ID, Title: "How far apart the ratings are", CountAxis: "Cases rated twice"}
	for d, n := range apart {
		bar := figure.Bar{Name: "The same", Count: n}
		switch {
		case d > 0 && !steps:
			bar.Name = "Not the same"
		case d > 0:
			bar.Name = words.N(d, "step apart", "steps apart")
		}
		if n > 0 || d == 0 {
			spec.Bars = append(spec.Bars, bar)
		}
	}
	w.Figures = append(w.Figures, figure.Bars(spec))
}

// ratingWords writes cautions, the reading and the sentence for a paper.
func (w *work) ratingWords(y *table.Column, m *remeasured, k *agreement.Kappa) {
	if k.N < fewThings {
		w.caution("few-rows", "%s rated twice: kappa is uncertain, as its interval shows.", w.only(k.N, "case was", "cases were"))
	}
	if m.persons != nil && m.many < 20 {
		w.caution("few-clusters", "The ratings are of %s: intervals from so few are too narrow.", w.n(m.many, plainName(m.cluster), plainName(m.cluster)+"s"))
	}
	if k.Expected > 0.8 {
		w.caution("one-category", "Nearly all ratings fall together: %s would agree by chance alone. Kappa is then low, and shaky, however well the two agree.", words.Percent(k.Expected, k.N))
	}
	w.leftOut(m)
	level := percentOf(w.ask.Confidence)
	kappa, interval := words.Plain(k.Kappa.Value), ""
	if !math.IsNaN(k.Kappa.Low) {
		kappa = words.Value(k.Kappa.Value, k.Kappa.Low, k.Kappa.High)
		interval = fmt.Sprintf(" (%s interval %s)", level, words.Interval(k.Kappa.Low, k.Kappa.High))
	}
	w.Reading = fmt.Sprintf("%s and %s gave the same %s to %s of %s. Beyond what chance alone would give, agreement is %s%s on a scale where 0 is chance and 1 is complete.",
		words.Capital(m.wayName(0)), m.wayName(1), label(y), w.share(int(math.Round(k.Exact*float64(k.N))), k.N), w.n(k.N, "case rated by both", "cases rated by both"), kappa, interval)
	w.Methods = "Agreement of ratings is Cohen's kappa"
	switch kappaWeightings[w.ask.Weighting] {
	case agreement.Linear:
		w.Methods += ", weighted by the steps between ratings"
	case agreement.Quadratic:
		w.Methods += ", weighted by the squared steps between ratings"
	}
	w.Methods += "."
	w.References = append(w.References, "Fleiss JL, Cohen J, Everitt BS. Large sample standard errors of kappa and weighted kappa. Psychol Bull 1969; 72: 323-327.")
	w.resamplingWords(m)
}
