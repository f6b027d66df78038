// Package estimand lists the numbers that were decided before the example's
// log was drawn and that a question of a notebook can estimate, holds the
// notebook that asks for them, and reads the estimates out of the answers.
//
// Not every truth can be estimated exactly. What is left out, and why:
//   - shrinking of a limb's volume (ShrinkPerDay, the drop): not linear;
//   - ply per percent of volume lost: the volume on the day is not known
//     exactly, and an error in a term bends its estimate towards 0;
//   - odds of a finding, rates of walk-ins: no share or mean among the
//     answers is theirs;
//   - rates of death, loss and other endings: seen only in how many sockets
//     they end, which is here.
package estimand

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"

	"plybook/analysis/stats"
	"plybook/reports/answer"
	"plybook/reports/example"
)

// Notebook is the text of the notebook that asks for every estimand. It reads
// log/*.xlsx beside it.
//
//go:embed truth.md
var Notebook []byte

// Row is a row of a table of numbers: values by column, as in numbers.json.
type Row map[string]any

// Tables gives the rows of a table of an ask's answer.
type Tables func(ask, table string) []Row

// How an estimand is read from a row.
type reading int

const (
	plain      reading = iota // estimate, std_error or robust_std_error, low, high
	logRatio                  // the same, low and high being ratios
	share                     // counts of a summary: binomial, Wilson's interval
	quantile                  // estimate, low and high, no standard error
	residual                  // variance, chi-square with rows less random effects
	components                // variance without any error
)

// Estimand is a true number and where its estimate stands.
type Estimand struct {
	Name  string  // in words, with its unit
	Ask   string  // of the notebook
	Truth float64 // what was decided, or follows from it
	// Spread is the standard deviation of the estimates over many draws, for
	// those that come without a standard error; 0 for the others.
	Spread float64
	// Short says why the interval is known not to hold its share in a log
	// of the example's size or smaller; empty for the others.
	Short string

	events  Row // the row of at_times whose events are behind the estimate
	table   string
	where   Row      // the row, by some of its columns
	count   []string // of a share: the categories counted
	reading reading
	random  float64 // of a residual: random effects of each group
}

// Estimate is an estimate of a true number.
type Estimate struct {
	Value       float64
	StdErr      float64 // NaN where there is none
	Low, High   float64 // NaN where there is no interval
	HasInterval bool
	Events      float64 // behind the estimate of a curve, NaN where not counted
}

// Off is the distance from the truth in standard errors, NaN without one.
func (e Estimate) Off(of Estimand) float64 {
	se := e.StdErr
	if of.Spread > 0 {
		se = of.Spread
	}
	if !(se > 0) {
		return math.NaN()
	}
	return (e.Value - of.Truth) / se
}

// Covers says whether the interval holds the truth.
func (e Estimate) Covers(of Estimand) bool { return e.Low <= of.Truth && of.Truth <= e.High }

// Read finds the estimate in the answers. It is an error if the row or a
// number that must be there is missing.
func (m Estimand) Read(tables Tables) (Estimate, error) {
	e := Estimate{StdErr: math.NaN(), Low: math.NaN(), High: math.NaN(), Events: math.NaN()}
	rows := tables(m.Ask, m.table)
	if m.reading == share {
		return m.share(rows)
	}
	row, err := m.find(rows, m.where)
	if err != nil {
		return e, err
	}
	num := func(column string) float64 { return numberOr(row, column) }
	if m.events != nil {
		at, err := m.find(tables(m.Ask, "at_times"), m.events)
		if err != nil {
			return e, err
		}
		e.Events = numberOr(at, "events")
	}
	switch m.reading {
	case components, residual:
		e.Value = num("variance")
		if m.reading == components {
			break
		}
		fit := tables(m.Ask, "fit")
		if len(fit) != 1 {
			return e, fmt.Errorf("%s: no fit", m.Name)
		}
		n, ok1 := Number(fit[0]["rows"])
		g, ok2 := Number(fit[0]["groups"])
		df := n - m.random*g
		if !ok1 || !ok2 || df < 1 {
			return e, fmt.Errorf("%s: no degrees of freedom", m.Name)
		}
		e.StdErr = e.Value * math.Sqrt(2/df)
		e.Low, e.High = df*e.Value/chiQuantile(0.975, df), df*e.Value/chiQuantile(0.025, df)
	default:
		e.Value, e.Low, e.High = num("estimate"), num("low"), num("high")
		e.StdErr = num("robust_std_error")
		if math.IsNaN(e.StdErr) {
			e.StdErr = num("std_error")
		}
		if m.reading == logRatio {
			e.Low, e.High = math.Log(e.Low), math.Log(e.High)
		}
		if m.reading == quantile && !math.IsNaN(e.Low) && math.IsNaN(e.High) {
			e.High = math.Inf(1) // the curve does not reach it: not known to end
		}
	}
	if math.IsNaN(e.Value) && m.reading != quantile {
		return e, fmt.Errorf("%s: not computed", m.Name)
	}
	e.HasInterval = !math.IsNaN(e.Low) && !math.IsNaN(e.High)
	return e, nil
}

