package answer

import (
	"errors"
	"math"
	"sort"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// caseMix is what a model of the cases leads to expect of each row.
type caseMix struct {
	rows   []int           // those that have all that the model needs
	chance map[int]float64 // by row
	auc    float64
	how    string
}

// modelChances fits a logistic model of the columns of `adjust` to the first
// rows of those given, and says what it leads to expect of all.
func (w *work) modelChances(rows []int, first int, hit []bool) (*caseMix, error) {
	ask := *w.ask
	ask.By = ""
	sub := *w
	sub.ask, sub.rows = &ask, rows
	var names []string
	for _, n := range ask.Adjust {
		c, err := sub.column("adjust", n)
		if err != nil {
			return nil, err
		}
		if err := w.knownEarly("adjust", c); err != nil {
			return nil, err
		}
		names = append(names, label(c))
	}
	spec, err := sub.designSpec()
	if err != nil {
		return nil, err
	}
	d, err := design.Build(w.table, rows, spec)
	if err != nil {
		return nil, err
	}
	sub.missingCaution(d)
	w.steps = sub.steps
	if len(d.Rows) == 0 {
		return nil, stats.ErrNoRows
	}
	among := map[int]bool{}
	for _, i := range rows[:first] {
		among[i] = true
	}
	data := regress.GLMData{Names: d.Names(), Terms: d.Term, TermNames: d.TermNames, X: make([][]float64, len(d.X))}
	for k, i := range d.Rows {
		if !among[i] {
			continue
		}
		y := 0.0
		if hit[i] {
			y = 1
		}
		data.Y = append(data.Y, y)
		for c := range d.X {
			data.X[c] = append(data.X[c], d.X[c][k])
		}
	}
	if len(data.Y) == 0 {
		return nil, stats.ErrNoRows
	}
	fit, err := regress.FitGLM(regress.Logistic, data, regress.GLMOptions{})
	var apart *regress.SeparationError
	if errors.As(err, &apart) {
		fit, err = regress.FitGLM(regress.Logistic, data, regress.GLMOptions{Firth: true})
		w.caution("separation", "The model of what is expected was penalised, since some category has the outcome always or never.")
	}
	if err != nil {
		return nil, w.modelFault(err)
	}
	score := func(x [][]float64, k int) float64 {
		s := fit.Coef[0].Estimate
		for c := range x {
			s += fit.Coef[c+1].Estimate * x[c][k]
		}
		return s
	}
	total, p := 0.0, make([]float64, len(data.Y))
	for k, y := range data.Y {
		total += y
		p[k] = score(data.X, k)
	}
	// Penalised chances do not add up to what was observed; moved on the scale
	// of log odds they do, as those of a plain model do by themselves.
	shift := shiftTo(p, total)
	m := &caseMix{rows: d.Rows, chance: map[int]float64{}, auc: concordance(p, data.Y), how: "a logistic model of " + words.List(names)}
	for k, i := range d.Rows {
		m.chance[i] = math.Min(math.Max(chanceOf(score(d.X, k)+shift), 1e-9), 1-1e-9)
	}
	if per := math.Min(total, float64(len(data.Y))-total) / math.Max(1, float64(len(d.X))); per < 10 {
		w.caution("few-events", "The model of what is expected has %s events a term, fewer than 10: it may follow chance.", words.Fixed(per, 1))
	}
	if m.auc < 0.55 {
		w.caution("weak-model", "The model of what is expected tells rows apart hardly better than chance (concordance %s): they are nearly taken as alike.", words.Fixed(m.auc, 2))
	}
	return m, nil
}

// knownEarly refuses what is known only after delivery as a reason to expect
// something of a socket.
func (w *work) knownEarly(key string, c *table.Column) error {
	if w.table.Name == "sockets" && c.Known == table.Later {
		return w.at(key, c.Name, "known-later", "%s is known only after delivery and cannot say what was to be expected of a socket", c.Name)
	}
	return nil
}

func (w *work) modelFault(err error) error {
	switch {
	case errors.Is(err, regress.ErrConstantResponse):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-events", Text: "none of the rows, or all of them, count, so that no unit can differ from another"}
	case errors.Is(err, stats.ErrSingular), errors.Is(err, regress.ErrTooFewRows):
		return w.at("adjust", "", "bad-term", "the columns of adjust repeat one another, never vary, or are too many for so few rows; use fewer")
	}
	return err
}

func chanceOf(logOdds float64) float64 { return 1 / (1 + math.Exp(-logOdds)) }

// shiftTo is what log odds are to be moved by for their chances to sum to a
// total; 0 where they do.
func shiftTo(logOdds []float64, total float64) float64 {
	at := func(shift float64) float64 {
		sum := 0.0
		for _, x := range logOdds {
			sum += chanceOf(x + shift)
		}
		return sum
	}
	if math.Abs(at(0)-total) <= 1e-6*total {
		return 0
	}
	lo, hi := -30.0, 30.0
	for range 200 {
		if mid := (lo + hi) / 2; at(mid) < total {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// concordance is the chance that of two rows, one that counts and one that
// does not, the former was expected more; ties count half.
func concordance(p, y []float64) float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	var below, sum, yes, no float64
	for i := 0; i < len(order); {
		k := i
		var tiedYes, tiedNo float64
		for ; k < len(order) && p[order[k]] == p[order[i]]; k++ {
			if y[order[k]] == 1 {
				tiedYes++
			} else {
				tiedNo++
			}
		}
		sum += tiedYes * (below + tiedNo/2)
		below += tiedNo
		yes, no = yes+tiedYes, no+tiedNo
		i = k
	}
	return sum / (yes * no)
}
