// Package numbers writes the answers' tables at full precision, for programs
// (numbers.json) and for spreadsheets (numbers.xlsx), and withholds what
// stands for few people.
//
// Both writers are deterministic: the same run gives the same bytes.
package numbers

import (
	"fmt"
	"math"
	"time"

	"plybook/ingest"
	"plybook/reports/answer"
)

// Schema is the version of the layout of numbers.json.
const Schema = 1

// Input is the ledger of one sheet read: Read = Used + SetAside.
type Input struct {
	File           string
	SHA256         string
	Sheet          string
	Read           int
	Used           int
	SetAside       int
	ValuesSetAside int
}

// Run is what a run came to in numbers.
type Run struct {
	Release string // of plybook
	// HideBelow: counts from 1 to HideBelow-1 are withheld; 0: none.
	HideBelow int
	Inputs    []Input
	Answers   []answer.Answer
	// Analyses lists the answers in short, in their order.
	Analyses []Analysis
}

// Inputs makes the ledger from the sheets of a log, in the order read. Name
// gives the name under which a file is shown; nil shows it as it was given.
func Inputs(sheets []ingest.Sheet, name func(path string) string) []Input {
	out := make([]Input, len(sheets))
	for i, s := range sheets {
		out[i] = Input{s.File, s.SHA256, s.Sheet, s.Read, s.Used, s.SetAside, s.ValuesSetAside}
		if name != nil {
			out[i].File = name(s.File)
		}
	}
	return out
}

// A ValueError says which value of which answer cannot be written. Row
// counts from zero.
type ValueError struct {
	Answer, Table, Column string
	Row                   int
	Value                 any
	Why                   string
}

func (e *ValueError) Error() string {
	return fmt.Sprintf("answer %s, table %s, row %d, column %s: %v %s", e.Answer, e.Table, e.Row, e.Column, e.Value, e.Why)
}

// dateLayout is the text of a date.
const dateLayout = "2006-01-02"

// firstDay and lastDay hold dates within the years 1 to 9999, which is what
// ISO text can say.
const firstDay, lastDay = -719162, 2932896

func dateOf(day int) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// plain settles what a value is in its column: nil, string, bool, int,
// float64 or, for a date, time.Time. It refuses what is not finite and what
// is not of the column's type.
func plain(c answer.Column, v any) (any, string) {
	switch x := v.(type) {
	case nil:
		return nil, ""
	case float32:
		v = float64(x)
	case int32:
		v = int(x)
	case int64:
		v = int(x)
	case *float64:
		if x == nil {
			return nil, ""
		}
		v = *x
	case *int:
		if x == nil {
			return nil, ""
		}
		v = *x
	}
	if x, ok := v.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
		return nil, "is not a finite number"
	}
	switch c.Type {
	case answer.TypeText:
		if x, ok := v.(string); ok {
			return x, ""
		}
	case answer.TypeBool:
		if x, ok := v.(bool); ok {
			return x, ""
		}
	case answer.TypeNumber:
		switch x := v.(type) {
		case int:
			return x, ""
		case float64:
			return x, ""
		}
	case answer.TypeCount, answer.TypeInt:
		switch x := v.(type) {
		case int:
			return x, ""
		case float64: // sums of weights, and whole numbers held as such
			if x == math.Trunc(x) && math.Abs(x) < 1<<53 {
				return int(x), ""
			}
			return x, ""
		}
	case answer.TypeDate:
		day := 0
		switch x := v.(type) {
		case int:
			day = x
		case float64:
			if x != math.Trunc(x) || math.Abs(x) > 1e7 {
				return nil, "is not a whole day"
			}
			day = int(x)
		case string:
			t, err := time.Parse(dateLayout, x)
			if err != nil {
				return nil, "is not a date as 2026-09-30"
			}
			return t, ""
		default:
			return nil, "is not a date"
		}
		if day < firstDay || day > lastDay {
			return nil, "is no day of the years 1 to 9999"
		}
		return dateOf(day), ""
	}
	return nil, "does not belong in a column of its type"
}

// check goes through a table before anything of it is written.
func check(id string, t answer.Table) error {
	seen := map[string]bool{}
	for _, c := range t.Columns {
		if seen[c.Name] {
			return fmt.Errorf("answer %s, table %s: two columns are called %s", id, t.Name, c.Name)
		}
		seen[c.Name] = true
	}
	for i, r := range t.Rows {
		if len(r) != len(t.Columns) {
			return fmt.Errorf("answer %s, table %s, row %d: %d values in %d columns", id, t.Name, i, len(r), len(t.Columns))
		}
		for j, v := range r {
			if _, why := plain(t.Columns[j], v); why != "" {
				return &ValueError{Answer: id, Table: t.Name, Column: t.Columns[j].Name, Row: i, Value: v, Why: why}
			}
		}
	}
	return nil
}

func checkAll(run Run) error {
	ids := map[string]bool{}
	for _, a := range run.Answers {
		if ids[a.ID] {
			return fmt.Errorf("two answers are called %s", a.ID)
		}
		ids[a.ID] = true
		names := map[string]bool{}
		for _, t := range a.Tables {
			if names[t.Name] {
				return fmt.Errorf("answer %s: two tables are called %s", a.ID, t.Name)
			}
			names[t.Name] = true
			if err := check(a.ID, t); err != nil {
				return err
			}
		}
	}
	return nil
}