// find is the one row that has these values.
func (m Estimand) find(rows []Row, where Row) (Row, error) {
	var found Row
	for _, r := range rows {
		if !matches(r, where) {
			continue
		}
		if found != nil {
			return nil, fmt.Errorf("%s: two such rows of %s", m.Name, m.Ask)
		}
		found = r
	}
	if found == nil {
		return nil, fmt.Errorf("%s: no such row among %d of %s", m.Name, len(rows), m.Ask)
	}
	return found, nil
}

// share reads a share of the rows with a value from a summary.
func (m Estimand) share(rows []Row) (Estimate, error) {
	k, n := 0.0, 0.0
	for _, r := range rows {
		if !matches(r, m.where) {
			continue
		}
		count, ok := Number(r["count"])
		if !ok {
			return Estimate{}, fmt.Errorf("%s: a count is missing", m.Name)
		}
		n += count
		for _, c := range m.count {
			if r["category"] == c {
				k += count
			}
		}
	}
	if n == 0 {
		return Estimate{}, fmt.Errorf("%s: no rows", m.Name)
	}
	p := k / n
	z := stats.NormalQuantile(0.975)
	mid, half := (p+z*z/2/n)/(1+z*z/n), z/(1+z*z/n)*math.Sqrt(p*(1-p)/n+z*z/4/n/n)
	return Estimate{Value: p, StdErr: math.Sqrt(p * (1 - p) / n), Low: mid - half, High: mid + half, HasInterval: true, Events: math.NaN()}, nil
}

func matches(r, where Row) bool {
	for column, want := range where {
		got := r[column]
		if x, ok := Number(want); ok {
			if y, ok := Number(got); !ok || math.Abs(x-y) > 1e-9 {
				return false
			}
			continue
		}
		if got != want {
			return false
		}
	}
	return true
}

// Number is a value of a table as a number.
func Number(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, true
	case int:
		return float64(x), true
	}
	return 0, false
}

func numberOr(r Row, column string) float64 {
	if x, ok := Number(r[column]); ok {
		return x
	}
	return math.NaN()
}

// chiQuantile is a quantile of the chi-square distribution by Wilson and
// Hilferty's cube root, good to a hundredth of the standard error at the
// hundreds of degrees of freedom met here.
func chiQuantile(p, df float64) float64 {
	c := 2 / (9 * df)
	x := 1 - c + stats.NormalQuantile(p)*math.Sqrt(c)
	return df * x * x * x
}

// All lists the estimands of the example as it is shipped.
func All() []Estimand { return list(example.Known()) }

// FromJSON gives the tables of a numbers.json.
func FromJSON(numbers []byte) (Tables, error) {
	var file struct {
		Answers []struct {
			ID     string           `json:"id"`
			Tables map[string][]Row `json:"tables"`
			Error  *struct {
				Text string `json:"text"`
			} `json:"error"`
		} `json:"answers"`
	}
	if err := json.Unmarshal(numbers, &file); err != nil {
		return nil, fmt.Errorf("numbers.json: %w", err)
	}
	all := map[string]map[string][]Row{}
	for _, a := range file.Answers {
		if a.Error != nil {
			return nil, fmt.Errorf("numbers.json: %s: %s", a.ID, a.Error.Text)
		}
		all[a.ID] = a.Tables
	}
	return func(ask, table string) []Row { return all[ask][table] }, nil
}

// FromAnswers gives the tables of answers, at full precision and before
// anything is hidden.
func FromAnswers(answers []*answer.Answer) Tables {
	return func(ask, table string) []Row {
		var out []Row
		for _, a := range answers {
			if a.ID != ask {
				continue
			}
			for _, t := range a.Tables {
				if t.Name != table {
					continue
				}
				for _, values := range t.Rows {
					r := Row{}
					for j, c := range t.Columns {
						r[c.Name] = values[j]
					}
					out = append(out, r)
				}
			}
		}
		return out
	}
}
